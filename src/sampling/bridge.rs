//! Brownian bridge: the first number of a path sets its last year, the next
//! its middle, and so on, so that the best Sobol dimensions go where the
//! variance is (Caflisch, Morokoff, Owen 1997).

/// One year of the bridge, made from two years already there.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Step {
    year: usize,
    /// Year to the left, 0 being the start, where the walk is 0.
    left: usize,
    /// Year to the right; none for the last year.
    right: Option<usize>,
    weight_left: f64,
    weight_right: f64,
    sd: f64,
}

/// The order and weights for a number of years.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Bridge {
    steps: Vec<Step>,
}

impl Bridge {
    /// For shocks in years 1 to `years`.
    pub(crate) fn new(years: usize) -> Bridge {
        let mut steps = Vec::with_capacity(years);
        let mut gaps = std::collections::VecDeque::new();
        if years > 0 {
            let sd = (years as f64).sqrt();
            steps.push(Step { year: years, left: 0, right: None, weight_left: 1.0, weight_right: 0.0, sd });
            gaps.push_back((0, years));
        }
        while let Some((left, right)) = gaps.pop_front() {
            if right - left < 2 {
                continue;
            }
            let year = left + (right - left) / 2;
            let (l, m, r) = (left as f64, year as f64, right as f64);
            let sd = ((m - l) * (r - m) / (r - l)).sqrt();
            let (weight_left, weight_right) = ((r - m) / (r - l), (m - l) / (r - l));
            steps.push(Step { year, left, right: Some(right), weight_left, weight_right, sd });
            gaps.push_back((left, year));
            gaps.push_back((year, right));
        }
        Bridge { steps }
    }

    /// Turns columns of normal scores, in order of dimension, into columns of
    /// independent yearly shocks. Column k of `scores` and of `shocks` (year
    /// k + 1) stands at k * n.
    pub(crate) fn shocks(&self, n: usize, scores: &[f64], walk: &mut [f64], shocks: &mut [f64]) {
        let column = |year: usize| (year - 1) * n..year * n;
        for (k, step) in self.steps.iter().enumerate() {
            let score = &scores[k * n..(k + 1) * n];
            for i in 0..n {
                let left = if step.left == 0 { 0.0 } else { walk[(step.left - 1) * n + i] };
                let right = step.right.map_or(0.0, |r| walk[(r - 1) * n + i]);
                walk[(step.year - 1) * n + i] =
                    step.weight_left * left + step.weight_right * right + step.sd * score[i];
            }
        }
        for year in 1..=self.steps.len() {
            for (i, shock) in shocks[column(year)].iter_mut().enumerate() {
                let before = if year == 1 { 0.0 } else { walk[(year - 2) * n + i] };
                *shock = walk[(year - 1) * n + i] - before;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The map from scores to shocks is orthogonal: its matrix times its transpose is one.
    #[test]
    fn shocks_are_independent_with_variance_one() {
        for years in [1, 2, 3, 19, 20, 99] {
            let mut scores = vec![0.0; years * years];
            for k in 0..years {
                scores[k * years + k] = 1.0;
            }
            let (mut walk, mut shocks) = (scores.clone(), scores.clone());
            Bridge::new(years).shocks(years, &scores, &mut walk, &mut shocks);
            for a in 0..years {
                for b in 0..years {
                    let dot: f64 = (0..years).map(|i| shocks[a * years + i] * shocks[b * years + i]).sum();
                    let expect = if a == b { 1.0 } else { 0.0 };
                    assert!((dot - expect).abs() < 1e-12, "{years} {a} {b}: {dot}");
                }
            }
        }
    }

    #[test]
    fn the_first_score_alone_sets_the_last_year() {
        let bridge = Bridge::new(19);
        assert_eq!(bridge.steps[0].year, 19);
        assert!((bridge.steps[0].sd - 19_f64.sqrt()).abs() < 1e-15);
    }
}
