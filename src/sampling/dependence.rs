//! Links between inputs: a Gaussian copula.
//!
//! Rank correlations become correlations of the normal scores (Pearson 1907;
//! Kruskal 1958); the scores of a group of linked inputs are z = L e, with L
//! the Cholesky factor of their matrix and e from each input's own stream.
//! Groups are ordered by name, so the order in the file does not matter.
//! For exact strata with links see `ties`, for contradictions `fault`.

use super::fault::{TOLERANCE, cholesky};

/// A link between two inputs, or between the yearly shocks of two paths.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// One of them.
    pub a: String,
    /// The other.
    pub b: String,
    /// Correlation of their normal scores.
    pub normal: f64,
}

impl Link {
    /// From a rank (Spearman) correlation.
    pub fn from_rank(a: impl Into<String>, b: impl Into<String>, rank: f64) -> Link {
        Link { a: a.into(), b: b.into(), normal: normal_from_rank(rank) }
    }
}

/// How linked inputs are made to go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Linking {
    /// Run by run, by mixing normal scores.
    #[default]
    GaussianCopula,
    /// By rearranging the strata of a Latin hypercube (Iman, Conover 1982).
    ImanConover,
}

/// What is done with links.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LinkRules {
    /// Whether links that contradict each other a little are moved to the nearest ones that do not.
    pub repair: bool,
    /// How linked inputs are made to go together.
    pub linking: Linking,
}

/// Correlation of the normal scores from a rank (Spearman) correlation: 2 sin(pi rank/6).
pub fn normal_from_rank(rank: f64) -> f64 {
    2.0 * libm::sin(core::f64::consts::PI * rank / 6.0)
}

/// Rank (Spearman) correlation from that of the normal scores.
pub fn rank_from_normal(normal: f64) -> f64 {
    6.0 / core::f64::consts::PI * libm::asin(0.5 * normal)
}

/// Correlation of the normal scores from Kendall's: sin(pi tau/2).
pub fn normal_from_kendall(tau: f64) -> f64 {
    libm::sin(0.5 * core::f64::consts::PI * tau)
}

/// Lowest and highest correlation that is left for the pair `i`, `j` when all
/// other pairs of the matrix are as they are; none when those are impossible
/// among themselves.
pub fn possible_range(matrix: &[Vec<f64>], i: usize, j: usize) -> Option<(f64, f64)> {
    let others: Vec<usize> = (0..matrix.len()).filter(|k| *k != i && *k != j).collect();
    let at = |r: usize, c: usize| matrix.get(r).and_then(|row| row.get(c)).copied();
    let mut inner = Vec::with_capacity(others.len());
    for &r in &others {
        inner.push(others.iter().map(|&c| at(r, c)).collect::<Option<Vec<f64>>>()?);
    }
    let l = cholesky(&inner)?;
    let half = |k: usize| -> Option<Vec<f64>> {
        let column: Vec<f64> = others.iter().map(|&o| at(o, k)).collect::<Option<_>>()?;
        Some(solve_lower(&l, &column))
    };
    let (a, b) = (half(i)?, half(j)?);
    let dot = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(p, q)| p * q).sum::<f64>();
    let (left_a, left_b) = (1.0 - dot(&a, &a), 1.0 - dot(&b, &b));
    if left_a < -TOLERANCE || left_b < -TOLERANCE {
        return None;
    }
    let middle = dot(&a, &b);
    let reach = (left_a.max(0.0) * left_b.max(0.0)).sqrt();
    Some(((middle - reach).max(-1.0), (middle + reach).min(1.0)))
}

fn solve_lower(l: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let mut x: Vec<f64> = Vec::with_capacity(b.len());
    for (row, value) in l.iter().zip(b) {
        let done: f64 = row.iter().zip(&x).map(|(p, q)| p * q).sum();
        let pivot = row.get(x.len()).copied().unwrap_or(0.0);
        x.push(if pivot > 0.0 { (value - done) / pivot } else { 0.0 });
    }
    x
}
