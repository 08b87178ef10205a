//! Every formula, with its value in the base case.

use super::book::{Book, base_in_words, cell, columns, heading_row, said, value, verbatim};
use crate::model::trace::TraceRow;
use crate::report::document::{Block, Cell, Inline, Row, Section, Table};
use crate::wording::{clean, with_unit};

pub(super) fn section(book: &mut Book<'_>) -> Section {
    let mut blocks = book.words("formulas");
    blocks.push(Block::text(
        "In the order of the study. The base case is every input at its base value; it is one computation, not the middle of \
         the runs. What a formula reads stands with its values under its number.",
    ));
    let sheet = book.material.sheet;
    let mut rows = Vec::new();
    for (sort, heading) in
        [("path", "Price paths"), ("simulated", "From simulated homes"), ("working", "Workings and results")]
    {
        let of_sort: Vec<&TraceRow> = sheet.iter().filter(|row| row.sort == sort).collect();
        if !of_sort.is_empty() {
            rows.push(heading_row(heading));
        }
        rows.extend(of_sort.into_iter().map(|row| of_formula(book, row)));
    }
    blocks.push(Block::Table(Table {
        id: "table-formulas".into(),
        caption: "Every formula and its base value".into(),
        columns: columns(&[("Name", 5, false), ("Formula", 9, false), ("Base value", 4, true)]),
        rows,
        notes: Vec::new(),
    }));
    Section {
        id: "formulas".into(),
        heading: "Every formula".into(),
        new_page: true,
        blocks,
        sections: Vec::new(),
    }
}

fn of_formula(book: &mut Book<'_>, row: &TraceRow) -> Row {
    let number = book.row(&format!("base {}", row.name), &row.label, &row.name, "base case");
    let mut name = vec![Inline::Code(clean(&row.name)), Inline::Break, verbatim(&said(&row.label))];
    if let Some(note) = &row.note {
        name.extend([Inline::Break, Inline::Emphasis(vec![verbatim(note)])]);
    }
    let all: Vec<String> = row.values.iter().map(|x| value(row, *x)).collect();
    let full = with_unit(&all.join("; "), &clean(&row.unit));
    let shown = book.figures.figure(number, 'a', "base value", &full, &base_in_words(row));
    let cells = vec![Cell { content: name, drawing: None }, Cell::code(clean(&row.formula)), cell(shown)];
    Row { is_heading: false, number: Some(number), cells }
}
