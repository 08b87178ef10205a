//! A million draws of every distribution, against its own distribution function and one from elsewhere.
//!
//! Draws come from a plan, as a study's do, with fixed seeds. Kolmogorov-Smirnov and Anderson-Darling for those with a
//! density, chi-square for the others. All these tests together raise a false alarm in one set of seeds in a thousand
//! (Bonferroni: each takes its equal part). Mean and standard deviation lie within four standard errors: for one figure
//! one set of seeds in 16,000 would not.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

mod draws;

use draws::cases::{Case, Other, all};
use draws::fit::{anderson_darling, anderson_darling_limit, chi_square, kolmogorov, kolmogorov_limit};
use payspread::sampling::distributions::KINDS;
use payspread::sampling::{Design, InputSpec, Method, Plan, Scratch};
use rayon::prelude::*;

const DRAWS: usize = 1_000_000;
const FALSE_ALARMS: f64 = 1e-3;

fn draw(case: &Case) -> Vec<f64> {
    let input = InputSpec { name: case.name.clone(), distribution: case.distribution.clone() };
    let design = Design::new(20_261_127, Method::Random, 1, DRAWS as u64);
    let plan = Plan::new(&[input], &[], &[], design, &[]).unwrap();
    let mut values = vec![0.0; DRAWS];
    plan.draw(&[], 0, DRAWS, &mut values, DRAWS, &mut Scratch::new());
    values
}

/// Fit of `values` to a distribution function.
fn check_cdf(name: &str, values: &[f64], cdf: &(dyn Fn(f64) -> f64 + Sync), rate: f64) -> Vec<String> {
    let mut p: Vec<f64> = values.iter().map(|&x| cdf(x)).collect();
    p.sort_unstable_by(f64::total_cmp);
    let (d, a2) = (kolmogorov(&p), anderson_darling(&p));
    let (d_most, a2_most) = (kolmogorov_limit(rate), anderson_darling_limit(rate));
    let mut wrong = Vec::new();
    // Written so that NaN is wrong.
    if !(d <= d_most) {
        wrong.push(format!("{name}: D sqrt(n) = {d}, above {d_most}"));
    }
    if !(a2 <= a2_most) {
        wrong.push(format!("{name}: A^2 = {a2}, above {a2_most}"));
    }
    wrong
}

/// Distinct values and how often each came.
fn count(values: &[f64]) -> Vec<(f64, u64)> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let mut counted: Vec<(f64, u64)> = Vec::new();
    for x in sorted {
        match counted.last_mut() {
            Some((value, n)) if *value == x => *n += 1,
            _ => counted.push((x, 1)),
        }
    }
    counted
}

fn check_mass(name: &str, counted: &[(f64, u64)], mass: impl Fn(f64) -> f64, rate: f64) -> Vec<String> {
    let p = chi_square(counted, mass);
    if p >= rate { Vec::new() } else { vec![format!("{name}: chi-square this large has probability {p}")] }
}

/// Mean and sd, with standard errors from the sample's own second and fourth moments.
fn check_moments(case: &Case, values: &[f64]) -> Vec<String> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n;
    let fourth = values.iter().map(|x| (x - mean).powi(4)).sum::<f64>() / n;
    let (sd, mean_error) = (square.sqrt(), (square / n).sqrt());
    let sd_error = ((fourth - square * square) / (4.0 * square * n)).sqrt();
    // A half and half Bernoulli has no error of its sd in the first order; rounding has.
    let sd_error = sd_error.max(1e-6 * sd);
    let of = |what: &str, got: f64, error: f64, expect: f64| {
        let off = (got - expect) / error;
        (!(off.abs() <= 4.0)).then(|| format!("{}: {what} {got}, {off:.2} errors from {expect}", case.name))
    };
    let d = &case.distribution;
    of("mean", mean, mean_error, d.mean()).into_iter().chain(of("sd", sd, sd_error, d.sd())).collect()
}

fn check(case: &Case, rate: f64) -> Vec<String> {
    let values = draw(case);
    let d = &case.distribution;
    let mut wrong = check_moments(case, &values);
    let (min, max) = d.support();
    if values.iter().any(|x| !(min <= *x && *x <= max)) {
        wrong.push(format!("{}: a value outside {min} to {max}", case.name));
    }
    match (&case.other, d.points()) {
        (Other::Cdf(other), None) => {
            wrong.extend(check_cdf(&format!("{} itself", case.name), &values, &|x| d.cdf(x), rate));
            wrong.extend(check_cdf(&format!("{} elsewhere", case.name), &values, other, rate));
        }
        (Other::Mass(other), Some((points, weights))) => {
            let counted = count(&values);
            let own = |x: f64| points.iter().position(|p| *p == x).map_or(0.0, |k| weights[k]);
            wrong.extend(check_mass(&format!("{} itself", case.name), &counted, own, rate));
            wrong.extend(check_mass(&format!("{} elsewhere", case.name), &counted, other, rate));
        }
        _ => wrong.push(format!("{}: is it discrete or not?", case.name)),
    }
    wrong
}

#[test]
fn a_million_draws_of_each() {
    let cases = all();
    let tests: usize = cases.iter().map(|c| if matches!(c.other, Other::Cdf(_)) { 4 } else { 2 }).sum();
    let rate = FALSE_ALARMS / tests as f64;
    let wrong: Vec<String> = cases.par_iter().flat_map(|case| check(case, rate)).collect();
    assert!(wrong.is_empty(), "{} of {tests} tests:\n{}", wrong.len(), wrong.join("\n"));
}

/// A new kind, or a new form of an old one, fails here until a million draws of it are looked at.
#[test]
fn every_kind_and_form_is_drawn() {
    let cases = all();
    for kind in KINDS {
        let of_kind: Vec<&Case> = cases.iter().filter(|c| c.kind == kind.name).collect();
        assert!(of_kind.len() >= 2, "{} has too few cases in tests/draws/cases.rs", kind.name);
        let cut = of_kind.iter().any(|c| c.truncated);
        // What is left of a yes or no is no distribution.
        assert!(cut || kind.name == "bernoulli", "{} is never truncated", kind.name);
        for form in kind.forms {
            let has = |c: &&&Case| form.keys.iter().all(|k| c.keys.contains(k));
            assert!(of_kind.iter().any(|c| has(&c)), "{} is never given by {:?}", kind.name, form.keys);
        }
    }
}
