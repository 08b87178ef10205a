//! Courses in the answers against their laws: mean courses against the closed form, percentiles against the lognormal.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::analysis::{Answers, Figure, Options, PathFan, appraise};
use payspread::engine::run::Control;
use payspread::model::{self, Model};
use statrs::distribution::{ContinuousCDF, Normal};

const STUDY: &str = r#"title      = "Courses"
currency   = "EUR"
prices     = "real"
first_year = 2027
years      = 20

[sampling]
runs   = 8192
seed   = 11
method = "METHOD"

[paths.walk]
unit       = "EUR/kWh"
start      = 0.1
growth     = 0.02
process    = "random walk"
volatility = 0.15

[paths.returning]
unit       = "ct/kWh"
start      = { lognormal = { mean = 8, sd = 2 } }
growth     = { normal = { mean = -0.01, sd = 0.02 } }
process    = "mean reverting"
half_life  = 3
volatility = 0.2
changes    = [ { chance = 0.35, year = { discrete = { values = [2029, 2031, 2034] } }, scale = { uniform = { min = 0.3, max = 0.9 } } } ]

[paths.floored]
start      = 1
process    = "independent"
volatility = 0.3
floor      = 0.9

[paths.known]
start   = 2
growth  = 0.03
process = "steady growth"

[units]
ct = "0.01 EUR"

[workings.paid]
unit    = "EUR"
formula = "sum_years(1 [kWh] * (walk + returning) * floored * known)"

[results.total]
unit    = "EUR"
formula = "paid"
"#;

fn answers(method: &str) -> (Model, Answers) {
    let (made, found) = model::read(&STUDY.replace("METHOD", method));
    let model = made.unwrap_or_else(|| panic!("{found:?}")).1;
    let answers = appraise(&model, Options::of(&model), &Control::default()).unwrap();
    (model, answers)
}

fn fan<'a>(answers: &'a Answers, name: &str) -> &'a PathFan {
    answers.paths.iter().find(|fan| fan.name == name).unwrap()
}

fn number(figure: Figure) -> f64 {
    figure.number().unwrap()
}

/// 2 paths x 20 years x 3 methods, each beyond 5 standard errors by chance once in 1.7 million: in all below 1e-4 (random
/// sampling; the others lie closer). The error of the mean is taken from the law's own sd, not from the answer.
#[test]
fn means_are_those_of_the_closed_form() {
    for method in ["random", "latin hypercube", "sobol"] {
        let (model, answers) = answers(method);
        for path in model.paths.iter().filter(|p| ["walk", "returning"].contains(&p.about.name.as_str())) {
            let fan = fan(&answers, &path.about.name);
            assert_eq!((fan.runs, fan.years.len(), fan.years[19].year), (4096, 20, 2046));
            let start = path.spec.start.mean();
            // An sd not below the true one: lognormal start 0.25, growth 0.02 t, deviations, and all of the change.
            let variances = path.spec.process.deviations().variances(20);
            for (t, (year, factor)) in fan.years.iter().zip(path.spec.mean_course(start)).enumerate() {
                let spread = (variances[t] + 0.07 + (0.02 * t as f64).powi(2)).exp() - 1.0 + 0.1;
                let wanted = start * factor;
                let error = wanted * spread.sqrt() / 64.0;
                let mean = number(year.mean.value);
                assert!(
                    (mean - wanted).abs() < 5.0 * error,
                    "{method} {t}: {mean} for {wanted}, error {error}"
                );
                let (low, high) = (number(year.mean.low.unwrap()), number(year.mean.high.unwrap()));
                assert!(
                    low <= mean && mean <= high && high - low < 6.0 * error,
                    "{method} {t}: {low} to {high}"
                );
            }
        }
    }
}

/// F at the estimated percentile lies within 5 sqrt(p (1 - p) / n) of p: 7 percentiles x 19 years x 3 methods, by chance
/// below 3e-4 in all (random sampling; the others lie closer).
#[test]
fn percentiles_are_lognormal() {
    for method in ["random", "latin hypercube", "sobol"] {
        let (_, answers) = answers(method);
        for (t, year) in fan(&answers, "walk").years.iter().enumerate().skip(1) {
            let t = t as f64;
            // ln X_t is normal: mean ln(0.1) + t ln(1.02) - t 0.15^2 / 2, sd 0.15 sqrt(t).
            let mean = 0.1_f64.ln() + t * 1.02_f64.ln() - t * 0.15 * 0.15 / 2.0;
            let law = Normal::new(mean, 0.15 * t.sqrt()).unwrap();
            for q in &year.percentiles {
                let at = law.cdf(number(q.estimate.value).ln());
                let error = (q.p * (1.0 - q.p) / 4096.0).sqrt();
                assert!((at - q.p).abs() < 5.0 * error + 1.0 / 4096.0, "{method} {t}: {at} for {}", q.p);
            }
        }
    }
}

#[test]
fn base_courses_floors_and_what_is_known() {
    let (_, answers) = answers("sobol");
    for (t, year) in fan(&answers, "walk").years.iter().enumerate() {
        assert!((number(year.base) - 0.1 * 1.02_f64.powi(t as i32)).abs() < 1e-12);
    }
    // P(change) is below one half: not in the base course. The median of the start is 8 / sqrt(1 + 1/16).
    let start = 8.0 / (1.0_f64 + 1.0 / 16.0).sqrt();
    for (t, year) in fan(&answers, "returning").years.iter().enumerate() {
        assert!((number(year.base) - start * 0.99_f64.powi(t as i32)).abs() < 1e-9);
    }
    for year in &fan(&answers, "floored").years {
        assert_eq!(number(year.percentiles[0].estimate.value), 0.9);
        assert!(number(year.mean.value) > 1.0 && number(year.base) == 1.0);
    }
    let known = fan(&answers, "known");
    assert!(known.is_known() && !fan(&answers, "walk").is_known());
    let last = &known.years[19];
    assert_eq!((last.mean.value, last.percentiles[6].estimate.value), (last.base, last.base));
}
