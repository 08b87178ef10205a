//! Where the answer flips: the levers at which a result crosses its threshold,
//! in each run on that run's own draws.
//!
//! Exact where the gap to the threshold is affine in the lever (read off the
//! graph): x* = x0 - f0 (x1 - x0) / (f1 - f0). Otherwise the range is scanned
//! in [`CELLS`] cells and every sign change refined by ITP (Oliveira and
//! Takahashi, 2020) to 1e-10 of the range; at a jump that is its place. Two
//! crossings within one cell are not seen.

use crate::analysis::itp::Itp;
use crate::analysis::statistics::roots;
use crate::analysis::{Lever, LeverWindow};
use crate::engine::affine::{Dependence, dependence};
use crate::engine::block::Runs;
use crate::engine::graph::{Graph, NodeId};
use crate::engine::program::{Frame, Program};
use crate::engine::run::{Control, Job, LeafSource, Stopped, by_block};
use crate::sampling::{Plan, Vectors};

/// Cells of the scan.
pub const CELLS: usize = 32;

/// What is solved.
pub struct Gap<'a> {
    /// The workings.
    pub graph: &'a Graph,
    /// Not negative exactly where the result meets its threshold.
    pub node: NodeId,
    /// The lever.
    pub lever: u32,
    /// Range that is scanned, or two points of the line.
    pub range: (f64, f64),
}

/// One run's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// Where the gap changes sign; the lowest of several.
    pub lever: Lever,
    /// Sign changes found.
    pub crossings: u32,
    /// Good above the (lowest) crossing.
    pub good_above: bool,
    /// The sign changes above the lowest, rising.
    pub more: Vec<f64>,
}

impl Crossing {
    /// Good everywhere, or nowhere.
    fn without(good: bool) -> Self {
        let lever = if good { Lever::Always } else { Lever::Never };
        Crossing { lever, crossings: 0, good_above: true, more: Vec::new() }
    }

    /// All sign changes, rising.
    pub fn roots(&self) -> impl Iterator<Item = f64> + '_ {
        let lowest = if let Lever::At(x) = self.lever { Some(x) } else { None };
        lowest.into_iter().chain(self.more.iter().copied())
    }

    /// Good below every crossing.
    pub fn starts_good(&self) -> bool {
        match self.lever {
            Lever::At(_) => !self.good_above,
            Lever::Always => true,
            Lever::Never => false,
        }
    }

    /// Where it is good, from low to high.
    pub fn windows(&self) -> Vec<LeverWindow> {
        let mut windows = Vec::new();
        let (mut good, mut from) = (self.starts_good(), None);
        for root in self.roots() {
            if good {
                windows.push(LeverWindow { from, to: Some(root) });
            }
            (good, from) = (!good, Some(root));
        }
        if good {
            windows.push(LeverWindow { from, to: None });
        }
        windows
    }
}

/// The runs in which gaps are solved.
#[derive(Clone, Copy)]
pub struct Sample<'a> {
    /// Draws.
    pub plan: &'a Plan,
    /// Source of each leaf.
    pub leaves: &'a [LeafSource],
    /// Number of runs.
    pub n_runs: u64,
    /// Question this answers.
    pub epoch: u64,
    /// Which compiled form of the kernels is used.
    pub vectors: Vectors,
}

/// For each point of `grid` (a leaf held at a value; none: all as drawn), each run's crossings.
///
/// # Errors
/// When the loop is stopped.
pub fn crossings(
    gap: &Gap<'_>,
    sample: Sample<'_>,
    grid: &[Option<(u32, f64)>],
    control: &Control,
) -> Result<Vec<Vec<Crossing>>, Stopped> {
    let held = |leaf: u32| grid.iter().flatten().any(|&(l, _)| l == leaf);
    let stage_of_leaf = |leaf: u32| if leaf == gap.lever { 2 } else { usize::from(held(leaf)) };
    let program = Program::compile(gap.graph, &[gap.node], 3, stage_of_leaf, 0);
    let blocks = by_blocks(gap, sample, (&program, 256), control, |block| {
        grid.iter()
            .map(|point| {
                block.held.clear();
                block.held.extend(point.map(|(leaf, value)| (leaf, vec![value; block.runs.n])));
                block.run_stage(1);
                block.solve()
            })
            .collect()
    })?;
    Ok(joined(blocks, grid.len(), sample.n_runs))
}

/// A leaf and the values at which it is held.
pub type HeldAt<'a> = (u32, &'a [f64]);

/// The crossings with two leaves held at each pair of values, the second's first value with all of the first's, and so
/// on. What hangs on neither is computed once, what hangs on the leaf of the outer loop alone once a value.
///
/// # Errors
/// When the loop is stopped.
pub fn crossings_on_map(
    gap: &Gap<'_>,
    sample: Sample<'_>,
    (first, second): (HeldAt<'_>, HeldAt<'_>),
    control: &Control,
) -> Result<Vec<Vec<Crossing>>, Stopped> {
    let compiled = |outer: u32, inner: u32| {
        let stage = |leaf: u32| match leaf {
            leaf if leaf == gap.lever => 3,
            leaf if leaf == inner => 2,
            leaf => usize::from(leaf == outer),
        };
        Program::compile(gap.graph, &[gap.node], 4, stage, 0)
    };
    let inside_second = compiled(second.0, first.0);
    let inside_first = compiled(first.0, second.0);
    // Instructions of the outer loop for all cells; those of the inner one and of the lever hardly depend on the order.
    let work = |program: &Program, outer: usize, inner: usize| {
        outer * (program.stage(1).len() + inner * program.stage(2).len())
    };
    let (n, m) = (first.1.len(), second.1.len());
    let second_outside = work(&inside_second, m, n) <= work(&inside_first, n, m);
    let (program, outer, inner) =
        if second_outside { (&inside_second, second, first) } else { (&inside_first, first, second) };
    let blocks = by_blocks(gap, sample, (program, 128), control, |block| {
        let mut found = vec![Vec::new(); n * m];
        let n_runs = block.runs.n;
        let column = |leaf: u32, value: f64| (leaf, vec![value; n_runs]);
        for (o, &at) in outer.1.iter().enumerate() {
            block.held = vec![column(outer.0, at), column(inner.0, at)];
            block.run_stage(1);
            for (i, &at) in inner.1.iter().enumerate() {
                block.held[1].1.fill(at);
                block.run_stage(2);
                let cell = if second_outside { o * n + i } else { i * n + o };
                found[cell] = block.solve();
            }
        }
        found
    })?;
    Ok(joined(blocks, n * m, sample.n_runs))
}

/// What `make` makes of each block of runs once all that hangs on neither the lever nor a held leaf is computed.
fn by_blocks<T: Send>(
    gap: &Gap<'_>,
    sample: Sample<'_>,
    (program, most): (&Program, usize),
    control: &Control,
    make: impl Fn(&mut Block<'_, '_>) -> T + Sync,
) -> Result<Vec<T>, Stopped> {
    let Sample { plan, leaves, n_runs, epoch, vectors } = sample;
    let block = Some(program.block_size(plan.columns().len()).min(most));
    let job = Job { program, plan, leaves, n_runs, block, epoch, vectors };
    let affine = is_exact(gap);
    by_block(job, control, |frame, leaves, runs| {
        program.execute(0, frame, leaves, runs);
        make(&mut Block::new(program, gap, affine, (frame, leaves, runs)))
    })
}

/// The crossings of all blocks, for each point in the order of the runs.
fn joined(blocks: Vec<Vec<Vec<Crossing>>>, n_points: usize, n_runs: u64) -> Vec<Vec<Crossing>> {
    let mut out: Vec<Vec<Crossing>> = (0..n_points).map(|_| Vec::with_capacity(n_runs as usize)).collect();
    for block in blocks {
        for (all, part) in out.iter_mut().zip(block) {
            all.extend(part);
        }
    }
    out
}

/// Whether the gap is affine in its lever.
pub fn is_exact(gap: &Gap<'_>) -> bool {
    dependence(gap.graph, gap.node, gap.lever) <= Dependence::Affine
}

/// The crossings of the base case.
pub fn base_crossing(gap: &Gap<'_>, base_leaves: &[f64]) -> Crossing {
    let program = Program::compile(gap.graph, &[gap.node], 2, |leaf| usize::from(leaf == gap.lever), 0);
    let columns: Vec<[f64; 1]> = base_leaves.iter().map(|&v| [v]).collect();
    let leaves: Vec<&[f64]> = columns.iter().map(<[f64; 1]>::as_slice).collect();
    let mut frame = program.frame(1);
    let runs = Runs::of_base_case(1);
    program.execute(0, &mut frame, &leaves, runs);
    let mut block = Block::new(&program, gap, is_exact(gap), (&mut frame, &leaves, runs));
    block.solve().pop().unwrap_or(Crossing::without(false))
}

/// One block of runs with what does not hang on the lever already computed.
struct Block<'a, 'f> {
    program: &'a Program,
    gap: &'a Gap<'a>,
    affine: bool,
    frame: &'f mut Frame,
    leaves: &'a [&'a [f64]],
    runs: Runs,
    /// Leaves held in place of what is drawn.
    held: Vec<(u32, Vec<f64>)>,
    /// The lever in each run.
    trial: Vec<f64>,
}

impl<'a, 'f> Block<'a, 'f> {
    fn new(
        program: &'a Program,
        gap: &'a Gap<'a>,
        affine: bool,
        (frame, leaves, runs): (&'f mut Frame, &'a [&'a [f64]], Runs),
    ) -> Self {
        Block { program, gap, affine, frame, leaves, runs, held: Vec::new(), trial: vec![0.0; runs.n] }
    }

    fn solve(&mut self) -> Vec<Crossing> {
        if self.affine { self.on_a_line() } else { self.by_scan() }
    }

    fn run_stage(&mut self, stage: usize) {
        let leaves = with_held(self.leaves, &self.held, (self.gap.lever, &self.trial));
        self.program.execute(stage, self.frame, &leaves, self.runs);
    }

    /// The gap with the lever at `x` in every run.
    fn gap_at(&mut self, x: f64) -> Vec<f64> {
        self.trial.fill(x);
        self.gap_at_trial()
    }

    /// The gap with the lever as `self.trial` holds it: the last stage.
    fn gap_at_trial(&mut self) -> Vec<f64> {
        self.run_stage(self.program.n_stages() - 1);
        let leaves = with_held(self.leaves, &self.held, (self.gap.lever, &self.trial));
        let mut out = vec![0.0; self.runs.n];
        self.program.copy_wanted(0, self.frame, &leaves, &mut out);
        out
    }

    fn on_a_line(&mut self) -> Vec<Crossing> {
        let (x0, x1) = self.gap.range;
        let f0 = self.gap_at(x0);
        let f1 = self.gap_at(x1);
        f0.iter().zip(&f1).map(|(&f0, &f1)| on_line(x0, f0, x1, f1)).collect()
    }

    fn by_scan(&mut self) -> Vec<Crossing> {
        let (low, high) = self.gap.range;
        let mut before = self.gap_at(low);
        let starts_good: Vec<bool> = before.iter().map(|&f| is_good(f)).collect();
        let mut brackets: Vec<Vec<Itp>> = vec![Vec::new(); self.runs.n];
        let mut x_before = low;
        for cell in 1..=CELLS {
            let x = if cell == CELLS { high } else { low + (high - low) * (cell as f64 / CELLS as f64) };
            let now = self.gap_at(x);
            for (i, brackets) in brackets.iter_mut().enumerate() {
                if is_good(before[i]) != is_good(now[i]) {
                    brackets.push(Itp::new((x_before, before[i]), (x, now[i]), high - low));
                }
            }
            (before, x_before) = (now, x);
        }
        self.refine(&mut brackets);
        let found = starts_good.into_iter().zip(brackets);
        found
            .map(|(starts_good, brackets)| {
                let mut roots = brackets.iter().map(Itp::middle);
                match roots.next() {
                    None => Crossing::without(starts_good),
                    Some(lowest) => Crossing {
                        lever: Lever::At(lowest),
                        crossings: brackets.len() as u32,
                        good_above: !starts_good,
                        more: roots.collect(),
                    },
                }
            })
            .collect()
    }

    /// Narrows every bracket; each run goes on to its next one by itself.
    fn refine(&mut self, brackets: &mut [Vec<Itp>]) {
        let next_open = |brackets: &[Itp], from: usize| {
            (from..brackets.len()).find(|&k| brackets[k].is_open()).unwrap_or(brackets.len())
        };
        let mut at: Vec<usize> = brackets.iter().map(|b| next_open(b, 0)).collect();
        while at.iter().zip(&*brackets).any(|(&k, b)| k < b.len()) {
            for ((trial, brackets), &k) in self.trial.iter_mut().zip(&*brackets).zip(&at) {
                *trial = brackets.get(k).map_or(self.gap.range.0, Itp::next);
            }
            let values = self.gap_at_trial();
            let runs = brackets.iter_mut().zip(&mut at).zip(self.trial.iter().zip(&values));
            for ((brackets, k), (&x, &f)) in runs {
                if let Some(bracket) = brackets.get_mut(*k) {
                    bracket.take(x, f);
                    *k = next_open(brackets, *k);
                }
            }
        }
    }
}

/// The columns of all leaves, with those that are held and the lever in their places.
fn with_held<'c>(
    drawn: &[&'c [f64]],
    held: &'c [(u32, Vec<f64>)],
    (lever, trial): (u32, &'c [f64]),
) -> Vec<&'c [f64]> {
    let mut leaves = drawn.to_vec();
    for (leaf, column) in held {
        leaves[*leaf as usize] = column;
    }
    leaves[lever as usize] = trial;
    leaves
}

/// Whether a gap is on the good side; one without a value is not.
pub(super) fn is_good(gap: f64) -> bool {
    gap >= 0.0
}

/// Crossing of the line through two points; where a point has no value, none is good.
fn on_line(x0: f64, f0: f64, x1: f64, f1: f64) -> Crossing {
    let line = roots::affine((x0, f0), (x1, f1));
    match (line.lever, line.good_above) {
        (Some(lever @ Lever::At(_)), Some(good_above)) => {
            Crossing { lever, crossings: 1, good_above, more: Vec::new() }
        }
        _ => Crossing::without(is_good(f0) && is_good(f1)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines() {
        // f = -900 + 7500 x; falling line; flat lines.
        let rising = on_line(0.0, -900.0, 1.0, 6600.0);
        assert_eq!((rising.lever, rising.good_above), (Lever::At(0.12), true));
        let falling = on_line(0.0, 800.0, 100.0, 700.0);
        assert_eq!((falling.lever, falling.good_above), (Lever::At(800.0), false));
        assert_eq!(on_line(0.0, 100.0, 1.0, 100.0).lever, Lever::Always);
        assert_eq!(on_line(0.0, -1.0, 1.0, -1.0).lever, Lever::Never);
    }
}
