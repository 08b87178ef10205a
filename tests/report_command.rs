//! `report` through the program: the files that were asked for and no others, and nobody's work is written over.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use sha2::{Digest, Sha256};

const STUDY: &str = r#"title = "A bicycle for the baker"
question = "Is it paid for?"
currency = "EUR"
prices = "real"
first_year = 2027
years = 3
[sampling]
runs = 64
[inputs.price]
unit = "EUR"
uniform = { min = 80, max = 120 }
[results.gain]
unit = "EUR"
formula = "100 [EUR] - price"
at_least = 0
[report.prose]
conclusion = "Our **own** words."
"#;

fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("report").join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("baker.toml"), STUDY).unwrap();
    folder
}

fn payspread(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_payspread")).current_dir(folder).args(args).output().unwrap()
}

fn report(folder: &Path, more: &[&str]) -> String {
    let args: Vec<&str> = ["report", "baker.toml", "--out", "out"].iter().chain(more).copied().collect();
    let out = payspread(folder, &args);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

fn names(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).unwrap();
    entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
}

fn set(names: &[&str]) -> BTreeSet<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

#[test]
fn a_page_is_made_beside_the_study_if_nothing_else_is_said() {
    let folder = folder("plain");
    let out = payspread(&folder, &["report", "baker.toml"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    assert_eq!(
        names(&folder.join("output/baker-report")),
        set(&["report.html", "manifest.json", "baker.toml"])
    );
    let page = fs::read_to_string(folder.join("output/baker-report/report.html")).unwrap();
    assert!(page.contains("A bicycle for the baker") && page.contains("<strong><bdi>own</bdi></strong>"));
}

#[test]
fn the_manifest_vouches_for_every_file_that_was_asked_for() {
    let folder = folder("many");
    let told = report(&folder, &["--as", "answers, workbook,docx,html,html"]);
    let files = ["answers.json", "report.docx", "report.html", "workbook.xlsx"];
    let all: BTreeSet<String> = set(&files).union(&set(&["manifest.json", "baker.toml"])).cloned().collect();
    assert_eq!(names(&folder.join("out")), all);
    assert!(files.iter().all(|name| told.contains(name)), "{told}");
    let manifest: Value =
        serde_json::from_slice(&fs::read(folder.join("out/manifest.json")).unwrap()).unwrap();
    let listed = manifest["files"].as_array().unwrap();
    assert_eq!(listed.len(), files.len());
    for file in listed {
        let bytes = fs::read(folder.join("out").join(file["file"].as_str().unwrap())).unwrap();
        let hash: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(file["sha256"], Value::String(hash), "{file}");
    }
    let text = manifest.to_string();
    assert!(!text.contains(env!("CARGO_MANIFEST_DIR")), "no path of this machine");
}

#[test]
fn the_same_study_gives_the_same_bytes() {
    let folder = folder("twice");
    let forms = ["--as", "html,docx,workbook,answers,charts,slides,tables,runs"];
    report(&folder, &forms);
    let first: Vec<(String, Vec<u8>)> = names(&folder.join("out"))
        .into_iter()
        .map(|name| (name.clone(), fs::read(folder.join("out").join(name)).unwrap()))
        .collect();
    let again = ["report", "baker.toml", "--out", "again", "--threads", "1"];
    let out = payspread(&folder, &again.iter().chain(&forms).copied().collect::<Vec<_>>());
    assert!(out.status.success());
    assert_eq!(names(&folder.join("again")), first.iter().map(|(name, _)| name.clone()).collect());
    for (name, bytes) in first {
        assert_eq!(fs::read(folder.join("again").join(&name)).unwrap(), bytes, "{name}");
    }
}

#[test]
fn what_somebody_edited_stays_and_a_new_revision_stands_beside_it() {
    let folder = folder("edited");
    let forms = ["--as", "docx,workbook"];
    report(&folder, &forms);
    let at = |name: &str| folder.join("out").join(name);
    let ours = fs::read(at("report.docx")).unwrap();
    fs::write(at("report.docx"), b"somebody's own document").unwrap();
    fs::write(at("workbook.xlsx"), b"somebody's own sheet").unwrap();
    let told = report(&folder, &forms);
    assert!(told.contains("report.docx was edited by somebody and stays as it is"), "{told}");
    assert_eq!(fs::read(at("report.docx")).unwrap(), b"somebody's own document");
    assert_eq!(fs::read(at("workbook.xlsx")).unwrap(), b"somebody's own sheet");
    assert_eq!(fs::read(at("report-2.docx")).unwrap(), ours);
    assert!(at("workbook-2.xlsx").exists());
    // The manifest vouches for what was written, under the name that it got.
    let out = payspread(&folder, &["reproduce", "out", "--format", "json"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stdout));
    let found: Value = serde_json::from_slice(&out.stdout).unwrap();
    let verdict = |name: &str| {
        let items = found["items"].as_array().unwrap();
        items.iter().find(|item| item["name"] == name).unwrap()["verdict"].as_str().unwrap().to_owned()
    };
    assert_eq!([verdict("report-2.docx"), verdict("workbook-2.xlsx")], ["same", "same"]);
    assert_eq!([verdict("report.docx"), verdict("workbook.xlsx")], ["not-ours", "not-ours"]);

    // The revision too can be edited; one that nobody touched is renewed in its place.
    fs::write(folder.join("baker.toml"), STUDY.replace("Our **own**", "Other")).unwrap();
    report(&folder, &forms);
    assert_ne!(fs::read(at("report-2.docx")).unwrap(), ours);
    assert!(!at("report-3.docx").exists());
    fs::write(at("report-2.docx"), b"somebody else's").unwrap();
    report(&folder, &forms);
    assert_eq!(fs::read(at("report-2.docx")).unwrap(), b"somebody else's");
    assert!(at("report-3.docx").exists());
}

#[test]
fn an_unknown_form_is_told_before_any_work() {
    let folder = folder("unknown");
    for wrong in ["papyrus", "html,", "HTML docx", ""] {
        let out = payspread(&folder, &["report", "baker.toml", "--as", wrong]);
        assert_eq!(out.status.code(), Some(2), "{wrong}");
        let said = String::from_utf8(out.stderr).unwrap();
        assert!(said.contains("html, docx") && said.contains("pdf"), "{said}");
    }
    assert!(!folder.join("output").exists());
}

#[test]
fn without_a_browser_it_is_told_how_to_print() {
    let folder = folder("no-browser");
    let only_pdf = ["report", "baker.toml", "--out", "out", "--as", "pdf", "--browser", "no-such-browser"];
    let out = payspread(&folder, &only_pdf);
    assert!(!out.status.success());
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(said.contains("no-such-browser") && said.contains("report.html"), "{said}");
    // The page was asked for too: that is there.
    let both = ["report", "baker.toml", "--out", "out", "--as", "html,pdf", "--browser", "no-such-browser"];
    let out = payspread(&folder, &both);
    assert!(out.status.success());
    assert!(String::from_utf8(out.stderr).unwrap().contains("no PDF"));
    assert!(folder.join("out/report.html").exists() && !folder.join("out/report.pdf").exists());
}
