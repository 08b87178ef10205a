//! More runs than can be kept: figures are gathered chunk by chunk.
//!
//! Runs come in rounds of [`ROUND`] chunks. Within a round chunks are made in
//! parallel; then each column takes them in, in the order of the runs, so that
//! no bit hangs on threads or blocks. In memory are one round of values (1 MB
//! a column), the pilot (half that), and for each column with percentiles a
//! sketch of at most 2^16 values a level (16 bytes each, 1 MB; a level for each
//! doubling of the runs beyond 65,536): at 10^10 runs below 20 MB a column,
//! whatever the number of threads.

use std::sync::atomic::Ordering;

use rayon::prelude::*;

use crate::analysis::statistics::intervals::{
    CONFIDENCE, mean_and_error, rank_interval, replicate_half_width, student_t,
};
use crate::analysis::statistics::quantiles::Ranking;
use crate::analysis::statistics::summary::{
    CURVE_STEPS, PERCENTILES, around, histogram, mend, share_of_counts,
};
use crate::analysis::statistics::{Asked, Rule, Statistics};
use crate::analysis::{Estimate, Figure, Histogram, Percentile, ResultKind, Share};
use crate::engine::accumulate::{
    Accumulator, Chunk, ClassCounts, Classes, Extremes, Moments, MomentsFound, Shares, Sketch, SketchFound,
    Tree,
};
use crate::engine::block::Runs;
use crate::engine::run::{CHUNK, Control, Job, Stopped, by_chunk, keep};
use crate::units::Unit;

/// Runs kept to choose the classes of histograms, for rank correlations and for single courses.
pub(super) const PILOT: u64 = 1 << 16;

/// Chunks made before columns take them in.
const ROUND: u64 = 32;

/// What is gathered of one wanted value.
#[derive(Debug, Clone)]
pub(super) struct Gather {
    /// Index among the wanted values of the program.
    pub(super) wanted: usize,
    /// Unit of the figures; none for base units.
    pub(super) unit: Option<Unit>,
    /// Sort of value.
    pub(super) kind: ResultKind,
    /// Shares of runs.
    pub(super) rules: Vec<Rule>,
    /// What else.
    pub(super) more: More,
}

/// What is gathered beside moments and shares.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum More {
    /// Percentiles.
    Ranks,
    /// Percentiles, a histogram, and runs without a value: all of a summary.
    Summary,
    /// Counts up to each limit.
    Limits(Vec<f64>),
}

/// What was gathered of one wanted value.
pub(super) struct Gathered {
    what: Gather,
    classes: Option<Classes>,
    moments: Tree<Moments>,
    shares: Vec<Shares>,
    extremes: Extremes,
    sketch: Sketch,
    replicates: Vec<Replicate>,
}

/// The same of one replicate.
#[derive(Default)]
struct Replicate {
    moments: Tree<Moments>,
    shares: Vec<Shares>,
    classes: Option<Classes>,
}

/// What one chunk says of one wanted value.
struct Part {
    values: Vec<f64>,
    classes: Option<Classes>,
    moments: Moments,
    shares: Vec<Shares>,
    extremes: Extremes,
    replicates: Vec<(Moments, Vec<Shares>, Option<Classes>)>,
}

/// All columns, and the first runs value by value.
pub(super) struct Stream {
    /// In the order asked.
    pub(super) columns: Vec<Gathered>,
    /// The first [`PILOT`] runs of each wanted value.
    pub(super) pilot: Vec<Vec<f64>>,
}

/// Makes all runs of `job` and gathers `what` of them.
pub(super) fn gather(
    job: Job<'_>,
    what: Vec<Gather>,
    replicates: Option<u32>,
    control: &Control,
) -> Result<Stream, Stopped> {
    let first = job.n_runs.min(PILOT);
    let pilot = keep(Job { n_runs: first, ..job }, control)?;
    // They are made again below, and count once.
    control.done.fetch_sub(first, Ordering::Relaxed);
    let replicates = replicates.filter(|&r| r >= 2 && job.n_runs >= 2 * u64::from(r)).unwrap_or(0);
    let mut columns: Vec<Gathered> = what.into_iter().map(|w| Gathered::new(w, &pilot, replicates)).collect();
    let chunks = job.n_runs.div_ceil(CHUNK as u64);
    for start in (0..chunks).step_by(ROUND as usize) {
        let parts = by_chunk(job, control, start..chunks.min(start + ROUND), |runs, values| {
            columns.iter().map(|column| column.part(runs, values)).collect::<Vec<Part>>()
        })?;
        let mut rows: Vec<_> = parts.into_iter().map(Vec::into_iter).collect();
        let by_column: Vec<Vec<Part>> =
            columns.iter().map(|_| rows.iter_mut().filter_map(Iterator::next).collect()).collect();
        columns
            .par_iter_mut()
            .zip(by_column)
            .for_each(|(column, parts)| parts.into_iter().for_each(|p| column.take(p)));
    }
    control.check(job.epoch)?;
    Ok(Stream { columns, pilot })
}

impl Gathered {
    fn new(what: Gather, pilot: &[Vec<f64>], replicates: u32) -> Self {
        let edges = match &what.more {
            More::Ranks => Vec::new(),
            More::Summary => {
                let column = pilot.get(what.wanted).map(|c| what.in_unit(c)).unwrap_or_default();
                histogram(&Ranking::of(&column), what.kind).edges
            }
            More::Limits(limits) => limits.clone(),
        };
        let classes = classes_of(&edges);
        let shares = vec![Shares::new(); what.rules.len()];
        let by_replicate = classes.clone().filter(|_| matches!(what.more, More::Limits(_)));
        let one =
            || Replicate { moments: Tree::new(), shares: shares.clone(), classes: by_replicate.clone() };
        Gathered {
            replicates: (0..replicates).map(|_| one()).collect(),
            classes,
            moments: Tree::new(),
            shares,
            extremes: Extremes::new(),
            sketch: Sketch::new(),
            what,
        }
    }

    fn part(&self, runs: Runs, columns: &[Vec<f64>]) -> Part {
        let values = columns.get(self.what.wanted).map(|c| self.what.in_unit(c)).unwrap_or_default();
        let chunk = Chunk::plain(runs.first, &values);
        let of = |chunk: Chunk| (moments(chunk), self.what.shares(chunk));
        let n = self.replicates.len();
        let replicates = self.replicates.iter().enumerate().map(|(r, replicate)| {
            // Run i belongs to replicate i mod n.
            let skip = (r + n - (runs.first % n as u64) as usize) % n;
            let own: Vec<f64> = values.iter().copied().skip(skip).step_by(n).collect();
            let chunk = Chunk::plain(0, &own);
            let (moments, shares) = of(chunk);
            (moments, shares, counted(replicate.classes.as_ref(), chunk))
        });
        let replicates = replicates.collect();
        let (moments, shares) = of(chunk);
        let mut extremes = Extremes::new();
        if self.what.more == More::Summary {
            extremes.add(chunk);
        }
        let classes = counted(self.classes.as_ref(), chunk);
        let values = if matches!(self.what.more, More::Limits(_)) { Vec::new() } else { values };
        Part { values, classes, moments, shares, extremes, replicates }
    }

    fn take(&mut self, part: Part) {
        self.moments.push(part.moments);
        merge_all(&mut self.shares, part.shares);
        merge_some(&mut self.classes, part.classes);
        self.extremes.merge(part.extremes);
        for (mine, (moments, shares, classes)) in self.replicates.iter_mut().zip(part.replicates) {
            mine.moments.push(moments);
            merge_all(&mut mine.shares, shares);
            merge_some(&mut mine.classes, classes);
        }
        self.sketch.add(Chunk::plain(0, &part.values));
    }

    fn moments(&self) -> MomentsFound {
        self.moments.clone().merged().unwrap_or_default().finish()
    }

    /// Mean over all runs.
    pub(super) fn mean(&self) -> f64 {
        self.moments().mean.unwrap_or(f64::NAN)
    }

    /// Runs without a value, and the first of them.
    pub(super) fn failed(&self) -> Option<(u64, u64)> {
        let first = self.extremes.finish().first_without_value?;
        Some((self.moments().without_value, first))
    }

    /// Share of the `k`-th rule.
    fn share(&self, k: usize) -> Option<Share> {
        let counts = |shares: &[Shares]| {
            let found = shares.get(k)?.finish();
            Some((found.yes.runs, found.yes.runs + found.no.runs))
        };
        let each: Vec<(u64, u64)> = self.replicates.iter().filter_map(|r| counts(&r.shares)).collect();
        counts(&self.shares).map(|all| share_of_counts(all, &each))
    }

    /// Share of runs with a value that do not lie above each limit, and the share that is never.
    pub(super) fn up_to_limits(&self) -> (Vec<Share>, Share) {
        let all = up_to(self.classes.as_ref());
        let each: Vec<UpTo> = self.replicates.iter().map(|r| up_to(r.classes.as_ref())).collect();
        let of = |pick: &dyn Fn(&UpTo) -> u64| {
            let each: Vec<(u64, u64)> = each.iter().map(|r| (pick(r), r.with_value)).collect();
            share_of_counts((pick(&all), all.with_value), &each)
        };
        let limits = (0..all.counts.len()).map(|k| of(&|r| r.counts.get(k).copied().unwrap_or(0)));
        (limits.collect(), of(&|r| r.never))
    }

    /// Percentiles from the sketch: the interval is that of order statistics, wider by the rank error.
    pub(super) fn percentiles(&self, found: &SketchFound, ps: &[f64]) -> Vec<Percentile> {
        let n = found.numbers.runs + found.never.runs;
        let error = found.rank_error.ceil() as u64;
        ps.iter()
            .map(|&p| {
                let ranks = rank_interval(n, p, CONFIDENCE);
                let low = ranks.lower.and_then(|l| (l - 1).checked_sub(error));
                let high = ranks.upper.map(|u| u - 1 + error).filter(|&rank| rank < n);
                let at = |rank: Option<u64>| rank.map(|rank| Figure::of(found.order_statistic(rank)));
                let value = Figure::of(found.quantile(p));
                Percentile { p, estimate: Estimate { value, low: at(low), high: at(high) } }
            })
            .collect()
    }

    /// What the sketch says.
    pub(super) fn ranks(&self) -> SketchFound {
        self.sketch.finish()
    }

    /// All that is said of a result; its rules are below its base, never, and its own.
    pub(super) fn statistics(&self, asked: &Asked) -> Statistics {
        let moments = self.moments();
        let found = self.ranks();
        let numeric = asked.kind != ResultKind::YesNo;
        let with_mean = numeric && moments.never.runs == 0 && moments.numbers.runs > 0;
        let half = if with_mean { self.half_width(&moments) } else { None };
        Statistics {
            runs: moments.numbers.runs + moments.never.runs + moments.without_value,
            without_value: moments.without_value,
            base_rank: self.share(0).map(|s| s.value).filter(|x| !x.is_nan() && !asked.base.is_nan()),
            mean: moments.mean.filter(|_| with_mean).map(|mean| around(mean, half.map(|(half, _)| half))),
            sd: moments.sd().filter(|_| with_mean),
            mean_error: half.map(|(_, error)| error),
            percentiles: if numeric { self.percentiles(&found, &PERCENTILES) } else { Vec::new() },
            never: self.share(1).filter(|_| asked.kind == ResultKind::Years),
            success: self.share(2),
            histogram: self.histogram(&moments),
            cumulative: curve(&found),
        }
    }

    fn half_width(&self, all: &MomentsFound) -> Option<(f64, f64)> {
        if self.replicates.is_empty() {
            let error = all.standard_error()?;
            return Some((student_t(CONFIDENCE, all.numbers.runs - 1) * error, error));
        }
        let mean = |r: &Replicate| r.moments.clone().merged()?.finish().mean;
        let means: Vec<f64> = self.replicates.iter().map(mean).collect::<Option<_>>()?;
        let half = replicate_half_width(&means, CONFIDENCE)?;
        mean_and_error(&means).map(|(_, error)| (half, error))
    }

    fn histogram(&self, moments: &MomentsFound) -> Histogram {
        let never = moments.never.runs;
        let Some(found) = self.classes.as_ref().map(Accumulator::finish) else {
            return Histogram {
                edges: Vec::new(),
                counts: Vec::new(),
                below: 0,
                above: moments.numbers.runs,
                never,
            };
        };
        let ClassCounts { mut edges, counts, below, above, .. } = found;
        let mut counts: Vec<u64> = counts.iter().map(|t| t.runs).collect();
        // The last class holds the upper edge alone, see `classes_of`: it lies above the histogram.
        let above = above.runs + counts.pop().unwrap_or(0);
        edges.pop();
        Histogram { edges, counts, below: below.runs, above, never }
    }
}

impl Gather {
    /// Values in the figure's unit, those that mean nothing as NaN.
    fn in_unit(&self, column: &[f64]) -> Vec<f64> {
        let values: Vec<f64> = match &self.unit {
            Some(unit) if unit.scale != 1.0 => column.iter().map(|&x| unit.from_base(x)).collect(),
            _ => column.to_vec(),
        };
        mend(&values, self.kind).unwrap_or(values)
    }

    fn shares(&self, chunk: Chunk) -> Vec<Shares> {
        let of = |rule: &Rule| {
            let yes_or_no = |&x: &f64| if x.is_nan() { x } else { f64::from(u8::from(rule.met(x))) };
            let values: Vec<f64> = chunk.values.iter().map(yes_or_no).collect();
            let mut shares = Shares::new();
            shares.add(Chunk { values: &values, ..chunk });
            shares
        };
        self.rules.iter().map(of).collect()
    }
}

/// Classes that hold lower <= x < upper, all of them: a last class holds what equals the last edge.
fn classes_of(edges: &[f64]) -> Option<Classes> {
    let last = edges.last()?;
    Classes::new(edges.iter().copied().chain([last.next_up()]).collect())
}

fn counted(classes: Option<&Classes>, chunk: Chunk) -> Option<Classes> {
    let mut fresh = Classes::new(classes?.finish().edges)?;
    fresh.add(chunk);
    Some(fresh)
}

fn moments(chunk: Chunk) -> Moments {
    let mut moments = Moments::new();
    moments.add(chunk);
    moments
}

fn merge_all<A: Accumulator>(mine: &mut [A], theirs: Vec<A>) {
    mine.iter_mut().zip(theirs).for_each(|(a, b)| a.merge(b));
}

fn merge_some<A: Accumulator>(mine: &mut Option<A>, theirs: Option<A>) {
    if let (Some(a), Some(b)) = (mine, theirs) {
        a.merge(b);
    }
}

/// Limits as edges of classes: a run that equals a limit counts as up to it.
pub(super) fn limits(values: impl Iterator<Item = f64>) -> More {
    More::Limits(values.map(f64::next_up).collect())
}

struct UpTo {
    counts: Vec<u64>,
    never: u64,
    with_value: u64,
}

fn up_to(classes: Option<&Classes>) -> UpTo {
    let Some(found) = classes.map(Accumulator::finish) else {
        return UpTo { counts: Vec::new(), never: 0, with_value: 0 };
    };
    let mut sum = found.below.runs;
    let mut counts = vec![sum];
    for class in &found.counts {
        sum += class.runs;
        counts.push(sum);
    }
    // The last edge but one is the last limit, see `classes_of`.
    counts.pop();
    UpTo { counts, never: found.never.runs, with_value: sum + found.above.runs + found.never.runs }
}

/// The cumulative curve of a sketch, as of a column.
fn curve(found: &SketchFound) -> Vec<(f64, f64)> {
    let n = found.numbers.runs;
    if n == 0 {
        return Vec::new();
    }
    let steps = CURVE_STEPS.min(n - 1).max(1);
    let mut values: Vec<f64> = (0..=steps).map(|i| found.order_statistic((n - 1) * i / steps)).collect();
    values.dedup();
    let all = (n + found.never.runs) as f64;
    let share = |x: f64| {
        let not_above = found.ranked.partition_point(|&(y, _)| y <= x);
        not_above.checked_sub(1).and_then(|i| found.ranked.get(i)).map_or(0.0, |&(_, up_to)| up_to / all)
    };
    values.iter().map(|&x| (x, share(x))).collect()
}
