//! Share paid back by each year, and cumulative cash by year. Bands are
//! pointwise: no run follows an edge, so a few runs go along.

use rayon::prelude::*;

use crate::analysis::statistics::limits::UpTo;
use crate::analysis::survey::Column;
use crate::analysis::{CashBand, PaybackBands};

/// Percentiles of cumulative cash.
pub(super) const PERCENTILES: [f64; 7] = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];

/// How many single runs go along.
const SOME_RUNS: usize = 6;

/// What bands are made of.
pub(super) struct Columns<'a> {
    /// Name of the payback result.
    pub(super) result: String,
    /// Currency.
    pub(super) unit: String,
    /// Years to payback, never as infinity; none when the result is only a yes or no.
    pub(super) payback: Option<&'a [f64]>,
    /// Cumulative cash at the end of year 0, 1, 2, ...
    pub(super) cash: Vec<&'a Column>,
    /// The same in the base case.
    pub(super) base: Vec<f64>,
    /// Replicates, under a stratified method.
    pub(super) replicates: Option<u32>,
}

pub(super) fn bands(columns: &Columns<'_>) -> PaybackBands {
    let years = columns.cash.len().saturating_sub(1);
    let limits: Vec<f64> = (1..=years).map(|year| year as f64).collect();
    let mut counts = UpTo::new(&limits, columns.replicates);
    counts.add(0, columns.payback.unwrap_or(&[]));
    let paid_back = if columns.payback.is_some() { counts.shares() } else { Vec::new() };
    let cash =
        columns.cash.par_iter().zip(&columns.base).enumerate().map(|(year, (column, &base))| CashBand {
            year,
            base,
            mean: column.mean(),
            percentiles: column.percentiles(columns.replicates, &PERCENTILES),
        });
    let some = columns.cash.iter().map(|c| c.first_runs().len()).min().unwrap_or(0).min(SOME_RUNS);
    PaybackBands {
        result: columns.result.clone(),
        unit: columns.unit.clone(),
        paid_back,
        never: counts.never(),
        cash: cash.collect(),
        some_runs: (0..some).map(|run| columns.cash.iter().map(|c| c.first_runs()[run]).collect()).collect(),
    }
}
