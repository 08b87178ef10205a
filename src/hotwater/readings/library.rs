//! Days read from a meter, kept by month, from which years are drawn.

use std::sync::Arc;

use serde::Serialize;

use super::Readings;
use super::fault::ReadingsError;
use super::grid::SLOTS;
use super::options::Kind;
use super::scatter::{self, Scatter};
use crate::hotwater::time::{DAYS_IN_MONTH, MONTHS};

/// Days drawn in a row unless something else is asked for. Day-to-day correlation of sunshine is 0.1 to 0.3 and gone after
/// four days; longer blocks would leave a single year's months with few different sequences.
pub const BLOCK_DAYS: usize = 4;

/// Least days of a month for its own days to stand for it.
pub(super) const LEAST_DAYS: usize = 10;

/// A day read: kWh by half hour.
#[derive(Debug, Clone)]
pub(super) struct Day {
    pub(super) export: [f64; SLOTS],
    pub(super) import: [f64; SLOTS],
    /// Zeros where it is not known.
    pub(super) generation: [f64; SLOTS],
}

/// Where a calendar month's days come from.
#[derive(Debug, Clone)]
pub(super) struct MonthDays {
    /// Places in the list of days, in the order of time.
    pub(super) days: Vec<u32>,
    /// Factor on export and generation of each: 1 for the month's own days.
    pub(super) season: Vec<f64>,
    /// Standard deviation of the log of what the factor may be off; 0 for the month's own days.
    pub(super) log_sd: f64,
}

#[derive(Debug)]
pub(super) struct Kept {
    pub(super) days: Vec<Day>,
    pub(super) months: Vec<MonthDays>,
    pub(super) has_generation: bool,
    pub(super) scatter: Scatter,
    pub(super) block: usize,
}

/// Where a calendar month comes from, for reports.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MonthSource {
    /// Month, 1 to 12.
    pub month: u8,
    /// Days read of this calendar month, all years together.
    pub own_days: usize,
    /// Months (1 to 12) whose days stand in, empty where its own days serve.
    pub from_months: Vec<u8>,
    /// Export of the month in the mean of many runs, kWh, before any factor of a run.
    pub export_kwh: f64,
    /// Standard deviation, as a share, of the factor by which a run's month may be off; 0 where its own days serve.
    pub uncertainty: f64,
}

/// Days of a home from which years are drawn: every run another year. Cheap to clone; may be shared among threads.
#[derive(Debug, Clone)]
pub struct Library {
    pub(super) kept: Arc<Kept>,
    sources: Vec<MonthSource>,
    notes: Vec<String>,
}

impl Library {
    /// Keeps the days used of `readings`. `season` has the export expected of each month, January first, in any unit: only
    /// its ratios count, and only where months without readings are made from others.
    ///
    /// The 29th of February counts among February's days.
    ///
    /// # Errors
    /// Where there is no column of export or fewer than ten days of any month, or `season` has values below 0 or not finite.
    pub fn new(readings: &Readings, season: &[f64; 12]) -> Result<Library, ReadingsError> {
        Library::with_blocks(readings, season, BLOCK_DAYS)
    }

    /// The same with blocks of `block` days (1 to 31).
    ///
    /// # Errors
    /// As for [`Library::new`].
    pub fn with_blocks(
        readings: &Readings,
        season: &[f64; 12],
        block: usize,
    ) -> Result<Library, ReadingsError> {
        if season.iter().any(|share| !share.is_finite() || *share < 0.0) {
            let right = "twelve amounts of 0 or more are wanted";
            return Err(ReadingsError::new(
                "the export expected by month is not a number of 0 or more",
                right,
            ));
        }
        let (days, own) = keep(readings)?;
        let years = readings.found.days_used as f64 / 365.0;
        let mut months = Vec::with_capacity(12);
        let mut sources = Vec::with_capacity(12);
        for month in 0..12 {
            let (from, found) = month_days(month, &own, season, years)?;
            sources.push(source(month, &own, &from, &found, &days));
            months.push(found);
        }
        let block = block.clamp(1, 31);
        let scatter = scatter::find(&days, &months, block, years);
        let has_generation = readings.series(Kind::Generation).is_some();
        let notes = notes(&sources, &scatter, readings, block);
        Ok(Library { kept: Arc::new(Kept { days, months, has_generation, scatter, block }), sources, notes })
    }

    /// Whether generation is known.
    pub fn has_generation(&self) -> bool {
        self.kept.has_generation
    }

    /// Where each month comes from.
    pub fn sources(&self) -> &[MonthSource] {
        &self.sources
    }

    /// How years are drawn, what was made from other months and how sure that is: for reports.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// kWh of export in each month in the mean of many runs, before `readings_scale`.
    pub fn export_by_month(&self) -> [f64; 12] {
        std::array::from_fn(|month| self.sources[month].export_kwh)
    }
}

/// The days used and, of each calendar month, their places.
fn keep(readings: &Readings) -> Result<(Vec<Day>, Vec<Vec<u32>>), ReadingsError> {
    let Some(export) = readings.series(Kind::Export) else {
        return Err(ReadingsError::new(
            "the readings have no export",
            "a column of what was sent to the grid is wanted",
        ));
    };
    let (import, generation) = (readings.series(Kind::Import), readings.series(Kind::Generation));
    let mut days = Vec::new();
    let mut own = vec![Vec::new(); 12];
    for day in (0..readings.days()).filter(|&day| readings.is_used(day)) {
        let of = |series: Option<&[f64]>| {
            std::array::from_fn(|slot| series.and_then(|s| s.get(day * SLOTS + slot)).copied().unwrap_or(0.0))
        };
        own[usize::from(readings.date(day).1 - 1)].push(days.len() as u32);
        days.push(Day { export: of(Some(export)), import: of(import), generation: of(generation) });
    }
    Ok((days, own))
}

/// The days that stand for a month: its own, or those of the nearest months with readings, brought to its season.
fn month_days(
    month: usize,
    own: &[Vec<u32>],
    season: &[f64; 12],
    years: f64,
) -> Result<(Vec<usize>, MonthDays), ReadingsError> {
    if own[month].len() >= LEAST_DAYS {
        let days = own[month].clone();
        let season = vec![1.0; days.len()];
        return Ok((Vec::new(), MonthDays { days, season, log_sd: 0.0 }));
    }
    let daily = |m: usize| season[m] / DAYS_IN_MONTH[m];
    let serves = |m: &usize| own[*m].len() >= LEAST_DAYS && season[*m] > 0.0;
    for apart in 1..=6 {
        let mut from = vec![(month + 12 - apart) % 12, (month + apart) % 12];
        from.dedup();
        from.retain(serves);
        if from.is_empty() {
            continue;
        }
        let mut found =
            MonthDays { days: Vec::new(), season: Vec::new(), log_sd: scatter::season_log_sd(apart, years) };
        for &m in &from {
            found.days.extend(&own[m]);
            found.season.extend(own[m].iter().map(|_| daily(month) / daily(m)));
        }
        return Ok((from, found));
    }
    let most = own.iter().map(Vec::len).max().unwrap_or(0);
    let what = format!("no month has {LEAST_DAYS} whole days of readings (the best has {most})");
    Err(ReadingsError::new(
        what,
        "at least some weeks of readings, of a month in which export is expected, are wanted",
    ))
}

fn source(month: usize, own: &[Vec<u32>], from: &[usize], found: &MonthDays, days: &[Day]) -> MonthSource {
    let daily = found
        .days
        .iter()
        .zip(&found.season)
        .map(|(&d, season)| season * days[d as usize].export.iter().sum::<f64>());
    let mean = daily.sum::<f64>() / found.days.len() as f64;
    let variance = libm::expm1(found.log_sd * found.log_sd);
    MonthSource {
        month: month as u8 + 1,
        own_days: own[month].len(),
        from_months: from.iter().map(|&m| m as u8 + 1).collect(),
        export_kwh: mean * DAYS_IN_MONTH[month],
        uncertainty: variance.sqrt(),
    }
}

fn notes(sources: &[MonthSource], scatter: &Scatter, readings: &Readings, block: usize) -> Vec<String> {
    let mut notes = vec![format!(
        "Every run draws its own year from {} days read: blocks of {block} days in a row from the same month of any year. Weekdays are not matched: with a year of readings that would leave four starts for a block",
        readings.found.days_used
    )];
    for source in sources.iter().filter(|s| !s.from_months.is_empty()) {
        let from: Vec<&str> = source.from_months.iter().map(|&m| MONTHS[usize::from(m - 1)]).collect();
        notes.push(format!(
            "{}: {} days read, too few; made from the days of {}, export scaled by season, with a factor of sd {:.0} % for each run",
            MONTHS[usize::from(source.month - 1)],
            source.own_days,
            from.join(" and "),
            100.0 * source.uncertainty
        ));
    }
    if sources.iter().any(|s| !s.from_months.is_empty()) && readings.series(Kind::Import).is_some() {
        notes
            .push("Import of months without readings is that of the months that stand in, not scaled".into());
    }
    if readings.series(Kind::Import).is_none() {
        notes.push("Import was not read and counts as 0: what the home takes from the grid for itself is in no figure".into());
    }
    notes.push(scatter.note());
    notes
}
