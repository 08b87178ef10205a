//! Two study files laid side by side, entry by entry: what was added, removed or changed. Any set of the differences can be
//! put into the first, which gives the text of a study between the two. Only the file's own order and values are known
//! here: what they mean is not.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use toml_edit::{Array, Document, InlineTable, Item, Value};

/// Sections whose entries are named things, each a difference of its own.
const NAMED: [&str; 8] =
    ["units", "inputs", "paths", "hotwater", "workings", "results", "alternatives", "sampling"];
/// Sections that ask more of the runs, or speak to the reader, and change no result.
const QUESTIONS: [&str; 9] = [
    "break_even",
    "comparison",
    "indices",
    "measurements",
    "conditions",
    "claim",
    "groups",
    "alternatives",
    "headline",
];
/// What only the reader sees.
const WORDS: [&str; 8] = ["title", "question", "report", "label", "note", "source", "as_of", "group"];
/// Sampling keys that do not say how runs are drawn.
const NOT_DRAWING: [&str; 1] = ["repair"];

/// An entry of a study.
#[derive(Debug, Clone)]
struct Entry {
    section: String,
    name: String,
    value: Value,
    line: usize,
}

/// What was done to an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Done {
    /// Only the second study has it.
    Added,
    /// Only the first study has it.
    Removed,
    /// Both have it, otherwise.
    Changed,
}

/// What a difference can bear on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Bearing {
    /// The results.
    Results,
    /// How the runs are drawn.
    Drawing,
    /// What else is asked of the runs.
    Questions,
    /// What the reader is told.
    Words,
}

/// A key of an entry, before and after; "" where it is not there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Detail {
    /// Such as `pert.mode`.
    pub key: String,
    /// In the first study.
    pub old: String,
    /// In the second.
    pub new: String,
}

/// A difference between two studies.
#[derive(Debug, Clone)]
pub struct Difference {
    /// `inputs`, `workings`, or a key of the study itself; `data` for a data file.
    pub section: String,
    /// Name within the section; "" where the section is one entry.
    pub name: String,
    /// Added, removed or changed.
    pub done: Done,
    /// What it can bear on.
    pub bearing: Bearing,
    /// Key by key.
    pub details: Vec<Detail>,
    /// Line in the first study.
    pub line_a: Option<usize>,
    /// Line in the second.
    pub line_b: Option<usize>,
    old: Option<Value>,
    new: Option<Value>,
}

/// Two studies, side by side.
#[derive(Debug, Clone)]
pub struct SideBySide {
    first: Vec<Entry>,
    /// In the order of the second study, then what was removed.
    pub differences: Vec<Difference>,
}

impl SideBySide {
    /// Of two texts that are sound studies; none where one is no TOML.
    pub fn new(a: &str, b: &str) -> Option<SideBySide> {
        let (first, second) = (entries(a)?, entries(b)?);
        let at = |list: &'_ [Entry], e: &Entry| {
            list.iter().position(|other| other.section == e.section && other.name == e.name)
        };
        let mut differences = Vec::new();
        for new in &second {
            let old = at(&first, new).map(|k| &first[k]);
            if old.is_none_or(|old| !same(&old.value, &new.value)) {
                differences.push(Difference::new(old, Some(new)));
            }
        }
        let removed = first.iter().filter(|old| at(&second, old).is_none());
        differences.extend(removed.map(|old| Difference::new(Some(old), None)));
        Some(SideBySide { first, differences })
    }

    /// Two studies of which nothing is known.
    pub fn nothing() -> SideBySide {
        SideBySide { first: Vec::new(), differences: Vec::new() }
    }

    /// The first study with the differences of these numbers put in, without what asks more of the runs and without
    /// what says how many there are: enough to work out results.
    pub fn between(&self, put: &BTreeSet<usize>) -> String {
        let mut entries = self.first.clone();
        for difference in put.iter().filter_map(|&k| self.differences.get(k)) {
            let here =
                entries.iter().position(|e| e.section == difference.section && e.name == difference.name);
            match (here, &difference.new) {
                (Some(k), Some(new)) => entries[k].value = new.clone(),
                (Some(k), None) => drop(entries.remove(k)),
                (None, Some(new)) => entries.push(Entry {
                    section: difference.section.clone(),
                    name: difference.name.clone(),
                    value: new.clone(),
                    line: 0,
                }),
                (None, None) => {}
            }
        }
        written(entries.into_iter().filter(is_for_results))
    }
}

/// Text of a study without what asks more of the runs: enough to work out its results, drawn as it says.
pub fn for_results(text: &str) -> Option<String> {
    Some(written(entries(text)?.into_iter().filter(is_for_results)))
}

/// Runs, seed, replicates and dimensions come from the design, not from the text.
fn is_for_results(entry: &Entry) -> bool {
    let of_design = ["runs", "seed", "replicates", "dimensions", "until"];
    !QUESTIONS.contains(&entry.section.as_str())
        && entry.section != "report"
        && !(entry.section == "sampling" && of_design.contains(&entry.name.as_str()))
}

impl Difference {
    fn new(old: Option<&Entry>, new: Option<&Entry>) -> Self {
        let (section, name) = old.or(new).map(|e| (e.section.clone(), e.name.clone())).unwrap_or_default();
        let done = match (old, new) {
            (None, _) => Done::Added,
            (_, None) => Done::Removed,
            _ => Done::Changed,
        };
        let details = details(old.map(|e| &e.value), new.map(|e| &e.value));
        let bearing = bearing(&section, &name, done, &details);
        let (line_a, line_b) = (old.map(|e| e.line), new.map(|e| e.line));
        let (old, new) = (old.map(|e| e.value.clone()), new.map(|e| e.value.clone()));
        Difference { section, name, done, bearing, details, line_a, line_b, old, new }
    }

    /// That a data file of this name holds something else.
    pub fn of_data(file: &str) -> Self {
        Difference {
            section: "data".into(),
            name: file.into(),
            done: Done::Changed,
            bearing: Bearing::Results,
            details: Vec::new(),
            line_a: None,
            line_b: None,
            old: None,
            new: None,
        }
    }

    /// Whether it may have to come together with another: one names what the other is.
    pub fn touches(&self, other: &Difference) -> bool {
        let links = |a: &Difference, b: &Difference| {
            a.section == "correlations" && b.section == "sampling" && b.name == "repair"
        };
        self.names(&other.name)
            || other.names(&self.name)
            || links(self, other)
            || links(other, self)
            || self.is_of_all()
            || other.is_of_all()
    }

    /// Currency, horizon, prices: every row may hang on it.
    fn is_of_all(&self) -> bool {
        matches!(self.section.as_str(), "currency" | "prices" | "years" | "first_year" | "inflation")
    }

    fn names(&self, name: &str) -> bool {
        let text = |value: &Option<Value>| value.as_ref().map(ToString::to_string).unwrap_or_default();
        !name.is_empty() && [text(&self.old), text(&self.new)].iter().any(|text| mentions(text, name))
    }
}

/// Whether `name` stands in a text as a word of its own.
fn mentions(text: &str, name: &str) -> bool {
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    text.match_indices(name).any(|(at, _)| {
        let before = text[..at].chars().next_back();
        let after = text[at + name.len()..].chars().next();
        !before.is_some_and(is_word) && !after.is_some_and(is_word)
    })
}

fn bearing(section: &str, name: &str, done: Done, details: &[Detail]) -> Bearing {
    if section == "sampling" {
        return if NOT_DRAWING.contains(&name) { Bearing::Results } else { Bearing::Drawing };
    }
    if WORDS.contains(&section) {
        return Bearing::Words;
    }
    if QUESTIONS.contains(&section) {
        return Bearing::Questions;
    }
    let every = |keys: &[&str]| {
        done == Done::Changed && !details.is_empty() && details.iter().all(|d| keys.contains(&d.key.as_str()))
    };
    if every(&WORDS) {
        Bearing::Words
    } else if every(&["revealed", "label", "note", "source", "as_of", "group"]) {
        Bearing::Questions
    } else {
        Bearing::Results
    }
}

/// Entries in the order of the file.
fn entries(text: &str) -> Option<Vec<Entry>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let document = Document::parse(text).ok()?;
    let line = |item: &Item| item.span().map_or(0, |s| 1 + text[..s.start].matches('\n').count());
    let mut found = Vec::new();
    for (section, item) in document.as_table() {
        match item.as_table_like() {
            Some(table) if NAMED.contains(&section) => {
                for (name, item) in table.iter() {
                    let Some(value) = plain(item) else { continue };
                    let (section, name) = (section.to_owned(), name.to_owned());
                    found.push(Entry { section, name, value, line: line(item) });
                }
            }
            _ => {
                let Some(value) = plain(item) else { continue };
                let (section, name) = (section.to_owned(), String::new());
                found.push(Entry { section, name, value, line: line(item) });
            }
        }
    }
    Some(found)
}

/// A value without layout and remarks, tables within the line.
fn plain(item: &Item) -> Option<Value> {
    match item {
        Item::None => None,
        Item::Value(value) => Some(plain_value(value)),
        Item::Table(table) => Some(plain_table(table.iter())),
        Item::ArrayOfTables(list) => {
            Some(Value::Array(list.iter().map(|table| plain_table(table.iter())).collect::<Array>()))
        }
    }
}

fn plain_table<'t>(items: impl Iterator<Item = (&'t str, &'t Item)>) -> Value {
    let mut table = InlineTable::new();
    for (key, item) in items {
        if let Some(value) = plain(item) {
            table.insert(key, value);
        }
    }
    Value::InlineTable(table)
}

fn plain_value(value: &Value) -> Value {
    match value {
        Value::String(x) => Value::from(x.value().as_str()),
        Value::Integer(x) => Value::from(*x.value()),
        Value::Float(x) => Value::from(*x.value()),
        Value::Boolean(x) => Value::from(*x.value()),
        Value::Datetime(x) => Value::from(*x.value()),
        Value::Array(list) => Value::Array(list.iter().map(plain_value).collect::<Array>()),
        Value::InlineTable(table) => {
            let mut plain = InlineTable::new();
            for (key, value) in table {
                plain.insert(key, plain_value(value));
            }
            Value::InlineTable(plain)
        }
    }
}

/// Whether two values say the same: 3 is 3.0, and the order of keys says nothing.
fn same(a: &Value, b: &Value) -> bool {
    let number = |x: &Value| x.as_float().or(x.as_integer().map(|n| n as f64));
    match (a, b) {
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b.iter()).all(|(a, b)| same(a, b))
        }
        (Value::InlineTable(a), Value::InlineTable(b)) => {
            a.len() == b.len() && a.iter().all(|(key, a)| b.get(key).is_some_and(|b| same(a, b)))
        }
        _ => match (number(a), number(b)) {
            (Some(x), Some(y)) => x == y,
            (None, None) => words(a) == words(b),
            _ => false,
        },
    }
}

/// A value as one would write it, texts without their quotes.
fn words(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string().trim().to_owned(), str::to_owned)
}

fn details(old: Option<&Value>, new: Option<&Value>) -> Vec<Detail> {
    let mut found = Vec::new();
    detail("", old, new, &mut found);
    // A distribution in place of a value, or of another: one line.
    let of = |gone: bool| {
        found.iter().position(|d: &Detail| if gone { d.new.is_empty() } else { d.old.is_empty() })
    };
    let is_one = |gone: bool| {
        let there = |d: &&Detail| if gone { d.new.is_empty() } else { d.old.is_empty() };
        found.iter().filter(there).filter(|d| !WORDS.contains(&d.key.as_str())).count() == 1
    };
    if let (Some(gone), Some(come), true, true) = (of(true), of(false), is_one(true), is_one(false)) {
        let (old, new) = (found[gone].clone(), found[come].clone());
        if !WORDS.contains(&old.key.as_str()) && !WORDS.contains(&new.key.as_str()) {
            let as_written = |d: &Detail, text: &str| format!("{} = {text}", d.key);
            let joined = Detail {
                key: String::new(),
                old: as_written(&old, &old.old),
                new: as_written(&new, &new.new),
            };
            found.retain(|d| *d != old && *d != new);
            found.insert(0, joined);
        }
    }
    found
}

fn detail(key: &str, old: Option<&Value>, new: Option<&Value>, found: &mut Vec<Detail>) {
    match (old, new) {
        (Some(a), Some(b)) if same(a, b) => {}
        (Some(Value::InlineTable(a)), Some(Value::InlineTable(b))) => {
            let keys = a.iter().chain(b.iter()).map(|(key, _)| key);
            let mut seen = BTreeSet::new();
            for inner in keys.filter(|key| seen.insert(*key)) {
                let path = if key.is_empty() { inner.to_owned() } else { format!("{key}.{inner}") };
                detail(&path, a.get(inner), b.get(inner), found);
            }
        }
        _ => {
            let text = |value: Option<&Value>| value.map(words).unwrap_or_default();
            found.push(Detail { key: key.to_owned(), old: text(old), new: text(new) });
        }
    }
}

/// A study in as many lines as it has sections.
fn written(entries: impl Iterator<Item = Entry>) -> String {
    let mut order: Vec<String> = Vec::new();
    let mut sections: BTreeMap<String, Value> = BTreeMap::new();
    for entry in entries {
        if !sections.contains_key(&entry.section) {
            order.push(entry.section.clone());
        }
        if entry.name.is_empty() {
            sections.insert(entry.section, entry.value);
        } else {
            let empty = || Value::InlineTable(InlineTable::new());
            let section = sections.entry(entry.section).or_insert_with(empty);
            if let Some(table) = section.as_inline_table_mut() {
                table.insert(&entry.name, entry.value);
            }
        }
    }
    let line =
        |name: &String| sections.get(name).map(|value| format!("{name} = {}\n", value.to_string().trim()));
    order.iter().filter_map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: &str = "title = \"a\"\n[inputs.x]\nvalue = 3\nnote = \"n\"\n[inputs.y]\nvalue = 1\n[workings]\nw = \"x + 1\"\n";

    fn between(b: &str) -> SideBySide {
        SideBySide::new(A, b).unwrap()
    }

    #[test]
    fn layout_and_remarks_are_no_difference() {
        let b = "# said\ntitle = 'a'\n[inputs]\nx = { note = \"n\", value = 3.0 }\ny.value = 1\n[workings]\nw='x + 1'\n";
        assert!(between(b).differences.is_empty());
    }

    #[test]
    fn what_was_done() {
        let b = "title = \"b\"\n[inputs.x]\npert = { min = 1, mode = 2, max = 4 }\nnote = \"n\"\n[inputs.z]\nvalue = 2\n\
                 [workings]\nw = \"x + z\"\n";
        let found = between(b);
        let told: Vec<(&str, &str, Done, Bearing)> = found
            .differences
            .iter()
            .map(|d| (d.section.as_str(), d.name.as_str(), d.done, d.bearing))
            .collect();
        let expected = [
            ("title", "", Done::Changed, Bearing::Words),
            ("inputs", "x", Done::Changed, Bearing::Results),
            ("inputs", "z", Done::Added, Bearing::Results),
            ("workings", "w", Done::Changed, Bearing::Results),
            ("inputs", "y", Done::Removed, Bearing::Results),
        ];
        assert_eq!(told, expected);
        let x = &found.differences[1];
        assert_eq!((x.line_a, x.line_b), (Some(2), Some(2)));
        assert_eq!(x.details[0].old, "value = 3");
        assert_eq!(x.details[0].new, "pert = { min = 1, mode = 2, max = 4 }");
        assert!(found.differences[2].touches(&found.differences[3]));
        assert!(!found.differences[2].touches(&found.differences[4]));
    }

    #[test]
    fn any_set_can_be_put_in() {
        let found = between("title = \"b\"\n[inputs.x]\nvalue = 4\n[workings]\nw = \"x + 2\"\n");
        let all: BTreeSet<usize> = (0..found.differences.len()).collect();
        assert_eq!(
            found.between(&all),
            "title = \"b\"\ninputs = { x = { value = 4 } }\nworkings = { w = \"x + 2\" }\n"
        );
        assert_eq!(
            found.between(&BTreeSet::new()),
            "title = \"a\"\ninputs = { x = { value = 3, note = \"n\" }, y = { value = 1 } }\n\
             workings = { w = \"x + 1\" }\n"
        );
    }

    #[test]
    fn words_alone_bear_on_no_result() {
        let found = between(&A.replace("\"n\"", "\"m\""));
        assert_eq!(found.differences.len(), 1);
        assert_eq!(found.differences[0].bearing, Bearing::Words);
    }

    #[test]
    fn names_are_words() {
        assert!(mentions("x + power * 2", "power") && !mentions("x + power_kw", "power"));
        assert!(mentions("\"power\"", "power") && !mentions("horsepower", "power"));
    }
}
