//! Changes written into the text of a study: comments, order and the look of all else stay.

use toml_edit::{DocumentMut, Item, TableLike, Value};

/// The text after `change`, with its byte order mark and its line ends. None when it is no TOML, or `change` gives up.
pub(crate) fn edited(text: &str, change: impl FnOnce(&mut DocumentMut) -> Option<()>) -> Option<String> {
    let (mark, body) = text.strip_prefix('\u{feff}').map_or(("", text), |rest| ("\u{feff}", rest));
    // The editor knows line feeds only.
    let windows = body.contains("\r\n") && body.matches("\r\n").count() == body.matches('\n').count();
    let body = if windows { body.replace("\r\n", "\n") } else { body.to_owned() };
    let mut document: DocumentMut = body.parse().ok()?;
    change(&mut document)?;
    let body = document.to_string();
    Some(format!("{mark}{}", if windows { body.replace('\n', "\r\n") } else { body }))
}

/// A number without more digits than it has.
pub(crate) fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1.0e15 { (value as i64).into() } else { value.into() }
}

/// Sets a value; spaces and remarks about the old one stay, and so do the parts of it that are the same.
pub(crate) fn set(table: &mut dyn TableLike, key: &str, mut value: Value) {
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(Value::InlineTable(old)) if same_keys(old, &value) => {
            let Value::InlineTable(new) = value else { return };
            for (key, mut value) in new {
                let Some(there) = old.get_mut(&key) else { continue };
                if there.to_string().trim() != value.to_string().trim() {
                    *value.decor_mut() = there.decor().clone();
                    *there = value;
                }
            }
        }
        Some(old) => {
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
        None => {
            table.insert(key, Item::Value(value));
        }
    }
}

fn same_keys(old: &toml_edit::InlineTable, new: &Value) -> bool {
    let Value::InlineTable(new) = new else { return false };
    old.len() == new.len() && old.iter().all(|(key, _)| new.contains_key(key))
}

/// A value under a new key, which stands where the old one stood.
pub(crate) fn rename(table: &mut dyn TableLike, old: &str, new: &str, value: Value) {
    let order: Vec<String> = table.iter().map(|(key, _)| key.to_owned()).collect();
    let after = order.iter().skip_while(|key| *key != old).skip(1).cloned().collect::<Vec<_>>();
    table.remove(old);
    table.insert(new, Item::Value(value));
    // What came after the old key is put after the new one, each with its own spaces and remarks.
    for key in after {
        let look = table.key(&key).cloned();
        let Some(item) = table.remove(&key) else { continue };
        table.insert(&key, item);
        if let (Some(look), Some(mut there)) = (look, table.key_mut(&key)) {
            *there.leaf_decor_mut() = look.leaf_decor().clone();
        }
    }
}
