//! The loop over chunks of runs, in parallel.
//!
//! Chunks hold 4,096 runs whatever the block size and the number of threads;
//! what is made of a chunk depends on its runs alone, and chunks are joined in
//! the order of their runs.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use rayon::prelude::*;

use crate::engine::block::Runs;
use crate::engine::program::{Frame, Program};
use crate::sampling::{Plan, Scratch, Vectors};

/// Runs in a chunk.
pub const CHUNK: usize = 4096;

/// Where the column of a leaf comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LeafSource {
    /// A column of the plan.
    Drawn(usize),
    /// The same in all runs.
    Held(f64),
}

/// Why a loop stopped before its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stopped {
    /// The caller asked for it.
    Cancelled,
    /// A newer question has taken its place.
    Stale,
}

/// What a loop reads at every chunk, and where it tells how far it is.
#[derive(Debug, Default)]
pub struct Control {
    /// Set to stop.
    pub cancel: AtomicBool,
    /// Runs done.
    pub done: AtomicU64,
    /// Number of the newest question.
    pub epoch: AtomicU64,
}

impl Control {
    /// Whether a loop of question `epoch` may go on.
    pub fn check(&self, epoch: u64) -> Result<(), Stopped> {
        if self.cancel.load(Ordering::Relaxed) {
            return Err(Stopped::Cancelled);
        }
        if self.epoch.load(Ordering::Acquire) != epoch {
            return Err(Stopped::Stale);
        }
        Ok(())
    }
}

/// A program with its draws: all that a loop needs.
#[derive(Clone, Copy)]
pub struct Job<'a> {
    /// Compiled workings.
    pub program: &'a Program,
    /// Draws.
    pub plan: &'a Plan,
    /// Source of each leaf.
    pub leaves: &'a [LeafSource],
    /// Number of runs.
    pub n_runs: u64,
    /// Runs in a block; chosen by the program if none.
    pub block: Option<usize>,
    /// Question this loop answers.
    pub epoch: u64,
    /// Which compiled form of the kernels is used.
    pub vectors: Vectors,
}

/// One thread's registers and drawn columns.
pub struct Worker<'a> {
    job: Job<'a>,
    /// Registers.
    pub frame: Frame,
    sources: Vec<bool>,
    drawn: Vec<f64>,
    held: Vec<f64>,
    scratch: Scratch,
    block: usize,
}

impl<'a> Job<'a> {
    /// Runs in a block.
    pub fn block_size(&self) -> usize {
        let size = self.block.unwrap_or_else(|| self.program.block_size(self.plan.columns().len()));
        size.clamp(1, CHUNK)
    }

    /// Registers and buffers for one thread.
    pub fn worker(self) -> Worker<'a> {
        let block = self.block_size();
        let columns = self.plan.columns();
        let mut sources = vec![false; columns.iter().map(|c| c.source + 1).max().unwrap_or(0)];
        for &leaf in self.program.leaves() {
            if let Some(LeafSource::Drawn(column)) = self.leaves.get(leaf as usize) {
                sources[columns[*column].source] = true;
            }
        }
        Worker {
            job: self,
            frame: self.program.frame(block).with_vectors(self.vectors),
            sources,
            drawn: vec![0.0; columns.len() * block],
            held: held_columns(self.leaves, block),
            scratch: Scratch::default(),
            block,
        }
    }

    /// Runs of chunk `k`.
    fn chunk(&self, k: u64) -> Runs {
        let first = k * CHUNK as u64;
        Runs { first, n: (self.n_runs - first).min(CHUNK as u64) as usize }
    }
}

fn held_columns(leaves: &[LeafSource], block: usize) -> Vec<f64> {
    let mut held = Vec::new();
    for leaf in leaves {
        if let LeafSource::Held(value) = *leaf {
            held.resize(held.len() + block, value);
        }
    }
    held
}

impl Worker<'_> {
    /// Draws the leaves of `runs` (at most a block) and hands them to `body` with the registers.
    pub fn with_leaves<T>(&mut self, runs: Runs, body: impl FnOnce(&mut Frame, &[&[f64]]) -> T) -> T {
        let job = self.job;
        job.plan.draw(&self.sources, runs.first, runs.n, &mut self.drawn, self.block, &mut self.scratch);
        let mut held = self.held.chunks_exact(self.block);
        let leaves: Vec<&[f64]> = job
            .leaves
            .iter()
            .map(|leaf| match leaf {
                LeafSource::Drawn(column) => &self.drawn[column * self.block..(column + 1) * self.block],
                LeafSource::Held(_) => held.next().unwrap_or(&[]),
            })
            .collect();
        body(&mut self.frame, &leaves)
    }

    /// Evaluates every wanted value of `runs` block by block; `put` gets the index of the wanted value, the place of
    /// the block's first run within `runs`, and the block's values.
    pub fn evaluate(&mut self, runs: Runs, mut put: impl FnMut(usize, usize, Result<&[f64], f64>, usize)) {
        let program = self.job.program;
        let mut at = 0;
        while at < runs.n {
            let n = self.block.min(runs.n - at);
            let block = Runs { first: runs.first + at as u64, n };
            self.with_leaves(block, |frame, leaves| {
                for stage in 0..program.n_stages() {
                    program.execute(stage, frame, leaves, block);
                }
                for k in 0..program.wanted().len() {
                    put(k, at, program.wanted_column(k, frame, leaves, n), n);
                }
            });
            at += n;
        }
    }
}

/// All wanted values of all runs: one column for each.
///
/// # Errors
/// When stopped through `control`.
pub fn keep(job: Job<'_>, control: &Control) -> Result<Vec<Vec<f64>>, Stopped> {
    let all: Vec<usize> = (0..job.program.wanted().len()).collect();
    let mut columns = empty_columns(job, all.len());
    keep_some(job, control, 0..u64::MAX, &all, &mut columns, |_, _| ())?;
    control.check(job.epoch)?;
    Ok(columns)
}

/// `n` columns that hold a value for each run.
pub fn empty_columns(job: Job<'_>, n: usize) -> Vec<Vec<f64>> {
    (0..n).map(|_| vec![0.0; job.n_runs as usize]).collect()
}

/// Runs the chunks in `chunks`: wanted values `kept` go to `columns` (one for each, as long as the runs); the others of
/// each chunk go to `make`, in the order of the wanted values, and what it makes of them comes back in the order of
/// the chunks.
///
/// # Errors
/// When stopped through `control`.
pub fn keep_some<'c, T: Send>(
    job: Job<'_>,
    control: &Control,
    chunks: std::ops::Range<u64>,
    kept: &[usize],
    columns: &'c mut [Vec<f64>],
    make: impl Fn(Runs, &[Vec<f64>]) -> T + Sync,
) -> Result<Vec<T>, Stopped> {
    let places = places(job.program.wanted().len(), kept);
    let n_passed = places.iter().filter(|place| matches!(place, Place::Passed(_))).count();
    let chunks = chunks.start..chunks.end.min(job.n_runs.div_ceil(CHUNK as u64));
    let from_start = |column: &'c mut Vec<f64>| column.chunks_mut(CHUNK).skip(chunks.start as usize);
    let mut pieces: Vec<_> = columns.iter_mut().map(from_start).collect();
    let parts: Vec<(Runs, Vec<&mut [f64]>)> =
        chunks.map(|k| (job.chunk(k), pieces.iter_mut().filter_map(Iterator::next).collect())).collect();
    parts
        .into_par_iter()
        .map_init(
            || (job.worker(), vec![Vec::new(); n_passed]),
            |(worker, passed), (runs, mut part)| {
                control.check(job.epoch)?;
                passed.iter_mut().for_each(|column| column.resize(runs.n, 0.0));
                worker.evaluate(runs, |k, at, values, n| {
                    let target = match places[k] {
                        Place::Kept(c) => &mut part[c][at..at + n],
                        Place::Passed(c) => &mut passed[c][at..at + n],
                    };
                    match values {
                        Ok(values) => target.copy_from_slice(values),
                        Err(value) => target.fill(value),
                    }
                });
                control.done.fetch_add(runs.n as u64, Ordering::Relaxed);
                Ok(make(runs, passed))
            },
        )
        .collect()
}

/// Where a wanted value goes.
#[derive(Clone, Copy)]
enum Place {
    Kept(usize),
    Passed(usize),
}

fn places(n_wanted: usize, kept: &[usize]) -> Vec<Place> {
    let mut n_passed = 0;
    (0..n_wanted)
        .map(|k| match kept.iter().position(|&c| c == k) {
            Some(c) => Place::Kept(c),
            None => {
                n_passed += 1;
                Place::Passed(n_passed - 1)
            }
        })
        .collect()
}

/// One value for each chunk in `chunks`, in the order of the runs; `make` gets the chunk and its wanted columns.
///
/// # Errors
/// When stopped through `control`.
pub fn by_chunk<T: Send>(
    job: Job<'_>,
    control: &Control,
    chunks: std::ops::Range<u64>,
    make: impl Fn(Runs, &[Vec<f64>]) -> T + Sync,
) -> Result<Vec<T>, Stopped> {
    keep_some(job, control, chunks, &[], &mut [], make)
}

/// What `make` makes of each block, in the order of the runs; for loops that run stages themselves (cones).
pub fn by_block<T: Send>(
    job: Job<'_>,
    control: &Control,
    make: impl Fn(&mut Frame, &[&[f64]], Runs) -> T + Sync,
) -> Result<Vec<T>, Stopped> {
    let block = job.block_size() as u64;
    let parts: Vec<Runs> = (0..job.n_runs.div_ceil(block))
        .map(|k| Runs { first: k * block, n: (job.n_runs - k * block).min(block) as usize })
        .collect();
    parts
        .into_par_iter()
        .map_init(
            || job.worker(),
            |worker, runs| {
                control.check(job.epoch)?;
                Ok(worker.with_leaves(runs, |frame, leaves| make(frame, leaves, runs)))
            },
        )
        .collect()
}
