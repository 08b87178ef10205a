//! Everything said of one result over all runs.

use super::intervals::{CONFIDENCE, rank_interval};
use super::quantiles::{Place, Ranking};
use super::replicates::{Replicates, around, fourth_moment, mean_of, sd_of, share};
use crate::analysis::{Estimate, Figure, Histogram, Interval, Percentile, ResultKind, Share};
use crate::engine::accumulate::{Accumulator, CHUNK, Chunk, Moments, MomentsFound, merge_tree};

/// The percentiles of a summary.
pub const PERCENTILES: [f64; 9] = [0.01, 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95, 0.99];

/// Up to this many runs a column is sorted once and asked everything.
const SORT_UP_TO: usize = 1 << 17;
/// A histogram has at most about this many classes.
const CLASSES: f64 = 40.0;
/// Steps of the cumulative curve.
pub(super) const CURVE_STEPS: u64 = 200;

/// When a run is a success.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// At or above.
    AtLeast(f64),
    /// At or below; never is above every number.
    AtMost(f64),
    /// Yes: any number but 0.
    Yes,
}

impl Rule {
    fn met(self, x: f64) -> bool {
        match self {
            Rule::AtLeast(t) => x >= t,
            Rule::AtMost(t) => x <= t,
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
    pub base_rank: Option<Share>,
    /// Mean; none for yes/no, and for years with any never.
    pub mean: Option<Estimate>,
    /// Standard deviation; none as above.
    pub sd: Option<Estimate>,
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
    /// How far the curve of the distribution may lie from it (95 %).
    pub cumulative_within: f64,
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
    let parts = if with_mean { replicates.moments() } else { Vec::new() };
    let mean = mean_of(&moments, &parts).filter(|_| with_mean);
    // Replicates tell the error of the standard deviation by themselves.
    let fourth =
        || if parts.len() < 2 { fourth_moment(column, moments.mean.unwrap_or(0.0)) } else { f64::NAN };
    let with_value = ranking.with_value();
    let below_base = !asked.base.is_nan() && with_value > 0;
    let rule = asked.rule.or((asked.kind == ResultKind::YesNo).then_some(Rule::Yes));
    let share_of = |met: &dyn Fn(f64) -> bool| share(column, &replicates, met);
    Statistics {
        runs: column.len() as u64,
        without_value: ranking.without_value,
        base_rank: below_base.then(|| share_of(&|x| x < asked.base)),
        mean_error: mean.as_ref().and_then(|(_, error)| *error),
        mean: mean.map(|(mean, _)| mean),
        sd: if with_mean { sd_of(&moments, &parts, fourth()) } else { None },
        percentiles: if numeric { percentiles(&ranking, &replicates, &PERCENTILES) } else { Vec::new() },
        never: (asked.kind == ResultKind::Years).then(|| share_of(&|x| x == f64::INFINITY)),
        success: rule.map(|rule| share_of(&|x| rule.met(x))),
        histogram: histogram(&ranking, asked.kind),
        cumulative: cumulative(&ranking),
        cumulative_within: curve_within(with_value),
    }
}

/// Half-width of the band around a whole curve of n independent runs: sqrt(ln(2/alpha)/2n) (Massart 1990, *The tight
/// constant in the Dvoretzky-Kiefer-Wolfowitz inequality*).
pub(super) fn curve_within(runs: u64) -> f64 {
    let half = (libm::log(2.0 / (1.0 - CONFIDENCE)) / (2.0 * runs.max(1) as f64)).sqrt();
    if half < 1.0 { half } else { 1.0 }
}

/// A column whose infinities that mean nothing are NaN; none where there are none.
fn mend(column: &[f64], kind: ResultKind) -> Option<Vec<f64>> {
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

/// Percentiles `ps` of one column with their intervals, as [`summarise`] does.
pub fn percentiles_of(column: &[f64], replicates: Option<u32>, ps: &[f64]) -> Vec<Percentile> {
    percentiles(&Ranking::of(column), &Replicates::cut(column, replicates), ps)
}

/// The mean of independent runs with its interval.
pub fn mean_of_runs(all: &MomentsFound) -> Estimate {
    mean_of(all, &[]).map_or(Estimate::alone(Figure::None), |(mean, _)| mean)
}

/// The same with the mean: for a column of numbers, as [`summarise`] does.
pub fn mean_and_percentiles_of(
    column: &[f64],
    replicates: Option<u32>,
    ps: &[f64],
) -> (Estimate, Vec<Percentile>) {
    let replicates = Replicates::cut(column, replicates);
    let mean = mean_of(&moments(column), &replicates.moments());
    let mean = mean.map_or(Estimate::alone(Figure::None), |(mean, _)| mean);
    (mean, percentiles(&Ranking::of(column), &replicates, ps))
}

/// Share of the runs with a value that meet each of `rules`, with its interval
/// as [`summarise`] gives it. NaN is no value.
pub fn shares_of(column: &[f64], replicates: Option<u32>, rules: &[Rule]) -> Vec<Share> {
    let replicates = Replicates::cut(column, replicates);
    rules.iter().map(|rule| share(column, &replicates, &|x| rule.met(x))).collect()
}

/// Percentiles of independent runs with their intervals by order statistics. `at` gives the values of 0-based ranks
/// among `n`; none where it cannot give one of them.
pub fn percentiles_by_rank(
    n: u64,
    ps: &[f64],
    at: impl FnOnce(&[u64]) -> Option<Vec<f64>>,
) -> Option<Vec<Percentile>> {
    let places: Vec<(Place, [Option<u64>; 2])> = ps.iter().map(|&p| (Place::of(p, n), ends(n, p))).collect();
    let ranks_of = |(place, ends): &(Place, [Option<u64>; 2])| {
        let [low, high] = place.ranks();
        // An end that no run is far enough out for is asked as the place itself, and not used.
        [low, high, ends[0].unwrap_or(low), ends[1].unwrap_or(low)]
    };
    let found = at(&places.iter().flat_map(ranks_of).collect::<Vec<u64>>())?;
    let of_one = |(k, values): (usize, &[f64])| {
        let (place, ends) = &places[k];
        let end = |k: usize| ends[k].map(|_| Figure::of(values[2 + k]));
        let estimate = ordered(Figure::of(place.between(&values[..2])), end(0), end(1));
        Percentile { p: ps[k], estimate }
    };
    Some(found.chunks_exact(4).enumerate().map(of_one).collect())
}

fn percentiles(ranking: &Ranking, replicates: &Replicates, ps: &[f64]) -> Vec<Percentile> {
    let n = ranking.with_value();
    if replicates.columns.is_empty() {
        // All ranks at once: one pass over the column less.
        return percentiles_by_rank(n, ps, |ranks| Some(ranking.at(ranks))).unwrap_or_default();
    }
    let values = ranking.quantiles(ps);
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
    let free = |(&p, half): (&f64, &Option<f64>)| {
        // An interval of order statistics only where the replicates give none.
        if half.is_some() { [None, None] } else { ends(n, p) }
    };
    let ranks: Vec<[Option<u64>; 2]> = ps.iter().zip(&half_widths).map(free).collect();
    let asked: Vec<u64> = ranks.iter().flatten().flatten().copied().collect();
    let found = ranking.at(&asked);
    let mut next = found.iter().copied();
    let mut end = |rank: Option<u64>| rank.and_then(|_| next.next()).map(Figure::of);
    ps.iter()
        .zip(values)
        .zip(half_widths.iter().zip(&ranks))
        .map(|((&p, value), (half, &[low, high]))| {
            let estimate = match half {
                Some(half) => around(value, Some(*half), Interval::Replicates),
                None => ordered(Figure::of(value), end(low), end(high)),
            };
            Percentile { p, estimate }
        })
        .collect()
}

/// An estimate with the order statistics around it.
pub(super) fn ordered(value: Figure, low: Option<Figure>, high: Option<Figure>) -> Estimate {
    let none = low.is_none() && high.is_none();
    Estimate { value, low, high, interval: if none { Interval::None } else { Interval::OrderStatistics } }
}

/// 0-based ranks of the order statistics around a quantile.
pub(super) fn ends(n: u64, p: f64) -> [Option<u64>; 2] {
    let ranks = rank_interval(n, p, CONFIDENCE);
    [ranks.lower.map(|l| l - 1), ranks.upper.map(|u| u - 1)]
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
pub(super) fn edges(low: f64, high: f64) -> Vec<f64> {
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

fn histogram(ranking: &Ranking, kind: ResultKind) -> Histogram {
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
    use super::super::intervals::wilson;
    use super::*;

    const NEVER: f64 = f64::INFINITY;

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
        assert_eq!(s.base_rank, Some(wilson(0, 10, 0.95)));
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
        assert_eq!(s.base_rank.unwrap().value, sorted.below(&[5000.0])[0] as f64 / n as f64);
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
