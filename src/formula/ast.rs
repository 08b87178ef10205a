//! The tree of a formula as written.

use crate::diagnostic::Span;

/// A node with its place. Spans are bytes of the *study file*: the lexer adds
/// the offset at which the formula's text begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Expr {
    /// What it is.
    pub node: Node,
    /// Where it stands.
    pub span: Span,
}

/// What a node is.
#[derive(Debug, Clone, PartialEq)]
pub enum Node {
    /// A number, perhaps with a unit in square brackets (text and place of what is between them).
    Number {
        /// As written.
        value: f64,
        /// Text between the brackets.
        unit: Option<(String, Span)>,
    },
    /// A label in double or single quotes.
    Label(String),
    /// `yes` or `no`.
    YesNo(bool),
    /// A name.
    Name(String),
    /// One operand.
    Unary(UnaryOp, Box<Expr>),
    /// Two operands.
    Binary(BinaryOp, Box<Expr>, Box<Expr>),
    /// A function call; `if` is one.
    Call {
        /// Name of the function.
        function: String,
        /// Place of the name.
        function_span: Span,
        /// Arguments.
        args: Vec<Expr>,
    },
}

/// Operators with one operand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnaryOp {
    /// `-x`
    Negate,
    /// `not x`
    Not,
}

/// Operators with two operands, weakest binding first: `or`, `and`, (`not`), comparison (not chained),
/// `+ -`, `* /`, (unary minus), `^` (right to left).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BinaryOp {
    /// `or`
    Or,
    /// `and`
    And,
    /// `==`
    Equal,
    /// `!=`
    NotEqual,
    /// `<`
    Less,
    /// `<=`
    LessEqual,
    /// `>`
    Greater,
    /// `>=`
    GreaterEqual,
    /// `+`
    Add,
    /// `-`
    Subtract,
    /// `*`
    Multiply,
    /// `/`
    Divide,
    /// `^`
    Power,
}
