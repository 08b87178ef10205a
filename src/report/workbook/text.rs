//! Text and numbers as a spreadsheet's formulas and cells take them.

use crate::formula::types::Kind;
use crate::wording;

/// Most characters that a cell takes.
const LONGEST_TEXT: usize = 32_000;
/// Most characters of a text that stands in a formula.
const LONGEST_IN_FORMULA: usize = 250;

/// What a cell holds, as far as the workbook knows it without recalculation.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    Number(f64),
    Text(String),
    YesNo(bool),
    /// No number: a spreadsheet's error.
    None,
}

/// How never is written: text, which a spreadsheet holds greater than every number.
pub(super) const NEVER: &str = "never";

impl Value {
    /// From a value as the engine has it.
    pub(super) fn of(kind: &Kind, x: f64) -> Value {
        match kind {
            Kind::YesNo if !x.is_nan() => Value::YesNo(x != 0.0),
            Kind::Label(labels) => match labels.get(x as usize) {
                Some(label) => Value::Text(cell_text(label)),
                None => Value::None,
            },
            Kind::Years if x == f64::INFINITY => Value::Text(NEVER.into()),
            _ if x.is_finite() => Value::Number(x),
            _ => Value::None,
        }
    }

    /// As the cached result of a formula; none for a text that would be taken for something else.
    pub(super) fn cached(&self) -> Option<String> {
        match self {
            Value::Number(x) => Some(number(*x)),
            Value::YesNo(yes) => Some(if *yes { "TRUE" } else { "FALSE" }.into()),
            Value::None => Some("#N/A".into()),
            Value::Text(text) => {
                let other = text.parse::<f64>().is_ok() || text.starts_with('#') || text.is_empty();
                (!other && !matches!(text.as_str(), "TRUE" | "FALSE")).then(|| text.clone())
            }
        }
    }
}

/// Text for a cell: one line, without control and direction characters, no longer than a cell takes.
pub(super) fn cell_text(text: &str) -> String {
    cut(&wording::clean(text))
}

/// Text that the reader of an edited workbook takes back: as written, but for what a cell cannot hold.
pub(super) fn raw_text(text: &str) -> String {
    cut(&text.chars().filter(|c| !matches!(c, '\u{FFFE}' | '\u{FFFF}' | '\r')).collect::<String>())
}

fn cut(text: &str) -> String {
    if text.chars().count() <= LONGEST_TEXT {
        return text.to_owned();
    }
    text.chars().take(LONGEST_TEXT).chain(" ...".chars()).collect()
}

/// A number in a formula or as a cached result, to the last bit.
pub(super) fn number(x: f64) -> String {
    let text = format!("{x:?}");
    text.strip_suffix(".0").map_or(text.clone(), ToOwned::to_owned).replace('e', "E")
}

/// A number as an operand.
pub(super) fn literal(kind: &Kind, x: f64) -> Option<String> {
    Some(match Value::of(kind, x) {
        Value::Number(x) if x < 0.0 => format!("({})", number(x)),
        Value::Number(x) => number(x),
        Value::YesNo(yes) => if yes { "TRUE" } else { "FALSE" }.into(),
        Value::None => "NA()".into(),
        Value::Text(text) if text.chars().count() > LONGEST_IN_FORMULA => return None,
        Value::Text(text) => format!("\"{}\"", text.replace('"', "\"\"")),
    })
}

/// Letters of a column counted from 0.
pub(super) fn column(mut col: u16) -> String {
    let mut letters = Vec::new();
    loop {
        letters.push((b'A' + (col % 26) as u8) as char);
        if col < 26 {
            return letters.iter().rev().collect();
        }
        col = col / 26 - 1;
    }
}
