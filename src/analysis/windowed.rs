//! Many runs: of the cash of each year only what its percentiles need is kept.
//!
//! A pilot, the first runs, says about where each percentile lies; of the rest only values near one are kept and all
//! others counted. The figures are exact, so that no bit hangs on the pilot.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::Ordering;

use rayon::prelude::*;

use crate::analysis::Percentile;
use crate::analysis::bands::PERCENTILES;
use crate::analysis::statistics::summary::{percentiles_in_windows, windows_for};
use crate::engine::accumulate::{Accumulator, Chunk, Moments, Windows, merge_tree};
use crate::engine::graph::{Graph, NodeId};
use crate::engine::program::Program;
use crate::engine::run::{Control, Job, Stopped, keep, keep_and};

/// Below this many runs all values are kept: it costs less than the pilot.
pub(super) const WINDOWS_FROM: u64 = 1 << 18;

/// Runs of the pilot, whole chunks.
const PILOT: u64 = 1 << 15;

/// Mean and percentiles of the cash of each year.
pub(super) type CashFigures = Vec<(f64, Vec<Percentile>)>;

/// Columns by node, and the figures of cash.
type Windowed = (BTreeMap<NodeId, Vec<f64>>, CashFigures);

/// All values of `kept`, the first of `cash` and the figures of all of it; none where a percentile lies outside its
/// window.
pub(super) fn windowed(
    job: Job<'_>,
    graph: &Graph,
    cash: &[NodeId],
    kept: &[NodeId],
    control: &Control,
) -> Result<Option<Windowed>, Stopped> {
    let distinct = |nodes: &[NodeId]| nodes.iter().copied().collect::<BTreeSet<_>>().into_iter().collect::<Vec<_>>();
    // A node may be in both: then it is kept as well.
    let (kept, own) = (distinct(kept), distinct(cash));
    let wanted: Vec<NodeId> = kept.iter().chain(&own).copied().collect();
    let pilot = Program::of_runs(graph, &own);
    let pilot = keep(Job { program: &pilot, n_runs: job.n_runs.min(PILOT), ..job }, control)?;
    // They are made again below, and count once.
    control.done.fetch_sub(job.n_runs.min(PILOT), Ordering::Relaxed);
    let windows: Vec<Windows> = pilot.par_iter().map(|column| windows_for(column, &PERCENTILES)).collect();
    let program = Program::of_runs(graph, &wanted);
    let (columns, parts) = keep_and(Job { program: &program, ..job }, control, kept.len(), |runs, columns| {
        let part = |(windows, column): (&Windows, &Vec<f64>)| {
            let (mut windows, mut moments) = (windows.fresh(), Moments::new());
            windows.add(Chunk::plain(runs.first, column));
            moments.add(Chunk::plain(runs.first, column));
            (windows, moments)
        };
        windows.iter().zip(columns).map(part).collect::<Vec<_>>()
    })?;
    let mut rows: Vec<_> = parts.into_iter().map(Vec::into_iter).collect();
    let by_column: Vec<Vec<_>> = own.iter().map(|_| rows.iter_mut().filter_map(Iterator::next).collect()).collect();
    let figures: Option<Vec<_>> = by_column.into_par_iter().map(figures).collect();
    let Some(figures) = figures else {
        control.done.fetch_sub(job.n_runs, Ordering::Relaxed);
        return Ok(None);
    };
    let of = |node: &NodeId| own.binary_search(node).ok().and_then(|k| figures.get(k)).cloned();
    let Some(figures) = cash.iter().map(of).collect::<Option<CashFigures>>() else { return Ok(None) };
    let columns = own.iter().copied().zip(pilot).chain(kept.into_iter().zip(columns)).collect();
    Ok(Some((columns, figures)))
}

/// Mean and percentiles from the parts of all chunks, in their order.
fn figures(parts: Vec<(Windows, Moments)>) -> Option<(f64, Vec<Percentile>)> {
    let (windows, moments): (Vec<Windows>, Vec<Moments>) = parts.into_iter().unzip();
    let mean = merge_tree(moments)?.finish().mean.unwrap_or(f64::NAN);
    let windows = windows.into_iter().reduce(|mut all, later| {
        all.merge(later);
        all
    })?;
    Some((mean, percentiles_in_windows(windows, &PERCENTILES)?))
}
