//! Narrows a bracket around a change of sign (Oliveira and Takahashi, 2020).

use crate::analysis::break_even::is_good;

/// Convergence, as a share of the range.
const PRECISION: f64 = 1e-10;

/// A bracketed root: interpolate, truncate, project (Oliveira and Takahashi 2020: k1 = 0.2 / (b - a), k2 = 2, n0 = 1).
#[derive(Debug, Clone)]
pub(super) struct Itp {
    /// Lower end and the gap there.
    low: (f64, f64),
    high: (f64, f64),
    precision: f64,
    k1: f64,
    steps_left: i32,
}

impl Itp {
    /// A bracket whose ends lie on both sides; `range` is the whole range that is looked at.
    pub(super) fn new(low: (f64, f64), high: (f64, f64), range: f64) -> Itp {
        let precision = PRECISION * range.abs();
        let halvings = libm::ceil(libm::log2((high.0 - low.0).abs() / (2.0 * precision))).max(0.0);
        Itp { low, high, precision, k1: 0.2 / (high.0 - low.0), steps_left: halvings as i32 + 1 }
    }

    /// Whether it can be narrowed further.
    pub(super) fn is_open(&self) -> bool {
        self.high.0 - self.low.0 > 2.0 * self.precision && self.steps_left > 0
    }

    /// The crossing, to half of what is left of the bracket.
    pub(super) fn middle(&self) -> f64 {
        if self.low.1 == 0.0 { self.low.0 } else { 0.5 * (self.low.0 + self.high.0) }
    }

    /// Where to look next.
    pub(super) fn next(&self) -> f64 {
        let ((a, fa), (b, fb)) = (self.low, self.high);
        let half = 0.5 * (a + b);
        let secant = (b * fa - a * fb) / (fa - fb);
        if !(a < secant && secant < b) {
            return half;
        }
        let toward = if half >= secant { 1.0 } else { -1.0 };
        let step = (self.k1 * (b - a) * (b - a)).min((half - secant).abs());
        let truncated = secant + toward * step;
        let slack = self.precision * libm::exp2(f64::from(self.steps_left)) - 0.5 * (b - a);
        if (truncated - half).abs() <= slack { truncated } else { half - toward * slack.max(0.0) }
    }

    /// Takes the gap at a lever within the bracket.
    pub(super) fn take(&mut self, x: f64, f: f64) {
        self.steps_left -= 1;
        if is_good(f) == is_good(self.low.1) {
            self.low = (x, f);
        } else {
            self.high = (x, f);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn itp_meets_known_roots() {
        type Case<'a> = (&'a dyn Fn(f64) -> f64, f64, f64, f64);
        let cases: [Case<'_>; 4] = [
            (&|x| x * x - 2.0, 0.0, 2.0, std::f64::consts::SQRT_2),
            (&|x| x * x * x, -1.0, 1.5, 0.0),
            (&|x| if x < 0.3 { -1.0 } else { 5.0 }, 0.0, 1.0, 0.3),
            (&|x| 1.0 - libm::exp(x), -3.0, 7.0, 0.0),
        ];
        for (f, a, b, root) in cases {
            let mut itp = Itp::new((a, f(a)), (b, f(b)), b - a);
            let mut steps = 0;
            while itp.is_open() {
                let x = itp.next();
                itp.take(x, f(x));
                steps += 1;
            }
            assert!((itp.middle() - root).abs() <= 2.0 * PRECISION * (b - a), "{} for {root}", itp.middle());
            assert!(steps <= 37, "{steps}");
        }
    }
}
