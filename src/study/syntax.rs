//! What is wrong with a file as TOML, before anything is known about studies.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use crate::diagnostic::{Diagnostic, Span};

/// What the parser found, sorted by place, the first on each line: one slip
/// makes it stumble several times.
pub(crate) fn describe(text: &str, root: &DeTable<'_>, errors: &[toml::de::Error]) -> Vec<Diagnostic> {
    let lines = line_starts(text);
    let mut placed: Vec<(Span, &str)> =
        errors.iter().map(|e| (within(text, e.span().unwrap_or(0..0)), e.message())).collect();
    placed.sort_by_key(|(span, _)| (span.start, span.end));
    placed.dedup_by_key(|(span, _)| line_of(&lines, span.start));
    let mut keys = None;
    placed
        .into_iter()
        .map(|(span, message)| {
            if message.starts_with("duplicate key") {
                let keys = keys.get_or_insert_with(|| key_places(root));
                duplicate(text, span, keys)
            } else {
                syntax_error(span, message)
            }
        })
        .collect()
}

/// Whether tables after such an error may hold keys that were meant for others.
pub(crate) fn unsettles(text: &str, span: &Span) -> bool {
    let start = text.get(..span.start).and_then(|t| t.rfind('\n')).map_or(0, |n| n + 1);
    let line = text.get(start..).and_then(|t| t.lines().next()).unwrap_or_default();
    !line.contains('=')
        || line.trim_start().starts_with('[')
        || line.contains("\"\"\"")
        || line.contains("'''")
}

fn syntax_error(span: Span, message: &str) -> Diagnostic {
    let found = Diagnostic::error("syntax", format!("this cannot be read: {message}")).at(span, "");
    if message.contains("recursion limit") {
        return Diagnostic { message: "lists and tables are nested too deeply".to_owned(), ..found }
            .hint("a study never needs more than a few levels");
    }
    match message {
        m if m.contains("string") => found.hint("text stands between quotes: title = \"Harbour Row\""),
        m if m.contains("bare key") || m.contains("key-value") || m.contains("expected `=`") => {
            found.hint("each line reads: key = value")
        }
        m if m.contains("number") || m.contains("integer") || m.contains("float") => {
            found.hint("numbers have a decimal point and no unit: 0.12")
        }
        _ => found,
    }
}

fn duplicate(text: &str, span: Span, keys: &BTreeMap<String, Vec<Span>>) -> Diagnostic {
    let key = text.get(span.clone()).unwrap_or_default();
    let name = key.trim_matches(['"', '\'']);
    let found = Diagnostic::error("duplicate-name", format!("`{name}` is given twice"))
        .at(span.clone(), "again here")
        .hint("keep one of them, or rename one");
    // Only the message of the parser is public, not the first place; a single earlier key of that name must be it.
    let earlier: Vec<&Span> = keys.get(name).into_iter().flatten().filter(|s| s.start < span.start).collect();
    match earlier.as_slice() {
        [first] => found.also((*first).clone(), "first here"),
        _ => found,
    }
}

/// Where each key stands.
fn key_places(root: &DeTable<'_>) -> BTreeMap<String, Vec<Span>> {
    let mut places: BTreeMap<String, Vec<Span>> = BTreeMap::new();
    let mut open: Vec<&DeTable<'_>> = vec![root];
    while let Some(table) = open.pop() {
        for (key, value) in table {
            places.entry(key.get_ref().to_string()).or_default().push(key.span());
            match value.get_ref() {
                DeValue::Table(inner) => open.push(inner),
                DeValue::Array(items) => {
                    open.extend(items.iter().filter_map(|i| i.get_ref().as_table()));
                }
                _ => {}
            }
        }
    }
    places
}

/// `span`, moved to characters that are there.
pub(crate) fn within(text: &str, span: Span) -> Span {
    let mut start = span.start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = span.end.clamp(start, text.len());
    while !text.is_char_boundary(end) {
        end += 1;
    }
    start..end
}

/// Where each line begins.
pub(crate) fn line_starts(text: &str) -> Vec<usize> {
    std::iter::once(0)
        .chain(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1))
        .collect()
}

/// Number of the line, from 0, that holds byte `at`.
pub(crate) fn line_of(starts: &[usize], at: usize) -> usize {
    starts.partition_point(|s| *s <= at).saturating_sub(1)
}
