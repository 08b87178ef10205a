//! What became of a result: figures before and after, their differences, and how well those are known.

use serde::{Serialize, Serializer};

use super::draw::ResultRuns;
use crate::analysis::Figure;
use crate::analysis::statistics::Rule;
use crate::analysis::statistics::intervals::{CONFIDENCE, replicate_half_width};
use crate::analysis::statistics::quantiles::quantiles;

/// What is said of a result, in the order of [`Figures::all`].
pub const STATISTICS: [&str; 6] = ["base", "mean", "P10", "P50", "P90", "share"];

/// Figures of a result in one study: never is a value, no figure is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// In the order of [`STATISTICS`], as the engine has them: +infinity is never, NaN none.
    pub all: [f64; STATISTICS.len()],
}

impl Serialize for Figures {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_map(STATISTICS.iter().zip(self.all.map(Figure::of)))
    }
}

/// The difference of one statistic.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Change {
    /// After less before; none where either has no number, 0 where both are never.
    pub by: Option<f64>,
    /// Half-width of its 95 % interval (Student's t over the differences of the replicates); none where it has none.
    pub within: Option<f64>,
}

/// Differences of all statistics, in the order of [`STATISTICS`].
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Statistic by statistic.
    pub all: [Change; STATISTICS.len()],
}

impl Serialize for Effect {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_map(STATISTICS.iter().zip(self.all))
    }
}

/// Figures of runs. A mean is none if a run is never; runs without a value are left out.
pub(super) fn figures(base: f64, values: &[f64], rule: Option<Rule>) -> Figures {
    let there: Vec<f64> = values.iter().copied().filter(|x| !x.is_nan()).collect();
    let n = there.len() as f64;
    let any_never = there.contains(&f64::INFINITY);
    let mean = if there.is_empty() || any_never { f64::NAN } else { there.iter().sum::<f64>() / n };
    let percentiles = quantiles(&there, &[0.1, 0.5, 0.9]);
    let share =
        rule.filter(|_| n > 0.0).map(|rule| there.iter().filter(|x| met(rule, **x)).count() as f64 / n);
    let p = |k: usize| percentiles.get(k).copied().unwrap_or(f64::NAN);
    Figures { all: [base, mean, p(0), p(1), p(2), share.unwrap_or(f64::NAN)] }
}

fn met(rule: Rule, x: f64) -> bool {
    match rule {
        Rule::AtLeast(t) => x >= t,
        Rule::AtMost(t) => x <= t,
        Rule::Yes => x != 0.0,
    }
}

fn differences(a: &Figures, b: &Figures) -> [f64; STATISTICS.len()] {
    let mut by = [f64::NAN; STATISTICS.len()];
    for ((by, a), b) in by.iter_mut().zip(a.all).zip(b.all) {
        // Never stays never: nothing was changed, though infinity less infinity is no number.
        *by = if a == b { 0.0 } else { b - a };
    }
    by
}

/// From one result to the other on the same draws; `parts` as the runs fall into independent ones.
pub fn effect(a: &ResultRuns, b: &ResultRuns, parts: Option<u32>) -> Effect {
    let by = differences(&a.figures(), &b.figures());
    let by_part: Vec<[f64; STATISTICS.len()]> =
        parted(a, parts).iter().zip(&parted(b, parts)).map(|(a, b)| differences(a, b)).collect();
    of(by, |k| half(by_part.iter().map(|part| part[k])))
}

/// From one result to the other on draws that do not belong together: the half-widths of both are added, which holds
/// whatever the two have in common.
pub(super) fn unpaired(a: &ResultRuns, b: &ResultRuns, parts: (Option<u32>, Option<u32>)) -> Effect {
    let by = differences(&a.figures(), &b.figures());
    let (of_a, of_b) = (parted(a, parts.0), parted(b, parts.1));
    of(by, |k| {
        let a = half(of_a.iter().map(|part| part.all[k]))?;
        Some(a + half(of_b.iter().map(|part| part.all[k]))?)
    })
}

/// A whole difference, made of one on the same draws and one on other draws.
pub(super) fn after(whole: &Effect, paired: &Effect, drawn: &Effect) -> Effect {
    let mut whole = whole.clone();
    for (k, change) in whole.all.iter_mut().enumerate() {
        change.within =
            paired.all[k].within.zip(drawn.all[k].within).map(|(a, b)| a + b).filter(|_| change.by.is_some());
    }
    whole
}

/// What is left of the whole when each part alone is taken off.
pub(super) fn together<'e>(
    whole: &Effect,
    parts: impl Iterator<Item = &'e Effect> + Clone,
) -> [Option<f64>; STATISTICS.len()] {
    let mut rest = [None; STATISTICS.len()];
    for (k, rest) in rest.iter_mut().enumerate() {
        let alone: Option<f64> = parts.clone().map(|effect| effect.all[k].by).sum();
        *rest = whole.all[k].by.zip(alone).map(|(whole, alone)| whole - alone);
    }
    rest
}

/// The base case has no sampling error.
fn of(by: [f64; STATISTICS.len()], within: impl Fn(usize) -> Option<f64>) -> Effect {
    let mut all = [Change { by: None, within: None }; STATISTICS.len()];
    for (k, change) in all.iter_mut().enumerate() {
        let is_number = by[k].is_finite();
        change.by = is_number.then_some(by[k]);
        change.within = if k == 0 || !is_number { None } else { within(k) };
    }
    Effect { all }
}

/// Figures of each part of the runs; run r belongs to part r mod R.
fn parted(runs: &ResultRuns, parts: Option<u32>) -> Vec<Figures> {
    let n = parts.unwrap_or(1) as usize;
    if n < 2 || runs.values.len() < 2 * n {
        return Vec::new();
    }
    let part = |r: usize| -> Vec<f64> { runs.values.iter().copied().skip(r).step_by(n).collect() };
    (0..n).map(|r| figures(runs.base, &part(r), runs.rule)).collect()
}

fn half(estimates: impl Iterator<Item = f64>) -> Option<f64> {
    let estimates: Vec<f64> = estimates.collect();
    let all = estimates.len() >= 2 && estimates.iter().all(|x| x.is_finite());
    all.then(|| replicate_half_width(&estimates, CONFIDENCE)).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::ResultKind;
    use crate::units::Unit;

    fn runs(base: f64, values: &[f64]) -> ResultRuns {
        ResultRuns {
            name: "r".into(),
            label: "r".into(),
            unit: Unit::plain(),
            kind: ResultKind::Years,
            rule: Some(Rule::AtMost(2.0)),
            base,
            values: values.to_vec(),
        }
    }

    #[test]
    fn nothing_changed_is_exactly_nothing() {
        let never = runs(f64::INFINITY, &[1.0, 2.0, f64::INFINITY, 5.0, 7.0, 0.5, f64::INFINITY, f64::NAN]);
        let found = effect(&never, &never, Some(2));
        for (k, change) in found.all.iter().enumerate() {
            // The mean of runs with a never is none.
            let by = if k == 1 { None } else { Some(0.0) };
            assert_eq!(change.by, by, "{}", STATISTICS[k]);
            assert!(change.within.is_none_or(|within| within == 0.0));
        }
        assert_eq!(found.all[5].within, Some(0.0));
    }

    #[test]
    fn a_shift_is_known_exactly_whatever_the_spread() {
        let a = runs(3.0, &[1.0, 9.0, 4.0, 100.0, -7.0, 2.0, 3.0, 8.0]);
        let b = runs(4.0, &a.values.iter().map(|x| x + 1.0).collect::<Vec<_>>());
        let found = effect(&a, &b, Some(4));
        assert_eq!(found.all[0], Change { by: Some(1.0), within: None });
        assert!((found.all[1].by.unwrap() - 1.0).abs() < 1e-12 && found.all[1].within.unwrap() < 1e-12);
        let apart = unpaired(&a, &b, (Some(4), Some(4)));
        assert!(apart.all[1].within.unwrap() > 10.0);
    }

    #[test]
    fn from_a_number_to_never_is_no_number() {
        let a = runs(3.0, &[1.0, 1.0, 1.0, 1.0]);
        let b = runs(f64::INFINITY, &[f64::INFINITY; 4]);
        let found = effect(&a, &b, Some(2));
        assert_eq!(found.all[3].by, None);
        assert_eq!(found.all[5].by, Some(-1.0));
    }
}
