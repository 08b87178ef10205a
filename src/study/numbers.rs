//! Numbers: finite, within their range, and what somebody meant who wrote text.

use toml::de::DeValue;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::study::values::{Entry, Reader};

impl Reader<'_> {
    /// A finite number, written with or without a decimal point.
    pub(crate) fn number_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<f64>> {
        self.number_like(entry, "a number")
    }

    fn number_like(&mut self, entry: &Entry<'_>, wanted: &str) -> Option<Spanned<f64>> {
        let value = match entry.value {
            DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse::<f64>().ok(),
            // OK because a whole number below 2^63 is a finite f64.
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|v| v as f64),
            DeValue::Float(f) => f.as_str().parse::<f64>().ok(),
            _ => {
                let found = self.wrong_type(entry, wanted);
                let found = match number_meant(entry.value) {
                    Some(hint) => found.hint(hint),
                    None => found,
                };
                self.error(found);
                return None;
            }
        };
        let written = self.text.get(entry.span.clone()).unwrap_or_default();
        let spelled_out = written.contains("nan") || written.contains("inf");
        let found = match value {
            _ if spelled_out => {
                Diagnostic::error("not-finite", format!("`{}` must be a finite number", entry.path))
                    .at(entry.span.clone(), "")
                    .hint("write the figure itself; leave the line out if there is no limit")
            }
            Some(v) if v.is_finite() && (v != 0.0 || !has_figures(written)) => {
                return Some(Spanned::new(v, entry.span.clone()));
            }
            Some(0.0) => Diagnostic::error(
                "number-size",
                format!("`{}` is too close to zero to calculate with", entry.path),
            )
            .at(entry.span.clone(), "")
            .hint("write 0, or choose a unit in which the figure is larger"),
            _ => Diagnostic::error("number-size", format!("`{}` is too large to calculate with", entry.path))
                .at(entry.span.clone(), "")
                .hint("choose a unit in which the figure is smaller"),
        };
        self.error(found);
        None
    }

    /// A whole number from `least` to `most`.
    pub(crate) fn whole_number_of(
        &mut self,
        entry: &Entry<'_>,
        least: i64,
        most: i64,
    ) -> Option<Spanned<i64>> {
        let exact = match entry.value {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok(),
            _ => None,
        };
        let value = match exact {
            Some(v) => v,
            None => {
                let number = self.number_like(entry, "a whole number")?.value;
                if number != number.floor() {
                    let found = self.wrong_type(entry, "a whole number");
                    self.error(found);
                    return None;
                }
                // OK because `as` saturates, and both ends lie outside every range asked for.
                number as i64
            }
        };
        if (least..=most).contains(&value) {
            return Some(Spanned::new(value, entry.span.clone()));
        }
        self.error(
            Diagnostic::error(
                "out-of-range",
                format!("`{}` must lie from {} to {}", entry.path, grouped(least), grouped(most)),
            )
            .at(entry.span.clone(), ""),
        );
        None
    }

    /// A number that passes `check`; `rule` completes "must be ...".
    pub(crate) fn number_that(
        &mut self,
        entry: &Entry<'_>,
        rule: &str,
        check: impl Fn(f64) -> bool,
    ) -> Option<Spanned<f64>> {
        let number = self.number_of(entry)?;
        if check(number.value) {
            return Some(number);
        }
        self.error(
            Diagnostic::error("out-of-range", format!("`{}` must be {rule}", entry.path))
                .at(entry.span.clone(), ""),
        );
        None
    }
}

/// Whether any digit other than 0 stands before the exponent.
fn has_figures(written: &str) -> bool {
    let mantissa = written.split(['e', 'E']).next().unwrap_or_default();
    !mantissa.starts_with("0x") && mantissa.bytes().any(|b| (b'1'..=b'9').contains(&b))
}

/// The number that somebody wrote as text.
fn number_meant(value: &DeValue<'_>) -> Option<String> {
    let DeValue::String(text) = value else { return None };
    let text = text.trim();
    if let Some(share) = text.strip_suffix('%') {
        let share: f64 = share.trim().replace(',', ".").parse().ok()?;
        return Some(format!(
            "write it without quotes as {}, or as {share} with unit = \"%\"",
            share / 100.0
        ));
    }
    let plain = text.replace(',', ".");
    let number: f64 = plain.parse().ok()?;
    number.is_finite().then(|| format!("write it without quotes: {plain}"))
}

/// `n` with commas between thousands.
fn grouped(n: i64) -> String {
    let digits = n.unsigned_abs().to_string();
    if digits.len() < 5 {
        return n.to_string();
    }
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    if n < 0 { format!("-{out}") } else { out }
}
