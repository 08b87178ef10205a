//! First-order and total indices and Shapley effects against known answers: functions through the estimators alone, and
//! whole studies.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

#[path = "../examples/known/mod.rs"]
mod known;

use known::functions::{Function, columns, g_of_eight, g_of_three, ishigami};
use payspread::analysis::indices::estimators::{Columns, Indices, indices_of};
use payspread::analysis::indices::{GlobalIndices, IndexWish, Spread, of_model};
use payspread::analysis::{Estimate, Interval};
use payspread::engine::run::Control;
use payspread::model::{Model, check};
use payspread::sampling::{Design, Distribution, InputSpec, Method, Value, Vectors};
use payspread::study::read;
use rayon::prelude::*;
use serde_json::Value as Json;

const METHODS: [Method; 3] = [Method::Sobol, Method::LatinHypercube, Method::Random];
const POINTS: u64 = 16_384;

fn oracle(text: &str) -> Vec<Json> {
    let all: Json = serde_json::from_str(text).unwrap();
    all["cases"].as_array().unwrap().clone()
}

fn functions() -> Vec<Json> {
    oracle(include_str!("oracles/global_indices.json"))
}

fn gaussian() -> Vec<Json> {
    oracle(include_str!("oracles/linear_gaussian.json"))
}

fn numbers(json: &Json) -> Vec<f64> {
    json.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn number(json: &Json) -> f64 {
    json.as_f64().unwrap()
}

type Parameters = Vec<(String, f64)>;

/// Name, kind and parameters of each input, in the order of their names.
fn inputs_of(case: &Json) -> Vec<(String, String, Parameters)> {
    let inputs = case["inputs"]["inputs"].as_object().unwrap();
    let mut all: Vec<_> = inputs
        .iter()
        .map(|(name, law)| {
            let (kind, parameters) = law.as_object().unwrap().iter().next().unwrap();
            let parameters = parameters.as_object().unwrap().iter().map(|(k, v)| (k.clone(), number(v)));
            (name.clone(), kind.clone(), parameters.collect())
        })
        .collect();
    all.sort_by(|a, b| a.0.cmp(&b.0));
    all
}

fn study(text: &str) -> Model {
    let head = "title = \"oracle\"\ncurrency = \"EUR\"\nfirst_year = 2027\n";
    let years = if text.starts_with("years") { "" } else { "years = 2\n" };
    let text = format!("{head}{years}{text}");
    let (study, found) = read::parse(&text);
    assert!(found.is_empty(), "{text}\n{found:?}");
    let (model, found) = check(&study.unwrap());
    model.unwrap_or_else(|| panic!("{text}\n{found:?}"))
}

fn study_of(case: &Json) -> Model {
    let mut text = String::new();
    for (name, kind, parameters) in inputs_of(case) {
        let parameters: Vec<String> = parameters.iter().map(|(k, v)| format!("{k} = {v:?}")).collect();
        text += &format!("[inputs.{name}]\n{kind} = {{ {} }}\n", parameters.join(", "));
    }
    for link in case["inputs"]["correlations"].as_array().into_iter().flatten() {
        text += &format!("[[correlations]]\nbetween = {}\nrank = {}\n", link["between"], link["rank"]);
    }
    text += &format!("[results.y]\nformula = {}\n", case["inputs"]["result"]);
    study(&text)
}

fn wish(method: Method, seed: u64, points: u64) -> IndexWish {
    IndexWish {
        design: Design::new(seed, method, 8, points),
        bootstrap: false,
        shapley: false,
        block: None,
        vectors: Vectors::Widest,
        epoch: 0,
    }
}

fn indices(model: &Model, wish: IndexWish) -> GlobalIndices {
    of_model(model, 0, wish, &Control::default()).unwrap()
}

fn value(estimate: &Estimate) -> f64 {
    estimate.value.number().unwrap()
}

fn ends(estimate: &Estimate) -> (f64, f64) {
    (estimate.low.unwrap().number().unwrap(), estimate.high.unwrap().number().unwrap())
}

fn near(found: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!((found - wanted).abs() <= tolerance, "{what}: {found} for {wanted}");
}

/// What the oracle's formulas say, written anew.
fn function_of(name: &str) -> Function {
    match name {
        name if name.starts_with("Ishigami") => ishigami,
        name if name.starts_with("g-function, a=[0, 1,") => g_of_eight,
        name if name.starts_with("g-function, a=[0, 0.5") => g_of_three,
        name if name.starts_with("product of lognormals") => |x| 20.5 * x[0] * x[1] * x[2] * x[3],
        name if name.starts_with("pays back") => |x| f64::from(0.4 + x[0] + 0.7 * x[1] + 0.3 * x[2] >= 0.0),
        name if name.starts_with("additive") => |x| 4.0 * x[0] + 2.0 * x[1] + 3.0 * x[2] * x[2],
        name if name.starts_with("pure interaction") => {
            |x| (2.0 * x[0] - 1.0) * (2.0 * x[1] - 1.0) + 0.2 * x[2]
        }
        _ => panic!("no function {name}"),
    }
}

/// All cases by all methods, single inputs, groups and pairs. Tolerances are five standard errors of 8,192 rows, seven of
/// these 16,384.
#[test]
fn functions_with_known_indices() {
    for case in functions() {
        let name = case["name"].as_str().unwrap();
        let inputs: Vec<InputSpec> = inputs_of(&case)
            .into_iter()
            .map(|(name, kind, parameters)| {
                let parameters: Vec<(String, Value)> =
                    parameters.into_iter().map(|(k, v)| (k, Value::Number(v))).collect();
                InputSpec { name, distribution: Distribution::build(&kind, &parameters, None).unwrap() }
            })
            .collect();
        let place = |x: &Json| inputs.iter().position(|i| i.name == x.as_str().unwrap()).unwrap();
        let sets = |key: &str| -> Vec<Vec<usize>> {
            let all = case["inputs"][key].as_array().into_iter().flatten();
            all.map(|set| set.as_array().unwrap().iter().map(place).collect()).collect()
        };
        let (d, groups, pairs) = (inputs.len(), sets("groups"), sets("pairs"));
        let mut all: Vec<Vec<usize>> = (0..d).map(|k| vec![k]).collect();
        all.extend(groups.iter().chain(&pairs).cloned());
        let (expect, tolerance) = (&case["expect"], &case["tolerance"]);
        let abs = number(&tolerance["abs"]);
        for method in METHODS {
            let made = columns(function_of(name), &inputs, &all, Design::new(20, method, 8, POINTS));
            let found = indices_of(&made, Spread::None, Vectors::Widest).unwrap();
            let what = format!("{name}, {method:?}");
            let variance = number(&expect["variance"]);
            near(value(&found.variance), variance, number(&tolerance["variance_rel"]) * variance, &what);
            // 7 standard errors of a mean of 2 n values.
            let error = (variance / (2 * POINTS) as f64).sqrt();
            near(value(&found.mean), number(&expect["mean"]), 7.0 * error, &what);
            let first = |k: usize| value(&found.groups[k].first);
            let mut worst = 0.0_f64;
            for (k, (s, t)) in numbers(&expect["first"]).iter().zip(numbers(&expect["total"])).enumerate() {
                near(first(k), *s, abs, &format!("{what}: first of {k}"));
                near(value(&found.groups[k].total), t, abs, &format!("{what}: total of {k}"));
                worst = worst.max((first(k) - s).abs()).max((value(&found.groups[k].total) - t).abs());
            }
            println!("{what}: {worst:.4} at most of {abs}");
            for (k, known) in expect["groups"].as_array().into_iter().flatten().enumerate() {
                near(first(d + k), number(&known["first"]), abs, &format!("{what}: first of group {k}"));
                let total = value(&found.groups[d + k].total);
                near(total, number(&known["total"]), abs, &format!("{what}: total of group {k}"));
            }
            for (k, known) in expect["interaction"].as_array().into_iter().flatten().enumerate() {
                let [a, b] = pairs[k][..] else { panic!("a pair") };
                let both = first(d + groups.len() + k) - first(a) - first(b);
                near(
                    both,
                    number(known),
                    number(&tolerance["interaction_abs"]),
                    &format!("{what}: pair {k}"),
                );
            }
        }
    }
}

/// The same through the whole way: study text, model, program, runs. `sin` is no function of a study, so one case is left.
#[test]
fn studies_with_known_indices() {
    for case in functions() {
        let name = case["name"].as_str().unwrap();
        if name.starts_with("Ishigami") {
            continue;
        }
        let (model, expect, abs) = (study_of(&case), &case["expect"], number(&case["tolerance"]["abs"]));
        for method in METHODS {
            let found = indices(&model, wish(method, 4, POINTS));
            let what = format!("{name}, {method:?}");
            assert_eq!((found.of.as_str(), found.base_points), ("value", POINTS), "{what}");
            let d = found.rows.len() as u64;
            assert_eq!(found.evaluations, POINTS * (d + 2), "{what}");
            assert!(found.rows.windows(2).all(|w| value(&w[0].total) >= value(&w[1].total)));
            let (first, total) = (numbers(&expect["first"]), numbers(&expect["total"]));
            for (k, (s, t)) in first.iter().zip(&total).enumerate() {
                let names = [format!("x{}", k + 1)];
                let row = found.rows.iter().find(|row| row.names == names).unwrap();
                near(value(&row.first), *s, abs, &what);
                near(value(&row.total), *t, abs, &what);
                assert!(!row.linked && !row.is_path);
            }
            let sum: f64 = first.iter().sum();
            near(value(found.sum_first.as_ref().unwrap()), sum, 1.5 * abs, &what);
            near(value(found.interactions.as_ref().unwrap()), 1.0 - sum, 1.5 * abs, &what);
            let interval = if method == Method::Random { Interval::None } else { Interval::Replicates };
            assert_eq!(found.interval, interval, "{what}");
        }
    }
}

/// What is asked of a group of inputs is asked of single ones; a linked pair becomes such a group. For independent inputs
/// all effects lie between first order and total; correlated ones are in the oracle.
#[test]
fn correlated_inputs_have_known_effects() {
    for case in gaussian() {
        let (name, model, expect) = (case["name"].as_str().unwrap(), study_of(&case), &case["expect"]);
        let abs = number(&case["tolerance"]["indices_abs"]);
        for method in METHODS {
            let found = indices(&model, IndexWish { shapley: true, ..wish(method, 9, POINTS) });
            let effects = found.shapley.unwrap();
            assert!(effects.all_sets);
            let row = |k: usize| {
                let names = [format!("x{}", k + 1)];
                effects.rows.iter().find(|row| row.names == names).unwrap()
            };
            let what = |k: usize| format!("{name}, {method:?}, x{}", k + 1);
            for k in 0..3 {
                near(value(&row(k).effect), number(&expect["shapley"][k]), abs, &what(k));
                near(value(&row(k).left), number(&expect["independent_total"][k]), abs, &what(k));
                near(value(&row(k).first), number(&expect["full_first"][k]), abs, &what(k));
                assert!(value(&row(k).effect) > -0.01, "{}", what(k));
                let off = |found: &Estimate, key: &str| (value(found) - number(&expect[key][k])).abs();
                let (effect, left) = (off(&row(k).effect, "shapley"), off(&row(k).left, "independent_total"));
                let first = off(&row(k).first, "full_first");
                println!("{}: effect {effect:.4}, left {left:.4}, first {first:.4} off, of {abs}", what(k));
            }
            let sum: f64 = effects.rows.iter().map(|row| value(&row.effect)).sum();
            near(sum, 1.0, 1e-12, name);
            let linked = !case["inputs"]["correlations"].as_array().unwrap().is_empty();
            assert_eq!(found.rows.len(), if linked { 2 } else { 3 });
            assert_eq!(found.rows.iter().any(|row| row.linked), linked);
            assert_eq!(found.notes.iter().any(|note| note.contains("Jacques")), linked, "{:?}", found.notes);
            // Independent groups of a sum: the first order of a group is that of the rest taken from 1.
            for row in &found.rows {
                near(value(&row.first), value(&row.total), abs, name);
            }
        }
    }
}

/// The pair of opposite sign and further independent inputs of a sum: effects of independent blocks are theirs alone, in
/// proportion to the blocks' variances. `more` inputs of 0.5 x a standard normal.
fn pair_and(more: usize) -> (Model, [f64; 2]) {
    let mut text = String::new();
    let mut formula = "x1 + x2".to_owned();
    for k in 1..=2 + more {
        text += &format!("[inputs.x{k}]\nnormal = {{ mean = 0, sd = 1 }}\n");
        if k > 2 {
            formula += &format!(" + 0.5 * x{k}");
        }
    }
    text += "[[correlations]]\nbetween = [\"x1\", \"x2\"]\nrank = -0.7\n";
    text += &format!("[results.y]\nformula = \"{formula}\"\n");
    let case =
        gaussian().into_iter().find(|c| c["name"].as_str().unwrap().starts_with("pair of opposite")).unwrap();
    let variance = number(&case["expect"]["sd"]).powi(2);
    let whole = variance + 0.25 * (more as f64 - 1.0);
    let pair = number(&case["expect"]["shapley"][0]) * variance / whole;
    (study(&text), [pair, 0.25 / whole])
}

/// More than eight players: random orders. An effect may be off by four half-widths of its 95 % interval, eight standard
/// errors: never by chance.
#[test]
fn many_players_join_in_random_orders() {
    let (model, [pair, single]) = pair_and(8);
    for method in METHODS {
        let found = indices(&model, IndexWish { shapley: true, ..wish(method, 6, POINTS) });
        let effects = found.shapley.unwrap();
        assert!(!effects.all_sets && effects.rows.len() == 10);
        assert_eq!(effects.interval, Interval::StandardError);
        let mut sum = 0.0;
        for row in &effects.rows {
            let wanted = if row.linked { pair } else { single };
            let (low, high) = ends(&row.effect);
            assert!(high - low < 0.06, "{method:?}: {row:?}");
            near(value(&row.effect), wanted, 2.0 * (high - low), &format!("{method:?} {:?}", row.names));
            sum += value(&row.effect);
            if !row.linked {
                near(value(&row.left), single, 0.03, "left");
                near(value(&row.first), single, 0.06, "first");
            }
        }
        near(sum, 1.0, 1e-12, "sum");
    }
}

/// More than twelve: the eleven of the largest groups and one for all others.
#[test]
fn further_players_are_pooled() {
    let (model, [pair, single]) = pair_and(12);
    let found = indices(&model, IndexWish { shapley: true, ..wish(Method::Sobol, 6, POINTS) });
    let effects = found.shapley.unwrap();
    assert_eq!(effects.rows.len(), 12);
    let pool = effects.rows.iter().find(|row| row.label == "All others").unwrap();
    assert_eq!(pool.names.len(), 3);
    near(value(&pool.effect), 3.0 * single, 0.05, "all others");
    let linked: Vec<f64> = effects.rows.iter().filter(|r| r.linked).map(|r| value(&r.effect)).collect();
    // The pair is the largest group, so both are in.
    assert!(linked.len() == 2 && linked.iter().all(|x| (x - pair).abs() < 0.05), "{linked:?} for {pair}");
}

/// A price is start x growth x shocks, all one group. A product of a lognormal q and a lognormal price of squared
/// coefficients of variation a and b: S = a/(a + b + ab), T = (a + ab)/(a + b + ab). With start median 1 and gsd g, five
/// shocks of 0.1: 1 + b = exp(ln^2 g + 0.05).
#[test]
fn a_path_is_one_group() {
    let model = study(
        "years = 7\n[inputs.q]\nlognormal = { median = 3, gsd = 1.2 }\n[inputs.idle]\nnormal = { mean = 0, sd = 1 }\n\
         [paths.price]\nstart = { lognormal = { median = 1, gsd = 1.15 } }\nprocess = \"random walk\"\nvolatility = 0.1\n\
         [results.y]\nformula = \"q * at_year(price, 5)\"\n",
    );
    let squared = |ln_variance: f64| ln_variance.exp() - 1.0;
    let (a, b) = (squared(1.2_f64.ln().powi(2)), squared(1.15_f64.ln().powi(2) + 0.05));
    let all = a + b + a * b;
    for method in METHODS {
        let found = indices(&model, wish(method, 3, POINTS));
        let row = |name: &str| found.rows.iter().find(|row| row.names == [name]).unwrap();
        let (q, price, idle) = (row("q"), row("price"), row("idle"));
        assert!(price.is_path && !q.is_path);
        for (row, own) in [(q, a), (price, b)] {
            near(value(&row.first), own / all, 0.05, &row.label);
            near(value(&row.total), (own + a * b) / all, 0.05, &row.label);
        }
        assert!(!idle.read && value(&idle.first) == 0.0 && value(&idle.total) == 0.0 && idle.floor == 0.0);
        // What nothing reads takes no runs.
        assert_eq!(found.evaluations, POINTS * 4);
    }
}

/// Links of every sort join groups: two paths by their shocks, a start with an input, and through it a third.
#[test]
fn links_join_groups() {
    let path = |name: &str| {
        format!(
            "[paths.{name}]\nstart = {{ uniform = {{ min = 1, max = 2 }} }}\nprocess = \"random walk\"\nvolatility = 0.1\n\
             [[paths.{name}.changes]]\nchance = 0.5\nyear = {{ uniform = {{ min = 2028, max = 2031 }} }}\nscale = 0.8\n"
        )
    };
    let normal = |name: &str| format!("[inputs.{name}]\nnormal = {{ mean = 9, sd = 1 }}\n");
    let link = |a: &str, b: &str| format!("[[correlations]]\nbetween = [\"{a}\", \"{b}\"]\nrank = 0.3\n");
    let text = format!(
        "years = 6\n{}{}{}{}{}{}{}{}[results.y]\nformula = \"a + b + c + sum_years(p + q)\"\n",
        normal("a"),
        normal("b"),
        normal("c"),
        path("p"),
        path("q"),
        link("p", "q"),
        link("q.start", "b"),
        "[results.z]\nformula = \"a * 2\"\n"
    );
    let text = text.replace("[results.z]\nformula = \"a * 2\"\n[results.y]", "[results.y]");
    let found = indices(&study(&text), wish(Method::Sobol, 1, 1024));
    let mut names: Vec<Vec<String>> = found.rows.iter().map(|row| row.names.clone()).collect();
    names.sort();
    assert_eq!(names, [vec!["a".to_owned()], vec!["b".into(), "p".into(), "q".into()], vec!["c".into()]]);
    let linked = found.rows.iter().find(|row| row.linked).unwrap();
    assert!(linked.label.contains(" and ") && !linked.is_path);
}

/// Lives of replacements are a group: with an exponential life of mean m the failures within H years are Poisson, H/m in
/// mean and variance, and those after the first life L are Poisson again, so that E Var(N | L) = E(H - L)+ / m =
/// H/m - 1 + exp(-H/m). In a sum, the rest is the first life's own.
#[test]
fn fresh_lives_are_a_group() {
    let model = study(
        "years = 20\n[inputs.life]\nunit = \"yr\"\nexponential = { mean = 6 }\n\
         [results.y]\nformula = \"sum_years(failures(life))\"\n",
    );
    let mean: f64 = 20.0 / 6.0;
    let lives = 1.0 - (1.0 - (-mean).exp()) / mean;
    for method in METHODS {
        let found = indices(&model, wish(method, 12, POINTS));
        let row = |name: &str| found.rows.iter().find(|row| row.names == [name]).unwrap();
        near(value(&found.variance), mean, 0.05 * mean, "variance");
        near(value(&row("lives of replacements").total), lives, 0.04, "total of lives");
        near(value(&row("life").first), 1.0 - lives, 0.05, "first of the life");
        assert_eq!(found.rows.len(), 2);
    }
    let effects =
        indices(&model, IndexWish { shapley: true, ..wish(Method::Random, 1, 4096) }).shapley.unwrap();
    let effect = effects.rows.iter().find(|row| row.names == ["lives of replacements"]).unwrap();
    near(value(&effect.left), lives, 0.08, "left");
}

const PAYBACK: &str = "years = 10\n[inputs.saving]\nunit = \"EUR/yr\"\nnormal = { mean = 100, sd = 20 }\n\
     [inputs.outlay]\nunit = \"EUR\"\nuniform = { min = 700, max = 1200 }\n\
     [workings.each]\nunit = \"EUR\"\nformula = \"saving * 1 [yr] * (1 + 0 * year)\"\n";

/// Years of which some are never: the yes or no of the horizon, or of the threshold, and the same indices as those of the
/// yes-or-no result to the last bit.
#[test]
fn never_has_no_variance() {
    let text = format!(
        "{PAYBACK}[results.years]\nunit = \"yr\"\nformula = \"payback(outlay, each)\"\n\
         [results.paid_back]\nformula = \"pays_back(outlay, each)\"\n"
    );
    let model = study(&text);
    let wish = wish(Method::Sobol, 2, 4096);
    let ask = |result: usize| of_model(&model, result, wish, &Control::default()).unwrap();
    let (years, yes) = (ask(0), ask(1));
    assert_eq!((years.of.as_str(), years.unit.as_str()), ("within the horizon", ""));
    assert!(years.notes.iter().any(|note| note.contains("never")), "{:?}", years.notes);
    assert!(!yes.notes.iter().any(|note| note.contains("never")));
    assert_eq!((&years.rows, &years.variance, years.left_out), (&yes.rows, &yes.variance, 0));
    let within = study(&format!(
        "{PAYBACK}[results.y]\nunit = \"yr\"\nformula = \"payback(outlay, each)\"\nat_most = 9\n"
    ));
    assert_eq!(indices(&within, wish).of, "at most 9 yr");
    // Always paid back: the years themselves.
    let always = PAYBACK.replace("max = 1200", "max = 701").replace("sd = 20", "sd = 0.1");
    let always = study(&format!("{always}[results.y]\nunit = \"yr\"\nformula = \"payback(outlay, each)\"\n"));
    let found = indices(&always, wish);
    assert_eq!((found.of.as_str(), found.unit.as_str()), ("value", "yr"));
    assert!(of_model(&always, 7, wish, &Control::default()).is_err());
}

#[test]
fn runs_without_a_value_are_left_out_by_row() {
    let model = study(
        "[inputs.a]\nnormal = { mean = 2.5, sd = 1 }\n[inputs.b]\nnormal = { mean = 0, sd = 1 }\n\
         [results.y]\nformula = \"ln(a) + b\"\n",
    );
    let found = indices(&model, wish(Method::Random, 2, 4096));
    // P(a < 0) = 0.0062; a row has two values of a.
    let wanted = 4096.0 * 2.0 * 0.006_21;
    near(found.left_out as f64, wanted, 5.0 * wanted.sqrt(), "left out");
    assert!(found.notes.iter().any(|note| note.contains("left out")));
    let constant = indices(
        &study("[inputs.a]\nnormal = { mean = 0, sd = 1 }\n[results.y]\nformula = \"2\"\n"),
        wish(Method::Sobol, 1, 64),
    );
    assert!(constant.rows.is_empty() && constant.notes[0].contains("does not vary"));
}

/// Effects by rearranged strata: none, and why.
#[test]
fn rearranged_strata_have_indices_but_no_effects() {
    let mut text = "[sampling]\nmethod = \"latin hypercube\"\nlinking = \"iman-conover\"\n".to_owned();
    for k in 1..=2 {
        text += &format!("[inputs.x{k}]\nnormal = {{ mean = 0, sd = 1 }}\n");
    }
    text += "[[correlations]]\nbetween = [\"x1\", \"x2\"]\nrank = 0.5\n[results.y]\nformula = \"x1 + x2\"\n";
    let found = indices(&study(&text), IndexWish { shapley: true, ..wish(Method::LatinHypercube, 1, 2048) });
    near(value(&found.rows[0].total), 1.0, 0.1, "the pair is all");
    assert!(found.shapley.is_none());
    assert!(found.notes.iter().any(|note| note.contains("gaussian copula")), "{:?}", found.notes);
}

fn g_inputs() -> Vec<InputSpec> {
    let ends = [("min".to_owned(), Value::Number(0.0)), ("max".to_owned(), Value::Number(1.0))];
    let uniform = Distribution::build("uniform", &ends, None).unwrap();
    (1..=8).map(|k| InputSpec { name: format!("x{k}"), distribution: uniform.clone() }).collect()
}

fn g_columns(method: Method, seed: u64, points: u64) -> Columns {
    let singles: Vec<Vec<usize>> = (0..8).map(|k| vec![k]).collect();
    columns(g_of_eight, &g_inputs(), &singles, Design::new(seed, method, 8, points))
}

fn g_indices(how: Spread, method: Method, seed: u64, points: u64) -> Indices {
    indices_of(&g_columns(method, seed, points), how, Vectors::Widest).unwrap()
}

/// Intervals of totals hold the truth in 90 to 98 of 100 cases: of 150 seeds, 3 to 15 should miss, each interval; 1 to 26
/// may. At a coverage of 0.93 (`examples/index_coverage.rs` over 400 seeds) that fails by chance once in 5,000 for each of
/// the four figures.
#[test]
fn intervals_of_totals_hold_the_truth() {
    const SEEDS: u64 = 150;
    let case = functions().into_iter().find(|c| c["name"].as_str().unwrap().contains("a=[0, 1,")).unwrap();
    let truth = numbers(&case["expect"]["total"]);
    for method in [Method::Random, Method::Sobol] {
        let found: Vec<Indices> = (1..=SEEDS)
            .into_par_iter()
            .map(|seed| {
                let how =
                    if method == Method::Random { Spread::Bootstrap(seed) } else { Spread::Replicates(8) };
                g_indices(how, method, seed, 512)
            })
            .collect();
        for k in [0, 1] {
            let missed = found
                .iter()
                .filter(|indices| {
                    let (low, high) = ends(&indices.groups[k].total);
                    !(low..=high).contains(&truth[k])
                })
                .count();
            assert!((1..=26).contains(&missed), "{method:?}, x{}: {missed} of {SEEDS} missed", k + 1);
        }
    }
}

/// The floor is passed by a first order that is 0 in 5 of 100 cases: of 400 seeds 20 should; 3 to 42 may (five standard
/// deviations). The function is a pure interaction.
#[test]
fn the_floor_is_what_chance_may_show() {
    let function: Function = |x| (2.0 * x[0] - 1.0) * (2.0 * x[1] - 1.0) + 0.2 * x[2];
    let singles = [vec![0], vec![1], vec![2]];
    let above: Vec<[bool; 2]> = (1..=400)
        .into_par_iter()
        .map(|seed| {
            let design = Design::new(seed, Method::Random, 1, 512);
            let made = columns(function, &g_inputs()[..3], &singles, design);
            let found = indices_of(&made, Spread::None, Vectors::Widest).unwrap();
            [0, 1].map(|k| value(&found.groups[k].first).abs() > found.groups[k].floor)
        })
        .collect();
    for k in [0, 1] {
        let count = above.iter().filter(|row| row[k]).count();
        assert!((3..=42).contains(&count), "{count} of 400");
    }
}

/// A result far from 0: the same indices, to rounding. Without centring they drown.
#[test]
fn a_large_mean_changes_nothing() {
    let made = g_columns(Method::Random, 5, 1024);
    let far = |column: &Vec<f64>| column.iter().map(|x| x + 1e6).collect();
    let shifted =
        Columns { a: far(&made.a), b: far(&made.b), swapped: made.swapped.iter().map(far).collect() };
    let [near_0, far] =
        [made, shifted].map(|columns| indices_of(&columns, Spread::None, Vectors::Widest).unwrap());
    for (a, b) in near_0.groups.iter().zip(&far.groups) {
        near(value(&a.first), value(&b.first), 1e-8, "first");
        near(value(&a.total), value(&b.total), 1e-8, "total");
    }
}

/// Threads, blocks and vectors change no byte, effects and bootstrap included.
#[test]
fn the_same_bytes_however_they_are_made() {
    let (ten, _) = pair_and(8);
    let (three, _) = pair_and(1);
    for (model, method) in [(&ten, Method::Sobol), (&three, Method::LatinHypercube), (&three, Method::Random)]
    {
        let plain = IndexWish { shapley: true, bootstrap: true, ..wish(method, 3, 1000) };
        let say = |wish: IndexWish, threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            serde_json::to_string(&pool.install(|| indices(model, wish))).unwrap()
        };
        let first = say(plain, 2);
        assert!(first.contains("\"shapley\":{"), "{first}");
        assert_eq!(first, say(plain, 1));
        assert_eq!(first, say(IndexWish { block: Some(37), ..plain }, 2));
        assert_eq!(first, say(IndexWish { vectors: Vectors::Baseline, ..plain }, 2));
    }
}

#[test]
fn a_loop_can_be_stopped() {
    let (model, _) = pair_and(1);
    let control = Control::default();
    control.cancel.store(true, std::sync::atomic::Ordering::Relaxed);
    assert!(of_model(&model, 0, wish(Method::Sobol, 1, 64), &control).is_err());
    let stale = IndexWish { epoch: 4, ..wish(Method::Sobol, 1, 64) };
    assert!(of_model(&model, 0, stale, &Control::default()).is_err());
}
