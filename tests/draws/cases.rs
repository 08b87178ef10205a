//! Distributions to be drawn from, each with the same one by another library or a formula of its own.

use payspread::sampling::{Distribution, Value};
use statrs::distribution::{self as theirs, ContinuousCDF, Discrete};

/// A function of the value, independent of ours.
type Function = Box<dyn Fn(f64) -> f64 + Sync>;

/// The same distribution from elsewhere, its parameters worked out anew.
pub(crate) enum Other {
    /// Probability at or below a value.
    Cdf(Function),
    /// Probability of a value.
    Mass(Function),
}

/// A distribution, how it was given, and the same from elsewhere.
pub(crate) struct Case {
    pub(crate) name: String,
    pub(crate) kind: &'static str,
    pub(crate) keys: Vec<&'static str>,
    pub(crate) truncated: bool,
    pub(crate) distribution: Distribution,
    pub(crate) other: Other,
}

pub(crate) type Cut = Option<(Option<f64>, Option<f64>)>;
type Numbers = &'static [(&'static str, f64)];

pub(crate) const WHOLE: Cut = None;
const Z90: f64 = 1.2815515655446004;

fn case(
    kind: &'static str,
    numbers: Numbers,
    lists: &[(&'static str, &[f64])],
    cut: Cut,
    other: Other,
) -> Case {
    let mut given: Vec<(&'static str, Value)> = numbers.iter().map(|&(k, v)| (k, Value::Number(v))).collect();
    given.extend(lists.iter().map(|&(k, v)| (k, Value::List(v.to_vec()))));
    made(kind, given, cut, other)
}

pub(crate) fn made(kind: &'static str, given: Vec<(&'static str, Value)>, cut: Cut, other: Other) -> Case {
    let name = format!("{kind} {given:?} {cut:?}");
    let keys = given.iter().map(|(k, _)| *k).collect();
    let given: Vec<(String, Value)> = given.into_iter().map(|(k, v)| (k.to_owned(), v)).collect();
    let distribution = Distribution::build(kind, &given, cut).unwrap_or_else(|e| panic!("{name}: {e}"));
    Case { name, kind, keys, truncated: cut.is_some(), distribution, other }
}

/// The distribution function `law`, and what a cut makes of it.
fn cdf(law: impl ContinuousCDF<f64, f64> + Sync + 'static, cut: Cut) -> Other {
    function(move |x| law.cdf(x), cut)
}

pub(crate) fn function(f: impl Fn(f64) -> f64 + Sync + 'static, cut: Cut) -> Other {
    let Some((min, max)) = cut else { return Other::Cdf(Box::new(f)) };
    let (low, high) = (min.map_or(0.0, &f), max.map_or(1.0, &f));
    Other::Cdf(Box::new(move |x| (f(x) - low) / (high - low)))
}

fn mass(f: impl Fn(f64) -> f64 + Sync + 'static) -> Other {
    Other::Mass(Box::new(f))
}

/// Every kind, every form of its parameters, whole and cut.
pub(crate) fn all() -> Vec<Case> {
    let mut cases = ends();
    cases.extend(normals());
    cases.extend(positives());
    cases.extend(lives());
    cases.extend(counts());
    cases
}

fn scaled_beta(a: f64, b: f64, min: f64, max: f64, cut: Cut) -> Other {
    let law = theirs::Beta::new(a, b).unwrap();
    function(move |x| law.cdf((x - min) / (max - min)), cut)
}

/// Shapes of a beta from its mean and sd on 0..1 by hand: a + b + 1 = m(1-m)/s^2.
fn beta_from_moments(m: f64, s: f64) -> (f64, f64) {
    let sum = m * (1.0 - m) / (s * s) - 1.0;
    (m * sum, sum - m * sum)
}

fn ends() -> Vec<Case> {
    let uniform = |a, b, cut| cdf(theirs::Uniform::new(a, b).unwrap(), cut);
    let triangular = |a, m, b, cut| cdf(theirs::Triangular::new(a, b, m).unwrap(), cut);
    let (bottom, middle) = (Some((Some(140.0), None)), Some((Some(-1.0), Some(0.2))));
    let low = Some((None, Some(30.0)));
    let share = Some((Some(0.2), Some(0.35)));
    let (a, b) = beta_from_moments(0.3, 0.1);
    // On 10 to 30: mean 0.4, sd 0.2 of the width.
    let (c, d) = beta_from_moments(0.4, 0.2);
    vec![
        case("uniform", &[("min", 0.02), ("max", 0.06)], &[], WHOLE, uniform(0.02, 0.06, WHOLE)),
        case("uniform", &[("min", -3.0), ("max", 1e4)], &[], WHOLE, uniform(-3.0, 1e4, WHOLE)),
        case("uniform", &[("p10", 2.0), ("p90", 6.0)], &[], WHOLE, uniform(1.5, 6.5, WHOLE)),
        case("uniform", &[("min", -3.0), ("max", 1.0)], &[], middle, uniform(-3.0, 1.0, middle)),
        case(
            "triangular",
            &[("min", 120.0), ("mode", 200.0), ("max", 350.0)],
            &[],
            WHOLE,
            triangular(120.0, 200.0, 350.0, WHOLE),
        ),
        case(
            "triangular",
            &[("min", 120.0), ("mode", 120.0), ("max", 350.0)],
            &[],
            bottom,
            triangular(120.0, 120.0, 350.0, bottom),
        ),
        // P10 and P90 of the triangular from 0 over 4 to 10: sqrt(4) and 10 - sqrt(6).
        case(
            "triangular",
            &[("p10", 2.0), ("mode", 4.0), ("p90", 7.550_510_257_216_822)],
            &[],
            WHOLE,
            triangular(0.0, 4.0, 10.0, WHOLE),
        ),
        case(
            "pert",
            &[("min", 22.0), ("mode", 38.0), ("max", 65.0)],
            &[],
            WHOLE,
            scaled_beta(1.0 + 64.0 / 43.0, 1.0 + 108.0 / 43.0, 22.0, 65.0, WHOLE),
        ),
        case(
            "pert",
            &[("min", 22.0), ("mode", 22.0), ("max", 65.0), ("weight", 9.0)],
            &[],
            WHOLE,
            scaled_beta(1.0, 10.0, 22.0, 65.0, WHOLE),
        ),
        case(
            "pert",
            &[("min", 22.0), ("mode", 38.0), ("max", 65.0)],
            &[],
            low,
            scaled_beta(1.0 + 64.0 / 43.0, 1.0 + 108.0 / 43.0, 22.0, 65.0, low),
        ),
        case("beta", &[("mean", 0.3), ("sd", 0.1)], &[], WHOLE, scaled_beta(a, b, 0.0, 1.0, WHOLE)),
        case("beta", &[("mean", 0.3), ("sd", 0.1)], &[], share, scaled_beta(a, b, 0.0, 1.0, share)),
        case("beta", &[("alpha", 0.5), ("beta", 0.7)], &[], WHOLE, scaled_beta(0.5, 0.7, 0.0, 1.0, WHOLE)),
        case(
            "beta",
            &[("alpha", 900.0), ("beta", 40.0)],
            &[],
            WHOLE,
            scaled_beta(900.0, 40.0, 0.0, 1.0, WHOLE),
        ),
        case(
            "beta",
            &[("mean", 18.0), ("sd", 4.0), ("min", 10.0), ("max", 30.0)],
            &[],
            WHOLE,
            scaled_beta(c, d, 10.0, 30.0, WHOLE),
        ),
    ]
}

fn normals() -> Vec<Case> {
    let normal = |mean, sd, cut| cdf(theirs::Normal::new(mean, sd).unwrap(), cut);
    let log = |mu, sigma, cut| cdf(theirs::LogNormal::new(mu, sigma).unwrap(), cut);
    let (positive, tail) = (Some((Some(0.0), None)), Some((Some(9.0), Some(11.0))));
    let window = Some((Some(0.5), Some(3.0)));
    let variance = (1.0f64 + 1.0 / 9.0).ln();
    vec![
        case("normal", &[("mean", 3.0), ("sd", 2.0)], &[], WHOLE, normal(3.0, 2.0, WHOLE)),
        case("normal", &[("mean", 1.0), ("sd", 2.0)], &[], positive, normal(1.0, 2.0, positive)),
        case("normal", &[("mean", 3.0), ("sd", 2.0)], &[], tail, normal(3.0, 2.0, tail)),
        case("normal", &[("p10", -5.0), ("p90", 7.0)], &[], WHOLE, normal(1.0, 6.0 / Z90, WHOLE)),
        case("lognormal", &[("mu", 0.3), ("sigma", 0.7)], &[], WHOLE, log(0.3, 0.7, WHOLE)),
        case("lognormal", &[("mu", 0.3), ("sigma", 0.7)], &[], window, log(0.3, 0.7, window)),
        case(
            "lognormal",
            &[("mean", 36.0), ("sd", 12.0)],
            &[],
            WHOLE,
            log(36.0f64.ln() - variance / 2.0, variance.sqrt(), WHOLE),
        ),
        case("lognormal", &[("median", 5.0), ("gsd", 1.4)], &[], WHOLE, log(5.0f64.ln(), 1.4f64.ln(), WHOLE)),
        case(
            "lognormal",
            &[("p10", 0.065), ("p90", 0.12)],
            &[],
            WHOLE,
            log((0.065f64 * 0.12).ln() / 2.0, (0.12f64 / 0.065).ln() / (2.0 * Z90), WHOLE),
        ),
    ]
}

fn positives() -> Vec<Case> {
    let gamma = |shape, scale: f64, cut| cdf(theirs::Gamma::new(shape, 1.0 / scale).unwrap(), cut);
    let exponential = |mean: f64, cut| cdf(theirs::Exp::new(1.0 / mean).unwrap(), cut);
    let (window, start) = (Some((Some(100.0), Some(180.0))), Some((Some(6.0), None)));
    vec![
        case("gamma", &[("mean", 120.0), ("sd", 30.0)], &[], WHOLE, gamma(16.0, 7.5, WHOLE)),
        case("gamma", &[("mean", 120.0), ("sd", 30.0)], &[], window, gamma(16.0, 7.5, window)),
        case("gamma", &[("shape", 0.6), ("scale", 2.0)], &[], WHOLE, gamma(0.6, 2.0, WHOLE)),
        case("gamma", &[("shape", 400.0), ("scale", 0.1)], &[], WHOLE, gamma(400.0, 0.1, WHOLE)),
        case("exponential", &[("mean", 4.0)], &[], WHOLE, exponential(4.0, WHOLE)),
        case("exponential", &[("mean", 4.0)], &[], start, exponential(4.0, start)),
        case("exponential", &[("median", 4.0)], &[], WHOLE, exponential(4.0 / 2f64.ln(), WHOLE)),
        case("exponential", &[("rate", 0.2)], &[], WHOLE, exponential(5.0, WHOLE)),
    ]
}

fn lives() -> Vec<Case> {
    let weibull = |shape, scale, cut| cdf(theirs::Weibull::new(shape, scale).unwrap(), cut);
    let aged = Some((Some(8.0), None));
    let ends = Some((Some(1.0), Some(40.0)));
    // Shape 2 is Rayleigh's: mean = scale sqrt(pi)/2, sd/mean = sqrt(4/pi - 1).
    let (mean, sd) = (10.0, 10.0 * (4.0 / std::f64::consts::PI - 1.0).sqrt());
    let scale = 20.0 / std::f64::consts::PI.sqrt();
    let (k, low) = ((0.9f64.ln() / 0.1f64.ln()).recip().ln() / 4.0f64.ln(), 5.0);
    vec![
        case("weibull", &[("shape", 3.2), ("scale", 14.0)], &[], WHOLE, weibull(3.2, 14.0, WHOLE)),
        case("weibull", &[("shape", 3.2), ("scale", 14.0)], &[], aged, weibull(3.2, 14.0, aged)),
        case("weibull", &[("shape", 0.8), ("scale", 14.0)], &[], ends, weibull(0.8, 14.0, ends)),
        made(
            "weibull",
            vec![("mean", Value::Number(mean)), ("sd", Value::Number(sd))],
            WHOLE,
            weibull(2.0, scale, WHOLE),
        ),
        made(
            "weibull",
            vec![("mean", Value::Number(mean)), ("shape", Value::Number(2.0))],
            WHOLE,
            weibull(2.0, scale, WHOLE),
        ),
        // P10 = 5, P90 = 20: k = ln(ln 0.1/ln 0.9)/ln 4, scale = 5/(-ln 0.9)^(1/k).
        case(
            "weibull",
            &[("p10", 5.0), ("p90", 20.0)],
            &[],
            WHOLE,
            weibull(k, low / (-(0.9f64.ln())).powf(1.0 / k), WHOLE),
        ),
    ]
}

/// Values with their weights.
pub(crate) fn at(values: &'static [f64], weights: &'static [f64]) -> Other {
    let total: f64 = weights.iter().sum();
    mass(move |x| values.iter().zip(weights).filter(|(v, _)| **v == x).map(|(_, w)| w / total).sum())
}

fn counts() -> Vec<Case> {
    let poisson = |mean| theirs::Poisson::new(mean).unwrap();
    let binomial = |n, p| theirs::Binomial::new(p, n).unwrap();
    let (thin, wide) = (poisson(3.2), poisson(250.0));
    let (few, many) = (binomial(12, 0.3), binomial(4000, 0.02));
    let some = (1u64..=5).map(|k| thin.pmf(k)).sum::<f64>();
    let (cut_thin, cut_few) = (poisson(3.2), binomial(12, 0.3));
    let three_up = (3u64..=12).map(|k| few.pmf(k)).sum::<f64>();
    const SIZES: &[f64] = &[2.0, 3.0, 4.0, -1.5];
    const WEIGHTS: &[f64] = &[20.0, 60.0, 20.0, 1.0];
    vec![
        case("discrete", &[], &[("values", SIZES), ("weights", WEIGHTS)], WHOLE, at(SIZES, WEIGHTS)),
        case(
            "discrete",
            &[],
            &[("values", SIZES), ("weights", WEIGHTS)],
            Some((Some(2.0), Some(3.5))),
            at(&[2.0, 3.0], &[20.0, 60.0]),
        ),
        case("discrete", &[], &[("values", &[5.0, 5.0, 1.0])], WHOLE, at(&[1.0, 5.0], &[1.0, 2.0])),
        case("bernoulli", &[("chance", 0.35)], &[], WHOLE, at(&[0.0, 1.0], &[0.65, 0.35])),
        case("bernoulli", &[("chance", 0.003)], &[], WHOLE, at(&[0.0, 1.0], &[0.997, 0.003])),
        case("poisson", &[("mean", 3.2)], &[], WHOLE, mass(move |x| thin.pmf(x as u64))),
        case("poisson", &[("mean", 250.0)], &[], WHOLE, mass(move |x| wide.pmf(x as u64))),
        case(
            "poisson",
            &[("mean", 3.2)],
            &[],
            Some((Some(1.0), Some(5.0))),
            mass(move |x| cut_thin.pmf(x as u64) / some),
        ),
        case(
            "binomial",
            &[("trials", 12.0), ("chance", 0.3)],
            &[],
            Some((Some(3.0), None)),
            mass(move |x| cut_few.pmf(x as u64) / three_up),
        ),
        case("binomial", &[("trials", 12.0), ("chance", 0.3)], &[], WHOLE, mass(move |x| few.pmf(x as u64))),
        case(
            "binomial",
            &[("trials", 4000.0), ("chance", 0.02)],
            &[],
            WHOLE,
            mass(move |x| many.pmf(x as u64)),
        ),
    ]
}
