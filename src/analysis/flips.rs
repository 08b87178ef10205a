//! Break-even questions of a study: which lever over which range, against what, and the answers over the runs.

use crate::analysis::break_even::{self, CELLS, Crossing, Gap, Sample};
use crate::analysis::chances::{self, Steps};
use crate::analysis::facts::short_number;
use crate::analysis::held;
use crate::analysis::laid::Laid;
use crate::analysis::movers::distribution_of;
use crate::analysis::statistics::intervals::{CONFIDENCE, share_of_parts};
use crate::analysis::statistics::roots::{lever_estimates, lever_for_chance};
use crate::analysis::{
    BreakEven, ChanceLever, ChancePoint, ForChance, Interval, Lever, LeverPercentile, LeversForChance,
    OF_FIRST_YEAR, Share, Tornado,
};
use crate::engine::affine::{Dependence, dependence};
use crate::engine::graph::NodeId;
use crate::engine::run::{Control, Stopped};
use crate::formula::types::Kind;
use crate::model::levers::still;
use crate::model::{BreakEvenItem, InputValue, ResultItem};
use crate::sampling::{Design, Distribution, Vectors};
use crate::units::Unit;

/// Runs behind break-even values: the first of the sample.
const RUNS: u64 = 2048;

/// Most levers that a study which asks nothing is told.
const UNASKED: usize = 3;

/// Percentiles over the runs.
const PERCENTILES: [f64; 7] = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];

/// An input or path that is moved.
pub(super) struct Moved<'m> {
    pub(super) name: String,
    pub(super) label: String,
    pub(super) unit: Unit,
    pub(super) leaf: u32,
    pub(super) base: f64,
    pub(super) distribution: Option<&'m Distribution>,
    /// Values of an input that is not drawn: those of a choice, else the known one.
    pub(super) known: Vec<f64>,
}

/// The answer to break-even question `k`, at the base choices or at another value of a choice (whose curve has
/// fewer points, and which has no map).
pub(super) fn flips(
    laid: &Laid<'_>,
    (k, other): (usize, Option<NodeId>),
    base_leaves: &[f64],
    how: (Design, Vectors, u64),
    control: &Control,
) -> Result<Option<BreakEven>, Stopped> {
    let node = (other.unwrap_or(laid.gaps[k]), other.is_some());
    flips_of(laid, &laid.model.break_even[k], node, base_leaves, how, control)
}

/// Where a study asks nothing: the largest spans of the tornado whose input is a number in which the headline is affine,
/// three at most, without curves.
pub(super) fn flips_unasked(
    laid: &Laid<'_>,
    tornado: Option<&Tornado>,
    base_leaves: &[f64],
    how: (Design, Vectors, u64),
    control: &Control,
) -> Result<Vec<Option<BreakEven>>, Stopped> {
    let Some(gap) = laid.unasked else { return Ok(Vec::new()) };
    let rows = tornado.iter().flat_map(|tornado| &tornado.rows);
    let names = rows.map(|row| row.name.as_str()).filter(|name| is_smooth(laid, name, gap)).take(UNASKED);
    names
        .map(|name| {
            let item = BreakEvenItem::bare(name, laid.model.headline);
            let found = flips_of(laid, &item, (gap, false), base_leaves, how, control)?;
            Ok(found.map(|found| BreakEven { by_default: true, ..found }))
        })
        .collect()
}

/// Whether an input or path is a continuous number in which the gap is affine.
fn is_smooth(laid: &Laid<'_>, name: &str, gap: NodeId) -> bool {
    let input = laid.model.inputs.iter().find(|i| i.about.name == name);
    let path = laid.model.paths.iter().find(|p| p.about.name == name);
    let number = input.is_some_and(|i| matches!(i.ty.kind, Kind::Number { .. }) && !i.is_year_of_change());
    let movable = (number && distribution_of(laid, name).is_some_and(|d| !d.is_discrete()))
        || path.is_some_and(|path| still(path).is_none());
    let affine = |of: Moved<'_>| dependence(&laid.low.graph, gap, of.leaf) == Dependence::Affine;
    movable && moved(laid, name).is_some_and(affine)
}

fn flips_of(
    laid: &Laid<'_>,
    item: &BreakEvenItem,
    (node, of_other_choice): (NodeId, bool),
    base_leaves: &[f64],
    how: (Design, Vectors, u64),
    control: &Control,
) -> Result<Option<BreakEven>, Stopped> {
    let Some(of) = moved(laid, &item.of) else { return Ok(None) };
    let against: Vec<Moved<'_>> = item.against.iter().filter_map(|name| moved(laid, name)).collect();
    let gap = Gap { graph: &laid.low.graph, node, lever: of.leaf, range: range(item, &of) };
    let (design, vectors, epoch) = how;
    let sample =
        Sample { plan: &laid.plan, leaves: &laid.low.leaves, n_runs: design.runs.min(RUNS), epoch, vectors };
    let curve = if let [against] = against.as_slice() { Some(against) } else { None };
    let points = curve.map_or_else(Vec::new, |against| held::points_of_curve(against, of_other_choice));
    let at = |&x: &f64| curve.map(|against| (against.leaf, x));
    let grid: Vec<Option<(u32, f64)>> = std::iter::once(None).chain(points.iter().map(at)).collect();
    let mut found = break_even::crossings(&gap, sample, &grid, control)?;
    let at_points = found.split_off(1.min(found.len()));
    let as_drawn = found.pop().unwrap_or_default();
    let base = break_even::base_crossing(&gap, base_leaves);
    let replicates = design.replicates as usize;
    let mut answer = answer(laid, item, (&of, &gap), (&as_drawn, &base), replicates);
    let how = (side(&as_drawn, &base), replicates);
    answer.curve = curve.map(|against| held::curve((against, &points), &at_points, how));
    if let ([across, up], false) = (against.as_slice(), of_other_choice) {
        answer.map = Some(held::map((&gap, sample), [across, up], item.refined, how, control)?);
    }
    Ok(Some(answer))
}

/// What the runs as drawn and the base case say.
fn answer(
    laid: &Laid<'_>,
    item: &BreakEvenItem,
    (of, gap): (&Moved<'_>, &Gap<'_>),
    (as_drawn, base): (&[Crossing], &Crossing),
    replicates: usize,
) -> BreakEven {
    let result = &laid.model.results[item.result];
    let working = laid.model.result_working(result);
    let levers: Vec<Lever> = as_drawn.iter().map(|c| c.lever).collect();
    let good_above = common_side(as_drawn);
    let exact = break_even::is_exact(gap);
    let for_chance = for_chances(&levers, good_above, &item.chances);
    let chance_curve = chances::chance_curve(as_drawn, gap.range, replicates);
    let beyond = |is: &dyn Fn(f64) -> bool| {
        exact.then(|| share(as_drawn, replicates, |c| matches!(c.lever, Lever::At(x) if is(x))))
    };
    BreakEven {
        of: item.of.clone(),
        of_label: of.label.clone(),
        of_unit: of.unit.text.clone(),
        of_base: of.base,
        of_drawn: [0.1, 0.5, 0.9].map(|p| of.distribution.map_or(of.base, |d| d.quantile_at(p))),
        result: working.about.name.clone(),
        result_label: working.about.label.clone(),
        rule: rule_in_words(result, &working.unit),
        good_above,
        exact,
        runs: levers.len() as u64,
        range: gap.range,
        base: base.lever,
        windows: base.windows(),
        percentiles: percentiles(&levers, side(as_drawn, base), &PERCENTILES),
        levers_for_chance: levers_for_chances(
            as_drawn,
            (&for_chance, good_above),
            &chance_curve,
            &item.chances,
        ),
        for_chance,
        best: chances::best(&chance_curve),
        chance_curve,
        interval: Interval::OrderStatistics,
        always: always(as_drawn, replicates),
        never: never(as_drawn, replicates),
        several: share(as_drawn, replicates, |c| c.crossings > 1),
        crossings: numbers_of_crossings(as_drawn, replicates),
        below_range: beyond(&|x| x < gap.range.0),
        above_range: beyond(&|x| x > gap.range.1),
        note: note(gap, of),
        curve: None,
        map: None,
        by_default: false,
    }
}

pub(super) fn moved<'m>(laid: &Laid<'m>, name: &str) -> Option<Moved<'m>> {
    let model = laid.model;
    let distribution = distribution_of(laid, name);
    if let Some(input) = model.inputs.iter().find(|i| i.about.name == name) {
        let of_first_year = if input.changes.is_empty() { "" } else { OF_FIRST_YEAR };
        let known = match &input.value {
            InputValue::Choice(values) => values.clone(),
            _ => input.base.first().copied().into_iter().collect(),
        };
        return Some(Moved {
            name: name.to_owned(),
            label: format!("{}{of_first_year}", input.about.label),
            unit: input.unit.clone(),
            leaf: laid.low.leaf(name)?,
            base: input.base.first().copied()?,
            distribution,
            known,
        });
    }
    let path = model.paths.iter().find(|p| p.about.name == name)?;
    Some(Moved {
        name: name.to_owned(),
        label: format!("{}{OF_FIRST_YEAR}", path.about.label),
        unit: path.unit.clone(),
        leaf: laid.low.leaf(&format!("{name}.start"))?,
        base: path.start,
        distribution,
        known: vec![path.start],
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

/// The side on which all runs that have a crossing are good; none where any run has several.
fn common_side(crossings: &[Crossing]) -> Option<bool> {
    if crossings.iter().any(|c| c.crossings > 1) {
        return None;
    }
    let mut sides = crossings.iter().filter(|c| c.crossings > 0).map(|c| c.good_above);
    let first = sides.next()?;
    sides.all(|side| side == first).then_some(first)
}

/// The side on which most runs are good next to their lowest crossing; as many on either: that of the base case.
fn side(crossings: &[Crossing], base: &Crossing) -> bool {
    let good = |above: bool| crossings.iter().filter(|c| c.crossings > 0 && c.good_above == above).count();
    match good(true).cmp(&good(false)) {
        std::cmp::Ordering::Greater => true,
        std::cmp::Ordering::Less => false,
        std::cmp::Ordering::Equal => base.good_above,
    }
}

fn percentiles(levers: &[Lever], side: bool, ps: &[f64]) -> Vec<LeverPercentile> {
    let found = lever_estimates(levers, side, ps);
    ps.iter().zip(found).filter_map(|(&p, found)| Some(LeverPercentile { p, estimate: found? })).collect()
}

fn for_chances(levers: &[Lever], good_above: Option<bool>, chances: &[f64]) -> Vec<ForChance> {
    let Some(side) = good_above else { return Vec::new() };
    chances.iter().filter_map(|&chance| lever_for_chance(levers, side, chance)).collect()
}

/// From the quantiles where all runs are good on one side; else from the number of good runs as the lever rises.
fn levers_for_chances(
    crossings: &[Crossing],
    (quantiles, good_above): (&[ForChance], Option<bool>),
    curve: &[ChancePoint],
    chances: &[f64],
) -> Vec<LeversForChance> {
    let Some(rises) = good_above else {
        let steps = Steps::of(crossings);
        return chances.iter().map(|&chance| steps.levers_for_chance(curve, chance)).collect();
    };
    let of_quantile = |found: &ForChance| LeversForChance {
        chance: found.chance,
        reached: found.lever != Lever::Never,
        levers: match found.lever {
            Lever::At(lever) => vec![ChanceLever { lever, low: found.low, high: found.high, rises }],
            _ => Vec::new(),
        },
    };
    quantiles.iter().map(of_quantile).collect()
}

/// Share of runs with 1, 2, 3, ... crossings.
fn numbers_of_crossings(crossings: &[Crossing], replicates: usize) -> Vec<Share> {
    let most = crossings.iter().map(|c| c.crossings).max().unwrap_or(0);
    (1..=most).map(|number| share(crossings, replicates, |c| c.crossings == number)).collect()
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

pub(super) fn always(crossings: &[Crossing], replicates: usize) -> Share {
    share(crossings, replicates, |c| c.lever == Lever::Always)
}

pub(super) fn never(crossings: &[Crossing], replicates: usize) -> Share {
    share(crossings, replicates, |c| c.lever == Lever::Never)
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
