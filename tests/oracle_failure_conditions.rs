//! Boxes, their quasi-p, and what a search must find: tests/oracles/failure_conditions.json.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test may fail so"
)]

use payspread::analysis::conditions::boxes::{Kept, Limit, Region};
use payspread::analysis::conditions::find;
use payspread::analysis::conditions::lot::{Lot, Orders};
use payspread::analysis::conditions::peel::Sort;
use serde_json::Value;

struct Case {
    name: String,
    columns: Vec<String>,
    lot: Lot,
    region: Region,
    expect: Value,
    abs: f64,
    quasi_p_rel: f64,
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn cases() -> Vec<Case> {
    let all: Value = serde_json::from_str(include_str!("oracles/failure_conditions.json")).unwrap();
    all["cases"].as_array().unwrap().iter().map(case).collect()
}

fn case(case: &Value) -> Case {
    let names: Vec<String> = case["inputs"]["columns"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c.as_str().unwrap().to_string())
        .collect();
    let rows: Vec<Vec<f64>> = case["inputs"]["rows"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row.as_array().unwrap().iter().map(number).collect())
        .collect();
    let (columns, last) = names.split_at(names.len() - 1);
    assert_eq!(last, ["fails"]);
    let data: Vec<Vec<f64>> = (0..columns.len()).map(|j| rows.iter().map(|row| row[j]).collect()).collect();
    let slices: Vec<&[f64]> = data.iter().map(Vec::as_slice).collect();
    let fails: Vec<bool> = rows.iter().map(|row| row[columns.len()] == 1.0).collect();
    let limits = columns.iter().enumerate().filter_map(|(factor, name)| {
        let limit = case["inputs"]["box"].get(name)?;
        let end = |key: &str| limit.get(key).map(number);
        Some(Limit { factor, kept: Kept::Between { from: end("from"), to: end("to") } })
    });
    Case {
        name: case["name"].as_str().unwrap().into(),
        columns: columns.to_vec(),
        lot: Lot::new(&slices, &fails, &vec![0; fails.len()]),
        region: Region { limits: limits.collect() },
        expect: case["expect"].clone(),
        abs: number(&case["tolerance"]["abs"]),
        quasi_p_rel: number(&case["tolerance"]["quasi_p_rel"]),
    }
}

#[test]
fn the_given_boxes() {
    let cases = cases();
    assert_eq!(cases.len(), 3);
    for Case { name, columns, lot, region, expect, abs, quasi_p_rel } in cases {
        let all = lot.count(&lot.all());
        let inside = lot.count(&region.inside(&lot, &lot.all()));
        let found = [
            ("runs", all.runs as f64),
            ("failures", all.hits as f64),
            ("in_box", inside.runs as f64),
            ("failures_in_box", inside.hits as f64),
            ("coverage", inside.hits as f64 / all.hits as f64),
            ("density", inside.density()),
            ("mass", inside.runs as f64 / all.runs as f64),
        ];
        for (key, value) in found {
            assert!((value - number(&expect[key])).abs() <= abs, "{name}: {key} {value}");
        }
        let quasi_p = region.quasi_p(&lot, &lot.all());
        let wanted = expect["quasi_p"].as_array().unwrap();
        assert_eq!(quasi_p.len(), wanted.len());
        for (j, limit) in region.limits.iter().enumerate() {
            let wanted = wanted.iter().find(|w| w["input"] == columns[limit.factor].as_str()).unwrap();
            let wanted = number(&wanted["quasi_p"]);
            assert!((quasi_p[j] / wanted - 1.0).abs() <= quasi_p_rel, "{name}: {} {wanted}", quasi_p[j]);
        }
    }
}

/// The suggested box meets what one box at least must: a stronger demand.
#[test]
fn the_suggested_box() {
    let mut asked = 0;
    for Case { name, columns, lot, expect, .. } in cases() {
        let Some(wanted) = expect.get("a_found_box_has") else { continue };
        asked += 1;
        let sorts = vec![Sort::Values; columns.len()];
        let found = find(&lot, &Orders::of(&lot), &lot.all(), &sorts);
        let inside = lot.count(&found.region.inside(&lot, &lot.all()));
        let coverage = inside.hits as f64 / lot.hits.len() as f64;
        println!("{name}: {:?} {coverage} {}", found.region, inside.density());
        assert!(coverage >= number(&wanted["coverage_at_least"]), "{name}: coverage {coverage}");
        assert!(
            inside.density() >= number(&wanted["density_at_least"]),
            "{name}: density {}",
            inside.density()
        );
        let mut names: Vec<&str> = found.region.limits.iter().map(|l| columns[l.factor].as_str()).collect();
        names.sort_unstable();
        let must: Vec<&str> =
            wanted["must_restrict"].as_array().unwrap().iter().map(|v| v.as_str().unwrap()).collect();
        assert!(must.iter().all(|name| names.contains(name)), "{name}: {names:?}");
        assert!(found.region.quasi_p(&lot, &lot.all()).iter().all(|&p| p <= 0.05), "{name}");
    }
    assert_eq!(asked, 2);
}

/// Dropping what may be chance leaves the one restriction of the third box that is not.
#[test]
fn a_needless_restriction_is_dropped() {
    let Case { columns, lot, region, .. } = cases().pop().unwrap();
    let left = region.simplified(&lot, &lot.all(), 4);
    let names: Vec<&str> = left.limits.iter().map(|l| columns[l.factor].as_str()).collect();
    assert!(!names.contains(&"other"), "{names:?}");
}
