//! Means and shares with their intervals: over independent runs, or over the
//! replicates of a stratified sample.

use super::intervals::{CONFIDENCE, mean_and_error, replicate_half_width, share_of_parts, student_t};
use super::summary::moments;
use crate::analysis::{Estimate, Figure, Interval, Share};
use crate::engine::accumulate::MomentsFound;

/// The runs of each replicate; empty when replicates give no error.
pub(super) struct Replicates {
    pub(super) columns: Vec<Vec<f64>>,
}

impl Replicates {
    pub(super) fn cut(column: &[f64], replicates: Option<u32>) -> Self {
        let n = replicates.unwrap_or(1) as usize;
        if n < 2 || column.len() < 2 * n {
            return Replicates { columns: Vec::new() };
        }
        let columns = (0..n).map(|r| column.iter().copied().skip(r).step_by(n).collect()).collect();
        Replicates { columns }
    }

    /// Mean and variance of each.
    pub(super) fn moments(&self) -> Vec<MomentsFound> {
        self.columns.iter().map(|column| moments(column)).collect()
    }

    /// Half the width of the interval from one estimate for each replicate;
    /// none when any of them has no finite estimate.
    pub(super) fn half_width(&self, estimates: &[f64]) -> Option<f64> {
        let all = estimates.len() == self.columns.len() && estimates.iter().all(|x| x.is_finite());
        if all { replicate_half_width(estimates, CONFIDENCE) } else { None }
    }
}

/// The mean of all runs with its interval, and its standard error; `parts` are the moments of each replicate, none for
/// independent runs.
pub(super) fn mean_of(all: &MomentsFound, parts: &[MomentsFound]) -> Option<(Estimate, Option<f64>)> {
    let mean = all.mean?;
    if parts.len() < 2 {
        let error = all.standard_error();
        // With few runs s itself is uncertain: Student's t, as for replicates.
        let half = error.map(|error| student_t(CONFIDENCE, all.numbers.runs.saturating_sub(1)) * error);
        return Some((around(mean, half, Interval::StandardError), error));
    }
    let means: Vec<f64> = parts.iter().map(|m| m.mean.unwrap_or(f64::NAN)).collect();
    let half = replicate_half_width(&means, CONFIDENCE).filter(|half| half.is_finite());
    let error = half.and_then(|_| Some(mean_and_error(&means)?.1));
    Some((around(mean, half, Interval::Replicates), error))
}

/// The standard deviation of all runs with its interval. Replicates: Student's
/// t over theirs. Independent runs: the delta method on ln s, with
/// Var(s^2) = (m4 - s^4 (n-3)/(n-1)) / n; `fourth` is m4, the mean of
/// (x - mean)^4.
pub(super) fn sd_of(all: &MomentsFound, parts: &[MomentsFound], fourth: f64) -> Option<Estimate> {
    let sd = all.sd()?;
    if parts.len() >= 2 {
        let sds: Vec<f64> = parts.iter().map(|m| m.sd().unwrap_or(f64::NAN)).collect();
        let half = replicate_half_width(&sds, CONFIDENCE).filter(|half| half.is_finite());
        let mut estimate = around(sd, half, Interval::Replicates);
        estimate.low = half.map(|half| Figure::of((sd - half).max(0.0)));
        return Some(estimate);
    }
    let n = all.numbers.runs as f64;
    let of_square = (fourth - sd * sd * sd * sd * (n - 3.0) / (n - 1.0)) / n;
    let relative = of_square.max(0.0).sqrt() / (2.0 * sd * sd);
    if !(relative.is_finite() && n >= 4.0) {
        return Some(Estimate::alone(Figure::of(sd)));
    }
    let factor = libm::exp(student_t(CONFIDENCE, all.numbers.runs - 1) * relative);
    let end = |x: f64| Some(Figure::of(x));
    Some(Estimate {
        value: Figure::of(sd),
        low: end(sd / factor),
        high: end(sd * factor),
        interval: Interval::StandardError,
    })
}

/// Mean of (x - `mean`)^4 over the numbers of a column.
pub(super) fn fourth_moment(column: &[f64], mean: f64) -> f64 {
    const LANES: usize = 8;
    let mut lanes = [0.0_f64; LANES];
    let mut counts = [0_u64; LANES];
    for values in column.chunks(LANES) {
        for ((lane, n), &x) in lanes.iter_mut().zip(&mut counts).zip(values) {
            let square = (x - mean) * (x - mean);
            let there = x.is_finite();
            *lane += if there { square * square } else { 0.0 };
            *n += u64::from(there);
        }
    }
    lanes.iter().sum::<f64>() / counts.iter().sum::<u64>() as f64
}

/// An estimate with equally long arms.
pub(super) fn around(value: f64, half: Option<f64>, interval: Interval) -> Estimate {
    let Some(half) = half else { return Estimate::alone(Figure::of(value)) };
    let (low, high) = (Some(Figure::of(value - half)), Some(Figure::of(value + half)));
    Estimate { value: Figure::of(value), low, high, interval }
}

/// Share of the runs with a value that meet a condition.
pub(super) fn share(column: &[f64], replicates: &Replicates, met: &dyn Fn(f64) -> bool) -> Share {
    let count = |column: &[f64]| {
        let there = column.iter().filter(|x| !x.is_nan());
        there.fold((0u64, 0u64), |(yes, n), &x| (yes + u64::from(met(x)), n + 1))
    };
    let parts: Vec<(u64, u64)> = match replicates.columns.as_slice() {
        [] => vec![count(column)],
        columns => columns.iter().map(|column| count(column)).collect(),
    };
    share_of_parts(&parts, CONFIDENCE)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The even grid of n quantiles of a uniform has m4 = (1/80), s^2 = 1/12: Var(s^2) = (1/80 - 1/144)/n to 1/n,
    /// so the relative error of s is sqrt(1/180/n) / (2/12) = sqrt(0.2/n).
    #[test]
    fn sd_of_a_uniform() {
        let n = 10_000;
        let column: Vec<f64> = (0..n).map(|i| (f64::from(i) + 0.5) / f64::from(n)).collect();
        let all = moments(&column);
        let sd = sd_of(&all, &[], fourth_moment(&column, 0.5)).unwrap();
        let (value, high) = (sd.value.number().unwrap(), sd.high.unwrap().number().unwrap());
        assert!((value - (1.0_f64 / 12.0).sqrt()).abs() < 1e-4);
        let wanted = 1.959_964 * (0.2 / f64::from(n)).sqrt();
        assert!((libm::log(high / value) - wanted).abs() < 1e-3 * wanted, "{} {wanted}", high / value);
        assert_eq!(sd.interval, Interval::StandardError);
    }

    #[test]
    fn sd_of_nothing_much() {
        for column in [&[][..], &[1.0][..], &[2.0; 9][..], &[1.0, 3.0][..]] {
            let all = moments(column);
            if let Some(sd) = sd_of(&all, &[], fourth_moment(column, all.mean.unwrap_or(0.0))) {
                assert!(sd.interval == Interval::None, "{sd:?}");
            }
        }
    }
}
