//! First-order and total indices from the columns of a variance design: plain
//! functions, whatever made the columns.
//!
//! With A and B two independent matrices of inputs and A_B^i the first with
//! group i from the second, c and V mean and variance of f_A and f_B together:
//!
//! ```text
//! first   S_i = mean[(f_B - c)(f_ABi - f_A)] / V     Saltelli et al. 2010, Variance based sensitivity analysis of model output
//! total   T_i = mean[(f_A - f_ABi)^2] / (2 V)        Jansen 1999, Analysis of variance designs for model output
//! ```
//!
//! Without c the first orders of a result far from 0 would drown in noise.

use rayon::prelude::*;

use super::spread::{Spread, spread};
use crate::analysis::statistics::intervals::{CONFIDENCE, normal_z};
use crate::analysis::{Estimate, Figure};
use crate::sampling::Vectors;
use crate::sampling::maths::kernels;

/// A result over the rows of a variance design; a row with a NaN in any column is left out as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Columns {
    /// f at the rows of A.
    pub a: Vec<f64>,
    /// f at the rows of B.
    pub b: Vec<f64>,
    /// f at the rows of A with one group from B; a column for each group.
    pub swapped: Vec<Vec<f64>>,
}

/// Indices of one group.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupIndices {
    /// First-order index; slightly below 0 is noise.
    pub first: Estimate,
    /// Total index.
    pub total: Estimate,
    /// What the first-order index may show either way, in 95 of 100 cases, for a group without any effect by itself: z
    /// times the standard error of mean[(f_B - c)(f_ABi - f_A)] from independent rows, over V; under a stratified method
    /// the error is less, so this errs on the safe side. (Pairing f_B with other rows at random would give too little:
    /// f_B and f_ABi share group i.)
    pub floor: f64,
}

/// Indices of all groups.
#[derive(Debug, Clone, PartialEq)]
pub struct Indices {
    /// Rows that count.
    pub rows: u64,
    /// Rows left out for want of a value.
    pub left_out: u64,
    /// Mean of f_A and f_B.
    pub mean: Estimate,
    /// Variance of f_A and f_B about that mean.
    pub variance: Estimate,
    /// In the order of the columns.
    pub groups: Vec<GroupIndices>,
    /// Sum of the first-order indices.
    pub sum_first: Estimate,
    /// 1 less that sum: what only comes about by groups acting together.
    pub interactions: Estimate,
}

/// Indices with their intervals; none without two rows, or where the result is the same in all.
pub fn indices_of(columns: &Columns, how: Spread, vectors: Vectors) -> Option<Indices> {
    let (good, rows) = complete(columns, how);
    let left_out = columns.a.len() - rows.len();
    let columns = good.as_ref().unwrap_or(columns);
    let n = rows.len();
    if n < 2 || columns.swapped.iter().any(|column| column.len() != n) {
        return None;
    }
    // About a mean of all rows, so that sums of squares lose no digits.
    let centre = (columns.a.iter().sum::<f64>() + columns.b.iter().sum::<f64>()) / (2 * n) as f64;
    let d = columns.swapped.len();
    let figures = |weights: &[f64]| figures(columns, centre, weights, vectors);
    let found = spread(&rows, how, &figures);
    let variance = found.get(1)?.value.number().filter(|v| *v > 0.0)?;
    let z = normal_z(CONFIDENCE);
    let groups = (0..d)
        .into_par_iter()
        .map(|i| {
            let spread = products(columns, i, value_of(&found[0]));
            GroupIndices {
                first: found[FIXED + i].clone(),
                total: found[FIXED + d + i].clone(),
                floor: z * (spread / n as f64).sqrt() / variance,
            }
        })
        .collect();
    Some(Indices {
        rows: n as u64,
        left_out: left_out as u64,
        mean: found[0].clone(),
        variance: found[1].clone(),
        groups,
        interactions: rest(&found[2]),
        sum_first: found[2].clone(),
    })
}

fn value_of(estimate: &Estimate) -> f64 {
    estimate.value.number().unwrap_or(f64::NAN)
}

/// Variance of (f_B - c)(f_ABi - f_A) over the rows.
fn products(columns: &Columns, i: usize, centre: f64) -> f64 {
    let n = columns.a.len() as f64;
    let rows = columns.a.iter().zip(&columns.b).zip(&columns.swapped[i]);
    let (sum, squares) = rows.fold((0.0, 0.0), |(sum, squares), ((a, b), x)| {
        let product = (b - centre) * (x - a);
        (sum + product, squares + product * product)
    });
    ((squares - sum * sum / n) / (n - 1.0)).max(0.0)
}

/// Figures before those of the groups: mean, variance, sum of first orders.
const FIXED: usize = 3;

/// Mean, variance and sum of first orders, the first orders, the totals, of weighted rows.
fn figures(columns: &Columns, centre: f64, weights: &[f64], vectors: Vectors) -> Vec<f64> {
    let d = columns.swapped.len();
    let mut sums = [0.0; 3];
    // The weights of one replicate are 0 but for its own stretch.
    let from = weights.iter().position(|w| *w != 0.0).unwrap_or(0);
    let to = weights.iter().rposition(|w| *w != 0.0).map_or(0, |last| last + 1);
    let (weights, a, b) = (&weights[from..to], &columns.a[from..to], &columns.b[from..to]);
    vectors.pooled_sums(weights, centre, a, b, &mut sums);
    let [all, sum, squares] = sums;
    let shift = sum / (2.0 * all);
    let variance = (squares - sum * shift) / (2.0 * all - 1.0);
    let mut out = vec![0.0; FIXED + 2 * d];
    out[0] = centre + shift;
    out[1] = variance;
    for (i, swapped) in columns.swapped.iter().enumerate() {
        vectors.group_sums(weights, centre, a, b, &swapped[from..to], &mut sums);
        let [product, change, square] = sums;
        let first = (product - shift * change) / (all * variance);
        out[2] += first;
        out[FIXED + i] = first;
        out[FIXED + d + i] = square / (2.0 * all * variance);
    }
    out
}

fn rest(sum: &Estimate) -> Estimate {
    let less = |x: Figure| Figure::of(1.0 - x.number().unwrap_or(f64::NAN));
    Estimate {
        value: less(sum.value),
        low: sum.high.map(less),
        high: sum.low.map(less),
        interval: sum.interval,
    }
}

/// The rows that have a value in every column and their numbers, as a copy where they are fewer or in another order.
fn complete(columns: &Columns, how: Spread) -> (Option<Columns>, Vec<u64>) {
    let all = || [&columns.a, &columns.b].into_iter().chain(&columns.swapped);
    let n = all().map(Vec::len).min().unwrap_or(0);
    // Mostly all are, and columns are faster to look through than rows.
    let every = all().all(|column| column.iter().all(|x| x.is_finite()));
    let good = |r: &usize| every || all().all(|column| column[*r].is_finite());
    // Each replicate by itself, so that a sum over one reads its rows alone.
    let step = if let Spread::Replicates(replicates) = how { replicates.max(1) as usize } else { 1 };
    let rows: Vec<u64> =
        (0..step).flat_map(|first| (first..n).step_by(step)).filter(good).map(|r| r as u64).collect();
    if step == 1 && all().all(|column| column.len() == rows.len()) {
        return (None, rows);
    }
    let kept = |column: &Vec<f64>| rows.iter().map(|&r| column[r as usize]).collect();
    let swapped = columns.swapped.par_iter().map(kept).collect();
    (Some(Columns { a: kept(&columns.a), b: kept(&columns.b), swapped }), rows)
}

/// Sums are taken in this many lanes, whatever the width of the vectors.
const LANES: usize = 8;

#[inline(always)]
fn pooled(weights: &[f64], centre: f64, a: &[f64], b: &[f64], out: &mut [f64; 3]) {
    let mut lanes = [[0.0; LANES]; 3];
    let columns = weights.chunks(LANES).zip(a.chunks(LANES)).zip(b.chunks(LANES));
    for ((w, a), b) in columns {
        for (k, ((w, a), b)) in w.iter().zip(a).zip(b).enumerate() {
            let (a, b) = (a - centre, b - centre);
            lanes[0][k] += w;
            lanes[1][k] += w * (a + b);
            lanes[2][k] += w * (a * a + b * b);
        }
    }
    *out = lanes.map(|lane| lane.iter().sum());
}

#[inline(always)]
fn group(weights: &[f64], centre: f64, a: &[f64], b: &[f64], swapped: &[f64], out: &mut [f64; 3]) {
    let mut lanes = [[0.0; LANES]; 3];
    let columns = weights.as_chunks::<LANES>().0.iter().zip(a.as_chunks::<LANES>().0);
    let columns = columns.zip(b.as_chunks::<LANES>().0).zip(swapped.as_chunks::<LANES>().0);
    for (((w, a), b), x) in columns {
        for k in 0..LANES {
            let change = x[k] - a[k];
            let weighted = w[k] * change;
            lanes[0][k] += weighted * (b[k] - centre);
            lanes[1][k] += weighted;
            lanes[2][k] += weighted * change;
        }
    }
    let done = weights.len() - weights.len() % LANES;
    for r in done..weights.len() {
        let change = swapped[r] - a[r];
        lanes[0][r - done] += weights[r] * change * (b[r] - centre);
        lanes[1][r - done] += weights[r] * change;
        lanes[2][r - done] += weights[r] * change * change;
    }
    *out = lanes.map(|lane| lane.iter().sum());
}

kernels! {
    /// Sums of w, w (a + b), w (a^2 + b^2), a and b about the centre.
    pub(crate) fn pooled_sums(weights: &[f64], centre: f64, a: &[f64], b: &[f64], out: &mut [f64; 3]) = pooled;
    /// Sums of w (b - centre)(x - a), w (x - a), w (x - a)^2.
    pub(crate) fn group_sums(weights: &[f64], centre: f64, a: &[f64], b: &[f64], swapped: &[f64], out: &mut [f64; 3]) = group;
}
