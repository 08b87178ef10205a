//! Shares of runs up to given limits, in one pass and in parts.

use super::intervals::{CONFIDENCE, share_of_parts};
use crate::analysis::Share;

/// Counts of runs up to each of some rising limits, by replicate. Whole numbers, so that parts add up in any order.
#[derive(Debug, Clone, PartialEq)]
pub struct UpTo {
    limits: Vec<f64>,
    /// For each replicate: runs by the first limit that is not below them, then finite ones beyond, then never.
    classes: Vec<Vec<u64>>,
}

impl UpTo {
    /// No runs yet. Run r belongs to replicate r mod `replicates`; with fewer than two there are none.
    pub fn new(limits: &[f64], replicates: Option<u32>) -> Self {
        let n = replicates.filter(|&n| n >= 2).unwrap_or(1) as usize;
        UpTo { limits: limits.to_vec(), classes: vec![vec![0; limits.len() + 2]; n] }
    }

    /// Takes in consecutive runs; NaN is no value.
    pub fn add(&mut self, first_run: u64, column: &[f64]) {
        let n = self.classes.len();
        let first = (first_run % n as u64) as usize;
        for (i, &x) in column.iter().enumerate().filter(|(_, x)| !x.is_nan()) {
            let class = if x == f64::INFINITY {
                self.limits.len() + 1
            } else {
                self.limits.partition_point(|&limit| limit < x)
            };
            self.classes[(first + i) % n][class] += 1;
        }
    }

    /// Takes in another part, counted against the same limits.
    pub fn merge(&mut self, other: &UpTo) {
        for (mine, theirs) in self.classes.iter_mut().zip(&other.classes) {
            for (a, b) in mine.iter_mut().zip(theirs) {
                *a += b;
            }
        }
    }

    /// Share of runs at or below each limit, with intervals as a summary gives them.
    pub fn shares(&self) -> Vec<Share> {
        (0..self.limits.len()).map(|k| self.share(|c| c[..=k].iter().sum())).collect()
    }

    /// Share of runs at or below `limit`, which must be one of those counted against.
    pub fn share_up_to(&self, limit: f64) -> Option<Share> {
        let k = self.limits.iter().position(|&x| x == limit)?;
        Some(self.share(|c| c[..=k].iter().sum()))
    }

    /// Share of runs above limit `k`, never included.
    pub fn above(&self, k: usize) -> Share {
        self.share(|c| c[k + 1..].iter().sum())
    }

    /// Share of runs that are never.
    pub fn never(&self) -> Share {
        self.share(|c| c[self.limits.len() + 1])
    }

    fn share(&self, met: impl Fn(&[u64]) -> u64) -> Share {
        let parts: Vec<(u64, u64)> = self.classes.iter().map(|c| (met(c), c.iter().sum())).collect();
        share_of_parts(&parts, CONFIDENCE)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Rule;
    use super::super::summary::shares_of;
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// The same shares as asking each rule of the whole column, whatever the parts.
        #[test]
        fn parts_add_up(
            column in prop::collection::vec(
                prop_oneof![6 => 0.0..25.0_f64, 2 => (0..25_i32).prop_map(f64::from), 2 => Just(f64::INFINITY), 1 => Just(f64::NAN)],
                20..200),
            replicates in prop_oneof![Just(None), (2..9_u32).prop_map(Some)],
            cut in 0..200_usize,
        ) {
            let limits: Vec<f64> = (1..=20).map(f64::from).collect();
            let (left, right) = column.split_at(cut.min(column.len()));
            let (mut counts, mut later) = (UpTo::new(&limits, replicates), UpTo::new(&limits, replicates));
            counts.add(0, left);
            later.add(left.len() as u64, right);
            counts.merge(&later);
            let rules: Vec<Rule> = limits.iter().map(|&x| Rule::AtMost(x)).collect();
            prop_assert_eq!(counts.shares(), shares_of(&column, replicates, &rules));
            let never = shares_of(&column, replicates, &[Rule::AtLeast(f64::INFINITY)]);
            prop_assert_eq!(&[counts.never()][..], &never[..]);
            let least = shares_of(&column, replicates, &[Rule::AtLeast(7.0)]);
            let mut below = UpTo::new(&[7.0_f64.next_down()], replicates);
            below.add(0, &column);
            prop_assert_eq!(&[below.above(0)][..], &least[..]);
        }
    }
}
