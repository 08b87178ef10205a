//! Inputs: units, distributions, base values.

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::formula::types::{Kind, Shape, Type};
use crate::model::data::Data;
use crate::model::distributions::{built, distribution};
use crate::model::given_inputs;
use crate::model::workings::{about, unit_of};
use crate::model::{Input, InputValue, changes};
use crate::sampling::Distribution;
use crate::study;
use crate::units::{Unit, UnitTable};

/// The inputs of a study, those that are sound, and the parts of their changes.
pub(super) fn check_inputs(
    study: &study::Study,
    units: &UnitTable,
    data: &Data<'_>,
    found: &mut Vec<Diagnostic>,
) -> (Vec<Input>, Vec<Input>) {
    let alone = |input: &study::Input| match given_inputs::text_of(input) {
        Some(_) => None,
        None => check_input(input, study, units, data, found),
    };
    let mut made: Vec<Option<Input>> = study.inputs.iter().map(alone).collect();
    given_inputs::check(study, units, &mut made, found);
    let mut parts = Vec::new();
    let inputs = study.inputs.iter().zip(made).filter_map(|(text, input)| {
        let mut input = input?;
        parts.extend(changes::of_input(&text.changes, &mut input, (study, data), units, found)?);
        Some(input)
    });
    (inputs.collect(), parts)
}

fn check_input(
    input: &study::Input,
    study: &study::Study,
    units: &UnitTable,
    data: &Data<'_>,
    found: &mut Vec<Diagnostic>,
) -> Option<Input> {
    let unit = unit_of(input.unit.as_ref(), units, found)?;
    let number = Kind::Number { dimension: unit.dimension, point: unit.point };
    let base = base_number(input);
    let (value, kind, shape, base) = match &input.value {
        study::InputValue::Known(x) => (InputValue::Known, number, Shape::Single, vec![x.value]),
        study::InputValue::Monthly(months, _) => {
            (InputValue::Known, number, Shape::Monthly, months.iter().map(|m| m.value).collect())
        }
        study::InputValue::Labels { values, weights, span } => {
            let labels: Vec<String> = values.iter().map(|v| v.value.clone()).collect();
            let weights = match weights {
                Some(weights) => weights.iter().map(|w| w.value).collect(),
                None => vec![1.0; labels.len()],
            };
            let drawn = built(Distribution::labels(&weights), span, &[], found)?;
            let base = base_label(input, &labels).unwrap_or_else(|| drawn.mode());
            (InputValue::Drawn(drawn), Kind::Label(labels), Shape::Single, vec![base])
        }
        study::InputValue::ChoiceOfNumbers(values, _) => {
            let values: Vec<f64> = values.iter().map(|v| v.value).collect();
            let base = base.map_or_else(|| values.first().copied(), |base| Some(base.value))?;
            (InputValue::Choice(values), number, Shape::Single, vec![base])
        }
        study::InputValue::ChoiceOfLabels(values, _) => {
            let labels: Vec<String> = values.iter().map(|v| v.value.clone()).collect();
            let base = base_label(input, &labels).unwrap_or(0.0);
            let indices = (0..labels.len()).map(|k| k as f64).collect();
            (InputValue::Choice(indices), Kind::Label(labels), Shape::Single, vec![base])
        }
        study::InputValue::Distribution(text) => {
            let drawn = distribution(text, input.truncate.as_ref(), study, data, found);
            not_for_points(text, &unit, found);
            let drawn = drawn?;
            caution(text, &drawn, found);
            if let Some(base) = base {
                base_caution(base, &drawn, &text.span, found);
            }
            let base = base.map_or_else(|| drawn.default_base(), |b| b.value);
            (InputValue::Drawn(drawn), number, Shape::Single, vec![base])
        }
    };
    Some(Input {
        about: about(&input.name, &input.about),
        unit,
        ty: Type { kind, shape },
        value,
        base,
        between_homes: input.between_homes,
        changes: Vec::new(),
        conversion: None,
        part_of: None,
    })
}

pub(super) fn base_number(input: &study::Input) -> Option<&Spanned<f64>> {
    match &input.base {
        Some(study::Base::Number(number)) => Some(number),
        _ => None,
    }
}

/// Index of the base label; the reader has seen to it that it is one of the list.
fn base_label(input: &study::Input, labels: &[String]) -> Option<f64> {
    let Some(study::Base::Label(base)) = &input.base else { return None };
    labels.iter().position(|label| *label == base.value).map(|k| k as f64)
}

/// Distributions that start at zero and scale by factors: on a scale whose zero is a convention they mean nothing.
const OF_AMOUNTS: [&str; 6] = ["lognormal", "gamma", "weibull", "exponential", "poisson", "binomial"];

pub(super) fn not_for_points(text: &study::DistributionText, unit: &Unit, found: &mut Vec<Diagnostic>) {
    let kind = text.kind.value.as_str();
    if unit.point && OF_AMOUNTS.contains(&kind) {
        found.push(
            Diagnostic::error("temperature-point", format!("a temperature in degC cannot be {kind}: its zero is a convention"))
                .at(text.kind.span.clone(), "")
                .hint("use normal, triangular or uniform; or draw a difference in K and add it to a known temperature"),
        );
    }
}

/// A base value that is never drawn is doubtful: spans start from it.
pub(super) fn base_caution(
    base: &Spanned<f64>,
    drawn: &Distribution,
    place: &Span,
    found: &mut Vec<Diagnostic>,
) {
    let (min, max) = drawn.support();
    let among = drawn.points().is_none_or(|(values, _)| values.contains(&base.value));
    let what = match (min..=max).contains(&base.value) {
        false => format!("the base {} lies outside what can be drawn", base.value),
        true if !among => format!("the base {} is none of the values that can be drawn", base.value),
        true => return,
    };
    let caution = Diagnostic::caution("base-outside", what).at(base.span.clone(), "").also(place.clone(), "");
    found.push(caution.hint("the base case and all spans start from it"));
}

/// What a distribution says of itself that the reader should look at again.
pub(super) fn caution(text: &study::DistributionText, drawn: &Distribution, found: &mut Vec<Diagnostic>) {
    for caution in drawn.cautions() {
        found.push(Diagnostic::caution(caution.id, caution.text).at(text.span.clone(), ""));
    }
}
