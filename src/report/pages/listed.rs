//! Figures by number.

use super::book::columns;
use crate::report::document::{Block, Cell, FigureEntry, Inline, Row, Section, Table};

/// Longest formula that is listed whole.
const MOST: usize = 400;

pub(super) fn section(figures: &[FigureEntry]) -> Section {
    let mut entries: Vec<&FigureEntry> = figures.iter().collect();
    entries.sort_by_key(|entry| entry.row);
    let rows = entries.into_iter().map(row).collect();
    let table = Table {
        id: "table-figures".into(),
        caption: "Figures by number".into(),
        columns: columns(&[
            ("Number", 2, false),
            ("What it is", 5, false),
            ("Figures", 6, false),
            ("How", 6, false),
        ]),
        rows,
        notes: Vec::new(),
    };
    Section {
        id: "figures".into(),
        heading: "Figures by number".into(),
        new_page: true,
        blocks: vec![
            Block::text(
                "With payspread and the study at hand, \"payspread trace STUDY NUMBER\" shows how a figure comes about.",
            ),
            Block::Table(table),
        ],
        sections: Vec::new(),
    }
}

fn row(entry: &FigureEntry) -> Row {
    let mut figures = Vec::new();
    for (letter, what, value) in &entry.figures {
        if !figures.is_empty() {
            figures.push(Inline::Text("; ".into()));
        }
        figures.push(Inline::Text(format!("{letter} {what}: {value}")));
    }
    let mut how = Vec::new();
    if let Some(formula) = &entry.formula {
        how.extend([Inline::Code(crate::wording::shortened(formula, MOST)), Inline::Break]);
    }
    how.push(Inline::Text(entry.behind.clone()));
    if let Some(source) = &entry.source {
        how.extend([Inline::Break, Inline::Verbatim(source.clone())]);
    }
    let cells = vec![
        Cell::verbatim(entry.row.to_string()),
        Cell::verbatim(entry.what.clone()),
        Cell { content: figures, drawing: None },
        Cell { content: how, drawing: None },
    ];
    Row { cells, ..Row::default() }
}
