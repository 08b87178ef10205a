//! All answers, each with its interval, each chart next to its table.

use std::collections::BTreeMap;

use super::book::{Book, bullets, cell, columns, heading_row, said, section as part, text};
use super::by_table::{Spec, table};
use super::tables_shown as shown;
use crate::analysis::{Figure, ResultKind, Summary};
use crate::report::choosing;
use crate::report::document::{Block, Cell, Column, Inline, Row, Section, Table};
use crate::wording::clean;

/// Percentiles shown, each with its letter.
const SHARES: [(f64, char); 7] =
    [(0.05, 'd'), (0.1, 'e'), (0.25, 'f'), (0.5, 'g'), (0.75, 'h'), (0.9, 'i'), (0.95, 'j')];

pub(super) fn section(book: &mut Book<'_>) -> Section {
    let files = files(book);
    let mut sections = vec![summary(book)];
    sections.extend(choices(book));
    let parts: [(&str, &str, &[Spec], &[&str]); 8] = [
        ("payback", "Payback and cash by year", &shown::PAYBACK, &["payback", "cash"]),
        (
            "hangs-on",
            "What it hangs on",
            &shown::HANGS_ON,
            &["tornado", "drivers", "indices", "shapley", "tenths", "groups-"],
        ),
        ("flips", "Where the answer flips", &shown::FLIPS, &["break-even"]),
        ("courses", "The courses compared", &shown::COURSES, &["alternatives"]),
        ("knowing", "What it is worth to know more", &shown::KNOWING, &["information"]),
        ("fails", "When it fails", &shown::FAILS, &["conditions"]),
        ("promises", "What was promised", &shown::CLAIM, &["claim"]),
        ("prices", "Prices by year", &shown::PATHS, &["path-"]),
    ];
    for (id, heading, specs, stems) in parts {
        let mut blocks = said_of(book, id);
        blocks.extend(book.charts(stems));
        blocks.extend(specs.iter().filter_map(|spec| table(book, &files, spec)));
        if id == "hangs-on" {
            blocks.extend(super::global::tables(book));
        }
        if !blocks.is_empty() {
            sections.push(part(&format!("results-{id}"), heading, blocks));
        }
    }
    let homes: Vec<Block> = shown::HOMES.iter().filter_map(|spec| table(book, &files, spec)).collect();
    if !homes.is_empty() {
        let mut blocks = book.charts(&["simulated-"]);
        blocks.extend(homes);
        sections.push(part("results-homes", "Simulated homes", blocks));
    }
    let left = book.charts_left();
    if !left.is_empty() {
        sections.push(part("results-further", "Further charts", left));
    }
    Section {
        id: "results".into(),
        heading: "All results".into(),
        new_page: true,
        blocks: book.words("results"),
        sections,
    }
}

/// The tables of the answers by the stems of their files.
pub(super) fn files(book: &Book<'_>) -> BTreeMap<String, Vec<u8>> {
    let files = crate::report::tables::tables(book.material.answers).unwrap_or_default();
    files.into_iter().map(|(name, bytes)| (name.trim_end_matches(".csv").to_owned(), bytes)).collect()
}

/// What is said of a part in sentences.
fn said_of(book: &Book<'_>, part: &str) -> Vec<Block> {
    let answers = book.material.answers;
    let mut lines: Vec<String> = Vec::new();
    match part {
        "hangs-on" => {
            lines.extend(answers.tornado.iter().flat_map(|tornado| &tornado.notes).map(|n| clean(n)));
        }
        "courses" => {
            lines.extend(answers.alternatives.iter().flat_map(|found| choosing::sentences(answers, found)));
        }
        "knowing" => {
            lines
                .extend(answers.knowing.iter().flat_map(|found| choosing::knowing_sentences(answers, found)));
        }
        "fails" => {
            let found = answers.failing.iter().map(|failing| &failing.conditions);
            for conditions in found {
                lines.extend(conditions.boxes.iter().map(|found| clean(&found.words)));
                lines.extend(conditions.notes.iter().map(|note| clean(note)));
            }
        }
        "promises" => lines.extend(answers.claim.iter().map(|claim| clean(&claim.words))),
        _ => {}
    }
    lines.retain(|line| !line.is_empty());
    if lines.is_empty() {
        Vec::new()
    } else {
        vec![bullets(lines.into_iter().map(|l| vec![text(l)]).collect())]
    }
}

/// Every result: base case, mean, spread, percentiles, shares.
fn summary(book: &mut Book<'_>) -> Section {
    let answers = book.material.answers;
    let mut blocks = book.charts(&["result"]);
    let rows = answers.results.iter().map(|result| figures(book, result)).collect();
    let caption = "Each result over the runs, choices at their base values";
    blocks.push(Block::Table(Table {
        id: "table-results".into(),
        caption: caption.into(),
        columns: result_columns(),
        rows,
        notes: vec![vec![text(
            "In brackets the 95 % interval of the figure: how far it is known from so many runs, not how far the result \
             spreads. \"10 % lie below\" is the value below which a tenth of the runs lie.",
        )]],
    }));
    let rows = answers.results.iter().map(|result| shares(book, result)).collect();
    blocks.push(Block::Table(Table {
        id: "table-shares".into(),
        caption: "Shares of the runs, and where the base case lies among them".into(),
        columns: columns(&[
            ("Result", 5, false),
            ("What counts", 3, false),
            ("Share", 4, true),
            ("Never", 4, true),
            ("Below the base case", 4, true),
            ("Runs", 2, true),
            ("Without a value", 2, true),
        ]),
        rows,
        notes: Vec::new(),
    }));
    part("results-all", "Each result", blocks)
}

fn result_columns() -> Vec<Column> {
    columns(&[
        ("Result", 5, false),
        ("Unit", 2, false),
        ("Base case", 2, true),
        ("Mean", 3, true),
        ("Standard deviation", 3, true),
        ("5 % lie below", 3, true),
        ("10 %", 3, true),
        ("25 %", 3, true),
        ("Half", 3, true),
        ("75 %", 3, true),
        ("90 %", 3, true),
        ("95 % lie below", 3, true),
    ])
}

fn base(book: &mut Book<'_>, number: u32, result: &Summary) -> Inline {
    match (result.kind, result.base) {
        (ResultKind::YesNo, Figure::Number(x)) => {
            book.given(number, 'a', "base case", if x == 0.0 { "no" } else { "yes" }, "")
        }
        _ => book.exact(number, 'a', "base case", result.base, &result.unit),
    }
}

fn figures(book: &mut Book<'_>, result: &Summary) -> Row {
    let number = book.row_of(result);
    let unit = &result.unit;
    let mut cells = vec![
        Cell::verbatim(said(&result.label)),
        Cell::verbatim(clean(unit)),
        cell(base(book, number, result)),
    ];
    for (letter, what, e) in [('b', "mean", &result.mean), ('c', "standard deviation", &result.sd)] {
        let shown = e.as_ref().filter(|_| result.kind != ResultKind::YesNo);
        cells.push(shown.map_or_else(Cell::default, |e| cell(book.estimate(number, letter, what, e, unit))));
    }
    for (p, letter) in SHARES {
        let found = result.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9);
        let found = found.filter(|_| result.kind != ResultKind::YesNo);
        let what = format!("{} % of runs lie below", p * 100.0);
        cells.push(
            found.map_or_else(Cell::default, |q| {
                cell(book.estimate(number, letter, &what, &q.estimate, unit))
            }),
        );
    }
    Row { is_heading: false, number: Some(number), cells }
}

fn shares(book: &mut Book<'_>, result: &Summary) -> Row {
    let number = book.row_of(result);
    let mut cells = vec![Cell::verbatim(said(&result.label))];
    cells.push(Cell::text(result.success.as_ref().map_or_else(String::new, |s| clean(&s.rule))));
    let what =
        result.success.as_ref().map_or_else(String::new, |s| format!("share of runs: {}", clean(&s.rule)));
    let success = result.success.as_ref().map(|s| s.share);
    for (letter, what, share) in [
        ('k', what.as_str(), success),
        ('l', "share of runs: never", result.never),
        ('m', "share of runs below the base case", result.base_rank),
    ] {
        cells.push(share.map_or_else(Cell::default, |s| cell(book.share(number, letter, what, &s))));
    }
    for (letter, what, n) in [('n', "runs", result.runs), ('o', "runs without a value", result.without_value)]
    {
        let n = Figure::Number(n as f64);
        let printed = crate::wording::grouped(n.number().unwrap_or_default(), 0);
        cells.push(cell(book.given(number, letter, what, &printed, "")));
    }
    Row { is_heading: false, number: Some(number), cells }
}

/// Each result at each value of a choice.
fn choices(book: &mut Book<'_>) -> Option<Section> {
    let answers = book.material.answers;
    if answers.choices.is_empty() {
        return None;
    }
    let mut blocks = book.charts(&["result-by"]);
    let mut rows = Vec::new();
    for choice in &answers.choices {
        let mark = if choice.is_base { " (base)" } else { "" };
        rows.push(heading_row(&format!("{}: {}{mark}", clean(&choice.label), clean(&choice.value))));
        for result in &choice.results {
            let subject = format!("choice {} {} {}", choice.choice, choice.value, result.name);
            let what =
                format!("{} at {} = {}", clean(&result.label), clean(&choice.label), clean(&choice.value));
            let behind = book
                .behind(result)
                .replace("choices at their base values", "the other choices at their base values");
            let number = book.row(&subject, &what, &result.name, &behind);
            rows.push(at_choice(book, number, result));
        }
    }
    blocks.push(Block::Table(Table {
        id: "table-choices".into(),
        caption: "Each result at each value of each choice, never pooled".into(),
        columns: columns(&[
            ("Result", 5, false),
            ("Unit", 2, false),
            ("Base case", 2, true),
            ("Mean", 4, true),
            ("10 % lie below", 4, true),
            ("Half lie below", 4, true),
            ("90 % lie below", 4, true),
            ("Share of success", 4, true),
            ("Never", 4, true),
        ]),
        rows,
        notes: Vec::new(),
    }));
    Some(part("results-choices", "Choices side by side", blocks))
}

fn at_choice(book: &mut Book<'_>, number: u32, result: &Summary) -> Row {
    let unit = &result.unit;
    let mut cells = vec![
        Cell::verbatim(said(&result.label)),
        Cell::verbatim(clean(unit)),
        cell(base(book, number, result)),
    ];
    let numbers = result.kind != ResultKind::YesNo;
    let mean = result.mean.as_ref().filter(|_| numbers);
    cells.push(mean.map_or_else(Cell::default, |e| cell(book.estimate(number, 'b', "mean", e, unit))));
    for (p, letter, what) in [
        (0.1, 'e', "10 % of runs lie below"),
        (0.5, 'g', "50 % of runs lie below"),
        (0.9, 'i', "90 % of runs lie below"),
    ] {
        let found = result.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9).filter(|_| numbers);
        cells
            .push(found.map_or_else(Cell::default, |q| {
                cell(book.estimate(number, letter, what, &q.estimate, unit))
            }));
    }
    let success = result.success.as_ref().map(|s| (format!("share of runs: {}", clean(&s.rule)), s.share));
    cells.push(success.map_or_else(Cell::default, |(what, s)| cell(book.share(number, 'k', &what, &s))));
    cells.push(
        result
            .never
            .map_or_else(Cell::default, |s| cell(book.share(number, 'l', "share of runs: never", &s))),
    );
    Row { is_heading: false, number: Some(number), cells }
}
