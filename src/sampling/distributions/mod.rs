//! Distributions of inputs: a file for each, and one table of them all.
//!
//! Every draw goes through the quantile function, monotone in the uniform:
//! that keeps strata, rank correlation and common random numbers whole.

use std::sync::Arc;

pub mod catalogue;
mod cautioned;
mod cut;
mod family;
pub mod law;
mod parameters;
mod special;
mod table;

mod bernoulli;
mod beta;
mod counts;
mod discrete;
mod exponential;
mod gamma;
mod lines;
mod lognormal;
mod metalog;
mod mixture;
mod normal;
mod pert;
mod quantiles;
mod samples;
mod triangular;
mod uniform;
mod weibull;

pub use catalogue::{DistributionKind, Form, KINDS};
pub use family::Family;
pub use law::Caution;
use law::Law;
pub use parameters::{ParameterError, Value};
use parameters::{Parameters, distance};
use table::Table;

use super::maths::{self, Vectors};
use cut::Cut;

/// A distribution with its parameters, ready to draw from.
///
/// Values are in the unit in which the parameters were written.
#[derive(Debug, Clone)]
pub struct Distribution {
    kind: &'static str,
    law: Arc<dyn Law>,
    cut: Option<Cut>,
    table: Option<Arc<Table>>,
}

impl Distribution {
    /// The distribution `kind` with `parameters`, cut to `truncate` (lowest, highest value).
    ///
    /// # Errors
    /// A kind that does not exist, keys that are unknown, missing or clash,
    /// values that fit no distribution, a cut that leaves less than a millionth.
    pub fn build(
        kind: &str,
        parameters: &[(String, Value)],
        truncate: Option<(Option<f64>, Option<f64>)>,
    ) -> Result<Distribution, ParameterError> {
        let entry = catalogue::kind(kind).ok_or_else(|| unknown_kind(kind))?;
        let law = (entry.build)(&Parameters::check(entry, parameters)?)?;
        Distribution::finish(entry.name, law, truncate)
    }

    /// The standard normal: scores from which values are made later.
    pub fn scores() -> Distribution {
        Distribution { kind: "normal", law: normal::standard(), cut: None, table: None }
    }

    /// One of `weights.len()` labels, drawn as its index. Labels have no order: no link is allowed.
    ///
    /// # Errors
    /// No weight, a weight below 0 or not a number, or all of them 0.
    pub fn labels(weights: &[f64]) -> Result<Distribution, ParameterError> {
        if weights.iter().any(|w| !(*w >= 0.0 && *w <= 1e150)) {
            let hint = "no weight may be below 0";
            return Err(ParameterError::new(
                &["weights"],
                "`weights` holds a number that is no weight",
                hint,
            ));
        }
        let points = weights.iter().enumerate().map(|(i, w)| (i as f64, *w));
        match discrete::Discrete::new(points, false) {
            Some(law) => Distribution::finish("labels", Arc::new(law), None),
            None => Err(ParameterError::new(
                &["weights"],
                "all weights are 0",
                "at least one weight must be above 0",
            )),
        }
    }

    fn finish(
        kind: &'static str,
        law: Arc<dyn Law>,
        truncate: Option<(Option<f64>, Option<f64>)>,
    ) -> Result<Distribution, ParameterError> {
        let (law, cut) = match truncate {
            Some((None, None)) | None => (law, None),
            Some((min, max)) => cut::cut(law, min, max)?,
        };
        let mut made = Distribution { kind, law, cut, table: None };
        if made.law.costly() {
            made.table = cut::tabulate(&made.law, made.cut.as_ref()).map(Arc::new);
        }
        Ok(made)
    }

    /// Its standard name; `labels` for a named choice.
    pub fn kind(&self) -> &'static str {
        self.kind
    }

    /// The value with this much probability below and above it (they sum to one).
    pub fn quantile(&self, lower: f64, upper: f64) -> f64 {
        if !(lower >= 0.0 && upper >= 0.0) {
            return f64::NAN;
        }
        match &self.table {
            Some(_) => self.from_score(maths::normal_quantile(lower, upper)),
            None => self.exact(lower, upper),
        }
    }

    /// The value with probability `p` below it.
    pub fn quantile_at(&self, p: f64) -> f64 {
        self.quantile(p, 1.0 - p)
    }

    fn exact(&self, lower: f64, upper: f64) -> f64 {
        match &self.cut {
            Some(cut) => cut.quantile(&*self.law, lower, upper),
            None => self.law.quantile(lower, upper),
        }
    }

    /// The value at a normal score.
    pub fn from_score(&self, z: f64) -> f64 {
        if let Some(value) = self.table.as_ref().and_then(|t| t.at(z)) {
            return value;
        }
        if self.cut.is_none() && self.law.by_score() {
            return self.law.at_score(z);
        }
        self.exact(maths::normal_cdf(z), maths::normal_cdf(-z))
    }

    /// Replaces uniforms by values: the same bits as `quantile(u, 1 - u)`.
    pub fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        if self.table.is_some() {
            vectors.normal_quantile(u);
            self.fill_from_score(vectors, u);
        } else if self.cut.is_none() {
            self.law.fill_from_uniform(vectors, u);
        } else {
            for v in u {
                *v = self.exact(*v, 1.0 - *v);
            }
        }
    }

    /// Replaces normal scores by values: the same bits as `from_score(z)`.
    pub fn fill_from_score(&self, vectors: Vectors, z: &mut [f64]) {
        let table = self.table.as_ref().filter(|_| z.iter().all(|v| v.abs() < table::REACH));
        if let Some(table) = table {
            table.fill(vectors, z, |score| self.from_score(score));
        } else if self.table.is_none() && self.cut.is_none() && self.law.by_score() {
            self.law.fill_from_score(vectors, z);
        } else {
            for v in z {
                *v = self.from_score(*v);
            }
        }
    }

    /// Mean, after any cut.
    pub fn mean(&self) -> f64 {
        match &self.cut {
            Some(cut) => cut::moments(&*self.law, cut).0,
            None => self.law.mean(),
        }
    }

    /// Standard deviation, after any cut.
    pub fn sd(&self) -> f64 {
        match &self.cut {
            Some(cut) => cut::moments(&*self.law, cut).1,
            None => self.law.sd(),
        }
    }

    /// Median, after any cut.
    pub fn median(&self) -> f64 {
        self.quantile(0.5, 0.5)
    }

    /// Most likely value, after any cut.
    pub fn mode(&self) -> f64 {
        let (min, max) = self.support();
        self.law.mode().clamp(min, max)
    }

    /// Lowest and highest value, after any cut; infinite where there is none.
    pub fn support(&self) -> (f64, f64) {
        let (min, max) = self.law.support();
        match &self.cut {
            Some(cut) => (min.max(cut.min()), max.min(cut.max())),
            None => (min, max),
        }
    }

    /// Probability at or below `x`, after any cut.
    pub fn cdf(&self, x: f64) -> f64 {
        self.cdf_pair(x).0
    }

    /// Probability at or below `x` and above it, each accurate where it is small.
    pub fn cdf_pair(&self, x: f64) -> (f64, f64) {
        match &self.cut {
            Some(cut) => cut.cdf(&*self.law, x),
            None => self.law.cdf(x),
        }
    }

    /// Values and their shares, of a discrete one.
    pub fn points(&self) -> Option<(&[f64], &[f64])> {
        self.law.points()
    }

    /// Base value where a study gives none: the median, or the mode of a discrete one.
    pub fn default_base(&self) -> f64 {
        if self.is_discrete() { self.mode() } else { self.median() }
    }

    /// Whether it has separate values.
    pub fn is_discrete(&self) -> bool {
        self.law.points().is_some()
    }

    /// Whether it may be linked to others: labels have no order.
    pub fn linkable(&self) -> bool {
        self.law.ordered()
    }

    /// What the reader should know about it.
    pub fn cautions(&self) -> Vec<Caution> {
        if self.cut.is_some() { Vec::new() } else { self.law.cautions() }
    }
}

fn unknown_kind(kind: &str) -> ParameterError {
    let near = KINDS.iter().min_by_key(|k| distance(kind, k.name));
    let names: Vec<&str> = KINDS.iter().map(|k| k.name).collect();
    let all = parameters::quoted(&names);
    let hint = match near.filter(|k| distance(kind, k.name) <= 1 + k.name.len() / 4) {
        Some(k) => format!("did you mean `{}`? There are {all}", k.name),
        None => format!("there are {all}"),
    };
    ParameterError::new(&[], format!("there is no distribution `{kind}`"), hint)
}
