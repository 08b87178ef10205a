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
    /// Cells that no polynomial fits, by their number; empty if all are fit.
    exact: Vec<bool>,
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
        Table { cells, per_unit: per_unit as f64, min: support.0, max: support.1, exact: Vec::new() }
    }

    /// Through values alone: in each cell the polynomial of degree five through six of them, held against three more.
    /// The coarsest table is taken that fits nearly everywhere, by probability. `size` is that of what is drawn.
    pub(crate) fn through(mut quantile: impl FnMut(f64) -> f64, support: (f64, f64), size: f64) -> Table {
        let mut fineness = FINENESS.iter().copied();
        let mut per_unit = FINENESS[0];
        loop {
            let (table, missed) = through_at(&mut quantile, per_unit, support, size);
            match fineness.find(|f| *f > per_unit) {
                Some(finer) if missed > MISSED => per_unit = finer,
                _ => return table,
            }
        }
    }

    /// Value at a score within reach; none beyond.
    pub(crate) fn at(&self, z: f64) -> Option<f64> {
        let fits = z.abs() < REACH && !self.is_exact(z);
        fits.then(|| look_up(&self.cells, self.per_unit, (self.min, self.max), z))
    }

    fn is_exact(&self, z: f64) -> bool {
        let place = ((z + REACH) * self.per_unit) as usize;
        self.exact.get(place).copied().unwrap_or(false)
    }

    /// Replaces scores, all within reach, by values; in cells that no polynomial fits by those of `exact`.
    pub(crate) fn fill(&self, vectors: Vectors, z: &mut [f64], exact: impl Fn(f64) -> f64) {
        let left: Vec<(usize, f64)> = if self.exact.is_empty() {
            Vec::new()
        } else {
            z.iter().copied().enumerate().filter(|(_, z)| self.is_exact(*z)).collect()
        };
        vectors.table_values(&self.cells, self.per_unit, (self.min, self.max), z);
        for (at, score) in left {
            z[at] = exact(score);
        }
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

/// A table may leave this much probability to the exact way.
const MISSED: f64 = 0.02;

/// One fineness, and the probability of the cells that do not fit.
fn through_at(
    quantile: &mut impl FnMut(f64) -> f64,
    per_unit: usize,
    support: (f64, f64),
    size: f64,
) -> (Table, f64) {
    let count = cells(per_unit);
    let h = 1.0 / per_unit as f64;
    let places = nodes();
    let mut table = Table {
        cells: Vec::with_capacity(count),
        per_unit: per_unit as f64,
        min: support.0,
        max: support.1,
        exact: vec![false; count],
    };
    let mut missed = 0.0;
    let mut first = quantile(knot_score(0, per_unit));
    for k in 0..count {
        let z = knot_score(k, per_unit);
        let mut values = [first; 6];
        for (value, place) in values.iter_mut().zip(places).skip(1) {
            *value = quantile(z + h * place);
        }
        first = values[5];
        let cell = newton(&places, values);
        let fits = [0, 2, 4].iter().all(|&n| {
            let t = 0.5 * (places[n] + places[n + 1]);
            let (got, expect) = (value_of(&cell, t), quantile(z + h * t));
            (got - expect).abs() <= 1e-11 * expect.abs() + 1e-13 * size
        });
        table.cells.push(cell);
        if !fits {
            table.exact[k] = true;
            missed += maths::normal_cdf(z + h) - maths::normal_cdf(z);
        }
    }
    (table, missed)
}

/// Six places in a cell, its ends among them, close together at the ends (Chebyshev).
fn nodes() -> [f64; 6] {
    std::array::from_fn(|k| 0.5 - 0.5 * libm::cos(core::f64::consts::PI * k as f64 / 5.0))
}

/// Coefficients of the polynomial through six values: Newton's differences, multiplied out.
fn newton(places: &[f64; 6], mut values: [f64; 6]) -> [f64; 6] {
    for order in 1..6 {
        for k in (order..6).rev() {
            values[k] = (values[k] - values[k - 1]) / (places[k] - places[k - order]);
        }
    }
    let mut c = [0.0; 6];
    for k in (0..6).rev() {
        for power in (0..5).rev() {
            c[power + 1] = c[power] - places[k] * c[power + 1];
        }
        c[0] = values[k] - places[k] * c[0];
    }
    c
}

#[inline(always)]
fn value_of(c: &[f64; 6], t: f64) -> f64 {
    c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))))
}

#[inline(always)]
fn look_up(cells: &[[f64; 6]], per_unit: f64, (min, max): (f64, f64), z: f64) -> f64 {
    let place = (z + REACH) * per_unit;
    let idx = place as usize;
    let t = place - idx as f64;
    let Some(c) = cells.get(idx) else { return f64::NAN };
    let y = value_of(c, t);
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
