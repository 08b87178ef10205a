//! Tables.

use maud::{Markup, html};

use super::Page;
use super::ids::Place;
use super::text::legal;
use crate::report::document::{Cell, Inline, Row, Table};

/// From so many columns on a table is set smaller in print.
const MANY_COLUMNS: usize = 7;

/// From so many columns on words may be broken anywhere to make them fit.
const CROWDED_COLUMNS: usize = 11;

/// Cells of at most so many characters stay on one line: a date, a number with its unit.
const SHORT_CELL: usize = 12;

/// Words of more characters may be broken anywhere in print.
const LONG_WORD: usize = 16;

impl Page {
    pub(super) fn table(&mut self, table: &Table) -> Markup {
        let id = self.ids.claim(Place::Table, &table.id);
        let numbered = table.rows.iter().any(|row| row.number.is_some());
        let columns = table.columns.len() + usize::from(numbered);
        let least = self.widths.table(columns);
        let widths = self.widths.columns(table, numbered);
        html! {
            div.table.many[columns >= MANY_COLUMNS].crowded[columns >= CROWDED_COLUMNS] {
                div.scroll role="group" tabindex="0" aria-label=(label(&table.caption)) {
                    table id=(id) class=[least] {
                        caption { (legal(&table.caption)) }
                        colgroup { @for width in &widths { col class=(width); } }
                        thead {
                            tr {
                                @for column in &table.columns { (head(&column.heading, column.numbers)) }
                                @if numbered { th.row scope="col" { "No." } }
                            }
                        }
                        @for part in parts(&table.rows) {
                            tbody { @for row in part { (self.row(table, row, numbered)) } }
                        }
                    }
                }
                @for note in &table.notes { p.below { (self.line(note, None)) } }
            }
        }
    }

    fn row(&mut self, table: &Table, row: &Row, numbered: bool) -> Markup {
        let columns = table.columns.len();
        if row.is_heading {
            let span = columns + usize::from(numbered);
            return html! {
                tr.part {
                    th scope="rowgroup" colspan=(span) {
                        @for cell in &row.cells { (self.cell(cell, row.number)) }
                    }
                }
            };
        }
        let missing = columns.saturating_sub(row.cells.len());
        html! {
            tr {
                @for (k, cell) in row.cells.iter().enumerate() {
                    @let right = table.columns.get(k).is_some_and(|column| column.numbers);
                    @let long = texts(&cell.content).any(has_long_word);
                    @let short = texts(&cell.content).map(|text| text.chars().count()).sum::<usize>() <= SHORT_CELL;
                    @if k == 0 && !is_empty(cell) {
                        th.number[right].long[long].short[short] scope="row" { (self.cell(cell, row.number)) }
                    } @else {
                        td.number[right].long[long].short[short] { (self.cell(cell, row.number)) }
                    }
                }
                @for _ in 0..missing { td {} }
                @if numbered { td.row { @if let Some(number) = row.number { (self.row_number(number)) } } }
            }
        }
    }

    fn cell(&mut self, cell: &Cell, row: Option<u32>) -> Markup {
        html! {
            @if let Some(drawing) = &cell.drawing { (self.drawing(drawing)) " " }
            (self.line(&cell.content, row))
        }
    }

    pub(super) fn row_number(&self, number: u32) -> Markup {
        if !self.rows.contains(&number) {
            return html! { (number) };
        }
        html! { button.figure type="button" popovertarget={ "f" (number) } { (number) } }
    }
}

/// What a screen reader calls the part that can be scrolled.
fn label(caption: &str) -> String {
    if caption.is_empty() { "Table".into() } else { format!("Table: {}", legal(caption)) }
}

fn head(heading: &str, numbers: bool) -> Markup {
    html! {
        @if heading.is_empty() { td {} } @else { th.number[numbers] scope="col" { (legal(heading)) } }
    }
}

fn is_empty(cell: &Cell) -> bool {
    cell.drawing.is_none() && texts(&cell.content).all(|text| text.trim().is_empty())
}

fn has_long_word(text: &str) -> bool {
    text.split_whitespace().any(|word| word.chars().count() > LONG_WORD)
}

/// The texts of a line, numbers of figures left out.
fn texts(line: &[Inline]) -> Box<dyn Iterator<Item = &str> + '_> {
    Box::new(line.iter().flat_map(|part| match part {
        Inline::Text(text)
        | Inline::Verbatim(text)
        | Inline::Code(text)
        | Inline::Figure { text, .. }
        | Inline::Link { text, .. }
        | Inline::Web { text, .. } => Box::new(std::iter::once(text.as_str())),
        Inline::Strong(parts) | Inline::Emphasis(parts) => texts(parts),
        Inline::Break => Box::new(std::iter::once("\n")),
    }))
}

/// The rows, a new part at each row that heads others.
fn parts(rows: &[Row]) -> Vec<&[Row]> {
    let starts = (0..rows.len()).filter(|&k| k == 0 || rows[k].is_heading);
    let mut starts: Vec<usize> = starts.collect();
    starts.push(rows.len());
    starts.windows(2).map(|pair| &rows[pair[0]..pair[1]]).collect()
}
