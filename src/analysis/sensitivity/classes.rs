//! First-order index from the runs at hand: the share of the result's variance
//! that lies between classes of one factor (the correlation ratio of Pearson,
//! 1905; corrected as Kelley 1935, *An unbiased correlation ratio measure*).

use super::outcome::Outcome;
use crate::analysis::statistics::intervals::{CONFIDENCE, replicate_half_width, student_t};
use crate::analysis::{Estimate, Figure, Interval};

/// Most classes, also of a discrete factor.
pub const MOST_CLASSES: usize = 64;

/// Classes for `n` runs: floor(sqrt n), from 8 to 64.
pub fn classes_for(n: usize) -> usize {
    n.isqrt().clamp(8, MOST_CLASSES)
}

/// Which class each run is in.
pub struct Classes {
    /// One a run.
    pub of_run: Vec<u8>,
    /// Runs in each class, none empty.
    pub counts: Vec<u32>,
}

impl Classes {
    /// Classes of a column by `order` (its runs by rising value, equal values by run) with `tie_ends`: each value is a
    /// class when there are no more than `by_value` values or than `wanted`; else classes of equal count.
    pub fn cut(order: &[u32], tie_ends: &[u32], by_value: usize, wanted: usize) -> Classes {
        if tie_ends.len() <= by_value.max(wanted).min(MOST_CLASSES) {
            let ends: Vec<usize> = tie_ends.iter().map(|&end| end as usize).collect();
            return Classes::up_to(order, &ends);
        }
        Classes::up_to(order, &places(order.len(), wanted))
    }

    /// Classes of nearly equal count that keep equal values together, in the class where the first of them
    /// belongs: there may be fewer than `wanted`.
    pub fn together(order: &[u32], tie_ends: &[u32], wanted: usize) -> Classes {
        let mut ends: Vec<usize> = places(order.len(), wanted)
            .iter()
            .map(|&place| tie_ends.partition_point(|&end| (end as usize) < place))
            .filter_map(|lot| tie_ends.get(lot).map(|&end| end as usize))
            .collect();
        ends.dedup();
        Classes::up_to(order, &ends)
    }

    /// Classes that end at `ends` in the order.
    fn up_to(order: &[u32], ends: &[usize]) -> Classes {
        let mut of_run = vec![0; order.len()];
        let mut counts = Vec::with_capacity(ends.len());
        let mut start = 0;
        for (class, &end) in (0u8..).zip(ends) {
            order[start..end].iter().for_each(|&i| of_run[i as usize] = class);
            counts.push((end - start) as u32);
            start = end;
        }
        Classes { of_run, counts }
    }
}

/// Where classes of nearly equal count end: the first n mod `wanted` hold one run more. None empty.
fn places(n: usize, wanted: usize) -> Vec<usize> {
    let wanted = wanted.clamp(1, MOST_CLASSES).min(n);
    (1..=wanted).map(|k| k * (n / wanted) + k.min(n % wanted)).collect()
}

/// Share of the variance between classes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassShare {
    /// eta^2 = sum n_k (mean_k - mean)^2 / (n var): biased up by the noise of the class means, (classes - 1)/n of
    /// the rest for independent runs.
    pub raw: f64,
    /// Without that bias, a little below 0 at times. Independent runs: 1 - (1 - eta^2)(n - 1)/(n - classes).
    /// Replicates: less the noise that they show themselves, for a stratified sample has much less of it.
    pub corrected: f64,
    /// Half the 95 % interval about the corrected one.
    pub half: Option<f64>,
}

/// The share for standardised values of the result; none when they are constant, or with no more runs than classes.
///
/// The interval takes the share as a mean of its influence on each run,
/// 2 m z - m^2 - eta^2 z^2 (z the standardised result, m its class mean;
/// Hampel 1974, *The influence curve and its role in robust estimation*):
/// Student's t over the replicates' means, or over independent runs. What classes of some width lose
/// of a curved effect is not in it.
pub fn class_share(outcome: &Outcome, classes: &Classes) -> Option<ClassShare> {
    let z = &outcome.standard;
    let (n, m) = (z.len(), classes.counts.len());
    if n <= m || z.is_empty() {
        return None;
    }
    let mut means = [0.0; 256];
    for (&class, z) in classes.of_run.iter().zip(z) {
        means[usize::from(class)] += z;
    }
    let mut between = 0.0;
    for (mean, &count) in means.iter_mut().zip(&classes.counts) {
        *mean /= f64::from(count);
        between += *mean * *mean * f64::from(count);
    }
    let (n, m) = (n as f64, m as f64);
    let raw = between / n;
    let residual = (1.0 - raw) * n / (n - m);
    let corrected = if outcome.replicates == 0 {
        1.0 - (1.0 - raw) * (n - 1.0) / (n - m)
    } else {
        raw - noise(outcome, classes, &means, residual)
    };
    let half = half_width(outcome, classes, &means, raw).map(|half| half * (n - 1.0) / (n - m));
    Some(ClassShare { raw, corrected, half })
}

/// What the noise of the class means adds to eta^2, as the replicates show it: the variance of a ratio estimate (Cochran
/// 1977, *Sampling techniques*, 6.3) for each class mean, less that of the mean of all. In a class with fewer than
/// two runs a replicate, the residual variance by its count.
fn noise(outcome: &Outcome, classes: &Classes, means: &[f64; 256], residual: f64) -> f64 {
    let count = outcome.replicates;
    // Sum and number of each replicate's runs in each class.
    let mut sums = vec![(0.0, 0u32); count * classes.counts.len()];
    for ((&class, &r), &z) in classes.of_run.iter().zip(&outcome.replicate).zip(&outcome.standard) {
        let (sum, n) = &mut sums[usize::from(class) * count + r as usize];
        *sum += z;
        *n += 1;
    }
    let spread = count as f64 / (count as f64 - 1.0);
    let mut added = 0.0;
    let mut whole = vec![0.0; count];
    for ((parts, &mean), &held) in sums.chunks_exact(count).zip(means).zip(&classes.counts) {
        let held = f64::from(held);
        let squares: f64 = parts.iter().map(|&(s, n)| s - f64::from(n) * mean).map(|d| d * d).sum();
        added += if held < 2.0 * count as f64 { residual } else { spread * squares / held };
        whole.iter_mut().zip(parts).for_each(|(all, (s, _))| *all += s);
    }
    let n = outcome.n() as f64;
    let of_all: f64 = whole.iter().map(|s| s * s).sum();
    (added - spread * of_all / n) / n
}

fn half_width(outcome: &Outcome, classes: &Classes, means: &[f64; 256], raw: f64) -> Option<f64> {
    let influence = |(&class, &z): (&u8, &f64)| {
        let mean = means[usize::from(class)];
        2.0 * mean * z - mean * mean - raw * z * z
    };
    let all = classes.of_run.iter().zip(&outcome.standard).map(influence);
    let n = outcome.n();
    if outcome.replicates == 0 {
        // The mean of the influence is 0 by construction.
        let squares: f64 = all.map(|u| u * u).sum();
        let error = (squares / (n as f64 - 1.0) / n as f64).sqrt();
        return Some(student_t(CONFIDENCE, n as u64 - 1) * error);
    }
    let mut sums = vec![(0.0, 0u32); outcome.replicates];
    for (u, &r) in all.zip(&outcome.replicate) {
        let (sum, count) = &mut sums[r as usize];
        *sum += u;
        *count += 1;
    }
    let estimates: Vec<f64> = sums.iter().map(|&(sum, count)| sum / f64::from(count)).collect();
    replicate_half_width(&estimates, CONFIDENCE).filter(|half| half.is_finite())
}

/// The corrected share as an estimate with its interval; no value when there is none.
pub(super) fn estimate(outcome: &Outcome, classes: &Classes) -> Estimate {
    let Some(share) = class_share(outcome, classes) else { return Estimate::alone(Figure::None) };
    let value = Figure::of(share.corrected);
    let Some(half) = share.half else { return Estimate::alone(value) };
    let interval = if outcome.replicates == 0 { Interval::StandardError } else { Interval::Replicates };
    let (low, high) = (share.corrected - half, share.corrected + half);
    Estimate { value, low: Some(Figure::of(low)), high: Some(Figure::of(high)), interval }
}
