//! What is swapped as a whole: each drawn input, each path with all its draws,
//! the fresh lives of replacements; and which of them links join into one.

use crate::engine::graph::{Graph, Node, NodeId};
use crate::engine::program::Program;
use crate::engine::run::LeafSource;
use crate::model::Model;
use crate::sampling::Plan;

/// Name of the fresh lives of replacements, which no input of a study can have.
const LIVES: &str = "lives of replacements";

/// An input, a path, or the fresh lives of replacements.
#[derive(Debug, Clone)]
pub(super) struct Unit {
    pub(super) name: String,
    pub(super) label: String,
    /// Sources of the plan.
    pub(super) sources: Vec<usize>,
    pub(super) is_path: bool,
    /// Its draws go by the number of the run.
    pub(super) lives: bool,
    /// Whether the result reads any of its draws.
    pub(super) read: bool,
}

/// Units that are swapped together.
#[derive(Debug, Clone)]
pub(super) struct Group {
    /// Indices of units, in order.
    pub(super) units: Vec<usize>,
}

/// All that is drawn, in the order of the plan's sources; lives last.
pub(super) fn units(
    model: &Model,
    plan: &Plan,
    program: &Program,
    leaves: &[LeafSource],
    draws: bool,
) -> Vec<Unit> {
    let read = sources_read(plan, program, leaves);
    let inputs = model.inputs.iter().filter(|input| input.is_drawn());
    let inputs = inputs.map(|i| i.part_of.as_ref().unwrap_or(&i.about.name));
    let names = inputs.chain(model.paths.iter().map(|p| &p.about.name));
    let mut units: Vec<Unit> = Vec::new();
    for (source, name) in names.enumerate().filter(|(source, _)| plan.is_drawn(*source)) {
        if let Some(known) = units.iter_mut().find(|unit| unit.name == *name) {
            known.sources.push(source);
            known.read |= read[source];
            continue;
        }
        let path = model.paths.iter().find(|p| p.about.name == *name).map(|p| &p.about);
        let about = path.or_else(|| model.inputs.iter().find(|i| i.about.name == *name).map(|i| &i.about));
        units.push(Unit {
            name: name.clone(),
            label: about.map_or_else(|| name.clone(), |about| about.label.clone()),
            sources: vec![source],
            is_path: path.is_some(),
            lives: false,
            read: read[source],
        });
    }
    if draws {
        let (name, label) = (LIVES.to_owned(), "Lives of replacements".to_owned());
        units.push(Unit { name, label, sources: Vec::new(), is_path: false, lives: true, read: true });
    }
    units
}

/// Units joined wherever a link joins any parts of them; each group at the place of its first unit.
pub(super) fn groups(model: &Model, units: &[Unit]) -> Vec<Group> {
    let mut root: Vec<usize> = (0..units.len()).collect();
    for link in &model.links {
        let ends = [&link.first, &link.second].map(|name| unit_of(model, units, name));
        if let [Some(a), Some(b)] = ends {
            let (from, to) = (root[a].max(root[b]), root[a].min(root[b]));
            root.iter_mut().filter(|r| **r == from).for_each(|r| *r = to);
        }
    }
    let of = |k: usize| Group { units: (0..units.len()).filter(|&u| root[u] == k).collect() };
    (0..units.len()).map(of).filter(|group| !group.units.is_empty()).collect()
}

/// The unit of a name in a link: an input, a path (its shocks), or a part of either.
fn unit_of(model: &Model, units: &[Unit], name: &str) -> Option<usize> {
    let input = model.inputs.iter().find(|i| i.about.name == name);
    let owner = match input {
        Some(input) => input.part_of.as_deref().unwrap_or(name),
        None => name.split('.').next().unwrap_or(name),
    };
    units.iter().position(|unit| unit.name == owner)
}

/// Whether the program reads a column of each source.
pub(super) fn sources_read(plan: &Plan, program: &Program, leaves: &[LeafSource]) -> Vec<bool> {
    let mut read = vec![false; plan.sources()];
    for &leaf in program.leaves() {
        if let Some(LeafSource::Drawn(column)) = leaves.get(leaf as usize) {
            read[plan.columns()[*column].source] = true;
        }
    }
    read
}

/// For each node, whether `node` needs it.
pub(super) fn needed_by(graph: &Graph, node: NodeId) -> Vec<bool> {
    let mut needed = vec![false; graph.len()];
    // Operands stand before what reads them.
    for k in (0..graph.len()).rev() {
        let id = NodeId(k as u32);
        needed[k] |= id == node;
        if needed[k] {
            graph.operands(id).as_slice().iter().for_each(|operand| needed[operand.index()] = true);
        }
    }
    needed
}

/// Whether anything that `node` needs draws by the number of the run.
pub(super) fn draws_by_run(graph: &Graph, node: NodeId) -> bool {
    let draws = |k: usize| match graph.node(NodeId(k as u32)) {
        Node::Output(call, _) => graph.call(call).op.draws(),
        _ => false,
    };
    needed_by(graph, node).into_iter().enumerate().any(|(k, needed)| needed && draws(k))
}
