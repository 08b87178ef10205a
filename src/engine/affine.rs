//! How a value depends on one leaf: not at all, affinely (a + b x), or
//! otherwise. Read off the graph, so that break-even values of affine results
//! are solved exactly.

use crate::engine::graph::{Graph, Node, NodeId};
use crate::engine::ops::{Binary, Unary};

/// How a node depends on a leaf.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Dependence {
    /// Not at all.
    Free,
    /// As a + b x.
    Affine,
    /// In some other way.
    Other,
}

/// Dependence of `of` on `leaf`.
pub fn dependence(graph: &Graph, of: NodeId, leaf: u32) -> Dependence {
    let mut known: Vec<Dependence> = Vec::with_capacity(of.index() + 1);
    for i in 0..=of.index() {
        let id = NodeId(i as u32);
        known.push(of_node(graph, id, leaf, &known));
    }
    known.last().copied().unwrap_or(Dependence::Free)
}

fn of_node(graph: &Graph, id: NodeId, leaf: u32, known: &[Dependence]) -> Dependence {
    use Dependence::{Affine, Free, Other};
    let at = |id: NodeId| known[id.index()];
    let unless_free = |d: Dependence| if d == Free { Free } else { Other };
    match graph.node(id) {
        Node::Constant(_) => Free,
        Node::Leaf(l) if l == leaf => Affine,
        Node::Leaf(_) => Free,
        Node::Unary(Unary::Negate, a) => at(a),
        Node::Unary(_, a) => unless_free(at(a)),
        Node::Binary(Binary::Add | Binary::Subtract, a, b) => at(a).max(at(b)),
        Node::Binary(Binary::Multiply, a, b) if at(a) == Free || at(b) == Free => at(a).max(at(b)),
        Node::Binary(Binary::Divide, a, b) if at(b) == Free => at(a),
        Node::Binary(_, a, b) => unless_free(at(a).max(at(b))),
        Node::Select(c, a, b) if at(c) == Free => at(a).max(at(b)),
        Node::Select(..) => {
            let worst = graph.operands(id).as_slice().iter().map(|&o| at(o)).max().unwrap_or(Free);
            unless_free(worst)
        }
        Node::Output(..) => {
            let worst = graph.operands(id).as_slice().iter().map(|&o| at(o)).max().unwrap_or(Free);
            unless_free(worst)
        }
    }
}
