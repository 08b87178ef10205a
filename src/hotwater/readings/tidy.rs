//! Rows of a file as readings in the order of time, each time once: order, duplicates, stamps a little off, overlaps.

use super::clocks::{self, ClockFound, NOWHERE, Written};
use super::dates::Stamp;
use super::fault::ReadingsError;
use super::options::{DateOrder, Options, StampAt};
use super::rows::Group;
use super::troubles::{Trouble, Troubles};

/// Readings in the order of time.
#[derive(Debug, Default)]
pub(super) struct Tidy {
    /// Seconds since 1970 of the standard clock, as stamped.
    pub(super) at: Vec<i64>,
    /// Seconds from one reading to the next on that day.
    pub(super) step: Vec<i64>,
    pub(super) lines: Vec<u32>,
    pub(super) values: Vec<Vec<f64>>,
}

/// What was found on the way.
#[derive(Debug, Clone)]
pub(super) struct TidyFound {
    pub(super) clock: ClockFound,
    pub(super) stamp_at: StampAt,
    pub(super) stamp_why: &'static str,
    pub(super) stamp_sure: bool,
    /// Steps in seconds with the number of readings of each, the most usual first.
    pub(super) steps: Vec<(i64, usize)>,
}

/// Puts the rows of a group in order.
pub(super) fn tidy(
    group: Group,
    order: DateOrder,
    stamp_at: Option<(StampAt, &'static str)>,
    options: &Options,
    troubles: &mut Troubles,
) -> Result<(Tidy, TidyFound), ReadingsError> {
    let mut raw = dated(group, order, troubles);
    if raw.lines.len() < 2 {
        let line = raw.lines.first().map_or(1, |&line| line as usize);
        return Err(ReadingsError::new(
            "fewer than two readings can be placed in time",
            "a row for each interval is wanted",
        )
        .at(line));
    }
    raw.turn_round(troubles);
    let step = usual_step(&raw.at.clock).ok_or_else(|| {
        ReadingsError::new(
            "all readings have the same time",
            "a row for each interval, each with its own time, is wanted",
        )
    })?;
    let (stamp_at, stamp_why, stamp_sure) = match options.stamp_at {
        Some(told) => (told, "as told", true),
        None => {
            stamp_at.map_or_else(|| guess_stamp(&raw.at.clock, raw.any_24, step), |(at, why)| (at, why, true))
        }
    };
    let ends = stamp_at == StampAt::End;
    let (times, found) =
        clocks::standard(&raw.at, &raw.lines, options.zone.as_deref(), step, ends, troubles)?;
    let mut tidy = raw.placed(times);
    tidy.sort(troubles);
    tidy.merge_duplicates(troubles);
    tidy.find_steps(step);
    tidy.align(troubles);
    let steps = tidy.steps_by_use();
    Ok((tidy, TidyFound { clock: found, stamp_at, stamp_why, stamp_sure, steps }))
}

/// Rows in the order of the file with times as written.
struct Raw {
    at: Written,
    any_24: bool,
    lines: Vec<u32>,
    values: Vec<Vec<f64>>,
}

fn dated(group: Group, order: DateOrder, troubles: &mut Troubles) -> Raw {
    let Group { stamps, mut lines, mut values, .. } = group;
    let any_24 = stamps.iter().any(|stamp| stamp.is_24());
    let any_offset = stamps.iter().any(|stamp| stamp.offset_minutes().is_some());
    let seconds = |stamp: &Stamp| stamp.clock_seconds(order).unwrap_or(NOWHERE);
    let mut clock: Vec<i64> = stamps.iter().map(seconds).collect();
    let mut offsets = Vec::new();
    if any_offset {
        offsets.extend(stamps.iter().map(|stamp| stamp.offset_minutes()));
    }
    if clock.contains(&NOWHERE) {
        for (&second, &line) in clock.iter().zip(&lines) {
            troubles.add_many(Trouble::NoSuchDate, usize::from(second == NOWHERE), line as usize);
        }
        let kept: Vec<bool> = clock.iter().map(|&second| second != NOWHERE).collect();
        keep(&mut lines, &kept);
        keep(&mut offsets, &kept);
        keep(&mut clock, &kept);
        values.iter_mut().for_each(|column| keep(column, &kept));
    }
    Raw { at: Written { clock, offsets }, any_24, lines, values }
}

/// Keeps what is flagged.
fn keep<T: Copy>(column: &mut Vec<T>, flags: &[bool]) {
    let mut flags = flags.iter();
    column.retain(|_| flags.next().copied().unwrap_or(false));
}

impl Raw {
    /// The latest first is turned round, so that the hour that occurs twice is met in its order.
    fn turn_round(&mut self, troubles: &mut Troubles) {
        let ahead = |row: usize| {
            self.at.offsets.get(row).copied().flatten().map_or(0, |minutes| i64::from(minutes) * 60)
        };
        let (mut up, mut down) = (0usize, 0usize);
        for (row, pair) in self.at.clock.windows(2).enumerate() {
            let moved = pair[1] - pair[0] - (ahead(row + 1) - ahead(row));
            up += usize::from(moved > 0);
            down += usize::from(moved < 0);
        }
        if down > up {
            troubles.add_many(
                Trouble::Descending,
                self.lines.len(),
                self.lines.first().map_or(1, |&line| line as usize),
            );
            self.at.clock.reverse();
            self.at.offsets.reverse();
            self.lines.reverse();
            self.values.iter_mut().for_each(|column| column.reverse());
        }
    }

    fn placed(self, mut times: Vec<i64>) -> Tidy {
        let Raw { mut lines, mut values, .. } = self;
        if times.contains(&NOWHERE) {
            let kept: Vec<bool> = times.iter().map(|&time| time != NOWHERE).collect();
            keep(&mut times, &kept);
            keep(&mut lines, &kept);
            values.iter_mut().for_each(|column| keep(column, &kept));
        }
        Tidy { at: times, step: Vec::new(), lines, values }
    }
}

/// The most usual difference from one time to the next, in seconds.
fn usual_step(times: &[i64]) -> Option<i64> {
    let counts = step_counts(times.windows(2).map(|pair| to_minutes(pair[1] - pair[0])).filter(|&d| d > 0));
    counts.first().map(|first| first.0)
}

/// A difference of more than two minutes to the full minute: stamps may be some seconds off.
fn to_minutes(seconds: i64) -> i64 {
    if seconds > 120 { (seconds + 30) / 60 * 60 } else { seconds }
}

/// Values with their counts, the most usual first, of equals the smaller.
fn step_counts(steps: impl Iterator<Item = i64>) -> Vec<(i64, usize)> {
    let mut counts = std::collections::BTreeMap::new();
    let (mut last, mut run) = (0i64, 0usize);
    for step in steps {
        if step != last {
            *counts.entry(last).or_insert(0) += run;
            (last, run) = (step, 0);
        }
        run += 1;
    }
    *counts.entry(last).or_insert(0) += run;
    let mut all: Vec<(i64, usize)> =
        counts.into_iter().filter(|&(step, count)| step > 0 && count > 0).collect();
    all.sort_by_key(|&(step, count)| (std::cmp::Reverse(count), step));
    all
}

/// What stamps mark, from where days begin and end.
fn guess_stamp(clock: &[i64], any_24: bool, step: i64) -> (StampAt, &'static str, bool) {
    if any_24 {
        return (StampAt::End, "24:00 occurs", true);
    }
    let (first, last) = clock.iter().fold((i64::MAX, i64::MIN), |(a, b), &t| (a.min(t), b.max(t)));
    match (first.rem_euclid(86_400), last.rem_euclid(86_400)) {
        (f, 0) if f == step => {
            (StampAt::End, "the file begins one interval after midnight and ends at midnight", true)
        }
        (0, l) if l == 86_400 - step => {
            (StampAt::Start, "the file begins at midnight and ends one interval before it", true)
        }
        _ => (StampAt::Start, "nothing in the file says; the start is usual", false),
    }
}

impl Tidy {
    fn sort(&mut self, troubles: &mut Troubles) {
        let mut late = i64::MIN;
        let mut disorder = 0;
        let mut first_line = usize::MAX;
        for (&at, &line) in self.at.iter().zip(&self.lines) {
            if at < late {
                disorder += 1;
                first_line = first_line.min(line as usize);
            }
            late = late.max(at);
        }
        if disorder == 0 {
            return;
        }
        troubles.add_many(Trouble::OutOfOrder, disorder, first_line);
        let mut order: Vec<u32> = (0..self.at.len() as u32).collect();
        order.sort_by_key(|&row| (self.at[row as usize], self.lines[row as usize]));
        self.at = order.iter().map(|&row| self.at[row as usize]).collect();
        self.lines = order.iter().map(|&row| self.lines[row as usize]).collect();
        for column in &mut self.values {
            *column = order.iter().map(|&row| column[row as usize]).collect();
        }
    }

    /// Of readings of the same time the later line counts, unless it is missing.
    fn merge_duplicates(&mut self, troubles: &mut Troubles) {
        if self.at.windows(2).all(|pair| pair[0] != pair[1]) {
            return;
        }
        let mut into = 0;
        for row in 1..self.at.len() {
            if self.at[row] != self.at[into] {
                into += 1;
                self.at[into] = self.at[row];
                self.lines[into] = self.lines[row];
                self.values.iter_mut().for_each(|column| column[into] = column[row]);
                continue;
            }
            let line = self.lines[row].max(self.lines[into]);
            let later = self.lines[row] >= self.lines[into];
            let mut clash = false;
            for column in &mut self.values {
                let (old, new) = (column[into], column[row]);
                clash |= old != new && !old.is_nan() && !new.is_nan();
                column[into] = if new.is_nan() || (!later && !old.is_nan()) { old } else { new };
            }
            self.lines[into] = line;
            troubles.add(if clash { Trouble::Contradictory } else { Trouble::Same }, line as usize);
        }
        self.at.truncate(into + 1);
        self.lines.truncate(into + 1);
        self.values.iter_mut().for_each(|column| column.truncate(into + 1));
    }

    /// The step of each day: a meter may go over from hours to half hours.
    fn find_steps(&mut self, usual: i64) {
        let count = self.at.len();
        self.step = vec![usual; count];
        let mut from = 0;
        while from < count {
            let day = self.at[from].div_euclid(86_400);
            let to = from + self.at[from..].iter().take_while(|at| at.div_euclid(86_400) == day).count();
            let counts = step_counts(self.at[from..to].windows(2).map(|pair| to_minutes(pair[1] - pair[0])));
            // A day decides for itself only where nearly all of it agrees and it is a plain step.
            if let Some(&(step, times)) = counts.first()
                && step != usual
                && (times + 1) as i64 * step >= 20 * 3600
                && 3600 % step == 0
            {
                self.step[from..to].fill(step);
            }
            from = to;
        }
    }

    /// Moves stamps that are some seconds off to the full interval, and leaves out what overlaps.
    fn align(&mut self, troubles: &mut Troubles) {
        let phase = self.usual_phase();
        let mut kept = Vec::new();
        let mut end = i64::MIN;
        let mut on_grid = false;
        for row in 0..self.at.len() {
            let step = self.step[row];
            // One step on from a reading on the grid is on the grid: nothing to divide.
            if !(on_grid && self.at[row] == end && self.step[row - 1] == step) {
                let off = (self.at[row] - phase + step / 2).rem_euclid(step) - step / 2;
                on_grid = off.abs() <= (step / 10).min(120);
                if off != 0 && on_grid {
                    self.at[row] -= off;
                    troubles.add(Trouble::Moved, self.lines[row] as usize);
                }
            }
            let next = self.at.get(row + 1).map_or(i64::MAX, |next| next.saturating_add(step / 10));
            let clashes = self.at[row] < end || (!on_grid && next < self.at[row] + step);
            if clashes {
                if kept.is_empty() {
                    kept = vec![true; self.at.len()];
                }
                kept[row] = false;
                troubles.add(Trouble::Overlapping, self.lines[row] as usize);
            } else {
                end = self.at[row] + step;
            }
        }
        if !kept.is_empty() {
            keep(&mut self.at, &kept);
            keep(&mut self.step, &kept);
            keep(&mut self.lines, &kept);
            self.values.iter_mut().for_each(|column| keep(column, &kept));
        }
    }

    /// Where in a step most readings stand, to the full minute.
    fn usual_phase(&self) -> i64 {
        let some = (self.at.len() / 1000).max(1);
        let picked = self.at.iter().zip(&self.step).step_by(some);
        let phases = picked.map(|(at, step)| {
            (if *step > 120 { (at + 30).div_euclid(60) * 60 } else { *at }).rem_euclid(*step) + 1
        });
        step_counts(phases).first().map_or(0, |first| first.0 - 1)
    }

    fn steps_by_use(&self) -> Vec<(i64, usize)> {
        step_counts(self.step.iter().copied())
    }
}
