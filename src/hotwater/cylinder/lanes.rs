//! Runs side by side in groups of a fixed width, so that the compiler knows the length of every inner loop and can make
//! vectors of it.

use std::ops::{Deref, DerefMut};

/// Lanes of a group: two of the widest vectors there are.
pub(super) const W: usize = 16;

/// A value for each lane of a group, aligned so that no vector lies across two cache lines.
#[derive(Debug, Clone, Copy)]
#[repr(align(64))]
pub(super) struct Lanes(pub(super) [f64; W]);

/// All zero.
pub(super) const ZERO: Lanes = Lanes([0.0; W]);

impl Deref for Lanes {
    type Target = [f64; W];
    #[inline(always)]
    fn deref(&self) -> &[f64; W] {
        &self.0
    }
}

impl DerefMut for Lanes {
    #[inline(always)]
    fn deref_mut(&mut self) -> &mut [f64; W] {
        &mut self.0
    }
}

impl Lanes {
    /// The same value in each lane.
    #[inline(always)]
    pub(super) fn all(value: f64) -> Lanes {
        Lanes([value; W])
    }

    /// A value made of each lane's.
    #[inline(always)]
    pub(super) fn map(self, of: impl Fn(f64) -> f64) -> Lanes {
        each(|l| of(self.0[l]))
    }
}

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
    for l in 0..W {
        to[l] += value[l];
    }
}

/// Whether it is above 0 in any lane.
#[inline(always)]
pub(super) fn any(of: &Lanes) -> bool {
    let mut found = false;
    for value in of.iter() {
        found |= *value > 0.0;
    }
    found
}
