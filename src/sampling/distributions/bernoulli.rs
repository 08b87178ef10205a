//! Bernoulli: it happens (1) or not (0).

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::discrete::Discrete;
use super::law::Law;
use super::parameters::{ParameterError, Parameters};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "bernoulli",
    summary: "it happens (1) or not (0)",
    forms: &[Form { keys: &["chance"], optional: &[], words: "probability of 1" }],
    percentiles: false,
    example: "bernoulli = { chance = 0.35 }",
    source: "1 in the upper part of the probability, so that it rises with p",
    build,
};

/// Refuses what is no probability.
pub(super) fn chance(p: &Parameters<'_>) -> Result<f64, ParameterError> {
    let chance = p.number("chance")?;
    if (0.0..=1.0).contains(&chance) {
        return Ok(chance);
    }
    let message = format!("`chance` is {chance}");
    Err(ParameterError::new(&["chance"], message, "a probability lies from 0 to 1"))
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let chance = chance(p)?;
    let points = [(0.0, 1.0 - chance), (1.0, chance)];
    match Discrete::new(points.into_iter(), true) {
        Some(law) => Ok(Arc::new(law)),
        None => {
            Err(ParameterError::new(&["chance"], "no probability is left", "give a `chance` from 0 to 1"))
        }
    }
}
