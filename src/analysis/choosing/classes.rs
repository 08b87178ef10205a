//! Means by class, for subjects that take few values (Strong, Oakley 2013,
//! *An efficient method for computing single-parameter partial expected value
//! of perfect information*).

use super::gains::{Gains, Worth};

/// More classes than this are fitted by curves.
const MOST: usize = 64;
/// Runs that a class should have on average.
const LEAST_RUNS: usize = 30;

/// The class of each run, and how many there are.
pub(super) struct Classes {
    of_run: Vec<usize>,
    count: usize,
}

impl Classes {
    /// Joint classes of discrete columns; none where there are too many for the runs.
    pub(super) fn of(columns: &[Vec<f64>], discrete: &[bool]) -> Option<Classes> {
        let n = columns.first()?.len();
        let most = MOST.min((n / LEAST_RUNS).max(2));
        if !columns.iter().enumerate().all(|(k, _)| discrete.get(k).copied().unwrap_or(false)) {
            return None;
        }
        let mut joint = Classes { of_run: vec![0; n], count: 1 };
        for column in columns {
            let values = distinct(column, most)?;
            let place = |x: f64| values.partition_point(|v| v.total_cmp(&x).is_lt());
            for (class, &x) in joint.of_run.iter_mut().zip(column) {
                *class = *class * values.len() + place(x);
            }
            joint.count *= values.len();
            joint.keep_those_seen();
            if joint.count > most {
                return None;
            }
        }
        Some(joint)
    }

    /// Numbers classes anew, without those that no run is in.
    fn keep_those_seen(&mut self) {
        let mut number = vec![0; self.count];
        for &class in &self.of_run {
            number[class] = 1;
        }
        let mut next = 0;
        for slot in &mut number {
            let seen = *slot;
            *slot = next;
            next += seen;
        }
        self.of_run.iter_mut().for_each(|class| *class = number[*class]);
        self.count = next;
    }

    /// What it is worth to know the class.
    pub(super) fn worth(&self, gains: &Gains) -> Worth {
        let (runs, m) = (&gains.runs, gains.columns.len());
        let (folds, stride) = (runs.folds(), m + 1);
        // Count and sum of each gain, by fold and class; those of all runs last.
        let mut sums = vec![vec![0.0; self.count * stride]; folds + 1];
        for (part, range) in runs.parts.iter().enumerate() {
            let own = &mut sums[part % folds];
            for run in range.clone() {
                let at = self.of_run[run] * stride;
                own[at] += 1.0;
                for (k, gain) in gains.columns.iter().enumerate() {
                    own[at + 1 + k] += gain[run];
                }
            }
        }
        let mut all = vec![0.0; self.count * stride];
        for own in &sums {
            all.iter_mut().zip(own).for_each(|(a, x)| *a += x);
        }
        // From here on the sums of the other folds.
        for own in &mut sums {
            own.iter_mut().zip(&all).for_each(|(x, a)| *x = a - *x);
        }
        let mut worth = Worth::new(gains, 1);
        for (part, range) in runs.parts.iter().enumerate() {
            let others = &sums[part % folds];
            for run in range.clone() {
                let at = self.of_run[run] * stride;
                worth.add(run, gains, means(&all[at..at + stride]), means(&others[at..at + stride]));
            }
        }
        worth
    }
}

/// Mean gains of a class; 0 where it has no runs.
fn means(sums: &[f64]) -> impl Iterator<Item = f64> {
    let count = sums.first().copied().unwrap_or(0.0);
    sums.iter().skip(1).map(move |sum| if count > 0.5 { sum / count } else { 0.0 })
}

/// Distinct values in order; none if there are more than `most`.
pub(super) fn distinct(column: &[f64], most: usize) -> Option<Vec<f64>> {
    let mut values: Vec<f64> = Vec::new();
    for &x in column {
        if let Err(place) = values.binary_search_by(|v| v.total_cmp(&x)) {
            if values.len() >= most {
                return None;
            }
            values.insert(place, x);
        }
    }
    Some(values)
}
