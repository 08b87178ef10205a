//! Every command in README's blocks does what README says it does.

#![allow(clippy::unwrap_used, reason = "a test that cannot read its own files has failed")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn readme() -> String {
    fs::read_to_string(root().join("README.md")).unwrap()
}

/// Commands in the indented blocks, in order, without their remarks.
fn commands() -> Vec<String> {
    let text = readme();
    let lines = text.lines().filter_map(|line| line.strip_prefix("    "));
    lines.map(|line| line.split(" #").next().unwrap().trim().to_owned()).collect()
}

/// A copy of the studies in a folder of its own, gone at the end.
struct Folder(PathBuf);

impl Folder {
    fn with_studies() -> Folder {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("readme-{}", std::process::id()));
        for folder in ["studies", "studies/data"] {
            fs::create_dir_all(path.join(folder)).unwrap();
            let entries = fs::read_dir(root().join(folder)).unwrap().map(|entry| entry.unwrap().path());
            for from in entries.filter(|from| from.is_file()) {
                fs::copy(&from, path.join(folder).join(from.file_name().unwrap())).unwrap();
            }
        }
        Folder(path)
    }

    fn payspread(&self, args: &[&str]) {
        let output =
            Command::new(env!("CARGO_BIN_EXE_payspread")).args(args).current_dir(&self.0).output().unwrap();
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "payspread {}\n{told}", args.join(" "));
        assert!(!output.stdout.is_empty(), "payspread {} says nothing", args.join(" "));
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

#[test]
fn every_command_does_what_it_says() {
    let folder = Folder::with_studies();
    let mut done = BTreeSet::new();
    for command in commands() {
        let words: Vec<&str> = command.split_whitespace().collect();
        match words.as_slice() {
            // This very test is part of it; .ci/run calls it from outside.
            ["cargo", "test", "--release"] => {}
            ["cargo", "run", "--release", "--", args @ ..] | ["payspread", args @ ..] => {
                folder.payspread(args);
            }
            ["cp", from, to] => drop(fs::copy(folder.0.join(from), folder.0.join(to)).unwrap()),
            other => panic!("README has a command that this test cannot try: {other:?}"),
        }
        done.insert(command);
    }
    for study in ["output/harbour-row", "output/my-home", "somewhere"] {
        assert!(folder.0.join(study).join("manifest.json").is_file(), "{study}");
    }
    assert!(done.len() > 5, "{done:?}");
}

#[test]
fn the_test_command_is_the_one_that_is_checked() {
    assert!(commands().contains(&"cargo test --release".to_owned()));
    let ci = fs::read_to_string(root().join(".ci/run")).unwrap();
    assert!(ci.lines().any(|line| line.trim() == "cargo test --release"));
}

#[test]
fn every_command_named_exists() {
    let text = readme();
    let blocks = commands();
    let inline = text.split('`').skip(1).step_by(2).map(ToOwned::to_owned);
    let named: BTreeSet<String> = blocks
        .into_iter()
        .chain(inline)
        .filter_map(|code| {
            let args = code.strip_prefix("payspread ").or(code.strip_prefix("cargo run --release -- "))?;
            args.split_whitespace().next().map(ToOwned::to_owned)
        })
        .filter(|word| !word.starts_with('-'))
        .collect();
    assert!(named.contains("run") && named.contains("trace"), "{named:?}");
    for command in named {
        let help = Command::new(env!("CARGO_BIN_EXE_payspread")).args([&command, "--help"]).output().unwrap();
        assert!(help.status.success(), "README names `payspread {command}`, which does not exist");
    }
}
