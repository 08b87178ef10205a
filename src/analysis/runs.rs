//! Every run by itself: what was drawn in it and what came of it, column by column, a part of the runs at a time.
//!
//! These are the runs behind the answers: the same study under the same design draws the same values, to the last bit.

use std::collections::BTreeSet;

use crate::analysis::appraise::kind_of;
use crate::analysis::choices::affected;
use crate::analysis::facts::value_in_words;
use crate::analysis::laid::Laid;
use crate::analysis::{AppraisalError, ResultKind, SamplingFacts};
use crate::engine::graph::NodeId;
use crate::engine::program::Program;
use crate::engine::run::{CHUNK, Control, Job, Stopped, by_chunk};
use crate::formula::types::{Kind, Shape};
use crate::model::{About, Input, InputValue, Model};
use crate::sampling::{Design, Method, Vectors};
use crate::units::Unit;
use crate::wording::clean;

/// Most values (runs times columns) that are written: a gigabyte of numbers.
pub const MOST_VALUES: u64 = 1 << 27;

/// Chunks of runs that are held at a time.
const CHUNKS_AT_A_TIME: u64 = 16;

/// What a column holds.
#[derive(Debug, Clone, PartialEq)]
pub enum RunValue {
    /// Numbers.
    Number,
    /// Years, or never as +infinity.
    Years,
    /// 1 for yes, 0 for no.
    YesNo,
    /// Places in this list of labels.
    Label(Vec<String>),
}

/// Where a column comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RunRole {
    /// An input, or a drawn part of a change.
    Input,
    /// A price path: its start, its growth, its level in a year.
    Path,
    /// A working of one value.
    Working,
    /// A result.
    Result,
}

impl RunRole {
    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            RunRole::Input => "input",
            RunRole::Path => "path",
            RunRole::Working => "working",
            RunRole::Result => "result",
        }
    }
}

/// A column: a value for each run.
#[derive(Debug, Clone)]
pub struct RunColumn {
    /// Its name, which no other column has: `NAME`, `NAME.start`, `NAME.2027`, `RESULT.CHOICE=VALUE`.
    pub name: String,
    /// Name in the study.
    pub of: String,
    /// Plain name.
    pub label: String,
    /// Unit, "" if dimensionless.
    pub unit: String,
    /// What it holds.
    pub value: RunValue,
    /// Where it comes from.
    pub role: RunRole,
    /// Calendar year, of a value by year.
    pub year: Option<i64>,
    /// The choice that has another value than its base, and that value as the reader writes it.
    pub choice: Option<(String, String)>,
}

/// A column and where its values come from.
struct Source {
    column: RunColumn,
    node: NodeId,
    /// The unit in which it is told; of a part of a path none, since it is drawn in it.
    unit: Option<Unit>,
}

/// The runs of a study, ready to be drawn.
pub struct RunTable<'m> {
    laid: Laid<'m>,
    design: Design,
    program: Program,
    columns: Vec<RunColumn>,
    /// Of each column, its place among the wanted values and its unit.
    places: Vec<(usize, Option<Unit>)>,
}

/// Some of the runs, one after another.
pub struct RunPart {
    /// Number of the first run.
    pub first: u64,
    /// How many.
    pub runs: usize,
    /// By column, in its unit; NaN where a run has no value.
    pub columns: Vec<Vec<f64>>,
}

/// The design behind answers.
pub fn design_of(facts: &SamplingFacts) -> Design {
    let method = match facts.method.as_str() {
        "random" => Method::Random,
        "latin hypercube" => Method::LatinHypercube,
        _ => Method::Sobol,
    };
    Design::new(facts.seed, method, facts.replicates, facts.runs)
}

/// Why so many runs of this study are not written one by one, in a sentence; none if they are.
pub fn too_many(model: &Model, runs: u64) -> Option<String> {
    let columns = most_columns(model);
    let most = MOST_VALUES / columns;
    (runs > most).then(|| {
        format!(
            "{runs} runs with up to {columns} columns each are more than a file of runs takes; at most {most} of this \
             study can be saved"
        )
    })
}

/// Columns at most, told without laying the study.
fn most_columns(model: &Model) -> u64 {
    let inputs = model.inputs.iter().filter(|i| is_told(i)).map(|i| i.ty.shape.len(model.years));
    let paths = model.paths.iter().map(|path| model.years + 2 + 3 * path.spec.changes.len());
    let others = model.inputs.iter().map(|input| match &input.value {
        InputValue::Choice(values) => values.len().saturating_sub(1) * model.results.len(),
        _ => 0,
    });
    let total: usize = inputs.chain(paths).chain(others).sum::<usize>() + model.workings.len() + 2;
    total as u64
}

/// Whether an input differs from run to run, by one value or by year.
fn is_told(input: &Input) -> bool {
    match input.ty.shape {
        Shape::Single => input.is_drawn(),
        Shape::Yearly => true,
        Shape::Monthly | Shape::MonthlyByYearly => false,
    }
}

impl<'m> RunTable<'m> {
    /// The runs of `model` under `design`.
    ///
    /// # Errors
    /// When the draws cannot be made under this design.
    pub fn new(model: &'m Model, design: Design) -> Result<Self, AppraisalError> {
        let plan = model.plan(design).map_err(AppraisalError::Plan)?;
        let mut laid = Laid::new(model, plan).map_err(AppraisalError::Workings)?;
        let mut sources = inputs(&laid);
        sources.extend(paths(&mut laid));
        sources.extend(workings(&laid));
        sources.extend(under_choices(&laid));
        let mut wanted: Vec<NodeId> = sources.iter().map(|source| source.node).collect();
        wanted.sort_unstable();
        wanted.dedup();
        let program = Program::of_runs(&laid.low.graph, &wanted);
        let place = |node: NodeId| wanted.iter().position(|&n| n == node).unwrap_or(0);
        let places = sources.iter().map(|s| (place(s.node), s.unit.clone())).collect();
        let mut columns: Vec<RunColumn> = sources.into_iter().map(|source| source.column).collect();
        tell_apart(&mut columns);
        Ok(RunTable { laid, design, program, columns, places })
    }

    /// What there is of each run.
    pub fn columns(&self) -> &[RunColumn] {
        &self.columns
    }

    /// How the runs are drawn.
    pub fn design(&self) -> Design {
        self.design
    }

    /// How many parts there are.
    pub fn n_parts(&self) -> u64 {
        self.design.runs.div_ceil(CHUNKS_AT_A_TIME * CHUNK as u64)
    }

    /// Draws part `k`.
    ///
    /// # Errors
    /// When stopped through `control`.
    pub fn part(&self, k: u64, control: &Control) -> Result<RunPart, Stopped> {
        let job = Job {
            program: &self.program,
            plan: &self.laid.plan,
            leaves: &self.laid.low.leaves,
            n_runs: self.design.runs,
            block: None,
            epoch: 0,
            vectors: Vectors::Widest,
        };
        let chunks = k * CHUNKS_AT_A_TIME..(k + 1) * CHUNKS_AT_A_TIME;
        let first = chunks.start * CHUNK as u64;
        let made = by_chunk(job, control, chunks, |_, columns| columns.to_vec())?;
        let column = |(column, (place, unit)): (&RunColumn, &(usize, Option<Unit>))| {
            let values = made.iter().flat_map(|chunk| chunk[*place].iter());
            values.map(|&x| told(x, &column.value, unit.as_ref())).collect::<Vec<f64>>()
        };
        let columns: Vec<Vec<f64>> = self.columns.iter().zip(&self.places).map(column).collect();
        let runs = made.iter().map(|chunk| chunk.first().map_or(0, Vec::len)).sum();
        Ok(RunPart { first, runs, columns })
    }
}

/// A value as the reader is told it: in its unit; what is no value is NaN, as in the answers.
fn told(x: f64, value: &RunValue, unit: Option<&Unit>) -> f64 {
    let x = unit.filter(|unit| unit.scale != 1.0).map_or(x, |unit| unit.from_base(x));
    let meant = x.is_finite() || (*value == RunValue::Years && x == f64::INFINITY);
    if meant { x } else { f64::NAN }
}

/// Labels of a choice may differ in nothing that can be seen.
fn tell_apart(columns: &mut [RunColumn]) {
    let mut names = BTreeSet::new();
    for column in columns {
        while !names.insert(column.name.clone()) {
            column.name.push('_');
        }
    }
}

fn value_of(kind: &Kind) -> RunValue {
    match kind {
        Kind::Label(labels) => RunValue::Label(labels.clone()),
        other => match kind_of(other) {
            ResultKind::Number => RunValue::Number,
            ResultKind::Years => RunValue::Years,
            ResultKind::YesNo => RunValue::YesNo,
        },
    }
}

fn column(about: &About, unit: &Unit, value: RunValue, role: RunRole) -> RunColumn {
    let (name, label) = (about.name.clone(), about.label.clone());
    RunColumn {
        of: name.clone(),
        name,
        label,
        unit: unit.text.clone(),
        value,
        role,
        year: None,
        choice: None,
    }
}

/// One column a value: by year where there are several.
fn by_year(laid: &Laid<'_>, column: &RunColumn, nodes: &[NodeId], unit: &Unit) -> Vec<Source> {
    let source = |(k, &node): (usize, &NodeId)| {
        let mut column = column.clone();
        if nodes.len() > 1 {
            let year = laid.model.first_year.saturating_add(k as i64);
            column.name = format!("{}.{year}", column.of);
            column.year = Some(year);
        }
        Source { column, node, unit: Some(unit.clone()) }
    };
    nodes.iter().enumerate().map(source).collect()
}

fn inputs(laid: &Laid<'_>) -> Vec<Source> {
    let told = laid.model.inputs.iter().filter(|input| is_told(input));
    told.flat_map(|input| {
        let column = column(&input.about, &input.unit, value_of(&input.ty.kind), RunRole::Input);
        by_year(laid, &column, &laid.base.nodes(&input.about.name), &input.unit)
    })
    .collect()
}

/// Of each path what is drawn once, then its level by year.
fn paths(laid: &mut Laid<'_>) -> Vec<Source> {
    let mut sources = Vec::new();
    for path in &laid.model.paths {
        let name = &path.about.name;
        let parts = laid.plan.columns().iter().enumerate().filter(|(_, drawn)| {
            let of_input = laid.model.inputs.iter().any(|input| input.about.name == drawn.name);
            let of_path = drawn.name.strip_prefix(name.as_str()).is_some_and(|rest| rest.starts_with('.'));
            of_path && !of_input && drawn.lane.is_none() && drawn.constant.is_none()
        });
        let parts: Vec<(u32, String)> = parts.map(|(k, drawn)| (k as u32, drawn.name.clone())).collect();
        for (leaf, part) in parts {
            let rest = part[name.len() + 1..].to_owned();
            let unit = match rest.as_str() {
                "start" => path.unit.text.clone(),
                "growth" => "1/yr".to_owned(),
                _ => String::new(),
            };
            let about = RunColumn {
                name: part,
                label: format!("{}: {}", path.about.label, rest.replace('.', ", ")),
                unit,
                ..column(&path.about, &path.unit, RunValue::Number, RunRole::Path)
            };
            sources.push(Source { column: about, node: laid.low.graph.leaf(leaf), unit: None });
        }
        let levels = column(&path.about, &path.unit, RunValue::Number, RunRole::Path);
        sources.extend(by_year(laid, &levels, &laid.base.nodes(name), &path.unit));
    }
    sources
}

/// Workings of one value, results last.
fn workings(laid: &Laid<'_>) -> Vec<Source> {
    let model = laid.model;
    let is_result = |k: usize| model.results.iter().any(|result| result.working == k);
    let single = |k: &usize| model.workings[*k].shape() == Shape::Single;
    let order = (0..model.workings.len()).filter(|&k| !is_result(k));
    let order = order.chain(model.results.iter().map(|result| result.working));
    order
        .filter(single)
        .filter_map(|k| {
            let working = &model.workings[k];
            let role = if is_result(k) { RunRole::Result } else { RunRole::Working };
            let column = column(&working.about, &working.unit, value_of(&working.formula.ty.kind), role);
            let node = laid.base.nodes(&working.about.name).first().copied()?;
            Some(Source { column, node, unit: Some(working.unit.clone()) })
        })
        .collect()
}

/// Results at each other value of each choice, where they differ.
fn under_choices(laid: &Laid<'_>) -> Vec<Source> {
    let model = laid.model;
    let mut sources = Vec::new();
    for (other, touched) in laid.others.iter().zip(affected(laid)) {
        let choice = &model.inputs[other.input];
        let value = match &choice.ty.kind {
            Kind::Label(labels) => labels.get(other.value as usize).cloned().unwrap_or_default(),
            _ => other.value.to_string(),
        };
        let value = clean(&value);
        for (result, node) in touched {
            let working = model.result_working(&model.results[result]);
            let base =
                column(&working.about, &working.unit, value_of(&working.formula.ty.kind), RunRole::Result);
            let words = value_in_words(choice, other.value);
            let column = RunColumn {
                name: format!("{}.{}={value}", working.about.name, choice.about.name),
                label: format!("{} ({}: {words})", working.about.label, choice.about.label),
                choice: Some((choice.about.name.clone(), value.clone())),
                ..base
            };
            sources.push(Source { column, node, unit: Some(working.unit.clone()) });
        }
    }
    sources
}
