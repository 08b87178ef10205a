//! Answers for each value of a choice, side by side, never pooled.

use rayon::prelude::*;

use crate::analysis::facts::{is_choice, value_in_words};
use crate::analysis::laid::Laid;
use crate::analysis::single_runs::SingleRuns;
use crate::analysis::{Answers, BreakEven, ChoiceAnswer, PathFan, PaybackBands, Summary, Tornado};
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

/// Answers beside the results: at the base choices, or what another value makes different.
#[derive(Default)]
pub(super) struct Beside {
    pub(super) paths: Vec<PathFan>,
    pub(super) bands: Option<PaybackBands>,
    pub(super) tornado: Option<Tornado>,
    pub(super) single: SingleRuns,
    /// By question.
    pub(super) break_even: Vec<Option<BreakEven>>,
}

impl Beside {
    fn path(&self, name: &str) -> Option<&PathFan> {
        self.paths.iter().find(|fan| fan.name == name)
    }

    fn question(&self, k: usize) -> Option<&BreakEven> {
        self.break_even.get(k).and_then(Option::as_ref)
    }
}

/// For each choice, its values in their order with the results and courses that depend on the choice.
pub(super) fn side_by_side(
    laid: &Laid<'_>,
    base: &[Summary],
    affected: &[Vec<UnderChoice>],
    (at_base, others): (&Beside, &[Beside]),
    summary: impl Fn(usize, NodeId, usize) -> Summary + Sync,
) -> Vec<ChoiceAnswer> {
    let mut answers = Vec::new();
    for (k, input) in laid.model.inputs.iter().enumerate().filter(|(_, input)| is_choice(input)) {
        let touched = touched(laid, k, affected);
        let of_choice = laid.others.iter().zip(others).filter(|(other, _)| other.input == k);
        let differing: Vec<&Beside> = of_choice.map(|(_, beside)| beside).collect();
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
            answers.push(ChoiceAnswer {
                choice: input.about.name.clone(),
                label: input.about.label.clone(),
                value: value_in_words(input, value),
                is_base: other.is_none(),
                results,
                ..beside(other.map(|other| &others[other]), at_base, &differing)
            });
        }
    }
    answers.retain(|answer| !answer.is_empty());
    answers
}

/// What any value of a choice makes different (`differing`), as one of its values has it: its own, else that of the base.
fn beside(own: Option<&Beside>, base: &Beside, differing: &[&Beside]) -> ChoiceAnswer {
    let any = |is: &dyn Fn(&Beside) -> bool| differing.iter().any(|beside| is(beside));
    let paths = base.paths.iter().filter(|fan| any(&|beside| beside.path(&fan.name).is_some()));
    let questions = (0..base.break_even.len()).filter(|&k| any(&|beside| beside.question(k).is_some()));
    let bands = own.and_then(|own| own.bands.as_ref()).or(base.bands.as_ref());
    let tornado = own.and_then(|own| own.tornado.as_ref()).or(base.tornado.as_ref());
    let question = |k: usize| own.and_then(|own| own.question(k)).or(base.question(k)).cloned();
    ChoiceAnswer {
        paths: paths.map(|fan| own.and_then(|own| own.path(&fan.name)).unwrap_or(fan).clone()).collect(),
        bands: bands.filter(|_| any(&|beside| beside.bands.is_some())).cloned(),
        tornado: tornado.filter(|_| any(&|beside| beside.tornado.is_some())).cloned(),
        break_even: questions.filter_map(question).collect(),
        alternatives: of_single(own, base, differing, |single| single.alternatives.as_ref()),
        knowing: of_single(own, base, differing, |single| single.knowing.as_ref()),
        failing: of_single(own, base, differing, |single| single.failing.as_ref()),
        ..ChoiceAnswer::default()
    }
}

/// The same of an answer from single runs.
fn of_single<T: Clone>(
    own: Option<&Beside>,
    base: &Beside,
    differing: &[&Beside],
    pick: impl Fn(&SingleRuns) -> Option<&T>,
) -> Option<T> {
    let differs = differing.iter().any(|beside| pick(&beside.single).is_some());
    let here = own.and_then(|own| pick(&own.single)).or(pick(&base.single));
    here.filter(|_| differs).cloned()
}

impl ChoiceAnswer {
    fn is_empty(&self) -> bool {
        self.results.is_empty()
            && self.paths.is_empty()
            && self.bands.is_none()
            && self.tornado.is_none()
            && self.break_even.is_empty()
            && self.alternatives.is_none()
            && self.knowing.is_none()
            && self.failing.is_none()
    }
}

impl Answers {
    /// The same answers with those of one value of a choice in their places; what does not depend on the choice is left
    /// out, but for results.
    pub fn under(&self, choice: &ChoiceAnswer) -> Answers {
        let of_choice = |result: &Summary| choice.results.iter().find(|r| r.name == result.name);
        Answers {
            results: self.results.iter().map(|r| of_choice(r).unwrap_or(r).clone()).collect(),
            bands: choice.bands.clone(),
            tornado: choice.tornado.clone(),
            break_even: choice.break_even.clone(),
            alternatives: choice.alternatives.clone(),
            knowing: choice.knowing.clone(),
            failing: choice.failing.clone(),
            drivers: None,
            groups: Vec::new(),
            claim: None,
            indices: None,
            paths: choice.paths.clone(),
            choices: Vec::new(),
            ..self.clone()
        }
    }
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
