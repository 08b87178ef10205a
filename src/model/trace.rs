//! How a figure comes about: the formula, the value of each thing it reads,
//! and so on down to the inputs; in the base case or in one run.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::sync::Arc;

use crate::engine::graph::evaluate_once;
use crate::engine::run::LeafSource;
use crate::formula::functions::FunctionOp;
use crate::formula::types::{Kind, Shape, Typed, TypedNode};
use crate::hotwater::outputs::Output;
use crate::model::base::base_leaves;
use crate::model::homes::{HomeItem, SettingItem, SettingValues, output_name};
use crate::model::lower::{Lowering, Setting, Sheet};
use crate::model::{Conversion, Input, InputValue, Model, Path, PathTable, Working};
use crate::sampling::{Design, Plan, Scratch};
use crate::units::Unit;

/// One line of a trace.
#[derive(Debug, Clone, PartialEq)]
pub struct TraceRow {
    /// How deep below what was asked.
    pub depth: usize,
    /// Name.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit, "" if dimensionless.
    pub unit: String,
    /// "input", "choice", "path", "working", "simulated".
    pub sort: &'static str,
    /// Formula as written, or how an input or path is drawn.
    pub formula: String,
    /// Where the figure comes from.
    pub source: Option<String>,
    /// Remark.
    pub note: Option<String>,
    /// Names that it reads, each once.
    pub reads: Vec<String>,
    /// Kind and shape of the values.
    pub kind: Kind,
    /// Shape of the values.
    pub shape: Shape,
    /// Values, in the unit.
    pub values: Vec<f64>,
    /// It stands higher up already; what it reads is not repeated.
    pub seen: bool,
}

/// Trace of `name` in the base case, or in run `run` (from 0) of the study's own sample.
///
/// Names that the study does not have give no rows.
pub fn trace(model: &Model, name: &str, run: Option<u64>, design: Design) -> Vec<TraceRow> {
    traced(model, run, design, |tracing| tracing.visit(name, 0))
}

/// The base case of every name: inputs, paths, what simulated homes give, then workings and results, each in file order.
pub fn sheet(model: &Model, design: Design) -> Vec<TraceRow> {
    let inputs = model.inputs.iter().map(|i| i.about.name.clone());
    let paths = model.paths.iter().map(|p| p.about.name.clone());
    let outputs = model.homes.iter().flat_map(|h| h.wanted.iter().map(|&o| output_name(&h.about.name, o)));
    let workings = model.workings.iter().map(|w| w.about.name.clone());
    let names: Vec<String> = inputs.chain(paths).chain(outputs).chain(workings).collect();
    traced(model, None, design, |tracing| {
        let rows = names.iter().filter_map(|name| tracing.row(name, 0, false)).collect();
        tracing.rows = rows;
    })
}

fn traced(
    model: &Model,
    run: Option<u64>,
    design: Design,
    ask: impl FnOnce(&mut Tracing<'_>),
) -> Vec<TraceRow> {
    let Ok(plan) = model.plan(design) else { return Vec::new() };
    let plan = Arc::new(plan);
    let mut low = Lowering::new(model, Arc::clone(&plan), &BTreeSet::new());
    let Ok(sheet) = low.lay(&Setting::default()) else { return Vec::new() };
    let (leaves, number) = match run {
        None => (base_leaves(model, &plan, &low.leaves), crate::engine::block::BASE_RUN),
        Some(run) => (leaves_of_run(&plan, &low.leaves, run), run),
    };
    let values = evaluate_once(&low.graph, &leaves, number);
    let mut tracing =
        Tracing { model, sheet: &sheet, values: &values, seen: BTreeSet::new(), rows: Vec::new() };
    ask(&mut tracing);
    tracing.rows
}

/// Values of all leaves in one run, in the unit as written.
pub fn leaves_of_run(plan: &Plan, leaves: &[LeafSource], run: u64) -> Vec<f64> {
    let mut drawn = vec![0.0; plan.columns().len()];
    plan.draw(&[], run, 1, &mut drawn, 1, &mut Scratch::default());
    leaves
        .iter()
        .map(|leaf| match *leaf {
            LeafSource::Held(value) => value,
            LeafSource::Drawn(column) => drawn[column],
        })
        .collect()
}

struct Tracing<'a> {
    model: &'a Model,
    sheet: &'a Sheet,
    values: &'a [f64],
    seen: BTreeSet<String>,
    rows: Vec<TraceRow>,
}

impl Tracing<'_> {
    fn visit(&mut self, name: &str, depth: usize) {
        let seen = self.seen.contains(name);
        let Some(row) = self.row(name, depth, seen) else { return };
        self.seen.insert(name.to_owned());
        let reads = if seen { Vec::new() } else { row.reads.clone() };
        self.rows.push(row);
        for read in reads {
            self.visit(&read, depth + 1);
        }
    }

    fn row(&self, name: &str, depth: usize, seen: bool) -> Option<TraceRow> {
        let model = self.model;
        if let Some(working) = model.workings.iter().find(|w| w.about.name == name) {
            return Some(self.of_working(working, depth, seen));
        }
        if let Some(input) = model.inputs.iter().find(|i| i.about.name == name) {
            return Some(self.of_input(input, depth, seen));
        }
        if let Some((home, output)) = output_of(model, name) {
            return self.of_home(home, output, depth, seen);
        }
        let of_path = |p: &&Path| name.split('.').next() == Some(p.about.name.as_str());
        model.paths.iter().find(of_path).map(|path| self.of_path(path, name, depth, seen))
    }

    /// The drawn parts of changes, the scenario, and the inflation that converts.
    fn parts_of(&self, name: &str, converted: bool) -> Vec<String> {
        let model = self.model;
        let parts = model.inputs.iter().filter(|input| input.part_of.as_deref() == Some(name));
        let inflation = model.inflation.iter().filter(|_| converted);
        parts.map(|part| part.about.name.clone()).chain(inflation.cloned()).collect()
    }

    fn values_of(&self, name: &str, unit: &Unit) -> Vec<f64> {
        self.sheet.nodes(name).iter().map(|id| unit.from_base(self.values[id.index()])).collect()
    }

    fn of_working(&self, working: &Working, depth: usize, seen: bool) -> TraceRow {
        TraceRow {
            depth,
            name: working.about.name.clone(),
            label: working.about.label.clone(),
            unit: working.unit.text.clone(),
            sort: "working",
            formula: working.text.clone(),
            source: working.about.source.clone(),
            note: working.about.note.clone(),
            reads: reads(&working.formula, self.model.inflation.as_ref()),
            kind: working.formula.ty.kind.clone(),
            shape: working.shape(),
            values: self.values_of(&working.about.name, &working.unit),
            seen,
        }
    }

    fn of_input(&self, input: &Input, depth: usize, seen: bool) -> TraceRow {
        let (sort, formula) = match &input.value {
            InputValue::Known => ("input", "known".to_owned()),
            InputValue::Choice(values) => ("choice", format!("a choice of {} values", values.len())),
            InputValue::Drawn(distribution) => ("input", format!("drawn: {}", distribution.kind())),
            InputValue::Given(given) => ("input", format!("drawn: {}", given.in_words())),
        };
        let formula = then(formula, input.changes.len(), input.conversion);
        let mut reads: Vec<String> =
            input.given().map_or_else(Vec::new, |given| given.names().map(ToString::to_string).collect());
        reads.extend(self.parts_of(&input.about.name, input.conversion.is_some()));
        TraceRow {
            depth,
            name: input.about.name.clone(),
            label: input.about.label.clone(),
            unit: input.unit.text.clone(),
            sort,
            formula,
            source: input.about.source.clone(),
            note: input.about.note.clone(),
            reads,
            kind: input.ty.kind.clone(),
            shape: input.ty.shape,
            values: self.values_of(&input.about.name, &input.unit),
            seen,
        }
    }

    fn of_home(&self, home: &HomeItem, output: Output, depth: usize, seen: bool) -> Option<TraceRow> {
        let info = output.info();
        let unit = self.model.units.parse(info.unit).ok()?;
        let name = output_name(&home.about.name, output);
        let values = self.values_of(&name, &unit);
        let setting = |setting: &SettingItem| match &setting.values {
            SettingValues::Working(name) => Some(name.clone()),
            SettingValues::Held(_) => None,
        };
        Some(TraceRow {
            depth,
            label: format!("{}: {}", home.about.label, info.key.replace('_', " ")),
            unit: unit.text.clone(),
            sort: "simulated",
            formula: format!("simulated by half hours: {}", info.summary),
            source: home.about.source.clone(),
            note: home.about.note.clone(),
            reads: home.settings.iter().filter_map(setting).collect(),
            kind: Kind::Number { dimension: unit.dimension, point: false },
            shape: Shape::Monthly,
            values,
            seen,
            name,
        })
    }

    fn of_path(&self, path: &Path, name: &str, depth: usize, seen: bool) -> TraceRow {
        let values = self.values_of(name, &path.unit);
        let formula = match &path.table {
            None if path.changes.is_empty() => "start times the course of its growth, shocks and changes",
            None => "start times the course of its growth and shocks",
            Some(PathTable::Years(_)) => "a table of values by year",
            Some(PathTable::Scenarios(_)) => "a scenario of its table by year",
        };
        TraceRow {
            depth,
            name: name.to_owned(),
            label: path.about.label.clone(),
            unit: path.unit.text.clone(),
            sort: "path",
            formula: then(formula.to_owned(), path.changes.len(), path.conversion),
            source: path.about.source.clone(),
            note: path.about.note.clone(),
            reads: self.parts_of(&path.about.name, path.conversion.is_some()),
            kind: Kind::Number { dimension: path.unit.dimension, point: path.unit.point },
            shape: if values.len() == 1 { Shape::Single } else { Shape::Yearly },
            values,
            seen,
        }
    }
}

/// The simulated home and the output that a name stands for.
fn output_of<'m>(model: &'m Model, name: &str) -> Option<(&'m HomeItem, Output)> {
    let (home, output) = name.split_once('.')?;
    let home = model.homes.iter().find(|h| h.about.name == home)?;
    Some((home, Output::of_key(output).filter(|o| home.wanted.contains(o))?))
}

/// How a row is made, with what is done to it by year.
fn then(mut formula: String, changes: usize, conversion: Option<Conversion>) -> String {
    match changes {
        0 => {}
        1 => formula.push_str("; then a change by year"),
        n => {
            let _ = write!(formula, "; then {n} changes by year");
        }
    }
    formula.push_str(match conversion {
        None => "",
        Some(Conversion::ByLevel) => "; divided by the price level",
        Some(Conversion::TimesLevel) => "; times the price level",
        Some(Conversion::RealRate) => "; as a real rate",
        Some(Conversion::NominalRate) => "; as a nominal rate",
    });
    formula
}

/// Names that a formula reads, each once, in the order of the text.
fn reads(formula: &Typed, inflation: Option<&String>) -> Vec<String> {
    fn walk(tree: &Typed, inflation: Option<&String>, out: &mut Vec<String>) {
        match &tree.node {
            TypedNode::Constant(_) => {}
            TypedNode::Name(name) => {
                if !out.contains(name) {
                    out.push(name.clone());
                }
            }
            TypedNode::Unary(_, a) => walk(a, inflation, out),
            TypedNode::Binary(_, a, b) => {
                walk(a, inflation, out);
                walk(b, inflation, out);
            }
            TypedNode::Call { function, args } => {
                args.iter().for_each(|arg| walk(arg, inflation, out));
                let levels = matches!(function.op, FunctionOp::Inflate | FunctionOp::Deflate);
                out.extend(inflation.filter(|name| levels && !out.contains(*name)).cloned());
            }
        }
    }
    let mut out = Vec::new();
    walk(formula, inflation, &mut out);
    out
}
