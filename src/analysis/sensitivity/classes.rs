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
    /// Each class is one value, so that nothing goes on within it.
    pub values: bool,
}

impl Classes {
    /// Classes of a column by `order` (its runs by rising value, equal values by run) with `tie_ends`: each value is a
    /// class when there are no more than `by_value` values or than `wanted`; else classes of equal count.
    pub fn cut(order: &[u32], tie_ends: &[u32], by_value: usize, wanted: usize) -> Classes {
        if tie_ends.len() <= by_value.max(wanted).min(MOST_CLASSES) {
            let ends: Vec<usize> = tie_ends.iter().map(|&end| end as usize).collect();
            return Classes { values: true, ..Classes::up_to(order, &ends) };
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
        Classes { of_run, counts, values: false }
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
    /// Half the 95 % interval about the corrected one, from the chance of the draws.
    pub half: Option<f64>,
    /// What half as many classes lose of it, at least 0. An effect that is curved or steep within a class loses
    /// a part; half as many classes lose twice as much or more, so that this is at least what is lost now.
    pub lost: f64,
}

/// The share for standardised values of the result; none when they are constant, or with no more runs than classes.
///
/// The interval takes the share as a mean of its influence on each run,
/// 2 m z - m^2 - eta^2 z^2 (z the standardised result, m its class mean;
/// Hampel 1974, *The influence curve and its role in robust estimation*):
/// Student's t over the replicates' means, or over independent runs.
pub fn class_share(outcome: &Outcome, classes: &Classes) -> Option<ClassShare> {
    let (n, m) = (outcome.standard.len(), classes.counts.len());
    if n <= m || n == 0 {
        return None;
    }
    let table = Table::of(outcome, classes);
    let (raw, corrected) = table.shares();
    let half = half_width(outcome, classes, &table.means(), raw);
    let half = half.map(|half| half * (n as f64 - 1.0) / (n - m) as f64);
    let lost = if classes.values { 0.0 } else { (corrected - table.halved().shares().1).max(0.0) };
    Some(ClassShare { raw, corrected, half, lost })
}

/// Sum and number of the runs of each replicate in each class; independent runs are one lot.
struct Table {
    /// Class by class.
    parts: Vec<(f64, u32)>,
    replicates: usize,
}

impl Table {
    fn of(outcome: &Outcome, classes: &Classes) -> Table {
        let replicates = outcome.replicates.max(1);
        let mut parts = vec![(0.0, 0u32); replicates * classes.counts.len()];
        let mut add = |class: u8, r: usize, z: f64| {
            let (sum, n) = &mut parts[usize::from(class) * replicates + r];
            *sum += z;
            *n += 1;
        };
        let runs = classes.of_run.iter().zip(&outcome.standard);
        if outcome.replicates == 0 {
            runs.for_each(|(&class, &z)| add(class, 0, z));
        } else {
            runs.zip(&outcome.replicate).for_each(|((&class, &z), &r)| add(class, r as usize, z));
        }
        Table { parts, replicates }
    }

    /// Neighbours together.
    fn halved(&self) -> Table {
        let r = self.replicates;
        let add = |(sum, n): (f64, u32), (more, k): (f64, u32)| (sum + more, n + k);
        let join = |two: &[(f64, u32)]| -> Vec<(f64, u32)> {
            (0..r).map(|k| two[k..].iter().step_by(r).copied().fold((0.0, 0), add)).collect()
        };
        Table { parts: self.parts.chunks(2 * r).flat_map(join).collect(), replicates: r }
    }

    fn classes(&self) -> impl Iterator<Item = (&[(f64, u32)], f64, f64)> {
        self.parts.chunks_exact(self.replicates).map(|parts| {
            let (sum, n) = parts.iter().fold((0.0, 0), |(sum, n), (s, k)| (sum + s, n + k));
            (parts, sum / f64::from(n), f64::from(n))
        })
    }

    fn means(&self) -> [f64; 256] {
        let mut means = [0.0; 256];
        means.iter_mut().zip(self.classes()).for_each(|(to, (_, mean, _))| *to = mean);
        means
    }

    /// eta^2, raw and corrected.
    fn shares(&self) -> (f64, f64) {
        let m = (self.parts.len() / self.replicates) as f64;
        let (between, n) =
            self.classes().fold((0.0, 0.0), |(sum, all), (_, mean, n)| (sum + mean * mean * n, all + n));
        let raw = between / n;
        if self.replicates == 1 {
            return (raw, 1.0 - (1.0 - raw) * (n - 1.0) / (n - m));
        }
        (raw, raw - self.noise((1.0 - raw) * n / (n - m)) / n)
    }

    /// What the noise of the class means adds to the sum of squares between, as the replicates show it: the variance
    /// of a ratio estimate (Cochran 1977, *Sampling techniques*, 6.3) for each class mean, less that of the mean
    /// of all. In a class with fewer than two runs a replicate, the `residual` variance.
    fn noise(&self, residual: f64) -> f64 {
        let r = self.replicates;
        let spread = r as f64 / (r as f64 - 1.0);
        let mut added = 0.0;
        let mut whole = vec![(0.0, 0.0); r];
        for (parts, mean, held) in self.classes() {
            let squares: f64 = parts.iter().map(|&(s, n)| s - f64::from(n) * mean).map(|d| d * d).sum();
            added += if held < 2.0 * r as f64 { residual } else { spread * squares / held };
            for (all, (s, n)) in whole.iter_mut().zip(parts) {
                *all = (all.0 + s, all.1 + f64::from(*n));
            }
        }
        let (squares, n) = whole.iter().fold((0.0, 0.0), |(sum, all), (s, n)| (sum + s * s, all + n));
        added - spread * squares / n
    }
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

/// The corrected share as an estimate; no value when there is none. Its interval reaches further up by what the
/// width of the classes may lose.
pub(super) fn estimate(outcome: &Outcome, classes: &Classes) -> Estimate {
    let Some(share) = class_share(outcome, classes) else { return Estimate::alone(Figure::None) };
    let value = Figure::of(share.corrected);
    let Some(half) = share.half else { return Estimate::alone(value) };
    let interval = if outcome.replicates == 0 { Interval::StandardError } else { Interval::Replicates };
    let (low, high) = (share.corrected - half, share.corrected + share.lost + half);
    Estimate { value, low: Some(Figure::of(low)), high: Some(Figure::of(high)), interval }
}
