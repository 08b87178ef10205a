//! The graph put in order: instructions over registers, in stages.
//!
//! Every leaf has a stage; a node's stage is the latest of what it reads. A
//! stage is run once for each change of its leaves, and what later stages or
//! the reader need of it stays in its registers. This one mechanism serves
//! rates (constant, future, home, run) and cones (what lies between a changed
//! input and a wanted result is the last stage; all else an earlier one).

use std::sync::Arc;

use crate::engine::allocate::{Allocator, Uses};
use crate::engine::block::{BlockOp, Runs};
use crate::engine::graph::{Graph, Node, NodeId};
use crate::engine::ops::{Binary, Unary};
use crate::sampling::Vectors;

/// How often the values of a leaf or node change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rate {
    /// Once for all.
    Constant,
    /// With each future.
    Future,
    /// With each home.
    Home,
    /// With each run.
    Run,
}

impl Rate {
    /// Number of rates, and so of stages in a program by rate.
    pub const COUNT: usize = 4;

    /// Stage in a program by rate. A home and a future meet only in a run.
    pub fn stage(self) -> usize {
        self as usize
    }

    /// Rate of what reads values of both rates.
    #[must_use]
    pub fn meet(self, other: Rate) -> Rate {
        match (self, other) {
            (Rate::Future, Rate::Home) | (Rate::Home, Rate::Future) => Rate::Run,
            (a, b) => a.max(b),
        }
    }
}

/// Where a column is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Slot {
    /// In a register.
    Register(u32),
    /// In a leaf.
    Leaf(u32),
}

/// Where a wanted value is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wanted {
    /// In a column.
    Column(Slot),
    /// The same in all runs.
    Constant(f64),
}

/// One step over a block of runs.
#[derive(Debug, Clone, Copy)]
pub enum Instruction {
    /// Register `0` = op of a column.
    Unary(u32, Unary, Slot),
    /// Register `0` = op of two columns.
    Binary(u32, Binary, Slot, Slot),
    /// Register `0` = op of a column and a number.
    RightConstant(u32, Binary, Slot, f64),
    /// Register `0` = op of a number and a column.
    LeftConstant(u32, Binary, f64, Slot),
    /// Register `0` = choice between two columns by a third.
    Select(u32, Slot, Slot, Slot),
    /// Block call.
    Call(u32),
}

/// A block operation with the columns it reads and the registers it writes.
#[derive(Clone)]
pub(super) struct BlockCall {
    pub(super) op: Arc<dyn BlockOp>,
    pub(super) args: Vec<Slot>,
    pub(super) out: Vec<u32>,
}

/// A compiled graph.
#[derive(Clone)]
pub struct Program {
    pub(super) stages: Vec<Vec<Instruction>>,
    pub(super) calls: Vec<BlockCall>,
    pub(super) constants: Vec<(u32, f64)>,
    pub(super) n_registers: usize,
    pub(super) wanted: Vec<Wanted>,
    pub(super) leaves: Vec<u32>,
}

/// Registers and scratch for one thread.
pub struct Frame {
    registers: Vec<Vec<f64>>,
    outputs: Vec<Vec<f64>>,
    scratch: Vec<f64>,
    block: usize,
    vectors: Vectors,
}

impl Frame {
    /// Runs a block can hold.
    pub fn block(&self) -> usize {
        self.block
    }

    /// The same, by the code that `vectors` names. No bit differs.
    #[must_use]
    pub fn with_vectors(mut self, vectors: Vectors) -> Self {
        self.vectors = vectors;
        self
    }
}

/// Smallest and largest number of runs in a block.
pub const BLOCK_RANGE: (usize, usize) = (32, 1024);

/// Bytes that registers and leaves of a block shall fill: about a second-level cache of one core. Measured on the two
/// home studies: half of it costs up to a third more time, twice as much a few hundredths.
const CACHE_BYTES: usize = 1024 * 1024;

impl Program {
    /// Compiles what `wanted` needs, in `n_stages` stages. `stage_of_leaf` says
    /// after which stage's change a leaf changes; `stage_of_draws` the same
    /// for block operations that draw.
    pub fn compile(
        graph: &Graph,
        wanted: &[NodeId],
        n_stages: usize,
        stage_of_leaf: impl Fn(u32) -> usize,
        stage_of_draws: usize,
    ) -> Program {
        let last = n_stages.saturating_sub(1);
        let stage =
            stages_of(graph, 0, &|leaf| stage_of_leaf(leaf).min(last), stage_of_draws.min(last), Ord::max);
        Self::with_stages(graph, wanted, n_stages, &stage)
    }

    /// One stage for each [`Rate`]: what only futures change runs once a
    /// future, what only homes change once a home, and where the two meet once
    /// a run. Stages must run in their order once; after that, any that
    /// changed and then the last.
    pub fn by_rate(
        graph: &Graph,
        wanted: &[NodeId],
        rate_of_leaf: impl Fn(u32) -> Rate,
        rate_of_draws: Rate,
    ) -> Program {
        let rates = stages_of(graph, Rate::Constant, &rate_of_leaf, rate_of_draws, Rate::meet);
        let stage: Vec<usize> = rates.into_iter().map(Rate::stage).collect();
        Self::with_stages(graph, wanted, Rate::COUNT, &stage)
    }

    fn with_stages(graph: &Graph, wanted: &[NodeId], n_stages: usize, stage: &[usize]) -> Program {
        let order = in_order(graph, wanted);
        let uses = Uses::count(graph, &order, wanted, stage);
        Allocator::new(graph, uses, n_stages).emit(&order, wanted, stage)
    }

    /// One stage: everything changes with every run.
    pub fn of_runs(graph: &Graph, wanted: &[NodeId]) -> Program {
        Program::compile(graph, wanted, 1, |_| 0, 0)
    }

    /// Two stages: stage 1 holds what lies between the leaves in `changed` and
    /// `wanted`, stage 0 all else that `wanted` needs.
    pub fn cone(graph: &Graph, changed: impl Fn(u32) -> bool, wanted: &[NodeId]) -> Program {
        Program::compile(graph, wanted, 2, |leaf| usize::from(changed(leaf)), 0)
    }

    /// Leaves that are read, in rising order.
    pub fn leaves(&self) -> &[u32] {
        &self.leaves
    }

    /// Instructions of a stage.
    pub fn stage(&self, stage: usize) -> &[Instruction] {
        self.stages.get(stage).map_or(&[], Vec::as_slice)
    }

    /// Number of stages.
    pub fn n_stages(&self) -> usize {
        self.stages.len()
    }

    /// Number of registers.
    pub fn n_registers(&self) -> usize {
        self.n_registers
    }

    /// Where the wanted values are, in the order asked.
    pub fn wanted(&self) -> &[Wanted] {
        &self.wanted
    }

    /// Runs in a block so that it stays in the inner caches.
    pub fn block_size(&self, n_leaf_columns: usize) -> usize {
        let columns = self.n_registers + n_leaf_columns + 1;
        let runs = CACHE_BYTES / (8 * columns);
        let power = 1_usize << runs.max(1).ilog2();
        power.clamp(BLOCK_RANGE.0, BLOCK_RANGE.1)
    }

    /// Registers for blocks of up to `block` runs.
    pub fn frame(&self, block: usize) -> Frame {
        let mut registers = vec![vec![0.0; block]; self.n_registers];
        for &(register, value) in &self.constants {
            registers[register as usize].fill(value);
        }
        Frame { registers, outputs: Vec::new(), scratch: Vec::new(), block, vectors: Vectors::Widest }
    }

    /// Runs one stage for `runs`; `leaves[k]` is the column of leaf k and may be empty where no instruction reads it.
    pub fn execute(&self, stage: usize, frame: &mut Frame, leaves: &[&[f64]], runs: Runs) {
        let n = runs.n.min(frame.block);
        for instruction in self.stage(stage) {
            self.step(instruction, frame, leaves, Runs { first: runs.first, n });
        }
    }

    fn step(&self, instruction: &Instruction, frame: &mut Frame, leaves: &[&[f64]], runs: Runs) {
        let n = runs.n;
        let target = match *instruction {
            Instruction::Call(call) => return self.call(call, frame, leaves, runs),
            Instruction::Unary(r, ..)
            | Instruction::Binary(r, ..)
            | Instruction::RightConstant(r, ..)
            | Instruction::LeftConstant(r, ..)
            | Instruction::Select(r, ..) => r as usize,
        };
        // The target is never an operand, so it can be lent out while they are read.
        let mut out = std::mem::take(&mut frame.registers[target]);
        let vectors = frame.vectors;
        let read = |slot| column(&frame.registers, leaves, slot, n);
        match *instruction {
            Instruction::Unary(_, op, a) => vectors.unary(op, &mut out[..n], read(a)),
            Instruction::Binary(_, op, a, b) => vectors.binary(op, &mut out[..n], read(a), read(b)),
            Instruction::RightConstant(_, op, a, k) => {
                vectors.binary_right_constant(op, &mut out[..n], read(a), k);
            }
            Instruction::LeftConstant(_, op, k, b) => {
                vectors.binary_left_constant(op, &mut out[..n], k, read(b));
            }
            Instruction::Select(_, c, a, b) => vectors.select(&mut out[..n], read(c), read(a), read(b)),
            Instruction::Call(_) => {}
        }
        frame.registers[target] = out;
    }

    fn call(&self, index: u32, frame: &mut Frame, leaves: &[&[f64]], runs: Runs) {
        let call = &self.calls[index as usize];
        frame.outputs.clear();
        for &register in &call.out {
            frame.outputs.push(std::mem::take(&mut frame.registers[register as usize]));
        }
        let registers = &frame.registers;
        let args: Vec<&[f64]> =
            call.args.iter().map(|&slot| column(registers, leaves, slot, runs.n)).collect();
        call.op.evaluate(runs, &args, &mut frame.outputs, &mut frame.scratch);
        for (&register, column) in call.out.iter().zip(frame.outputs.drain(..)) {
            frame.registers[register as usize] = column;
        }
    }

    /// Column of a wanted value after its stage has run; a constant has none.
    pub fn wanted_column<'a>(
        &self,
        index: usize,
        frame: &'a Frame,
        leaves: &[&'a [f64]],
        n: usize,
    ) -> Result<&'a [f64], f64> {
        match self.wanted[index] {
            Wanted::Column(slot) => Ok(column(&frame.registers, leaves, slot, n)),
            Wanted::Constant(value) => Err(value),
        }
    }

    /// Copies a wanted value into `out`.
    pub fn copy_wanted(&self, index: usize, frame: &Frame, leaves: &[&[f64]], out: &mut [f64]) {
        match self.wanted_column(index, frame, leaves, out.len()) {
            Ok(column) => out.copy_from_slice(column),
            Err(value) => out.fill(value),
        }
    }
}

fn column<'a>(registers: &'a [Vec<f64>], leaves: &[&'a [f64]], slot: Slot, n: usize) -> &'a [f64] {
    match slot {
        Slot::Register(r) => &registers[r as usize][..n],
        Slot::Leaf(leaf) => &leaves[leaf as usize][..n],
    }
}

fn stages_of<S: Copy>(
    graph: &Graph,
    first: S,
    of_leaf: &impl Fn(u32) -> S,
    of_draws: S,
    meet: impl Fn(S, S) -> S,
) -> Vec<S> {
    let mut stage = vec![first; graph.len()];
    for i in 0..graph.len() {
        let id = NodeId(i as u32);
        let of_operands =
            graph.operands(id).as_slice().iter().fold(first, |latest, o| meet(latest, stage[o.index()]));
        stage[i] = match graph.node(id) {
            Node::Leaf(leaf) => of_leaf(leaf),
            Node::Output(call, _) if graph.call(call).op.draws() => meet(of_operands, of_draws),
            _ => of_operands,
        };
    }
    stage
}

/// Nodes that `wanted` needs, operands first, each as late as possible before its first use.
fn in_order(graph: &Graph, wanted: &[NodeId]) -> Vec<NodeId> {
    let mut order = Vec::new();
    let mut seen = vec![false; graph.len()];
    let mut stack: Vec<(NodeId, usize)> = Vec::new();
    for &root in wanted {
        if !seen[root.index()] {
            seen[root.index()] = true;
            stack.push((root, 0));
        }
        while let Some((id, next)) = stack.pop() {
            let operands = graph.operands(id);
            match operands.as_slice().get(next) {
                Some(&operand) => {
                    stack.push((id, next + 1));
                    if !seen[operand.index()] {
                        seen[operand.index()] = true;
                        stack.push((operand, 0));
                    }
                }
                None => order.push(id),
            }
        }
    }
    order
}

impl std::fmt::Display for Program {
    /// One line an instruction.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (k, stage) in self.stages.iter().enumerate() {
            writeln!(f, "stage {k}: {} instructions", stage.len())?;
            for instruction in stage {
                match instruction {
                    Instruction::Call(call) => {
                        let call = &self.calls[*call as usize];
                        writeln!(
                            f,
                            "  {} of {} columns -> {} columns",
                            call.op.key(),
                            call.args.len(),
                            call.out.len()
                        )?;
                    }
                    other => writeln!(f, "  {other:?}")?,
                }
            }
        }
        writeln!(f, "{} registers, {} leaves", self.n_registers, self.leaves.len())
    }
}
