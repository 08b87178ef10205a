//! Order statistics of a long column without keeping it: what lies in a few
//! windows around the wanted ranks is kept, the rest only counted.
//!
//! The windows are guesses (from the first runs, say). Where a wanted rank
//! falls into its window the value is exact, so that no figure depends on the
//! guess; where it does not, there is no value and the caller must keep the
//! column after all.

use crate::sampling::maths::kernels;

/// Most edges of windows.
pub const MOST_EDGES: usize = 16;

/// Rising edges: window k holds edge 2k <= x < edge 2k+1.
#[derive(Debug, Clone, PartialEq)]
pub struct Windows {
    edges: Vec<f64>,
}

impl Windows {
    /// Windows from pairs of ends, those that overlap made one; at most half of [`MOST_EDGES`] are left, the
    /// nearest ones made one. Ends that are no numbers are left out.
    pub fn new(mut ends: Vec<(f64, f64)>) -> Windows {
        ends.retain(|(low, high)| low < high);
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut windows: Vec<(f64, f64)> = Vec::new();
        for (low, high) in ends {
            match windows.last_mut() {
                Some(last) if low <= last.1 => last.1 = if high > last.1 { high } else { last.1 },
                _ => windows.push((low, high)),
            }
        }
        while windows.len() > MOST_EDGES / 2 {
            join_nearest(&mut windows);
        }
        Windows { edges: windows.into_iter().flat_map(|(low, high)| [low, high]).collect() }
    }
}

fn join_nearest(windows: &mut Vec<(f64, f64)>) {
    let gap = |k: &usize| windows[*k + 1].0 - windows[*k].1;
    let nearest = (0..windows.len().saturating_sub(1)).min_by(|a, b| gap(a).total_cmp(&gap(b)));
    if let Some(k) = nearest {
        windows[k].1 = windows[k + 1].1;
        windows.remove(k + 1);
    }
}

/// The counts and kept values of a column, or of a part of it.
#[derive(Debug, Clone)]
pub struct Windowed {
    edges: Vec<f64>,
    /// Values not below each edge.
    not_below: Vec<u64>,
    /// Values that are not NaN.
    values: u64,
    kept: Vec<f64>,
}

impl Windowed {
    /// Nothing yet.
    pub fn new(windows: &Windows) -> Self {
        let edges = windows.edges.clone();
        Windowed { not_below: vec![0; edges.len()], edges, values: 0, kept: Vec::new() }
    }

    /// Takes in a piece of the column.
    pub fn add(&mut self, column: &[f64]) {
        // Comparing with NaN is no, so edges that do not exist count nothing and keep nothing.
        let mut edges = [f64::NAN; MOST_EDGES];
        edges[..self.edges.len()].copy_from_slice(&self.edges);
        for piece in column.chunks(PIECE) {
            let mut inside = [0.0; PIECE];
            let mut counts = [0.0; MOST_EDGES + 1];
            crate::sampling::Vectors::Widest.count_windows(piece, &edges, &mut inside, &mut counts);
            for (total, &n) in self.not_below.iter_mut().zip(&counts) {
                // OK because a piece holds far fewer than 2^53 values.
                *total += n as u64;
            }
            self.values += counts[MOST_EDGES] as u64;
            keep_inside(piece, &inside, &mut self.kept);
        }
    }

    /// Takes in another part of the column.
    pub fn merge(&mut self, other: &Windowed) {
        for (total, n) in self.not_below.iter_mut().zip(&other.not_below) {
            *total += n;
        }
        self.values += other.values;
        self.kept.extend_from_slice(&other.kept);
    }

    /// Values that are not NaN.
    pub fn values(&self) -> u64 {
        self.values
    }

    /// What was kept, in no order.
    pub fn kept(&self) -> &[f64] {
        &self.kept
    }

    /// Where the value of 0-based `rank` stands among the kept ones in order, if it lies in a window.
    pub fn rank_among_kept(&self, rank: u64) -> Option<u64> {
        let mut before = 0;
        for pair in self.not_below.chunks_exact(2) {
            let below = self.values - pair[0];
            let inside = pair[0] - pair[1];
            if rank >= below && rank < below + inside {
                return Some(before + rank - below);
            }
            before += inside;
        }
        None
    }
}

/// Values in a piece: a page of one column, well inside the first-level cache.
const PIECE: usize = 1024;

kernels! {
    /// For each value 1 where it lies in a window, and how many are not below each edge (last: how many are no NaN).
    pub(crate) fn count_windows(piece: &[f64], edges: &[f64; MOST_EDGES], inside: &mut [f64; PIECE], counts: &mut [f64; MOST_EDGES + 1]) = count_windows_of;
}

#[inline(always)]
fn count_windows_of(
    piece: &[f64],
    edges: &[f64; MOST_EDGES],
    inside: &mut [f64; PIECE],
    counts: &mut [f64; MOST_EDGES + 1],
) {
    // Eight sums side by side: whole numbers, so that no order of adding matters.
    let mut sums = [[0.0_f64; 8]; MOST_EDGES + 1];
    let (eights, rest) = piece.as_chunks::<8>();
    for (xs, ins) in eights.iter().zip(inside.as_chunks_mut::<8>().0) {
        let mut odd = [0.0_f64; 8];
        for (edge, sum) in edges.iter().zip(&mut sums) {
            for i in 0..8 {
                let not_below = if xs[i] >= *edge { 1.0 } else { 0.0 };
                sum[i] += not_below;
                // Not below an odd number of edges: inside a window.
                odd[i] = if not_below == odd[i] { 0.0 } else { 1.0 };
            }
        }
        for i in 0..8 {
            sums[MOST_EDGES][i] += if xs[i].is_nan() { 0.0 } else { 1.0 };
        }
        *ins = odd;
    }
    for (count, sum) in counts.iter_mut().zip(&sums) {
        *count = sum.iter().sum();
    }
    let done = piece.len() - rest.len();
    for (k, &x) in rest.iter().enumerate() {
        let mut odd = 0.0;
        for (edge, count) in edges.iter().zip(counts.iter_mut()) {
            let not_below = if x >= *edge { 1.0 } else { 0.0 };
            *count += not_below;
            odd = if not_below == odd { 0.0 } else { 1.0 };
        }
        counts[MOST_EDGES] += if x.is_nan() { 0.0 } else { 1.0 };
        inside[done + k] = odd;
    }
}

/// Appends the values that are marked, without a branch on the mark.
fn keep_inside(piece: &[f64], inside: &[f64; PIECE], kept: &mut Vec<f64>) {
    let mut found = [0.0; PIECE + 1];
    let mut n = 0;
    for (&x, &mark) in piece.iter().zip(inside) {
        found[n] = x;
        n += mark as usize;
    }
    kept.extend_from_slice(&found[..n]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Whatever the windows and the pieces, a value given is that of the sorted column, and every rank inside a
        /// window is given.
        #[test]
        fn ranks_inside_windows_are_exact(
            column in prop::collection::vec(
                prop_oneof![8 => -10.0..10.0_f64, 2 => (-3..3_i32).prop_map(f64::from),
                    1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -0.0])],
                0..3000),
            ends in prop::collection::vec((-11.0..11.0_f64, 0.0..4.0_f64), 0..12),
            cut in 0..3000_usize,
        ) {
            let windows = Windows::new(ends.iter().map(|&(low, width)| (low, low + width)).collect());
            let (mut first, mut second) = (Windowed::new(&windows), Windowed::new(&windows));
            let (left, right) = column.split_at(cut.min(column.len()));
            first.add(left);
            second.add(right);
            first.merge(&second);
            let mut kept = first.kept().to_vec();
            kept.sort_by(f64::total_cmp);
            let mut sorted: Vec<f64> = column.iter().copied().filter(|x| !x.is_nan()).collect();
            sorted.sort_by(f64::total_cmp);
            prop_assert_eq!(first.values(), sorted.len() as u64);
            for (rank, &x) in sorted.iter().enumerate() {
                let inside = windows.edges.chunks_exact(2).any(|w| x >= w[0] && x < w[1]);
                match first.rank_among_kept(rank as u64) {
                    Some(at) => prop_assert!(kept[at as usize] == x && inside, "{} for {}", kept[at as usize], x),
                    None => prop_assert!(!inside, "rank {} ({}) is inside and missing", rank, x),
                }
            }
        }
    }
}
