//! Dominance of first and second order (Hadar, Russell 1969, *Rules for
//! ordering uncertain prospects*), and whether noise could have made it.
//!
//! First order: sorted values at least as great one by one, not all equal.
//! Second: every running sum of the sorted values at least as great. The error
//! is that of the gap at each value t, run by run: of the share of runs at or
//! below t for the first order, of the mean of max(t - x, 0) for the second.
//! With T the sum of a gap over independent units (runs, or replicates) and Q
//! the sum of its squares, one standard error exceeds the gap just when
//! T^2 < Q, whatever the number of units.

use std::ops::Range;

use super::{Dominance, Verdict};

/// Two sums that ought to be equal may differ by this part of their size.
const ROUNDING: f64 = 1e-12;

/// Whether `a` dominates `b`, and whether `b` dominates `a`. Equal lengths, a run a place; `replicates` are the runs of
/// each replicate, none for independent runs.
pub(super) fn dominances(a: &[f64], b: &[f64], replicates: &[Range<usize>]) -> [Dominance; 2] {
    let mut doubt = Doubt { first: false, second: false };
    sweep(a, b, replicates, &mut doubt);
    let (mut up, mut down) = (a.to_vec(), b.to_vec());
    up.sort_unstable_by(f64::total_cmp);
    down.sort_unstable_by(f64::total_cmp);
    [dominance(&up, &down, &doubt), dominance(&down, &up, &doubt)]
}

/// Whether sorted values dominate others.
fn dominance(up: &[f64], down: &[f64], doubt: &Doubt) -> Dominance {
    let differ = up.iter().zip(down).any(|(x, y)| x != y);
    let first = differ && up.iter().zip(down).all(|(x, y)| x >= y);
    let (mut gap, mut size, mut second) = (0.0, 0.0, differ);
    for (x, y) in up.iter().zip(down) {
        gap += x - y;
        size += x.abs().max(y.abs());
        second &= gap >= -ROUNDING * size;
    }
    let verdict = |holds: bool, doubt: bool| match (holds, doubt) {
        (false, _) => Verdict::No,
        (true, true) => Verdict::WithinSamplingError,
        (true, false) => Verdict::Yes,
    };
    Dominance { first_order: verdict(first, doubt.first), second_order: verdict(second, doubt.second) }
}

/// Whether one standard error exceeds the size of a gap anywhere: the same whichever course is put first.
struct Doubt {
    first: bool,
    second: bool,
}

/// One value of one course.
#[derive(Clone, Copy)]
struct Event {
    value: f64,
    run: usize,
    of_a: bool,
}

/// Goes up through all values and compares each gap with its error.
fn sweep(a: &[f64], b: &[f64], replicates: &[Range<usize>], doubt: &mut Doubt) {
    let n = a.len();
    // About the middle, so that a large common part costs no digits.
    let middle = 0.5 * (super::runs::mean(a) + super::runs::mean(b));
    let event = |of_a: bool| move |(run, &x): (usize, &f64)| Event { value: x - middle, run, of_a };
    let mut events: Vec<Event> = a.iter().enumerate().map(event(true)).collect();
    events.extend(b.iter().enumerate().map(event(false)));
    events.sort_unstable_by(|x, y| {
        x.value.total_cmp(&y.value).then(x.run.cmp(&y.run)).then(x.of_a.cmp(&y.of_a))
    });
    let mut unit_of = vec![0_usize; n];
    for (unit, range) in replicates.iter().enumerate() {
        for run in range.clone() {
            unit_of[run] = unit;
        }
    }
    let mut gaps = Gaps::new(n, replicates.len());
    for (k, event) in events.iter().enumerate() {
        gaps.pass(event, unit_of[event.run]);
        if events.get(k + 1).is_some_and(|next| next.value == event.value) {
            continue;
        }
        doubt.first |= gaps.first_in_doubt();
        doubt.second |= gaps.second_in_doubt(event.value);
    }
}

/// Sums over the runs as far as they have been passed, for gaps of a over b.
struct Gaps {
    /// Passed value of each run of which only one was passed.
    waiting: Vec<Option<f64>>,
    /// Of each unit: runs with b passed less runs with a passed; and the same sum of their values, a less b.
    units: Vec<(i64, f64)>,
    /// Runs of which one value was passed: count, sum, sum of squares.
    singles: (i64, f64, f64),
    /// Runs of which both were passed: sum of squared differences.
    both: f64,
    independent: bool,
}

impl Gaps {
    fn new(n: usize, replicates: usize) -> Gaps {
        Gaps {
            waiting: vec![None; n],
            units: vec![(0, 0.0); replicates.max(1)],
            singles: (0, 0.0, 0.0),
            both: 0.0,
            independent: replicates == 0,
        }
    }

    fn pass(&mut self, event: &Event, unit: usize) {
        let x = event.value;
        let (count, sum) = &mut self.units[unit];
        if event.of_a {
            *count -= 1;
            *sum += x;
        } else {
            *count += 1;
            *sum -= x;
        }
        let (n, s, q) = &mut self.singles;
        match self.waiting[event.run].take() {
            None => {
                self.waiting[event.run] = Some(x);
                *n += 1;
                *s += x;
                *q += x * x;
            }
            Some(y) => {
                *n -= 1;
                *s -= y;
                *q -= y * y;
                self.both += (x - y) * (x - y);
            }
        }
    }

    fn first_in_doubt(&self) -> bool {
        let total: i64 = self.units.iter().map(|u| u.0).sum();
        let squares = || self.units.iter().map(|u| u.0 * u.0).sum::<i64>();
        total * total < if self.independent { self.singles.0 } else { squares() }
    }

    fn second_in_doubt(&self, t: f64) -> bool {
        let gap = |unit: &(i64, f64)| unit.0 as f64 * t + unit.1;
        let total: f64 = self.units.iter().map(gap).sum();
        let (n, s, q) = self.singles;
        let squares = if self.independent {
            (n as f64 * t * t - 2.0 * t * s + q).max(0.0) + self.both
        } else {
            self.units.iter().map(|u| gap(u) * gap(u)).sum()
        };
        // Units that all have the same gap but one give equality: rounding must not decide it.
        total * total < squares * (1.0 - 1e-9)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers in (-1, 1) by a small generator.
    fn noise(seed: u64, n: usize) -> Vec<f64> {
        let mut state = seed;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
        };
        (0..n).map(|_| next()).collect()
    }

    /// Whether one standard error exceeds the size of the gap at any value, from the gaps of the units themselves.
    fn in_doubt(
        a: &[f64],
        b: &[f64],
        replicates: &[Range<usize>],
        gap: impl Fn(f64, f64, f64) -> f64,
    ) -> bool {
        a.iter().chain(b).any(|&t| {
            let of_runs: Vec<f64> = a.iter().zip(b).map(|(&a, &b)| gap(t, a, b)).collect();
            let units: Vec<f64> = match replicates {
                [] => of_runs,
                parts => parts.iter().map(|p| of_runs[p.clone()].iter().sum()).collect(),
            };
            let n = units.len() as f64;
            let mean = units.iter().sum::<f64>() / n;
            let square: f64 = units.iter().map(|u| (u - mean) * (u - mean)).sum();
            mean.abs() < (square / (n - 1.0) / n).sqrt() * (1.0 - 1e-7)
        })
    }

    /// Against the definition: 400 pairs of columns, some far apart and some close, with and without replicates.
    #[test]
    fn doubt_by_definition() {
        let (mut sure, mut doubtful) = ([0; 2], [0; 2]);
        for seed in 0..400 {
            let n = 24;
            let b = noise(seed, n);
            let shift = [0.1, 0.4, 0.8, 1.2][seed as usize % 4];
            let a: Vec<f64> = b.iter().zip(noise(seed + 1000, n)).map(|(b, e)| b + shift + 0.5 * e).collect();
            let parts = if seed % 3 == 0 { vec![0..6, 6..12, 12..18, 18..24] } else { Vec::new() };
            let mut doubt = Doubt { first: false, second: false };
            sweep(&a, &b, &parts, &mut doubt);
            let below = |t: f64, x: f64| if x <= t { 1.0 } else { 0.0 };
            let first = in_doubt(&a, &b, &parts, |t, a, b| below(t, b) - below(t, a));
            let second = in_doubt(&a, &b, &parts, |t, a, b| (t - b).max(0.0) - (t - a).max(0.0));
            assert_eq!((doubt.first, doubt.second), (first, second), "seed {seed}");
            for (k, doubt) in [first, second].into_iter().enumerate() {
                *(if doubt { &mut doubtful[k] } else { &mut sure[k] }) += 1;
            }
        }
        assert!(sure.iter().chain(&doubtful).all(|&n| n > 40), "{sure:?} {doubtful:?}: both must occur");
    }

    #[test]
    fn the_same_more_is_sure() {
        let b = noise(3, 500);
        let a: Vec<f64> = b.iter().map(|b| b + 0.01).collect();
        for parts in [Vec::new(), vec![0..250, 250..500]] {
            let [up, down] = dominances(&a, &b, &parts);
            assert_eq!(up, Dominance { first_order: Verdict::Yes, second_order: Verdict::Yes });
            assert_eq!(down, Dominance { first_order: Verdict::No, second_order: Verdict::No });
        }
        assert_eq!(
            dominances(&b, &b, &[])[0],
            Dominance { first_order: Verdict::No, second_order: Verdict::No }
        );
    }
}
