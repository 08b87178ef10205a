//! The result where a factor is low and where it is high: the tornado from the
//! runs at hand, which needs no base case and keeps links among the inputs.

use super::outcome::order_of;
use crate::analysis::factors::Factor;
use crate::analysis::statistics::{Rule, mean_and_percentiles_of, percentiles_of, shares_of};
use crate::analysis::{Estimate, Figure, ResultKind, Share};
use rayon::prelude::*;
use serde::Serialize;

/// What is told of the runs at an end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum TenthStatistic {
    /// The mean.
    Mean,
    /// The median, as soon as any run is never; it may be never.
    Median,
    /// The share of yes.
    Share,
}

/// The runs at one end of a factor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct End {
    /// Least value of the factor there, in its unit.
    pub from: f64,
    /// Greatest value there.
    pub to: f64,
    /// The label, for a list of labels.
    pub word: Option<String>,
    /// Runs there that have a value of the result.
    pub runs: u64,
    /// The result there.
    pub result: Estimate,
}

/// One factor.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TenthsRow {
    /// Name of the factor.
    pub name: String,
    /// Its plain name.
    pub label: String,
    /// Its unit.
    pub unit: String,
    /// Where it is lowest (for labels: where the result is least).
    pub low: End,
    /// Where it is highest (for labels: where the result is greatest).
    pub high: End,
    /// Result at the high end less that at the low end; none when an end is never.
    pub difference: Option<f64>,
    /// Correlated with another factor by the study: what it brings along is included.
    pub linked: bool,
}

/// All factors.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tenths {
    /// Runs given.
    pub runs: u64,
    /// Runs without a value.
    pub without_value: u64,
    /// What is told.
    pub statistic: TenthStatistic,
    /// The same of all runs.
    pub all: Estimate,
    /// Rows with an end at never that the other end does not share first, then by falling size of the difference;
    /// ties in file order. A factor that does not vary has no row.
    pub rows: Vec<TenthsRow>,
    /// To be said beneath.
    pub notes: Vec<String>,
}

/// `result` in the lowest and in the highest tenth of each factor.
///
/// The low end holds the runs at or below the value that a tenth of the runs
/// reach, the high end those at or above the value that a tenth reach from
/// above: a tenth, or more where values repeat, so that a discrete factor
/// shows its lowest and highest values that hold at least a tenth together.
/// Where both ends would share a value (one that most runs have), it belongs to
/// neither, unless it is the lowest or highest of all: then it is that end
/// alone, and the other end is all other runs. A list of labels has no order: of its
/// labels with at least a tenth of the runs (of all, if fewer than two have)
/// those with the least and the greatest result.
pub fn tenths(result: &[f64], kind: ResultKind, factors: &[Factor], replicates: Option<u32>) -> Tenths {
    let there = |y: f64| !y.is_nan() && y != f64::NEG_INFINITY && (kind == ResultKind::Years || y.is_finite());
    let result: Vec<f64> = result.iter().map(|&y| if there(y) { y } else { f64::NAN }).collect();
    let statistic = if kind == ResultKind::YesNo {
        TenthStatistic::Share
    } else if result.contains(&f64::INFINITY) {
        TenthStatistic::Median
    } else {
        TenthStatistic::Mean
    };
    let asked = Asked { result: &result, statistic, replicates };
    let found: Vec<Option<TenthsRow>> = factors.par_iter().map(|factor| asked.row(factor)).collect();
    let mut rows: Vec<TenthsRow> = found.into_iter().flatten().collect();
    let size = |row: &TenthsRow| match row.difference {
        Some(difference) => difference.abs(),
        None if row.low.result.value == row.high.result.value => 0.0,
        None => f64::INFINITY,
    };
    rows.sort_by(|a, b| size(b).total_cmp(&size(a)));
    let notes = notes(statistic, factors);
    Tenths {
        runs: result.len() as u64,
        without_value: result.iter().filter(|y| y.is_nan()).count() as u64,
        statistic,
        all: asked.told(&result),
        rows,
        notes,
    }
}

fn notes(statistic: TenthStatistic, factors: &[Factor]) -> Vec<String> {
    let mut notes = Vec::new();
    if statistic == TenthStatistic::Median {
        notes.push("Some runs are never, so medians are shown; never is the largest value.".into());
    }
    if factors.iter().any(|factor| factor.linked) {
        notes.push("At the end of a linked input, the inputs linked to it move along.".into());
    }
    if factors.iter().any(|factor| !factor.labels.is_empty()) {
        notes.push("For a list of labels: the label with the least and that with the greatest result.".into());
    }
    notes
}

struct Asked<'a> {
    result: &'a [f64],
    statistic: TenthStatistic,
    replicates: Option<u32>,
}

impl Asked<'_> {
    /// The statistic of a column, with NaN in the runs that do not belong to it.
    fn told(&self, column: &[f64]) -> Estimate {
        let none = || Estimate::alone(Figure::None);
        match self.statistic {
            TenthStatistic::Mean => mean_and_percentiles_of(column, self.replicates, &[]).0,
            TenthStatistic::Median => {
                percentiles_of(column, self.replicates, &[0.5]).pop().map_or_else(none, |p| p.estimate)
            }
            TenthStatistic::Share => {
                shares_of(column, self.replicates, &[Rule::Yes]).first().map_or_else(none, of_share)
            }
        }
    }

    /// The runs with lowest <= factor <= highest.
    fn end(&self, factor: &Factor, lowest: f64, highest: f64) -> End {
        let (mut from, mut to, mut runs) = (f64::INFINITY, f64::NEG_INFINITY, 0);
        let mut column = vec![f64::NAN; self.result.len()];
        for ((place, &y), &x) in column.iter_mut().zip(self.result).zip(&factor.values) {
            if !y.is_nan() && lowest <= x && x <= highest {
                *place = y;
                runs += 1;
                (from, to) = (from.min(x), to.max(x));
            }
        }
        let word = (from >= 0.0).then(|| factor.labels.get(from as usize).cloned()).flatten();
        End { from, to, word, runs, result: self.told(&column) }
    }

    fn row(&self, factor: &Factor) -> Option<TenthsRow> {
        let there = self.result.iter().zip(&factor.values).filter(|(y, x)| !y.is_nan() && x.is_finite());
        let values: Vec<f64> = there.map(|(_, &x)| x).collect();
        let sorted: Vec<f64> = order_of(&values).iter().map(|&i| values[i as usize]).collect();
        let (low, high) = if factor.labels.is_empty() {
            let [low, high] = ends(&sorted)?;
            (self.end(factor, low.0, low.1), self.end(factor, high.0, high.1))
        } else {
            self.extremes(factor, &sorted)?
        };
        let difference = match (low.result.value, high.result.value) {
            (Figure::Number(a), Figure::Number(b)) => Some(b - a),
            _ => None,
        };
        Some(TenthsRow {
            name: factor.name.clone(),
            label: factor.label.clone(),
            unit: factor.unit.clone(),
            low,
            high,
            difference,
            linked: factor.linked,
        })
    }

    /// The labels with the least and the greatest result.
    fn extremes(&self, factor: &Factor, sorted: &[f64]) -> Option<(End, End)> {
        let lots: Vec<&[f64]> = sorted.chunk_by(|a, b| a == b).collect();
        let frequent: Vec<&[f64]> = lots.iter().copied().filter(|lot| 10 * lot.len() >= sorted.len()).collect();
        let lots = if frequent.len() < 2 { lots } else { frequent };
        let mut ends: Vec<End> =
            lots.iter().filter_map(|lot| lot.first()).map(|&value| self.end(factor, value, value)).collect();
        // Stable: of equal results the label named first.
        let size = |end: &End| end.result.value.number().unwrap_or(f64::INFINITY);
        ends.sort_by(|a, b| size(a).total_cmp(&size(b)));
        let high = ends.pop()?;
        Some((ends.into_iter().next()?, high))
    }
}

fn of_share(share: &Share) -> Estimate {
    let (low, high) = (Some(Figure::of(share.low)), Some(Figure::of(share.high)));
    Estimate { value: Figure::of(share.value), low, high, interval: share.interval }
}

/// Least and greatest value of each end, from the sorted values; none when they are constant.
fn ends(sorted: &[f64]) -> Option<[(f64, f64); 2]> {
    let (least, most) = (*sorted.first()?, *sorted.last()?);
    if least == most {
        return None;
    }
    let tenth = sorted.len().div_ceil(10);
    let (low, high) = (sorted[tenth - 1], sorted[sorted.len() - tenth]);
    if low < high {
        return Some([(least, low), (high, most)]);
    }
    let below = sorted.partition_point(|&x| x < low).checked_sub(1).map(|k| sorted[k]);
    let above = sorted.get(sorted.partition_point(|&x| x <= low)).copied();
    match (below, above) {
        (None, Some(above)) => Some([(least, low), (above, most)]),
        (Some(below), None) => Some([(least, below), (low, most)]),
        (Some(below), Some(above)) => Some([(least, below), (above, most)]),
        (None, None) => None,
    }
}
