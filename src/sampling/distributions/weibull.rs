//! Weibull: the life of equipment.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::{Caution, Law, bisect, minus_ln_upper};
use super::parameters::{ParameterError, Parameters};
use crate::sampling::maths::{self, Vectors, kernels};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "weibull",
    summary: "the life of equipment; `scale` is the age by which 63.2 % have failed, not the mean life",
    forms: &[
        Form {
            keys: &["shape", "scale"],
            optional: &[],
            words: "shape (above 1: it wears out) and the age by which 63.2 % have failed",
        },
        Form { keys: &["mean", "sd"], optional: &[], words: "mean life and its standard deviation" },
        Form { keys: &["mean", "shape"], optional: &[], words: "mean life and shape" },
        Form { keys: &["p10", "p90"], optional: &[], words: "ages by which 10 % and 90 % have failed" },
    ],
    percentiles: false,
    example: "weibull = { shape = 3.2, scale = 14 }",
    source: "Weibull 1951, A statistical distribution function of wide applicability",
    build,
};

#[derive(Debug)]
struct Weibull {
    shape: f64,
    scale: f64,
    ln_scale: f64,
}

/// Shapes beyond these are no life that anyone has seen, and overflow.
const SHAPES: (f64, f64) = (0.05, 1_000.0);

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let (shape, scale, keys): (f64, f64, [&str; 2]) = if p.has("scale") {
        (p.positive("shape")?, p.positive("scale")?, ["shape", "scale"])
    } else if p.has("p10") {
        let (low, high) = (p.positive("p10")?, p.positive("p90")?);
        p.rising(&["p10", "p90"])?;
        let (at_low, at_high) = (minus_ln_upper(0.1, 0.9), minus_ln_upper(0.9, 0.1));
        let shape = maths::ln(at_high / at_low) / maths::ln(high / low);
        (shape, low / libm::pow(at_low, 1.0 / shape), ["p10", "p90"])
    } else if p.has("sd") {
        let (mean, sd) = (p.positive("mean")?, p.positive("sd")?);
        let shape = shape_of(sd / mean);
        (shape, mean / gamma_of(1.0, shape), ["mean", "sd"])
    } else {
        let (mean, shape) = (p.positive("mean")?, p.positive("shape")?);
        (shape, mean / gamma_of(1.0, shape.max(SHAPES.0)), ["mean", "shape"])
    };
    if !(shape > SHAPES.0 && shape < SHAPES.1 && scale > 0.0 && scale.is_finite()) {
        let message = format!("the shape is {shape}");
        return Err(ParameterError::new(
            &keys,
            message,
            "a life has a shape from 0.05 to 1000, mostly 1 to 5",
        ));
    }
    Ok(Arc::new(Weibull { shape, scale, ln_scale: maths::ln(scale) }))
}

/// Gamma(1 + n/k).
fn gamma_of(n: f64, shape: f64) -> f64 {
    libm::tgamma(1.0 + n / shape)
}

/// Logarithm of the mean square over the squared mean, which falls as the shape grows.
fn ln_square_ratio(shape: f64) -> f64 {
    libm::lgamma(1.0 + 2.0 / shape) - 2.0 * libm::lgamma(1.0 + 1.0 / shape)
}

/// The shape with this coefficient of variation.
fn shape_of(variation: f64) -> f64 {
    let wanted = libm::log1p(variation * variation);
    let s = bisect(maths::ln(SHAPES.0), maths::ln(SHAPES.1), |s| wanted - ln_square_ratio(maths::exp(s)));
    maths::exp(s)
}

#[inline(always)]
fn quantile(ln_scale: f64, shape: f64, lower: f64, upper: f64) -> f64 {
    maths::exp(ln_scale + maths::ln(minus_ln_upper(lower, upper)) / shape)
}

#[inline(always)]
fn fill(ln_scale: f64, shape: f64, u: &mut [f64]) {
    for v in u {
        *v = quantile(ln_scale, shape, *v, 1.0 - *v);
    }
}

kernels! {
    /// Weibull values from uniforms.
    fn weibull_values(ln_scale: f64, shape: f64, u: &mut [f64]) = fill;
}

impl Law for Weibull {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        quantile(self.ln_scale, self.shape, lower, upper)
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        if !(x > 0.0) {
            return (0.0, 1.0);
        }
        let hazard = libm::pow(x / self.scale, self.shape);
        (-libm::expm1(-hazard), maths::exp(-hazard))
    }

    fn mean(&self) -> f64 {
        self.scale * gamma_of(1.0, self.shape)
    }

    fn sd(&self) -> f64 {
        self.mean() * libm::expm1(ln_square_ratio(self.shape)).max(0.0).sqrt()
    }

    fn mode(&self) -> f64 {
        if self.shape <= 1.0 {
            return 0.0;
        }
        self.scale * libm::pow(1.0 - 1.0 / self.shape, 1.0 / self.shape)
    }

    fn support(&self) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }

    fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        vectors.weibull_values(self.ln_scale, self.shape, u);
    }

    fn cautions(&self) -> Vec<Caution> {
        if self.shape >= 1.0 {
            return Vec::new();
        }
        let text = format!("a shape of {:.3}, below 1, means that most failures come early", self.shape);
        vec![Caution { id: "infant-mortality", text }]
    }
}
