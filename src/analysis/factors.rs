//! What may drive a result: each uncertain input and the level of each path, with its value in each run.

use crate::analysis::OF_FIRST_YEAR;
use crate::engine::graph::NodeId;
use crate::engine::ops::Binary;
use crate::formula::types::{Kind, Shape};
use crate::model::lower::{Lowering, Sheet};
use crate::model::{Input, InputValue, Model, Path};
use crate::units::Unit;

/// What follows the label of a path, or of an input that differs by year, that stands for all its years.
const OF_ALL_YEARS: &str = ", mean of all years";

/// Distributions with at most so many values are told apart by value, not by rank.
const FEW_VALUES: usize = 64;

/// One thing that may drive a result: an input, or the level of a path, with its value in each run.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    /// Name in the study.
    pub name: String,
    /// Plain name; of a path also which level.
    pub label: String,
    /// Unit, "" if dimensionless.
    pub unit: String,
    /// One value a run, in that unit; the index for labels.
    pub values: Vec<f64>,
    /// What the values 0, 1, 2, ... of a list of labels are called; else empty.
    pub labels: Vec<String>,
    /// Few values (labels, counts, yes or no): each is a class.
    pub discrete: bool,
    /// The study correlates it with another.
    pub linked: bool,
}

/// Which value of what differs by year a factor is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Level {
    /// It is one value.
    Single,
    /// The mean over the years.
    Mean,
    /// The first year.
    First,
    /// The last year.
    Last,
}

/// A factor in the graph.
pub(super) struct FactorNode {
    pub(super) name: String,
    pub(super) label: String,
    pub(super) unit: Unit,
    /// In base units.
    pub(super) node: NodeId,
    pub(super) level: Level,
    /// Only time tells.
    pub(super) revealed_later: bool,
    /// Heading under which it is listed.
    pub(super) heading: Option<String>,
    labels: Vec<String>,
    discrete: bool,
    linked: bool,
}

impl FactorNode {
    /// With the values of its node, in base units.
    pub(super) fn with(&self, column: &[f64]) -> Factor {
        Factor {
            name: self.name.clone(),
            label: self.label.clone(),
            unit: self.unit.text.clone(),
            values: column.iter().map(|&x| self.unit.from_base(x)).collect(),
            labels: self.labels.clone(),
            discrete: self.discrete,
            linked: self.linked,
        }
    }

    /// Whether it is one of the factors that answers speak of: of what differs by year, its mean.
    pub(super) fn is_shown(&self) -> bool {
        matches!(self.level, Level::Single | Level::Mean)
    }
}

/// All that varies, inputs first, in file order; of what differs by year the mean, the first and the last year.
pub(super) fn lay(low: &mut Lowering<'_>, model: &Model, sheet: &Sheet) -> Vec<FactorNode> {
    let mut factors = Vec::new();
    for input in model.inputs.iter().filter(|input| input.is_drawn()) {
        factors.extend(of_input(low, model, input, sheet));
    }
    for path in &model.paths {
        let nodes = sheet.nodes(&path.about.name);
        let varies = nodes.iter().any(|&node| low.graph.as_constant(node).is_none());
        if varies && path_is_drawn(low, path) {
            factors.extend(by_year(low, model, &path.about, &path.unit, &nodes, true));
        }
    }
    factors
}

/// A path moves in the runs if any of its own columns does, or a part of it is an input that does.
fn path_is_drawn(low: &Lowering<'_>, path: &Path) -> bool {
    let name = &path.about.name;
    let own = |leaf: u32| low.varies(leaf);
    low.leaf(&format!("{name}.start")).is_some_and(own)
        || low.course_leaves(name).iter().any(|&leaf| own(leaf))
        || !path.changes.is_empty()
        || path.table.is_some()
}

fn of_input(low: &mut Lowering<'_>, model: &Model, input: &Input, sheet: &Sheet) -> Vec<FactorNode> {
    let about = &input.about;
    let (labels, few) = match (&input.ty.kind, &input.value) {
        (Kind::Label(labels), _) => (labels.clone(), true),
        (_, InputValue::Drawn(d)) => (Vec::new(), d.points().is_some_and(|(v, _)| v.len() <= FEW_VALUES)),
        _ => (Vec::new(), false),
    };
    // Before changes and conversions an input is what is drawn.
    let node = match (&input.value, low.leaf(&about.name)) {
        (InputValue::Drawn(_), Some(leaf)) => low.scaled_leaf(leaf, input.unit.scale),
        _ => match sheet.nodes(&about.name).first() {
            Some(&node) => node,
            None => return Vec::new(),
        },
    };
    if input.ty.shape == Shape::Yearly && input.given().is_some() {
        return by_year(low, model, about, &input.unit, &sheet.nodes(&about.name), false);
    }
    let unit = if labels.is_empty() { input.unit.clone() } else { Unit::plain() };
    vec![FactorNode {
        name: about.name.clone(),
        label: about.label.clone(),
        unit,
        node,
        level: Level::Single,
        revealed_later: about.revealed_later,
        heading: about.group.clone(),
        labels,
        discrete: few,
        linked: is_linked(model, &about.name),
    }]
}

fn by_year(
    low: &mut Lowering<'_>,
    model: &Model,
    about: &crate::model::About,
    unit: &Unit,
    nodes: &[NodeId],
    is_path: bool,
) -> Vec<FactorNode> {
    let (Some(&first), Some(&last)) = (nodes.first(), nodes.last()) else { return Vec::new() };
    let sum = nodes[1..].iter().fold(first, |sum, &node| low.graph.add_up(sum, node));
    let count = low.graph.constant(nodes.len() as f64);
    let mean = low.graph.binary(Binary::Divide, sum, count);
    let factor = |level: Level, node: NodeId, after: &str| FactorNode {
        name: about.name.clone(),
        label: format!("{}{after}", about.label),
        unit: unit.clone(),
        node,
        level,
        revealed_later: is_path || about.revealed_later,
        heading: about.group.clone(),
        labels: Vec::new(),
        discrete: false,
        linked: is_linked(model, &about.name),
    };
    let mut factors = vec![factor(Level::Mean, mean, OF_ALL_YEARS)];
    for (level, node, after) in
        [(Level::First, first, OF_FIRST_YEAR), (Level::Last, last, " in the last year")]
    {
        if nodes.len() > 1 && low.graph.as_constant(node).is_none() {
            factors.push(factor(level, node, after));
        }
    }
    factors
}

fn is_linked(model: &Model, name: &str) -> bool {
    let of = |end: &str| {
        end == name || end.strip_suffix(".start") == Some(name) || end.strip_suffix(".growth") == Some(name)
    };
    model.links.iter().any(|link| of(&link.first) || of(&link.second))
}
