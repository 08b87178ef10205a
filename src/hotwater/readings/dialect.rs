//! How a file is written: the sign between cells, where its rows begin, the decimal sign.

use super::dates::{clock, stamp};
use super::fault::ReadingsError;
use super::lines::{Line, Lines, MOST_CELLS, split};
use super::numbers::{Cell, number, trim};
use super::options::Options;
use super::text_bytes::shown;

/// Lines looked at to find out.
const SAMPLE: usize = 400;

/// How a file is written.
#[derive(Debug, Clone)]
pub(super) struct Dialect {
    pub(super) separator: u8,
    pub(super) decimal: u8,
    /// How the decimal sign was found.
    pub(super) decimal_why: &'static str,
    /// Line of the headings, where there are any.
    pub(super) header_line: Option<usize>,
    /// Headings; empty where there are none.
    pub(super) headings: Vec<Vec<u8>>,
    /// Line of the first row of readings.
    pub(super) first_row: usize,
    /// Cells of the first rows of readings, for a look at what they hold.
    pub(super) sample: Vec<Vec<Vec<u8>>>,
}

/// Whether a line is empty or a comment.
pub(super) fn is_blank_or_comment(line: &[u8]) -> bool {
    let line = trim(line);
    line.is_empty() || matches!(line[0], b'#' | b'%') || line.starts_with(b"//")
}

/// Finds out how a file is written.
pub(super) fn find(text: &[u8], options: &Options) -> Result<Dialect, ReadingsError> {
    let lines: Vec<Line<'_>> = Lines::new(text).take(SAMPLE).collect();
    if lines.iter().all(|line| is_blank_or_comment(line.text)) {
        return Err(ReadingsError::new(
            "the file has no readings",
            "a heading and a row for each interval are wanted",
        ));
    }
    let separators = options.separator.map_or(vec![b';', b'\t', b',', b'|'], |s| vec![s]);
    let scored = separators.iter().map(|&s| (lines.iter().filter(|l| is_row(l.text, s)).count(), s));
    // The first of equals wins: a comma may be a decimal sign.
    let (rows, separator) = scored.fold((0, b','), |best, one| if one.0 > best.0 { one } else { best });
    if rows == 0 {
        return Err(no_rows(&lines));
    }
    let first = lines.iter().position(|line| is_row(line.text, separator)).unwrap_or(0);
    let sample: Vec<Vec<Vec<u8>>> = lines[first..]
        .iter()
        .filter(|l| is_row(l.text, separator))
        .map(|l| cells(l.text, separator))
        .collect();
    let (header_line, headings) = header(&lines[..first], separator);
    check_width(&headings, &sample, lines[first].number)?;
    let (decimal, decimal_why) = decimal_sign(&sample, separator, options);
    Ok(Dialect {
        separator,
        decimal,
        decimal_why,
        header_line,
        headings,
        first_row: lines[first].number,
        sample,
    })
}

/// A row with more cells than there are headings is most often one whose decimal commas part its numbers.
fn check_width(headings: &[Vec<u8>], sample: &[Vec<Vec<u8>>], line: usize) -> Result<(), ReadingsError> {
    let filled =
        |row: &Vec<Vec<u8>>| row.iter().rposition(|cell| !trim(cell).is_empty()).map_or(0, |last| last + 1);
    if headings.is_empty() || sample.iter().any(|row| filled(row) <= headings.len()) {
        return Ok(());
    }
    let cells = sample.first().map_or(0, filled);
    let what = format!("the rows have more cells than headings: {cells} and {}", headings.len());
    let right = "numbers with decimal commas need semicolons between cells, or quotes around them";
    Err(ReadingsError::new(what, right).at(line))
}

fn no_rows(lines: &[Line<'_>]) -> ReadingsError {
    let line = lines.iter().filter(|line| !is_blank_or_comment(line.text)).nth(1);
    let line = line.or_else(|| lines.iter().find(|line| !is_blank_or_comment(line.text)));
    let (number, text) = line.map_or((1, String::new()), |l| (l.number, shown(l.text)));
    let what = format!("no row with a date and a number was found; this line reads `{text}`");
    let right =
        "a row such as `2024-06-01 12:30,0.42` is wanted, its cells parted by commas, semicolons or tabs";
    ReadingsError::new(what, right).at(number)
}

/// The cells of a line, copied.
fn cells(line: &[u8], separator: u8) -> Vec<Vec<u8>> {
    let mut room: [&[u8]; MOST_CELLS] = [&[]; MOST_CELLS];
    let count = split(line, separator, &mut room);
    room[..count].iter().map(|cell| cell.to_vec()).collect()
}

/// Whether a line is a row of readings: a date and, beside it, a number or the lack of one.
fn is_row(line: &[u8], separator: u8) -> bool {
    if is_blank_or_comment(line) {
        return false;
    }
    let mut room: [&[u8]; MOST_CELLS] = [&[]; MOST_CELLS];
    let count = split(line, separator, &mut room);
    let dates = room[..count].iter().filter(|cell| stamp(cell).is_some()).count();
    let other = |cell: &&&[u8]| stamp(cell).is_none() && !is_plain_clock(cell);
    let is_value = |cell: &&[u8]| !matches!(either_number(cell), Cell::Other);
    // A lone row of a date and an empty cell counts too, but for lines that end in a separator.
    dates > 0 && room[..count].iter().filter(other).any(is_value)
}

/// A time of day that cannot be a number such as 12.30.
fn is_plain_clock(cell: &[u8]) -> bool {
    cell.iter().any(|b| matches!(b, b':' | b'h')) && clock(cell).is_some()
}

fn either_number(cell: &[u8]) -> Cell {
    match number(cell, b'.') {
        Cell::Other => number(cell, b','),
        known => known,
    }
}

/// The last line before the rows that could be their headings.
fn header(before: &[Line<'_>], separator: u8) -> (Option<usize>, Vec<Vec<u8>>) {
    for line in before.iter().rev() {
        let text = line.text.strip_prefix(b"#").unwrap_or(line.text);
        let found = cells(text, separator);
        let words = found.iter().filter(|c| c.iter().any(|b| b.is_ascii_alphabetic() || *b >= 0x80)).count();
        let times = found.iter().filter(|cell| is_plain_clock(cell)).count();
        if words >= 2 || (found.len() == 1 + times && times >= 24) {
            return (Some(line.number), found);
        }
    }
    (None, Vec::new())
}

/// The decimal sign, from the cells that have a dot or a comma.
fn decimal_sign(sample: &[Vec<Vec<u8>>], separator: u8, options: &Options) -> (u8, &'static str) {
    if let Some(decimal) = options.decimal {
        return (decimal, "as told");
    }
    let mut doubtful = None;
    for cell in sample.iter().flatten().filter(|cell| is_dotted(cell)) {
        let last = |sign: u8| cell.iter().rposition(|&b| b == sign);
        let count = |sign: u8| cell.iter().filter(|&&b| b == sign).count();
        match (last(b'.'), last(b',')) {
            (Some(dot), Some(comma)) => {
                return (if dot > comma { b'.' } else { b',' }, "both signs occur in one number");
            }
            (Some(_), None) if count(b'.') == 1 && !like_thousands(cell, b'.') => return (b'.', "seen"),
            (None, Some(_)) if count(b',') == 1 && !like_thousands(cell, b',') => return (b',', "seen"),
            (Some(_), None) if count(b'.') == 1 => doubtful = doubtful.or(Some(b'.')),
            (None, Some(_)) if count(b',') == 1 => doubtful = doubtful.or(Some(b',')),
            _ => {}
        }
    }
    match doubtful {
        // 1.234 may be a thousand or one and a bit; a meter's register has three decimals.
        Some(b',') if separator == b',' => (
            b'.',
            "the only commas are in front of three digits, in a file with commas between cells: thousands",
        ),
        Some(sign) => (sign, "always in front of three digits, taken for decimals"),
        None => (b'.', "no decimals seen"),
    }
}

/// Whether a cell has digits, dots and commas only.
fn is_dotted(cell: &[u8]) -> bool {
    let cell = trim(cell);
    let plain = |b: &u8| b.is_ascii_digit() || matches!(b, b'.' | b',' | b'-' | b'+' | b' ' | b'\'');
    stamp(cell).is_none() && cell.iter().all(plain) && cell.iter().any(|b| matches!(b, b'.' | b','))
}

/// Whether one to three digits other than a lone 0, the sign, and three digits make up the cell.
fn like_thousands(cell: &[u8], sign: u8) -> bool {
    let cell = trim(cell);
    let cell = cell.strip_prefix(b"-").unwrap_or(cell);
    let at = cell.iter().position(|&b| b == sign).unwrap_or(0);
    (1..=3).contains(&at) && cell.len() == at + 4 && cell[0] != b'0'
}
