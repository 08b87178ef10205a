//! The guest house's meter readings: made anew they are the same bytes, and read they are what was simulated.
#![allow(clippy::expect_used, reason = "a test that cannot read its own files has failed")]

#[path = "../examples/make_guest_house.rs"]
#[allow(dead_code, reason = "the program's own start is not called")]
mod make_guest_house;

use make_guest_house::{FILE, STEPS, csv, days, is_empty, is_lacking};
use payspread::hotwater::readings::{BeforeEquipment, Kind, Library, Options, Readings, read};

fn readings() -> Readings {
    let mut options = Options { before_equipment: BeforeEquipment::Yes, ..Options::default() };
    options.tell("zone", "Europe/Dublin").expect("a zone");
    let bytes = std::fs::read(FILE).expect("the file of readings");
    read(&bytes, &options).expect("readings")
}

#[test]
fn the_file_is_what_the_program_makes() {
    let made = csv().expect("a simulation");
    let kept = std::fs::read_to_string(FILE).expect("the file of readings");
    assert!(made == kept, "run `cargo run --example make_guest_house`, and ask why it changed");
    assert!(kept.len() < 1_500_000);
}

/// Rows by the calendar: two years, 29 February, an hour less and an hour more each year, the lacking morning.
#[test]
fn the_calendar_is_complete() {
    let text = csv().expect("a simulation");
    let rows = text.lines().filter(|line| !line.starts_with('#')).count() - 1;
    assert_eq!(rows, (366 + 365) * STEPS - 13);
    let count = |stamp: &str| text.lines().filter(|line| line.starts_with(stamp)).count();
    assert_eq!((count("2024-02-29 "), count("2024-03-31 01:"), count("2024-10-27 01:")), (48, 0, 4));
    assert_eq!((count("2025-02-29 "), count("2025-03-30 01:"), count("2025-10-26 01:")), (0, 0, 4));
    assert_eq!((count("2024-11-14 "), count("2025-02-03 "), count("2025-02-04 ")), (35, 48, 48));
}

#[test]
fn what_is_read_is_what_was_simulated() {
    let readings = readings();
    let found = &readings.found;
    assert_eq!((found.days, found.days_used), (731, 729), "{:?}", found.gaps);
    assert_eq!(found.gap_count, 2, "{:?}", found.gaps);
    assert_eq!((found.gaps[0].minutes, found.gaps[1].minutes), (390.0, 2880.0));
    assert!(
        found.warnings.is_empty() && found.questions.is_empty(),
        "{:?} {:?}",
        found.warnings,
        found.questions
    );

    let simulated = by_standard_month();
    for month in &found.months {
        let (import, export) = simulated[(month.year - 2024) as usize][usize::from(month.month) - 1];
        for (kind, sum) in [(Kind::Import, import), (Kind::Export, export)] {
            let total = month.totals.iter().find(|total| total.kind == kind).expect("a total");
            let off = (total.measured_kwh - sum).abs();
            assert!(off < 1e-9, "{}-{} {kind:?}: {} for {sum}", month.year, month.month, total.measured_kwh);
        }
    }
}

/// What was simulated and not lost, to the watt-hour that the file has, by months of the standard clock: half hours in a row, 48 a day, whatever the file's
/// clock shows.
fn by_standard_month() -> [[(f64, f64); 12]; 2] {
    let told = days().expect("a simulation");
    let dates: Vec<_> = told.iter().map(|day| day.date).collect();
    let rows = told.into_iter().flat_map(|day| day.rows.into_iter().map(move |row| (day.date, row)));
    let mut sums = [[(0.0, 0.0); 12]; 2];
    for (count, (date, (step, (import, export)))) in rows.enumerate() {
        let (year, month, _) = dates[count / STEPS];
        if !is_empty(date) && !is_lacking(date, step) {
            let sum = &mut sums[(year - 2024) as usize][month - 1];
            let kept = |kwh: f64| (kwh * 1000.0).round() / 1000.0;
            *sum = (sum.0 + kept(import), sum.1 + kept(export));
        }
    }
    sums
}

/// Every month has days of its own.
#[test]
fn years_can_be_drawn_from_it() {
    let library = Library::new(&readings(), &[1.0; 12]).expect("a library");
    assert!(library.sources().iter().all(|source| source.from_months.is_empty() && source.own_days >= 55));
}
