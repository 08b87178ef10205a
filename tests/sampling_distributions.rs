//! Distributions against known answers, against independent implementations
//! (statrs, rand_distr), and under any parameters.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::sampling::distributions::KINDS;
use payspread::sampling::{Distribution, Value, Vectors};
use proptest::prelude::*;
use serde_json::Value as Json;

fn oracle() -> Vec<Json> {
    let text = include_str!("oracles/distributions.json");
    let json: Json = serde_json::from_str(text).unwrap();
    json["cases"].as_array().unwrap().clone()
}

fn number(json: &Json) -> f64 {
    json.as_f64().unwrap()
}

fn numbers(json: &Json) -> Vec<f64> {
    json.as_array().unwrap().iter().map(number).collect()
}

fn value(json: &Json) -> Value {
    match json {
        Json::Array(parts) if parts.iter().all(Json::is_object) => {
            let part = |part: &Json| {
                let mut own = part.as_object().unwrap().clone();
                let weight = number(&own.remove("weight").unwrap());
                (weight, build(&Json::Object(own)))
            };
            Value::Parts(parts.iter().map(part).collect())
        }
        Json::Array(_) => Value::List(numbers(json)),
        Json::String(word) => Value::Word(word.clone()),
        _ => Value::Number(number(json)),
    }
}

fn build(json: &Json) -> Distribution {
    let map = json.as_object().unwrap();
    let (kind, given) = map.iter().find(|(k, _)| *k != "truncate").unwrap();
    let parameters: Vec<(String, Value)> = match given {
        Json::Object(keys) => keys.iter().map(|(k, v)| (k.clone(), value(v))).collect(),
        parts => vec![("parts".to_owned(), value(parts))],
    };
    let cut = map.get("truncate").map(|t| (t.get("min").map(number), t.get("max").map(number)));
    Distribution::build(kind, &parameters, cut).unwrap()
}

#[test]
fn known_answers() {
    for case in oracle() {
        let name = case["name"].as_str().unwrap();
        let d = build(&case["inputs"]["distribution"]);
        let (rel, abs) = (number(&case["tolerance"]["rel"]), number(&case["tolerance"]["abs"]));
        let check = |what: &str, got: f64, expect: f64| {
            let gap = (got - expect).abs();
            assert!(gap <= abs.max(rel * expect.abs()), "{name}: {what} is {got}, expected {expect}");
        };
        let expect = &case["expect"];
        for (p, q) in numbers(&case["inputs"]["p"]).into_iter().zip(numbers(&expect["quantiles"])) {
            check(&format!("quantile {p}"), d.quantile_at(p), q);
            if !d.is_discrete() {
                let back = d.cdf(q);
                assert!((back - p).abs() <= 1e-9 * (1.0 + 1e3 * p), "{name}: cdf({q}) is {back}, not {p}");
            }
        }
        check("mean", d.mean(), number(&expect["mean"]));
        check("sd", d.sd(), number(&expect["sd"]));
    }
}

#[test]
fn slices_and_scalars_have_the_same_bits() {
    let n = 20_001;
    let uniforms: Vec<f64> = (0..n).map(|i| (f64::from(i) + 0.5) / f64::from(n)).collect();
    let far = [1.1102230246251565e-16, 1e-12, 1e-5, 0.5, 1.0 - 1e-9, 1.0 - 1.1102230246251565e-16];
    for case in oracle() {
        let d = build(&case["inputs"]["distribution"]);
        for vectors in [Vectors::Widest, Vectors::Avx2, Vectors::Baseline] {
            let mut values: Vec<f64> = uniforms.iter().chain(&far).copied().collect();
            let expect: Vec<u64> = values.iter().map(|&u| d.quantile(u, 1.0 - u).to_bits()).collect();
            d.fill_from_uniform(vectors, &mut values);
            let got: Vec<u64> = values.iter().map(|x| x.to_bits()).collect();
            assert!(got == expect, "{} from uniforms", case["name"]);
            let mut scores: Vec<f64> = (-860..=860).map(|k| f64::from(k) / 100.0).collect();
            let expect: Vec<u64> = scores.iter().map(|&z| d.from_score(z).to_bits()).collect();
            d.fill_from_score(vectors, &mut scores);
            let got: Vec<u64> = scores.iter().map(|x| x.to_bits()).collect();
            assert!(got == expect, "{} from scores", case["name"]);
        }
    }
}

fn given(kind: &str, parameters: &[(&str, f64)]) -> Distribution {
    let parameters: Vec<(String, Value)> =
        parameters.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
    Distribution::build(kind, &parameters, None).unwrap()
}

/// Largest gap between the distribution function of the sample and `cdf`.
fn kolmogorov(mut sample: Vec<f64>, cdf: impl Fn(f64) -> f64) -> f64 {
    sample.sort_by(f64::total_cmp);
    let n = sample.len() as f64;
    sample
        .iter()
        .enumerate()
        .map(|(i, x)| {
            let f = cdf(*x);
            (f - i as f64 / n).abs().max((f - (i + 1) as f64 / n).abs())
        })
        .fold(0.0, f64::max)
}

/// Samples of an independent library against our distribution functions. Each
/// of the tests has a false-alarm rate of 1e-4 (limit 2.23/sqrt(n): the tail
/// 2 exp(-2 t^2) at t = 2.2253), over all nine below 1e-3; the seed is fixed.
#[test]
fn samples_of_another_library_follow_our_distribution_functions() {
    use rand_distr::Distribution as _;
    let n = 100_000;
    let limit = 2.2253 / f64::from(n).sqrt();
    let mut rng = payspread::sampling::philox::Stream::new(payspread::sampling::philox::Key(99), 0);
    let check = |name: &str, sample: Vec<f64>, d: &Distribution| {
        let gap = kolmogorov(sample, |x| d.cdf(x));
        assert!(gap < limit, "{name}: {gap} against {limit}");
    };
    macro_rules! against {
        ($name:expr, $theirs:expr, $ours:expr) => {
            let theirs = $theirs;
            check($name, (0..n).map(|_| f64::from(theirs.sample(&mut rng))).collect(), &$ours);
        };
    }
    against!(
        "normal",
        rand_distr::Normal::new(3.0, 2.0).unwrap(),
        given("normal", &[("mean", 3.0), ("sd", 2.0)])
    );
    against!(
        "lognormal",
        rand_distr::LogNormal::new(0.3, 0.7).unwrap(),
        given("lognormal", &[("mu", 0.3), ("sigma", 0.7)])
    );
    against!(
        "weibull",
        rand_distr::Weibull::new(14.0, 3.2).unwrap(),
        given("weibull", &[("shape", 3.2), ("scale", 14.0)])
    );
    against!(
        "triangular",
        rand_distr::Triangular::new(1.0, 5.0, 2.0).unwrap(),
        given("triangular", &[("min", 1.0), ("mode", 2.0), ("max", 5.0)])
    );
    against!(
        "pert",
        rand_distr::Pert::new(22.0, 65.0).with_mode(38.0).unwrap(),
        given("pert", &[("min", 22.0), ("mode", 38.0), ("max", 65.0)])
    );
    against!(
        "beta",
        rand_distr::Beta::new(0.5, 0.7).unwrap(),
        given("beta", &[("alpha", 0.5), ("beta", 0.7)])
    );
    against!("exponential", rand_distr::Exp::new(0.25).unwrap(), given("exponential", &[("mean", 4.0)]));
}

/// Our draws against the distribution functions of another library, and their
/// quantiles: same false-alarm rate.
#[test]
fn our_draws_follow_another_library() {
    use statrs::distribution::{Beta, ContinuousCDF, LogNormal, Normal, Weibull};
    let n = 100_000;
    let limit = 2.2253 / (n as f64).sqrt();
    let draws = |name: &str, d: &Distribution| {
        let key =
            payspread::sampling::philox::Key::new(5, name, payspread::sampling::philox::Purpose::Value, 0);
        let mut u = vec![0.0; n];
        Vectors::Widest.uniform_fill(key, 0, 0, &mut u);
        d.fill_from_uniform(Vectors::Widest, &mut u);
        u
    };
    fn agree(
        name: &str,
        d: &Distribution,
        theirs: &impl ContinuousCDF<f64, f64>,
        sample: Vec<f64>,
        limit: f64,
    ) {
        let gap = kolmogorov(sample, |x| theirs.cdf(x));
        assert!(gap < limit, "{name}: {gap} against {limit}");
        for i in 1..2000 {
            let p = f64::from(i) / 2000.0;
            let (got, expect) = (d.quantile_at(p), theirs.inverse_cdf(p));
            assert!(
                (got - expect).abs() <= 2e-11 * (1.0 + expect.abs()),
                "{name} at {p}: {got} and {expect}"
            );
        }
    }
    let d = given("normal", &[("mean", 3.0), ("sd", 2.0)]);
    agree("normal", &d, &Normal::new(3.0, 2.0).unwrap(), draws("normal", &d), limit);
    let d = given("lognormal", &[("mu", 0.3), ("sigma", 0.7)]);
    agree("lognormal", &d, &LogNormal::new(0.3, 0.7).unwrap(), draws("lognormal", &d), limit);
    let d = given("weibull", &[("shape", 3.2), ("scale", 14.0)]);
    agree("weibull", &d, &Weibull::new(3.2, 14.0).unwrap(), draws("weibull", &d), limit);
    let shapes = [(1.0, 5.0), (2.5, 3.5), (12.0, 1.2), (40.0, 900.0), (3000.0, 2000.0)];
    for (a, b) in shapes {
        let d = given("beta", &[("alpha", a), ("beta", b)]);
        agree("beta", &d, &Beta::new(a, b).unwrap(), draws("beta", &d), limit);
    }
}

/// Far below its mean a gamma of shape k is p Gamma(k+1) = x^k (1 - k x/(k+1) + ...): an independent quantile there. The table
/// promises 1e-12 of the deviation.
#[test]
fn a_spiky_gamma_in_its_lower_tail() {
    for k in [0.1293, 0.3, 0.6, 0.9, 1.2] {
        let d = given("gamma", &[("shape", k), ("scale", 2.0)]);
        for i in 1..400 {
            let p = 2e-5 * f64::from(i);
            let x0 = (p * libm::tgamma(k + 1.0)).powf(1.0 / k);
            // Two steps of the fixed point of the series, to the third power of x.
            let series = |x: f64| 1.0 - k * x / (k + 1.0) + k * x * x / (2.0 * (k + 2.0));
            let x = x0 / series(x0 / series(x0).powf(1.0 / k)).powf(1.0 / k);
            if x > 1e-4 {
                break;
            }
            let (got, expect) = (d.quantile_at(p), 2.0 * x);
            assert!(
                (got - expect).abs() <= 2e-12 * d.sd() + 1e-11 * expect,
                "{k} at {p}: {got} and {expect}"
            );
        }
    }
}

/// U-shaped: B(1/2, 1/2) has the closed form sin^2(pi p/2), far into the tails.
#[test]
fn the_arcsine_law_in_its_tails() {
    let d = given("beta", &[("alpha", 0.5), ("beta", 0.5)]);
    for k in 0..2000 {
        let p = 1e-9 + f64::from(k) / 2001.0;
        let expect = (std::f64::consts::FRAC_PI_2 * p).sin().powi(2);
        let got = d.quantile_at(p);
        assert!((got - expect).abs() <= 1e-11 * expect + 1e-13, "{p}: {got} and {expect}");
    }
}

#[test]
fn what_is_wrong_is_said_with_the_key() {
    type Case<'a> = (&'a str, &'a [(&'a str, f64)], &'a [&'a str], &'a str);
    let cases: [Case<'_>; 12] = [
        ("uniform", &[("min", 5.0), ("max", 2.0)], &["min", "max"], "below"),
        ("triangular", &[("min", 1.0), ("mode", 9.0), ("max", 4.0)], &["mode", "max"], "from `min` to `max`"),
        ("pert", &[("min", 1.0), ("mode", 0.0), ("max", 4.0)], &["mode", "min"], "from `min` to `max`"),
        ("normal", &[("mean", 1.0), ("sd", -1.0)], &["sd"], "above 0"),
        ("normal", &[("mean", 1.0), ("sigma", 1.0)], &["sigma"], "mean, sd"),
        ("normal", &[("mean", 1.0)], &["mean"], "mean, sd"),
        ("normal", &[("mean", 1.0), ("p90", 2.0)], &["mean", "p90"], "p10, p90"),
        ("normal", &[("men", 1.0), ("sd", 2.0)], &["men"], "did you mean `mean`"),
        ("lognormal", &[("p10", -1.0), ("p90", 2.0)], &["p10"], "above 0"),
        ("beta", &[("mean", 0.5), ("sd", 0.6)], &["sd"], "below 0.5"),
        ("weibull", &[("shape", 0.0), ("scale", 2.0)], &["shape"], "above 0"),
        ("bernoulli", &[("chance", 1.2)], &["chance"], "0 to 1"),
    ];
    for (kind, parameters, keys, hint) in cases {
        let list: Vec<(String, Value)> =
            parameters.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
        let error = Distribution::build(kind, &list, None).unwrap_err();
        assert_eq!(error.keys, keys, "{kind} {parameters:?}: {error}");
        assert!(error.hint.contains(hint), "{kind} {parameters:?}: {error}");
    }
    let error = Distribution::build("triangle", &[], None).unwrap_err();
    assert!(error.hint.contains("did you mean `triangular`"), "{error}");
    let zero = [
        ("values".to_owned(), Value::List(vec![1.0, 2.0])),
        ("weights".to_owned(), Value::List(vec![0.0, 0.0])),
    ];
    assert_eq!(Distribution::build("discrete", &zero, None).unwrap_err().keys, ["weights"]);
    let normal = [("mean".to_owned(), Value::Number(0.0)), ("sd".to_owned(), Value::Number(1.0))];
    let cut = Distribution::build("normal", &normal, Some((Some(9.0), None))).unwrap_err();
    assert_eq!(cut.keys, ["truncate"]);
    let turned = Distribution::build("normal", &normal, Some((Some(2.0), Some(1.0)))).unwrap_err();
    assert!(turned.hint.contains("below"), "{turned}");
}

#[test]
fn the_table_is_whole() {
    for kind in KINDS {
        assert!(!kind.forms.is_empty() && !kind.summary.is_empty() && !kind.source.is_empty());
        assert!(kind.example.starts_with(kind.name), "{}", kind.example);
        for key in kind.all_keys() {
            assert!(kind.knows(key));
        }
    }
}

#[test]
fn labels_are_indices_without_order() {
    let d = Distribution::labels(&[1.0, 0.0, 3.0]).unwrap();
    assert!(!d.linkable());
    assert_eq!((d.quantile_at(0.2), d.quantile_at(0.3), d.mode()), (0.0, 2.0, 2.0));
    assert!(Distribution::labels(&[]).is_err() && Distribution::labels(&[0.0]).is_err());
    assert!(Distribution::labels(&[f64::NAN]).is_err());
}

/// Any number that a user may think of, and some that none would.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        -10.0..10.0,
        0.0..1.0,
        Just(0.0),
        Just(1.0),
        Just(1e-300),
        Just(1e300),
        Just(f64::NAN),
        Just(f64::INFINITY)
    ]
}

type Cut = Option<(Option<f64>, Option<f64>)>;

fn any_distribution() -> impl Strategy<Value = (usize, usize, Vec<f64>, Vec<f64>, Cut)> {
    let list = prop::collection::vec(any_number(), 0..8);
    let cut = prop::option::of((prop::option::of(any_number()), prop::option::of(any_number())));
    (0..KINDS.len(), 0..4_usize, prop::collection::vec(any_number(), 6), list, cut)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    /// No parameters panic or hang, and what is accepted stays in its support and rises.
    #[test]
    fn any_parameters((kind, form, values, list, cut) in any_distribution()) {
        let entry = KINDS[kind];
        let form = &entry.forms[form % entry.forms.len()];
        let keys = form.keys.iter().chain(form.optional.iter().filter(|_| values[5] > 0.0));
        let parameters: Vec<(String, Value)> = keys
            .zip(&values)
            .map(|(k, v)| {
                let is_list = *k == "values" || *k == "weights";
                let value = if is_list { Value::List(list.iter().map(|x| x * v).collect()) } else { Value::Number(*v) };
                ((*k).to_owned(), value)
            })
            .collect();
        let Ok(d) = Distribution::build(entry.name, &parameters, cut) else { return Ok(()) };
        let (min, max) = d.support();
        prop_assert!(min <= max, "{:?}", d);
        let mut before = f64::NEG_INFINITY;
        let mut ps: Vec<f64> = (1..40).map(|i| f64::from(i) / 40.0).collect();
        ps.extend([1.2e-16, 1e-12, 1e-6, 1.0 - 1e-6, 1.0 - 1e-12, 1.0 - 1.2e-16]);
        ps.sort_by(f64::total_cmp);
        let scale = d.quantile_at(0.9).abs().max(d.quantile_at(0.1).abs());
        for p in ps {
            let x = d.quantile_at(p);
            prop_assert!(x >= min && x <= max, "{:?}: {} at {} outside {} to {}", d, x, p, min, max);
            prop_assert!(x >= before - 1e-12 * scale, "{:?}: {} at {} after {}", d, x, p, before);
            before = x;
        }
    }
}
