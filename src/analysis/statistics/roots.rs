//! Where a result crosses its threshold as a lever moves.
//!
//! The caller gives the *margin*: how far the result is on the good side of
//! its threshold. Not negative is good.

use super::intervals::{CONFIDENCE, rank_interval};
use super::quantiles::{Place, Ranking};
use crate::analysis::{ForChance, Lever, LeverEstimate};
use crate::finance::bracket::root;

/// Cells into which a lever's range is cut when nothing is known of the result.
pub const CELLS: usize = 32;

/// A bracket is narrowed to this share of the range.
const WIDTH: f64 = 1e-10;

/// The break-even of a margin that is affine in the lever.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Affine {
    /// Where the margin is zero, or always, or never good. None when a margin is no number.
    pub lever: Option<Lever>,
    /// Good above it; none where the margin does not change.
    pub good_above: Option<bool>,
}

/// Solves an affine margin from two of its points: x0 - m0 (x1 - x0)/(m1 - m0);
/// always or never when it does not change.
pub fn affine((x0, m0): (f64, f64), (x1, m1): (f64, f64)) -> Affine {
    let rise = m1 - m0;
    if !rise.is_finite() || x0 == x1 {
        return Affine { lever: None, good_above: None };
    }
    if rise == 0.0 {
        let lever = if m0 >= 0.0 { Lever::Always } else { Lever::Never };
        return Affine { lever: Some(lever), good_above: None };
    }
    let x = x0 - m0 * (x1 - x0) / rise;
    Affine { lever: x.is_finite().then_some(Lever::At(x)), good_above: Some((rise > 0.0) == (x1 > x0)) }
}

/// Whether three points lie on a line, to 1e-9 of the largest margin.
pub fn is_affine(points: [(f64, f64); 3]) -> bool {
    let [(x0, m0), (x1, m1), (x2, m2)] = points;
    let on_line = m0 + (m2 - m0) * ((x1 - x0) / (x2 - x0));
    let size = m0.abs().max(m1.abs()).max(m2.abs());
    (m1 - on_line).abs() <= 1e-9 * size
}

/// All crossings found in a range.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossings {
    /// In rising order.
    pub roots: Vec<f64>,
    /// Good or not before, between and after them: one more than roots.
    pub good: Vec<bool>,
    /// Cells of the scan; two crossings inside one cell are not seen.
    pub cells: usize,
}

impl Crossings {
    /// As one figure: the crossing when there is one, always or never when
    /// there is none; nothing when there are several.
    pub fn single(&self) -> Option<Lever> {
        match (&self.roots[..], &self.good[..]) {
            ([x], _) => Some(Lever::At(*x)),
            ([], [true, ..]) => Some(Lever::Always),
            ([], _) => Some(Lever::Never),
            _ => None,
        }
    }

    /// Good above the one crossing, below it, or (none) mixed.
    pub fn good_above(&self) -> Option<bool> {
        match (&self.roots[..], &self.good[..]) {
            ([_], [_, above]) => Some(*above),
            _ => None,
        }
    }
}

/// Scans the margin over `from..=to` in `cells` cells and refines every change
/// of sign to 1e-10 of the range. At a jump the answer is the place of the
/// jump. None when the margin is NaN anywhere it is looked at, or the range is
/// empty.
pub fn scan(mut margin: impl FnMut(f64) -> f64, from: f64, to: f64, cells: usize) -> Option<Crossings> {
    if !(from < to && (to - from).is_finite()) || cells == 0 {
        return None;
    }
    let grid = |i: usize| if i == cells { to } else { from + (to - from) * (i as f64 / cells as f64) };
    let (mut a, mut fa) = (from, margin(from));
    let mut found = Crossings { roots: Vec::new(), good: vec![fa >= 0.0], cells };
    for i in 1..=cells {
        let b = grid(i);
        let fb = margin(b);
        if fa.is_nan() || fb.is_nan() {
            return None;
        }
        if (fa < 0.0) != (fb < 0.0) {
            found.roots.push(root(&mut margin, (a, fa), (b, fb), WIDTH * (to - from))?);
            found.good.push(fb >= 0.0);
        }
        (a, fa) = (b, fb);
    }
    Some(found)
}

/// Levers as numbers in the order of the good side: with good above, always
/// lies below every lever and never above; with good below, the other way round.
fn as_numbers(levers: &[Lever], good_above: bool) -> Vec<f64> {
    let end = if good_above { f64::INFINITY } else { f64::NEG_INFINITY };
    levers
        .iter()
        .map(|lever| match lever {
            Lever::At(x) => *x,
            Lever::Never => end,
            Lever::Always => -end,
        })
        .collect()
}

fn as_lever(x: f64, good_above: bool) -> Option<Lever> {
    if x.is_nan() {
        None
    } else if x.is_finite() {
        Some(Lever::At(x))
    } else {
        Some(if (x > 0.0) == good_above { Lever::Never } else { Lever::Always })
    }
}

/// Quantiles (type 7) of the runs' break-evens; one between a number and
/// always or never is that word (never, where it lies between the two words).
/// None in place of a quantile of no runs.
pub fn lever_quantiles(levers: &[Lever], good_above: bool, ps: &[f64]) -> Vec<Option<Lever>> {
    lever_estimates(levers, good_above, ps).into_iter().map(|found| Some(found?.lever)).collect()
}

/// The same, each with the interval of its order statistics.
pub fn lever_estimates(levers: &[Lever], good_above: bool, ps: &[f64]) -> Vec<Option<LeverEstimate>> {
    let numbers = as_numbers(levers, good_above);
    let ranking = Ranking::of(&numbers);
    let n = ranking.with_value();
    let estimate = |p: &f64| {
        let place = Place::of(*p, n);
        let rank = place.rank?;
        let ends = rank_interval(n, *p, CONFIDENCE);
        let at = |rank: Option<u64>| as_lever(ranking.at(&[rank? - 1]).pop()?, good_above);
        let [this, next] = ranking.at(&[rank, rank + 1])[..] else { return None };
        let lever = as_lever(between(place.share, this, next, good_above), good_above)?;
        Some(LeverEstimate { lever, low: at(ends.lower), high: at(ends.upper) })
    };
    ps.iter().map(estimate).collect()
}

/// Between two neighbours: on the line, or the word where one is no number.
fn between(share: f64, this: f64, next: f64, good_above: bool) -> f64 {
    match (this.is_infinite(), next.is_infinite()) {
        _ if share == 0.0 => this,
        (true, true) if this != next => {
            if good_above {
                next
            } else {
                this
            }
        }
        (true, _) => this,
        (_, true) => next,
        _ => this + share * (next - this),
    }
}

/// The lever at which the share `chance` of runs is good, each run having one
/// break-even and all being good on the same side: the `chance`-quantile of
/// the break-evens where good is above, else the (1 - `chance`)-quantile, with
/// the interval of its order statistics. None without runs.
pub fn lever_for_chance(levers: &[Lever], good_above: bool, chance: f64) -> Option<ForChance> {
    let p = if good_above { chance } else { 1.0 - chance };
    let LeverEstimate { lever, low, high } = lever_estimates(levers, good_above, &[p]).pop()??;
    Some(ForChance { chance, lever, low, high })
}

/// Share of runs that are good at the lever value `x`. A break-even within
/// 1e-12 of `x` counts as reached, as it is a rounded figure itself.
pub fn share_good_at(levers: &[Lever], good_above: bool, x: f64) -> f64 {
    let rounding = 1e-12 * x.abs();
    let good = |lever: &Lever| match *lever {
        Lever::At(at) if good_above => at <= x + rounding,
        Lever::At(at) => at >= x - rounding,
        Lever::Always => true,
        Lever::Never => false,
    };
    levers.iter().filter(|lever| good(lever)).count() as f64 / levers.len() as f64
}

/// Where a curve of chances over rising lever values crosses the wanted
/// chance, straight between the points, all crossings in rising order; and the
/// best chance with its lever. None without points.
pub fn levers_of_curve(curve: &[(f64, f64)], chance: f64) -> Option<(Vec<f64>, (f64, f64))> {
    let mut best = *curve.first()?;
    let mut levers = Vec::new();
    for pair in curve.windows(2) {
        let [(x0, p0), (x1, p1)] = *pair else { continue };
        if (p0 < chance) != (p1 < chance) {
            levers.push(x0 + (x1 - x0) * ((chance - p0) / (p1 - p0)));
        }
        if p1 > best.1 {
            best = (x1, p1);
        }
    }
    Some((levers, best))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scan_says_what_it_cannot_say() {
        assert_eq!(scan(|_| f64::NAN, 0.0, 1.0, CELLS), None);
        assert_eq!(scan(|x| if x > 0.9 { f64::NAN } else { 1.0 }, 0.0, 1.0, CELLS), None);
        assert_eq!(scan(|x| x, 1.0, 1.0, CELLS), None);
        let always = scan(|_| 0.0, 0.0, 1.0, CELLS).unwrap();
        assert_eq!((always.single(), always.good_above()), (Some(Lever::Always), None));
        let several = scan(|x| (x - 0.2) * (x - 0.7), 0.0, 1.0, CELLS).unwrap();
        assert_eq!((several.single(), several.good.as_slice()), (None, &[true, false, true][..]));
    }

    #[test]
    fn a_jump_is_found_where_it_is() {
        // Three replacements instead of two from 6.4 on.
        let found = scan(|x| if x < 6.4 { 120.0 } else { -80.0 }, 0.0, 10.0, CELLS).unwrap();
        assert!((found.roots[0] - 6.4).abs() <= 1e-9);
        assert_eq!(found.good_above(), Some(false));
    }

    #[test]
    fn affine_points_without_a_slope_or_a_number() {
        let never = Affine { lever: Some(Lever::Never), good_above: None };
        assert_eq!(affine((0.0, -1.0), (1.0, -1.0)), never);
        assert_eq!(affine((0.0, 0.0), (1.0, f64::NAN)).lever, None);
        assert_eq!(affine((2.0, 1.0), (0.0, -1.0)).good_above, Some(true));
        assert!(!is_affine([(0.0, 0.0), (1.0, 1.0), (2.0, 4.0)]));
    }
}
