//! Reads the text of a unit.
//!
//! ```text
//! unit     = product { "/" factor }            a/b/c is a/(b c)
//! product  = factor { [ "*" ] factor }         factors side by side, only above the first "/" or in parentheses
//! factor   = atom [ power ]
//! atom     = NAME | "%" | "1" | "(" unit ")"
//! power    = DIGITS | "²" | "³" | "^" exponent
//! exponent = [ "-" ] DIGITS | "(" [ "-" ] DIGITS [ "/" DIGITS ] ")"
//! NAME     = letters and underscores, longest match; m2 and m3 are m with a power
//! ```
//!
//! `degC` stands only alone: within a product or a quotient a temperature is a difference, K.

use std::ops::Range;

use super::dimension::Dimension;
use super::hints::unknown;
use super::table::{Ratio, Unit, UnitTable};
use crate::diagnostic::Diagnostic;

/// What is wrong with the text of a unit.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitError {
    /// Stable id: `unit-unknown`, `unit-syntax`, `unit-currency`, `unit-temperature`, `unit-name`, `unit-size`.
    pub id: &'static str,
    /// Bytes of the text that was read.
    pub range: Range<usize>,
    /// What is wrong.
    pub message: String,
    /// What would be right; may be empty.
    pub hint: String,
}

impl UnitError {
    pub(super) fn new(
        id: &'static str,
        range: Range<usize>,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> UnitError {
        UnitError { id, range, message: message.into(), hint: hint.into() }
    }

    /// As a diagnostic, the text beginning at byte `offset` of the study.
    pub fn diagnostic(&self, offset: usize) -> Diagnostic {
        let place = offset + self.range.start..offset + self.range.end;
        let diagnostic = Diagnostic::error(self.id, self.message.clone()).at(place, "");
        if self.hint.is_empty() { diagnostic } else { diagnostic.hint(self.hint.clone()) }
    }
}

/// Longest text of a unit, in bytes: far above any real one, and it bounds the recursion.
const LONGEST: usize = 200;
/// Deepest nesting of parentheses.
const DEEPEST: usize = 16;
/// Largest power of one factor.
const LARGEST_POWER: i64 = 12;

pub(super) fn unit(table: &UnitTable, text: &str) -> Result<Unit, UnitError> {
    if text.len() > LONGEST {
        return Err(UnitError::new("unit-syntax", 0..text.len(), "the unit is too long", ""));
    }
    let mut reader = Reader { table, text, at: 0, depth: 0 };
    reader.skip_space();
    if reader.at == text.len() {
        let hint = "leave the unit out for a plain number";
        return Err(UnitError::new("unit-syntax", 0..text.len(), "the unit is empty", hint));
    }
    // The one place where a point on the temperature scale can stand.
    if let Some(unit) = table.find(text.trim()).filter(|unit| unit.point) {
        return Ok(unit.clone());
    }
    let (dimension, ratio) = reader.unit()?;
    reader.skip_space();
    match reader.peek() {
        None => Ok(Unit::new(text.trim(), dimension, ratio)),
        Some(c) => Err(reader.unexpected(c)),
    }
}

/// A number and perhaps a unit: `0.01 EUR`.
pub(super) fn definition(table: &UnitTable, name: &str, text: &str) -> Result<Unit, UnitError> {
    let start = text.len() - text.trim_start().len();
    let rest = text.get(start..).unwrap_or("");
    let end = rest
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '_')))
        .map_or(text.len(), |length| start + length);
    let digits: String = text.get(start..end).unwrap_or("").chars().filter(|&c| c != '_').collect();
    let whole = 0..text.len();
    let hint = "write a number and a unit that is known already, such as `0.01 EUR` or `250 L`";
    let Some(size) = decimal(&digits) else {
        return Err(UnitError::new(
            "unit-size",
            whole,
            format!("the size of `{name}` must begin with a number"),
            hint,
        ));
    };
    if !(size.value() > 0.0 && size.value().is_finite()) {
        return Err(UnitError::new(
            "unit-size",
            start..end,
            format!("`{name}` must have a size above zero"),
            hint,
        ));
    }
    let tail = text.get(end..).unwrap_or("");
    if tail.trim().is_empty() {
        return Ok(Unit::new(name, Dimension::NONE, size));
    }
    let of = unit(table, tail).map_err(|mut error| {
        error.range = error.range.start + end..error.range.end + end;
        error
    })?;
    if of.point {
        let message = "a unit cannot be made of degC, a point on a scale";
        return Err(UnitError::new("unit-temperature", end..text.len(), message, "use K"));
    }
    Ok(Unit::new(name, of.dimension, size.times(of.ratio)))
}

/// A decimal number as a quotient of whole numbers where they are exact in a double.
fn decimal(digits: &str) -> Option<Ratio> {
    let value: f64 = digits.parse().ok()?;
    let (before, after) = digits.split_once('.').unwrap_or((digits, ""));
    let mut den = 1.0;
    for _ in after.bytes() {
        den *= 10.0;
    }
    let joined = format!("{before}{after}");
    match joined.parse::<u64>() {
        Ok(whole) if whole < 1 << 53 && after.len() <= 15 => {
            #[expect(clippy::cast_precision_loss, reason = "below 2^53, so exact")]
            let num = whole as f64;
            Some(Ratio { num, den }.reduced())
        }
        _ => Some(Ratio { num: value, den: 1.0 }),
    }
}

struct Reader<'a> {
    table: &'a UnitTable,
    text: &'a str,
    at: usize,
    depth: usize,
}

type Read<T> = Result<T, UnitError>;
type Measure = (Dimension, Ratio);

impl Reader<'_> {
    fn rest(&self) -> &str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn skip_space(&mut self) {
        self.at += self.rest().len() - self.rest().trim_start().len();
    }

    fn eat(&mut self, wanted: char) -> bool {
        self.skip_space();
        let found = self.peek() == Some(wanted);
        if found {
            self.at += wanted.len_utf8();
        }
        found
    }

    fn here(&self) -> Range<usize> {
        self.at..self.at + self.peek().map_or(0, char::len_utf8)
    }

    fn unexpected(&self, c: char) -> UnitError {
        let message = format!("unexpected `{c}` in the unit");
        let hint = match c {
            '[' | ']' => "square brackets belong to formulas; write the unit alone",
            ')' => "there is no `(` before it",
            _ => "a unit is made of names, `/`, `^` and parentheses, such as EUR/kWh or L/person/day",
        };
        UnitError::new("unit-syntax", self.here(), message, hint)
    }

    fn begins_factor(&mut self) -> bool {
        self.skip_space();
        self.peek()
            .is_some_and(|c| c.is_alphanumeric() || matches!(c, '_' | '%' | '(' | '°' | '€' | '£' | '$'))
    }

    fn unit(&mut self) -> Read<Measure> {
        let (mut dimension, mut ratio) = self.factor()?;
        loop {
            let start = self.at;
            if self.eat('/') {
                let (d, r) = self.factor()?;
                (dimension, ratio) = (dimension.div(&d), ratio.over(r));
                // `kWh/kWp yr` is read in two ways by two readers, so it is refused.
                if self.eat('*') || self.begins_factor() {
                    let text = self.text.trim();
                    return Err(UnitError::new(
                        "unit-syntax",
                        self.here(),
                        format!("it is not clear what the `/` in `{text}` divides by"),
                        "write a/(b c) or a/b/c",
                    ));
                }
            } else if self.eat('*') || self.begins_factor() {
                let (d, r) = self.factor()?;
                (dimension, ratio) = (dimension.mul(&d), ratio.times(r));
            } else {
                self.at = start;
                break;
            }
        }
        let size = ratio.value();
        if !(dimension.in_range() && size.is_finite() && size > 0.0) {
            let whole = 0..self.text.len();
            return Err(UnitError::new("unit-size", whole, "the unit is out of any range of use", ""));
        }
        Ok((dimension, ratio))
    }

    fn factor(&mut self) -> Read<Measure> {
        let (dimension, ratio) = self.atom()?;
        let start = self.at;
        let Some((num, den)) = self.power()? else { return Ok((dimension, ratio)) };
        let fault = |message: &str| {
            Err(UnitError::new("unit-syntax", start..self.at, message, "write a small power such as m^2"))
        };
        if num.abs() > LARGEST_POWER || !(1..=LARGEST_POWER).contains(&den) {
            return fault("the power is out of range");
        }
        let Some(dimension) = dimension.pow(num, den) else { return fault("the power is out of range") };
        if den != 1 {
            let exponent = ratio_of(num, den);
            let num = libm::pow(ratio.value(), exponent);
            return Ok((dimension, Ratio { num, den: 1.0 }));
        }
        let mut powered = Ratio::ONE;
        for _ in 0..num.abs() {
            powered = powered.times(ratio);
        }
        Ok((dimension, if num < 0 { Ratio::ONE.over(powered) } else { powered }))
    }

    fn atom(&mut self) -> Read<Measure> {
        self.skip_space();
        let start = self.at;
        match self.peek() {
            None => {
                let hint = "write a name of a unit after `/` or `*`";
                Err(UnitError::new("unit-syntax", start..start, "the unit ends too early", hint))
            }
            Some('(') => {
                self.depth += 1;
                if self.depth > DEEPEST {
                    return Err(UnitError::new("unit-syntax", self.here(), "too many parentheses", ""));
                }
                self.at += 1;
                let inside = self.unit()?;
                if !self.eat(')') {
                    let message = "the parenthesis is not closed";
                    return Err(UnitError::new("unit-syntax", start..start + 1, message, "add `)`"));
                }
                self.depth -= 1;
                Ok(inside)
            }
            Some('%') => {
                self.at += 1;
                self.look_up("%", start)
            }
            Some(c) if c.is_ascii_digit() => {
                let length = self.rest().bytes().take_while(|b| b.is_ascii_digit() || *b == b'.').count();
                let number = self.text.get(start..start + length).unwrap_or("");
                if number != "1" {
                    let message = format!("a unit holds no number, and here is `{number}`");
                    let hint = "only 1 may stand in a unit, as in 1/yr; define other sizes under [units]";
                    return Err(UnitError::new("unit-syntax", start..start + length, message, hint));
                }
                self.at += 1;
                Ok((Dimension::NONE, Ratio::ONE))
            }
            Some(c) if c.is_alphabetic() || matches!(c, '_' | '°' | '€' | '£' | '$') => {
                let length: usize = self
                    .rest()
                    .chars()
                    .take_while(|&c| c.is_alphabetic() || matches!(c, '_' | '°' | '€' | '£' | '$'))
                    .map(char::len_utf8)
                    .sum();
                self.at += length;
                let name = self.text.get(start..self.at).unwrap_or("").to_owned();
                self.look_up(&name, start)
            }
            Some(c) => Err(self.unexpected(c)),
        }
    }

    fn look_up(&self, name: &str, start: usize) -> Read<Measure> {
        match self.table.find(name) {
            Some(unit) if unit.point => Err(UnitError::new(
                "unit-temperature",
                start..self.at,
                "degC is a point on a scale and cannot be part of a compound unit",
                "use K, a difference: kJ/kg/K",
            )),
            Some(unit) => Ok((unit.dimension, unit.ratio)),
            None => Err(unknown(self.table, name, start..self.at)),
        }
    }

    /// Digits straight after the atom, a superscript, or `^` and an exponent.
    fn power(&mut self) -> Read<Option<(i64, i64)>> {
        match self.peek() {
            Some('²') => {
                self.at += '²'.len_utf8();
                Ok(Some((2, 1)))
            }
            Some('³') => {
                self.at += '³'.len_utf8();
                Ok(Some((3, 1)))
            }
            Some(c) if c.is_ascii_digit() => self.whole().map(|n| Some((n, 1))),
            _ if self.eat('^') => {
                if !self.eat('(') {
                    return self.signed().map(|n| Some((n, 1)));
                }
                let num = self.signed()?;
                let den = if self.eat('/') { self.whole()? } else { 1 };
                if !self.eat(')') {
                    let hint = "write m^(1/2)";
                    return Err(UnitError::new(
                        "unit-syntax",
                        self.here(),
                        "the exponent is not closed",
                        hint,
                    ));
                }
                Ok(Some((num, den)))
            }
            _ => Ok(None),
        }
    }

    fn signed(&mut self) -> Read<i64> {
        let minus = self.eat('-');
        self.whole().map(|n| if minus { -n } else { n })
    }

    fn whole(&mut self) -> Read<i64> {
        self.skip_space();
        let length = self.rest().bytes().take_while(u8::is_ascii_digit).count();
        let range = self.at..self.at + length;
        match self.text.get(range.clone()).and_then(|digits| digits.parse().ok()) {
            Some(n) => {
                self.at += length;
                Ok(n)
            }
            None => {
                let hint = "write a whole number or a fraction: m^2, m^(1/2)";
                Err(UnitError::new("unit-syntax", range, "a power must be a small whole number", hint))
            }
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "both at most 12")]
fn ratio_of(num: i64, den: i64) -> f64 {
    num as f64 / den as f64
}
