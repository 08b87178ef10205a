//! A home's own meter readings, and years drawn from them.
//!
//! [`read`] takes the bytes of a file as meters, portals and spreadsheets write it and gives [`Readings`]: half-hourly
//! energies and a report, [`Found`], of all that was found out and what was done about it. [`Library`] draws years from
//! them: every run another.
//!
//! **Days are days of the standard clock** (winter time all year), 48 half hours each. Where clocks change, the day that
//! the household calls 23 or 25 hours long is 24 here, and in summer its habits come an hour earlier by this clock: the
//! sun stays where it is, which matters more for a surplus, and no energy is made up or dropped. The report says which
//! clock was found. Hourly readings are shared evenly among their half hours.

mod amounts;
mod at_work;
mod clocks;
mod columns;
mod could_take;
mod dates;
mod dialect;
mod drawn;
mod fault;
mod found;
mod grid;
mod library;
mod lines;
mod numbers;
mod options;
mod order;
mod reader;
mod report_text;
mod rows;
mod scatter;
mod summary;
#[cfg(test)]
mod tests;
mod text_bytes;
mod tidy;
pub mod told;
mod troubles;
mod words;

pub use could_take::{CouldTake, SummerHeat, could_take, heat_from_summer_gas};
pub use drawn::DrawnYear;
pub use fault::ReadingsError;
pub use found::{ColumnFound, Filled, Found, GapFound, KindTotal, MonthFound, StepFound, TroubleFound};
pub use library::{BLOCK_DAYS, Library, MonthSource};
pub use options::{BeforeEquipment, DateOrder, Kind, Options, StampAt, Unit};
pub use reader::read;

use super::course::YearMap;
use grid::{Grid, Known, SLOTS};

/// Readings of a home by half hour of the standard clock.
#[derive(Debug, Clone)]
pub struct Readings {
    /// What was found in the file and what was done.
    pub found: Found,
    /// Days since 1970 of the first day.
    first_day: i64,
    days: usize,
    /// Days of which all electricity is known.
    used: Vec<bool>,
    series: Vec<Series>,
}

#[derive(Debug, Clone)]
struct Series {
    kind: Kind,
    grid: Grid,
    /// Intervals behind it.
    readings: usize,
}

impl Series {
    /// Adds readings of the same kind (a file with a register for each tariff).
    fn add(&mut self, other: &Grid) {
        for slot in 0..self.grid.kwh.len() {
            self.grid.kwh[slot] += other.kwh[slot];
            self.grid.measured[slot] += other.measured[slot];
            if other.known[slot] == Known::No || self.grid.known[slot] == Known::Measured {
                self.grid.known[slot] = other.known[slot];
            }
        }
        self.grid.gaps.extend(&other.gaps);
        self.grid.gaps.sort_unstable();
        self.grid.lost_in_gaps += other.lost_in_gaps;
    }
}

impl Readings {
    /// Days that the readings touch, whole or not.
    pub fn days(&self) -> usize {
        self.days
    }

    /// Date (year, month, day) of day `day`, counted from the first.
    pub fn date(&self, day: usize) -> (i32, u8, u8) {
        dates::civil_date(self.first_day + day as i64)
    }

    /// Whether all electricity of a day is known or filled.
    pub fn is_used(&self, day: usize) -> bool {
        self.used.get(day).copied().unwrap_or(false)
    }

    /// kWh of each half hour from the first day on, 48 a day; NaN where nothing is known. None if there is no such column.
    pub fn series(&self, kind: Kind) -> Option<&[f64]> {
        self.series.iter().find(|s| s.kind == kind).map(|s| s.grid.kwh.as_slice())
    }

    /// Readings of a kind that were used.
    pub fn count(&self, kind: Kind) -> usize {
        self.series.iter().filter(|s| s.kind == kind).map(|s| s.readings).sum()
    }

    /// kWh by day and half hour: the whole span, of more than a year the latest 365 days. None if there is no such column.
    pub fn year_map(&self, kind: Kind) -> Option<YearMap> {
        let values = self.series(kind)?;
        let skipped = self.days.saturating_sub(if self.days <= 366 { 366 } else { 365 });
        let (year, month, day) = self.date(skipped);
        Some(YearMap {
            steps: SLOTS,
            values: values[skipped * SLOTS..].to_vec(),
            first: (Some(year), month, day),
        })
    }
}
