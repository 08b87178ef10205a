//! Whole studies, from their text to their answers, whose results are known in closed form.

use rayon::ThreadPoolBuilder;
use serde_json::Value;

use super::{Check, cases, name, number, numbers};
use crate::analysis::indices::ShapleyRow;
use crate::analysis::{Answers, Estimate, Lever, Options, Summary, appraise};
use crate::engine::run::Control;
use crate::model;

/// 1,000 EUR are spent, and every year for ten years S is saved, S even between 50 and 150 EUR: payback is 1000/S, never where S
/// is below 100; NPV without interest is 10 S - 1000.
const PAYBACK: &str = r#"
title = "Known answers"
currency = "EUR"
prices = "real"
first_year = 2027
years = 10
headline = "npv"
[sampling]
runs = 16384
seed = 20
[inputs.outlay]
unit = "EUR"
value = 1000
[inputs.saving]
unit = "EUR"
uniform = { min = 50, max = 150 }
base = 125
[workings.each_year]
unit = "EUR"
formula = "years(saving, saving, saving, saving, saving, saving, saving, saving, saving, saving)"
[results.npv]
unit = "EUR"
formula = "npv(0 [1/yr], outlay, each_year)"
at_least = 0
[results.payback]
unit = "yr"
formula = "payback(outlay, each_year)"
[[break_even]]
of = "outlay"
chances = [0.5, 0.8]
from = 100
to = 2000
"#;

fn answers(text: &str) -> Result<Answers, String> {
    let (made, found) = model::read(text);
    let Some((_, model)) = made else {
        let why: Vec<&str> = found.iter().map(|d| d.message.as_str()).collect();
        return Err(why.join("; "));
    };
    appraise(&model, Options::of(&model), &Control::default()).map_err(|e| format!("{e:?}"))
}

fn estimated(estimate: Option<&Estimate>) -> f64 {
    estimate.and_then(|e| e.value.number()).unwrap_or(f64::NAN)
}

fn percentile(summary: &Summary, p: f64) -> f64 {
    use crate::analysis::Figure;
    match summary.percentiles.iter().find(|x| x.p == p).map(|x| x.estimate.value) {
        Some(Figure::Number(x)) => x,
        Some(Figure::Never) => f64::INFINITY,
        _ => f64::NAN,
    }
}

fn result<'a>(answers: &'a Answers, name: &str) -> Option<&'a Summary> {
    answers.results.iter().find(|r| r.name == name)
}

/// Payback with its nevers, and net present value.
pub(super) fn payback() -> Check {
    let mut check =
        Check::new("a study of payback", "closed form: uniform saving, 16,384 runs", "relative", 2e-3);
    let found = match answers(PAYBACK) {
        Ok(found) => found,
        Err(why) => {
            check.fault(why);
            return check;
        }
    };
    let (Some(npv), Some(payback)) = (result(&found, "npv"), result(&found, "payback")) else {
        check.fault("a result is missing".into());
        return check;
    };
    let base = |summary: &Summary| summary.base.number().unwrap_or(f64::NAN);
    check.figure("npv, base", base(npv), 250.0);
    check.figure("payback, base", base(payback), 8.0);
    // 10 x 100 / sqrt(12).
    check.figure("npv, sd", estimated(npv.sd.as_ref()), 288.675_134_594_812_9);
    for (p, expected) in [(0.1, -400.0), (0.25, -250.0), (0.75, 250.0), (0.9, 400.0)] {
        check.figure("npv, percentile", percentile(npv, p), expected);
    }
    // The mean is nought: against the standard deviation.
    let mean = estimated(npv.mean.as_ref());
    check.apart("npv, mean", mean, 0.0, mean.abs() / 288.675);
    check.figure("npv, success", npv.success.as_ref().map_or(f64::NAN, |s| s.share.value), 0.5);
    check.figure("payback, never", payback.never.map_or(f64::NAN, |s| s.value), 0.5);
    for (p, expected) in [(0.1, 1000.0 / 140.0), (0.25, 8.0), (0.75, f64::INFINITY), (0.9, f64::INFINITY)] {
        check.figure("payback, percentile", percentile(payback, p), expected);
    }
    check
}

/// What may be spent for half and for four fifths of the runs to succeed: ten times that quantile of the saving from above.
pub(super) fn break_even() -> Check {
    let mut check = Check::new("break-even", "closed form: uniform saving, 16,384 runs", "relative", 2e-3);
    let found = answers(PAYBACK);
    let found = found.as_ref().ok().and_then(|found| found.break_even.iter().find(|b| b.of == "outlay"));
    let Some(found) = found else {
        check.fault("there is no break-even".into());
        return check;
    };
    let at = |lever: Lever| if let Lever::At(x) = lever { x } else { f64::NAN };
    check.figure("base", at(found.base), 1250.0);
    for (chance, expected) in [(0.5, 1000.0), (0.8, 700.0)] {
        let there = found.for_chance.iter().find(|f| f.chance == chance);
        check.figure("for a chance", there.map_or(f64::NAN, |f| at(f.lever)), expected);
    }
    check
}

/// A study of an oracle's linear model of linked normal inputs.
fn linear_study(case: &Value, more: &str) -> String {
    let mut text = String::from(
        "title = \"Linear\"\ncurrency = \"EUR\"\nprices = \"real\"\nfirst_year = 2027\nyears = 2\n[sampling]\nruns = \
         16384\nseed = 3\n",
    );
    for (name, law) in case["inputs"]["inputs"].as_object().into_iter().flatten() {
        let number = |key: &str| law["normal"][key].as_f64().unwrap_or(f64::NAN);
        text += &format!(
            "[inputs.{name}]\nnormal = {{ mean = {:?}, sd = {:?} }}\n",
            number("mean"),
            number("sd")
        );
    }
    for link in case["inputs"]["correlations"].as_array().into_iter().flatten() {
        text += &format!("[[correlations]]\nbetween = {}\nrank = {}\n", link["between"], link["rank"]);
    }
    let formula = case["inputs"]["result"].as_str().unwrap_or_default();
    text + &format!("[results.y]\nformula = \"{formula}\"\nat_least = 0\n{more}")
}

fn linear_cases() -> Vec<Value> {
    cases(include_str!("../../tests/oracles/linear_gaussian.json"))
}

/// Mean, spread, percentiles and share of success of linked inputs.
pub(super) fn linear() -> Check {
    let mut check = Check::new(
        "linked normal inputs",
        "oracle linear_gaussian: theory at 30 digits, and brute force",
        "standard deviations",
        0.01,
    );
    for case in linear_cases() {
        let expect = &case["expect"];
        let known = |key: &str| number(&expect[key]).unwrap_or(f64::NAN);
        let found = match answers(&linear_study(&case, "")) {
            Ok(found) => found,
            Err(why) => {
                check.fault(format!("{}: {why}", name(&case)));
                continue;
            }
        };
        let Some(y) = result(&found, "y") else { continue };
        let share = y.success.as_ref().map_or(f64::NAN, |s| s.share.value);
        let sd = known("sd");
        for (key, got, size) in [
            ("mean", estimated(y.mean.as_ref()), sd),
            ("sd", estimated(y.sd.as_ref()), sd),
            ("P10", percentile(y, 0.1), sd),
            ("P90", percentile(y, 0.9), sd),
            ("chance_at_least_zero", share, 1.0),
        ] {
            check.apart(
                &format!("{}, {key}", name(&case)),
                got,
                known(key),
                ((got - known(key)) / size).abs(),
            );
        }
    }
    check
}

/// First-order indices and Shapley effects of linked inputs.
pub(super) fn indices() -> Check {
    let mut check = Check::new(
        "global indices",
        "oracle linear_gaussian: theory at 30 digits, and brute force",
        "share of the variance",
        0.06,
    );
    let more = "[indices]\nresult = \"y\"\nbase_points = 4096\nshapley = true\n";
    for case in linear_cases() {
        let found = answers(&linear_study(&case, more));
        let Some(found) = found.ok().and_then(|found| found.indices) else {
            check.fault(format!("{}: no indices", name(&case)));
            continue;
        };
        let inputs = case["inputs"]["inputs"].as_object().into_iter().flatten();
        let names: Vec<&String> = inputs.map(|(name, _)| name).collect();
        let first = numbers(&case["expect"]["full_first"]);
        let shapley = numbers(&case["expect"]["shapley"]);
        let left = numbers(&case["expect"]["independent_total"]);
        for (k, input) in names.iter().enumerate() {
            let mut close = |what: &str, got: f64, expected: Option<&f64>| {
                let expected = expected.copied().unwrap_or(f64::NAN);
                check.apart(
                    &format!("{}, {what} of {input}", name(&case)),
                    got,
                    expected,
                    (got - expected).abs(),
                );
            };
            let rows = found.shapley.iter().flat_map(|s| &s.rows);
            let row = rows.into_iter().find(|row| row.names.len() == 1 && row.names[0] == **input);
            // What the result neither reads nor is linked with has no row, and no effect.
            let of = |get: fn(&ShapleyRow) -> &Estimate| row.map_or(0.0, |row| estimated(Some(get(row))));
            close("first order", of(|row| &row.first), first.get(k));
            close("Shapley effect", of(|row| &row.effect), shapley.get(k));
            close("what it alone leaves", of(|row| &row.left), left.get(k));
        }
    }
    check
}

/// The same answers, to the last byte, on one thread and on two.
pub(super) fn threads() -> Check {
    let mut check = Check::new("one thread and two", "the same bytes of all answers", "bytes", 0.0);
    let on = |threads: usize| {
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().ok()?;
        let found = pool.install(|| answers(PAYBACK)).ok()?;
        crate::report::json::answers(&found).ok()
    };
    match (on(1), on(2)) {
        (Some(one), Some(two)) => {
            let apart =
                one.bytes().zip(two.bytes()).filter(|(a, b)| a != b).count() + one.len().abs_diff(two.len());
            check.apart("answers", apart as f64, 0.0, apart as f64);
        }
        _ => check.fault("no answers".into()),
    }
    check
}
