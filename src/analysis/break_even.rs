//! Where the answer flips: the lever at which a result meets its threshold, in
//! each run on that run's own draws.
//!
//! Exact where the gap to the threshold is affine in the lever (read off the
//! graph): x* = x0 - f0 (x1 - x0) / (f1 - f0). Otherwise the range is scanned
//! in [`CELLS`] cells and each sign change refined by ITP (Oliveira and
//! Takahashi, 2020) to 1e-10 of the range.

use crate::analysis::Lever;
use crate::analysis::statistics::roots;
use crate::engine::affine::{Dependence, dependence};
use crate::engine::block::Runs;
use crate::engine::graph::{Graph, NodeId};
use crate::engine::program::{Frame, Program};
use crate::engine::run::{Control, Job, LeafSource, Stopped, by_block};
use crate::sampling::{Plan, Vectors};

/// Cells of the scan.
pub const CELLS: usize = 32;

/// Convergence, as a share of the range.
const PRECISION: f64 = 1e-10;

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
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// Where the gap changes sign; the lowest of several.
    pub lever: Lever,
    /// Sign changes found.
    pub crossings: u32,
    /// Good above the (lowest) crossing.
    pub good_above: bool,
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

/// For each point of `grid` (a leaf held at a value; none: all as drawn), each run's crossing.
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
    let affine = dependence(gap.graph, gap.node, gap.lever) <= Dependence::Affine;
    let Sample { plan, leaves, n_runs, epoch, vectors } = sample;
    let job = Job {
        program: &program,
        plan,
        leaves,
        n_runs,
        block: Some(solver_block(&program, plan)),
        epoch,
        vectors,
    };
    let blocks = by_block(job, control, |frame, leaves, runs| {
        let mut block = Block { program: &program, gap, frame, leaves, runs, trial: vec![0.0; runs.n] };
        block.program.execute(0, block.frame, leaves, runs);
        grid.iter().map(|point| block.solve(*point, affine)).collect::<Vec<_>>()
    })?;
    let mut out: Vec<Vec<Crossing>> = grid.iter().map(|_| Vec::with_capacity(n_runs as usize)).collect();
    for block in blocks {
        for (all, part) in out.iter_mut().zip(block) {
            all.extend(part);
        }
    }
    Ok(out)
}

/// Whether the gap is affine in its lever.
pub fn is_exact(gap: &Gap<'_>) -> bool {
    dependence(gap.graph, gap.node, gap.lever) <= Dependence::Affine
}

/// The crossing of the base case.
pub fn base_crossing(gap: &Gap<'_>, base_leaves: &[f64]) -> Crossing {
    let program =
        Program::compile(gap.graph, &[gap.node], 3, |leaf| if leaf == gap.lever { 2 } else { 0 }, 0);
    let columns: Vec<[f64; 1]> = base_leaves.iter().map(|&v| [v]).collect();
    let leaves: Vec<&[f64]> = columns.iter().map(<[f64; 1]>::as_slice).collect();
    let mut frame = program.frame(1);
    let runs = Runs::of_base_case(1);
    program.execute(0, &mut frame, &leaves, runs);
    let mut block =
        Block { program: &program, gap, frame: &mut frame, leaves: &leaves, runs, trial: vec![0.0] };
    let found = block.solve(None, is_exact(gap));
    found.first().copied().unwrap_or(Crossing { lever: Lever::Never, crossings: 0, good_above: true })
}

fn solver_block(program: &Program, plan: &Plan) -> usize {
    program.block_size(plan.columns().len()).min(256)
}

/// One block of runs with what does not hang on the lever already computed.
struct Block<'a, 'f> {
    program: &'a Program,
    gap: &'a Gap<'a>,
    frame: &'f mut Frame,
    leaves: &'a [&'a [f64]],
    runs: Runs,
    trial: Vec<f64>,
}

impl Block<'_, '_> {
    fn solve(&mut self, point: Option<(u32, f64)>, affine: bool) -> Vec<Crossing> {
        let held = point.map(|(leaf, value)| (leaf, vec![value; self.runs.n]));
        let at_point = held.as_ref().map(|(leaf, column)| (*leaf, column.as_slice()));
        self.run_stage(1, at_point, 0.0);
        if affine { self.on_a_line(at_point) } else { self.by_scan(at_point) }
    }

    fn run_stage(&mut self, stage: usize, held: Option<(u32, &[f64])>, fill: f64) {
        if stage == 2 && fill.is_finite() {
            self.trial.fill(fill);
        }
        let mut leaves: Vec<&[f64]> = self.leaves.to_vec();
        if let Some((leaf, column)) = held {
            leaves[leaf as usize] = column;
        }
        leaves[self.gap.lever as usize] = &self.trial;
        self.program.execute(stage, self.frame, &leaves, self.runs);
    }

    /// The gap with the lever at `x` in every run.
    fn gap_at(&mut self, held: Option<(u32, &[f64])>, x: f64) -> Vec<f64> {
        self.run_stage(2, held, x);
        self.read_gap(held)
    }

    /// The gap with the lever as `self.trial` holds it.
    fn gap_at_trial(&mut self, held: Option<(u32, &[f64])>) -> Vec<f64> {
        self.run_stage(2, held, f64::NAN);
        self.read_gap(held)
    }

    fn read_gap(&self, held: Option<(u32, &[f64])>) -> Vec<f64> {
        let mut leaves: Vec<&[f64]> = self.leaves.to_vec();
        if let Some((leaf, column)) = held {
            leaves[leaf as usize] = column;
        }
        leaves[self.gap.lever as usize] = &self.trial;
        let mut out = vec![0.0; self.runs.n];
        self.program.copy_wanted(0, self.frame, &leaves, &mut out);
        out
    }

    fn on_a_line(&mut self, held: Option<(u32, &[f64])>) -> Vec<Crossing> {
        let (x0, x1) = self.gap.range;
        let f0 = self.gap_at(held, x0);
        let f1 = self.gap_at(held, x1);
        f0.iter().zip(&f1).map(|(&f0, &f1)| on_line(x0, f0, x1, f1)).collect()
    }

    fn by_scan(&mut self, held: Option<(u32, &[f64])>) -> Vec<Crossing> {
        let (low, high) = self.gap.range;
        let mut before = self.gap_at(held, low);
        let first = before.clone();
        let mut brackets: Vec<Option<Itp>> = vec![None; self.runs.n];
        let mut counts = vec![0_u32; self.runs.n];
        let mut x_before = low;
        for cell in 1..=CELLS {
            let x = low + (high - low) * (cell as f64 / CELLS as f64);
            let now = self.gap_at(held, x);
            for i in 0..self.runs.n {
                if is_good(before[i]) != is_good(now[i]) {
                    counts[i] += 1;
                    brackets[i]
                        .get_or_insert_with(|| Itp::new((x_before, before[i]), (x, now[i]), high - low));
                }
            }
            (before, x_before) = (now, x);
        }
        self.refine(held, &mut brackets);
        (0..self.runs.n)
            .map(|i| match &brackets[i] {
                Some(itp) => Crossing {
                    lever: Lever::At(itp.middle()),
                    crossings: counts[i],
                    good_above: !is_good(itp.low.1),
                },
                None => without_crossing(is_good(first[i])),
            })
            .collect()
    }

    fn refine(&mut self, held: Option<(u32, &[f64])>, brackets: &mut [Option<Itp>]) {
        while brackets.iter().flatten().any(Itp::is_open) {
            for (trial, bracket) in self.trial.iter_mut().zip(brackets.iter()) {
                *trial = bracket.as_ref().map_or(self.gap.range.0, Itp::next);
            }
            let values = self.gap_at_trial(held);
            for ((bracket, &x), &f) in brackets.iter_mut().zip(&self.trial).zip(&values) {
                if let Some(bracket) = bracket.as_mut().filter(|b| b.is_open()) {
                    bracket.take(x, f);
                }
            }
        }
    }
}

fn is_good(gap: f64) -> bool {
    gap >= 0.0
}

fn without_crossing(good: bool) -> Crossing {
    Crossing { lever: if good { Lever::Always } else { Lever::Never }, crossings: 0, good_above: true }
}

/// Crossing of the line through two points.
fn on_line(x0: f64, f0: f64, x1: f64, f1: f64) -> Crossing {
    let line = roots::affine((x0, f0), (x1, f1));
    match (line.lever, line.good_above) {
        (Some(Lever::At(x)), Some(good_above)) => Crossing { lever: Lever::At(x), crossings: 1, good_above },
        _ => without_crossing(is_good(f0)),
    }
}

/// A bracketed root: interpolate, truncate, project (Oliveira and Takahashi 2020: k1 = 0.2 / (b - a), k2 = 2, n0 = 1).
#[derive(Debug, Clone)]
struct Itp {
    low: (f64, f64),
    high: (f64, f64),
    precision: f64,
    k1: f64,
    steps_left: i32,
}

impl Itp {
    fn new(low: (f64, f64), high: (f64, f64), range: f64) -> Itp {
        let precision = PRECISION * range.abs();
        let halvings = libm::ceil(libm::log2((high.0 - low.0).abs() / (2.0 * precision))).max(0.0);
        Itp { low, high, precision, k1: 0.2 / (high.0 - low.0), steps_left: halvings as i32 + 1 }
    }

    fn is_open(&self) -> bool {
        self.high.0 - self.low.0 > 2.0 * self.precision && self.steps_left > 0
    }

    fn middle(&self) -> f64 {
        if self.low.1 == 0.0 { self.low.0 } else { 0.5 * (self.low.0 + self.high.0) }
    }

    fn next(&self) -> f64 {
        let ((a, fa), (b, fb)) = (self.low, self.high);
        let half = 0.5 * (a + b);
        let secant = (b * fa - a * fb) / (fa - fb);
        if !(a < secant && secant < b) {
            return half;
        }
        let toward = if half >= secant { 1.0 } else { -1.0 };
        let step = (self.k1 * (b - a) * (b - a)).min((half - secant).abs());
        let truncated = secant + toward * step;
        let slack = self.precision * libm::exp2(f64::from(self.steps_left)) - 0.5 * (b - a);
        if (truncated - half).abs() <= slack { truncated } else { half - toward * slack.max(0.0) }
    }

    fn take(&mut self, x: f64, f: f64) {
        self.steps_left -= 1;
        if is_good(f) == is_good(self.low.1) {
            self.low = (x, f);
        } else {
            self.high = (x, f);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn itp_meets_known_roots() {
        type Case<'a> = (&'a dyn Fn(f64) -> f64, f64, f64, f64);
        let cases: [Case<'_>; 4] = [
            (&|x| x * x - 2.0, 0.0, 2.0, std::f64::consts::SQRT_2),
            (&|x| x * x * x, -1.0, 1.5, 0.0),
            (&|x| if x < 0.3 { -1.0 } else { 5.0 }, 0.0, 1.0, 0.3),
            (&|x| 1.0 - libm::exp(x), -3.0, 7.0, 0.0),
        ];
        for (f, a, b, root) in cases {
            let mut itp = Itp::new((a, f(a)), (b, f(b)), b - a);
            let mut steps = 0;
            while itp.is_open() {
                let x = itp.next();
                itp.take(x, f(x));
                steps += 1;
            }
            assert!((itp.middle() - root).abs() <= 2.0 * PRECISION * (b - a), "{} for {root}", itp.middle());
            assert!(steps <= 37, "{steps}");
        }
    }

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
