//! The runs of a study: whole columns, surveyed ones, or what accumulators
//! gathered, whichever the number of runs asks for. What is asked of them is
//! the same.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::analysis::bands::PERCENTILES;
use crate::analysis::laid::Laid;
use crate::analysis::statistics::gathered::limit_of;
use crate::analysis::statistics::limits::UpTo;
use crate::analysis::statistics::{Asked, Rule, Statistics, summarise};
use crate::analysis::stream::{self, Streamed, Task};
use crate::analysis::survey::{Column, FROM_RUNS, Survey};
use crate::analysis::{Estimate, Figure, Options, Percentile, ResultKind, Share};
use crate::engine::graph::NodeId;
use crate::engine::program::Program;
use crate::engine::run::{Control, Job, Stopped, keep};
use crate::sampling::Method;
use crate::units::Unit;

/// A result under base choices or under another value of one: its node and how it is asked.
pub(super) struct ResultColumn {
    pub(super) node: NodeId,
    pub(super) unit: Unit,
    pub(super) kind: ResultKind,
    pub(super) rule: Option<Rule>,
}

/// Most runs that are looked at one by one: what drives a result, what it is worth to know, when it fails.
const MOST_AT_HAND: u64 = 65_536;

/// The first runs, looked at one by one.
pub(super) struct AtHand<'a> {
    columns: BTreeMap<NodeId, Cow<'a, [f64]>>,
    /// How many.
    pub(super) n_runs: u64,
    /// Replicates, under a stratified method.
    pub(super) replicates: Option<u32>,
}

impl AtHand<'_> {
    /// The values of a node, in base units.
    pub(super) fn column(&self, node: NodeId) -> &[f64] {
        self.columns.get(&node).map_or(&[], |column| column)
    }
}

/// What was drawn.
pub(super) struct Drawn {
    columns: BTreeMap<NodeId, Column>,
    streamed: BTreeMap<NodeId, Streamed>,
    replicates: Option<u32>,
    years: usize,
    n_runs: u64,
}

impl Drawn {
    /// Draws the results (those of other choices too) and the cumulative cash; of few enough runs also what is looked at
    /// run by run.
    pub(super) fn draw(
        laid: &Laid<'_>,
        results: &[ResultColumn],
        at_hand: &[NodeId],
        options: Options,
        control: &Control,
    ) -> Result<Self, Stopped> {
        let mut whole: BTreeSet<NodeId> = results.iter().map(|r| r.node).collect();
        if options.design.runs <= MOST_AT_HAND {
            whole.extend(at_hand);
        }
        let cash = laid.cash.iter().map(|cash| &cash.nodes);
        let cash = cash.chain(laid.others.iter().filter_map(|other| other.cash.as_ref())).flatten().copied();
        let wanted: BTreeSet<NodeId> = whole.iter().copied().chain(cash).collect();
        let wanted: Vec<NodeId> = wanted.into_iter().collect();
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
        let random = options.design.method == Method::Random;
        let mut drawn = Drawn {
            columns: BTreeMap::new(),
            streamed: BTreeMap::new(),
            replicates: (!random).then_some(options.design.replicates),
            years: laid.model.years,
            n_runs: job.n_runs,
        };
        if job.n_runs > options.kept_at_most {
            let tasks = tasks(laid.model.years, &wanted, results);
            let streamed = stream::gather(job, control, &tasks, drawn.replicates)?;
            drawn.streamed = wanted.into_iter().zip(streamed).collect();
        } else if random && job.n_runs >= FROM_RUNS {
            let kept: Vec<usize> = (0..wanted.len()).filter(|&k| whole.contains(&wanted[k])).collect();
            let survey = Survey { graph: &laid.low.graph, wanted: &wanted, kept: &kept, ps: &PERCENTILES };
            let columns = survey.draw(job, control)?;
            drawn.columns = wanted.iter().copied().zip(columns).collect();
        } else {
            let columns = keep(job, control)?.into_iter().map(Column::Whole);
            drawn.columns = wanted.iter().copied().zip(columns).collect();
        }
        Ok(drawn)
    }

    /// Number of runs.
    pub(super) fn n_runs(&self) -> u64 {
        self.n_runs
    }

    /// What is said of a result; `base` is its base case in base units.
    pub(super) fn statistics(&self, result: &ResultColumn, base: f64) -> Statistics {
        let base = result.unit.from_base(base);
        let asked = Asked { kind: result.kind, replicates: self.replicates, base, rule: result.rule };
        if let Some(streamed) = self.streamed.get(&result.node) {
            let at = result.rule.map(|rule| place_of_limit(self.years, result.kind, rule));
            return streamed.gathered.statistics(&asked, at);
        }
        let column = self.whole(result.node);
        if result.unit.scale == 1.0 {
            return summarise(column, &asked);
        }
        let in_unit: Vec<f64> = column.iter().map(|&x| result.unit.from_base(x)).collect();
        summarise(&in_unit, &asked)
    }

    /// Runs without a value, and the first of them.
    pub(super) fn failed(&self, result: &ResultColumn) -> (u64, Option<u64>) {
        if let Some(streamed) = self.streamed.get(&result.node) {
            return (streamed.gathered.moments.without_value, streamed.first_failed);
        }
        let years = result.kind == ResultKind::Years;
        let failed = |x: f64| !(x.is_finite() || (years && x == f64::INFINITY));
        let column = self.whole(result.node);
        let count = column.iter().filter(|&&x| failed(x)).count() as u64;
        (count, column.iter().position(|&x| failed(x)).map(|run| run as u64))
    }

    /// Shares of runs paid back by the end of year 1, 2, ..., and the share never.
    pub(super) fn paid_back(&self, payback: NodeId) -> (Vec<Share>, Share) {
        let years: Vec<f64> = (1..=self.years).map(|year| year as f64).collect();
        if let Some(streamed) = self.streamed.get(&payback) {
            let counts = &streamed.gathered.counts;
            return (years.iter().filter_map(|&year| counts.share_up_to(year)).collect(), counts.never());
        }
        let mut counts = UpTo::new(&years, self.replicates);
        counts.add(0, self.whole(payback));
        (counts.shares(), counts.never())
    }

    /// Mean and percentiles of a cash column.
    pub(super) fn mean_and_percentiles(&self, node: NodeId) -> (Estimate, Vec<Percentile>) {
        match (self.streamed.get(&node), self.columns.get(&node)) {
            (Some(streamed), _) => streamed.mean_and_percentiles(&PERCENTILES),
            (None, Some(column)) => column.mean_and_percentiles(self.replicates, &PERCENTILES),
            (None, None) => (Estimate::alone(Figure::None), Vec::new()),
        }
    }

    /// Values of the first runs of a cash column.
    pub(super) fn first_runs(&self, node: NodeId) -> &[f64] {
        match (self.streamed.get(&node), self.columns.get(&node)) {
            (Some(streamed), _) => &streamed.first,
            (None, Some(column)) => column.first_runs(),
            (None, None) => &[],
        }
    }

    /// The values of `nodes` in the first runs.
    pub(super) fn at_hand(
        &self,
        laid: &Laid<'_>,
        nodes: &[NodeId],
        options: Options,
        control: &Control,
    ) -> Result<AtHand<'_>, Stopped> {
        let n_runs = self.n_runs.min(MOST_AT_HAND);
        let replicates = self.replicates;
        if n_runs == self.n_runs {
            let columns = nodes.iter().map(|&node| (node, Cow::Borrowed(self.whole(node)))).collect();
            return Ok(AtHand { columns, n_runs, replicates });
        }
        let nodes: BTreeSet<NodeId> = nodes.iter().copied().collect();
        let wanted: Vec<NodeId> = nodes.into_iter().collect();
        let program = Program::of_runs(&laid.low.graph, &wanted);
        let job = Job {
            program: &program,
            plan: &laid.plan,
            leaves: &laid.low.leaves,
            n_runs,
            block: options.block,
            epoch: options.epoch,
            vectors: options.vectors,
        };
        let columns = keep(job, control)?.into_iter().map(Cow::Owned);
        Ok(AtHand { columns: wanted.into_iter().zip(columns).collect(), n_runs, replicates })
    }

    /// How ranks were found, where they are not exact.
    pub(super) fn remark(&self) -> Option<String> {
        let worst = self.streamed.values().map(|s| s.gathered.sketch.rank_error_share()).fold(0.0, f64::max);
        (!self.streamed.is_empty()).then(|| {
            format!(
                "{} runs are more than are kept: percentiles are those of ranks within {worst:.1e} of the ones \
                 named, and their intervals allow for it. Means and shares are exact.",
                self.n_runs
            )
        })
    }

    fn whole(&self, node: NodeId) -> &[f64] {
        match self.columns.get(&node) {
            Some(Column::Whole(values)) => values,
            _ => &[],
        }
    }
}

/// A task for each wanted value. Paybacks are counted by year; every result against the limit of its rule.
fn tasks(years: usize, wanted: &[NodeId], results: &[ResultColumn]) -> Vec<Task> {
    wanted
        .iter()
        .enumerate()
        .map(|(wanted, node)| match results.iter().find(|r| r.node == *node) {
            Some(result) => Task {
                wanted,
                unit: result.unit.clone(),
                limits: limits(years, result.kind, result.rule),
                years: result.kind == ResultKind::Years,
            },
            None => Task { wanted, unit: Unit::plain(), limits: Vec::new(), years: false },
        })
        .collect()
}

fn limits(years: usize, kind: ResultKind, rule: Option<Rule>) -> Vec<f64> {
    let mut limits: Vec<f64> = match kind {
        ResultKind::Years => (1..=years).map(|year| year as f64).collect(),
        _ => Vec::new(),
    };
    limits.extend(rule.map(|rule| limit_of(rule).0));
    limits.sort_by(f64::total_cmp);
    limits.dedup();
    limits
}

fn place_of_limit(years: usize, kind: ResultKind, rule: Rule) -> usize {
    let limit = limit_of(rule).0;
    limits(years, kind, Some(rule)).iter().position(|&x| x == limit).unwrap_or(0)
}
