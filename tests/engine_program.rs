//! Compilation changes cost, never meaning: a compiled program agrees to the
//! last bit with the plain evaluation of its graph, in one stage, in several,
//! and after only a cone of it was run again.

use std::sync::Arc;

use payspread::engine::affine::{Dependence, dependence};
use payspread::engine::block::{BlockOp, Runs};
use payspread::engine::graph::{Graph, NodeId, evaluate_once};
use payspread::engine::ops::{Binary, Unary};
use payspread::engine::program::Program;
use proptest::prelude::*;

const LEAVES: usize = 5;

/// Adds its operands and, as a second output, the run's number: a stand-in for operations with streams of their own.
struct SumAndRun;

impl BlockOp for SumAndRun {
    fn key(&self) -> String {
        "sum and run".into()
    }
    fn outputs(&self) -> usize {
        2
    }
    fn draws(&self) -> bool {
        true
    }
    fn evaluate(&self, runs: Runs, args: &[&[f64]], out: &mut [Vec<f64>], _: &mut Vec<f64>) {
        for i in 0..runs.n {
            out[0][i] = args.iter().fold(0.0, |sum, a| sum + a[i]);
            out[1][i] = (runs.first + i as u64) as f64;
        }
    }
}

#[derive(Debug, Clone)]
enum Step {
    Constant(f64),
    Unary(Unary, usize),
    Binary(Binary, usize, usize),
    Select(usize, usize, usize),
    Call(usize, usize),
}

fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => -1e3..1e3_f64,
        2 => prop::sample::select(vec![0.0, -0.0, 1.0, -1.0, 0.5, 2.0]),
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e308, 5e-324]),
    ]
}

fn step() -> impl Strategy<Value = Step> {
    use Binary as B;
    use Unary as U;
    let unary = prop::sample::select(vec![
        U::Negate,
        U::Not,
        U::Abs,
        U::Sqrt,
        U::Exp,
        U::Ln,
        U::Floor,
        U::Round,
        U::IsNever,
    ]);
    let binary = prop::sample::select(vec![
        B::Add,
        B::Subtract,
        B::Multiply,
        B::Divide,
        B::Power,
        B::Min,
        B::Max,
        B::Equal,
        B::NotEqual,
        B::Less,
        B::LessEqual,
        B::And,
        B::Or,
    ]);
    let at = 0..1000_usize;
    prop_oneof![
        1 => value().prop_map(Step::Constant),
        2 => (unary, at.clone()).prop_map(|(op, a)| Step::Unary(op, a)),
        6 => (binary, at.clone(), at.clone()).prop_map(|(op, a, b)| Step::Binary(op, a, b)),
        1 => (at.clone(), at.clone(), at.clone()).prop_map(|(c, a, b)| Step::Select(c, a, b)),
        1 => (at.clone(), at).prop_map(|(a, b)| Step::Call(a, b)),
    ]
}

/// The graph that `steps` build, and all its nodes in the order they were made.
fn build(steps: &[Step]) -> (Graph, Vec<NodeId>) {
    let mut graph = Graph::new();
    let mut nodes: Vec<NodeId> = (0..LEAVES as u32).map(|k| graph.leaf(k)).collect();
    for step in steps {
        let pick = |k: usize| nodes[k % nodes.len()];
        let made = match *step {
            Step::Constant(x) => vec![graph.constant(x)],
            Step::Unary(op, a) => vec![graph.unary(op, pick(a))],
            Step::Binary(op, a, b) => vec![graph.binary(op, pick(a), pick(b))],
            Step::Select(c, a, b) => vec![graph.select(pick(c), pick(a), pick(b))],
            Step::Call(a, b) => graph.call_block(Arc::new(SumAndRun), vec![pick(a), pick(b)]),
        };
        nodes.extend(made);
    }
    (graph, nodes)
}

/// Equal to the last bit; any NaN equals any NaN.
fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan())
}

fn run_all(program: &Program, columns: &[Vec<f64>], first: u64, block: usize) -> Vec<Vec<f64>> {
    let n = columns[0].len();
    let mut frame = program.frame(block);
    let mut out = vec![vec![0.0; n]; program.wanted().len()];
    let mut at = 0;
    while at < n {
        let m = block.min(n - at);
        let leaves: Vec<&[f64]> = columns.iter().map(|c| &c[at..at + m]).collect();
        for stage in 0..program.n_stages() {
            program.execute(stage, &mut frame, &leaves, Runs { first: first + at as u64, n: m });
        }
        for (k, column) in out.iter_mut().enumerate() {
            program.copy_wanted(k, &frame, &leaves, &mut column[at..at + m]);
        }
        at += m;
    }
    out
}

fn columns(n: usize) -> impl Strategy<Value = Vec<Vec<f64>>> {
    prop::collection::vec(prop::collection::vec(value(), n..=n), LEAVES..=LEAVES)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn program_agrees_with_plain_evaluation(
        steps in prop::collection::vec(step(), 1..60),
        columns in columns(13),
        wanted in prop::collection::vec(0..1000_usize, 1..6),
        stages in prop::collection::vec(0..4_usize, LEAVES..=LEAVES),
        block in 1..16_usize,
    ) {
        let (graph, nodes) = build(&steps);
        let wanted: Vec<NodeId> = wanted.iter().map(|&k| nodes[k % nodes.len()]).collect();
        let one = Program::of_runs(&graph, &wanted);
        let staged = Program::compile(&graph, &wanted, 4, |leaf| stages[leaf as usize], 3);
        let (one, staged) = (run_all(&one, &columns, 7, block), run_all(&staged, &columns, 7, 13));
        for i in 0..13 {
            let leaves: Vec<f64> = columns.iter().map(|c| c[i]).collect();
            let plain = evaluate_once(&graph, &leaves, 7 + i as u64);
            for (k, id) in wanted.iter().enumerate() {
                prop_assert!(same(one[k][i], plain[id.index()]), "{} {}", one[k][i], plain[id.index()]);
                prop_assert!(same(staged[k][i], plain[id.index()]));
            }
        }
    }

    #[test]
    fn cone_gives_the_bits_of_a_full_evaluation(
        steps in prop::collection::vec(step(), 1..60),
        before in columns(9),
        after in prop::collection::vec(value(), 9),
        wanted in prop::collection::vec(0..1000_usize, 1..6),
        changed in 0..LEAVES,
    ) {
        let (graph, nodes) = build(&steps);
        let wanted: Vec<NodeId> = wanted.iter().map(|&k| nodes[k % nodes.len()]).collect();
        let cone = Program::cone(&graph, |leaf| leaf as usize == changed, &wanted);
        let mut frame = cone.frame(9);
        let runs = Runs { first: 100, n: 9 };
        let leaves: Vec<&[f64]> = before.iter().map(Vec::as_slice).collect();
        cone.execute(0, &mut frame, &leaves, runs);
        cone.execute(1, &mut frame, &leaves, runs);
        let mut later = before.clone();
        later[changed] = after;
        let leaves: Vec<&[f64]> = later.iter().map(Vec::as_slice).collect();
        cone.execute(1, &mut frame, &leaves, runs);
        let full = run_all(&Program::of_runs(&graph, &wanted), &later, 100, 9);
        for (k, full) in full.iter().enumerate() {
            let mut column = vec![0.0; 9];
            cone.copy_wanted(k, &frame, &leaves, &mut column);
            for (a, b) in column.iter().zip(full) {
                prop_assert!(same(*a, *b));
            }
        }
    }

    /// Where the graph says affine, three points lie on a line.
    #[test]
    fn affine_means_a_straight_line(
        steps in prop::collection::vec(step(), 1..40),
        base in prop::collection::vec(0.5..2.0_f64, LEAVES),
        of in 0..1000_usize,
    ) {
        let (graph, nodes) = build(&steps);
        let of = nodes[of % nodes.len()];
        let at = |x: f64| {
            let mut leaves = base.clone();
            leaves[0] = x;
            evaluate_once(&graph, &leaves, 0)[of.index()]
        };
        let (f0, f1, f2) = (at(0.5), at(1.0), at(1.5));
        match dependence(&graph, of, 0) {
            Dependence::Free => prop_assert!(same(f0, f1) && same(f1, f2)),
            Dependence::Affine if [f0, f1, f2].iter().all(|f| f.abs() < 1e6) => {
                // The terms of a sum may be far larger than the sum: only a coarse check is sound.
                prop_assert!((f0 - 2.0 * f1 + f2).abs() <= 1e-3);
            }
            _ => {}
        }
    }
}
