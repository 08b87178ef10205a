//! Intervals for shares, means and quantiles.

use crate::analysis::{Interval, Share};
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Confidence of every interval in the answers.
pub const CONFIDENCE: f64 = 0.95;

/// Above this many degrees of freedom Student's t is taken as normal: the
/// quantiles differ by less than 1e-3, and statrs loses digits of t beyond.
const NORMAL_ABOVE: u64 = 2000;

/// z with P(-z < Z < z) = `confidence` for a standard normal Z.
pub fn normal_z(confidence: f64) -> f64 {
    Normal::standard().inverse_cdf(0.5 + 0.5 * confidence.clamp(0.0, 1.0))
}

/// t with P(-t < T < t) = `confidence` for Student's T with `df` degrees of
/// freedom, at least 1.
pub fn student_t(confidence: f64, df: u64) -> f64 {
    if df > NORMAL_ABOVE {
        return normal_z(confidence);
    }
    match StudentsT::new(0.0, 1.0, df.max(1) as f64) {
        Ok(t) => t.inverse_cdf(0.5 + 0.5 * confidence.clamp(0.0, 0.999_999)),
        Err(_) => f64::INFINITY,
    }
}

/// Wilson's score interval (1927, *Probable inference, the law of succession,
/// and statistical inference*) for `successes` of `runs` independent runs.
/// Exactly 0 and 1 at the ends. Without runs: anything, 0 to 1.
pub fn wilson(successes: u64, runs: u64, confidence: f64) -> Share {
    if runs == 0 {
        return Share::unknown();
    }
    let (n, z) = (runs as f64, normal_z(confidence));
    let p = successes as f64 / n;
    let z2n = z * z / n;
    let centre = (p + z2n / 2.0) / (1.0 + z2n);
    let half = z / (1.0 + z2n) * (p * (1.0 - p) / n + z2n / (4.0 * n)).sqrt();
    let low = if successes == 0 { 0.0 } else { (centre - half).max(0.0) };
    let high = if successes >= runs { 1.0 } else { (centre + half).min(1.0) };
    Share { value: p, low, high, interval: Interval::Wilson }
}

/// Mean of independent estimates, and its standard error: sd / sqrt(R). None
/// below two.
pub fn mean_and_error(estimates: &[f64]) -> Option<(f64, f64)> {
    let n = estimates.len() as f64;
    if estimates.len() < 2 {
        return None;
    }
    // About the first value, so that a large common part costs no digits.
    let first = estimates.first().copied()?;
    let offset = estimates.iter().map(|x| x - first).sum::<f64>() / n;
    let squares: f64 = estimates.iter().map(|x| (x - first - offset) * (x - first - offset)).sum();
    Some((first + offset, (squares / (n - 1.0) / n).sqrt()))
}

/// Half the width of the interval around the mean of independent replicates:
/// Student's t with R - 1. None below two replicates.
pub fn replicate_half_width(estimates: &[f64], confidence: f64) -> Option<f64> {
    let (_, error) = mean_and_error(estimates)?;
    Some(student_t(confidence, estimates.len() as u64 - 1) * error)
}

/// Share of successes, from (successes, runs) of each replicate, or of one lot of independent runs: Student's t over the
/// replicates' own shares; Wilson for independent runs, and for a share of 0 or 1, which no replicate can tell from a
/// small one.
pub fn share_of_parts(parts: &[(u64, u64)], confidence: f64) -> Share {
    let (yes, runs) = parts.iter().fold((0, 0), |(a, b), (yes, n)| (a + yes, b + n));
    let plain = wilson(yes, runs, confidence);
    let shares: Vec<f64> = parts.iter().map(|&(yes, n)| yes as f64 / n as f64).collect();
    let told = parts.len() >= 2 && yes > 0 && yes < runs && shares.iter().all(|s| s.is_finite());
    match replicate_half_width(&shares, confidence).filter(|_| told) {
        Some(half) => {
            let value = plain.value;
            let (low, high) = ((value - half).max(0.0), (value + half).min(1.0));
            Share { value, low, high, interval: Interval::Replicates }
        }
        None => plain,
    }
}

/// Order statistics that bound a quantile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankInterval {
    /// Rank (1 = smallest) of the lower bound; none when no run is far enough out.
    pub lower: Option<u64>,
    /// Rank of the upper bound, likewise.
    pub upper: Option<u64>,
    /// Probability that the interval holds the quantile, whatever the distribution.
    pub coverage: f64,
}

/// Ranks of the order statistics around the `p`-quantile of `n` independent
/// runs, each tail at most (1 - confidence)/2 (David, Nagaraja 2003, *Order
/// Statistics*): the largest l with P(Bin(n,p) <= l-1) and the smallest u with
/// P(Bin(n,p) >= u) within the tail. Exact, by summing the binomial.
pub fn rank_interval(n: u64, p: f64, confidence: f64) -> RankInterval {
    if n == 0 || !(0.0..=1.0).contains(&p) {
        return RankInterval { lower: None, upper: None, coverage: 1.0 };
    }
    let tail = 0.5 * (1.0 - confidence);
    let (upper, above) = upper_rank(n, p, tail);
    // P(Bin(n,p) <= l-1) = P(Bin(n,1-p) >= n-l+1): the same search from the other end.
    let (mirrored, below) = upper_rank(n, 1.0 - p, tail);
    RankInterval { lower: mirrored.map(|u| n + 1 - u), upper, coverage: 1.0 - above - below }
}

/// Smallest u in 1..=n with P(Bin(n,p) >= u) <= tail, and that probability
/// (0 when there is none, the interval then being open).
fn upper_rank(n: u64, p: f64, tail: f64) -> (Option<u64>, f64) {
    let z = normal_z(1.0 - 2.0 * tail);
    let mean = n as f64 * p;
    let guess = mean + z * (mean * (1.0 - p)).sqrt();
    let mut u = (guess.ceil().max(1.0) as u64).min(n);
    let mut above = upper_tail(n, p, u);
    while above > tail {
        if u == n {
            return (None, 0.0);
        }
        above -= binomial(n, p, u);
        u += 1;
    }
    // Differences of tails round; sum again where the search ends.
    above = upper_tail(n, p, u);
    while u > 1 {
        let before = above + binomial(n, p, u - 1);
        if before > tail {
            break;
        }
        above = before;
        u -= 1;
    }
    (Some(u), above)
}

/// P(Bin(n,p) >= k), for any share and count.
pub fn chance_of_at_least(n: u64, p: f64, k: u64) -> f64 {
    match k {
        0 => 1.0,
        k if k > n || p.is_nan() || p <= 0.0 => 0.0,
        _ if p >= 1.0 => 1.0,
        k => upper_tail(n, p, k).clamp(0.0, 1.0),
    }
}

/// P(Bin(n,p) >= k), summed from k upwards when k lies above the mean (the
/// terms fall), else from k-1 downwards.
fn upper_tail(n: u64, p: f64, k: u64) -> f64 {
    let odds = p / (1.0 - p);
    if k as f64 >= n as f64 * p {
        let (mut term, mut sum) = (binomial(n, p, k), 0.0);
        let mut x = k;
        while term > 1e-18 * sum && x <= n {
            sum += term;
            term *= (n - x) as f64 / (x + 1) as f64 * odds;
            x += 1;
        }
        return sum;
    }
    if k == 0 {
        return 1.0;
    }
    let (mut x, mut sum) = (k - 1, 0.0);
    let mut term = binomial(n, p, x);
    while term > 1e-18 * sum {
        sum += term;
        if x == 0 {
            break;
        }
        term *= x as f64 / ((n - x + 1) as f64 * odds);
        x -= 1;
    }
    1.0 - sum
}

/// P(Bin(n,p) = x) by the saddle-point form, exact to about 1e-13 for any n
/// (Loader 2000, *Fast and accurate computation of binomial probabilities*).
fn binomial(n: u64, p: f64, x: u64) -> f64 {
    let q = 1.0 - p;
    let (nf, xf, yf) = (n as f64, x as f64, (n - x.min(n)) as f64);
    if x > n {
        return 0.0;
    }
    if x == 0 {
        return if q == 0.0 { f64::from(n == 0) } else { libm::exp(nf * libm::log1p(-p)) };
    }
    if x == n {
        return if p == 0.0 { 0.0 } else { libm::exp(nf * libm::log(p)) };
    }
    if p == 0.0 || q == 0.0 {
        return 0.0;
    }
    let exponent = stirling_error(nf)
        - stirling_error(xf)
        - stirling_error(yf)
        - deviance(xf, nf * p)
        - deviance(yf, nf * q);
    libm::exp(exponent) * (nf / (2.0 * std::f64::consts::PI * xf * yf)).sqrt()
}

/// ln(n!) less Stirling's formula.
fn stirling_error(n: f64) -> f64 {
    if n < 16.0 {
        let half_ln_2pi = 0.918_938_533_204_672_741_8;
        return libm::lgamma(n + 1.0) - (n + 0.5) * libm::log(n) + n - half_ln_2pi;
    }
    let nn = n * n;
    (1.0 / 12.0 - (1.0 / 360.0 - (1.0 / 1260.0 - (1.0 / 1680.0 - 1.0 / (1188.0 * nn)) / nn) / nn) / nn) / n
}

/// x ln(x/m) + m - x without cancellation near x = m.
fn deviance(x: f64, m: f64) -> f64 {
    if (x - m).abs() < 0.1 * (x + m) {
        let v = (x - m) / (x + m);
        let mut sum = (x - m) * v;
        let mut term = 2.0 * x * v;
        for j in 1..1000 {
            term *= v * v;
            let next = sum + term / f64::from(2 * j + 1);
            if next == sum {
                break;
            }
            sum = next;
        }
        return sum;
    }
    x * libm::log(x / m) + m - x
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use statrs::function::beta::beta_reg;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        /// P(Bin(n,p) >= k) = I_p(k, n-k+1), by statrs, where its fraction converges.
        #[test]
        fn tails_are_incomplete_betas(n in 1u64..400, p in 0.01..0.99f64, at in 0.0..1.0f64) {
            let k = 1 + ((n - 1) as f64 * at) as u64;
            let expect = beta_reg(k as f64, (n - k + 1) as f64, p);
            prop_assert!((upper_tail(n, p, k) - expect).abs() < 1e-11);
        }

        /// The definition, by the whole sum.
        #[test]
        fn ranks_keep_their_tails(n in 1u64..300, p in 0.0..=1.0f64, c in 0.5..0.999f64) {
            let pmf: Vec<f64> = (0..=n).map(|x| binomial(n, p, x)).collect();
            prop_assert!((pmf.iter().sum::<f64>() - 1.0).abs() < 1e-11);
            let tail = 0.5 * (1.0 - c);
            let below = |l: u64| pmf[..l as usize].iter().sum::<f64>();
            let above = |u: u64| pmf[u as usize..].iter().sum::<f64>();
            let found = rank_interval(n, p, c);
            let lower = (1..=n).rev().find(|&l| below(l) <= tail);
            let upper = (1..=n).find(|&u| above(u) <= tail);
            prop_assert_eq!((found.lower, found.upper), (lower, upper));
        }
    }

    #[test]
    fn a_billion_runs() {
        // With sd = 15 811 runs the ranks lie 1.959964 sd out, to half a run and the skewness 0.
        let found = rank_interval(1_000_000_000, 0.5, 0.95);
        let half = 1.959_963_984_540_054 * 250_000_000f64.sqrt();
        assert!((found.lower.unwrap() as f64 - (5e8 - half)).abs() < 1.5);
        assert!((found.upper.unwrap() as f64 - (5e8 + 1.0 + half)).abs() < 1.5);
        assert!((0.95..0.9501).contains(&found.coverage));
    }
}
