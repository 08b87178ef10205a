//! `until` of `[sampling]`: when enough runs have been made.

use toml::de::DeValue;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::study::schema::{Sought, Until, Within};
use crate::study::values::{Entry, Reader};

const EXAMPLE: &str = "until = { result = \"npv\", statistic = \"mean\", within = \"10 EUR\" }";

impl Reader<'_> {
    /// `until = { result = "npv", statistic = "mean", within = "10 EUR" }`.
    pub(crate) fn until_of(&mut self, entry: &Entry<'_>) -> Option<Until> {
        let mut table = self.table_of(entry, EXAMPLE)?;
        let result = table.take("result").map(|e| self.full_text_of(&e));
        let statistic = self.require(&mut table, "statistic", "statistic = \"mean\"");
        let statistic = statistic.and_then(|e| self.sought_of(&e));
        let within = self.require(&mut table, "within", "within = 0.01");
        let within = within.and_then(|e| self.within_of(&e));
        table.finish(self);
        let result = match result {
            Some(named) => Some(named?),
            None => None,
        };
        Some(Until { result, statistic: statistic?, within: within? })
    }

    fn sought_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<Sought>> {
        let text = self.text_of(entry)?;
        let sought = match text.value.as_str() {
            "mean" => Some(Sought::Mean),
            "share" => Some(Sought::Share),
            other => other.strip_prefix('P').and_then(percentile).map(Sought::Percentile),
        };
        if sought.is_none() {
            self.error(
                Diagnostic::error("word-unknown", format!("`{}` cannot be `{}`", entry.path, text.value))
                    .at(text.span.clone(), "")
                    .hint(
                        "one of mean, share, and percentiles above P0 and below P100, such as P10 or P97.5",
                    ),
            );
        }
        Some(Spanned::new(sought?, text.span))
    }

    fn within_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<Within>> {
        let (value, unit) = match entry.value {
            DeValue::String(_) => {
                let text = self.full_text_of(entry)?;
                let (number, unit) = quantity(text.value.trim());
                let Some(number) = number.parse::<f64>().ok().filter(|x| x.is_finite()) else {
                    self.error(
                        Diagnostic::error(
                            "wrong-type",
                            format!("`{}` does not begin with a number", entry.path),
                        )
                        .at(text.span.clone(), "")
                        .hint("a number and a unit, such as \"10 EUR\", \"0.5 %\" or \"0.2 yr\""),
                    );
                    return None;
                };
                (number, Some(unit.to_owned()).filter(|unit| !unit.is_empty()))
            }
            _ => (self.number_of(entry)?.value, None),
        };
        if value <= 0.0 {
            self.error(
                Diagnostic::error("out-of-range", format!("`{}` must be above 0", entry.path))
                    .at(entry.span.clone(), "")
                    .hint("the figure is known to within this much: no number of runs brings it to nothing"),
            );
            return None;
        }
        let within = match unit {
            Some(unit) => Within::Quantity(value, unit),
            None => Within::Number(value),
        };
        Some(Spanned::new(within, entry.span.clone()))
    }
}

/// Number and unit of such as `10 EUR` or `0.5%`.
fn quantity(text: &str) -> (&str, &str) {
    let at = text.find(|c: char| c.is_whitespace() || c == '%').unwrap_or(text.len());
    let (number, unit) = text.split_at(at);
    (number, unit.trim())
}

fn percentile(text: &str) -> Option<f64> {
    let plain = text.chars().all(|c| c.is_ascii_digit() || c == '.');
    let value: f64 = text.parse().ok().filter(|_| plain)?;
    (value > 0.0 && value < 100.0).then_some(value / 100.0)
}
