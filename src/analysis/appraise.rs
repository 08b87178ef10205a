//! All answers of a study: lays the workings, draws the runs, asks each question.

use rayon::prelude::*;

use crate::analysis::bands::bands;
use crate::analysis::choices::{Beside, UnderChoice, affected, side_by_side};
use crate::analysis::courses::Courses as CourseList;
use crate::analysis::drawing;
use crate::analysis::drawn::{Drawn, ResultColumn};
use crate::analysis::facts::{sampling_facts, study_facts};
use crate::analysis::flips::{flips, flips_unasked, rule_in_words};
use crate::analysis::homes::homes;
use crate::analysis::indices::{GlobalIndices, IndexWish, indices};
use crate::analysis::inputs::input_rows;
use crate::analysis::laid::{Cash, Laid};
use crate::analysis::links::links;
use crate::analysis::movers::movers;
use crate::analysis::paths::Courses;
use crate::analysis::single_runs::Asking;
use crate::analysis::statistics::Rule;
use crate::analysis::stopping::search;
use crate::analysis::stream::KEPT_AT_MOST;
use crate::analysis::tornado::{Mover, Target, tornado};
use crate::analysis::{Answers, Figure, PaybackBands, ResultKind, Success, Summary, Tornado};
use crate::diagnostic::Diagnostic;
use crate::engine::block::BASE_RUN;
use crate::engine::graph::{NodeId, evaluate_once};
use crate::engine::run::{Control, Stopped};
use crate::formula::types::Kind;
use crate::model::base::base_leaves;
use crate::model::lower::Sheet;
use crate::model::trace::leaves_of_run;
use crate::model::{Model, ResultItem, UntilWish};
use crate::sampling::{Design, PlanError, Vectors};

/// Format of [`Answers`].
pub const ANSWERS_FORMAT: u32 = 2;

/// What is asked, beyond the study itself.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// How the runs are drawn.
    pub design: Design,
    /// Runs in a block; chosen by the program if none. It changes no figure.
    pub block: Option<usize>,
    /// Which compiled form of the kernels is used. It changes no figure.
    pub vectors: Vectors,
    /// Question number, compared with the control's.
    pub epoch: u64,
    /// Runs of which every value is kept; of more, percentiles come from a sketch and say so.
    pub kept_at_most: u64,
    /// Whether break-even questions are answered.
    pub break_even: bool,
    /// Whether it is asked what drives the results, what courses and knowledge are worth, and when results fail.
    pub single_runs: bool,
    /// Whether what takes many more evaluations is made though the study does not ask for it: global indices.
    pub all: bool,
    /// Precision at which the runs may end; those of `design` are then the most.
    pub until: Option<UntilWish>,
}

impl Options {
    /// Everything as the study says.
    pub fn of(model: &Model) -> Self {
        Options {
            design: model.design(),
            block: None,
            vectors: Vectors::Widest,
            epoch: 0,
            kept_at_most: KEPT_AT_MOST,
            break_even: true,
            single_runs: true,
            all: false,
            until: model.sampling.until,
        }
    }
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum AppraisalError {
    /// The loop was stopped.
    Stopped(Stopped),
    /// The draws cannot be made.
    Plan(PlanError),
    /// The workings cannot be laid (a checked model always can).
    Workings(Box<Diagnostic>),
}

impl From<Stopped> for AppraisalError {
    fn from(stopped: Stopped) -> Self {
        AppraisalError::Stopped(stopped)
    }
}

/// The answers of a study. Where a precision is asked, the runs it takes are sought first; the answers are those of
/// that many runs, to the last bit.
///
/// # Errors
/// When stopped through `control`, or when the draws cannot be made under this design.
pub fn appraise(model: &Model, options: Options, control: &Control) -> Result<Answers, AppraisalError> {
    let convergence = options.until.map(|wish| search(model, options, wish, control)).transpose()?;
    let options = match convergence.as_ref().and_then(|c| c.looks.last()) {
        Some(last) => Options { design: options.design.with_runs(last.runs), ..options },
        None => options,
    };
    let plan = model.plan(options.design).map_err(AppraisalError::Plan)?;
    let plan = plan.with_vectors(options.vectors);
    let laid = Laid::new(model, plan).map_err(AppraisalError::Workings)?;
    let runs = Runs::draw(&laid, options, control)?;
    let courses = Courses::draw(&laid, options.design, options.vectors, options.epoch, control)?;
    let results: Vec<Summary> = runs.summaries();
    let movers = movers(&laid, &courses);
    let how = (options.design, options.vectors, options.epoch);
    let flips = |k: usize, other: Option<NodeId>| flips(&laid, (k, other), &runs.base_leaves, how, control);
    let asked = if options.break_even { model.break_even.len() } else { 0 };
    let nodes = if options.single_runs { of_single_runs(&laid) } else { Vec::new() };
    let at_hand = runs.drawn.at_hand(&laid, &nodes, options, control)?;
    let mut single = Asking::new(&laid, &at_hand, &runs.base, options, control).all()?.into_iter();
    let mut at_base = Beside {
        paths: courses.fans(&runs.base),
        bands: runs.bands(),
        tornado: runs.tornado(&laid.base, &movers),
        single: single.next().unwrap_or_default(),
        break_even: (0..asked).map(|k| flips(k, None)).collect::<Result<_, _>>()?,
    };
    if options.break_even && asked == 0 {
        let tornado = at_base.tornado.as_ref();
        at_base.break_even = flips_unasked(&laid, tornado, &runs.base_leaves, how, control)?;
    }
    let mut others = Vec::with_capacity(laid.others.len());
    for (k, other) in laid.others.iter().enumerate() {
        let flip = |gap: &Option<NodeId>, q: usize| gap.map_or(Ok(None), |gap| flips(q, Some(gap)));
        others.push(Beside {
            paths: courses.fans_of_other(k, &runs.base),
            bands: runs.bands_of_other(k),
            tornado: runs.tornado_of_other(k, &movers),
            single: single.next().unwrap_or_default(),
            break_even: other.gaps[..asked]
                .iter()
                .enumerate()
                .map(|(q, gap)| flip(gap, q))
                .collect::<Result<_, _>>()?,
        });
    }
    let choices =
        side_by_side(&laid, &results, &runs.affected, (&at_base, &others), |result, node, other| {
            runs.summary(result, node, runs.base_of_other(result, other))
        });
    let links = links(&laid, options.epoch, control)?;
    Ok(Answers {
        format: ANSWERS_FORMAT,
        study: study_facts(model),
        sampling: sampling_facts(&laid.plan, options.design, model.sampling.links.linking),
        results,
        choices,
        bands: at_base.bands.take(),
        tornado: at_base.tornado.take(),
        break_even: std::mem::take(&mut at_base.break_even).into_iter().flatten().collect(),
        remarks: runs.remarks().into_iter().chain(drawing::remarks(&laid.plan, &links)).collect(),
        links,
        convergence,
        paths: at_base.paths,
        inputs: input_rows(model),
        repairs: drawing::repairs(&laid.plan),
        drivers: at_base.single.drivers.take(),
        groups: std::mem::take(&mut at_base.single.groups),
        alternatives: at_base.single.alternatives.take(),
        knowing: at_base.single.knowing.take(),
        failing: at_base.single.failing.take(),
        claim: at_base.single.claim.take(),
        indices: global_indices(&laid, options, control)?,
        homes: homes(model, &laid.base, &runs.base, options.design.seed),
    })
}

/// Rows of the design for global indices where the study names no number.
const BASE_POINTS: u64 = 4096;

/// Global indices, if the study or the caller asks for them; of what is linked also Shapley effects, unless the study
/// says otherwise.
fn global_indices(
    laid: &Laid<'_>,
    options: Options,
    control: &Control,
) -> Result<Option<GlobalIndices>, AppraisalError> {
    let model = laid.model;
    let asked = model.questions.indices;
    if asked.is_none() && !options.all {
        return Ok(None);
    }
    let points = asked.and_then(|asked| asked.base_points).unwrap_or(BASE_POINTS);
    let wish = IndexWish {
        design: options.design.with_runs(points),
        shapley: asked.and_then(|asked| asked.shapley).unwrap_or(options.all && !model.links.is_empty()),
        block: options.block,
        vectors: options.vectors,
        epoch: options.epoch,
        ..IndexWish::of(model, points)
    };
    let result = asked.map_or(model.headline, |asked| asked.result);
    indices(laid, result, wish, control).map(Some)
}

/// A study's runs and its base case.
struct Runs<'l, 'm> {
    laid: &'l Laid<'m>,
    drawn: Drawn,
    base_leaves: Vec<f64>,
    base: Vec<f64>,
    affected: Vec<Vec<UnderChoice>>,
}

impl<'l, 'm> Runs<'l, 'm> {
    fn draw(laid: &'l Laid<'m>, options: Options, control: &Control) -> Result<Self, Stopped> {
        let affected = affected(laid);
        let results = laid.model.results.iter().enumerate();
        let of_base = results.filter_map(|(k, r)| Some((k, laid.result_node(&laid.base, r)?)));
        let columns: Vec<ResultColumn> = of_base
            .chain(affected.iter().flatten().copied())
            .map(|(result, node)| result_column(laid, result, node))
            .collect();
        let at_hand = if options.single_runs { of_single_runs(laid) } else { Vec::new() };
        let drawn = Drawn::draw(laid, &columns, &at_hand, options, control)?;
        let base_leaves = base_leaves(laid.model, &laid.plan, &laid.low.leaves);
        let base = evaluate_once(&laid.low.graph, &base_leaves, BASE_RUN);
        Ok(Runs { laid, drawn, base_leaves, base, affected })
    }

    /// Base case of a node in base units.
    fn base_value(&self, node: NodeId) -> f64 {
        self.base[node.index()]
    }

    fn base_of_other(&self, result: usize, other: usize) -> f64 {
        let sheet = &self.laid.others[other].sheet;
        let node = self.laid.result_node(sheet, &self.laid.model.results[result]);
        node.map_or(f64::NAN, |node| self.base_value(node))
    }

    fn summaries(&self) -> Vec<Summary> {
        let results = &self.laid.model.results;
        let nodes: Vec<Option<NodeId>> =
            results.iter().map(|r| self.laid.result_node(&self.laid.base, r)).collect();
        nodes
            .par_iter()
            .enumerate()
            .filter_map(|(k, node)| node.map(|node| self.summary(k, node, self.base_value(node))))
            .collect()
    }

    /// Summary of a result's column; `base` is its base case in base units.
    fn summary(&self, result: usize, node: NodeId, base: f64) -> Summary {
        let model = self.laid.model;
        let item = &model.results[result];
        let working = model.result_working(item);
        let column = result_column(self.laid, result, node);
        let found = self.drawn.statistics(&column, base);
        let words = rule_in_words(item, &working.unit);
        let success = |share| Success {
            rule: words,
            threshold: item.at_least.or(item.at_most),
            good_above: item.at_least.is_some() || item.at_most.is_none(),
            share,
        };
        Summary {
            name: working.about.name.clone(),
            label: working.about.label.clone(),
            unit: working.unit.text.clone(),
            kind: column.kind,
            base: Figure::of(working.unit.from_base(base)),
            base_rank: found.base_rank,
            runs: found.runs,
            without_value: found.without_value,
            mean: found.mean,
            sd: found.sd,
            percentiles: found.percentiles,
            never: found.never,
            success: found.success.map(success),
            histogram: found.histogram,
            cumulative: found.cumulative,
            cumulative_within: found.cumulative_within,
        }
    }

    fn bands(&self) -> Option<PaybackBands> {
        let cash = self.laid.cash.as_ref()?;
        Some(self.bands_on(&self.laid.base, cash, &cash.nodes))
    }

    /// Bands under another value of a choice, if they differ.
    fn bands_of_other(&self, other: usize) -> Option<PaybackBands> {
        let cash = self.laid.cash.as_ref()?;
        let choice = &self.laid.others[other];
        let differs = choice.cash.is_some() || self.affected[other].iter().any(|(r, _)| *r == cash.result);
        differs.then(|| self.bands_on(&choice.sheet, cash, choice.cash.as_ref().unwrap_or(&cash.nodes)))
    }

    fn bands_on(&self, sheet: &Sheet, cash: &Cash, nodes: &[NodeId]) -> PaybackBands {
        let model = self.laid.model;
        let result = &model.results[cash.result];
        let working = model.result_working(result);
        let payback = self.laid.result_node(sheet, result);
        let is_years = working.formula.ty.kind == Kind::Years;
        bands(
            working.about.name.clone(),
            model.currency.clone(),
            &self.drawn,
            payback.filter(|_| is_years),
            &nodes.iter().map(|&node| (node, self.base_value(node))).collect::<Vec<_>>(),
        )
    }

    /// The result that spans are of: the headline; where its base case is never, the first result that is a number,
    /// and why.
    fn of_spans(&self) -> Option<(&'m ResultItem, Option<String>)> {
        let model = self.laid.model;
        let headline = &model.results[model.headline];
        let kind = kind_of(&model.result_working(headline).formula.ty.kind);
        let never = |r: &ResultItem| {
            self.laid.result_node(&self.laid.base, r).is_none_or(|n| self.base_value(n) == f64::INFINITY)
        };
        if matches!(kind, ResultKind::Number | ResultKind::Years) && !never(headline) {
            return Some((headline, None));
        }
        let number = |r: &&ResultItem| matches!(model.result_working(r).formula.ty.kind, Kind::Number { .. });
        let other = model.results.iter().find(number)?;
        let (first, second) =
            (&model.result_working(headline).about.label, &model.result_working(other).about.label);
        let note =
            format!("The base case of {first} has no number to start from, so spans are those of {second}.");
        Some((other, Some(note)))
    }

    /// The tornado on a sheet.
    fn tornado(&self, sheet: &Sheet, movers: &[Mover]) -> Option<Tornado> {
        let (result, note) = self.of_spans()?;
        let node = self.laid.result_node(sheet, result)?;
        let working = self.laid.model.result_working(result);
        let target = Target {
            name: working.about.name.clone(),
            label: working.about.label.clone(),
            unit: working.unit.text.clone(),
            scale: working.unit.scale,
            threshold: result.at_least.or(result.at_most),
            node,
        };
        let mut notes: Vec<String> = note.into_iter().collect();
        notes.push(
            "One at a time: each input goes from its low to its high value with all others at base, linked ones too. \
             Interactions are not seen, nor most of the space (Saltelli and Annoni, 2010)."
                .to_owned(),
        );
        Some(tornado(&self.laid.low.graph, &self.base_leaves, &target, movers, notes))
    }

    /// The tornado under another value of a choice, if it differs.
    fn tornado_of_other(&self, other: usize, movers: &[Mover]) -> Option<Tornado> {
        let (result, _) = self.of_spans()?;
        let sheet = &self.laid.others[other].sheet;
        let here = self.laid.result_node(sheet, result);
        let differs = here != self.laid.result_node(&self.laid.base, result);
        if differs { self.tornado(sheet, movers) } else { None }
    }

    fn remarks(&self) -> Vec<String> {
        let model = self.laid.model;
        let mut remarks: Vec<String> = self.drawn.remark().into_iter().collect();
        for (k, result) in model.results.iter().enumerate() {
            let Some(node) = self.laid.result_node(&self.laid.base, result) else { continue };
            let (count, first) = self.drawn.failed(&result_column(self.laid, k, node));
            let Some(run) = first else { continue };
            let working = model.result_working(result);
            let (label, runs) = (&working.about.label, self.drawn.n_runs());
            if working.text.contains("rates_of_return") {
                remarks.push(format!("{label}: {count} of {runs} runs have no single rate of return."));
                continue;
            }
            let place = self.where_it_arose(run);
            remarks.push(format!(
                "{label}: {count} of {runs} runs gave no number and are left out; the first is run {run}{place}."
            ));
        }
        remarks
    }

    /// The first working, in the order of computation, that has no finite value in `run`.
    fn where_it_arose(&self, run: u64) -> String {
        let model = self.laid.model;
        let leaves = leaves_of_run(&self.laid.plan, &self.laid.low.leaves, run);
        let values = evaluate_once(&self.laid.low.graph, &leaves, run);
        let order = model.groups.iter().flat_map(|group| &group.members);
        let culprit = order.map(|&k| &model.workings[k]).find(|working| {
            let years = working.formula.ty.kind == Kind::Years;
            let nodes = self.laid.base.nodes(&working.about.name);
            nodes.iter().any(|n| {
                let x = values[n.index()];
                !(x.is_finite() || (years && x == f64::INFINITY))
            })
        });
        culprit.map_or_else(String::new, |working| format!(", where `{}` has none", working.about.name))
    }
}

/// Nodes whose values are looked at run by run: what varies, the courses that are compared, what is promised.
fn of_single_runs(laid: &Laid<'_>) -> Vec<NodeId> {
    let others = (0..laid.others.len()).map(Some);
    let courses = std::iter::once(None).chain(others).filter_map(|other| CourseList::of(laid, other));
    let courses = courses.flat_map(|courses| courses.nodes().collect::<Vec<_>>());
    let promised =
        laid.model.questions.claim.iter().filter_map(|p| laid.base.nodes(&p.name).first().copied());
    let factors = laid.factors.iter().map(|factor| factor.node);
    factors.chain(courses).chain(promised).chain(result_nodes(laid)).collect()
}

/// Every result at the base choices and at each other value of each choice.
fn result_nodes(laid: &Laid<'_>) -> Vec<NodeId> {
    let sheets = std::iter::once(&laid.base).chain(laid.others.iter().map(|other| &other.sheet));
    sheets
        .flat_map(|s| laid.model.results.iter().filter_map(|r| laid.result_node(s, r)).collect::<Vec<_>>())
        .collect()
}

fn result_column(laid: &Laid<'_>, result: usize, node: NodeId) -> ResultColumn {
    let item = &laid.model.results[result];
    let working = laid.model.result_working(item);
    let kind = kind_of(&working.formula.ty.kind);
    ResultColumn { node, unit: working.unit.clone(), kind, rule: rule_of(item, kind) }
}

pub(super) fn kind_of(kind: &Kind) -> ResultKind {
    match kind {
        Kind::Years => ResultKind::Years,
        Kind::YesNo => ResultKind::YesNo,
        Kind::Number { .. } | Kind::Label(_) => ResultKind::Number,
    }
}

pub(super) fn rule_of(result: &ResultItem, kind: ResultKind) -> Option<Rule> {
    match (result.at_least, result.at_most) {
        (Some(least), _) => Some(Rule::AtLeast(least)),
        (None, Some(most)) => Some(Rule::AtMost(most)),
        (None, None) => (kind == ResultKind::YesNo).then_some(Rule::Yes),
    }
}
