//! Runs side by side in groups of a fixed width, so that the compiler knows the length of every inner loop and can make
//! vectors of it.

/// Lanes of a group: two of the widest vectors there are.
pub(super) const W: usize = 16;

/// A value for each lane of a group.
pub(super) type Lanes = [f64; W];

/// All zero.
pub(super) const ZERO: Lanes = [0.0; W];

/// The smaller one, as a single instruction; the second where one is NaN.
#[inline(always)]
pub(super) fn low(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

/// The larger one, as a single instruction; the second where one is NaN.
#[inline(always)]
pub(super) fn high(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// 1 where true.
#[inline(always)]
pub(super) fn flag(is: bool) -> f64 {
    if is { 1.0 } else { 0.0 }
}

/// A value for each lane.
#[inline(always)]
pub(super) fn each(value: impl Fn(usize) -> f64) -> Lanes {
    let mut out = ZERO;
    for (lane, out) in out.iter_mut().enumerate() {
        *out = value(lane);
    }
    out
}

/// `to += value` in each lane.
#[inline(always)]
pub(super) fn add(to: &mut Lanes, value: &Lanes) {
    for (to, value) in to.iter_mut().zip(value) {
        *to += value;
    }
}

/// Whether it is above 0 in any lane.
#[inline(always)]
pub(super) fn any(of: &Lanes) -> bool {
    let mut found = false;
    for value in of {
        found |= *value > 0.0;
    }
    found
}
