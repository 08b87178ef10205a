//! Dates and times in cells, read by hand: a file has hundreds of thousands.

use super::numbers::trim;
use super::options::DateOrder;

/// No offset from UTC is given.
const NO_OFFSET: i16 = i16::MIN;

/// Years that readings can be from; others are taken for errors.
const YEARS: std::ops::RangeInclusive<i32> = 1990..=2099;

/// A date and time as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stamp {
    date: Date,
    /// Seconds of the day, up to 86,400 (24:00).
    seconds: i32,
    /// Minutes ahead of UTC.
    offset: i16,
}

/// A date as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Date {
    /// Days since 1 January 1970.
    Days(i32),
    /// Year and two numbers, day and month in an order still to be found.
    Two(i16, u8, u8),
}

impl Date {
    /// Days since 1970 if day and month stand in this order.
    pub(super) fn days(self, order: DateOrder) -> Option<i64> {
        match self {
            Date::Days(days) => Some(i64::from(days)),
            Date::Two(year, a, b) => match order {
                DateOrder::DayMonth => civil_days(i32::from(year), b, a),
                DateOrder::MonthDay => civil_days(i32::from(year), a, b),
            },
        }
    }
}

impl Stamp {
    /// From a date and a time of day that stand apart.
    pub(super) fn joined(date: Stamp, clock: Clock) -> Stamp {
        Stamp { date: date.date, seconds: clock.seconds, offset: clock.offset }
    }

    /// The same day at another second of the day.
    pub(super) fn at_second(self, seconds: i32) -> Stamp {
        Stamp { seconds, ..self }
    }

    pub(super) fn date(self) -> Date {
        self.date
    }

    /// Whether no time of day is written beside the date, or midnight.
    pub(super) fn is_midnight(self) -> bool {
        self.seconds == 0
    }

    /// Minutes ahead of UTC, where they are written.
    pub(super) fn offset_minutes(self) -> Option<i16> {
        (self.offset != NO_OFFSET).then_some(self.offset)
    }

    /// Whether 24:00 is written: it can only be an end.
    pub(super) fn is_24(self) -> bool {
        self.seconds == 86_400
    }

    /// Seconds since 1970 of the clock as written.
    pub(super) fn clock_seconds(self, order: DateOrder) -> Option<i64> {
        Some(self.date.days(order)? * 86_400 + i64::from(self.seconds))
    }
}

/// A time of day as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Clock {
    pub(super) seconds: i32,
    offset: i16,
}

/// Days since 1 January 1970 of a date of the Gregorian calendar, if there is such a date (the count of days by
/// shifted years of 400-year cycles, after H. Hinnant's published derivation, 2013).
pub(super) fn civil_days(year: i32, month: u8, day: u8) -> Option<i64> {
    if !(1..=12).contains(&month) || day < 1 || day > days_in_month(year, month) {
        return None;
    }
    let (y, m, d) = (i64::from(year) - i64::from(month <= 2), i64::from(month), i64::from(day));
    let era = y.div_euclid(400);
    let of_era = y.rem_euclid(400);
    let of_year = (153 * (m + if m > 2 { -3 } else { 9 }) + 2) / 5 + d - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

/// Year, month and day of a count of days since 1 January 1970.
pub(super) fn civil_date(days: i64) -> (i32, u8, u8) {
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let of_era = z.rem_euclid(146_097);
    let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let m = (5 * of_year + 2) / 153;
    let month = if m < 10 { m + 3 } else { m - 9 };
    let day = of_year - (153 * m + 2) / 5 + 1;
    ((year + era * 400 + i64::from(month <= 2)) as i32, month as u8, day as u8)
}

pub(super) fn days_in_month(year: i32, month: u8) -> u8 {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    match month {
        2 => 28 + u8::from(leap),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Day of the week of a count of days since 1970: 0 is Monday.
pub(super) fn weekday(days: i64) -> usize {
    (days + 3).rem_euclid(7) as usize
}

/// Leading digits: their number and their count.
fn digits(text: &[u8]) -> (u64, usize) {
    let mut value = 0u64;
    let mut count = 0;
    while let Some(byte @ b'0'..=b'9') = text.get(count) {
        value = value.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
        count += 1;
    }
    (value, count)
}

/// One or two digits.
fn small(text: &[u8]) -> Option<(u8, &[u8])> {
    let (value, count) = digits(text);
    (matches!(count, 1 | 2)).then(|| (value as u8, &text[count..]))
}

/// The date and time of a cell: the whole cell, or none.
pub(super) fn stamp(cell: &[u8]) -> Option<Stamp> {
    let cell = trim(cell);
    let (date, rest) = date(cell)?;
    if let Some(seconds) = date.1 {
        let clock = if rest.is_empty() { Clock { seconds, offset: date.2 } } else { return None };
        return Some(Stamp { date: date.0, seconds: clock.seconds, offset: clock.offset });
    }
    let rest = match rest {
        [] => return Some(Stamp { date: date.0, seconds: 0, offset: NO_OFFSET }),
        [b'T' | b't' | b' ' | b',' | b'_' | b':', more @ ..] => trim(more),
        _ => return None,
    };
    let clock = clock(rest)?;
    Some(Stamp { date: date.0, seconds: clock.seconds, offset: clock.offset })
}

/// A date, with seconds and offset where they belong to the number (unix time), and what follows.
type Dated = (Date, Option<i32>, i16);

fn date(cell: &[u8]) -> Option<(Dated, &[u8])> {
    let (value, count) = digits(cell);
    let rest = &cell[count..];
    match count {
        0 => date_of_words(cell),
        1 | 2 => day_first(value as u8, rest),
        4 => year_first(value as i32, rest),
        8 => Some((plain_date(value)?, rest)),
        12 | 14 => {
            let (day, clock) = if count == 12 {
                (value / 10_000, value % 10_000 * 100)
            } else {
                (value / 1_000_000, value % 1_000_000)
            };
            let (h, m, s) = (clock / 10_000, clock / 100 % 100, clock % 100);
            let (date, _, offset) = plain_date(day)?;
            Some(((date, Some(of_day(h, m, s)?), offset), rest))
        }
        9 | 10 | 13 => unix(value, count, rest),
        _ => None,
    }
}

fn plain_date(value: u64) -> Option<Dated> {
    let (year, month, day) = ((value / 10_000) as i32, (value / 100 % 100) as u8, (value % 100) as u8);
    Some((known(year, month, day)?, None, NO_OFFSET))
}

fn known(year: i32, month: u8, day: u8) -> Option<Date> {
    let days = civil_days(year, month, day)?;
    YEARS.contains(&year).then_some(Date::Days(days as i32))
}

/// Seconds (or thousandths) since 1970, in UTC.
fn unix(value: u64, count: usize, rest: &[u8]) -> Option<(Dated, &[u8])> {
    let seconds = if count == 13 { value / 1000 } else { value };
    let rest = match rest {
        [b'.', more @ ..] => &more[digits(more).1..],
        _ => rest,
    };
    let days = (seconds / 86_400) as i64;
    YEARS.contains(&civil_date(days).0).then_some(())?;
    Some(((Date::Days(days as i32), Some((seconds % 86_400) as i32), 0), rest))
}

fn year_first(year: i32, rest: &[u8]) -> Option<(Dated, &[u8])> {
    let (&mark, rest) = rest.split_first()?;
    if !matches!(mark, b'-' | b'/' | b'.') {
        return None;
    }
    let (month, rest) = small(rest)?;
    let (&second, rest) = rest.split_first()?;
    let (day, rest) = small(rest)?;
    (second == mark).then_some(())?;
    Some(((known(year, month, day)?, None, NO_OFFSET), rest))
}

fn day_first(first: u8, rest: &[u8]) -> Option<(Dated, &[u8])> {
    let (&mark, rest) = rest.split_first()?;
    if !matches!(mark, b'-' | b'/' | b'.' | b' ') {
        return None;
    }
    let rest = if mark == b'.' { trim(rest) } else { rest };
    if rest.first().is_some_and(|b| !b.is_ascii_digit()) {
        let (month, rest) = month_name(rest)?;
        let rest = rest.strip_prefix(b".").unwrap_or(rest);
        let rest =
            rest.strip_prefix(b"-").or(rest.strip_prefix(b"/")).or(rest.strip_prefix(b" ")).unwrap_or(rest);
        let (year, rest) = year(rest)?;
        return Some(((known(year, month, first)?, None, NO_OFFSET), rest));
    }
    let (second, rest) = small(rest)?;
    let (&again, rest) = rest.split_first()?;
    let rest = if mark == b'.' { trim(rest) } else { rest };
    let (year, rest) = year(rest)?;
    (again == mark && mark != b' ').then_some(())?;
    // A dot between day, month and year means the day stands first: nobody writes 12.31.2024.
    if mark == b'.' {
        return Some(((known(year, second, first)?, None, NO_OFFSET), rest));
    }
    let possible = civil_days(year, second, first).or(civil_days(year, first, second)).is_some();
    (possible && YEARS.contains(&year))
        .then_some(((Date::Two(year as i16, first, second), None, NO_OFFSET), rest))
}

fn year(text: &[u8]) -> Option<(i32, &[u8])> {
    let (value, count) = digits(text);
    match count {
        4 => Some((value as i32, &text[4..])),
        2 => Some((2000 + value as i32, &text[2..])),
        _ => None,
    }
}

/// A date that begins with a word: a weekday before it, or the name of the month.
fn date_of_words(cell: &[u8]) -> Option<(Dated, &[u8])> {
    let letters = cell.iter().take_while(|b| b.is_ascii_alphabetic() || **b >= 0x80).count();
    if letters == 0 || letters > 12 {
        return None;
    }
    if let Some((month, rest)) = month_name(cell) {
        let rest = rest.strip_prefix(b".").unwrap_or(rest);
        let (&mark, rest) = rest.split_first()?;
        if !matches!(mark, b' ' | b'-' | b'/') {
            return None;
        }
        let (day, rest) = small(rest)?;
        let rest = rest.strip_prefix(b",").unwrap_or(rest);
        let (&_, rest) = rest.split_first()?;
        let (year, rest) = year(rest)?;
        return Some(((known(year, month, day)?, None, NO_OFFSET), rest));
    }
    let rest = &cell[letters..];
    let rest = rest.strip_prefix(b".").unwrap_or(rest);
    let rest = trim(rest.strip_prefix(b",").unwrap_or(rest));
    rest.first().is_some_and(u8::is_ascii_digit).then(|| date(rest)).flatten()
}

/// The month whose name (of some European languages, whole or cut) stands at the start.
fn month_name(text: &[u8]) -> Option<(u8, &[u8])> {
    const NAMES: [&[&str]; 12] = [
        &["jan", "ene", "gen", "sty"],
        &["feb", "fev", "fév", "lut"],
        &["mar", "mär", "mrz", "maa"],
        &["apr", "avr", "abr", "kwi"],
        &["may", "mai", "mei", "mag", "maj"],
        &["jun", "juin", "giu", "cze"],
        &["jul", "juil", "lug", "lip"],
        &["aug", "aou", "aoû", "ago", "sie"],
        &["sep", "set", "wrz"],
        &["oct", "okt", "ott", "out", "paz"],
        &["nov", "lis"],
        &["dec", "dez", "dic", "déc", "gru"],
    ];
    let letters = text.iter().take_while(|b| b.is_ascii_alphabetic() || **b >= 0x80).count();
    if !(3..=12).contains(&letters) {
        return None;
    }
    let word = String::from_utf8_lossy(&text[..letters]).to_lowercase();
    let month = NAMES.iter().position(|names| names.iter().any(|name| word.starts_with(name)))?;
    Some((month as u8 + 1, &text[letters..]))
}

fn of_day(hour: u64, minute: u64, second: u64) -> Option<i32> {
    let whole = hour < 24 && minute < 60 && second < 60;
    let midnight = hour == 24 && minute == 0 && second == 0;
    (whole || midnight).then(|| (hour * 3600 + minute * 60 + second) as i32)
}

/// The time of day of a cell: the whole cell, or none. Of a span ("00:00 - 00:30") it is the start.
pub(super) fn clock(cell: &[u8]) -> Option<Clock> {
    let cell = trim(cell);
    let (hour, count) = digits(cell);
    let rest = &cell[count..];
    if matches!(count, 4 | 6) {
        let (h, m, s) = if count == 4 {
            (hour / 100, hour % 100, 0)
        } else {
            (hour / 10_000, hour / 100 % 100, hour % 100)
        };
        return Some(Clock { seconds: of_day(h, m, s)?, offset: offset(rest)? });
    }
    if !matches!(count, 1 | 2) {
        return None;
    }
    let (minute, rest) = match rest {
        [b':' | b'.' | b'h' | b'H', more @ ..] => small(more)?,
        _ => return half_of_day(hour, 0, 0, rest).filter(|_| !trim(rest).is_empty()),
    };
    let (second, rest) = match rest {
        [b':' | b'.', more @ ..] => small(more)?,
        _ => (0, rest),
    };
    let rest = match rest {
        [b'.' | b',', more @ ..] if digits(more).1 > 0 => &more[digits(more).1..],
        _ => rest,
    };
    half_of_day(hour, u64::from(minute), u64::from(second), rest)
}

/// With a.m. or p.m., or an offset, behind it.
fn half_of_day(hour: u64, minute: u64, second: u64, rest: &[u8]) -> Option<Clock> {
    let rest = trim(rest);
    let (hour, rest) = match rest {
        [b'a' | b'A', b'm' | b'M', more @ ..] if (1..=12).contains(&hour) => (hour % 12, more),
        [b'p' | b'P', b'm' | b'M', more @ ..] if (1..=12).contains(&hour) => (hour % 12 + 12, more),
        _ => (hour, rest),
    };
    Some(Clock { seconds: of_day(hour, minute, second)?, offset: offset(rest)? })
}

/// Minutes ahead of UTC of what follows a time; none where it is something else.
fn offset(rest: &[u8]) -> Option<i16> {
    let rest = trim(rest);
    match rest {
        [] => Some(NO_OFFSET),
        [b'Z' | b'z'] => Some(0),
        [b' ' | b'-', ..] if trim(&rest[1..]).contains(&b':') && rest.contains(&b' ') => {
            clock(trim(&rest[1..])).map(|_| NO_OFFSET)
        }
        [sign @ (b'+' | b'-'), more @ ..] => {
            let (value, count) = digits(more);
            let (hours, minutes) = match (count, &more[count..]) {
                (2, []) => (value, 0),
                (4, []) => (value / 100, value % 100),
                (1 | 2, [b':', m @ ..]) if digits(m).1 == 2 && m.len() == 2 => (value, digits(m).0),
                _ => return None,
            };
            let total = (hours * 60 + minutes) as i16;
            (hours <= 14 && minutes < 60).then_some(if *sign == b'-' { -total } else { total })
        }
        _ => named_offset(rest),
    }
}

fn named_offset(name: &[u8]) -> Option<i16> {
    const NAMES: [(&[u8], i16); 10] = [
        (b"utc", 0),
        (b"gmt", 0),
        (b"wet", 0),
        (b"west", 60),
        (b"bst", 60),
        (b"cet", 60),
        (b"mez", 60),
        (b"cest", 120),
        (b"mesz", 120),
        (b"eet", 120),
    ];
    NAMES.iter().find(|(known, _)| name.eq_ignore_ascii_case(known)).map(|(_, minutes)| *minutes)
}
