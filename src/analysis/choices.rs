//! Answers for each value of a choice, side by side, never pooled.

use rayon::prelude::*;

use crate::analysis::facts::{is_choice, value_in_words};
use crate::analysis::laid::Laid;
use crate::analysis::{ChoiceAnswer, PathFan, Summary};
use crate::engine::graph::NodeId;
use crate::model::Input;

/// A result under one value of a choice: which result, and its node.
pub(super) type UnderChoice = (usize, NodeId);

/// Results that differ from those of the base choices, for each other value (in the order of `laid.others`).
pub(super) fn affected(laid: &Laid<'_>) -> Vec<Vec<UnderChoice>> {
    laid.others
        .iter()
        .map(|other| {
            let results = laid.model.results.iter().enumerate();
            let nodes = results.filter_map(|(k, r)| {
                Some((k, laid.result_node(&other.sheet, r)?, laid.result_node(&laid.base, r)?))
            });
            // Equal nodes are the same working to the last operation: the choice does not touch it.
            nodes.filter(|(_, here, base)| here != base).map(|(k, here, _)| (k, here)).collect()
        })
        .collect()
}

/// The courses of a study: at the base choices, and those that differ for each other value (in the order of
/// `laid.others`).
pub(super) struct Fans<'a> {
    pub(super) base: &'a [PathFan],
    pub(super) others: Vec<Vec<PathFan>>,
}

/// For each choice, its values in their order with the results and courses that depend on the choice.
pub(super) fn side_by_side(
    laid: &Laid<'_>,
    base: &[Summary],
    affected: &[Vec<UnderChoice>],
    fans: &Fans<'_>,
    summary: impl Fn(usize, NodeId, usize) -> Summary + Sync,
) -> Vec<ChoiceAnswer> {
    let mut answers = Vec::new();
    for (k, input) in laid.model.inputs.iter().enumerate().filter(|(_, input)| is_choice(input)) {
        let touched = touched(laid, k, affected);
        let moved: Vec<&PathFan> = fans.base.iter().filter(|fan| moves(laid, k, fans, fan)).collect();
        if touched.is_empty() && moved.is_empty() {
            continue;
        }
        for value in values(input) {
            let other = laid.others.iter().position(|o| o.input == k && o.value == value);
            let results = touched
                .par_iter()
                .map(|&result| {
                    let here =
                        other.and_then(|o| affected[o].iter().find(|(r, _)| *r == result).map(|u| (o, u.1)));
                    here.map_or_else(|| base[result].clone(), |(o, node)| summary(result, node, o))
                })
                .collect();
            let course = |fan: &&PathFan| {
                let here = other.and_then(|o| fans.others[o].iter().find(|f| f.name == fan.name));
                here.unwrap_or(fan).clone()
            };
            answers.push(ChoiceAnswer {
                choice: input.about.name.clone(),
                label: input.about.label.clone(),
                value: value_in_words(input, value),
                is_base: other.is_none(),
                results,
                paths: moved.iter().map(course).collect(),
            });
        }
    }
    answers
}

/// Whether any value of choice `k` changes this course.
fn moves(laid: &Laid<'_>, k: usize, fans: &Fans<'_>, fan: &PathFan) -> bool {
    let of_choice = laid.others.iter().zip(&fans.others).filter(|(other, _)| other.input == k);
    of_choice.into_iter().any(|(_, fans)| fans.iter().any(|f| f.name == fan.name))
}

fn values(input: &Input) -> Vec<f64> {
    match &input.value {
        crate::model::InputValue::Choice(values) => values.clone(),
        _ => Vec::new(),
    }
}

/// Results that any value of choice `k` changes, in their order.
fn touched(laid: &Laid<'_>, k: usize, affected: &[Vec<UnderChoice>]) -> Vec<usize> {
    let of_choice = laid.others.iter().zip(affected).filter(|(other, _)| other.input == k);
    let mut touched: Vec<usize> =
        of_choice.flat_map(|(_, results)| results.iter().map(|(r, _)| *r)).collect();
    touched.sort_unstable();
    touched.dedup();
    touched
}
