//! Numbers as people type them.

use super::Reason;

use toml_edit::Value;

use crate::study::written;

/// A number and the digits that were typed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Typed {
    x: f64,
    digits: String,
}

impl Typed {
    /// As a study writes it: with the digits that were typed, if TOML can hold them.
    pub(super) fn value(&self) -> Value {
        match self.digits.parse::<Value>() {
            Ok(value @ (Value::Float(_) | Value::Integer(_))) => value,
            _ => written::number(self.x),
        }
    }
}

/// Marks that may stand between groups of three digits, beside comma and point.
const BETWEEN: [char; 5] = [' ', '\u{a0}', '\u{202f}', '\'', '_'];

/// A number with a point or a comma before its decimals, with or without marks between groups of three digits.
/// `1,800` could be either: it is refused, with both readings told.
pub(super) fn number(typed: &str) -> Result<Typed, Reason> {
    let mut bare = typed.trim().replace('\u{2212}', "-");
    if let Some(mark) = bare.chars().find(|c| BETWEEN.contains(c))
        && (are_groups(&bare, mark, '.') || are_groups(&bare, mark, ','))
    {
        bare = bare.replace(mark, "");
    }
    let (commas, points) = (bare.matches(',').count(), bare.matches('.').count());
    let plain = match (commas, points) {
        (0, _) if points <= 1 => bare.clone(),
        (1, 0) if is_group(&bare) => {
            let whole = bare.replace(',', "");
            let decimal = bare.replace(',', ".");
            return Err(Reason::new(
                format!("{typed:?} may be {whole} or {decimal}"),
                "type it without a mark between thousands, or with a point before decimals",
            ));
        }
        (1, 0) => bare.replace(',', "."),
        // Both: the last is before the decimals.
        (_, 1) if bare.rfind('.') > bare.rfind(',') && are_groups(&bare, ',', '.') => bare.replace(',', ""),
        (1, _) if bare.rfind(',') > bare.rfind('.') && are_groups(&bare, '.', ',') => {
            bare.replace('.', "").replace(',', ".")
        }
        (_, 0) if are_groups(&bare, ',', '.') => bare.replace(',', ""),
        (0, _) if are_groups(&bare, '.', ',') => bare.replace('.', ""),
        _ => bare.clone(),
    };
    let looks_right =
        plain.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'));
    match plain.parse::<f64>() {
        Ok(x) if looks_right && x.is_finite() => Ok(Typed { x, digits: plain }),
        _ => Err(Reason::new(format!("{typed:?} is no number"), "such as 1800, 0.112 or 0,112")),
    }
}

/// One to three digits, a mark, three digits: thousands or decimals. With a nought before the mark it is decimals.
fn is_group(text: &str) -> bool {
    let digits = text.trim_start_matches(['-', '+']);
    let is_number = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    digits.split_once(',').is_some_and(|(whole, rest)| {
        (1..=3).contains(&whole.len())
            && rest.len() == 3
            && whole != "0"
            && is_number(whole)
            && is_number(rest)
    })
}

/// Whether `mark` stands between groups of three digits, before any `point`.
fn are_groups(text: &str, mark: char, point: char) -> bool {
    let whole = text.trim_start_matches(['-', '+']).split(point).next().unwrap_or_default();
    let mut groups = whole.split(mark);
    let digits = |group: &str| group.bytes().all(|b| b.is_ascii_digit());
    let first = groups.next().unwrap_or_default();
    (1..=3).contains(&first.len()) && digits(first) && groups.all(|group| group.len() == 3 && digits(group))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_people_type_them() {
        for (typed, x) in [
            ("3", 3.0),
            (" 0.112 ", 0.112),
            ("0,112", 0.112),
            ("12,5", 12.5),
            ("1 800", 1800.0),
            ("1\u{202f}800,5", 1800.5),
            ("1,800.5", 1800.5),
            ("1.800,5", 1800.5),
            ("1,234,567", 1_234_567.0),
            ("1.234.567", 1_234_567.0),
            ("1'800", 1800.0),
            ("1_800", 1800.0),
            ("-4", -4.0),
            ("\u{2212}4", -4.0),
            ("1e-3", 0.001),
            ("1.800", 1.8),
        ] {
            assert_eq!(number(typed).ok().map(|typed| typed.x), Some(x), "{typed}");
        }
    }

    #[test]
    fn what_may_be_two_numbers_is_asked_back() {
        let reason = number("1,800").unwrap_err();
        assert!(reason.message.contains("1800") && reason.message.contains("1.800"), "{}", reason.message);
    }

    /// Digits stay as they were typed; what TOML cannot write so is written plainly.
    #[test]
    fn digits_stay() {
        for (typed, text) in [
            ("1.10", "1.10"),
            ("0,50", "0.50"),
            ("1 800", "1800"),
            ("9007199254740993", "9007199254740993"),
            ("1e-3", "1e-3"),
            (".5", "0.5"),
            ("5.", "5"),
            ("007", "7"),
        ] {
            assert_eq!(number(typed).unwrap().value().to_string(), text, "{typed}");
        }
    }

    #[test]
    fn what_is_none() {
        for typed in [
            "", "three", "nan", "inf", "1e999", "1..2", "1,2,3", "0x10", "1/2", "--1", "=1+1", "1.2.3",
            "3 4", "1 5", "12 34", "1_2",
        ] {
            assert!(number(typed).is_err(), "{typed}");
        }
    }
}
