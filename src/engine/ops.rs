//! What one node does to its operands. These scalar forms define the meaning;
//! the column kernels inline them, constant folding and the tests call them.
//!
//! Yes is 1, no is 0. A comparison with NaN is no; `min` and `max` pass NaN on.

use crate::sampling::maths;

/// One operand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unary {
    /// -x
    Negate,
    /// 1 where x is 0, else 0.
    Not,
    /// |x|
    Abs,
    /// Square root.
    Sqrt,
    /// e^x
    Exp,
    /// Natural logarithm.
    Ln,
    /// Largest whole number not above x.
    Floor,
    /// Nearest whole number, halves away from 0.
    Round,
    /// 1 where x is +infinity (never), else 0.
    IsNever,
}

/// Two operands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Binary {
    /// a + b
    Add,
    /// a - b
    Subtract,
    /// a * b
    Multiply,
    /// a / b
    Divide,
    /// a ^ b; a whole b from 2 to 16 makes a product from the left.
    Power,
    /// Smaller one; NaN if either is.
    Min,
    /// Larger one; NaN if either is.
    Max,
    /// a == b
    Equal,
    /// a != b (no where either is NaN)
    NotEqual,
    /// a < b
    Less,
    /// a <= b
    LessEqual,
    /// Both are not 0.
    And,
    /// At least one is not 0.
    Or,
}

impl Unary {
    /// The operation on one value.
    #[inline(always)]
    pub fn apply(self, x: f64) -> f64 {
        match self {
            Unary::Negate => -x,
            Unary::Not => yes_no(x == 0.0),
            Unary::Abs => x.abs(),
            Unary::Sqrt => x.sqrt(),
            Unary::Exp => maths::exp(x),
            Unary::Ln => maths::ln(x),
            Unary::Floor => x.floor(),
            Unary::Round => x.round(),
            Unary::IsNever => yes_no(x == f64::INFINITY),
        }
    }
}

impl Binary {
    /// The operation on two values.
    #[inline(always)]
    pub fn apply(self, a: f64, b: f64) -> f64 {
        match self {
            Binary::Add => a + b,
            Binary::Subtract => a - b,
            Binary::Multiply => a * b,
            Binary::Divide => a / b,
            Binary::Power => power(a, b),
            Binary::Min => min(a, b),
            Binary::Max => max(a, b),
            Binary::Equal => yes_no(a == b),
            #[expect(
                clippy::double_comparisons,
                reason = "`a != b` holds for what is no number; this must not"
            )]
            Binary::NotEqual => yes_no(a < b || a > b),
            Binary::Less => yes_no(a < b),
            Binary::LessEqual => yes_no(a <= b),
            Binary::And => yes_no(a != 0.0 && b != 0.0),
            Binary::Or => yes_no(a != 0.0 || b != 0.0),
        }
    }

    /// Whether the operands may change places.
    pub fn commutes(self) -> bool {
        use Binary::{Add, And, Equal, Multiply, NotEqual, Or};
        matches!(self, Add | Multiply | Equal | NotEqual | And | Or)
    }
}

/// 1 or 0.
#[inline(always)]
pub fn yes_no(yes: bool) -> f64 {
    if yes { 1.0 } else { 0.0 }
}

/// Smaller of two; NaN if either is.
#[inline(always)]
pub fn min(a: f64, b: f64) -> f64 {
    let smaller = if a < b { a } else { b };
    if a.is_nan() { a } else { smaller }
}

/// Larger of two; NaN if either is.
#[inline(always)]
pub fn max(a: f64, b: f64) -> f64 {
    let larger = if a > b { a } else { b };
    if a.is_nan() { a } else { larger }
}

/// a ^ b. Whole powers from 2 to 16 are defined as products from the left, whether the exponent is known before the
/// runs or drawn: exact for squares, and so that moving a known input changes no bit of where it stood.
#[inline(always)]
pub fn power(a: f64, b: f64) -> f64 {
    if (2.0..=16.0).contains(&b) && b == b.floor() {
        return (1..b as usize).fold(a, |product, _| product * a);
    }
    libm::pow(a, b)
}

/// `then` where `condition` is not 0, else `otherwise`.
#[inline(always)]
pub fn select(condition: f64, then: f64, otherwise: f64) -> f64 {
    if condition != 0.0 { then } else { otherwise }
}
