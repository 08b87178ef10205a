//! From the clock as written to standard time: zones, offsets, and changes of clocks seen in the data.
//!
//! Everything behind this point counts seconds since 1970 of the *standard* clock of the place (winter time all year):
//! the sun stays where it is, every day has 48 half hours, and no day has 46 or 50.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::dates::{civil_date, civil_days, weekday};
use super::fault::ReadingsError;
use super::text_bytes::shown;
use super::troubles::{Trouble, Troubles};

/// Times as written, in the order of the rows.
pub(super) struct Written {
    /// Seconds since 1970 of the written clock.
    pub(super) clock: Vec<i64>,
    /// Minutes ahead of UTC of each, where they are written; empty where none has any.
    pub(super) offsets: Vec<Option<i16>>,
}

/// Stands for a row that cannot be placed in time.
pub(super) const NOWHERE: i64 = i64::MIN;

/// How the clock was taken.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ClockFound {
    pub(super) text: String,
    pub(super) question: Option<String>,
}

/// A span of the written clock with one difference to standard time.
#[derive(Debug, Clone, Copy)]
struct Piece {
    /// First and end second of the written clock.
    from: i64,
    to: i64,
    /// Seconds that the written clock is ahead of standard time.
    ahead: i64,
}

/// Standard times of rows in the order of time (as nearly as the file has it); [`NOWHERE`] for a row that has no place.
pub(super) fn standard(
    written: &Written,
    lines: &[u32],
    zone: Option<&str>,
    step: i64,
    ends: bool,
    troubles: &mut Troubles,
) -> Result<(Vec<i64>, ClockFound), ReadingsError> {
    let tz = zone.map(find_zone).transpose()?;
    let with_offset = written.offsets.iter().filter(|offset| offset.is_some()).count();
    if with_offset * 2 > written.clock.len() {
        return Ok(by_offset(written, lines, zone.zip(tz), troubles));
    }
    let clock = &written.clock;
    let (pieces, text) = match zone.zip(tz) {
        Some((name, tz)) => by_zone(clock, name, &tz, if ends { step } else { 0 }),
        None => by_sight(clock, step),
    };
    let times = place(clock, lines, &pieces, troubles);
    Ok((times, ClockFound { text, question: None }))
}

fn find_zone(name: &str) -> Result<TimeZone, ReadingsError> {
    let fault = || {
        let what = format!("there is no time zone `{}`", shown(name.as_bytes()));
        ReadingsError::new(what, "a name such as `Europe/Dublin` or `Australia/Sydney` is wanted")
    };
    TimeZone::get(name.trim()).map_err(|_| fault())
}

/// Seconds ahead of UTC at a second of UTC.
fn ahead_of_utc(tz: &TimeZone, utc: i64) -> i64 {
    Timestamp::from_second(utc).map_or(0, |at| i64::from(tz.to_offset(at).seconds()))
}

/// Standard offset of a zone about a time: the smaller of those of January and July.
fn standard_offset(tz: &TimeZone, about: i64) -> i64 {
    let year = civil_date(about.div_euclid(86_400)).0;
    let at = |month| civil_days(year, month, 1).map_or(0, |days| ahead_of_utc(tz, days * 86_400));
    at(1).min(at(7))
}

fn by_offset(
    written: &Written,
    lines: &[u32],
    zone: Option<(&str, TimeZone)>,
    troubles: &mut Troubles,
) -> (Vec<i64>, ClockFound) {
    let offsets = written.offsets.iter().flatten().map(|&offset| i64::from(offset));
    let (least, most) = offsets.fold((i64::MAX, i64::MIN), |(a, b), o| (a.min(o), b.max(o)));
    let first = written.clock.first().copied().unwrap_or(0);
    let standard = zone.as_ref().map_or(least * 60, |(_, tz)| standard_offset(tz, first));
    let mut times = Vec::with_capacity(lines.len());
    for ((&clock, offset), &line) in written.clock.iter().zip(&written.offsets).zip(lines) {
        if offset.is_none() {
            troubles.add(Trouble::NoOffset, line as usize);
        }
        times.push(offset.map_or(NOWHERE, |offset| clock - i64::from(offset) * 60 + standard));
    }
    let shown = |minutes: i64| {
        format!("{}{:02}:{:02}", if minutes < 0 { '-' } else { '+' }, minutes.abs() / 60, minutes.abs() % 60)
    };
    let of_file = if least == most { shown(least) } else { format!("{} to {}", shown(least), shown(most)) };
    let (text, question) = match zone {
        Some((name, _)) => (format!("offsets {of_file}; turned into the standard time of {name}"), None),
        None if least == 0 && most == 0 => (
            "UTC".to_string(),
            Some("Times are UTC: in which zone is the home? Without it, days run from midnight to midnight of UTC".to_string()),
        ),
        None => (format!("offsets {of_file}; turned into {}, the smallest", shown(least)), None),
    };
    (times, ClockFound { text, question })
}

/// Pieces of the written clock between the changes of a zone.
fn by_zone(clock: &[i64], name: &str, tz: &TimeZone, end_step: i64) -> (Vec<Piece>, String) {
    let (least, most) = clock.iter().fold((i64::MAX, i64::MIN), |(a, b), &t| (a.min(t), b.max(t)));
    let standard = standard_offset(tz, least);
    let begin = least.saturating_sub(2 * 86_400);
    let mut offset = ahead_of_utc(tz, begin);
    let mut pieces = Vec::new();
    let mut from = i64::MIN;
    if let Ok(start) = Timestamp::from_second(begin) {
        for change in tz.following(start).take(400) {
            let at = change.timestamp().as_second();
            if at + offset > most.saturating_add(2 * 86_400) {
                break;
            }
            let next = i64::from(change.offset().seconds());
            pieces.push(Piece { from, to: at + offset, ahead: offset - standard });
            from = at + next;
            offset = next;
        }
    }
    pieces.push(Piece { from, to: i64::MAX, ahead: offset - standard });
    if ignores_changes(clock, &pieces) {
        let text = format!(
            "the file has no change of clocks although {name} has: taken as standard time all year (no hour is repeated in autumn, none missing in spring)"
        );
        return (vec![Piece { from: i64::MIN, to: i64::MAX, ahead: 0 }], text);
    }
    if end_step > 0 {
        move_ends(clock, &mut pieces, end_step);
    }
    (pieces, format!("local time of {name}, turned into its standard time (winter time all year)"))
}

/// Some files count an end on the clock of the start: the last interval before a change ends at 02:00, not at 01:00. Then
/// the hour that occurs twice has its edges one step later.
fn move_ends(clock: &[i64], pieces: &mut [Piece], step: i64) {
    let count = |at: i64| clock.iter().filter(|&&t| t == at).count();
    for at in 1..pieces.len() {
        let (to, from) = (pieces[at - 1].to, pieces[at].from);
        if from < to && count(to) >= 2 && count(from) <= 1 {
            pieces[at - 1].to += step;
            pieces[at].from += step;
        } else if from > to && count(to) >= 1 {
            pieces[at - 1].to = (to + step).min(from);
        }
    }
}

/// Whether the written clock runs through hours that the zone skips and repeats none.
fn ignores_changes(clock: &[i64], pieces: &[Piece]) -> bool {
    let (mut in_gaps, mut repeated) = (0, 0);
    for pair in pieces.windows(2) {
        let (before, after) = (pair[0], pair[1]);
        // Stamps at an end count the second that they close: both edges are left out.
        in_gaps += clock.iter().filter(|&&t| t > before.to && t < after.from).count();
        let mut twice: Vec<i64> =
            clock.iter().copied().filter(|&t| t > after.from && t < before.to).collect();
        let all = twice.len();
        twice.sort_unstable();
        twice.dedup();
        repeated += all - twice.len();
    }
    in_gaps > 0 && repeated == 0
}

/// Pieces of the written clock from changes seen in the data: on a Sunday of the season an hour repeated or left out.
fn by_sight(clock: &[i64], step: i64) -> (Vec<Piece>, String) {
    let mut changes: Vec<(usize, i64)> = Vec::new();
    for (at, pair) in clock.windows(2).enumerate() {
        // Stamps may be some seconds off.
        let moved = match pair[1] - pair[0] - step {
            -3630..=-3570 => -3600,
            3570..=3630 => 3600,
            other => other,
        };
        if (moved == -3600 && is_autumn_change(pair[0])) || (moved == 3600 && is_spring_change(pair[0])) {
            changes.push((at, moved));
        }
    }
    // Two a year at most; a file that jumps about all the time says nothing of clocks.
    if changes.is_empty() || changes.len() > 60 {
        let pieces = vec![Piece { from: i64::MIN, to: i64::MAX, ahead: 0 }];
        return (
            pieces,
            "the clock as it stands: no change of clocks is seen, so the same time all year".to_string(),
        );
    }
    // Before a repeated hour it was summer time, before a missing one it was not.
    let mut ahead = if changes[0].1 < 0 { 3600 } else { 0 };
    let mut from = i64::MIN;
    let mut pieces = Vec::new();
    let mut dates = Vec::new();
    for &(at, moved) in &changes {
        let end = clock[at] + step;
        pieces.push(Piece { from, to: end, ahead });
        ahead = (ahead + moved).clamp(0, 3600);
        from = end + moved;
        let (year, month, day) = civil_date(clock[at].div_euclid(86_400));
        dates.push(format!(
            "{year}-{month:02}-{day:02} ({})",
            if moved < 0 { "hour repeated" } else { "hour left out" }
        ));
    }
    pieces.push(Piece { from, to: i64::MAX, ahead });
    let text = format!(
        "local time; changes of clocks seen on {}: turned into winter time all year",
        dates.join(", ")
    );
    (pieces, text)
}

/// A Sunday on which clocks go back somewhere: the last of October, the first of November or of April; by night.
fn is_autumn_change(clock: i64) -> bool {
    let days = clock.div_euclid(86_400);
    let (_, month, day) = civil_date(days);
    let night = clock.rem_euclid(86_400) <= 4 * 3600;
    let sunday = weekday(days) == 6;
    night && sunday && matches!((month, day), (10, 25..=31) | (11 | 4, 1..=7))
}

/// A Sunday on which they go forward: the last or second of March, the last of September, the first of October.
fn is_spring_change(clock: i64) -> bool {
    // The reading before the change may carry a stamp of the evening before.
    let days = (clock + 2 * 3600).div_euclid(86_400);
    let (_, month, day) = civil_date(days);
    let night = (clock + 2 * 3600).rem_euclid(86_400) <= 6 * 3600;
    let sunday = weekday(days) == 6;
    night && sunday && matches!((month, day), (3, 8..=14 | 25..=31) | (9, 24..=30) | (10, 1..=7))
}

/// Puts each written time into its piece. In an hour that occurs twice the first reading of a time is the earlier.
fn place(clock: &[i64], lines: &[u32], pieces: &[Piece], troubles: &mut Troubles) -> Vec<i64> {
    let mut seen: BTreeMap<i64, usize> = BTreeMap::new();
    let mut now = 0;
    let mut times = Vec::with_capacity(clock.len());
    for (&t, &line) in clock.iter().zip(lines) {
        while now > 0 && pieces[now - 1].to > t {
            now -= 1;
        }
        while now + 1 < pieces.len() && t >= pieces[now].to {
            now += 1;
        }
        let piece = pieces[now];
        let next = pieces.get(now + 1).filter(|next| t >= next.from);
        let ahead = match next {
            Some(next) => {
                let count = seen.entry(t).or_insert(0);
                *count += 1;
                if *count > 1 {
                    troubles.add(Trouble::Repeated, line as usize);
                    next.ahead
                } else {
                    piece.ahead
                }
            }
            None if t < piece.from => {
                troubles.add(Trouble::Skipped, line as usize);
                pieces[now.saturating_sub(1)].ahead
            }
            None => piece.ahead,
        };
        times.push(t - ahead);
    }
    times
}
