//! Changes, steps and tables by year, against closed forms.
//!
//! A statistical test allows five standard errors of each figure: 6e-7 by chance, so about 1e-5 for a course of 20 years.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

mod naive;

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use naive::sample::{Laid, draw, model_of, model_of_good, run_all};
use payspread::analysis::{Answers, Figure, Lever, Options, appraise};
use payspread::engine::program::Program;
use payspread::engine::run::Control;
use payspread::model::base::base_values;
use payspread::model::{Model, read_beside};
use payspread::study::Beside;
use statrs::distribution::{ContinuousCDF, Normal};

const RUNS: usize = 20_000;
const HEAD: &str = "title = \"t\"\ncurrency = \"EUR\"\nprices = \"real\"\nfirst_year = 2027\nyears = 20\n\
                    [sampling]\nmethod = \"random\"\nruns = 20_000\n[results.r]\nformula = \"1\"\n";

fn model(body: &str) -> Model {
    model_of(&format!("{HEAD}{body}")).unwrap_or_else(|errors| panic!("{errors}"))
}

/// Values by year of an input, path or working over runs, in base units.
fn by_year(body: &str, name: &str) -> Vec<Vec<f64>> {
    of_model(&model(body), name, 256)
}

fn of_model(model: &Model, name: &str, block: usize) -> Vec<Vec<f64>> {
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let laid = Laid::new(model, &plan, &BTreeSet::new());
    let program = Program::of_runs(&laid.low.graph, &laid.sheet.nodes(name));
    run_all(&program, &laid.leaves(&draw(&plan, 0, RUNS), RUNS), RUNS, 0, block)
}

/// Values by year in the base case.
fn base(body: &str, name: &str) -> Vec<f64> {
    let model = model(body);
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let laid = Laid::new(&model, &plan, &BTreeSet::new());
    let values = base_values(&laid.low, &model, &plan);
    laid.sheet.nodes(name).iter().map(|id| values[id.index()]).collect()
}

fn has_means(columns: &[Vec<f64>], wanted: impl Fn(usize) -> f64) {
    assert_eq!(columns.len(), 20);
    for (t, x) in columns.iter().enumerate() {
        let n = x.len() as f64;
        let mean = x.iter().sum::<f64>() / n;
        let sd = (x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let within = 5.0 * sd / n.sqrt() + 1e-12;
        assert!((mean - wanted(t)).abs() <= within, "year {t}: {mean} for {}", wanted(t));
    }
}

/// Years 2028 to 2046 with the hazard h in each: P(Y by year t) = 1 - (1-h)^t.
fn hazard(h: f64) -> String {
    let years: Vec<String> = (0..40).map(|k| (2028 + k).to_string()).collect();
    let weights: Vec<String> = (0..40)
        .map(|k| if k < 39 { h * (1.0 - h).powi(k) } else { (1.0 - h).powi(39) })
        .map(|w| format!("{w}"))
        .collect();
    format!("{{ discrete = {{ values = [{}], weights = [{}] }} }}", years.join(", "), weights.join(", "))
}

/// E x (1 - c (1 - (1-h)^t) (1 - E s)), with independent x, coming, year and factor.
#[test]
fn mean_of_an_input_that_is_scaled() {
    let body = format!(
        "[inputs.x]\nuniform = {{ min = 8, max = 12 }}\n\
         changes = [ {{ chance = 0.35, year = {}, scale = {{ uniform = {{ min = 0.3, max = 0.7 }} }} }} ]\n",
        hazard(0.2)
    );
    has_means(&by_year(&body, "x"), |t| 10.0 * (1.0 - 0.35 * (1.0 - 0.8_f64.powi(t as i32)) * 0.5));
}

/// A new value, an amount added, each with the same closed form; the second after the first.
#[test]
fn mean_of_an_input_that_is_set_and_added_to() {
    let hazard = hazard(0.1);
    let body = format!(
        "[inputs.x]\nnormal = {{ mean = 10, sd = 1 }}\nchanges = [\n\
         {{ year = {hazard}, to = {{ normal = {{ mean = 4, sd = 1 }} }} }},\n\
         {{ chance = 0.6, year = 2032, add = {{ uniform = {{ min = 1, max = 3 }} }} }} ]\n"
    );
    has_means(&by_year(&body, "x"), |t| {
        let set = 1.0 - 0.9_f64.powi(t as i32);
        10.0 * (1.0 - set) + 4.0 * set + if t >= 5 { 0.6 * 2.0 } else { 0.0 }
    });
}

/// A walk capped with chance c: E min(X, k) = m Phi((ln k - mu - v)/sqrt v) + k (1 - Phi((ln k - mu)/sqrt v)) of a
/// lognormal X of mean m, with mu = ln m - v/2; at least k is m + k less that.
#[test]
fn mean_of_a_capped_walk() {
    let path = "[paths.x]\nstart = 0.1\nprocess = \"random walk\"\nvolatility = 0.1\ngrowth = 0.02\n";
    let unit = Normal::new(0.0, 1.0).unwrap();
    let least = |t: usize, k: f64| {
        let (m, v) = (0.1 * 1.02_f64.powi(t as i32), 0.01 * t as f64);
        let at = (k.ln() - m.ln() + v / 2.0) / v.sqrt();
        (m, m * unit.cdf(at - v.sqrt()) + k * (1.0 - unit.cdf(at)))
    };
    let capped = format!("{path}changes = [ {{ chance = 0.4, year = 2031, at_most = 0.11 }} ]\n");
    has_means(&by_year(&capped, "x"), |t| match t {
        0..4 => 0.1 * 1.02_f64.powi(t as i32),
        _ => 0.6 * least(t, 0.11).0 + 0.4 * least(t, 0.11).1,
    });
    let held = format!("{path}changes = [ {{ chance = 0.4, year = 2031, at_least = 0.11 }} ]\n");
    has_means(&by_year(&held, "x"), |t| match t {
        0..4 => 0.1 * 1.02_f64.powi(t as i32),
        _ => 0.6 * least(t, 0.11).0 + 0.4 * (least(t, 0.11).0 + 0.11 - least(t, 0.11).1),
    });
}

/// A path that is laid for its cap draws what it draws without: where the cap is far off, the same bits.
#[test]
fn a_laid_path_keeps_its_draws() {
    let path = "[paths.x]\nstart = { uniform = { min = 1, max = 2 } }\nprocess = \"mean reverting\"\nhalf_life = 3\nvolatility = 0.2\n";
    let plain = by_year(path, "x");
    let laid = by_year(&format!("{path}changes = [ {{ chance = 0.5, year = 2030, at_most = 1e9 }} ]\n"), "x");
    assert_eq!(plain, laid);
}

/// In the order of the list, not of the years.
#[test]
fn changes_act_in_their_order() {
    let cases = [
        ("{ year = 2028, add = 2 }, { year = 2028, scale = 3 }", [10.0, 36.0, 36.0]),
        ("{ year = 2028, scale = 3 }, { year = 2028, add = 2 }", [10.0, 32.0, 32.0]),
        ("{ year = 2028, at_most = 5 }, { year = 2029, add = 1 }", [10.0, 5.0, 6.0]),
        ("{ year = 2029, add = 1 }, { year = 2028, at_most = 5 }", [10.0, 5.0, 5.0]),
        ("{ year = 2028, at_least = 12 }, { year = 2029, at_most = 11 }", [10.0, 12.0, 11.0]),
        ("{ year = 2029, scale = 2 }, { year = 2028, to = 5 }", [10.0, 5.0, 5.0]),
        ("{ year = 2028, to = 5 }, { year = 2029, scale = 2 }", [10.0, 5.0, 10.0]),
        ("{ chance = 0, year = 2028, to = 5 }, { chance = 1, year = 2029.9, add = -1 }", [10.0, 10.0, 9.0]),
    ];
    for (changes, wanted) in cases {
        for body in [
            format!("[inputs.x]\nvalue = 10\nchanges = [ {changes} ]\n"),
            format!("[inputs.x]\nchoice = [10, 20]\nchanges = [ {changes} ]\n"),
            format!("[paths.x]\nstart = 10\nprocess = \"steady growth\"\nchanges = [ {changes} ]\n"),
        ] {
            assert_eq!(base(&body, "x")[..3], wanted, "{body}");
            assert_eq!(by_year(&body, "x")[2][7], wanted[2], "{body}");
        }
    }
}

/// Amounts are in the input's unit, differences of temperatures in kelvin; months keep their shape.
#[test]
fn changes_are_in_the_unit_of_what_changes() {
    let close = |got: f64, wanted: f64| assert!((got - wanted).abs() < 1e-12, "{got} for {wanted}");
    let cents = base("[inputs.x]\nunit = \"ct\"\nvalue = 10\nchanges = [ { year = 2028, add = 2 } ]\n", "x");
    close(cents[0], 0.10);
    close(cents[1], 0.12);
    let path = "[paths.x]\nunit = \"ct\"\nstart = 10\nprocess = \"steady growth\"\nchanges = [ { year = 2028, at_most = 8 } ]\n";
    close(base(path, "x")[1], 0.08);
    let cold = "[inputs.x]\nunit = \"degC\"\nvalue = 10\nchanges = [ { year = 2028, add = 2 } ]\n";
    let warmer = base(&format!("{cold}[workings.w]\nunit = \"K\"\nformula = \"x - 10 [degC]\"\n"), "w");
    close(warmer[1], 2.0);
    let months = "[inputs.x]\nmonthly = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]\nchanges = [ { year = 2028, at_most = 6 } ]\n";
    let sums = base(&format!("{months}[workings.w]\nformula = \"sum_months(x)\"\n"), "w");
    assert_eq!(sums[..2], [78.0, 57.0]);
}

/// P(heat pump in year t) = 1/4 + 3/4 c P(Y <= t); the other way round is a no.
#[test]
fn labels_differ_by_year() {
    let body = "[inputs.boiler]\nlabels = [\"gas\", \"heat pump\"]\nweights = [3, 1]\n\
         changes = [ { chance = 0.4, year = { discrete = { values = [2029, 2031], weights = [1, 3] } }, to = \"heat pump\" } ]\n\
         [workings.w]\nformula = 'if(boiler == \"heat pump\", 1, 0)'\n";
    has_means(&by_year(body, "w"), |t| {
        let come = [0.0, 0.25, 1.0][usize::from(t >= 2) + usize::from(t >= 4)];
        0.25 + 0.75 * 0.4 * come
    });
    assert_eq!(base(body, "w"), vec![0.0; 20]);
    let choice = "[inputs.car]\nchoice = [\"none\", \"small\", \"large\"]\nchanges = [ { year = 2030, to = \"small\" } ]\n\
         [workings.w]\nformula = 'if(car == \"small\", 1, 0)'\n";
    assert_eq!(base(choice, "w")[..5], [0.0, 0.0, 0.0, 1.0, 1.0]);
}

/// In the base case a change has come if its chance is at least one half, at the mode of its year and of its effect.
#[test]
fn the_base_case_has_what_is_likely() {
    for (chance, comes) in [(0.49, false), (0.5, true), (0.9, true)] {
        let changes = format!(
            "changes = [ {{ chance = {chance}, year = {{ triangular = {{ min = 2028, mode = 2030, max = 2040 }} }}, \
             EFFECT = {{ triangular = {{ min = 0.1, mode = 0.4, max = 0.9 }} }} }} ]\n"
        );
        for (effect, after) in
            [("scale", 4.0), ("to", 0.4), ("add", 10.4), ("at_most", 0.4), ("at_least", 10.0)]
        {
            let changes = changes.replace("EFFECT", effect);
            for head in ["[inputs.x]\nvalue = 10\n", "[paths.x]\nstart = 10\nprocess = \"steady growth\"\n"] {
                let x = base(&format!("{head}{changes}"), "x");
                assert_eq!(x[2], 10.0);
                assert_eq!(x[3], if comes { after } else { 10.0 }, "{effect} {chance} {head}");
            }
        }
    }
}

/// Each step holds from its year on until the next.
#[test]
fn steps_hold_until_the_next() {
    let body = "[paths.x]\nstart = { uniform = { min = 9, max = 11 } }\nprocess = \"steps\"\n\
                steps = [ { year = 2029, to = { uniform = { min = 1, max = 3 } } }, { year = 2031, scale = 2 }, { year = 2032, to = 0 } ]\n";
    has_means(&by_year(body, "x"), |t| [10.0, 10.0, 2.0, 2.0, 4.0].get(t).copied().unwrap_or(0.0));
    assert_eq!(base(body, "x")[..6], [10.0, 10.0, 2.0, 2.0, 4.0, 0.0]);
}

fn answers(text: &str) -> Answers {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/good/study.toml");
    let (made, found) = read_beside(text, &Beside::study(&beside));
    let model = made.unwrap_or_else(|| panic!("{found:?}")).1;
    appraise(&model, Options::of(&model), &Control::default()).unwrap()
}

/// Five years and a result of the tables of `tests/good/prices.csv`.
fn with_prices(path: &str) -> String {
    format!(
        "title = \"t\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 5\n[sampling]\nruns = 1024\n\
         [inputs.heat]\nuniform = {{ min = 900, max = 1100 }}\n[paths.price]\n{path}\n\
         [results.cost]\nformula = \"heat * sum_years(price)\"\n"
    )
}

/// Without weights a scenario is a matter of judgement: each is answered as a study that knows its column, bit for bit,
/// and the figures of the results are those of the base scenario alone.
#[test]
fn scenarios_without_weights_are_never_pooled() {
    let told = answers(&with_prices("process = \"scenarios\"\nfile = \"prices.csv\"\nbase = \"mid\""));
    assert_eq!(told.choices.len(), 3);
    for (scenario, choice) in ["low", "mid", "high"].iter().zip(&told.choices) {
        assert_eq!((choice.choice.as_str(), choice.value.as_str()), ("price.scenario", *scenario));
        assert_eq!(choice.is_base, *scenario == "mid");
        let known = format!("process = \"years\"\nfile = \"prices.csv\"\ncolumn = \"{scenario}\"");
        let alone = answers(&with_prices(&known));
        assert_eq!(choice.results, alone.results, "{scenario}");
        if choice.is_base {
            assert_eq!(told.results, alone.results);
        }
    }
    // Without a base it is the first.
    let first = answers(&with_prices("process = \"scenarios\"\nfile = \"prices.csv\""));
    assert!(first.choices[0].is_base && first.choices[0].value == "low");
}

/// With weights one of them in each run: shares 1/8, 5/8, 2/8. Of 1,024 Sobol points in 8 replicates each interval of a
/// width of k/128 holds its share of them exactly.
#[test]
fn scenarios_with_weights_have_their_shares() {
    let path = "process = \"scenarios\"\nfile = \"prices.csv\"\nweights = [1, 5, 2]";
    let mut text =
        with_prices(path).replace("runs = 1024", "runs = 1024\nmethod = \"sobol\"\nreplicates = 8");
    for (scenario, value) in [("low", 0.46), ("mid", 0.63), ("high", 0.88)] {
        text += &format!("[results.{scenario}]\nformula = 'if(price.scenario == \"{scenario}\", 1, 0)'\n");
        text += &format!(
            "[results.{scenario}_sum]\nformula = 'if(abs(sum_years(price) - {value}) < 1e-9, 1, 0)'\n"
        );
    }
    let told = answers(&text);
    let mean = |name: &str| {
        let result = told.results.iter().find(|r| r.name == name).unwrap();
        result.mean.as_ref().unwrap().value.number().unwrap()
    };
    for (scenario, share) in [("low", 0.125), ("mid", 0.625), ("high", 0.25)] {
        assert_eq!(mean(scenario), share, "{scenario}");
        assert_eq!(mean(&format!("{scenario}_sum")), share, "{scenario}");
    }
    assert!(told.choices.is_empty());
    // The base is the first of the largest weight.
    assert_eq!(told.results.iter().find(|r| r.name == "mid").unwrap().base, Figure::Number(1.0));
}

/// A scenario moves the result in the tornado as a whole: low and high columns, heat at 1000.
#[test]
fn a_scenario_is_moved_as_one() {
    let told = answers(&with_prices("process = \"scenarios\"\nfile = \"prices.csv\"\nweights = [1, 5, 2]"));
    let tornado = told.tornado.as_ref().unwrap();
    let row =
        tornado.rows.iter().find(|r| r.name == "price.scenario").unwrap_or_else(|| panic!("{tornado:?}"));
    let ends = [row.low.number().unwrap(), row.high.number().unwrap()];
    assert!((ends[0] - 460.0).abs() < 1e-9 && (ends[1] - 880.0).abs() < 1e-9, "{ends:?}");
}

/// A table whose first value is 0 has its values.
#[test]
fn a_table_may_begin_with_nothing() {
    let told = answers(&with_prices("process = \"years\"\nvalues = [0, 1, 2, 0, 4]"));
    assert_eq!(told.results[0].base, Figure::Number(7000.0));
    let rest = vec!["0"; 15].join(", ");
    let body = format!("[paths.x]\nprocess = \"years\"\nvalues = [0, 1, 2, 0, -4, {rest}]\n");
    assert_eq!(base(&body, "x")[..5], [0.0, 1.0, 2.0, 0.0, -4.0]);
    assert_eq!(by_year(&body, "x")[4][9], -4.0);
}

fn at(lever: &Lever) -> f64 {
    match lever {
        Lever::At(x) => *x,
        other => panic!("{other:?}"),
    }
}

/// Moved as a lever, an input has its value of the first year moved, and the changes act upon that:
/// x (18 + 2/2) against 190 is 10; with 5 added from the third year on, 20 x + 90 against 190 is 5. A table is scaled as a
/// whole: 2, 4, 6 (18 times) is 57 starts, against 114 is a start of 2.
#[test]
fn a_lever_is_the_value_of_the_first_year() {
    let result = "[results.r]\nformula = \"sum_years(x) - 190\"\nat_least = 0\n[[break_even]]\nof = \"x\"\nfrom = 0\nto = 100\n";
    let head = HEAD.replace("[results.r]\nformula = \"1\"\n", "").replace("20_000", "1024");
    for value in ["value = 8", "uniform = { min = 5, max = 12 }", "choice = [8, 9]"] {
        for (change, wanted) in [("year = 2045, scale = 0.5", 10.0), ("year = 2029, add = 5", 5.0)] {
            let told = answers(&format!("{head}[inputs.x]\n{value}\nchanges = [ {{ {change} }} ]\n{result}"));
            let got = at(&told.break_even[0].base);
            assert!((got - wanted).abs() < 1e-6, "{value}, {change}: {got}");
        }
    }
    let rest = vec!["6"; 18].join(", ");
    let result = result.replace("190", "114");
    let told = answers(&format!("{head}[paths.x]\nprocess = \"years\"\nvalues = [2, 4, {rest}]\n{result}"));
    let got = at(&told.break_even[0].base);
    assert!((got - 2.0).abs() < 1e-6, "{got}");
}

/// The same bits in blocks of any size.
#[test]
fn blocks_do_not_matter() {
    for (study, name) in
        [("changes", "saving"), ("tables", "saving"), ("money", "bill"), ("money-nominal", "saving")]
    {
        let model = model_of_good(study);
        let bits = |block| {
            let columns = of_model(&model, name, block);
            columns.concat().into_iter().map(f64::to_bits).collect::<Vec<_>>()
        };
        assert_eq!(bits(97), bits(4096), "{study}");
    }
}
