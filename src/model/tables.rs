//! Values of a path by year, from a list or from columns of a data file.

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::formula::types::{Kind, Shape, Type};
use crate::model::data::{Data, data_error};
use crate::model::distributions::built;
use crate::model::names::suggest;
use crate::model::{About, Input, InputValue, PathTable};
use crate::sampling::Distribution;
use crate::study::data::Columns;
use crate::study::{self, Process, TableText};
use crate::units::Unit;

/// Most scenarios: without weights each is answered by itself.
const MOST_SCENARIOS: usize = 100;
/// A column of this name says which year a row is of; it is never a scenario.
const YEAR: &str = "year";

/// The table of a path; of scenarios with the input that says which.
pub(super) fn check(
    text: &TableText,
    path: &study::Path,
    about: &About,
    study: &study::Study,
    data: &Data<'_>,
    found: &mut Vec<Diagnostic>,
) -> Option<(PathTable, Option<Input>)> {
    let made = match (path.process.value, &text.values, &text.file) {
        (Process::Years, Some((values, span)), _) => {
            let values: Vec<f64> = values.iter().map(|v| v.value).collect();
            one_a_year(values.len(), "`values`", span, study).map(|()| (PathTable::Years(values), None))
        }
        (Process::Years, None, Some(file)) => of_column(text, file, study, data).map(|t| (t, None)),
        (_, _, Some(file)) => scenarios(text, file, path, about, study, data).map(|(t, s)| (t, Some(s))),
        _ => return None,
    };
    made.map_err(|error| found.push(*error)).ok()
}

type Sound<T> = Result<T, Box<Diagnostic>>;

fn one_a_year(n: usize, what: &str, place: &Span, study: &study::Study) -> Sound<()> {
    let years = study.years.value;
    if n == years {
        return Ok(());
    }
    let first = study.first_year.value;
    // OK because years are at most 100.
    let last = first + years as i64 - 1;
    let error =
        Diagnostic::error("wrong-length", format!("{what} must have a value for each of {years} years"))
            .at(place.clone(), format!("these are {n}"))
            .hint(format!("the study goes from {first} to {last}"));
    Err(Box::new(error))
}

fn of_column(
    text: &TableText,
    file: &Spanned<String>,
    study: &study::Study,
    data: &Data<'_>,
) -> Sound<PathTable> {
    let columns = data.columns(&file.value, &file.span)?;
    let Some(column) = &text.column else {
        return Err(Box::new(Diagnostic::error("missing-key", "no column")));
    };
    by_year(&columns, &column.value, &file.value, &column.span, study).map(PathTable::Years)
}

/// A number for each year of the study; where the file has a column of years, they must be those of the study.
fn by_year(columns: &Columns, name: &str, file: &str, place: &Span, study: &study::Study) -> Sound<Vec<f64>> {
    let values = columns.numbers(name, false).map_err(|error| Box::new(data_error(&error, place)))?;
    one_a_year(values.len(), &format!("column `{name}` of {file}"), place, study)?;
    if columns.text(YEAR).is_some() {
        let years = columns.numbers(YEAR, false).map_err(|error| Box::new(data_error(&error, place)))?;
        let expected = |k: usize| study.first_year.value as f64 + k as f64;
        if let Some((k, year)) = years.iter().enumerate().find(|(k, year)| **year != expected(*k)) {
            let message =
                format!("row {} of {file} is of {year}, where the study is in {}", k + 1, expected(k));
            let error = Diagnostic::error("data-file", message).at(place.clone(), "");
            return Err(Box::new(
                error.hint("a row for each year of the study, in order, from its first year on"),
            ));
        }
    }
    Ok(values)
}

fn scenarios(
    text: &TableText,
    file: &Spanned<String>,
    path: &study::Path,
    about: &About,
    study: &study::Study,
    data: &Data<'_>,
) -> Sound<(PathTable, Input)> {
    let columns = data.columns(&file.value, &file.span)?;
    let named: Vec<(String, Span)> = match &text.columns {
        Some(names) => names.iter().map(|n| (n.value.clone(), n.span.clone())).collect(),
        None => {
            let others = columns.names.iter().filter(|name| *name != YEAR);
            others.map(|name| (name.clone(), file.span.clone())).collect()
        }
    };
    let list = text.columns.as_ref().and_then(|c| Some(c.first()?.span.start..c.last()?.span.end));
    let list = list.unwrap_or_else(|| file.span.clone());
    if named.is_empty() || named.len() > MOST_SCENARIOS {
        let message = format!("{} has {} columns that could be scenarios", file.value, named.len());
        let error = Diagnostic::error("wrong-length", message).at(list, "");
        return Err(Box::new(
            error.hint(format!("from 1 to {MOST_SCENARIOS}; `columns` picks some of them")),
        ));
    }
    if let Some((_, span)) = named.iter().find(|(name, _)| name.trim().is_empty()) {
        let error = Diagnostic::error("data-file", format!("a column of {} has no name", file.value));
        return Err(Box::new(
            error.at(span.clone(), "").hint("name it in the first line, or pick with `columns`"),
        ));
    }
    let values: Vec<Vec<f64>> = named
        .iter()
        .map(|(name, span)| by_year(&columns, name, &file.value, span, study))
        .collect::<Sound<_>>()?;
    let labels: Vec<String> = named.into_iter().map(|(name, _)| name).collect();
    let scenario = which(text, path, about, labels)?;
    Ok((PathTable::Scenarios(values), scenario))
}

/// The input that says which scenario a run follows: drawn with weights, a choice without.
fn which(text: &TableText, path: &study::Path, about: &About, labels: Vec<String>) -> Sound<Input> {
    let value = match &text.weights {
        None => InputValue::Choice((0..labels.len()).map(|k| k as f64).collect()),
        Some((weights, span)) => {
            if weights.len() != labels.len() {
                let message = format!("`weights` needs one for each of {} scenarios", labels.len());
                let error = Diagnostic::error("wrong-length", message)
                    .at(span.clone(), format!("these are {}", weights.len()))
                    .hint(format!("the scenarios are `{}`", labels.join("`, `")));
                return Err(Box::new(error));
            }
            let weights: Vec<f64> = weights.iter().map(|w| w.value).collect();
            let mut found = Vec::new();
            match built(Distribution::labels(&weights), span, &[], &mut found) {
                Some(drawn) => InputValue::Drawn(drawn),
                None => return Err(Box::new(found.remove(0))),
            }
        }
    };
    let base = match (&text.base, &value) {
        (Some(base), _) => match labels.iter().position(|label| *label == base.value) {
            Some(at) => at as f64,
            None => {
                let message = format!("`{}` has no scenario \"{}\"", path.name.value, base.value);
                let error = Diagnostic::error("base-not-listed", message).at(base.span.clone(), "");
                let known = labels.iter().map(String::as_str).collect();
                return Err(Box::new(suggest(error, &base.value, known, "scenarios")));
            }
        },
        (None, InputValue::Drawn(drawn)) => drawn.mode(),
        (None, _) => 0.0,
    };
    Ok(Input {
        about: About {
            name: format!("{}.scenario", about.name),
            label: format!("{}: scenario", about.label),
            group: about.group.clone(),
            revealed_later: true,
            note: None,
            source: about.source.clone(),
            as_of: about.as_of.clone(),
            span: path.name.span.clone(),
        },
        unit: Unit::plain(),
        ty: Type { kind: Kind::Label(labels), shape: Shape::Single },
        value,
        base: vec![base],
        between_homes: false,
        changes: Vec::new(),
        conversion: None,
        part_of: Some(about.name.clone()),
    })
}
