//! Every result of a study in every run, choices at their base values.

use super::effects::{Figures, figures};
use crate::analysis::appraise::{kind_of, rule_of};
use crate::analysis::facts::sampling_facts;
use crate::analysis::laid::Laid;
use crate::analysis::statistics::Rule;
use crate::analysis::{AppraisalError, ResultKind, SamplingFacts};
use crate::engine::block::BASE_RUN;
use crate::engine::graph::{NodeId, evaluate_once};
use crate::engine::program::Program;
use crate::engine::run::{Control, Job, keep};
use crate::model::Model;
use crate::model::base::base_leaves;
use crate::sampling::{Design, Method, Vectors};
use crate::units::Unit;

/// A result in all runs, in its unit; never is +infinity, no value is NaN.
#[derive(Debug, Clone, PartialEq)]
pub struct ResultRuns {
    /// Name in the study.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Its unit.
    pub unit: Unit,
    /// Sort.
    pub kind: ResultKind,
    /// When a run is a success.
    pub rule: Option<Rule>,
    /// Base case.
    pub base: f64,
    /// Run by run.
    pub values: Vec<f64>,
}

impl ResultRuns {
    /// The same result in the unit of another of its name; none if it is not that result, or of another kind.
    pub(super) fn in_unit_of(&self, other: &ResultRuns) -> Option<ResultRuns> {
        let is_it = self.name == other.name && self.kind == other.kind;
        if !is_it || self.unit.dimension != other.unit.dimension || self.unit.point != other.unit.point {
            return None;
        }
        let mut here = self.clone();
        here.label.clone_from(&other.label);
        here.unit.clone_from(&other.unit);
        if self.unit.scale != other.unit.scale {
            let turned = |x: f64| x * (self.unit.scale / other.unit.scale);
            here.base = turned(here.base);
            here.values.iter_mut().for_each(|x| *x = turned(*x));
            here.rule = here.rule.map(|rule| match rule {
                Rule::AtLeast(t) => Rule::AtLeast(turned(t)),
                Rule::AtMost(t) => Rule::AtMost(turned(t)),
                Rule::Yes => Rule::Yes,
            });
        }
        Some(here)
    }

    pub(super) fn figures(&self) -> Figures {
        figures(self.base, &self.values, self.rule)
    }
}

/// Into how many parts the runs of a design fall whose estimates are independent: its replicates, or any parts of
/// independent runs.
pub(super) fn parts(design: Design) -> Option<u32> {
    match design.method {
        Method::Random => Some(16),
        _ => (design.replicates >= 2).then_some(design.replicates),
    }
}

/// The results of a study under a design, with Sobol dimensions pinned as listed.
///
/// # Errors
/// When stopped, or when the draws cannot be made.
pub fn draw(
    model: &Model,
    design: Design,
    dimensions: &[String],
    control: &Control,
) -> Result<(Vec<ResultRuns>, SamplingFacts), AppraisalError> {
    let plan = model.plan_pinned(design, dimensions).map_err(AppraisalError::Plan)?;
    let laid = Laid::new(model, plan).map_err(AppraisalError::Workings)?;
    let facts = sampling_facts(&laid.plan, design, model.sampling.links.linking);
    let nodes: Vec<Option<NodeId>> = model.results.iter().map(|r| laid.result_node(&laid.base, r)).collect();
    let mut wanted: Vec<NodeId> = nodes.iter().flatten().copied().collect();
    wanted.sort_unstable();
    wanted.dedup();
    let program = Program::of_runs(&laid.low.graph, &wanted);
    let job = Job {
        program: &program,
        plan: &laid.plan,
        leaves: &laid.low.leaves,
        n_runs: design.runs,
        block: None,
        epoch: 0,
        vectors: Vectors::Widest,
    };
    let columns = keep(job, control)?;
    let base = evaluate_once(&laid.low.graph, &base_leaves(model, &laid.plan, &laid.low.leaves), BASE_RUN);
    let results = model.results.iter().zip(nodes).filter_map(|(item, node)| {
        let node = node?;
        let column = &columns[wanted.iter().position(|w| *w == node)?];
        let working = model.result_working(item);
        let kind = kind_of(&working.formula.ty.kind);
        let tidy = |x: f64| {
            let x = working.unit.from_base(x);
            if x.is_finite() || (kind == ResultKind::Years && x == f64::INFINITY) { x } else { f64::NAN }
        };
        Some(ResultRuns {
            name: working.about.name.clone(),
            label: working.about.label.clone(),
            unit: working.unit.clone(),
            kind,
            rule: rule_of(item, kind),
            base: tidy(base[node.index()]),
            values: column.iter().map(|&x| tidy(x)).collect(),
        })
    });
    let results = results.collect();
    Ok((results, facts))
}
