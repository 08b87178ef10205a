//! Everything said of one result over more runs than are kept: moments and
//! counts are exact, ranks come from a sketch with a stated error.

use super::intervals::{CONFIDENCE, wilson};
use super::limits::UpTo;
use super::replicates::{mean_of, sd_of};
use super::summary::{Asked, CURVE_STEPS, PERCENTILES, Rule, Statistics, curve_within, edges, ends, ordered};
use crate::analysis::{Estimate, Figure, Histogram, Percentile, ResultKind, Share};
use crate::engine::accumulate::{MomentsFound, SketchFound};

/// What was gathered of a column, in the unit of its result.
#[derive(Debug, Clone, PartialEq)]
pub struct Gathered {
    /// Runs.
    pub runs: u64,
    /// Count, mean and variance.
    pub moments: MomentsFound,
    /// The same of each replicate, under a stratified method.
    pub replicates: Vec<MomentsFound>,
    /// Ranks.
    pub sketch: SketchFound,
    /// Counts against the limit of the result's rule (last), and against others before it.
    pub counts: UpTo,
}

/// The limit against which runs are counted for a rule, and whether success lies above it.
pub fn limit_of(rule: Rule) -> (f64, bool) {
    match rule {
        Rule::AtLeast(least) => (least.next_down(), true),
        Rule::AtMost(most) => (most, false),
        Rule::Yes => (0.5, true),
    }
}

impl Gathered {
    /// What a summary says; see [`summarise`](super::summarise). `at` is the place of the rule's limit in the counts.
    pub fn statistics(&self, asked: &Asked, at: Option<usize>) -> Statistics {
        let numeric = asked.kind != ResultKind::YesNo;
        let with_mean = numeric && self.moments.never.runs == 0 && self.moments.numbers.runs > 0;
        let mean = mean_of(&self.moments, &self.replicates).filter(|_| with_mean);
        let success = asked.rule.zip(at).map(|(rule, k)| self.success(rule, k));
        Statistics {
            runs: self.runs,
            without_value: self.moments.without_value,
            base_rank: (!asked.base.is_nan()).then(|| self.share_about(asked.base)),
            mean_error: mean.as_ref().and_then(|(_, error)| *error),
            sd: if with_mean { sd_of(&self.moments, &self.replicates, self.fourth_moment()) } else { None },
            mean: mean.map(|(mean, _)| mean),
            percentiles: if numeric { self.percentiles(&PERCENTILES) } else { Vec::new() },
            never: (asked.kind == ResultKind::Years).then(|| self.counts.never()),
            success,
            histogram: self.histogram(asked.kind),
            cumulative: self.cumulative(),
            // The curve is off by its own error and by that of the ranks.
            cumulative_within: curve_within(self.with_value()) + self.sketch.rank_error_share(),
        }
    }

    /// Share that meets a rule, whose limit is the one at `k`.
    pub fn success(&self, rule: Rule, k: usize) -> Share {
        let above = limit_of(rule).1;
        let plain = || self.counts.shares().get(k).copied();
        let share = if above { Some(self.counts.above(k)) } else { plain() };
        share.unwrap_or(Share::unknown())
    }

    fn with_value(&self) -> u64 {
        self.sketch.numbers.runs + self.sketch.never.runs
    }

    /// Percentiles with intervals of order statistics, wider by the error of the sketch on both sides.
    pub fn percentiles(&self, ps: &[f64]) -> Vec<Percentile> {
        let n = self.with_value();
        let slack = self.sketch.rank_error.ceil() as u64;
        let at = |rank: u64| Figure::of(self.sketch.order_statistic(rank));
        ps.iter()
            .map(|&p| {
                let [low, high] = ends(n, p);
                let low = low.map(|rank| at(rank.saturating_sub(slack)));
                let high = high.map(|rank| rank + slack).filter(|&rank| rank < n).map(at);
                Percentile { p, estimate: ordered(Figure::of(self.sketch.quantile(p)), low, high) }
            })
            .collect()
    }

    /// The mean with its interval.
    pub fn mean(&self) -> Estimate {
        let mean = mean_of(&self.moments, &self.replicates);
        mean.map_or(Estimate::alone(Figure::None), |(mean, _)| mean)
    }

    /// Mean of (x - mean)^4, to the error of the ranks: close enough for the error of a standard deviation.
    fn fourth_moment(&self) -> f64 {
        let mean = self.moments.mean.unwrap_or(0.0);
        let (mut sum, mut before) = (0.0, 0.0);
        for &(x, up_to) in self.sketch.ranked.iter().filter(|(x, _)| x.is_finite()) {
            let square = (x - mean) * (x - mean);
            sum += (up_to - before) * (square * square);
            before = up_to;
        }
        sum / before
    }

    /// Share of runs below `x`: Wilson, wider by the error of the ranks.
    fn share_about(&self, x: f64) -> Share {
        let n = self.with_value();
        let share = self.share_below(x);
        let slack = self.sketch.rank_error_share();
        let plain = wilson((share * n as f64).round() as u64, n, CONFIDENCE);
        Share { low: (plain.low - slack).max(0.0), high: (plain.high + slack).min(1.0), ..plain }
    }

    fn share_below(&self, x: f64) -> f64 {
        let ranked = &self.sketch.ranked;
        let below = ranked.partition_point(|&(value, _)| value < x);
        let weight = below.checked_sub(1).and_then(|k| ranked.get(k)).map_or(0.0, |&(_, up_to)| up_to);
        weight / self.with_value().max(1) as f64
    }

    fn histogram(&self, kind: ResultKind) -> Histogram {
        let n = self.sketch.numbers.runs;
        let edges = match kind {
            ResultKind::YesNo => vec![-0.5, 0.5, 1.5],
            _ if n == 0 => Vec::new(),
            _ => {
                let at = |p: f64| self.sketch.order_statistic(((n - 1) as f64 * p).round() as u64);
                edges(at(0.005), at(0.995))
            }
        };
        let total = self.with_value() as f64;
        let below: Vec<u64> =
            edges.iter().map(|&edge| (self.share_below(edge) * total).round() as u64).collect();
        let counts = below.windows(2).map(|w| w[1].saturating_sub(w[0])).collect();
        let above = n.saturating_sub(below.last().copied().unwrap_or(n));
        let under = below.first().copied().unwrap_or(0);
        Histogram { edges, counts, below: under, above, never: self.sketch.never.runs }
    }

    fn cumulative(&self) -> Vec<(f64, f64)> {
        let n = self.sketch.numbers.runs;
        let total = self.with_value().max(1) as f64;
        if n == 0 {
            return Vec::new();
        }
        let mut curve: Vec<(f64, f64)> = Vec::new();
        for step in 0..=CURVE_STEPS {
            // OK because n is at most 10^10: no overflow.
            let rank = (n - 1) * step / CURVE_STEPS;
            let (x, share) = (self.sketch.order_statistic(rank), (rank + 1) as f64 / total);
            match curve.last_mut() {
                Some(last) if last.0 == x => last.1 = share,
                _ => curve.push((x, share)),
            }
        }
        curve
    }
}
