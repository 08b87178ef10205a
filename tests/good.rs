//! Every good study is answered: no panic, and finite figures wherever a figure is meant.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::fs;
use std::path::Path;

use payspread::analysis::{Answers, Figure, Options, ResultKind, appraise};
use payspread::engine::run::Control;
use payspread::formula::functions;
use payspread::model::{self, Model};
use payspread::sampling::Design;
use payspread::sampling::distributions::catalogue;
use payspread::study::Beside;

const RUNS: u64 = 1_024;
/// Runs of a study that simulates homes: each takes some milliseconds in a test build.
const SIMULATED: u64 = 64;

fn runs_of(model: &Model) -> u64 {
    if model.homes.is_empty() { RUNS } else { SIMULATED }
}

/// Results that have no value in some runs: by design.
const PARTIAL: &[(&str, &str)] = &[];

fn good() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/good");
    let mut studies: Vec<(String, String)> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        .map(|p| (p.file_stem().unwrap().to_str().unwrap().to_owned(), fs::read_to_string(&p).unwrap()))
        .collect();
    studies.sort();
    studies
}

fn model_of(name: &str, text: &str) -> Model {
    let (made, found) = model::read_beside(
        text,
        &Beside::study(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/good/study.toml")),
    );
    let Some((_, model)) = made else { panic!("{name}: {found:?}") };
    model
}

fn answers_of(model: &Model) -> Answers {
    let wish = &model.sampling;
    let design = Design::new(wish.seed, wish.method, wish.replicates, runs_of(model));
    let options = Options { design, ..Options::of(model) };
    appraise(model, options, &Control::default()).unwrap()
}

fn check(name: &str, answers: &Answers) {
    // How its links are drawn is remarked on.
    assert_eq!(
        answers.remarks.is_empty(),
        name != "linking" && PARTIAL.iter().all(|(n, _)| *n != name),
        "{name}: {:?}",
        answers.remarks
    );
    assert!(!answers.results.is_empty(), "{name}");
    for result in &answers.results {
        let whose = format!("{name}: {}", result.name);
        let partial = PARTIAL.contains(&(name, &result.name));
        assert!(result.runs == RUNS || (result.runs == SIMULATED && !answers.homes.is_empty()), "{whose}");
        assert_eq!(result.without_value > 0, partial, "{whose}: {} without value", result.without_value);
        assert!(!matches!(result.base, Figure::None), "{whose}: the base case has no value");
        for percentile in &result.percentiles {
            let value = percentile.estimate.value;
            let sound = value.number().is_some_and(f64::is_finite)
                || (value == Figure::Never && result.kind == ResultKind::Years);
            assert!(sound, "{whose}: {percentile:?}");
        }
        if result.kind == ResultKind::YesNo {
            let share = result.success.as_ref().unwrap_or_else(|| panic!("{whose} has no share")).share;
            assert!((0.0..=1.0).contains(&share.value), "{whose}: {share:?}");
        }
    }
}

#[test]
fn every_good_study_is_answered() {
    let studies = good();
    assert!(studies.len() >= 10);
    for (name, text) in studies {
        check(&name, &answers_of(&model_of(&name, &text)));
    }
}

/// What the good studies use, taken together, is all that the tables list.
#[test]
fn every_function_distribution_and_form_is_used() {
    let all: String = good().into_iter().map(|(_, text)| text).collect();
    for function in functions::all() {
        assert!(all.contains(&format!("{}(", function.name)), "no good study calls {}", function.name);
    }
    for kind in catalogue::KINDS {
        for form in kind.forms {
            let used = all.lines().any(|line| {
                // A mixture is a list of its parts.
                if kind.name == "mixture" {
                    return line.starts_with("mixture = [{");
                }
                let Some((_, parameters)) = line.split_once(&format!("{} = {{", kind.name)) else {
                    return false;
                };
                form.keys.iter().all(|key| parameters.contains(&format!("{key} =")))
            });
            assert!(used, "no good study has {} by {:?}", kind.name, form.keys);
        }
    }
}

/// Figures of `loops` and `units` that a hand can check.
#[test]
fn figures_that_a_hand_can_check() {
    let studies = good();
    let base = |study: &str, result: &str| {
        let (name, text) = studies.iter().find(|(name, _)| name == study).unwrap();
        let answers = answers_of(&model_of(name, text));
        answers.results.iter().find(|r| r.name == result).unwrap().base.number().unwrap()
    };
    // 2 tubs of 250 L a day for 365 days, and 2 crates of 12 tubs.
    assert!((base("units", "litres") - (2.0 * 250.0 * 365.0 + 2.0 * 12.0 * 250.0)).abs() < 1e-6);
    // 60 homes use 12 loads of 3.2 kWh/home; 210 g/kWh; panels 4.2 kWp.
    let carbon = 60.0 * 12.0 * 3.2 * 0.21 + 4.2 * 900.0 * 0.05;
    assert!((base("units", "carbon_of_panel") - carbon).abs() < 1e-9);
    // The name `npv` is max(3, 2).
    assert!((base("names", "Max") - 9.0).abs() < 1e-12);
    // abs, min, max, clamp, floor, round (halves away from zero), sqrt, e, ln 2.
    let sum = 2.0 + 1.0 + 2.0 + 1.0 + 2.0 + 3.0 + 3.0 + core::f64::consts::E + core::f64::consts::LN_2;
    assert!((base("functions", "elementary") - sum).abs() < 1e-12);
    // Years 2027 to 2031, month 12, and 0 + 1 + 2 + 3 + 4.
    assert!((base("functions", "calendar") - (2031.0 + 12.0 + 10.0)).abs() < 1e-12);
    // 420 at 4 % over five years, by the formula of an annuity.
    let mut factor = 0.0;
    for year in 1..=5 {
        factor += 1.0 / (0..year).fold(1.0, |p, _| p * 1.04);
    }
    let text = &studies.iter().find(|(name, _)| name == "functions").unwrap().1;
    let model = model_of("functions", text);
    let outlay = model.inputs.iter().find(|i| i.about.name == "outlay").unwrap().base[0];
    assert!((base("functions", "each_year") - outlay / factor).abs() < 1e-9);
}
