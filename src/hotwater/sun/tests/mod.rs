//! Against worked examples, closed forms, a separate program in Python (`tests/independent/sun.py`) and measured days.

use super::*;
use crate::hotwater::chance::Chance;
use crate::sampling::Vectors;

mod light;
mod sky;
mod steps;
mod weather;
mod yields;

/// Figures of the separate program.
fn independent(list: &str) -> Vec<serde_json::Value> {
    let text = include_str!("../../../../tests/independent/sun.json");
    let all: serde_json::Value = serde_json::from_str(text).unwrap();
    all[list].as_array().unwrap().clone()
}

fn number(of: &serde_json::Value, key: &str) -> f64 {
    of[key].as_f64().unwrap_or_else(|| panic!("{key} in {of}"))
}

fn near(got: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((got - expected).abs() <= tolerance, "{what}: {got}, expected {expected} +- {tolerance}");
}

fn south(latitude: f64, tilt: f64) -> (Place, [Roof; 1]) {
    (Place { latitude, albedo: 0.2 }, [Roof { tilt, azimuth: 180.0, share: 1.0 }])
}

fn chance(first: u64, lanes: usize) -> Chance<'static> {
    Chance { seed: 11, name: "home", first, lanes, vectors: Vectors::Widest }
}

/// Measured days: Dublin Airport 1996 to 2012. Source: Met Eireann, open data, CC BY 4.0.
const DUBLIN: &str = include_str!("../../../../tests/data/dublin-daily-1996-2012.csv");
const DUBLIN_LATITUDE: f64 = 53.428;

/// A column of the measured days (1 radiation in kWh/m2, 2 sunshine in hours); NaN where not measured.
fn dublin(column: usize) -> Vec<f64> {
    let days = DUBLIN.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit()));
    let value = |line: &str| {
        let cell = line.split(',').nth(column).unwrap();
        if cell.is_empty() { f64::NAN } else { cell.parse().unwrap() }
    };
    days.map(value).collect()
}

fn dublin_climate() -> Climate {
    Climate::from_measured(DUBLIN_LATITUDE, (1996, 1, 1), &dublin(1)).unwrap()
}
