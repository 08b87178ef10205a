//! Limits that a reader can use: two digits, rounded outward.

use super::boxes::{Kept, Limit, Region};
use super::lot::{Lot, Orders};
use super::peel::Sort;

/// A step no coarser than this part of the range from P5 to P95, so that the year 2031 does not become 2000.
const COARSEST: f64 = 0.2;

/// The box with its limits rounded outward to two significant digits, or to finer steps where two digits would be coarse
/// beside the factor's own range. Limits of whole classes (2 people) and never stay as they are.
pub(super) fn rounded(region: &Region, lot: &Lot, orders: &Orders, sorts: &[Sort]) -> Region {
    let mut out = Region::default();
    for Limit { factor, kept } in &region.limits {
        let kept = match kept {
            Kept::Between { from, to } if sorts.get(*factor) == Some(&Sort::Values) => {
                let range = range(lot, orders, *factor);
                Kept::Between { from: from.map(|x| down(x, range)), to: to.map(|x| -down(-x, range)) }
            }
            kept => kept.clone(),
        };
        out.set(*factor, kept);
    }
    out
}

/// From P5 to P95, or between the extremes where that is no number or 0.
fn range(lot: &Lot, orders: &Orders, factor: usize) -> f64 {
    let column = lot.columns.get(factor).map_or(&[][..], Vec::as_slice);
    let finite: Vec<f64> = orders
        .0
        .get(factor)
        .into_iter()
        .flatten()
        .filter_map(|&row| column.get(row as usize).copied())
        .filter(|x| x.is_finite())
        .collect();
    let n = finite.len();
    let between = |low: usize, high: usize| Some(finite.get(high)? - finite.get(low)?);
    let middle = between(n / 20, n.saturating_sub(1 + n / 20)).filter(|&range| range > 0.0);
    middle.or_else(|| between(0, n.saturating_sub(1))).unwrap_or(0.0)
}

/// The exponent of the first digit, as a decimal shows it.
fn exponent(x: f64) -> Option<i32> {
    format!("{:e}", x.abs()).split_once('e')?.1.parse().ok()
}

/// `x` rounded down.
fn down(x: f64, range: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    // Read as decimals, so that 94 thousandths is the double nearest 0.094.
    let decimal = |whole: f64, power: i32| format!("{whole:.0}e{power}").parse().unwrap_or(f64::NAN);
    let mut power = exponent(x).unwrap_or(0) - 1;
    let most = COARSEST * range;
    while most > 0.0 && decimal(1.0, power) > most {
        power -= 1;
    }
    let near = (x / decimal(1.0, power)).round();
    let found = decimal(near, power);
    if found <= x { found } else { decimal(near - 1.0, power) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_digits_outward() {
        for (x, low, high) in [
            (0.094_37, 0.094, 0.095),
            (0.094, 0.094, 0.094),
            (-0.094_37, -0.095, -0.094),
            (1_234.0, 1_200.0, 1_300.0),
            (9.99, 9.9, 10.0),
            (0.0, 0.0, 0.0),
            (f64::INFINITY, f64::INFINITY, f64::INFINITY),
        ] {
            assert_eq!((down(x, 1e9), -down(-x, 1e9)), (low, high), "{x}");
        }
    }

    /// Years from 2027 to 2035 differ in their fourth digit; 1.04 of a range to 1.1 is 1.0.
    #[test]
    fn no_coarser_than_the_range() {
        assert_eq!((down(2_031.7, 8.0), -down(-2_031.7, 8.0)), (2_031.0, 2_032.0));
        assert_eq!(down(1.04, 0.99), 1.0);
        assert_eq!(down(101.37, 0.5), 101.3);
        assert_eq!(down(101.37, 0.0), 100.0);
    }
}
