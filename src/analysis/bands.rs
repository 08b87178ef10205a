//! Share paid back by each year, and cumulative cash by year. Bands are
//! pointwise: no run follows an edge, so a few runs go along.

use rayon::prelude::*;

use crate::analysis::drawn::Drawn;
use crate::analysis::{CashBand, PaybackBands, Share};
use crate::engine::graph::NodeId;

/// Percentiles of cumulative cash.
pub(super) const PERCENTILES: [f64; 7] = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];

/// How many single runs go along.
const SOME_RUNS: usize = 6;

/// Bands of a payback result: `payback` is its node when it is years or never, `cash` the cumulative cash at the end of
/// year 0, 1, 2, ... with its base case.
pub(super) fn bands(
    result: String,
    unit: String,
    drawn: &Drawn,
    payback: Option<NodeId>,
    cash: &[(NodeId, f64)],
) -> PaybackBands {
    let unknown = (Vec::new(), Share { value: 0.0, ..Share::unknown() });
    let (paid_back, never) = payback.map_or(unknown, |node| drawn.paid_back(node));
    let bands = cash.par_iter().enumerate().map(|(year, &(node, base))| {
        let (mean, percentiles) = drawn.mean_and_percentiles(node);
        CashBand { year, base, mean, percentiles }
    });
    let some = cash.iter().map(|&(node, _)| drawn.first_runs(node).len()).min().unwrap_or(0).min(SOME_RUNS);
    let run = |k: usize| cash.iter().map(|&(node, _)| drawn.first_runs(node)[k]).collect();
    PaybackBands {
        result,
        unit,
        paid_back,
        never,
        cash: bands.collect(),
        some_runs: (0..some).map(run).collect(),
    }
}
