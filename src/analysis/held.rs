//! Break-even with one or two other inputs held at values, the rest as drawn: the curve and the map. Holding is an
//! intervention: what is linked to a held input does not follow it.

use crate::analysis::break_even::{Crossing, Gap, Sample, crossings_on_map};
use crate::analysis::flips::{Moved, always, never};
use crate::analysis::statistics::roots::lever_estimates;
use crate::analysis::{
    BreakEvenCurve, BreakEvenMap, CurvePoint, Lever, LeverEstimate, MapAxis, MapCell, OF_FIRST_YEAR,
};
use crate::engine::run::{Control, Stopped};

/// Points of a curve where the other input is continuous.
const POINTS: usize = 21;

/// Points of a curve at another value of a choice.
const POINTS_OF_OTHERS: usize = 6;

/// Values of a continuous input along a map, and most runs behind a cell: as a rule, and refined.
const MAP: (usize, u64) = (11, 512);
const REFINED_MAP: (usize, u64) = (21, 2048);

/// The points of a curve; fewer at another value of a choice.
pub(super) fn points_of_curve(against: &Moved<'_>, of_other_choice: bool) -> Vec<f64> {
    let points = values(against, POINTS);
    if of_other_choice { thinned(points, POINTS_OF_OTHERS) } else { points }
}

/// The curve, from the crossings at its points.
pub(super) fn curve(
    (against, points): (&Moved<'_>, &[f64]),
    at_points: &[Vec<Crossing>],
    (side, replicates): (bool, usize),
) -> BreakEvenCurve {
    let point = |(&at, crossings): (&f64, &Vec<Crossing>)| {
        let [p10, p50, p90] = levers(crossings, side);
        let (always, never) = (always(crossings, replicates), never(crossings, replicates));
        CurvePoint { at, p10, p50, p90, always, never }
    };
    BreakEvenCurve {
        against: against.name.clone(),
        against_label: against.label.clone(),
        against_unit: against.unit.text.clone(),
        against_base: against.base,
        held: held_in_words(&[against]),
        points: points.iter().zip(at_points).map(point).collect(),
    }
}

/// The map against two other inputs.
pub(super) fn map(
    (gap, sample): (&Gap<'_>, Sample<'_>),
    [across, up]: [&Moved<'_>; 2],
    refined: bool,
    (side, replicates): (bool, usize),
    control: &Control,
) -> Result<BreakEvenMap, Stopped> {
    let (most, runs) = if refined { REFINED_MAP } else { MAP };
    let sample = Sample { n_runs: sample.n_runs.min(runs), ..sample };
    let axis = |moved: &Moved<'_>| MapAxis {
        name: moved.name.clone(),
        label: moved.label.clone(),
        unit: moved.unit.text.clone(),
        base: moved.base,
        values: values(moved, most),
    };
    let axes = (axis(across), axis(up));
    let leaves = ((across.leaf, axes.0.values.as_slice()), (up.leaf, axes.1.values.as_slice()));
    let found = crossings_on_map(gap, sample, leaves, control)?;
    let places = axes.1.values.iter().flat_map(|&up| axes.0.values.iter().map(move |&across| (across, up)));
    let cell = |((across, up), crossings): ((f64, f64), &Vec<Crossing>)| {
        let [p10, p50, p90] = levers(crossings, side);
        let (always, never) = (always(crossings, replicates), never(crossings, replicates));
        MapCell { across, up, p10, p50, p90, always, never }
    };
    let cells = places.zip(&found).map(cell).collect();
    let held = held_in_words(&[across, up]);
    Ok(BreakEvenMap { across: axes.0, up: axes.1, held, runs: sample.n_runs, refined, cells })
}

/// P10, P50 and P90 of the (lowest) crossing.
fn levers(crossings: &[Crossing], side: bool) -> [LeverEstimate; 3] {
    let levers: Vec<Lever> = crossings.iter().map(|c| c.lever).collect();
    let found = lever_estimates(&levers, side, &[0.1, 0.5, 0.9]);
    let none = LeverEstimate { lever: Lever::Never, low: None, high: None };
    std::array::from_fn(|k| found.get(k).copied().flatten().unwrap_or(none))
}

fn held_in_words(held: &[&Moved<'_>]) -> String {
    let labels: Vec<&str> =
        held.iter().map(|h| h.label.strip_suffix(OF_FIRST_YEAR).unwrap_or(&h.label)).collect();
    let (are, them, each) =
        if held.len() == 1 { ("is", "it", "value") } else { ("are", "them", "pair of values") };
    format!(
        "{} {are} held at each {each}, the rest as drawn: what is linked to {them} does not follow (an intervention, \
         not a selection of runs)",
        labels.join(" and ")
    )
}

/// The values of a discrete input, at most `most`; else evenly from P5 to P95.
pub(super) fn values(against: &Moved<'_>, most: usize) -> Vec<f64> {
    let Some(distribution) = against.distribution else { return against.known.clone() };
    let share = |k: usize| k as f64 / (most - 1) as f64;
    let Some((values, _)) = distribution.points() else {
        let (low, high) = (distribution.quantile_at(0.05), distribution.quantile_at(0.95));
        return (0..most).map(|k| low + (high - low) * share(k)).collect();
    };
    if values.len() <= most {
        return values.to_vec();
    }
    let mut values: Vec<f64> = (0..most).map(|k| distribution.quantile_at(0.05 + 0.9 * share(k))).collect();
    values.dedup();
    values
}

/// At most `most` of the points, evenly by their number, first and last among them.
fn thinned(points: Vec<f64>, most: usize) -> Vec<f64> {
    if points.len() <= most {
        return points;
    }
    let last = points.len() - 1;
    (0..most).map(|k| points[(k * last + (most - 1) / 2) / (most - 1)]).collect()
}
