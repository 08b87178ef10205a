//! `payspread meter`: the page of a file of readings, its JSON, its pictures, and what it refuses.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("meter-{name}"));
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn payspread(args: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_payspread")).args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

/// Twenty days of May at half hours: 1 kWh at noon of each, nothing else; with `gap`, a day is missing.
fn readings(name: &str, head: &str, gap: bool) -> String {
    let mut text = format!("{head}\n");
    let columns = head.split(',').count() - 1;
    for day in (1..=20).filter(|day| !gap || *day != 9) {
        for slot in 0..48 {
            let kwh = if slot == 24 { "1.0" } else { "0.0" };
            let cells = vec![kwh; columns].join(",");
            text.push_str(&format!("2026-05-{day:02} {:02}:{:02},{cells}\n", slot / 2, slot % 2 * 30));
        }
    }
    let path = folder(name).join("readings.csv");
    fs::write(&path, text).unwrap();
    path.to_string_lossy().into_owned()
}

#[test]
fn the_page_says_what_is_there() {
    let file = readings("page", "time,export", false);
    let (status, page, told) = payspread(&["meter", &file]);
    assert_eq!(status, 0, "{told}");
    for what in ["Meter readings: readings.csv", "2026", "20", "export", "before"] {
        assert!(page.contains(what), "{what}\n{page}");
    }
    let (_, told, _) = payspread(&["meter", &file, "--before-equipment", "yes"]);
    assert_ne!(page, told);
}

#[test]
fn the_json_has_the_totals_and_what_a_cylinder_could_take() {
    let file = readings("json", "time,export", false);
    let args = ["meter", &file, "--format", "json", "--room", "0.6", "--element", "3", "--threshold", "0"];
    let (status, json, told) = payspread(&args);
    assert_eq!(status, 0, "{told}");
    let report: Value = serde_json::from_str(&json).unwrap();
    let month = &report["found"]["months"][0];
    assert_eq!(month["month"], 5);
    assert!((month["totals"][0]["measured_kwh"].as_f64().unwrap() - 20.0).abs() < 1e-9);
    // Room for 0.6 of each day's 1 kWh.
    assert!((report["could_take"]["share"].as_f64().unwrap() - 0.6).abs() < 1e-9);
    assert_eq!(report["summer_heat"], Value::Null);
}

#[test]
fn what_is_not_plain_is_asked_and_can_be_told() {
    let file = readings("told", "time,reading one,reading two", true);
    let (status, _, told) = payspread(&["meter", &file]);
    assert_eq!(status, 1, "{told}");
    let (status, page, told) = payspread(&["meter", &file, "--as", "export=reading two", "--as", "unit=kWh"]);
    assert_eq!(status, 0, "{told}");
    assert!(page.contains("reading two"), "{page}");
}

#[test]
fn a_missing_day_is_told() {
    let (status, page, told) = payspread(&["meter", &readings("gap", "time,export", true)]);
    assert_eq!(status, 0, "{told}");
    assert!(page.contains("2026-05-09"), "{page}");
}

#[test]
fn pictures_go_where_they_are_asked_for() {
    let file = readings("pictures", "time,export", false);
    let out = folder("pictures-out");
    let (status, _, told) = payspread(&["meter", &file, "--out", &out.to_string_lossy()]);
    assert_eq!(status, 0, "{told}");
    for name in ["readings-export.svg", "readings-export.png"] {
        assert!(fs::metadata(out.join(name)).unwrap().len() > 1_000, "{name}");
    }
}

#[test]
fn what_cannot_be_read_is_refused() {
    let file = readings("refused", "time,export", false);
    let nothing = folder("nothing").join("empty.csv");
    fs::write(&nothing, "").unwrap();
    for (args, status) in [
        (vec!["meter", "nowhere.csv"], 3),
        (vec!["meter", nothing.to_str().unwrap()], 1),
        (vec!["meter", env!("CARGO_MANIFEST_DIR")], 1),
        (vec!["meter", &file, "--as", "colour=red"], 2),
        (vec!["meter", &file, "--as", "unit=stone"], 2),
        (vec!["meter", &file, "--as", "unit"], 2),
        (vec!["meter", &file, "--as", "export=no such column"], 1),
        (vec!["meter", &file, "--room", "0"], 2),
        (vec!["meter", &file, "--boiler-efficiency", "nan"], 2),
    ] {
        let (got, _, told) = payspread(&args);
        assert_eq!(got, status, "{args:?}: {told}");
        assert!(told.contains("hint") || told.contains("error"), "{args:?}: {told}");
    }
}
