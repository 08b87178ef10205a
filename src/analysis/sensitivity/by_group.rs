//! A result by the values, or by the thirds, of one factor.

use super::classes::Classes;
use super::outcome::{order_of, tie_ends};
use super::parts::{gathered, has_value};
use crate::analysis::factors::Factor;
use crate::analysis::statistics::{Rule, mean_and_percentiles_of, percentiles_of, shares_of};
use crate::analysis::{Estimate, Percentile, ResultKind, Share};
use schemars::JsonSchema;
use serde::Serialize;

/// Most values that are groups of their own; more are cut into thirds.
pub const MOST_GROUPS: usize = 12;
/// The percentiles of a group.
const PERCENTILES: [f64; 3] = [0.10, 0.50, 0.90];

/// The runs with one value of the factor, or one third of them.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Group {
    /// The value in words, or "lowest third".
    pub label: String,
    /// Its least value, in the factor's unit.
    pub from: f64,
    /// Its greatest value.
    pub to: f64,
    /// Runs with a value of the result.
    pub runs: u64,
    /// Their share of all such runs.
    pub share: f64,
    /// Mean; none for yes/no, and in a group with any never.
    pub mean: Option<Estimate>,
    /// P10, P50 and P90, never being the largest value; empty for yes/no.
    pub percentiles: Vec<Percentile>,
    /// Share that is a success; a yes/no result without a rule takes yes.
    pub success: Option<Share>,
    /// Share that is never; for years only.
    pub never: Option<Share>,
}

/// A result by groups of a factor.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Groups {
    /// Name of the factor.
    pub name: String,
    /// Its plain name.
    pub label: String,
    /// Its unit.
    pub unit: String,
    /// Thirds of the runs; else values.
    pub thirds: bool,
    /// By rising value, labels in their order.
    pub groups: Vec<Group>,
    /// Runs without a value of the result or of the factor.
    pub without_value: u64,
}

/// `result` by the values of `factor` (when it is discrete, with at most [`MOST_GROUPS`] of them), else by its
/// thirds: nearly equal counts, equal values together. Run r belongs to replicate r mod `replicates`. An infinity
/// in a result that is not in years is no value.
pub fn by_group(
    result: &[f64],
    kind: ResultKind,
    factor: &Factor,
    success: Option<Rule>,
    replicates: Option<u32>,
) -> Groups {
    let runs: Vec<u32> = (0..)
        .zip(result.iter().zip(&factor.values))
        .filter(|(_, (y, x))| has_value(kind, **y) && x.is_finite())
        .map(|(run, _)| run)
        .collect();
    let values: Vec<f64> = runs.iter().map(|&run| factor.values[run as usize]).collect();
    let order = order_of(&values);
    let ends = tie_ends(&values, &order);
    let thirds = !(factor.discrete && ends.len() <= MOST_GROUPS);
    let classes = if thirds {
        Classes::together(&order, &ends, 3)
    } else {
        Classes::cut(&order, &ends, MOST_GROUPS, 1)
    };
    let count = classes.counts.len();
    let mut groups = Vec::with_capacity(count);
    let mut start = 0;
    for (class, &held) in classes.counts.iter().enumerate() {
        let mut members = order[start..start + held as usize].to_vec();
        start += held as usize;
        let end = |i: Option<&u32>| i.map_or(f64::NAN, |&i| values[i as usize]);
        let (from, to) = (end(members.first()), end(members.last()));
        // By run, so that sums are those of the runs in their order.
        members.sort_unstable();
        members.iter_mut().for_each(|i| *i = runs[*i as usize]);
        let column = gathered(result, &members, replicates);
        let label = label(factor, class, count, thirds, from);
        groups.push(group(label, (from, to), &column, runs.len(), (kind, success), replicates));
    }
    Groups {
        name: factor.name.clone(),
        label: factor.label.clone(),
        unit: factor.unit.clone(),
        thirds,
        groups,
        without_value: (result.len() - runs.len()) as u64,
    }
}

fn group(
    label: String,
    (from, to): (f64, f64),
    column: &[f64],
    all: usize,
    (kind, success): (ResultKind, Option<Rule>),
    replicates: Option<u32>,
) -> Group {
    let runs = column.iter().filter(|y| !y.is_nan()).count();
    let never = column.contains(&f64::INFINITY);
    let (mean, percentiles) = match kind {
        ResultKind::YesNo => (None, Vec::new()),
        _ if never => (None, percentiles_of(column, replicates, &PERCENTILES)),
        _ => {
            let (mean, percentiles) = mean_and_percentiles_of(column, replicates, &PERCENTILES);
            (Some(mean), percentiles)
        }
    };
    let rule = success.or((kind == ResultKind::YesNo).then_some(Rule::Yes));
    let share = |rule: Rule| shares_of(column, replicates, &[rule]).first().copied();
    Group {
        label,
        from,
        to,
        runs: runs as u64,
        share: runs as f64 / all as f64,
        mean,
        percentiles,
        success: rule.and_then(share),
        never: (kind == ResultKind::Years).then(|| share(Rule::AtLeast(f64::INFINITY))).flatten(),
    }
}

fn label(factor: &Factor, class: usize, count: usize, thirds: bool, value: f64) -> String {
    if !thirds {
        let word = (value >= 0.0).then(|| factor.labels.get(value as usize)).flatten();
        return word.cloned().unwrap_or_else(|| format!("{value}"));
    }
    match (class, count) {
        (_, 1) => "all".into(),
        (0, _) => "lowest third".into(),
        (c, n) if c + 1 == n => "highest third".into(),
        _ => "middle third".into(),
    }
}
