//! Figures by number: what each number is about, and on what it rests. The figures themselves stand where their number
//! does; whole entries are in the panels of the page, and `trace` prints them.

use std::collections::BTreeMap;

use super::book::columns;
use crate::report::document::{Block, Cell, FigureEntry, Inline, Row, Section, Table};

/// Longest formula that is listed whole.
const MOST: usize = 400;

/// What many rows have in common: formula or drawing, what is behind it, source.
type Basis<'a> = (Option<&'a str>, &'a str, Option<&'a str>);

pub(super) fn section(figures: &[FigureEntry]) -> Section {
    let mut entries: Vec<&FigureEntry> = figures.iter().collect();
    entries.sort_by_key(|entry| entry.row);
    let bases = bases(&entries);
    let rows = entries.iter().map(|entry| row(entry, &bases)).collect();
    let numbers = Table {
        id: "table-figures".into(),
        caption: "Figures by number".into(),
        columns: columns(&[("Number", 2, false), ("What it is", 10, false), ("Basis", 2, false)]),
        rows,
        notes: Vec::new(),
    };
    let mut rows: Vec<(usize, Row)> = bases.iter().map(|(shared, &k)| (k, basis_row(k, shared))).collect();
    rows.sort_by_key(|(k, _)| *k);
    let rests = Table {
        id: "table-bases".into(),
        caption: "On what they rest".into(),
        columns: columns(&[
            ("Basis", 2, false),
            ("Formula, or how it is drawn", 7, false),
            ("Behind it", 6, false),
            ("Source", 6, false),
        ]),
        rows: rows.into_iter().map(|(_, row)| row).collect(),
        notes: Vec::new(),
    };
    Section {
        id: "figures".into(),
        heading: "Figures by number".into(),
        new_page: true,
        blocks: vec![
            Block::text(
                "With payspread and the study at hand, \"payspread trace STUDY NUMBER\" shows how a figure comes about: its \
                 formula, the values that this reads, and the source. A letter behind a number says which figure of its row.",
            ),
            Block::Table(numbers),
            Block::Table(rests),
        ],
        sections: Vec::new(),
    }
}

fn shared<'a>(entry: &'a FigureEntry) -> Basis<'a> {
    (entry.formula.as_deref(), &entry.behind, entry.source.as_deref())
}

/// Counted from 1 in the order in which the numbers first need them.
fn bases<'a>(entries: &[&'a FigureEntry]) -> BTreeMap<Basis<'a>, usize> {
    let mut found = BTreeMap::new();
    for entry in entries {
        let next = found.len() + 1;
        found.entry(shared(entry)).or_insert(next);
    }
    found
}

fn row(entry: &FigureEntry, bases: &BTreeMap<Basis<'_>, usize>) -> Row {
    let rests = bases.get(&shared(entry)).map_or_else(String::new, |&k| basis(k));
    let cells = vec![
        Cell::verbatim(entry.row.to_string()),
        Cell::verbatim(entry.what.clone()),
        Cell::verbatim(rests),
    ];
    Row { cells, ..Row::default() }
}

fn basis_row(k: usize, &(formula, behind, source): &Basis<'_>) -> Row {
    let formula = formula.map(|formula| Inline::Code(crate::wording::shortened(formula, MOST)));
    let cells = vec![
        Cell::verbatim(basis(k)),
        Cell { content: formula.into_iter().collect(), drawing: None },
        Cell::text(behind),
        source.map_or_else(Cell::default, Cell::verbatim),
    ];
    Row { cells, ..Row::default() }
}

/// As both tables write it.
fn basis(k: usize) -> String {
    format!("B{k}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_many_rest_on_is_told_once() {
        let entry = |row, formula: &str| FigureEntry {
            row,
            formula: Some(formula.into()),
            behind: "8 runs".into(),
            ..FigureEntry::default()
        };
        let section = section(&[entry(30_000, "a"), entry(10_000, "b"), entry(20_000, "a")]);
        let [_, Block::Table(numbers), Block::Table(rests)] = section.blocks.as_slice() else {
            panic!("{:?}", section.blocks)
        };
        let rests_on: Vec<&Inline> = numbers.rows.iter().map(|row| &row.cells[2].content[0]).collect();
        let said = |letter: &str| Inline::Verbatim(letter.into());
        assert_eq!(rests_on, [&said("B1"), &said("B2"), &said("B2")]);
        assert_eq!(rests.rows.len(), 2);
        assert_eq!(rests.rows[0].cells[1].content[0], Inline::Code("b".into()));
    }
}
