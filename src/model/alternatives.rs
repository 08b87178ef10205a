//! Alternatives: the study with some inputs and workings set otherwise, checked as far as the study itself.

use std::collections::BTreeMap;

use crate::diagnostic::{Diagnostic, Severity, Spanned, has_errors};
use crate::formula::types::{Kind, Shape};
use crate::model::check::check_once;
use crate::model::data::Data;
use crate::model::names::{Named, suggest};
use crate::model::{AlternativeItem, Input, InputValue, Model};
use crate::study::{Alternative, Base, Study};

/// Most alternatives of a study; each is checked as a study of its own.
const MAX_ALTERNATIVES: usize = 20;

/// The alternatives: names, kinds and values that they set, and their formulas laid over the study.
pub(super) fn check(
    study: &Study,
    data: &Data<'_>,
    model: &Model,
    found: &mut Vec<Diagnostic>,
) -> Vec<AlternativeItem> {
    let mut items = Vec::new();
    if let Some(first_over) = study.alternatives.get(MAX_ALTERNATIVES) {
        found.push(
            Diagnostic::error("too-many", format!("a study has at most {MAX_ALTERNATIVES} alternatives"))
                .at(first_over.name.span.clone(), format!("there are {}", study.alternatives.len())),
        );
        return items;
    }
    for alternative in &study.alternatives {
        let before = found.len();
        for (name, value) in &alternative.inputs {
            found.extend(input_error(name, value, study, model));
        }
        for (name, _) in &alternative.workings {
            found.extend(working_error(name, study));
        }
        if has_errors(&found[before..]) {
            continue;
        }
        let formulas = laid_over(alternative, study, data, model, found);
        if !has_errors(&found[before..]) {
            items.push(item(alternative, model, formulas));
        }
    }
    items
}

fn item(alternative: &Alternative, model: &Model, formulas: Option<Model>) -> AlternativeItem {
    let value = |name: &str, value: &Base| match value {
        Base::Number(number) => number.value,
        Base::Label(label) => {
            let kind = model.inputs.iter().find(|i| i.about.name == name).map(|i| &i.ty.kind);
            let labels = if let Some(Kind::Label(labels)) = kind { &labels[..] } else { &[] };
            labels.iter().position(|l| *l == label.value).unwrap_or(0) as f64
        }
    };
    let values: BTreeMap<String, f64> =
        alternative.inputs.iter().map(|(name, v)| (name.value.clone(), value(&name.value, v))).collect();
    let name = alternative.name.value.clone();
    let label = alternative.label.as_ref().map_or_else(|| name.replace('_', " "), |l| l.value.clone());
    AlternativeItem { name, label, values, formulas: formulas.map(Box::new) }
}

fn input_error(name: &Spanned<String>, value: &Base, study: &Study, model: &Model) -> Option<Diagnostic> {
    let error = |what: String| Diagnostic::error("alternative", what).at(name.span.clone(), "");
    let Some(input) = model.inputs.iter().find(|i| i.about.name == name.value) else {
        let named = Named::of(study);
        let inputs = study.inputs.iter().map(|i| i.name.value.as_str()).collect();
        return Some(match named.section(&name.value) {
            Some("paths") => error(format!("`{}` is a path, which an alternative cannot set", name.value))
                .hint("multiply it by an input in the workings, and set that input"),
            Some(section) => error(format!("`{}` is in {section}, not an input", name.value))
                .hint("set workings under `workings`"),
            None => {
                suggest(error(format!("no input is called `{}`", name.value)), &name.value, inputs, "inputs")
            }
        });
    };
    let wrong = |what: String, span: &crate::diagnostic::Span| {
        Diagnostic::error("alternative", what).at(span.clone(), "")
    };
    match (&input.ty.kind, value) {
        (Kind::Label(labels), Base::Label(label)) if !labels.contains(&label.value) => {
            let error = wrong(format!("`{}` has no label \"{}\"", name.value, label.value), &label.span);
            Some(suggest(error, &label.value, labels.iter().map(String::as_str).collect(), "labels"))
        }
        (Kind::Label(labels), Base::Number(number)) => Some(
            wrong(format!("`{}` is a label, not a number", name.value), &number.span)
                .hint(format!("one of \"{}\"", labels.join("\", \""))),
        ),
        (Kind::Label(_), Base::Label(_)) => None,
        (_, Base::Label(label)) => Some(
            wrong(format!("`{}` is a number, not a label", name.value), &label.span).hint(number_hint(input)),
        ),
        (_, Base::Number(number)) if input.own_shape() != Shape::Single => Some(
            wrong(
                format!("`{}` has twelve values: one number cannot stand for them", name.value),
                &number.span,
            )
            .hint("multiply it by an input in the workings, and set that input"),
        ),
        (_, Base::Number(_)) => None,
    }
}

fn number_hint(input: &Input) -> String {
    let base = input.base.first().copied().unwrap_or(0.0);
    let unit = if input.unit.text.is_empty() { String::new() } else { format!(" (in {})", input.unit.text) };
    let base = if matches!(input.value, InputValue::Known) {
        format!("; it is {base} otherwise")
    } else {
        String::new()
    };
    format!("give a number{unit}{base}")
}

fn working_error(name: &Spanned<String>, study: &Study) -> Option<Diagnostic> {
    let named = Named::of(study);
    let error = |what: String| Diagnostic::error("alternative", what).at(name.span.clone(), "");
    match named.section(&name.value) {
        Some("workings" | "results") => None,
        Some("inputs") => Some(
            error(format!("`{}` is an input, not a working", name.value))
                .hint("set inputs under `inputs`, to a value"),
        ),
        Some(_) => Some(error(format!("`{}` is a path, not a working", name.value))),
        None => {
            let workings = study.workings.iter().chain(study.results.iter().map(|r| &r.working));
            let error = error(format!("no working or result is called `{}`", name.value));
            Some(suggest(
                error,
                &name.value,
                workings.map(|w| w.name.value.as_str()).collect(),
                "workings and results",
            ))
        }
    }
}

/// Checks the study with the alternative's formulas in place of its own; inputs keep their kinds and units.
fn laid_over(
    alternative: &Alternative,
    study: &Study,
    data: &Data<'_>,
    model: &Model,
    found: &mut Vec<Diagnostic>,
) -> Option<Model> {
    if alternative.workings.is_empty() {
        return None;
    }
    let mut other = study.clone();
    other.alternatives.clear();
    for (name, formula) in &alternative.workings {
        let results = other.results.iter_mut().map(|r| &mut r.working);
        if let Some(working) = other.workings.iter_mut().chain(results).find(|w| w.name.value == name.value) {
            working.formula = formula.clone();
        }
    }
    let mut more = Vec::new();
    let laid = check_once(&other, data, &mut more);
    // Cautions would only repeat those of the study itself.
    found.extend(more.into_iter().filter(|d| d.severity == Severity::Error));
    let laid = laid?;
    for (name, formula) in &alternative.workings {
        let kind = |m: &Model| {
            m.workings
                .iter()
                .find(|w| w.about.name == name.value)
                .map(|w| std::mem::discriminant(&w.formula.ty.kind))
        };
        if kind(&laid) != kind(model) {
            found.push(
                Diagnostic::error(
                    "alternative",
                    format!("this makes `{}` something else than it is in the study", name.value),
                )
                .at(formula.span.clone(), "")
                .hint("a number stays a number, a payback a payback, yes or no stays so"),
            );
        }
    }
    Some(laid)
}
