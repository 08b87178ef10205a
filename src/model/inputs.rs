//! Inputs: units, distributions, base values.

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::formula::types::{Kind, Shape, Type};
use crate::model::data::Data;
use crate::model::given_inputs;
use crate::model::names::{Named, suggest};
use crate::model::workings::{about, unit_of};
use crate::model::{Input, InputValue};
use crate::sampling::{Distribution, ParameterError, Value};
use crate::study::{self, Parameter};
use crate::units::{Unit, UnitTable};

/// The inputs of a study, those that are sound.
pub(super) fn check_inputs(
    study: &study::Study,
    units: &UnitTable,
    _data: &Data<'_>,
    found: &mut Vec<Diagnostic>,
) -> Vec<Input> {
    let alone = |input: &study::Input| match given_inputs::text_of(input) {
        Some(_) => None,
        None => check_input(input, study, units, found),
    };
    let mut made: Vec<Option<Input>> = study.inputs.iter().map(alone).collect();
    given_inputs::check(study, units, &mut made, found);
    made.into_iter().flatten().collect()
}

fn check_input(
    input: &study::Input,
    study: &study::Study,
    units: &UnitTable,
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
            let drawn = distribution(text, input.truncate.as_ref(), study, found);
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

/// A distribution as written.
pub(super) fn distribution(
    text: &study::DistributionText,
    truncate: Option<&study::Truncate>,
    study: &study::Study,
    found: &mut Vec<Diagnostic>,
) -> Option<Distribution> {
    let mut parameters = Vec::new();
    let before = found.len();
    for (key, parameter) in &text.parameters {
        match parameter {
            Parameter::Number(x) => parameters.push((key.value.clone(), Value::Number(x.value))),
            Parameter::List(xs, _) => {
                parameters.push((key.value.clone(), Value::List(xs.iter().map(|x| x.value).collect())));
            }
            Parameter::Name(name) => found.push(named_parameter(key, name, study)),
        }
    }
    let cut = truncate.map(|t| (t.min.as_ref().map(|x| x.value), t.max.as_ref().map(|x| x.value)));
    // The reader has told of a cut that is upside down.
    if found.len() > before || matches!(cut, Some((Some(min), Some(max))) if max <= min) {
        return None;
    }
    let made = Distribution::build(&text.kind.value, &parameters, cut);
    let mut places: Vec<(&str, Span)> =
        text.parameters.iter().map(|(key, value)| (key.value.as_str(), place_of(key, value))).collect();
    if let Some(truncate) = truncate {
        places.push(("truncate", truncate.span.clone()));
    }
    built(made, &text.span, &places, found)
}

/// A parameter that names no other input; or names one where that cannot be: in a path.
pub(super) fn named_parameter(
    key: &Spanned<String>,
    name: &Spanned<String>,
    study: &study::Study,
) -> Diagnostic {
    let own = study.inputs.iter().find(|input| {
        matches!(&input.value, study::InputValue::Distribution(text)
            if text.span.start <= name.span.start && name.span.end <= text.span.end)
    });
    if own.is_some_and(|input| input.name.value == name.value) {
        return Diagnostic::error(
            "parameter-name",
            format!("`{}` takes `{}` from itself", name.value, key.value),
        )
        .at(name.span.clone(), "")
        .hint("give a number");
    }
    let named = Named::of(study);
    if named.is_input(&name.value) {
        return Diagnostic::error("parameter-name", "parameters of a path's distributions are numbers")
            .at(name.span.clone(), "")
            .hint("give a number; or make it an input of its own and multiply by it in the workings");
    }
    let error = match named.section(&name.value) {
        Some(section) => format!("`{}` is in {section}: a parameter is a number or an input", name.value),
        None => format!("no input is called `{}`", name.value),
    };
    let error = Diagnostic::error("parameter-name", error).at(name.span.clone(), "");
    let others = study
        .inputs
        .iter()
        .map(|i| i.name.value.as_str())
        .filter(|n| own.is_none_or(|own| own.name.value != *n));
    suggest(error, &name.value, others.collect(), "other inputs")
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

pub(super) fn place_of(key: &Spanned<String>, value: &Parameter) -> Span {
    let end = match value {
        Parameter::Number(x) => x.span.end,
        Parameter::Name(x) => x.span.end,
        Parameter::List(_, span) => span.end,
    };
    key.span.start..end
}

/// The distribution, or an error at the parameters that are at fault.
pub(super) fn built<T>(
    made: Result<T, ParameterError>,
    whole: &Span,
    places: &[(&str, Span)],
    found: &mut Vec<Diagnostic>,
) -> Option<T> {
    match made {
        Ok(distribution) => Some(distribution),
        Err(error) => {
            let mut at: Vec<Span> = places
                .iter()
                .filter(|(key, _)| error.keys.iter().any(|k| k == key))
                .map(|(_, span)| span.clone())
                .collect();
            let first = if at.is_empty() { whole.clone() } else { at.remove(0) };
            let mut diagnostic = Diagnostic::error("distribution-parameters", error.message).at(first, "");
            for span in at {
                diagnostic = diagnostic.also(span, "");
            }
            if !error.hint.is_empty() {
                diagnostic = diagnostic.hint(error.hint);
            }
            found.push(diagnostic);
            None
        }
    }
}

/// What a distribution says of itself that the reader should look at again.
pub(super) fn caution(text: &study::DistributionText, drawn: &Distribution, found: &mut Vec<Diagnostic>) {
    for caution in drawn.cautions() {
        found.push(Diagnostic::caution(caution.id, caution.text).at(text.span.clone(), ""));
    }
}
