//! Break-even cases with known answers, through the whole way: study text, model, program, runs.

#![allow(clippy::expect_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::collections::BTreeSet;
use std::sync::Arc;

use payspread::analysis::break_even::{
    Crossing, Gap, Sample, base_crossing, crossings, crossings_on_map, is_exact,
};
use payspread::analysis::chances::{Steps, best, chance_curve};
use payspread::analysis::statistics::roots::{lever_for_chance, lever_quantiles, share_good_at};
use payspread::analysis::{Answers, Lever, Options, appraise};
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

/// Cases of one run: every crossing within the oracle's own tolerance, and which side is good between them; the same
/// from the answers of the study.
#[test]
fn one_run_with_any_number_of_crossings() {
    let all: Value = serde_json::from_str(ORACLE).expect("the oracle");
    let cases = all["cases"].as_array().expect("cases").iter().filter(|c| c["inputs"]["kind"] == "one run");
    let mut checked = 0;
    for case in cases {
        let name = case["name"].as_str().expect("a name");
        let number = |at: &Value| at.as_f64().expect("a number");
        let (from, to) = (number(&case["inputs"]["from"]), number(&case["inputs"]["to"]));
        let formula = case["inputs"]["result"].as_str().expect("a formula");
        let question = format!("[[break_even]]\nof = \"x\"\nfrom = {from}\nto = {to}");
        let model = study(&format!("[inputs.x]\nvalue = {}", 0.5 * (from + to)), formula, &question);
        let (found, base, exact) = solve(&model, "x", (from, to), None);
        assert!(!exact, "{name}");
        let roots = numbers(&case["expect"]["roots"]);
        let good: Vec<bool> =
            case["expect"]["between"].as_array().expect("sides").iter().map(|side| side == "good").collect();
        let tolerance =
            |root: f64| number(&case["tolerance"]["abs"]).max(number(&case["tolerance"]["rel"]) * root.abs());
        // Nothing is drawn: every run is the base case.
        for crossing in [&base, &found[0][0], &found[0][16_383]] {
            let ours: Vec<f64> = crossing.roots().collect();
            assert_eq!(
                (ours.len(), crossing.crossings as usize),
                (roots.len(), roots.len()),
                "{name}: {ours:?}"
            );
            for (ours, root) in ours.iter().zip(&roots) {
                assert!((ours - root).abs() <= tolerance(*root), "{name}: {ours} for {root}");
            }
            assert_eq!(crossing.starts_good(), good[0], "{name}");
        }
        let answers = appraise(&model, Options::of(&model), &Control::default()).expect("answers");
        let told = &answers.break_even[0];
        let windows: Vec<(Option<f64>, Option<f64>)> = (0..good.len())
            .filter(|&k| good[k])
            .map(|k| (k.checked_sub(1).map(|k| roots[k]), roots.get(k).copied()))
            .collect();
        assert_eq!(told.windows.len(), windows.len(), "{name}: {:?}", told.windows);
        for (ours, (low, high)) in told.windows.iter().zip(windows) {
            for (ours, root) in [(ours.from, low), (ours.to, high)] {
                assert_eq!(ours.is_some(), root.is_some(), "{name}: {ours:?} for {root:?}");
                let (ours, root) = (ours.unwrap_or(0.0), root.unwrap_or(0.0));
                assert!((ours - root).abs() <= tolerance(root), "{name}: {ours} for {root}");
            }
        }
        let shares: Vec<f64> = told.crossings.iter().map(|s| s.value).collect();
        let expected: Vec<f64> =
            (1..=roots.len()).map(|n| if n == roots.len() { 1.0 } else { 0.0 }).collect();
        assert_eq!(shares, expected, "{name}");
        let count = |yes: bool| if yes { 1.0 } else { 0.0 };
        assert_eq!(told.several.value, count(roots.len() > 1), "{name}");
        assert_eq!(told.always.value, count(roots.is_empty() && good[0]), "{name}");
        assert_eq!(told.never.value, count(roots.is_empty() && !good[0]), "{name}");
        assert!(
            told.below_range.is_none() && told.above_range.is_none(),
            "{name}: nothing outside was looked at"
        );
        checked += 1;
    }
    assert_eq!(checked, 6);
}

const WINDOW: &str = "good only in a window: two levers for one chance";

fn window_study(chances: &str) -> Model {
    study(
        "[inputs.e]\nnormal = { mean = 0, sd = 1.5 }\n[inputs.x]\nvalue = 5",
        "4.0 - (x - 5.0)^2 + e",
        &format!("[[break_even]]\nof = \"x\"\nfrom = 0\nto = 10\n{chances}"),
    )
}

/// Levers for each chance, best chance and best lever.
#[test]
fn a_window_has_two_levers_for_one_chance() {
    let case = case(WINDOW);
    let model = window_study("");
    let (found, base, exact) = solve(&model, "x", (0.0, 10.0), None);
    assert!(!exact);
    let windows = base.windows();
    assert!(
        matches!(windows.as_slice(), [w] if (w.from.unwrap_or(0.0) - 3.0).abs() < 1e-8
        && (w.to.unwrap_or(0.0) - 7.0).abs() < 1e-8),
        "{windows:?}"
    );
    let (lever_abs, chance_abs) = (
        case["tolerance"]["lever_abs"].as_f64().expect("a tolerance"),
        case["tolerance"]["chance_abs"].as_f64().expect("a tolerance"),
    );
    let curve = chance_curve(&found[0], (0.0, 10.0), 8);
    assert_eq!(curve.len(), 41);
    let steps = Steps::of(&found[0]);
    for wanted in case["expect"]["levers_for_chance"].as_array().expect("chances") {
        let chance = wanted["chance"].as_f64().expect("a chance");
        let ours = steps.levers_for_chance(&curve, chance);
        let theirs = numbers(&wanted["levers"]);
        assert_eq!(ours.levers.len(), theirs.len(), "{ours:?}");
        assert_eq!(ours.reached, !theirs.is_empty());
        for (k, (ours, theirs)) in ours.levers.iter().zip(&theirs).enumerate() {
            assert!((ours.lever - theirs).abs() <= lever_abs, "{ours:?} for {theirs}");
            assert_eq!(ours.rises, k == 0);
            let (low, high) = (at(ours.low), at(ours.high));
            assert!(low < *theirs && *theirs < high && high - low < 4.0 * lever_abs, "{ours:?}");
        }
    }
    let best = best(&curve).expect("a best lever");
    let (chance, lever) = (&case["expect"]["best_chance"], &case["expect"]["best_lever"]);
    assert!((best.lever - lever.as_f64().expect("a lever")).abs() <= lever_abs, "{best:?}");
    assert!((best.share.value - chance.as_f64().expect("a chance")).abs() <= chance_abs, "{best:?}");
    // P(4 - (x-5)^2 + e >= 0) = Phi((4 - (x-5)^2)/1.5) along the whole curve.
    for point in &curve {
        let d = point.lever - 5.0;
        let exact = 0.5 * libm::erfc(-(4.0 - d * d) / 1.5 / std::f64::consts::SQRT_2);
        assert!((point.share.value - exact).abs() <= 0.002, "{point:?} for {exact}");
    }
}

fn told(model: &Model) -> Answers {
    appraise(model, Options::of(model), &Control::default()).expect("answers")
}

/// The study's own answer, from its first 2,048 runs, at the chances that it asks for. A lever of 2,048 random runs has a
/// standard error of at most sqrt(0.16 x 0.84/2048)/0.245 = 0.033 at these chances; Sobol points are well below it.
#[test]
fn a_study_asks_for_its_own_chances() {
    let answers = told(&window_study("chances = [0.9, 0.5, 0.999]"));
    let question = &answers.break_even[0];
    assert!(question.good_above.is_none() && question.for_chance.is_empty());
    let chances: Vec<f64> = question.levers_for_chance.iter().map(|f| f.chance).collect();
    assert_eq!(chances, [0.9, 0.5, 0.999]);
    let levers =
        |k: usize| question.levers_for_chance[k].levers.iter().map(|l| l.lever).collect::<Vec<f64>>();
    for (k, expect) in [(0, [3.558_586_578_499_041_6, 6.441_413_421_500_958]), (1, [3.0, 7.0])] {
        let ours = levers(k);
        assert_eq!(ours.len(), 2, "{ours:?}");
        ours.iter().zip(expect).for_each(|(ours, theirs)| assert!((ours - theirs).abs() <= 0.1, "{ours}"));
    }
    assert!(levers(2).is_empty() && !question.levers_for_chance[2].reached);
    let best = question.best.expect("a best lever");
    assert!((best.lever - 5.0).abs() < 0.13 && (best.share.value - 0.996_17).abs() < 0.006, "{best:?}");
    // Good nowhere: 4 + e < 0 in P(e < -4) = 0.0038; in the range the window never reaches an end.
    assert_eq!(question.crossings.len(), 2);
    assert!(question.crossings[0].value == 0.0 && (question.several.value - 0.996_17).abs() < 0.006);
}

/// x* = (N - 100)/10 of a normal N with mean 200 and deviation 50 lies below 0 in P(Z < -2) = 0.02275 and above 18 in
/// P(Z > 1.6) = 0.0548; the chance at x is P(N <= 100 + 10 x) = Phi((10 x - 100)/50).
#[test]
fn crossings_outside_the_range_are_counted_on_each_side() {
    let model = study(
        "[inputs.n]\nnormal = { mean = 200, sd = 50 }\n[inputs.x]\nvalue = 9",
        "100 + 10 * x - n",
        "[[break_even]]\nof = \"x\"\nfrom = 0\nto = 18\nchances = [0.99]",
    );
    let answers = told(&model);
    let question = &answers.break_even[0];
    assert!(question.exact && question.range == (0.0, 18.0));
    let share = |s: &Option<payspread::analysis::Share>| s.map_or(f64::NAN, |s| s.value);
    assert!((share(&question.below_range) - 0.022_75).abs() < 0.004, "{:?}", question.below_range);
    assert!((share(&question.above_range) - 0.054_80).abs() < 0.004, "{:?}", question.above_range);
    assert_eq!(question.crossings.iter().map(|s| s.value).collect::<Vec<_>>(), [1.0]);
    // 10 + 5 x 2.3263, beyond the range, and exact all the same.
    let lever = question.levers_for_chance[0].levers[0];
    assert!(lever.rises && (lever.lever - 21.632).abs() < 1.0, "{lever:?}");
    assert_eq!(question.for_chance[0].lever, Lever::At(lever.lever));
    for point in &question.chance_curve {
        let z = (10.0 * point.lever - 100.0) / 50.0;
        let exact = 0.5 * libm::erfc(-z / std::f64::consts::SQRT_2);
        assert!((point.share.value - exact).abs() <= 0.006, "{point:?} for {exact}");
    }
    assert_eq!((question.windows.len(), question.windows[0].to), (1, None));
}

/// b (x - 5) + n with b = -1 or 1 by equal chances: half of the runs are good above their crossing and half below it. With n normal of
/// deviation 1, P(good at x) = (Phi(x - 5) + Phi(5 - x))/2 = 1/2 at every x.
#[test]
fn runs_on_both_sides_of_a_lever() {
    let model = study(
        "[inputs.b]\ndiscrete = { values = [-1, 1], weights = [1, 1] }\n[inputs.n]\nnormal = { mean = 0, sd = 1 }\n[inputs.x]\nvalue = 5",
        "b * (x - 5) + n",
        "[[break_even]]\nof = \"x\"\nfrom = 0\nto = 10\nchances = [0.4, 0.6]",
    );
    let answers = told(&model);
    let question = &answers.break_even[0];
    assert!(question.exact && question.good_above.is_none() && question.for_chance.is_empty());
    for point in &question.chance_curve {
        // Four standard errors of 2,048 random runs; Sobol points are nearer.
        assert!((point.share.value - 0.5).abs() < 0.044, "{point:?}");
    }
    let [low, high] = question.levers_for_chance.as_slice() else { panic!("two chances") };
    assert!(low.reached && low.levers.is_empty() && !high.reached && high.levers.is_empty());
}

/// Jumps: good where the whole part of x / 2 is even, so from 0 to 10 it flips at 2, 4, 6 and 8.
#[test]
fn steps_are_found_where_they_are() {
    let model = study(
        "[inputs.x]\nvalue = 1",
        "if(floor(x / 2) - 2 * floor(x / 4) < 0.5, 1, -1)",
        "[[break_even]]\nof = \"x\"\nfrom = 0.1\nto = 9.9",
    );
    let answers = told(&model);
    let windows: Vec<(f64, f64)> =
        answers.break_even[0].windows.iter().map(|w| (w.from.unwrap_or(0.0), w.to.unwrap_or(10.0))).collect();
    assert_eq!(windows.len(), 3, "{windows:?}");
    for (ours, theirs) in windows.iter().zip([(0.0, 2.0), (4.0, 6.0), (8.0, 10.0)]) {
        assert!((ours.0 - theirs.0).abs() < 2e-9 && (ours.1 - theirs.1).abs() < 2e-9, "{ours:?}");
    }
    assert_eq!(answers.break_even[0].crossings.len(), 4);
}

/// x a - b c: the break-even is b c / a in every run, whatever the grid's order; and with c drawn, its quantiles.
#[test]
fn a_map_is_that_of_its_formula() {
    let model = study(
        "[inputs.a]\nvalue = 2\n[inputs.b]\nvalue = 3\n[inputs.c]\nlognormal = { median = 10, gsd = 1.5 }\n[inputs.x]\nvalue = 1",
        "x * a^2 - exp(b) * c",
        "",
    );
    let plan = Arc::new(model.plan(Design::new(7, Method::Sobol, 8, 2048)).expect("a plan"));
    let free: BTreeSet<String> = ["a", "b", "x"].map(str::to_owned).into();
    let mut low = Lowering::new(&model, Arc::clone(&plan), &free);
    let sheet = low.lay(&Setting::default()).expect("laid");
    let leaf = |name: &str| low.leaf(name).expect("a leaf");
    let gap = Gap { graph: &low.graph, node: sheet.nodes("margin")[0], lever: leaf("x"), range: (0.0, 1.0) };
    let sample = Sample { plan: &plan, leaves: &low.leaves, n_runs: 512, epoch: 0, vectors: Vectors::Widest };
    let (a, b) = (vec![1.0, 2.0, 4.0, 5.0], vec![0.0, 1.0, 3.0]);
    let control = Control::default();
    let as_drawn = crossings(&gap, sample, &[None], &control).expect("crossings").remove(0);
    let map = crossings_on_map(&gap, sample, ((leaf("a"), &a), (leaf("b"), &b)), &control).expect("a map");
    assert_eq!(map.len(), 12);
    for (cell, found) in map.iter().enumerate() {
        let (a, b) = (a[cell % 4], b[cell / 4]);
        assert_eq!(found.len(), 512);
        for (here, drawn) in found.iter().zip(&as_drawn) {
            // As drawn a = 2 and b = 3.
            let expect = at(Some(drawn.lever)) * 4.0 / (a * a) * libm::exp(b - 3.0);
            assert!(
                (at(Some(here.lever)) - expect).abs() <= 1e-12 * expect,
                "{a} {b}: {here:?} for {expect}"
            );
        }
    }
    // The same cells with the two inputs changed round.
    let turned = crossings_on_map(&gap, sample, ((leaf("b"), &b), (leaf("a"), &a)), &control).expect("a map");
    for (cell, found) in map.iter().enumerate() {
        assert_eq!(*found, turned[(cell % 4) * 3 + cell / 4]);
    }
}

/// A study that asks nothing is told the three largest spans in which the margin is affine. Spans go with deviation times
/// slope: k 30, e about 20, b 16, a 10, c 9, d 4; k has separate values and e is squared. At base the margin is
/// a - 100 + 60 - 20 + 100 and so on, so a flips at -40, b at 240/2 and c at -80/3.
#[test]
fn a_study_that_asks_nothing_is_told_what_it_hangs_on_most() {
    let inputs = "[inputs.a]\nnormal = { mean = 100, sd = 10 }\n[inputs.b]\nnormal = { mean = 50, sd = 8 }\n\
         [inputs.c]\nnormal = { mean = 20, sd = 3 }\n[inputs.d]\nnormal = { mean = 5, sd = 1 }\n\
         [inputs.e]\nnormal = { mean = 10, sd = 1 }\n[inputs.k]\ndiscrete = { values = [0, 1], weights = [2, 1] }";
    let formula = "a - 2 * b + 3 * c - 4 * d + e^2 + 30 * k";
    let answers = told(&study(inputs, formula, ""));
    let found: Vec<(&str, f64)> =
        answers.break_even.iter().map(|b| (b.of.as_str(), at(Some(b.base)))).collect();
    assert_eq!(found.iter().map(|f| f.0).collect::<Vec<_>>(), ["b", "a", "c"]);
    for ((name, ours), theirs) in found.iter().zip([120.0, -40.0, -80.0 / 3.0]) {
        assert!((ours - theirs).abs() < 1e-9, "{name}: {ours} for {theirs}");
    }
    assert!(
        answers.break_even.iter().all(|b| b.by_default && b.exact && b.curve.is_none() && b.map.is_none())
    );
    let asked = told(&study(inputs, formula, "[[break_even]]\nof = \"d\""));
    assert!(matches!(asked.break_even.as_slice(), [b] if b.of == "d" && !b.by_default));
}
