//! Elementary functions against libm and statrs, and their slices against
//! themselves under every kind of vectors.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::sampling::maths::{self, Vectors, slices};
use payspread::sampling::philox::{Key, Purpose};

/// A million values: uniforms stretched over `from` to `to`.
fn values(from: f64, to: f64) -> Vec<f64> {
    let mut u = vec![0.0; 1_000_000];
    Vectors::Baseline.uniform_fill(Key::new(1, "maths", Purpose::Value, 0), 0, 0, &mut u);
    u.iter().map(|v| from + (to - from) * v).collect()
}

const SPECIAL: [f64; 16] = [
    f64::NAN,
    f64::INFINITY,
    f64::NEG_INFINITY,
    0.0,
    -0.0,
    1.0,
    -1.0,
    5e-324,
    2.2e-308,
    f64::MIN_POSITIVE,
    f64::MAX,
    f64::MIN,
    709.782712893384,
    709.7827128933841,
    -745.1332191019411,
    -745.1332191019412,
];

/// Distance in units in the last place of `expect`.
fn ulps(got: f64, expect: f64) -> f64 {
    if got == expect || (got.is_nan() && expect.is_nan()) {
        return 0.0;
    }
    let next = f64::from_bits(expect.abs().to_bits() + 1);
    (got - expect).abs() / (next - expect.abs())
}

#[test]
fn exp_is_within_two_ulps_of_libm() {
    for x in values(-750.0, 715.0).into_iter().chain(values(-1.0, 1.0)).chain(SPECIAL) {
        let (got, expect) = (maths::exp(x), libm::exp(x));
        assert!(ulps(got, expect) <= 2.0, "exp({x}) is {got:e}, not {expect:e}");
    }
}

#[test]
fn ln_is_within_two_ulps_of_libm() {
    let wide = values(-740.0, 709.0).into_iter().map(libm::exp);
    for x in wide.chain(values(0.0, 2.0)).chain(values(0.999, 1.001)).chain(SPECIAL) {
        let (got, expect) = (maths::ln(x), libm::log(x));
        assert!(ulps(got, expect) <= 2.0, "ln({x:e}) is {got:e}, not {expect:e}");
    }
}

/// exp(ln x) = x, to a few roundings of the logarithm.
#[test]
fn exp_and_ln_undo_each_other() {
    for x in values(1e-3, 1e3) {
        let back = maths::exp(maths::ln(x));
        assert!((back - x).abs() <= 2e-15 * x * (1.0 + maths::ln(x).abs()), "{x}: {back}");
    }
}

#[test]
fn normal_quantile_agrees_with_statrs_and_with_our_cdf() {
    use statrs::distribution::{ContinuousCDF, Normal};
    let normal = Normal::new(0.0, 1.0).unwrap();
    for p in values(0.0, 1.0).into_iter().step_by(17).chain([1e-300, 1e-100, 1e-20, 1e-12, 0.075, 0.425, 0.5])
    {
        let z = maths::normal_quantile(p, 1.0 - p);
        if p > 1e-15 {
            let expect = normal.inverse_cdf(p);
            assert!((z - expect).abs() <= 1e-12 * (1.0 + z.abs()), "{p}: {z} and {expect}");
        }
        // An error of eps in z is one of eps z^2 in the tail's probability.
        let back = if z < 0.0 { maths::normal_cdf(z) / p } else { maths::normal_cdf(-z) / (1.0 - p) };
        assert!((back - 1.0).abs() <= 4e-15 * (1.0 + z * z), "{p}: {z} gives {back}");
    }
    assert_eq!(maths::normal_quantile(0.0, 1.0), f64::NEG_INFINITY);
    assert_eq!(maths::normal_quantile(1.0, 0.0), f64::INFINITY);
    assert!(maths::normal_quantile(f64::NAN, f64::NAN).is_nan());
}

/// The loops give the scalar functions' bits for a million values under every
/// kind of vectors, at any offset and length.
#[test]
fn slices_have_the_bits_of_the_scalars() {
    type Slice = fn(Vectors, &mut [f64]);
    type Scalar = fn(f64) -> f64;
    let quantile: Scalar = |p| maths::normal_quantile(p, 1.0 - p);
    let cases: [(&str, Slice, Scalar, Vec<f64>); 3] = [
        ("exp", Vectors::exp, maths::exp, values(-800.0, 800.0).into_iter().chain(SPECIAL).collect()),
        ("ln", Vectors::ln, maths::ln, values(-1.0, 1e3).into_iter().chain(SPECIAL).collect()),
        (
            "normal quantile",
            Vectors::normal_quantile,
            quantile,
            values(0.0, 1.0).into_iter().chain([1.2e-16, 1e-13, 1.3e-11, 1.4e-11, 1.0 - 1e-13]).collect(),
        ),
    ];
    let bits = |x: f64| if x.is_nan() { u64::MAX } else { x.to_bits() };
    for (name, slice, scalar, input) in cases {
        for vectors in [Vectors::Widest, Vectors::Avx2, Vectors::Baseline] {
            let mut got = input.clone();
            slice(vectors, &mut got);
            for (x, y) in input.iter().zip(&got) {
                assert!(bits(scalar(*x)) == bits(*y), "{name} {vectors:?} {x}: {y}");
            }
            for (from, to) in [(1, 2), (3, 100), (5, 600), (7, 7 + 257)] {
                let mut part = input[from..to].to_vec();
                slice(vectors, &mut part);
                assert!(
                    part.iter().zip(&got[from..to]).all(|(a, b)| bits(*a) == bits(*b)),
                    "{name} {from} {to}"
                );
            }
        }
    }
    let mut x = [0.0, 1.0, 2.0];
    slices::exp(&mut x);
    slices::ln(&mut x);
    assert!((x[2] - 2.0).abs() < 1e-15);
}
