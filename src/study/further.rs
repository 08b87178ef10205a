//! What a study says in the sections that ask more of the runs, every value with its place in the file.

use crate::diagnostic::{Span, Spanned};

/// `[comparison]`: what courses are compared by, and what the study itself is among them.
#[derive(Debug, Clone)]
pub struct ComparisonDef {
    /// The result; the headline if not given.
    pub result: Option<Spanned<String>>,
    /// What the study's own course is called.
    pub label: Option<Spanned<String>>,
    /// Which course is doing nothing.
    pub nothing: Option<Nothing>,
    /// Inputs along which it is asked where the better course changes.
    pub along: Vec<Spanned<String>>,
    /// Of the whole table.
    pub span: Span,
}

/// Which course is doing nothing.
#[derive(Debug, Clone)]
pub enum Nothing {
    /// The result is this much when nothing is done, in its unit.
    Number(Spanned<f64>),
    /// The alternative of this name, or `study`: the study itself.
    Name(Spanned<String>),
}

/// `[indices]`: global indices.
#[derive(Debug, Clone)]
pub struct IndicesDef {
    /// The result; the headline if not given.
    pub result: Option<Spanned<String>>,
    /// Rows of the design.
    pub base_points: Option<Spanned<u64>>,
    /// Whether Shapley effects are made as well.
    pub shapley: Option<Spanned<bool>>,
}

/// `[[measurements]]`: observations of an input that could be made.
#[derive(Debug, Clone)]
pub struct MeasurementDef {
    /// The input.
    pub of: Spanned<String>,
    /// How many independent observations.
    pub observations: Spanned<u64>,
    /// Standard deviation of each, in the unit of the input.
    pub sd: Spanned<f64>,
    /// What they cost.
    pub cost: Option<Spanned<f64>>,
    /// Plain name.
    pub label: Option<Spanned<String>>,
}

/// `[conditions]`: under which conditions a result fails.
#[derive(Debug, Clone)]
pub struct ConditionsDef {
    /// The result; the headline if not given.
    pub result: Option<Spanned<String>>,
    /// Of the whole table.
    pub span: Span,
}

/// `[claim]`: what the seller promises, by names of results, workings or inputs.
#[derive(Debug, Clone)]
pub struct ClaimDef {
    /// Name and promised value, in the unit of what is named.
    pub promises: Vec<(Spanned<String>, Spanned<f64>)>,
}

/// `[[groups]]`: a result by groups of runs.
#[derive(Debug, Clone)]
pub struct GroupsDef {
    /// The result; the headline if not given.
    pub result: Option<Spanned<String>>,
    /// The input or path by whose values or thirds the runs are grouped.
    pub by: Spanned<String>,
}
