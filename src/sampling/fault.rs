//! Whether correlations can hold together, and which are at fault if not.

/// How far below zero rounding may push a pivot of a singular matrix.
pub(crate) const TOLERANCE: f64 = 1e-10;

/// Lower factor L with L L' = matrix; none if the matrix is no correlation
/// matrix. A singular one (a correlation of 1) is fine.
pub(crate) fn cholesky(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = matrix.len();
    let mut l = vec![0.0; n * n];
    factor(n, |i, j| matrix[i][j], &mut l).is_ok().then(|| l.chunks(n.max(1)).map(<[f64]>::to_vec).collect())
}

/// Lower factor of an n by n matrix into `l`, row by row; else the row at which it fails.
fn factor(n: usize, at: impl Fn(usize, usize) -> f64, l: &mut [f64]) -> Result<(), usize> {
    for j in 0..n {
        let before: f64 = (0..j).map(|k| l[j * n + k] * l[j * n + k]).sum();
        let pivot = at(j, j) - before;
        if !(pivot >= -TOLERANCE) {
            return Err(j);
        }
        let root = if pivot > TOLERANCE { pivot.sqrt() } else { 0.0 };
        l[j * n + j] = root;
        for i in j + 1..n {
            let rest = at(i, j) - (0..j).map(|k| l[i * n + k] * l[j * n + k]).sum::<f64>();
            if root > 0.0 {
                l[i * n + j] = rest / root;
            } else if rest.abs() > 1e-5 {
                return Err(i);
            }
        }
    }
    Ok(())
}

/// Subsets that are tried for a smaller fault than the one found.
const MOST_TRIED: u64 = 1_500_000;
/// Largest subset that is tried.
const LARGEST_TRIED: usize = 5;

/// Smallest set of rows that cannot stand together. Of many rows it may be a
/// larger set than the smallest, but then each of its rows is needed: without
/// any of them the others can stand.
pub(crate) fn smallest_fault(matrix: &[Vec<f64>]) -> Vec<usize> {
    let n = matrix.len();
    let irreducible = irreducible_fault(matrix);
    let mut left = MOST_TRIED;
    for size in 3..irreducible.len().min(LARGEST_TRIED + 1) {
        let count = subsets(n, size);
        if count > left {
            break;
        }
        left -= count;
        let mut rows: Vec<usize> = (0..size).collect();
        loop {
            if stops(matrix, &rows, &mut [0.0; LARGEST_TRIED * LARGEST_TRIED]).is_some() {
                return rows;
            }
            if !next_subset(&mut rows, n) {
                break;
            }
        }
    }
    irreducible
}

/// Where among `rows` the factor fails, if it does; `room` holds their number squared.
fn stops(matrix: &[Vec<f64>], rows: &[usize], room: &mut [f64]) -> Option<usize> {
    factor(rows.len(), |i, j| matrix[rows[i]][rows[j]], room).err()
}

/// The shortest beginning that fails, less each row without which it still does.
fn irreducible_fault(matrix: &[Vec<f64>]) -> Vec<usize> {
    let n = matrix.len();
    let mut room = vec![0.0; n * n];
    let all: Vec<usize> = (0..n).collect();
    let mut rows = match stops(matrix, &all, &mut room) {
        Some(last) => all[..=last].to_vec(),
        None => return all,
    };
    let mut at = rows.len();
    while at > 0 {
        at -= 1;
        let mut fewer = rows.clone();
        fewer.remove(at);
        if let Some(last) = stops(matrix, &fewer, &mut room) {
            fewer.truncate(last + 1);
            rows = fewer;
            at = at.min(rows.len());
        }
    }
    rows
}

/// How many subsets of `size` there are; as many as can be counted if more.
fn subsets(n: usize, size: usize) -> u64 {
    (0..size as u64).fold(1_u64, |count, k| count.saturating_mul(n as u64 - k) / (k + 1))
}

/// The next subset of 0..n in order; false after the last.
fn next_subset(rows: &mut [usize], n: usize) -> bool {
    let size = rows.len();
    for k in (0..size).rev() {
        if rows[k] < n - (size - k) {
            rows[k] += 1;
            for m in k + 1..size {
                rows[m] = rows[m - 1] + 1;
            }
            return true;
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    fn matrix(n: usize, entry: impl Fn(usize, usize) -> f64) -> Vec<Vec<f64>> {
        (0..n)
            .map(|i| (0..n).map(|j| if i == j { 1.0 } else { entry(i.min(j), i.max(j)) }).collect())
            .collect()
    }

    /// Three of many contradict each other: 1 - 3 r^2 + 2 r^3 with r = -0.6 is below 0, while a block of 0.2 stands.
    #[test]
    fn three_among_many_are_found() {
        for n in [5, 20, 60, 120] {
            let odd = [1, n / 2, n - 1];
            let made = matrix(n, |i, j| if odd.contains(&i) && odd.contains(&j) { -0.6 } else { 0.0 });
            assert_eq!(smallest_fault(&made), odd, "{n}");
        }
    }

    /// All pairs at r < -1/(n-1) cannot be, any fewer rows can: r = -0.0101 stands for 100 rows and not for 101.
    #[test]
    fn a_fault_of_many_is_irreducible() {
        let made = matrix(160, |_, _| -0.0101);
        let rows = smallest_fault(&made);
        assert_eq!(rows.len(), 101);
        let mut room = vec![0.0; 160 * 160];
        assert!(stops(&made, &rows, &mut room).is_some() && stops(&made, &rows[1..], &mut room).is_none());
    }

    #[test]
    fn subsets_are_counted() {
        assert_eq!((subsets(200, 3), subsets(5, 5), subsets(46, 5)), (1_313_400, 1, 1_370_754));
    }
}
