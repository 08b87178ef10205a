//! Break-even cases with known answers, through the whole way: study text, model, program, runs.
//!
//! Left for the analysis that asks at which lever a *share* of runs succeeds when each run is good only in a window:
//! "good only in a window: two levers for one chance".

#![allow(clippy::expect_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::collections::BTreeSet;
use std::sync::Arc;

use payspread::analysis::break_even::{Crossing, Gap, Sample, base_crossing, crossings, is_exact};
use payspread::analysis::statistics::roots::{lever_for_chance, lever_quantiles, share_good_at};
use payspread::analysis::{Lever, Options, appraise};
use payspread::engine::run::Control;
use payspread::model::base::base_leaves;
use payspread::model::lower::{Lowering, Setting};
use payspread::model::{Model, check};
use payspread::sampling::{Design, Method, Vectors};
use payspread::study::read;
use serde_json::Value;

const ORACLE: &str = include_str!("oracles/break_even.json");

fn case(name: &str) -> Value {
    let all: Value = serde_json::from_str(ORACLE).expect("the oracle");
    let cases = all["cases"].as_array().expect("cases").clone();
    cases.into_iter().find(|c| c["name"] == name).unwrap_or_else(|| panic!("no case {name}"))
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(|x| x.as_f64().expect("a number")).collect()
}

/// A study of plain numbers: inputs as TOML lines, one result with the threshold 0, one question.
fn study(inputs: &str, formula: &str, question: &str) -> Model {
    let text = format!(
        "title = \"oracle\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 2\n{inputs}\n\
         [results.margin]\nformula = \"{formula}\"\nat_least = 0\n{question}\n"
    );
    let (study, found) = read::parse(&text);
    assert!(found.is_empty(), "{text}\n{found:?}");
    let (model, found) = check(&study.expect("a study"));
    model.unwrap_or_else(|| panic!("{text}\n{found:?}"))
}

/// Each run's crossing, for each value of another known input (none: as it is).
fn solve(
    model: &Model,
    lever: &str,
    range: (f64, f64),
    other: Option<(&str, &[f64])>,
) -> (Vec<Vec<Crossing>>, Crossing, bool) {
    let plan = Arc::new(model.plan(Design::new(7, Method::Sobol, 8, 16_384)).expect("a plan"));
    let mut free: BTreeSet<String> = [lever.to_owned()].into();
    free.extend(other.map(|(name, _)| name.to_owned()));
    let mut low = Lowering::new(model, Arc::clone(&plan), &free);
    let sheet = low.lay(&Setting::default()).expect("laid");
    let node = sheet.nodes("margin")[0];
    let gap = Gap { graph: &low.graph, node, lever: low.leaf(lever).expect("a leaf"), range };
    let grid: Vec<Option<(u32, f64)>> = match other {
        None => vec![None],
        Some((name, at)) => at.iter().map(|&x| Some((low.leaf(name).expect("a leaf"), x))).collect(),
    };
    let sample =
        Sample { plan: &plan, leaves: &low.leaves, n_runs: 16_384, epoch: 0, vectors: Vectors::Widest };
    let found = crossings(&gap, sample, &grid, &Control::default()).expect("crossings");
    let base = base_crossing(&gap, &base_leaves(model, &plan, &low.leaves));
    (found, base, is_exact(&gap))
}

fn at(lever: Option<Lever>) -> f64 {
    match lever {
        Some(Lever::At(x)) => x,
        other => panic!("{other:?} in place of a number"),
    }
}

#[test]
fn price_with_lognormal_cost_and_yield() {
    let case = case("break-even price, lognormal cost and yield");
    let model = study(
        "[inputs.cost]\nlognormal = { median = 900, gsd = 1.25 }\n[inputs.kwh]\nlognormal = { median = 1100, gsd = 1.4 }\n[inputs.price]\nvalue = 0.07",
        "price * kwh * 11.2 - cost",
        "[[break_even]]\nof = \"price\"",
    );
    let (found, _, exact) = solve(&model, "price", (0.0, 0.2), None);
    assert!(exact, "the margin is affine in the price");
    let levers: Vec<Lever> = found[0].iter().map(|c| c.lever).collect();
    assert!(found[0].iter().all(|c| c.good_above));
    let rel = case["tolerance"]["lever_rel"].as_f64().expect("a tolerance");
    let ps = numbers(&case["inputs"]["p"]);
    for (ours, theirs) in
        lever_quantiles(&levers, true, &ps).into_iter().zip(numbers(&case["expect"]["break_even_quantiles"]))
    {
        assert!((at(ours) - theirs).abs() <= rel * theirs, "{ours:?} for {theirs}");
    }
    for wanted in case["expect"]["lever_for_chance"].as_array().expect("chances") {
        let (chance, theirs) =
            (wanted["chance"].as_f64().expect("a chance"), wanted["lever"].as_f64().expect("a lever"));
        let ours = lever_for_chance(&levers, true, chance).map(|f| f.lever);
        assert!((at(ours) - theirs).abs() <= rel * theirs, "{ours:?} for {theirs}");
    }
    for wanted in case["expect"]["chance_at"].as_array().expect("levers") {
        let (lever, theirs) =
            (wanted["lever"].as_f64().expect("a lever"), wanted["chance"].as_f64().expect("a chance"));
        assert!((share_good_at(&levers, true, lever) - theirs).abs() <= 0.018);
    }
    // The study's own question says the same from its first 2,048 runs.
    let answers = appraise(&model, Options::of(&model), &Control::default()).expect("answers");
    let question = &answers.break_even[0];
    assert!(question.exact && question.good_above == Some(true));
    let half = question.percentiles.iter().find(|q| q.p == 0.5).map(|q| q.estimate.lever);
    assert!((at(half) - 0.073_051_948).abs() <= 0.002, "{half:?}");
}

#[test]
fn price_against_daily_litres() {
    let case = case("break-even price against daily litres");
    let model = study(
        "[inputs.cost]\nlognormal = { median = 950, gsd = 1.3 }\n[inputs.litres]\nvalue = 120\n[inputs.price]\nvalue = 0.07",
        "price * 1900 * (1 - exp(-litres / 120)) * 10.5 - cost",
        "",
    );
    let others = numbers(&case["inputs"]["other_at"]);
    let (found, _, exact) = solve(&model, "price", (0.0, 0.2), Some(("litres", &others)));
    assert!(exact);
    let rel = case["tolerance"]["lever_rel"].as_f64().expect("a tolerance");
    for (crossings, point) in found.iter().zip(case["expect"]["curve"].as_array().expect("points")) {
        let levers: Vec<Lever> = crossings.iter().map(|c| c.lever).collect();
        for (ours, theirs) in
            lever_quantiles(&levers, true, &[0.1, 0.5, 0.9]).into_iter().zip(numbers(&point["quantiles"]))
        {
            assert!((at(ours) - theirs).abs() <= rel * theirs, "{ours:?} for {theirs}");
        }
    }
}

/// Cases of one run: the lowest crossing to 1e-8, how many there are, and which side is good.
#[test]
fn one_run_with_any_number_of_crossings() {
    for name in [
        "size of the cylinder: two break-evens (too small, too large)",
        "size of the cylinder: none",
        "size of the cylinder: one inside the range",
        "rate of return of twelve even savings",
        "steep near one end",
        "three break-evens",
    ] {
        let case = case(name);
        let (from, to) =
            (case["inputs"]["from"].as_f64().expect("from"), case["inputs"]["to"].as_f64().expect("to"));
        let formula = case["inputs"]["result"].as_str().expect("a formula");
        let model = study(&format!("[inputs.x]\nvalue = {}", 0.5 * (from + to)), formula, "");
        let (_, base, exact) = solve(&model, "x", (from, to), None);
        assert!(!exact, "{name}");
        let roots = numbers(&case["expect"]["roots"]);
        let starts_good = case["expect"]["between"][0] == "good";
        assert_eq!(base.crossings as usize, roots.len(), "{name}");
        match roots.first() {
            None => assert_eq!(base.lever, if starts_good { Lever::Always } else { Lever::Never }, "{name}"),
            Some(&root) => {
                let ours = at(Some(base.lever));
                // The bracket ends at 1e-10 of the range; the oracle asks for 1e-8 absolute or relative.
                let allowed = (1e-8_f64).max(1e-8 * root.abs()).max(1.01e-10 * (to - from));
                assert!((ours - root).abs() <= allowed, "{name}: {ours} for {root}");
                assert_eq!(base.good_above, !starts_good, "{name}");
            }
        }
    }
}
