//! What every distribution can tell. A distribution is one file with one `impl`.

use std::fmt::Debug;

use crate::sampling::maths::{self, Vectors};

/// Something the reader should know about a distribution as given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// Stable id, in words joined by hyphens.
    pub id: &'static str,
    /// One sentence without a full stop.
    pub text: String,
}

/// A distribution before any cut.
///
/// Probabilities come as a pair, that below and that above, each accurate
/// where it is small.
pub trait Law: Debug + Send + Sync {
    /// The value with this much probability below and above it.
    fn quantile(&self, lower: f64, upper: f64) -> f64;

    /// The same, for a dear law, with a value near it known (NaN if not).
    fn quantile_near(&self, lower: f64, upper: f64, _near: f64) -> f64 {
        self.quantile(lower, upper)
    }

    /// Probability at or below `x`, and above it.
    fn cdf(&self, x: f64) -> (f64, f64);

    /// Mean.
    fn mean(&self) -> f64;

    /// Standard deviation.
    fn sd(&self) -> f64;

    /// Most likely value.
    fn mode(&self) -> f64;

    /// Lowest and highest value; infinite where there is none.
    fn support(&self) -> (f64, f64);

    /// Whether the quantile is a plain function of the normal score.
    fn by_score(&self) -> bool {
        false
    }

    /// Quantile from the normal score.
    fn at_score(&self, z: f64) -> f64 {
        self.quantile(maths::normal_cdf(z), maths::normal_cdf(-z))
    }

    /// Whether its quantile is too dear for draws, so that a table is made.
    fn costly(&self) -> bool {
        false
    }

    /// Whether [`Law::density`] tells anything; if not, a table goes through values alone.
    fn has_density(&self) -> bool {
        true
    }

    /// Density and the slope of its logarithm, for those that are tabulated.
    fn density(&self, _x: f64) -> (f64, f64) {
        (f64::NAN, f64::NAN)
    }

    /// Probabilities at which the quantile has a kink.
    fn kinks(&self) -> Vec<f64> {
        Vec::new()
    }

    /// Whether single values have a probability of their own, though it is not discrete.
    fn has_jumps(&self) -> bool {
        false
    }

    /// Values and weights, of a discrete one.
    fn points(&self) -> Option<(&[f64], &[f64])> {
        None
    }

    /// Whether its values have an order that means something.
    fn ordered(&self) -> bool {
        true
    }

    /// Replaces uniforms by values; the same bits as `quantile(u, 1 - u)`.
    fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        if self.by_score() {
            vectors.normal_quantile(u);
            self.fill_from_score(vectors, u);
            return;
        }
        for v in u {
            *v = self.quantile(*v, 1.0 - *v);
        }
    }

    /// Replaces normal scores by values; the same bits as `at_score(z)`.
    fn fill_from_score(&self, _vectors: Vectors, z: &mut [f64]) {
        for v in z {
            *v = self.at_score(*v);
        }
    }

    /// What the reader should know.
    fn cautions(&self) -> Vec<Caution> {
        Vec::new()
    }
}

/// -ln(1 - p) of the probability below and that above, accurate for both.
#[inline(always)]
pub(crate) fn minus_ln_upper(lower: f64, upper: f64) -> f64 {
    let below_half = lower <= 0.5;
    let w = if below_half { 1.0 - lower } else { upper };
    // What the rounding of 1 - p lost.
    let lost = if below_half { lower - (1.0 - w) } else { 0.0 };
    lost / w - maths::ln(w)
}

/// Root of a rising or falling function between two ends of unlike sign, to the last bits.
pub(crate) fn bisect(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let rising = f(low) < 0.0;
    for _ in 0..2_000 {
        let middle = low + (high - low) * 0.5;
        if !(middle > low && middle < high) {
            break;
        }
        if (f(middle) < 0.0) == rising {
            low = middle;
        } else {
            high = middle;
        }
    }
    low + (high - low) * 0.5
}
