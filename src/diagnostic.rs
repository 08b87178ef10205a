//! What a user can get wrong, told with its place and with what would be right.
//!
//! One type for all stages. A stage collects diagnostics and goes on, so that
//! everything wrong with a study is said in one go.

pub mod suggestion;

use std::ops::Range;

/// Bytes of the study text.
pub type Span = Range<usize>;

/// A value with its place in the file.
#[derive(Debug, Clone, PartialEq)]
pub struct Spanned<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub span: Span,
}

impl<T> Spanned<T> {
    /// `value` at `span`.
    pub fn new(value: T, span: Span) -> Self {
        Spanned { value, span }
    }
}

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Nothing can be answered before this is mended.
    Error,
    /// The study runs; the reader should look again.
    Caution,
}

/// A place in the study with a few words on what is there.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// Where.
    pub span: Span,
    /// What is there; may be empty.
    pub label: String,
}

/// One thing that is wrong or doubtful.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnostic {
    /// Stable id, in words joined by hyphens, such as `unit-mismatch`.
    pub id: &'static str,
    /// Error or caution.
    pub severity: Severity,
    /// One sentence without a full stop: what is wrong.
    pub message: String,
    /// Where; none when it concerns the file as a whole.
    pub place: Option<Place>,
    /// Other places that explain it.
    pub others: Vec<Place>,
    /// What would be right.
    pub hints: Vec<String>,
}

impl Diagnostic {
    /// An error.
    pub fn error(id: &'static str, message: impl Into<String>) -> Self {
        Self::new(id, Severity::Error, message.into())
    }

    /// A caution.
    pub fn caution(id: &'static str, message: impl Into<String>) -> Self {
        Self::new(id, Severity::Caution, message.into())
    }

    fn new(id: &'static str, severity: Severity, message: String) -> Self {
        Diagnostic { id, severity, message, place: None, others: Vec::new(), hints: Vec::new() }
    }

    /// The main place.
    #[must_use]
    pub fn at(mut self, span: Span, label: impl Into<String>) -> Self {
        self.place = Some(Place { span, label: label.into() });
        self
    }

    /// A further place that explains it.
    #[must_use]
    pub fn also(mut self, span: Span, label: impl Into<String>) -> Self {
        self.others.push(Place { span, label: label.into() });
        self
    }

    /// What would be right.
    #[must_use]
    pub fn hint(mut self, text: impl Into<String>) -> Self {
        self.hints.push(text.into());
        self
    }
}

/// Whether any of them stops the study.
pub fn has_errors(diagnostics: &[Diagnostic]) -> bool {
    diagnostics.iter().any(|d| d.severity == Severity::Error)
}
