//! A figure and how far it is known: what every answer is made of.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};

/// A number, or never.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Figure {
    /// A finite number.
    Number(f64),
    /// Not within the horizon: greater than every number.
    Never,
    /// No number exists (a single rate of return that is not single, a failed run).
    None,
}

impl Figure {
    /// From the engine's value: +infinity is never, NaN is none.
    pub fn of(value: f64) -> Self {
        if value.is_nan() {
            Figure::None
        } else if value == f64::INFINITY {
            Figure::Never
        } else {
            Figure::Number(value)
        }
    }

    /// The number, if it is one.
    pub fn number(self) -> Option<f64> {
        match self {
            Figure::Number(x) => Some(x),
            _ => None,
        }
    }
}

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        match self {
            Figure::Number(x) => s.serialize_f64(*x),
            Figure::Never => s.serialize_str("never"),
            Figure::None => s.serialize_none(),
        }
    }
}

impl JsonSchema for Figure {
    fn schema_name() -> Cow<'static, str> {
        "Figure".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A number; \"never\": not within the horizon, greater than every number; null: no number exists.",
            "oneOf": [{ "type": "number" }, { "const": "never" }, { "type": "null" }]
        })
    }
}

/// How a 95 % interval was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Interval {
    /// Student's t over the estimates of independent replicates, about the estimate of all runs.
    #[serde(rename = "replicates")]
    Replicates,
    /// Student's t with the standard error of independent runs.
    #[serde(rename = "standard error")]
    StandardError,
    /// Order statistics: whatever the distribution; conservative under a stratified method.
    #[serde(rename = "order statistics")]
    OrderStatistics,
    /// Wilson's score interval; conservative under a stratified method.
    #[serde(rename = "Wilson")]
    Wilson,
    /// Percentiles of figures made from rows drawn with replacement.
    #[serde(rename = "bootstrap")]
    Bootstrap,
    /// There is no interval.
    #[serde(rename = "none")]
    None,
}

impl Interval {
    /// Its name, as in the JSON.
    pub fn name(self) -> &'static str {
        match self {
            Interval::Replicates => "replicates",
            Interval::StandardError => "standard error",
            Interval::OrderStatistics => "order statistics",
            Interval::Wilson => "Wilson",
            Interval::Bootstrap => "bootstrap",
            Interval::None => "none",
        }
    }
}

/// An estimate with its 95 % interval. `None` at an end: no limit from so few runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Estimate {
    /// The estimate.
    pub value: Figure,
    /// Lower end.
    pub low: Option<Figure>,
    /// Upper end.
    pub high: Option<Figure>,
    /// How the interval was made.
    pub interval: Interval,
}

impl Estimate {
    /// A figure without an interval.
    pub fn alone(value: Figure) -> Self {
        Estimate { value, low: None, high: None, interval: Interval::None }
    }
}

/// A share of runs with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Share {
    /// Between 0 and 1.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// How the interval was made.
    pub interval: Interval,
}

impl Share {
    /// A share of which nothing is known.
    pub fn unknown() -> Self {
        Share { value: f64::NAN, low: 0.0, high: 1.0, interval: Interval::None }
    }

    /// Share of the runs that this one leaves out.
    pub fn rest(self) -> Self {
        Share { value: 1.0 - self.value, low: 1.0 - self.high, high: 1.0 - self.low, ..self }
    }
}

/// A percentile: `p` of the runs lie below `estimate`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Percentile {
    /// Between 0 and 1.
    pub p: f64,
    /// Its value.
    pub estimate: Estimate,
}
