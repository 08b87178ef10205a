//! The last part of the report: gaps, days, months, questions.

use super::dates::{civil_date, civil_days};
use super::found::{Filled, Found, GapFound, KindTotal, MonthFound, moment};
use super::grid::{Known, SLOT, SLOTS};
use super::options::{BeforeEquipment, Kind};
use super::{Readings, Series, at_work};

/// Most gaps that are listed.
const MOST_GAPS: usize = 1000;

/// Completes the report.
pub(super) fn finish(mut found: Found, series: Vec<Series>, ends: &(i64, i64)) -> Readings {
    let days = series.first().map_or(0, |s| s.grid.known.len() / SLOTS);
    let first_day = series.first().map_or(0, |s| s.grid.first_day);
    let used: Vec<bool> = (0..days).map(|day| is_used(&series, day)).collect();
    list_gaps(&mut found, &series);
    found.days = days;
    found.days_used = used.iter().filter(|used| **used).count();
    found.months = months(&series, &used, first_day, days);
    edge_days(&mut found, &used, ends);
    for s in &series {
        if s.grid.lost_in_gaps > 0.0 {
            let text = format!(
                "{:.3} kWh of {} passed in gaps too long to be filled; they are in no total",
                s.grid.lost_in_gaps,
                s.kind.name()
            );
            found.warnings.push(text);
        }
    }
    let mut readings = Readings { found, first_day, days, used, series };
    ask(&mut readings);
    readings
}

/// Whether all of a day's electricity is known.
fn is_used(series: &[Series], day: usize) -> bool {
    let electric = series.iter().filter(|s| s.kind != Kind::Gas);
    let any = series.iter().any(|s| s.kind != Kind::Gas);
    if any {
        electric.into_iter().all(|s| s.grid.is_whole(day))
    } else {
        series.iter().all(|s| s.grid.is_whole(day))
    }
}

fn list_gaps(found: &mut Found, series: &[Series]) {
    let mut all: Vec<(i64, i64, Filled, Vec<Kind>)> = Vec::new();
    for s in series {
        for &gap in &s.grid.gaps {
            let filled = s.grid.how_filled(gap);
            all.push((gap.0, gap.1, filled, vec![s.kind]));
        }
    }
    all.sort_by_key(|gap| (gap.0, gap.1, gap.2 as u8));
    let mut merged: Vec<(i64, i64, Filled, Vec<Kind>)> = Vec::new();
    for gap in all {
        match merged.last_mut() {
            Some(last) if (last.0, last.1, last.2) == (gap.0, gap.1, gap.2) => last.3.extend(gap.3),
            _ => merged.push(gap),
        }
    }
    found.gap_count = merged.len();
    let listed = merged.into_iter().take(MOST_GAPS).map(|(from, to, filled, kinds)| GapFound {
        kinds,
        from: moment(from),
        minutes: (to - from) as f64 / 60.0,
        filled,
    });
    found.gaps = listed.collect();
}

fn months(series: &[Series], used: &[bool], first_day: i64, days: usize) -> Vec<MonthFound> {
    let mut months: Vec<MonthFound> = Vec::new();
    let mut day = 0;
    while day < days {
        let (year, month, of_month) = civil_date(first_day + day as i64);
        let next = if month == 12 { civil_days(year + 1, 1, 1) } else { civil_days(year, month + 1, 1) };
        let end = next.map_or(days, |next| (next - first_day) as usize);
        let length = end - day + usize::from(of_month) - 1;
        let range = day..end.min(days);
        let slots = range.start * SLOTS..range.end * SLOTS;
        let known = |s: &Series| s.grid.known[slots.clone()].iter().filter(|k| **k != Known::No).count();
        let least = series.iter().map(known).min().unwrap_or(0);
        months.push(MonthFound {
            year,
            month,
            days: length,
            known: least as f64 / (length * SLOTS) as f64,
            days_used: used[range.clone()].iter().filter(|used| **used).count(),
            totals: series.iter().map(|s| total(s, slots.clone())).collect(),
        });
        day = range.end;
    }
    months
}

fn total(series: &Series, slots: std::ops::Range<usize>) -> KindTotal {
    let grid = &series.grid;
    let (mut measured, mut filled) = (0.0, 0.0);
    for slot in slots {
        measured += grid.measured[slot];
        if !matches!(grid.known[slot], Known::No | Known::Measured | Known::Register) {
            filled += grid.kwh[slot] - grid.measured[slot];
        }
    }
    KindTotal { kind: series.kind, measured_kwh: measured, filled_kwh: filled }
}

/// The first and the last day are often cut.
fn edge_days(found: &mut Found, used: &[bool], ends: &(i64, i64)) {
    let cut = |second: i64| second.rem_euclid(86_400) / SLOT != 0;
    let mut which = Vec::new();
    if cut(ends.0) && !used.first().copied().unwrap_or(true) {
        which.push("first");
    }
    if cut(ends.1) && !used.last().copied().unwrap_or(true) {
        which.push("last");
    }
    if !which.is_empty() {
        let (which, are) =
            if which.len() == 1 { (which[0], "day is") } else { ("first and the last", "day are") };
        found.warnings.push(format!("The {which} {are} cut by the span of the readings and not used"));
    }
}

fn ask(readings: &mut Readings) {
    if readings.found.before_equipment == BeforeEquipment::Unknown && readings.series(Kind::Export).is_some()
    {
        let text = "Were these readings taken before a surplus controller was fitted? If not, part of the surplus is missing from the export";
        readings.found.questions.push(text.into());
    }
    if readings.found.before_equipment != BeforeEquipment::No {
        let hints = at_work::hints(readings);
        readings.found.questions.extend(hints);
    }
}
