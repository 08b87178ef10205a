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

    fn chunks(&self) -> Vec<Runs> {
        let n = self.n_runs;
        (0..n.div_ceil(CHUNK as u64))
            .map(|k| {
                let first = k * CHUNK as u64;
                Runs { first, n: (n - first).min(CHUNK as u64) as usize }
            })
            .collect()
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
pub fn keep(job: Job<'_>, control: &Control) -> Result<Vec<Vec<f64>>, Stopped> {
    let n_runs = job.n_runs as usize;
    let mut columns: Vec<Vec<f64>> = job.program.wanted().iter().map(|_| vec![0.0; n_runs]).collect();
    let mut pieces: Vec<_> = columns.iter_mut().map(|column| column.chunks_mut(CHUNK)).collect();
    let parts: Vec<(Runs, Vec<&mut [f64]>)> = job
        .chunks()
        .into_iter()
        .map(|runs| (runs, pieces.iter_mut().filter_map(Iterator::next).collect()))
        .collect();
    parts.into_par_iter().try_for_each_init(
        || job.worker(),
        |worker, (runs, mut part)| {
            control.check(job.epoch)?;
            worker.evaluate(runs, |k, at, values, n| match values {
                Ok(values) => part[k][at..at + n].copy_from_slice(values),
                Err(value) => part[k][at..at + n].fill(value),
            });
            control.done.fetch_add(runs.n as u64, Ordering::Relaxed);
            Ok(())
        },
    )?;
    control.check(job.epoch)?;
    Ok(columns)
}

/// As [`keep`] for the first `kept` wanted values, and what `make` makes of each chunk's other ones, in the order of the
/// runs.
///
/// # Errors
/// When stopped through `control`.
pub fn keep_and<T: Send>(
    job: Job<'_>,
    control: &Control,
    kept: usize,
    make: impl Fn(Runs, &[Vec<f64>]) -> T + Sync,
) -> Result<(Vec<Vec<f64>>, Vec<T>), Stopped> {
    let kept = kept.min(job.program.wanted().len());
    let mut columns: Vec<Vec<f64>> = (0..kept).map(|_| vec![0.0; job.n_runs as usize]).collect();
    let mut pieces: Vec<_> = columns.iter_mut().map(|column| column.chunks_mut(CHUNK)).collect();
    let parts: Vec<(Runs, Vec<&mut [f64]>)> = job
        .chunks()
        .into_iter()
        .map(|runs| (runs, pieces.iter_mut().filter_map(Iterator::next).collect()))
        .collect();
    let made: Result<Vec<T>, Stopped> = parts
        .into_par_iter()
        .map_init(
            || (job.worker(), vec![vec![0.0; CHUNK]; job.program.wanted().len() - kept]),
            |(worker, others), (runs, mut part)| {
                control.check(job.epoch)?;
                others.iter_mut().for_each(|column| column.resize(runs.n, 0.0));
                worker.evaluate(runs, |k, at, values, n| {
                    let all = if k < kept { &mut *part[k] } else { &mut others[k - kept] };
                    match values {
                        Ok(values) => all[at..at + n].copy_from_slice(values),
                        Err(value) => all[at..at + n].fill(value),
                    }
                });
                control.done.fetch_add(runs.n as u64, Ordering::Relaxed);
                Ok(make(runs, others))
            },
        )
        .collect();
    let made = made?;
    control.check(job.epoch)?;
    Ok((columns, made))
}

/// One value for each chunk, in the order of the runs; `make` gets the chunk and its wanted columns.
pub fn by_chunk<T: Send>(
    job: Job<'_>,
    control: &Control,
    chunks: std::ops::Range<u64>,
    make: impl Fn(Runs, &[Vec<f64>]) -> T + Sync,
) -> Result<Vec<T>, Stopped> {
    let all = job.n_runs.div_ceil(CHUNK as u64);
    let parts: Vec<Runs> = (chunks.start..chunks.end.min(all))
        .map(|k| {
            let first = k * CHUNK as u64;
            Runs { first, n: (job.n_runs - first).min(CHUNK as u64) as usize }
        })
        .collect();
    parts
        .into_par_iter()
        .map_init(
            || (job.worker(), vec![vec![0.0; CHUNK]; job.program.wanted().len()]),
            |(worker, columns), runs| {
                control.check(job.epoch)?;
                for column in columns.iter_mut() {
                    column.resize(runs.n, 0.0);
                }
                worker.evaluate(runs, |k, at, values, n| match values {
                    Ok(values) => columns[k][at..at + n].copy_from_slice(values),
                    Err(value) => columns[k][at..at + n].fill(value),
                });
                control.done.fetch_add(runs.n as u64, Ordering::Relaxed);
                Ok(make(runs, columns))
            },
        )
        .collect()
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
