//! Regression of gains on the terms of a subject (Strong, Oakley, Brennan
//! 2014, *Estimating multiparameter partial expected value of perfect
//! information*), by least squares on all runs and without each fold.
//!
//! Normal equations are gathered once, fold by fold, and solved by Cholesky's
//! factors. These take each term for what the earlier ones leave over, and a
//! part that is no larger than noise is shrunk: times 1 - c/t^2 or to nothing,
//! with t its size in standard errors (the non-negative garrote: Breiman 1995,
//! *Better subset regression using the nonnegative garrote*).

use super::features::{BLOCK, Terms};
use super::gains::{Gains, Worth};

/// c of the garrote: what a term of pure noise explains, on average, is 1.
const GARROTE: f64 = 2.0;
/// A term of which less than this is left over by the earlier ones is dropped.
const LEFT_OVER: f64 = 1e-9;

/// Normal equations of all gains, gathered by fold.
pub(super) struct Regression<'a> {
    gains: &'a Gains,
    terms: Terms,
    /// Length of a row: terms, then gains, filled up to a multiple of four.
    stride: usize,
    /// Upper triangle of the products of terms and gains, by fold.
    grams: Vec<Vec<f64>>,
    copies: usize,
}

impl<'a> Regression<'a> {
    pub(super) fn new(gains: &'a Gains, terms: Terms) -> Regression<'a> {
        let stride = (terms.count + gains.columns.len()).next_multiple_of(4);
        let grams = vec![vec![0.0; stride * stride]; gains.runs.folds()];
        Regression { gains, terms, stride, grams, copies: 0 }
    }

    /// Adds all runs with these columns of the subject; more than once, each time counts the same.
    pub(super) fn add(&mut self, columns: &[Vec<f64>]) {
        self.copies += 1;
        let mut rows = vec![0.0; BLOCK * self.stride];
        let folds = self.grams.len();
        for (part, range) in self.gains.runs.parts.iter().enumerate() {
            for from in range.clone().step_by(BLOCK) {
                let n = BLOCK.min(range.end - from);
                self.terms.fill(columns, from, n, self.stride, &mut rows);
                for (k, gain) in self.gains.columns.iter().enumerate() {
                    let place = self.terms.count + k;
                    let of_rows = rows.chunks_exact_mut(self.stride).zip(&gain[from..from + n]);
                    of_rows.for_each(|(row, g)| row[place] = *g);
                }
                add_products(&rows[..n * self.stride], self.stride, &mut self.grams[part % folds]);
            }
        }
    }

    /// Coefficients of all runs, and of all but each fold.
    pub(super) fn solve(&self) -> Solved<'_> {
        let mut all = vec![0.0; self.stride * self.stride];
        for gram in &self.grams {
            all.iter_mut().zip(gram).for_each(|(a, x)| *a += x);
        }
        let without = |gram: &Vec<f64>| all.iter().zip(gram).map(|(a, x)| a - x).collect::<Vec<f64>>();
        let of_others = self.grams.iter().map(|gram| self.coefficients(&without(gram))).collect();
        Solved { of_all: self.coefficients(&all), of_others, regression: self }
    }

    /// Coefficients from normal equations: those of the first term for each gain, then of the next.
    fn coefficients(&self, gram: &[f64]) -> Vec<f64> {
        let (p, m) = (self.terms.count, self.gains.columns.len());
        // The first product is that of the constant with itself: the count of rows.
        let (runs, rows) = (gram[0] / self.copies.max(1) as f64, gram[0]);
        let (factors, dropped) = factors(gram, self.stride, p, m);
        let mut out = vec![0.0; p * m];
        for k in 0..m {
            let own = &factors[(p + k) * p..(p + k + 1) * p];
            let explained: f64 = own.iter().map(|u| u * u).sum();
            let total = gram[(p + k) * (self.stride + 1)];
            let rest = (total - explained).max(1e-14 * total);
            // Copies of a run know no more than the run: a part of pure noise weighs as much as a whole copy of it.
            let noise = rest / rows * (rows / runs) / (1.0 - p as f64 / runs).max(0.1);
            let shrunk = |(j, &u): (usize, &f64)| {
                if j == 0 { u } else { u * (1.0 - GARROTE * noise / (u * u)).max(0.0) }
            };
            let mut parts: Vec<f64> = own.iter().enumerate().map(shrunk).collect();
            for j in (0..p).rev() {
                let factor = factors[j * p + j];
                let beta = if dropped[j] { 0.0 } else { parts[j] / factor };
                out[j * m + k] = beta;
                for i in 0..j {
                    parts[i] -= factors[j * p + i] * beta;
                }
            }
        }
        out
    }
}

/// Lower triangular factors, row by row: of the terms, and below them the part of each gain along each term. Terms that
/// the earlier ones hold already are dropped.
fn factors(gram: &[f64], stride: usize, p: usize, m: usize) -> (Vec<f64>, Vec<bool>) {
    let mut l = vec![0.0; (p + m) * p];
    let mut dropped = vec![false; p];
    for i in 0..p + m {
        for k in 0..p.min(i) {
            let (above, own) = l.split_at(i * p);
            let sum: f64 = own[..k].iter().zip(&above[k * p..k * p + k]).map(|(a, b)| a * b).sum();
            let pivot = l[k * p + k];
            l[i * p + k] = if dropped[k] { 0.0 } else { (gram[k * stride + i] - sum) / pivot };
        }
        if i < p {
            let own = gram[i * stride + i];
            let left = own - l[i * p..i * p + i].iter().map(|x| x * x).sum::<f64>();
            dropped[i] = left.is_nan() || left <= LEFT_OVER * own;
            l[i * p + i] = if dropped[i] { 0.0 } else { left.sqrt() };
        }
    }
    (l, dropped)
}

/// Adds the products of all pairs of places (upper triangle, by squares of four), row after row.
fn add_products(rows: &[f64], stride: usize, gram: &mut [f64]) {
    for i in (0..stride).step_by(4) {
        for j in (i..stride).step_by(4) {
            let mut sums = [[0.0; 4]; 4];
            for row in rows.chunks_exact(stride) {
                let (Some(x), Some(y)) = (row[i..].first_chunk::<4>(), row[j..].first_chunk::<4>()) else {
                    continue;
                };
                for (sums, x) in sums.iter_mut().zip(x) {
                    for (sum, y) in sums.iter_mut().zip(y) {
                        *sum += x * y;
                    }
                }
            }
            for (k, sums) in sums.iter().enumerate() {
                let at = (i + k) * stride + j;
                gram[at..at + 4].iter_mut().zip(sums).for_each(|(g, s)| *g += s);
            }
        }
    }
}

/// Fitted gains.
pub(super) struct Solved<'a> {
    regression: &'a Regression<'a>,
    of_all: Vec<f64>,
    of_others: Vec<Vec<f64>>,
}

impl Solved<'_> {
    /// Adds what all runs with these columns of the subject say about its worth.
    pub(super) fn judge(&self, columns: &[Vec<f64>], worth: &mut Worth) {
        let Regression { gains, terms, stride, .. } = self.regression;
        let (p, m) = (terms.count, gains.columns.len());
        let mut rows = vec![0.0; BLOCK * stride];
        let mut fitted = vec![0.0; 2 * m];
        for (part, range) in gains.runs.parts.iter().enumerate() {
            let both = interleaved(&self.of_all, &self.of_others[part % self.of_others.len()], m);
            for from in range.clone().step_by(BLOCK) {
                let n = BLOCK.min(range.end - from);
                terms.fill(columns, from, n, *stride, &mut rows);
                for (run, row) in (from..from + n).zip(rows.chunks_exact(*stride)) {
                    fitted.fill(0.0);
                    for (x, betas) in row[..p].iter().zip(both.chunks_exact(2 * m)) {
                        fitted.iter_mut().zip(betas).for_each(|(f, b)| *f += x * b);
                    }
                    let (of_all, of_others) = fitted.split_at(m);
                    worth.add(run, gains, of_all.iter().copied(), of_others.iter().copied());
                }
            }
        }
    }
}

/// Of each term its coefficients in one fit, then those in the other.
fn interleaved(a: &[f64], b: &[f64], m: usize) -> Vec<f64> {
    a.chunks_exact(m).zip(b.chunks_exact(m)).flat_map(|(a, b)| a.iter().chain(b)).copied().collect()
}
