//! Normal: errors of measurement, rates of growth, sums of many small things.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::{Caution, Law};
use super::parameters::{ParameterError, Parameters};
use crate::sampling::maths::{self, Vectors, kernels};

/// Standard normal quantile of 0.9.
pub(super) const Z90: f64 = 1.281_551_565_544_600_4;

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "normal",
    summary: "a bell: sums of many small things, rates of growth; has no lowest value",
    forms: &[
        Form { keys: &["mean", "sd"], optional: &[], words: "mean and standard deviation" },
        Form {
            keys: &["p10", "p90"],
            optional: &[],
            words: "values with 10 % of chance below and 10 % above",
        },
    ],
    percentiles: false,
    example: "normal = { mean = 0.01, sd = 0.015 }",
    source: "normal quantile: Wichura 1988, algorithm AS 241",
    build,
};

#[derive(Debug)]
struct Normal {
    mean: f64,
    sd: f64,
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    if p.has("p10") {
        p.rising(&["p10", "p90"])?;
        let (low, high) = (p.number("p10")?, p.number("p90")?);
        return Ok(Arc::new(Normal { mean: low + 0.5 * (high - low), sd: (high - low) / (2.0 * Z90) }));
    }
    Ok(Arc::new(Normal { mean: p.number("mean")?, sd: p.positive("sd")? }))
}

/// Mean 0, standard deviation 1.
pub(super) fn standard() -> Arc<dyn Law> {
    Arc::new(Normal { mean: 0.0, sd: 1.0 })
}

#[inline(always)]
fn scale(mean: f64, sd: f64, z: &mut [f64]) {
    for v in z {
        *v = mean + sd * *v;
    }
}

kernels! {
    /// Normal values from normal scores.
    fn normal_values(mean: f64, sd: f64, z: &mut [f64]) = scale;
}

impl Law for Normal {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        self.at_score(maths::normal_quantile(lower, upper))
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        let z = (x - self.mean) / self.sd;
        (maths::normal_cdf(z), maths::normal_cdf(-z))
    }

    fn mean(&self) -> f64 {
        self.mean
    }

    fn sd(&self) -> f64 {
        self.sd
    }

    fn mode(&self) -> f64 {
        self.mean
    }

    fn support(&self) -> (f64, f64) {
        (f64::NEG_INFINITY, f64::INFINITY)
    }

    fn by_score(&self) -> bool {
        true
    }

    fn at_score(&self, z: f64) -> f64 {
        self.mean + self.sd * z
    }

    fn fill_from_score(&self, vectors: Vectors, z: &mut [f64]) {
        vectors.normal_values(self.mean, self.sd, z);
    }

    fn cautions(&self) -> Vec<Caution> {
        let (below_zero, _) = self.cdf(0.0);
        if self.mean <= 0.0 || below_zero <= 0.001 {
            return Vec::new();
        }
        let text = format!(
            "{:.1} % of this normal lies below 0: if the quantity cannot be negative, truncate it or use lognormal",
            100.0 * below_zero
        );
        vec![Caution { id: "below-zero", text }]
    }
}
