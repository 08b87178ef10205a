//! A checked study as nodes of the engine's graph: every value of every
//! working (each month, each year) is a node of its own. Units are gone: all
//! values are in base units.
//!
//! Several settings of one study (a choice at its other values, an
//! alternative) are laid into one graph; what they share is computed once.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Span};
use crate::engine::graph::{Graph, NodeId};
use crate::engine::ops::{Binary, Unary};
use crate::engine::run::LeafSource;
use crate::formula::ast::{BinaryOp, UnaryOp};
use crate::formula::types::{Shape, Typed, TypedNode};
use crate::hotwater::outputs::Output;
use crate::hotwater::time::DAYS_IN_MONTH;
use crate::model::cash::Failures;
use crate::model::functions;
use crate::model::given::GivenValue;
use crate::model::homes::{HomeItem, SettingItem, SettingValues, output_name};
use crate::model::simulated::{Cell, SettingCells, SimulatedYear, Years};
use crate::model::{Input, InputValue, Model};
use crate::sampling::{Column, Plan};

/// Most values of parts of formulas that are laid at once: far beyond a detailed home by month and year.
const MOST_WORK: u64 = 2_500_000;
/// Most nodes of a graph; each takes about a hundred bytes.
pub(super) const MOST_NODES: usize = 1_000_000;

pub(super) fn too_large(span: Span) -> Box<Diagnostic> {
    let message = "the workings of this study hold more values than can be calculated with";
    let error = Diagnostic::error("too-large", message)
        .at(span, "the limit is passed here")
        .hint("reduce months or years earlier (sum_months, sum_years), or split the study");
    Box::new(error)
}

/// How a study is laid into the graph.
#[derive(Clone, Default)]
pub struct Setting<'m> {
    /// Values (in the input's unit; labels as their index) that stand in place of what inputs are: of known inputs and
    /// choices, and of drawn ones, which then are the same in every run.
    pub values: BTreeMap<String, f64>,
    /// The study whose formulas are laid, if they are not its own: the same names, set otherwise.
    pub formulas: Option<&'m Model>,
}

/// The values of all names under one setting.
#[derive(Debug, Clone, Default)]
pub struct Sheet {
    values: BTreeMap<String, (Shape, Vec<Option<NodeId>>)>,
}

impl Sheet {
    /// Nodes of `name`, in the order of its shape.
    pub fn nodes(&self, name: &str) -> Vec<NodeId> {
        self.values.get(name).map_or_else(Vec::new, |(_, lanes)| lanes.iter().filter_map(|&id| id).collect())
    }

    /// Nodes of a path by year as far as its start and course move it: before changes, bounds and conversions.
    pub fn moving(&self, path: &str) -> Vec<NodeId> {
        let moving = self.nodes(&Sheet::moving_name(path));
        if moving.is_empty() { self.nodes(path) } else { moving }
    }

    /// No name of a study has a space.
    pub(super) fn moving_name(path: &str) -> String {
        format!("{path} as drawn")
    }

    pub(super) fn shape(&self, name: &str) -> Option<Shape> {
        self.values.get(name).map(|(shape, _)| *shape)
    }

    pub(super) fn set(&mut self, name: &str, shape: Shape, nodes: Vec<NodeId>) {
        self.values.insert(name.to_owned(), (shape, nodes.into_iter().map(Some).collect()));
    }
}

/// A study being laid into a graph.
pub struct Lowering<'m> {
    pub(super) model: &'m Model,
    plan: Arc<Plan>,
    /// The nodes.
    pub graph: Graph,
    /// Source of each leaf: first the columns of the plan, then what is held.
    pub leaves: Vec<LeafSource>,
    free: BTreeMap<String, u32>,
    renewals: BTreeMap<String, Arc<Failures>>,
    /// The setting being laid.
    setting: Setting<'m>,
    work: u64,
    /// Courses that are the same in every run are leaves all the same, so that a tornado can move them.
    pub move_courses: bool,
}

/// The state of one working's formula being laid: the sheet so far and where the formula stands.
pub(super) struct Laying<'a, 'm> {
    pub(super) low: &'a mut Lowering<'m>,
    pub(super) sheet: &'a Sheet,
    /// What is laid already, by the place of the tree node and the index: without it, sums within sums within sums
    /// would be walked again for every value of every sum.
    pub(super) running: BTreeMap<(Memo, usize, usize), NodeId>,
}

/// What is remembered of a tree node.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Memo {
    /// Its value.
    Value,
    /// Its running sum.
    Sum,
}

impl<'m> Lowering<'m> {
    /// Nothing laid yet. Known inputs in `free` become leaves (held at their
    /// base values) so that they can be moved without laying anew; drawn
    /// inputs and paths always are.
    pub fn new(model: &'m Model, plan: Arc<Plan>, free: &BTreeSet<String>) -> Self {
        let mut leaves: Vec<LeafSource> = (0..plan.columns().len()).map(LeafSource::Drawn).collect();
        let mut free_leaves = BTreeMap::new();
        for input in model.inputs.iter().filter(|i| !i.is_drawn() && i.base.len() == 1) {
            if free.contains(&input.about.name) {
                free_leaves.insert(input.about.name.clone(), leaves.len() as u32);
                leaves.push(LeafSource::Held(input.base[0]));
            }
        }
        for path in &model.paths {
            let start = format!("{}.start", path.about.name);
            let drawn = plan.columns().iter().any(|c| c.name == start && c.constant.is_none());
            if free.contains(&path.about.name) && !drawn {
                free_leaves.insert(start, leaves.len() as u32);
                leaves.push(LeafSource::Held(path.start));
            }
        }
        Lowering {
            model,
            plan,
            graph: Graph::new(),
            leaves,
            free: free_leaves,
            renewals: BTreeMap::new(),
            setting: Setting::default(),
            work: 0,
            move_courses: false,
        }
    }

    /// The leaf that holds `name` (an input, or `PATH.start`), if it is one.
    pub fn leaf(&self, name: &str) -> Option<u32> {
        let is_leaf = |c: &Column| c.name == name && c.lane.is_none() && c.constant.is_none();
        let drawn = self.plan.columns().iter().position(is_leaf);
        drawn.map(|k| k as u32).or_else(|| self.free.get(name).copied())
    }

    /// Whether a leaf differs from run to run.
    pub(crate) fn varies(&self, leaf: u32) -> bool {
        match self.leaves.get(leaf as usize) {
            Some(LeafSource::Drawn(column)) => {
                self.plan.columns().get(*column).is_some_and(|c| c.constant.is_none())
            }
            _ => false,
        }
    }

    /// Leaves of `PATH.course`, by year.
    pub fn course_leaves(&self, path: &str) -> Vec<u32> {
        let name = format!("{path}.course");
        let columns = self.plan.columns().iter().enumerate();
        columns.filter(|(_, c)| c.name == name).map(|(k, _)| k as u32).collect()
    }

    /// Lays all names under `setting`.
    ///
    /// # Errors
    /// A working reads a year that is not yet known.
    pub fn lay(&mut self, setting: &Setting<'m>) -> Result<Sheet, Box<Diagnostic>> {
        self.work = 0;
        self.setting = setting.clone();
        let mut sheet = Sheet::default();
        self.lay_inputs(&mut sheet);
        self.lay_changes(&mut sheet)?;
        self.lay_paths(&mut sheet)?;
        self.lay_money(&mut sheet);
        let with_formulas = self.formulas();
        for group in &with_formulas.groups {
            if let Some(home) = group.members.first().and_then(|&k| with_formulas.home(k)) {
                self.lay_home(home, &mut sheet);
                continue;
            }
            for &k in &group.members {
                let working = &with_formulas.workings[k];
                let lanes = vec![None; working.shape().len(self.model.years)];
                sheet.values.insert(working.about.name.clone(), (working.shape(), lanes));
            }
            if group.by_year {
                self.lay_by_year(&group.members, &mut sheet)?;
            } else {
                for &k in &group.members {
                    let n = with_formulas.workings[k].shape().len(self.model.years);
                    self.lay_working(k, 0..n, &mut sheet)?;
                }
            }
        }
        Ok(sheet)
    }

    /// The study whose formulas are being laid.
    fn formulas(&self) -> &'m Model {
        self.setting.formulas.unwrap_or(self.model)
    }

    fn lay_by_year(&mut self, members: &[usize], sheet: &mut Sheet) -> Result<(), Box<Diagnostic>> {
        let with_formulas = self.formulas();
        for year in 0..self.model.years {
            for &k in members {
                let range = match with_formulas.workings[k].shape() {
                    Shape::Yearly => year..year + 1,
                    Shape::MonthlyByYearly => 12 * year..12 * year + 12,
                    Shape::Single if year == 0 => 0..1,
                    Shape::Monthly if year == 0 => 0..12,
                    _ => continue,
                };
                self.lay_working(k, range, sheet)?;
            }
        }
        Ok(())
    }

    fn lay_working(
        &mut self,
        k: usize,
        range: std::ops::Range<usize>,
        sheet: &mut Sheet,
    ) -> Result<(), Box<Diagnostic>> {
        let working = &self.formulas().workings[k];
        let mut laid = Vec::with_capacity(range.len());
        {
            let mut laying = Laying::new(self, sheet);
            for index in range.clone() {
                laid.push(laying.value(&working.formula, index)?);
            }
        }
        if let Some((_, lanes)) = sheet.values.get_mut(&working.about.name) {
            for (lane, id) in lanes[range].iter_mut().zip(laid) {
                *lane = Some(id);
            }
        }
        Ok(())
    }

    fn lay_inputs(&mut self, sheet: &mut Sheet) {
        let model = self.model;
        for input in &model.inputs {
            let name = &input.about.name;
            let lanes = match (&input.value, self.setting.values.get(name)) {
                (_, Some(&value)) => vec![self.graph.constant(value * input.unit.scale)],
                (InputValue::Given(_), _) => continue,
                (InputValue::Drawn(_), _) => {
                    let leaf = self.leaf(name).unwrap_or(u32::MAX);
                    vec![self.scaled_leaf(leaf, input.unit.scale)]
                }
                _ => match self.free.get(name).copied() {
                    Some(leaf) => vec![self.scaled_leaf(leaf, input.unit.scale)],
                    None => input.base.iter().map(|v| self.graph.constant(v * input.unit.scale)).collect(),
                },
            };
            let lanes = lanes.into_iter().map(Some).collect();
            // Changes and conversions come after.
            sheet.values.insert(name.clone(), (input.own_shape(), lanes));
        }
        self.lay_given(sheet);
    }

    /// Inputs whose parameters are inputs, each after those that it reads; the check has found no circle.
    fn lay_given(&mut self, sheet: &mut Sheet) {
        let model = self.model;
        let drawn = |i: &&Input| i.given().is_some() && sheet.shape(&i.about.name).is_none();
        let mut open: Vec<&Input> = model.inputs.iter().filter(drawn).collect();
        while !open.is_empty() {
            let before = open.len();
            open.retain(|input| {
                let Some(node) = self.given_node(input, sheet) else { return true };
                sheet.values.insert(input.about.name.clone(), (Shape::Single, vec![Some(node)]));
                false
            });
            if open.len() == before {
                debug_assert!(false, "parameters in a circle");
                return;
            }
        }
    }

    /// Its value, if its parameters are laid.
    fn given_node(&mut self, input: &Input, sheet: &Sheet) -> Option<NodeId> {
        let given = input.given()?;
        let mut operands = Vec::with_capacity(given.parameters.len() + 1);
        for name in given.names() {
            operands.push(sheet.nodes(name).first().copied()?);
        }
        let leaf = self.leaf(&input.about.name)?;
        operands.push(self.graph.leaf(leaf));
        let op = GivenValue { name: input.about.name.clone(), given: Arc::clone(given) };
        let value = self.graph.call_block(Arc::new(op), operands).first().copied()?;
        let scale = self.graph.constant(input.unit.scale);
        Some(self.graph.times(value, scale))
    }

    pub(crate) fn scaled_leaf(&mut self, leaf: u32, scale: f64) -> NodeId {
        let leaf = self.graph.leaf(leaf);
        let scale = self.graph.constant(scale);
        self.graph.times(leaf, scale)
    }

    /// The factor of one year: a leaf, or a number where it is the same in every run.
    pub(super) fn course_node(&mut self, leaf: u32) -> NodeId {
        match self.plan.columns().get(leaf as usize).and_then(|c| c.constant) {
            Some(factor) if !self.move_courses => self.graph.constant(factor),
            _ => self.graph.leaf(leaf),
        }
    }

    pub(super) fn within(
        &mut self,
        mut value: NodeId,
        floor: Option<f64>,
        ceiling: Option<f64>,
        scale: f64,
    ) -> NodeId {
        if let Some(floor) = floor {
            let floor = self.graph.constant(floor * scale);
            value = self.graph.binary(Binary::Max, value, floor);
        }
        if let Some(ceiling) = ceiling {
            let ceiling = self.graph.constant(ceiling * scale);
            value = self.graph.binary(Binary::Min, value, ceiling);
        }
        value
    }

    /// The wanted outputs of a simulated home, from its settings, which are laid already.
    fn lay_home(&mut self, home: &HomeItem, sheet: &mut Sheet) {
        let mut operands: Vec<NodeId> = Vec::new();
        let mut settings = Vec::with_capacity(home.settings.len());
        for SettingItem { setting, unit, values } in &home.settings {
            let cells = match values {
                SettingValues::Held(values) => values.iter().map(|&v| Cell::Held(v)).collect(),
                SettingValues::Working(name) => {
                    let cell = |node| match self.graph.as_constant(node) {
                        Some(value) => Cell::Held(unit.from_base(value)),
                        None => {
                            operands.push(node);
                            Cell::Operand(operands.len() - 1)
                        }
                    };
                    sheet.nodes(name).into_iter().map(cell).collect()
                }
            };
            settings.push(SettingCells { setting: *setting, unit: unit.clone(), cells });
        }
        let scale =
            |output: Output| self.model.units.parse(output.info().unit).map_or(1.0, |unit| unit.scale);
        let op = SimulatedYear {
            seed: self.plan.design().seed,
            vectors: self.plan.vectors,
            stream: home.stream.clone(),
            content: home.content.clone(),
            home: Arc::clone(&home.home),
            settings,
            wanted: home.wanted.iter().map(|&output| (output, scale(output))).collect(),
            years: Years::default(),
        };
        let nodes = self.graph.call_block(Arc::new(op), operands);
        for (output, months) in home.wanted.iter().zip(nodes.chunks_exact(12)) {
            sheet.set(&output_name(&home.about.name, *output), Shape::Monthly, months.to_vec());
        }
    }

    /// Replacements of the drawn life `name`.
    pub(super) fn failures(&mut self, name: &str) -> Option<Arc<Failures>> {
        let held = self.setting.values.get(name).copied();
        let key = held.map_or_else(|| name.to_owned(), |life| format!("{name} = {life}"));
        if let Some(made) = self.renewals.get(&key) {
            return Some(Arc::clone(made));
        }
        let input = self.model.inputs.iter().find(|i| i.about.name == name)?;
        let made = Arc::new(Failures {
            name: name.to_owned(),
            source: self.plan.input(name)?,
            plan: Arc::clone(&self.plan),
            scale: input.unit.scale,
            base: input.base.first().copied()?,
            given: input.given().map(Arc::clone),
            held,
            years: self.model.years,
        });
        self.renewals.insert(key, Arc::clone(&made));
        Some(made)
    }
}

impl<'a, 'm> Laying<'a, 'm> {
    pub(super) fn new(low: &'a mut Lowering<'m>, sheet: &'a Sheet) -> Self {
        Laying { low, sheet, running: BTreeMap::new() }
    }
}

impl Laying<'_, '_> {
    /// Years of the horizon.
    pub(super) fn years(&self) -> usize {
        self.low.model.years
    }

    /// Node of value `index` of `tree`, counted in the tree's own shape.
    pub(super) fn value(&mut self, tree: &Typed, index: usize) -> Result<NodeId, Box<Diagnostic>> {
        let shape = tree.ty.shape;
        self.low.work += 1;
        if self.low.work > MOST_WORK || self.low.graph.len() > MOST_NODES {
            return Err(too_large(tree.span.clone()));
        }
        match &tree.node {
            TypedNode::Constant(value) => Ok(self.low.graph.constant(*value)),
            TypedNode::Name(name) => self.named(name, index, &tree.span),
            TypedNode::Unary(op, a) => {
                let a = self.value(a, a.ty.shape.lane(index, shape))?;
                let op = match op {
                    UnaryOp::Negate => Unary::Negate,
                    UnaryOp::Not => Unary::Not,
                };
                Ok(self.low.graph.unary(op, a))
            }
            TypedNode::Binary(op, a, b) => {
                let left = self.value(a, a.ty.shape.lane(index, shape))?;
                let right = self.value(b, b.ty.shape.lane(index, shape))?;
                Ok(self.binary(*op, left, right))
            }
            TypedNode::Call { function, args } => {
                let key = (Memo::Value, std::ptr::from_ref(tree) as usize, index);
                if let Some(&known) = self.running.get(&key) {
                    return Ok(known);
                }
                let laid = functions::lay(self, function, args, tree, index)?;
                self.running.insert(key, laid);
                Ok(laid)
            }
        }
    }

    fn binary(&mut self, op: BinaryOp, a: NodeId, b: NodeId) -> NodeId {
        let graph = &mut self.low.graph;
        match op {
            BinaryOp::Or => graph.binary(Binary::Or, a, b),
            BinaryOp::And => graph.binary(Binary::And, a, b),
            BinaryOp::Equal => graph.binary(Binary::Equal, a, b),
            BinaryOp::NotEqual => graph.binary(Binary::NotEqual, a, b),
            BinaryOp::Less => graph.binary(Binary::Less, a, b),
            BinaryOp::LessEqual => graph.binary(Binary::LessEqual, a, b),
            BinaryOp::Greater => graph.binary(Binary::Less, b, a),
            BinaryOp::GreaterEqual => graph.binary(Binary::LessEqual, b, a),
            BinaryOp::Add => graph.binary(Binary::Add, a, b),
            BinaryOp::Subtract => graph.binary(Binary::Subtract, a, b),
            BinaryOp::Multiply => graph.binary(Binary::Multiply, a, b),
            BinaryOp::Divide => graph.binary(Binary::Divide, a, b),
            BinaryOp::Power => self.power(a, b),
        }
    }

    /// Whole powers from 2 to 16 are defined as products from the left: exact for squares, and they vectorise.
    fn power(&mut self, a: NodeId, b: NodeId) -> NodeId {
        let graph = &mut self.low.graph;
        match graph.as_constant(b) {
            Some(n) if n.fract() == 0.0 && (2.0..=16.0).contains(&n) => {
                (1..n as usize).fold(a, |product, _| graph.binary(Binary::Multiply, product, a))
            }
            _ => graph.binary(Binary::Power, a, b),
        }
    }

    fn named(&mut self, name: &str, index: usize, span: &Span) -> Result<NodeId, Box<Diagnostic>> {
        if let Some(value) = self.clock(name, index) {
            return Ok(self.low.graph.constant(value));
        }
        let known = self.sheet.values.get(name).and_then(|(_, lanes)| lanes.get(index).copied().flatten());
        known.ok_or_else(|| {
            let message = format!("`{name}` is read for a year that is not yet known");
            let error = Diagnostic::error("year-not-known", message)
                .at(span.clone(), "needs years that themselves hang on this formula")
                .hint("inside a loop through `previous`, read values of the same year or of the year before only");
            Box::new(error)
        })
    }

    fn clock(&self, word: &str, index: usize) -> Option<f64> {
        match word {
            "year" => Some(index as f64),
            "month" => Some(index as f64 + 1.0),
            "calendar_year" => Some(self.low.model.first_year as f64 + index as f64),
            "days_in_month" => Some(DAYS_IN_MONTH[index % 12] / 365.0),
            _ => None,
        }
    }
}

/// Lays a study once to see that no working reads a year that is not yet known, and that there are not too many values.
pub(super) fn try_out(model: &Model) -> Result<(), Box<Diagnostic>> {
    let Ok(plan) = model.plan(model.design()) else { return Ok(()) };
    Lowering::new(model, Arc::new(plan), &BTreeSet::new()).lay(&Setting::default()).map(|_| ())
}
