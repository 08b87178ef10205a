//! What the runs say, as numbers: beside the results, and every table of the answers below each other.

use std::collections::BTreeMap;

use rust_xlsxwriter::XlsxError;

use super::grid::Grid;
use super::places::Page;
use super::text::Value;
use crate::analysis::{Answers, Summary};
use crate::report::cells::{Cells, estimate, share};
use crate::report::tables;

/// Most rows of one table here; the rest stands in the tables as CSV.
const MOST_ROWS: usize = 400;

/// Headings beside the results.
pub(super) const BESIDE: [&str; 13] = [
    "Mean of runs",
    "from",
    "to",
    "10 % of runs below",
    "Half of runs below",
    "from",
    "to",
    "90 % of runs below",
    "Success is",
    "Share of success",
    "from",
    "to",
    "Share never",
];

/// Where a table stands: row of its head, columns by heading, number of its rows.
#[derive(Debug, Clone)]
pub(super) struct Table {
    pub(super) head: u32,
    pub(super) columns: Vec<String>,
    pub(super) rows: u32,
}

/// A number as a number, anything else as text.
fn written(grid: &mut Grid, page: Page, row: u32, col: u16, text: &str) -> Result<(), XlsxError> {
    match text.parse::<f64>() {
        Ok(x) if x.is_finite() => {
            let look = grid.looks.text.clone();
            grid.value(page, row, col, &Value::Number(x), &look)
        }
        _ => grid.text(page, row, col, text.strip_prefix('\'').unwrap_or(text)),
    }
}

/// What the runs say of one result, beside its base case.
pub(super) fn beside(
    grid: &mut Grid,
    page: Page,
    row: u32,
    first: u16,
    result: &Summary,
) -> Result<(), XlsxError> {
    let none = || [const { String::new() }; 4];
    let mean: Cells = result.mean.as_ref().map_or_else(none, estimate);
    let percentile = |p: f64| {
        let found = result.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9);
        found.map_or_else(none, |q| estimate(&q.estimate))
    };
    let (low, half, high) = (percentile(0.1), percentile(0.5), percentile(0.9));
    let success: Cells = result.success.as_ref().map_or_else(none, |s| share(&s.share));
    let rule = result.success.as_ref().map_or("", |s| s.rule.as_str());
    let never: Cells = result.never.as_ref().map_or_else(none, share);
    let cells = [
        &mean[0],
        &mean[1],
        &mean[2],
        &low[0],
        &half[0],
        &half[1],
        &half[2],
        &high[0],
        rule,
        &success[0],
        &success[1],
        &success[2],
        &never[0],
    ];
    for (k, text) in cells.iter().enumerate() {
        written(grid, page, row, first + k as u16, text)?;
    }
    Ok(())
}

/// Every table of the answers; where each stands.
pub(super) fn statistics(grid: &mut Grid, answers: &Answers) -> Result<BTreeMap<String, Table>, XlsxError> {
    let page = Page::Statistics;
    let mut places = BTreeMap::new();
    let Ok(files) = tables::tables(answers) else { return Ok(places) };
    for (name, bytes) in files {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(&bytes[..]);
        let rows: Vec<csv::StringRecord> = reader.records().filter_map(Result::ok).collect();
        let Some((head, rows)) = rows.split_first() else { continue };
        let name = name.trim_end_matches(".csv");
        let (title, heads) = (grid.looks.result.clone(), grid.looks.head.clone());
        let at = grid.row(page);
        grid.text_as(page, at, 0, &name.replace(['-', '_'], " "), &title)?;
        if rows.len() > MOST_ROWS {
            let what = format!("the first {MOST_ROWS} of {} rows; all stand in {name}.csv", rows.len());
            grid.text(page, at, 1, &what)?;
        }
        let at = grid.row(page);
        grid.two_lines(page, at)?;
        for (k, text) in head.iter().enumerate() {
            grid.text_as(page, at, k as u16, text, &heads)?;
        }
        let shown = &rows[..rows.len().min(MOST_ROWS)];
        for record in shown {
            let row = grid.row(page);
            for (k, text) in record.iter().enumerate() {
                written(grid, page, row, k as u16, text)?;
            }
        }
        let columns = head.iter().map(ToOwned::to_owned).collect();
        places.insert(name.to_owned(), Table { head: at, columns, rows: shown.len() as u32 });
        grid.row(page);
    }
    Ok(places)
}
