//! Regression of gains on the terms of a subject (Strong, Oakley, Brennan
//! 2014, *Estimating multiparameter partial expected value of perfect
//! information*), by least squares on all runs and without each fold.
//!
//! Normal equations are gathered once, fold by fold, and solved by Cholesky's
//! factors. These take each term for what the earlier ones leave over, and a
//! part that is no larger than noise is shrunk: times 1 - (c/t^2)^2, or to
//! nothing, with t its size in standard errors (after the non-negative garrote,
//! 1 - c/t^2: Breiman 1995, *Better subset regression using the nonnegative
//! garrote*; squared, it lets go of sure terms sooner).

use super::features::{BLOCK, Terms};
use super::gains::{Gains, Worth};

/// c of the garrote: a term of pure noise has a t^2 of 1 on average, above 3 in one case of 12.
const GARROTE: f64 = 3.0;
/// A term of which less than this is left over by the earlier ones is dropped.
const LEFT_OVER: f64 = 1e-9;

/// Rows are kept for the second look at them up to this many numbers (8 MB), else written again.
const KEPT: usize = 1 << 20;

/// Normal equations of all gains, gathered by fold.
pub(super) struct Regression<'a> {
    gains: &'a Gains,
    terms: Terms,
    /// Length of a row: terms, then gains, filled up to a multiple of four.
    stride: usize,
    /// Upper triangle of the products of terms and gains, by fold.
    grams: Vec<Vec<f64>>,
    copies: usize,
    /// The rows of the columns added last; empty where they are too many.
    kept: Vec<f64>,
}

impl<'a> Regression<'a> {
    pub(super) fn new(gains: &'a Gains, terms: Terms) -> Regression<'a> {
        let stride = (terms.count + gains.columns.len()).next_multiple_of(4);
        let grams = vec![vec![0.0; stride * stride]; gains.runs.folds()];
        let size = gains.runs.len() * stride;
        let kept = if size <= KEPT { vec![0.0; size] } else { Vec::new() };
        Regression { gains, terms, stride, grams, copies: 0, kept }
    }

    /// Adds all runs with these columns of the subject; more than once, each time counts the same.
    pub(super) fn add(&mut self, columns: &[Vec<f64>]) {
        self.copies += 1;
        let mut block = vec![0.0; BLOCK * self.stride];
        let folds = self.grams.len();
        for (part, range) in self.gains.runs.parts.iter().enumerate() {
            for from in range.clone().step_by(BLOCK) {
                let n = BLOCK.min(range.end - from);
                let kept = self.kept.get_mut(from * self.stride..(from + n) * self.stride);
                let rows = kept.unwrap_or(&mut block[..n * self.stride]);
                self.terms.fill(columns, from, n, self.stride, rows);
                for (k, gain) in self.gains.columns.iter().enumerate() {
                    let place = self.terms.count + k;
                    let of_rows = rows.chunks_exact_mut(self.stride).zip(&gain[from..from + n]);
                    of_rows.for_each(|(row, g)| row[place] = *g);
                }
                add_products(rows, self.stride, &mut self.grams[part % folds]);
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
                let part = GARROTE * noise / (u * u);
                if j == 0 { u } else { u * (1.0 - part * part).max(0.0) }
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

/// Adds the products of all pairs of places (upper triangle, by squares of four), row after row. Each sum has one lane
/// of its own: wider vectors change no bit.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn add_products(rows: &[f64], stride: usize, gram: &mut [f64]) {
    for i in (0..stride).step_by(4) {
        for j in (i..stride).step_by(4) {
            let mut sums = [[0.0; 4]; 4];
            for row in rows.chunks_exact(stride) {
                let (Some(&x), Some(&y)) = (row[i..].first_chunk::<4>(), row[j..].first_chunk::<4>()) else {
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
    /// Adds what all runs with these columns of the subject say about its worth: the columns that were added, each once.
    pub(super) fn judge(&self, columns: &[Vec<f64>], worth: &mut Worth) {
        let Regression { gains, terms, stride, kept, copies, .. } = self.regression;
        let m = gains.columns.len();
        let mut block = vec![0.0; BLOCK * stride];
        let mut fitted = Vec::with_capacity(2 * m * BLOCK);
        for (part, range) in gains.runs.parts.iter().enumerate() {
            let mut betas = by_gain(&self.of_all, m, *stride);
            betas.extend(by_gain(&self.of_others[part % self.of_others.len()], m, *stride));
            for from in range.clone().step_by(BLOCK) {
                let n = BLOCK.min(range.end - from);
                let kept = kept.get(from * stride..(from + n) * stride).filter(|_| *copies == 1);
                let rows = kept.unwrap_or_else(|| {
                    terms.fill(columns, from, n, *stride, &mut block);
                    &block[..n * stride]
                });
                fit_all(rows, &betas, *stride, &mut fitted);
                for (run, fitted) in (from..from + n).zip(fitted.chunks_exact(2 * m)) {
                    let (of_all, of_others) = fitted.split_at(m);
                    worth.add(run, gains, of_all.iter().copied(), of_others.iter().copied());
                }
            }
        }
    }
}

/// Coefficients of each gain in turn, with zeros up to the length of a row.
fn by_gain(betas: &[f64], m: usize, stride: usize) -> Vec<f64> {
    let mut out = vec![0.0; m * stride];
    for (j, of_term) in betas.chunks_exact(m).enumerate() {
        of_term.iter().enumerate().for_each(|(k, beta)| out[k * stride + j] = *beta);
    }
    out
}

/// Fitted values of each row, for each list of coefficients in turn.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn fit_all(rows: &[f64], betas: &[f64], stride: usize, fitted: &mut Vec<f64>) {
    fitted.clear();
    for row in rows.chunks_exact(stride) {
        for betas in betas.chunks_exact(stride) {
            fitted.push(dot(row, betas));
        }
    }
}

/// Sum of products in four lanes.
#[inline(always)]
fn dot(row: &[f64], betas: &[f64]) -> f64 {
    let mut lanes = [0.0; 4];
    let (row, betas) = (row.as_chunks::<4>().0, betas.as_chunks::<4>().0);
    for (k, x) in row.iter().enumerate() {
        let Some(b) = betas.get(k) else { break };
        for lane in 0..4 {
            lanes[lane] += x[lane] * b[lane];
        }
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::choosing::Course;

    fn gains_of(gain: &[f64]) -> Gains {
        let none = vec![0.0; gain.len()];
        let course = |net_benefit| Course {
            name: String::new(),
            label: String::new(),
            unit: String::new(),
            net_benefit,
        };
        Gains::of(&[course(&none), course(gain)], None).unwrap()
    }

    /// L L' is the matrix; what an earlier term holds already is dropped.
    #[test]
    fn factors_multiply_back() {
        // Terms 1, x, 2 + 3x, x^2 at x = 0, 1, 2, 3, and the gain 5 - x.
        let rows: Vec<[f64; 8]> =
            (0..4).map(f64::from).map(|x| [1.0, x, 2.0 + 3.0 * x, x * x, 5.0 - x, 0.0, 0.0, 0.0]).collect();
        let mut gram = vec![0.0; 64];
        add_products(&rows.concat(), 8, &mut gram);
        assert_eq!(gram[8 + 3], 36.0, "sum of x^3");
        let (l, dropped) = factors(&gram, 8, 4, 1);
        assert_eq!(dropped, [false, false, true, false]);
        for i in [0, 1, 3, 4] {
            for k in [0, 1, 3] {
                let product: f64 = (0..4).map(|j| l[i * 4 + j] * l[k * 4 + j]).sum();
                assert!((product - gram[k.min(i) * 8 + k.max(i)]).abs() < 1e-9);
            }
        }
    }

    /// The widest vectors give the bits of plain loops: each sum goes row after row, never fused.
    #[test]
    fn vectors_change_no_bit() {
        let stride = 12;
        let rows: Vec<f64> = (0..stride * 50).map(|k| libm::sin(k as f64 * 1.7) * 1e3).collect();
        let mut gram = vec![0.0; stride * stride];
        add_products(&rows, stride, &mut gram);
        let mut fitted = Vec::new();
        fit_all(&rows, &rows[..2 * stride], stride, &mut fitted);
        for i in 0..stride {
            for j in i..stride {
                let plain = rows.chunks_exact(stride).fold(0.0, |sum, row| sum + row[i] * row[j]);
                assert_eq!(gram[i * stride + j].to_bits(), plain.to_bits());
            }
        }
        for (k, fitted) in fitted.iter().enumerate() {
            let (row, betas) = (&rows[k / 2 * stride..], &rows[k % 2 * stride..]);
            let lane = |l: usize| (l..stride).step_by(4).fold(0.0, |sum, j| sum + row[j] * betas[j]);
            assert_eq!(fitted.to_bits(), ((lane(0) + lane(1)) + (lane(2) + lane(3))).to_bits());
        }
    }

    /// A gain that the terms hold comes back exactly, in every fold; one of pure noise leaves its mean.
    #[test]
    fn gains_come_back() {
        let n = 4000;
        let x: Vec<f64> = (0..n).map(|k| ((k * 1231) % n) as f64 / n as f64).collect();
        let y: Vec<f64> = (0..n).map(|k| ((k * 2347) % n) as f64 / n as f64).collect();
        let gain: Vec<f64> = x.iter().zip(&y).map(|(x, y)| 3.0 - 8.0 * x * y + y).collect();
        let gains = gains_of(&gain);
        let columns = [gains.runs.gather(&x), gains.runs.gather(&y)];
        let terms = Terms::of(&columns, &[false, false], &gains.columns);
        let mut regression = Regression::new(&gains, terms);
        regression.add(&columns);
        let solved = regression.solve();
        assert_eq!(solved.of_others.len(), 8);
        let stride = regression.stride;
        let mut rows = vec![0.0; BLOCK * stride];
        regression.terms.fill(&columns, 0, BLOCK, stride, &mut rows);
        for betas in solved.of_others.iter().chain([&solved.of_all]) {
            let betas = by_gain(betas, 1, stride);
            for (row, gain) in rows.chunks_exact(stride).zip(&gains.columns[0]) {
                assert!((dot(row, &betas) - gain).abs() < 1e-5 * 8.0, "{} {gain}", dot(row, &betas));
            }
        }
    }
}
