//! What each course gains over the one that is best in the mean, and what a
//! rule for choosing among them is worth.

use super::Course;
use super::compare::{best_of, greatest};
use super::runs::{Runs, mean};
use crate::analysis::{Estimate, Figure, Share};

/// Gains of the other courses over the best one, in the order of the runs.
pub(super) struct Gains {
    pub(super) runs: Runs,
    /// The best in the mean.
    pub(super) best: usize,
    /// A column for each other course.
    pub(super) columns: Vec<Vec<f64>>,
}

impl Gains {
    /// None without runs.
    pub(super) fn of(courses: &[Course<'_>], replicates: Option<u32>) -> Option<Gains> {
        let columns: Vec<&[f64]> = courses.iter().map(|c| c.net_benefit).collect();
        let runs = Runs::of(&columns, replicates);
        let kept: Vec<Vec<f64>> = columns.iter().map(|c| runs.gather(c)).collect();
        let best = best_of(&kept)?;
        let others = kept.iter().enumerate().filter(|(k, _)| *k != best);
        let gain = |own: &Vec<f64>| own.iter().zip(&kept[best]).map(|(x, b)| x - b).collect();
        let columns = others.map(|(_, own)| gain(own)).collect();
        Some(Gains { runs, best, columns })
    }

    /// Value of perfect information: the mean of the best gain of each run, never below 0.
    pub(super) fn perfect(&self) -> (Estimate, Option<f64>) {
        let mut most = greatest(&self.columns, self.runs.len());
        most.iter_mut().for_each(|m| *m = m.max(0.0));
        self.runs.mean(&most)
    }
}

/// The gains expected of the courses once something is known, and the course with the greatest; 0 and none for staying
/// with the best.
fn choice(expected: impl Iterator<Item = f64>) -> (f64, Option<usize>) {
    let mut chosen = (0.0, None);
    for (k, gain) in expected.enumerate() {
        if gain > chosen.0 {
            chosen = (gain, Some(k));
        }
    }
    chosen
}

/// What choosing by fitted gains is worth, gathered run by run.
///
/// The mean of the greatest fitted gain is too high, because the maximum also picks up the noise v of the fit. A rule
/// fitted to the other folds and paid with the runs' own gains is too low, because that noise leads it astray: by as
/// much for the same noise, and its noise is v K/(K-1) with K folds. The mean of both with weights K/(2K-1) and
/// (K-1)/(2K-1) has neither bias, to second order.
pub(super) struct Worth {
    fitted: f64,
    paid: Vec<f64>,
    changed: Vec<f64>,
    weight: f64,
}

impl Worth {
    /// For runs that are each seen `copies` times.
    pub(super) fn new(gains: &Gains, copies: usize) -> Worth {
        let n = gains.runs.len();
        Worth { fitted: 0.0, paid: vec![0.0; n], changed: vec![0.0; n], weight: 1.0 / copies as f64 }
    }

    /// One run: `of_all` are its gains as fitted to all runs, `of_others` to the runs of other folds.
    pub(super) fn add(
        &mut self,
        run: usize,
        gains: &Gains,
        of_all: impl Iterator<Item = f64>,
        of_others: impl Iterator<Item = f64>,
    ) {
        let (fitted, chosen) = choice(of_all);
        self.fitted += fitted * self.weight;
        if chosen.is_some() {
            self.changed[run] += self.weight;
        }
        if let (_, Some(k)) = choice(of_others) {
            self.paid[run] += gains.columns[k][run] * self.weight;
        }
    }

    /// The value and its interval, cut to what is possible.
    ///
    /// The error is that of what the rule is paid run by run: a run's influence on the value, for the fit's own error
    /// moves the value only to second order (the choice is the best one already).
    /// Where fit and payment disagree, the choice is not yet settled, and their gap counts as an error of its own.
    pub(super) fn found(&self, gains: &Gains, evpi: &Estimate) -> Found {
        let folds = gains.runs.folds() as f64;
        let fitted = self.fitted / gains.runs.len() as f64;
        let paid = mean(&self.paid);
        let raw = (folds * fitted + (folds - 1.0) * paid) / (2.0 * folds - 1.0);
        let (of_paid, standard_error) = gains.runs.mean(&self.paid);
        let half =
            of_paid.high.and_then(Figure::number).zip(of_paid.value.number()).map(|(high, m)| high - m);
        let most = evpi.value.number().unwrap_or(0.0);
        // The value of perfect information has an error of its own: the upper end may lie as high as its upper end.
        let most_likely = evpi.high.and_then(Figure::number).unwrap_or(most);
        let gap = fitted - paid;
        let arm = half.map_or(0.0, |half| (half * half + gap * gap).sqrt());
        let end = |x: f64| half.map(|_| Figure::of(x.clamp(0.0, most_likely)));
        let value = Estimate {
            value: Figure::of(raw.clamp(0.0, most)),
            low: end(raw - arm),
            high: end(raw + arm),
            interval: of_paid.interval,
        };
        Found { value, raw, standard_error, changes: gains.runs.share(&self.changed) }
    }
}

/// The worth of knowing something.
pub(super) struct Found {
    pub(super) value: Estimate,
    pub(super) raw: f64,
    pub(super) standard_error: Option<f64>,
    pub(super) changes: Share,
}
