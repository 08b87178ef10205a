//! Share paid back by each year, and cumulative cash by year. Bands are
//! pointwise: no run follows an edge, so a few runs go along.

use rayon::prelude::*;

use crate::analysis::statistics::intervals::{CONFIDENCE, replicate_half_width, wilson};
use crate::analysis::statistics::summary::{mean_of, percentiles_of};
use crate::analysis::{CashBand, PaybackBands, Share};

/// Percentiles of cumulative cash.
const PERCENTILES: [f64; 7] = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];

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
    pub(super) cash: Vec<&'a [f64]>,
    /// The same in the base case.
    pub(super) base: Vec<f64>,
    /// Replicates, under a stratified method.
    pub(super) replicates: Option<u32>,
}

pub(super) fn bands(columns: &Columns<'_>) -> PaybackBands {
    let years = columns.cash.len().saturating_sub(1);
    let counts = Counts::of(columns.payback.unwrap_or(&[]), years, columns.replicates.unwrap_or(1));
    let paid_back = if columns.payback.is_some() { (1..=years).map(|year| counts.paid_by(year)).collect() } else { Vec::new() };
    let cash = columns.cash.par_iter().zip(&columns.base).enumerate().map(|(year, (column, &base))| CashBand {
        year,
        base,
        mean: mean_of(column),
        percentiles: percentiles_of(column, columns.replicates, &PERCENTILES),
    });
    let n = columns.cash.first().map_or(0, |c| c.len());
    PaybackBands {
        result: columns.result.clone(),
        unit: columns.unit.clone(),
        paid_back,
        never: counts.never(),
        cash: cash.collect(),
        some_runs: (0..SOME_RUNS.min(n)).map(|run| columns.cash.iter().map(|c| c[run]).collect()).collect(),
    }
}

/// Runs by replicate and by the year in which they are paid back, in one pass.
struct Counts {
    /// For each replicate: paid back by the end of year 0, within year 1, 2, ..., and last: never.
    by_year: Vec<Vec<u64>>,
}

impl Counts {
    fn of(payback: &[f64], years: usize, replicates: u32) -> Counts {
        let mut by_year = vec![vec![0; years + 2]; replicates.max(1) as usize];
        let n = by_year.len();
        for (run, &x) in payback.iter().enumerate().filter(|(_, x)| !x.is_nan()) {
            // A payback within the horizon is at most `years`; never comes last.
            let class = if x <= years as f64 { x.ceil() as usize } else { years + 1 };
            by_year[run % n][class] += 1;
        }
        Counts { by_year }
    }

    fn paid_by(&self, year: usize) -> Share {
        self.share(|counts| counts[..=year].iter().sum())
    }

    fn never(&self) -> Share {
        self.share(|counts| counts.last().copied().unwrap_or(0))
    }

    fn share(&self, of: impl Fn(&[u64]) -> u64) -> Share {
        let parts: Vec<(u64, u64)> = self.by_year.iter().map(|c| (of(c), c.iter().sum())).collect();
        let (met, runs) = parts.iter().fold((0, 0), |(a, b), (met, runs)| (a + met, b + runs));
        let plain = wilson(met, runs, CONFIDENCE);
        if met == 0 || met == runs || parts.len() < 2 {
            return plain;
        }
        let shares: Vec<f64> = parts.iter().map(|&(met, runs)| met as f64 / runs as f64).collect();
        match replicate_half_width(&shares, CONFIDENCE) {
            Some(half) if half.is_finite() => {
                Share { value: plain.value, low: (plain.value - half).max(0.0), high: (plain.value + half).min(1.0) }
            }
            _ => plain,
        }
    }
}
