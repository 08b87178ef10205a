//! A second way to compute a study, as plain as can be: each value of each
//! name straight from its definition, by recursion over the checked formula.
//!
//! It shares no code with the compiler and the engine: nothing is laid out,
//! folded, shared or done in columns. Values are asked for by year and month;
//! an axis that a value does not have is ignored. What it has from the
//! library: the checked tree, exp and ln, and the cash-flow functions for one
//! run.

// Each test file that includes this uses a part of it, and none of it is an interface.
#![allow(dead_code, unreachable_pub, missing_docs)]

pub mod generate;
pub mod sample;
pub mod years;

use std::cell::RefCell;
use std::collections::BTreeMap;

use payspread::finance::{self, Period, Timing};
use payspread::formula::ast::{BinaryOp, UnaryOp};
use payspread::formula::types::{Kind, Shape, Typed, TypedNode};
use payspread::model::Model;
use payspread::sampling::maths;
use payspread::units::Base;

/// Draws of the lives of replacements: (name of the life, which replacement) to years.
pub type Renewals<'a> = &'a dyn Fn(&str, u32) -> f64;

/// One run of a study.
pub struct Naive<'a> {
    model: &'a Model,
    given: BTreeMap<String, Vec<f64>>,
    renewals: Renewals<'a>,
    workings: RefCell<BTreeMap<(String, usize), f64>>,
    // Only so that sums within sums end before the night does.
    calls: RefCell<BTreeMap<(usize, usize), f64>>,
}

const DAYS: [u32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// Equal to the last bit; any NaN equals any NaN.
pub fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan())
}

fn place(shape: Shape, year: usize, month: usize) -> usize {
    match shape {
        Shape::Single => 0,
        Shape::Monthly => month,
        Shape::Yearly => year,
        Shape::MonthlyByYearly => 12 * year + month,
    }
}

impl<'a> Naive<'a> {
    /// `given` holds the values of inputs, paths and starts of paths in base units, as long as their shapes.
    pub fn new(model: &'a Model, given: BTreeMap<String, Vec<f64>>, renewals: Renewals<'a>) -> Self {
        Naive { model, given, renewals, workings: RefCell::default(), calls: RefCell::default() }
    }

    /// All values of a working or result, in base units.
    pub fn working(&self, name: &str) -> Vec<f64> {
        let working = self.model.workings.iter().find(|w| w.about.name == name).unwrap();
        let years = self.model.years;
        match working.shape() {
            Shape::Single => vec![self.named(name, 0, 0)],
            Shape::Monthly => (0..12).map(|m| self.named(name, 0, m)).collect(),
            Shape::Yearly => (0..years).map(|y| self.named(name, y, 0)).collect(),
            Shape::MonthlyByYearly => (0..years)
                .flat_map(|y| (0..12).map(move |m| (y, m)))
                .map(|(y, m)| self.named(name, y, m))
                .collect(),
        }
    }

    fn named(&self, name: &str, year: usize, month: usize) -> f64 {
        match name {
            "year" => return year as f64,
            "month" => return (month + 1) as f64,
            "calendar_year" => return self.model.first_year as f64 + year as f64,
            "days_in_month" => return f64::from(DAYS[month]) / 365.0,
            _ => {}
        }
        if let Some(working) = self.model.workings.iter().find(|w| w.about.name == name) {
            let key = (name.to_owned(), place(working.shape(), year, month));
            if let Some(&known) = self.workings.borrow().get(&key) {
                return known;
            }
            let value = self.value(&working.formula, year, month);
            self.workings.borrow_mut().insert(key, value);
            return value;
        }
        let values = &self.given[name];
        let input = self.model.inputs.iter().find(|i| i.about.name == name);
        let shape = match input {
            Some(input) => input.ty.shape,
            None if name.ends_with(".start") => Shape::Single,
            None => Shape::Yearly,
        };
        values[place(shape, year, month)]
    }

    /// Value of a formula in a year and month.
    pub fn value(&self, tree: &Typed, year: usize, month: usize) -> f64 {
        match &tree.node {
            TypedNode::Constant(value) => *value,
            TypedNode::Name(name) => self.named(name, year, month),
            TypedNode::Unary(UnaryOp::Negate, a) => -self.value(a, year, month),
            TypedNode::Unary(UnaryOp::Not, a) => yes(self.value(a, year, month) == 0.0),
            TypedNode::Binary(op, a, b) => {
                binary(*op, self.value(a, year, month), self.value(b, year, month))
            }
            TypedNode::Call { function, args } => {
                let key = (std::ptr::from_ref(tree) as usize, place(tree.ty.shape, year, month));
                if let Some(&known) = self.calls.borrow().get(&key) {
                    return known;
                }
                let value = self.call(function.name, args, tree.ty.shape, year, month);
                self.calls.borrow_mut().insert(key, value);
                value
            }
        }
    }

    fn call(&self, function: &str, args: &[Typed], shape: Shape, year: usize, month: usize) -> f64 {
        let at = |k: usize| self.value(&args[k], year, month);
        let months = || -> Vec<f64> { (0..12).map(|m| self.value(&args[0], year, m)).collect() };
        let years =
            || -> Vec<f64> { (0..self.model.years).map(|y| self.value(&args[0], y, month)).collect() };
        match function {
            "abs" => at(0).abs(),
            "floor" => at(0).floor(),
            "round" => halves_away(at(0)),
            "sqrt" => at(0).sqrt(),
            "exp" => maths::exp(at(0)),
            "ln" => maths::ln(at(0)),
            "is_never" => yes(at(0) == f64::INFINITY),
            "min" => fold(min, &(0..args.len()).map(at).collect::<Vec<_>>()),
            "max" => fold(max, &(0..args.len()).map(at).collect::<Vec<_>>()),
            "clamp" => min(max(at(0), at(1)), at(2)),
            "if" => {
                if at(0) != 0.0 {
                    at(1)
                } else {
                    at(2)
                }
            }
            "sum_months" => fold(|a, b| a + b, &months()),
            "mean_months" => fold(|a, b| a + b, &months()) / 12.0,
            "min_months" => fold(min, &months()),
            "max_months" => fold(max, &months()),
            "sum_years" => fold(|a, b| a + b, &years()),
            "mean_years" => fold(|a, b| a + b, &years()) / self.model.years as f64,
            "min_years" => fold(min, &years()),
            "max_years" => fold(max, &years()),
            "cumulative" => self.cumulative(&args[0], year, month),
            "at_year" => self.value(&args[0], self.value(&args[1], 0, 0) as usize, month),
            "previous" if year == 0 => self.value(&args[1], 0, month),
            "previous" => self.value(&args[0], year - 1, month),
            "months" => self.value(&args[month], 0, 0),
            "years" => self.value(&args[year], 0, 0),
            "seasonal" => at(0) - at(1) * wave(month, at(2)),
            "water_heat" => at(0) * (4.186 * 1000.0 / 3600.0) * (at(2) - at(1)),
            "inflate" | "deflate" => self.levelled(function == "inflate", &args[0], year, month),
            "in_service" if shape == Shape::MonthlyByYearly => share(at(0) * 12.0, 12 * year + month),
            "in_service" => share(at(0), year),
            "failures" => self.failures(&args[0], year),
            "growth" => 1.0 + at(0),
            _ => self.money(function, args),
        }
    }

    /// Times or divided by the price level at the end of the year; for one over money the other way round.
    fn levelled(&self, inflates: bool, amount: &Typed, year: usize, month: usize) -> f64 {
        let inflation = self.model.inflation.as_ref().unwrap();
        let level = (0..=year).fold(1.0, |level, y| level * (1.0 + self.named(inflation, y, 0)));
        let Kind::Number { dimension, .. } = amount.ty.kind else { panic!("no amount") };
        let value = self.value(amount, year, month);
        if inflates == (dimension.exponent(Base::Money).numerator() > 0) {
            value * level
        } else {
            value / level
        }
    }

    /// The running sum up to and with a period.
    fn cumulative(&self, x: &Typed, year: usize, month: usize) -> f64 {
        let mut up_to: Vec<f64> = Vec::new();
        for y in 0..=year {
            if x.ty.shape == Shape::Yearly {
                up_to.push(self.value(x, y, 0));
                continue;
            }
            let last = if y == year { month } else { 11 };
            up_to.extend((0..=last).map(|m| self.value(x, y, m)));
        }
        fold(|a, b| a + b, &up_to)
    }

    fn money(&self, function: &str, args: &[Typed]) -> f64 {
        let at = |k: usize| self.value(&args[k], 0, 0);
        match function {
            "npv" => {
                let mid = args.get(3).is_some_and(|timing| self.value(timing, 0, 0) == 1.0);
                npv(at(0), at(1), &self.by_year(&args[2]), mid)
            }
            "payback" | "first_payback" => {
                let (saving, period) = self.by_period(&args[1]);
                let service = args.get(2).map(|share| self.all(share));
                let answer = if function == "payback" { finance::payback } else { finance::first_payback };
                answer(at(0), &saving, service.as_deref(), period)
            }
            "discounted_payback" => {
                // The share of a year is the mean share of its months.
                let service = args.get(3).map(|share| match share.ty.shape {
                    Shape::MonthlyByYearly => self.by_year(share).iter().map(|sum| sum / 12.0).collect(),
                    _ => self.all(share),
                });
                let saving = self.by_year(&args[2]);
                finance::discounted_payback(at(0), at(1), &saving, service.as_deref(), Timing::YearEnd)
            }
            "pays_back" => finance::pays_back(at(0), &self.by_period(&args[1]).0),
            "rates_of_return" => finance::single_rate(at(0), &self.by_year(&args[1])),
            "annuity" => at(1) * finance::annuity(at(0), at(2)),
            _ => panic!("the naive evaluator does not know {function}"),
        }
    }

    fn all(&self, tree: &Typed) -> Vec<f64> {
        let months = if tree.ty.shape.has_months() { 12 } else { 1 };
        let years = 0..self.model.years;
        years.flat_map(|y| (0..months).map(move |m| (y, m))).map(|(y, m)| self.value(tree, y, m)).collect()
    }

    /// A value for each period of the whole horizon: months where the saving has them, else years.
    fn by_period(&self, saving: &Typed) -> (Vec<f64>, Period) {
        let period = if saving.ty.shape.has_months() { Period::Month } else { Period::Year };
        (self.all(saving), period)
    }

    /// A value for each year, months summed.
    fn by_year(&self, saving: &Typed) -> Vec<f64> {
        let all = self.all(saving);
        match saving.ty.shape.has_months() {
            true => all.chunks(12).map(|year| fold(|a, b| a + b, year)).collect(),
            false => all,
        }
    }

    /// Replacements in a year: each piece is replaced when it fails, until the horizon.
    fn failures(&self, life: &Typed, year: usize) -> f64 {
        let TypedNode::Name(name) = &life.node else { panic!("a life without a name") };
        let mut fails = self.value(life, 0, 0);
        let mut count = 0;
        for piece in 0..=4096 {
            if fails >= self.model.years as f64 {
                return f64::from(count);
            }
            if fails.is_nan() {
                return f64::NAN;
            }
            // Before the beginning counts in the first year.
            count += u32::from(max(fails, 0.0).floor() == year as f64);
            fails += (self.renewals)(name, piece);
        }
        // Lives that are no lives.
        f64::NAN
    }
}

fn yes(yes: bool) -> f64 {
    f64::from(u8::from(yes))
}

fn min(a: f64, b: f64) -> f64 {
    if a.is_nan() || b.is_nan() {
        f64::NAN
    } else if a < b {
        a
    } else {
        b
    }
}

fn max(a: f64, b: f64) -> f64 {
    if a.is_nan() || b.is_nan() {
        f64::NAN
    } else if a > b {
        a
    } else {
        b
    }
}

fn fold(op: impl Fn(f64, f64) -> f64, values: &[f64]) -> f64 {
    let mut result = values[0];
    for &x in &values[1..] {
        result = op(result, x);
    }
    result
}

/// Nearest whole number, halves away from zero.
fn halves_away(x: f64) -> f64 {
    let size = x.abs();
    let below = size.floor();
    let rounded = if size - below >= 0.5 { below + 1.0 } else { below };
    rounded.copysign(x)
}

fn binary(op: BinaryOp, a: f64, b: f64) -> f64 {
    let unknown = a.is_nan() || b.is_nan();
    match op {
        BinaryOp::Or => yes(a != 0.0 || b != 0.0),
        BinaryOp::And => yes(a != 0.0 && b != 0.0),
        BinaryOp::Equal => yes(!unknown && a == b),
        BinaryOp::NotEqual => yes(!unknown && a != b),
        BinaryOp::Less => yes(!unknown && a < b),
        BinaryOp::LessEqual => yes(!unknown && a <= b),
        BinaryOp::Greater => yes(!unknown && a > b),
        BinaryOp::GreaterEqual => yes(!unknown && a >= b),
        BinaryOp::Add => a + b,
        BinaryOp::Subtract => a - b,
        BinaryOp::Multiply => a * b,
        BinaryOp::Divide => a / b,
        BinaryOp::Power => power(a, b),
    }
}

/// A whole exponent from 2 to 16 is a product from the left, whether it is written, known or drawn.
fn power(a: f64, b: f64) -> f64 {
    if (2..=16).any(|n| b == f64::from(n)) {
        let mut product = a;
        for _ in 1..b as usize {
            product *= a;
        }
        return product;
    }
    libm::pow(a, b)
}

/// cos(2 pi (d - coldest) / 365) in the middle d of a month.
fn wave(month: usize, coldest: f64) -> f64 {
    let before: u32 = DAYS[..month].iter().sum();
    let middle = f64::from(before) + f64::from(DAYS[month]) / 2.0;
    libm::cos(2.0 * std::f64::consts::PI * ((middle - coldest) / 365.0))
}

/// clamp(periods of life - period, 0, 1)
fn share(life: f64, period: usize) -> f64 {
    min(max(life - period as f64, 0.0), 1.0)
}

fn npv(rate: f64, outlay: f64, saving: &[f64], mid_year: bool) -> f64 {
    let growth = if rate > -1.0 { 1.0 + rate } else { f64::NAN };
    let v = 1.0 / growth;
    let mut f = if mid_year { growth.sqrt() } else { 1.0 };
    let mut sum = -outlay;
    for s in saving {
        f *= v;
        sum += s * f;
    }
    sum
}
