//! What a checked formula is: kind, shape, and a tree whose numbers are in base units.

use crate::diagnostic::Span;
use crate::formula::ast::{BinaryOp, UnaryOp};
use crate::formula::functions::Function;
use crate::units::Dimension;

/// Kind and shape of a value.
#[derive(Debug, Clone, PartialEq)]
pub struct Type {
    /// What sort of value.
    pub kind: Kind,
    /// How many of them.
    pub shape: Shape,
}

impl Type {
    /// A number, not a point on the temperature scale.
    pub fn number(dimension: Dimension, shape: Shape) -> Type {
        Type { kind: Kind::Number { dimension, point: false }, shape }
    }

    /// A temperature in degC.
    pub fn point(shape: Shape) -> Type {
        Type { kind: Kind::Number { dimension: Dimension::TEMPERATURE, point: true }, shape }
    }

    /// A number without dimension.
    pub fn plain(shape: Shape) -> Type {
        Type::number(Dimension::NONE, shape)
    }

    /// Yes or no.
    pub fn yes_no(shape: Shape) -> Type {
        Type { kind: Kind::YesNo, shape }
    }

    /// A number of years or never.
    pub fn years(shape: Shape) -> Type {
        Type { kind: Kind::Years, shape }
    }
}

/// What sort of value.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// A number of this dimension; `point` marks a temperature on the scale (degC) as against a difference (K).
    Number {
        /// Its dimension.
        dimension: Dimension,
        /// A point on the temperature scale.
        point: bool,
    },
    /// Yes or no.
    YesNo,
    /// One of these labels (held as the index into the list).
    Label(Vec<String>),
    /// A number of years counted from the start, or never (held as +infinity).
    Years,
}

/// How many values: single, by month (12), by year (`years`), or by year and month (year-major: index = year * 12 + month).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// One.
    Single,
    /// Twelve.
    Monthly,
    /// One for each year.
    Yearly,
    /// Twelve for each year.
    MonthlyByYearly,
}

impl Shape {
    /// In words: "single", "by month", "by year", "by month and year".
    pub fn words(self) -> &'static str {
        match self {
            Shape::Single => "single",
            Shape::Monthly => "by month",
            Shape::Yearly => "by year",
            Shape::MonthlyByYearly => "by month and year",
        }
    }

    /// Whether it has an axis of months.
    pub fn has_months(self) -> bool {
        matches!(self, Shape::Monthly | Shape::MonthlyByYearly)
    }

    /// Whether it has an axis of years.
    pub fn has_years(self) -> bool {
        matches!(self, Shape::Yearly | Shape::MonthlyByYearly)
    }

    /// Number of values.
    pub fn len(self, years: usize) -> usize {
        match self {
            Shape::Single => 1,
            Shape::Monthly => 12,
            Shape::Yearly => years,
            Shape::MonthlyByYearly => 12 * years,
        }
    }

    /// The shape that holds both.
    #[must_use]
    pub fn join(self, other: Shape) -> Shape {
        match (self, other) {
            (a, b) if a == b => a,
            (Shape::Single, x) | (x, Shape::Single) => x,
            _ => Shape::MonthlyByYearly,
        }
    }

    /// Which value of a quantity of shape `self` goes with value `index` of the shape `of` that holds it.
    pub fn lane(self, index: usize, of: Shape) -> usize {
        match (self, of) {
            (Shape::Single, _) => 0,
            (Shape::Monthly, Shape::MonthlyByYearly) => index % 12,
            (Shape::Yearly, Shape::MonthlyByYearly) => index / 12,
            _ => index,
        }
    }
}

/// A checked formula. All constants are in base units; all units are gone.
#[derive(Debug, Clone)]
pub struct Typed {
    /// What it is.
    pub node: TypedNode,
    /// Kind and shape.
    pub ty: Type,
    /// Where it stands in the study file.
    pub span: Span,
}

/// What a node is.
#[derive(Debug, Clone)]
pub enum TypedNode {
    /// A number in base units; yes/no as 1 and 0; a label as its index.
    Constant(f64),
    /// An input, path, working, result or clock word (`year`, `month`, `calendar_year`, `days_in_month`).
    Name(String),
    /// One operand.
    Unary(UnaryOp, Box<Typed>),
    /// Two operands, each of its own shape; they broadcast to the node's shape.
    Binary(BinaryOp, Box<Typed>, Box<Typed>),
    /// A function.
    Call {
        /// Its entry in the table.
        function: &'static Function,
        /// Its arguments, each of its own shape.
        args: Vec<Typed>,
    },
}
