//! Discrete: a few values, each with a weight.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::Law;
use super::parameters::{ParameterError, Parameters};
use crate::sampling::maths::{Vectors, kernels};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "discrete",
    summary: "a few values, each with a weight (equal if not given)",
    forms: &[Form {
        keys: &["values"],
        optional: &["weights"],
        words: "the values, and their weights in the same order (any scale)",
    }],
    percentiles: false,
    example: "discrete = { values = [2, 3, 4], weights = [20, 60, 20] }",
    source: "smallest value whose cumulative weight reaches p",
    build,
};

/// Sorted values with the cumulative probability of each.
#[derive(Debug, Clone)]
pub(crate) struct Discrete {
    values: Vec<f64>,
    weights: Vec<f64>,
    /// Probability at or below each value but the last, which takes all that is left.
    limits: Vec<f64>,
    ordered: bool,
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let values = p.list("values")?;
    let equal = vec![1.0; values.len()];
    let weights = if p.has("weights") { p.list("weights")? } else { &equal };
    if weights.len() != values.len() {
        let message = format!("{} values and {} weights", values.len(), weights.len());
        return Err(ParameterError::new(&["values", "weights"], message, "give a weight for each value"));
    }
    if let Some(w) = weights.iter().find(|w| **w < 0.0) {
        return Err(ParameterError::new(
            &["weights"],
            format!("`weights` holds {w}"),
            "no weight may be below 0",
        ));
    }
    match Discrete::new(values.iter().copied().zip(weights.iter().copied()), true) {
        Some(law) => Ok(Arc::new(law)),
        None => {
            let hint = "at least one weight must be above 0";
            Err(ParameterError::new(&["weights"], "all weights are 0", hint))
        }
    }
}

impl Discrete {
    /// From values and weights in any order; none when no weight is left.
    pub(crate) fn new(points: impl Iterator<Item = (f64, f64)>, ordered: bool) -> Option<Discrete> {
        let mut points: Vec<(f64, f64)> = points.filter(|(_, w)| *w > 0.0).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        // A value given twice counts once, with both weights; -0 is 0.
        points.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            if same {
                kept.1 += next.1;
            }
            same
        });
        if points.is_empty() {
            return None;
        }
        let (values, weights): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        let limits = cumulative(&weights);
        let total: f64 = weights.iter().sum();
        let weights = weights.iter().map(|w| w / total).collect();
        Some(Discrete { values, weights, limits, ordered })
    }

    /// The part from `min` to `max`, both kept, and its share; none if it is empty.
    pub(crate) fn within(&self, min: f64, max: f64) -> Option<(Discrete, f64)> {
        let points = self.values.iter().copied().zip(self.weights.iter().copied());
        let kept: Vec<(f64, f64)> = points.filter(|(x, _)| min <= *x && *x <= max).collect();
        let share = kept.iter().map(|(_, w)| w).sum();
        Some((Discrete::new(kept.into_iter(), self.ordered)?, share))
    }

    fn at(&self, idx: usize) -> f64 {
        self.values.get(idx).copied().unwrap_or(f64::NAN)
    }
}

/// Cumulative shares, summed from the nearer end; without the last, which is 1.
fn cumulative(weights: &[f64]) -> Vec<f64> {
    let total: f64 = weights.iter().sum();
    let mut below = 0.0;
    let mut limits = Vec::with_capacity(weights.len());
    for w in weights {
        below += w;
        limits.push(below / total);
    }
    let mut above = 0.0;
    for (limit, w) in limits.iter_mut().zip(weights).rev() {
        if *limit > 0.5 {
            *limit = 1.0 - above / total;
        }
        above += w;
    }
    limits.pop();
    limits
}

/// Up to this many values a pass for each beats a search.
const FEW: usize = 12;

#[inline(always)]
fn select(first: f64, rest: &[f64], limits: &[f64], u: &mut [f64]) {
    for block in u.chunks_mut(64) {
        let mut out = [first; 64];
        for (&limit, &value) in limits.iter().zip(rest) {
            for (x, &p) in out.iter_mut().zip(block.iter()) {
                *x = if p > limit { value } else { *x };
            }
        }
        for (p, x) in block.iter_mut().zip(out) {
            *p = x;
        }
    }
}

kernels! {
    /// Discrete values from uniforms, a pass for each limit.
    fn discrete_values(first: f64, rest: &[f64], limits: &[f64], u: &mut [f64]) = select;
}

impl Law for Discrete {
    fn quantile(&self, lower: f64, _upper: f64) -> f64 {
        self.at(self.limits.partition_point(|limit| lower > *limit))
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        let n = self.values.partition_point(|v| *v <= x);
        if n == 0 {
            return (0.0, 1.0);
        }
        let lower = self.limits.get(n - 1).copied().unwrap_or(1.0);
        (lower, 1.0 - lower)
    }

    fn mean(&self) -> f64 {
        self.values.iter().zip(&self.weights).map(|(x, w)| x * w).sum()
    }

    fn sd(&self) -> f64 {
        let mean = self.mean();
        let square = |(x, w): (&f64, &f64)| (x - mean) * (x - mean) * w;
        self.values.iter().zip(&self.weights).map(square).sum::<f64>().sqrt()
    }

    fn mode(&self) -> f64 {
        let mut best = (f64::NAN, 0.0);
        for (&x, &w) in self.values.iter().zip(&self.weights) {
            if w > best.1 {
                best = (x, w);
            }
        }
        best.0
    }

    fn support(&self) -> (f64, f64) {
        (self.at(0), self.at(self.values.len() - 1))
    }

    fn points(&self) -> Option<(&[f64], &[f64])> {
        Some((&self.values, &self.weights))
    }

    fn ordered(&self) -> bool {
        self.ordered
    }

    fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        match self.values.split_first() {
            Some((&first, rest)) if rest.len() <= FEW => {
                vectors.discrete_values(first, rest, &self.limits, u);
            }
            _ => {
                for v in u {
                    *v = self.quantile(*v, 1.0 - *v);
                }
            }
        }
    }
}
