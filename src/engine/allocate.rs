//! Which register each node of a program writes to: as few as its stages allow, so that a block stays in the inner
//! caches.

use crate::engine::graph::{Call, Graph, Node, NodeId};
use crate::engine::ops::Binary;
use crate::engine::program::{BlockCall, Instruction, Program, Slot, Wanted};

/// How often each node is still to be read, and which must stay.
pub(super) struct Uses {
    left: Vec<u32>,
    stays: Vec<bool>,
}

impl Uses {
    /// For the nodes of `order`, by the stages they are in.
    pub(super) fn count(graph: &Graph, order: &[NodeId], wanted: &[NodeId], stage: &[usize]) -> Uses {
        let mut left = vec![0_u32; graph.len()];
        let mut stays = vec![false; graph.len()];
        let mut call_seen = vec![false; graph.n_calls()];
        for &id in order {
            // All outputs of a call read its operands once.
            if let Node::Output(call, _) = graph.node(id)
                && std::mem::replace(&mut call_seen[call as usize], true)
            {
                continue;
            }
            for operand in graph.operands(id).as_slice() {
                left[operand.index()] += 1;
                stays[operand.index()] |= stage[operand.index()] != stage[id.index()];
            }
        }
        for id in wanted {
            stays[id.index()] = true;
        }
        Uses { left, stays }
    }
}

/// Gives every node of a program its column, and takes registers back after their last use.
pub(super) struct Allocator<'a> {
    graph: &'a Graph,
    uses: Uses,
    slots: Vec<Option<Slot>>,
    free: Vec<Vec<u32>>,
    stages: Vec<Vec<Instruction>>,
    calls: Vec<BlockCall>,
    call_done: Vec<bool>,
    constants: Vec<(u32, f64)>,
    leaves: Vec<u32>,
    n_registers: u32,
}

impl<'a> Allocator<'a> {
    /// Nothing given out yet.
    pub(super) fn new(graph: &'a Graph, uses: Uses, n_stages: usize) -> Self {
        Allocator {
            graph,
            uses,
            slots: vec![None; graph.len()],
            free: vec![Vec::new(); n_stages],
            stages: vec![Vec::new(); n_stages],
            calls: Vec::new(),
            call_done: vec![false; graph.n_calls()],
            constants: Vec::new(),
            leaves: Vec::new(),
            n_registers: 0,
        }
    }

    /// The program that computes `order` and leaves `wanted` where they can be read.
    pub(super) fn emit(mut self, order: &[NodeId], wanted: &[NodeId], stage: &[usize]) -> Program {
        for &id in order {
            self.emit_node(id, stage[id.index()], stage);
        }
        let places = wanted
            .iter()
            .map(|&id| match self.graph.as_constant(id) {
                Some(value) => Wanted::Constant(value),
                None => Wanted::Column(self.slot(id)),
            })
            .collect();
        self.leaves.sort_unstable();
        Program {
            stages: self.stages,
            calls: self.calls,
            constants: self.constants,
            n_registers: self.n_registers as usize,
            wanted: places,
            leaves: self.leaves,
        }
    }

    fn emit_node(&mut self, id: NodeId, stage: usize, stages: &[usize]) {
        let instruction = match self.graph.node(id) {
            Node::Constant(_) => return,
            Node::Leaf(leaf) => {
                self.slots[id.index()] = Some(Slot::Leaf(leaf));
                self.leaves.push(leaf);
                return;
            }
            Node::Output(call, _) => {
                if !std::mem::replace(&mut self.call_done[call as usize], true) {
                    self.emit_call(call, stage, stages);
                }
                return;
            }
            Node::Unary(op, a) => {
                let target = self.fresh(stage);
                (target, Instruction::Unary(target, op, self.slot(a)))
            }
            Node::Binary(op, a, b) => {
                let target = self.fresh(stage);
                (target, self.binary(target, op, a, b))
            }
            Node::Select(c, a, b) => {
                let target = self.fresh(stage);
                (target, Instruction::Select(target, self.slot(c), self.slot(a), self.slot(b)))
            }
        };
        self.slots[id.index()] = Some(Slot::Register(instruction.0));
        self.stages[stage].push(instruction.1);
        self.release_operands(id, stage, stages);
    }

    fn binary(&mut self, target: u32, op: Binary, a: NodeId, b: NodeId) -> Instruction {
        match (self.graph.as_constant(a), self.graph.as_constant(b)) {
            (_, Some(k)) => Instruction::RightConstant(target, op, self.slot(a), k),
            (Some(k), None) => Instruction::LeftConstant(target, op, k, self.slot(b)),
            (None, None) => Instruction::Binary(target, op, self.slot(a), self.slot(b)),
        }
    }

    fn emit_call(&mut self, call: u32, stage: usize, stages: &[usize]) {
        let Call { op, args } = self.graph.call(call).clone();
        let slots: Vec<Slot> = args.iter().map(|&arg| self.slot(arg)).collect();
        let out: Vec<u32> = (0..op.outputs()).map(|_| self.fresh(stage)).collect();
        // Outputs that nothing reads keep a register of their own; they are few.
        for id in self.outputs_of(call) {
            if let Node::Output(_, k) = self.graph.node(id) {
                self.slots[id.index()] = out.get(k as usize).map(|&r| Slot::Register(r));
            }
        }
        self.stages[stage].push(Instruction::Call(self.calls.len() as u32));
        self.calls.push(BlockCall { op, args: slots, out });
        for arg in args {
            self.release(arg, stage, stages);
        }
    }

    fn outputs_of(&self, call: u32) -> Vec<NodeId> {
        (0..self.graph.len() as u32)
            .map(NodeId)
            .filter(|&id| matches!(self.graph.node(id), Node::Output(c, _) if c == call))
            .collect()
    }

    fn release_operands(&mut self, id: NodeId, stage: usize, stages: &[usize]) {
        let graph = self.graph;
        for &operand in graph.operands(id).as_slice() {
            self.release(operand, stage, stages);
        }
    }

    /// One use of `id` is done; its register is free for this stage when it was the last.
    fn release(&mut self, id: NodeId, stage: usize, stages: &[usize]) {
        let left = &mut self.uses.left[id.index()];
        *left = left.saturating_sub(1);
        let done = *left == 0 && !self.uses.stays[id.index()] && stages[id.index()] == stage;
        if let (true, Some(Slot::Register(register))) = (done, self.slots[id.index()])
            && self.graph.as_constant(id).is_none()
        {
            self.free[stage].push(register);
        }
    }

    /// A register that nothing in this stage reads any more. Registers of one
    /// stage are not lent to another: a stage may run again by itself.
    fn fresh(&mut self, stage: usize) -> u32 {
        self.free[stage].pop().unwrap_or_else(|| {
            self.n_registers += 1;
            self.n_registers - 1
        })
    }

    /// Column of a node; a constant gets a register filled once.
    fn slot(&mut self, id: NodeId) -> Slot {
        if let Some(slot) = self.slots[id.index()] {
            return slot;
        }
        let register = self.n_registers;
        self.n_registers += 1;
        self.constants.push((register, self.graph.as_constant(id).unwrap_or(f64::NAN)));
        self.slots[id.index()] = Some(Slot::Register(register));
        Slot::Register(register)
    }
}
