//! Inputs whose distributions have parameters that are inputs, against hierarchies whose law is known.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

mod naive;

use std::collections::BTreeSet;
use std::sync::Arc;

use naive::sample::{Laid, compare, draw, given, given_base, model_of, naive_run, run_all};
use payspread::analysis::{Answers, Figure, Lever, Options, appraise};
use payspread::engine::block::BASE_RUN;
use payspread::engine::program::Program;
use payspread::engine::run::Control;
use payspread::model::Model;
use payspread::model::base::base_values;
use statrs::distribution::{ContinuousCDF, Normal};

const RUNS: usize = 20_000;
const HEAD: &str = "title = \"t\"\ncurrency = \"EUR\"\nprices = \"real\"\nfirst_year = 2027\nyears = 20\n";

fn model(body: &str) -> Model {
    model_of(&format!("{HEAD}{body}")).unwrap_or_else(|errors| panic!("{errors}"))
}

/// Values of all workings and results over runs, in blocks of `block`.
fn columns(model: &Model, block: usize) -> Vec<Vec<f64>> {
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let laid = Laid::new(model, &plan, &BTreeSet::new());
    let program = Program::of_runs(&laid.low.graph, &laid.wanted());
    run_all(&program, &laid.leaves(&draw(&plan, 0, RUNS), RUNS), RUNS, 0, block)
}

/// The values of one result under independent draws.
fn drawn(inputs: &str, formula: &str) -> Vec<f64> {
    let body = format!(
        "[sampling]\nmethod = \"random\"\nruns = {RUNS}\n{inputs}\n[results.r]\nformula = \"{formula}\"\n"
    );
    columns(&model(&body), 256).pop().unwrap()
}

/// Kolmogorov's distance times sqrt(n) is above 2.9 by chance with 2 exp(-2 x 2.9^2) < 1e-7.
fn follows(mut values: Vec<f64>, cdf: impl Fn(f64) -> f64) {
    values.sort_by(f64::total_cmp);
    let n = values.len() as f64;
    let gap = |(k, &x): (usize, &f64)| {
        let f = cdf(x);
        (f - k as f64 / n).abs().max(((k + 1) as f64 / n - f).abs())
    };
    let distance = values.iter().enumerate().map(gap).fold(0.0, f64::max) * n.sqrt();
    assert!(distance < 2.9, "distance {distance}");
}

/// N(N(10, 3), 4) is N(10, 5); three steps of variance 1 are N(0, sqrt 3), whatever the order in the file.
#[test]
fn variances_of_normals_add() {
    let two = "[inputs.m]\nnormal = { mean = 10, sd = 3 }\n[inputs.x]\nnormal = { mean = \"m\", sd = 4 }";
    follows(drawn(two, "x"), |x| Normal::new(10.0, 5.0).unwrap().cdf(x));
    let three = "[inputs.c]\nnormal = { mean = \"b\", sd = 1 }\n[inputs.b]\nnormal = { mean = \"a\", sd = 1 }\n\
                 [inputs.a]\nnormal = { mean = 0, sd = 1 }";
    follows(drawn(three, "c"), |x| Normal::new(0.0, 3.0_f64.sqrt()).unwrap().cdf(x));
}

/// An exponential whose rate is gamma (3, 1/2 per yr) is Lomax: P(X > x) = (1 + x/2)^-3.
#[test]
fn exponential_of_a_gamma_rate() {
    let inputs = "[inputs.rate]\nunit = \"1/yr\"\ngamma = { shape = 3, scale = 0.5 }\n\
                  [inputs.x]\nunit = \"yr\"\nexponential = { rate = \"rate\" }";
    follows(drawn(inputs, "x / 1 [yr]"), |x| 1.0 - (1.0 + x / 2.0).powi(-3));
}

/// Uniform to a uniform: F(x) = E min(1, x/M), M from 1 to 2.
#[test]
fn uniform_to_a_uniform_end() {
    let inputs = "[inputs.m]\nuniform = { min = 1, max = 2 }\n[inputs.x]\nuniform = { min = 0, max = \"m\" }";
    follows(drawn(inputs, "x"), |x| if x < 1.0 { x * 2.0_f64.ln() } else { x - 1.0 + x * (2.0 / x).ln() });
}

/// Poisson of a gamma mean (2, 1.5) is negative binomial: P(0) = 2.5^-2. Five standard errors: 6e-7 by chance.
#[test]
fn poisson_of_a_gamma_mean() {
    let inputs = "[inputs.m]\ngamma = { shape = 2, scale = 1.5 }\n[inputs.x]\npoisson = { mean = \"m\" }";
    let none = drawn(inputs, "x").iter().filter(|x| **x == 0.0).count() as f64 / RUNS as f64;
    assert!((none - 0.16).abs() < 5.0 * (0.16_f64 * 0.84 / RUNS as f64).sqrt(), "{none}");
}

/// A known parameter in another unit gives the draws of the number itself: kinds by score, by uniform, tabulated, cut.
#[test]
fn a_known_parameter_is_its_number() {
    for (kind, other, cut) in [
        ("normal = { mean = M, sd = 2 }", "", ""),
        ("lognormal = { median = M, gsd = 1.4 }", "", ""),
        ("weibull = { shape = 3, scale = M }", "", ""),
        ("gamma = { mean = M, sd = 4 }", "", ""),
        ("triangular = { min = 1, mode = M, max = 30 }", "", ""),
        ("normal = { mean = M, sd = 3 }", "", "truncate = { min = 8, max = 17 }"),
    ] {
        let input = |m: &str| format!("[inputs.x]\nunit = \"yr\"\n{}\n{cut}{other}\n", kind.replace('M', m));
        let known = "[inputs.months]\nunit = \"month\"\nvalue = 144\n";
        let joined = drawn(&format!("{known}{}", input("\"months\"")), "x / 1 [yr]");
        let plain = drawn(&input("12"), "x / 1 [yr]");
        for (a, b) in joined.iter().zip(&plain) {
            assert!((a - b).abs() < 1e-9 * b.abs(), "{kind}: {a} for {b}");
        }
    }
}

/// Exponential lives of mean M, M uniform from 2 to 6 yr: given M, failures in 20 yr are Poisson (20/M), if each life of a
/// run has the run's own M. E N = 20 ln(3)/4, var N = E N + 400 (1/12 - (ln(3)/4)^2). Five standard errors, that of
/// the variance from the fourth moment below 3.5 var^2: 1e-6 by chance in all.
#[test]
fn renewals_keep_the_parameters_of_the_run() {
    let inputs = "[inputs.m]\nunit = \"yr\"\nuniform = { min = 2, max = 6 }\n\
                  [inputs.x]\nunit = \"yr\"\nexponential = { mean = \"m\" }";
    let n = drawn(inputs, "sum_years(failures(x))");
    let runs = RUNS as f64;
    let mean = n.iter().sum::<f64>() / runs;
    let variance = n.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / runs;
    let rate = 3.0_f64.ln() / 4.0;
    let (wanted, spread) = (20.0 * rate, 20.0 * rate + 400.0 * (1.0 / 12.0 - rate * rate));
    assert!((mean - wanted).abs() < 5.0 * (spread / runs).sqrt(), "{mean} for {wanted}");
    assert!((variance - spread).abs() < 5.0 * spread * (2.5 / runs).sqrt(), "{variance} for {spread}");
    let served = drawn(inputs, "sum_years(in_service(x)) - min(x / 1 [yr], 20)");
    assert!(served.iter().all(|gap| gap.abs() < 1e-9));
}

/// A run whose parameters fit no distribution has no value: sd uniform from -1 to 3, a quarter (five standard errors).
#[test]
fn parameters_that_fit_nothing_give_no_value() {
    let inputs = "[inputs.s]\nuniform = { min = -1, max = 3 }\n[inputs.x]\nnormal = { mean = 5, sd = \"s\" }";
    let none = drawn(inputs, "x").iter().filter(|x| x.is_nan()).count() as f64 / RUNS as f64;
    assert!((none - 0.25).abs() < 5.0 * (0.25_f64 * 0.75 / RUNS as f64).sqrt(), "{none}");
}

/// Compiled and naive to the last bit, whatever the block.
#[test]
fn naive_and_blocks_agree() {
    let model = model_of(include_str!("good/given.toml")).unwrap_or_else(|errors| panic!("{errors}"));
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let laid = Laid::new(&model, &plan, &BTreeSet::new());
    let values = base_values(&laid.low, &model, &plan);
    let base: Vec<f64> = laid.wanted().iter().map(|id| values[id.index()]).collect();
    compare("base", 0, &base, &naive_run(&model, &plan, given_base(&model), BASE_RUN)).unwrap();
    let program = Program::of_runs(&laid.low.graph, &laid.wanted());
    let drawn = draw(&plan, 500, 64);
    let by = |block: usize| run_all(&program, &laid.leaves(&drawn, 64), 64, 500, block);
    let columns = by(7);
    for run in 0..64 {
        let compiled: Vec<f64> = columns.iter().map(|c| c[run]).collect();
        let plain = naive_run(&model, &plan, given(&model, &plan, &|c| drawn[c][run]), 500 + run as u64);
        compare("given", run, &compiled, &plain).unwrap();
    }
    for block in [1, 64] {
        let bits = |c: Vec<Vec<f64>>| c.concat().into_iter().map(f64::to_bits).collect::<Vec<_>>();
        assert_eq!(bits(by(block)), bits(columns.clone()));
    }
}

fn answers(body: &str) -> Answers {
    let model = model(body);
    appraise(&model, Options::of(&model), &Control::default()).unwrap()
}

fn at(lever: &Lever) -> f64 {
    match lever {
        Lever::At(x) => *x,
        other => panic!("{other:?}"),
    }
}

/// profit = 100 EUR/yr (typical + 2 z) - 800 EUR is 0 at typical = 8 - 2 z: P10, P50, P90 are 8 - 2 x 1.28155, 8 and
/// 8 + 2 x 1.28155, whether typical is known, a choice or drawn. The Sobol points leave less than 0.05.
#[test]
fn the_parameter_is_a_lever() {
    for typical in ["value = 10", "choice = [10, 12]", "uniform = { min = 5, max = 15 }"] {
        let answers = answers(&format!(
            "[inputs.typical]\nunit = \"yr\"\n{typical}\n[inputs.life]\nunit = \"yr\"\nnormal = {{ mean = \"typical\", sd = 2 }}\n\
             [results.profit]\nunit = \"EUR\"\nformula = \"100 [EUR/yr] * life - 800 [EUR]\"\nat_least = 0\n\
             [[break_even]]\nof = \"typical\"\nfrom = -2\nto = 18\n"
        ));
        let found = &answers.break_even[0];
        assert!((at(&found.base) - 8.0).abs() < 1e-8, "{typical}: {:?}", found.base);
        for (p, wanted) in [(0.1, 8.0 - 2.563_103), (0.5, 8.0), (0.9, 8.0 + 2.563_103)] {
            let q = found.percentiles.iter().find(|q| q.p == p).unwrap();
            assert!((at(&q.estimate.lever) - wanted).abs() < 0.05, "{typical}: {q:?}");
        }
    }
}

/// life = typical + 2 z with base 11 at typical = 10: z is 1/2 in the base case. Moving typical moves life with it;
/// life's own bar goes from 10 - 2 x 1.28155; another input finds exactly 11.
#[test]
fn spans_start_from_the_base_given() {
    let answers = answers(
        "[inputs.typical]\nnormal = { mean = 10, sd = 1 }\n[inputs.life]\nnormal = { mean = \"typical\", sd = 2 }\nbase = 11\n\
         [inputs.other]\nuniform = { min = 0, max = 10 }\n[results.r]\nformula = \"life * 100 + other\"\n",
    );
    let tornado = answers.tornado.as_ref().unwrap();
    assert_eq!(tornado.base, Figure::Number(1105.0));
    let low = |name: &str| tornado.rows.iter().find(|r| r.name == name).unwrap().low.number().unwrap();
    assert_eq!(low("other"), 1101.0);
    assert!((low("typical") - (1105.0 - 128.155_157)).abs() < 1e-4);
    assert!((low("life") - (1005.0 - 256.310_313)).abs() < 1e-4);
}

/// The mean under another choice differs by the difference of the parameter.
#[test]
fn a_choice_moves_what_hangs_on_it() {
    let answers = answers(
        "[inputs.typical]\nchoice = [8, 12]\n[inputs.life]\nnormal = { mean = \"typical\", sd = 2 }\n\
         [results.r]\nformula = \"100 * life\"\n",
    );
    let means: Vec<f64> =
        answers.choices.iter().map(|c| c.results[0].mean.as_ref().unwrap().value.number().unwrap()).collect();
    assert_eq!(means.len(), 2);
    assert!((means[1] - means[0] - 400.0).abs() < 1e-9, "{means:?}");
}
