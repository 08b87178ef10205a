//! Each function of the formula language as nodes of the graph.

use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::engine::graph::NodeId;
use crate::engine::ops::{Binary, Unary};
use crate::formula::functions::{Function, FunctionOp};
use crate::formula::types::{Kind, Shape, Typed, TypedNode};
use crate::hotwater::HEAT_PER_VOLUME_KELVIN;
use crate::model::cash::{Annuity, Cash, CashQuestion};
use crate::model::lower::{Laying, Lowering, Memo, Sheet};
use crate::model::money::money_power;
use crate::model::years::PRICE_LEVEL;

/// A node, or why there is none. Boxed, since the error is large and rare.
type Laid = Result<NodeId, Box<Diagnostic>>;

/// Node of value `index` (in the shape of `tree`) of a call.
pub(super) fn lay(
    lay: &mut Laying<'_, '_>,
    function: &Function,
    args: &[Typed],
    tree: &Typed,
    index: usize,
) -> Laid {
    use FunctionOp as F;
    match function.op {
        F::Abs => lay.mapped(Unary::Abs, args, tree, index),
        F::Floor => lay.mapped(Unary::Floor, args, tree, index),
        F::Round => lay.mapped(Unary::Round, args, tree, index),
        F::Sqrt => lay.mapped(Unary::Sqrt, args, tree, index),
        F::Exp => lay.mapped(Unary::Exp, args, tree, index),
        F::Ln => lay.mapped(Unary::Ln, args, tree, index),
        F::IsNever => lay.mapped(Unary::IsNever, args, tree, index),
        F::Min => lay.folded(Binary::Min, args, tree, index),
        F::Max => lay.folded(Binary::Max, args, tree, index),
        F::Clamp => lay.clamp(args, tree, index),
        F::If => lay.choose(args, tree, index),
        F::SumMonths => lay.over_months(Binary::Add, &args[0], index),
        F::MinMonths => lay.over_months(Binary::Min, &args[0], index),
        F::MaxMonths => lay.over_months(Binary::Max, &args[0], index),
        F::MeanMonths => lay.over_months(Binary::Add, &args[0], index).map(|sum| lay.divided(sum, 12.0)),
        F::SumYears => lay.over_years(Binary::Add, &args[0], index),
        F::MinYears => lay.over_years(Binary::Min, &args[0], index),
        F::MaxYears => lay.over_years(Binary::Max, &args[0], index),
        F::MeanYears => {
            let years = lay.years() as f64;
            lay.over_years(Binary::Add, &args[0], index).map(|sum| lay.divided(sum, years))
        }
        F::Cumulative => lay.cumulative(&args[0], index),
        F::AtYear => lay.at_year(args, index),
        F::Previous => lay.previous(args, tree, index),
        F::Months | F::Years => lay.value(&args[index], 0),
        F::Seasonal => lay.seasonal(args, tree, index),
        F::WaterHeat => lay.water_heat(args, tree, index),
        F::InService => lay.in_service(args, tree, index),
        F::Failures => lay.failures(args, index),
        F::Growth => {
            let rate = lay.operand(&args[0], tree, index)?;
            let one = lay.low.graph.constant(1.0);
            Ok(lay.low.graph.binary(Binary::Add, one, rate))
        }
        F::Inflate | F::Deflate => lay.levelled(function.op == F::Inflate, args, tree, index),
        F::Npv => lay.npv(args),
        F::Annuity => lay.annuity(args),
        F::Payback => lay.cash(CashQuestion::Payback, args),
        F::FirstPayback => lay.cash(CashQuestion::FirstPayback, args),
        F::DiscountedPayback => lay.cash(CashQuestion::DiscountedPayback, args),
        F::PaysBack => lay.cash(CashQuestion::PaysBack, args),
        F::RatesOfReturn => lay.cash(CashQuestion::RateOfReturn, args),
    }
}

impl Laying<'_, '_> {
    fn operand(&mut self, arg: &Typed, tree: &Typed, index: usize) -> Laid {
        self.value(arg, arg.ty.shape.lane(index, tree.ty.shape))
    }

    fn mapped(&mut self, op: Unary, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let a = self.operand(&args[0], tree, index)?;
        Ok(self.low.graph.unary(op, a))
    }

    fn folded(&mut self, op: Binary, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let values: Vec<NodeId> =
            args.iter().map(|arg| self.operand(arg, tree, index)).collect::<Result<_, _>>()?;
        Ok(self.low.graph.fold(op, &values))
    }

    fn divided(&mut self, a: NodeId, by: f64) -> NodeId {
        let by = self.low.graph.constant(by);
        self.low.graph.binary(Binary::Divide, a, by)
    }

    fn clamp(&mut self, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let x = self.operand(&args[0], tree, index)?;
        let low = self.operand(&args[1], tree, index)?;
        let high = self.operand(&args[2], tree, index)?;
        let raised = self.low.graph.binary(Binary::Max, x, low);
        Ok(self.low.graph.binary(Binary::Min, raised, high))
    }

    fn choose(&mut self, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let condition = self.operand(&args[0], tree, index)?;
        let then = self.operand(&args[1], tree, index)?;
        let otherwise = self.operand(&args[2], tree, index)?;
        Ok(self.low.graph.select(condition, then, otherwise))
    }

    /// Folds the months (of year `index`, where there are years).
    fn over_months(&mut self, op: Binary, arg: &Typed, index: usize) -> Laid {
        let first = if arg.ty.shape == Shape::MonthlyByYearly { 12 * index } else { 0 };
        let months: Vec<NodeId> =
            (first..first + 12).map(|k| self.value(arg, k)).collect::<Result<_, _>>()?;
        Ok(self.low.graph.fold(op, &months))
    }

    /// Folds the years (of month `index`, where there are months).
    fn over_years(&mut self, op: Binary, arg: &Typed, index: usize) -> Laid {
        let step = if arg.ty.shape == Shape::MonthlyByYearly { 12 } else { 1 };
        let years = self.years();
        let values: Vec<NodeId> =
            (0..years).map(|year| self.value(arg, step * year + index)).collect::<Result<_, _>>()?;
        Ok(self.low.graph.fold(op, &values))
    }

    fn cumulative(&mut self, arg: &Typed, index: usize) -> Laid {
        let key = |k: usize| (Memo::Sum, std::ptr::from_ref(arg) as usize, k);
        let known = (0..=index).rev().find(|&k| self.running.contains_key(&key(k)));
        let mut sum = known.and_then(|k| self.running.get(&key(k)).copied());
        for k in known.map_or(0, |k| k + 1)..=index {
            let next = self.value(arg, k)?;
            let total = match sum {
                Some(sum) => self.low.graph.add_up(sum, next),
                None => next,
            };
            self.running.insert(key(k), total);
            sum = Some(total);
        }
        Ok(sum.unwrap_or_else(|| self.low.graph.constant(0.0)))
    }

    fn at_year(&mut self, args: &[Typed], index: usize) -> Laid {
        // The checker lets only a whole constant from 0 to the last year pass.
        let year = match args[1].node {
            TypedNode::Constant(year) => year as usize,
            _ => 0,
        };
        match args[0].ty.shape {
            Shape::MonthlyByYearly => self.value(&args[0], 12 * year + index),
            _ => self.value(&args[0], year),
        }
    }

    fn previous(&mut self, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let year = if tree.ty.shape == Shape::MonthlyByYearly { 12 } else { 1 };
        let shape = tree.ty.shape;
        if index < year {
            return self.value(&args[1], args[1].ty.shape.lane(index, shape));
        }
        self.value(&args[0], args[0].ty.shape.lane(index - year, shape))
    }

    /// mean - half range x cos(2 pi (d - coldest day) / 365) in the middle of the month.
    fn seasonal(&mut self, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let mean = self.operand(&args[0], tree, index)?;
        let half_range = self.operand(&args[1], tree, index)?;
        let coldest = self.operand(&args[2], tree, index)?;
        let graph = &mut self.low.graph;
        let cosine = match graph.as_constant(coldest) {
            Some(day) => graph.constant(crate::hotwater::seasonal_cosine(index % 12, day)),
            None => return Err(not_constant(&args[2], "the coldest day")),
        };
        let swing = graph.times(half_range, cosine);
        Ok(graph.binary(Binary::Subtract, mean, swing))
    }

    fn water_heat(&mut self, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let volume = self.operand(&args[0], tree, index)?;
        let from = self.operand(&args[1], tree, index)?;
        let to = self.operand(&args[2], tree, index)?;
        let graph = &mut self.low.graph;
        let factor = graph.constant(HEAT_PER_VOLUME_KELVIN);
        let per_kelvin = graph.times(volume, factor);
        let rise = graph.binary(Binary::Subtract, to, from);
        Ok(graph.times(per_kelvin, rise))
    }

    /// clamp(life x periods a year - period, 0, 1)
    fn in_service(&mut self, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let life = self.value(&args[0], 0)?;
        let per_year = if tree.ty.shape == Shape::MonthlyByYearly { 12.0 } else { 1.0 };
        let graph = &mut self.low.graph;
        let (per_year, begun) = (graph.constant(per_year), graph.constant(index as f64));
        let (zero, one) = (graph.constant(0.0), graph.constant(1.0));
        let periods = graph.times(life, per_year);
        let left = graph.binary(Binary::Subtract, periods, begun);
        let left = graph.binary(Binary::Max, left, zero);
        Ok(graph.binary(Binary::Min, left, one))
    }

    /// An amount in money of each year, or of the start; so much for each unit of money goes the other way.
    fn levelled(&mut self, inflates: bool, args: &[Typed], tree: &Typed, index: usize) -> Laid {
        let amount = self.operand(&args[0], tree, index)?;
        let level = self.sheet.nodes(PRICE_LEVEL).get(Shape::Yearly.lane(index, tree.ty.shape)).copied();
        let Some(level) = level else { return Err(not_constant(&args[0], "the inflation")) };
        let for_money = match &args[0].ty.kind {
            Kind::Number { dimension, .. } => money_power(dimension) == Some(-1),
            _ => false,
        };
        let op = if inflates == for_money { Binary::Divide } else { Binary::Multiply };
        Ok(self.low.graph.binary(op, amount, level))
    }

    fn failures(&mut self, args: &[Typed], year: usize) -> Laid {
        let TypedNode::Name(name) = &args[0].node else {
            return Err(not_constant(&args[0], "the life"));
        };
        let Some(op) = self.low.failures(name) else {
            return Err(not_constant(&args[0], "the life"));
        };
        let life = self.value(&args[0], 0)?;
        let mut operands = vec![life];
        for parameter in op.given.iter().flat_map(|given| given.names()) {
            operands.extend(self.sheet.nodes(parameter));
        }
        let years = self.low.graph.call_block(op, operands);
        years.get(year).copied().ok_or_else(|| not_constant(&args[0], "the life"))
    }

    /// v = 1/(1+r), f_t = f_(t-1) v, sum of saving_t f_t less the outlay; f_0 is 1 for year ends, sqrt(1+r) for middles.
    fn npv(&mut self, args: &[Typed]) -> Laid {
        let rate = self.value(&args[0], 0)?;
        let outlay = self.value(&args[1], 0)?;
        let saving = self.periods(&args[2], 1)?;
        // The second of the two timings is the middle of the year.
        let mid_year =
            args.get(3).is_some_and(|timing| matches!(timing.node, TypedNode::Constant(k) if k != 0.0));
        let graph = &mut self.low.graph;
        let (one, none) = (graph.constant(1.0), graph.constant(f64::NAN));
        let above = graph.binary(Binary::Add, one, rate);
        // A rate of -100 % or less has no factors: NaN, not a sign that alternates.
        let lowest = graph.constant(-1.0);
        let sound = graph.binary(Binary::Less, lowest, rate);
        let growth = graph.select(sound, above, none);
        let v = graph.binary(Binary::Divide, one, growth);
        let mut factor = if mid_year { graph.unary(Unary::Sqrt, growth) } else { one };
        let mut total = graph.unary(Unary::Negate, outlay);
        for s in saving {
            factor = graph.times(factor, v);
            let present = graph.times(s, factor);
            total = graph.add_up(total, present);
        }
        Ok(total)
    }

    fn annuity(&mut self, args: &[Typed]) -> Laid {
        let operands: Vec<NodeId> = args.iter().map(|arg| self.value(arg, 0)).collect::<Result<_, _>>()?;
        let out = self.low.graph.call_block(Arc::new(Annuity), operands);
        out.first().copied().ok_or_else(|| not_constant(&args[0], "the rate"))
    }

    fn cash(&mut self, question: CashQuestion, args: &[Typed]) -> Laid {
        let mut operands = Vec::new();
        let discounted = usize::from(question == CashQuestion::DiscountedPayback);
        for arg in &args[..=discounted] {
            operands.push(self.value(arg, 0)?);
        }
        let saving = &args[discounted + 1];
        let in_service = args.get(discounted + 2);
        let cash = cash_of(question, horizon(saving), in_service.is_some(), self.years());
        operands.extend(self.periods(saving, cash.per_year)?);
        if let Some(service) = in_service {
            let by_year = cash.per_year == 1 && service.ty.shape == Shape::MonthlyByYearly;
            for share in self.periods(service, cash.per_year)? {
                // The share of a year is the mean share of its months.
                operands.push(if by_year { self.divided(share, 12.0) } else { share });
            }
        }
        let out = self.low.graph.call_block(Arc::new(cash), operands);
        out.first().copied().ok_or_else(|| not_constant(saving, "the saving"))
    }

    /// Values by period over the whole horizon; years are sums of their months where the question goes by years.
    fn periods(&mut self, saving: &Typed, per_year: usize) -> Result<Vec<NodeId>, Box<Diagnostic>> {
        let whole = horizon(saving);
        let values: Vec<NodeId> = (0..whole.len(self.years()))
            .map(|k| self.value(saving, saving.ty.shape.lane(k, whole)))
            .collect::<Result<_, _>>()?;
        if whole == Shape::MonthlyByYearly && per_year == 1 {
            return Ok(values.chunks(12).map(|year| self.low.graph.fold(Binary::Add, year)).collect());
        }
        Ok(values)
    }
}

/// The shape of a saving over all years: what has no years is the same in each.
fn horizon(saving: &Typed) -> Shape {
    saving.ty.shape.join(Shape::Yearly)
}

/// Paybacks go by the saving's own periods; discounting and rates of return by years.
fn cash_of(question: CashQuestion, shape: Shape, in_service: bool, years: usize) -> Cash {
    let by_years = matches!(question, CashQuestion::DiscountedPayback | CashQuestion::RateOfReturn);
    let per_year = if shape == Shape::MonthlyByYearly && !by_years { 12 } else { 1 };
    Cash { question, periods: years * per_year, per_year, in_service }
}

fn not_constant(arg: &Typed, what: &str) -> Box<Diagnostic> {
    let error = Diagnostic::error("not-constant", format!("{what} must be known before the runs"))
        .at(arg.span.clone(), "")
        .hint("give a number or the name of an input as asked");
    Box::new(error)
}

/// Outlay, saving by year and share in service of the cash-flow function that a result's formula is, for its bands.
struct CashFlow<'t> {
    outlay: &'t Typed,
    saving: &'t Typed,
    in_service: Option<&'t Typed>,
}

/// The cash flow behind a formula that is a plain (not discounted) payback question.
fn cash_flow(formula: &Typed) -> Option<CashFlow<'_>> {
    let TypedNode::Call { function, args } = &formula.node else { return None };
    match function.op {
        FunctionOp::Payback | FunctionOp::FirstPayback | FunctionOp::PaysBack => {
            Some(CashFlow { outlay: args.first()?, saving: args.get(1)?, in_service: args.get(2) })
        }
        _ => None,
    }
}

impl Lowering<'_> {
    /// Cumulative cash at the end of year 0 (the outlay), 1, 2, ... behind a formula that is a payback question.
    ///
    /// # Errors
    /// As for laying a working.
    pub fn cumulative_cash(
        &mut self,
        sheet: &Sheet,
        formula: &Typed,
    ) -> Result<Option<Vec<NodeId>>, Box<Diagnostic>> {
        Laying::new(self, sheet).cumulative_cash(formula)
    }

    /// A node that is not negative exactly where a payback question is answered well: with yes, with any number of
    /// years, or with at most `limit`.
    ///
    /// # Errors
    /// As for laying a working.
    pub fn cash_at(
        &mut self,
        sheet: &Sheet,
        formula: &Typed,
        limit: Option<f64>,
    ) -> Result<Option<NodeId>, Box<Diagnostic>> {
        Laying::new(self, sheet).cash_at(formula, limit)
    }
}

impl Laying<'_, '_> {
    /// Cumulative cash at the end of year 0 (the outlay), 1, 2, ... of a payback question.
    fn cumulative_cash(&mut self, formula: &Typed) -> Result<Option<Vec<NodeId>>, Box<Diagnostic>> {
        let Some(flow) = cash_flow(formula) else { return Ok(None) };
        let outlay = self.value(flow.outlay, 0)?;
        let saving = self.periods(flow.saving, 1)?;
        let mut cash = vec![self.low.graph.unary(Unary::Negate, outlay)];
        for s in saving {
            let before = cash[cash.len() - 1];
            cash.push(self.low.graph.add_up(before, s));
        }
        Ok(Some(cash))
    }

    /// A node that is not negative exactly where the result meets its threshold, as affine in prices as the result
    /// allows: cash at the end for `pays_back` and payback, cash after `limit` years for a payback within them.
    fn cash_at(&mut self, formula: &Typed, limit: Option<f64>) -> Result<Option<NodeId>, Box<Diagnostic>> {
        let Some(flow) = cash_flow(formula) else { return Ok(None) };
        let per_year = if horizon(flow.saving) == Shape::MonthlyByYearly { 12 } else { 1 };
        let outlay = self.value(flow.outlay, 0)?;
        let saving = self.periods(flow.saving, per_year)?;
        let periods = limit.map_or(saving.len() as f64, |years| years * per_year as f64);
        let mut cash = self.low.graph.unary(Unary::Negate, outlay);
        for (k, s) in saving.into_iter().enumerate() {
            let part = (periods - k as f64).clamp(0.0, 1.0);
            let earned = match flow.in_service {
                // Cash comes evenly in the part of the period in service.
                Some(service) if part > 0.0 && part < 1.0 => {
                    let w = self.value(service, service.ty.shape.lane(k, horizon(flow.saving)))?;
                    let part = self.low.graph.constant(part);
                    let share = self.low.graph.binary(Binary::Divide, part, w);
                    let one = self.low.graph.constant(1.0);
                    let share = self.low.graph.binary(Binary::Min, share, one);
                    self.low.graph.times(s, share)
                }
                _ => {
                    let part = self.low.graph.constant(part);
                    self.low.graph.times(s, part)
                }
            };
            if part > 0.0 {
                cash = self.low.graph.add_up(cash, earned);
            }
        }
        Ok(Some(cash))
    }
}
