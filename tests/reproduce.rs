//! `reproduce` through the program: what agrees, what was changed, and manifests that nobody should trust.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

const STUDY: &str = r#"title = "Small"
currency = "EUR"
prices = "real"
first_year = 2027
years = 3
[sampling]
runs = 256
seed = 7
[inputs.x]
unit = "EUR"
samples = { file = "data/x.csv", column = "x" }
[results.r]
unit = "EUR"
formula = "2 * x"
at_least = 5
"#;

fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("reproduce").join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(folder.join("data")).unwrap();
    fs::write(folder.join("small.toml"), STUDY).unwrap();
    let rows: String = (1..=40).map(|k| format!("{}\n", f64::from(k) / 7.0)).collect();
    fs::write(folder.join("data/x.csv"), format!("x\n{rows}")).unwrap();
    folder
}

fn payspread(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_payspread")).current_dir(folder).args(args).output().unwrap()
}

fn run(folder: &Path, more: &[&str]) {
    let args: Vec<&str> = ["run", "-q", "small.toml", "--out", "out"].iter().chain(more).copied().collect();
    let out = payspread(folder, &args);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
}

fn reproduced(folder: &Path, more: &[&str]) -> (Option<i32>, Value) {
    let args: Vec<&str> = ["reproduce", "--format", "json", "out"].iter().chain(more).copied().collect();
    let out = payspread(folder, &args);
    let json = serde_json::from_slice(&out.stdout).unwrap_or(Value::Null);
    (out.status.code(), json)
}

fn verdict<'j>(json: &'j Value, name: &str) -> &'j str {
    let items = json["items"].as_array().unwrap();
    let item = items.iter().find(|item| item["name"] == name).unwrap_or_else(|| panic!("{name}: {json}"));
    item["verdict"].as_str().unwrap()
}

#[test]
fn everything_is_made_again_to_the_last_byte() {
    let folder = folder("same");
    run(&folder, &["--runs", "512", "--seed", "9", "--threads", "1"]);
    let before: Vec<_> = fs::read_dir(folder.join("out")).unwrap().map(|e| e.unwrap().path()).collect();
    let (code, json) = reproduced(&folder, &["--threads", "2"]);
    assert_eq!(code, Some(0), "{json}");
    assert_eq!(json["agrees"], true);
    for item in json["items"].as_array().unwrap() {
        assert_eq!(item["verdict"], "same", "{item}");
    }
    // Study, data, sampling and every file but the manifest itself.
    assert_eq!(json["items"].as_array().unwrap().len(), 3 + before.len() - 2);
    let after: Vec<_> = fs::read_dir(folder.join("out")).unwrap().map(|e| e.unwrap().path()).collect();
    assert_eq!(before.len(), after.len(), "nothing is written");
    let text = payspread(&folder, &["reproduce", "out"]);
    assert!(String::from_utf8_lossy(&text.stdout).contains("The folder can be made again from its study"));
}

#[test]
fn a_folder_with_its_data_is_enough() {
    let folder = folder("alone");
    run(&folder, &["--with-data"]);
    let elsewhere = folder.join("elsewhere");
    fs::create_dir(&elsewhere).unwrap();
    fs::rename(folder.join("out"), elsewhere.join("out")).unwrap();
    assert_eq!(reproduced(&elsewhere, &[]).0, Some(0));
    // Without it, one says where it is.
    fs::remove_dir_all(elsewhere.join("out/data")).unwrap();
    let (code, json) = reproduced(&elsewhere, &[]);
    assert_eq!((code, verdict(&json, "data/x.csv")), (Some(1), "missing"));
    assert_eq!(reproduced(&elsewhere, &["--data", ".."]).0, Some(0));
}

#[test]
fn what_was_changed_is_told_from_what_is_missing() {
    let folder = folder("changed");
    run(&folder, &[]);
    fs::write(folder.join("out/results.csv"), "changed\n").unwrap();
    fs::remove_file(folder.join("out/result.svg")).unwrap();
    fs::write(folder.join("out/notes.txt"), "mine").unwrap();
    let (code, json) = reproduced(&folder, &[]);
    assert_eq!(code, Some(1));
    assert_eq!(verdict(&json, "results.csv"), "changed");
    assert_eq!(verdict(&json, "result.svg"), "missing");
    assert_eq!(verdict(&json, "notes.txt"), "not-ours");
    assert_eq!(verdict(&json, "answers.json"), "same");
}

#[test]
fn figures_forged_together_with_the_manifest_are_found() {
    let folder = folder("forged");
    run(&folder, &[]);
    let answers = fs::read_to_string(folder.join("out/answers.json")).unwrap();
    let mut forged: Value = serde_json::from_str(&answers).unwrap();
    let mean = forged["results"][0]["mean"]["value"].as_f64().unwrap();
    forged["results"][0]["mean"]["value"] = (mean * 1.01).into();
    let forged = serde_json::to_string_pretty(&forged).unwrap();
    put(&folder, "answers.json", forged.as_bytes());
    let (code, json) = reproduced(&folder, &[]);
    assert_eq!((code, verdict(&json, "answers.json")), (Some(1), "differs"));
    // Other bytes with the same figures agree.
    put(&folder, "answers.json", format!("{answers}\n\n").as_bytes());
    let (code, json) = reproduced(&folder, &[]);
    assert_eq!((code, verdict(&json, "answers.json")), (Some(0), "agrees"));
}

/// Writes a file and its hash into the manifest.
fn put(folder: &Path, name: &str, bytes: &[u8]) {
    fs::write(folder.join("out").join(name), bytes).unwrap();
    let manifest = folder.join("out/manifest.json");
    let mut json: Value = serde_json::from_slice(&fs::read(&manifest).unwrap()).unwrap();
    for file in json["files"].as_array_mut().unwrap() {
        if file["file"] == name {
            file["sha256"] = payspread::report::manifest::sha256(bytes).into();
        }
    }
    fs::write(&manifest, json.to_string()).unwrap();
}

#[test]
fn a_changed_study_or_data_is_not_made_again() {
    let folder = folder("study");
    run(&folder, &[]);
    fs::write(folder.join("data/x.csv"), "x\n1\n2\n3\n").unwrap();
    let (code, json) = reproduced(&folder, &[]);
    assert_eq!((code, verdict(&json, "data/x.csv")), (Some(1), "changed"));
    assert_eq!(verdict(&json, "answers.json"), "not-made");
    fs::write(folder.join("out/small.toml"), STUDY.replace("2 * x", "3 * x")).unwrap();
    let (code, json) = reproduced(&folder, &[]);
    assert_eq!((code, verdict(&json, "small.toml")), (Some(1), "changed"));
}

#[test]
fn another_engine_is_said_and_compared_all_the_same() {
    let folder = folder("engine");
    run(&folder, &[]);
    let manifest = folder.join("out/manifest.json");
    let text = fs::read_to_string(&manifest).unwrap();
    let engine = payspread::ENGINE_VERSION;
    fs::write(&manifest, text.replace(&format!("\"engine\": {engine}"), "\"engine\": 999")).unwrap();
    let out = payspread(&folder, &["reproduce", "out"]);
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(said.contains("Engine 999 made this folder") && said.contains("compared all the same"), "{said}");
    assert_eq!(out.status.code(), Some(0));
}

#[test]
fn hostile_manifests_are_refused_and_nothing_is_written() {
    let folder = folder("hostile");
    run(&folder, &[]);
    let manifest = folder.join("out/manifest.json");
    let sound: Value = serde_json::from_slice(&fs::read(&manifest).unwrap()).unwrap();
    let with = |change: &dyn Fn(&mut Value)| {
        let mut json = sound.clone();
        change(&mut json);
        fs::write(&manifest, json.to_string()).unwrap();
        let out = payspread(&folder, &["reproduce", "out"]);
        assert_eq!(out.status.code(), Some(1), "{json}");
        assert!(out.stdout.is_empty(), "{json}");
        let said = String::from_utf8_lossy(&out.stderr);
        assert!(said.contains("manifest") && said.contains("hint"), "{said}");
    };
    with(&|json| json["study"]["file"] = "../small.toml".into());
    with(&|json| json["files"][0]["file"] = "../../x".into());
    with(&|json| json["files"][0]["file"] = "/etc/passwd".into());
    with(&|json| json["data"][0]["file"] = "C:\\x".into());
    with(&|json| json["made"]["runs"] = 1e30.into());
    with(&|json| json["made"]["runs"] = u64::MAX.into());
    with(&|json| json["made"]["kinds"] = 3.into());
    with(&|json| json["files"] = "many".into());
    with(&|json| json["format"] = 1.into());
    with(&|json| json["format"] = "2".into());
    fs::write(&manifest, "\u{0}\u{1}").unwrap();
    assert_eq!(payspread(&folder, &["reproduce", "out"]).status.code(), Some(1));
    fs::remove_file(&manifest).unwrap();
    assert_eq!(payspread(&folder, &["reproduce", "out"]).status.code(), Some(1));
}

#[test]
fn a_copy_never_goes_over_somebody_elses_file() {
    let folder = folder("copies");
    run(&folder, &[]);
    // Its own copy of before may be replaced.
    fs::write(folder.join("small.toml"), STUDY.replace("2 * x", "3 * x")).unwrap();
    run(&folder, &[]);
    let copy = fs::read_to_string(folder.join("out/small.toml")).unwrap();
    assert!(copy.contains("3 * x"));
    fs::write(folder.join("out/small.toml"), "mine").unwrap();
    let out = payspread(&folder, &["run", "-q", "small.toml", "--out", "out"]);
    assert_eq!(out.status.code(), Some(2));
    assert_eq!(fs::read_to_string(folder.join("out/small.toml")).unwrap(), "mine");
    // Into the study's own folder: the study is its own copy.
    let out = payspread(&folder, &["run", "-q", "small.toml", "--with-data", "--out", "."]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    fs::write(folder.join("other.toml"), STUDY).unwrap();
    assert!(payspread(&folder, &["run", "-q", "other.toml", "--out", "."]).status.success());
    assert!(folder.join("small.toml").is_file() && folder.join("data/x.csv").is_file());
}
