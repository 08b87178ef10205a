//! Global indices and Shapley effects as tables: their files have a row for each measure, a reader wants one for each input.

use super::book::{Book, cell, columns, said, text};
use crate::analysis::Estimate;
use crate::analysis::indices::{GlobalIndices, Shapley};
use crate::report::document::{Block, Cell, Inline, Row, Table};
use crate::report::words::first_upper;
use crate::wording::{clean, grouped, in_sentence};

/// What a table of indices is about: beginning of the numbers' subjects, and what stands behind them.
struct About<'a> {
    subject: &'a str,
    of: String,
    behind: String,
}

/// Both tables, as far as they were asked for.
pub(super) fn tables(book: &mut Book<'_>) -> Vec<Block> {
    let Some(found) = &book.material.answers.indices else { return Vec::new() };
    let mut blocks = vec![indices(book, found)];
    blocks.extend(found.shapley.as_ref().map(|effects| shapley(book, found, effects)));
    blocks
}

fn indices(book: &mut Book<'_>, found: &GlobalIndices) -> Block {
    let evaluations = grouped(found.evaluations as f64, 0);
    let about = About {
        subject: "indices",
        of: format!("Global indices of {}", in_sentence(&clean(&found.label))),
        behind: format!("{evaluations} evaluations; 95 % interval by {}", found.interval.name()),
    };
    let heads = ["First-order index", "Total index", "By chance alone, up to"];
    let mut rows = Vec::new();
    for row in &found.rows {
        let number = numbered(book, &about, found, &row.names.join(" "), &row.label);
        let first = book.estimate(number, 'a', heads[0], &row.first, "");
        let total = book.estimate(number, 'b', heads[1], &row.total, "");
        let floor = book.given(number, 'c', heads[2], &format!("{:.2}", row.floor), "");
        rows.push(of_row(number, &row.label, [first, total, floor]));
    }
    let mut notes = vec![vec![text(
        "First order: the share of the variance that would go if this were known. Total: the share that would be left if \
         all else were known. A first order no larger than what chance alone may show is none.",
    )]];
    let number = numbered(book, &about, found, "sums", "All together");
    for (letter, what, e) in [
        ('a', "sum of the first-order indices", &found.sum_first),
        ('b', "interactions, 1 less that sum", &found.interactions),
    ] {
        if let Some(e) = e {
            notes.push(vec![
                text(format!("{}: ", first_upper(what))),
                book.estimate(number, letter, what, e, ""),
                text("."),
            ]);
        }
    }
    notes.extend(found.notes.iter().map(|note| vec![text(clean(note))]));
    laid("table-indices", &about, heads, rows, notes)
}

fn shapley(book: &mut Book<'_>, found: &GlobalIndices, effects: &Shapley) -> Block {
    let evaluations = grouped(effects.evaluations as f64, 0);
    let about = About {
        subject: "shapley",
        of: format!("Shapley effects on {}", in_sentence(&clean(&found.label))),
        behind: format!("{evaluations} evaluations; 95 % interval by {}", effects.interval.name()),
    };
    let heads = ["Shapley effect", "First order, correlations kept", "Left when all others are known"];
    let mut rows = Vec::new();
    for row in &effects.rows {
        let number = numbered(book, &about, found, &row.names.join(" "), &row.label);
        let figure = |book: &mut Book<'_>, letter: char, head: &str, e: &Estimate| {
            book.estimate(number, letter, head, e, "")
        };
        let effect = figure(book, 'a', heads[0], &row.effect);
        let first = figure(book, 'b', heads[1], &row.first);
        let left = figure(book, 'c', heads[2], &row.left);
        rows.push(of_row(number, &row.label, [effect, first, left]));
    }
    let note = "Effects sum to 1; what correlated inputs do together is shared out among them.";
    laid("table-shapley", &about, heads, rows, vec![vec![text(note)]])
}

fn numbered(book: &mut Book<'_>, about: &About<'_>, found: &GlobalIndices, key: &str, label: &str) -> u32 {
    let subject = format!("{} {} {key}", about.subject, found.result);
    book.row(&subject, &format!("{}: {}", about.of, clean(label)), &found.result, &about.behind)
}

fn of_row(number: u32, label: &str, figures: [Inline; 3]) -> Row {
    let mut cells = vec![Cell::verbatim(said(label))];
    cells.extend(figures.map(cell));
    Row { is_heading: false, number: Some(number), cells }
}

fn laid(id: &str, about: &About<'_>, heads: [&str; 3], rows: Vec<Row>, notes: Vec<Vec<Inline>>) -> Block {
    let [a, b, c] = heads;
    let columns = columns(&[("Input or group", 6, false), (a, 4, true), (b, 4, true), (c, 4, true)]);
    Block::Table(Table { id: id.into(), caption: about.of.clone(), columns, rows, notes })
}
