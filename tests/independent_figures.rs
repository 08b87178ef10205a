//! The studies against figures that separate programs in Python made from the study files and formulas of their own
//! (`tests/independent`): base cases to nine digits, runs within five standard errors of the two samples together.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

mod naive;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use naive::sample::model_of;
use payspread::engine::program::Program;
use payspread::engine::run::{Control, Job, keep};
use payspread::formula::types::Kind;
use payspread::model::base::base_values;
use payspread::model::lower::{Lowering, Setting};
use payspread::model::{InputValue, Model};
use payspread::sampling::{Design, Method, Vectors};
use serde_json::Value;

const RUNS: u64 = 65_536;

fn text_of(study: &str) -> String {
    let path = format!("{}/studies/{study}.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).unwrap()
}

fn model(text: &str) -> Model {
    model_of(text).unwrap_or_else(|errors| panic!("{errors}"))
}

fn figures(file: &str) -> Value {
    let path = format!("{}/tests/independent/{file}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// The setting that a heading such as `backup = off-peak electricity` names; none changes nothing.
fn setting(model: &Model, heading: &str) -> Setting<'static> {
    let Some((name, value)) = heading.split_once(" = ") else { return Setting::default() };
    let input = model.inputs.iter().find(|i| i.about.name == name).unwrap();
    assert!(matches!(input.value, InputValue::Choice(_)), "{name} is no choice");
    let value = match &input.ty.kind {
        Kind::Label(labels) => labels.iter().position(|l| l == value).unwrap() as f64,
        _ => value.parse().unwrap(),
    };
    Setting { values: BTreeMap::from([(name.to_owned(), value)]), formulas: None }
}

/// Columns of the results (in base units: EUR, kWh, kg, yr), and of cumulative cash by year behind the payback.
struct Sample {
    results: BTreeMap<String, Vec<f64>>,
    cash: Vec<Vec<f64>>,
}

fn sample(model: &Model, setting: &Setting<'_>, method: Method) -> Sample {
    let design = Design::new(model.sampling.seed, method, 8, RUNS);
    let plan = Arc::new(model.plan(design).unwrap());
    let mut low = Lowering::new(model, Arc::clone(&plan), &BTreeSet::new());
    let sheet = low.lay(setting).unwrap();
    let names: Vec<&str> =
        model.results.iter().map(|r| model.workings[r.working].about.name.as_str()).collect();
    let mut wanted: Vec<_> = names.iter().flat_map(|name| sheet.nodes(name)).collect();
    let payback = model.workings.iter().find(|w| w.about.name == "payback").unwrap();
    wanted.extend(low.cumulative_cash(&sheet, &payback.formula).unwrap().unwrap());
    let program = Program::of_runs(&low.graph, &wanted);
    let leaves = &low.leaves;
    let job = Job {
        program: &program,
        plan: &plan,
        leaves,
        n_runs: RUNS,
        block: None,
        epoch: 0,
        vectors: Vectors::Widest,
    };
    let mut columns = keep(job, &Control::default()).unwrap();
    let cash = columns.split_off(names.len());
    Sample { results: names.iter().map(|&name| name.to_owned()).zip(columns).collect(), cash }
}

/// Base case of a study, by name of the working; yes is 1.
fn base(model: &Model, setting: &Setting<'_>) -> BTreeMap<String, Vec<f64>> {
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let mut low = Lowering::new(model, Arc::clone(&plan), &BTreeSet::new());
    let sheet = low.lay(setting).unwrap();
    let values = base_values(&low, model, &plan);
    let of = |name: &str| sheet.nodes(name).iter().map(|id| values[id.index()]).collect();
    model.workings.iter().map(|w| (w.about.name.clone(), of(&w.about.name))).collect()
}

fn number(value: &Value) -> f64 {
    match value {
        Value::Bool(yes) => f64::from(u8::from(*yes)),
        Value::String(never) if never == "never" => f64::INFINITY,
        number => number.as_f64().unwrap(),
    }
}

fn check_base(what: &str, expected: &Value, got: &BTreeMap<String, Vec<f64>>) {
    let expected = expected.as_object().unwrap();
    assert!(expected.len() >= 7, "{what}");
    for (name, value) in expected {
        let (wanted, got) = (number(value), got[name][0]);
        let fine = wanted == got || (wanted - got).abs() <= 1e-9 * wanted.abs();
        assert!(fine, "{what}: {name} is {got}, worked out apart {wanted}");
    }
}

/// Quantile of type 7 (Hyndman and Fan 1996); of two values of which one is never, the lower.
fn quantile(sorted: &[f64], p: f64) -> f64 {
    let h = p * (sorted.len() - 1) as f64;
    let (low, part) = (h.floor() as usize, h - h.floor());
    let (a, b) = (sorted[low], sorted[(low + 1).min(sorted.len() - 1)]);
    if b == f64::INFINITY { a } else { a + part * (b - a) }
}

/// What the figures can be asked of one column.
struct Column {
    values: Vec<f64>,
    sorted: Vec<f64>,
}

impl Column {
    fn new(values: &[f64]) -> Column {
        assert!(values.iter().all(|x| !x.is_nan()));
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        Column { values: values.to_vec(), sorted }
    }

    fn share(&self, is: impl Fn(f64) -> bool) -> f64 {
        self.values.iter().filter(|&&x| is(x)).count() as f64 / self.values.len() as f64
    }

    fn figure(&self, name: &str) -> f64 {
        let n = self.values.len() as f64;
        let mean = self.values.iter().sum::<f64>() / n;
        match name {
            "mean" => mean,
            "sd" => (self.values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n).sqrt(),
            "share_at_least_zero" | "share_above_zero" => self.share(|x| x >= 0.0),
            "share_at_most_zero" => self.share(|x| x <= 0.0),
            _ => quantile(&self.sorted, name.trim_start_matches('p').parse::<f64>().unwrap() / 100.0),
        }
    }
}

/// Within five standard errors of both samples together. `error` is that of the expected figure, `own` that of ours
/// at worst: what as many independent runs would have.
fn near(what: &str, got: f64, wanted: f64, error: f64, own: f64) {
    let allowed = 5.0 * (error * error + own * own).sqrt();
    assert!((got - wanted).abs() <= allowed, "{what}: {got}, independent runs give {wanted} +- {allowed}");
}

fn near_share(what: &str, got: f64, wanted: f64, error: f64) {
    // A share too small to have been seen often is known to about one run.
    let p = wanted.clamp(1.0 / RUNS as f64, 1.0 - 1.0 / RUNS as f64);
    near(what, got, wanted, error, (p * (1.0 - p) / RUNS as f64).sqrt());
}

fn check_sample(what: &str, expected: &Value, runs: f64, sample: &Sample) {
    // The errors of percentiles and moments shrink with the root of the number of runs.
    let own = |error: f64| error * (runs / RUNS as f64).sqrt();
    let pair = |v: &Value| (number(&v["figure"]), v["error"].as_f64().unwrap_or(0.0));
    let mut checked = 0;
    for (name, wanted) in expected.as_object().unwrap() {
        let what = format!("{what}: {name}");
        if name == "paid_back_by_year" {
            let column = Column::new(&sample.results["payback"]);
            for (t, wanted) in wanted.as_array().unwrap().iter().enumerate() {
                let (figure, error) = pair(wanted);
                near_share(
                    &format!("{what} {}", t + 1),
                    column.share(|x| x <= (t + 1) as f64),
                    figure,
                    error,
                );
            }
            checked += 1;
            continue;
        }
        let column = Column::new(&sample.results[name]);
        if wanted.get("figure").is_some() {
            let (figure, error) = pair(wanted);
            near_share(&what, column.share(|x| x == 1.0), figure, error);
            checked += 1;
            continue;
        }
        for (figure, wanted) in wanted.as_object().unwrap() {
            let what = format!("{what}, {figure}");
            let (wanted, error) = pair(wanted);
            let got = column.figure(figure);
            if wanted == f64::INFINITY {
                assert_eq!(got, wanted, "{what}");
            } else if figure.starts_with("share") {
                near_share(&what, got, wanted, error);
            } else {
                near(&what, got, wanted, error, own(error));
            }
            checked += 1;
        }
    }
    assert!(checked > 10, "{what}: only {checked} figures");
}

#[test]
fn reference_home_by_each_method() {
    let model = model(&text_of("reference-home"));
    let expected = figures("reference_home");
    let list = |v: &Value| -> Vec<f64> { v.as_array().unwrap().iter().map(number).collect() };
    let own = (1e6 / RUNS as f64).sqrt();
    for method in [Method::Random, Method::LatinHypercube, Method::Sobol] {
        let sample = sample(&model, &Setting::default(), method);
        let npv = Column::new(&sample.results["npv"]);
        for (name, wanted) in expected["npv"].as_object().unwrap() {
            let error = |key: &str| number(&wanted[key]);
            let what = format!("{method:?}: npv {name}");
            near(&what, npv.figure(name), error("figure"), error("error"), error("error_of_a_million") * own);
        }
        let paid = &expected["paid_back_by_year"];
        let payback = Column::new(&sample.results["payback"]);
        let errors = list(&paid["error"]);
        for (t, wanted) in list(&paid["figure"]).iter().enumerate() {
            let got = payback.share(|x| x <= (t + 1) as f64);
            near_share(&format!("{method:?}: paid back by {}", t + 1), got, *wanted, errors[t]);
        }
        let mut years = 0;
        for (name, wanted) in expected["cumulative_cash"].as_object().unwrap() {
            let (error, million) = (list(&wanted["error"]), list(&wanted["error_of_a_million"]));
            for (t, figure) in list(&wanted["figure"]).iter().enumerate() {
                let got = Column::new(&sample.cash[t + 1]).figure(name);
                near(
                    &format!("{method:?}: cash {name}, year {}", t + 1),
                    got,
                    *figure,
                    error[t],
                    million[t] * own,
                );
                years += 1;
            }
        }
        assert_eq!(years, 100);
    }
}

#[test]
fn first_look() {
    let model = model(&text_of("first-look"));
    let expected = figures("first_look");
    check_base("first look", &expected["base"], &base(&model, &Setting::default()));
    let carlo = &expected["monte_carlo"];
    let (runs, mut headings) = (number(&carlo["runs"]), 0);
    for (heading, wanted) in carlo.as_object().unwrap().iter().filter(|(_, v)| v.is_object()) {
        let sample = sample(&model, &setting(&model, heading), Method::Sobol);
        check_sample(heading, wanted, runs, &sample);
        headings += 1;
    }
    assert_eq!(headings, 4);
}

#[test]
fn harbour_row_base_case_and_its_choices() {
    let model = model(&text_of("harbour-row"));
    let expected = figures("harbour_row");
    let got = base(&model, &Setting::default());
    check_base("harbour row", &expected["base"], &got);
    for (heading, wanted) in expected["base_choices"].as_object().unwrap() {
        check_base(heading, wanted, &base(&model, &setting(&model, heading)));
    }
    // The first year by month; those by year and month begin with it.
    let names = [
        ("generated", "generated", 1.0),
        ("export before", "export_before", 1.0),
        ("offered", "offered", 1.0),
        ("room", "room", 1.0),
        ("heat wanted", "heat_wanted", 1.0),
        ("diverted", "taken", 1.0),
        ("boiler heat left", "boiler_heat_left", 1.0),
        ("days sufficed, %", "days_sun_sufficed", 100.0),
        ("heat avoided", "heat_avoided", 1.0),
    ];
    let months = expected["base_months"].as_array().unwrap();
    assert_eq!(months.len(), 12);
    for (month, wanted) in months.iter().enumerate() {
        assert_eq!(wanted.as_object().unwrap().len(), names.len());
        for (theirs, ours, scale) in names {
            let (wanted, got) = (number(&wanted[theirs]), got[ours][month] * scale);
            assert!(
                (wanted - got).abs() <= 1e-9 * wanted.abs(),
                "month {month}: {ours} is {got}, not {wanted}"
            );
        }
    }
}

/// The study without one of its two cautions, or both: what a back of an envelope would leave out.
fn without(heading: &str) -> String {
    let mut text = text_of("harbour-row");
    let mut replace = |from: &str, to: &str| {
        assert_eq!(text.matches(from).count(), 1, "{from}");
        text = text.replace(from, to);
    };
    let displaced = heading.contains("displaced") || heading.contains("either");
    let full = heading.contains("full cylinder") || heading.contains("either");
    let per_kwh = if displaced { "(1 - conversion_loss)" } else { "displaced * (1 - conversion_loss)" };
    if full {
        replace("\"offered * room / sqrt(offered * offered + room * room)\"", "\"offered\"");
        let all = format!("\"taken * {per_kwh} + covered * sqrt(covered) * pipes\"");
        replace("\"covered * (heat_wanted + sqrt(covered) * pipes)\"", &all);
    }
    if displaced {
        replace(
            "\"min(1, taken * (displaced * (1 - conversion_loss) / heat_wanted))\"",
            "\"min(1, taken * ((1 - conversion_loss) / heat_wanted))\"",
        );
    }
    text
}

#[test]
fn leaving_out_displacement_and_the_full_cylinder_flatters_the_purchase() {
    let expected = figures("harbour_row");
    let carlo = &expected["monte_carlo"]["without"];
    let mut paybacks = BTreeMap::new();
    for (heading, wanted) in expected["base_without"].as_object().unwrap() {
        let model = model(&without(heading));
        let got = base(&model, &Setting::default());
        check_base(heading, wanted, &got);
        paybacks.insert(heading.clone(), got["payback"][0]);
        let sample = sample(&model, &Setting::default(), Method::Sobol);
        check_sample(heading, &carlo[heading], number(&expected["monte_carlo"]["runs"]), &sample);
    }
    assert_eq!(paybacks.len(), 4);
    // Each left out shortens the payback, both the most.
    let of = |heading: &str| paybacks[heading];
    assert!(of("without either") < of("without 'heat displaced'"));
    assert!(of("without either") < of("without the full cylinder"));
    assert!(
        of("without 'heat displaced'") < of("as it is") && of("without the full cylinder") < of("as it is")
    );
}

#[test]
fn harbour_row_for_each_choice() {
    let model = model(&text_of("harbour-row"));
    let expected = figures("harbour_row");
    let carlo = &expected["monte_carlo"];
    for (heading, wanted) in carlo["choices"].as_object().unwrap() {
        let sample = sample(&model, &setting(&model, heading), Method::LatinHypercube);
        check_sample(heading, wanted, number(&carlo["runs"]), &sample);
    }
    let plain = sample(&model, &Setting::default(), Method::Random);
    check_sample("random", &carlo["without"]["as it is"], number(&carlo["runs"]), &plain);
}
