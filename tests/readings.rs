//! Awkward files of meter readings: of each, totals by month equal what was written into it, and what is reported stands
//! beside it in NAME.txt.
//!
//! The files and their truth are made by tests/independent/make_readings.py. `PAYSPREAD_BLESS=1 cargo test --test readings`
//! rewrites the reports: read what changed before it is committed.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use payspread::hotwater::readings::{
    DateOrder, Found, Kind, Options, StampAt, could_take, heat_from_summer_gas, read,
};
use serde_json::Value;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join("readings")
}

fn truths() -> BTreeMap<String, Value> {
    serde_json::from_str(&fs::read_to_string(folder().join("truth.json")).unwrap()).unwrap()
}

fn bytes_of(name: &str) -> Vec<u8> {
    fs::read(folder().join(format!("{name}.csv"))).unwrap()
}

fn kind(name: &str) -> Kind {
    Kind::ALL.into_iter().find(|kind| kind.name() == name).unwrap()
}

fn options(truth: &Value) -> Options {
    let told = &truth["options"];
    let text = |key: &str| told[key].as_str().map(str::to_string);
    let columns = told["columns"].as_object().into_iter().flatten();
    Options {
        columns: columns.map(|(name, at)| (kind(name), at.as_str().unwrap().to_string())).collect(),
        zone: text("zone"),
        decimal: text("decimal").map(|sign| sign.as_bytes()[0]),
        date_order: text("date_order").map(|_| DateOrder::MonthDay),
        stamp_at: text("stamp_at").map(|_| StampAt::End),
        net_export_positive: told["net_export_positive"].as_bool().unwrap_or(false),
        ..Options::default()
    }
}

/// kWh as read, by month and kind.
fn measured(found: &Found) -> BTreeMap<(String, &'static str), f64> {
    let months = found.months.iter().flat_map(|m| {
        m.totals.iter().map(move |t| ((format!("{}-{:02}", m.year, m.month), t.kind.name()), t.measured_kwh))
    });
    months.filter(|(_, kwh)| *kwh != 0.0).collect()
}

fn check(name: &str, truth: &Value, found: &Found) -> Vec<String> {
    let mut wrong = Vec::new();
    let wanted: BTreeMap<(String, &'static str), f64> = truth["months"]
        .as_object()
        .unwrap()
        .iter()
        .flat_map(|(month, kinds)| {
            kinds
                .as_object()
                .unwrap()
                .iter()
                .map(|(k, v)| ((month.clone(), kind(k).name()), v.as_f64().unwrap()))
        })
        .filter(|(_, kwh)| *kwh != 0.0)
        .collect();
    let mut read = measured(found);
    for (key, kwh) in wanted {
        let got = read.remove(&key).unwrap_or(f64::NAN);
        if got.is_nan() || (got - kwh).abs() > 1e-9 {
            wrong.push(format!("{name}: {key:?} is {got}, not {kwh}"));
        }
    }
    // Kinds that a file has beside those whose truth is told.
    read.retain(|(_, kind), _| name != "all-four" || matches!(*kind, "export" | "import"));
    wrong.extend(read.into_iter().map(|extra| format!("{name}: {extra:?} is made up")));
    for (key, count) in truth["troubles"].as_object().into_iter().flatten() {
        let got = found.troubles.iter().find(|t| t.key == key).map_or(0, |t| t.count);
        if got as u64 != count.as_u64().unwrap() {
            wrong.push(format!("{name}: {key} {got} times, not {count}"));
        }
    }
    if let Some(used) = truth["used"].as_u64()
        && found.days_used as u64 != used
    {
        wrong.push(format!("{name}: {} days used, not {used}", found.days_used));
    }
    for gap in truth["gaps"].as_array().into_iter().flatten() {
        let same = |g: &&payspread::hotwater::readings::GapFound| {
            let filled = serde_json::to_value(g.filled).unwrap();
            g.from == gap[0].as_str().unwrap() && g.minutes == gap[1].as_f64().unwrap() && filled == gap[2]
        };
        if found.gaps.iter().filter(same).count() != 1 || found.gaps.len() != 1 {
            wrong.push(format!("{name}: gaps are {:?}, not {gap}", found.gaps));
        }
    }
    let text = found.to_string();
    for key in ["says", "question"] {
        if let Some(wanted) = truth[key].as_str()
            && !text.contains(wanted)
        {
            wrong.push(format!("{name}: the report does not say `{wanted}`"));
        }
    }
    wrong
}

#[test]
fn awkward_files_are_read_and_reported() {
    let bless = std::env::var_os("PAYSPREAD_BLESS").is_some();
    let truths = truths();
    assert!(truths.len() >= 40);
    let mut wrong = Vec::new();
    for (name, truth) in &truths {
        let result = read(&bytes_of(name), &options(truth));
        let report = match (&result, truth["error"].as_str()) {
            (Ok(readings), None) => {
                wrong.extend(check(name, truth, &readings.found));
                readings.found.to_string()
            }
            (Err(error), Some(wanted)) => {
                if !error.to_string().contains(wanted) {
                    wrong.push(format!("{name}: `{error}` does not say `{wanted}`"));
                }
                format!("{error}\n")
            }
            (Ok(readings), Some(wanted)) => {
                wrong.push(format!("{name}: reads, though `{wanted}`"));
                readings.found.to_string()
            }
            (Err(error), None) => {
                wrong.push(format!("{name}: {error}"));
                format!("{error}\n")
            }
        };
        let beside = folder().join(format!("{name}.txt"));
        if bless {
            fs::write(&beside, &report).unwrap();
        } else if fs::read_to_string(&beside).unwrap_or_default() != report {
            wrong.push(format!("{name}: the report differs from {name}.txt:\n{report}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_file_has_its_truth() {
    let truths = truths();
    for entry in fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        assert!(name == "truth" || truths.contains_key(&name), "{name} is left over");
    }
}

#[test]
fn a_cylinder_takes_what_fits_by_hand() {
    // Two days of two half hours of sun: 2 and 1 kWh, then 0.02 and 0.5.
    let mut text = String::from("time,export_kwh\n");
    for slot in 0..96 {
        let kwh = match slot {
            24 => 2.0,
            25 => 1.0,
            72 => 0.02,
            73 => 0.5,
            _ => 0.0,
        };
        text.push_str(&format!(
            "2024-06-{:02} {:02}:{:02},{kwh}\n",
            14 + slot / 48,
            slot % 48 / 2,
            slot % 2 * 30
        ));
    }
    let readings = read(text.as_bytes(), &Options::default()).unwrap();
    // Threshold 60 W is 0.03 kWh in a half hour, element 3 kW is 1.5: min(1.97, 1.5) + 0.97 = 2.47; 0 + 0.47.
    let found = could_take(&readings, 10.0, 3.0, 60.0).unwrap();
    assert!((found.taken_kwh - (1.5 + 0.97 + 0.47)).abs() < 1e-12);
    assert!((found.share - 2.94 / 3.52).abs() < 1e-12);
    // Room for 2 kWh: the first day is full.
    let found = could_take(&readings, 2.0, 3.0, 60.0).unwrap();
    assert!((found.taken_kwh - 2.47).abs() < 1e-12);
    assert_eq!((found.days, found.days_full), (2, 1));
    assert!((found.share_by_month[5].unwrap() - found.share).abs() < 1e-15);
    assert_eq!(found.share_by_month[0], None);
}

#[test]
fn summer_gas_is_that_of_the_file() {
    let readings = read(&bytes_of("gas-by-day"), &Options::default()).unwrap();
    let text = String::from_utf8(bytes_of("gas-by-day")).unwrap();
    let mut litres: Vec<f64> = text
        .lines()
        .skip(1)
        .map(|line| line.split(';').nth(1).unwrap().replace(',', ".").parse().unwrap())
        .collect();
    litres.sort_by(f64::total_cmp);
    let heat = heat_from_summer_gas(&readings, 0.74, false).unwrap();
    assert_eq!(heat.days, 92);
    assert!((heat.median_kwh - 0.74 * 11.0 * (litres[45] + litres[46]) / 2.0).abs() < 1e-9);
    assert!(heat.p10_kwh < heat.median_kwh && heat.median_kwh < heat.p90_kwh);
    assert!(heat_from_summer_gas(&readings, 0.74, true).is_none());
}
