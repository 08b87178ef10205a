//! Distributions as written in a study, made ready to draw from.

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::model::data::{Data, MOST_MIXTURES, data_error};
use crate::model::names::{Named, suggest};
use crate::sampling::{Distribution, ParameterError, Value};
use crate::study::{self, Parameter};

/// A distribution as written.
pub(super) fn distribution(
    text: &study::DistributionText,
    truncate: Option<&study::Truncate>,
    study: &study::Study,
    data: &Data<'_>,
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
            Parameter::Text(text) => parameters.push((key.value.clone(), Value::Word(text.value.clone()))),
            Parameter::Parts(_, span) if !data.one_more_mixture() => {
                let message = format!("the study has more than {MOST_MIXTURES} mixtures");
                found.push(
                    Diagnostic::error("too-many", message).at(span.clone(), "").hint("split the study"),
                );
            }
            Parameter::Parts(parts, _) => {
                let made = parts.iter().filter_map(|part| {
                    let made = distribution(&part.distribution, part.truncate.as_ref(), study, data, found)?;
                    Some((part.weight.value, made))
                });
                let made: Vec<(f64, Distribution)> = made.collect();
                parameters.push((key.value.clone(), Value::Parts(made)));
            }
        }
    }
    found.extend(read_column(text, data, &mut parameters));
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

/// Puts a column's numbers in the place of `file` and `column`.
fn read_column(
    text: &study::DistributionText,
    data: &Data<'_>,
    parameters: &mut Vec<(String, Value)>,
) -> Option<Diagnostic> {
    let given = |wanted: &str| {
        text.parameters.iter().find_map(|(key, parameter)| match parameter {
            Parameter::Text(text) if key.value == wanted => Some(text),
            _ => None,
        })
    };
    // What is missing or beside the point is told by the distribution.
    let (file, column) = (given("file")?, given("column")?);
    if parameters.iter().any(|(key, _)| key == "values") {
        return None;
    }
    let columns = match data.columns(&file.value, &file.span) {
        Ok(columns) => columns,
        Err(error) => return Some(*error),
    };
    match columns.numbers(&column.value, true) {
        Ok(numbers) => {
            parameters.retain(|(key, _)| key != "file" && key != "column");
            parameters.push(("values".to_owned(), Value::List(numbers)));
            None
        }
        Err(error) => Some(data_error(&error, &column.span)),
    }
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
        return Diagnostic::error(
            "parameter-name",
            "parameters of a mixture's parts, of a path's and of a change's distributions are numbers",
        )
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

pub(super) fn place_of(key: &Spanned<String>, value: &Parameter) -> Span {
    let end = match value {
        Parameter::Number(x) => x.span.end,
        Parameter::Name(x) => x.span.end,
        Parameter::Text(x) => x.span.end,
        Parameter::List(_, span) | Parameter::Parts(_, span) => span.end,
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
        Ok(made) => Some(made),
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
