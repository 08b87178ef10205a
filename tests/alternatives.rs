//! Alternatives against studies with their lines in place, and the study of ways to warm water against figures that a
//! separate program in Python made from formulas of its own (`tests/independent/ways_to_warm_water.py`).
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

use std::path::Path;

use payspread::analysis::{Alternatives, Answers, Estimate, Figure, Options, Share, appraise};
use payspread::engine::run::Control;
use payspread::model::{Model, read};
use serde_json::Value;

fn model(text: &str) -> Model {
    let (made, found) = read(text);
    made.unwrap_or_else(|| panic!("{found:?}")).1
}

fn answers(text: &str) -> Answers {
    let model = model(text);
    appraise(&model, Options::of(&model), &Control::default()).unwrap()
}

/// Random draws: an input that is not drawn any more then changes no other.
const STUDY: &str = r#"
title      = "Does it pay back?"
currency   = "EUR"
first_year = 2027
years      = 10

[sampling]
runs   = 2048
seed   = 5
method = "random"

[inputs.outlay]
uniform = { min = 400, max = 600 }
unit    = "EUR"

[inputs.life]
weibull = { shape = 2, scale = 6 }
unit    = "yr"

[inputs.usual]
normal = { mean = 90, sd = 10 }
unit   = "EUR"

[inputs.spread]
normal = { mean = "usual", sd = 20 }
unit   = "EUR"

[inputs.rate]
choice = [0.02, 0.06]
unit   = "1/yr"

[workings.saving]
unit    = "EUR"
formula = "(spread - 2 [EUR] * year) * in_service(life) - failures(life) * 10 [EUR]"

[results.npv]
unit     = "EUR"
formula  = "npv(rate, outlay, saving)"
at_least = 0
"#;

const ALTERNATIVES: &str = r#"
[comparison]
nothing = 0

[alternatives.known.inputs]
outlay = 450
life   = 3.7

[alternatives.told.inputs]
spread = 100
rate   = 0.06

[alternatives.formula.workings]
saving = "usual * in_service(life)"
"#;

/// The text with one line in place of another.
fn with(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "{from}");
    text.replace(from, to)
}

#[test]
fn an_alternative_is_the_study_with_its_lines_in_place() {
    let all = answers(&format!("{STUDY}{ALTERNATIVES}"));
    let found = all.alternatives.unwrap();
    let named = |name: &str| {
        let at = found.comparison.rows.iter().position(|row| row.name == name).unwrap();
        (found.base[at], found.comparison.rows[at].mean.clone())
    };
    let outlay = with(STUDY, "uniform = { min = 400, max = 600 }", "value = 450");
    let known = with(
        &outlay,
        "weibull = { shape = 2, scale = 6 }",
        "uniform = { min = 3.699999999, max = 3.700000001 }",
    );
    let told = with(STUDY, "normal = { mean = \"usual\", sd = 20 }", "value = 100");
    let told = with(&told, "choice = [0.02, 0.06]", "value = 0.06");
    let formula = with(
        STUDY,
        "(spread - 2 [EUR] * year) * in_service(life) - failures(life) * 10 [EUR]",
        "usual * in_service(life)",
    );
    for (name, text) in [("study", STUDY.to_owned()), ("known", known), ("told", told), ("formula", formula)]
    {
        let alone = answers(&text);
        let result = &alone.results[0];
        let (base, mean) = named(name);
        let (wanted, got) =
            (result.mean.as_ref().unwrap().value.number().unwrap(), mean.value.number().unwrap());
        assert!((wanted - got).abs() <= 1e-6 * wanted.abs().max(1.0), "{name}: {got}, alone {wanted}");
        let (wanted, got) = (result.base.number().unwrap(), base.number().unwrap());
        assert!((wanted - got).abs() <= 1e-6 * wanted.abs().max(1.0), "{name}: base {got}, alone {wanted}");
    }
    assert_eq!(found.base.last(), Some(&Figure::Number(0.0)));
    // The alternative that sets the choice is the same whatever the choice; the others are not.
    let under = |value: &str| {
        let choice = all.choices.iter().find(|c| c.value == value).unwrap();
        choice.alternatives.clone().unwrap()
    };
    let (low, high) = (under("2 % a year"), under("6 % a year"));
    let mean = |found: &Alternatives, name: &str| {
        found.comparison.rows.iter().find(|row| row.name == name).unwrap().mean.value
    };
    assert_eq!(mean(&low, "told"), mean(&high, "told"));
    assert_ne!(mean(&low, "known"), mean(&high, "known"));
    assert_eq!(mean(&low, "known"), named("known").1.value);
}

/// Costs: means are of the cost, what is better is less, and regret stays positive.
#[test]
fn less_may_be_better() {
    let cost = with(STUDY, "at_least = 0", "better = \"lower\"");
    let found = answers(&format!("{cost}{ALTERNATIVES}")).alternatives.unwrap();
    let gain = answers(&format!("{STUDY}{ALTERNATIVES}")).alternatives.unwrap();
    assert!(!found.higher && gain.higher);
    for (cost, gain) in found.comparison.rows.iter().zip(&gain.comparison.rows) {
        assert_eq!(cost.mean.value, gain.mean.value, "{}", cost.name);
        assert!(cost.regret.value.number().unwrap() >= 0.0);
    }
    let means = |found: &Alternatives| -> Vec<(f64, String)> {
        let rows = found.comparison.rows.iter();
        rows.map(|row| (row.mean.value.number().unwrap(), row.name.clone())).collect()
    };
    let least = means(&found).into_iter().min_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
    let most = means(&gain).into_iter().max_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
    assert_eq!((found.comparison.best, gain.comparison.best), (least.1, most.1));
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// Within five standard errors of both samples together; `half` is our interval's half-width (t of 7 degrees: 2.36).
fn near(what: &str, got: f64, half: f64, wanted: &Value) {
    let (figure, error) = (number(&wanted["figure"]), number(&wanted["error"]));
    let ours = half / 2.0;
    let most = 5.0 * (error * error + ours * ours).sqrt() + 1e-9;
    assert!((got - figure).abs() <= most, "{what}: {got} +- {ours}, worked out apart {figure} +- {error}");
}

fn half(estimate: &Estimate) -> f64 {
    let end = |f: Option<Figure>| f.and_then(Figure::number).unwrap_or(f64::NAN);
    (end(estimate.high) - end(estimate.low)) / 2.0
}

fn half_of(share: &Share) -> f64 {
    (share.high - share.low) / 2.0
}

#[test]
fn ways_to_warm_water_worked_out_apart() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(folder.join("studies/ways-to-warm-water.toml")).unwrap();
    let expected = std::fs::read_to_string(folder.join("tests/independent/ways_to_warm_water.json")).unwrap();
    let expected: Value = serde_json::from_str(&expected).unwrap();
    let all = answers(&text);
    let base = all.alternatives.clone().unwrap();
    let mut headings = vec![("discount = 0.04", base)];
    for (heading, value) in [("discount = 0.02", "2 % a year"), ("discount = 0.07", "7 % a year")] {
        let choice = all.choices.iter().find(|c| c.value == value).unwrap();
        headings.push((heading, choice.alternatives.clone().unwrap()));
    }
    let mut checked = 0;
    for (heading, found) in headings {
        let bases =
            if heading == "discount = 0.04" { &expected["base"] } else { &expected["base_choices"][heading] };
        for (row, base) in found.comparison.rows.iter().zip(&found.base) {
            let wanted = number(&bases[&row.name]["annual_cost"]);
            let got = base.number().unwrap();
            assert!(
                (got - wanted).abs() <= 1e-9 * wanted,
                "{heading}, {}: base {got}, not {wanted}",
                row.name
            );
            let wanted = &expected["monte_carlo"][heading][&row.name];
            let what = |figure: &str| format!("{heading}, {}: {figure}", row.name);
            near(
                &what("mean"),
                row.mean.value.number().unwrap(),
                half(&row.mean),
                &wanted["annual_cost"]["mean"],
            );
            near(&what("best"), row.best_share.value, half_of(&row.best_share), &wanted["best"]);
            near(&what("regret"), row.regret.value.number().unwrap(), half(&row.regret), &wanted["regret"]);
            let pair = found.comparison.pairs.iter().find(|p| p.first == "study" && p.second == row.name);
            if let Some(pair) = pair {
                near(
                    &what("better"),
                    pair.second_better.value,
                    half_of(&pair.second_better),
                    &wanted["better_than_study"],
                );
                let gain = -pair.mean.value.number().unwrap();
                near(&what("gain"), gain, half(&pair.mean), &wanted["gain"]["mean"]);
            }
            checked += 1;
        }
    }
    assert_eq!(checked, 27);
}
