//! Gamma: positive and skewed; a sum of waiting times, a rate that is not known.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::Law;
use super::parameters::{ParameterError, Parameters};
use super::special::UnitGamma;
use crate::sampling::maths;

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "gamma",
    summary: "positive and skewed to the right, with a lighter tail than a lognormal",
    forms: &[
        Form { keys: &["shape", "scale"], optional: &[], words: "shape, and scale in the quantity's unit" },
        Form { keys: &["mean", "sd"], optional: &[], words: "mean and standard deviation" },
    ],
    percentiles: false,
    example: "gamma = { mean = 120, sd = 30 }",
    source: "shape = (mean/sd)^2, scale = sd^2/mean",
    build,
};

#[derive(Debug)]
struct Gamma {
    unit: UnitGamma,
    scale: f64,
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let (shape, scale, keys) = if p.has("shape") {
        (p.positive("shape")?, p.positive("scale")?, ["shape", "scale"])
    } else {
        let (mean, sd) = (p.positive("mean")?, p.positive("sd")?);
        ((mean / sd) * (mean / sd), sd * (sd / mean), ["mean", "sd"])
    };
    let usable = (0.01..=1e6).contains(&shape) && scale > 0.0 && scale.is_finite();
    if !usable {
        let message = format!("the shape is {shape} and the scale {scale}");
        return Err(ParameterError::new(&keys, message, "the shape must lie from 0.01 to 1,000,000"));
    }
    Ok(Arc::new(Gamma { unit: UnitGamma::new(shape), scale }))
}

impl Law for Gamma {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        self.quantile_near(lower, upper, f64::NAN)
    }

    fn quantile_near(&self, lower: f64, upper: f64, near: f64) -> f64 {
        let near = near / self.scale;
        self.scale * self.unit.quantile(lower, upper, (near > 0.0).then(|| maths::ln(near)))
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        self.unit.cdf(x / self.scale)
    }

    fn mean(&self) -> f64 {
        self.unit.shape * self.scale
    }

    fn sd(&self) -> f64 {
        self.unit.shape.sqrt() * self.scale
    }

    fn mode(&self) -> f64 {
        (self.unit.shape - 1.0).max(0.0) * self.scale
    }

    fn support(&self) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }

    fn costly(&self) -> bool {
        true
    }

    fn density(&self, x: f64) -> (f64, f64) {
        let y = x / self.scale;
        let density = maths::exp(self.unit.ln_density(y)) / self.scale;
        (density, ((self.unit.shape - 1.0) / y - 1.0) / self.scale)
    }
}
