//! `selftest` through the program: everything comes out, on one thread and on two.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::process::{Command, Output};

use serde_json::Value;

fn selftest(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_payspread")).arg("selftest").args(args).output().unwrap()
}

#[test]
fn every_known_answer_comes_out() {
    let out = selftest(&["--format", "json", "--threads", "1"]);
    let found: Vec<Value> = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(out.status.code(), Some(0), "{found:#?}");
    // As many as there are: a kind whose cases went missing would pass silently.
    let least = [
        ("random numbers", 8),
        ("Sobol points", 100),
        ("distributions", 300),
        ("cash flows", 70),
        ("percentiles of runs", 20),
        ("intervals of percentiles", 10),
        ("sun by the almanac", 6),
        ("sun by the sphere", 9),
        ("a study of payback", 14),
        ("break-even", 3),
        ("linked normal inputs", 20),
        ("global indices", 30),
        ("one thread and two", 1),
    ];
    assert_eq!(found.len(), least.len());
    for ((what, least), check) in least.iter().zip(&found) {
        assert_eq!(check["what"], *what);
        assert!(check["cases"].as_u64().unwrap() >= *least, "{check}");
        assert!(check["largest"].as_f64().unwrap() <= check["tolerance"].as_f64().unwrap(), "{check}");
        assert_eq!(check["wrong"].as_array().unwrap().len(), 0, "{check}");
    }
    assert_eq!(out.stdout, selftest(&["--format", "json", "--threads", "2"]).stdout);
}

#[test]
fn as_a_table() {
    let out = selftest(&[]);
    let text = String::from_utf8_lossy(&out.stdout);
    assert!(out.status.success() && text.contains("figures come out as they must"), "{text}");
    assert!(!text.contains("NOT"), "{text}");
}
