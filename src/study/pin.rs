//! Writing the list of dimensions into the text of a study, all else left as it is.

use toml_edit::{Array, DocumentMut, Item, Table, TableLike, Value};

/// Longest list that stands on one line.
const ONE_LINE: usize = 90;

/// The study's text with `dimensions` under `[sampling]`: names that are there
/// already keep their places and remarks, further ones are appended. None when
/// the text is no TOML or `[sampling]` no table.
pub fn pinned(text: &str, dimensions: &[String]) -> Option<String> {
    let (mark, body) = text.strip_prefix('\u{feff}').map_or(("", text), |rest| ("\u{feff}", rest));
    // The editor knows line feeds only.
    let windows = body.contains("\r\n") && body.matches('\n').count() == body.matches("\r\n").count();
    let body = if windows { body.replace("\r\n", "\n") } else { body.to_owned() };
    let mut document: DocumentMut = body.parse().ok()?;
    if document.get("sampling").is_none() {
        let end = document.trailing().as_str().unwrap_or_default().to_owned();
        let mut table = Table::new();
        table.decor_mut().set_prefix(format!("{end}\n"));
        document.set_trailing("");
        document.insert("sampling", Item::Table(table));
    }
    let sampling = document.get_mut("sampling")?;
    let inline = sampling.is_inline_table();
    let table = sampling.as_table_like_mut()?;
    match table.get_mut("dimensions") {
        Some(there) => append(there.as_array_mut()?, dimensions),
        None => insert(table, dimensions, inline),
    }
    let body = document.to_string();
    Some(format!("{mark}{}", if windows { body.replace('\n', "\r\n") } else { body }))
}

/// A list of its own: on one line where it is short, or must be.
fn insert(table: &mut dyn TableLike, dimensions: &[String], inline: bool) {
    let mut list: Array = dimensions.iter().map(String::as_str).collect();
    let length: usize = dimensions.iter().map(|name| name.len() + 4).sum();
    if length > ONE_LINE && !inline {
        list.iter_mut().for_each(|name| name.decor_mut().set_prefix("\n    "));
        list.set_trailing("\n");
        list.set_trailing_comma(true);
    }
    let mut value = Value::Array(list);
    if inline && let Some(last) = last_value(table) {
        // The blank before the closing brace stays there.
        let blank = last.decor().suffix().and_then(|s| s.as_str()).unwrap_or_default().to_owned();
        last.decor_mut().set_suffix("");
        value.decor_mut().set_prefix(" ");
        value.decor_mut().set_suffix(blank);
    }
    table.insert("dimensions", Item::Value(value));
}

fn last_value(table: &mut dyn TableLike) -> Option<&mut Value> {
    table.iter_mut().last().and_then(|(_, item)| item.as_value_mut())
}

/// What is not in the list yet, laid out as its last item is.
fn append(list: &mut Array, dimensions: &[String]) {
    let known = list.len();
    let last = list.iter_mut().last();
    let (before, after) = last.map_or((String::new(), String::new()), |last| {
        let text =
            |raw: Option<&toml_edit::RawString>| raw.and_then(|s| s.as_str()).unwrap_or_default().to_owned();
        let (prefix, suffix) = (text(last.decor().prefix()), text(last.decor().suffix()));
        let moves = suffix.trim().is_empty();
        if moves {
            last.decor_mut().set_suffix("");
        }
        (prefix, if moves { suffix } else { String::new() })
    });
    let before = before.rfind('\n').map_or(" ".to_owned(), |at| before[at..].to_owned());
    for name in dimensions.iter().skip(known) {
        let mut value = Value::from(name.as_str());
        value.decor_mut().set_prefix(before.as_str());
        list.push_formatted(value);
    }
    if let Some(last) = list.iter_mut().last()
        && !after.is_empty()
    {
        last.decor_mut().set_suffix(after);
    }
}
