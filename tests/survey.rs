//! The form for a visit: two pages, and no blank that goes nowhere.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::collections::BTreeSet;
use std::fs;
use std::process::Command;

use payspread::hotwater::settings::Setting;
use payspread::report::survey::{LINES, Page, WIDTH, html, pages, pages_of, text};
use payspread::{model, starting};

/// Keys of a simulated home that are no settings.
const KEYS: [&str; 2] = ["readings", "phases"];

#[test]
fn every_blank_goes_to_an_input_or_a_setting() {
    let (_, consultant) = model::read(starting::CONSULTANT).0.unwrap();
    let mut names: BTreeSet<&str> = consultant.inputs.iter().map(|i| i.about.name.as_str()).collect();
    names.extend(consultant.paths.iter().map(|p| p.about.name.as_str()));
    names.extend(consultant.results.iter().map(|r| consultant.workings[r.working].about.name.as_str()));
    let mut blanks = 0;
    for line in pages().iter().flat_map(|p| p.parts.clone()).flat_map(|(_, lines)| lines) {
        blanks += 1;
        assert!(!line.goes_to.is_empty() && !line.error.is_empty(), "{line:?}");
        for name in line.goes_to.split(", ") {
            let known = names.contains(name) || Setting::of_key(name).is_some() || KEYS.contains(&name);
            assert!(known, "{} goes to {name}, which is neither", line.what);
        }
    }
    assert!(blanks >= 35, "{blanks} blanks");
}

fn fits(pages: &[Page]) {
    let texts = text("Site visit", pages);
    assert_eq!(texts.len(), 2);
    for text in &texts {
        assert!(text.lines().count() <= LINES, "{} lines", text.lines().count());
        let widest = text.lines().max_by_key(|l| l.chars().count()).unwrap();
        assert!(widest.chars().count() <= WIDTH, "{widest}");
    }
    let page = html("Site visit", pages);
    assert_eq!(page.matches("<section").count(), 2);
    assert!(!page.contains("http"), "it needs no network");
}

#[test]
fn the_form_is_two_pages() {
    fits(&pages());
    for text in text("Site visit", &pages()) {
        assert!(!text.contains('…'), "cut short:\n{text}");
    }
}

#[test]
fn the_form_of_every_study_is_two_pages() {
    for entry in fs::read_dir("studies").unwrap().map(|e| e.unwrap().path()) {
        if entry.extension().is_some_and(|e| e == "toml") {
            let beside = payspread::study::Beside::study(&entry);
            let (made, _) = model::read_beside(&fs::read_to_string(&entry).unwrap(), &beside);
            fits(&pages_of(&made.unwrap().1));
        }
    }
}

#[test]
fn a_study_s_form_asks_first_for_what_has_no_source() {
    let study = starting::CONSULTANT.replace("[inputs.standby]\n", "[inputs.mystery]\nvalue = 4\nunit = \"L\"\nlabel = \"<script>alert(1)</script>\"\n\n[inputs.standby]\n");
    let (_, model) = model::read(&study).0.unwrap();
    let pages = pages_of(&model);
    let first = &pages[0].parts[0];
    assert_eq!((first.0.as_str(), first.1[0].goes_to.as_str()), ("Without a source", "mystery"));
    assert_eq!((first.1[0].error.as_str(), first.1[0].unit.as_str()), ("now 4", "L"));
    let names: Vec<String> =
        pages.iter().flat_map(|p| p.parts.clone()).flat_map(|p| p.1).map(|l| l.goes_to).collect();
    assert!(names.contains(&"gas_price".to_owned()) && names.contains(&"people".to_owned()));
    for never in ["discount", "backup", "life", "month_share"] {
        assert!(!names.contains(&never.to_owned()), "{never} cannot be read on a visit");
    }
    assert!(html("Site visit", &pages).contains("&lt;script&gt;"));
    assert!(!html("Site visit", &pages).contains("<script"));
}

#[test]
fn the_command_prints_text_and_html() {
    let run = |args: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_payspread")).arg("survey").args(args).output().unwrap()
    };
    let plain = run(&[]);
    assert!(plain.status.success() && plain.stderr.is_empty());
    assert_eq!(String::from_utf8(plain.stdout).unwrap(), text("Site visit", &pages()).join("\u{c}"));
    let page = run(&["--as", "html"]);
    assert_eq!(String::from_utf8(page.stdout).unwrap(), html("Site visit", &pages()));
    let of = run(&["--for", "studies/first-look.toml"]);
    let of = String::from_utf8(of.stdout).unwrap();
    assert!(of.contains("-> export_now") && of.contains("now 1,800"), "{of}");
    assert_eq!(run(&["--for", "no-such.toml"]).status.code(), Some(1));
}
