//! Tests of fit, each with the limit that chance passes at a given rate.

use rayon::prelude::*;
use statrs::distribution::{ChiSquared, ContinuousCDF};
use statrs::function::erf::erfc;

/// Kolmogorov's distance of sorted probabilities from the even ones, times sqrt(n).
pub(crate) fn kolmogorov(sorted: &[f64]) -> f64 {
    let n = sorted.len() as f64;
    let gap = |(i, u): (usize, &f64)| (u - i as f64 / n).max((i + 1) as f64 / n - u);
    sorted.iter().enumerate().map(gap).fold(0.0, f64::max) * n.sqrt()
}

/// What chance passes at most at this rate: P(D sqrt(n) > t) <= 2 exp(-2 t^2) for every n (Massart 1990).
pub(crate) fn kolmogorov_limit(rate: f64) -> f64 {
    ((2.0 / rate).ln() / 2.0).sqrt()
}

/// Anderson and Darling's A^2 of sorted probabilities.
pub(crate) fn anderson_darling(sorted: &[f64]) -> f64 {
    let n = sorted.len();
    let term = |i: usize| (2 * i + 1) as f64 * (sorted[i].ln() + (-sorted[n - 1 - i]).ln_1p());
    let sum: f64 = (0..n).into_par_iter().chunks(4096).map(|c| c.into_iter().map(term).sum::<f64>()).sum();
    -(n as f64) - sum / n as f64
}

/// What chance passes at this rate. In the limit A^2 is the sum of Z_j^2/(j(j+1)); far out the first term rules, and
/// P(A^2 > z) -> sqrt(3) erfc(sqrt(z)), since the product of 1 - 2/(j(j+1)) over j >= 2 is 1/3 (Zolotarev 1961).
pub(crate) fn anderson_darling_limit(rate: f64) -> f64 {
    let (mut low, mut high) = (0.5, 60.0f64);
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if 3.0f64.sqrt() * erfc(middle.sqrt()) > rate { low = middle } else { high = middle }
    }
    high
}

/// Probability that chance gives so large a chi-square, or a larger one. Values expected less than ten times are put
/// together; a value that has no probability gives 0.
pub(crate) fn chi_square(counted: &[(f64, u64)], mass: impl Fn(f64) -> f64) -> f64 {
    const LEAST: f64 = 10.0;
    let n: f64 = counted.iter().map(|(_, k)| *k as f64).sum();
    let (mut sum, mut classes, mut expected_so_far) = (0.0, 0u32, 0.0);
    let (mut rare_found, mut rare_expected) = (0.0, 0.0);
    for &(value, found) in counted {
        let (found, expected) = (found as f64, n * mass(value));
        expected_so_far += expected;
        if expected < LEAST {
            rare_found += found;
            rare_expected += expected;
        } else {
            sum += (found - expected) * (found - expected) / expected;
            classes += 1;
        }
    }
    // Values that never came: they are expected, and found 0 times.
    rare_expected += (n - expected_so_far).max(0.0);
    if rare_expected >= LEAST {
        sum += (rare_found - rare_expected) * (rare_found - rare_expected) / rare_expected;
        classes += 1;
    } else if rare_found > 8.0 * LEAST {
        return 0.0;
    }
    ChiSquared::new(f64::from(classes - 1)).unwrap().sf(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published: D sqrt(n) beyond 1.628 and A^2 beyond 3.857 once in a hundred; our limits are for rare events.
    #[test]
    fn limits_are_near_the_published_ones() {
        assert!((kolmogorov_limit(0.01) - 1.628).abs() < 1e-3);
        assert!((anderson_darling_limit(0.01) - 3.857).abs() < 0.1);
    }

    /// (n-1)/n sized steps: the most even sample has D = 1/(2n), and A^2 is small.
    #[test]
    fn an_even_sample_fits_and_a_shifted_one_does_not() {
        let n = 10_000;
        let even: Vec<f64> = (0..n).map(|i| (f64::from(i) + 0.5) / f64::from(n)).collect();
        assert!((kolmogorov(&even) - 0.5 / f64::from(n).sqrt()).abs() < 1e-9);
        assert!(anderson_darling(&even).abs() < 0.01);
        let bent: Vec<f64> = even.iter().map(|u| u.powf(1.1)).collect();
        assert!(kolmogorov(&bent) > kolmogorov_limit(1e-6));
        assert!(anderson_darling(&bent) > anderson_darling_limit(1e-6));
    }

    #[test]
    fn a_wrong_die_is_seen() {
        let fair: Vec<(f64, u64)> = (1..=6).map(|k| (f64::from(k), 1000)).collect();
        assert!(chi_square(&fair, |_| 1.0 / 6.0) > 0.999);
        assert!(chi_square(&fair, |x| if x > 3.0 { 0.18 } else { 0.46 / 3.0 }) < 1e-6);
        assert_eq!(chi_square(&fair, |x| if x > 1.0 { 0.2 } else { 0.0 }), 0.0);
    }
}
