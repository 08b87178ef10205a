//! Typed reading of single values: what is there, and what would be right.

use std::collections::BTreeMap;

use toml::Spanned as TomlSpanned;
use toml::de::{DeArray, DeTable, DeValue};

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::study::words;

/// Collects what is wrong while the tables are walked.
pub(crate) struct Reader<'t> {
    /// The study.
    pub(crate) text: &'t str,
    /// What is wrong so far.
    pub(crate) found: Vec<Diagnostic>,
    /// Nothing with a name had to be left out, so later stages may look at the
    /// rest without blaming the user for what this one dropped.
    pub(crate) whole: bool,
    /// Every name given so far, with its place and section.
    pub(crate) names: BTreeMap<String, (Span, &'static str)>,
}

/// From this many errors on, no more pains are taken over suggestions: only the first few are shown.
const MANY_ERRORS: usize = 500;

/// A key with its value.
#[derive(Clone)]
pub(crate) struct Entry<'v> {
    pub(crate) key: &'v str,
    pub(crate) key_span: Span,
    pub(crate) value: &'v DeValue<'v>,
    pub(crate) span: Span,
    /// Dotted path, for messages.
    pub(crate) path: String,
}

/// A table whose keys are asked for one by one; what nobody asked for is unknown.
pub(crate) struct Table<'v> {
    pub(crate) path: String,
    pub(crate) span: Span,
    entries: Vec<(Entry<'v>, bool)>,
    asked: Vec<&'static str>,
}

impl<'v> Table<'v> {
    pub(crate) fn new(path: &str, table: &'v DeTable<'v>, span: Span) -> Self {
        let mut entries: Vec<(Entry<'v>, bool)> = table
            .iter()
            .map(|(key, value)| {
                let name: &str = key.get_ref();
                let entry = Entry {
                    key: name,
                    key_span: key.span(),
                    value: value.get_ref(),
                    span: value.span(),
                    path: if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") },
                };
                (entry, false)
            })
            .collect();
        entries.sort_by_key(|(e, _)| e.key_span.start);
        Table { path: path.to_owned(), span, entries, asked: Vec::new() }
    }

    /// The value of `key`.
    pub(crate) fn take(&mut self, key: &'static str) -> Option<Entry<'v>> {
        self.asked.push(key);
        let (entry, used) = self.entries.iter_mut().find(|(e, _)| e.key == key)?;
        *used = true;
        Some(entry.clone())
    }

    /// All entries, for tables whose keys are free names.
    pub(crate) fn take_all(&mut self) -> Vec<Entry<'v>> {
        self.entries
            .iter_mut()
            .map(|(e, used)| {
                *used = true;
                e.clone()
            })
            .collect()
    }

    /// Of those keys that are there but that this version does not know yet.
    pub(crate) fn later(&mut self, reader: &mut Reader, later: &[(&str, &str)]) -> usize {
        let mut count = 0;
        for (entry, used) in &mut self.entries {
            let Some((_, instead)) = later.iter().find(|(k, _)| *k == entry.key) else { continue };
            *used = true;
            count += 1;
            reader.not_yet(&format!("`{}`", entry.path), entry.key_span.clone(), instead);
        }
        count
    }

    /// Whether an unasked key looks like a slip of one of `known`.
    fn has_slip_of(&self, known: &[&str]) -> bool {
        let unknown = self.entries.iter().filter(|(_, used)| !used).take(MANY_ERRORS);
        unknown
            .map(|(e, _)| words::nearest(e.key, &self.asked))
            .any(|near| near.is_some_and(|n| known.contains(&n)))
    }

    /// Every key that nobody asked for is an error.
    pub(crate) fn finish(self, reader: &mut Reader) {
        let whose = if self.path.is_empty() { "a study".to_owned() } else { format!("`{}`", self.path) };
        for (entry, _) in self.entries.iter().filter(|(_, used)| !used) {
            let found = Diagnostic::error("unknown-key", format!("{whose} has no key `{}`", entry.key))
                .at(entry.key_span.clone(), "");
            if reader.found.len() > MANY_ERRORS {
                reader.found.push(found);
                continue;
            }
            let found = match words::nearest(entry.key, &self.asked) {
                Some(near) => found.hint(format!("did you mean `{near}`?")),
                None => {
                    let mut asked = self.asked.clone();
                    asked.sort_unstable();
                    asked.dedup();
                    found.hint(format!("known here: {}", words::listed(&asked, "and")))
                }
            };
            reader.found.push(found);
        }
    }
}

impl<'v> Entry<'v> {
    /// The items of a list, each named like the list.
    fn items(&self, list: &'v DeArray<'v>) -> Vec<Entry<'v>> {
        list.iter()
            .enumerate()
            .map(|(i, item): (usize, &TomlSpanned<DeValue<'_>>)| Entry {
                key: self.key,
                key_span: self.key_span.clone(),
                value: item.get_ref(),
                span: item.span(),
                path: format!("{}[{}]", self.path, i + 1),
            })
            .collect()
    }
}

/// What is there, in words.
pub(crate) fn what_is(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

impl Reader<'_> {
    /// Notes an error.
    pub(crate) fn error(&mut self, found: Diagnostic) {
        self.found.push(found);
    }

    /// A feature of the study language that this version does not have.
    pub(crate) fn not_yet(&mut self, what: &str, span: Span, instead: &str) {
        self.whole = false;
        self.error(
            Diagnostic::error("not-yet", format!("{what} is not supported by this version"))
                .at(span, "")
                .hint(instead),
        );
    }

    /// Says that `entry` is of the wrong type.
    pub(crate) fn wrong_type(&mut self, entry: &Entry<'_>, wanted: &str) -> Diagnostic {
        Diagnostic::error("wrong-type", format!("`{}` must be {wanted}", entry.path))
            .at(entry.span.clone(), format!("this is {}", what_is(entry.value)))
    }

    /// A required key; `wanted` says what belongs there.
    pub(crate) fn require<'v>(
        &mut self,
        table: &mut Table<'v>,
        key: &'static str,
        example: &str,
    ) -> Option<Entry<'v>> {
        let entry = table.take(key);
        if entry.is_none() {
            self.missing(table, key, example);
        }
        entry
    }

    /// Says that `key` is missing, unless a slip of it is there and told anyway.
    pub(crate) fn missing(&mut self, table: &Table<'_>, key: &'static str, example: &str) {
        self.whole = false;
        if self.slip_of(table, &[key]) {
            return;
        }
        let found = if table.path.is_empty() {
            Diagnostic::error("missing-key", format!("the study has no `{key}`"))
        } else {
            Diagnostic::error("missing-key", format!("`{}` has no `{key}`", table.path))
                .at(table.span.clone(), "")
        };
        self.error(found.hint(format!("add a line such as: {example}")));
    }

    /// Whether what is missing may be there under a misspelt key, which is told anyway.
    pub(crate) fn slip_of(&self, table: &Table<'_>, known: &[&str]) -> bool {
        self.found.len() > MANY_ERRORS || table.has_slip_of(known)
    }

    /// Text.
    pub(crate) fn text_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<String>> {
        if let DeValue::String(s) = entry.value {
            return Some(Spanned::new(s.to_string(), entry.span.clone()));
        }
        let found = self.wrong_type(entry, "text");
        let found = match entry.value {
            DeValue::Array(_) | DeValue::Table(_) => found,
            _ => {
                let written = self.text.get(entry.span.clone()).unwrap_or_default();
                found.hint(format!("put it between quotes: \"{written}\""))
            }
        };
        self.error(found);
        None
    }

    /// Text that is not blank.
    pub(crate) fn full_text_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<String>> {
        let text = self.text_of(entry)?;
        if !text.value.trim().is_empty() {
            return Some(text);
        }
        self.error(
            Diagnostic::error("empty", format!("`{}` is blank", entry.path))
                .at(entry.span.clone(), "")
                .hint("say something, or leave the line out where it is not required"),
        );
        None
    }

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

    /// The items of a list; a single value is not taken for a list of one.
    pub(crate) fn items_of<'v>(&mut self, entry: &Entry<'v>, wanted: &str) -> Option<Vec<Entry<'v>>> {
        let DeValue::Array(list) = entry.value else {
            let found =
                self.wrong_type(entry, wanted).hint("lists stand in square brackets, with commas between");
            self.error(found);
            return None;
        };
        if list.is_empty() {
            self.error(
                Diagnostic::error("empty", format!("`{}` is an empty list", entry.path))
                    .at(entry.span.clone(), ""),
            );
            return None;
        }
        Some(entry.items(list))
    }

    /// A list of numbers; none if any of them is wrong.
    pub(crate) fn numbers_of(&mut self, entry: &Entry<'_>) -> Option<Vec<Spanned<f64>>> {
        let items = self.items_of(entry, "a list of numbers")?;
        let read: Vec<_> = items.iter().map(|i| self.number_of(i)).collect();
        read.into_iter().collect()
    }

    /// A list of texts, no two alike.
    pub(crate) fn texts_of(&mut self, entry: &Entry<'_>) -> Option<Vec<Spanned<String>>> {
        let items = self.items_of(entry, "a list of texts")?;
        let read: Vec<_> = items.iter().map(|i| self.full_text_of(i)).collect();
        let texts: Vec<Spanned<String>> = read.into_iter().collect::<Option<_>>()?;
        let mut seen = BTreeMap::new();
        for text in &texts {
            if let Some(first) = seen.insert(text.value.as_str(), text.span.clone()) {
                self.error(
                    Diagnostic::error("listed-twice", format!("`{}` is listed twice", text.value))
                        .at(text.span.clone(), "")
                        .also(first, "first here"),
                );
                return None;
            }
        }
        Some(texts)
    }

    /// One of some fixed texts.
    pub(crate) fn word_of<T: Copy>(&mut self, entry: &Entry<'_>, words: &[(&str, T)]) -> Option<Spanned<T>> {
        let text = self.text_of(entry)?;
        if let Some((_, value)) = words.iter().find(|(w, _)| *w == text.value) {
            return Some(Spanned::new(*value, text.span));
        }
        let known: Vec<&str> = words.iter().map(|(w, _)| *w).collect();
        let found =
            Diagnostic::error("unknown-word", format!("`{}` cannot be \"{}\"", entry.path, text.value))
                .at(text.span, "");
        self.error(match words::nearest(&text.value, &known) {
            Some(near) => found.hint(format!("did you mean \"{near}\"?")),
            None => found.hint(format!("it is one of {}", words::listed(&known, "and").replace('`', "\""))),
        });
        None
    }

    /// A table.
    pub(crate) fn table_of<'v>(&mut self, entry: &Entry<'v>, example: &str) -> Option<Table<'v>> {
        if let DeValue::Table(table) = entry.value {
            return Some(Table::new(&entry.path, table, entry.span.clone()));
        }
        let found = self.wrong_type(entry, "a table").hint(format!("such as {example}"));
        self.error(found);
        None
    }

    /// A list of tables.
    pub(crate) fn tables_of<'v>(&mut self, entry: &Entry<'v>) -> Vec<Table<'v>> {
        let DeValue::Array(list) = entry.value else {
            let found = self
                .wrong_type(entry, "a list of tables")
                .hint(format!("begin each with [[{}]], in double brackets", entry.path));
            self.error(found);
            return Vec::new();
        };
        let items = entry.items(list);
        items.iter().filter_map(|item| self.table_of(item, "{ key = value }")).collect()
    }

    /// Notes the name of an input, path, working or result; false if it cannot be one.
    pub(crate) fn name_of(&mut self, entry: &Entry<'_>, section: &'static str) -> Option<Spanned<String>> {
        if let Some(found) = words::check_name(entry.key, entry.key_span.clone()) {
            self.whole = false;
            self.error(found);
            return None;
        }
        if let Some((first, other)) = self.names.get(entry.key) {
            let found =
                Diagnostic::error("duplicate-name", format!("`{}` is the name of two things", entry.key))
                    .at(entry.key_span.clone(), format!("again in {section}"))
                    .also(first.clone(), format!("first in {other}"))
                    .hint("inputs, paths, workings and results share their names: rename one of them");
            self.whole = false;
            self.error(found);
        } else {
            self.names.insert(entry.key.to_owned(), (entry.key_span.clone(), section));
        }
        Some(Spanned::new(entry.key.to_owned(), entry.key_span.clone()))
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
        if i > 0 && (digits.len() - i) % 3 == 0 {
            out.push(',');
        }
        out.push(c);
    }
    if n < 0 { format!("-{out}") } else { out }
}
