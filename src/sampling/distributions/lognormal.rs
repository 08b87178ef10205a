//! Lognormal: positive quantities whose errors multiply.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::{Caution, Law};
use super::normal::Z90;
use super::parameters::{ParameterError, Parameters};
use crate::sampling::maths::{self, Vectors, kernels};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "lognormal",
    summary: "positive and skewed to the right: prices, consumption, costs whose errors multiply",
    forms: &[
        Form { keys: &["mean", "sd"], optional: &[], words: "mean and standard deviation of the values" },
        Form {
            keys: &["median", "gsd"],
            optional: &[],
            words: "median and geometric standard deviation (above 1)",
        },
        Form {
            keys: &["p10", "p90"],
            optional: &[],
            words: "values with 10 % of chance below and 10 % above",
        },
        Form {
            keys: &["mu", "sigma"],
            optional: &[],
            words: "mean and standard deviation of the natural logarithm",
        },
    ],
    percentiles: false,
    example: "lognormal = { mean = 36, sd = 12 }",
    source: "ln x is normal; sigma^2 = ln(1 + (sd/mean)^2), mu = ln mean - sigma^2/2",
    build,
};

#[derive(Debug)]
struct Lognormal {
    mu: f64,
    sigma: f64,
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let (mu, sigma) = if p.has("mean") {
        let (mean, sd) = (p.positive("mean")?, p.positive("sd")?);
        let variance = libm::log1p((sd / mean) * (sd / mean));
        (maths::ln(mean) - 0.5 * variance, variance.sqrt())
    } else if p.has("median") {
        let gsd = p.number("gsd")?;
        if !(gsd > 1.0) {
            let hint = "the geometric standard deviation is a factor and must be above 1, such as 1.4";
            return Err(ParameterError::new(&["gsd"], format!("`gsd` is {gsd}"), hint));
        }
        (maths::ln(p.positive("median")?), maths::ln(gsd))
    } else if p.has("p10") {
        let (low, high) = (p.positive("p10")?, p.positive("p90")?);
        p.rising(&["p10", "p90"])?;
        let (low, high) = (maths::ln(low), maths::ln(high));
        (low + 0.5 * (high - low), (high - low) / (2.0 * Z90))
    } else {
        (p.number("mu")?, p.positive("sigma")?)
    };
    if !(sigma > 0.0 && sigma <= 20.0 && mu.abs() <= 300.0) {
        let message = format!("the logarithm has mean {mu} and standard deviation {sigma}");
        return Err(ParameterError::new(&[], message, "keep its standard deviation above 0 and at most 20"));
    }
    Ok(Arc::new(Lognormal { mu, sigma }))
}

#[inline(always)]
fn raise(mu: f64, sigma: f64, z: &mut [f64]) {
    for v in z {
        *v = maths::exp(mu + sigma * *v);
    }
}

kernels! {
    /// Lognormal values from normal scores.
    fn lognormal_values(mu: f64, sigma: f64, z: &mut [f64]) = raise;
}

impl Law for Lognormal {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        self.at_score(maths::normal_quantile(lower, upper))
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        if !(x > 0.0) {
            return (0.0, 1.0);
        }
        let z = (maths::ln(x) - self.mu) / self.sigma;
        (maths::normal_cdf(z), maths::normal_cdf(-z))
    }

    fn mean(&self) -> f64 {
        maths::exp(self.mu + 0.5 * self.sigma * self.sigma)
    }

    fn sd(&self) -> f64 {
        self.mean() * libm::expm1(self.sigma * self.sigma).sqrt()
    }

    fn mode(&self) -> f64 {
        maths::exp(self.mu - self.sigma * self.sigma)
    }

    fn support(&self) -> (f64, f64) {
        (0.0, f64::INFINITY)
    }

    fn by_score(&self) -> bool {
        true
    }

    fn at_score(&self, z: f64) -> f64 {
        maths::exp(self.mu + self.sigma * z)
    }

    fn fill_from_score(&self, vectors: Vectors, z: &mut [f64]) {
        vectors.lognormal_values(self.mu, self.sigma, z);
    }

    fn cautions(&self) -> Vec<Caution> {
        let (median, mean) = (maths::exp(self.mu), self.mean());
        if mean <= 1.25 * median {
            return Vec::new();
        }
        let text = format!("the mean of this lognormal is {:.3} times its median", mean / median);
        vec![Caution { id: "mean-above-median", text }]
    }
}
