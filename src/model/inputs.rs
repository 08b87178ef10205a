//! Inputs and paths: units, distributions, base values.

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::formula::types::{Kind, Shape, Type};
use crate::model::workings::{about, unit_of};
use crate::model::{Input, InputValue, Path};
use crate::sampling::{ChangeSpec, Distribution, Drift, ParameterError, PathSpec, Process, Quantity, Value};
use crate::study::{self, NumberOrDistribution, Parameter};
use crate::units::UnitTable;

/// The inputs of a study, those that are sound.
pub(super) fn check_inputs(
    study: &study::Study,
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Vec<Input> {
    study.inputs.iter().filter_map(|input| check_input(input, units, found)).collect()
}

fn check_input(input: &study::Input, units: &UnitTable, found: &mut Vec<Diagnostic>) -> Option<Input> {
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
            let base = base_label(input, &labels, found)?.unwrap_or_else(|| drawn.mode());
            (InputValue::Drawn(drawn), Kind::Label(labels), Shape::Single, vec![base])
        }
        study::InputValue::ChoiceOfNumbers(values, span) => {
            let values: Vec<f64> = values.iter().map(|v| v.value).collect();
            let base = choice_base(&values, base, span, found)?;
            (InputValue::Choice(values), number, Shape::Single, vec![base])
        }
        study::InputValue::ChoiceOfLabels(values, _) => {
            let labels: Vec<String> = values.iter().map(|v| v.value.clone()).collect();
            let base = base_label(input, &labels, found)?.unwrap_or(0.0);
            let indices = (0..labels.len()).map(|k| k as f64).collect();
            (InputValue::Choice(indices), Kind::Label(labels), Shape::Single, vec![base])
        }
        study::InputValue::Distribution(text) => {
            let drawn = distribution(text, input.truncate.as_ref(), found)?;
            let base = base.map_or_else(|| drawn.default_base(), |b| b.value);
            caution(text, &drawn, found);
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

fn base_number(input: &study::Input) -> Option<&Spanned<f64>> {
    match &input.base {
        Some(study::Base::Number(number)) => Some(number),
        _ => None,
    }
}

/// Index of the base label; none if no base is given; an outer none if it is no label of the list.
fn base_label(input: &study::Input, labels: &[String], found: &mut Vec<Diagnostic>) -> Option<Option<f64>> {
    let Some(study::Base::Label(base)) = &input.base else { return Some(None) };
    let at = labels.iter().position(|label| *label == base.value);
    if at.is_none() {
        found.push(
            Diagnostic::error("base-unknown", format!("the base \"{}\" is not among the labels", base.value))
                .at(base.span.clone(), "")
                .hint(format!("one of: {}", labels.join(", "))),
        );
    }
    at.map(|k| Some(k as f64))
}

fn choice_base(
    values: &[f64],
    base: Option<&Spanned<f64>>,
    span: &Span,
    found: &mut Vec<Diagnostic>,
) -> Option<f64> {
    let Some(base) = base else { return values.first().copied() };
    if values.contains(&base.value) {
        return Some(base.value);
    }
    found.push(
        Diagnostic::error(
            "base-unknown",
            format!("the base {} is not among the values of the choice", base.value),
        )
        .at(base.span.clone(), "")
        .also(span.clone(), "the values"),
    );
    None
}

/// A distribution as written.
pub(super) fn distribution(
    text: &study::DistributionText,
    truncate: Option<&study::Truncate>,
    found: &mut Vec<Diagnostic>,
) -> Option<Distribution> {
    let mut parameters = Vec::new();
    for (key, parameter) in &text.parameters {
        let value = match parameter {
            Parameter::Number(x) => Value::Number(x.value),
            Parameter::List(xs, _) => Value::List(xs.iter().map(|x| x.value).collect()),
            Parameter::Name(name) => {
                found.push(
                    Diagnostic::error("not-yet", "a parameter that is itself an input cannot be sampled yet")
                        .at(name.span.clone(), "a name")
                        .hint("give a number"),
                );
                return None;
            }
        };
        parameters.push((key.value.clone(), value));
    }
    let cut = truncate.map(|t| (t.min.as_ref().map(|x| x.value), t.max.as_ref().map(|x| x.value)));
    let made = Distribution::build(&text.kind.value, &parameters, cut);
    let mut places: Vec<(&str, Span)> =
        text.parameters.iter().map(|(key, value)| (key.value.as_str(), place_of(key, value))).collect();
    if let Some(truncate) = truncate {
        places.push(("truncate", truncate.span.clone()));
    }
    built(made, &text.span, &places, found)
}

fn place_of(key: &Spanned<String>, value: &Parameter) -> Span {
    let end = match value {
        Parameter::Number(x) => x.span.end,
        Parameter::Name(x) => x.span.end,
        Parameter::List(_, span) => span.end,
    };
    key.span.start..end
}

/// The distribution, or an error at the parameters that are at fault.
fn built(
    made: Result<Distribution, ParameterError>,
    whole: &Span,
    places: &[(&str, Span)],
    found: &mut Vec<Diagnostic>,
) -> Option<Distribution> {
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
fn caution(text: &study::DistributionText, drawn: &Distribution, found: &mut Vec<Diagnostic>) {
    for caution in drawn.cautions() {
        found.push(Diagnostic::caution(caution.id, caution.text).at(text.span.clone(), ""));
    }
}

/// The paths of a study, those that are sound.
pub(super) fn check_paths(study: &study::Study, units: &UnitTable, found: &mut Vec<Diagnostic>) -> Vec<Path> {
    study.paths.iter().filter_map(|path| check_path(path, study, units, found)).collect()
}

fn check_path(
    path: &study::Path,
    study: &study::Study,
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Option<Path> {
    let unit = unit_of(path.unit.as_ref(), units, found)?;
    let start = quantity(&path.start, found);
    let growth = match &path.growth {
        Some(growth) => quantity(growth, found),
        None => Some(Quantity::Known(0.0)),
    };
    let changes: Option<Vec<ChangeSpec>> =
        path.changes.iter().map(|change| check_change(change, found)).collect();
    let spec = PathSpec {
        name: path.name.value.clone(),
        years: study.years.value,
        first_year: study.first_year.value,
        start: start?,
        level: None,
        growth: growth?,
        drift: match path.drift {
            study::Drift::Mean => Drift::Mean,
            study::Drift::Median => Drift::Median,
        },
        process: process(path),
        changes: changes?,
    };
    let start = path.base.as_ref().map_or_else(|| spec.start.base(), |base| base.value);
    let course = spec.base_course(start, spec.growth.base());
    Some(Path {
        about: about(&path.name, &path.about),
        unit,
        spec,
        start,
        course,
        floor: path.floor.as_ref().map(|x| x.value),
        ceiling: path.ceiling.as_ref().map(|x| x.value),
    })
}

fn process(path: &study::Path) -> Process {
    // The reader has seen to it that each process has the figures it needs.
    let number = |x: &Option<Spanned<f64>>| x.as_ref().map_or(0.0, |x| x.value);
    let volatility = number(&path.volatility);
    match path.process.value {
        study::Process::SteadyGrowth => Process::SteadyGrowth,
        study::Process::RandomWalk => Process::RandomWalk { volatility },
        study::Process::MeanReverting => {
            Process::MeanReverting { half_life: number(&path.half_life), volatility }
        }
        study::Process::Independent => Process::Independent { volatility },
    }
}

fn quantity(value: &NumberOrDistribution, found: &mut Vec<Diagnostic>) -> Option<Quantity> {
    match value {
        NumberOrDistribution::Number(x) => Some(Quantity::Known(x.value)),
        NumberOrDistribution::Distribution(text) => distribution(text, None, found).map(Quantity::Uncertain),
    }
}

fn check_change(change: &study::Change, found: &mut Vec<Diagnostic>) -> Option<ChangeSpec> {
    let year = quantity(&change.year, found);
    let scale = quantity(&change.scale, found);
    let chance = change.chance.as_ref().map_or(1.0, |c| c.value);
    Some(ChangeSpec { chance, year: year?, scale: scale? })
}
