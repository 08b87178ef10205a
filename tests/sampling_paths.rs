//! Yearly paths against known answers: the law as stated, and by runs.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::sampling::dependence::{normal_from_rank, rank_from_normal};
use payspread::sampling::{
    ChangeSpec, Design, Distribution, Drift, Link, Method, PathSpec, Plan, Process, Quantity, Scratch, Value,
};
use serde_json::Value as Json;

const Z90: f64 = 1.2815515655446004;
const METHODS: [Method; 3] = [Method::Random, Method::LatinHypercube, Method::Sobol];

fn number(json: &Json) -> f64 {
    json.as_f64().unwrap()
}

fn numbers(json: &Json) -> Vec<f64> {
    json.as_array().unwrap().iter().map(number).collect()
}

fn cases() -> Vec<Json> {
    let json: Json = serde_json::from_str(include_str!("oracles/paths.json")).unwrap();
    json["cases"].as_array().unwrap().clone()
}

fn case(name: &str) -> Json {
    cases().into_iter().find(|c| c["name"] == name).unwrap()
}

fn quantity(json: &Json) -> Quantity {
    let Some(map) = json.as_object() else { return Quantity::Known(number(json)) };
    let (kind, parameters) = map.iter().next().unwrap();
    let parameters: Vec<(String, Value)> = parameters
        .as_object()
        .unwrap()
        .iter()
        .map(|(k, v)| (k.clone(), v.as_f64().map_or_else(|| Value::List(numbers(v)), Value::Number)))
        .collect();
    Quantity::Uncertain(Distribution::build(kind, &parameters, None).unwrap())
}

fn process(inputs: &Json) -> Process {
    let volatility = inputs.get("volatility").map_or(0.2, number);
    match inputs["process"].as_str().unwrap() {
        "steady" => Process::SteadyGrowth,
        "random walk" => Process::RandomWalk { volatility },
        "mean reverting" => Process::MeanReverting { half_life: number(&inputs["half_life"]), volatility },
        other => panic!("{other}"),
    }
}

fn spec(name: &str, inputs: &Json) -> PathSpec {
    let changes = inputs.get("changes").and_then(Json::as_array).cloned().unwrap_or_default();
    PathSpec {
        name: name.to_owned(),
        years: inputs["years"].as_u64().unwrap_or(20) as usize,
        first_year: inputs.get("first_year").and_then(Json::as_i64).unwrap_or(2027),
        start: Quantity::Known(inputs.get("start").map_or(1.0, number)),
        level: inputs.get("level").map(number),
        growth: inputs.get("growth").map_or(Quantity::Known(0.0), quantity),
        drift: if inputs.get("drift").is_some_and(|d| d == "median") { Drift::Median } else { Drift::Mean },
        process: process(inputs),
        changes: changes
            .iter()
            .map(|c| ChangeSpec {
                chance: number(&c["chance"]),
                year: quantity(&c["year"]),
                scale: quantity(&c["scale"]),
            })
            .collect(),
    }
}

const RUNS: usize = 20_000;

/// Columns named `name` of a plan's first 20,000 runs, by year.
fn columns(plan: &Plan, name: &str) -> Vec<Vec<f64>> {
    let mut out = vec![0.0; plan.columns().len() * RUNS];
    plan.draw(&[], 0, RUNS, &mut out, RUNS, &mut Scratch::new());
    let named = plan.columns().iter().enumerate().filter(|(_, c)| c.name == name);
    named.map(|(c, _)| out[c * RUNS..(c + 1) * RUNS].to_vec()).collect()
}

fn plan(paths: &[PathSpec], links: &[Link], method: Method) -> Plan {
    Plan::new(&[], paths, links, Design::new(2027, method, 8, RUNS as u64), &[]).unwrap()
}

fn mean_and_sd(x: &[f64]) -> (f64, f64) {
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    (mean, (x.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0)).sqrt())
}

fn quantile(x: &[f64], p: f64) -> f64 {
    let mut sorted = x.to_vec();
    sorted.sort_by(f64::total_cmp);
    let h = (sorted.len() - 1) as f64 * p;
    let i = h.floor() as usize;
    sorted[i] + (h - h.floor()) * (sorted[i + 1] - sorted[i])
}

fn close(what: &str, got: f64, expect: f64, rel: f64) {
    assert!((got - expect).abs() <= rel * expect.abs() + 1e-13, "{what}: {got}, expected {expect}");
}

const SHOCKED: [&str; 4] = [
    "random walk, growth is growth of the mean",
    "random walk, growth is growth of the median",
    "mean reverting around its start",
    "mean reverting to another level",
];

#[test]
fn every_case_is_dealt_with() {
    let others = [
        "uncertain growth drawn once a run",
        "tariff reform at a random year",
        "two paths with linked shocks",
        "memory of a mean reverting path",
        // In tests/money.rs.
        "real and nominal, 0.06 and 0.02",
    ];
    for case in cases() {
        let name = case["name"].as_str().unwrap();
        assert!(SHOCKED.contains(&name) || others.contains(&name), "{name}");
    }
    assert_eq!(cases().len(), SHOCKED.len() + others.len());
}

#[test]
fn the_law_as_stated() {
    for name in SHOCKED {
        let case = case(name);
        let path = spec("price", &case["inputs"]);
        let (expect, rel) = (&case["expect"], number(&case["tolerance"]["closed_form_rel"]));
        let start = path.start.base();
        let variances = path.process.deviations().variances(path.years);
        let base = path.base_course(start, path.growth.base());
        let mean = path.mean_course(start);
        let b = if path.drift == Drift::Mean { 0.5 } else { 0.0 };
        for t in 0..path.years {
            let (v, m) = (variances[t], start * mean[t]);
            let median = start * base[t] * (-b * v).exp();
            let at = |key: &str| numbers(&expect[key])[t];
            close(&format!("{name} mean {t}"), m, at("mean"), rel);
            close(&format!("{name} sd {t}"), m * v.exp_m1().sqrt(), at("sd"), rel);
            close(&format!("{name} P50 {t}"), median, at("P50"), rel);
            close(&format!("{name} P10 {t}"), median * (-Z90 * v.sqrt()).exp(), at("P10"), rel);
            close(&format!("{name} P90 {t}"), median * (Z90 * v.sqrt()).exp(), at("P90"), rel);
        }
    }
}

#[test]
fn runs_follow_the_law() {
    for (name, method) in SHOCKED.iter().flat_map(|n| METHODS.map(|m| (n, m))) {
        let case = case(name);
        let path = spec("price", &case["inputs"]);
        let start = path.start.base();
        let courses = columns(&plan(&[path], &[], method), "price.course");
        let (expect, tolerance) = (&case["expect"], &case["tolerance"]);
        for (t, course) in courses.iter().enumerate() {
            let x: Vec<f64> = course.iter().map(|c| start * c).collect();
            let at = |key: &str| numbers(&expect[key])[t];
            let tol = |key: &str| number(&tolerance[key]);
            let what = format!("{name} {method:?} year {t}");
            let (mean, sd) = mean_and_sd(&x);
            close(&what, mean, at("mean"), tol("mean_rel"));
            close(&what, sd, at("sd"), tol("sd_rel"));
            close(&what, quantile(&x, 0.1), at("P10"), tol("P10_P90_rel"));
            close(&what, quantile(&x, 0.5), at("P50"), tol("P50_rel"));
            close(&what, quantile(&x, 0.9), at("P90"), tol("P10_P90_rel"));
        }
    }
}

#[test]
fn uncertain_growth_is_drawn_once_a_run() {
    let case = case("uncertain growth drawn once a run");
    let (expect, tolerance) = (&case["expect"], &case["tolerance"]);
    let path = spec("price", &case["inputs"]);
    let start = path.start.base();
    let rel = number(&tolerance["closed_form_rel"]);
    // E[X_t^2] is the mean of a path of twice the years.
    let mut twice = path.clone();
    twice.years = 2 * path.years;
    let powers = twice.mean_course(start);
    let Quantity::Uncertain(growth) = &path.growth else { panic!() };
    for t in 0..path.years {
        let at = |key: &str| numbers(&expect[key])[t];
        let what = format!("year {t}");
        close(&what, start * powers[t], at("mean"), rel);
        let sd = start * (powers[2 * t] - powers[t] * powers[t]).max(0.0).sqrt();
        assert!((sd - at("sd")).abs() <= 1e-8 * at("sd") + 1e-10, "{what} {sd}");
        for (key, p) in [("P10", 0.1), ("P90", 0.9)] {
            let x = start * (1.0 + growth.quantile_at(p)).powi(t as i32);
            close(&what, x, at(key), rel);
        }
    }
    for method in METHODS {
        let courses = columns(&plan(std::slice::from_ref(&path), &[], method), "price.course");
        for (t, course) in courses.iter().enumerate() {
            let at = |key: &str| numbers(&expect[key])[t];
            let x: Vec<f64> = course.iter().map(|c| start * c).collect();
            let (mean, sd) = mean_and_sd(&x);
            close("mean", mean, at("mean"), number(&tolerance["mean_rel"]));
            close("sd", sd, at("sd"), number(&tolerance["sd_rel"]));
            close("P10", quantile(&x, 0.1), at("P10"), number(&tolerance["P10_P90_rel"]));
            close("P90", quantile(&x, 0.9), at("P90"), number(&tolerance["P10_P90_rel"]));
        }
    }
}

#[test]
fn a_change_at_a_random_year() {
    let case = case("tariff reform at a random year");
    let (expect, tolerance) = (&case["expect"], &case["tolerance"]);
    let path = spec("tariff", &case["inputs"]);
    let start = path.start.base();
    let rel = number(&tolerance["closed_form_rel"]);
    let mean = path.mean_course(start);
    let base = path.base_course(start, 0.0);
    for t in 0..path.years {
        close("mean", start * mean[t], numbers(&expect["mean"])[t], rel);
        close(
            "chance",
            path.chance_by(&path.changes[0], t),
            numbers(&expect["chance_changed_by_year"])[t],
            rel,
        );
        assert_eq!(base[t], 1.0, "a chance of 0.35 is not in the base course");
    }
    for method in METHODS {
        let plan = plan(std::slice::from_ref(&path), &[], method);
        let (years, scales) = (columns(&plan, "tariff.change1.year"), columns(&plan, "tariff.change1.scale"));
        for (t, course) in columns(&plan, "tariff.course").iter().enumerate() {
            let x: Vec<f64> = course.iter().map(|c| start * c).collect();
            let (m, sd) = mean_and_sd(&x);
            close("mean", m, numbers(&expect["mean"])[t], number(&tolerance["mean_rel"]));
            close("sd", sd, numbers(&expect["sd"])[t], number(&tolerance["sd_rel"]));
            let changed = course.iter().filter(|c| **c != 1.0).count() as f64 / RUNS as f64;
            let gap = (changed - numbers(&expect["chance_changed_by_year"])[t]).abs();
            assert!(gap <= number(&tolerance["chance_abs"]), "{method:?} {t}: {changed}");
            // The traced columns explain every run.
            for (i, c) in course.iter().enumerate() {
                let come = years[0][i] <= 2027.0 + t as f64;
                assert_eq!(*c, if come { scales[0][i] } else { 1.0 });
            }
        }
        assert!(years[0].contains(&f64::INFINITY));
    }
}

#[test]
fn likely_changes_are_in_the_base_course() {
    let mut path = spec("tariff", &case("tariff reform at a random year")["inputs"]);
    path.changes[0].chance = 0.5;
    let base = path.base_course(0.07, 0.0);
    // Mode of the year: the first of three equal weights, 2029; of the uniform scale: its middle, 0.6.
    assert_eq!(base[1], 1.0);
    assert!((base[2] - 0.6).abs() < 1e-15 && (base[7] - 0.6).abs() < 1e-15);
}

#[test]
fn linked_shocks() {
    let case = case("two paths with linked shocks");
    let inputs = &case["inputs"];
    let (expect, tolerance) = (&case["expect"], &case["tolerance"]);
    let of = |key: &str| {
        let mut one = inputs[key].clone();
        one["years"] = inputs["years"].clone();
        spec(key, &one)
    };
    let (first, second) = (of("first"), of("second"));
    let r = normal_from_rank(number(&inputs["rank"]));
    let by_year = numbers(&expect["correlation_of_logs_from_second_year"]);
    let ranks = numbers(&expect["rank_correlation_from_second_year"]);
    for (i, (normal, rank)) in by_year.iter().zip(&ranks).enumerate() {
        let got = first.process.deviations().correlation(&second.process.deviations(), r, i + 1);
        assert!((got - normal).abs() <= number(&tolerance["closed_form_abs"]), "year {}: {got}", i + 1);
        assert!((rank_from_normal(got) - rank).abs() <= number(&tolerance["closed_form_abs"]));
    }
    for method in METHODS {
        let plan = plan(
            &[first.clone(), second.clone()],
            &[Link::from_rank("second", "first", number(&inputs["rank"]))],
            method,
        );
        let (a, b) = (columns(&plan, "first.course"), columns(&plan, "second.course"));
        for (i, expect) in by_year.iter().enumerate() {
            let gap = (correlation(&logs(&a[i + 1]), &logs(&b[i + 1])) - expect).abs();
            assert!(gap <= number(&tolerance["abs_with_20000_runs"]), "{method:?} year {}: {gap}", i + 1);
        }
    }
}

#[test]
fn memory() {
    let case = case("memory of a mean reverting path");
    let (inputs, expect) = (&case["inputs"], number(&case["expect"]["correlation_of_logs"]));
    let path = spec("price", inputs);
    let (t, lag) =
        (inputs["year_index"].as_u64().unwrap() as usize, inputs["lag"].as_u64().unwrap() as usize);
    let got = path.process.deviations().memory(t, lag);
    assert!((got - expect).abs() <= number(&case["tolerance"]["closed_form_abs"]), "{got}");
    for method in METHODS {
        let courses = columns(&plan(std::slice::from_ref(&path), &[], method), "price.course");
        let gap = (correlation(&logs(&courses[t]), &logs(&courses[t + lag])) - expect).abs();
        assert!(gap <= number(&case["tolerance"]["abs_with_20000_runs"]), "{method:?} {gap}");
    }
}

/// Independent: mean 1 in every year, year 0 too, and no memory. Mean of 20,000
/// lognormals with volatility 0.1 has a standard error of 0.0007: five of them.
#[test]
fn independent_years_have_mean_one_and_no_memory() {
    let path = PathSpec {
        name: "weather".to_owned(),
        years: 5,
        first_year: 2027,
        start: Quantity::Known(1.0),
        level: None,
        growth: Quantity::Known(0.0),
        drift: Drift::Mean,
        process: Process::Independent { volatility: 0.1 },
        changes: Vec::new(),
    };
    for method in METHODS {
        let courses = columns(&plan(std::slice::from_ref(&path), &[], method), "weather.course");
        for (t, course) in courses.iter().enumerate() {
            let (mean, sd) = mean_and_sd(course);
            assert!((mean - 1.0).abs() < 0.0036, "{method:?} {t} {mean}");
            assert!((sd / 0.01_f64.exp_m1().sqrt() - 1.0).abs() < 0.03, "{method:?} {t} {sd}");
            let next = (t + 1) % courses.len();
            assert!(correlation(course, &courses[next]).abs() < 0.036);
        }
    }
}

/// The bridge: under Sobol the last year of a walk is far better than by hypercube or chance.
#[test]
fn the_bridge_serves_the_last_year() {
    let path = spec("price", &case("random walk, growth is growth of the mean")["inputs"]);
    let error = |method| {
        let squares: f64 = (0..20)
            .map(|seed| {
                let plan =
                    Plan::new(&[], std::slice::from_ref(&path), &[], Design::new(seed, method, 1, 4096), &[])
                        .unwrap();
                let n = 4096;
                let mut out = vec![0.0; plan.columns().len() * n];
                plan.draw(&[], 0, n, &mut out, n, &mut Scratch::new());
                let last = &out[19 * n..20 * n];
                let mean = last.iter().sum::<f64>() / n as f64;
                let expect = 1.01_f64.powi(19);
                (mean - expect) * (mean - expect)
            })
            .sum();
        (squares / 20.0).sqrt()
    };
    let (random, sobol) = (error(Method::Random), error(Method::Sobol));
    assert!(sobol < random / 30.0, "{random} {sobol}");
}

#[test]
fn impossible_paths_are_refused() {
    let good = spec("price", &case("mean reverting around its start")["inputs"]);
    let refused = |change: &dyn Fn(&mut PathSpec)| {
        let mut path = good.clone();
        change(&mut path);
        Plan::new(&[], &[path], &[], Design::new(1, Method::Sobol, 8, 64), &[]).unwrap_err().to_string()
    };
    let walk = |volatility| move |p: &mut PathSpec| p.process = Process::RandomWalk { volatility };
    assert!(refused(&walk(-0.1)).contains("volatility"));
    assert!(refused(&walk(f64::NAN)).contains("volatility"));
    assert!(
        refused(&|p| p.process = Process::MeanReverting { half_life: 0.0, volatility: 0.1 })
            .contains("half life")
    );
    assert!(refused(&|p| p.growth = Quantity::Known(-1.5)).contains("growth"));
    assert!(refused(&|p| p.years = 0).contains("years"));
    let mut longer = good.clone();
    longer.years += 1;
    longer.name = "longer".to_owned();
    let uneven = Plan::new(&[], &[good.clone(), longer], &[], Design::new(1, Method::Sobol, 8, 64), &[]);
    assert!(uneven.unwrap_err().to_string().contains("longer has 21 years"));
    assert!(refused(&|p| p.level = Some(-1.0)).contains("above 0"));
    let error = Plan::new(
        &[],
        &[good],
        &[Link::from_rank("price", "price.start", 0.5)],
        Design::new(1, Method::Sobol, 8, 64),
        &[],
    );
    assert!(error.unwrap_err().to_string().contains("price.start is not uncertain"));
}

fn logs(x: &[f64]) -> Vec<f64> {
    x.iter().map(|v| v.ln()).collect()
}

fn correlation(x: &[f64], y: &[f64]) -> f64 {
    let ((mx, sx), (my, sy)) = (mean_and_sd(x), mean_and_sd(y));
    let sum: f64 = x.iter().zip(y).map(|(a, b)| (a - mx) * (b - my)).sum();
    sum / ((x.len() - 1) as f64 * sx * sy)
}
