//! Triangular: a lowest, a most likely and a highest value, straight lines between.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::{Caution, Law, bisect};
use super::parameters::{ParameterError, Parameters};
use crate::sampling::maths::{Vectors, kernels};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "triangular",
    summary: "a lowest, a most likely and a highest value, straight lines between; heavy weight near the far ends",
    forms: &[
        Form { keys: &["min", "mode", "max"], optional: &[], words: "lowest, most likely and highest value" },
        Form {
            keys: &["p10", "mode", "p90"],
            optional: &[],
            words: "value with 10 % of chance below it, most likely value, value with 10 % above it",
        },
    ],
    percentiles: false,
    example: "triangular = { min = 120, mode = 200, max = 350 }",
    source: "closed form; ends from percentiles by one root",
    build,
};

#[derive(Debug)]
struct Triangular {
    min: f64,
    mode: f64,
    max: f64,
    /// Probability below the mode.
    below: f64,
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    if p.has("p10") {
        p.rising(&["p10", "mode", "p90"])?;
        let (low, mode, high) = (p.number("p10")?, p.number("mode")?, p.number("p90")?);
        return Ok(Arc::new(from_percentiles(low, mode, high)));
    }
    let (min, mode, max) = (p.number("min")?, p.number("mode")?, p.number("max")?);
    p.rising(&["min", "max"])?;
    if !(min <= mode) {
        return Err(outside("min", min, mode));
    }
    if !(mode <= max) {
        return Err(outside("max", max, mode));
    }
    Ok(Arc::new(Triangular::new(min, mode, max)))
}

fn outside(end: &str, at: f64, mode: f64) -> ParameterError {
    let side = if end == "min" { "below" } else { "above" };
    let message = format!("`mode` is {mode}, {side} `{end}`, which is {at}");
    ParameterError::new(&["mode", end], message, "the most likely value must lie from `min` to `max`")
}

/// The ends from P10, mode and P90; w, the probability below the mode, is the
/// one root of (1-w)(m-lo)/(1-s) = w(hi-m)/(1-t): the left side falls, the right rises.
fn from_percentiles(low: f64, mode: f64, high: f64) -> Triangular {
    const TAIL: f64 = 0.1;
    const LOST: f64 = 1e-6;
    let s = |w: f64| (TAIL / w).sqrt();
    let t = |w: f64| (TAIL / (1.0 - w)).sqrt();
    let f = |w: f64| w * (high - mode) * (1.0 - s(w)) - (1.0 - w) * (mode - low) * (1.0 - t(w));
    let w = bisect(TAIL, 1.0 - TAIL, f);
    // With the mode next to P10 or P90 one difference is lost; the equation gives that end from the other side.
    if 1.0 - s(w) < LOST {
        let above = (high - mode) / (1.0 - t(w));
        return Triangular::new(mode - w / (1.0 - w) * above, mode, mode + above);
    }
    if 1.0 - t(w) < LOST {
        let below = (mode - low) / (1.0 - s(w));
        return Triangular::new(mode - below, mode, mode + (1.0 - w) / w * below);
    }
    let min = (low - mode * s(w)) / (1.0 - s(w));
    let max = (high - mode * t(w)) / (1.0 - t(w));
    Triangular::new(min, mode, max)
}

impl Triangular {
    fn new(min: f64, mode: f64, max: f64) -> Triangular {
        Triangular { min, mode, max, below: (mode - min) / (max - min) }
    }
}

#[inline(always)]
fn quantile(t: &Triangular, lower: f64, upper: f64) -> f64 {
    let width = t.max - t.min;
    let left = lower <= t.below;
    let area = if left { lower * (t.mode - t.min) } else { upper * (t.max - t.mode) };
    let from_end = (area * width).sqrt();
    let x = if left { t.min + from_end } else { t.max - from_end };
    // Rounding may pass the end that is farther off.
    let x = if x < t.min { t.min } else { x };
    if x > t.max { t.max } else { x }
}

#[inline(always)]
fn fill(t: &Triangular, u: &mut [f64]) {
    for v in u {
        *v = quantile(t, *v, 1.0 - *v);
    }
}

kernels! {
    /// Triangular values from uniforms.
    fn triangular_values(t: &Triangular, u: &mut [f64]) = fill;
}

impl Law for Triangular {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        quantile(self, lower, upper)
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        let width = self.max - self.min;
        if x <= self.min {
            return (0.0, 1.0);
        }
        if x >= self.max {
            return (1.0, 0.0);
        }
        if x < self.mode {
            let below = (x - self.min) / width * ((x - self.min) / (self.mode - self.min));
            return (below, 1.0 - below);
        }
        let above = (self.max - x) / width * ((self.max - x) / (self.max - self.mode));
        (1.0 - above, above)
    }

    fn mean(&self) -> f64 {
        self.min + ((self.mode - self.min) + (self.max - self.min)) / 3.0
    }

    fn sd(&self) -> f64 {
        // From the minimum on, so that a far offset does not cancel.
        let (m, b) = (self.mode - self.min, self.max - self.min);
        ((m * m + b * b - m * b) / 18.0).sqrt()
    }

    fn mode(&self) -> f64 {
        self.mode
    }

    fn support(&self) -> (f64, f64) {
        (self.min, self.max)
    }

    fn kinks(&self) -> Vec<f64> {
        vec![self.below]
    }

    fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        vectors.triangular_values(self, u);
    }

    fn cautions(&self) -> Vec<Caution> {
        let sd = self.sd();
        let far = ((self.mode - self.min) / sd).max((self.max - self.mode) / sd);
        if far < 3.5 {
            return Vec::new();
        }
        let text = "a triangular with one end far from its mode gives that end much weight; \
                    pert gives it less";
        vec![Caution { id: "heavy-far-end", text: text.to_owned() }]
    }
}
