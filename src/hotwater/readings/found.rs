//! What was found in a file of readings: the report, as plain data.

use serde::Serialize;

use super::options::{BeforeEquipment, Kind};
pub use super::troubles::TroubleFound;

/// All that was found out about a file of readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Found {
    /// How its characters are encoded.
    pub encoding: &'static str,
    /// Sign between cells: "comma", "semicolon", "tab" or the sign.
    pub separator: String,
    /// Decimal sign: "." or ",".
    pub decimal: String,
    /// How the decimal sign was found.
    pub decimal_why: &'static str,
    /// Line of the headings.
    pub header_line: Option<usize>,
    /// Columns of values and how they were taken.
    pub columns: Vec<ColumnFound>,
    /// Headings of columns that are not used.
    pub unused: Vec<String>,
    /// Order of day and month, where dates leave it open, and how it was found.
    pub date_order: Option<String>,
    /// How the clock was taken.
    pub clock: String,
    /// What time stamps mark, and how it was found.
    pub stamps: String,
    /// Minutes from reading to reading, most usual first, with the share of readings of each.
    pub steps: Vec<StepFound>,
    /// First moment (standard clock), `2024-01-31 13:30`.
    pub first: String,
    /// Moment at which the last interval ends.
    pub last: String,
    /// Rows of the file behind the headings.
    pub rows: usize,
    /// Readings used, all columns together.
    pub readings: usize,
    /// Kinds of trouble.
    pub troubles: Vec<TroubleFound>,
    /// Gaps in the order of time; at most 1,000 are listed.
    pub gaps: Vec<GapFound>,
    /// All gaps, listed or not.
    pub gap_count: usize,
    /// Days of the standard clock touched by readings.
    pub days: usize,
    /// Days of which every half hour is known or filled: those that are used.
    pub days_used: usize,
    /// Totals by month.
    pub months: Vec<MonthFound>,
    /// Whether the readings precede the equipment, as told.
    pub before_equipment: BeforeEquipment,
    /// What a person should know.
    pub warnings: Vec<String>,
    /// What a person should answer.
    pub questions: Vec<String>,
}

/// A column of values and how it was taken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ColumnFound {
    /// Its heading.
    pub heading: String,
    /// What it was taken for: a kind, or "net".
    pub taken_as: &'static str,
    /// Why.
    pub why: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// How the unit was found.
    pub unit_why: &'static str,
    /// Whether it is an ever-rising register; else amounts of intervals.
    pub register: bool,
    /// How that was found.
    pub register_why: &'static str,
}

/// A step from reading to reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StepFound {
    /// Minutes.
    pub minutes: f64,
    /// Share of the readings, 0 to 1.
    pub share: f64,
}

/// How a gap was filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Filled {
    /// Within a half hour: at the mean power of the rest of it.
    Shared,
    /// Up to two hours: between its ends.
    Bridged,
    /// Up to a day: from the same weekday near by.
    LikeDay,
    /// The register tells the total; shared evenly.
    RegisterEven,
    /// The register tells the total; its course is that of a like day.
    RegisterLikeDay,
    /// Not filled; its days are not used.
    LeftOut,
}

impl Filled {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Filled::Shared => "at the mean power of the rest of the half hour",
            Filled::Bridged => "between its ends",
            Filled::LikeDay => "from a like day near by",
            Filled::RegisterEven => "total known from the register, shared evenly",
            Filled::RegisterLikeDay => "total known from the register, course of a like day",
            Filled::LeftOut => "left out: its days are not used",
        }
    }
}

/// A stretch without readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GapFound {
    /// Which readings lack.
    pub kinds: Vec<Kind>,
    /// Its start, standard clock.
    pub from: String,
    /// Its length in minutes.
    pub minutes: f64,
    /// How it was filled.
    pub filled: Filled,
}

/// Totals of a month.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MonthFound {
    /// Year.
    pub year: i32,
    /// Month, 1 to 12.
    pub month: u8,
    /// Days of the month.
    pub days: usize,
    /// Share of the month's half hours that are known or filled, 0 to 1 (of the kind of which least is known).
    pub known: f64,
    /// Days used.
    pub days_used: usize,
    /// Totals of each kind.
    pub totals: Vec<KindTotal>,
}

/// Energy of a kind in a month.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct KindTotal {
    /// Which.
    pub kind: Kind,
    /// kWh as read.
    pub measured_kwh: f64,
    /// kWh added where gaps were filled.
    pub filled_kwh: f64,
}

/// `2024-01-31 13:30` of seconds since 1970.
pub(super) fn moment(seconds: i64) -> String {
    let (year, month, day) = super::dates::civil_date(seconds.div_euclid(86_400));
    let of_day = seconds.rem_euclid(86_400);
    let (hour, minute, second) = (of_day / 3600, of_day / 60 % 60, of_day % 60);
    let tail = if second == 0 { String::new() } else { format!(":{second:02}") };
    format!("{year}-{month:02}-{day:02} {hour:02}:{minute:02}{tail}")
}
