//! Reads the text of a formula into a tree, and gathers all errors on the way.
//!
//! ```text
//! formula    = expression END
//! expression = expression OPERATOR expression | "not" expression | "-" expression | value
//! value      = NUMBER [ "[" UNIT "]" ] | LABEL | "yes" | "no" | NAME | call | "(" expression ")"
//! call       = NAME "(" [ expression { "," expression } ] ")"
//!
//! OPERATOR, weakest first:  or;  and;  (not);  == != < <= > >= (not chained);  + -;  * /;  (unary -);  ^
//! All join to the left, only ^ joins to the right: a - b - c is (a - b) - c, a^b^c is a^(b^c), -a^2 is -(a^2).
//!
//! NUMBER = digits [ "." digits ] [ ("e" | "E") [ "+" | "-" ] digits ]      digits may be parted: 16_384
//! NAME   = word { "." word }     word = a letter or _, then letters, digits and _ (ASCII)
//! LABEL  = text in double or single quotes, without escapes
//! UNIT   = see the module units
//! ```

use super::ast::{BinaryOp, Expr, Node, UnaryOp};
use super::binding::{Binding, operator};
use super::lexer::{Lexeme, Token, lex};
use crate::diagnostic::{Diagnostic, Span};

/// Longest text of a formula, in bytes.
pub const LONGEST: usize = 64 * 1024;
/// Deepest nesting of parentheses, calls, signs and powers.
pub const DEEPEST: usize = 64;
/// Deepest tree: it bounds the stack of everything that walks a tree, its `Drop` included.
pub const DEEPEST_TREE: usize = 500;
/// `and` and `or` as other languages write them.
const CAPITAL_OPERATORS: [&str; 4] = ["AND", "And", "OR", "Or"];
/// More errors than this in one formula help nobody.
const MOST_ERRORS: usize = 20;

/// Reads `text`, which begins at byte `offset` of the study. The tree is none when a part of it is missing;
/// a formula is sound when there is no diagnostic.
pub fn parse(text: &str, offset: usize) -> (Option<Expr>, Vec<Diagnostic>) {
    let mut diagnostics = Vec::new();
    let whole = offset..offset + text.len();
    if text.len() > LONGEST {
        let message = format!("the formula has {} bytes; {LONGEST} are allowed", text.len());
        let error = Diagnostic::error("formula-too-long", message).at(offset..offset, "");
        return (None, vec![error.hint("split it into several workings")]);
    }
    if text.trim().is_empty() {
        let error = Diagnostic::error("formula-syntax", "the formula is empty").at(whole, "");
        return (None, vec![error.hint("write a name, a number or a calculation")]);
    }
    let lexemes = lex(text, offset, &mut diagnostics);
    let mut parser =
        Parser { lexemes, at: 0, nesting: 0, lists: Vec::new(), missing: false, stopped: false, diagnostics };
    let tree = parser.expression(Binding::OR);
    parser.finish();
    let Parser { missing, stopped, mut diagnostics, .. } = parser;
    diagnostics.truncate(MOST_ERRORS);
    diagnostics.sort_by_key(|d| d.place.as_ref().map_or(0, |p| p.span.start));
    ((!missing && !stopped).then_some(tree.expr), diagnostics)
}

/// A tree with its depth, so that no walk is needed to bound it.
struct Grown {
    expr: Expr,
    depth: usize,
    /// In parentheses of its own.
    closed: bool,
}

/// What encloses the place where the parser stands: it decides which tokens would do.
#[derive(Clone, Copy, PartialEq)]
enum List {
    Parenthesis,
    Arguments,
}

struct Parser {
    lexemes: Vec<Lexeme>,
    at: usize,
    nesting: usize,
    lists: Vec<List>,
    /// Some part could not be read and a placeholder stands for it.
    missing: bool,
    /// Nesting went too deep: nothing more is read.
    stopped: bool,
    diagnostics: Vec<Diagnostic>,
}

impl Parser {
    fn peek(&self) -> &Token {
        self.lexemes.get(self.at).map_or(&Token::End, |l| &l.token)
    }

    fn span(&self) -> Span {
        self.lexemes.get(self.at).or(self.lexemes.last()).map_or(0..0, |l| l.span.clone())
    }

    fn next(&mut self) -> (Token, Span) {
        let out = (self.peek().clone(), self.span());
        if self.at + 1 < self.lexemes.len() {
            self.at += 1;
        }
        out
    }

    fn is(&self, mark: &str) -> bool {
        matches!(self.peek(), Token::Mark(m) if *m == mark)
    }

    fn error(&mut self, id: &'static str, message: String, span: Span, hint: &str) {
        if self.stopped {
            return;
        }
        let error = Diagnostic::error(id, message).at(span, "");
        self.diagnostics.push(if hint.is_empty() { error } else { error.hint(hint) });
        if self.diagnostics.len() >= MOST_ERRORS {
            self.stopped = true;
            self.at = self.lexemes.len().saturating_sub(1);
        }
    }

    fn placeholder(&mut self, span: Span) -> Grown {
        self.missing = true;
        Grown { expr: Expr { node: Node::Number { value: 0.0, unit: None }, span }, depth: 1, closed: false }
    }

    fn stop(&mut self, span: Span, what: &str) -> Grown {
        self.error("formula-too-deep", what.to_owned(), span.clone(), "split it into several workings");
        self.missing = true;
        self.stopped = true;
        self.at = self.lexemes.len().saturating_sub(1);
        self.placeholder(span)
    }

    /// Reads what is nested one deeper.
    fn deeper(&mut self, span: Span, read: impl FnOnce(&mut Parser) -> Grown) -> Grown {
        if self.nesting >= DEEPEST {
            return self.stop(span, &format!("the formula is nested more than {DEEPEST} deep"));
        }
        self.nesting += 1;
        let out = read(self);
        self.nesting -= 1;
        out
    }

    fn grow(&mut self, node: Node, span: Span, depth: usize) -> Grown {
        if depth >= DEEPEST_TREE && !self.stopped {
            // The deep part is dropped here, while its depth is still bounded.
            let what = format!("more than {DEEPEST_TREE} operations build on one another");
            return self.stop(span, &what);
        }
        Grown { expr: Expr { node, span }, depth: depth + 1, closed: false }
    }

    fn expression(&mut self, least: Binding) -> Grown {
        let mut left = self.prefix(least);
        loop {
            if self.stopped {
                return left;
            }
            if *self.peek() == Token::Bad {
                self.next();
                self.missing = true;
                if self.begins_value() {
                    left = self.prefix(least);
                }
                continue;
            }
            let Some(op) = operator(self.peek()) else {
                if !self.begins_value() {
                    return left;
                }
                self.unexpected_after_value();
                self.missing = true;
                let operator_meant =
                    matches!(self.peek(), Token::Word(w) if CAPITAL_OPERATORS.contains(&w.as_str()));
                if operator_meant || matches!(self.peek(), Token::Unit(_)) {
                    self.next();
                }
                if operator_meant || self.begins_value() {
                    left = self.prefix(least);
                }
                continue;
            };
            let binding = Binding::of(op);
            if binding < least {
                return left;
            }
            let (_, op_span) = self.next();
            let right = match op {
                BinaryOp::Power => self.deeper(op_span.clone(), |p| p.expression(Binding::POWER)),
                _ => self.expression(binding.tighter()),
            };
            self.refuse_chain(op, &left, &op_span);
            let span = left.expr.span.start..right.expr.span.end;
            let depth = left.depth.max(right.depth);
            let node = Node::Binary(op, Box::new(left.expr), Box::new(right.expr));
            left = self.grow(node, span, depth);
        }
    }

    /// `a < b < c` is refused rather than read as (a < b) < c.
    fn refuse_chain(&mut self, op: BinaryOp, left: &Grown, op_span: &Span) {
        let compares = |op: BinaryOp| Binding::of(op) == Binding::COMPARE;
        let inner = matches!(&left.expr.node, Node::Binary(inner, ..) if compares(*inner));
        if compares(op) && inner && !left.closed {
            let message = "comparisons cannot be chained".to_owned();
            self.error("formula-syntax", message, op_span.clone(), "write `a < b and b < c`");
        }
    }

    fn begins_value(&self) -> bool {
        match self.peek() {
            Token::Number(_) | Token::Unit(_) | Token::Label(_) => true,
            Token::Word(word) => operator(self.peek()).is_none() || word == "not",
            Token::Mark(mark) => *mark == "(",
            Token::Bad | Token::End => false,
        }
    }

    fn unexpected_after_value(&mut self) {
        let what = self.describe();
        let span = self.span();
        let close = match self.lists.last() {
            None => "the end of the formula",
            Some(List::Parenthesis) => "`)`",
            Some(List::Arguments) => "`,` or `)`",
        };
        if matches!(self.peek(), Token::Unit(_)) {
            let message = "a unit in square brackets stands only after a number".to_owned();
            let hint = "a name carries its own unit; write `5 [kWh]` or leave the brackets out";
            return self.error("formula-syntax", message, span, hint);
        }
        let hint = match self.peek() {
            Token::Word(word) if CAPITAL_OPERATORS.contains(&word.as_str()) => {
                "operators are written small: `and`, `or`"
            }
            Token::Mark("(") => "to call a function write its name before `(`; to multiply write `*`",
            _ => "to multiply write `*`",
        };
        self.error("formula-syntax", format!("expected an operator or {close}, found {what}"), span, hint);
    }

    fn describe(&self) -> String {
        match self.peek() {
            Token::Number(value) => format!("the number {value}"),
            Token::Unit(text) => format!("`[{text}]`"),
            Token::Label(text) => format!("the label \"{text}\""),
            Token::Word(word) => format!("`{word}`"),
            Token::Mark(mark) => format!("`{mark}`"),
            Token::Bad => "an error".to_owned(),
            Token::End => "the end of the formula".to_owned(),
        }
    }

    fn prefix(&mut self, least: Binding) -> Grown {
        let span = self.span();
        match self.peek().clone() {
            Token::Mark("-") => self.sign(UnaryOp::Negate, Binding::NEGATE),
            Token::Word(word) if word == "not" => {
                if least > Binding::NOT {
                    let message = "`not` needs parentheses here".to_owned();
                    self.error("formula-syntax", message, span, "write `(not ...)`");
                }
                self.sign(UnaryOp::Not, Binding::NOT)
            }
            Token::Mark("(") => self.parenthesis(),
            Token::Number(value) => self.number(value),
            Token::Label(text) => {
                self.next();
                Grown { expr: Expr { node: Node::Label(text), span }, depth: 1, closed: false }
            }
            Token::Word(word) if operator(self.peek()).is_none() => self.word(word),
            Token::Bad => {
                self.next();
                self.placeholder(span)
            }
            Token::Mark("+") => {
                let hint = "leave out the sign; a value is positive without it";
                self.error("formula-syntax", "expected a value, found `+`".to_owned(), span, hint);
                self.missing = true;
                // A loop, not recursion: a long row of them must not use up the stack.
                while self.is("+") {
                    self.next();
                }
                self.prefix(least)
            }
            Token::Unit(text) => {
                let message = "a unit in square brackets stands only after a number".to_owned();
                self.error("formula-syntax", message, span.clone(), &format!("write `1 [{text}]`"));
                self.next();
                self.placeholder(span)
            }
            _ => {
                let message = format!(
                    "expected a number, a name, a label, `(`, `-` or `not`, found {}",
                    self.describe()
                );
                self.error("formula-syntax", message, span.clone(), "");
                self.placeholder(span)
            }
        }
    }

    fn sign(&mut self, op: UnaryOp, binding: Binding) -> Grown {
        let (_, span) = self.next();
        let operand = self.deeper(span.clone(), |p| p.expression(binding));
        let whole = span.start..operand.expr.span.end;
        self.grow(Node::Unary(op, Box::new(operand.expr)), whole, operand.depth)
    }

    fn parenthesis(&mut self) -> Grown {
        let (_, open) = self.next();
        self.lists.push(List::Parenthesis);
        let inside = self.deeper(open.clone(), |p| p.expression(Binding::OR));
        self.close(&open);
        self.lists.pop();
        Grown { closed: true, ..inside }
    }

    fn close(&mut self, open: &Span) {
        if self.is(")") {
            self.next();
            return;
        }
        self.missing = true;
        let message = match self.peek() {
            Token::End => "the parenthesis is not closed".to_owned(),
            _ => format!("expected an operator or `)`, found {}", self.describe()),
        };
        let at_end = *self.peek() == Token::End;
        let place = if at_end { open.clone() } else { self.span() };
        self.error("formula-syntax", message, place, if at_end { "add `)`" } else { "" });
    }

    fn number(&mut self, value: f64) -> Grown {
        let (_, mut span) = self.next();
        let mut unit = None;
        if let Token::Unit(text) = self.peek().clone() {
            let (_, brackets) = self.next();
            span.end = brackets.end;
            unit = Some((text, brackets.start + 1..brackets.end - 1));
        }
        Grown { expr: Expr { node: Node::Number { value, unit }, span }, depth: 1, closed: false }
    }

    fn word(&mut self, word: String) -> Grown {
        let (_, span) = self.next();
        if self.is("(") {
            return self.call(word, span);
        }
        let node = match word.as_str() {
            "yes" => Node::YesNo(true),
            "no" => Node::YesNo(false),
            "if" => {
                let hint = "write `if(condition, then, otherwise)`";
                self.error("formula-syntax", "`if` must be followed by `(`".to_owned(), span.clone(), hint);
                return self.placeholder(span);
            }
            "true" | "false" => {
                let meant = if word == "true" { "yes" } else { "no" };
                let hint = format!("write `{meant}`");
                self.error(
                    "formula-syntax",
                    format!("`{word}` is not a word of formulas"),
                    span.clone(),
                    &hint,
                );
                return self.placeholder(span);
            }
            "nan" | "NaN" | "NAN" | "inf" | "Inf" | "INF" | "infinity" | "Infinity" => {
                let hint = "a formula holds finite numbers only; a payback that is never reached is found by `is_never`";
                self.error("formula-number", format!("`{word}` is not a number"), span.clone(), hint);
                return self.placeholder(span);
            }
            _ => Node::Name(word),
        };
        Grown { expr: Expr { node, span }, depth: 1, closed: false }
    }

    fn call(&mut self, function: String, function_span: Span) -> Grown {
        let (_, open) = self.next();
        self.lists.push(List::Arguments);
        let mut args = Vec::new();
        let mut depth = 0;
        let mut comma = None;
        loop {
            if self.is(")") && args.is_empty() && comma.is_none() {
                break;
            }
            let arg = self.deeper(open.clone(), |p| p.expression(Binding::OR));
            depth = depth.max(arg.depth);
            args.push(arg.expr);
            if !self.is(",") {
                break;
            }
            comma = Some(self.next().1);
        }
        let end = self.span().end;
        self.close(&open);
        self.lists.pop();
        let span = function_span.start..end;
        self.grow(Node::Call { function, function_span, args }, span, depth)
    }

    /// What is left after the whole expression.
    fn finish(&mut self) {
        while !self.stopped && *self.peek() != Token::End {
            self.missing = true;
            let span = self.span();
            let (message, hint) = match self.peek() {
                Token::Mark(")") => {
                    ("there is no `(` for this `)`".to_owned(), "leave it out, or add the `(`")
                }
                Token::Mark(",") => (
                    "expected an operator or the end of the formula, found `,`".to_owned(),
                    "the decimal sign is a point, and thousands are parted by `_`: 16_384",
                ),
                _ => (format!("expected the end of the formula, found {}", self.describe()), ""),
            };
            self.error("formula-syntax", message, span, hint);
            self.next();
            if *self.peek() != Token::End {
                self.expression(Binding::OR);
            }
        }
    }
}
