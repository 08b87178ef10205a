//! The base case: every input at its base value, one deterministic column of numbers.

use crate::engine::block::BASE_RUN;
use crate::engine::graph::evaluate_once;
use crate::engine::run::LeafSource;
use crate::model::lower::Lowering;
use crate::model::{InputValue, Model};
use crate::sampling::Plan;

/// Base value of every leaf, in the unit as written; of an input whose parameters are inputs, its score.
pub fn base_leaves(model: &Model, plan: &Plan, leaves: &[LeafSource]) -> Vec<f64> {
    leaves
        .iter()
        .map(|leaf| match *leaf {
            LeafSource::Held(value) => value,
            LeafSource::Drawn(column) => {
                let column = &plan.columns()[column];
                base_of_column(model, &column.name, column.lane.unwrap_or(0))
            }
        })
        .collect()
}

fn base_of_column(model: &Model, name: &str, lane: usize) -> f64 {
    if let Some(input) = model.inputs.iter().find(|i| i.about.name == name) {
        if let InputValue::Given(given) = &input.value {
            return given.base_score;
        }
        return input.base.get(lane).copied().unwrap_or(f64::NAN);
    }
    let Some((path, part)) = name.split_once('.') else { return f64::NAN };
    let Some(path) = model.paths.iter().find(|p| p.about.name == path) else { return f64::NAN };
    match part {
        "start" => path.start,
        "course" => path.course.get(lane).copied().unwrap_or(f64::NAN),
        // Growth and changes act through the course; no working reads them.
        _ => f64::NAN,
    }
}

/// Value of every node in the base case, in base units.
pub fn base_values(low: &Lowering<'_>, model: &Model, plan: &Plan) -> Vec<f64> {
    evaluate_once(&low.graph, &base_leaves(model, plan, &low.leaves), BASE_RUN)
}
