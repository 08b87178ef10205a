//! Uniform: every value between two ends equally likely.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::Law;
use super::parameters::{ParameterError, Parameters};
use crate::sampling::maths::{Vectors, kernels};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "uniform",
    summary: "every value between two ends is equally likely: little is known but the ends",
    forms: &[
        Form { keys: &["min", "max"], optional: &[], words: "lowest and highest value" },
        Form {
            keys: &["p10", "p90"],
            optional: &[],
            words: "values with 10 % of chance below and 10 % above",
        },
    ],
    percentiles: false,
    example: "uniform = { min = 0.02, max = 0.06 }",
    source: "Q(p) = min + p (max - min)",
    build,
};

#[derive(Debug)]
struct Uniform {
    min: f64,
    max: f64,
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    if p.has("p10") {
        p.rising(&["p10", "p90"])?;
        let (low, high) = (p.number("p10")?, p.number("p90")?);
        // The eight tenths between them, and a tenth more on either side.
        let tenth = (high - low) / 8.0;
        return Ok(Arc::new(Uniform { min: low - tenth, max: high + tenth }));
    }
    p.rising(&["min", "max"])?;
    Ok(Arc::new(Uniform { min: p.number("min")?, max: p.number("max")? }))
}

#[inline(always)]
fn quantile(min: f64, max: f64, lower: f64, upper: f64) -> f64 {
    // From the nearer end, so that neither end is passed.
    let width = max - min;
    if lower <= 0.5 { min + lower * width } else { max - upper * width }
}

#[inline(always)]
fn fill(min: f64, max: f64, u: &mut [f64]) {
    for v in u {
        *v = quantile(min, max, *v, 1.0 - *v);
    }
}

kernels! {
    /// Uniform values from uniforms.
    fn uniform_values(min: f64, max: f64, u: &mut [f64]) = fill;
}

impl Law for Uniform {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        quantile(self.min, self.max, lower, upper)
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        let width = self.max - self.min;
        (((x - self.min) / width).clamp(0.0, 1.0), ((self.max - x) / width).clamp(0.0, 1.0))
    }

    fn mean(&self) -> f64 {
        self.min + 0.5 * (self.max - self.min)
    }

    fn sd(&self) -> f64 {
        (self.max - self.min) / 12.0_f64.sqrt()
    }

    fn mode(&self) -> f64 {
        self.mean()
    }

    fn support(&self) -> (f64, f64) {
        (self.min, self.max)
    }

    fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        vectors.uniform_values(self.min, self.max, u);
    }
}
