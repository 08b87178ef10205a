//! A table of the answers (its CSV) as a table of the report: each figure with its interval, and with a number.

use std::collections::BTreeMap;

use super::book::{Book, columns, heading_row, said, text};
use crate::report::document::{Block, Cell, Row, Table};
use crate::wording::{clean, decimals, grouped};

/// Most rows that are shown; the others are in the file.
const MOST_ROWS: usize = 60;

/// Which columns of a file are shown, and under which headings.
pub(super) struct Spec {
    /// Stem of the file.
    pub(super) file: &'static str,
    /// What it shows.
    pub(super) caption: &'static str,
    /// Columns whose values, joined, head the rows below them.
    pub(super) group: &'static [&'static str],
    /// Columns that say what the row is about: they make its number.
    pub(super) key: &'static [&'static str],
    /// Column with the name in the study, if there is one.
    pub(super) name: &'static str,
    /// Column with the unit of the figures, if there is one.
    pub(super) unit: &'static str,
    /// The beginning of a column's heading, how it is headed here, its width.
    pub(super) columns: &'static [(&'static str, &'static str, u32)],
}

const FROM: &str = "95 % interval from";
const TO: &str = "95 % interval to";
const BY: &str = "interval by";

/// A file of figures, read.
struct Sheet {
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Sheet {
    fn read(bytes: &[u8]) -> Option<Sheet> {
        let mut reader = csv::Reader::from_reader(bytes);
        let head = reader.headers().ok()?.iter().map(ToOwned::to_owned).collect();
        let rows = reader.records().filter_map(Result::ok);
        Some(Sheet { head, rows: rows.map(|row| row.iter().map(ToOwned::to_owned).collect()).collect() })
    }

    /// The column of this heading, else the first that begins so and holds no interval.
    fn at(&self, heading: &str) -> Option<usize> {
        let begins =
            |h: &String| h.starts_with(heading) && ![FROM, TO, BY].iter().any(|part| h.contains(part));
        self.head.iter().position(|h| h == heading).or_else(|| self.head.iter().position(begins))
    }

    /// The columns of its interval: from, to, by.
    fn interval(&self, at: usize) -> Option<[usize; 3]> {
        let is = |k: usize, part: &str| self.head.get(at + k).is_some_and(|h| h.contains(part));
        (is(1, FROM) && is(2, TO) && is(3, BY)).then_some([at + 1, at + 2, at + 3])
    }
}

/// The table, if the answers have the file and it has rows.
pub(super) fn table(book: &mut Book<'_>, files: &BTreeMap<String, Vec<u8>>, spec: &Spec) -> Option<Block> {
    let sheet = Sheet::read(files.get(spec.file)?)?;
    let shown: Vec<(usize, &str, u32)> =
        spec.columns.iter().filter_map(|&(h, as_, width)| Some((sheet.at(h)?, as_, width))).collect();
    let filled = |at: usize| sheet.rows.iter().any(|row| row.get(at).is_some_and(|cell| !cell.is_empty()));
    let shown: Vec<(usize, &str, u32)> = shown.into_iter().filter(|&(at, _, _)| filled(at)).collect();
    if sheet.rows.is_empty() || shown.is_empty() {
        return None;
    }
    let heads: Vec<(&str, u32, bool)> =
        shown.iter().map(|&(at, heading, width)| (heading, width, is_numeric(&sheet, at))).collect();
    let mut rows = Vec::new();
    let mut above = None;
    for row in sheet.rows.iter().take(MOST_ROWS) {
        let group = joined(&sheet, row, spec.group, ", ");
        if !group.is_empty() && above.as_ref() != Some(&group) {
            rows.push(heading_row(&group));
            above = Some(group);
        }
        rows.push(of_row(book, spec, &sheet, row, &shown, heads.as_slice()));
    }
    let mut notes = Vec::new();
    if sheet.rows.len() > MOST_ROWS {
        let (n, all) = (grouped(MOST_ROWS as f64, 0), grouped(sheet.rows.len() as f64, 0));
        notes.push(vec![text(format!("The first {n} of {all} rows; all of them are in {}.csv.", spec.file))]);
    }
    if sheet.head.len() > shown.len() {
        notes.push(vec![text(format!("Further columns are in {}.csv.", spec.file))]);
    }
    let id = format!("table-{}", spec.file.replace('_', "-"));
    Some(Block::Table(Table { id, caption: spec.caption.into(), columns: columns(&heads), rows, notes }))
}

fn joined(sheet: &Sheet, row: &[String], columns: &[&str], by: &str) -> String {
    let cells = columns.iter().filter_map(|column| row.get(sheet.at(column)?));
    let cells: Vec<String> = cells.map(|cell| unquoted(cell)).filter(|cell| !cell.is_empty()).collect();
    cells.join(by)
}

/// Without the apostrophe that keeps a spreadsheet from taking a text for a formula.
fn unquoted(cell: &str) -> String {
    let bare = cell.strip_prefix('\'').filter(|rest| rest.starts_with(['=', '+', '-', '@', ' ']));
    said(bare.unwrap_or(cell))
}

/// Numbers stand to the right.
fn is_numeric(sheet: &Sheet, at: usize) -> bool {
    let mut filled =
        sheet.rows.iter().filter_map(|row| row.get(at)).filter(|cell| !cell.is_empty()).peekable();
    filled.peek().is_some() && filled.all(|cell| is_figure(cell))
}

fn is_figure(cell: &str) -> bool {
    matches!(cell, "never" | "always") || cell.parse::<f64>().is_ok_and(f64::is_finite)
}

fn of_row(
    book: &mut Book<'_>,
    spec: &Spec,
    sheet: &Sheet,
    row: &[String],
    shown: &[(usize, &str, u32)],
    heads: &[(&str, u32, bool)],
) -> Row {
    let about = joined(sheet, row, spec.key, " ");
    let name = joined(sheet, row, &[spec.name], "");
    let unit = if spec.unit.is_empty() { String::new() } else { joined(sheet, row, &[spec.unit], "") };
    let unit = if unit == "1" { String::new() } else { unit };
    let by = shown.iter().filter_map(|&(at, _, _)| row.get(sheet.interval(at)?[2])).find(|by| !by.is_empty());
    let runs = grouped(book.material.answers.sampling.runs as f64, 0);
    let behind = match by {
        Some(by) => format!("{runs} runs; 95 % interval by {}", clean(by)),
        None => format!("{runs} runs, or single evaluations where nothing is drawn"),
    };
    let number = book.row(
        &format!("{} {about}", spec.file),
        &format!("{}: {}", spec.caption, brief(&about)),
        &name,
        &behind,
    );
    let mut letter = b'a';
    let mut cells = Vec::new();
    for (&(at, heading, _), &(_, _, numeric)) in shown.iter().zip(heads) {
        let cell = row.get(at).map_or("", String::as_str);
        if !numeric || cell.is_empty() || is_year(heading) {
            cells.push(Cell::verbatim(unquoted(cell)));
        } else {
            let printed = printed(book, sheet, row, at, &unit);
            let unit = if of_unit(heading) { unit.as_str() } else { "" };
            cells.push(super::book::cell(book.given(number, char::from(letter), heading, &printed, unit)));
        }
        if numeric && !is_year(heading) && letter < b'z' {
            letter += 1;
        }
    }
    Row { is_heading: false, number: Some(number), cells }
}

/// Years and counts of steps are no figures of the answer.
fn is_year(heading: &str) -> bool {
    let heading = heading.to_lowercase();
    heading == "year" || heading.ends_with("calendar year") || heading == "box" || heading == "step"
}

/// Shares, correlations and counts have no unit.
fn of_unit(heading: &str) -> bool {
    let heading = heading.to_lowercase();
    ![
        "share",
        "index",
        "correlation",
        "runs",
        "chance",
        "distance",
        "r squared",
        "best in",
        "coverage",
        "density",
    ]
    .iter()
    .any(|word| heading.contains(word))
}

/// The figure with its interval, in groups of three digits.
fn printed(book: &Book<'_>, sheet: &Sheet, row: &[String], at: usize, unit: &str) -> String {
    let of = |at: usize| row.get(at).map_or_else(String::new, |cell| ours(cell, unit, book.currency()));
    let value = of(at);
    match sheet.interval(at).map(|[from, to, _]| (of(from), of(to))) {
        Some((low, high)) if !(low.is_empty() && high.is_empty()) => {
            let end = |end: String| if end.is_empty() { "no limit".into() } else { end };
            format!("{value} [{}, {}]", end(low), end(high))
        }
        _ => value,
    }
}

/// Numbers of full precision in a text cut to five digits: they only tell rows apart.
fn brief(text: &str) -> String {
    let is_long = |word: &str| word.contains('.') && word.len() > 8;
    let short = |word: &str| match word.parse::<f64>() {
        Ok(x) if is_long(word) => super::book::number(x),
        _ => word.to_owned(),
    };
    text.split(' ').map(short).collect::<Vec<_>>().join(" ")
}

/// A plain number as we write it. One of full precision gets as many digits as a reader can use.
fn ours(cell: &str, unit: &str, currency: &str) -> String {
    let Ok(x) = cell.parse::<f64>() else { return cell.to_owned() };
    if !x.is_finite() || cell.contains(['e', 'E']) {
        return clean(cell);
    }
    let places = cell.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let digits = cell.chars().filter(char::is_ascii_digit).count();
    let most = if digits > 7 { decimals(x, None, unit, currency).max(0) as usize } else { places };
    grouped(x, i32::try_from(places.min(most)).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A heading that a file lacks would leave a column out without a word.
    #[test]
    fn every_column_that_is_shown_is_in_its_file() {
        use super::super::tables_shown as shown;
        let answers = crate::chart::fixture::studies().into_iter().map(|(_, answers)| answers);
        let answers = answers.map(|mut answers| {
            crate::chart::fixture::single_runs(&mut answers);
            answers
        });
        let made: Vec<_> = answers.map(|answers| crate::report::tables::tables(&answers).unwrap()).collect();
        let specs = shown::PAYBACK.iter().chain(&shown::HANGS_ON).chain(&shown::FLIPS).chain(&shown::COURSES);
        let specs =
            specs.chain(&shown::KNOWING).chain(&shown::FAILS).chain(&shown::CLAIM).chain(&shown::PATHS);
        let mut looked_at = 0;
        for spec in specs.chain(&shown::LINKS).chain(&shown::HOMES) {
            let file = format!("{}.csv", spec.file);
            for (_, bytes) in made.iter().flatten().filter(|(name, _)| *name == file) {
                let sheet = Sheet::read(bytes).unwrap();
                for (heading, _, _) in spec.columns {
                    assert!(sheet.at(heading).is_some(), "{file} has no \"{heading}\": {:?}", sheet.head);
                }
                looked_at += 1;
            }
        }
        assert!(looked_at > 20, "{looked_at}");
    }

    #[test]
    fn numbers_of_a_table_are_grouped_and_cut() {
        for (cell, text) in [
            ("1234.5", "1,234.5"),
            ("76.09756415185521", "76"),
            ("-120000", "-120,000"),
            ("never", "never"),
            ("0.0763", "0.0763"),
        ] {
            assert_eq!(ours(cell, "EUR", "EUR"), text);
        }
        assert_eq!(brief("export_price npv 0.111051645449 at 4.5"), "export_price npv 0.11105 at 4.5");
        assert_eq!(unquoted("'=1+1"), "=1+1");
        assert_eq!(unquoted("'quoted'"), "'quoted'");
    }
}
