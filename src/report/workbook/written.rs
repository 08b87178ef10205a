//! What the study's text says of the value of an input, as written.

use std::collections::BTreeMap;

use toml_edit::{DocumentMut, Item, TableLike};

use crate::sampling::distributions::catalogue::KINDS;

/// Kind, parameters and limits of a row as the study writes them.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Written {
    pub(super) kind: String,
    pub(super) parameters: String,
    pub(super) truncate: String,
}

/// By name: `people`, `gas_price.start`, `gas_price.growth`.
pub(super) fn written(study_text: &str) -> BTreeMap<String, Written> {
    let text = study_text.strip_prefix('\u{feff}').unwrap_or(study_text);
    let mut found = BTreeMap::new();
    let Ok(document) = text.parse::<DocumentMut>() else { return found };
    for (name, item) in section(&document, "inputs") {
        if let Some(table) = item.as_table_like() {
            found.insert(name.to_owned(), of_table(table));
        }
    }
    for (name, item) in section(&document, "paths") {
        for part in ["start", "growth"] {
            let Some(item) = item.as_table_like().and_then(|t| t.get(part)) else { continue };
            let row = match item.as_table_like() {
                Some(table) => of_table(table),
                None => Written { kind: "value".into(), ..Written::default() },
            };
            found.insert(format!("{name}.{part}"), row);
        }
    }
    found
}

fn section<'d>(document: &'d DocumentMut, name: &str) -> impl Iterator<Item = (&'d str, &'d Item)> {
    document.get(name).and_then(Item::as_table_like).into_iter().flat_map(TableLike::iter)
}

fn of_table(table: &dyn TableLike) -> Written {
    let truncate = table.get("truncate").map(inner).unwrap_or_default();
    for kind in ["value", "monthly"] {
        if table.contains_key(kind) {
            return Written { kind: kind.into(), ..Written::default() };
        }
    }
    let kinds = ["labels", "choice"].into_iter().chain(KINDS.iter().map(|kind| kind.name));
    for kind in kinds {
        if let Some(item) = table.get(kind) {
            return Written { kind: kind.into(), parameters: inner(item), truncate };
        }
    }
    Written::default()
}

/// The text of a value without the braces of a table.
fn inner(item: &Item) -> String {
    let Ok(mut value) = item.clone().into_value() else { return String::new() };
    value.decor_mut().clear();
    let text = value.to_string();
    let text = text.trim();
    let inside = text.strip_prefix('{').and_then(|t| t.strip_suffix('}'));
    inside.map_or(text, str::trim).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_taken_as_written() {
        let text = "[inputs.a]\npert = { min = 0.10, mode = 0.112, max = 0.14 } # ours\ntruncate = { max = 3 }\n\
            [inputs.b]\nchoice = [0.02, 0.040]\n[inputs.c]\nvalue = 3\n\
            [inputs.d.normal]\nmean = 1\nsd = 2\n\
            [paths.p]\nstart = { uniform = { min = 1, max = 2 } }\ngrowth = 0.01\n";
        let found = written(text);
        let row = |kind: &str, parameters: &str, truncate: &str| Written {
            kind: kind.into(),
            parameters: parameters.into(),
            truncate: truncate.into(),
        };
        assert_eq!(found["a"], row("pert", "min = 0.10, mode = 0.112, max = 0.14", "max = 3"));
        assert_eq!(found["b"], row("choice", "[0.02, 0.040]", ""));
        assert_eq!(found["c"], row("value", "", ""));
        assert_eq!(found["d"].kind, "normal");
        assert_eq!(found["p.start"], row("uniform", "min = 1, max = 2", ""));
        assert_eq!(found["p.growth"], row("value", "", ""));
    }
}
