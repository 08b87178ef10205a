//! Rows of the inputs sheet from the bytes of a workbook.

use std::io::Cursor;

use calamine::{Data, Reader, Xlsx, XlsxError};

use super::Column;
use crate::report::workbook::layout::{FIRST_MONTH, INPUTS};

/// Most rows that are read: far above any study.
const MOST_ROWS: u32 = 100_000;

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// A number; of a formula its value as saved.
    Number(f64),
    /// Text.
    Text(String),
    /// A formula whose value was not saved.
    Unsaved,
    /// What no study can hold: an error of the spreadsheet program, true or false.
    Other(String),
}

/// A row of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its number, as the spreadsheet program counts.
    pub number: u32,
    cells: Vec<Cell>,
    months: Vec<Cell>,
}

impl Row {
    /// The cell in a column.
    pub fn cell(&self, column: Column) -> &Cell {
        self.cells.get(column as usize).unwrap_or(&Cell::Empty)
    }

    /// The cells of the twelve months.
    pub fn months(&self) -> &[Cell] {
        &self.months
    }

    /// Its name, if it has one.
    pub fn name(&self) -> Option<&str> {
        match self.cell(Column::Name) {
            Cell::Text(name) if !name.trim().is_empty() => Some(name.trim()),
            _ => None,
        }
    }
}

/// Why a workbook cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetError {
    /// One sentence without a full stop.
    pub message: String,
    /// What would be right.
    pub hint: String,
}

fn error(message: impl Into<String>, hint: impl Into<String>) -> SheetError {
    SheetError { message: message.into(), hint: hint.into() }
}

/// The rows below the headings.
///
/// # Errors
/// Bytes that are no workbook, a workbook without the sheet, a sheet without its headings.
pub fn rows(bytes: &[u8]) -> Result<Vec<Row>, SheetError> {
    let save = "open it in your spreadsheet program and save it as an Excel workbook (.xlsx)";
    if bytes.starts_with(b"PK") && find(bytes.get(..200).unwrap_or(bytes), b"opendocument") {
        return Err(error("this is an OpenDocument spreadsheet, which is not read", save));
    }
    if !bytes.starts_with(b"PK") {
        return Err(error("this is no workbook in the .xlsx format (or it is locked by a password)", save));
    }
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(|e| match e {
        XlsxError::Password => error("the workbook is locked by a password", "save it without one"),
        other => error(format!("the workbook cannot be read: {other}"), save),
    })?;
    if !book.sheet_names().iter().any(|name| name == INPUTS) {
        let message = format!("the workbook has no sheet `{INPUTS}`");
        return Err(error(message, "give the workbook that `payspread report STUDY --as workbook` wrote"));
    }
    let unreadable = |e: XlsxError| error(format!("the sheet `{INPUTS}` cannot be read: {e}"), save);
    let values = book.worksheet_range(INPUTS).map_err(unreadable)?;
    let formulas = book.worksheet_formula(INPUTS).map_err(unreadable)?;
    let cell = |row: u32, column: u32| {
        let formula = formulas.get_value((row, column)).is_some_and(|f| !f.is_empty());
        match values.get_value((row, column)).map_or(Cell::Empty, of_data) {
            Cell::Empty if formula => Cell::Unsaved,
            cell => cell,
        }
    };
    let last = values.end().map_or(0, |(row, _)| row.min(MOST_ROWS));
    let heading =
        |row: &u32| matches!(cell(*row, 0), Cell::Text(text) if text.trim().eq_ignore_ascii_case("name"));
    let Some(head) = (0..=last).find(heading) else {
        let message = format!("the sheet `{INPUTS}` has no row of headings that begins with `Name`");
        return Err(error(message, "leave the headings as they were written"));
    };
    let row = |row: u32| Row {
        number: row + 1,
        cells: (0..Column::ALL.len() as u32).map(|column| cell(row, column)).collect(),
        months: (FIRST_MONTH..FIRST_MONTH + 12).map(|column| cell(row, column.into())).collect(),
    };
    let all = (head + 1..=last).map(row);
    Ok(all.filter(|row| row.cells.iter().any(|cell| *cell != Cell::Empty)).collect())
}

fn find(bytes: &[u8], word: &[u8]) -> bool {
    bytes.windows(word.len()).any(|window| window == word)
}

fn of_data(data: &Data) -> Cell {
    match data {
        Data::Empty => Cell::Empty,
        Data::Int(n) => Cell::Number(*n as f64),
        Data::Float(x) if x.is_finite() => Cell::Number(*x),
        Data::Float(x) => Cell::Other(x.to_string()),
        Data::String(text) if text.trim().is_empty() => Cell::Empty,
        Data::String(text) => Cell::Text(text.clone()),
        Data::Bool(flag) => Cell::Other(if *flag { "TRUE" } else { "FALSE" }.into()),
        Data::DateTime(date) => date_of(date.as_f64()).map_or(Cell::Number(date.as_f64()), Cell::Text),
        Data::DateTimeIso(text) | Data::DurationIso(text) => Cell::Text(text.clone()),
        Data::Error(fault) => Cell::Other(fault.to_string()),
    }
}

/// The day of a serial number counted from the end of 1899.
fn date_of(serial: f64) -> Option<String> {
    let days = serial.floor();
    let whole = (1.0..200_000.0).contains(&days).then_some(days as i64)?;
    let start = jiff::civil::date(1899, 12, 30);
    Some(start.checked_add(jiff::Span::new().days(whole)).ok()?.to_string())
}

/// Whether a number of the sheet is the study's, as far as spreadsheet programs keep it: fifteen significant digits.
pub(super) fn is_same(new: f64, old: f64) -> bool {
    new == old || format!("{new:.14e}") == format!("{old:.14e}")
}
