//! Everything said of one result over all runs.

use rayon::prelude::*;

use super::intervals::{CONFIDENCE, rank_interval, replicate_half_width, wilson};
use super::quantiles::{Place, Ranking, ranks_in_windows};
use crate::analysis::{Estimate, Figure, Histogram, Percentile, ResultKind, Share};
use crate::engine::accumulate::{Accumulator, CHUNK, Chunk, Moments, MomentsFound, Windows, merge_tree};

/// The percentiles of a summary.
pub const PERCENTILES: [f64; 9] = [0.01, 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95, 0.99];

/// Up to this many runs a column is sorted once and asked everything.
const SORT_UP_TO: usize = 1 << 17;
/// A histogram has at most about this many classes.
const CLASSES: f64 = 40.0;
/// Values counted by one task.
const MET_AT_ONCE: usize = 16 * CHUNK;
/// Steps of the cumulative curve.
pub(in crate::analysis) const CURVE_STEPS: u64 = 200;

/// When a run is a success.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// At or above.
    AtLeast(f64),
    /// At or below; never is above every number.
    AtMost(f64),
    /// Below.
    Below(f64),
    /// Yes: any number but 0.
    Yes,
}

impl Rule {
    /// Whether `x`, which is not NaN, meets it.
    pub(in crate::analysis) fn met(self, x: f64) -> bool {
        match self {
            Rule::AtLeast(t) => x >= t,
            Rule::AtMost(t) => x <= t,
            Rule::Below(t) => x < t,
            Rule::Yes => x != 0.0,
        }
    }
}

/// What is asked of a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// Sort of result. An infinity in a column of plain numbers is no value.
    pub kind: ResultKind,
    /// Independent replicates under a stratified method, run r belonging to
    /// replicate r mod R; none for random sampling.
    pub replicates: Option<u32>,
    /// Base case, for its rank among the runs; NaN if it has none.
    pub base: f64,
    /// Success; a yes/no result without a rule takes yes.
    pub rule: Option<Rule>,
}

/// What is said of a column; the fields are those of [`crate::analysis::Summary`].
#[derive(Debug, Clone, PartialEq)]
pub struct Statistics {
    /// Runs.
    pub runs: u64,
    /// Runs without a value; they count nowhere else.
    pub without_value: u64,
    /// Share of runs below the base case.
    pub base_rank: Option<f64>,
    /// Mean; none for yes/no, and for years with any never.
    pub mean: Option<Estimate>,
    /// Standard deviation; none as above.
    pub sd: Option<f64>,
    /// Standard error of the mean; none as above.
    pub mean_error: Option<f64>,
    /// [`PERCENTILES`]; empty for yes/no.
    pub percentiles: Vec<Percentile>,
    /// Share that is never; for years only.
    pub never: Option<Share>,
    /// Share that meets the rule.
    pub success: Option<Share>,
    /// Counts over equal classes.
    pub histogram: Histogram,
    /// Value, and share of runs not above it.
    pub cumulative: Vec<(f64, f64)>,
}

/// Summarises a column of runs that all weigh one (methods 5).
///
/// Intervals are at 95 %. Random sampling: s/sqrt(n) for means, Wilson for
/// shares, order statistics for percentiles. With two or more replicates:
/// Student's t over the replicates' own estimates for means, shares and finite
/// percentiles; Wilson for a share of 0 or 1, which no replicate can tell from
/// a small one; order statistics where any replicate's percentile is never.
pub fn summarise(column: &[f64], asked: &Asked) -> Statistics {
    let mended = mend(column, asked.kind);
    let column = mended.as_deref().unwrap_or(column);
    let ranking = Ranking::sorting(column, SORT_UP_TO);
    let replicates = Replicates::cut(column, asked.replicates);
    let numeric = asked.kind != ResultKind::YesNo;
    let moments = moments(column);
    let with_mean = numeric && ranking.never == 0 && ranking.numbers > 0;
    let mean_half = if with_mean { half_width(&moments, &replicates) } else { None };
    let rule = asked.rule.or((asked.kind == ResultKind::YesNo).then_some(Rule::Yes));
    let share_of = |rule: Rule| share(column, ranking.with_value(), &replicates, rule);
    Statistics {
        runs: column.len() as u64,
        without_value: ranking.without_value,
        base_rank: base_rank(&ranking, asked.base),
        mean: moments.mean.filter(|_| with_mean).map(|mean| around(mean, mean_half.map(|(half, _)| half))),
        sd: moments.sd().filter(|_| with_mean),
        mean_error: mean_half.map(|(_, error)| error),
        percentiles: if numeric { percentiles(&ranking, &replicates, &PERCENTILES) } else { Vec::new() },
        never: (asked.kind == ResultKind::Years).then(|| share_of(Rule::AtLeast(f64::INFINITY))),
        success: rule.map(share_of),
        histogram: histogram(&ranking, asked.kind),
        cumulative: cumulative(&ranking),
    }
}

/// A column whose infinities that mean nothing are NaN; none where there are none.
pub(in crate::analysis) fn mend(column: &[f64], kind: ResultKind) -> Option<Vec<f64>> {
    let bad = |x: f64| x == f64::NEG_INFINITY || x == f64::INFINITY && kind != ResultKind::Years;
    let any = column.iter().any(|&x| bad(x));
    any.then(|| column.iter().map(|&x| if bad(x) { f64::NAN } else { x }).collect())
}

/// Mean and variance of a column's numbers, chunk by chunk along the fixed tree.
pub fn moments(column: &[f64]) -> MomentsFound {
    let parts = column.chunks(CHUNK).zip((0..).step_by(CHUNK)).map(|(values, first_run)| {
        let mut part = Moments::new();
        part.add(Chunk::plain(first_run, values));
        part
    });
    merge_tree(parts.collect()).unwrap_or_default().finish()
}

/// The runs of each replicate; empty when replicates give no error.
struct Replicates {
    columns: Vec<Vec<f64>>,
}

impl Replicates {
    fn cut(column: &[f64], replicates: Option<u32>) -> Self {
        let n = replicates.unwrap_or(1) as usize;
        if n < 2 || column.len() < 2 * n {
            return Replicates { columns: Vec::new() };
        }
        let columns = (0..n).map(|r| column.iter().copied().skip(r).step_by(n).collect()).collect();
        Replicates { columns }
    }

    /// Half the width of the interval from one estimate for each replicate;
    /// none when any of them has no finite estimate.
    fn half_width(&self, estimates: &[f64]) -> Option<f64> {
        let all = estimates.len() == self.columns.len() && estimates.iter().all(|x| x.is_finite());
        if all { replicate_half_width(estimates, CONFIDENCE) } else { None }
    }
}

/// Half-width of the mean's interval, and its standard error.
fn half_width(all: &MomentsFound, replicates: &Replicates) -> Option<(f64, f64)> {
    if replicates.columns.is_empty() {
        let error = all.standard_error()?;
        // With few runs s itself is uncertain: Student's t, as for replicates.
        return Some((super::intervals::student_t(CONFIDENCE, all.numbers.runs - 1) * error, error));
    }
    let means: Vec<f64> =
        replicates.columns.iter().map(|column| moments(column).mean.unwrap_or(f64::NAN)).collect();
    let half = replicates.half_width(&means)?;
    super::intervals::mean_and_error(&means).map(|(_, error)| (half, error))
}

pub(in crate::analysis) fn around(value: f64, half: Option<f64>) -> Estimate {
    Estimate {
        value: Figure::of(value),
        low: half.map(|half| Figure::of(value - half)),
        high: half.map(|half| Figure::of(value + half)),
    }
}

/// Share of the runs with a value that meet a rule.
fn share(column: &[f64], with_value: u64, replicates: &Replicates, rule: Rule) -> Share {
    let of_replicates: Vec<(u64, u64)> =
        replicates.columns.iter().map(|column| (met(column, rule), counted(column))).collect();
    share_of_counts((met(column, rule), with_value), &of_replicates)
}

/// How many of a column's values meet a rule; NaN meets none.
fn met(column: &[f64], rule: Rule) -> u64 {
    // The rule is chosen once, so that each loop is a plain comparison.
    fn count(column: &[f64], is: impl Fn(f64) -> bool) -> u64 {
        column.iter().map(|&x| u64::from(is(x))).sum()
    }
    match rule {
        Rule::AtLeast(t) => count(column, |x| x >= t),
        Rule::AtMost(t) => count(column, |x| x <= t),
        Rule::Below(t) => count(column, |x| x < t),
        Rule::Yes => count(column, |x| x != 0.0 && !x.is_nan()),
    }
}

/// Values that are not NaN.
fn counted(column: &[f64]) -> u64 {
    column.iter().map(|x| u64::from(!x.is_nan())).sum()
}

/// A share with its interval from (runs that meet, runs with a value) of all runs and of each replicate.
pub(in crate::analysis) fn share_of_counts(
    (yes, with_value): (u64, u64),
    replicates: &[(u64, u64)],
) -> Share {
    let plain = wilson(yes, with_value, CONFIDENCE);
    if yes == 0 || yes == with_value {
        return plain;
    }
    let shares: Vec<f64> = replicates.iter().map(|&(yes, n)| yes as f64 / n as f64).collect();
    let half =
        if shares.iter().all(|x| x.is_finite()) { replicate_half_width(&shares, CONFIDENCE) } else { None };
    match half {
        Some(half) => {
            let value = plain.value;
            Share { value, low: (value - half).max(0.0), high: (value + half).min(1.0) }
        }
        None => plain,
    }
}

/// Percentiles `ps` of one column with their intervals, as [`summarise`] does.
pub fn percentiles_of(column: &[f64], replicates: Option<u32>, ps: &[f64]) -> Vec<Percentile> {
    percentiles(&Ranking::of(column), &Replicates::cut(column, replicates), ps)
}

/// Share of the runs with a value that meet each of `rules`, with its interval
/// as [`summarise`] gives it. NaN is no value.
pub fn shares_of(column: &[f64], replicates: Option<u32>, rules: &[Rule]) -> Vec<Share> {
    let replicates = Replicates::cut(column, replicates);
    let of_all = met_of_each(column, rules);
    let of_replicates: Vec<(Vec<u64>, u64)> =
        replicates.columns.iter().map(|c| met_of_each(c, rules)).collect();
    let (met, with_value) = of_all;
    met.into_iter()
        .enumerate()
        .map(|(k, yes)| {
            let each: Vec<(u64, u64)> =
                of_replicates.iter().map(|(met, n)| (met.get(k).copied().unwrap_or(0), *n)).collect();
            share_of_counts((yes, with_value), &each)
        })
        .collect()
}

/// For each rule, the runs that meet it, and all runs with a value: in one pass over the column, a chunk after the
/// other while it is in the inner cache.
fn met_of_each(column: &[f64], rules: &[Rule]) -> (Vec<u64>, u64) {
    let parts = column.par_chunks(MET_AT_ONCE).map(|part| {
        let mut all = (vec![0; rules.len()], 0);
        for chunk in part.chunks(CHUNK) {
            for (all, &rule) in all.0.iter_mut().zip(rules) {
                *all += met(chunk, rule);
            }
            all.1 += counted(chunk);
        }
        all
    });
    // Whole numbers: no order of adding changes them.
    parts.reduce(
        || (vec![0; rules.len()], 0),
        |mut a, b| {
            a.0.iter_mut().zip(&b.0).for_each(|(a, b)| *a += b);
            (a.0, a.1 + b.1)
        },
    )
}

fn percentiles(ranking: &Ranking, replicates: &Replicates, ps: &[f64]) -> Vec<Percentile> {
    let of_replicates: Vec<Vec<f64>> =
        replicates.columns.iter().map(|column| Ranking::of(column).quantiles(ps)).collect();
    let half_widths: Vec<Option<f64>> = (0..ps.len())
        .map(|i| {
            let estimates: Vec<f64> = of_replicates.iter().filter_map(|all| all.get(i).copied()).collect();
            // Finite in each replicate means k_r <= (m_r - 1)(1 - p) nevers in it; these add
            // up to less than (n - 1)(1 - p), so the percentile of all runs is finite too.
            replicates.half_width(&estimates)
        })
        .collect();
    let at = |ranks: &[u64]| Some(ranking.at(ranks));
    percentiles_at(ranking.with_value(), ps, &half_widths, at).unwrap_or_default()
}

/// Percentiles of `n` runs of which `at` gives the order statistics, all asked at once; none if it has not all of them.
/// An interval of order statistics only where there is no half-width.
fn percentiles_at(
    n: u64,
    ps: &[f64],
    half_widths: &[Option<f64>],
    at: impl FnOnce(&[u64]) -> Option<Vec<f64>>,
) -> Option<Vec<Percentile>> {
    let free = |(&p, half): (&f64, &Option<f64>)| if half.is_some() { [None, None] } else { ends(n, p) };
    let ranks: Vec<[Option<u64>; 2]> = ps.iter().zip(half_widths).map(free).collect();
    let places = ps.iter().map(|&p| Place::of(p, n));
    let asked: Vec<u64> = places.clone().flat_map(Place::ranks).chain(ranks.iter().flatten().flatten().copied()).collect();
    let found = at(&asked)?;
    let (pairs, ends) = found.split_at_checked(2 * ps.len())?;
    let mut next = ends.iter().copied();
    let mut end = |rank: Option<u64>| rank.and_then(|_| next.next()).map(Figure::of);
    let values = places.zip(pairs.chunks_exact(2)).map(|(place, pair)| place.between(pair));
    let all = ps.iter().zip(values).zip(half_widths.iter().zip(&ranks)).map(|((&p, value), (half, &[low, high]))| {
        let estimate = match half {
            Some(half) => around(value, Some(*half)),
            None => Estimate { value: Figure::of(value), low: end(low), high: end(high) },
        };
        Percentile { p, estimate }
    });
    Some(all.collect())
}

/// How far out a window reaches, in standard deviations of the pilot's rank: beyond lies one end of 100,000.
const REACH: f64 = 5.0;

/// Windows wide enough, by a pilot of the first runs, to hold the percentiles `ps` of many more and their intervals.
pub(in crate::analysis) fn windows_for(pilot: &[f64], ps: &[f64]) -> Windows {
    let ranking = Ranking::of(pilot);
    let n = ranking.with_value();
    let reach = |p: f64| REACH * (n as f64 * p * (1.0 - p)).sqrt() + 2.0;
    let low = |p: f64| (n as f64 * p - reach(p)).floor();
    let high = |p: f64| (n as f64 * p + reach(p)).ceil();
    // A cast of a negative number is 0, and 0 is not asked for: see below.
    let ranks: Vec<u64> = ps.iter().flat_map(|&p| [low(p) as u64, high(p) as u64]).collect();
    let found = ranking.at(&ranks);
    Windows::new(ps.iter().zip(found.chunks_exact(2)).map(|(&p, ends)| match *ends {
        [from, to] => (
            if low(p) < 0.0 || from.is_nan() { f64::NEG_INFINITY } else { from },
            // Beyond the pilot's last lies no limit.
            if to.is_nan() { f64::INFINITY } else { to.next_up() },
        ),
        _ => (f64::NEG_INFINITY, f64::INFINITY),
    }))
}

/// Percentiles of independent runs from windows; none if one of the order statistics lies in none of them.
pub(in crate::analysis) fn percentiles_in_windows(windows: Windows, ps: &[f64]) -> Option<Vec<Percentile>> {
    let mut found = windows.into_found();
    let n = found.numbers + found.never;
    percentiles_at(n, ps, &vec![None; ps.len()], |ranks| ranks_in_windows(&mut found, ranks))
}

/// 0-based ranks of the order statistics around a quantile.
fn ends(n: u64, p: f64) -> [Option<u64>; 2] {
    let ranks = rank_interval(n, p, CONFIDENCE);
    [ranks.lower.map(|l| l - 1), ranks.upper.map(|u| u - 1)]
}

fn base_rank(ranking: &Ranking, base: f64) -> Option<f64> {
    let n = ranking.with_value();
    if n == 0 || base.is_nan() {
        return None;
    }
    let below = ranking.below(&[base]).first().copied()?;
    Some(below as f64 / n as f64)
}

/// The least of 1, 2, 5 times a power of ten that is not below `x` > 0, as
/// (multiplier, power), both exact.
fn nice_step(x: f64) -> (f64, i32) {
    let mut power = libm::floor(libm::log10(x)) as i32;
    // The logarithm may round to a neighbour of the power.
    power = power.clamp(-300, 300) - 1;
    loop {
        for m in [1.0, 2.0, 5.0] {
            if scaled(m, power) >= x {
                return (m, power);
            }
        }
        power += 1;
    }
}

/// m x 10^power, rounded once.
fn scaled(m: f64, power: i32) -> f64 {
    let ten = libm::pow(10.0, f64::from(power.abs()));
    if power < 0 { m / ten } else { m * ten }
}

/// Edges at whole multiples of a round step.
pub(in crate::analysis) fn edges(low: f64, high: f64) -> Vec<f64> {
    let largest = if low.abs() > high.abs() { low.abs() } else { high.abs() };
    // In two parts, so that no pair of ends overflows.
    let even = high / CLASSES - low / CLASSES;
    // A constant column gets one class around its value, wide enough to be seen.
    let wanted = match largest / CLASSES {
        0.0 => 1.0,
        wide if even <= 1e-9 * wide => wide,
        _ => even,
    };
    let (m, power) = nice_step(wanted);
    let edge = |i: f64| scaled(i * m, power);
    let whole = |x: f64| (x / scaled(m, power)).floor();
    // A quotient may round across a whole number.
    let (first, last) = (whole(low), whole(high) + 1.0);
    let first = if edge(first) > low { first - 1.0 } else { first };
    let last = if edge(last) > high { last } else { last + 1.0 };
    (0..=(last - first) as usize).map(|i| edge(first + i as f64)).collect()
}

pub(in crate::analysis) fn histogram(ranking: &Ranking, kind: ResultKind) -> Histogram {
    let n = ranking.numbers;
    let never = ranking.never;
    let edges = if kind == ResultKind::YesNo {
        vec![-0.5, 0.5, 1.5]
    } else if n == 0 {
        Vec::new()
    } else {
        // P0.5 and P99.5 of the numbers alone, to the nearest run.
        let at = |p: f64| ((n - 1) as f64 * p).round() as u64;
        match ranking.at(&[at(0.005), at(0.995)])[..] {
            [low, high] => edges(low, high),
            _ => Vec::new(),
        }
    };
    let below = ranking.below(&edges);
    let counts: Vec<u64> =
        below.windows(2).map(|w| w.last().unwrap_or(&0) - w.first().unwrap_or(&0)).collect();
    let under = below.first().copied().unwrap_or(0);
    let above = n - below.last().copied().unwrap_or(n);
    Histogram { edges, counts, below: under, above, never }
}

/// The curve through evenly spaced ranks; a value that many runs share gets
/// the share of them all.
fn cumulative(ranking: &Ranking) -> Vec<(f64, f64)> {
    let n = ranking.numbers;
    if n == 0 {
        return Vec::new();
    }
    let steps = CURVE_STEPS.min(n - 1).max(1);
    // OK because n is at most 10^10: no overflow.
    let ranks: Vec<u64> = (0..=steps).map(|i| (n - 1) * i / steps).collect();
    let mut values = ranking.at(&ranks);
    values.dedup();
    let shares = ranking.not_above(&values);
    let all = ranking.with_value() as f64;
    values.into_iter().zip(shares).map(|(x, count)| (x, count as f64 / all)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NEVER: f64 = f64::INFINITY;

    /// Columns of many sorts: what windows say is what the whole column says, to the last bit.
    #[test]
    fn windows_are_exact() {
        let n = 1 << 16;
        let mut state = 7_u64;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        let sorts: [&dyn Fn(f64, f64) -> f64; 7] = [
            &|u, _| u,
            &|_, _| -560.0,
            &|u, _| (u * 5.0).floor(),
            &|u, v| if u < 0.4 { NEVER } else if u < 0.5 { f64::NAN } else { v },
            &|u, _| 1.0 / (u - 0.5),
            &|u, v| if u < 0.7 { -0.0 } else if u < 0.95 { 0.0 } else { v },
            &|u, v| if u < 0.03 { f64::NEG_INFINITY } else { libm::log(v) },
        ];
        let ps = [0.0, 0.01, 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95, 1.0];
        for (sort, f) in sorts.iter().enumerate() {
            let column: Vec<f64> = (0..n).map(|_| f(next(), next())).collect();
            let windows = windows_for(&column[..1 << 12], &ps);
            let mut parts = column.chunks(CHUNK).map(|values| {
                let mut part = windows.fresh();
                part.add(Chunk::plain(0, values));
                part
            });
            let mut all = parts.next().unwrap();
            parts.for_each(|part| all.merge(part));
            if sort == 0 {
                let share = all.finish().inside.len() as f64 / n as f64;
                assert!(share < 0.65, "{share} kept");
            }
            let bits = |p: &[Percentile]| format!("{p:?}");
            let found = percentiles_in_windows(all, &ps).map(|p| bits(&p));
            assert_eq!(found, Some(bits(&percentiles_of(&column, None, &ps))), "sort {sort}");
        }
        // A rank between windows is not made up.
        let mut all = Windows::new([(0.4, 0.6)]);
        all.add(Chunk::plain(0, &(0..1000).map(|i| f64::from(i) / 1000.0).collect::<Vec<_>>()));
        assert!(percentiles_in_windows(all.clone(), &[0.5]).is_some());
        assert!(percentiles_in_windows(all, &[0.25]).is_none());
    }

    fn asked(kind: ResultKind, replicates: Option<u32>) -> Asked {
        Asked { kind, replicates, base: 3.0, rule: Some(Rule::AtMost(6.0)) }
    }

    #[test]
    fn years_with_never_have_no_mean() {
        let column = [7.5, NEVER, 9.2, 4.1, NEVER, 6.6, 12.3, NEVER, 5.0, 8.8, f64::NAN];
        let s = summarise(&column, &asked(ResultKind::Years, None));
        assert_eq!((s.runs, s.without_value, s.mean.is_none(), s.sd), (11, 1, true, None));
        let p = |p: f64| s.percentiles.iter().find(|q| q.p == p).unwrap().estimate.clone();
        assert_eq!(p(0.5).value, Figure::Number(9.0));
        assert_eq!(p(0.9).value, Figure::Never);
        // Ranks 2 and 9 of ten (the oracle's interval): 5.0, and never.
        assert_eq!((p(0.5).low, p(0.5).high), (Some(Figure::Number(5.0)), Some(Figure::Never)));
        assert_eq!(p(0.99).high, None);
        assert_eq!((s.never.unwrap().value, s.success.unwrap().value), (0.3, 0.2));
        assert_eq!(s.base_rank, Some(0.0));
        let by_year = shares_of(&column, None, &[Rule::AtMost(5.0), Rule::AtMost(20.0)]);
        assert_eq!(by_year, [wilson(2, 10, 0.95), wilson(7, 10, 0.95)]);
        assert_eq!(s.histogram.counts.iter().sum::<u64>() + s.histogram.below + s.histogram.above, 7);
        assert_eq!(s.histogram.never, 3);
        assert_eq!(s.cumulative.last(), Some(&(12.3, 0.7)));
    }

    /// Eight replicates of 64 runs with means 1..8 and two values each, one
    /// below and one above: mean 4.5, sd of 1..8 = sqrt(6), t(7) = 2.364624.
    #[test]
    fn replicates_give_the_interval_of_the_mean() {
        let column: Vec<f64> =
            (0..512).map(|r| f64::from(r % 8 + 1) + if r / 8 % 2 == 0 { 0.25 } else { -0.25 }).collect();
        let s = summarise(&column, &asked(ResultKind::Number, Some(8)));
        let mean = s.mean.unwrap();
        let half = 2.364_624_251_592_785 * (6.0f64 / 8.0).sqrt();
        assert_eq!(mean.value, Figure::Number(4.5));
        assert!((mean.high.unwrap().number().unwrap() - (4.5 + half)).abs() < 1e-9);
        assert!((s.mean_error.unwrap() - 0.75f64.sqrt()).abs() < 1e-12);
        // Every replicate's median is its mean, so the median has the same half-width.
        let median = &s.percentiles[4].estimate;
        let low = median.low.unwrap().number().unwrap();
        assert!((median.value.number().unwrap() - half - low).abs() < 1e-9);
        // 5 of 8 replicates lie wholly at or below 6, one straddles it (6.25, 5.75).
        let success = s.success.unwrap();
        assert_eq!(success.value, 5.5 / 8.0);
        assert!(success.low > 0.0 && success.high == 1.0);
    }

    #[test]
    fn a_replicate_that_is_never_leaves_it_to_order_statistics() {
        // Replicate 0 of 2 is never in most of its runs: the overall P50 is finite, its own is not.
        let column: Vec<f64> =
            (0..400).map(|r| if r % 2 == 0 && r > 150 { NEVER } else { f64::from(r) }).collect();
        let s = summarise(&column, &asked(ResultKind::Years, Some(2)));
        let median = &s.percentiles[4].estimate;
        let ranks = rank_interval(400, 0.5, 0.95);
        let mut sorted = column.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(median.value.number().is_some());
        assert_eq!(median.low, Some(Figure::of(sorted[ranks.lower.unwrap() as usize - 1])));
        assert_eq!(median.high, Some(Figure::of(sorted[ranks.upper.unwrap() as usize - 1])));
    }

    #[test]
    fn yes_or_no() {
        let column: Vec<f64> = (0..100).map(|i| f64::from(u8::from(i < 70))).collect();
        let s = summarise(&column, &Asked { rule: None, ..asked(ResultKind::YesNo, None) });
        assert_eq!(s.success, Some(wilson(70, 100, 0.95)));
        assert_eq!((s.mean, s.percentiles.len()), (None, 0));
        assert_eq!(s.histogram.counts, [30, 70]);
        let sure = summarise(&vec![1.0; 64], &Asked { rule: None, ..asked(ResultKind::YesNo, Some(8)) });
        assert_eq!(sure.success, Some(wilson(64, 64, 0.95)));
    }

    #[test]
    fn nothing_at_all_is_no_panic() {
        for column in [&[][..], &[f64::NAN; 3][..], &[NEVER; 20][..], &[5.0][..]] {
            for kind in [ResultKind::Number, ResultKind::Years, ResultKind::YesNo] {
                let s = summarise(column, &asked(kind, Some(8)));
                assert_eq!(s.runs, column.len() as u64);
            }
        }
        let infinite = summarise(&[1.0, NEVER], &asked(ResultKind::Number, None));
        assert_eq!((infinite.without_value, infinite.histogram.never), (1, 0));
    }

    #[test]
    fn edges_are_round_and_hold_the_middle() {
        for (low, high) in [
            (0.0, 1.0),
            (-1310.0, 2103.0),
            (0.1, 0.3),
            (5.0, 5.0),
            (-1e308, 1.7e308),
            (0.0, 0.0),
            (1e12, 1e12 + 1.0),
        ] {
            let edges = edges(low, high);
            assert!(edges.first().unwrap() <= &low && edges.last().unwrap() > &high, "{edges:?}");
            assert!((2..=43).contains(&edges.len()), "{edges:?}");
            assert!(edges.windows(2).all(|w| w[0] < w[1]));
        }
        assert_eq!(edges(0.0, 12.0)[3], 1.5);
        assert!(edges(0.1, 0.3).contains(&0.11), "{:?}", edges(0.1, 0.3));
    }

    #[test]
    fn long_and_short_columns_agree() {
        let n = SORT_UP_TO + 4096;
        let column: Vec<f64> = (0..n).map(|i| ((i * 7919) % 10_007) as f64).collect();
        let s = summarise(&column, &Asked { base: 5000.0, ..asked(ResultKind::Number, None) });
        let sorted = Ranking::sorting(&column, usize::MAX);
        assert_eq!(s.histogram, histogram(&sorted, ResultKind::Number));
        assert_eq!(s.cumulative, cumulative(&sorted));
        assert_eq!(s.base_rank, base_rank(&sorted, 5000.0));
        let mut column = column;
        column.sort_by(f64::total_cmp);
        assert_eq!(
            s.percentiles[0].estimate.value,
            Figure::of({
                let h = (n - 1) as f64 * 0.01;
                let (a, b) = (column[h as usize], column[h as usize + 1]);
                a + (h - h.floor()) * (b - a)
            })
        );
    }
}
