//! A result at the rows of two matrices of draws, and at rows of the first in
//! which some sources come from elsewhere.

use std::ops::Range;

use rayon::prelude::*;

use crate::analysis::indices::estimators::Columns;
use crate::analysis::indices::units::{Group, Unit, needed_by, sources_read};
use crate::engine::block::Runs;
use crate::engine::graph::{Graph, Node, NodeId};
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
    pub(super) graph: &'a Graph,
    pub(super) node: NodeId,
    /// The node, in one stage.
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
    fn block_size(&self, program: &Program) -> usize {
        let size = self.block.unwrap_or_else(|| program.block_size(2 * self.first.columns().len()));
        size.clamp(1, 4096).next_multiple_of(ALIGNED)
    }

    /// What `make` makes of each block of the first `rows` rows, in their order.
    pub(super) fn by_block<T: Send, E: Send + std::convert::From<Stopped>>(
        &self,
        program: &Program,
        rows: u64,
        control: &Control,
        make: impl Fn(&mut Worker<'_>, Runs) -> Result<T, E> + Sync,
    ) -> Result<Vec<T>, E> {
        let block = self.block_size(program);
        let step = block as u64;
        let parts: Vec<Runs> = (0..rows.div_ceil(step))
            .map(|k| Runs { first: k * step, n: (rows - k * step).min(step) as usize })
            .collect();
        parts
            .into_par_iter()
            .map_init(
                || self.worker(program, block),
                |worker, runs| {
                    control.check(self.epoch).map_err(E::from)?;
                    worker.draw(runs);
                    make(worker, runs)
                },
            )
            .collect()
    }

    fn worker<'w>(&'w self, program: &'w Program, block: usize) -> Worker<'w> {
        let columns = self.first.columns().len();
        let mut held = Vec::new();
        for leaf in self.leaves {
            if let LeafSource::Held(value) = *leaf {
                held.resize(held.len() + block, value);
            }
        }
        Worker {
            matrices: self,
            program,
            frame: program.frame(block).with_vectors(self.vectors),
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
        let staged = Staged::new(self, units, groups);
        let d = groups.len();
        let [first, second] = [From::First, From::Second].map(|from| vec![from; self.first.sources()]);
        let blocks = self.by_block(&staged.program, self.rows, control, |worker, runs| {
            let n = runs.n;
            let mut out = vec![0.0; (d + 2) * n];
            worker.evaluate(&first, false, 0, 0..n, &mut out[..n]);
            let (both, swapped) = out.split_at_mut(2 * n);
            // From the last stage back: whatever a swap has left behind is computed anew by the next.
            for &(group, stage) in &staged.order {
                if let Some((from, lives)) = &swaps[group] {
                    worker.evaluate(from, *lives, stage, 0..n, &mut swapped[group * n..(group + 1) * n]);
                }
            }
            for (swap, column) in swaps.iter().zip(swapped.chunks_exact_mut(n)) {
                // Nothing reads it: the same as the first matrix.
                if swap.is_none() {
                    column.copy_from_slice(&both[..n]);
                }
            }
            worker.evaluate(&second, true, 0, 0..n, &mut both[n..]);
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
        let mut columns: Vec<Vec<f64>> = (0..d + 2).into_par_iter().map(column).collect();
        let swapped = columns.split_off(2);
        let mut both = columns.into_iter();
        Ok(Columns { a: both.next().unwrap_or_default(), b: both.next().unwrap_or_default(), swapped })
    }
}

/// Where each source comes from when a group is swapped, and whether lives are fresh; none if nothing reads the group.
fn swap(plan: &Plan, units: &[Unit], group: &Group) -> Option<(Vec<From>, bool)> {
    let members = || group.units.iter().map(|&u| &units[u]);
    let mut from = vec![From::First; plan.sources()];
    members().flat_map(|unit| &unit.sources).for_each(|&source| from[source] = From::Second);
    members().any(|unit| unit.read).then(|| (from, members().any(|unit| unit.lives)))
}

/// The result in stages, one for each group that it reads: a group's stage holds what reads it and no later group. A swap
/// then takes the stages from its group's on, with the others' values in their registers.
struct Staged {
    program: Program,
    /// Groups with their stages, the last first.
    order: Vec<(usize, usize)>,
}

/// Least rows in a block for which it pays to keep so many registers.
const LEAST_BLOCK: usize = 64;

impl Staged {
    fn new(matrices: &Matrices<'_>, units: &[Unit], groups: &[Group]) -> Staged {
        let Matrices { graph, node, leaves, first, .. } = *matrices;
        let mut order = cheapest_last(matrices, units, groups);
        let stages = order.len() + 1;
        for (place, (_, stage)) in order.iter_mut().enumerate() {
            *stage = stages - 1 - place;
        }
        let of_group = |found: &dyn Fn(&Unit) -> bool| {
            let has = |group: usize| groups[group].units.iter().any(|&u| found(&units[u]));
            order.iter().find(|(group, _)| has(*group)).map_or(0, |(_, stage)| *stage)
        };
        let stage_of_source: Vec<usize> =
            (0..first.sources()).map(|source| of_group(&|unit| unit.sources.contains(&source))).collect();
        let stage_of_leaf = |leaf: u32| match leaves.get(leaf as usize) {
            Some(LeafSource::Drawn(column)) => stage_of_source[first.columns()[*column].source],
            _ => 0,
        };
        let program = Program::compile(graph, &[node], stages, stage_of_leaf, of_group(&|unit| unit.lives));
        if program.block_size(2 * first.columns().len()) >= LEAST_BLOCK {
            return Staged { program, order };
        }
        order.iter_mut().for_each(|(_, stage)| *stage = 0);
        Staged { program: matrices.program.clone(), order }
    }
}

/// Groups that the result reads, each with stage 0 for now, in such an order that what reads any of the first k is as little
/// as it can be by going on from the first k - 1.
fn cheapest_last(matrices: &Matrices<'_>, units: &[Unit], groups: &[Group]) -> Vec<(usize, usize)> {
    let Matrices { graph, node, leaves, first, .. } = *matrices;
    let needed = needed_by(graph, node);
    let readers = |group: &Group| -> Vec<bool> {
        let members = || group.units.iter().map(|&u| &units[u]);
        let in_group = |leaf: u32| match leaves.get(leaf as usize) {
            Some(LeafSource::Drawn(column)) => {
                let source = first.columns()[*column].source;
                members().any(|unit| unit.sources.contains(&source))
            }
            _ => false,
        };
        let lives = members().any(|unit| unit.lives);
        let mut reads = vec![false; graph.len()];
        for k in 0..graph.len() {
            let id = NodeId(k as u32);
            let own = match graph.node(id) {
                Node::Leaf(leaf) => in_group(leaf),
                Node::Output(call, _) => lives && graph.call(call).op.draws(),
                _ => false,
            };
            reads[k] = needed[k] && (own || graph.operands(id).as_slice().iter().any(|o| reads[o.index()]));
        }
        reads
    };
    let read = (0..groups.len()).filter(|&g| groups[g].units.iter().any(|&u| units[u].read));
    let mut left: Vec<(usize, Vec<bool>)> = read.map(|g| (g, readers(&groups[g]))).collect();
    let mut union = vec![false; graph.len()];
    let mut order = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let more = |reads: &[bool]| reads.iter().zip(&union).filter(|(r, u)| **r && !**u).count();
        let best = (0..left.len()).min_by_key(|&k| more(&left[k].1)).unwrap_or(0);
        let (group, reads) = left.remove(best);
        union.iter_mut().zip(reads).for_each(|(u, r)| *u |= r);
        order.push((group, 0));
    }
    order
}

/// One thread's registers and the draws of a block.
pub(super) struct Worker<'a> {
    matrices: &'a Matrices<'a>,
    program: &'a Program,
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
    /// the numbers after the last row, and so draw anew. `stage`: from which on the registers are not yet right.
    pub(super) fn evaluate(
        &mut self,
        from: &[From],
        fresh_lives: bool,
        stage: usize,
        part: Range<usize>,
        out: &mut [f64],
    ) {
        let Matrices { leaves, first, rows, .. } = *self.matrices;
        let program = self.program;
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
        for stage in stage..program.n_stages() {
            program.execute(stage, &mut self.frame, &leaves, runs);
        }
        program.copy_wanted(0, &self.frame, &leaves, out);
    }
}
