//! Quantiles, intervals, digits and the stopping rule against
//! `oracles/output_statistics.json`, `probability_intervals.json` and (Spearman only)
//! `rank_statistics.json`.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use payspread::analysis::statistics::{
    digits::tolerance,
    intervals::{mean_and_error, rank_interval, replicate_half_width, wilson},
    quantiles::quantiles,
    ranks::spearman,
    stopping::{Block, stability},
};
use serde_json::Value;

fn cases(text: &str) -> Vec<Value> {
    let oracle: Value = serde_json::from_str(text).unwrap();
    oracle["cases"].as_array().unwrap().clone()
}

fn figure(v: &Value) -> f64 {
    if v == "never" { f64::INFINITY } else { v.as_f64().unwrap() }
}

fn figures(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(figure).collect()
}

#[track_caller]
fn close(case: &Value, got: f64, expect: f64) {
    let tolerance = |k| case["tolerance"][k].as_f64().unwrap_or(0.0);
    let allowed = f64::max(tolerance("abs"), tolerance("rel") * expect.abs());
    assert!(got == expect || (got - expect).abs() <= allowed, "{}: {got} for {expect}", case["name"]);
}

fn check_quantiles(case: &Value) {
    let values = figures(&case["inputs"]["values"]);
    let got = quantiles(&values, &figures(&case["inputs"]["p"]));
    let expect = figures(&case["expect"]["quantiles"]);
    assert_eq!(got.len(), expect.len());
    got.iter().zip(&expect).for_each(|(&g, &e)| close(case, g, e));
    let never = values.iter().filter(|&&x| x == f64::INFINITY).count();
    close(case, never as f64 / values.len() as f64, figure(&case["expect"]["share_never"]));
}

fn check_ranks(case: &Value) {
    let input = &case["inputs"];
    let n = input["runs"].as_u64().unwrap();
    let got = rank_interval(n, figure(&input["p"]), figure(&input["confidence"]));
    let rank = |k: &str| case["expect"][k].as_u64();
    assert_eq!((got.lower, got.upper), (rank("lower_rank"), rank("upper_rank")), "{}", case["name"]);
    let coverage = figure(&case["expect"]["coverage"]);
    assert!(
        (got.coverage - coverage).abs() <= figure(&case["tolerance"]["coverage_abs"]),
        "{}",
        case["name"]
    );
}

fn check_tolerance(case: &Value) {
    let digits = case["inputs"]["significant_digits"].as_u64().unwrap() as usize;
    let got = tolerance(figure(&case["inputs"]["standard_uncertainty"]), digits).unwrap();
    assert_eq!(Some(got.c), case["expect"]["c"].as_i64(), "{}", case["name"]);
    assert_eq!(Some(i64::from(got.l)), case["expect"]["l"].as_i64(), "{}", case["name"]);
    close(case, got.tolerance, figure(&case["expect"]["tolerance"]));
}

fn check_stopping(case: &Value) {
    let input = &case["inputs"];
    let block = |b: &Value| Block {
        mean: figure(&b["mean"]),
        sd: figure(&b["sd"]),
        low: figure(&b["low"]),
        high: figure(&b["high"]),
    };
    let blocks: Vec<Block> = input["blocks"].as_array().unwrap().iter().map(block).collect();
    let digits = input["significant_digits"].as_u64().unwrap() as usize;
    let got = stability(&blocks, figure(&input["standard_uncertainty_all_runs"]), digits).unwrap();
    let expect = |k: &str| figure(&case["expect"][k]);
    close(case, got.errors.mean, expect("s_mean"));
    close(case, got.errors.sd, expect("s_sd"));
    close(case, got.errors.low, expect("s_low"));
    close(case, got.errors.high, expect("s_high"));
    close(case, got.tolerance, expect("tolerance"));
    assert_eq!(Some(got.stable), case["expect"]["stable"].as_bool(), "{}", case["name"]);
}

fn check_replicates(case: &Value) {
    let means = figures(&case["inputs"]["replicate_means"]);
    let (mean, error) = mean_and_error(&means).unwrap();
    let half = replicate_half_width(&means, figure(&case["inputs"]["confidence"])).unwrap();
    let expect = |k: &str| figure(&case["expect"][k]);
    close(case, mean, expect("mean"));
    close(case, error, expect("standard_error"));
    close(case, mean - half, expect("low"));
    close(case, mean + half, expect("high"));
}

#[test]
fn output_statistics() {
    let cases = cases(include_str!("oracles/output_statistics.json"));
    for case in &cases {
        let input = &case["inputs"];
        if input["values"].is_array() {
            check_quantiles(case);
        } else if input["runs"].is_u64() {
            check_ranks(case);
        } else if input["standard_uncertainty"].is_f64() {
            check_tolerance(case);
        } else if input["blocks"].is_array() {
            check_stopping(case);
        } else {
            check_replicates(case);
        }
    }
    assert_eq!(cases.len(), 21);
}

#[test]
fn probability_intervals() {
    let cases = cases(include_str!("oracles/probability_intervals.json"));
    for case in &cases {
        let input = &case["inputs"];
        let (yes, n) = (input["successes"].as_u64().unwrap(), input["runs"].as_u64().unwrap());
        let got = wilson(yes, n, figure(&input["confidence"]));
        let expect = |k: &str| figure(&case["expect"][k]);
        close(case, got.value, expect("share"));
        close(case, got.low, expect("low"));
        close(case, got.high, expect("high"));
        if yes == 0 {
            assert_eq!(got.low, 0.0);
        }
        if yes == n {
            assert_eq!(got.high, 1.0);
        }
    }
    assert_eq!(cases.len(), 9);
}

/// Later: srrc, prcc, src, r_squared, class shares of the same cases.
#[test]
fn spearman_correlations() {
    let cases = cases(include_str!("oracles/rank_statistics.json"));
    for case in &cases {
        let result = figures(&case["inputs"]["result"]);
        let inputs = case["inputs"]["inputs"].as_object().unwrap();
        let expect = figures(&case["expect"]["spearman"]);
        assert_eq!(inputs.len(), expect.len());
        for (values, &expect) in ["a", "b", "c"].iter().filter_map(|k| inputs.get(*k)).zip(&expect) {
            close(case, spearman(&figures(values), &result).unwrap(), expect);
        }
    }
    assert_eq!(cases.len(), 2);
}
