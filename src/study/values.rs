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

    /// The entry of a key that belongs elsewhere; it is not among those that are told as known here.
    pub(crate) fn stray(&mut self, key: &str) -> Option<Entry<'v>> {
        let (entry, used) = self.entries.iter_mut().find(|(e, _)| e.key == key)?;
        *used = true;
        Some(entry.clone())
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
