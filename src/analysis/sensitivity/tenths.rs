//! The result where a factor is low and where it is high: the tornado from the
//! runs at hand, which needs no base case and keeps links among the inputs.

use super::outcome::order_of;
use super::parts::{gathered, has_value};
use crate::analysis::factors::Factor;
use crate::analysis::statistics::{Rule, mean_and_percentiles_of, percentiles_of, shares_of};
use crate::analysis::{Estimate, Figure, ResultKind, Share};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

/// What is told of the runs at an end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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
    let result: Vec<f64> = result.iter().map(|&y| if has_value(kind, y) { y } else { f64::NAN }).collect();
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
        notes
            .push("For a list of labels: the label with the least and that with the greatest result.".into());
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

    /// The runs of a factor at an end, given by rising value.
    fn end(&self, factor: &Factor, runs: &[u32]) -> End {
        let value = |run: Option<&u32>| run.map_or(f64::NAN, |&run| factor.values[run as usize]);
        let (from, to) = (value(runs.first()), value(runs.last()));
        let word = (from >= 0.0).then(|| factor.labels.get(from as usize).cloned()).flatten();
        // By run, so that sums are those of the runs in their order.
        let mut by_run = runs.to_vec();
        by_run.sort_unstable();
        let result = self.told(&gathered(self.result, &by_run, self.replicates));
        End { from, to, word, runs: runs.len() as u64, result }
    }

    fn row(&self, factor: &Factor) -> Option<TenthsRow> {
        let there = self.result.iter().zip(&factor.values).zip(0u32..);
        let runs: Vec<u32> =
            there.filter(|((y, x), _)| !y.is_nan() && x.is_finite()).map(|(_, run)| run).collect();
        let values: Vec<f64> = runs.iter().map(|&run| factor.values[run as usize]).collect();
        let order: Vec<u32> = order_of(&values).iter().map(|&i| runs[i as usize]).collect();
        let sorted: Vec<f64> = order.iter().map(|&run| factor.values[run as usize]).collect();
        let (low, high) = if factor.labels.is_empty() {
            let (low, high) = ends(&sorted)?;
            (self.end(factor, &order[..low]), self.end(factor, &order[high..]))
        } else {
            self.extremes(factor, &order)?
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

    /// The labels with the least and the greatest result, from the runs by rising label.
    fn extremes(&self, factor: &Factor, order: &[u32]) -> Option<(End, End)> {
        let value = |run: u32| factor.values[run as usize];
        let lots: Vec<&[u32]> = order.chunk_by(|&a, &b| value(a) == value(b)).collect();
        let frequent: Vec<&[u32]> =
            lots.iter().copied().filter(|lot| 10 * lot.len() >= order.len()).collect();
        let lots = if frequent.len() < 2 { lots } else { frequent };
        let mut ends: Vec<End> = lots.iter().map(|lot| self.end(factor, lot)).collect();
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

/// How many of the sorted values are the low end, and where the high end begins; none when they are constant.
fn ends(sorted: &[f64]) -> Option<(usize, usize)> {
    let n = sorted.len();
    if sorted.first()? == sorted.last()? {
        return None;
    }
    let tenth = n.div_ceil(10);
    let (low, high) = (sorted[tenth - 1], sorted[n - tenth]);
    let below = |v: f64| sorted.partition_point(|&x| x < v);
    let up_to = |v: f64| sorted.partition_point(|&x| x <= v);
    if low < high {
        return Some((up_to(low), below(high)));
    }
    // Both ends at one value, which most runs have.
    Some(match (below(low), up_to(low)) {
        (0, above) => (above, above),
        (below, above) if above == n => (below, below),
        (below, above) => (below, above),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_by_hand() {
        let spread: Vec<f64> = (0..25).map(f64::from).collect();
        assert_eq!(ends(&spread), Some((3, 22)));
        let of = |counts: [usize; 3]| {
            let lots = [0.0, 1.0, 2.0].into_iter().zip(counts);
            ends(&lots.flat_map(|(v, n)| std::iter::repeat_n(v, n)).collect::<Vec<f64>>())
        };
        // A tenth is two of twenty.
        assert_eq!(of([5, 10, 5]), Some((5, 15)), "the lowest and the highest value");
        assert_eq!(of([1, 14, 5]), Some((15, 15)), "the two lowest together hold a tenth");
        assert_eq!(of([1, 18, 1]), Some((1, 19)), "nearly all in the middle");
        assert_eq!(of([19, 0, 1]), Some((19, 19)), "nearly all lowest");
        assert_eq!(of([1, 0, 19]), Some((1, 1)), "nearly all highest");
        assert_eq!(of([0, 20, 0]), None);
        assert_eq!(ends(&[]), None);
    }
}
