//! Exponential: waiting time for something that comes at a steady rate.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::{Law, minus_ln_upper};
use super::parameters::{ParameterError, Parameters};
use crate::sampling::maths::{self, Vectors, kernels};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "exponential",
    summary: "waiting time for something that comes at a steady rate, whatever the age",
    forms: &[
        Form { keys: &["mean"], optional: &[], words: "mean waiting time" },
        Form { keys: &["median"], optional: &[], words: "time by which half have come" },
        Form { keys: &["rate"], optional: &[], words: "how often it comes per unit of time" },
    ],
    percentiles: false,
    example: "exponential = { mean = 8 }",
    source: "Q(p) = -mean ln(1 - p)",
    build,
};

#[derive(Debug)]
struct Exponential {
    mean: f64,
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let mean = match () {
        () if p.has("mean") => p.positive("mean")?,
        () if p.has("median") => p.positive("median")? / core::f64::consts::LN_2,
        () => 1.0 / p.positive("rate")?,
    };
    Ok(Arc::new(Exponential { mean }))
}

#[inline(always)]
fn fill(mean: f64, u: &mut [f64]) {
    for v in u {
        *v = mean * minus_ln_upper(*v, 1.0 - *v);
    }
}

kernels! {
    /// Exponential values from uniforms.
    fn exponential_values(mean: f64, u: &mut [f64]) = fill;
}

impl Law for Exponential {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        self.mean * minus_ln_upper(lower, upper)
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        if !(x > 0.0) {
            return (0.0, 1.0);
        }
        (-libm::expm1(-x / self.mean), maths::exp(-x / self.mean))
    }

    fn mean(&self) -> f64 {
        self.mean
    }

    fn sd(&self) -> f64 {
        self.mean
    }

    fn mode(&self) -> f64 {
        0.0
    }

    fn support(&self) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }

    fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        vectors.exponential_values(self.mean, u);
    }
}
