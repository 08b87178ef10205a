//! What a study is and how it was drawn, for headings.

use crate::analysis::{SamplingFacts, StudyFacts};
use crate::formula::types::Kind;
use crate::model::{Input, InputValue, Model};
use crate::sampling::{Design, Linking, Method, Plan};
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
    let inputs = model.inputs.iter().filter(|input| input.part_of.is_none());
    let unsourced = inputs.map(|i| &i.about).chain(model.paths.iter().map(|p| &p.about));
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

pub(super) fn sampling_facts(plan: &Plan, design: Design, linking: Linking) -> SamplingFacts {
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
        linking: match linking {
            Linking::GaussianCopula => "gaussian copula",
            Linking::ImanConover => "iman-conover",
        }
        .to_owned(),
    }
}

/// A value of an input as the reader writes it: with its unit, a label as it is.
pub(super) fn value_in_words(input: &Input, value: f64) -> String {
    match &input.ty.kind {
        Kind::Label(labels) => labels.get(value as usize).cloned().unwrap_or_default(),
        _ => {
            let (factor, unit) = spoken(&input.unit);
            format!("{}{unit}", short_number(value * factor))
        }
    }
}

/// A value of an input as its distribution gives it, with its unit: three
/// significant digits of the greater of its two ends, years to a tenth, plain
/// shares to a hundredth.
pub(super) fn drawn_in_words(value: f64, other: f64, unit: &Unit) -> String {
    let (factor, words) = spoken(unit);
    let (value, other) = (value * factor, other * factor);
    let places = (2 - exponent(value).max(exponent(other))).max(-exponent(value));
    let text = match unit.text.as_str() {
        "" if (0.1..1.0).contains(&value.abs()) => rounded(value, 2),
        "yr" => without_zeros(&rounded(value, places.min(1))),
        _ => without_zeros(&rounded(value, places)),
    };
    format!("{text}{words}")
}

/// The course of a path from its first year to its last, to two significant
/// digits of the greater; one figure where both read the same.
pub(super) fn course_in_words(first: f64, last: f64, unit: &Unit) -> String {
    let (factor, words) = spoken(unit);
    let (first, last) = (first * factor, last * factor);
    let places = 1 - exponent(first).max(exponent(last));
    let (from, to) = (rounded(first, places), rounded(last, places));
    if from == to {
        return format!("{}{words}", without_zeros(&rounded(first, places + 1)));
    }
    format!("{from}\u{2192}{to}{words}")
}

/// What a value is multiplied by to stand before its unit as spoken, and that
/// unit: a rate of 0.02 1/yr is 2 % a year.
fn spoken(unit: &Unit) -> (f64, String) {
    match unit.text.as_str() {
        "1/yr" => (100.0, " % a year".to_owned()),
        "" => (1.0, String::new()),
        text => (1.0, format!(" {text}")),
    }
}

/// The exponent of the first digit; 0 for nought.
fn exponent(value: f64) -> i32 {
    if value == 0.0 || !value.is_finite() { 0 } else { libm::floor(libm::log10(value.abs())) as i32 }
}

/// With so many decimals; fewer than none round to tens, hundreds and so on.
fn rounded(value: f64, places: i32) -> String {
    if !value.is_finite() || !(-6..=8).contains(&places) {
        return short_number(value);
    }
    let tens = libm::pow(10.0, f64::from(-places.min(0)));
    let text = if places > 0 {
        format!("{value:.*}", places as usize)
    } else {
        format!("{:.0}", (value / tens).round() * tens)
    };
    if text.trim_matches(['-', '0', '.']).is_empty() { text.trim_start_matches('-').to_owned() } else { text }
}

fn without_zeros(text: &str) -> String {
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text.to_owned()
    }
}

/// At most four significant digits, without trailing zeros; plain notation between 0.0001 and a million.
pub(super) fn short_number(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let exponent = exponent(value);
    if !(-4..6).contains(&exponent) {
        return format!("{value:.3e}");
    }
    let decimals = (3 - exponent).clamp(0, 8) as usize;
    let text = format!("{value:.decimals$}");
    without_zeros(&text)
}

/// Whether an input is a choice.
pub(super) fn is_choice(input: &Input) -> bool {
    matches!(input.value, InputValue::Choice(_))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(text: &str) -> Unit {
        if text.is_empty() { Unit::plain() } else { crate::units::UnitTable::new("EUR").parse(text).unwrap() }
    }

    #[test]
    fn ends_of_spans_as_read() {
        for (value, other, text) in
            [(0.692, 1.65, "0.69 EUR"), (1.65, 0.692, "1.65 EUR"), (0.004, 2.0, "0.004 EUR")]
        {
            assert_eq!(drawn_in_words(value, other, &unit("EUR")), text);
        }
        for (value, unit_text, text) in [
            (5.285, "yr", "5.3 yr"),
            (18.16, "yr", "18.2 yr"),
            (0.6567, "", "0.66"),
            (0.9, "", "0.90"),
            (1.25, "", "1.25"),
            (0.04321, "", "0.0432"),
            (458.3, "EUR", "458 EUR"),
            (1537.0, "kWh/yr", "1540 kWh/yr"),
            (0.02, "1/yr", "2 % a year"),
            (-0.0123, "1/yr", "-1.23 % a year"),
            (0.0, "EUR", "0 EUR"),
        ] {
            assert_eq!(drawn_in_words(value, value, &unit(unit_text)), text);
        }
        for (first, last, text) in [
            (0.1006, 0.07739, "0.10\u{2192}0.08 EUR/kWh"),
            (0.05501, 0.02069, "0.055\u{2192}0.021 EUR/kWh"),
            (0.2, 0.2, "0.2 EUR/kWh"),
            (-1.0, 150.0, "0\u{2192}150 EUR/kWh"),
        ] {
            assert_eq!(course_in_words(first, last, &unit("EUR/kWh")), text);
        }
    }

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
