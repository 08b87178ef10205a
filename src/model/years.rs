//! What differs by year laid into the graph: changes of inputs, paths with their tables, changes, floors and ceilings,
//! and the conversion between real and nominal money.

use crate::diagnostic::Diagnostic;
use crate::engine::graph::NodeId;
use crate::engine::ops::{Binary, Unary};
use crate::formula::types::Shape;
use crate::model::lower::{Lowering, MOST_NODES, Sheet, too_large};
use crate::model::{Change, Conversion, Part, Path, PathTable};
use crate::study::Effect;

/// The price level at the end of each year, 1 at the start of the first; no name of a study has a space.
pub(super) const PRICE_LEVEL: &str = "price level";

/// Years of a path, before its floor and ceiling, and what moves in them when the path is moved as one.
struct Course {
    start: NodeId,
    values: Vec<NodeId>,
    moving: Vec<NodeId>,
}

impl Lowering<'_> {
    /// Inputs that change have a value for each year (and month).
    pub(super) fn lay_changes(&mut self, sheet: &mut Sheet) -> Result<(), Box<Diagnostic>> {
        let model = self.model;
        for input in model.inputs.iter().filter(|input| !input.changes.is_empty()) {
            let own = sheet.nodes(&input.about.name);
            let lanes: Vec<NodeId> = own.iter().copied().cycle().take(own.len() * model.years).collect();
            let lanes = self.changed(lanes, &input.changes, input.unit.scale, sheet);
            sheet.set(&input.about.name, input.own_shape().join(Shape::Yearly), lanes);
            if self.graph.len() > MOST_NODES {
                return Err(too_large(input.about.span.clone()));
            }
        }
        Ok(())
    }

    /// Values by year (or by year and month) after the changes, each of which acts from its year on upon what those
    /// listed before it leave.
    fn changed(
        &mut self,
        mut lanes: Vec<NodeId>,
        changes: &[Change],
        scale: f64,
        sheet: &Sheet,
    ) -> Vec<NodeId> {
        let a_year = (lanes.len() / self.model.years.max(1)).max(1);
        for change in changes {
            let begins = self.begins(change, sheet);
            let unit = if change.effect == Effect::Scale { 1.0 } else { scale };
            let by = self.part(&change.by, unit, sheet);
            for (k, lane) in lanes.iter_mut().enumerate() {
                let now = self.graph.constant(self.model.first_year as f64 + (k / a_year) as f64);
                let has_come = self.graph.binary(Binary::LessEqual, begins, now);
                let after = match change.effect {
                    Effect::Scale => self.graph.times(*lane, by),
                    Effect::To => by,
                    Effect::Add => self.graph.add_up(*lane, by),
                    Effect::AtMost => self.graph.binary(Binary::Min, *lane, by),
                    Effect::AtLeast => self.graph.binary(Binary::Max, *lane, by),
                };
                *lane = self.graph.select(has_come, after, *lane);
            }
        }
        lanes
    }

    /// Calendar year from which a change holds; infinite where it does not come.
    fn begins(&mut self, change: &Change, sheet: &Sheet) -> NodeId {
        let year = self.part(&change.year, 1.0, sheet);
        let year = self.graph.unary(Unary::Floor, year);
        let comes = self.part(&change.comes, 1.0, sheet);
        let never = self.graph.constant(f64::INFINITY);
        self.graph.select(comes, year, never)
    }

    fn part(&mut self, part: &Part, scale: f64, sheet: &Sheet) -> NodeId {
        match part {
            Part::Known(x) => self.graph.constant(x * scale),
            Part::Input(name) => {
                let node = sheet.nodes(name).first().copied();
                node.unwrap_or_else(|| self.graph.constant(f64::NAN))
            }
        }
    }

    pub(super) fn lay_paths(&mut self, sheet: &mut Sheet) -> Result<(), Box<Diagnostic>> {
        let model = self.model;
        for path in &model.paths {
            let name = &path.about.name;
            let Course { start, values, moving } = match &path.table {
                None => self.drawn_course(path),
                Some(PathTable::Years(values)) => self.table_of_years(path, values),
                Some(PathTable::Scenarios(columns)) => self.scenario(path, columns, sheet),
            };
            if !path.is_plain() {
                sheet.set(&Sheet::moving_name(name), Shape::Yearly, moving);
            }
            let values = self.changed(values, &path.changes, path.unit.scale, sheet);
            let values =
                values.into_iter().map(|v| self.within(v, path.floor, path.ceiling, path.unit.scale));
            let values: Vec<NodeId> = values.collect();
            sheet.set(&format!("{name}.start"), Shape::Single, vec![start]);
            sheet.set(name, Shape::Yearly, values);
            if self.graph.len() > MOST_NODES {
                return Err(too_large(path.about.span.clone()));
            }
        }
        Ok(())
    }

    fn start(&mut self, path: &Path) -> NodeId {
        match self.leaf(&format!("{}.start", path.about.name)) {
            Some(leaf) => self.scaled_leaf(leaf, path.unit.scale),
            None => self.graph.constant(path.start * path.unit.scale),
        }
    }

    /// Start times the course that the plan draws.
    fn drawn_course(&mut self, path: &Path) -> Course {
        let start = self.start(path);
        let leaves = self.course_leaves(&path.about.name);
        let values: Vec<NodeId> = leaves
            .into_iter()
            .map(|leaf| {
                let course = self.course_node(leaf);
                self.graph.times(start, course)
            })
            .collect();
        Course { start, moving: values.clone(), values }
    }

    /// A table moves as a whole with its first value; where that is 0 it cannot be moved.
    fn table_of_years(&mut self, path: &Path, values: &[f64]) -> Course {
        let start = self.start(path);
        let first = self.graph.constant(path.start * path.unit.scale);
        let one = self.graph.constant(1.0);
        let factor = if path.start == 0.0 { one } else { self.graph.binary(Binary::Divide, start, first) };
        let scaled = values.iter().map(|x| {
            let x = self.graph.constant(x * path.unit.scale);
            self.graph.times(factor, x)
        });
        let values: Vec<NodeId> = scaled.collect();
        Course { start, moving: vec![start; values.len()], values }
    }

    /// The column of the scenario of the run.
    fn scenario(&mut self, path: &Path, columns: &[Vec<f64>], sheet: &Sheet) -> Course {
        let which = self.part(&Part::Input(path.scenario()), 1.0, sheet);
        let is: Vec<NodeId> = (0..columns.len())
            .map(|k| {
                let k = self.graph.constant(k as f64);
                self.graph.binary(Binary::Equal, which, k)
            })
            .collect();
        let values: Vec<NodeId> = (0..self.model.years)
            .map(|t| {
                let at = |column: &Vec<f64>| column.get(t).copied().unwrap_or(f64::NAN) * path.unit.scale;
                let last = self.graph.constant(columns.last().map_or(f64::NAN, at));
                let others = columns.iter().zip(&is).rev().skip(1);
                others.fold(last, |otherwise, (column, &is)| {
                    let value = self.graph.constant(at(column));
                    self.graph.select(is, value, otherwise)
                })
            })
            .collect();
        let still = self.graph.constant(0.0);
        let start = values.first().copied().unwrap_or(still);
        Course { start, moving: vec![still; values.len()], values }
    }

    /// The price level, and what is given in the other money brought into that of the study.
    pub(super) fn lay_money(&mut self, sheet: &mut Sheet) {
        let model = self.model;
        let Some(name) = &model.inflation else { return };
        let inflation = sheet.nodes(name);
        let rate = |t: usize| inflation.get(t).or(inflation.first()).copied();
        let one = self.graph.constant(1.0);
        let mut level = one;
        let mut levels = Vec::with_capacity(model.years);
        let mut growths = Vec::with_capacity(model.years);
        for t in 0..model.years {
            let Some(rate) = rate(t) else { return };
            let growth = self.graph.add_up(one, rate);
            growths.push(growth);
            // Amounts fall at the end of their year, the outlay at the start of the first: so says `npv`, and only so does
            // a nominal rate discount a nominal amount to what the real ones give.
            level = self.graph.times(level, growth);
            levels.push(level);
        }
        for input in &model.inputs {
            if let Some(conversion) = input.conversion {
                self.convert(&input.about.name, conversion, input.ty.shape, (&levels, &growths), sheet);
            }
        }
        for path in &model.paths {
            if let Some(conversion) = path.conversion {
                let start = format!("{}.start", path.about.name);
                self.convert(&start, conversion, Shape::Single, (&levels, &growths), sheet);
                self.convert(&path.about.name, conversion, Shape::Yearly, (&levels, &growths), sheet);
            }
        }
        sheet.set(PRICE_LEVEL, Shape::Yearly, levels);
    }

    /// Puts the values of `name` in the shape `to` and in the money of the study.
    fn convert(
        &mut self,
        name: &str,
        conversion: Conversion,
        to: Shape,
        (levels, growths): (&[NodeId], &[NodeId]),
        sheet: &mut Sheet,
    ) {
        let own = sheet.nodes(name);
        let shape = sheet.shape(name).unwrap_or(Shape::Single);
        let one = self.graph.constant(1.0);
        let converted = (0..to.len(self.model.years)).filter_map(|k| {
            let value = own.get(shape.lane(k, to)).copied()?;
            let year = Shape::Yearly.lane(if to.has_years() { k } else { 0 }, to);
            let graph = &mut self.graph;
            let above = |graph: &mut crate::engine::graph::Graph| graph.add_up(one, value);
            Some(match conversion {
                Conversion::TimesLevel => graph.times(value, levels[year]),
                Conversion::ByLevel => graph.binary(Binary::Divide, value, levels[year]),
                Conversion::RealRate => {
                    let above = above(graph);
                    let ratio = graph.binary(Binary::Divide, above, growths[year]);
                    graph.binary(Binary::Subtract, ratio, one)
                }
                Conversion::NominalRate => {
                    let above = above(graph);
                    let product = graph.times(above, growths[year]);
                    graph.binary(Binary::Subtract, product, one)
                }
            })
        });
        let converted: Vec<NodeId> = converted.collect();
        sheet.set(name, to, converted);
    }
}
