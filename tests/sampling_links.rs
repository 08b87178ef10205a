//! Dependence against known answers: the closed forms, and shares of runs.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::sampling::dependence::{
    normal_from_kendall, normal_from_rank, possible_range, rank_from_normal,
};
use payspread::sampling::{Design, Distribution, InputSpec, Link, Method, Plan, Scratch, Value};
use serde_json::Value as Json;

fn number(json: &Json) -> f64 {
    json.as_f64().unwrap()
}

fn input(name: &str, distribution: Distribution) -> InputSpec {
    InputSpec { name: name.to_owned(), distribution }
}

fn uniform() -> Distribution {
    let ends = [("min".to_owned(), Value::Number(0.0)), ("max".to_owned(), Value::Number(1.0))];
    Distribution::build("uniform", &ends, None).unwrap()
}

fn discrete(weights: &Json) -> Distribution {
    let weights: Vec<f64> = weights.as_array().unwrap().iter().map(number).collect();
    let values = (0..weights.len()).map(|i| i as f64).collect();
    let parameters =
        [("values".to_owned(), Value::List(values)), ("weights".to_owned(), Value::List(weights))];
    Distribution::build("discrete", &parameters, None).unwrap()
}

const RUNS: usize = 20_000;

fn two(a: Distribution, b: Distribution, rank: f64, method: Method) -> (Vec<f64>, Vec<f64>) {
    let design = Design::new(12, method, 8, RUNS as u64);
    let links = [Link::from_rank("a", "b", rank)];
    let plan = Plan::new(&[input("a", a), input("b", b)], &[], &links, design, &[]).unwrap();
    let mut out = vec![0.0; 2 * RUNS];
    plan.draw(&[], 0, RUNS, &mut out, RUNS, &mut Scratch::new());
    let b = out.split_off(RUNS);
    (out, b)
}

/// Spearman's correlation with average ranks.
fn spearman(x: &[f64], y: &[f64]) -> f64 {
    let ranks = |v: &[f64]| {
        let mut order: Vec<usize> = (0..v.len()).collect();
        order.sort_by(|&i, &j| v[i].total_cmp(&v[j]));
        let mut ranks = vec![0.0; v.len()];
        let mut from = 0;
        while from < order.len() {
            let mut to = from;
            while to < order.len() && v[order[to]] == v[order[from]] {
                to += 1;
            }
            for &i in &order[from..to] {
                ranks[i] = (from + to - 1) as f64 / 2.0;
            }
            from = to;
        }
        ranks
    };
    let (a, b) = (ranks(x), ranks(y));
    let mean = (x.len() - 1) as f64 / 2.0;
    let sum = |p: &[f64], q: &[f64]| p.iter().zip(q).map(|(s, t)| (s - mean) * (t - mean)).sum::<f64>();
    sum(&a, &b) / (sum(&a, &a) * sum(&b, &b)).sqrt()
}

#[test]
fn known_answers() {
    let json: Json = serde_json::from_str(include_str!("oracles/rank_correlation.json")).unwrap();
    let mut checked = 0;
    for case in json["cases"].as_array().unwrap() {
        let (inputs, expect, tolerance) = (&case["inputs"], &case["expect"], &case["tolerance"]);
        let name = case["name"].as_str().unwrap();
        if let Some(pearson) = expect.get("pearson") {
            let got = match inputs.get("kendall") {
                Some(tau) => normal_from_kendall(number(tau)),
                None => normal_from_rank(number(&inputs["rank"])),
            };
            assert!((got - number(pearson)).abs() <= number(&tolerance["abs"]), "{name}: {got}");
            checked += 1;
        }
        if let Some(most) = tolerance.get("shares_abs_with_20000_runs") {
            for method in [Method::Random, Method::LatinHypercube, Method::Sobol] {
                let (a, b) = two(uniform(), uniform(), number(&inputs["rank"]), method);
                let share = |f: &dyn Fn(f64, f64) -> bool| {
                    a.iter().zip(&b).filter(|(x, y)| f(**x, **y)).count() as f64 / RUNS as f64
                };
                let gap = |got: f64, key: &str| {
                    let gap = (got - number(&expect[key])).abs();
                    assert!(gap <= number(most), "{name} {method:?} {key}: {got}");
                };
                gap(share(&|x, y| x > 0.9 && y > 0.9), "both_above_P90");
                gap(share(&|x, y| x < 0.5 && y < 0.5), "both_below_median");
                gap(share(&|x, y| x > 0.9 && y < 0.1), "first_above_P90_and_second_below_P10");
            }
        }
        if let Some(achieved) = expect.get("achieved_rank") {
            let first = discrete(&inputs["first_weights"]);
            let second = inputs.get("second_weights").map_or_else(uniform, discrete);
            for method in [Method::Random, Method::LatinHypercube, Method::Sobol] {
                let (a, b) = two(first.clone(), second.clone(), number(&inputs["rank"]), method);
                let gap = (spearman(&a, &b) - number(achieved)).abs();
                assert!(gap <= number(&tolerance["with_20000_runs_abs"]), "{name} {method:?}: {gap}");
            }
            checked += 1;
        }
        if let Some(low) = expect.get("rank_ac_min") {
            let (ab, bc) =
                (normal_from_rank(number(&inputs["rank_ab"])), normal_from_rank(number(&inputs["rank_bc"])));
            let matrix = [vec![1.0, ab, 0.0], vec![ab, 1.0, bc], vec![0.0, bc, 1.0]];
            let (min, max) = possible_range(&matrix, 0, 2).unwrap();
            let (min, max) = (rank_from_normal(min), rank_from_normal(max));
            assert!(
                (min - number(low)).abs() <= 1e-9 && (max - number(&expect["rank_ac_max"])).abs() <= 1e-7,
                "{name}: {min} {max}"
            );
            let inputs: Vec<InputSpec> = ["a", "b", "c"].map(|n| input(n, uniform())).to_vec();
            let links = [
                Link { a: "a".into(), b: "b".into(), normal: ab },
                Link { a: "b".into(), b: "c".into(), normal: bc },
            ];
            let made = Plan::new(&inputs, &[], &links, Design::new(1, Method::Random, 1, 10), &[]);
            assert_eq!(made.is_ok(), expect["zero_possible"].as_bool().unwrap(), "{name}");
            if let Err(error) = made {
                assert_eq!(error.names, ["a", "b", "c"]);
                assert!(
                    error.hint.contains("a and c (not given, so taken as 0) must lie from 0.3103 to 1.0000"),
                    "{error}"
                );
            }
            checked += 1;
        }
    }
    assert_eq!(checked, 9);
}

/// Each linked input keeps its own distribution: within each replicate's error.
#[test]
fn margins_are_kept() {
    for method in [Method::Random, Method::LatinHypercube, Method::Sobol] {
        let (a, b) = two(uniform(), uniform(), 0.7, method);
        for mut x in [a, b] {
            x.sort_by(f64::total_cmp);
            let gap = x
                .iter()
                .enumerate()
                .map(|(i, u)| (u - (i as f64 + 0.5) / RUNS as f64).abs())
                .fold(0.0, f64::max);
            // Kolmogorov's limit at a false-alarm rate of 1e-4.
            assert!(gap < 2.2253 / (RUNS as f64).sqrt(), "{method:?} {gap}");
        }
    }
}

#[test]
fn what_cannot_be_linked_is_said() {
    let inputs = [
        input("a", uniform()),
        input("b", uniform()),
        input("c", uniform()),
        input("who", Distribution::labels(&[1.0, 2.0]).unwrap()),
    ];
    let design = Design::new(1, Method::Random, 1, 10);
    let error = |links: &[(&str, &str, f64)]| {
        let links: Vec<Link> =
            links.iter().map(|(a, b, r)| Link { a: (*a).into(), b: (*b).into(), normal: *r }).collect();
        Plan::new(&inputs, &[], &links, design, &[]).unwrap_err().to_string()
    };
    assert!(error(&[("a", "who", 0.5)]).contains("labels"));
    assert!(error(&[("a", "nobody", 0.5)]).contains("nobody is not uncertain"));
    assert!(error(&[("a", "b", 1.5)]).contains("from -1 to 1"));
    assert!(error(&[("a", "b", f64::NAN)]).contains("from -1 to 1"));
    assert!(error(&[("a", "a", 0.5)]).contains("itself"));
    assert!(error(&[("a", "b", 0.5), ("b", "a", 0.4)]).contains("twice"));
    let text = error(&[("a", "b", 0.9), ("b", "c", 0.9), ("a", "c", -0.9)]);
    assert!(
        text.contains("a, b and c contradict each other") && text.contains("with the others as they are"),
        "{text}"
    );
    // A correlation of one is possible, and makes both the same.
    let (x, y) = two(uniform(), uniform(), 1.0, Method::Random);
    assert!(x.iter().zip(&y).all(|(p, q)| (p - q).abs() < 1e-7));
}
