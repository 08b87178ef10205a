//! What rows say otherwise than the study does. What only looks otherwise (spaces, the way a number is written) is no
//! change.

use std::collections::BTreeMap;

use toml::{Table, Value};

use super::cells::is_same;
use super::{Cell, Changed, Column, Edit, NewValue, Row, RowFault};
use crate::formula::types::Kind;
use crate::model::{Input, Model, Path};
use crate::sampling::distributions::catalogue::KINDS;
use crate::wording::clean;

/// Keys that say what value an input has, beside the kinds of distributions.
const PLAIN: [&str; 4] = ["value", "monthly", "labels", "choice"];

/// Length from which a text may be the beginning of a longer one.
const CUT_FROM: usize = 30_000;

/// What was changed, and what is wrong.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Compared {
    /// In the order of the rows.
    pub changes: Vec<Changed>,
    /// In the order of the rows; missing rows last.
    pub faults: Vec<RowFault>,
}

/// Compares the rows of a workbook with the study whose text this is.
pub fn compare(text: &str, model: &Model, rows: &[Row]) -> Compared {
    let root: Table = text.trim_start_matches('\u{feff}').parse().unwrap_or_default();
    let mut comparing = Comparing { root: &root, model, out: Compared::default() };
    let mut seen: BTreeMap<String, u32> = BTreeMap::new();
    for row in rows {
        let Some(name) = row.name() else {
            comparing.fault(
                Some(row.number),
                "has no name",
                "leave column A as it was; a new input is written in the study",
            );
            continue;
        };
        if let Some(first) = seen.insert(name.to_owned(), row.number) {
            let message = format!("`{}` stands in row {first} already", clean(name));
            comparing.fault(Some(row.number), &message, "keep one of the two rows");
            continue;
        }
        comparing.row(name, row);
    }
    let inputs = model.inputs.iter().filter(|input| input.part_of.is_none());
    for input in inputs.filter(|input| !seen.contains_key(&input.about.name)) {
        let message = format!("the row of `{}` is missing", input.about.name);
        comparing.fault(
            None,
            &message,
            "put it back; what the study shall no longer have is taken out of the study itself",
        );
    }
    comparing.out
}

struct Comparing<'a> {
    root: &'a Table,
    model: &'a Model,
    out: Compared,
}

/// Where a row belongs: its number, its name, the table of the study and what that says.
struct Place<'a> {
    row: u32,
    name: &'a str,
    table: (&'static str, String),
    said: Table,
}

impl Comparing<'_> {
    fn fault(&mut self, row: Option<u32>, message: &str, hint: &str) {
        self.out.faults.push(RowFault { row, message: message.to_owned(), hint: hint.to_owned() });
    }

    fn table(&self, section: &str, name: &str) -> Table {
        let section = self.root.get(section).and_then(Value::as_table);
        section.and_then(|s| s.get(name)).and_then(Value::as_table).cloned().unwrap_or_default()
    }

    fn row(&mut self, name: &str, row: &Row) {
        let model = self.model;
        let place = |this: &Self, section: &'static str, of: &str| Place {
            row: row.number,
            name: "",
            table: (section, of.to_owned()),
            said: this.table(section, of),
        };
        if let Some(input) = model.inputs.iter().find(|i| i.about.name == name) {
            if input.part_of.is_some() {
                return self.untouched(row, input.base.first().copied());
            }
            let place = Place { name, ..place(self, "inputs", name) };
            return self.input(&place, row, input);
        }
        let (of, part) = name.split_once('.').unwrap_or((name, ""));
        match (model.paths.iter().find(|path| path.about.name == of), part) {
            (Some(path), "start" | "growth") => {
                let place = Place { name, ..place(self, "paths", of) };
                self.path(&place, row, path, part);
            }
            (Some(_), _) => self.untouched(row, None),
            (None, _) => {
                let message = format!("the study has no input `{}`", clean(name));
                self.fault(
                    Some(row.number),
                    &message,
                    "names stay as they were; a new or renamed input is written in the study itself",
                );
            }
        }
    }

    /// A row that only tells: its base value must be as it was.
    fn untouched(&mut self, row: &Row, base: Option<f64>) {
        if let (Cell::Number(x), Some(base)) = (row.cell(Column::Base), base)
            && !is_same(*x, base)
        {
            self.fault(
                Some(row.number),
                "a part of a change is not changed here",
                "change it in the study itself",
            );
        }
    }

    fn input(&mut self, place: &Place<'_>, row: &Row, input: &Input) {
        let about = &input.about;
        let old = [
            (Column::Label, Some(about.label.as_str())),
            (Column::Unit, Some(input.unit.text.as_str()).filter(|unit| *unit != "1")),
            (Column::Group, about.group.as_deref()),
            (Column::Source, about.source.as_deref()),
            (Column::AsOf, about.as_of.as_deref()),
            (Column::Note, about.note.as_deref()),
        ];
        for (column, old) in old {
            self.text(place, row, column, old.unwrap_or_default());
        }
        let told = told_kind(&place.said);
        self.kind(place, row, told.as_deref());
        if told.as_deref() == Some("monthly") {
            return self.months(place, row, input);
        }
        self.base(place, row, input, told.as_deref());
        self.truncate(place, row);
    }

    fn push(&mut self, place: &Place<'_>, what: &str, (old, new): (String, String), edit: Edit) {
        let name = place.name.to_owned();
        let table = place.table.clone();
        let what = what.to_owned();
        self.out.changes.push(Changed { row: place.row, name, what, old, new, table, edit });
    }

    fn text(&mut self, place: &Place<'_>, row: &Row, column: Column, old: &str) {
        let Some(key) = column.key() else { return };
        let new = match row.cell(column) {
            Cell::Empty => String::new(),
            Cell::Text(text) => text.clone(),
            Cell::Number(x) => x.to_string(),
            cell => return self.no_value(place, column.words(), cell),
        };
        let (seen, said) = (clean(&new), clean(old));
        // A cell holds no more than some thirty thousand characters, so the end of a longer text is not in it.
        let same = seen == said || (seen.len() > CUT_FROM && said.starts_with(&seen));
        // A unit without dimension is written as nothing or as 1.
        let same = same || (column == Column::Unit && old.is_empty() && new.trim() == "1");
        // A label that the study does not give is made from the name.
        if same || (new.is_empty() && !place.said.contains_key(key)) {
            return;
        }
        let edit = match new.is_empty() {
            true => Edit::Remove(key),
            false => Edit::Set(key, NewValue::Text(new.trim().to_owned())),
        };
        self.push(place, column.words(), (clean(old), clean(&new)), edit);
    }

    /// What a cell holds that is neither number nor text.
    fn no_value(&mut self, place: &Place<'_>, what: &str, cell: &Cell) {
        let (message, hint) = match cell {
            Cell::Unsaved => (
                format!("{what} of `{}` is a formula whose value is not in the file", place.name),
                "open the workbook in your spreadsheet program and save it there",
            ),
            Cell::Other(text) => {
                (format!("{what} of `{}` is {}", place.name, clean(text)), "write a number or a text")
            }
            Cell::Text(text) => {
                let mended = text.trim().replace(',', ".").parse::<f64>();
                let hint = match mended {
                    Ok(_) => {
                        "the cell holds text: write the number with the decimal sign of your spreadsheet program, and let the cell be a number"
                    }
                    Err(_) => "write a number, without its unit",
                };
                (format!("{what} of `{}` is the text \"{}\", no number", place.name, clean(text)), hint)
            }
            Cell::Empty | Cell::Number(_) => {
                (format!("{what} of `{}` is empty", place.name), "write a number")
            }
        };
        self.fault(Some(place.row), &message, hint);
    }

    fn base(&mut self, place: &Place<'_>, row: &Row, input: &Input, told: Option<&str>) {
        let key = if told == Some("value") { "value" } else { "base" };
        let words = Column::Base.words();
        let old = input.base.first().copied().unwrap_or(f64::NAN);
        if let Kind::Label(labels) = &input.ty.kind {
            let old = labels.get(old as usize).cloned().unwrap_or_default();
            match row.cell(Column::Base) {
                Cell::Text(new) if clean(new) == clean(&old) => {}
                Cell::Text(new) => {
                    let edit = Edit::Set(key, NewValue::Text(new.trim().to_owned()));
                    self.push(place, words, (old, clean(new)), edit);
                }
                Cell::Empty => self.back_to_default(place, old, told),
                cell => self.no_value(place, words, cell),
            }
            return;
        }
        match row.cell(Column::Base) {
            Cell::Number(new) if is_same(*new, old) => {}
            Cell::Number(new) => {
                let edit = Edit::Set(key, NewValue::Number(*new));
                self.push(place, words, (old.to_string(), new.to_string()), edit);
            }
            Cell::Empty if told != Some("value") => self.back_to_default(place, old.to_string(), told),
            cell => self.no_value(place, words, cell),
        }
    }

    /// An emptied base value: that of the distribution itself.
    fn back_to_default(&mut self, place: &Place<'_>, old: String, told: Option<&str>) {
        if place.said.contains_key("base") && told.is_some() {
            self.push(
                place,
                Column::Base.words(),
                (old, "as the distribution has it".into()),
                Edit::Remove("base"),
            );
        }
    }

    fn months(&mut self, place: &Place<'_>, row: &Row, input: &Input) {
        let number = |cell: &Cell| match cell {
            Cell::Number(x) => Some(*x),
            _ => None,
        };
        let Some(new) = row.months().iter().map(number).collect::<Option<Vec<f64>>>() else {
            for cell in row.months().iter().filter(|cell| number(cell).is_none()) {
                self.no_value(place, "a month", cell);
            }
            return;
        };
        if new.len() == input.base.len() && new.iter().zip(&input.base).all(|(new, old)| is_same(*new, *old))
        {
            return;
        }
        let edit = Edit::Set("monthly", NewValue::Months(new.clone()));
        self.push(place, "months", (in_words(&input.base), in_words(&new)), edit);
    }

    /// Kind and parameters, which are one value of the study.
    fn kind(&mut self, place: &Place<'_>, row: &Row, told: Option<&str>) {
        let Some(told) = told else { return };
        let kind = match row.cell(Column::Kind) {
            Cell::Text(kind) => kind.trim().to_owned(),
            Cell::Empty => told.to_owned(),
            cell => return self.no_value(place, Column::Kind.words(), cell),
        };
        let kind = if kind == "known" { "value".to_owned() } else { kind };
        let now = place.said.get(told);
        if kind == told && matches!(told, "value" | "monthly") {
            return;
        }
        let text = match row.cell(Column::Parameters) {
            Cell::Text(text) => text.trim().to_owned(),
            Cell::Number(x) => x.to_string(),
            Cell::Empty => String::new(),
            cell => return self.no_value(place, Column::Parameters.words(), cell),
        };
        if kind == "value" {
            // The number itself stands in the column of base values.
            let Cell::Number(x) = row.cell(Column::Base) else {
                return self.no_value(place, Column::Base.words(), row.cell(Column::Base));
            };
            let (new, value) = (kind, x.to_string());
            let old = now.map_or_else(String::new, inner);
            let edit = Edit::Kind { old: told.to_owned(), new, value };
            return self.push(place, "value", (format!("{told} {old}"), x.to_string()), edit);
        }
        if !KINDS.iter().any(|k| k.name == kind) && !PLAIN.contains(&kind.as_str()) {
            let message = format!("`{}` is no kind of distribution", clean(&kind));
            return self.fault(Some(place.row), &message, "`payspread reference distributions` lists them");
        }
        let Some((toml, value)) = parsed(&text, is_list(&kind)) else {
            let message = format!("the parameters of `{}` cannot be read: {}", place.name, clean(&text));
            return self.fault(
                Some(place.row),
                &message,
                "write them as in a study: min = 2, mode = 3, max = 5",
            );
        };
        let (toml, value) = match now.and_then(Value::as_table) {
            // Labels with their weights inside: the sheet has the list of labels alone.
            Some(now) if kind == "labels" && value.is_array() => {
                let mut whole = now.clone();
                whole.insert("values".into(), value);
                let toml = format!("{{ {} }}", inner(&Value::Table(whole.clone())));
                (toml, Value::Table(whole))
            }
            _ => (toml, value),
        };
        if kind == told && now.is_some_and(|now| alike(now, &value)) {
            return;
        }
        let old = now.map_or_else(String::new, inner);
        let (old, new) = match kind == told {
            true => (old, text),
            false => (format!("{told} {old}"), format!("{kind} {text}")),
        };
        let edit = Edit::Kind { old: told.to_owned(), new: kind, value: toml };
        self.push(place, Column::Parameters.words(), (old, clean(&new)), edit);
    }

    fn truncate(&mut self, place: &Place<'_>, row: &Row) {
        let now = place.said.get("truncate");
        let words = Column::Truncate.words();
        match (row.cell(Column::Truncate), now) {
            (Cell::Empty, None) => {}
            (Cell::Empty, Some(now)) => {
                self.push(place, words, (inner(now), String::new()), Edit::Remove("truncate"));
            }
            (Cell::Text(text), now) => match parsed(text.trim(), false) {
                Some((_, value)) if now.is_some_and(|now| alike(now, &value)) => {}
                Some((toml, _)) => {
                    let old = now.map_or_else(String::new, inner);
                    self.push(place, words, (old, clean(text)), Edit::Set("truncate", NewValue::Toml(toml)));
                }
                None => {
                    let message = format!("the cut of `{}` cannot be read: {}", place.name, clean(text));
                    self.fault(Some(place.row), &message, "write it as in a study: min = 15, max = 80");
                }
            },
            (cell, _) => self.no_value(place, words, cell),
        }
    }

    /// Start or growth of a path: a number, or a distribution with the base value beside it.
    fn path(&mut self, place: &Place<'_>, row: &Row, path: &Path, part: &str) {
        let key = if part == "start" { "start" } else { "growth" };
        let now = place.said.get(key);
        let about = &path.about;
        let old = [
            (Column::Group, &about.group),
            (Column::Source, &about.source),
            (Column::AsOf, &about.as_of),
            (Column::Note, &about.note),
        ];
        // What is said of a path stands in its rows once or twice, so an empty cell takes nothing away.
        for (column, old) in old.into_iter().filter(|(column, _)| *row.cell(*column) != Cell::Empty) {
            self.text(place, row, column, old.as_deref().unwrap_or_default());
        }
        let known = now.is_none_or(|now| !now.is_table());
        let old = match (part, now) {
            ("start", _) => path.start,
            (_, Some(now)) => number_of(now).unwrap_or(0.0),
            _ => 0.0,
        };
        let words = Column::Base.words();
        match row.cell(Column::Base) {
            Cell::Number(new) if is_same(*new, old) => {}
            Cell::Number(new) if known => {
                let edit = Edit::Set(key, NewValue::Number(*new));
                self.push(place, words, (old.to_string(), new.to_string()), edit);
            }
            Cell::Number(new) if part == "start" => {
                let edit = Edit::Set("base", NewValue::Number(*new));
                self.push(place, words, (old.to_string(), new.to_string()), edit);
            }
            // Growth has no base value of its own, so this one only tells.
            Cell::Number(_) | Cell::Empty => {}
            cell => self.no_value(place, words, cell),
        }
        let Some(now) = now.and_then(Value::as_table) else { return };
        let Some((told, now)) = now.iter().next() else { return };
        let (Cell::Text(kind), Cell::Text(text)) = (row.cell(Column::Kind), row.cell(Column::Parameters))
        else {
            return;
        };
        let (kind, text) = (kind.trim(), text.trim());
        match parsed(text, is_list(kind)) {
            Some((_, value)) if kind == told && alike(now, &value) => {}
            Some((toml, _)) if KINDS.iter().any(|k| k.name == kind) => {
                let edit = Edit::Set(key, NewValue::Toml(format!("{{ {kind} = {toml} }}")));
                let old = format!("{told} {}", inner(now));
                self.push(place, Column::Parameters.words(), (old, clean(&format!("{kind} {text}"))), edit);
            }
            _ => {
                let message = format!(
                    "the distribution of `{}` cannot be read: {} {}",
                    place.name,
                    clean(kind),
                    clean(text)
                );
                self.fault(
                    Some(place.row),
                    &message,
                    "write it as in a study: pert, and min = 2, mode = 3, max = 5",
                );
            }
        }
    }
}

/// The key that says what value an input has.
fn told_kind(said: &Table) -> Option<String> {
    let kinds = KINDS.iter().map(|kind| kind.name);
    PLAIN.into_iter().chain(kinds).find(|key| said.contains_key(*key)).map(str::to_owned)
}

/// Whether what a key holds is a list.
fn is_list(kind: &str) -> bool {
    matches!(kind, "choice" | "labels" | "mixture")
}

/// Parameters as a value of TOML, with its text: between the braces or brackets that the sheet leaves out.
fn parsed(text: &str, list: bool) -> Option<(String, Value)> {
    let with = if list { format!("[{text}]") } else { format!("{{ {text} }}") };
    let tries = if text.starts_with(['[', '{']) && !(list && text.starts_with('{')) {
        [text.to_owned(), with]
    } else {
        [with, text.to_owned()]
    };
    tries.into_iter().filter(|text| !text.contains(['\n', '\r'])).find_map(|text| {
        let mut table: Table = format!("x = {text}").parse().ok()?;
        let value = table.remove("x").filter(|_| table.is_empty())?;
        (value.is_table() || value.is_array()).then_some((text, value))
    })
}

fn number_of(value: &Value) -> Option<f64> {
    match value {
        Value::Integer(n) => Some(*n as f64),
        Value::Float(x) => Some(*x),
        _ => None,
    }
}

/// Whether two values say the same: 1 and 1.0 do.
fn alike(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Table(a), Value::Table(b)) => {
            a.len() == b.len() && a.iter().all(|(key, x)| b.get(key).is_some_and(|y| alike(x, y)))
        }
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(x, y)| alike(x, y)),
        _ => match (number_of(a), number_of(b)) {
            (Some(a), Some(b)) => a == b,
            _ => a == b,
        },
    }
}

/// A value as it stands between its braces.
fn inner(value: &Value) -> String {
    match value {
        Value::Table(table) => {
            table.iter().map(|(key, value)| format!("{key} = {value}")).collect::<Vec<_>>().join(", ")
        }
        other => other.to_string(),
    }
}

fn in_words(numbers: &[f64]) -> String {
    numbers.iter().map(f64::to_string).collect::<Vec<_>>().join(", ")
}
