//! The rows of a file as time stamps and values: one pass over the bytes.

use super::columns::{Layout, What};
use super::dates::{Stamp, clock, stamp};
use super::dialect::{Dialect, is_blank_or_comment};
use super::fault::ReadingsError;
use super::lines::{Lines, MOST_CELLS, split};
use super::numbers::{Cell, number, trim};
use super::options::Kind;
use super::text_bytes::plain;
use super::troubles::{Trouble, Troubles};
use super::words;

/// Most readings of a file.
pub(super) const MOST_ROWS: usize = 5_000_000;

/// Readings that share their time stamps.
#[derive(Debug, Default)]
pub(super) struct Group {
    /// What its rows are called in a file with a row for each register.
    pub(super) name: Option<(Vec<u8>, Kind)>,
    pub(super) stamps: Vec<Stamp>,
    pub(super) lines: Vec<u32>,
    /// Of each column of values one list; NaN is missing.
    pub(super) values: Vec<Vec<f64>>,
}

/// All readings of a file.
pub(super) struct Rows {
    pub(super) groups: Vec<Group>,
    pub(super) rows: usize,
}

struct Reader<'a> {
    layout: &'a Layout,
    decimal: u8,
    /// Cells of a row that are needed.
    width: usize,
    groups: Vec<Group>,
    readings: usize,
    /// The date last read, as ten characters before a time, with what it is: it serves a whole day.
    last_date: Option<([u8; 10], Stamp)>,
}

/// Reads all rows.
pub(super) fn read(
    text: &[u8],
    dialect: &Dialect,
    layout: &Layout,
    troubles: &mut Troubles,
) -> Result<Rows, ReadingsError> {
    let columns = layout.values.iter().map(|v| v.at).chain(layout.day_columns.iter().map(|d| d.0));
    let all = columns.chain([layout.time]).chain(layout.clock).chain(layout.kind_column);
    let width = (all.max().unwrap_or(0) + 1).min(MOST_CELLS);
    let groups = if layout.kind_column.is_none() { vec![with_room(layout, text)] } else { Vec::new() };
    let mut reader = Reader { layout, decimal: dialect.decimal, width, groups, readings: 0, last_date: None };
    let mut room: [&[u8]; MOST_CELLS] = [&[]; MOST_CELLS];
    let mut rows = 0;
    for line in Lines::new(text).skip(dialect.first_row - 1) {
        if is_blank_or_comment(line.text) {
            continue;
        }
        let count = split(line.text, dialect.separator, &mut room[..width]);
        rows += 1;
        reader.row(&room[..count], line.number, troubles);
        if reader.readings > MOST_ROWS {
            let error = ReadingsError::new("more than five million readings", "cut the file into parts");
            return Err(error.at(line.number));
        }
    }
    Ok(Rows { groups: reader.groups, rows })
}

/// A group with room for about as many rows as the text has.
fn with_room(layout: &Layout, text: &[u8]) -> Group {
    let likely = (text.len() / 24).min(MOST_ROWS);
    let values = layout.values.iter().map(|_| Vec::with_capacity(likely)).collect();
    Group { name: None, stamps: Vec::with_capacity(likely), lines: Vec::with_capacity(likely), values }
}

impl Reader<'_> {
    fn row(&mut self, cells: &[&[u8]], line: usize, troubles: &mut Troubles) {
        let cell = |at: usize| cells.get(at).copied().unwrap_or(&[]);
        let Some(stamp) = self.stamp(cell(self.layout.time), self.layout.clock.map(cell)) else {
            let first = cells.iter().copied().find(|c| !trim(c).is_empty()).unwrap_or(&[]);
            let total = words::is_total(&plain(first));
            troubles.add_cell(if total { Trouble::TotalRow } else { Trouble::NoDate }, line, first);
            return;
        };
        if cells.len() < self.width {
            troubles.add(Trouble::ShortRow, line);
        }
        let group = match self.layout.kind_column {
            None => Some(0),
            Some(at) => self.group(cell(at)),
        };
        match group {
            Some(group) if self.layout.day_columns.is_empty() => {
                self.values(group, stamp, cells, line, troubles);
            }
            Some(group) => self.day(group, stamp, cells, line, troubles),
            None => {
                let named = self.layout.kind_column.map_or(&[][..], cell);
                troubles.add_cell(Trouble::UnknownRegister, line, named);
            }
        }
    }

    fn stamp(&mut self, date: &[u8], time: Option<&[u8]>) -> Option<Stamp> {
        if let Some(time) = time {
            return Some(Stamp::joined(stamp(date)?, clock(time)?));
        }
        let Some((ten, [b' ' | b'T', of_day @ ..])) = date.split_first_chunk::<10>() else {
            return stamp(date);
        };
        if let Some((last, known)) = &self.last_date
            && last == ten
            && let Some(time) = clock(of_day)
        {
            return Some(Stamp::joined(*known, time));
        }
        let found = stamp(date)?;
        // Only where the ten characters are the whole date.
        self.last_date = stamp(ten).filter(|alone| alone.date() == found.date()).map(|alone| (*ten, alone));
        Some(found)
    }

    /// The group whose rows are called so.
    fn group(&mut self, name: &[u8]) -> Option<usize> {
        if let Some(at) = self.groups.iter().position(|g| g.name.as_ref().is_some_and(|n| n.0 == name)) {
            return Some(at);
        }
        let (kind, _) = words::kind(&plain(name))?;
        if self.groups.len() >= 16 {
            return None;
        }
        self.groups.push(Group {
            name: Some((name.to_vec(), kind)),
            values: vec![Vec::new()],
            ..Group::default()
        });
        Some(self.groups.len() - 1)
    }

    fn values(&mut self, group: usize, stamp: Stamp, cells: &[&[u8]], line: usize, troubles: &mut Troubles) {
        let Some(group) = self.groups.get_mut(group) else { return };
        group.stamps.push(stamp);
        group.lines.push(line as u32);
        for (column, into) in self.layout.values.iter().zip(&mut group.values) {
            into.push(value(cells.get(column.at).copied(), self.decimal, line, troubles));
        }
        self.readings += 1;
    }

    fn day(&mut self, group: usize, day: Stamp, cells: &[&[u8]], line: usize, troubles: &mut Troubles) {
        let Some(group) = self.groups.get_mut(group) else { return };
        let Some(into) = group.values.first_mut() else { return };
        for &(at, seconds) in &self.layout.day_columns {
            group.stamps.push(day.at_second(seconds));
            group.lines.push(line as u32);
            into.push(value(cells.get(at).copied(), self.decimal, line, troubles));
            self.readings += 1;
        }
    }
}

fn value(cell: Option<&[u8]>, decimal: u8, line: usize, troubles: &mut Troubles) -> f64 {
    match cell.map(|cell| (number(cell, decimal), cell)) {
        Some((Cell::Number(value), _)) => value,
        Some((Cell::Other, cell)) => {
            troubles.add_cell(Trouble::NotANumber, line, cell);
            f64::NAN
        }
        Some((Cell::Missing, _)) => {
            troubles.add(Trouble::Missing, line);
            f64::NAN
        }
        None => f64::NAN,
    }
}

impl Group {
    /// What its column counts, with the text in which a unit may stand.
    pub(super) fn column(&self, layout: &Layout, at: usize) -> (What, String, &'static str) {
        match (&self.name, layout.values.get(at)) {
            (Some((name, kind)), value) => {
                let beside = value.map_or(String::new(), |v| format!(" {}", v.heading));
                (What::One(*kind), format!("{}{beside}", super::text_bytes::shown(name)), "named in each row")
            }
            (None, Some(value)) => (value.what, value.heading.clone(), value.why),
            (None, None) => (What::One(Kind::Export), String::new(), ""),
        }
    }
}
