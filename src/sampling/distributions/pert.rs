//! Pert: a lowest, a most likely and a highest value, rounded.

use std::sync::Arc;

use super::beta::Scaled;
use super::catalogue::{DistributionKind, Form};
use super::law::Law;
use super::parameters::{ParameterError, Parameters};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "pert",
    summary: "a lowest, a most likely and a highest value, rounded; `weight` says how strongly it \
              gathers about the mode (4 if not given)",
    forms: &[Form {
        keys: &["min", "mode", "max"],
        optional: &["weight"],
        words: "lowest, most likely and highest value",
    }],
    percentiles: false,
    example: "pert = { min = 22, mode = 38, max = 65 }",
    source: "Malcolm, Roseboom, Clark, Fazar 1959; a scaled beta, whose sd is not (max - min)/6",
    build,
};

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    p.rising(&["min", "max"])?;
    let (min, mode, max) = (p.number("min")?, p.number("mode")?, p.number("max")?);
    if !(min <= mode && mode <= max) {
        let (end, at) = if mode > max { ("max", max) } else { ("min", min) };
        let side = if end == "max" { "above" } else { "below" };
        let message = format!("`mode` is {mode}, {side} `{end}`, which is {at}");
        let hint = "the most likely value must lie from `min` to `max`";
        return Err(ParameterError::new(&["mode", end], message, hint));
    }
    let weight = p.number_or("weight", 4.0)?;
    if !(weight > 0.0 && weight <= 1e5) {
        let message = format!("`weight` is {weight}");
        return Err(ParameterError::new(
            &["weight"],
            message,
            "it must be above 0 and at most 100,000; 4 is usual",
        ));
    }
    let alpha = 1.0 + weight * (mode - min) / (max - min);
    let beta = 1.0 + weight * (max - mode) / (max - min);
    Scaled::law(alpha, beta, min, max, &["min", "mode", "max"])
}
