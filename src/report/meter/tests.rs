//! Tests of the page over readings made up for them.

use super::*;
use crate::hotwater::readings::{ColumnFound, Filled, GapFound, KindTotal, StepFound, TroubleFound};

fn found() -> Found {
    let total = |kind, measured_kwh, filled_kwh| KindTotal { kind, measured_kwh, filled_kwh };
    let month = |month: u8, export: f64| MonthFound {
        year: 2024,
        month,
        days: 30,
        known: 0.9996,
        days_used: 29,
        totals: vec![total(Kind::Export, export, 0.5), total(Kind::Import, 210.0, 0.0)],
    };
    let gap = |from: &str, minutes: f64, filled| GapFound {
        kinds: vec![Kind::Export, Kind::Import],
        from: from.into(),
        minutes,
        filled,
    };
    Found {
        encoding: "UTF-8",
        separator: "semicolon".into(),
        decimal: ",".into(),
        decimal_why: "both signs never occur together",
        header_line: Some(3),
        columns: vec![ColumnFound {
            heading: "A- kWh".into(),
            taken_as: "export",
            why: "from its heading",
            unit: "kWh",
            unit_why: "from its heading",
            register: true,
            register_why: "it never falls",
        }],
        unused: vec!["Status".into()],
        date_order: None,
        clock: "local time with daylight saving".into(),
        stamps: "the end of their interval".into(),
        steps: vec![StepFound { minutes: 15.0, share: 0.998 }],
        first: "2024-04-01 00:00".into(),
        last: "2024-06-29 24:00".into(),
        rows: 8_640,
        readings: 17_271,
        troubles: vec![TroubleFound {
            key: "negative",
            what: "a value below 0",
            count: 1_204,
            first_line: 3_017,
            first_text: Some("-0,4\u{1b}[31m".into()),
            done: "treated as a gap",
        }],
        gaps: (0..20)
            .map(|k| match k {
                7 => gap("2024-05-02 12:00", 7200.0, Filled::LeftOut),
                _ => gap("2024-04-10 10:00", 45.0 + f64::from(k), Filled::Bridged),
            })
            .collect(),
        gap_count: 20,
        days: 90,
        days_used: 87,
        months: vec![month(4, 120.0), month(5, 240.0), month(6, 0.0)],
        before_equipment: BeforeEquipment::Unknown,
        warnings: vec!["The last day is cut".into()],
        questions: vec!["Were these readings taken before the equipment was fitted?".into()],
    }
}

fn cylinder() -> Cylinder {
    let mut share_by_month = [None; 12];
    (share_by_month[3], share_by_month[4]) = (Some(0.812), Some(0.455));
    let take = CouldTake {
        export_kwh: 360.0,
        taken_kwh: 207.0,
        share: 0.575,
        share_by_month,
        days: 87,
        days_full: 41,
    };
    Cylinder { room_kwh: 7.0, element_kw: 3.0, threshold_w: 100.0, take }
}

fn summer_gas() -> SummerGas {
    let heat = SummerHeat { median_kwh: 6.14, p10_kwh: 3.9, p90_kwh: 9.2, median_error_kwh: 0.25, days: 92 };
    SummerGas { efficiency: 0.8, heat }
}

fn page(width: usize, blocks: bool) -> String {
    text("Meter readings: a.csv", &found(), Some(&cylinder()), Some(&summer_gas()), Page { width, blocks })
}

/// With PAYSPREAD_LOOK=FOLDER, writes the page there, for human eyes.
#[test]
fn page_of_readings_for_the_eye() {
    let Some(folder) = std::env::var_os("PAYSPREAD_LOOK") else { return };
    let folder = std::path::PathBuf::from(folder);
    for width in [80, 100] {
        std::fs::write(folder.join(format!("meter-{width}.txt")), page(width, true)).unwrap();
    }
}

#[test]
fn everything_found_is_told() {
    let text = page(100, true);
    for wanted in [
        "2024-04-01 00:00 to 2024-06-29 24:00 (standard clock): 90 days, 87 used.",
        "8,640 rows, 17,271 readings used. Every 15 minutes (99.8 %).",
        "\"A- kWh\": export (from its heading), in kWh (from its heading), an ever-rising register",
        "Not used: Status.",
        "1,204 x a value below 0, first on line 3,017 (\"-0,4 [31m\"): treated as a gap.",
        "1 gap, 5 days in all: left out: its days are not used.",
        "The longest 12 of 20:",
        "2024-05-02 12:00, 5 days, export and import: left out: its days are not used.",
        // 120.5 of 240.5 are 6.01 of 12 characters.
        "  2024-04  99.9 %  29/30      120.5      210.0  ██████\n",
        "  Sum                         361.5      630.0\n",
        "Of all this, 1.5 kWh were filled into gaps.",
        "57.5 % of the export: 207 of 360 kWh on 87 days",
        "By month: Apr 81 %, May 46 %.",
        "6.1 kWh a day (half of 92 days below; known to 0.5 kWh either way, 95 %)",
        "Were these readings taken before the equipment was fitted?\n",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    // 19 gaps of 45 to 64 minutes without the eighth: 19 x 45 + 190 - 7 = 1,038 minutes.
    assert!(text.contains("19 gaps, 17.3 hours in all: between its ends."), "{text}");
}

#[test]
fn every_page_of_readings_keeps_to_its_width() {
    let mut tiresome = found();
    tiresome.columns[0].heading = format!("\u{1b}[31m{}", "Zählerstand".repeat(40));
    tiresome.unused = vec!["x".repeat(500); 40];
    let kinds = Kind::ALL.map(|kind| KindTotal { kind, measured_kwh: 1e12, filled_kwh: f64::NAN });
    tiresome.months[0].totals = kinds.to_vec();
    for (found, width) in [found(), tiresome].iter().flat_map(|f| [40, 72, 80, 100].map(|w| (f, w))) {
        let text = text("A title", found, Some(&cylinder()), None, Page { width, blocks: true });
        for line in text.lines() {
            assert!(
                line.chars().count() <= width.max(NARROWEST) || line.contains("1,000,000,000,000"),
                "{line}"
            );
            assert!(!line.chars().any(char::is_control) && line == line.trim_end(), "{line:?}");
        }
    }
    assert!(page(80, false).is_ascii());
}

#[test]
fn what_is_told_of_the_equipment_is_repeated() {
    let mut known = found();
    (known.before_equipment, known.questions) = (BeforeEquipment::No, Vec::new());
    let text = text("t", &known, None, None, Page { width: 72, blocks: true });
    assert!(text.contains("Readings and equipment\n  Taken with the equipment fitted, as told"));
}
