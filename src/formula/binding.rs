//! How strongly operators bind: one order for the parser and the printer.

use super::ast::BinaryOp;
use super::lexer::Token;

/// How strongly an operator binds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Binding(u8);

impl Binding {
    pub(super) const OR: Binding = Binding(1);
    pub(super) const NOT: Binding = Binding(3);
    pub(super) const COMPARE: Binding = Binding(4);
    pub(super) const NEGATE: Binding = Binding(7);
    pub(super) const POWER: Binding = Binding(8);
    pub(super) const VALUE: Binding = Binding(9);

    pub(super) fn tighter(self) -> Binding {
        Binding(self.0 + 1)
    }

    pub(super) fn of(op: BinaryOp) -> Binding {
        match op {
            BinaryOp::Or => Binding::OR,
            BinaryOp::And => Binding(2),
            BinaryOp::Equal
            | BinaryOp::NotEqual
            | BinaryOp::Less
            | BinaryOp::LessEqual
            | BinaryOp::Greater
            | BinaryOp::GreaterEqual => Binding::COMPARE,
            BinaryOp::Add | BinaryOp::Subtract => Binding(5),
            BinaryOp::Multiply | BinaryOp::Divide => Binding(6),
            BinaryOp::Power => Binding::POWER,
        }
    }
}

/// The operator that a token is.
pub(super) fn operator(token: &Token) -> Option<BinaryOp> {
    let text = match token {
        Token::Mark(mark) => mark,
        Token::Word(word) => word.as_str(),
        _ => return None,
    };
    Some(match text {
        "or" => BinaryOp::Or,
        "and" => BinaryOp::And,
        "==" => BinaryOp::Equal,
        "!=" => BinaryOp::NotEqual,
        "<" => BinaryOp::Less,
        "<=" => BinaryOp::LessEqual,
        ">" => BinaryOp::Greater,
        ">=" => BinaryOp::GreaterEqual,
        "+" => BinaryOp::Add,
        "-" => BinaryOp::Subtract,
        "*" => BinaryOp::Multiply,
        "/" => BinaryOp::Divide,
        "^" => BinaryOp::Power,
        _ => return None,
    })
}
