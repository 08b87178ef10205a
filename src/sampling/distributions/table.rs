//! A table of a dear quantile over the normal score.
//!
//! Against the score a quantile is smooth even far out, against p it is not.
//! In each cell stands the polynomial of degree five that has the quantile's
//! value, slope and curvature at both ends (quintic Hermite); the error falls
//! as the sixth power of the cell.

use crate::sampling::maths::{self, Vectors, kernels};

/// Scores from -REACH to REACH; uniforms of 52 bits stay within 8.2.
pub(crate) const REACH: f64 = 8.5;
/// Cells for each unit of the score that are tried, coarse first; powers of
/// two, so that places are exact. Sixteen serve a usual pert to 1e-12 in 13 KB.
pub(crate) const FINENESS: [usize; 3] = [16, 32, 64];

/// Value, slope and curvature of a quantile at a knot.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Knot {
    pub(crate) value: f64,
    pub(crate) slope: f64,
    pub(crate) curvature: f64,
}

/// The polynomials.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    cells: Vec<[f64; 6]>,
    per_unit: f64,
    min: f64,
    max: f64,
}

/// Number of cells at `per_unit` cells for each unit of the score.
pub(crate) fn cells(per_unit: usize) -> usize {
    17 * per_unit
}

/// Score of knot `k`, 0 to the number of cells.
pub(crate) fn knot_score(k: usize, per_unit: usize) -> f64 {
    k as f64 / per_unit as f64 - REACH
}

impl Table {
    /// From all knots; values are kept within `support`.
    pub(crate) fn new(knots: &[Knot], per_unit: usize, support: (f64, f64)) -> Table {
        let h = 1.0 / per_unit as f64;
        let cells = knots.windows(2).map(|pair| polynomial(&pair[0], &pair[1], h)).collect();
        Table { cells, per_unit: per_unit as f64, min: support.0, max: support.1 }
    }

    /// Value at a score within reach; none beyond.
    pub(crate) fn at(&self, z: f64) -> Option<f64> {
        (z.abs() < REACH).then(|| look_up(&self.cells, self.per_unit, (self.min, self.max), z))
    }

    /// Replaces scores, all within reach, by values.
    pub(crate) fn fill(&self, vectors: Vectors, z: &mut [f64]) {
        vectors.table_values(&self.cells, self.per_unit, (self.min, self.max), z);
    }
}

/// Coefficients in the place t = 0..1 within the cell.
fn polynomial(left: &Knot, right: &Knot, h: f64) -> [f64; 6] {
    let (y0, d0, e0) = (left.value, left.slope * h, 0.5 * left.curvature * h * h);
    let (y1, d1, e1) = (right.value, right.slope * h, 0.5 * right.curvature * h * h);
    // What the parabola from the left end misses at the right end: value, slope, half curvature.
    let a = y1 - y0 - d0 - e0;
    let b = d1 - d0 - 2.0 * e0;
    let c = e1 - e0;
    [y0, d0, e0, 10.0 * a - 4.0 * b + c, -15.0 * a + 7.0 * b - 2.0 * c, 6.0 * a - 3.0 * b + c]
}

#[inline(always)]
fn look_up(cells: &[[f64; 6]], per_unit: f64, (min, max): (f64, f64), z: f64) -> f64 {
    let place = (z + REACH) * per_unit;
    let idx = place as usize;
    let t = place - idx as f64;
    let Some(c) = cells.get(idx) else { return f64::NAN };
    let y = c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))));
    let y = if y < min { min } else { y };
    if y > max { max } else { y }
}

#[inline(always)]
fn fill(cells: &[[f64; 6]], per_unit: f64, ends: (f64, f64), z: &mut [f64]) {
    for v in z {
        *v = look_up(cells, per_unit, ends, *v);
    }
}

kernels! {
    /// Values of a table from normal scores within its reach.
    fn table_values(cells: &[[f64; 6]], per_unit: f64, ends: (f64, f64), z: &mut [f64]) = fill;
}

/// Normal probabilities and density at a score.
pub(crate) fn normal_at(z: f64) -> (f64, f64, f64) {
    (maths::normal_cdf(z), maths::normal_cdf(-z), maths::normal_density(z))
}
