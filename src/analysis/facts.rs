//! What a study is and how it was drawn, for headings.

use crate::analysis::{SamplingFacts, StudyFacts};
use crate::formula::types::Kind;
use crate::model::{Input, InputValue, Model};
use crate::sampling::{Design, Method, Plan};
use crate::study::Prices;
use crate::units::Unit;

pub(super) fn study_facts(model: &Model) -> StudyFacts {
    let name = |k: usize| model.results.get(k).map(|r| model.result_working(r).about.name.clone());
    let years = |r: &&crate::model::ResultItem| model.result_working(r).formula.ty.kind == Kind::Years;
    let plain = |r: &&crate::model::ResultItem| {
        let text = &model.result_working(r).text;
        !text.contains("discounted_payback") && !text.contains("first_payback")
    };
    let payback = model.results.iter().find(|r| years(r) && plain(r));
    let unsourced = model.inputs.iter().map(|i| &i.about).chain(model.paths.iter().map(|p| &p.about));
    StudyFacts {
        title: model.title.clone(),
        question: model.question.clone(),
        currency: model.currency.clone(),
        prices: if model.prices == Prices::Real { "real" } else { "nominal" }.to_owned(),
        first_year: model.first_year,
        years: model.years,
        headline: name(model.headline).unwrap_or_default(),
        payback: payback.map(|r| model.result_working(r).about.name.clone()),
        unsourced: unsourced.filter(|about| about.source.is_none()).map(|about| about.name.clone()).collect(),
    }
}

pub(super) fn sampling_facts(plan: &Plan, design: Design) -> SamplingFacts {
    let method = match design.method {
        Method::Sobol => "sobol",
        Method::LatinHypercube => "latin hypercube",
        Method::Random => "random",
    };
    SamplingFacts {
        method: method.to_owned(),
        runs_asked: design.runs_asked,
        runs: design.runs,
        replicates: design.replicates,
        seed: design.seed,
        engine: crate::ENGINE_VERSION,
        dimensions: plan.dimensions().to_vec(),
    }
}

/// A value of an input as the reader writes it: with its unit, a label as it is.
pub(super) fn value_in_words(input: &Input, value: f64) -> String {
    match &input.ty.kind {
        Kind::Label(labels) => labels.get(value as usize).cloned().unwrap_or_default(),
        _ => number_in_words(value, &input.unit),
    }
}

/// A number with at most four significant digits, and its unit.
pub(super) fn number_in_words(value: f64, unit: &Unit) -> String {
    let text = short_number(value);
    if unit.text.is_empty() { text } else { format!("{text} {}", unit.text) }
}

/// At most four significant digits, without trailing zeros; plain notation between 0.0001 and a million.
pub(super) fn short_number(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let exponent = libm::floor(libm::log10(value.abs())) as i32;
    if !(-4..6).contains(&exponent) {
        return format!("{value:.3e}");
    }
    let decimals = (3 - exponent).clamp(0, 8) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Whether an input is a choice.
pub(super) fn is_choice(input: &Input) -> bool {
    matches!(input.value, InputValue::Choice(_))
}

#[cfg(test)]
mod tests {
    use super::short_number;

    #[test]
    fn four_digits() {
        for (value, text) in [
            (0.0, "0"),
            (0.04, "0.04"),
            (16_384.0, "16384"),
            (0.112_34, "0.1123"),
            (3.0, "3"),
            (-12.345_6, "-12.35"),
            (1e-6, "1.000e-6"),
            (0.999_96, "1"),
        ] {
            assert_eq!(short_number(value), text);
        }
    }
}
