//! The base case of parts of formulas: what a spreadsheet needs where a function goes over a row that has no name.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::engine::block::BASE_RUN;
use crate::engine::graph::{NodeId, evaluate_once};
use crate::formula::types::Typed;
use crate::model::Model;
use crate::model::base::base_leaves;
use crate::model::lower::{Laying, Lowering, Setting};
use crate::model::years::PRICE_LEVEL;

/// Values of parts of formulas in the base case, in base units.
#[derive(Debug, Default)]
pub struct Parts {
    /// Of each part, in the order of its own shape; empty if it cannot be laid by itself.
    pub values: Vec<Vec<f64>>,
    /// The price level at the end of each year; empty where the study has no inflation.
    pub price_level: Vec<f64>,
}

/// The base case of `trees`, which are parts of the model's own formulas.
pub fn parts(model: &Model, trees: &[&Typed]) -> Parts {
    let Ok(plan) = model.plan(model.design()) else { return Parts::default() };
    let plan = Arc::new(plan);
    let mut low = Lowering::new(model, Arc::clone(&plan), &BTreeSet::new());
    let Ok(sheet) = low.lay(&Setting::default()) else { return Parts::default() };
    let mut nodes: Vec<Vec<NodeId>> = Vec::with_capacity(trees.len());
    {
        let mut laying = Laying::new(&mut low, &sheet);
        for tree in trees {
            let all = (0..tree.ty.shape.len(model.years)).map(|k| laying.value(tree, k));
            nodes.push(all.collect::<Result<_, _>>().unwrap_or_default());
        }
    }
    let leaves = base_leaves(model, &plan, &low.leaves);
    let values = evaluate_once(&low.graph, &leaves, BASE_RUN);
    let of = |ids: &Vec<NodeId>| ids.iter().map(|id| values[id.index()]).collect();
    Parts { values: nodes.iter().map(of).collect(), price_level: of(&sheet.nodes(PRICE_LEVEL)) }
}
