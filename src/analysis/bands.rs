//! Share paid back by each year, and cumulative cash by year. Bands are
//! pointwise: no run follows an edge, so a few runs go along.

use rayon::prelude::*;

use crate::analysis::statistics::Rule;
use crate::analysis::statistics::summary::{moments, percentiles_of, shares_of};
use crate::analysis::stream::Gathered;
use crate::analysis::{CashBand, PaybackBands, Percentile, Share};

/// Percentiles of cumulative cash.
pub(super) const PERCENTILES: [f64; 7] = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];

/// How many single runs go along.
pub(super) const SOME_RUNS: usize = 6;

/// What bands are made of.
pub(super) struct Columns<'a> {
    /// Name of the payback result.
    pub(super) result: String,
    /// Currency.
    pub(super) unit: String,
    /// Years to payback, never as infinity; none when the result is only a yes or no.
    pub(super) payback: Option<&'a [f64]>,
    /// Cumulative cash at the end of year 0, 1, 2, ...
    pub(super) cash: Vec<&'a [f64]>,
    /// Mean and percentiles of each year's cash where these are known already; `cash` then holds the first runs only.
    pub(super) windowed: Option<Vec<(f64, Vec<Percentile>)>>,
    /// The same in the base case.
    pub(super) base: Vec<f64>,
    /// Replicates, under a stratified method.
    pub(super) replicates: Option<u32>,
}

pub(super) fn bands(columns: &Columns<'_>) -> PaybackBands {
    let years = columns.cash.len().saturating_sub(1);
    let mut rules: Vec<Rule> = (1..=years).map(|year| Rule::AtMost(year as f64)).collect();
    rules.push(Rule::AtLeast(f64::INFINITY));
    let mut paid_back = shares_of(columns.payback.unwrap_or(&[]), columns.replicates, &rules);
    let never = paid_back.pop().unwrap_or(Share { value: 0.0, low: 0.0, high: 1.0 });
    if columns.payback.is_none() {
        paid_back.clear();
    }
    let windowed = |year: usize| columns.windowed.as_ref().and_then(|all| all.get(year));
    let cash = columns.cash.par_iter().zip(&columns.base).enumerate().map(|(year, (column, &base))| {
        if let Some((mean, percentiles)) = windowed(year) {
            return CashBand { year, base, mean: *mean, percentiles: percentiles.clone() };
        }
        CashBand {
            year,
            base,
            mean: moments(column).mean.unwrap_or(f64::NAN),
            percentiles: percentiles_of(column, columns.replicates, &PERCENTILES),
        }
    });
    let n = columns.cash.first().map_or(0, |c| c.len());
    PaybackBands {
        result: columns.result.clone(),
        unit: columns.unit.clone(),
        paid_back,
        never,
        cash: cash.collect(),
        some_runs: (0..SOME_RUNS.min(n)).map(|run| columns.cash.iter().map(|c| c[run]).collect()).collect(),
    }
}

/// The same from what was gathered; `(name of the result, currency)`, and the first runs of each year's cash.
pub(super) fn bands_of_stream(
    (result, unit): (String, String),
    payback: Option<&Gathered>,
    cash: &[&Gathered],
    base: &[f64],
    first_runs: &[&[f64]],
) -> PaybackBands {
    let unknown = || (Vec::new(), Share { value: 0.0, low: 0.0, high: 1.0 });
    let (paid_back, never) = payback.map_or_else(unknown, Gathered::up_to_limits);
    let cash = cash.par_iter().zip(base).enumerate().map(|(year, (column, &base))| CashBand {
        year,
        base,
        mean: column.mean(),
        percentiles: column.percentiles(&column.ranks(), &PERCENTILES),
    });
    let n = first_runs.first().map_or(0, |c| c.len());
    PaybackBands {
        result,
        unit,
        paid_back,
        never,
        cash: cash.collect(),
        some_runs: (0..SOME_RUNS.min(n)).map(|run| first_runs.iter().map(|c| c[run]).collect()).collect(),
    }
}
