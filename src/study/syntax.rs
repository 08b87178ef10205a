//! What is wrong with a file as TOML, before anything is known about studies.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use crate::diagnostic::{Diagnostic, Span};

/// What the parser found, sorted by place, the first on each line: one slip
/// makes it stumble several times.
pub(crate) fn describe(text: &str, root: &DeTable<'_>, errors: &[toml::de::Error]) -> Vec<Diagnostic> {
    let lines = line_starts(text);
    let mut placed: Vec<(Span, &str)> = errors
        .iter()
        .map(|e| (within(text, e.span().unwrap_or_else(|| deep_line(text))), e.message()))
        .collect();
    placed.sort_by_key(|(span, _)| (span.start, span.end));
    placed.dedup_by_key(|(span, _)| line_of(&lines, span.start));
    // A list that is not closed stumbles over every line after it, and a header given twice over every key.
    placed.dedup_by(|(_, message), (_, before)| message.starts_with(LIST) && before.starts_with(LIST));
    let mut keys = None;
    let mut found = Vec::new();
    let mut header_twice: Option<usize> = None;
    let n_placed = placed.len();
    for (i, (span, message)) in placed.into_iter().enumerate() {
        if found.len() == MAX_SYNTAX_ERRORS {
            let message = format!("{} more lines cannot be read", n_placed - i);
            found.push(Diagnostic::error("syntax", message).at(span, "the next of them"));
            break;
        }
        if !message.starts_with("duplicate key") {
            found.push(syntax_error(text, span, message));
            continue;
        }
        let at = line_of(&lines, span.start);
        let below_header = header_twice.is_some_and(|first| {
            lines.get(first + 1..=at).is_some_and(|l| !l.iter().any(|s| is_header(text, *s)))
        });
        if below_header {
            continue;
        }
        let start = lines.get(at).copied().unwrap_or_default();
        header_twice = is_header(text, start).then_some(at);
        let first = if header_twice.is_some() {
            same_header(text, &lines, at)
                .map(|first| first + (span.start - start)..first + (span.end - start))
        } else {
            earlier_key(text, &span, keys.get_or_insert_with(|| key_places(root)))
        };
        found.push(duplicate(text, span, first));
    }
    found
}

/// A file with more syntax errors than this is no study; the rest is counted as one.
const MAX_SYNTAX_ERRORS: usize = 200;

/// How the parser says that a list goes on where it should not.
const LIST: &str = "missing comma between array elements";

/// Whether tables after such an error may hold keys that were meant for others.
pub(crate) fn unsettles(text: &str, span: &Span) -> bool {
    let start = text.get(..span.start).and_then(|t| t.rfind('\n')).map_or(0, |n| n + 1);
    let line = line_at(text, start);
    !line.contains('=') || is_header(text, start) || line.contains("\"\"\"") || line.contains("'''")
}

fn line_at(text: &str, start: usize) -> &str {
    text.get(start..).and_then(|t| t.lines().next()).unwrap_or_default()
}

fn is_header(text: &str, line_start: usize) -> bool {
    line_at(text, line_start).trim_start().starts_with('[')
}

/// Start of the line above line `at` that is the same header.
fn same_header(text: &str, lines: &[usize], at: usize) -> Option<usize> {
    let header = |start: usize| line_at(text, start).split_once(']').map(|(h, _)| h);
    let wanted = header(*lines.get(at)?)?;
    lines.iter().take(at).copied().find(|start| header(*start) == Some(wanted))
}

/// The line that the parser found too deep but gave no place for.
fn deep_line(text: &str) -> Span {
    let deep = |line: &&str| line.matches('.').count() >= 80;
    let Some(line) = text.lines().find(deep) else { return 0..0 };
    // OK because lines() gives slices of the text itself.
    let start = line.as_ptr() as usize - text.as_ptr() as usize;
    start..start + line.len()
}

fn syntax_error(text: &str, span: Span, message: &str) -> Diagnostic {
    let around = |range: Span| text.get(range).unwrap_or_default();
    let rest = around(span.start..text.len());
    let (what, hint) = match message {
        m if m.contains("recurs") => {
            ("lists and tables are nested too deeply", "a study never needs more than a few levels")
        }
        m if m.starts_with(LIST) || m.starts_with("unclosed array") => {
            ("a comma or a closing bracket is missing in this list", "a list reads: [1, 2, 3]")
        }
        m if m.starts_with("unclosed table") => {
            ("this heading is not closed", "a heading reads: [inputs.people]")
        }
        m if m.starts_with("string values must be quoted") && around(span.clone()).trim().is_empty() => {
            ("a value is missing here", "each line reads: key = value")
        }
        m if m.starts_with("string values must be quoted")
            && rest.starts_with(['“', '”', '„', '‘', '’', '«']) =>
        {
            ("text stands between straight quotes", "write \" at both ends")
        }
        m if m.starts_with("string values must be quoted") => (
            "this is neither a number nor text between quotes",
            "text stands between quotes, units in a line of their own: unit = \"EUR\"",
        ),
        m if m.contains("string") && m.contains("visible") => {
            ("a character that cannot be seen stands in this text", "delete it and type it anew")
        }
        m if m.contains("string") && m.contains("expected `") => {
            ("this text is not closed", "text stands between quotes: title = \"Harbour Row\"")
        }
        m if m.starts_with("key with no value") => {
            ("this line gives no value", "each line reads: key = value")
        }
        m if m.starts_with("invalid key-value pair") => {
            ("a key is missing here", "each line reads: key = value")
        }
        m if m.starts_with("unexpected key or value") && rest.starts_with(',') => (
            "a second value stands here",
            "numbers have a decimal point: 12.5; lists stand in square brackets: [12, 5]",
        ),
        m => return Diagnostic::error("syntax", format!("this cannot be read: {m}")).at(span, ""),
    };
    Diagnostic::error("syntax", what).at(span, "").hint(hint)
}

fn duplicate(text: &str, span: Span, first: Option<Span>) -> Diagnostic {
    let name = text.get(span.clone()).unwrap_or_default().trim_matches(['"', '\'']);
    let found = Diagnostic::error("duplicate-name", format!("`{name}` is given twice"))
        .at(span, "again here")
        .hint("keep one of them, or rename one");
    match first {
        Some(first) => found.also(first, "first here"),
        None => found,
    }
}

/// The parser keeps the first place to itself; a single earlier key of that name must be it.
fn earlier_key(text: &str, span: &Span, keys: &BTreeMap<String, Vec<Span>>) -> Option<Span> {
    let name = text.get(span.clone())?.trim_matches(['"', '\'']);
    let mut earlier = keys.get(name)?.iter().filter(|s| s.start < span.start);
    let first = earlier.next()?;
    earlier.next().is_none().then(|| first.clone())
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
