//! What is wrong with what was said about place, roofs or climate.

use std::fmt;

/// A setting that cannot be, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SunError {
    /// One sentence without a full stop: what is wrong, with the values.
    pub message: String,
    /// What would be right.
    pub hint: String,
}

impl SunError {
    pub(super) fn new(message: impl Into<String>, hint: impl Into<String>) -> SunError {
        SunError { message: message.into(), hint: hint.into() }
    }
}

impl fmt::Display for SunError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.message, self.hint)
    }
}

impl std::error::Error for SunError {}

/// An error unless `value` lies between `low` and `high`.
pub(super) fn within(what: &str, value: f64, low: f64, high: f64) -> Result<(), SunError> {
    if value >= low && value <= high {
        return Ok(());
    }
    Err(SunError::new(format!("{what} is {value}"), format!("it must lie from {low} to {high}")))
}
