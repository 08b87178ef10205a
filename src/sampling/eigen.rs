//! Eigenvalues and eigenvectors of a symmetric matrix by Jacobi's rotations
//! (Jacobi 1846; Golub, Van Loan, *Matrix computations*, 8.5): slow for large
//! matrices, but simple, exact to rounding, and the same bits everywhere.
#![expect(clippy::needless_range_loop, reason = "matrices are read by row and column")]

/// A square matrix, row by row.
pub(crate) type Matrix = Vec<Vec<f64>>;

/// Eigenvalues, and eigenvectors as rows in the same order (which is none in particular).
#[derive(Debug, Clone)]
pub(crate) struct Eigen {
    pub(crate) values: Vec<f64>,
    pub(crate) vectors: Matrix,
}

/// More sweeps than any matrix needs: convergence is quadratic.
const MOST_SWEEPS: usize = 40;

impl Eigen {
    /// Of a symmetric matrix.
    pub(crate) fn of(matrix: &[Vec<f64>]) -> Eigen {
        let n = matrix.len();
        let unit = (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
        rotate(matrix.to_vec(), unit)
    }

    /// Of a matrix near the one that `self` belongs to: fewer sweeps from its vectors on.
    pub(crate) fn nearby(self, matrix: &[Vec<f64>]) -> Eigen {
        // V A V', by rows: (V A) first, A being symmetric.
        let half: Matrix =
            self.vectors.iter().map(|v| matrix.iter().map(|row| dot(v, row)).collect()).collect();
        let mut turned: Matrix =
            half.iter().map(|h| self.vectors.iter().map(|v| dot(h, v)).collect()).collect();
        for i in 0..turned.len() {
            for j in 0..i {
                turned[i][j] = turned[j][i];
            }
        }
        rotate(turned, self.vectors)
    }

    /// Smallest eigenvalue; 0 of an empty matrix.
    pub(crate) fn smallest(&self) -> f64 {
        self.values.iter().copied().reduce(f64::min).unwrap_or(0.0)
    }

    /// The sum of f(value) v v' over all eigenvectors v.
    pub(crate) fn compose(&self, f: impl Fn(f64) -> f64) -> Matrix {
        let n = self.values.len();
        let mut sum = vec![vec![0.0; n]; n];
        for (value, v) in self.values.iter().zip(&self.vectors) {
            let weight = f(*value);
            if weight == 0.0 {
                continue;
            }
            for (row, a) in sum.iter_mut().zip(v) {
                let scaled = weight * a;
                for (to, b) in row.iter_mut().zip(v) {
                    *to += scaled * b;
                }
            }
        }
        // a b and b a round alike, but scaled once: make it symmetric to the bit.
        for i in 0..n {
            for j in 0..i {
                sum[i][j] = sum[j][i];
            }
        }
        sum
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Sweeps over all pairs until nothing is left beside the diagonal.
fn rotate(mut a: Matrix, mut vectors: Matrix) -> Eigen {
    let n = a.len();
    let size: f64 = a.iter().flatten().map(|x| x * x).sum::<f64>().sqrt();
    // A rotation smaller than this changes no eigenvalue's last bit.
    let small = size * 1e-17;
    for _ in 0..MOST_SWEEPS {
        let mut turned = false;
        for p in 0..n {
            for q in p + 1..n {
                if !(a[p][q].abs() > small) {
                    continue;
                }
                turned = true;
                turn(&mut a, &mut vectors, p, q);
            }
        }
        if !turned {
            break;
        }
    }
    let values = (0..n).map(|i| a[i][i]).collect();
    Eigen { values, vectors }
}

/// The rotation that makes the entry p, q zero.
fn turn(a: &mut Matrix, vectors: &mut Matrix, p: usize, q: usize) {
    let off = a[p][q];
    let (pp, qq) = (a[p][p], a[q][q]);
    let theta = (qq - pp) / (2.0 * off);
    let t = if theta >= 0.0 {
        1.0 / (theta + (theta * theta + 1.0).sqrt())
    } else {
        -1.0 / (-theta + (theta * theta + 1.0).sqrt())
    };
    let c = 1.0 / (t * t + 1.0).sqrt();
    let s = t * c;
    rotate_rows(a, p, q, c, s);
    a[p][p] = pp - t * off;
    a[q][q] = qq + t * off;
    a[p][q] = 0.0;
    a[q][p] = 0.0;
    for k in (0..a.len()).filter(|k| *k != p && *k != q) {
        a[k][p] = a[p][k];
        a[k][q] = a[q][k];
    }
    rotate_rows(vectors, p, q, c, s);
}

fn rotate_rows(m: &mut Matrix, p: usize, q: usize, c: f64, s: f64) {
    let (before, after) = m.split_at_mut(q);
    for (x, y) in before[p].iter_mut().zip(after[0].iter_mut()) {
        (*x, *y) = (c * *x - s * *y, s * *x + c * *y);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sampling::philox::{Key, uniform_at};

    fn some_matrix(n: usize, key: u64) -> Matrix {
        let mut m = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let x = 2.0 * uniform_at(Key(key), 0, (i * n + j) as u64) - 1.0;
                m[i][j] = x;
                m[j][i] = x;
            }
        }
        m
    }

    fn assert_eigen(m: &[Vec<f64>], e: &Eigen) {
        let n = m.len();
        for (i, (value, v)) in e.values.iter().zip(&e.vectors).enumerate() {
            for (row, x) in m.iter().zip(v) {
                assert!((dot(row, v) - value * x).abs() < 1e-13 * n as f64, "A v = lambda v");
            }
            for (j, w) in e.vectors.iter().enumerate() {
                let expect = f64::from(u8::from(i == j));
                assert!((dot(v, w) - expect).abs() < 1e-13, "orthonormal");
            }
        }
    }

    /// The definition, on matrices without structure; trace kept.
    #[test]
    fn vectors_are_eigenvectors() {
        for n in [1, 2, 3, 7, 30] {
            let m = some_matrix(n, 5 + n as u64);
            let e = Eigen::of(&m);
            assert_eigen(&m, &e);
            let mut near = m.clone();
            near[0][n - 1] += 0.01;
            near[n - 1][0] = near[0][n - 1];
            assert_eigen(&near, &e.clone().nearby(&near));
            let back = e.compose(|x| x);
            let gap = m.iter().flatten().zip(back.iter().flatten()).map(|(a, b)| (a - b).abs());
            assert!(gap.fold(0.0, f64::max) < 1e-13 * n as f64);
        }
    }

    /// Tridiagonal 2, -1: 2 - 2 cos(k pi/(n+1)); ones everywhere: n and zeros.
    #[test]
    fn known_eigenvalues() {
        let n = 12;
        let mut m = vec![vec![0.0; n]; n];
        for i in 0..n {
            m[i][i] = 2.0;
            if i > 0 {
                m[i][i - 1] = -1.0;
                m[i - 1][i] = -1.0;
            }
        }
        let mut values = Eigen::of(&m).values;
        values.sort_by(f64::total_cmp);
        for (k, value) in values.iter().enumerate() {
            let expect = 2.0 - 2.0 * libm::cos((k + 1) as f64 * core::f64::consts::PI / (n + 1) as f64);
            assert!((value - expect).abs() < 1e-14, "{k}: {value} {expect}");
        }
        let ones = Eigen::of(&vec![vec![1.0; 5]; 5]);
        assert!(ones.smallest().abs() < 1e-15);
        assert!((ones.values.iter().copied().fold(0.0, f64::max) - 5.0).abs() < 1e-14);
    }
}
