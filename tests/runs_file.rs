//! The file of runs, read back: its runs are those behind the answers, its bytes are the same each time, and what its
//! columns mean stands in it.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use serde_json::Value;

fn run(study: &Path, name: &str, more: &[&str]) -> (PathBuf, std::process::Output) {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&out);
    let made = Command::new(env!("CARGO_BIN_EXE_payspread"))
        .args(["run", "--quiet", "--save-runs"])
        .args(more)
        .arg("--out")
        .arg(&out)
        .arg(study)
        .output()
        .unwrap();
    (out, made)
}

fn study(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

struct Columns {
    names: Vec<String>,
    rows: Vec<Vec<Field>>,
    metadata: std::collections::BTreeMap<String, String>,
}

impl Columns {
    fn read(out: &Path) -> Columns {
        let reader = SerializedFileReader::new(fs::File::open(out.join("runs.parquet")).unwrap()).unwrap();
        let pairs = reader.metadata().file_metadata().key_value_metadata().unwrap().clone();
        let metadata = pairs.into_iter().map(|pair| (pair.key, pair.value.unwrap())).collect();
        let schema = reader.metadata().file_metadata().schema_descr().columns().to_vec();
        let names = schema.iter().map(|column| column.name().to_owned()).collect();
        let rows = reader.get_row_iter(None).unwrap();
        let rows = rows.map(|row| row.unwrap().get_column_iter().map(|(_, f)| f.clone()).collect()).collect();
        Columns { names, rows, metadata }
    }

    fn place(&self, name: &str) -> usize {
        self.names.iter().position(|n| n == name).unwrap_or_else(|| panic!("{name} in {:?}", self.names))
    }

    fn numbers(&self, name: &str) -> Vec<f64> {
        let at = self.place(name);
        let number = |field: &Field| match field {
            Field::Double(x) => *x,
            Field::Bool(yes) => f64::from(u8::from(*yes)),
            other => panic!("{name}: {other:?}"),
        };
        self.rows.iter().map(|row| number(&row[at])).collect()
    }
}

/// Type 7 of Hyndman and Fan; never sorts above every year.
fn percentile(values: &[f64], p: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = (sorted.len() - 1) as f64 * p;
    let (low, part) = (at.floor() as usize, at.fract());
    let (a, b) = (sorted[low], sorted[(low + 1).min(sorted.len() - 1)]);
    if a == b || part == 0.0 { a } else { a + part * (b - a) }
}

fn near(a: f64, b: f64) -> bool {
    a == b || (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1e-9)
}

/// Figures of results at base choices and of each other value of a choice, worked out again from the file.
fn holds_what_the_answers_say(out: &Path) -> usize {
    let file = Columns::read(out);
    let answers: Value = serde_json::from_slice(&fs::read(out.join("answers.json")).unwrap()).unwrap();
    assert_eq!(file.rows.len() as u64, answers["sampling"]["runs"].as_u64().unwrap());
    let mut compared = 0;
    for result in answers["results"].as_array().unwrap() {
        compared += agree(&file, result["name"].as_str().unwrap(), result);
    }
    let columns: Value = serde_json::from_str(&file.metadata["payspread.columns"]).unwrap();
    for column in columns.as_array().unwrap().iter().filter(|c| !c["choice"].is_null()) {
        let (choice, label) = (&column["choice"]["name"], column["label"].as_str().unwrap());
        let answers = answers["choices"].as_array().unwrap().iter().filter(|a| a["choice"] == *choice);
        let answer = answers
            .filter(|a| label.ends_with(&format!(": {})", a["value"].as_str().unwrap())))
            .flat_map(|a| a["results"].as_array().unwrap())
            .find(|r| r["name"] == column["of"]);
        compared += agree(&file, column["name"].as_str().unwrap(), answer.unwrap());
    }
    compared
}

fn agree(file: &Columns, column: &str, result: &Value) -> usize {
    let values = file.numbers(column);
    let mut compared = 0;
    if let Some(mean) = result["mean"]["value"].as_f64() {
        let own = values.iter().sum::<f64>() / values.len() as f64;
        assert!(near(own, mean), "{column}: {own} against {mean}");
        compared += 1;
    }
    for q in result["percentiles"].as_array().unwrap() {
        let own = percentile(&values, q["p"].as_f64().unwrap());
        match q["estimate"]["value"].as_f64() {
            Some(told) => assert!(near(own, told), "{column} {q}: {own}"),
            None => assert_eq!(own, f64::INFINITY, "{column} {q}"),
        }
        compared += 1;
    }
    if let Some(never) = result["never"]["value"].as_f64() {
        let own = values.iter().filter(|x| **x == f64::INFINITY).count() as f64 / values.len() as f64;
        assert!(near(own, never), "{column}: {own} never, against {never}");
        compared += 1;
    }
    compared
}

#[test]
fn runs_are_those_behind_the_answers() {
    for (name, runs) in [("harbour-row", "512"), ("first-look", "4096")] {
        let (out, made) = run(&study(&format!("studies/{name}.toml")), name, &["--runs", runs]);
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        assert!(holds_what_the_answers_say(&out) > 20, "{name}");
    }
}

#[test]
fn bytes_are_the_same_on_any_number_of_threads() {
    let bytes: Vec<Vec<u8>> = ["1", "2", "5"]
        .iter()
        .map(|threads| {
            let more = ["--runs", "5000", "--threads", threads];
            let (out, made) = run(&study("studies/first-look.toml"), &format!("threads-{threads}"), &more);
            assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
            fs::read(out.join("runs.parquet")).unwrap()
        })
        .collect();
    assert!(bytes[0] == bytes[1] && bytes[0] == bytes[2]);
}

#[test]
fn inputs_stand_in_their_units_labels_as_text_and_yes_or_no_as_such() {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("mixed.toml");
    let text = r#"
title = "Mixed"
currency = "EUR"
first_year = 2027
years = 3
[sampling]
runs = 64
[inputs.run]
unit = "kW"
uniform = { min = 1, max = 2 }
[inputs.heats]
labels = ["gas", "=cmd()"]
[inputs.hot]
unit = "degC"
normal = { mean = 60, sd = 2 }
[inputs.people]
value = 2
changes = [ { chance = 0.5, year = 2028, to = 4 } ]
[inputs.rate]
unit = "1/yr"
choice = [0.02, 0.04]
base = 0.04
[paths.price]
unit = "EUR/MWh"
process = "random walk"
start = { uniform = { min = 80, max = 120 } }
volatility = 0.1
[workings.doubled]
unit = "W"
formula = "2 * run"
[results.pays]
formula = "run > 1.5 [kW]"
[results.cost]
unit = "EUR"
formula = "sum_years(people * price * 1 [MWh]) / growth(rate)"
"#;
    fs::write(&out, text).unwrap();
    let (out, made) = run(&out, "mixed", &[]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let file = Columns::read(&out);
    assert_eq!(file.names[..2], ["run_", "replicate"]);
    let own = file.numbers("run");
    assert!(own.iter().all(|x| (1.0..=2.0).contains(x)));
    assert!(own.iter().zip(file.numbers("doubled")).all(|(x, y)| near(2000.0 * x, y)));
    assert!(own.iter().zip(file.numbers("pays")).all(|(x, y)| (*x > 1.5) == (y == 1.0)));
    assert!(file.numbers("hot").iter().all(|x| (40.0..80.0).contains(x)));
    let people: Vec<f64> = file.numbers("people.2028");
    assert!(people.contains(&2.0) && people.contains(&4.0) && people.iter().all(|x| *x == 2.0 || *x == 4.0));
    let start = file.numbers("price.start");
    assert!(start.iter().zip(file.numbers("price.2027")).all(|(x, y)| near(*x, y)));
    assert!(start.iter().all(|x| (80.0..=120.0).contains(x)));
    let heats = file.place("heats");
    let labels: Vec<String> = file.rows.iter().map(|row| row[heats].to_string()).collect();
    assert!(labels.iter().all(|l| l.contains("gas") || l.contains("=cmd()")));
    let (at, other) = (file.numbers("cost"), file.numbers("cost.rate=0.02"));
    assert!(at.iter().zip(other).all(|(x, y)| near(x * 1.04, y * 1.02)));
    let columns: Value = serde_json::from_str(&file.metadata["payspread.columns"]).unwrap();
    let of = |name: &str| columns.as_array().unwrap().iter().find(|c| c["name"] == name).unwrap().clone();
    assert_eq!(
        (of("price.2028")["unit"].as_str(), of("price.2028")["year"].as_i64()),
        (Some("EUR/MWh"), Some(2028))
    );
    assert_eq!(of("pays")["kind"], "yes-no");
    assert_eq!(file.metadata["payspread.runs"], "64");
    assert!(holds_what_the_answers_say(&out) > 5);
}

/// More runs than are held at a time: the parts follow each other as if they were one.
#[test]
fn parts_of_the_runs_follow_each_other() {
    let study = Path::new(env!("CARGO_TARGET_TMPDIR")).join("parts.toml");
    let text = "title = \"Parts\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 2\n[sampling]\nruns = 70_000\n\
                method = \"random\"\n[inputs.a]\nuniform = { min = 0, max = 1 }\n[results.b]\nformula = \"a * a\"\n";
    fs::write(&study, text).unwrap();
    let (out, made) = run(&study, "parts", &[]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let reader = SerializedFileReader::new(fs::File::open(out.join("runs.parquet")).unwrap()).unwrap();
    assert_eq!(reader.metadata().num_row_groups(), 2);
    let file = Columns::read(&out);
    assert!(
        file.rows.iter().enumerate().all(|(k, row)| matches!(row[0], Field::Long(run) if run == k as i64))
    );
    assert!(file.numbers("a").iter().zip(file.numbers("b")).all(|(a, b)| a * a == b));
    assert!(holds_what_the_answers_say(&out) > 5);
}

#[test]
fn more_than_a_file_takes_is_refused_before_the_work() {
    let (_, made) = run(&study("studies/harbour-row.toml"), "many", &["--runs", "1000000000"]);
    assert_eq!(made.status.code(), Some(2));
    let told = String::from_utf8_lossy(&made.stderr).into_owned();
    assert!(told.contains("more than a file of runs takes"), "{told}");
    let json = Command::new(env!("CARGO_BIN_EXE_payspread"))
        .args(["run", "--save-runs", "--format", "json"])
        .arg(study("studies/first-look.toml"))
        .output()
        .unwrap();
    assert_eq!(json.status.code(), Some(2));
}
