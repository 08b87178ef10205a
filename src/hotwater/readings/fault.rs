//! Why a file of readings cannot be used.

/// What is wrong with a file of readings, where, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct ReadingsError {
    /// What is wrong.
    pub what: String,
    /// Line of the file, from 1, where there is one.
    pub line: Option<usize>,
    /// What would be right.
    pub right: String,
}

impl ReadingsError {
    pub(super) fn new(what: impl Into<String>, right: impl Into<String>) -> Self {
        ReadingsError { what: what.into(), line: None, right: right.into() }
    }

    pub(super) fn at(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }
}

impl std::fmt::Display for ReadingsError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        write!(f, "{}; {}", self.what, self.right)
    }
}

impl std::error::Error for ReadingsError {}
