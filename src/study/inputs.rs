//! `[inputs]`: named quantities.

use toml::de::DeValue;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::sampling::distributions::catalogue::{self, KINDS};
use crate::study::schema::{Base, ForReader, Input, InputValue};
use crate::study::values::{Entry, Reader, Table};
use crate::study::words;

/// Keys that say what value an input has, besides the distributions.
pub(super) const PLAIN: [&str; 4] = ["value", "monthly", "labels", "choice"];

/// Most values of a choice; each is answered by itself.
const MAX_CHOICES: usize = 100;

const EXAMPLE: &str = "[inputs.people] with the line value = 3 below it";

impl Reader<'_> {
    /// All of `[inputs]`, in file order.
    pub(crate) fn inputs_of(&mut self, entry: &Entry<'_>) -> Vec<Input> {
        self.named_tables(entry, "inputs", EXAMPLE)
            .into_iter()
            .filter_map(|(name, table)| {
                let input = self.input_of(name, table);
                self.whole &= input.is_some();
                input
            })
            .collect()
    }

    /// Tables under names that formulas may use.
    pub(crate) fn named_tables<'v>(
        &mut self,
        entry: &Entry<'v>,
        section: &'static str,
        example: &str,
    ) -> Vec<(Spanned<String>, Table<'v>)> {
        let Some(mut table) = self.table_of(entry, example) else {
            self.whole = false;
            return Vec::new();
        };
        let mut read = Vec::new();
        for entry in table.take_all() {
            let name = self.name_of(&entry, section);
            match self.table_of(&entry, example) {
                Some(table) => read.extend(name.map(|name| (name, table))),
                None => self.whole = false,
            }
        }
        read
    }

    /// `label`, `note`, `source`, `as_of`, `group`, `revealed`.
    pub(crate) fn about_of(&mut self, table: &mut Table<'_>) -> ForReader {
        let mut text = |key| table.take(key).and_then(|e| self.text_of(&e));
        let (label, note, source, group) = (text("label"), text("note"), text("source"), text("group"));
        let as_of = table.take("as_of").and_then(|e| match e.value {
            // A date may stand without quotes.
            DeValue::Datetime(date) => Some(Spanned::new(date.to_string(), e.span)),
            _ => self.text_of(&e),
        });
        let revealed = table.take("revealed");
        let revealed_later = revealed.and_then(|e| self.word_of(&e, &[("later", true)])).is_some();
        ForReader { label, note, source, as_of, group, revealed_later }
    }

    /// A unit; blank is an error, because leaving it out says the same.
    pub(crate) fn unit_of(&mut self, table: &mut Table<'_>) -> Option<Spanned<String>> {
        table.take("unit").and_then(|e| self.full_text_of(&e))
    }

    fn input_of(&mut self, name: Spanned<String>, mut table: Table<'_>) -> Option<Input> {
        let about = self.about_of(&mut table);
        let unit = self.unit_of(&mut table);
        let base = table.take("base");
        let truncate = table.take("truncate");
        let varies = table.take("varies");
        let between_homes = varies.and_then(|e| self.word_of(&e, &[("between homes", true)])).is_some();
        let weights = table.take("weights");
        let money = self.prices_of(&mut table, "money");
        let changes = table.take("changes").map_or_else(Vec::new, |e| self.changes_of(&e));
        let mut given: Vec<Entry<'_>> = PLAIN.iter().filter_map(|k| table.take(k)).collect();
        given.extend(KINDS.iter().filter_map(|k| table.take(k.name)));
        given.sort_by_key(|e| e.key_span.start);
        let later = table.later(self, &[("shape", "`triangular` needs no percentiles besides p10 and p90")]);
        let value_keys: Vec<&str> = PLAIN.iter().copied().chain(KINDS.iter().map(|k| k.name)).collect();
        let slip = given.is_empty() && self.slip_of(&table, &value_keys);
        let (path, span) = (table.path.clone(), table.span.clone());
        table.finish(self);
        let one = match given.as_slice() {
            [one] => one,
            [] if later > 0 || slip => return None,
            [] => {
                self.error(
                    Diagnostic::error("no-value", format!("`{path}` does not say what value it has"))
                        .at(span, "")
                        .hint(format!("give one of {}", words::listed(&value_keys, "or"))),
                );
                return None;
            }
            [first, rest @ ..] => {
                let keys: Vec<&str> = given.iter().map(|e| e.key).collect();
                let mut found = Diagnostic::error(
                    "several-values",
                    format!("`{path}` says {} at once", words::listed(&keys, "and")),
                )
                .at(rest[0].key_span.clone(), "another")
                .also(first.key_span.clone(), "one");
                for more in &rest[1..] {
                    found = found.also(more.key_span.clone(), "another");
                }
                self.error(found.hint("keep the one that you mean"));
                return None;
            }
        };
        let value = self.input_value_of(one, weights)?;
        let truncate = truncate.and_then(|e| self.truncate_for(&e, &value));
        let base = base.and_then(|e| self.base_for(&e, &value));
        self.check_unit_of_labels(unit.as_ref(), &value);
        Some(Input { name, about, unit, value, truncate, base, between_homes, money, changes })
    }

    fn input_value_of(&mut self, entry: &Entry<'_>, weights: Option<Entry<'_>>) -> Option<InputValue> {
        if let (Some(w), true) = (&weights, entry.key != "labels") {
            self.error(
                Diagnostic::error("misplaced-key", "`weights` beside a value belong to `labels`".to_owned())
                    .at(w.key_span.clone(), "")
                    .hint(
                        "a distribution has its weights inside: discrete = { values = [..], weights = [..] }",
                    ),
            );
        }
        match entry.key {
            "value" => self.number_of(entry).map(InputValue::Known),
            "monthly" => self.monthly_of(entry),
            "labels" => self.labels_of(entry, weights),
            "choice" => self.choice_of(entry),
            name => {
                let kind = catalogue::kind(name)?;
                self.distribution_of(entry, kind).map(InputValue::Distribution)
            }
        }
    }

    fn monthly_of(&mut self, entry: &Entry<'_>) -> Option<InputValue> {
        let values = self.numbers_of(entry)?;
        if values.len() == 12 {
            return Some(InputValue::Monthly(values, entry.span.clone()));
        }
        self.error(
            Diagnostic::error("wrong-length", format!("`{}` needs twelve values, January first", entry.path))
                .at(entry.span.clone(), format!("these are {}", values.len())),
        );
        None
    }

    /// `labels = ["a", "b"]` with `weights` beside it, or `labels = { values, weights }`.
    fn labels_of(&mut self, entry: &Entry<'_>, beside: Option<Entry<'_>>) -> Option<InputValue> {
        let (values, weights) = match entry.value {
            DeValue::Table(_) => {
                let mut table = self.table_of(entry, "")?;
                let values = self.require(&mut table, "values", "values = [\"gas\", \"electricity\"]");
                let weights = table.take("weights").or(beside);
                table.finish(self);
                (values.and_then(|e| self.texts_of(&e))?, weights)
            }
            _ => (self.texts_of(entry)?, beside),
        };
        let weights = match weights {
            Some(e) => Some(self.weights_of(&e, values.len())?),
            None => None,
        };
        Some(InputValue::Labels { values, weights, span: entry.span.clone() })
    }

    fn weights_of(&mut self, entry: &Entry<'_>, n_labels: usize) -> Option<Vec<Spanned<f64>>> {
        let weights = self.numbers_of(entry)?;
        let fail = |id, message: &str, label: String| {
            Diagnostic::error(id, format!("`{}` {message}", entry.path)).at(entry.span.clone(), label)
        };
        let found = if weights.len() != n_labels {
            fail(
                "wrong-length",
                &format!("needs a weight for each of {n_labels} labels"),
                format!("these are {}", weights.len()),
            )
        } else if let Some(low) = weights.iter().find(|w| w.value < 0.0) {
            Diagnostic::error("out-of-range", "a weight cannot be below zero".to_owned())
                .at(low.span.clone(), "")
        } else if weights.iter().all(|w| w.value == 0.0) {
            fail("out-of-range", "are all zero", String::new()).hint("at least one label needs a weight")
        } else {
            return Some(weights);
        };
        self.error(found);
        None
    }

    fn choice_of(&mut self, entry: &Entry<'_>) -> Option<InputValue> {
        let items = self.items_of(entry, "a list of numbers or of labels")?;
        if items.iter().all(|i| matches!(i.value, DeValue::String(_))) {
            return self.texts_of(entry).map(|v| InputValue::ChoiceOfLabels(v, entry.span.clone()));
        }
        if let (Some(text), true) = (
            items.iter().find(|i| matches!(i.value, DeValue::String(_))),
            items.iter().any(|i| matches!(i.value, DeValue::Integer(_) | DeValue::Float(_))),
        ) {
            self.error(
                Diagnostic::error("wrong-type", format!("`{}` mixes numbers and labels", entry.path))
                    .at(text.span.clone(), "this is text")
                    .hint("a choice is between numbers or between labels"),
            );
            return None;
        }
        if items.len() > MAX_CHOICES {
            self.error(
                Diagnostic::error(
                    "wrong-length",
                    format!("`{}` has more than {MAX_CHOICES} values", entry.path),
                )
                .at(entry.span.clone(), format!("these are {}", items.len()))
                .hint("every value of a choice is answered by itself"),
            );
            return None;
        }
        let numbers = self.numbers_of(entry)?;
        for (i, number) in numbers.iter().enumerate() {
            if let Some(first) = numbers.iter().take(i).find(|n| n.value == number.value) {
                self.error(
                    Diagnostic::error("listed-twice", format!("{} is listed twice", number.value))
                        .at(number.span.clone(), "")
                        .also(first.span.clone(), "first here"),
                );
                return None;
            }
        }
        Some(InputValue::ChoiceOfNumbers(numbers, entry.span.clone()))
    }

    fn truncate_for(&mut self, entry: &Entry<'_>, value: &InputValue) -> Option<crate::study::Truncate> {
        if matches!(value, InputValue::Distribution(_)) {
            return self.truncate_of(entry);
        }
        self.error(
            Diagnostic::error(
                "misplaced-key",
                "`truncate` cuts a distribution, and there is none here".to_owned(),
            )
            .at(entry.key_span.clone(), "")
            .hint("leave it out"),
        );
        None
    }

    fn base_for(&mut self, entry: &Entry<'_>, value: &InputValue) -> Option<Base> {
        match value {
            InputValue::Known(_) | InputValue::Monthly(..) => {
                self.error(
                    Diagnostic::error("misplaced-key", "a known value needs no `base`".to_owned())
                        .at(entry.key_span.clone(), "")
                        .hint("leave it out: the value itself is the base value"),
                );
                None
            }
            InputValue::Labels { values, .. } | InputValue::ChoiceOfLabels(values, _) => {
                let known: Vec<(&str, ())> = values.iter().map(|v| (v.value.as_str(), ())).collect();
                self.word_of(entry, &known)?;
                self.text_of(entry).map(Base::Label)
            }
            InputValue::ChoiceOfNumbers(values, span) => {
                let base = self.number_of(entry)?;
                if !values.iter().any(|v| v.value == base.value) {
                    self.error(
                        Diagnostic::error(
                            "base-not-listed",
                            "the base value must be one of the choice".to_owned(),
                        )
                        .at(base.span.clone(), "")
                        .also(span.clone(), "the choice"),
                    );
                }
                Some(Base::Number(base))
            }
            InputValue::Distribution(_) => self.number_of(entry).map(Base::Number),
        }
    }

    fn check_unit_of_labels(&mut self, unit: Option<&Spanned<String>>, value: &InputValue) {
        let (Some(unit), InputValue::Labels { .. } | InputValue::ChoiceOfLabels(..)) = (unit, value) else {
            return;
        };
        self.error(
            Diagnostic::error("misplaced-key", "labels have no unit".to_owned())
                .at(unit.span.clone(), "")
                .hint("leave `unit` out"),
        );
    }
}
