//! All answers of a study: lays the workings, draws the runs, asks each question.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::analysis::bands::{self, bands, bands_of_stream};
use crate::analysis::choices::{affected, side_by_side};
use crate::analysis::facts::{sampling_facts, short_number, study_facts};
use crate::analysis::flips::{flips, rule_in_words};
use crate::analysis::laid::{Cash, Laid};
use crate::analysis::movers::movers;
use crate::analysis::statistics::ranks::spearman;
use crate::analysis::statistics::{Asked, Rule, summarise};
use crate::analysis::stream::{Gather, Gathered, More, PILOT, Stream, gather, limits};
use crate::analysis::tornado::{Target, tornado};
use crate::analysis::windowed::{CashFigures, WINDOWS_FROM, windowed};
use crate::analysis::{Answers, Link, PaybackBands, ResultKind, Success, Summary, Tornado};
use crate::diagnostic::Diagnostic;
use crate::engine::accumulate::KEPT_AT_MOST;
use crate::engine::block::BASE_RUN;
use crate::engine::graph::{NodeId, evaluate_once};
use crate::engine::program::Program;
use crate::engine::run::{Control, Job, Stopped, keep};
use crate::formula::types::Kind;
use crate::model::base::base_leaves;
use crate::model::trace::leaves_of_run;
use crate::model::{Model, ResultItem};
use crate::sampling::{Design, Method, PlanError, Vectors};

/// Format of [`Answers`].
const FORMAT: u32 = 1;

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
    /// Whether the tornado is made.
    pub tornado: bool,
    /// Whether the break-even questions are answered.
    pub break_even: bool,
    /// Most runs of which every value is kept. Of more, figures are gathered
    /// chunk by chunk in bounded memory, percentiles from a sketch.
    pub kept_at_most: u64,
}

impl Options {
    /// Everything as the study says.
    pub fn of(model: &Model) -> Self {
        Options {
            design: model.design(),
            block: None,
            vectors: Vectors::Widest,
            epoch: 0,
            tornado: true,
            break_even: true,
            kept_at_most: KEPT_AT_MOST as u64,
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

/// The answers of a study.
///
/// # Errors
/// When stopped through `control`, or when the draws cannot be made under this design.
pub fn appraise(model: &Model, options: Options, control: &Control) -> Result<Answers, AppraisalError> {
    let plan = model.plan(options.design).map_err(AppraisalError::Plan)?;
    let plan = plan.with_vectors(options.vectors);
    let laid = Laid::new(model, plan).map_err(|d| AppraisalError::Workings(Box::new(d)))?;
    let runs = Runs::draw(&laid, options, control)?;
    let results: Vec<Summary> = runs.summaries();
    let choices = side_by_side(&laid, &results, &runs.affected, |result, node, other| {
        runs.summary(result, node, runs.base_of_other(result, other))
    });
    let n_runs = options.design.runs;
    let how = (n_runs, options.vectors, options.epoch);
    let mut break_even = Vec::new();
    let questions = if options.break_even { model.break_even.len() } else { 0 };
    for k in 0..questions {
        break_even.extend(flips(&laid, k, &runs.base_leaves, how, control)?);
    }
    Ok(Answers {
        format: FORMAT,
        study: study_facts(model),
        sampling: sampling_facts(&laid.plan, options.design),
        results,
        choices,
        bands: runs.bands(),
        tornado: if options.tornado { runs.tornado(options, control)? } else { None },
        break_even,
        links: runs.links(),
        remarks: runs.remarks(),
    })
}

/// The runs of a study, column by column, and its base case.
struct Runs<'l, 'm> {
    laid: &'l Laid<'m>,
    wanted: Vec<NodeId>,
    data: Data,
    base_leaves: Vec<f64>,
    base: Vec<f64>,
    replicates: Option<u32>,
    affected: Vec<Vec<(usize, NodeId)>>,
}

/// What is known of the runs.
enum Data {
    /// Every value of each wanted node.
    Kept(Vec<Vec<f64>>),
    /// Every value of each node but those of cash, of which the first runs only, and the figures.
    Windowed { columns: BTreeMap<NodeId, Vec<f64>>, cash: CashFigures },
    /// Figures of each, gathered chunk by chunk.
    Gathered { stream: Stream, of: Columns },
}

/// Where in a stream what is.
#[derive(Default)]
struct Columns {
    results: BTreeMap<(usize, NodeId), usize>,
    cash: Vec<usize>,
    payback: Option<usize>,
}

impl<'l, 'm> Runs<'l, 'm> {
    fn draw(laid: &'l Laid<'m>, options: Options, control: &Control) -> Result<Self, Stopped> {
        let affected = affected(laid);
        let cash = laid.cash.iter().flat_map(|cash| cash.nodes.iter().copied());
        let mut wanted: Vec<NodeId> = kept_nodes(laid, &affected).into_iter().chain(cash).collect();
        wanted.sort_unstable();
        wanted.dedup();
        let program = Program::of_runs(&laid.low.graph, &wanted);
        let job = Job {
            program: &program,
            plan: &laid.plan,
            leaves: &laid.low.leaves,
            n_runs: options.design.runs,
            block: options.block,
            epoch: options.epoch,
            vectors: options.vectors,
        };
        let base_leaves = base_leaves(laid.model, &laid.plan, &laid.low.leaves);
        let base = evaluate_once(&laid.low.graph, &base_leaves, BASE_RUN);
        let replicates = (options.design.method != Method::Random).then_some(options.design.replicates);
        let data = Data::Kept(Vec::new());
        let mut runs = Runs { laid, wanted: wanted.clone(), data, base_leaves, base, replicates, affected };
        runs.data = if job.n_runs <= options.kept_at_most {
            runs.keep(job, control)?
        } else {
            let (what, of) = runs.what_to_gather();
            Data::Gathered { stream: gather(job, what, replicates, control)?, of }
        };
        Ok(runs)
    }

    /// All values, or of many independent runs all but those of cash.
    fn keep(&self, job: Job<'_>, control: &Control) -> Result<Data, Stopped> {
        if let Some(cash) = self.laid.cash.as_ref().filter(|_| self.replicates.is_none() && job.n_runs >= WINDOWS_FROM) {
            let kept = kept_nodes(self.laid, &self.affected);
            if let Some((columns, cash)) = windowed(job, &self.laid.low.graph, &cash.nodes, &kept, control)? {
                return Ok(Data::Windowed { columns, cash });
            }
        }
        Ok(Data::Kept(keep(job, control)?))
    }

    /// All columns of a stream.
    fn what_to_gather(&self) -> (Vec<Gather>, Columns) {
        let laid = self.laid;
        let (mut all, mut of) = (Vec::new(), Columns::default());
        let place = |node: &NodeId| self.wanted.binary_search(node).unwrap_or(usize::MAX);
        let base = laid
            .model
            .results
            .iter()
            .enumerate()
            .filter_map(|(k, r)| Some((k, laid.result_node(&laid.base, r)?, None)));
        let others = self.affected.iter().enumerate();
        let others =
            others.flat_map(|(other, nodes)| nodes.iter().map(move |&(k, node)| (k, node, Some(other))));
        for (k, node, other) in base.chain(others) {
            let item = &laid.model.results[k];
            let working = laid.model.result_working(item);
            let kind = kind_of(&working.formula.ty.kind);
            let base = other.map_or_else(|| self.base_value(node), |other| self.base_of_other(k, other));
            let below_base = Rule::Below(working.unit.from_base(base));
            let rules =
                [below_base, Rule::AtLeast(f64::INFINITY)].into_iter().chain(rule_of(item, kind)).collect();
            of.results.insert((k, node), all.len());
            all.push(Gather {
                wanted: place(&node),
                unit: Some(working.unit.clone()),
                kind,
                rules,
                more: More::Summary,
            });
        }
        let Some(cash) = &laid.cash else { return (all, of) };
        for node in &cash.nodes {
            of.cash.push(all.len());
            let kind = ResultKind::Number;
            all.push(Gather { wanted: place(node), unit: None, kind, rules: Vec::new(), more: More::Ranks });
        }
        if let Some(node) = self.payback_node(cash) {
            of.payback = Some(all.len());
            let more = limits((1..cash.nodes.len()).map(|year| year as f64));
            all.push(Gather {
                wanted: place(&node),
                unit: None,
                kind: ResultKind::Years,
                rules: Vec::new(),
                more,
            });
        }
        (all, of)
    }

    /// The result of the bands, where it is years or never.
    fn payback_node(&self, cash: &Cash) -> Option<NodeId> {
        let result = &self.laid.model.results[cash.result];
        let is_years = self.laid.model.result_working(result).formula.ty.kind == Kind::Years;
        self.laid.result_node(&self.laid.base, result).filter(|_| is_years)
    }

    /// Values of a node: of all runs where they are kept, else of the first runs.
    fn column(&self, node: NodeId) -> &[f64] {
        let columns = match &self.data {
            Data::Kept(columns) => columns,
            Data::Windowed { columns, .. } => return columns.get(&node).map_or(&[], Vec::as_slice),
            Data::Gathered { stream, .. } => &stream.pilot,
        };
        let place = self.wanted.binary_search(&node).ok();
        place.and_then(|k| columns.get(k)).map_or(&[], Vec::as_slice)
    }

    /// What was gathered of a result's node.
    fn gathered(&self, result: usize, node: NodeId) -> Option<&Gathered> {
        match &self.data {
            Data::Kept(_) | Data::Windowed { .. } => None,
            Data::Gathered { stream, of } => stream.columns.get(*of.results.get(&(result, node))?),
        }
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
        let kind = kind_of(&working.formula.ty.kind);
        let rule = rule_of(item, kind);
        let base = working.unit.from_base(base);
        let asked = Asked { kind, replicates: self.replicates, base, rule };
        let in_unit: Vec<f64>;
        let found = if let Some(gathered) = self.gathered(result, node) {
            gathered.statistics(&asked)
        } else if working.unit.scale == 1.0 {
            summarise(self.column(node), &asked)
        } else {
            in_unit = self.column(node).iter().map(|&x| working.unit.from_base(x)).collect();
            summarise(&in_unit, &asked)
        };
        let threshold = item.at_least.or(item.at_most);
        let words = rule_in_words(item, &working.unit);
        Summary {
            name: working.about.name.clone(),
            label: working.about.label.clone(),
            unit: working.unit.text.clone(),
            kind,
            base: crate::analysis::Figure::of(base),
            base_rank: found.base_rank,
            runs: found.runs,
            without_value: found.without_value,
            mean: found.mean,
            sd: found.sd,
            percentiles: found.percentiles,
            never: found.never,
            success: found.success.map(|share| Success { rule: words, threshold, share }),
            histogram: found.histogram,
            cumulative: found.cumulative,
        }
    }

    fn bands(&self) -> Option<PaybackBands> {
        let cash = self.laid.cash.as_ref()?;
        let model = self.laid.model;
        let result = &model.results[cash.result];
        let working = model.result_working(result);
        let payback = self.payback_node(cash);
        let result = working.about.name.clone();
        let unit = model.currency.clone();
        let base: Vec<f64> = cash.nodes.iter().map(|&node| self.base_value(node)).collect();
        let columns: Vec<&[f64]> = cash.nodes.iter().map(|&node| self.column(node)).collect();
        Some(match &self.data {
            Data::Kept(_) | Data::Windowed { .. } => {
                let payback = payback.map(|node| self.column(node));
                let windowed = match &self.data {
                    Data::Windowed { cash, .. } => Some(cash.clone()),
                    _ => None,
                };
                let replicates = self.replicates;
                bands(&bands::Columns { result, unit, payback, cash: columns, windowed, base, replicates })
            }
            Data::Gathered { stream, of } => {
                let at = |k: usize| stream.columns.get(k);
                let cash: Vec<&Gathered> = of.cash.iter().filter_map(|&k| at(k)).collect();
                bands_of_stream((result, unit), of.payback.and_then(at), &cash, &base, &columns)
            }
        })
    }

    /// The headline's tornado; where its base case is never, that of the first result that is a number.
    fn tornado(&self, options: Options, control: &Control) -> Result<Option<Tornado>, Stopped> {
        let model = self.laid.model;
        let mut notes = Vec::new();
        let headline = &model.results[model.headline];
        let mut chosen = Some(headline).filter(|r| {
            matches!(
                kind_of(&model.result_working(r).formula.ty.kind),
                ResultKind::Number | ResultKind::Years
            )
        });
        let never = |r: &ResultItem| {
            self.laid.result_node(&self.laid.base, r).is_none_or(|n| self.base_value(n) == f64::INFINITY)
        };
        if chosen.is_none_or(never) {
            chosen = model
                .results
                .iter()
                .find(|r| matches!(model.result_working(r).formula.ty.kind, Kind::Number { .. }));
            if let Some(other) = chosen {
                let (first, second) =
                    (&model.result_working(headline).about.label, &model.result_working(other).about.label);
                notes.push(format!(
                    "The base case of {first} has no number to start from, so spans are those of {second}."
                ));
            }
        }
        let Some(result) = chosen else { return Ok(None) };
        let Some(node) = self.laid.result_node(&self.laid.base, result) else { return Ok(None) };
        let working = model.result_working(result);
        let target = Target {
            name: working.about.name.clone(),
            label: working.about.label.clone(),
            unit: working.unit.text.clone(),
            scale: working.unit.scale,
            threshold: result.at_least.or(result.at_most),
            node,
        };
        let movers = movers(self.laid, options.design.runs, options.vectors, options.epoch, control)?;
        notes.push(
            "One at a time: each input goes from its P10 to its P90 with all others at base, linked ones too. \
             Interactions are not seen, nor most of the space (Saltelli and Annoni, 2010)."
                .to_owned(),
        );
        Ok(Some(tornado(&self.laid.low.graph, &self.base_leaves, &target, &movers, notes)))
    }

    /// Reached rank correlations of linked inputs; those of yearly shocks are not seen in a single column.
    fn links(&self) -> Vec<Link> {
        let model = self.laid.model;
        let single = |name: &str| {
            let nodes = self.laid.base.nodes(name);
            (nodes.len() == 1).then(|| nodes[0])
        };
        model
            .links
            .iter()
            .filter_map(|link| {
                let (a, b) = (single(&link.first)?, single(&link.second)?);
                Some(Link {
                    first: link.first.clone(),
                    second: link.second.clone(),
                    asked: link.rank,
                    reached: spearman(self.column(a), self.column(b)).unwrap_or(f64::NAN),
                })
            })
            .collect()
    }

    fn remarks(&self) -> Vec<String> {
        let model = self.laid.model;
        let mut remarks: Vec<String> = self.about_the_sketch().into_iter().collect();
        for (k, result) in model.results.iter().enumerate() {
            let Some(node) = self.laid.result_node(&self.laid.base, result) else { continue };
            let working = model.result_working(result);
            let Some((count, run, of)) = self.failed(k, node) else { continue };
            let label = &working.about.label;
            if working.text.contains("rates_of_return") {
                remarks.push(format!("{label}: {count} of {of} runs have no single rate of return."));
                continue;
            }
            let place = self.where_it_arose(run);
            remarks.push(format!(
                "{label}: {count} of {of} runs gave no number and are left out; the first is run {run}{place}."
            ));
        }
        remarks
    }

    /// Runs in which a result has no value, the first of them, and how many runs there are.
    fn failed(&self, result: usize, node: NodeId) -> Option<(u64, u64, u64)> {
        let runs = self.laid.plan.design().runs;
        if let Some(gathered) = self.gathered(result, node) {
            return gathered.failed().map(|(count, first)| (count, first, runs));
        }
        let working = self.laid.model.result_working(&self.laid.model.results[result]);
        let years = working.formula.ty.kind == Kind::Years;
        let failed = |x: f64| x.is_nan() || x == f64::NEG_INFINITY || (x == f64::INFINITY && !years);
        let column = self.column(node);
        let first = column.iter().position(|&x| failed(x))?;
        let count = column.iter().filter(|&&x| failed(x)).count();
        Some((count as u64, first as u64, column.len() as u64))
    }

    /// What a reader should know of figures that were gathered.
    fn about_the_sketch(&self) -> Option<String> {
        let Data::Gathered { stream, .. } = &self.data else { return None };
        let error = stream.columns.iter().map(|c| c.ranks().rank_error_share()).fold(0.0, f64::max);
        let intervals = if self.replicates.is_some() {
            " (for stratified draws they are wider than need be)"
        } else {
            ""
        };
        let links = if self.laid.model.links.is_empty() {
            String::new()
        } else {
            format!(" Reached correlations are those of the first {PILOT} runs.")
        };
        Some(format!(
            "Percentiles come from a sketch: a stated rank may be off by {} % of the runs at most, \
             by which their intervals are wider{intervals}.{links}",
            short_number(100.0 * error)
        ))
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

/// Nodes of which every value is wanted: results, also under other choices, and linked inputs.
fn kept_nodes(laid: &Laid<'_>, affected: &[Vec<(usize, NodeId)>]) -> Vec<NodeId> {
    let results = laid.model.results.iter().filter_map(|r| laid.result_node(&laid.base, r));
    let others = affected.iter().flatten().map(|(_, node)| *node);
    let names = laid.model.links.iter().flat_map(|l| [&l.first, &l.second]);
    let linked = names.flat_map(|name| laid.base.nodes(name).into_iter().take(1));
    results.chain(others).chain(linked).collect()
}

fn kind_of(kind: &Kind) -> ResultKind {
    match kind {
        Kind::Years => ResultKind::Years,
        Kind::YesNo => ResultKind::YesNo,
        Kind::Number { .. } | Kind::Label(_) => ResultKind::Number,
    }
}

fn rule_of(result: &ResultItem, kind: ResultKind) -> Option<Rule> {
    match (result.at_least, result.at_most) {
        (Some(least), _) => Some(Rule::AtLeast(least)),
        (None, Some(most)) => Some(Rule::AtMost(most)),
        (None, None) => (kind == ResultKind::YesNo).then_some(Rule::Yes),
    }
}
