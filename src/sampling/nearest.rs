//! The correlation matrix nearest to one that is none.
//!
//! Higham 2002, *Computing the nearest correlation matrix - a problem from
//! finance*: alternating projections onto the matrices without negative
//! eigenvalues and those with a unit diagonal, with Dykstra's correction.

use super::eigen::{Eigen, Matrix};

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Nearest {
    /// The nearest matrix, its eigenvalues lifted to 1e-8 where they were below.
    pub matrix: Vec<Vec<f64>>,
    /// Largest change of an entry.
    pub largest_change: f64,
    /// Frobenius norm of the change.
    pub distance: f64,
    /// Smallest eigenvalue of the matrix given.
    pub smallest_eigenvalue_before: f64,
}

/// Relative change of an iteration at which the search ends.
const STOP: f64 = 1e-12;
/// Smallest eigenvalue of the result: that a Cholesky factor exists for certain.
const LIFT: f64 = 1e-8;
/// Iterations times n^3: bounds the time of a large matrix to about a second.
const MOST_WORK: usize = 100_000_000;
/// Iterations of a small one.
const MOST_ITERATIONS: usize = 20_000;
/// Iterations after which eigenvectors are computed afresh, so that rounding does not gather in them.
const AFRESH: usize = 32;

/// The correlation matrix nearest to `given` in the Frobenius norm; `given`
/// itself if it is one. `given` is symmetric with a unit diagonal. None when
/// it is too large for the search to end in time (from about 60 rows on).
pub fn nearest_correlation(given: &[Vec<f64>]) -> Option<Nearest> {
    let n = given.len();
    let eigen = Eigen::of(given);
    let before = eigen.smallest();
    if before >= 0.0 {
        let matrix = given.to_vec();
        return Some(Nearest {
            matrix,
            largest_change: 0.0,
            distance: 0.0,
            smallest_eigenvalue_before: before,
        });
    }
    let matrix = lifted(&project(given, eigen)?);
    let (mut largest, mut squares) = (0.0_f64, 0.0);
    for i in 0..n {
        for j in 0..n {
            let change = (matrix[i][j] - given[i][j]).abs();
            largest = largest.max(change);
            squares += change * change;
        }
    }
    Some(Nearest {
        matrix,
        largest_change: largest,
        distance: squares.sqrt(),
        smallest_eigenvalue_before: before,
    })
}

/// Alternating projections from `given`, whose eigenvectors are known.
fn project(given: &[Vec<f64>], mut eigen: Eigen) -> Option<Matrix> {
    let n = given.len();
    let most = (MOST_WORK / (n * n * n).max(1)).min(MOST_ITERATIONS);
    let mut y = given.to_vec();
    let mut correction = vec![vec![0.0; n]; n];
    for k in 0..most {
        let mut r = y.clone();
        subtract(&mut r, &correction);
        eigen = if k % AFRESH == 0 { Eigen::of(&r) } else { eigen.nearby(&r) };
        let x = eigen.compose(|value| value.max(0.0));
        correction.clone_from(&x);
        subtract(&mut correction, &r);
        let (mut change, mut size) = (0.0, 0.0);
        for i in 0..n {
            for j in 0..n {
                let new = if i == j { 1.0 } else { x[i][j] };
                change += (new - y[i][j]) * (new - y[i][j]);
                size += new * new;
                y[i][j] = new;
            }
        }
        if change <= STOP * STOP * size {
            return Some(y);
        }
    }
    None
}

fn subtract(from: &mut Matrix, what: &[Vec<f64>]) {
    for (to, row) in from.iter_mut().zip(what) {
        to.iter_mut().zip(row).for_each(|(a, b)| *a -= b);
    }
}

/// With no eigenvalue below [`LIFT`] and a unit diagonal.
fn lifted(matrix: &[Vec<f64>]) -> Matrix {
    let n = matrix.len();
    let mut up = Eigen::of(matrix).compose(|value| value.max(LIFT));
    let roots: Vec<f64> = (0..n).map(|i| up[i][i].sqrt()).collect();
    for i in 0..n {
        for j in 0..n {
            up[i][j] = if i == j { 1.0 } else { (up[i][j] / (roots[i] * roots[j])).clamp(-1.0, 1.0) };
        }
    }
    up
}
