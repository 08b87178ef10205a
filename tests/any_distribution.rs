//! Any distribution with any parameters: nothing panics or hangs, and what is accepted keeps its promises.
#![allow(
    clippy::neg_cmp_op_on_partial_ord,
    clippy::panic,
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised; guards are written so that NaN cannot pass"
)]

mod draws;

use std::time::{Duration, Instant};

use draws::any::{Given, any_given};
use payspread::sampling::{Distribution, Value, Vectors};
use proptest::prelude::*;
use proptest::test_runner::FileFailurePersistence;

/// No set of parameters may take longer than this to build, ask for 200 quantiles, and fill a block. Far beyond what
/// is needed, because the machine may be busy; a hang is for ever.
const LONGEST: Duration = Duration::from_secs(20);

/// Probabilities with all that a draw can be: its ends are those of 52 bits.
fn probabilities() -> Vec<f64> {
    let least = 0.5 / 4_503_599_627_370_496.0;
    let mut ps: Vec<f64> = (1..190).map(|i| f64::from(i) / 190.0).collect();
    ps.extend([least, 1e-14, 1e-10, 1e-6, 1e-3]);
    ps.extend([1.0 - least, 1.0 - 1e-14, 1.0 - 1e-10, 1.0 - 1e-6, 1.0 - 1e-3, 0.5]);
    ps.sort_by(f64::total_cmp);
    ps
}

/// The range, or a thousand deviations where these are less.
fn size(d: &Distribution) -> f64 {
    let (min, max) = d.support();
    let size = (max - min).min(1e3 * d.sd());
    if size.is_finite() { size } else { 0.0 }
}

/// What is wrong with a distribution that was accepted.
fn fault(d: &Distribution) -> Option<String> {
    let (min, max) = d.support();
    // Written so that NaN is a fault.
    if !(min <= max) {
        return Some(format!("its support goes from {min} to {max}"));
    }
    let ps = probabilities();
    let values: Vec<f64> = ps.iter().map(|&p| d.quantile_at(p)).collect();
    let mut filled = ps.clone();
    d.fill_from_uniform(Vectors::Widest, &mut filled);
    let slack = 1e-12 * (size(d) + d.quantile_at(0.9).abs().max(d.quantile_at(0.1).abs()));
    let mut before = f64::NEG_INFINITY;
    for ((&p, &x), &drawn) in ps.iter().zip(&values).zip(&filled) {
        if !(x.is_finite() && min <= x && x <= max) {
            return Some(format!("{x} at {p} is outside {min} to {max}"));
        }
        if x.to_bits() != drawn.to_bits() {
            return Some(format!("drawn {drawn} at {p}, asked {x}"));
        }
        // A table may fall by its own rounding.
        if x < before - slack {
            return Some(format!("{x} at {p} after {before}"));
        }
        if let Some(fault) = fault_of_cdf(d, p, x) {
            return Some(fault);
        }
        before = x;
    }
    let (mean, sd) = (d.mean(), d.sd());
    // Heavy tails may have neither within what a double holds; a limited one has both.
    let limited = min.is_finite() && max.is_finite();
    let slack = 1e-9 * (max - min) + 1e-12 * max.abs().max(min.abs());
    if limited
        && !(min - slack <= mean && mean <= max + slack && sd >= 0.0 && sd <= 0.5 * (max - min) + slack)
    {
        return Some(format!("mean {mean} and sd {sd} on {min} to {max}"));
    }
    let mode = d.mode();
    (!(min <= mode && mode <= max)).then(|| format!("mode {mode} outside {min} to {max}"))
}

/// The distribution function at a quantile must be its probability, allowing for the rounding of the value: it may reach
/// the probability anywhere within a 1e-10th of the value, or a 1e-12th of its size.
fn fault_of_cdf(d: &Distribution, p: f64, x: f64) -> Option<String> {
    let room = if d.is_discrete() { 0.0 } else { 1e-10 * x.abs() + 1e-12 * size(d) + f64::MIN_POSITIVE };
    let (low, high) = ((x - room).next_down(), x + room);
    let (below, upto) = (d.cdf(low), d.cdf(high));
    let fits =
        below <= p + 1e-8 && upto >= p - 1e-8 && (0.0..=1.0).contains(&below) && (0.0..=1.0).contains(&upto);
    (!fits).then(|| {
        format!("at {p} stands {x}, but the distribution function goes from {below} to {upto} there")
    })
}

fn check(given: &Given) -> Result<bool, TestCaseError> {
    let begin = Instant::now();
    let built = given.build();
    let fault = built.as_ref().ok().and_then(fault);
    let taken = begin.elapsed();
    prop_assert!(taken < LONGEST, "{given:?} took {taken:?}");
    prop_assert!(fault.is_none(), "{given:?}: {}", fault.unwrap_or_default());
    if let Err(error) = &built {
        prop_assert!(!error.message.is_empty() && !error.hint.is_empty(), "{given:?}: {error:?}");
    }
    Ok(built.is_ok())
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 800,
        max_shrink_iters: 30,
        failure_persistence: Some(Box::new(FileFailurePersistence::Off)),
        ..ProptestConfig::default()
    })]

    #[test]
    fn any_constructor_with_any_parameters(given in any_given()) {
        check(&given)?;
    }
}

/// The generator is of use only if a good part of what it makes is accepted, of every kind.
#[test]
fn enough_is_accepted() {
    use proptest::strategy::ValueTree;
    use std::collections::BTreeMap;
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let mut accepted: BTreeMap<String, u32> = BTreeMap::new();
    for _ in 0..5000 {
        let given = any_given().new_tree(&mut runner).unwrap().current();
        if given.build().is_ok() {
            *accepted.entry(given.kind).or_default() += 1;
        }
    }
    for kind in payspread::sampling::distributions::KINDS {
        let n = accepted.get(kind.name).copied().unwrap_or_default();
        assert!(n >= 10, "{} was accepted {n} times: {accepted:?}", kind.name);
    }
}

/// Found by the test above: half of this beta lies below 1e-19, where 1 minus the rest has no digits.
#[test]
fn a_beta_next_to_its_end_keeps_its_digits() {
    let number = |key: &str, x: f64| (key.to_owned(), Value::Number(x));
    for (mean, sd) in [(8.786_773_808_068_798e-8, 6.054_006_978_197_939e-7), (1.0 - 1e-7, 7e-7)] {
        let parameters = vec![number("mean", mean), number("sd", sd)];
        let given = Given { kind: "beta".into(), parameters, parts: Vec::new(), truncate: None };
        assert!(check(&given).unwrap(), "{given:?} is refused");
    }
}
