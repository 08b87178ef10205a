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
        for k in 0..m {
            let squares: f64 = gains.columns[k].iter().map(|g| g * g).sum();
            for own in std::iter::once(&mut all).chain(&mut sums) {
                if told_apart(own, stride, 1 + k, squares, runs.len() as f64) {
                    continue;
                }
                pool(own, stride, 1 + k);
            }
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

/// Whether the classes differ by more than noise: the sum of squares between them against its mean and two of its
/// standard deviations, were all noise. `squares` is the sum of squared gains of all runs.
fn told_apart(sums: &[f64], stride: usize, place: usize, squares: f64, runs: f64) -> bool {
    let (mut count, mut sum, mut between, mut classes) = (0.0, 0.0, 0.0, 0.0);
    for own in sums.chunks_exact(stride).filter(|own| own[0] > 0.5) {
        count += own[0];
        sum += own[place];
        between += own[place] * own[place] / own[0];
        classes += 1.0;
    }
    let spare: f64 = classes - 1.0;
    let total = squares * count / runs;
    let noise = (total - between).max(1e-14 * total) / (count - classes).max(1.0);
    between - sum * sum / count > noise * (spare + 2.0 * (2.0 * spare).sqrt())
}

/// Gives every class the mean of all.
fn pool(sums: &mut [f64], stride: usize, place: usize) {
    let of = sums.chunks_exact(stride).fold((0.0, 0.0), |(n, s), own| (n + own[0], s + own[place]));
    for own in sums.chunks_exact_mut(stride) {
        own[place] = own[0] * of.1 / of.0;
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
