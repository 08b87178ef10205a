//! Straight lines between given percentiles: a quantile function in pieces.

use super::law::Law;

/// Rising probabilities from 0 to 1, with a value that does not fall for each.
#[derive(Debug, Clone)]
pub(super) struct Lines {
    /// None where they are k/(n-1): observed values in order.
    p: Option<Vec<f64>>,
    x: Vec<f64>,
}

impl Lines {
    /// Through points whose probabilities start at 0, end at 1 and rise.
    pub(super) fn through(p: Vec<f64>, x: Vec<f64>) -> Lines {
        Lines { p: Some(p), x }
    }

    /// Type 7 of Hyndman and Fan (1996) through sorted values, two or more.
    pub(super) fn observed(sorted: Vec<f64>) -> Lines {
        Lines { p: None, x: sorted }
    }

    fn pieces(&self) -> usize {
        self.x.len() - 1
    }

    fn at_knot(&self, k: usize) -> f64 {
        match &self.p {
            Some(p) => p[k],
            None => k as f64 / self.pieces() as f64,
        }
    }

    /// Piece that holds a probability, and the share of it that lies below.
    fn place(&self, lower: f64, upper: f64) -> (usize, f64) {
        let last = self.pieces() - 1;
        match &self.p {
            None => {
                // From the nearer end, where the probability is exact.
                let n = self.pieces() as f64;
                let h = if lower <= 0.5 { lower * n } else { n - upper * n };
                let k = (h as usize).min(last);
                (k, h - k as f64)
            }
            Some(p) => {
                let k = (p.partition_point(|&q| q <= lower).max(1) - 1).min(last);
                (k, ((lower - p[k]) / (p[k + 1] - p[k])).clamp(0.0, 1.0))
            }
        }
    }

    fn sum_over_pieces(&self, f: impl Fn(f64, f64) -> f64) -> f64 {
        let pieces = self.x.windows(2).enumerate();
        pieces.map(|(k, pair)| (self.at_knot(k + 1) - self.at_knot(k)) * f(pair[0], pair[1])).sum()
    }
}

impl Law for Lines {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        let (k, t) = self.place(lower, upper);
        let (a, b) = (self.x[k], self.x[k + 1]);
        if t <= 0.5 { a + t * (b - a) } else { b - (1.0 - t) * (b - a) }
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        let above = self.x.partition_point(|&v| v <= x);
        if above == 0 {
            return (0.0, 1.0);
        }
        if above == self.x.len() {
            return (1.0, 0.0);
        }
        let k = above - 1;
        let (from, to) = (self.at_knot(k), self.at_knot(k + 1));
        let t = (x - self.x[k]) / (self.x[k + 1] - self.x[k]);
        (from + t * (to - from), (1.0 - to) + (1.0 - t) * (to - from))
    }

    fn mean(&self) -> f64 {
        self.sum_over_pieces(|a, b| 0.5 * a + 0.5 * b)
    }

    fn sd(&self) -> f64 {
        let mean = self.mean();
        let square = |a: f64, b: f64| {
            let (a, b) = (a - mean, b - mean);
            (a * a + a * b + b * b) / 3.0
        };
        self.sum_over_pieces(square).max(0.0).sqrt()
    }

    /// Middle of the densest piece; of values that are equal, those.
    fn mode(&self) -> f64 {
        let width = |k: usize| (self.x[k + 1] - self.x[k]) / (self.at_knot(k + 1) - self.at_knot(k));
        let densest = (0..self.pieces()).min_by(|&a, &b| width(a).total_cmp(&width(b))).unwrap_or(0);
        0.5 * self.x[densest] + 0.5 * self.x[densest + 1]
    }

    fn support(&self) -> (f64, f64) {
        (self.x[0], self.x[self.x.len() - 1])
    }

    fn has_jumps(&self) -> bool {
        self.x.windows(2).any(|pair| pair[0] == pair[1])
    }

    fn kinks(&self) -> Vec<f64> {
        // Of very many observed values the steps are too small to matter.
        if self.pieces() > MOST_KINKS {
            Vec::new()
        } else {
            (1..self.pieces()).map(|k| self.at_knot(k)).collect()
        }
    }
}

const MOST_KINKS: usize = 4096;
