//! Inputs whose distribution has parameters that are other inputs.
//!
//! The plan draws only such an input's normal score; its value is the quantile
//! of each run's own distribution at that score, worked out in the graph. So
//! whatever moves a parameter (a choice, a lever, a span) moves the value too.

use std::sync::Arc;

use crate::engine::block::{BlockOp, Runs};
use crate::sampling::{Distribution, Family, Value};
use crate::units::Unit;

/// A parameter that is an input.
#[derive(Debug, Clone)]
pub struct GivenParameter {
    /// Key of the parameter.
    pub key: String,
    /// Name of the input.
    pub name: String,
    /// The unit in which the parameter is written.
    pub unit: Unit,
    /// Whether it is written in one over that unit (a rate).
    pub per: bool,
}

impl GivenParameter {
    /// The parameter's number from the input's value in base units.
    pub fn number(&self, base_units: f64) -> f64 {
        if self.per { base_units * self.unit.scale } else { self.unit.from_base(base_units) }
    }
}

/// A distribution with parameters that are inputs.
#[derive(Debug, Clone)]
pub struct Given {
    /// The distribution with those parameters open.
    pub family: Family,
    /// The parameters that are inputs, in the order of the family's open keys.
    pub parameters: Vec<GivenParameter>,
    /// The parameters in the base case.
    pub base_numbers: Vec<f64>,
    /// The distribution in the base case.
    pub at_base: Distribution,
    /// The score in the base case.
    pub base_score: f64,
    /// The value in the base case, in the input's unit.
    pub base: f64,
}

/// The law of the last run, which often serves the next one too.
pub struct LastLaw {
    room: Vec<(String, Value)>,
    numbers: Vec<f64>,
    law: Option<Distribution>,
    made: bool,
}

impl Given {
    /// Nothing worked out yet.
    pub fn room(&self) -> LastLaw {
        LastLaw { room: self.family.room(), numbers: Vec::new(), law: None, made: false }
    }

    /// The value, in the input's unit, at the parameters' `numbers` and a score: NaN where they fit no distribution.
    /// At the parameters and the score of the base case it is the base value to the last bit.
    pub fn value(&self, numbers: &[f64], score: f64, last: &mut LastLaw) -> f64 {
        if score.to_bits() == self.base_score.to_bits() && numbers == self.base_numbers.as_slice() {
            return self.base;
        }
        if !last.made || last.numbers != numbers {
            last.law = self.family.at(numbers, &mut last.room).ok();
            last.numbers.clear();
            last.numbers.extend_from_slice(numbers);
            last.made = true;
        }
        match &last.law {
            Some(law) if !score.is_nan() => law.from_score(score),
            _ => f64::NAN,
        }
    }

    /// Replaces scores by values; `parameters` are columns in base units.
    pub fn fill(&self, parameters: &[&[f64]], scores: &mut [f64]) {
        let mut last = self.room();
        let mut numbers = vec![0.0; self.parameters.len()];
        for (i, score) in scores.iter_mut().enumerate() {
            for ((number, parameter), column) in numbers.iter_mut().zip(&self.parameters).zip(parameters) {
                *number = parameter.number(column[i]);
            }
            *score = self.value(&numbers, *score, &mut last);
        }
    }

    /// Names of the inputs that it reads.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.parameters.iter().map(|p| p.name.as_str())
    }

    /// In words: `normal (mean = typical_life, sd = 2)`.
    pub fn in_words(&self) -> String {
        let written = |(key, value): (&str, &Value)| {
            let named = self.parameters.iter().find(|p| p.key == key);
            match (named, value) {
                (Some(parameter), _) => format!("{key} = {}", parameter.name),
                (None, Value::Number(x)) => format!("{key} = {x}"),
                (None, Value::List(xs)) => format!("{key} = {xs:?}"),
                (None, Value::Word(word)) => format!("{key} = \"{word}\""),
                (None, Value::Parts(parts)) => format!("{} parts", parts.len()),
            }
        };
        let all: Vec<String> = self.family.parameters().map(written).collect();
        format!("{} ({})", self.family.kind(), all.join(", "))
    }
}

/// The value of such an input. Operands: its parameters in base units, then its score. In the input's unit.
pub struct GivenValue {
    /// Name of the input.
    pub name: String,
    /// Its distribution.
    pub given: Arc<Given>,
}

impl BlockOp for GivenValue {
    fn key(&self) -> String {
        format!("value of {}", self.name)
    }

    fn outputs(&self) -> usize {
        1
    }

    fn evaluate(&self, runs: Runs, args: &[&[f64]], out: &mut [Vec<f64>], _scratch: &mut Vec<f64>) {
        let (Some((scores, parameters)), Some(out)) = (args.split_last(), out.first_mut()) else { return };
        out[..runs.n].copy_from_slice(&scores[..runs.n]);
        self.given.fill(parameters, &mut out[..runs.n]);
    }
}
