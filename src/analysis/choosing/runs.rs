//! The runs that count, in the order of their replicates, and estimates from
//! one contribution a run.

use std::ops::Range;

use crate::analysis::statistics::intervals::{
    CONFIDENCE, mean_and_error, replicate_half_width, share_of_parts, student_t,
};
use crate::analysis::{Estimate, Figure, Interval, Share};

/// Parts that independent runs are dealt into; more replicates than this share folds.
const FOLDS: usize = 8;

/// The runs with a value of every course.
pub(super) struct Runs {
    /// Runs by number, one replicate after another.
    pub(super) order: Vec<usize>,
    /// Where each replicate lies in `order`; for independent runs parts that take turns.
    pub(super) parts: Vec<Range<usize>>,
    /// Whether the parts are replicates of a stratified method.
    stratified: bool,
    /// Runs without a value of some course.
    pub(super) left_out: u64,
}

impl Runs {
    /// The runs in which every column is a finite number.
    pub(super) fn of(columns: &[&[f64]], replicates: Option<u32>) -> Runs {
        let n = columns.iter().map(|c| c.len()).min().unwrap_or(0);
        let asked = replicates.unwrap_or(1) as usize;
        let stratified = asked >= 2 && n >= 2 * asked;
        let count = if stratified { asked } else { FOLDS };
        let (mut order, mut parts) = (Vec::with_capacity(n), Vec::with_capacity(count));
        for part in 0..count {
            let from = order.len();
            let complete = |run: &usize| columns.iter().all(|c| c[*run].is_finite());
            order.extend((part..n).step_by(count).filter(complete));
            parts.push(from..order.len());
        }
        let left_out = (n - order.len()) as u64;
        Runs { order, parts, stratified, left_out }
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.order.len()
    }

    /// The parts as units that vary independently; none where every run is one.
    pub(super) fn replicates(&self) -> &[Range<usize>] {
        if self.stratified { &self.parts } else { &[] }
    }

    /// Folds for fits that must not see the runs they are judged on: whole replicates.
    pub(super) fn folds(&self) -> usize {
        self.parts.len().min(FOLDS)
    }

    /// A column in the order of these runs.
    pub(super) fn gather(&self, column: &[f64]) -> Vec<f64> {
        self.order.iter().map(|&run| column.get(run).copied().unwrap_or(f64::NAN)).collect()
    }

    /// Mean of contributions (in the order of these runs), and its standard error.
    pub(super) fn mean(&self, contributions: &[f64]) -> (Estimate, Option<f64>) {
        let value = mean(contributions);
        let (half, error, interval) = self.spread(contributions);
        let end = |x: f64| half.map(|_| Figure::of(x));
        let arm = half.unwrap_or(0.0);
        let interval = if half.is_some() { interval } else { Interval::None };
        let (low, high) = (end(value - arm), end(value + arm));
        (Estimate { value: Figure::of(value), low, high, interval }, error)
    }

    /// Half the width of the 95 % interval of a mean, its standard error, and how they were made.
    fn spread(&self, contributions: &[f64]) -> (Option<f64>, Option<f64>, Interval) {
        if self.stratified {
            let means: Vec<f64> = self.parts.iter().map(|part| mean(&contributions[part.clone()])).collect();
            let there = means.iter().all(|m| m.is_finite());
            let half = replicate_half_width(&means, CONFIDENCE).filter(|_| there);
            let error = mean_and_error(&means).filter(|_| there).map(|(_, error)| error);
            return (half, error, Interval::Replicates);
        }
        let error = mean_and_error(contributions).map(|(_, error)| error);
        let t = || student_t(CONFIDENCE, contributions.len() as u64 - 1);
        (error.map(|error| t() * error), error, Interval::StandardError)
    }

    /// Share of runs from one part of a run each: Wilson or replicates where all are whole, else as a mean.
    pub(super) fn share(&self, parts_of_runs: &[f64]) -> Share {
        if parts_of_runs.is_empty() {
            return Share::unknown();
        }
        if parts_of_runs.iter().all(|&x| x == 0.0 || x == 1.0) {
            let count = |part: &[f64]| (part.iter().filter(|&&x| x == 1.0).count() as u64, part.len() as u64);
            let lots: Vec<(u64, u64)> = match self.replicates() {
                [] => vec![count(parts_of_runs)],
                parts => parts.iter().map(|part| count(&parts_of_runs[part.clone()])).collect(),
            };
            return share_of_parts(&lots, CONFIDENCE);
        }
        let value = mean(parts_of_runs);
        let (half, _, interval) = self.spread(parts_of_runs);
        match half {
            Some(half) => {
                Share { value, low: (value - half).max(0.0), high: (value + half).min(1.0), interval }
            }
            None => Share { value, low: 0.0, high: 1.0, interval: Interval::None },
        }
    }
}

/// The mean, about the first value so that a large common part costs no digits; NaN of nothing.
pub(super) fn mean(values: &[f64]) -> f64 {
    let first = values.first().copied().unwrap_or(f64::NAN);
    first + values.iter().map(|x| x - first).sum::<f64>() / values.len() as f64
}
