//! Links that contradict each other a little, moved to the nearest ones that do not.

use super::dependence::rank_from_normal;
use super::groups::Contradiction;
use super::nearest::nearest_correlation;
use super::plan::PlanError;

/// Change of a rank correlation from which the reader is warned.
pub const CAUTION_FROM: f64 = 0.05;
/// Largest change of a rank correlation that is made.
pub const MOST_CHANGE: f64 = 0.2;

/// A repair: what was given and what is used instead. Rank correlations, but
/// for distance and eigenvalue, which are those of the normal scores' matrix,
/// in which the nearest one is sought.
#[derive(Debug, Clone, PartialEq)]
pub struct Repair {
    /// The linked names, in the order of rows.
    pub names: Vec<String>,
    /// Matrix given, what is not given as 0.
    pub given: Vec<Vec<f64>>,
    /// Matrix used.
    pub used: Vec<Vec<f64>>,
    /// Row and column of the largest change.
    pub at: (usize, usize),
    /// The largest change, absolute.
    pub largest_change: f64,
    /// Frobenius norm of the change.
    pub distance: f64,
    /// Smallest eigenvalue before.
    pub smallest_eigenvalue: f64,
}

/// The nearest matrix of normal scores to one that is none, and what that means in ranks.
pub(crate) fn repaired(
    names: &[String],
    matrix: &[Vec<f64>],
    told: &Contradiction,
) -> Result<(Vec<Vec<f64>>, Repair), PlanError> {
    let refuse = |why: String| {
        let PlanError { names, message, hint } = told.error();
        PlanError { names, message: format!("{message}, {why}"), hint }
    };
    let Some(nearest) = nearest_correlation(matrix) else {
        return Err(refuse(format!("and with {} linked names they cannot be repaired in time", names.len())));
    };
    let in_ranks = |m: &[Vec<f64>]| -> Vec<Vec<f64>> {
        let entry = |(i, (j, x)): (usize, (usize, &f64))| if i == j { 1.0 } else { rank_from_normal(*x) };
        m.iter().enumerate().map(|(i, row)| row.iter().enumerate().map(|x| entry((i, x))).collect()).collect()
    };
    let (given, used) = (in_ranks(matrix), in_ranks(&nearest.matrix));
    let (mut at, mut largest) = ((0, 0), 0.0);
    for i in 0..names.len() {
        for j in i + 1..names.len() {
            let change = (used[i][j] - given[i][j]).abs();
            if change > largest {
                (at, largest) = ((i, j), change);
            }
        }
    }
    if !(largest <= MOST_CHANGE) {
        return Err(refuse(format!(
            "too much to be repaired: that of {} and {} would go from {:.2} to {:.2}, and at most {MOST_CHANGE} is changed",
            names[at.0], names[at.1], given[at.0][at.1], used[at.0][at.1]
        )));
    }
    let repair = Repair {
        names: names.to_vec(),
        given,
        used,
        at,
        largest_change: largest,
        distance: nearest.distance,
        smallest_eigenvalue: nearest.smallest_eigenvalue_before,
    };
    Ok((nearest.matrix, repair))
}
