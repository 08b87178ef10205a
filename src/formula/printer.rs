//! Writes a tree as text with the fewest parentheses, such that parsing the text gives the tree again.

use std::fmt::{self, Write};

use super::ast::{BinaryOp, Expr, Node, UnaryOp};
use super::binding::Binding;

/// The text of a tree.
pub fn print(expr: &Expr) -> String {
    expr.to_string()
}

/// The sign of an operator.
pub fn sign(op: BinaryOp) -> &'static str {
    match op {
        BinaryOp::Or => "or",
        BinaryOp::And => "and",
        BinaryOp::Equal => "==",
        BinaryOp::NotEqual => "!=",
        BinaryOp::Less => "<",
        BinaryOp::LessEqual => "<=",
        BinaryOp::Greater => ">",
        BinaryOp::GreaterEqual => ">=",
        BinaryOp::Add => "+",
        BinaryOp::Subtract => "-",
        BinaryOp::Multiply => "*",
        BinaryOp::Divide => "/",
        BinaryOp::Power => "^",
    }
}

fn binding(expr: &Expr) -> Binding {
    match &expr.node {
        Node::Binary(op, ..) => Binding::of(*op),
        Node::Unary(UnaryOp::Negate, _) => Binding::NEGATE,
        Node::Unary(UnaryOp::Not, _) => Binding::NOT,
        // Only the parser's own trees are free of them; a hand-made tree still prints as something readable.
        Node::Number { value, .. } if value.is_sign_negative() => Binding::NEGATE,
        _ => Binding::VALUE,
    }
}

fn number(f: &mut fmt::Formatter<'_>, value: f64) -> fmt::Result {
    let size = value.abs();
    if size == 0.0 || (1e-5..1e16).contains(&size) { write!(f, "{value}") } else { write!(f, "{value:e}") }
}

fn operand(f: &mut fmt::Formatter<'_>, expr: &Expr, bare: bool) -> fmt::Result {
    if bare { write!(f, "{expr}") } else { write!(f, "({expr})") }
}

impl fmt::Display for Expr {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.node {
            Node::Number { value, unit } => {
                number(f, *value)?;
                unit.as_ref().map_or(Ok(()), |(text, _)| write!(f, " [{text}]"))
            }
            Node::Label(text) => {
                let quote = if text.contains('"') { '\'' } else { '"' };
                write!(f, "{quote}{text}{quote}")
            }
            Node::YesNo(yes) => f.write_str(if *yes { "yes" } else { "no" }),
            Node::Name(name) => f.write_str(name),
            Node::Unary(UnaryOp::Negate, inner) => {
                f.write_char('-')?;
                operand(f, inner, binding(inner) >= Binding::NEGATE)
            }
            Node::Unary(UnaryOp::Not, inner) => {
                f.write_str("not ")?;
                operand(f, inner, binding(inner) >= Binding::NOT)
            }
            Node::Binary(op, left, right) => binary(f, *op, left, right),
            Node::Call { function, args, .. } => {
                write!(f, "{function}(")?;
                for (i, arg) in args.iter().enumerate() {
                    write!(f, "{}{arg}", if i > 0 { ", " } else { "" })?;
                }
                f.write_char(')')
            }
        }
    }
}

fn binary(f: &mut fmt::Formatter<'_>, op: BinaryOp, left: &Expr, right: &Expr) -> fmt::Result {
    let own = Binding::of(op);
    if op == BinaryOp::Power {
        // Joins to the right, and takes a sign in its exponent: 2^-x.
        operand(f, left, binding(left) > own)?;
        f.write_char('^')?;
        return operand(f, right, binding(right) >= Binding::NEGATE);
    }
    let left_bare = if own == Binding::COMPARE { binding(left) > own } else { binding(left) >= own };
    operand(f, left, left_bare)?;
    write!(f, " {} ", sign(op))?;
    operand(f, right, binding(right) > own)
}
