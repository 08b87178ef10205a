//! A result at the rows of two matrices of draws, and at rows of the first in
//! which some sources come from elsewhere.

use std::ops::Range;

use rayon::prelude::*;

use crate::analysis::indices::estimators::Columns;
use crate::analysis::indices::units::{Group, Unit, sources_read};
use crate::engine::block::Runs;
use crate::engine::program::{Frame, Program};
use crate::engine::run::{Control, LeafSource, Stopped};
use crate::sampling::{Plan, Scratch, Vectors};

/// Where the draws of a source are taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum From {
    /// The first matrix.
    First,
    /// The second.
    Second,
    /// Drawn anew given the others.
    Given,
}

/// Blocks hold whole lots of this many rows, which may share something.
pub(super) const ALIGNED: usize = 16;

/// A compiled result with both matrices.
pub(super) struct Matrices<'a> {
    pub(super) program: &'a Program,
    pub(super) leaves: &'a [LeafSource],
    pub(super) first: &'a Plan,
    pub(super) second: &'a Plan,
    /// Rows of each matrix.
    pub(super) rows: u64,
    pub(super) block: Option<usize>,
    pub(super) vectors: Vectors,
    pub(super) epoch: u64,
}

impl Matrices<'_> {
    /// Rows in a block, so that the registers and both matrices' columns stay in the inner caches.
    fn block_size(&self) -> usize {
        let size = self.block.unwrap_or_else(|| self.program.block_size(2 * self.first.columns().len()));
        size.clamp(1, 4096).next_multiple_of(ALIGNED)
    }

    /// What `make` makes of each block of the first `rows` rows, in their order.
    pub(super) fn by_block<T: Send, E: Send + std::convert::From<Stopped>>(
        &self,
        rows: u64,
        control: &Control,
        make: impl Fn(&mut Worker<'_>, Runs) -> Result<T, E> + Sync,
    ) -> Result<Vec<T>, E> {
        let block = self.block_size();
        let step = block as u64;
        let parts: Vec<Runs> = (0..rows.div_ceil(step))
            .map(|k| Runs { first: k * step, n: (rows - k * step).min(step) as usize })
            .collect();
        parts
            .into_par_iter()
            .map_init(
                || self.worker(block),
                |worker, runs| {
                    control.check(self.epoch).map_err(E::from)?;
                    worker.draw(runs);
                    make(worker, runs)
                },
            )
            .collect()
    }

    fn worker(&self, block: usize) -> Worker<'_> {
        let columns = self.first.columns().len();
        let mut held = Vec::new();
        for leaf in self.leaves {
            if let LeafSource::Held(value) = *leaf {
                held.resize(held.len() + block, value);
            }
        }
        Worker {
            matrices: self,
            frame: self.program.frame(block).with_vectors(self.vectors),
            read: sources_read(self.first, self.program, self.leaves),
            drawn: std::array::from_fn(|_| vec![0.0; columns * block]),
            held,
            scratch: Scratch::new(),
            runs: Runs { first: 0, n: 0 },
            block,
        }
    }

    /// The result at both matrices and, for each group, at the first with that group from the second.
    pub(super) fn columns(
        &self,
        units: &[Unit],
        groups: &[Group],
        value: impl Fn(f64) -> f64 + Sync,
        control: &Control,
    ) -> Result<Columns, Stopped> {
        let swaps: Vec<Option<(Vec<From>, bool)>> =
            groups.iter().map(|group| swap(self.first, units, group)).collect();
        let d = groups.len();
        let n_sources = self.first.sources();
        let blocks = self.by_block(self.rows, control, |worker, runs| {
            let n = runs.n;
            let mut out = vec![0.0; (d + 2) * n];
            worker.evaluate(&vec![From::First; n_sources], false, 0..n, &mut out[..n]);
            worker.evaluate(&vec![From::Second; n_sources], true, 0..n, &mut out[n..2 * n]);
            let (both, swapped) = out.split_at_mut(2 * n);
            for (swap, column) in swaps.iter().zip(swapped.chunks_exact_mut(n)) {
                match swap {
                    Some((from, lives)) => worker.evaluate(from, *lives, 0..n, column),
                    // Nothing reads it: the same as the first matrix.
                    None => column.copy_from_slice(&both[..n]),
                }
            }
            out.iter_mut().for_each(|x| *x = value(*x));
            control.done.fetch_add(out.len() as u64, std::sync::atomic::Ordering::Relaxed);
            Ok::<_, Stopped>(out)
        })?;
        control.check(self.epoch)?;
        let column = |k: usize| {
            let mut all = Vec::with_capacity(self.rows as usize);
            blocks.iter().for_each(|b| {
                let n = b.len() / (d + 2);
                all.extend_from_slice(&b[k * n..(k + 1) * n]);
            });
            all
        };
        Ok(Columns { a: column(0), b: column(1), swapped: (2..d + 2).map(column).collect() })
    }
}

/// Where each source comes from when a group is swapped, and whether lives are fresh; none if nothing reads the group.
fn swap(plan: &Plan, units: &[Unit], group: &Group) -> Option<(Vec<From>, bool)> {
    let members = || group.units.iter().map(|&u| &units[u]);
    let mut from = vec![From::First; plan.sources()];
    members().flat_map(|unit| &unit.sources).for_each(|&source| from[source] = From::Second);
    members().any(|unit| unit.read).then(|| (from, members().any(|unit| unit.lives)))
}

/// One thread's registers and the draws of a block.
pub(super) struct Worker<'a> {
    matrices: &'a Matrices<'a>,
    frame: Frame,
    read: Vec<bool>,
    /// Columns of the first matrix, the second, and of what is drawn given others.
    drawn: [Vec<f64>; 3],
    held: Vec<f64>,
    scratch: Scratch,
    runs: Runs,
    block: usize,
}

impl Worker<'_> {
    /// Both matrices at `runs`, at most a block.
    fn draw(&mut self, runs: Runs) {
        self.runs = runs;
        let [first, second, _] = &mut self.drawn;
        for (plan, out) in [(self.matrices.first, first), (self.matrices.second, second)] {
            plan.draw(&self.read, runs.first, runs.n, out, self.block, &mut self.scratch);
        }
    }

    /// Draws the sources that are to come from `plan` at a part of the block.
    pub(super) fn draw_given(&mut self, plan: &Plan, from: &[From], part: Range<usize>) {
        let wanted: Vec<bool> =
            from.iter().zip(&self.read).map(|(from, read)| *from == From::Given && *read).collect();
        let first = self.runs.first + part.start as u64;
        let out = &mut self.drawn[2][part.start..];
        plan.draw(&wanted, first, part.len(), out, self.block, &mut self.scratch);
    }

    /// The result, in base units, at a part of the block. `fresh_lives`: operations that draw by the number of the run see
    /// the numbers after the last row, and so draw anew.
    pub(super) fn evaluate(&mut self, from: &[From], fresh_lives: bool, part: Range<usize>, out: &mut [f64]) {
        let Matrices { program, leaves, first, rows, .. } = *self.matrices;
        let columns = first.columns();
        let mut held = self.held.chunks_exact(self.block);
        let leaves: Vec<&[f64]> = leaves
            .iter()
            .map(|leaf| match *leaf {
                LeafSource::Drawn(column) => {
                    let from = from.get(columns[column].source).copied().unwrap_or(From::First);
                    let at = column * self.block;
                    &self.drawn[from as usize][at + part.start..at + part.end]
                }
                LeafSource::Held(_) => held.next().map_or(&[][..], |column| &column[..part.len()]),
            })
            .collect();
        let shift = if fresh_lives { rows } else { 0 };
        let runs = Runs { first: self.runs.first + part.start as u64 + shift, n: part.len() };
        for stage in 0..program.n_stages() {
            program.execute(stage, &mut self.frame, &leaves, runs);
        }
        program.copy_wanted(0, &self.frame, &leaves, out);
    }
}
