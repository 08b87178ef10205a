//! Some of the runs, in such an order that they keep their replicates.

use crate::analysis::ResultKind;

/// Whether a run's result is a value: never is one for years only.
pub(super) fn has_value(kind: ResultKind, y: f64) -> bool {
    y.is_finite() || (kind == ResultKind::Years && y == f64::INFINITY)
}

/// The results of `runs` as a column in which position p still belongs to replicate p mod `replicates`: run r of
/// replicate k goes to the next free place of that replicate, and places without a run hold NaN.
pub(super) fn gathered(result: &[f64], runs: &[u32], replicates: Option<u32>) -> Vec<f64> {
    let count = replicates.unwrap_or(1).max(1) as usize;
    let mut next = vec![0; count];
    let mut column = Vec::with_capacity(runs.len() + runs.len() / 4);
    for &run in runs {
        let replicate = run as usize % count;
        let place = next[replicate] * count + replicate;
        next[replicate] += 1;
        if place >= column.len() {
            column.resize(place + 1, f64::NAN);
        }
        column[place] = result[run as usize];
    }
    column
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_run_keeps_its_replicate() {
        let result: Vec<f64> = (0..12).map(f64::from).collect();
        let column = gathered(&result, &[9, 0, 4, 6, 3], Some(3));
        let found: Vec<Option<f64>> = column.iter().map(|x| (!x.is_nan()).then_some(*x)).collect();
        let (none, some) = (None, |x: f64| Some(x));
        assert_eq!(
            found,
            [some(9.0), some(4.0), none, some(0.0), none, none, some(6.0), none, none, some(3.0)]
        );
        assert_eq!(gathered(&result, &[9, 0, 4], None), [9.0, 0.0, 4.0]);
    }
}
