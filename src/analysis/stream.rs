//! More runs than are kept: each chunk goes into accumulators, which are merged
//! along a fixed tree, so that memory stays bounded and no byte depends on who
//! did which chunk.
//!
//! Moments and counts are exact; ranks come from a sketch with a stated error.

use rayon::prelude::*;

use crate::analysis::statistics::gathered::Gathered;
use crate::analysis::statistics::limits::UpTo;
use crate::analysis::{Estimate, Percentile};
use crate::engine::accumulate::{Accumulator, CHUNK, Chunk, Moments, Replicates, Sketch, Tree};
use crate::engine::block::Runs;
use crate::engine::run::{Control, Job, Stopped, by_chunk};
use crate::units::Unit;

/// Runs of which whole columns are kept at most.
pub(super) const KEPT_AT_MOST: u64 = 1 << 22;

/// Chunks that are worked on before their accumulators are merged.
const BATCH: u64 = 32;

/// Runs whose values are told one by one.
const FIRST: usize = 64;

/// What is gathered of one wanted value.
pub(super) struct Task {
    /// Its place among the wanted values.
    pub(super) wanted: usize,
    /// The unit in which it is gathered.
    pub(super) unit: Unit,
    /// Rising limits against which runs are counted.
    pub(super) limits: Vec<f64>,
    /// Whether +infinity is never (else it is no value).
    pub(super) years: bool,
}

/// What came of one task.
pub(super) struct Streamed {
    pub(super) gathered: Gathered,
    /// The first run without a value.
    pub(super) first_failed: Option<u64>,
    /// Values of the first runs.
    pub(super) first: Vec<f64>,
}

impl Streamed {
    pub(super) fn mean_and_percentiles(&self, ps: &[f64]) -> (Estimate, Vec<Percentile>) {
        (self.gathered.mean(), self.gathered.percentiles(ps))
    }
}

/// A chunk's share of one task.
struct Part {
    moments: Moments,
    replicates: Option<Replicates>,
    sketch: Sketch,
    counts: UpTo,
    first_failed: Option<u64>,
}

/// A task's accumulators while chunks come in.
struct Gathering {
    moments: Tree<Moments>,
    replicates: Tree<Replicates>,
    sketch: Tree<Sketch>,
    counts: UpTo,
    first_failed: Option<u64>,
    first: Vec<f64>,
}

/// Runs all chunks and gathers each task.
///
/// # Errors
/// When stopped through `control`.
pub(super) fn gather(
    job: Job<'_>,
    control: &Control,
    tasks: &[Task],
    replicates: Option<u32>,
) -> Result<Vec<Streamed>, Stopped> {
    let mut all: Vec<Gathering> = tasks.iter().map(|task| Gathering::new(task, replicates)).collect();
    let chunks = job.n_runs.div_ceil(CHUNK as u64);
    for start in (0..chunks).step_by(BATCH as usize) {
        let made = by_chunk(job, control, start..start + BATCH, |runs, columns| {
            let of_task = |task: &Task| part(task, runs, &columns[task.wanted], replicates);
            let first =
                |task: &Task| if runs.first == 0 { in_unit(task, &columns[task.wanted]) } else { Vec::new() };
            tasks.iter().map(|task| (of_task(task), first(task))).collect::<Vec<_>>()
        })?;
        let mut by_task: Vec<Vec<(Part, Vec<f64>)>> = tasks.iter().map(|_| Vec::new()).collect();
        for chunk in made {
            for (list, part) in by_task.iter_mut().zip(chunk) {
                list.push(part);
            }
        }
        all.par_iter_mut().zip(by_task).for_each(|(gathering, parts)| {
            for (part, first) in parts {
                gathering.push(part, first);
            }
        });
    }
    Ok(all.into_par_iter().map(|gathering| gathering.finish(job.n_runs)).collect())
}

fn in_unit(task: &Task, column: &[f64]) -> Vec<f64> {
    column.iter().take(FIRST).map(|&x| task.unit.from_base(x)).collect()
}

fn part(task: &Task, runs: Runs, column: &[f64], replicates: Option<u32>) -> Part {
    let value = |&x: &f64| {
        let x = if task.unit.scale == 1.0 { x } else { task.unit.from_base(x) };
        let meant = x.is_finite() || (task.years && x == f64::INFINITY);
        if meant { x } else { f64::NAN }
    };
    let values: Vec<f64> = column.iter().map(value).collect();
    let chunk = Chunk::plain(runs.first, &values);
    let mut part = Part {
        moments: Moments::new(),
        replicates: replicates.map(Replicates::new),
        sketch: Sketch::new(),
        counts: UpTo::new(&task.limits, replicates),
        first_failed: values.iter().position(|x| x.is_nan()).map(|k| runs.first + k as u64),
    };
    part.moments.add(chunk);
    part.sketch.add(chunk);
    part.counts.add(runs.first, &values);
    if let Some(replicates) = &mut part.replicates {
        replicates.add(chunk);
    }
    part
}

impl Gathering {
    fn new(task: &Task, replicates: Option<u32>) -> Self {
        Gathering {
            moments: Tree::new(),
            replicates: Tree::new(),
            sketch: Tree::new(),
            counts: UpTo::new(&task.limits, replicates),
            first_failed: None,
            first: Vec::new(),
        }
    }

    fn push(&mut self, part: Part, first: Vec<f64>) {
        self.moments.push(part.moments);
        self.sketch.push(part.sketch);
        if let Some(replicates) = part.replicates {
            self.replicates.push(replicates);
        }
        self.counts.merge(&part.counts);
        self.first_failed = self.first_failed.or(part.first_failed);
        self.first.extend(first);
    }

    fn finish(self, runs: u64) -> Streamed {
        let gathered = Gathered {
            runs,
            moments: self.moments.merged().unwrap_or_default().finish(),
            replicates: self.replicates.merged().map_or_else(Vec::new, |all| all.finish()),
            sketch: self.sketch.merged().unwrap_or_default().finish(),
            counts: self.counts,
        };
        Streamed { gathered, first_failed: self.first_failed, first: self.first }
    }
}
