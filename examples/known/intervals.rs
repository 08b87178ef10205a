//! The intervals of one study of a known model, held against its figures.

use payspread::analysis::statistics::{Asked, Rule, Statistics, summarise};
use payspread::analysis::{Estimate, Figure, ResultKind, Share};
use payspread::sampling::{Design, Method};

use super::KnownModel;

/// The figures of a study, in the order of [`study`].
pub(crate) const FIGURES: [&str; 4] = ["mean", "P10", "P90", "share"];

/// Methods and their names.
pub(crate) const METHODS: [(Method, &str); 3] =
    [(Method::Random, "random"), (Method::LatinHypercube, "latin hypercube"), (Method::Sobol, "sobol")];

/// Of one figure in one study: its error, its interval's half-width, whether that holds the truth.
#[derive(Clone, Copy)]
pub(crate) struct Outcome {
    pub(crate) error: f64,
    pub(crate) half_width: f64,
    pub(crate) covered: bool,
}

fn outcome(value: f64, low: f64, high: f64, truth: f64) -> Outcome {
    let covered = low <= truth && truth <= high;
    Outcome { error: value - truth, half_width: 0.5 * (high - low), covered }
}

fn of_estimate(estimate: &Estimate, truth: f64) -> Outcome {
    let number = |figure: Option<Figure>| figure.unwrap().number().unwrap();
    outcome(number(Some(estimate.value)), number(estimate.low), number(estimate.high), truth)
}

fn outcomes(s: &Statistics, model: &KnownModel) -> [Outcome; 4] {
    let percentile = |p: f64| &s.percentiles.iter().find(|q| q.p == p).unwrap().estimate;
    let Share { value, low, high, .. } = s.success.unwrap();
    let known = model.known;
    [
        of_estimate(s.mean.as_ref().unwrap(), known.mean),
        of_estimate(percentile(0.1), known.p10),
        of_estimate(percentile(0.9), known.p90),
        outcome(value, low, high, known.share),
    ]
}

/// The figures of one study, as the summary of `run` gives them.
pub(crate) fn study(model: &KnownModel, design: Design) -> [Outcome; 4] {
    let column = model.draw(design);
    let replicates = (design.method != Method::Random).then_some(design.replicates);
    let asked =
        Asked { kind: ResultKind::Number, replicates, base: f64::NAN, rule: Some(Rule::AtLeast(0.0)) };
    outcomes(&summarise(&column, &asked), model)
}
