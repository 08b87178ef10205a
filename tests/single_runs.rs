//! Questions asked of single runs, from the text of a study to the answer, against closed forms: what it is worth to know
//! an input, where the best course changes, what drives a result, groups, conditions of failure, and promises.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

use payspread::analysis::{Answers, Options, appraise};
use payspread::engine::run::Control;
use payspread::model::read;
use serde_json::Value;

fn answers(text: &str) -> Answers {
    let (made, found) = read(text);
    let (_, model) = made.unwrap_or_else(|| panic!("{found:?}"));
    appraise(&model, Options::of(&model), &Control::default()).unwrap()
}

const HEAD: &str = "title = \"Is it worth it?\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 1\n\
                    [sampling]\nruns = 65_536\nseed = 3\n";

/// A study of an oracle's normal and uniform inputs and the net benefit of the second course over doing nothing.
fn study_of(case: &Value) -> String {
    let mut text = HEAD.to_owned();
    for (name, law) in case["inputs"]["inputs"].as_object().unwrap() {
        let (kind, parameters) = law.as_object().unwrap().iter().next().unwrap();
        let parameters: Vec<String> =
            parameters.as_object().unwrap().iter().map(|(key, x)| format!("{key} = {x}")).collect();
        text.push_str(&format!("[inputs.{name}]\n{kind} = {{ {} }}\n", parameters.join(", ")));
    }
    for link in case["inputs"]["correlations"].as_array().into_iter().flatten() {
        text.push_str(&format!("[[correlations]]\nbetween = {}\nrank = {}\n", link["between"], link["rank"]));
    }
    let formula = case["inputs"]["net_benefit"]["second"].as_str().unwrap();
    text.push_str(&format!("[results.gain]\nformula = \"{formula}\"\n[comparison]\nnothing = 0\n"));
    text
}

#[test]
fn what_it_is_worth_to_know_within_2_per_cent() {
    let text = include_str!("oracles/choosing.json");
    let oracle: Value = serde_json::from_str(text).unwrap();
    let mut checked = 0;
    for case in oracle["cases"].as_array().unwrap() {
        let two = case["inputs"]["inputs"].is_object() && case["inputs"]["net_benefit"]["second"].is_string();
        if !two {
            continue;
        }
        let found = answers(&study_of(case)).knowing.unwrap().information;
        let what = case["name"].as_str().unwrap();
        let most = case["expect"]["value_of_perfect_information"].as_f64().unwrap();
        // Of values next to nothing, so much of that of perfect information may be missed.
        let near = |name: &str, got: f64, wanted: f64| {
            let allowed = (0.02 * wanted).max(0.0005 * most);
            assert!((got - wanted).abs() <= allowed, "{what}, {name}: {got}, not {wanted}");
        };
        near("everything", found.evpi.value.number().unwrap(), most);
        // In the order of the file, which the reader of JSON does not keep.
        let at = text.find(&format!("\"{what}\"")).unwrap();
        let place = |name: &String| text[at..].find(&format!("\"{name}\"")).unwrap();
        let mut names: Vec<&String> = case["inputs"]["inputs"].as_object().unwrap().keys().collect();
        names.sort_by_key(|name| place(name));
        for (name, wanted) in
            names.into_iter().zip(case["expect"]["value_for_each_input"].as_array().unwrap())
        {
            let row = found.rows.iter().find(|row| row.name == *name).unwrap();
            near(name, row.value.value.number().unwrap(), wanted.as_f64().unwrap());
        }
        checked += 1;
    }
    assert_eq!(checked, 5);
}

const WINDOW: &str = r#"
title      = "Which of three?"
currency   = "EUR"
first_year = 2027
years      = 1

[sampling]
runs = 4096

[inputs.price]
uniform = { min = 0, max = 10 }

[inputs.noise]
normal = { mean = 0, sd = 3 }

[results.net]
formula = "2 * price - 8 + noise"

[alternatives.flat.workings]
net = "4 + 0 * price + noise"

[comparison]
nothing = 0
along   = ["price"]
"#;

/// Means along the price: doing nothing 0, flat 4, the study 2 price - 8. Flat is best up to 6, the study from there on.
#[test]
fn the_best_course_changes_where_the_means_cross() {
    let found = answers(WINDOW).alternatives.unwrap();
    let line = &found.along[0];
    let name = |k: usize| found.comparison.rows[k].name.as_str();
    assert_eq!(line.flips.len(), 1, "{:?}", line.flips);
    let flip = &line.flips[0];
    assert_eq!((name(flip.from), name(flip.to)), ("flat", "study"));
    // Both have the same noise, so their difference has none.
    assert!((flip.at - 6.0).abs() < 1e-6, "{}", flip.at);
    assert!(!line.level);
    // Two lines that cross at 7.5 and are 0.0025 apart at most: a change next to nothing.
    let near = WINDOW.replace("min = 0, max = 10", "min = 5, max = 10");
    let near = near.replace("4 + 0 * price + noise", "2.001 * price - 8.0075 + noise");
    let near = answers(&near).alternatives.unwrap();
    assert_eq!(near.along[0].flips.len(), 1);
    assert!((near.along[0].flips[0].at - 7.5).abs() < 1e-6 && near.along[0].level);
    // Flat loses 2 x - 12 to the study where x is above 6, 1.6 in the mean; and at most E max(-4 - noise, 0) = 0.127 more to
    // doing nothing (unit normal loss at 4/3, times 3).
    let flat = &found.comparison.rows[1];
    assert_eq!(found.comparison.best, "flat");
    let regret = flat.regret.value.number().unwrap();
    assert!(regret > 1.6 - 0.02 && regret < 1.6 + 0.127 + 0.02, "{regret}");
    let pair = found.comparison.pairs.iter().find(|p| p.first == "study" && p.second == "flat").unwrap();
    assert!((pair.first_better.value - 0.4).abs() < 0.002, "{:?}", pair.first_better);
    assert!((pair.mean.value.number().unwrap() - (10.0 - 8.0 - 4.0)).abs() < 0.01);
}

const DRIVEN: &str = r#"
title      = "What drives it?"
currency   = "EUR"
first_year = 2027
years      = 3

[sampling]
runs = 16_384

[inputs.strong]
uniform = { min = 0, max = 4 }

[inputs.weak]
uniform = { min = 0, max = 1 }

[inputs.people]
discrete = { values = [1, 2, 3], weights = [1, 2, 1] }
unit     = "person"

[inputs.inert]
normal = { mean = 0, sd = 1 }

[paths.price]
start      = { uniform = { min = 0, max = 2 } }
process    = "steady growth"

[results.sum]
formula  = "strong + weak + people / 1 [person] + mean_years(price) + 0 * inert"
at_least = 6.5

[conditions]
result = "corner"

[results.corner]
formula = "strong <= 2.4 or weak >= 0.5"

[claim]
strong = 3
sum    = 2

[[groups]]
result = "sum"
by     = "weak"
"#;

/// Variances: strong 16/12, weak 1/12, people 1/2, price 4/12; together 2.25. Shares 0.5926, 0.0370, 0.2222, 0.1481, 0.
#[test]
fn drivers_groups_conditions_and_claims_as_worked_out() {
    let all = answers(DRIVEN);
    let drivers = all.drivers.unwrap();
    for (name, wanted) in
        [("strong", 0.5926), ("people", 0.2222), ("price", 0.1481), ("weak", 0.0370), ("inert", 0.0)]
    {
        let row = drivers.sensitivity.rows.iter().find(|row| row.name == name).unwrap();
        let got = row.first_order.value.number().unwrap();
        assert!((got - wanted).abs() < 0.004, "{name}: {got}, not {wanted}");
    }
    assert!((drivers.sensitivity.r_squared.unwrap() - 1.0).abs() < 1e-9, "it is a sum");
    // The lowest tenth of strong has the mean 0.2, the highest 3.8; all else has 0.5 + 2 + 1.
    let row = drivers.tenths.rows.iter().find(|row| row.name == "strong").unwrap();
    let ends = [&row.low, &row.high].map(|end| end.result.value.number().unwrap());
    assert!((ends[0] - 3.7).abs() < 0.02 && (ends[1] - 7.3).abs() < 0.02, "{ends:?}");

    let people = all.groups.iter().find(|g| g.by.name == "people").unwrap();
    let means: Vec<f64> =
        people.by.groups.iter().map(|g| g.mean.as_ref().unwrap().value.number().unwrap()).collect();
    for (got, wanted) in means.iter().zip([4.5, 5.5, 6.5]) {
        assert!((got - wanted).abs() < 0.02, "{means:?}");
    }
    assert!(!people.asked);
    let weak = all.groups.iter().find(|g| g.by.name == "weak").unwrap();
    assert!(weak.asked && weak.by.thirds && weak.by.groups.len() == 3);

    // It fails where strong > 2.4 and weak < 0.5: 0.4 x 0.5 of the runs.
    let failing = all.failing.unwrap();
    assert!((failing.conditions.share_failing.value - 0.2).abs() < 0.002);
    let found = &failing.conditions.boxes[0];
    let names: Vec<&str> = found.restrictions.iter().map(|r| r.name.as_str()).collect();
    assert_eq!(names, ["strong", "weak"], "{}", found.words);
    assert!(found.held_out.coverage.value > 0.95 && found.held_out.density.value > 0.95, "{}", found.words);

    // strong is at least 3 in a quarter of the runs; the sum is always above 1, at least 2 in nearly all.
    let claim = all.claim.unwrap();
    assert!((claim.promises[0].kept.value - 0.25).abs() < 0.002);
    assert!(claim.promises[1].kept.value > 0.98);
    assert!((claim.all.value - 0.25).abs() < 0.002, "with strong above 3 the sum is above 4");
    // What is promised is no condition for itself.
    let conditions = claim.conditions.boxes.iter().flat_map(|b| &b.restrictions);
    assert!(conditions.into_iter().all(|r| r.name != "strong"));
}

/// Above 65,536 runs single runs are those of the beginning, whatever way the others are held.
#[test]
fn of_many_runs_the_first_are_looked_at() {
    let text = DRIVEN.replace("runs = 16_384", "runs = 131_072");
    let found = answers(&text).drivers.unwrap();
    assert_eq!(found.sensitivity.runs, 65_536);
}
