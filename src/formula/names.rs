//! The names that a formula may hold.

use super::ast::{Expr, Node};
use super::types::{Shape, Type};
use crate::diagnostic::Span;
use crate::units::Dimension;

/// What a formula may refer to.
pub trait Names {
    /// Type of an input, path, working or result; dotted names (`gas_price.start`) included, clock words not.
    fn type_of(&self, name: &str) -> Option<Type>;
    /// Names to choose from when one is misspelt.
    fn suggestions(&self) -> Vec<String>;
    /// Length of the horizon.
    fn years(&self) -> usize;
    /// Whether it is an input with a distribution, of which a fresh draw can be taken.
    fn is_drawn(&self, name: &str) -> bool;
    /// Whether the study has an inflation by which money can be converted.
    fn has_inflation(&self) -> bool {
        false
    }
    /// Why an input that was written as one value (or twelve) has one for each year.
    fn why_by_year(&self, _name: &str) -> Option<&'static str> {
        None
    }
}

/// Clock words; they are never names of inputs or workings.
pub const CLOCK_WORDS: [&str; 4] = ["year", "month", "calendar_year", "days_in_month"];

/// Words that cannot be the name of anything in a study: a formula reads them otherwise or refuses them.
pub const RESERVED: [&str; 20] = [
    "and",
    "or",
    "not",
    "if",
    "yes",
    "no",
    "year",
    "month",
    "calendar_year",
    "days_in_month",
    "true",
    "false",
    "nan",
    "NaN",
    "NAN",
    "inf",
    "Inf",
    "INF",
    "infinity",
    "Infinity",
];

/// Type of a clock word: `year` counts from 0, `month` from 1, both plain like `calendar_year`;
/// `days_in_month` (31 28 31 ..., 365 together) is a time.
pub fn clock_type(word: &str) -> Option<Type> {
    match word {
        "year" | "calendar_year" => Some(Type::plain(Shape::Yearly)),
        "month" => Some(Type::plain(Shape::Monthly)),
        "days_in_month" => Some(Type::number(Dimension::TIME, Shape::Monthly)),
        _ => None,
    }
}

/// A name in a formula.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// The name.
    pub name: String,
    /// Where it stands.
    pub span: Span,
    /// Within the first argument of `previous`: it looks at last year, so it makes no cycle.
    pub last_year: bool,
}

/// All names that a formula reads, in the order of the text, clock words left out.
pub fn references(expr: &Expr) -> Vec<Reference> {
    fn walk(expr: &Expr, last_year: bool, out: &mut Vec<Reference>) {
        match &expr.node {
            Node::Name(name) if clock_type(name).is_none() => {
                out.push(Reference { name: name.clone(), span: expr.span.clone(), last_year });
            }
            Node::Unary(_, inner) => walk(inner, last_year, out),
            Node::Binary(_, left, right) => {
                walk(left, last_year, out);
                walk(right, last_year, out);
            }
            Node::Call { function, args, .. } => {
                for (i, arg) in args.iter().enumerate() {
                    walk(arg, last_year || (function == "previous" && i == 0), out);
                }
            }
            Node::Number { .. } | Node::Label(_) | Node::YesNo(_) | Node::Name(_) => {}
        }
    }
    let mut out = Vec::new();
    walk(expr, false, &mut out);
    out
}
