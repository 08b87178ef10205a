//! Beta: a share, or anything between two ends.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::law::{Caution, Law};
use super::parameters::{ParameterError, Parameters, short};
use super::special::UnitBeta;

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "beta",
    summary: "a share, or anything between two ends (0 and 1 if not given)",
    forms: &[
        Form { keys: &["mean", "sd"], optional: &["min", "max"], words: "mean and standard deviation" },
        Form { keys: &["alpha", "beta"], optional: &["min", "max"], words: "the two shapes, above 0" },
    ],
    percentiles: false,
    example: "beta = { mean = 0.3, sd = 0.1 }",
    source: "from mean m and sd s on 0..1: nu = m(1-m)/s^2 - 1, alpha = m nu, beta = (1-m) nu",
    build,
};

/// Beta between two ends; pert is one as well.
#[derive(Debug, Clone)]
pub(super) struct Scaled {
    unit: UnitBeta,
    min: f64,
    max: f64,
}

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let (min, max) = (p.number_or("min", 0.0)?, p.number_or("max", 1.0)?);
    if !(min < max) {
        let message = format!("the range is from {min} to {max}");
        return Err(ParameterError::new(&["min", "max"], message, "`min` must be below `max`"));
    }
    if p.has("alpha") {
        return Scaled::law(p.positive("alpha")?, p.positive("beta")?, min, max, &["alpha", "beta"]);
    }
    let (mean, sd) = (p.number("mean")?, p.positive("sd")?);
    if !(min < mean && mean < max) {
        let message = format!("`mean` is {mean}, outside {min} to {max}");
        return Err(ParameterError::new(&["mean"], message, "the mean must lie inside `min` and `max`"));
    }
    let (m, s) = ((mean - min) / (max - min), sd / (max - min));
    let nu = m * (1.0 - m) / (s * s) - 1.0;
    if !(nu > 0.0) {
        let most = (m * (1.0 - m)).sqrt() * (max - min);
        let message = format!("`sd` is {sd}, too wide for a mean of {mean} between {min} and {max}");
        return Err(ParameterError::new(&["sd"], message, format!("it must be below {}", short(most))));
    }
    Scaled::law(m * nu, (1.0 - m) * nu, min, max, &["mean", "sd"])
}

impl Scaled {
    /// Shapes beyond these are spikes that no table resolves.
    const SHAPES: (f64, f64) = (0.01, 1e6);

    pub(super) fn law(
        alpha: f64,
        beta: f64,
        min: f64,
        max: f64,
        keys: &[&str],
    ) -> Result<Arc<dyn Law>, ParameterError> {
        let within = |x: f64| x >= Self::SHAPES.0 && x <= Self::SHAPES.1;
        if !(within(alpha) && within(beta)) {
            let message = format!("the shapes are {alpha} and {beta}");
            return Err(ParameterError::new(keys, message, "both shapes must lie from 0.01 to 1,000,000"));
        }
        Ok(Arc::new(Scaled { unit: UnitBeta::new(alpha, beta), min, max }))
    }

    fn width(&self) -> f64 {
        self.max - self.min
    }

    fn unit_mean(&self) -> f64 {
        self.unit.a / (self.unit.a + self.unit.b)
    }
}

impl Law for Scaled {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        self.quantile_near(lower, upper, f64::NAN)
    }

    fn quantile_near(&self, lower: f64, upper: f64, near: f64) -> f64 {
        let from_end = if lower <= upper { near - self.min } else { self.max - near };
        let near = from_end / self.width();
        let guess = (near > 0.0).then(|| crate::sampling::maths::ln(near));
        let (y, rest) = self.unit.quantile(lower, upper, guess);
        if y <= 0.5 { self.min + y * self.width() } else { self.max - rest * self.width() }
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        self.unit.cdf((x - self.min) / self.width(), (self.max - x) / self.width())
    }

    fn mean(&self) -> f64 {
        self.min + self.unit_mean() * self.width()
    }

    fn sd(&self) -> f64 {
        let (a, b) = (self.unit.a, self.unit.b);
        (a * b / (a + b + 1.0)).sqrt() / (a + b) * self.width()
    }

    fn mode(&self) -> f64 {
        let (a, b) = (self.unit.a, self.unit.b);
        if a > 1.0 && b > 1.0 || a + b > 2.0 {
            return self.min + ((a - 1.0) / (a + b - 2.0)).clamp(0.0, 1.0) * self.width();
        }
        // U-shaped or flat: the end with more weight, or the middle.
        if a < b {
            self.min
        } else if b < a {
            self.max
        } else {
            self.min + 0.5 * self.width()
        }
    }

    fn support(&self) -> (f64, f64) {
        (self.min, self.max)
    }

    fn costly(&self) -> bool {
        true
    }

    fn density(&self, x: f64) -> (f64, f64) {
        let (y, rest) = ((x - self.min) / self.width(), (self.max - x) / self.width());
        let density = crate::sampling::maths::exp(self.unit.ln_density(y, rest)) / self.width();
        let slope = ((self.unit.a - 1.0) / y - (self.unit.b - 1.0) / rest) / self.width();
        (density, slope)
    }

    fn cautions(&self) -> Vec<Caution> {
        let (a, b) = (self.unit.a, self.unit.b);
        if a >= 1.0 && b >= 1.0 {
            return Vec::new();
        }
        let text = format!("with shapes {a:.3} and {b:.3} this beta piles up at its ends");
        vec![Caution { id: "piles-up-at-ends", text }]
    }
}
