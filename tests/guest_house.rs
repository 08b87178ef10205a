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
    assert!(found.warnings.is_empty() && found.questions.is_empty(), "{:?} {:?}", found.warnings, found.questions);

    let mut simulated = [[(0.0, 0.0); 12]; 2];
    for told in days().expect("a simulation") {
        let (year, month, _) = told.date;
        for (step, (import, export)) in told.rows {
            if !is_empty(told.date) && !is_lacking(told.date, step) {
                let sum = &mut simulated[(year - 2024) as usize][month - 1];
                *sum = (sum.0 + import, sum.1 + export);
            }
        }
    }
    for month in &found.months {
        let (import, export) = simulated[(month.year - 2024) as usize][usize::from(month.month) - 1];
        // 1,488 readings, each rounded to a watt-hour: a uniform error of sd 0.29 Wh, five times sqrt(1488) of it. On the
        // last of October's nights nothing is exported, so that the hour by which months differ is in the import only.
        for (kind, sum, hour) in [(Kind::Import, import, 0.0), (Kind::Export, export, 0.0)] {
            let total = month.totals.iter().find(|total| total.kind == kind).expect("a total");
            let off = (total.measured_kwh - sum).abs();
            assert!(off < 0.06 + hour, "{}-{} {kind:?}: {} for {sum}", month.year, month.month, total.measured_kwh);
        }
    }
}

/// Twelve months of its own days, and by the year what stands in the head of the study.
#[test]
fn years_can_be_drawn_from_it() {
    let library = Library::new(&readings(), &[1.0; 12]).expect("a library");
    assert!(library.sources().iter().all(|source| source.from_months.is_empty() && source.own_days >= 55));
}
