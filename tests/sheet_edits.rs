//! Edits of the sheet on whole studies: what is not edited keeps every byte, and nothing that is typed breaks a text.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::path::{Path, PathBuf};

use payspread::sheet::edits::{Edit, apply};
use payspread::sheet::history::History;
use proptest::prelude::*;

fn studies() -> Vec<(PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    for folder in ["studies", "tests/good"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|e| e == "toml") {
                found.push((path.clone(), std::fs::read_to_string(path).unwrap()));
            }
        }
    }
    found.sort();
    assert!(found.len() > 10);
    found
}

/// Rows of a study: name and what TOML says of it.
fn rows(text: &str) -> Vec<(String, toml::Table)> {
    let root: toml::Table = text.parse().unwrap();
    let sections = ["inputs", "paths", "workings", "results"];
    let of = |section: &'static str| {
        let table = root.get(section).and_then(toml::Value::as_table).cloned().unwrap_or_default();
        table
            .into_iter()
            .filter_map(move |(name, row)| Some((format!("{section}.{name}"), row.as_table()?.clone())))
    };
    sections.into_iter().flat_map(of).collect()
}

fn set(row: &str, field: &str, value: &str) -> Edit {
    Edit::Set { row: row.into(), field: field.into(), value: value.into() }
}

/// A row written in one line of its section has no table of its own: it is refused, and nothing else is.
fn written(text: &str, edit: Edit) -> Option<String> {
    match apply(text, &[edit]) {
        Ok(text) => Some(text),
        Err(refused) => {
            assert!(refused.message.starts_with("the study has no ["), "{}", refused.message);
            None
        }
    }
}

#[test]
fn what_a_row_says_already_changes_no_byte() {
    let mut seen = 0;
    for (path, text) in studies() {
        for (row, said) in rows(&text) {
            for field in ["label", "unit", "group", "source", "note", "formula"] {
                let Some(value) = said.get(field).and_then(toml::Value::as_str) else { continue };
                if let Some(after) = written(&text, set(&row, field, value)) {
                    assert!(after == text, "{}: {row} {field}", path.display());
                    seen += 1;
                }
            }
            for (field, key) in [("base", "base"), ("base", "value")] {
                let number = |v: &toml::Value| v.as_float().or_else(|| v.as_integer().map(|x| x as f64));
                let Some(value) = said.get(key).and_then(number) else { continue };
                if let Some(after) = written(&text, set(&row, field, &value.to_string())) {
                    assert!(after == text, "{}: {row} {field}", path.display());
                    seen += 1;
                }
            }
        }
    }
    assert!(seen > 500, "{seen}");
}

#[test]
fn an_edit_changes_what_it_names_and_nothing_else() {
    for (path, text) in studies() {
        let before = rows(&text);
        for (row, said) in &before {
            let Some(after) = written(&text, set(row, "note", "Another <note> of \"ours\"")) else {
                continue;
            };
            let now = rows(&after);
            assert_eq!(now.len(), before.len(), "{}: {row}", path.display());
            for ((name, then), (_, now)) in before.iter().zip(&now) {
                if name == row {
                    assert_eq!(now["note"].as_str(), Some("Another <note> of \"ours\""));
                    let same = said.iter().all(|(key, value)| key == "note" || now.get(key) == Some(value));
                    assert!(same, "{}: {row}", path.display());
                } else {
                    assert_eq!(then, now, "{}: {name}", path.display());
                }
            }
            // No line but that of the note.
            let others = |text: &str| {
                text.lines()
                    .filter(|l| !l.contains("note =") && !l.contains("note  "))
                    .map(str::to_owned)
                    .collect::<Vec<_>>()
            };
            if !said.contains_key("note") || said["note"].as_str().is_some_and(|note| !note.contains('\n')) {
                assert_eq!(others(&text), others(&after), "{}: {row}", path.display());
            }
        }
    }
}

#[test]
fn every_row_can_go_to_the_end_and_be_taken_out() {
    for (path, text) in studies() {
        let before = rows(&text);
        for (row, _) in &before {
            let section = row.split('.').next().unwrap();
            // One with dotted keys has no heading to be moved.
            let to_end = Edit::Move { row: row.clone(), before: None };
            let Ok(after) = apply(&text, &[to_end]) else { continue };
            let sorted = |text: &str| {
                let mut lines: Vec<String> =
                    text.lines().filter(|l| !l.trim().is_empty()).map(str::to_owned).collect();
                lines.sort();
                lines
            };
            assert_eq!(sorted(&text), sorted(&after), "{}: {row}", path.display());
            let position = |row: &str| after.find(&format!("[{row}]"));
            let last = before
                .iter()
                .filter(|(name, _)| name.starts_with(&format!("{section}.")))
                .filter_map(|(name, _)| position(name))
                .max();
            assert_eq!(position(row), last, "{}: {row}", path.display());
            let gone = apply(&text, &[Edit::Delete { row: row.clone() }]).unwrap();
            let left: Vec<_> = before.iter().filter(|(name, _)| name != row).cloned().collect();
            assert_eq!(rows(&gone), left, "{}: {row}", path.display());
        }
    }
}

fn first_look() -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/first-look.toml")).unwrap()
}

fn any_edit() -> impl Strategy<Value = Edit> {
    let row = prop::sample::select(vec![
        "inputs.people",
        "inputs.outlay",
        "inputs.life",
        "paths.gas_price",
        "inputs.discount",
        "workings.saving",
        "results.npv",
        "inputs.nobody",
    ]);
    let field = prop::sample::select(vec![
        "base",
        "given",
        "label",
        "note",
        "formula",
        "parameter.mode",
        "unit",
        "name",
        "\u{0}",
    ]);
    let value = prop_oneof![
        "[0-9]{1,4}",
        "[0-9],[0-9]{1,3}",
        "\\PC{0,30}",
        ".{0,20}",
        Just("pert = { min = 1, mode = 2, max = 3 }".to_owned())
    ];
    prop_oneof![
        6 => (row.clone(), field, value).prop_map(|(row, field, value)| set(row, field, &value)),
        1 => row.clone().prop_map(|row| Edit::Delete { row: row.into() }),
        1 => (row.clone(), prop::option::of(row)).prop_map(|(row, before)| Edit::Move { row: row.into(), before: before.map(Into::into) }),
        1 => ("[a-z]{1,6}", ".{0,10}").prop_map(|(name, label)| Edit::Add { section: "inputs".into(), after: None, name, label }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Whatever is typed, in any order: the text stays TOML, and all the way back it is the old one to the last byte.
    #[test]
    fn nothing_typed_breaks_the_text(edits in prop::collection::vec(any_edit(), 1..12)) {
        let text = first_look();
        let mut history = History::new(&text);
        for edit in &edits {
            if let Ok(after) = apply(history.text(), std::slice::from_ref(edit)) {
                prop_assert!(after.parse::<toml::Table>().is_ok(), "{edit:?}");
                history.put(after, None);
            }
        }
        while history.undo() {}
        prop_assert_eq!(&**history.text(), text.as_str());
    }
}
