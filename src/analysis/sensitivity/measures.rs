//! Every measure that looks at one factor at a time.

use super::classes::{self, Classes, MOST_CLASSES};
use super::dummy::{DUMMIES, Numbers, permutation};
use super::outcome::{Outcome, doubled_ranks, order_of, tie_ends};
use super::whole::{self, Distances, distances};
use super::{Floor, Whole};
use crate::analysis::factors::Factor;
use crate::analysis::statistics::intervals::CONFIDENCE;
use crate::analysis::statistics::ranks::spearman_interval;
use crate::analysis::{Estimate, Figure, Interval};
use rayon::prelude::*;

/// What one factor shows by itself.
pub(super) struct Measured {
    pub(super) first_order: Estimate,
    pub(super) classes: usize,
    pub(super) kolmogorov: Option<Whole>,
    pub(super) delta: Option<Whole>,
    /// Twice its ranks; none for labels, which have no order.
    pub(super) ranks: Option<Vec<u32>>,
    /// A value of it is no number, so that nothing is said of it.
    pub(super) broken: bool,
}

impl Measured {
    fn nothing(broken: bool) -> Measured {
        let first_order = Estimate::alone(Figure::None);
        Measured { first_order, classes: 0, kolmogorov: None, delta: None, ranks: None, broken }
    }
}

/// How often each run counts in each resample (Efron 1979, *Bootstrap methods: another look at the jackknife*).
pub(super) fn resamples(outcome: &Outcome, count: Option<usize>) -> Vec<Vec<u16>> {
    let n = outcome.n();
    let of = |b: usize| {
        let mut numbers = Numbers::new(0xB007_57A9 ^ ((b as u64) << 40));
        let mut counts = vec![0u16; n];
        (0..n).for_each(|_| counts[numbers.below(n as u64)] += 1);
        counts
    };
    (0..count.unwrap_or(0)).into_par_iter().map(of).collect()
}

/// Measures a factor whose values in the runs kept are `values`.
pub(super) fn measure(
    outcome: &Outcome,
    bins: &[u32],
    factor: &Factor,
    values: &[f64],
    resamples: &[Vec<u16>],
) -> Measured {
    if values.len() != outcome.n() || values.iter().any(|x| !x.is_finite()) {
        return Measured::nothing(true);
    }
    let order = order_of(values);
    let ends = tie_ends(values, &order);
    // A constant factor moves nothing; a constant result is moved by nothing.
    if ends.len() < 2 || outcome.constant() {
        return Measured::nothing(false);
    }
    let mut measured = by_order(outcome, bins, &order, &ends, factor.discrete, resamples);
    measured.ranks = factor.labels.is_empty().then(|| doubled_ranks(&order, &ends));
    measured
}

fn by_order(
    outcome: &Outcome,
    bins: &[u32],
    order: &[u32],
    ends: &[u32],
    discrete: bool,
    resamples: &[Vec<u16>],
) -> Measured {
    let n = outcome.n();
    let by_value = if discrete { MOST_CLASSES } else { 0 };
    let fine = Classes::cut(order, ends, by_value, classes::classes_for(n));
    let first_order = classes::estimate(outcome, &fine);
    let shown = if first_order.value == Figure::None { 0 } else { fine.counts.len() };
    let coarse = Classes::cut(order, ends, 0, whole::classes_for(n));
    let found = distances(outcome, &coarse, bins, |_| 1);
    let again: Vec<Distances> =
        resamples.iter().map(|counts| distances(outcome, &coarse, bins, |i| i64::from(counts[i]))).collect();
    let whole = |of: fn(&Distances) -> f64| {
        let mean = again.iter().map(of).sum::<f64>() / again.len() as f64;
        let corrected = (!again.is_empty()).then(|| (2.0 * of(&found) - mean).max(0.0));
        Some(Whole { value: of(&found), corrected })
    };
    Measured {
        first_order,
        classes: shown,
        kolmogorov: whole(|d| d.kolmogorov),
        delta: whole(|d| d.delta),
        ranks: None,
        broken: false,
    }
}

/// The largest of each measure over factors that have no effect.
pub(super) fn measure_dummies(outcome: &Outcome, bins: &[u32], resamples: &[Vec<u16>]) -> Floor {
    let n = outcome.n();
    if outcome.constant() {
        return Floor {
            first_order: None,
            kolmogorov: None,
            delta: None,
            spearman: None,
            kolmogorov_corrected: None,
            delta_corrected: None,
        };
    }
    let ends: Vec<u32> = (1..=n as u32).collect();
    let dummies: Vec<(Measured, f64)> = (0..DUMMIES)
        .into_par_iter()
        .map(|dummy| {
            let order = permutation(n, dummy);
            (by_order(outcome, bins, &order, &ends, false, resamples), rank_correlation_of(outcome, &order))
        })
        .collect();
    let most =
        |of: &dyn Fn(&Measured) -> Option<f64>| dummies.iter().filter_map(|(m, _)| of(m)).reduce(f64::max);
    Floor {
        first_order: most(&|m| m.first_order.value.number()),
        kolmogorov: most(&|m| m.kolmogorov.map(|w| w.value)),
        delta: most(&|m| m.delta.map(|w| w.value)),
        spearman: dummies.iter().map(|(_, rho)| rho.abs()).reduce(f64::max),
        kolmogorov_corrected: most(&|m| m.kolmogorov?.corrected),
        delta_corrected: most(&|m| m.delta?.corrected),
    }
}

/// Spearman's correlation of the result with a column without ties.
fn rank_correlation_of(outcome: &Outcome, order: &[u32]) -> f64 {
    let middle = outcome.n() as f64 + 1.0;
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (rank, &i) in (1u32..).zip(order) {
        let a = 2.0 * f64::from(rank) - middle;
        let b = f64::from(outcome.doubled_ranks[i as usize]) - middle;
        ab += a * b;
        aa += a * a;
        bb += b * b;
    }
    ab / (aa * bb).sqrt()
}

/// A rank correlation with its interval.
pub(super) fn rank_correlation(rho: Option<f64>, n: u64) -> Estimate {
    let Some(rho) = rho else { return Estimate::alone(Figure::None) };
    let value = Figure::of(rho);
    match spearman_interval(rho, n, CONFIDENCE) {
        None => Estimate::alone(value),
        Some((low, high)) => Estimate {
            value,
            low: Some(Figure::of(low)),
            high: Some(Figure::of(high)),
            interval: Interval::StandardError,
        },
    }
}
