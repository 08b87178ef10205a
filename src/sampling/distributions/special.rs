//! Incomplete beta function and its inverse, from libm and plain arithmetic
//! alone, so that their bits are the same everywhere.

use crate::sampling::maths;

/// Logarithm of the beta function.
pub(crate) fn ln_beta(a: f64, b: f64) -> f64 {
    libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b)
}

/// The beta distribution on (0, 1), with its constant kept.
#[derive(Debug, Clone, Copy)]
pub(crate) struct UnitBeta {
    pub(crate) a: f64,
    pub(crate) b: f64,
    ln_beta: f64,
}

/// Nearer to an end than this the distance from the other end has no digits left to tell it: it is sought by itself.
const LOST: f64 = 1e-6;

impl UnitBeta {
    pub(crate) fn new(a: f64, b: f64) -> UnitBeta {
        UnitBeta { a, b, ln_beta: ln_beta(a, b) }
    }

    fn mirrored(self) -> UnitBeta {
        UnitBeta { a: self.b, b: self.a, ln_beta: self.ln_beta }
    }

    /// Logarithm of the density at y, with 1 - y given apart.
    pub(crate) fn ln_density(self, y: f64, rest: f64) -> f64 {
        (self.a - 1.0) * maths::ln(y) + (self.b - 1.0) * maths::ln(rest) - self.ln_beta
    }

    /// Probability below and above y, with 1 - y given apart.
    pub(crate) fn cdf(self, y: f64, rest: f64) -> (f64, f64) {
        if !(y > 0.0) {
            return (0.0, 1.0);
        }
        if !(rest > 0.0) {
            return (1.0, 0.0);
        }
        let front = maths::exp(self.a * maths::ln(y) + self.b * maths::ln(rest) - self.ln_beta);
        if y <= (self.a + 1.0) / (self.a + self.b + 2.0) {
            let lower = (front / self.a * fraction(self.a, self.b, y)).min(1.0);
            (lower, 1.0 - lower)
        } else {
            let upper = (front / self.b * fraction(self.b, self.a, rest)).min(1.0);
            (1.0 - upper, upper)
        }
    }

    /// The y with this much probability below and above, and 1 - y; `guess` is
    /// the logarithm of the smaller-tail side's coordinate, if one is known.
    pub(crate) fn quantile(self, lower: f64, upper: f64, guess: Option<f64>) -> (f64, f64) {
        if lower <= upper {
            let y = self.tail_quantile(lower, guess);
            if 1.0 - y >= LOST { (y, 1.0 - y) } else { (y, self.mirrored().tail_quantile(upper, None)) }
        } else {
            let rest = self.mirrored().tail_quantile(upper, guess);
            if 1.0 - rest >= LOST { (1.0 - rest, rest) } else { (self.tail_quantile(lower, None), rest) }
        }
    }

    /// y with `p` below it, by Newton on ln p against ln y, in which the
    /// function is nearly straight in the tail; a bracket keeps it safe.
    fn tail_quantile(self, p: f64, guess: Option<f64>) -> f64 {
        if !(p > 0.0) {
            return 0.0;
        }
        let ln_p = maths::ln(p);
        let leading = (ln_p + maths::ln(self.a) + self.ln_beta) / self.a;
        let mut s = guess.unwrap_or(leading).min(-1e-12);
        let (mut low, mut high) = (f64::NEG_INFINITY, 0.0);
        for _ in 0..200 {
            let y = maths::exp(s);
            if !(y > 1e-300) {
                // Below all that a double can add to an end of the range: the leading term is exact.
                return maths::exp(leading);
            }
            let rest = -libm::expm1(s);
            let (below, _) = self.cdf(y, rest);
            let gap = maths::ln(below) - ln_p;
            if gap > 0.0 {
                high = s;
            } else {
                low = s;
            }
            let slope = maths::exp(s + self.ln_density(y, rest)) / below;
            let mut next = s - gap / slope;
            if !(next > low && next < high) {
                next = if low.is_finite() { 0.5 * (low + high) } else { s - 2.0 };
            }
            let step = (next - s).abs();
            s = next;
            if step <= 2e-15 * (1.0 + s.abs()) || !(high - low > 1e-16) {
                break;
            }
        }
        maths::exp(s)
    }
}

/// Continued fraction of the incomplete beta function (modified Lentz; Press
/// et al. 2007, *Numerical Recipes*, 6.4; the fraction itself: DLMF 8.17.22).
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let guard = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / guard(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    // The number of steps needed grows as the square root of the larger shape.
    for m in 1..20_000_u32 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / guard(1.0 + even * d);
        c = guard(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / guard(1.0 + odd * d);
        c = guard(1.0 + odd / c);
        let change = d * c;
        h *= change;
        if (change - 1.0).abs() < 1e-16 {
            break;
        }
    }
    h
}

/// The gamma distribution with scale one, with its constant kept.
#[derive(Debug, Clone, Copy)]
pub(crate) struct UnitGamma {
    pub(crate) shape: f64,
    ln_gamma: f64,
}

impl UnitGamma {
    pub(crate) fn new(shape: f64) -> UnitGamma {
        UnitGamma { shape, ln_gamma: libm::lgamma(shape) }
    }

    /// Logarithm of the density at x.
    pub(crate) fn ln_density(self, x: f64) -> f64 {
        (self.shape - 1.0) * maths::ln(x) - x - self.ln_gamma
    }

    /// Probability below and above x: series below the shape, continued
    /// fraction above (Press et al. 2007, *Numerical Recipes*, 6.2).
    pub(crate) fn cdf(self, x: f64) -> (f64, f64) {
        if !(x > 0.0) {
            return (0.0, 1.0);
        }
        if x == f64::INFINITY {
            return (1.0, 0.0);
        }
        let a = self.shape;
        let front = maths::exp(a * maths::ln(x) - x - self.ln_gamma);
        if x < a + 1.0 {
            let lower = (front * gamma_series(a, x)).min(1.0);
            (lower, 1.0 - lower)
        } else {
            let upper = (front * gamma_fraction(a, x)).min(1.0);
            (1.0 - upper, upper)
        }
    }

    /// The x with this much probability below and above; `guess` is its
    /// logarithm, if known. Newton on the logarithm of the smaller tail against
    /// ln x, kept safe by a bracket.
    pub(crate) fn quantile(self, lower: f64, upper: f64, guess: Option<f64>) -> f64 {
        if !(lower > 0.0) {
            return 0.0;
        }
        if !(upper > 0.0) {
            return f64::INFINITY;
        }
        let low_tail = lower <= upper;
        let ln_p = maths::ln(if low_tail { lower } else { upper });
        let leading = (maths::ln(lower) + self.ln_gamma + maths::ln(self.shape)) / self.shape;
        let start =
            if low_tail { leading.min(maths::ln(self.shape + 1.0)) } else { maths::ln(self.shape + 1.0) };
        let mut s = guess.unwrap_or(start);
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        for _ in 0..300 {
            let x = maths::exp(s);
            if !(x > 1e-300) {
                return maths::exp(leading);
            }
            let (below, above) = self.cdf(x);
            let tail = if low_tail { below } else { above };
            let gap = maths::ln(tail) - ln_p;
            let slope = maths::exp(s + self.ln_density(x)) / tail;
            let (gap, slope) = if low_tail { (gap, slope) } else { (-gap, slope) };
            if gap > 0.0 {
                high = s;
            } else {
                low = s;
            }
            let mut next = s - gap / slope;
            if !(next > low && next < high) {
                next = match (low.is_finite(), high.is_finite()) {
                    (true, true) => 0.5 * (low + high),
                    (true, false) => s + 1.0,
                    _ => s - 1.0,
                };
            }
            let step = (next - s).abs();
            s = next;
            if step <= 2e-15 * (1.0 + s.abs()) || !(high - low > 1e-16) {
                break;
            }
        }
        maths::exp(s)
    }
}

fn gamma_series(a: f64, x: f64) -> f64 {
    let mut term = 1.0 / a;
    let mut sum = term;
    for k in 1..200_000_u32 {
        term *= x / (a + f64::from(k));
        sum += term;
        if term < sum * 1e-17 {
            break;
        }
    }
    sum
}

fn gamma_fraction(a: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let guard = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / guard(b);
    let mut h = d;
    for i in 1..200_000_u32 {
        let i = f64::from(i);
        let an = -i * (i - a);
        b += 2.0;
        d = 1.0 / guard(an * d + b);
        c = guard(b + an / c);
        let change = d * c;
        h *= change;
        if (change - 1.0).abs() < 1e-16 {
            break;
        }
    }
    h
}
