//! A study laid into one graph with all that its answers are made from:
//! results at base choices and at each other value of each choice, cumulative
//! cash, the level of each path, and the gaps to thresholds.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::analysis::factors::{self, FactorNode};
use crate::diagnostic::Diagnostic;
use crate::engine::graph::NodeId;
use crate::engine::ops::{Binary, Unary};
use crate::formula::types::Kind;
use crate::model::lower::{Lowering, Setting, Sheet};
use crate::model::{AlternativeItem, BreakEvenItem, InputValue, Model, ResultItem, Working};
use crate::sampling::Plan;

/// A study in the graph.
pub(super) struct Laid<'m> {
    pub(super) model: &'m Model,
    pub(super) plan: Arc<Plan>,
    pub(super) low: Lowering<'m>,
    /// Choices at their base values.
    pub(super) base: Sheet,
    /// For each other value of each choice, the choices at base otherwise.
    pub(super) others: Vec<OtherChoice>,
    /// Cumulative cash behind the payback question, with its result.
    pub(super) cash: Option<Cash>,
    /// Gap of each break-even question to its threshold.
    pub(super) gaps: Vec<NodeId>,
    /// The alternatives, in their order, choices at their base values.
    pub(super) alternatives: Vec<Sheet>,
    /// What varies.
    pub(super) factors: Vec<FactorNode>,
    /// Gap of the headline to its threshold, if it has one and the study asks no break-even question.
    pub(super) unasked: Option<NodeId>,
}

/// A choice at a value other than its base.
pub(super) struct OtherChoice {
    /// Index of the input.
    pub(super) input: usize,
    /// Its value (a label's index).
    pub(super) value: f64,
    pub(super) sheet: Sheet,
    /// Cumulative cash by year, where it is not that of the base choices.
    pub(super) cash: Option<Vec<NodeId>>,
    /// Gap of each break-even question, where it is not that of the base choices.
    pub(super) gaps: Vec<Option<NodeId>>,
    /// The alternatives under this value, where they do not set the choice themselves.
    pub(super) alternatives: Vec<Sheet>,
}

/// Cumulative cash at the end of year 0, 1, 2, ... and the payback result that asks about it.
pub(super) struct Cash {
    /// Index of the result.
    pub(super) result: usize,
    pub(super) nodes: Vec<NodeId>,
}

impl<'m> Laid<'m> {
    pub(super) fn new(model: &'m Model, plan: Plan) -> Result<Self, Box<Diagnostic>> {
        let plan = Arc::new(plan);
        let mut low = Lowering::new(model, Arc::clone(&plan), &free_names(model));
        low.move_courses = true;
        let base = low.lay(&Setting::default())?;
        let mut others = Vec::new();
        for (input, value) in other_choices(model) {
            let values = BTreeMap::from([(model.inputs[input].about.name.clone(), value)]);
            let alternatives = lay_alternatives(&mut low, model, &values)?;
            let sheet = low.lay(&Setting { values, formulas: None })?;
            others.push(OtherChoice { input, value, sheet, cash: None, gaps: Vec::new(), alternatives });
        }
        let alternatives = lay_alternatives(&mut low, model, &BTreeMap::new())?;
        let factors = factors::lay(&mut low, model, &base);
        let (cash, gaps, unasked) = (None, Vec::new(), None);
        let mut laid = Laid { model, plan, low, base, others, cash, gaps, alternatives, factors, unasked };
        laid.cash = laid.lay_cash()?;
        for item in &model.break_even {
            let gap = laid.lay_gap(item, None)?;
            laid.gaps.push(gap);
        }
        let headline = &model.results[model.headline];
        let number = matches!(model.result_working(headline).formula.ty.kind, Kind::Number { .. });
        let has_threshold = !number || headline.at_least.or(headline.at_most).is_some();
        if model.break_even.is_empty() && has_threshold {
            laid.unasked = Some(laid.lay_gap(&BreakEvenItem::bare("", model.headline), None)?);
        }
        for other in 0..laid.others.len() {
            laid.lay_other(other)?;
        }
        Ok(laid)
    }

    /// Cash and gaps under another value of a choice. Equal nodes are the same values: the choice does not touch them.
    fn lay_other(&mut self, other: usize) -> Result<(), Box<Diagnostic>> {
        let model = self.model;
        if let Some(cash) = &self.cash {
            let formula = &model.result_working(&model.results[cash.result]).formula;
            let here = self.low.cumulative_cash(&self.others[other].sheet, formula)?;
            self.others[other].cash = here.filter(|nodes| *nodes != cash.nodes);
        }
        let choice = &model.inputs[self.others[other].input].about.name;
        for (k, item) in model.break_even.iter().enumerate() {
            // A question that moves the choice itself has all its values in it.
            let moves_it = item.of == *choice || item.against.contains(choice);
            let gap = if moves_it { self.gaps[k] } else { self.lay_gap(item, Some(other))? };
            let gap = Some(gap).filter(|gap| *gap != self.gaps[k]);
            self.others[other].gaps.push(gap);
        }
        Ok(())
    }

    /// Node of a result on a sheet.
    pub(super) fn result_node(&self, sheet: &Sheet, result: &ResultItem) -> Option<NodeId> {
        sheet.nodes(&self.model.result_working(result).about.name).first().copied()
    }

    /// The first result that is years or never and has a cash flow; else the first yes-or-no one that has.
    fn lay_cash(&mut self) -> Result<Option<Cash>, Box<Diagnostic>> {
        let model = self.model;
        let is = |years: bool| {
            model
                .results
                .iter()
                .enumerate()
                .filter(move |(_, r)| (model.result_working(r).formula.ty.kind == Kind::Years) == years)
        };
        for (result, item) in is(true).chain(is(false)) {
            let formula = &model.result_working(item).formula;
            if let Some(nodes) = self.low.cumulative_cash(&self.base, formula)? {
                return Ok(Some(Cash { result, nodes }));
            }
        }
        Ok(None)
    }

    /// A node that is not negative exactly where the result meets its threshold, at the base choices or another value.
    fn lay_gap(&mut self, item: &BreakEvenItem, other: Option<usize>) -> Result<NodeId, Box<Diagnostic>> {
        let model = self.model;
        let result = &model.results[item.result];
        let working = model.result_working(result);
        let asks_cash = !matches!(working.formula.ty.kind, Kind::Number { .. });
        let sheet = other.map_or(&self.base, |other| &self.others[other].sheet);
        if asks_cash && let Some(cash) = self.low.cash_at(sheet, &working.formula, result.at_most)? {
            return Ok(cash);
        }
        let node = self.result_node(sheet, result).unwrap_or_else(|| self.low.graph.constant(f64::NAN));
        Ok(self.gap_of(node, working, result))
    }

    fn gap_of(&mut self, node: NodeId, working: &Working, result: &ResultItem) -> NodeId {
        let graph = &mut self.low.graph;
        let scale = working.unit.scale;
        match (&working.formula.ty.kind, result.at_least, result.at_most) {
            (Kind::Years, None, None) => {
                let never = graph.unary(Unary::IsNever, node);
                let half = graph.constant(0.5);
                graph.binary(Binary::Subtract, half, never)
            }
            (Kind::YesNo, ..) => {
                let half = graph.constant(0.5);
                graph.binary(Binary::Subtract, node, half)
            }
            (_, Some(least), _) => {
                let least = graph.constant(least * scale);
                graph.binary(Binary::Subtract, node, least)
            }
            (_, None, most) => {
                let most = graph.constant(most.unwrap_or(0.0) * scale);
                graph.binary(Binary::Subtract, most, node)
            }
        }
    }
}

/// The alternatives, if they are compared, with choices at `values` where they do not set them themselves.
fn lay_alternatives<'m>(
    low: &mut Lowering<'m>,
    model: &'m Model,
    values: &BTreeMap<String, f64>,
) -> Result<Vec<Sheet>, Box<Diagnostic>> {
    if model.questions.comparison.is_none() {
        return Ok(Vec::new());
    }
    let lay = |alternative: &'m AlternativeItem| {
        let mut values = values.clone();
        values.extend(alternative.values.iter().map(|(name, &value)| (name.clone(), value)));
        low.lay(&Setting { values, formulas: alternative.formulas.as_deref() })
    };
    model.alternatives.iter().map(lay).collect()
}

/// Known inputs that a break-even question moves, and every path: these are leaves.
fn free_names(model: &Model) -> BTreeSet<String> {
    let levers = model.break_even.iter().flat_map(|item| std::iter::once(&item.of).chain(&item.against));
    let along = model.questions.comparison.iter().flat_map(|comparison| &comparison.along);
    levers.chain(along).cloned().chain(model.paths.iter().map(|p| p.about.name.clone())).collect()
}

/// Each value of each choice other than its base.
fn other_choices(model: &Model) -> Vec<(usize, f64)> {
    let mut found = Vec::new();
    for (k, input) in model.inputs.iter().enumerate() {
        if let InputValue::Choice(values) = &input.value {
            found.extend(values.iter().filter(|v| Some(*v) != input.base.first()).map(|&v| (k, v)));
        }
    }
    found
}
