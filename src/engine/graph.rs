//! Every value of every working as a node. Equal nodes are one node, constants
//! are folded, and so alternatives laid over a study share what they have in
//! common.

use std::collections::HashMap;
use std::sync::Arc;

use crate::engine::block::BlockOp;
use crate::engine::ops::{self, Binary, Unary};

/// A node of a [`Graph`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub(crate) u32);

impl NodeId {
    /// Position in the graph.
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// What a node is. Operands always stand before the node itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Node {
    /// A number, by its bits.
    Constant(u64),
    /// A column given from outside.
    Leaf(u32),
    /// One operand.
    Unary(Unary, NodeId),
    /// Two operands.
    Binary(Binary, NodeId, NodeId),
    /// Condition, then, otherwise.
    Select(NodeId, NodeId, NodeId),
    /// Output `1` of block call `0`.
    Output(u32, u32),
}

/// A block operation with its operands.
#[derive(Clone)]
pub struct Call {
    /// What it does.
    pub op: Arc<dyn BlockOp>,
    /// Its operands.
    pub args: Vec<NodeId>,
}

/// Nodes in an order in which operands come first.
#[derive(Default, Clone)]
pub struct Graph {
    nodes: Vec<Node>,
    calls: Vec<Call>,
    known: HashMap<Node, NodeId>,
    known_calls: HashMap<(String, Vec<NodeId>), u32>,
}

impl Graph {
    /// An empty graph.
    pub fn new() -> Self {
        Self::default()
    }

    /// Number of nodes.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Whether it has no node.
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// What `id` is.
    pub fn node(&self, id: NodeId) -> Node {
        self.nodes[id.index()]
    }

    /// Block call `index`.
    pub fn call(&self, index: u32) -> &Call {
        &self.calls[index as usize]
    }

    /// Number of block calls.
    pub fn n_calls(&self) -> usize {
        self.calls.len()
    }

    fn add(&mut self, node: Node) -> NodeId {
        if let Some(&id) = self.known.get(&node) {
            return id;
        }
        // A study of 4 MB cannot make 2^32 nodes: workings are limited by the model.
        let id = NodeId(self.nodes.len() as u32);
        self.nodes.push(node);
        self.known.insert(node, id);
        id
    }

    /// A number.
    pub fn constant(&mut self, value: f64) -> NodeId {
        self.add(Node::Constant(value.to_bits()))
    }

    /// Column `leaf` from outside.
    pub fn leaf(&mut self, leaf: u32) -> NodeId {
        self.add(Node::Leaf(leaf))
    }

    /// The number that `id` is, if it is one.
    pub fn as_constant(&self, id: NodeId) -> Option<f64> {
        match self.node(id) {
            Node::Constant(bits) => Some(f64::from_bits(bits)),
            _ => None,
        }
    }

    /// One operand.
    pub fn unary(&mut self, op: Unary, a: NodeId) -> NodeId {
        match self.as_constant(a) {
            Some(x) => self.constant(op.apply(x)),
            None => self.add(Node::Unary(op, a)),
        }
    }

    /// Two operands.
    pub fn binary(&mut self, op: Binary, a: NodeId, b: NodeId) -> NodeId {
        if let (Some(x), Some(y)) = (self.as_constant(a), self.as_constant(b)) {
            return self.constant(op.apply(x, y));
        }
        if let Some(same) = self.without_effect(op, a, b) {
            return same;
        }
        let (a, b) = if op.commutes() && b < a { (b, a) } else { (a, b) };
        self.add(Node::Binary(op, a, b))
    }

    /// The operand that `op` hands on unchanged, to the last bit. Adding 0 is not among them: it turns -0 into 0.
    fn without_effect(&self, op: Binary, a: NodeId, b: NodeId) -> Option<NodeId> {
        let is = |id, value| self.as_constant(id) == Some(value);
        match op {
            Binary::Multiply if is(b, 1.0) => Some(a),
            Binary::Multiply if is(a, 1.0) => Some(b),
            Binary::Divide | Binary::Power if is(b, 1.0) => Some(a),
            _ => None,
        }
    }

    /// `then` where `condition` is not 0, else `otherwise`.
    pub fn select(&mut self, condition: NodeId, then: NodeId, otherwise: NodeId) -> NodeId {
        if then == otherwise {
            return then;
        }
        match self.as_constant(condition) {
            Some(c) if c != 0.0 => then,
            Some(_) => otherwise,
            None => self.add(Node::Select(condition, then, otherwise)),
        }
    }

    /// The outputs of a block operation.
    pub fn call_block(&mut self, op: Arc<dyn BlockOp>, args: Vec<NodeId>) -> Vec<NodeId> {
        let outputs = op.outputs();
        let key = (op.key(), args.clone());
        let call = match self.known_calls.get(&key) {
            Some(&call) => call,
            None => {
                let call = self.calls.len() as u32;
                self.calls.push(Call { op, args });
                self.known_calls.insert(key, call);
                call
            }
        };
        (0..outputs as u32).map(|output| self.add(Node::Output(call, output))).collect()
    }

    /// a + b
    pub fn add_up(&mut self, a: NodeId, b: NodeId) -> NodeId {
        self.binary(Binary::Add, a, b)
    }

    /// a * b
    pub fn times(&mut self, a: NodeId, b: NodeId) -> NodeId {
        self.binary(Binary::Multiply, a, b)
    }

    /// Operands of a node, in order.
    pub fn operands(&self, id: NodeId) -> Operands<'_> {
        match self.node(id) {
            Node::Constant(_) | Node::Leaf(_) => Operands::Few([id; 3], 0),
            Node::Unary(_, a) => Operands::Few([a; 3], 1),
            Node::Binary(_, a, b) => Operands::Few([a, b, b], 2),
            Node::Select(a, b, c) => Operands::Few([a, b, c], 3),
            Node::Output(call, _) => Operands::Many(&self.call(call).args),
        }
    }

    /// For each node, whether it reads (directly or not) a leaf for which `changed` holds, or its own streams.
    pub fn reads(&self, changed: impl Fn(u32) -> bool) -> Vec<bool> {
        let mut reads = vec![false; self.len()];
        for i in 0..self.len() {
            reads[i] = match self.nodes[i] {
                Node::Leaf(leaf) => changed(leaf),
                _ => self.operands(NodeId(i as u32)).as_slice().iter().any(|o| reads[o.index()]),
            };
        }
        reads
    }

    /// Folds `ids` from the left.
    pub fn fold(&mut self, op: Binary, ids: &[NodeId]) -> NodeId {
        let mut ids = ids.iter().copied();
        let first = ids.next();
        match first {
            Some(first) => ids.fold(first, |acc, id| self.binary(op, acc, id)),
            None => self.constant(f64::NAN),
        }
    }
}

/// Operands of a node.
pub enum Operands<'a> {
    /// Up to three, and how many.
    Few([NodeId; 3], usize),
    /// Those of a block call.
    Many(&'a [NodeId]),
}

impl Operands<'_> {
    /// As a slice.
    pub fn as_slice(&self) -> &[NodeId] {
        match self {
            Operands::Few(ids, n) => &ids[..*n],
            Operands::Many(ids) => ids,
        }
    }
}

/// Value of every node for one set of leaf values; block calls get one-run
/// columns. Slow and plain: for traces and base cases.
pub fn evaluate_once(graph: &Graph, leaves: &[f64], run: u64) -> Vec<f64> {
    let mut values = vec![0.0; graph.len()];
    let mut outputs: Vec<Option<Vec<f64>>> = vec![None; graph.n_calls()];
    for i in 0..graph.len() {
        values[i] = match graph.nodes[i] {
            Node::Constant(bits) => f64::from_bits(bits),
            Node::Leaf(leaf) => leaves.get(leaf as usize).copied().unwrap_or(f64::NAN),
            Node::Unary(op, a) => op.apply(values[a.index()]),
            Node::Binary(op, a, b) => op.apply(values[a.index()], values[b.index()]),
            Node::Select(c, a, b) => ops::select(values[c.index()], values[a.index()], values[b.index()]),
            Node::Output(call, output) => {
                let result = outputs[call as usize].get_or_insert_with(|| {
                    let call = graph.call(call);
                    let args: Vec<f64> = call.args.iter().map(|a| values[a.index()]).collect();
                    call.op.evaluate_one(run, &args)
                });
                result.get(output as usize).copied().unwrap_or(f64::NAN)
            }
        };
    }
    values
}
