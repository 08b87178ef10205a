//! Edits of a study's text. All edits of a list are made, or none.
//!
//! What is wrong as a study is no reason to refuse an edit: the text comes back and its faults are told where they are. Only
//! what cannot become a text at all is refused.

mod number;
mod order;
mod set;
#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};
use toml_edit::{DocumentMut, Item, Table};

use crate::study::words::is_name;
use crate::study::written::edited;

/// One edit, as the page sends it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(tag = "op", rename_all = "lowercase", deny_unknown_fields)]
pub enum Edit {
    /// A field of a row gets a value, as typed.
    Set {
        /// Which row: `inputs.people`.
        row: String,
        /// Which field: `base`, `given`, `parameter.mode`, `label`, `formula`, ...
        field: String,
        /// What was typed; nothing takes the field away.
        value: String,
    },
    /// A new row.
    Add {
        /// Its section: `inputs` or `workings`.
        section: String,
        /// The row above it; else it is the last of its section.
        after: Option<String>,
        /// Its name.
        name: String,
        /// Its plain name.
        label: String,
    },
    /// A row goes.
    Delete {
        /// Which.
        row: String,
    },
    /// A row goes to another place of the file.
    Move {
        /// Which.
        row: String,
        /// The row that it shall stand above; else it is the last of its section.
        before: Option<String>,
    },
}

/// Why an edit cannot become a text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Refused {
    /// One sentence without a full stop: what is wrong.
    pub message: String,
    /// What would be right.
    pub hint: Option<String>,
    /// Which edit of the list, from 0.
    pub edit: usize,
}

/// Why, before it is known which edit it is.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Reason {
    message: String,
    hint: Option<String>,
}

impl Reason {
    fn new(message: impl Into<String>, hint: &str) -> Self {
        Reason { message: message.into(), hint: Some(hint.to_owned()) }
    }
}

/// Sections that have rows.
const SECTIONS: [&str; 4] = ["inputs", "paths", "workings", "results"];

/// Longest text of a field.
const MOST: usize = 100_000;

/// The study's text after all edits.
///
/// # Errors
/// The first edit that cannot be made: then none is.
pub fn apply(text: &str, edits: &[Edit]) -> Result<String, Refused> {
    let mut refused = None;
    let after = edited(text, |document| {
        for (k, edit) in edits.iter().enumerate() {
            if let Err(reason) = one(document, edit) {
                refused = Some(Refused { message: reason.message, hint: reason.hint, edit: k });
                return None;
            }
        }
        Some(())
    });
    match (after, refused) {
        (Some(text), _) => Ok(text),
        (None, Some(refused)) => Err(refused),
        (None, None) => Err(Refused {
            message: "the study's text is no TOML, so nothing in it can be changed here".into(),
            hint: Some("mend it in a text editor, or undo".into()),
            edit: 0,
        }),
    }
}

fn one(document: &mut DocumentMut, edit: &Edit) -> Result<(), Reason> {
    match edit {
        Edit::Set { row, field, value } => {
            if value.len() > MOST {
                return Err(Reason::new("this is too long for a field", "100,000 characters are the most"));
            }
            set::field(row_of(document, row)?, field, value)
        }
        Edit::Add { section, after, name, label } => add(document, section, after.as_deref(), name, label),
        Edit::Delete { row } => {
            row_of(document, row)?;
            order::take_out(document, row).map(drop)
        }
        Edit::Move { row, before } => {
            row_of(document, row)?;
            order::relocate(document, row, before.as_deref())
        }
    }
}

/// Section and name of a row.
fn parts(row: &str) -> Result<(&str, &str), Reason> {
    row.split_once('.').filter(|(section, name)| SECTIONS.contains(section) && !name.is_empty()).ok_or_else(
        || Reason::new(format!("there is no row {row:?}"), "a row is called inputs.NAME, workings.NAME, ..."),
    )
}

/// The table of a row.
fn row_of<'a>(document: &'a mut DocumentMut, row: &str) -> Result<&'a mut Table, Reason> {
    let (section, name) = parts(row)?;
    let table = document.get_mut(section).and_then(Item::as_table_mut);
    let table = table.and_then(|table| table.get_mut(name)).and_then(Item::as_table_mut);
    table.ok_or_else(|| {
        Reason::new(
            format!("the study has no [{row}]"),
            "it may have gone or been renamed; if it is written in one line, change it in a text editor",
        )
    })
}

fn add(
    document: &mut DocumentMut,
    section: &str,
    after: Option<&str>,
    name: &str,
    label: &str,
) -> Result<(), Reason> {
    let (key, value) = match section {
        "inputs" => ("value", toml_edit::value(0)),
        "workings" => ("formula", toml_edit::value("0")),
        _ => {
            return Err(Reason::new(
                "rows can be added to inputs and workings only",
                "write others in a text editor",
            ));
        }
    };
    if !is_name(name) {
        return Err(Reason::new(
            format!("{name:?} is no name"),
            "letters, digits and underscores, a letter first, such as night_rate",
        ));
    }
    let taken = |section: &&&str| document.get(section).is_some_and(|table| table.get(name).is_some());
    if let Some(section) = SECTIONS.iter().chain(&["hotwater"]).find(taken) {
        return Err(Reason::new(format!("{name} is there already, in [{section}]"), "take another name"));
    }
    let mut table = Table::new();
    table.decor_mut().set_prefix("\n");
    if !label.is_empty() {
        table.insert("label", toml_edit::value(set::one_line(label)?));
    }
    table.insert(key, value);
    order::put_in(document, section, name, table, after)
}
