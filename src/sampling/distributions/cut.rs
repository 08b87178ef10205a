//! Truncation: the part of a distribution between two values, rescaled.
//! Parameters are those before the cut.

use std::sync::Arc;

use super::law::Law;
use super::parameters::{ParameterError, short};
use super::table::{FINENESS, Knot, Table, cells, knot_score, normal_at};
use crate::sampling::maths;

/// Least share of the probability that a cut may leave.
const LEAST: f64 = 1e-6;

/// Where a distribution is cut, and what is left.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cut {
    min: f64,
    max: f64,
    /// Probability below `min`, probability above `max`, and what is kept.
    below: f64,
    above: f64,
    kept: f64,
}

/// Cuts a law: a discrete one loses values, another gets a [`Cut`].
pub(super) fn cut(
    law: Arc<dyn Law>,
    min: Option<f64>,
    max: Option<f64>,
) -> Result<(Arc<dyn Law>, Option<Cut>), ParameterError> {
    let (low, high) = (min.unwrap_or(f64::NEG_INFINITY), max.unwrap_or(f64::INFINITY));
    let ordered = low < high || (low == high && law.points().is_some());
    if !ordered || min == Some(f64::INFINITY) || max == Some(f64::NEG_INFINITY) {
        let message = format!("`truncate` goes from {low} to {high}");
        return Err(ParameterError::new(&["truncate"], message, "`min` must be below `max`"));
    }
    if let Some((values, weights)) = law.points() {
        let points = values.iter().copied().zip(weights.iter().copied());
        let whole = super::discrete::Discrete::new(points, law.ordered());
        return match whole.and_then(|d| d.within(low, high)) {
            Some((part, share)) if share >= LEAST => Ok((Arc::new(part), None)),
            _ => Err(nothing_left(&*law, low, high)),
        };
    }
    // What lies below the cut does not hold the value at it, which may have a probability of its own.
    let before_min = if law.has_jumps() { low.next_down() } else { low };
    let ((below, after_min), (before_max, above)) = (law.cdf(before_min), law.cdf(high));
    // In the upper half the survival side is the accurate one.
    let kept = if below > 0.5 { after_min - above } else { before_max - below };
    if !(kept >= LEAST) {
        return Err(nothing_left(&*law, low, high));
    }
    Ok((law, Some(Cut { min: low, max: high, below, above, kept })))
}

fn nothing_left(law: &dyn Law, low: f64, high: f64) -> ParameterError {
    let (p1, p99) = (law.quantile(0.01, 0.99), law.quantile(0.99, 0.01));
    let message = format!("`truncate` from {low} to {high} leaves less than a millionth of the probability");
    let hint = format!("98 % of it lies from {} to {}", short(p1), short(p99));
    ParameterError::new(&["truncate"], message, hint)
}

impl Cut {
    pub(super) fn min(&self) -> f64 {
        self.min
    }

    pub(super) fn max(&self) -> f64 {
        self.max
    }

    fn inside(&self, lower: f64, upper: f64) -> (f64, f64) {
        (self.below + lower * self.kept, self.above + upper * self.kept)
    }

    pub(super) fn quantile(&self, law: &dyn Law, lower: f64, upper: f64) -> f64 {
        let (lower, upper) = self.inside(lower, upper);
        self.clamp(law.quantile(lower, upper))
    }

    fn clamp(&self, x: f64) -> f64 {
        let x = if x < self.min { self.min } else { x };
        if x > self.max { self.max } else { x }
    }

    /// Probability at or below `x` and above it.
    pub(super) fn cdf(&self, law: &dyn Law, x: f64) -> (f64, f64) {
        if x < self.min {
            return (0.0, 1.0);
        }
        if x >= self.max {
            return (1.0, 0.0);
        }
        let (lower, upper) = law.cdf(x);
        let below = ((lower - self.below) / self.kept).clamp(0.0, 1.0);
        let above = ((upper - self.above) / self.kept).clamp(0.0, 1.0);
        // The side whose parts are the smaller numbers is the accurate one, as far as the other does not cancel.
        if self.below > 0.5 {
            (1.0 - above, above)
        } else {
            (below, if below > 0.5 { above } else { 1.0 - below })
        }
    }
}

/// Table of a dear law over the normal score, cut or not; none if the table
/// would not be exact enough (a spike within a cell), so that draws go the slow way.
pub(super) fn tabulate(law: &Arc<dyn Law>, cut: Option<&Cut>) -> Option<Table> {
    let (min, max) = law.support();
    let support = cut.map_or((min, max), |c| (min.max(c.min), max.min(c.max)));
    if !law.has_density() {
        return Some(by_values(&**law, cut, support));
    }
    FINENESS.iter().find_map(|&per_unit| tabulate_at(&**law, cut, per_unit, support))
}

fn tabulate_at(law: &dyn Law, cut: Option<&Cut>, per_unit: usize, support: (f64, f64)) -> Option<Table> {
    let kept = cut.map_or(1.0, |c| c.kept);
    let exact = |z: f64, near: f64| {
        let (lower, upper, density) = normal_at(z);
        let (lower, upper) = cut.map_or((lower, upper), |c| c.inside(lower, upper));
        let x = law.quantile_near(lower, upper, near);
        (cut.map_or(x, |c| c.clamp(x)), density * kept)
    };
    let h = 1.0 / per_unit as f64;
    let mut near = f64::NAN;
    let mut knots: Vec<Knot> = Vec::with_capacity(cells(per_unit) + 1);
    for k in 0..=cells(per_unit) {
        let z = knot_score(k, per_unit);
        let (value, density) = exact(z, near);
        let made = knot(law, value, z, density);
        near = value + h * (made.slope + 0.5 * h * made.curvature);
        knots.push(made);
    }
    let table = Table::new(&knots, per_unit, support);
    let width = size_of(law, support);
    for k in (0..cells(per_unit)).step_by(5) {
        let z = knot_score(k, per_unit) + 0.5 * h;
        let got = table.at(z)?;
        let (expect, _) = exact(z, got);
        if !((got - expect).abs() <= 1e-11 * expect.abs() + 1e-13 * width) {
            return None;
        }
    }
    Some(table)
}

/// The size of what is drawn; where there is no end, and of a spike in a wide range, the deviation tells it.
fn size_of(law: &dyn Law, support: (f64, f64)) -> f64 {
    let (width, sd) = (support.1 - support.0, law.sd());
    let width = if width < f64::INFINITY { width.min(1e3 * sd) } else { 10.0 * sd };
    if width.is_finite() { width } else { 0.0 }
}

/// Through values alone, where there is no density to tell of slopes; cells that a polynomial does not
/// fit (a jump, a kink) are left to the exact way.
fn by_values(law: &dyn Law, cut: Option<&Cut>, support: (f64, f64)) -> Table {
    // A straight line through the last two values tells where the next is.
    let mut last = [(0.0, f64::NAN); 2];
    let exact = |z: f64| {
        let [(z0, x0), (z1, x1)] = last;
        let near = x1 + (z - z1) * ((x1 - x0) / (z1 - z0));
        let (lower, upper, _) = normal_at(z);
        let (lower, upper) = cut.map_or((lower, upper), |c| c.inside(lower, upper));
        let x = law.quantile_near(lower, upper, if near.is_finite() { near } else { x1 });
        last = [(z1, x1), (z, x)];
        cut.map_or(x, |c| c.clamp(x))
    };
    Table::through(exact, support, size_of(law, support))
}

/// Value, slope and curvature of the quantile against the score: with x' =
/// phi kept/f and (ln f)' the density's slope, x'' = -x' (z + (ln f)' x').
fn knot(law: &dyn Law, value: f64, z: f64, density: f64) -> Knot {
    let (f, log_slope) = law.density(value);
    let slope = density / f;
    let curvature = -slope * (z + log_slope * slope);
    let or_flat = |x: f64| if x.is_finite() { x } else { 0.0 };
    Knot { value, slope: or_flat(slope), curvature: or_flat(curvature) }
}

/// Mean and standard deviation after the cut: quadrature over the normal
/// score, in panels that end at the quantile's kinks.
pub(super) fn moments(law: &dyn Law, cut: &Cut) -> (f64, f64) {
    let mut ends = vec![-REACH];
    for p in law.kinks() {
        let lower = (p - cut.below) / cut.kept;
        if lower > 0.0 && lower < 1.0 {
            ends.push(maths::normal_quantile(lower, 1.0 - lower));
        }
    }
    ends.push(REACH);
    let center = cut.quantile(law, 0.5, 0.5);
    let (mut weight, mut first, mut second) = (0.0, 0.0, 0.0);
    for pair in ends.windows(2) {
        for_each_node(pair[0], pair[1], |z, width| {
            let (lower, upper, density) = normal_at(z);
            // About the median, so that a far offset does not cancel.
            let x = cut.quantile(law, lower, upper) - center;
            let w = width * density;
            weight += w;
            first += w * x;
            second += w * x * x;
        });
    }
    let mean = first / weight;
    (center + mean, (second / weight - mean * mean).max(0.0).sqrt())
}

const REACH: f64 = 8.5;

/// Gauss-Legendre nodes, five a panel, panels of about a sixteenth.
fn for_each_node(from: f64, to: f64, mut f: impl FnMut(f64, f64)) {
    const NODES: [(f64, f64); 5] = [
        (0.0, 0.568_888_888_888_888_888_89),
        (0.538_469_310_105_683_091_04, 0.478_628_670_499_366_468_04),
        (-0.538_469_310_105_683_091_04, 0.478_628_670_499_366_468_04),
        (0.906_179_845_938_663_992_80, 0.236_926_885_056_189_087_51),
        (-0.906_179_845_938_663_992_80, 0.236_926_885_056_189_087_51),
    ];
    let panels = ((to - from) * 16.0).ceil().max(1.0);
    let half = 0.5 * (to - from) / panels;
    for k in 0..panels as usize {
        let middle = from + half * (2 * k + 1) as f64;
        for (node, weight) in NODES {
            f(middle + half * node, half * weight);
        }
    }
}
