//! The register of inputs: what each is, how it spreads, where it comes from.

use super::book::{Book, cell, columns, heading_row, missing, number, said, text, verbatim};
use super::by_table::table;
use super::{results, tables_shown};
use crate::analysis::InputRow;
use crate::report::document::{Block, Cell, Drawing, Inline, Row, Section, Table};
use crate::wording::{clean, listed, percent_of};

pub(super) fn section(book: &mut Book<'_>) -> Section {
    let answers = book.material.answers;
    let mut blocks = book.words("inputs");
    let mut groups: Vec<Option<&String>> = Vec::new();
    for row in &answers.inputs {
        if !groups.contains(&row.group.as_ref()) {
            groups.push(row.group.as_ref());
        }
    }
    let headed = groups.len() > 1 || groups.iter().any(Option::is_some);
    let mut rows = Vec::new();
    for group in groups {
        if headed {
            rows.push(heading_row(group.map_or("Others", String::as_str)));
        }
        for row in answers.inputs.iter().filter(|row| row.group.as_ref() == group) {
            rows.push(of_input(book, row));
        }
    }
    blocks.push(Block::Table(Table {
        id: "table-inputs".into(),
        caption: "Every input and every part of a price path".into(),
        columns: columns(&[
            ("Input", 6, false),
            ("Unit", 2, false),
            ("Base value", 2, true),
            ("10 % lie below", 2, true),
            ("Half lie below", 2, true),
            ("90 % lie below", 2, true),
            ("How it spreads", 5, false),
            ("Source and date", 6, false),
        ]),
        rows,
        notes: vec![vec![text("Figures are those of the distributions themselves, not of draws.")]],
    }));
    if !answers.study.unsourced.is_empty() {
        let names: Vec<String> = answers.study.unsourced.iter().map(|name| clean(name)).collect();
        blocks.push(Block::Note {
            kind: crate::report::document::NoteKind::Missing,
            heading: "Inputs without a source".into(),
            blocks: vec![Block::Paragraph(vec![Inline::Verbatim(listed(&names))])],
        });
    }
    let files = results::files(book);
    let links: Vec<Block> = tables_shown::LINKS.iter().filter_map(|spec| table(book, &files, spec)).collect();
    if links.is_empty() {
        blocks.push(missing(
            "No links between inputs",
            "The study gives none: all inputs are drawn independently.",
        ));
    }
    blocks.extend(links);
    Section {
        id: "inputs".into(),
        heading: "Register of inputs".into(),
        new_page: true,
        blocks,
        sections: Vec::new(),
    }
}

fn of_input(book: &mut Book<'_>, row: &InputRow) -> Row {
    let traced = book.traced(&row.name).map(|traced| traced.name.clone());
    let parent = row.name.split('.').next().unwrap_or_default().to_owned();
    let mut entry = book.entry(
        &format!("Input: {}", clean(&row.label)),
        traced.as_deref().unwrap_or(&parent),
        "the study",
    );
    entry.formula = Some(clean(&row.how));
    entry.source = row.source.as_deref().map(clean);
    let id = book.figures.row(&format!("input {}", row.name), || entry);
    let mut name = vec![verbatim(&said(&row.label)), Inline::Break, Inline::Code(clean(&row.name))];
    if let Some(note) = &row.note {
        name.extend([Inline::Break, Inline::Emphasis(vec![verbatim(note)])]);
    }
    let unit = clean(&row.unit);
    let mut cells = vec![Cell { content: name, drawing: None }, Cell::verbatim(unit.clone())];
    cells.push(base(book, id, row));
    for (place, letter, what) in
        [(0, 'b', "10 % lie below"), (1, 'c', "half lie below"), (2, 'd', "90 % lie below")]
    {
        let x = row.percentiles.map(|p| p[place]);
        cells.push(
            x.map_or_else(Cell::default, |x| cell(book.given(id, letter, what, &short(row, x), &unit))),
        );
    }
    cells.push(how(row));
    cells.push(source(row));
    Row { is_heading: false, number: Some(id), cells }
}

/// A calendar year has no comma.
fn short(row: &InputRow, x: f64) -> String {
    if row.name.ends_with(".year") { format!("{x:.0}") } else { number(x) }
}

fn base(book: &mut Book<'_>, id: u32, row: &InputRow) -> Cell {
    let chosen = row.values.iter().find(|v| v.is_base);
    let (printed, full) = match (row.base.as_slice(), chosen) {
        (_, Some(chosen)) => (clean(&chosen.value), clean(&chosen.value)),
        ([], None) => return Cell::default(),
        ([one], None) => (short(row, *one), short(row, *one)),
        ([first, .., last], None) => (
            format!("{} to {}, by month", short(row, *first), short(row, *last)),
            row.base.iter().map(|x| number(*x)).collect::<Vec<_>>().join("; "),
        ),
    };
    let unit = if chosen.is_some() { String::new() } else { clean(&row.unit) };
    cell(book.figures.figure(id, 'a', "base value", &crate::wording::with_unit(&full, &unit), &printed))
}

fn how(row: &InputRow) -> Cell {
    let value = |v: &crate::analysis::InputShare| {
        let share = v.share.map(|share| format!(" ({})", percent_of(share))).unwrap_or_default();
        format!("{}{share}", said(&v.value))
    };
    let mut words = clean(&row.how);
    if !row.values.is_empty() {
        words = format!("{words}: {}", row.values.iter().map(value).collect::<Vec<_>>().join("; "));
    }
    let drawing = crate::chart::spread(row)
        .map(|svg| Drawing { alternative: format!("{} spread", clean(&row.label)), svg });
    Cell { content: vec![text(words)], drawing }
}

fn source(row: &InputRow) -> Cell {
    let mut content = match &row.source {
        Some(source) => vec![verbatim(source)],
        None => vec![Inline::Strong(vec![text("no source")])],
    };
    if let Some(date) = &row.as_of {
        content.push(Inline::Verbatim(format!(" ({})", clean(date))));
    }
    Cell { content, drawing: None }
}
