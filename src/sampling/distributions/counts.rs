//! Poisson and binomial: how often something happens.
//!
//! Their probabilities are summed from the mode outwards, each from its
//! neighbour by their exact ratio, not from exp(-mean) at zero, which would
//! underflow. Terms below 1e-18 of the mode's are dropped.

use std::sync::Arc;

use super::bernoulli::chance;
use super::catalogue::{DistributionKind, Form};
use super::discrete::Discrete;
use super::law::Law;
use super::parameters::{ParameterError, Parameters};

pub(super) static POISSON: DistributionKind = DistributionKind {
    name: "poisson",
    summary: "how often something happens that comes at a steady rate",
    forms: &[Form { keys: &["mean"], optional: &[], words: "mean number" }],
    percentiles: false,
    example: "poisson = { mean = 3.2 }",
    source: "p(k+1)/p(k) = mean/(k+1), summed from the mode",
    build: build_poisson,
};

pub(super) static BINOMIAL: DistributionKind = DistributionKind {
    name: "binomial",
    summary: "how many of a number of trials succeed",
    forms: &[Form {
        keys: &["trials", "chance"],
        optional: &[],
        words: "number of trials, and the probability that one succeeds",
    }],
    percentiles: false,
    example: "binomial = { trials = 12, chance = 0.3 }",
    source: "p(k+1)/p(k) = (n-k)/(k+1) chance/(1-chance), summed from the mode",
    build: build_binomial,
};

/// Most that a table of counts may hold: its terms reach 9 sd either side.
const MOST: f64 = 1e8;

fn build_poisson(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let mean = p.positive("mean")?;
    if mean > MOST {
        let message = format!("`mean` is {mean}");
        return Err(ParameterError::new(
            &["mean"],
            message,
            "it must be at most 100,000,000; a normal does as well",
        ));
    }
    law(mean.floor(), f64::INFINITY, |k| mean / (k + 1.0))
}

fn build_binomial(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let (trials, chance) = (p.number("trials")?, chance(p)?);
    if !(1.0..=MOST).contains(&trials) || trials.floor() != trials {
        let message = format!("`trials` is {trials}");
        return Err(ParameterError::new(&["trials"], message, "a whole number from 1 to 100,000,000"));
    }
    if chance == 0.0 || chance == 1.0 {
        return law(trials * chance, trials, |_| 0.0);
    }
    let odds = chance / (1.0 - chance);
    let mode = ((trials + 1.0) * chance).floor().min(trials);
    law(mode, trials, |k| (trials - k) / (k + 1.0) * odds)
}

/// From the mode outwards; `ratio(k)` is p(k+1)/p(k).
fn law(mode: f64, last: f64, ratio: impl Fn(f64) -> f64) -> Result<Arc<dyn Law>, ParameterError> {
    const NEGLIGIBLE: f64 = 1e-18;
    let mut points = vec![(mode, 1.0)];
    let (mut k, mut p) = (mode, 1.0);
    while k < last {
        p *= ratio(k);
        k += 1.0;
        if !(p > NEGLIGIBLE) {
            break;
        }
        points.push((k, p));
    }
    let (mut k, mut p) = (mode, 1.0);
    while k > 0.0 {
        k -= 1.0;
        let r = ratio(k);
        p = if r > 0.0 { p / r } else { 0.0 };
        if !(p > NEGLIGIBLE) {
            break;
        }
        points.push((k, p));
    }
    match Discrete::new(points.into_iter(), true) {
        Some(law) => Ok(Arc::new(law)),
        None => Err(ParameterError::new(&[], "no probability is left", "check the parameters")),
    }
}
