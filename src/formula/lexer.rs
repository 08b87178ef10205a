//! Cuts the text of a formula into tokens. Errors are collected and lexing goes on.

use crate::diagnostic::{Diagnostic, Span};

/// A token.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Token {
    /// Finite, not negative.
    Number(f64),
    /// What stands between square brackets.
    Unit(String),
    /// What stands between quotes.
    Label(String),
    /// A word, perhaps with dots.
    Word(String),
    /// An operator or a mark: `+ - * / ^ < <= > >= == != ( ) ,`.
    Mark(&'static str),
    /// Already reported; the parser passes over it without a second error.
    Bad,
    /// After the last one.
    End,
}

/// A token with its place in the study file.
#[derive(Debug, Clone)]
pub(super) struct Lexeme {
    pub(super) token: Token,
    pub(super) span: Span,
}

/// Two-byte marks first, so that `<=` is not read as `<`.
const MARKS: &[&str] = &["==", "!=", "<=", ">=", "<", ">", "+", "-", "*", "/", "^", "(", ")", ","];

/// Marks of other languages, the mark meant, and what to say.
const FOREIGN: &[(&str, Option<&str>, &str)] = &[
    ("**", Some("^"), "a power is written `^`"),
    ("&&", None, "write `and`"),
    ("||", None, "write `or`"),
    ("<>", Some("!="), "unequal is written `!=`"),
    ("=<", Some("<="), "write `<=`"),
    ("=>", Some(">="), "write `>=`"),
    ("=", Some("=="), "a comparison is written `==`"),
    ("!", None, "write `not`"),
    ("×", Some("*"), "a product is written `*`"),
    ("·", Some("*"), "a product is written `*`"),
    ("÷", Some("/"), "a quotient is written `/`"),
    ("−", Some("-"), "write the plain minus sign `-`"),
    ("–", Some("-"), "write the plain minus sign `-`"),
    ("≤", Some("<="), "write `<=`"),
    ("≥", Some(">="), "write `>=`"),
    ("≠", Some("!="), "write `!=`"),
    ("%", None, "per cent is a unit: `5 [%]`"),
    ("?", None, "a choice is written `if(condition, then, otherwise)`"),
    (";", Some(","), "arguments are parted by commas"),
    ("{", Some("("), "group with ( )"),
    ("}", Some(")"), "group with ( )"),
];

pub(super) fn lex(text: &str, offset: usize, diagnostics: &mut Vec<Diagnostic>) -> Vec<Lexeme> {
    let mut lexer = Lexer { text, offset, at: 0, out: Vec::new(), diagnostics };
    while lexer.step() {}
    let end = offset + text.len();
    lexer.out.push(Lexeme { token: Token::End, span: end..end });
    lexer.out
}

struct Lexer<'a> {
    text: &'a str,
    offset: usize,
    at: usize,
    out: Vec<Lexeme>,
    diagnostics: &'a mut Vec<Diagnostic>,
}

fn begins_word(c: char) -> bool {
    c.is_alphabetic() || c == '_'
}

fn in_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

impl<'a> Lexer<'a> {
    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn span(&self, start: usize, end: usize) -> Span {
        self.offset + start..self.offset + end
    }

    fn push(&mut self, token: Token, start: usize) {
        let span = self.span(start, self.at);
        self.out.push(Lexeme { token, span });
    }

    fn bad(&mut self, start: usize, id: &'static str, message: String, hint: &str) {
        let span = self.span(start, self.at);
        self.diagnostics.push(Diagnostic::error(id, message).at(span, "").hint(hint));
        self.push(Token::Bad, start);
    }

    /// Reads one token; false at the end.
    fn step(&mut self) -> bool {
        self.at += self.rest().len() - self.rest().trim_start().len();
        let Some(c) = self.rest().chars().next() else { return false };
        let start = self.at;
        match c {
            '0'..='9' => self.number(start),
            '"' | '\'' => self.label(start, c),
            '[' => self.unit(start),
            '.' => self.point(start),
            c if begins_word(c) => self.word(start),
            c => self.mark(start, c),
        }
        true
    }

    fn point(&mut self, start: usize) {
        let digits = self.rest().bytes().skip(1).take_while(u8::is_ascii_digit).count();
        self.at += 1 + digits;
        if digits > 0 {
            let written = self.text.get(start..self.at).unwrap_or("");
            let hint = format!("write `0{written}`");
            self.bad(start, "formula-number", "a number must begin with a digit".to_owned(), &hint);
        } else {
            let hint = "a point stands within a number (0.5) or a dotted name (gas_price.start)";
            self.bad(start, "formula-syntax", "unexpected `.`".to_owned(), hint);
        }
    }

    /// Digits that may be parted by single underscores; returns where they end.
    fn digits(&self, from: usize) -> usize {
        let bytes = self.text.as_bytes();
        let digit = |i: usize| bytes.get(i).is_some_and(u8::is_ascii_digit);
        let mut at = from;
        while digit(at) || (at > from && bytes.get(at) == Some(&b'_') && digit(at - 1) && digit(at + 1)) {
            at += 1;
        }
        at
    }

    fn number(&mut self, start: usize) {
        let byte = |i: usize| self.text.as_bytes().get(i).copied();
        let mut end = self.digits(start);
        let mut lacks_digits = false;
        if byte(end) == Some(b'.') {
            let after = self.digits(end + 1);
            lacks_digits = after == end + 1;
            end = after;
        }
        if !lacks_digits && matches!(byte(end), Some(b'e' | b'E')) {
            let sign = usize::from(matches!(byte(end + 1), Some(b'+' | b'-')));
            let after = self.digits(end + 1 + sign);
            if after > end + 1 + sign {
                end = after;
            }
        }
        self.at = end;
        let glued: usize =
            self.rest().chars().take_while(|&c| in_word(c) || c == '.').map(char::len_utf8).sum();
        let written = self.text.get(start..end).unwrap_or("");
        if glued > 0 {
            let word = self.text.get(end..end + glued).unwrap_or("");
            self.at += glued;
            let (message, hint) = match word.chars().all(|c| c.is_ascii_alphabetic()) {
                true => (
                    format!("`{written}{word}` is neither a number nor a name"),
                    format!("write a product as `{written} * {word}`, a unit as `{written} [{word}]`"),
                ),
                false => (
                    format!("`{written}{word}` is not a number"),
                    "numbers look like 12, 0.5, 16_384 or 1.5e-3".to_owned(),
                ),
            };
            return self.bad(start, "formula-number", message, &hint);
        }
        if lacks_digits {
            let hint = format!("write `{written}0`");
            return self.bad(
                start,
                "formula-number",
                format!("`{written}` lacks digits after the point"),
                &hint,
            );
        }
        let plain: String = written.chars().filter(|&c| c != '_').collect();
        match plain.parse::<f64>() {
            Ok(value) if value.is_finite() => self.push(Token::Number(value), start),
            _ => {
                let message = format!("`{written}` is too large for a number");
                self.bad(start, "formula-number", message, "the largest number is about 1.8e308");
            }
        }
    }

    fn label(&mut self, start: usize, quote: char) {
        let inside = self.rest().get(1..).unwrap_or("");
        let end =
            inside.find([quote, '\n']).filter(|&i| inside.get(i..).is_some_and(|r| r.starts_with(quote)));
        match end {
            Some(length) => {
                let label = inside.get(..length).unwrap_or("").to_owned();
                self.at += length + 2;
                self.push(Token::Label(label), start);
            }
            None => {
                self.at += 1 + inside.find('\n').unwrap_or(inside.len());
                self.bad(
                    start,
                    "formula-syntax",
                    "the quotes are not closed".to_owned(),
                    &format!("add {quote}"),
                );
            }
        }
    }

    fn unit(&mut self, start: usize) {
        let inside = self.rest().get(1..).unwrap_or("");
        match inside.find([']', '[']).filter(|&i| inside.get(i..).is_some_and(|r| r.starts_with(']'))) {
            Some(length) => {
                let text = inside.get(..length).unwrap_or("").to_owned();
                self.at += length + 2;
                self.push(Token::Unit(text), start);
            }
            None => {
                self.at = start + 1 + inside.find('[').unwrap_or(inside.len());
                self.bad(start, "formula-syntax", "the unit is not closed".to_owned(), "add `]`");
            }
        }
    }

    fn word(&mut self, start: usize) {
        loop {
            let length: usize = self.rest().chars().take_while(|&c| in_word(c)).map(char::len_utf8).sum();
            self.at += length;
            let mut next = self.rest().chars();
            if !(next.next() == Some('.') && next.next().is_some_and(begins_word)) {
                break;
            }
            self.at += 1;
        }
        let word = self.text.get(start..self.at).unwrap_or("").to_owned();
        if word.is_ascii() {
            return self.push(Token::Word(word), start);
        }
        let message = format!("`{word}` holds letters that a name cannot have");
        let hint = "names are made of a-z, A-Z, 0-9 and _; put the name in your language into `label`";
        self.bad(start, "formula-name", message, hint);
    }

    fn mark(&mut self, start: usize, c: char) {
        // `==` before `=`, but `**` before `*`.
        let known = MARKS.iter().find(|m| self.rest().starts_with(**m));
        let foreign = FOREIGN.iter().find(|(m, ..)| self.rest().starts_with(m));
        match (known, foreign) {
            (Some(mark), foreign) if foreign.is_none_or(|(f, ..)| f.len() <= mark.len()) => {
                self.at += mark.len();
                self.push(Token::Mark(mark), start);
            }
            (_, Some(&(written, meant, hint))) => {
                self.at += written.len();
                self.bad(start, "formula-syntax", format!("`{written}` is no operator"), hint);
                if let Some(mark) = meant.and_then(|m| MARKS.iter().find(|k| **k == m)) {
                    self.out.pop();
                    self.push(Token::Mark(mark), start);
                }
            }
            _ => {
                self.at += c.len_utf8();
                let shown = if c.is_control() { format!("U+{:04X}", u32::from(c)) } else { c.to_string() };
                let hint = "a formula is made of names, numbers, + - * / ^, comparisons, and calls";
                self.bad(start, "formula-syntax", format!("unexpected character `{shown}`"), hint);
            }
        }
    }
}
