//! Rank correlation of columns of runs.

use super::intervals::normal_z;

/// Ranks from 1, ties sharing the average of theirs; never (+infinity) ranks
/// above every number. The columns must hold no NaN.
pub fn average_ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<(f64, u32)> = values.iter().copied().zip(0..).collect();
    // -0 and 0 are equal as values but not to total_cmp.
    for (x, _) in &mut order {
        *x += 0.0;
    }
    order.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut ranks = vec![0.0; values.len()];
    let mut before = 0;
    for ties in order.chunk_by(|a, b| a.0 == b.0) {
        let rank = before as f64 + (ties.len() + 1) as f64 / 2.0;
        for &(_, i) in ties {
            if let Some(r) = ranks.get_mut(i as usize) {
                *r = rank;
            }
        }
        before += ties.len();
    }
    ranks
}

/// Spearman's rank correlation with average ranks. Runs where either column
/// is NaN are left out. None below two runs or when a column is constant.
pub fn spearman(a: &[f64], b: &[f64]) -> Option<f64> {
    let (a, b): (Vec<f64>, Vec<f64>) =
        a.iter().zip(b).filter(|(x, y)| !x.is_nan() && !y.is_nan()).map(|(&x, &y)| (x, y)).unzip();
    let (a, b) = (average_ranks(&a), average_ranks(&b));
    let middle = (a.len() + 1) as f64 / 2.0;
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(&b) {
        let (x, y) = (x - middle, y - middle);
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    (aa > 0.0 && bb > 0.0).then(|| ab / (aa * bb).sqrt())
}

/// Interval of a rank correlation over `n` independent runs: Fisher's z with
/// standard error sqrt((1 + rho^2/2)/(n - 3)) (Bonett, Wright 2000, *Sample
/// size requirements for estimating Pearson, Kendall and Spearman
/// correlations*). None below four runs.
pub fn spearman_interval(rho: f64, n: u64, confidence: f64) -> Option<(f64, f64)> {
    if n < 4 || !(-1.0..=1.0).contains(&rho) {
        return None;
    }
    let half = normal_z(confidence) * ((1.0 + rho * rho / 2.0) / (n as f64 - 3.0)).sqrt();
    let z = libm::atanh(rho);
    Some((libm::tanh(z - half), libm::tanh(z + half)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ties_share_and_never_is_last() {
        let never = f64::INFINITY;
        assert_eq!(average_ranks(&[never, 2.0, -0.0, 2.0, 0.0, never]), [5.5, 3.5, 1.5, 3.5, 1.5, 5.5]);
        assert_eq!(spearman(&[1.0, 2.0, 3.0], &[5.0, 7.0, never]), Some(1.0));
        assert_eq!(spearman(&[1.0, 1.0], &[5.0, 7.0]), None);
        assert_eq!(spearman(&[1.0, f64::NAN, 2.0], &[5.0, 1.0, 4.0]), Some(-1.0));
    }

    #[test]
    fn interval_by_hand() {
        // atanh(0.5) = ln(3)/2; half-width 1.959964 sqrt(1.125/100): tanh(0.549306 -+ 0.207886).
        let (low, high) = spearman_interval(0.5, 103, 0.95).unwrap();
        assert!((low - 0.328_745_0).abs() < 1e-6, "{low}");
        assert!((high - 0.639_419_8).abs() < 1e-6, "{high}");
        assert_eq!(spearman_interval(1.0, 10, 0.95), Some((1.0, 1.0)));
        assert_eq!(spearman_interval(0.5, 3, 0.95), None);
    }
}
