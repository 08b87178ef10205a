//! As many runs as a wanted precision takes (methods 5).
//!
//! The figure is looked at after doubling numbers of runs. Sobol and random
//! draws go on from where they were, so that only new runs are evaluated, and
//! of each only what the one result needs; a Latin hypercube is drawn anew.
//! An interval can be short by luck (Wuebbeler, Harris, Cox, Elster 2010), so
//! one look is never enough: the look before must have come near as well.

use crate::analysis::flips::rule_in_words;
use crate::analysis::laid::Laid;
use crate::analysis::statistics::gathered::limit_of;
use crate::analysis::statistics::{Rule, mean_and_percentiles_of, percentiles_of, shares_of};
use crate::analysis::stream::{Task, gather};
use crate::analysis::{AppraisalError, Convergence, Estimate, Figure, Look, Options, Share};
use crate::diagnostic::Diagnostic;
use crate::engine::graph::NodeId;
use crate::engine::program::Program;
use crate::engine::run::{CHUNK, Control, Job, Stopped, keep_some};
use crate::formula::types::Kind;
use crate::model::{Model, ResultItem, UntilWish};
use crate::sampling::{Design, Method};
use crate::study::Sought;
use crate::units::Unit;

/// Runs of the first look, about.
const FIRST_LOOK: u64 = 2048;

/// The look before must have been this near, in wanted half-widths.
const BEFORE: f64 = 2.0;

/// How fast a half-width is taken to fall with the runs, at most: a guess from few looks is no promise.
const RATES: (f64, f64) = (0.5, 1.0);

/// Most runs of any study.
const MOST_RUNS: f64 = 1e10;

/// Looks until the precision holds or `options.design`, which is the most, is reached.
///
/// # Errors
/// As [`appraise`](crate::analysis::appraise()).
pub(super) fn search(
    model: &Model,
    options: Options,
    wish: UntilWish,
    control: &Control,
) -> Result<Convergence, AppraisalError> {
    let item = &model.results[wish.result];
    let search = Search { model, options, item, asked: Asked::of(model, item, wish), control };
    let mut looks: Vec<Look> = Vec::new();
    let mut reached = false;
    let mut sample: Option<Sample<'_>> = None;
    for design in designs(options.design) {
        // A point of a Latin hypercube depends on how many there are.
        let goes_on = sample.take().filter(|_| design.method != Method::LatinHypercube);
        let mut here = match goes_on {
            Some(sample) => sample,
            None => search.sample(design)?,
        };
        let estimate = search.look(&mut here, design)?;
        sample = Some(here);
        let before = looks.last().and_then(|look| look.half_width);
        let look = Look { runs: design.runs, half_width: further_end(&estimate), estimate };
        reached = look.half_width.is_some_and(|half| half <= wish.within)
            && before.is_some_and(|half| half <= BEFORE * wish.within);
        looks.push(look);
        if reached {
            break;
        }
    }
    let runs_needed = if reached { None } else { runs_needed(&looks, wish.within) };
    let working = model.result_working(item);
    let share = wish.statistic == Sought::Share;
    Ok(Convergence {
        result: working.about.name.clone(),
        label: working.about.label.clone(),
        unit: if share { String::new() } else { working.unit.text.clone() },
        statistic: in_words(wish.statistic),
        rule: share.then(|| rule_in_words(item, &working.unit)),
        within: wish.within,
        reached,
        most_runs: options.design.runs,
        runs_needed,
        looks,
    })
}

fn in_words(statistic: Sought) -> String {
    match statistic {
        Sought::Mean => "mean".to_owned(),
        Sought::Share => "share".to_owned(),
        // Through decimals: 0.07 x 100 is not 7.
        Sought::Percentile(p) => format!("P{}", (p * 1e10).round() / 1e8),
    }
}

/// What is asked of a column.
struct Asked {
    statistic: Sought,
    rule: Rule,
    unit: Unit,
    years: bool,
}

impl Asked {
    fn of(model: &Model, item: &ResultItem, wish: UntilWish) -> Self {
        let working = model.result_working(item);
        let rule = match (item.at_least, item.at_most) {
            (Some(least), _) => Rule::AtLeast(least),
            (None, Some(most)) => Rule::AtMost(most),
            (None, None) if working.formula.ty.kind == Kind::YesNo => Rule::Yes,
            // Years without a limit: within the horizon, which is not never.
            (None, None) => Rule::AtMost(f64::MAX),
        };
        let years = working.formula.ty.kind == Kind::Years;
        Asked { statistic: wish.statistic, rule, unit: working.unit.clone(), years }
    }

    /// A run's value in the result's unit; NaN where it is none.
    fn value(&self, x: f64) -> f64 {
        let x = self.unit.from_base(x);
        if x.is_finite() || (self.years && x == f64::INFINITY) { x } else { f64::NAN }
    }

    /// The figure of a whole column in the result's unit.
    fn estimate(&self, column: &[f64], replicates: Option<u32>) -> Estimate {
        let none = || Estimate::alone(Figure::None);
        match self.statistic {
            Sought::Mean => mean_and_percentiles_of(column, replicates, &[]).0,
            Sought::Percentile(p) => {
                percentiles_of(column, replicates, &[p]).pop().map_or_else(none, |found| found.estimate)
            }
            Sought::Share => shares_of(column, replicates, &[self.rule]).pop().map_or_else(none, as_estimate),
        }
    }
}

fn as_estimate(share: Share) -> Estimate {
    let (low, high) = (Some(Figure::of(share.low)), Some(Figure::of(share.high)));
    Estimate { value: Figure::of(share.value), low, high, interval: share.interval }
}

/// The designs of the looks: doubling, and the most at last.
fn designs(most: Design) -> Vec<Design> {
    let replicates = u64::from(most.replicates.max(1));
    let mut each = FIRST_LOOK.div_ceil(replicates).next_power_of_two();
    let mut designs = Vec::new();
    while each * replicates < most.runs {
        designs.push(most.with_runs(each * replicates));
        each *= 2;
    }
    designs.push(most.with_runs(most.runs));
    designs
}

/// Distance to the further end of the interval; none where one is missing or never.
fn further_end(estimate: &Estimate) -> Option<f64> {
    let value = estimate.value.number()?;
    let (low, high) = (estimate.low?.number()?, estimate.high?.number()?);
    let (down, up) = (value - low, high - value);
    Some(if down > up { down } else { up })
}

/// Runs that the wanted half-width would take, from the rate at which it fell so far; the next doubling above.
fn runs_needed(looks: &[Look], within: f64) -> Option<u64> {
    let last = looks.last()?;
    let half = last.half_width.filter(|half| *half > 0.0)?;
    let first = looks.iter().find(|look| look.half_width.is_some_and(|half| half > 0.0))?;
    let doublings = libm::log2(last.runs as f64 / first.runs as f64);
    let fell = libm::log2(first.half_width? / half);
    let rate = if doublings > 0.0 { fell / doublings } else { RATES.0 };
    let rate = if rate.is_nan() { RATES.0 } else { rate.clamp(RATES.0, RATES.1) };
    let more = libm::ceil(libm::log2(half / within) / rate).max(1.0);
    let runs = last.runs as f64 * libm::exp2(more);
    // Beyond what any study may run, the figure says no more than that.
    Some(if runs < MOST_RUNS { runs as u64 } else { MOST_RUNS as u64 })
}

/// What is asked, of which study.
struct Search<'a> {
    model: &'a Model,
    options: Options,
    item: &'a ResultItem,
    asked: Asked,
    control: &'a Control,
}

/// The workings under one plan, and the result's runs so far in its unit.
struct Sample<'m> {
    laid: Laid<'m>,
    node: NodeId,
    column: Vec<f64>,
}

impl<'a> Search<'a> {
    fn sample(&self, design: Design) -> Result<Sample<'a>, AppraisalError> {
        let plan = self.model.plan(design).map_err(AppraisalError::Plan)?;
        let laid = Laid::new(self.model, plan.with_vectors(self.options.vectors))
            .map_err(AppraisalError::Workings)?;
        let nothing =
            || AppraisalError::Workings(Box::new(Diagnostic::error("until", "the result has no value")));
        let node = laid.result_node(&laid.base, self.item).ok_or_else(nothing)?;
        Ok(Sample { laid, node, column: Vec::new() })
    }

    /// The figure after the runs of `design`; only those that are not there yet are made.
    fn look(&self, sample: &mut Sample<'_>, design: Design) -> Result<Estimate, AppraisalError> {
        let program = Program::of_runs(&sample.laid.low.graph, &[sample.node]);
        let job = Job {
            program: &program,
            plan: &sample.laid.plan,
            leaves: &sample.laid.low.leaves,
            n_runs: design.runs,
            block: self.options.block,
            epoch: self.options.epoch,
            vectors: self.options.vectors,
        };
        let replicates = (design.method != Method::Random).then_some(design.replicates);
        if design.runs > self.options.kept_at_most {
            return Ok(self.gathered(job, replicates)?);
        }
        // A chunk that was cut short by the end of the look before is made again.
        let whole = sample.column.len() / CHUNK;
        sample.column.resize(design.runs as usize, 0.0);
        let columns = std::slice::from_mut(&mut sample.column);
        keep_some(job, self.control, whole as u64..u64::MAX, &[0], columns, |_, _| ())?;
        self.control.check(job.epoch)?;
        for x in sample.column.iter_mut().skip(whole * CHUNK) {
            *x = self.asked.value(*x);
        }
        Ok(self.asked.estimate(&sample.column, replicates))
    }

    /// The figure of more runs than are kept.
    fn gathered(&self, job: Job<'_>, replicates: Option<u32>) -> Result<Estimate, Stopped> {
        let asked = &self.asked;
        let limits = vec![limit_of(asked.rule).0];
        let task = Task { wanted: 0, unit: asked.unit.clone(), limits, years: asked.years };
        let found = gather(job, self.control, &[task], replicates)?.pop();
        let Some(gathered) = found.map(|found| found.gathered) else {
            return Ok(Estimate::alone(Figure::None));
        };
        Ok(match asked.statistic {
            Sought::Mean => gathered.mean(),
            Sought::Share => as_estimate(gathered.success(asked.rule, 0)),
            Sought::Percentile(p) => {
                gathered.percentiles(&[p]).pop().map_or(Estimate::alone(Figure::None), |found| found.estimate)
            }
        })
    }
}
