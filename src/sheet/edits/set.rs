//! A field of a row gets a value.

use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

use super::Reason;
use super::number::number;
use crate::sampling::distributions::catalogue::KINDS;
use crate::study::words::is_name;
use crate::study::written;

/// Keys of text that a row may have.
const TEXTS: [&str; 6] = ["label", "group", "unit", "source", "as_of", "note"];
/// Keys that say what value an input has, beside the kinds of distributions.
const PLAIN: [&str; 4] = ["value", "monthly", "labels", "choice"];

/// Sets `field` of a row to what was typed.
pub(super) fn field(row: &mut Table, field: &str, typed: &str) -> Result<(), Reason> {
    match field {
        "formula" => formula(row, typed),
        "base" => base(row, typed),
        "given" => given(row, typed),
        "name" => Err(Reason::new(
            "a name cannot be changed here yet, since formulas read it",
            "change it in a text editor, in all places; the label can be anything",
        )),
        _ if TEXTS.contains(&field) => text(row, field, typed),
        _ => match field.strip_prefix("parameter.") {
            Some(name) => parameter(row, name, typed),
            None => Err(Reason::new(
                format!("a row has no field {field:?}"),
                "base, given, parameter.NAME, formula, label, ...",
            )),
        },
    }
}

/// Text of one line: nothing that ends it or cannot be seen.
pub(super) fn one_line(typed: &str) -> Result<String, Reason> {
    let text: String =
        typed.trim().chars().map(|c| if matches!(c, '\n' | '\r' | '\t') { ' ' } else { c }).collect();
    match text.chars().any(char::is_control) {
        true => Err(Reason::new("this text has marks in it that cannot be seen", "type it anew")),
        false => Ok(text),
    }
}

fn text(row: &mut Table, key: &str, typed: &str) -> Result<(), Reason> {
    let there = row.get(key).and_then(Item::as_str);
    let line = one_line(typed)?;
    // Text of several lines stays as it is until somebody changes it.
    if there.is_some_and(|there| there == typed || there == line) {
        return Ok(());
    }
    if line.is_empty() {
        row.remove(key);
    } else {
        written::set(row, key, line.into());
    }
    Ok(())
}

fn formula(row: &mut Table, typed: &str) -> Result<(), Reason> {
    let there = row.get("formula").and_then(Item::as_str).map(str::to_owned);
    let Some(there) = there else {
        return Err(Reason::new("this row has no formula", "give it a value or a distribution"));
    };
    let typed = typed.replace("\r\n", "\n");
    if typed.chars().any(|c| c.is_control() && c != '\n' && c != '\t') {
        return Err(Reason::new("this formula has marks in it that cannot be seen", "type it anew"));
    }
    if there != typed {
        written::set(row, "formula", typed.into());
    }
    Ok(())
}

/// The key that says what value a row has.
fn kind(row: &dyn TableLike) -> Option<String> {
    row.iter().map(|(key, _)| key).find(|key| is_kind(key)).map(str::to_owned)
}

fn is_kind(key: &str) -> bool {
    PLAIN.contains(&key) || KINDS.iter().any(|kind| kind.name == key)
}

/// The base value: of a known input its value.
fn base(row: &mut Table, typed: &str) -> Result<(), Reason> {
    let kind = kind(row);
    let key = match kind.as_deref() {
        Some("value") => "value",
        Some("monthly") => {
            return Err(Reason::new("this row has a value for each month", "change them under \"given\""));
        }
        _ if row.contains_key("formula") => {
            return Err(Reason::new(
                "this row is worked out from others",
                "change its formula, or what that reads",
            ));
        }
        _ => "base",
    };
    if typed.trim().is_empty() && key == "base" {
        row.remove("base");
        return Ok(());
    }
    let choices = choices(row);
    let is_label = kind.as_deref() == Some("labels") || choices.iter().any(Value::is_str);
    let value: Value = if is_label { one_line(typed)?.into() } else { number(typed)?.value() };
    if !choices.is_empty() && !choices.iter().any(|choice| same(choice, &value)) {
        let all: Vec<String> = choices.iter().map(|choice| choice.to_string().trim().to_owned()).collect();
        return Err(Reason::new(
            format!("{:?} is none of the values of this choice", typed.trim()),
            &format!("one of {}", all.join(", ")),
        ));
    }
    if row.get(key).and_then(Item::as_value).is_some_and(|there| same(there, &value)) {
        return Ok(());
    }
    written::set(row, key, value);
    Ok(())
}

/// The values of a choice, or the labels of what is drawn among labels.
fn choices(row: &Table) -> Vec<Value> {
    let list = ["choice", "labels"].iter().find_map(|key| row.get(key)?.as_array());
    list.map_or_else(Vec::new, |list| list.iter().cloned().collect())
}

/// The same number or text, however it is written.
fn same(a: &Value, b: &Value) -> bool {
    let number = |value: &Value| value.as_float().or_else(|| value.as_integer().map(|x| x as f64));
    match (number(a), number(b)) {
        (Some(a), Some(b)) => a == b,
        _ => a.as_str().is_some() && a.as_str() == b.as_str(),
    }
}

/// What the row is given: `pert = { min = 1, mode = 2, max = 3 }`, as a study writes it.
fn given(row: &mut Table, typed: &str) -> Result<(), Reason> {
    let wrong = || {
        Reason::new(
            "this is not how a value is given",
            "such as value = 3, or pert = { min = 1, mode = 2, max = 4 }; see payspread reference distributions",
        )
    };
    let typed = one_line(typed)?;
    let fragment: DocumentMut = typed.parse().map_err(|_| wrong())?;
    let (key, value) = match fragment.iter().collect::<Vec<_>>().as_slice() {
        [(key, Item::Value(value))] => ((*key).to_owned(), value.clone().decorated(" ", "")),
        _ => return Err(wrong()),
    };
    if !is_kind(&key) {
        let known: Vec<&str> = PLAIN.into_iter().chain(KINDS.iter().map(|kind| kind.name)).collect();
        return Err(Reason::new(
            format!("there is no kind {key:?}"),
            &format!("one of {}", known.join(", ")),
        ));
    }
    if row.contains_key("start") {
        return start(row, &key, value);
    }
    let Some(old) = kind(row) else {
        return Err(Reason::new("this row is given in another way", "change it in a text editor"));
    };
    if old == key {
        let there = row.get(&key).map(|there| there.to_string().trim().to_owned());
        if there.as_deref() != Some(value.to_string().trim()) {
            written::set(row, &key, value);
        }
        return Ok(());
    }
    written::rename(row, &old, &key, value);
    if PLAIN.contains(&key.as_str()) {
        // A known value has neither cut nor, unless it is a choice, a base beside it.
        row.remove("truncate");
        if matches!(key.as_str(), "value" | "monthly") {
            row.remove("base");
        }
    }
    Ok(())
}

/// Where a path starts: a distribution, or one value.
fn start(row: &mut Table, key: &str, value: Value) -> Result<(), Reason> {
    let value = match key {
        "value" => value,
        _ if PLAIN.contains(&key) => {
            return Err(Reason::new(
                "a path starts at one value or at a distribution",
                "such as value = 0.11, or pert = { min = 0.09, mode = 0.11, max = 0.14 }",
            ));
        }
        _ => {
            let mut table = toml_edit::InlineTable::new();
            table.insert(key, value);
            Value::InlineTable(table)
        }
    };
    let value = value.decorated(" ", "");
    let there = row.get("start").map(|there| there.to_string().trim().to_owned());
    if there.as_deref() != Some(value.to_string().trim()) {
        written::set(row, "start", value);
    }
    Ok(())
}

fn parameter(row: &mut Table, name: &str, typed: &str) -> Result<(), Reason> {
    // A parameter may be the name of another input.
    let value: Value = if is_name(typed.trim()) { typed.trim().into() } else { number(typed)?.value() };
    let no_such = |kind: &str| {
        Reason::new(format!("{kind} has no parameter {name:?} here"), "change the whole under \"given\"")
    };
    // A path has its distribution under `start`.
    let kind = kind(row);
    let (key, nested) = match (&kind, row.contains_key("start")) {
        (Some(kind), _) => (kind.clone(), false),
        (None, true) => ("start".into(), true),
        (None, false) => return Err(no_such("this row")),
    };
    let table = row.get_mut(&key).and_then(Item::as_table_like_mut).ok_or_else(|| no_such(&key))?;
    let table = if nested {
        let inner = self::kind(table).ok_or_else(|| no_such("start"))?;
        table.get_mut(&inner).and_then(Item::as_table_like_mut).ok_or_else(|| no_such(&inner))?
    } else {
        table
    };
    match table.get(name).and_then(Item::as_value) {
        Some(there) if same(there, &value) => Ok(()),
        Some(Value::Float(_) | Value::Integer(_) | Value::String(_)) => {
            written::set(table, name, value);
            Ok(())
        }
        _ => Err(no_such(&key)),
    }
}
