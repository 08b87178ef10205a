//! A mixture: one of several distributions holds, each with its weight.

use std::sync::Arc;

use super::Distribution;
use super::catalogue::{DistributionKind, Form};
use super::discrete::Discrete;
use super::law::{Caution, Law};
use super::parameters::{ParameterError, Parameters};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "mixture",
    summary: "one of several distributions holds, each with a weight (any scale)",
    forms: &[Form {
        keys: &["parts"],
        optional: &[],
        words: "a list of distributions, each with its `weight`",
    }],
    percentiles: false,
    example: "mixture = [{ weight = 0.7, normal = { mean = 5, sd = 1 } }, { weight = 0.3, uniform = { min = 8, max = 12 } }]",
    source: "F(x) = sum of w_i F_i(x); its quantile as a root between the least and the largest of the parts'",
    build,
};

/// Most parts.
const MOST_PARTS: usize = 20;

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let parts = p.parts("parts")?;
    let wrong = |message: String, hint: &str| Err(ParameterError::new(&["parts"], message, hint));
    if parts.len() > MOST_PARTS {
        return wrong(format!("the mixture has {} parts", parts.len()), "at most 20 can be mixed");
    }
    if let Some((weight, _)) = parts.iter().find(|(w, _)| !(*w >= 0.0 && *w <= 1e150)) {
        return wrong(format!("a part has the weight {weight}"), "no weight may be below 0");
    }
    if let Some((_, part)) = parts.iter().find(|(_, part)| part.kind() == "mixture" || !part.linkable()) {
        return wrong(
            format!("a part of the mixture is a {}", part.kind()),
            "list all parts in one mixture of numbers",
        );
    }
    let total: f64 = parts.iter().map(|(w, _)| w).sum();
    let kept: Vec<(f64, Distribution)> =
        parts.iter().filter(|(w, _)| *w > 0.0).map(|(w, part)| (w / total, part.clone())).collect();
    if kept.is_empty() {
        return wrong("all weights of the mixture are 0".to_owned(), "at least one weight must be above 0");
    }
    if kept.iter().all(|(_, part)| part.is_discrete()) {
        let points = kept.iter().flat_map(|(w, part)| {
            let (values, shares) = part.points().unwrap_or((&[], &[]));
            values.iter().zip(shares).map(move |(x, s)| (*x, w * s))
        });
        let law = Discrete::new(points, true);
        return law.map(|law| Arc::new(law) as Arc<dyn Law>).ok_or_else(|| {
            ParameterError::new(&["parts"], "the mixture has no values", "give a part with a weight above 0")
        });
    }
    Ok(Arc::new(Mixture::new(kept)))
}

#[derive(Debug)]
struct Mixture {
    parts: Vec<(f64, Distribution)>,
    /// Values of discrete parts, rising, with the mixture's probability below each and at or below it, as pairs.
    jumps: Vec<Jump>,
    /// What is too small to matter beside the narrowest part.
    least: f64,
}

#[derive(Debug)]
struct Jump {
    at: f64,
    before: (f64, f64),
    after: (f64, f64),
}

/// More values of discrete parts than this are not told apart from a continuous part.
const MOST_JUMPS: usize = 10_000;

impl Mixture {
    fn new(parts: Vec<(f64, Distribution)>) -> Mixture {
        let spreads = parts.iter().map(|(_, part)| part.sd()).filter(|sd| *sd > 0.0 && sd.is_finite());
        let least = 1e-17 * spreads.fold(f64::INFINITY, f64::min).min(1e100);
        let mut mixture = Mixture { parts, jumps: Vec::new(), least };
        let values = mixture.parts.iter().filter_map(|(_, part)| part.points());
        let mut values: Vec<f64> =
            values.flat_map(|(values, _)| values.iter().copied()).take(MOST_JUMPS).collect();
        values.sort_by(f64::total_cmp);
        values.dedup();
        let jump = |&at: &f64| Jump { at, before: mixture.cdf(at.next_down()), after: mixture.cdf(at) };
        let jumps = values.iter().map(jump).collect();
        mixture.jumps = jumps;
        mixture
    }

    fn sum(&self, f: impl Fn(&Distribution) -> f64) -> f64 {
        self.parts.iter().map(|(w, part)| w * f(part)).sum()
    }
}

/// Whether a value with these probabilities is at or above the quantile of (lower, upper): on the side where they are small.
fn reaches(cdf: (f64, f64), lower: f64, upper: f64) -> bool {
    if lower <= 0.5 { cdf.0 >= lower } else { cdf.1 <= upper }
}

impl Law for Mixture {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        self.quantile_near(lower, upper, f64::NAN)
    }

    /// Root of F between the parts' quantiles, which always hold it; at a jump its value.
    fn quantile_near(&self, lower: f64, upper: f64, near: f64) -> f64 {
        let of_parts = || self.parts.iter().map(|(_, part)| part.quantile(lower, upper));
        let (mut low, mut high) =
            (of_parts().fold(f64::INFINITY, f64::min), of_parts().fold(f64::NEG_INFINITY, f64::max));
        let k = self.jumps.partition_point(|jump| !reaches(jump.after, lower, upper));
        if let Some(jump) = self.jumps.get(k) {
            if !reaches(jump.before, lower, upper) {
                return jump.at;
            }
            high = high.min(jump.at);
        }
        if let Some(jump) = k.checked_sub(1).and_then(|k| self.jumps.get(k)) {
            low = low.max(jump.at);
        }
        if !(low < high) || !low.is_finite() || !high.is_finite() {
            return low;
        }
        let gap = |x: f64| {
            let (below, above) = self.cdf(x);
            if lower <= 0.5 { below - lower } else { upper - above }
        };
        let near_root = secant((low, high), near, self.least, &gap);
        near_root.unwrap_or_else(|| root(low, high, near, self.least, gap))
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        (self.sum(|part| part.cdf_pair(x).0), self.sum(|part| part.cdf_pair(x).1))
    }

    fn mean(&self) -> f64 {
        self.sum(Distribution::mean)
    }

    fn sd(&self) -> f64 {
        let mean = self.mean();
        let square = |part: &Distribution| {
            let (sd, gap) = (part.sd(), part.mean() - mean);
            sd * sd + gap * gap
        };
        self.sum(square).sqrt()
    }

    /// Of the part with the largest weight.
    fn mode(&self) -> f64 {
        let heavier = |best: &(f64, Distribution), part: &(f64, Distribution)| part.0 > best.0;
        let first = self.parts.first();
        let best = self.parts.iter().fold(first, |best, part| match best {
            Some(kept) if heavier(kept, part) => Some(part),
            _ => best,
        });
        best.map_or(f64::NAN, |(_, part)| part.mode())
    }

    fn support(&self) -> (f64, f64) {
        let ends = || self.parts.iter().map(|(_, part)| part.support());
        (ends().fold(f64::INFINITY, |m, e| m.min(e.0)), ends().fold(f64::NEG_INFINITY, |m, e| m.max(e.1)))
    }

    fn kinks(&self) -> Vec<f64> {
        let ends = self.parts.iter().flat_map(|(_, part)| [part.support().0, part.support().1]);
        let mut kinks: Vec<f64> = ends.filter(|x| x.is_finite()).map(|x| self.cdf(x).0).collect();
        kinks.extend(self.jumps.iter().flat_map(|jump| [jump.before.0, jump.after.0]));
        kinks.retain(|p| *p > 0.0 && *p < 1.0);
        kinks.sort_by(f64::total_cmp);
        kinks.dedup();
        kinks
    }

    fn has_jumps(&self) -> bool {
        !self.jumps.is_empty()
    }

    fn costly(&self) -> bool {
        true
    }

    fn has_density(&self) -> bool {
        false
    }

    fn cautions(&self) -> Vec<Caution> {
        self.parts.iter().flat_map(|(_, part)| part.cautions()).collect()
    }
}

/// Root from a value near it, a few steps away; none if the steps leave the bracket or do not settle.
fn secant(ends: (f64, f64), near: f64, least: f64, gap: &impl Fn(f64) -> f64) -> Option<f64> {
    let (low, high) = ends;
    let inside = |x: f64| x > low && x < high;
    let mut before = near;
    let mut at_before = if inside(near) { gap(near) } else { return None };
    let mut x = near + (1e-5 * near.abs()).max(1e9 * least);
    for _ in 0..10 {
        if !inside(x) {
            return None;
        }
        let at = gap(x);
        let step = at * ((x - before) / (at - at_before));
        if at == 0.0 || step.abs() <= 1e-14 * x.abs() + least {
            return Some(if at == 0.0 { x } else { x - step });
        }
        (before, at_before) = (x, at);
        x -= step;
    }
    None
}

/// Smallest x in (low, high] at which a rising function is not below 0, to the last bits or to `least`: regula falsi with
/// halved ends (Illinois), and a bisection whenever that does not halve the bracket in three steps.
fn root(mut low: f64, mut high: f64, near: f64, least: f64, gap: impl Fn(f64) -> f64) -> f64 {
    let (mut at_low, mut at_high) = (gap(low), gap(high));
    if at_low >= 0.0 {
        return low;
    }
    let mut next = near;
    let mut last_side = 0;
    let mut width = high - low;
    for step in 0..600 {
        if step % 3 == 2 {
            if high - low > 0.5 * width {
                next = f64::NAN;
            }
            width = high - low;
        }
        let inside = next > low && next < high;
        let x = if inside { next } else { middle(low, high, least) };
        let tolerance = 4e-16 * low.abs().max(high.abs()) + least;
        if !(x > low && x < high) || high - low <= tolerance {
            break;
        }
        let at = gap(x);
        if at >= 0.0 {
            (high, at_high) = (x, at);
            at_low *= if last_side == 1 { 0.5 } else { 1.0 };
            last_side = 1;
        } else {
            (low, at_low) = (x, at);
            at_high *= if last_side == -1 { 0.5 } else { 1.0 };
            last_side = -1;
        }
        if at == 0.0 {
            break;
        }
        next = low - at_low * ((high - low) / (at_high - at_low));
    }
    high
}

/// Between two numbers; by their sizes where those differ much, so that a part of 1 is found beside one of 1e50.
fn middle(low: f64, high: f64, least: f64) -> f64 {
    if low < 0.0 && high > 0.0 {
        return 0.0;
    }
    let (near, far) = (low.abs().min(high.abs()).max(least), low.abs().max(high.abs()));
    if far / near > 16.0 {
        let size = near.sqrt() * far.sqrt();
        return if high > 0.0 { size } else { -size };
    }
    low + 0.5 * (high - low)
}
