//! Makes the meter readings of the invented guest house: `cargo run --example make_guest_house` writes
//! `studies/data/guest-house-meter.csv`, the same bytes on any machine.
//!
//! Two years of a simulated house at half hours: 12 kWp on two roofs, east and west, use of electricity that follows
//! the guests, three phases unevenly loaded behind a meter that nets them, no surplus controller. Told in local time
//! with summer time, as a meter's portal does, and with what real files have: a morning without rows and two days of
//! empty cells. What two calendar years have and two simulated years of 365 days have not (29 February, the hour that
//! comes twice in autumn) is taken from a third simulated year. The house lives the same on all days of the week.
#![allow(clippy::print_stdout, missing_docs, reason = "a small program for the terminal")]

use std::fmt::Write as _;

use payspread::hotwater::away::Hemisphere;
use payspread::hotwater::chance::Chance;
use payspread::hotwater::flows::{MeterDay, MeterYear};
use payspread::hotwater::household::Household;
use payspread::hotwater::phases::{Netting, Phases};
use payspread::hotwater::settings::{Setting, Settings};
use payspread::hotwater::simulated::SimulatedHome;
use payspread::hotwater::sun::{Climate, Clock, Place, Roof, Sun};
use payspread::hotwater::time::{DAYS, FIRST_DAYS};
use payspread::sampling::Vectors;

pub(crate) const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/studies/data/guest-house-meter.csv");
/// Seed of the simulation.
pub(crate) const SEED: u64 = 1414;
/// The simulated year that lends what the others lack.
const SPARE: u64 = 2;
/// Half hours of a day.
pub(crate) const STEPS: usize = 48;
/// The hour that the clock leaves out in spring and repeats in autumn: from one to two.
const CHANGE: std::ops::Range<usize> = 2..4;

/// A calendar year and its days (counted from 0 in a year of 365) on which summer time begins and ends.
pub(crate) struct Year {
    pub(crate) year: u32,
    pub(crate) leap: bool,
    pub(crate) spring: usize,
    pub(crate) autumn: usize,
}

/// Summer time from the last Sunday of March to the last of October: 31 March to 27 October, 30 March to 26 October.
pub(crate) const YEARS: [Year; 2] = [
    Year { year: 2024, leap: true, spring: 89, autumn: 299 },
    Year { year: 2025, leap: false, spring: 88, autumn: 298 },
];

/// Share of the rooms taken, by month.
const OCCUPANCY: [f64; 12] = [0.25, 0.30, 0.40, 0.50, 0.60, 0.72, 0.85, 0.88, 0.68, 0.50, 0.32, 0.28];

/// Daily clearness at Dublin Airport 1996-2012 (Met Eireann, CC BY 4.0; our calculation): mean and standard deviation.
const CLEARNESS: [f64; 12] = [0.33, 0.38, 0.41, 0.44, 0.46, 0.43, 0.42, 0.42, 0.43, 0.40, 0.37, 0.32];
const CLEARNESS_SD: [f64; 12] = [0.16, 0.17, 0.17, 0.17, 0.17, 0.16, 0.14, 0.14, 0.16, 0.17, 0.18, 0.16];

/// kWh of each half hour of a day: taken from the grid and sent to it.
pub(crate) type Day = [(f64, f64); STEPS];

/// A day of the calendar.
pub(crate) struct Told {
    /// Year, month, day of the month.
    pub(crate) date: (u32, usize, usize),
    /// Step of the day and what passed; in spring there are 46, in autumn 50.
    pub(crate) rows: Vec<(usize, (f64, f64))>,
}

/// A simulated year by the clock of the calendar year.
fn simulate(year: &Year, run: u64) -> Option<Vec<Day>> {
    let place = Place { latitude: 53.0, albedo: 0.2 };
    let roof = |azimuth| Roof { tilt: 30.0, azimuth, share: 0.5 };
    let climate = Climate {
        mean: CLEARNESS,
        sd: CLEARNESS_SD,
        persistence: [Climate::USUAL_PERSISTENCE; 12],
        slow: Climate::USUAL_SLOW,
    };
    let clock = Clock::at(-6.0, 0.0, Some((year.spring, year.autumn)));
    let sun = Sun::on_clock(&place, &[roof(90.0), roof(270.0)], &climate, STEPS, &clock).ok()?;
    let phases = Phases::new([0.45, 0.3, 0.25], [1.0, 1.0, 1.0], Netting::AllPhases).ok()?;
    let household = Household::new(Hemisphere::North, phases, STEPS);
    let settings = Settings::new(1)
        .with(Setting::Panels, 12.0)
        .with(Setting::SunLoss, 0.2)
        .with_months(Setting::Electricity, &OCCUPANCY.map(|taken| 6_000.0 + 12_000.0 * taken));
    let chance = Chance { seed: SEED, name: "guest house", first: run, lanes: 1, vectors: Vectors::Widest };
    let mut home = SimulatedHome::new(&household, &settings, &chance, sun.batch(&chance));
    let mut meter = MeterDay::new(STEPS, 1);
    let mut days = Vec::with_capacity(DAYS);
    for day in 0..DAYS {
        home.fill(day, &mut meter);
        days.push(std::array::from_fn(|step| (meter.import[step], meter.export[step])));
    }
    Some(days)
}

/// Month (0 to 11) and day of the month (1 to 31) of a day of a year of 365.
fn date(day: usize) -> (usize, usize) {
    let month = FIRST_DAYS.iter().rposition(|&first| first <= day).unwrap_or(0);
    (month, day - FIRST_DAYS[month] + 1)
}

/// What the meter counted, day by day of the calendar; none if the simulation refuses its settings.
pub(crate) fn days() -> Option<Vec<Told>> {
    let mut told = Vec::new();
    for (run, year) in (0..).zip(&YEARS) {
        let (days, spare) = (simulate(year, run)?, simulate(year, SPARE)?);
        for (of_year, day) in days.iter().enumerate() {
            let mut rows: Vec<(usize, (f64, f64))> = day.iter().copied().enumerate().collect();
            if of_year == year.spring {
                rows.retain(|(step, _)| !CHANGE.contains(step));
            }
            if of_year == year.autumn {
                let again = CHANGE.map(|step| (step, spare[of_year][step]));
                rows.splice(CHANGE.end..CHANGE.end, again);
            }
            let (month, of_month) = date(of_year);
            told.push(Told { date: (year.year, month + 1, of_month), rows });
            if year.leap && (month, of_month) == (1, 28) {
                let rows = spare[of_year].iter().copied().enumerate().collect();
                told.push(Told { date: (year.year, 2, 29), rows });
            }
        }
    }
    Some(told)
}

/// Rows that are lacking: the portal was down in the morning of 14 November 2024.
pub(crate) fn is_lacking(date: (u32, usize, usize), step: usize) -> bool {
    date == (2024, 11, 14) && (13..26).contains(&step)
}

/// Days whose cells are empty: no connection on 3 and 4 February 2025.
pub(crate) fn is_empty(date: (u32, usize, usize)) -> bool {
    matches!(date, (2025, 2, 3 | 4))
}

const HEAD: &str = "\
# Meter readings of the guest house at Tarrowmouth, a house and a town that do not exist.
# Made by examples/make_guest_house.rs: simulated sun and household of payspread, seed 1414, three phases netted.
# kWh in each half hour from the time given; local time, an hour ahead in summer.
Local time,Import from the grid (kWh),Export to the grid (kWh)
";

/// The file.
pub(crate) fn csv() -> Option<String> {
    let mut text = HEAD.to_owned();
    for Told { date, rows } in days()? {
        let (year, month, of_month) = date;
        for (step, (import, export)) in rows {
            if is_lacking(date, step) {
                continue;
            }
            let (hour, minute) = (step / 2, step % 2 * 30);
            let stamp = format!("{year}-{month:02}-{of_month:02} {hour:02}:{minute:02}");
            // A String takes all that is written.
            let _ = if is_empty(date) {
                writeln!(text, "{stamp},,")
            } else {
                writeln!(text, "{stamp},{import:.3},{export:.3}")
            };
        }
    }
    Some(text)
}

fn main() -> std::io::Result<()> {
    let text = csv().ok_or_else(|| std::io::Error::other("the simulation refuses its settings"))?;
    std::fs::write(FILE, &text)?;
    println!("{FILE}: {} bytes", text.len());
    Ok(())
}
