//! Variance-based global indices: what share of a result's variance hangs on
//! each input by itself (first order) and on it together with all others
//! (total), from runs made for the purpose: n (d + 2) for d groups.
//!
//! A path with all its draws is one group; what links join is one group too,
//! because the design swaps columns and would tear it apart (Jacques,
//! Lavergne, Devictor 2006, *Sensitivity analysis in presence of model
//! uncertainty and correlated inputs*). Shapley effects share the variance out
//! among the members of such a set.

mod design;
pub mod estimators;
mod shapley;
mod spread;
mod target;
mod units;

use schemars::JsonSchema;
use serde::Serialize;

use crate::analysis::laid::Laid;
use crate::analysis::{AppraisalError, Estimate, Interval};
use crate::engine::program::Program;
use crate::engine::run::Control;
use crate::model::Model;
use crate::sampling::{Design, Method, Vectors};
use crate::wording::{in_sentence, listed};

use design::Matrices;
use target::Target;
use units::{Group, Unit};

pub use shapley::{Shapley, ShapleyRow};
pub use spread::Spread;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct IndexWish {
    /// How the rows of both matrices are drawn; its runs are the rows of each (the base points).
    pub design: Design,
    /// Whether independent rows get their intervals by the bootstrap; stratified ones always have theirs by replicates.
    pub bootstrap: bool,
    /// Whether Shapley effects are made too.
    pub shapley: bool,
    /// Rows in a block; chosen by the program if none. It changes no figure.
    pub block: Option<usize>,
    /// Which compiled form of the kernels is used. It changes no figure.
    pub vectors: Vectors,
    /// Question number, compared with the control's.
    pub epoch: u64,
}

impl IndexWish {
    /// Method, seed and replicates of the study, at least `base_points` rows, with intervals, without Shapley effects.
    pub fn of(model: &Model, base_points: u64) -> Self {
        IndexWish {
            design: model.design().with_runs(base_points),
            bootstrap: true,
            shapley: false,
            block: None,
            vectors: Vectors::Widest,
            epoch: 0,
        }
    }
}

/// Indices of a result.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct GlobalIndices {
    /// Name of the result.
    pub result: String,
    /// Its plain name.
    pub label: String,
    /// Its unit; that of the variance is the square of it. Empty where the variance is that of a yes or no.
    pub unit: String,
    /// "value", or the rule whose yes or no (1 or 0) has the variance.
    pub of: String,
    /// Rows of each matrix.
    pub base_points: u64,
    /// Rows left out because the result has no value in one of their runs.
    pub left_out: u64,
    /// Runs made for these indices, without those of the Shapley effects.
    pub evaluations: u64,
    /// Variance of the result.
    pub variance: Estimate,
    /// A row for each group, the largest total first.
    pub rows: Vec<IndexRow>,
    /// Sum of the first-order indices.
    pub sum_first: Option<Estimate>,
    /// 1 less that sum: what groups only do together.
    pub interactions: Option<Estimate>,
    /// Largest of the rows' floors: first orders below it may be chance.
    pub floor: f64,
    /// How the intervals were made.
    pub interval: Interval,
    /// Shapley effects, if asked for.
    pub shapley: Option<Shapley>,
    /// What the reader should know.
    pub notes: Vec<String>,
}

/// Indices of one group.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct IndexRow {
    /// Names of its inputs and paths.
    pub names: Vec<String>,
    /// Their plain names, joined.
    pub label: String,
    /// First-order index: share of the variance that would go if it were known. Noise may put it a little below 0.
    pub first: Estimate,
    /// Total index: share of the variance that would be left if all else were known.
    pub total: Estimate,
    /// What the first order may show by chance, in 95 of 100 cases, for a group without any effect by itself.
    pub floor: f64,
    /// Joined by correlations.
    pub linked: bool,
    /// A single path.
    pub is_path: bool,
    /// Whether the result reads it at all; if not, both indices are exactly 0.
    pub read: bool,
}

/// Indices of result `result` of a checked study, which is laid for the purpose.
///
/// # Errors
/// As [`appraise`](crate::analysis::appraise()); [`AppraisalError::Workings`] for a result that does not exist.
pub fn of_model(
    model: &Model,
    result: usize,
    wish: IndexWish,
    control: &Control,
) -> Result<GlobalIndices, AppraisalError> {
    let plan = model.plan(wish.design).map_err(AppraisalError::Plan)?;
    let laid = Laid::new(model, plan.with_vectors(wish.vectors)).map_err(AppraisalError::Workings)?;
    indices(&laid, result, wish, control)
}

/// Indices of result `result` of a study that is laid, choices at their base values.
///
/// # Errors
/// As [`of_model`].
pub(super) fn indices(
    laid: &Laid<'_>,
    result: usize,
    wish: IndexWish,
    control: &Control,
) -> Result<GlobalIndices, AppraisalError> {
    let model = laid.model;
    let plan = model.plan(wish.design).map_err(AppraisalError::Plan)?.with_vectors(wish.vectors);
    let second = plan.second();
    let (mut target, node) = Target::of(laid, result)?;
    let program = Program::of_runs(&laid.low.graph, &[node]);
    let leaves = &laid.low.leaves;
    let units = units::units(model, &plan, &program, leaves, units::draws_by_run(&laid.low.graph, node));
    let groups = units::groups(model, &units);
    let matrices = Matrices {
        graph: &laid.low.graph,
        node,
        program: &program,
        leaves,
        first: &plan,
        second: &second,
        rows: wish.design.runs,
        block: wish.block,
        vectors: wish.vectors,
        epoch: wish.epoch,
    };
    let mut columns = matrices.columns(&units, &groups, |x| target.value(x), control)?;
    target.settle(&mut columns);
    let how = spread_of(wish);
    let found = estimators::indices_of(&columns, how, wish.vectors);
    drop(columns);
    let read = groups.iter().filter(|group| group.units.iter().any(|&u| units[u].read)).count();
    let mut answer = target.answer(wish.design.runs, wish.design.runs * (read as u64 + 2));
    answer.notes.extend(notes(model, &units, &groups, found.is_some()));
    let Some(found) = found else { return Ok(answer) };
    let rows = groups.iter().zip(&found.groups);
    answer.rows = rows.map(|(group, found)| row(&units, group, found)).collect();
    let totals: Vec<f64> = answer.rows.iter().map(|row| row.total.value.number().unwrap_or(0.0)).collect();
    answer.rows.sort_by(|a, b| total_of(b).total_cmp(&total_of(a)));
    answer.left_out = found.left_out;
    answer.floor = answer.rows.iter().map(|row| row.floor).fold(0.0, f64::max);
    answer.interval = found.variance.interval;
    answer.variance = found.variance;
    answer.sum_first = Some(found.sum_first);
    answer.interactions = Some(found.interactions);
    if found.left_out > 0 {
        answer.notes.push(left_out(found.left_out, wish.design.runs));
    }
    if wish.shapley {
        let players = shapley::players(&units, &groups, &totals);
        match shapley::shapley(&matrices, players, &target, how, control) {
            Ok(effects) => answer.shapley = effects,
            Err(AppraisalError::Plan(error)) => answer.notes.push(format!("No Shapley effects: {error}.")),
            Err(stopped) => return Err(stopped),
        }
    }
    Ok(answer)
}

fn spread_of(wish: IndexWish) -> Spread {
    match wish.design.method {
        Method::Random if wish.bootstrap => Spread::Bootstrap(wish.design.seed),
        Method::Random => Spread::None,
        Method::Sobol | Method::LatinHypercube => Spread::Replicates(wish.design.replicates),
    }
}

fn total_of(row: &IndexRow) -> f64 {
    row.total.value.number().unwrap_or(0.0)
}

fn row(units: &[Unit], group: &Group, found: &estimators::GroupIndices) -> IndexRow {
    let members = || group.units.iter().map(|&u| &units[u]);
    IndexRow {
        names: members().map(|unit| unit.name.clone()).collect(),
        label: joined(members().map(|unit| unit.label.as_str())),
        first: found.first.clone(),
        total: found.total.clone(),
        floor: found.floor,
        linked: group.units.len() > 1,
        is_path: group.units.len() == 1 && members().all(|unit| unit.is_path),
        read: members().any(|unit| unit.read),
    }
}

/// "a", "a and b", "a, b and c".
fn joined<'a>(labels: impl Iterator<Item = &'a str>) -> String {
    // In a list only the first begins with a capital.
    let word = |(k, label): (usize, &str)| if k == 0 { label.to_owned() } else { in_sentence(label) };
    let all: Vec<String> = labels.enumerate().map(word).collect();
    listed(&all)
}

fn notes(model: &Model, units: &[Unit], groups: &[Group], varies: bool) -> Vec<String> {
    let mut notes = Vec::new();
    if !varies {
        notes.push("The result does not vary, so there is no variance to share out.".to_owned());
    }
    for group in groups.iter().filter(|group| group.units.len() > 1) {
        let names = joined(group.units.iter().map(|&u| units[u].label.as_str()));
        notes.push(format!(
            "{names} are correlated and stand as one: these indices change one input without the others, which would tear \
             them apart (Jacques, Lavergne, Devictor 2006). Shapley effects tell their parts."
        ));
    }
    if model.inputs.iter().any(|input| matches!(input.value, crate::model::InputValue::Choice(_))) {
        notes.push("Choices are at their base values.".to_owned());
    }
    notes
}

fn left_out(rows: u64, of: u64) -> String {
    format!("{rows} of {of} rows are left out: the result has no value in at least one of their runs.")
}
