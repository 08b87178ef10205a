//! Given percentiles: a smooth curve through them (a metalog), or straight lines.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form, percentile_of};
use super::cautioned::Cautioned;
use super::law::{Caution, Law};
use super::lines::Lines;
use super::metalog::{Bounds, MOST_TERMS, Metalog, end_slopes, of_logit, slope, terms_at};
use super::parameters::{ParameterError, Parameters, quoted, short};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "quantiles",
    summary: "percentiles as an expert gives them: p10 is the value below which it lies with a chance of 10 %; any pNN, \
              decimals between quotes (\"p2.5\"); a smooth curve goes through them, or straight lines",
    forms: &[Form {
        keys: &[],
        optional: &["min", "max", "shape", "terms"],
        words: "two percentiles or more (pNN), ends if there are any, `shape` \"smooth\" or \"straight\" (needs both ends), \
                `terms` fewer than percentiles for a least-squares fit",
    }],
    percentiles: true,
    example: "quantiles = { p10 = 8, p50 = 11, p90 = 17 }",
    source: "Keelin 2016, The Metalog Distributions",
    build,
};

/// Most percentiles.
const MOST_POINTS: usize = 40;

/// Percentiles with their values, by rising probability, and the key of each.
struct Points<'a> {
    p: Vec<f64>,
    x: Vec<f64>,
    keys: Vec<&'a str>,
}

fn build(parameters: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    let points = points(parameters)?;
    let end = |key: &str| parameters.has(key).then(|| parameters.number(key)).transpose();
    let (min, max) = (end("min")?, end("max")?);
    ends_outside(&points, min, max)?;
    if parameters.word_or("shape", &["smooth", "straight"])? == "straight" {
        return straight(&points, min, max);
    }
    let bounds = match (min, max) {
        (None, None) => Bounds::None,
        (Some(min), None) => Bounds::Below(min),
        (None, Some(max)) => Bounds::Above(max),
        (Some(min), Some(max)) => Bounds::Both(min, max),
    };
    let terms = terms(parameters, points.p.len())?;
    let y: Vec<f64> = points.x.iter().map(|&x| bounds.on_scale(x)).collect();
    let size = y.iter().fold(0.0_f64, |most, y| most.max(y.abs()));
    if y.windows(2).any(|pair| pair[1] - pair[0] <= TOLD_APART * size) {
        let message = "two of these percentiles cannot be told apart: they are all but one beside how far the rest, or \
                       an end, lies off";
        return Err(ParameterError::new(&points.keys, message, "leave one of them out"));
    }
    let rows: Vec<Vec<f64>> = points.p.iter().map(|&p| terms_at(p, 1.0 - p, terms)).collect();
    let a = least_squares(rows, y).filter(|a| a.iter().all(|x| x.is_finite())).ok_or_else(|| {
        ParameterError::new(
            &points.keys,
            "no smooth curve can be computed through these percentiles",
            STRAIGHT,
        )
    })?;
    match falls_at(&a) {
        Some(at) => Err(infeasible(&points, bounds, at)),
        None => {
            let law = Metalog::new(a, bounds);
            let tail = |lower: f64, upper: f64| law.quantile(lower, upper).abs() <= 1e150;
            if !(tail(FAR, 1.0) && tail(1.0, FAR)) {
                let message = "the curve through these percentiles has a tail beyond all numbers";
                return Err(ParameterError::new(
                    &points.keys,
                    message,
                    "give the other end too, or percentiles further out",
                ));
            }
            let cautions = of_tails(&law);
            Ok(Cautioned::with(Arc::new(law), cautions))
        }
    }
}

const STRAIGHT: &str =
    "or use shape = \"straight\" with `min` and `max`: straight lines between the percentiles";

/// Percentiles nearer than this, on the scale of the curve and beside its largest value, leave it to rounding.
const TOLD_APART: f64 = 1e-12;

/// The smallest probability that is ever drawn.
const FAR: f64 = 1.110_223_024_625_156_5e-16;

fn points<'a>(parameters: &Parameters<'a>) -> Result<Points<'a>, ParameterError> {
    let mut list: Vec<(f64, f64, &'a str)> = Vec::new();
    for key in parameters.keys() {
        if let Some(p) = percentile_of(key) {
            list.push((p, parameters.number(key)?, key));
        }
    }
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    let keys: Vec<&str> = list.iter().map(|(.., key)| *key).collect();
    if let [.., _] = list.as_slice()
        && list.len() > MOST_POINTS
    {
        let message = format!("{} percentiles are given", list.len());
        return Err(ParameterError::new(&keys, message, format!("give at most {MOST_POINTS}")));
    }
    if list.len() < 2 {
        let message =
            format!("`quantiles` has {} percentile{}", list.len(), if list.len() == 1 { "" } else { "s" });
        return Err(ParameterError::new(&keys, message, "give two or more, such as p10, p50 and p90"));
    }
    for pair in list.windows(2) {
        let ((p, x, low), (q, y, high)) = (pair[0], pair[1]);
        if p == q {
            return Err(ParameterError::new(
                &[low, high],
                format!("`{low}` and `{high}` are the same percentile"),
                "keep one",
            ));
        }
        if !(x < y) {
            let message = format!("`{low}` is {x} and `{high}` is {y}");
            return Err(ParameterError::new(
                &[low, high],
                message,
                format!("`{low}` must be below `{high}`"),
            ));
        }
    }
    Ok(Points { p: list.iter().map(|e| e.0).collect(), x: list.iter().map(|e| e.1).collect(), keys })
}

fn ends_outside(points: &Points<'_>, min: Option<f64>, max: Option<f64>) -> Result<(), ParameterError> {
    let n = points.x.len();
    let wrong = |key: &str, end: f64, at: usize, side: &str| {
        let (other, x) = (points.keys[at], points.x[at]);
        let message = format!("`{key}` is {end} and `{other}` is {x}");
        Err(ParameterError::new(&[key, other], message, format!("`{key}` must be {side} every percentile")))
    };
    match (min, max) {
        (Some(min), _) if !(min < points.x[0]) => wrong("min", min, 0, "below"),
        (_, Some(max)) if !(max > points.x[n - 1]) => wrong("max", max, n - 1, "above"),
        _ => Ok(()),
    }
}

fn straight(points: &Points<'_>, min: Option<f64>, max: Option<f64>) -> Result<Arc<dyn Law>, ParameterError> {
    let (Some(min), Some(max)) = (min, max) else {
        let message = "straight lines between percentiles need both ends";
        return Err(ParameterError::new(&["shape"], message, "give `min` and `max`"));
    };
    let around = |first: f64, list: &[f64], last: f64| {
        let mut all = vec![first];
        all.extend_from_slice(list);
        all.push(last);
        all
    };
    Ok(Arc::new(Lines::through(around(0.0, &points.p, 1.0), around(min, &points.x, max))))
}

fn terms(parameters: &Parameters<'_>, points: usize) -> Result<usize, ParameterError> {
    let most = points.min(MOST_TERMS);
    if !parameters.has("terms") {
        return Ok(most);
    }
    let terms = parameters.number("terms")?;
    if terms.fract() == 0.0 && (2.0..=most as f64).contains(&terms) {
        return Ok(terms as usize);
    }
    let hint = format!("a whole number from 2 to {most} fits {points} percentiles");
    Err(ParameterError::new(&["terms"], format!("`terms` is {terms}"), hint))
}

/// The logit at which the curve first fails to rise; none if it rises everywhere.
fn falls_at(a: &[f64]) -> Option<f64> {
    let (low, high) = end_slopes(a);
    if !(low > 0.0) {
        return Some(-40.0);
    }
    if !(high > 0.0) {
        return Some(40.0);
    }
    (-2_000..=2_000).map(|k| f64::from(k) / 50.0).find(|&s| {
        let (lower, upper) = of_logit(s);
        !(slope(a, lower, upper) > 0.0)
    })
}

fn infeasible(points: &Points<'_>, bounds: Bounds, at: f64) -> ParameterError {
    let (lower, _) = of_logit(at);
    let n = points.p.len();
    let after = points.p.partition_point(|&p| p < lower);
    let between = match after {
        0 => format!("below `{}`", points.keys[0]),
        k if k == n => format!("above `{}`", points.keys[n - 1]),
        k => format!("between `{}` and `{}`", points.keys[k - 1], points.keys[k]),
    };
    let message = format!("a smooth curve through {} would fall {between}", quoted(&points.keys));
    let symmetric = n == 3 && points.p[1] == 0.5 && (points.p[0] + points.p[2] - 1.0).abs() < 1e-12;
    let hint = match (symmetric, middle_range(points, bounds)) {
        (true, Some((least, most))) => {
            format!("`{}` must lie between {} and {}; {STRAIGHT}", points.keys[1], short(least), short(most))
        }
        _ => format!("move one of them; give fewer `terms`, which come near them only; {STRAIGHT}"),
    };
    ParameterError::new(&points.keys, message, hint)
}

/// Where the median of three symmetric percentiles may lie: three terms rise everywhere iff |a3| < 1.66711 a2.
fn middle_range(points: &Points<'_>, bounds: Bounds) -> Option<(f64, f64)> {
    let (low, high) = (bounds.on_scale(points.x[0]), bounds.on_scale(points.x[2]));
    let (lower, upper) = (points.p[0], 1.0 - points.p[0]);
    let logit = crate::sampling::maths::ln(upper / lower);
    let (a2, h) = ((high - low) / (2.0 * logit), 0.5 - lower);
    // low + high - 2 middle = 2 a3 h logit.
    let reach = 1.667_11 * a2 * h * logit;
    let middle = 0.5 * low + 0.5 * high;
    let (least, most) = (bounds.off_scale(middle - reach), bounds.off_scale(middle + reach));
    (least.is_finite() && most.is_finite()).then_some((least, most))
}

/// Least squares by Householder reflections; exact where there are as many rows as unknowns.
#[expect(clippy::needless_range_loop, reason = "a matrix is read by row and column")]
fn least_squares(mut rows: Vec<Vec<f64>>, mut y: Vec<f64>) -> Option<Vec<f64>> {
    let (m, n) = (rows.len(), rows.first()?.len());
    for k in 0..n {
        let norm = (k..m).map(|i| rows[i][k] * rows[i][k]).sum::<f64>().sqrt();
        if !(norm > 1e-300) {
            return None;
        }
        let alpha = if rows[k][k] > 0.0 { -norm } else { norm };
        let mut v: Vec<f64> = (k..m).map(|i| rows[i][k]).collect();
        v[0] -= alpha;
        let square: f64 = v.iter().map(|x| x * x).sum();
        let reflect = |get: &dyn Fn(usize) -> f64| {
            2.0 * v.iter().enumerate().map(|(i, x)| x * get(k + i)).sum::<f64>() / square
        };
        for j in k..n {
            let factor = reflect(&|i| rows[i][j]);
            for (i, x) in v.iter().enumerate() {
                rows[k + i][j] -= factor * x;
            }
        }
        let factor = reflect(&|i| y[i]);
        for (i, x) in v.iter().enumerate() {
            y[k + i] -= factor * x;
        }
    }
    let mut a = vec![0.0; n];
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| rows[k][j] * a[j]).sum();
        a[k] = (y[k] - known) / rows[k][k];
    }
    Some(a)
}

/// What a reader should see of its tails.
fn of_tails(law: &Metalog) -> Vec<Caution> {
    let (low, middle, high) =
        (law.quantile(0.001, 0.999), law.quantile(0.5, 0.5), law.quantile(0.999, 0.001));
    let mut cautions = Vec::new();
    if low < 0.0 && law.quantile(0.1, 0.9) > 0.0 && middle > 0.0 {
        let text = format!(
            "the curve through these percentiles goes below 0: 1 in 1,000 lies below {} and 1 in 1,000 above {}; \
                 give `min` if it cannot",
            short(low),
            short(high)
        );
        cautions.push(Caution { id: "goes-below-zero", text });
    }
    if !law.sd().is_finite() {
        let text = format!(
            "the curve through these percentiles has so heavy a tail that no standard deviation exists: \
                 1 in 1,000 lies beyond {}; give both ends if there are any",
            short(if high.abs() > low.abs() { high } else { low })
        );
        cautions.push(Caution { id: "heavy-tail", text });
    }
    cautions
}
