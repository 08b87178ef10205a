//! Measures of the whole distribution: how far the result's distribution moves
//! when one factor is known. They need no variance, so they work with never.

use super::classes::Classes;
use super::outcome::Outcome;

/// Most classes of a factor, and bins of the result.
const MOST: usize = 20;

/// Classes for `n` runs: floor(sqrt(n)/4), from 4 to 20. Fewer than for the
/// first-order index, since what a class with few runs shows is mostly noise.
pub fn classes_for(n: usize) -> usize {
    (n.isqrt() / 4).clamp(4, MOST)
}

/// Both measures, between 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distances {
    /// Mean over classes of the largest distance between the distribution function in the class
    /// and that of all runs (Pianosi, Wagener 2015), classes weighing what they hold.
    pub kolmogorov: f64,
    /// Mean over classes of half the area between the density in the class and that of all runs
    /// (Borgonovo 2007), from shares in bins of equal count.
    pub delta: f64,
}

/// Where the bins of the result end in its order: nearly equal counts of the
/// numbers, equal values together, and a bin of its own for never.
pub fn bin_ends(outcome: &Outcome, bins: usize) -> Vec<u32> {
    let numbers = outcome.n() - outcome.never;
    let mut ends = Vec::with_capacity(bins + 1);
    let mut next = 1;
    for &end in &outcome.tie_ends {
        let at = end as usize;
        if at >= numbers || at * bins >= next * numbers {
            ends.push(end);
            next = at * bins / numbers.max(1) + 1;
        }
    }
    ends
}

/// Counted over the runs in the order of the result, run i counting `weight(i)` times.
///
/// Exact in whole numbers: a distance is |seen_k n - at n_k| / (n n_k), where
/// `at` of all n runs and `seen_k` of the n_k in class k lie up to a value.
/// Between two runs of its own a class moves only down against all runs, so
/// it is looked at just before and just after each of them.
pub fn distances(
    outcome: &Outcome,
    classes: &Classes,
    bin_ends: &[u32],
    weight: impl Fn(usize) -> i64,
) -> Distances {
    let mut held = vec![0i64; classes.counts.len()];
    (0..outcome.n()).for_each(|i| held[usize::from(classes.of_run[i])] += weight(i));
    let n: i64 = held.iter().sum();
    let mut walk = Walk { n, at: 0, held: [0; 256], seen: [0; 256], most: [0; 256] };
    walk.held[..held.len()].copy_from_slice(&held);
    let mut before = vec![0i64; held.len()];
    let (mut start, mut ends, mut area) = (0, outcome.tie_ends.iter(), 0.0);
    for &bin_end in bin_ends {
        let first = walk.at;
        while start < bin_end {
            let end = ends.next().copied().unwrap_or(bin_end);
            let lot = &outcome.order[start as usize..end as usize];
            match *lot {
                [one] => walk.one(classes.of_run[one as usize], weight(one as usize)),
                _ => walk.lot(lot, &classes.of_run, &weight),
            }
            start = end;
        }
        for ((before, &seen), &held) in before.iter_mut().zip(&walk.seen).zip(&held) {
            area += ((seen - *before) * n - (walk.at - first) * held).abs() as f64;
            *before = seen;
        }
    }
    let square = n as f64 * n as f64;
    let most: f64 = walk.most[..held.len()].iter().map(|&d| d as f64).sum();
    Distances { kolmogorov: most / square, delta: 0.5 * area / square }
}

/// State of the walk: 256 places, so that a class number needs no check.
struct Walk {
    n: i64,
    at: i64,
    held: [i64; 256],
    seen: [i64; 256],
    most: [i64; 256],
}

impl Walk {
    /// A run whose value no other has.
    fn one(&mut self, class: u8, weight: i64) {
        let k = usize::from(class);
        let behind = self.at * self.held[k] - self.seen[k] * self.n;
        let ahead = weight * (self.n - self.held[k]) - behind;
        self.most[k] = self.most[k].max(behind).max(ahead);
        self.seen[k] += weight;
        self.at += weight;
    }

    /// Runs of equal value: nothing lies between them.
    fn lot(&mut self, runs: &[u32], of_run: &[u8], weight: &impl Fn(usize) -> i64) {
        let class = |i: u32| usize::from(of_run[i as usize]);
        for &i in runs {
            let k = class(i);
            self.most[k] = self.most[k].max(self.at * self.held[k] - self.seen[k] * self.n);
        }
        for &i in runs {
            let w = weight(i as usize);
            self.seen[class(i)] += w;
            self.at += w;
        }
        for &i in runs {
            let k = class(i);
            self.most[k] = self.most[k].max(self.seen[k] * self.n - self.at * self.held[k]);
        }
    }
}
