//! Changes written into the text of a study: comments, order and the look of all else stay.

use toml_edit::{Array, TableLike, Value};

use super::{Changed, Edit, NewValue};
use crate::study::written::{edited, number, rename, set};

/// The study's text with the changes. None when it is no TOML, or a table of it is not where it was.
pub fn written(text: &str, changes: &[Changed]) -> Option<String> {
    edited(text, |document| {
        for change in changes {
            let (section, name) = &change.table;
            let section = document.get_mut(section)?.as_table_like_mut()?;
            let table = section.get_mut(name)?.as_table_like_mut()?;
            apply(table, &change.edit)?;
        }
        Some(())
    })
}

fn apply(table: &mut dyn TableLike, edit: &Edit) -> Option<()> {
    match edit {
        Edit::Remove(key) => {
            table.remove(key);
        }
        Edit::Set(key, value) => set(table, key, value_of(value)?),
        Edit::Kind { old, new, value } => {
            let value: Value = value.parse().ok()?;
            if old == new {
                set(table, new, value);
            } else {
                rename(table, old, new, value);
                if new == "value" {
                    // A known value has neither base nor cut.
                    table.remove("base");
                    table.remove("truncate");
                }
            }
        }
    }
    Some(())
}

fn value_of(value: &NewValue) -> Option<Value> {
    Some(match value {
        NewValue::Number(x) => number(*x),
        NewValue::Text(text) => text.as_str().into(),
        NewValue::Months(numbers) => Value::Array(numbers.iter().map(|&x| number(x)).collect::<Array>()),
        NewValue::Toml(text) => text.parse().ok()?,
    })
}
