//! Metalog: a smooth quantile function through given percentiles (Keelin
//! 2016, *The Metalog Distributions*).
//!
//! With L = ln(y/(1-y)) and h = y - 1/2 the terms are 1, L, hL, h, h^2, h^2 L,
//! h^3, h^3 L, ... and M(y) = sum a_i term_i(y); bounds through the logarithm
//! of the distance to them.

use super::law::Law;
use crate::sampling::maths::{self, Vectors, kernels};

/// Most terms; more only follow the noise of the percentiles.
pub(super) const MOST_TERMS: usize = 10;

/// Ends between which the values lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Bounds {
    None,
    Below(f64),
    Above(f64),
    Both(f64, f64),
}

impl Bounds {
    /// A value on the scale on which the terms are summed.
    pub(super) fn on_scale(self, x: f64) -> f64 {
        match self {
            Bounds::None => x,
            Bounds::Below(min) => maths::ln(x - min),
            Bounds::Above(max) => -maths::ln(max - x),
            Bounds::Both(min, max) => maths::ln((x - min) / (max - x)),
        }
    }

    #[inline(always)]
    pub(super) fn off_scale(self, m: f64) -> f64 {
        match self {
            Bounds::None => m,
            Bounds::Below(min) => min + maths::exp(m),
            Bounds::Above(max) => max - maths::exp(-m),
            Bounds::Both(min, max) => {
                // From the nearer end.
                let e = maths::exp(if m < 0.0 { m } else { -m });
                let part = (max - min) * (e / (1.0 + e));
                if m < 0.0 { min + part } else { max - part }
            }
        }
    }
}

/// The terms at a probability: power of h, and whether L is a factor.
const TERMS: [(usize, bool); MOST_TERMS] = [
    (0, false),
    (0, true),
    (1, true),
    (1, false),
    (2, false),
    (2, true),
    (3, false),
    (3, true),
    (4, false),
    (4, true),
];

#[inline(always)]
fn logit_and_half(lower: f64, upper: f64) -> (f64, f64) {
    let h = if lower <= 0.5 { lower - 0.5 } else { 0.5 - upper };
    (maths::ln(lower / upper), h)
}

/// The terms' values at a probability, as many as asked.
pub(super) fn terms_at(lower: f64, upper: f64, count: usize) -> Vec<f64> {
    let (logit, h) = logit_and_half(lower, upper);
    TERMS
        .iter()
        .take(count)
        .map(|&(power, with_logit)| whole_power(h, power) * if with_logit { logit } else { 1.0 })
        .collect()
}

fn whole_power(h: f64, power: usize) -> f64 {
    (0..power).fold(1.0, |product, _| product * h)
}

/// Coefficients of the powers of h, without and with L, from those of the terms.
fn polynomials(a: &[f64]) -> ([f64; 5], [f64; 5]) {
    let (mut plain, mut with_logit) = ([0.0; 5], [0.0; 5]);
    for (&a, &(power, logit)) in a.iter().zip(&TERMS) {
        let list = if logit { &mut with_logit } else { &mut plain };
        list[power] += a;
    }
    (plain, with_logit)
}

#[inline(always)]
fn sum((plain, with_logit): (&[f64; 5], &[f64; 5]), lower: f64, upper: f64) -> f64 {
    let (logit, h) = logit_and_half(lower, upper);
    let poly = |c: &[f64; 5]| c[0] + h * (c[1] + h * (c[2] + h * (c[3] + h * c[4])));
    poly(plain) + logit * poly(with_logit)
}

#[inline(always)]
fn fill(c: (&[f64; 5], &[f64; 5]), bounds: Bounds, u: &mut [f64]) {
    for v in u {
        *v = bounds.off_scale(sum(c, *v, 1.0 - *v));
    }
}

kernels! {
    /// Metalog values from uniforms.
    fn metalog_values(c: (&[f64; 5], &[f64; 5]), bounds: Bounds, u: &mut [f64]) = fill;
}

/// y (1-y) dM/dy, which must be above 0 everywhere.
pub(super) fn slope(a: &[f64], lower: f64, upper: f64) -> f64 {
    let (logit, h) = logit_and_half(lower, upper);
    let w = lower * upper;
    let of_term = |&(power, with_logit): &(usize, bool)| {
        let falls = if power == 0 { 0.0 } else { power as f64 * whole_power(h, power - 1) };
        if with_logit { whole_power(h, power) + w * falls * logit } else { w * falls }
    };
    a.iter().zip(&TERMS).map(|(a, term)| a * of_term(term)).sum()
}

/// Slope against the logit at the lower and the upper end, where all but the terms with L are gone.
pub(super) fn end_slopes(a: &[f64]) -> (f64, f64) {
    let (_, c) = polynomials(a);
    let at = |h: f64| c[0] + h * (c[1] + h * (c[2] + h * (c[3] + h * c[4])));
    (at(-0.5), at(0.5))
}

/// A metalog that rises everywhere.
#[derive(Debug, Clone)]
pub(super) struct Metalog {
    plain: [f64; 5],
    with_logit: [f64; 5],
    a: Vec<f64>,
    bounds: Bounds,
}

impl Metalog {
    /// From coefficients that are known to rise everywhere.
    pub(super) fn new(a: Vec<f64>, bounds: Bounds) -> Metalog {
        let (plain, with_logit) = polynomials(&a);
        Metalog { plain, with_logit, a, bounds }
    }

    fn scale_at(&self, lower: f64, upper: f64) -> f64 {
        sum((&self.plain, &self.with_logit), lower, upper)
    }

    /// Whether E|X|^n exists: on a half-open scale the tail falls as a power of the probability.
    fn has_moment(&self, n: f64) -> bool {
        let (low, high) = end_slopes(&self.a);
        match self.bounds {
            Bounds::None | Bounds::Both(..) => true,
            Bounds::Below(_) => n * high < 1.0,
            Bounds::Above(_) => n * low < 1.0,
        }
    }

    /// Mean of f over the values: the trapezoidal rule over the logit, where everything is smooth.
    fn average(&self, f: impl Fn(f64) -> f64) -> f64 {
        let (mut total, mut weight) = (0.0, 0.0);
        for k in -LOGITS..=LOGITS {
            let (lower, upper) = of_logit(f64::from(k) / 8.0);
            let w = lower * upper;
            if w > 0.0 {
                total += w * f(self.bounds.off_scale(self.scale_at(lower, upper)));
                weight += w;
            }
        }
        total / weight
    }
}

/// Eighths of a logit that the averages reach: far beyond what a heavy tail of finite variance needs.
const LOGITS: i32 = 5_000;

/// Probability below and above a logit.
pub(super) fn of_logit(s: f64) -> (f64, f64) {
    let e = maths::exp(if s < 0.0 { s } else { -s });
    let (small, large) = (e / (1.0 + e), 1.0 / (1.0 + e));
    if s < 0.0 { (small, large) } else { (large, small) }
}

impl Law for Metalog {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        if lower <= 0.0 || upper <= 0.0 {
            let (min, max) = self.support();
            return if lower <= 0.0 { min } else { max };
        }
        self.bounds.off_scale(self.scale_at(lower, upper))
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        let (min, max) = self.support();
        if x <= min {
            return (0.0, 1.0);
        }
        if x >= max {
            return (1.0, 0.0);
        }
        let wanted = self.bounds.on_scale(x);
        let at = |s: f64| {
            let (lower, upper) = of_logit(s);
            self.scale_at(lower, upper) - wanted
        };
        let (low, high) = (-700.0, 700.0);
        if at(low) >= 0.0 {
            return of_logit(low);
        }
        if at(high) <= 0.0 {
            return of_logit(high);
        }
        of_logit(super::law::bisect(low, high, at))
    }

    fn mean(&self) -> f64 {
        if !self.has_moment(1.0) {
            return if matches!(self.bounds, Bounds::Above(_)) { f64::NEG_INFINITY } else { f64::INFINITY };
        }
        let centre = self.quantile(0.5, 0.5);
        centre + self.average(|x| x - centre)
    }

    fn sd(&self) -> f64 {
        if !self.has_moment(2.0) {
            return f64::INFINITY;
        }
        let mean = self.mean();
        self.average(|x| (x - mean) * (x - mean)).max(0.0).sqrt()
    }

    /// Where the density is highest: over logits, then a golden section between its neighbours.
    fn mode(&self) -> f64 {
        // dx/dy is least where the density is highest.
        let spread = |s: f64| {
            let h = 1.0 / 64.0;
            let ((l0, u0), (l1, u1)) = (of_logit(s - h), of_logit(s + h));
            let width = if s < 0.0 { l1 - l0 } else { u0 - u1 };
            (self.quantile(l1, u1) - self.quantile(l0, u0)) / width
        };
        let mut best = (f64::INFINITY, 0.0);
        for k in -120..=120 {
            let s = f64::from(k) / 8.0;
            let wide = spread(s);
            if wide < best.0 {
                best = (wide, s);
            }
        }
        let (mut low, mut high) = (best.1 - 0.125, best.1 + 0.125);
        for _ in 0..40 {
            let (a, b) = (low + (high - low) * 0.381_966, low + (high - low) * 0.618_034);
            if spread(a) < spread(b) { high = b } else { low = a }
        }
        let (lower, upper) = of_logit(0.5 * (low + high));
        self.quantile(lower, upper)
    }

    fn support(&self) -> (f64, f64) {
        match self.bounds {
            Bounds::None => (f64::NEG_INFINITY, f64::INFINITY),
            Bounds::Below(min) => (min, f64::INFINITY),
            Bounds::Above(max) => (f64::NEG_INFINITY, max),
            Bounds::Both(min, max) => (min, max),
        }
    }

    fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        vectors.metalog_values((&self.plain, &self.with_logit), self.bounds, u);
    }
}
