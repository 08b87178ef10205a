//! Break-even questions of a study: which lever over which range, against what, and the answers over the runs.

use crate::analysis::break_even::{self, CELLS, Crossing, Gap, Sample};
use crate::analysis::facts::short_number;
use crate::analysis::laid::Laid;
use crate::analysis::movers::distribution_of;
use crate::analysis::statistics::intervals::{CONFIDENCE, share_of_parts};
use crate::analysis::statistics::roots::{lever_estimates, lever_for_chance};
use crate::analysis::{
    BreakEven, BreakEvenCurve, CurvePoint, ForChance, Interval, Lever, LeverEstimate, LeverPercentile,
    OF_FIRST_YEAR, Share,
};
use crate::engine::graph::NodeId;
use crate::engine::run::{Control, Stopped};
use crate::model::{BreakEvenItem, ResultItem};
use crate::sampling::{Design, Distribution, Vectors};
use crate::units::Unit;

/// Runs behind break-even values: the first of the sample.
const RUNS: u64 = 2048;

/// Points of the other input where it is continuous.
const POINTS: usize = 21;

/// Points at another value of a choice.
const POINTS_OF_OTHERS: usize = 6;

/// Percentiles over the runs.
const PERCENTILES: [f64; 7] = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];

/// Wanted shares of success.
const CHANCES: [f64; 3] = [0.5, 0.8, 0.95];

/// An input or path that is moved.
pub(super) struct Moved<'m> {
    pub(super) label: String,
    pub(super) unit: Unit,
    pub(super) leaf: u32,
    pub(super) base: f64,
    pub(super) distribution: Option<&'m Distribution>,
}

/// The answer to break-even question `k`, at the base choices or at another value of a choice (whose curve has
/// fewer points).
pub(super) fn flips(
    laid: &Laid<'_>,
    (k, other): (usize, Option<NodeId>),
    base_leaves: &[f64],
    how: (Design, Vectors, u64),
    control: &Control,
) -> Result<Option<BreakEven>, Stopped> {
    let item = &laid.model.break_even[k];
    let Some(of) = moved(laid, &item.of) else { return Ok(None) };
    let against = item.against.as_ref().and_then(|name| moved(laid, name));
    let gap = Gap {
        graph: &laid.low.graph,
        node: other.unwrap_or(laid.gaps[k]),
        lever: of.leaf,
        range: range(item, &of),
    };
    let (design, vectors, epoch) = how;
    let sample =
        Sample { plan: &laid.plan, leaves: &laid.low.leaves, n_runs: design.runs.min(RUNS), epoch, vectors };
    let most = if other.is_some() { POINTS_OF_OTHERS } else { usize::MAX };
    let points = thinned(against.as_ref().map_or_else(Vec::new, grid), most);
    let held = against.as_ref().map_or(0, |a| a.leaf);
    let grid: Vec<Option<(u32, f64)>> =
        std::iter::once(None).chain(points.iter().map(|&x| Some((held, x)))).collect();
    let mut found = break_even::crossings(&gap, sample, &grid, control)?;
    let at_points = found.split_off(1.min(found.len()));
    let as_drawn = found.pop().unwrap_or_default();
    let base = break_even::base_crossing(&gap, base_leaves);
    let good_above = common_side(&as_drawn);
    let side = good_above.unwrap_or(base.good_above);
    let levers: Vec<Lever> = as_drawn.iter().map(|c| c.lever).collect();
    let replicates = design.replicates as usize;
    let result = &laid.model.results[item.result];
    let working = laid.model.result_working(result);
    let curve = against.map(|a| BreakEvenCurve {
        against: item.against.clone().unwrap_or_default(),
        against_label: a.label,
        against_unit: a.unit.text,
        against_base: a.base,
        points: points
            .iter()
            .zip(&at_points)
            .map(|(&at, crossings)| point(at, crossings, side, replicates))
            .collect(),
    });
    Ok(Some(BreakEven {
        of: item.of.clone(),
        of_label: of.label.clone(),
        of_unit: of.unit.text.clone(),
        of_base: of.base,
        of_drawn: [0.1, 0.5, 0.9].map(|p| of.distribution.map_or(of.base, |d| d.quantile_at(p))),
        result: working.about.name.clone(),
        result_label: working.about.label.clone(),
        rule: rule_in_words(result, &working.unit),
        good_above,
        exact: break_even::is_exact(&gap),
        runs: levers.len() as u64,
        base: base.lever,
        percentiles: percentiles(&levers, side, &PERCENTILES),
        for_chance: for_chances(&levers, good_above),
        interval: Interval::OrderStatistics,
        always: always(&as_drawn, replicates),
        never: never(&as_drawn, replicates),
        several: share(&as_drawn, replicates, |c| c.crossings > 1),
        note: note(&gap, &of),
        curve,
    }))
}

pub(super) fn moved<'m>(laid: &Laid<'m>, name: &str) -> Option<Moved<'m>> {
    let model = laid.model;
    let distribution = distribution_of(laid, name);
    if let Some(input) = model.inputs.iter().find(|i| i.about.name == name) {
        let of_first_year = if input.changes.is_empty() { "" } else { OF_FIRST_YEAR };
        return Some(Moved {
            label: format!("{}{of_first_year}", input.about.label),
            unit: input.unit.clone(),
            leaf: laid.low.leaf(name)?,
            base: input.base.first().copied()?,
            distribution,
        });
    }
    let path = model.paths.iter().find(|p| p.about.name == name)?;
    Some(Moved {
        label: format!("{}{OF_FIRST_YEAR}", path.about.label),
        unit: path.unit.clone(),
        leaf: laid.low.leaf(&format!("{name}.start"))?,
        base: path.start,
        distribution,
    })
}

/// The range as asked; else P0.1 to P99.9 of a drawn lever; else from nothing to three times the known value.
fn range(item: &BreakEvenItem, of: &Moved<'_>) -> (f64, f64) {
    let (low, high) = match of.distribution {
        Some(d) => (d.quantile_at(0.001), d.quantile_at(0.999)),
        None if of.base == 0.0 => (-1.0, 1.0),
        None => (0.0_f64.min(3.0 * of.base), 0.0_f64.max(3.0 * of.base)),
    };
    let (from, to) = (item.range.0.unwrap_or(low), item.range.1.unwrap_or(high));
    if from < to { (from, to) } else { (from, from + 1.0) }
}

/// The values of a discrete input; else evenly from P5 to P95.
pub(super) fn grid(against: &Moved<'_>) -> Vec<f64> {
    let Some(distribution) = against.distribution else { return vec![against.base] };
    if let Some((values, _)) = distribution.points()
        && values.len() <= POINTS
    {
        return values.to_vec();
    }
    let (low, high) = (distribution.quantile_at(0.05), distribution.quantile_at(0.95));
    (0..POINTS).map(|k| low + (high - low) * (k as f64 / (POINTS - 1) as f64)).collect()
}

/// At most `most` of the points, evenly by their number, first and last among them.
pub(super) fn thinned(points: Vec<f64>, most: usize) -> Vec<f64> {
    if points.len() <= most {
        return points;
    }
    let last = points.len() - 1;
    (0..most).map(|k| points[(k * last + (most - 1) / 2) / (most - 1)]).collect()
}

/// The side on which all runs that have a crossing are good.
fn common_side(crossings: &[Crossing]) -> Option<bool> {
    let mut sides = crossings.iter().filter(|c| c.crossings > 0).map(|c| c.good_above);
    let first = sides.next()?;
    sides.all(|side| side == first).then_some(first)
}

fn percentiles(levers: &[Lever], side: bool, ps: &[f64]) -> Vec<LeverPercentile> {
    let found = lever_estimates(levers, side, ps);
    ps.iter().zip(found).filter_map(|(&p, found)| Some(LeverPercentile { p, estimate: found? })).collect()
}

fn for_chances(levers: &[Lever], good_above: Option<bool>) -> Vec<ForChance> {
    let Some(side) = good_above else { return Vec::new() };
    CHANCES.iter().filter_map(|&chance| lever_for_chance(levers, side, chance)).collect()
}

/// Share of runs; each replicate is a part of its own under a stratified method.
fn share(crossings: &[Crossing], replicates: usize, is: impl Fn(&Crossing) -> bool) -> Share {
    let mut parts = vec![(0, 0); replicates.max(1)];
    for (run, crossing) in crossings.iter().enumerate() {
        let (yes, n) = &mut parts[run % replicates.max(1)];
        *yes += u64::from(is(crossing));
        *n += 1;
    }
    share_of_parts(&parts, CONFIDENCE)
}

fn always(crossings: &[Crossing], replicates: usize) -> Share {
    share(crossings, replicates, |c| c.lever == Lever::Always)
}

fn never(crossings: &[Crossing], replicates: usize) -> Share {
    share(crossings, replicates, |c| c.lever == Lever::Never)
}

fn point(at: f64, crossings: &[Crossing], side: bool, replicates: usize) -> CurvePoint {
    let levers: Vec<Lever> = crossings.iter().map(|c| c.lever).collect();
    let found = lever_estimates(&levers, side, &[0.1, 0.5, 0.9]);
    let none = LeverEstimate { lever: Lever::Never, low: None, high: None };
    let lever = |k: usize| found.get(k).copied().flatten().unwrap_or(none);
    CurvePoint {
        at,
        p10: lever(0),
        p50: lever(1),
        p90: lever(2),
        always: always(crossings, replicates),
        never: never(crossings, replicates),
    }
}

fn note(gap: &Gap<'_>, of: &Moved<'_>) -> Option<String> {
    if break_even::is_exact(gap) {
        return None;
    }
    let (low, high) = gap.range;
    let unit = if of.unit.text.is_empty() { String::new() } else { format!(" {}", of.unit.text) };
    Some(format!(
        "looked for in {CELLS} cells between {} and {}{unit}; two crossings within one cell would not be seen",
        short_number(low),
        short_number(high)
    ))
}

/// Such as "at least 0 EUR"; "yes" for a yes-or-no result, "within the horizon" for years without a limit.
pub(super) fn rule_in_words(result: &ResultItem, unit: &Unit) -> String {
    let with_unit = |x: f64| format!("{} {}", short_number(x), unit.text).trim_end().to_owned();
    match (result.at_least, result.at_most) {
        (Some(least), _) => format!("at least {}", with_unit(least)),
        (None, Some(most)) => format!("at most {}", with_unit(most)),
        (None, None) if unit.text == "yr" => "within the horizon".to_owned(),
        (None, None) => "yes".to_owned(),
    }
}
