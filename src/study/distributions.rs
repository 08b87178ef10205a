//! Distributions as written: names and parameters that the catalogue knows.
//! What values the parameters may take is not checked here.

use toml::de::DeValue;

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::sampling::distributions::catalogue::{DistributionKind, KINDS};
use crate::study::schema::{DistributionText, NumberOrDistribution, Parameter, PartText, Truncate};
use crate::study::values::{Entry, Reader, Table};
use crate::study::words;

/// Shown where a distribution may stand and none does.
const EXAMPLE: &str = "{ pert = { min = 2, mode = 3, max = 5 } }";

impl Reader<'_> {
    /// The distribution that stands under a known key.
    pub(crate) fn distribution_of(
        &mut self,
        entry: &Entry<'_>,
        kind: &DistributionKind,
    ) -> Option<DistributionText> {
        if kind.name == "mixture" {
            return self.mixture_of(entry, kind);
        }
        let DeValue::Table(table) = entry.value else {
            let found =
                self.wrong_type(entry, "a table of its parameters").hint(format!("such as {}", kind.example));
            self.error(found);
            return None;
        };
        let mut table = Table::new(&entry.path, table, entry.span.clone());
        let mut parameters = Vec::new();
        let mut sound = true;
        for parameter in table.take_all() {
            if !kind.knows(parameter.key) {
                self.unknown_parameter(kind, &parameter);
                sound = false;
                continue;
            }
            match self.parameter_of(kind, &parameter) {
                Some(value) => {
                    let name = Spanned::new(parameter.key.to_owned(), parameter.key_span.clone());
                    parameters.push((name, value));
                }
                None => sound = false,
            }
        }
        if parameters.is_empty() && sound {
            self.error(
                Diagnostic::error("missing-key", format!("`{}` has no parameters", entry.path))
                    .at(entry.span.clone(), "")
                    .hint(format!("such as {}", kind.example)),
            );
            return None;
        }
        let kind = Spanned::new(kind.name.to_owned(), entry.key_span.clone());
        sound.then(|| DistributionText { kind, parameters, span: entry.span.clone() })
    }

    /// `mixture = [{ weight, DISTRIBUTION }, ..]`.
    fn mixture_of(&mut self, entry: &Entry<'_>, kind: &DistributionKind) -> Option<DistributionText> {
        if !matches!(entry.value, DeValue::Array(_)) {
            let found = self.wrong_type(entry, "a list of parts").hint(format!("such as {}", kind.example));
            self.error(found);
            return None;
        }
        let mut parts = Vec::new();
        let mut sound = true;
        for mut table in self.tables_of(entry) {
            let weight = self.require(&mut table, "weight", "weight = 0.3");
            let weight = weight.and_then(|e| self.number_that(&e, "a weight, 0 or above", |v| v >= 0.0));
            let truncate = table.take("truncate").map(|e| self.truncate_of(&e));
            let (path, span) = (table.path.clone(), table.span.clone());
            let distribution = self.one_distribution(table, &path, &span);
            match (weight, distribution, truncate) {
                (Some(weight), Some(distribution), truncate)
                    if truncate.as_ref().is_none_or(Option::is_some) =>
                {
                    parts.push(PartText { weight, distribution, truncate: truncate.flatten() });
                }
                _ => sound = false,
            }
        }
        if parts.is_empty() && sound {
            self.error(
                Diagnostic::error("missing-key", format!("`{}` has no parts", entry.path))
                    .at(entry.span.clone(), "")
                    .hint(format!("such as {}", kind.example)),
            );
            return None;
        }
        let name = Spanned::new(kind.name.to_owned(), entry.key_span.clone());
        let key = Spanned::new("parts".to_owned(), entry.key_span.clone());
        let parameters = vec![(key, Parameter::Parts(parts, entry.span.clone()))];
        sound.then(|| DistributionText { kind: name, parameters, span: entry.span.clone() })
    }

    fn unknown_parameter(&mut self, kind: &DistributionKind, parameter: &Entry<'_>) {
        let message = format!("`{}` has no parameter `{}`", kind.name, parameter.key);
        let found = Diagnostic::error("unknown-key", message).at(parameter.key_span.clone(), "");
        let known = kind.all_keys();
        self.error(match words::nearest(parameter.key, &known) {
            Some(near) => found.hint(format!("did you mean `{near}`?")),
            None if kind.percentiles => {
                let ends = words::listed(&known, "and");
                found.hint(format!(
                    "it takes percentiles from p1 to p99 (decimals in quotes: \"p2.5\"), and {ends}"
                ))
            }
            None => found.hint(format!("it takes {}", words::listed(&known, "and"))),
        });
    }

    fn parameter_of(&mut self, kind: &DistributionKind, entry: &Entry<'_>) -> Option<Parameter> {
        let is_list = matches!(entry.key, "values" | "weights");
        let takes_texts = matches!(kind.name, "quantiles" | "samples");
        if takes_texts
            && matches!(entry.key, "shape" | "file" | "column")
            && matches!(entry.value, DeValue::String(_))
        {
            return self.full_text_of(entry).map(Parameter::Text);
        }
        match entry.value {
            DeValue::Array(_) if is_list => {
                Some(Parameter::List(self.numbers_of(entry)?, entry.span.clone()))
            }
            _ if is_list => {
                let found = self.wrong_type(entry, "a list of numbers");
                self.error(found);
                None
            }
            DeValue::String(name) if words::is_name(name) => {
                Some(Parameter::Name(Spanned::new(name.to_string(), entry.span.clone())))
            }
            DeValue::Integer(_) | DeValue::Float(_) => Some(Parameter::Number(self.number_of(entry)?)),
            DeValue::String(text) if text.trim().parse::<f64>().is_ok() => {
                self.number_of(entry);
                None
            }
            _ => {
                let found = self.wrong_type(entry, "a number or the name of an input");
                self.error(found);
                None
            }
        }
    }

    /// A number, or a table that holds one distribution.
    pub(crate) fn number_or_distribution_of(&mut self, entry: &Entry<'_>) -> Option<NumberOrDistribution> {
        let DeValue::Table(table) = entry.value else {
            if matches!(entry.value, DeValue::Integer(_) | DeValue::Float(_)) {
                return self.number_of(entry).map(NumberOrDistribution::Number);
            }
            let found = self.wrong_type(entry, "a number or a distribution").hint(match entry.key {
                "year" => "such as year = 2030 or year = { uniform = { min = 2028, max = 2034 } }".to_owned(),
                key => format!("such as {key} = 0.1 or {key} = {EXAMPLE}"),
            });
            self.error(found);
            return None;
        };
        let mut table = Table::new(&entry.path, table, entry.span.clone());
        let later = table.later(
            self,
            &[(
                "truncate",
                "cut it with `floor` and `ceiling` of the path, or give the distribution to an input",
            )],
        );
        let read = self.one_distribution(table, &entry.path, &entry.span);
        read.filter(|_| later == 0).map(NumberOrDistribution::Distribution)
    }

    /// The one distribution that a table holds, whatever else has been taken from it.
    fn one_distribution(
        &mut self,
        mut table: Table<'_>,
        path: &str,
        span: &Span,
    ) -> Option<DistributionText> {
        let given: Vec<(Entry<'_>, &DistributionKind)> =
            KINDS.iter().filter_map(|k| Some((table.take(k.name)?, *k))).collect();
        let names: Vec<&str> = KINDS.iter().map(|k| k.name).collect();
        let slip = self.slip_of(&table, &names);
        table.finish(self);
        match given.as_slice() {
            [(one, kind)] => self.distribution_of(one, kind),
            [] if slip => None,
            [] => {
                self.error(
                    Diagnostic::error("missing-key", format!("`{path}` holds no distribution"))
                        .at(span.clone(), "")
                        .hint(format!("known: {}", words::listed(&names, "and"))),
                );
                None
            }
            [first, second, ..] => {
                self.error(
                    Diagnostic::error("several-values", format!("`{path}` holds more than one distribution"))
                        .at(second.0.key_span.clone(), "another")
                        .also(first.0.key_span.clone(), "one"),
                );
                None
            }
        }
    }

    /// `{ min, max }`.
    pub(crate) fn truncate_of(&mut self, entry: &Entry<'_>) -> Option<Truncate> {
        let mut table = self.table_of(entry, "truncate = { min = 0, max = 80 }")?;
        let (min, max) = (table.take("min"), table.take("max"));
        let none = min.is_none() && max.is_none() && !self.slip_of(&table, &["min", "max"]);
        let min = min.and_then(|e| self.number_of(&e));
        let max = max.and_then(|e| self.number_of(&e));
        table.finish(self);
        if none {
            self.error(
                Diagnostic::error("missing-key", format!("`{}` has neither `min` nor `max`", entry.path))
                    .at(entry.span.clone(), "")
                    .hint("give one of them or both"),
            );
        }
        self.check_order(min.as_ref(), max.as_ref(), "min", "max");
        Some(Truncate { min, max, span: entry.span.clone() })
    }

    /// Says so when `low` is not below `high`.
    pub(crate) fn check_order(
        &mut self,
        low: Option<&Spanned<f64>>,
        high: Option<&Spanned<f64>>,
        low_name: &str,
        high_name: &str,
    ) {
        let (Some(low), Some(high)) = (low, high) else { return };
        if low.value < high.value {
            return;
        }
        self.error(
            Diagnostic::error("out-of-order", format!("`{low_name}` must be below `{high_name}`"))
                .at(high.span.clone(), format!("`{high_name}` is {}", high.value))
                .also(low.span.clone(), format!("`{low_name}` is {}", low.value)),
        );
    }
}
