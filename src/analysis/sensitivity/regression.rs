//! Least squares on standardised columns, of values (SRC) and of ranks (SRRC),
//! and partial rank correlations (PRCC): Iman, Helton 1988, *An investigation
//! of uncertainty and sensitivity analysis techniques for computer models*.
#![expect(clippy::needless_range_loop, reason = "matrices are read by row and column")]

use super::outcome::Outcome;
use crate::sampling::eigen::Eigen;
use rayon::prelude::*;

/// Runs whose columns are standardised and multiplied at a time: they stay in the nearest cache.
const CHUNK: usize = 512;
/// A factor of whose variance less than this share is left by those before it adds nothing but rounding.
const COLLINEAR: f64 = 1e-10;

/// A column as it enters the regression: less its middle, times its scale, so that its squares add up to 1.
pub struct Column<'a> {
    data: Data<'a>,
    middle: f64,
    scale: f64,
}

enum Data<'a> {
    Values(&'a [f64]),
    Doubled(&'a [u32]),
}

impl<'a> Column<'a> {
    /// Of values; none when they are constant or not all finite.
    pub fn of_values(values: &'a [f64]) -> Option<Column<'a>> {
        let first = values.first().copied()?;
        let n = values.len() as f64;
        let middle = first + values.iter().map(|x| x - first).sum::<f64>() / n;
        let most = values.iter().map(|x| (x - middle).abs()).fold(0.0, f64::max);
        let squares: f64 = values.iter().map(|x| (x - middle) / most).map(|x| x * x).sum();
        let scale = 1.0 / (most * squares.sqrt());
        // A constant column may differ from its own mean by a rounding.
        let varies = most > 1e-14 * middle.abs() && scale.is_finite() && squares > 0.0;
        varies.then_some(Column { data: Data::Values(values), middle, scale })
    }

    /// Of twice the average ranks; none when they are constant.
    pub fn of_doubled_ranks(ranks: &'a [u32]) -> Option<Column<'a>> {
        let middle = ranks.len() as f64 + 1.0;
        let squares: f64 = ranks.iter().map(|&r| f64::from(r) - middle).map(|r| r * r).sum();
        let scale = 1.0 / squares.sqrt();
        (squares > 0.0).then_some(Column { data: Data::Doubled(ranks), middle, scale })
    }

    fn fill(&self, from: usize, to: usize, out: &mut [f64]) {
        let standard = |x: f64| (x - self.middle) * self.scale;
        match self.data {
            Data::Values(v) => out.iter_mut().zip(&v[from..to]).for_each(|(o, &x)| *o = standard(x)),
            Data::Doubled(r) => {
                out.iter_mut().zip(&r[from..to]).for_each(|(o, &x)| *o = standard(f64::from(x)));
            }
        }
    }
}

/// Correlations of `columns` over `n` runs, a full symmetric matrix. Summed
/// chunk by chunk in the order of the runs.
pub fn correlations(columns: &[Column<'_>], n: usize) -> Vec<Vec<f64>> {
    let p = columns.len();
    let starts: Vec<usize> = (0..n).step_by(CHUNK).collect();
    let parts: Vec<Vec<f64>> = starts.par_iter().map(|&from| products(columns, from, n)).collect();
    let mut sums = vec![0.0; p * (p + 1) / 2];
    for part in parts {
        sums.iter_mut().zip(part).for_each(|(sum, x)| *sum += x);
    }
    let mut matrix = vec![vec![1.0; p]; p];
    for i in 0..p {
        for j in 0..i {
            let r = sums[i * (i + 1) / 2 + j].clamp(-1.0, 1.0);
            (matrix[i][j], matrix[j][i]) = (r, r);
        }
    }
    matrix
}

/// Products of every two columns over the chunk that starts at `from`: the lower triangle, row by row.
fn products(columns: &[Column<'_>], from: usize, n: usize) -> Vec<f64> {
    let length = CHUNK.min(n - from);
    let mut standard = vec![0.0; columns.len() * CHUNK];
    let mut rows = standard.chunks_exact_mut(CHUNK);
    columns
        .iter()
        .zip(&mut rows)
        .for_each(|(column, row)| column.fill(from, from + length, &mut row[..length]));
    // The rest of a short last chunk stays 0 and adds nothing.
    let rows: Vec<&[f64]> = standard.chunks_exact(CHUNK).collect();
    let mut out = Vec::with_capacity(rows.len() * (rows.len() + 1) / 2);
    for (i, row) in rows.iter().enumerate() {
        for four in rows[..i].chunks(4) {
            match *four {
                [a, b, c, d] => out.extend(dots(row, [a, b, c, d])),
                _ => four.iter().for_each(|other| out.extend(dots(row, [*other]))),
            }
        }
        // The diagonal is 1 and not looked at.
        out.push(0.0);
    }
    out
}

/// Products of one row with several, so that it is loaded once. Each in four
/// sums, which the compiler can hold in vectors; their order is fixed.
fn dots<const N: usize>(row: &[f64], others: [&[f64]; N]) -> [f64; N] {
    let mut sums = [[0.0; 4]; N];
    let others = others.map(|other| other.as_chunks::<4>().0);
    for (at, a) in row.as_chunks::<4>().0.iter().enumerate() {
        for (sums, other) in sums.iter_mut().zip(&others) {
            let Some(b) = other.get(at) else { break };
            for k in 0..4 {
                sums[k] += a[k] * b[k];
            }
        }
    }
    sums.map(|s| (s[0] + s[1]) + (s[2] + s[3]))
}

/// A least-squares fit of the last column on the others.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Standardised coefficients; none for a column left out as collinear.
    pub coefficients: Vec<Option<f64>>,
    /// Partial correlations with the last column, the other columns held fixed.
    pub partial: Vec<Option<f64>>,
    /// Share of the last column's variance that the fit explains.
    pub r_squared: f64,
    /// Largest over smallest eigenvalue of the correlations among the columns kept; 1 if uncorrelated.
    pub condition_number: f64,
}

/// Fits from a correlation matrix by Cholesky's factors, column by column: one
/// that those before it determine is left out. None without columns, and with
/// no more runs than coefficients.
pub fn fit(correlations: &[Vec<f64>], n: usize) -> Option<Fit> {
    let p = correlations.len().checked_sub(1)?;
    if p == 0 || n <= p + 1 {
        return None;
    }
    let (kept, lower) = factorise(&correlations[..p]);
    let y: Vec<f64> = kept.iter().map(|&i| correlations[i][p]).collect();
    let b = back(&lower, &forward(&lower, &y));
    let r_squared = b.iter().zip(&y).map(|(b, y)| b * y).sum::<f64>().clamp(0.0, 1.0);
    let mut found =
        Fit { coefficients: vec![None; p], partial: vec![None; p], r_squared, condition_number: 1.0 };
    // What is left of y is never known to be less than a rounding.
    let left = (1.0 - r_squared).max(f64::EPSILON * p as f64);
    for (k, &i) in kept.iter().enumerate() {
        // -P_iy / sqrt(P_ii P_yy), P the inverse of the whole matrix, equals
        // b / sqrt(b^2 + (1 - R^2) C_ii), C the inverse of the columns' own, which
        // exists also for a perfect fit.
        let unit: Vec<f64> = (0..kept.len()).map(|j| f64::from(u8::from(j == k))).collect();
        let inverse: f64 = forward(&lower, &unit).iter().map(|x| x * x).sum();
        found.coefficients[i] = Some(b[k]);
        found.partial[i] = Some(b[k] / (b[k] * b[k] + left * inverse).sqrt());
    }
    let among: Vec<Vec<f64>> =
        kept.iter().map(|&i| kept.iter().map(|&j| correlations[i][j]).collect()).collect();
    let eigen = Eigen::of(&among);
    let largest = eigen.values.iter().copied().fold(0.0, f64::max);
    found.condition_number = largest / eigen.smallest().max(COLLINEAR * COLLINEAR);
    Some(found)
}

/// Columns kept, and the rows of L with L L' their correlations.
fn factorise(matrix: &[Vec<f64>]) -> (Vec<usize>, Vec<Vec<f64>>) {
    let (mut kept, mut lower): (Vec<usize>, Vec<Vec<f64>>) = (Vec::new(), Vec::new());
    for i in 0..matrix.len() {
        let r: Vec<f64> = kept.iter().map(|&j| matrix[i][j]).collect();
        let mut row = forward(&lower, &r);
        let left = 1.0 - row.iter().map(|x| x * x).sum::<f64>();
        if left > COLLINEAR {
            row.push(left.sqrt());
            kept.push(i);
            lower.push(row);
        }
    }
    (kept, lower)
}

/// Solves L x = b.
fn forward(lower: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let mut x: Vec<f64> = Vec::with_capacity(b.len());
    for (row, b) in lower.iter().zip(b) {
        let known: f64 = row.iter().zip(&x).map(|(l, x)| l * x).sum();
        x.push((b - known) / row[x.len()]);
    }
    x
}

/// Solves L' x = b.
fn back(lower: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let mut x = b.to_vec();
    for i in (0..x.len()).rev() {
        x[i] /= lower[i][i];
        for j in 0..i {
            x[j] -= lower[i][j] * x[i];
        }
    }
    x
}

/// Fits the result on some of the columns given, none where there is no such column.
pub(super) fn fit_columns(
    of: Vec<Option<Column<'_>>>,
    result: Option<Column<'_>>,
    outcome: &Outcome,
) -> Fitted {
    let p = of.len();
    let mut places = Vec::new();
    let mut columns: Vec<Column<'_>> = Vec::new();
    for (i, column) in of.into_iter().enumerate() {
        if let Some(column) = column {
            places.push(i);
            columns.push(column);
        }
    }
    let mut fitted = Fitted {
        coefficients: vec![None; p],
        partial: vec![None; p],
        with_result: vec![None; p],
        ..Fitted::default()
    };
    let Some(result) = result else { return fitted };
    columns.push(result);
    let matrix = correlations(&columns, outcome.n());
    let last = places.len();
    for (k, &i) in places.iter().enumerate() {
        fitted.with_result[i] = Some(matrix[k][last]);
    }
    let Some(fit) = fit(&matrix, outcome.n()) else { return fitted };
    for (k, &i) in places.iter().enumerate() {
        fitted.coefficients[i] = fit.coefficients[k];
        fitted.partial[i] = fit.partial[k];
        if fit.coefficients[k].is_none() {
            fitted.collinear.push(i);
        }
    }
    fitted.r_squared = Some(fit.r_squared);
    fitted.condition_number = Some(fit.condition_number);
    fitted
}

/// A fit put back in the order of the factors.
#[derive(Default)]
pub(super) struct Fitted {
    pub(super) coefficients: Vec<Option<f64>>,
    pub(super) partial: Vec<Option<f64>>,
    /// Plain correlation with the result.
    pub(super) with_result: Vec<Option<f64>>,
    /// Left out, being determined by those before them.
    pub(super) collinear: Vec<usize>,
    pub(super) r_squared: Option<f64>,
    pub(super) condition_number: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two columns correlated 1/2, the last correlated 0.6 and 0.5 with them: b = (0.35, 0.2)/0.75, R^2 = 0.6 b1 +
    /// 0.5 b2, partial correlations 0.35/0.75 and 0.2/sqrt(0.64 0.75), eigenvalues 3/2 and 1/2.
    #[test]
    fn two_columns_by_hand() {
        let matrix = [vec![1.0, 0.5, 0.6], vec![0.5, 1.0, 0.5], vec![0.6, 0.5, 1.0]];
        let found = fit(&matrix, 100).unwrap();
        let near = |got: Option<f64>, expect: f64| {
            assert!((got.unwrap() - expect).abs() < 1e-14, "{got:?} {expect}");
        };
        near(found.coefficients[0], 0.35 / 0.75);
        near(found.coefficients[1], 0.2 / 0.75);
        near(Some(found.r_squared), 0.31 / 0.75);
        near(found.partial[0], 0.35 / 0.75);
        near(found.partial[1], 0.2 / (0.64f64 * 0.75).sqrt());
        near(Some(found.condition_number), 3.0);
        assert_eq!(fit(&matrix, 3), None, "no more runs than coefficients");
    }

    /// The last is the first; a third is the second turned round, and left out.
    #[test]
    fn perfect_and_collinear() {
        let matrix = [
            vec![1.0, 0.0, 0.0, 1.0],
            vec![0.0, 1.0, -1.0, 0.0],
            vec![0.0, -1.0, 1.0, 0.0],
            vec![1.0, 0.0, 0.0, 1.0],
        ];
        let found = fit(&matrix, 100).unwrap();
        assert_eq!(found.coefficients, [Some(1.0), Some(0.0), None]);
        assert_eq!((found.r_squared, found.condition_number), (1.0, 1.0));
        assert!((found.partial[0].unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(found.partial[1..], [Some(0.0), None]);
    }

    /// Over more than one chunk, more columns than fit in fours, a large common part.
    #[test]
    fn correlations_by_their_definition() {
        let n = CHUNK + 77;
        let columns: Vec<Vec<f64>> = (0..7u64)
            .map(|k| (0..n as u64).map(|i| 1e6 + ((i * (2 * k + 7) + k * i * i) % 101) as f64).collect())
            .collect();
        let found = correlations(&columns.iter().filter_map(|c| Column::of_values(c)).collect::<Vec<_>>(), n);
        for (i, a) in columns.iter().enumerate() {
            for (j, b) in columns.iter().enumerate() {
                let mean = |v: &[f64]| v.iter().map(|x| x - 1e6).sum::<f64>() / n as f64 + 1e6;
                let (ma, mb) = (mean(a), mean(b));
                let sum = |x: &[f64], mx: f64, y: &[f64], my: f64| -> f64 {
                    x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum()
                };
                let expect = sum(a, ma, b, mb) / (sum(a, ma, a, ma) * sum(b, mb, b, mb)).sqrt();
                assert!((found[i][j] - expect).abs() < 1e-12, "{i} {j}: {} {expect}", found[i][j]);
            }
        }
    }
}
