//! Observed values: lines between them in order, or the values themselves.

use std::sync::Arc;

use super::catalogue::{DistributionKind, Form};
use super::cautioned::Cautioned;
use super::discrete::Discrete;
use super::law::{Caution, Law};
use super::lines::Lines;
use super::parameters::{ParameterError, Parameters};

pub(super) static KIND: DistributionKind = DistributionKind {
    name: "samples",
    summary: "observed values; `shape` is \"line\" (lines between the values in order) or \"step\" (the values themselves); \
              neither goes beyond the extremes",
    forms: &[
        Form {
            keys: &["file", "column"],
            optional: &["shape"],
            words: "a column of a CSV file beside the study",
        },
        Form { keys: &["values"], optional: &["shape"], words: "the values" },
    ],
    percentiles: false,
    example: "samples = { values = [22.9, 28.4, 31.2, 40.1] }",
    source: "line: type 7 of Hyndman, Fan 1996, Sample quantiles in statistical packages; step: the empirical distribution",
    build,
};

/// Fewer than this say little of the tails.
const FEW: usize = 20;

fn build(p: &Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError> {
    if p.has("file") {
        let hint = "give the values themselves, or read the study from its folder";
        return Err(ParameterError::new(&["file"], "a file cannot be read here", hint));
    }
    let mut values = p.list("values")?.to_vec();
    let step = p.word_or("shape", &["line", "step"])? == "step";
    let few = values.len() < FEW;
    values.sort_by(f64::total_cmp);
    let n = values.len();
    let law: Arc<dyn Law> = if step || values[0] == values[n - 1] {
        let points = values.into_iter().map(|x| (x, 1.0));
        Arc::new(Discrete::new(points, true).ok_or_else(|| {
            ParameterError::new(&["values"], "`values` is empty", "give at least one number")
        })?)
    } else {
        Arc::new(Lines::observed(values))
    };
    let text = match n {
        1 => "a single observed value says nothing of what else may come".to_owned(),
        n => format!("{n} observed values say little of the tails: nothing beyond them is ever drawn"),
    };
    let cautions = if few { vec![Caution { id: "few-values", text }] } else { Vec::new() };
    Ok(Cautioned::with(law, cautions))
}
