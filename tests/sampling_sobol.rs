//! Sobol points: known answers, what scrambling must keep, and how good it is.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::sampling::sobol::{DIMENSIONS, Directions};
use payspread::sampling::{Design, Distribution, InputSpec, Method, Plan, Scratch, Value};
use serde_json::Value as Json;

#[test]
fn known_answers() {
    let json: Json = serde_json::from_str(include_str!("oracles/sobol_points.json")).unwrap();
    let cases = json["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 9);
    for case in cases {
        let dimension = case["inputs"]["dimension"].as_u64().unwrap() as u16;
        let directions = Directions::new(dimension).unwrap();
        let index = case["inputs"]["index"].as_array().unwrap();
        let expect = case["expect"]["times_2_to_32"].as_array().unwrap();
        let values = case["expect"]["value"].as_array().unwrap();
        for ((i, e), v) in index.iter().zip(expect).zip(values) {
            let got = directions.point(i.as_u64().unwrap() as u32);
            assert_eq!(u64::from(got), e.as_u64().unwrap(), "dimension {dimension}, index {i}");
            assert_eq!(f64::from(got) / 4_294_967_296.0, v.as_f64().unwrap());
        }
    }
}

#[test]
fn every_dimension_of_the_table_is_a_bijection_of_blocks() {
    assert!(Directions::new(0).is_none() && Directions::new(DIMENSIONS + 1).is_none());
    for dimension in 1..=DIMENSIONS {
        let directions = Directions::new(dimension).unwrap();
        let mut seen = [false; 256];
        for i in 0..256 {
            seen[(directions.point(i) >> 24) as usize] = true;
        }
        assert!(seen.iter().all(|s| *s), "dimension {dimension}");
    }
}

fn uniform(name: &str) -> InputSpec {
    let ends = [("min".to_owned(), Value::Number(0.0)), ("max".to_owned(), Value::Number(1.0))];
    InputSpec { name: name.to_owned(), distribution: Distribution::build("uniform", &ends, None).unwrap() }
}

fn plan(inputs: usize, method: Method, replicates: u32, runs: u64, seed: u64, pinned: &[String]) -> Plan {
    let inputs: Vec<InputSpec> = (0..inputs).map(|i| uniform(&format!("x{i}"))).collect();
    Plan::new(&inputs, &[], &[], Design::new(seed, method, replicates, runs), pinned).unwrap()
}

fn columns(plan: &Plan, n: usize) -> Vec<Vec<f64>> {
    let mut out = vec![0.0; plan.columns().len() * n];
    plan.draw(&[], 0, n, &mut out, n, &mut Scratch::new());
    out.chunks(n).map(<[f64]>::to_vec).collect()
}

/// One point in each interval [j/2^m, (j+1)/2^m) of each dimension, in every replicate and every block.
fn assert_strata(column: &[f64], replicates: usize, replicate: usize, m: u32) {
    let own: Vec<f64> = column.iter().copied().skip(replicate).step_by(replicates).collect();
    for block in own.chunks_exact(1 << m) {
        let mut seen = vec![false; 1 << m];
        for u in block {
            let cell = (u * f64::from(1 << m)) as usize;
            assert!(!seen[cell], "cell {cell} of {} twice", 1 << m);
            seen[cell] = true;
        }
    }
}

#[test]
fn scrambled_points_keep_their_strata() {
    let plan = plan(60, Method::Sobol, 8, 4096, 3, &[]);
    for column in columns(&plan, 4096) {
        for replicate in 0..8 {
            for m in 1..=9 {
                assert_strata(&column, 8, replicate, m);
            }
        }
    }
}

/// Dimensions 1 and 2 are a (0, m, 2)-net: every elementary box of area 2^-m holds one point.
#[test]
fn scrambled_points_keep_the_net_of_two_dimensions() {
    let plan = plan(2, Method::Sobol, 1, 1024, 9, &[]);
    let both = columns(&plan, 1024);
    for m in 1..=10_u32 {
        for a in 0..=m {
            let (wide, high) = (f64::from(1 << a), f64::from(1 << (m - a)));
            for block in 0..1024 >> m {
                let mut seen = vec![false; 1 << m];
                for (x, y) in both[0].iter().zip(&both[1]).skip(block << m).take(1 << m) {
                    let cell = (x * wide) as usize * (1 << (m - a)) + (y * high) as usize;
                    assert!(!seen[cell], "m {m}, a {a}");
                    seen[cell] = true;
                }
            }
        }
    }
}

#[test]
fn beyond_the_table_strata_are_kept_and_columns_differ() {
    let inputs = 1115;
    let plan = plan(inputs, Method::Sobol, 2, 512, 3, &[]);
    let columns = columns(&plan, 512);
    for column in &columns[1108..] {
        for replicate in 0..2 {
            for m in 1..=8 {
                assert_strata(column, 2, replicate, m);
            }
        }
    }
    for a in 1110..inputs {
        for b in 1111..a {
            let r = correlation(&columns[a], &columns[b]);
            // Sd about 1/sqrt(512) = 0.044; four and a half of them.
            assert!(r.abs() < 0.2, "{a} {b}: {r}");
        }
    }
}

fn correlation(x: &[f64], y: &[f64]) -> f64 {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sum = |f: &dyn Fn(f64, f64) -> f64| x.iter().zip(y).map(|(a, b)| f(a - mx, b - my)).sum::<f64>();
    sum(&|a, b| a * b) / (sum(&|a, _| a * a) * sum(&|_, b| b * b)).sqrt()
}

/// Owen's scheme makes each point uniform and any two independent over the
/// scrambles: over 4,000 seeds the first digits of one point, and the joint
/// cells of two neighbours' digits, are even. Chi-square with 63 degrees has
/// mean 63 and sd 11.2; 140 is passed once in 1e7.
#[test]
fn each_point_is_uniform_over_the_scrambles() {
    let mut joint = [0.0_f64; 64];
    let mut deep = [0.0_f64; 64];
    let seeds = 4_000;
    for seed in 0..seeds {
        let plan = plan(1, Method::Sobol, 1, 64, seed, &[]);
        let x = &columns(&plan, 64)[0];
        // Points 0 and 1 fall in unlike halves: their further digits must be independent.
        let digits = |u: f64| (u * 16.0) as usize % 8;
        joint[digits(x[0]) * 8 + digits(x[1])] += 1.0;
        // Digits 31 to 36 lie across the end of the sequence's own.
        deep[((x[5] * 2_f64.powi(36)) as u64 % 64) as usize] += 1.0;
    }
    for counts in [joint, deep] {
        let expect = seeds as f64 / 64.0;
        let chi2: f64 = counts.iter().map(|c| (c - expect) * (c - expect) / expect).sum();
        assert!(chi2 < 140.0, "{chi2}");
    }
}

/// The error of a mean of a smooth function falls far below that of random
/// sampling (methods 1: by a factor of ten and more at 4,096 runs).
#[test]
fn means_are_far_better_than_by_random_sampling() {
    let rmse = |method| {
        let squares: f64 = (0..30)
            .map(|seed| {
                let plan = plan(10, method, 1, 4096, seed, &[]);
                let columns = columns(&plan, 4096);
                let f = |i: usize| {
                    columns.iter().enumerate().map(|(k, c)| c[i] * (k + 1) as f64).sum::<f64>()
                        + columns[0][i] * columns[3][i]
                };
                let mean = (0..4096).map(f).sum::<f64>() / 4096.0;
                (mean - 27.75) * (mean - 27.75)
            })
            .sum();
        (squares / 30.0).sqrt()
    };
    let (random, cube, sobol) = (rmse(Method::Random), rmse(Method::LatinHypercube), rmse(Method::Sobol));
    assert!(sobol < random / 50.0 && sobol < cube && cube < random / 10.0, "{random} {cube} {sobol}");
    // Random sampling has the error that its variance says, within 40 % (30 seeds).
    let variance = (1..=10).map(|k| f64::from(k * k) / 12.0).sum::<f64>() + 7.0 / 144.0 + 10.0 / 24.0;
    assert!((random / (variance / 4096.0).sqrt() - 1.0).abs() < 0.45, "{random}");
}

#[test]
fn latin_hypercube_puts_one_run_in_each_cell() {
    let runs = 8 * 500;
    let plan = plan(5, Method::LatinHypercube, 8, runs, 1, &[]);
    for column in columns(&plan, runs as usize) {
        for replicate in 0..8 {
            let mut seen = [false; 500];
            for u in column.iter().skip(replicate).step_by(8) {
                seen[(u * 500.0) as usize] = true;
            }
            assert!(seen.iter().all(|s| *s));
        }
    }
}

#[test]
fn designs_round_up_to_whole_replicates() {
    let runs = |method, replicates, runs| Design::new(0, method, replicates, runs).runs;
    assert_eq!(runs(Method::Sobol, 8, 16_384), 16_384);
    assert_eq!(runs(Method::Sobol, 8, 20_000), 32_768);
    assert_eq!(runs(Method::Sobol, 1, 1), 1);
    assert_eq!(runs(Method::LatinHypercube, 8, 20_001), 20_008);
    assert_eq!(runs(Method::Random, 8, 20_001), 20_001);
    assert_eq!(Design::new(0, Method::Sobol, 8, 20_000).runs_asked, 20_000);
    assert_eq!(Design::new(0, Method::Sobol, 8, 64).place(19), (3, 2));
    assert_eq!(Design::new(0, Method::Random, 8, 64).place(19), (0, 19));
}

#[test]
fn pinned_dimensions_are_never_renumbered() {
    let pinned: Vec<String> = ["gone", "x2", "old.shock * 19", "x0"].map(str::to_owned).to_vec();
    let with = plan(3, Method::Sobol, 1, 64, 5, &pinned);
    assert_eq!(with.dimensions(), ["gone", "x2", "old.shock * 19", "x0", "x1"]);
    let mut out = columns(&with, 64);
    let x1 = out.pop();
    drop(x1);
    // The same lines without what came before: other dimensions, other points.
    let without = columns(&plan(3, Method::Sobol, 1, 64, 5, &["x2".to_owned(), "x0".to_owned()]), 64);
    assert_ne!(out[0], without[0]);
    // A further name at the end changes nothing.
    let longer: Vec<String> = pinned.iter().cloned().chain(["x9".to_owned()]).collect();
    assert_eq!(columns(&plan(3, Method::Sobol, 1, 64, 5, &longer), 64)[0], out[0]);
}
