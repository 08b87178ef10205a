//! Percentiles, observed values and mixtures, each worked out anew from its definition.

use payspread::sampling::{Distribution, Value};
use statrs::distribution::{self as theirs, ContinuousCDF};

use super::cases::{Case, Cut, WHOLE, at, function, made};

type Given = Vec<(&'static str, Value)>;

fn numbers(list: &[(&'static str, f64)]) -> Given {
    list.iter().map(|&(k, x)| (k, Value::Number(x))).collect()
}

fn with(mut given: Given, key: &'static str, word: &str) -> Given {
    given.push((key, Value::Word(word.to_owned())));
    given
}

/// Probability below a metalog of p10, p50, p90: closed form of its coefficients, solved for y by bisection.
fn metalog(p10: f64, p50: f64, p90: f64) -> impl Fn(f64) -> f64 + Sync + Copy {
    let a2 = (p90 - p10) / (2.0 * 9f64.ln());
    let a3 = (p10 + p90 - 2.0 * p50) / (0.8 * 9f64.ln());
    move |x: f64| {
        let (mut low, mut high) = (-40.0, 40.0);
        for _ in 0..80 {
            let logit: f64 = 0.5 * (low + high);
            let y = 1.0 / (1.0 + (-logit).exp());
            if p50 + (a2 + a3 * (y - 0.5)) * logit < x { low = logit } else { high = logit }
        }
        1.0 / (1.0 + (-low).exp())
    }
}

/// Lines through points (x, p).
fn lines(points: Vec<(f64, f64)>) -> impl Fn(f64) -> f64 + Sync + Clone {
    move |x: f64| {
        let pair = points.windows(2).find(|w| w[0].0 <= x && x < w[1].0);
        match pair {
            Some(w) => w[0].1 + (w[1].1 - w[0].1) * (x - w[0].0) / (w[1].0 - w[0].0),
            None if x < points[0].0 => 0.0,
            None => 1.0,
        }
    }
}

fn percentiles() -> Vec<Case> {
    let three = |p10, p50, p90| numbers(&[("p10", p10), ("p50", p50), ("p90", p90)]);
    let skew = metalog(8.0, 11.0, 17.0);
    let cut: Cut = Some((Some(9.0), Some(20.0)));
    let log = metalog(0.06f64.ln(), 0.11f64.ln(), 0.24f64.ln());
    let mut lower = three(0.06, 0.11, 0.24);
    lower.extend(numbers(&[("min", 0.0)]));
    let odds = |x: f64| (x / (1.0 - x)).ln();
    let between = metalog(odds(0.2), odds(0.35), odds(0.7));
    let mut both = three(0.2, 0.35, 0.7);
    both.extend(numbers(&[("min", 0.0), ("max", 1.0)]));
    let mut straight = three(8.0, 11.0, 17.0);
    straight.extend(numbers(&[("min", 5.0), ("max", 25.0)]));
    let through = lines(vec![(5.0, 0.0), (8.0, 0.1), (11.0, 0.5), (17.0, 0.9), (25.0, 1.0)]);
    vec![
        made("quantiles", three(8.0, 11.0, 17.0), WHOLE, function(skew, WHOLE)),
        made("quantiles", three(8.0, 11.0, 17.0), cut, function(skew, cut)),
        made("quantiles", lower, WHOLE, function(move |x| log(x.ln()), WHOLE)),
        made("quantiles", both, WHOLE, function(move |x| between(odds(x)), WHOLE)),
        made("quantiles", with(straight, "shape", "straight"), WHOLE, function(through, WHOLE)),
    ]
}

const SEEN: [f64; 8] = [31.2, 28.4, 40.1, 35.5, 22.9, 37.7, 30.3, 55.8];

fn samples() -> Vec<Case> {
    let mut sorted = SEEN.to_vec();
    sorted.sort_by(f64::total_cmp);
    let points: Vec<(f64, f64)> = sorted.iter().enumerate().map(|(k, x)| (*x, k as f64 / 7.0)).collect();
    let line = lines(points);
    let cut: Cut = Some((Some(25.0), Some(38.0)));
    let given = || vec![("values", Value::List(SEEN.to_vec()))];
    const ONES: [f64; 8] = [1.0; 8];
    vec![
        made("samples", given(), WHOLE, function(line.clone(), WHOLE)),
        made("samples", given(), cut, function(line, cut)),
        made("samples", with(given(), "shape", "step"), WHOLE, at(&SEEN, &ONES)),
    ]
}

fn part(kind: &str, given: &[(&'static str, f64)]) -> Distribution {
    let given: Vec<(String, Value)> = numbers(given).into_iter().map(|(k, v)| (k.to_owned(), v)).collect();
    Distribution::build(kind, &given, None).unwrap()
}

fn mixtures() -> Vec<Case> {
    let parts = |parts: Vec<(f64, Distribution)>| vec![("parts", Value::Parts(parts))];
    let hills = || {
        let (near, far) =
            (part("normal", &[("mean", 0.0), ("sd", 1.0)]), part("normal", &[("mean", 5.0), ("sd", 0.5)]));
        parts(vec![(0.7, near), (0.3, far)])
    };
    let of_hills = |x: f64| {
        let (near, far) = (theirs::Normal::new(0.0, 1.0).unwrap(), theirs::Normal::new(5.0, 0.5).unwrap());
        0.7 * near.cdf(x) + 0.3 * far.cdf(x)
    };
    let cut: Cut = Some((Some(-1.0), Some(5.5)));
    let kinked = parts(vec![
        (3.0, part("uniform", &[("min", 0.0), ("max", 1.0)])),
        (1.0, part("exponential", &[("mean", 4.0)])),
        (2.0, part("beta", &[("mean", 0.4), ("sd", 0.2)])),
    ]);
    let of_kinked = |x: f64| {
        let nu = 0.4 * 0.6 / 0.04 - 1.0;
        let beta = theirs::Beta::new(0.4 * nu, 0.6 * nu).unwrap();
        let x = x.max(0.0);
        (3.0 * x.min(1.0) + 1.0 - (-x / 4.0).exp() + 2.0 * beta.cdf(x.min(1.0))) / 6.0
    };
    let counts = parts(vec![
        (1.0, part("bernoulli", &[("chance", 0.5)])),
        (1.0, part("binomial", &[("trials", 2.0), ("chance", 0.5)])),
    ]);
    vec![
        made("mixture", hills(), WHOLE, function(of_hills, WHOLE)),
        made("mixture", hills(), cut, function(of_hills, cut)),
        made("mixture", kinked, WHOLE, function(of_kinked, WHOLE)),
        made("mixture", counts, WHOLE, at(&[0.0, 1.0, 2.0], &[3.0, 4.0, 1.0])),
    ]
}

pub(crate) fn all() -> Vec<Case> {
    percentiles().into_iter().chain(samples()).chain(mixtures()).collect()
}
