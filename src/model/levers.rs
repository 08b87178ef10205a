//! The headline, and the break-even questions.

use crate::diagnostic::{Diagnostic, Spanned};
use crate::formula::types::{Kind, Shape};
use crate::model::names::{Named, suggest};
use crate::model::{BreakEvenItem, CHANCES, Input, Path, PathTable, Working};
use crate::study::{BreakEvenDef, Study};

/// Index of the headline among the results: the first unless the study says otherwise.
pub(super) fn headline(study: &Study) -> usize {
    let named = study.headline.as_ref();
    named.and_then(|name| study.results.iter().position(|r| r.working.name.value == name.value)).unwrap_or(0)
}

/// The break-even questions; `workings` is empty where formulas are broken, and then only names are checked.
pub(super) fn check(
    study: &Study,
    inputs: &[Input],
    paths: &[Path],
    workings: &[Working],
    found: &mut Vec<Diagnostic>,
) -> Vec<BreakEvenItem> {
    let mut items = Vec::new();
    for def in &study.break_even {
        let of = movable(&def.of, study, inputs, paths, found);
        let against: Vec<Option<String>> =
            def.against.iter().map(|name| movable(name, study, inputs, paths, found)).collect();
        if let Some(against) = def.against.iter().find(|against| against.value == def.of.value) {
            found.push(
                Diagnostic::error("same-lever", format!("`{}` cannot be laid against itself", against.value))
                    .at(against.span.clone(), "")
                    .also(def.of.span.clone(), "the lever")
                    .hint("name another input, or leave `against` out"),
            );
        }
        let Some(result) = result_named(def.result.as_ref(), study, found) else { continue };
        needs_threshold(def, result, study, workings, found);
        if let (Some(of), Some(against)) = (of, against.into_iter().collect()) {
            let range = (def.from.as_ref().map(|x| x.value), def.to.as_ref().map(|x| x.value));
            let chances = if def.chances.is_empty() {
                CHANCES.to_vec()
            } else {
                def.chances.iter().map(|chance| chance.value).collect()
            };
            items.push(BreakEvenItem { of, result, against, range, chances, refined: def.refined });
        }
    }
    items
}

/// Index of the result that is named, of the headline if none is.
pub(super) fn result_named(
    name: Option<&Spanned<String>>,
    study: &Study,
    found: &mut Vec<Diagnostic>,
) -> Option<usize> {
    let Some(name) = name else { return Some(headline(study)) };
    let at = study.results.iter().position(|r| r.working.name.value == name.value);
    if at.is_none() {
        let error = Diagnostic::error("result-unknown", format!("no result is called `{}`", name.value))
            .at(name.span.clone(), "");
        let results = study.results.iter().map(|r| r.working.name.value.as_str()).collect();
        found.push(suggest(error, &name.value, results, "results"));
    }
    at
}

fn needs_threshold(
    def: &BreakEvenDef,
    result: usize,
    study: &Study,
    workings: &[Working],
    found: &mut Vec<Diagnostic>,
) {
    let (Some(working), Some(text)) =
        (workings.get(study.workings.len() + result), study.results.get(result))
    else {
        return;
    };
    let plain_number = matches!(working.formula.ty.kind, Kind::Number { .. });
    if plain_number && text.at_least.is_none() && text.at_most.is_none() {
        let place = def.result.as_ref().map_or(def.span.clone(), |name| name.span.clone());
        found.push(
            Diagnostic::error(
                "no-threshold",
                format!("the result `{}` has no threshold to cross", working.about.name),
            )
            .at(place, "")
            .also(text.working.name.span.clone(), "the result")
            .hint("give the result `at_least = ..` or `at_most = ..`"),
        );
    }
}

/// Why a path has no level of its first year that could be moved.
pub(crate) fn still(path: &Path) -> Option<&'static str> {
    match &path.table {
        Some(PathTable::Scenarios(_)) => Some("follows one of several columns"),
        Some(PathTable::Years(_)) if path.start == 0.0 => Some("is a table that begins with 0"),
        Some(PathTable::Years(_)) if path.unit.point => Some("is a table of temperatures"),
        _ => None,
    }
}

/// Name of an input with one number, or of a path, that can be moved.
pub(super) fn movable(
    name: &Spanned<String>,
    study: &Study,
    inputs: &[Input],
    paths: &[Path],
    found: &mut Vec<Diagnostic>,
) -> Option<String> {
    if let Some(path) = paths.iter().find(|p| p.about.name == name.value) {
        let Some(why) = still(path) else { return Some(name.value.clone()) };
        found.push(
            Diagnostic::error(
                "not-movable",
                format!("`{}` {why}: it cannot be moved up and down", name.value),
            )
            .at(name.span.clone(), "")
            .hint("multiply it by an input in the workings, and move that input"),
        );
        return None;
    }
    if let Some(input) = inputs.iter().find(|i| i.about.name == name.value) {
        if let Some(given) = input.given() {
            let parameters: Vec<String> = given.names().map(|n| format!("`{n}`")).collect();
            let message = format!(
                "`{}` follows {}: it cannot be moved by itself",
                name.value,
                parameters.join(" and ")
            );
            found.push(
                Diagnostic::error("not-movable", message)
                    .at(name.span.clone(), "")
                    .hint(format!("move {}", parameters.join(" or "))),
            );
            return None;
        }
        // Of an input that changes by year the value of the first year is moved.
        let why = match (&input.ty.kind, input.own_shape()) {
            (Kind::Number { .. }, Shape::Single) => return Some(name.value.clone()),
            (Kind::Number { .. }, _) => "has a value for each month",
            _ => "is a list of labels",
        };
        found.push(
            Diagnostic::error(
                "not-movable",
                format!("`{}` {why}: it cannot be moved up and down", name.value),
            )
            .at(name.span.clone(), "")
            .hint("a lever is an input that is one number, or a path"),
        );
        return None;
    }
    let named = Named::of(study);
    // What is there and has an error of its own is not told again.
    if named.is_input(&name.value) || named.is_path(&name.value) {
        return None;
    }
    let what = match named.section(&name.value) {
        Some(section) => format!("`{}` is in {section}: only inputs and paths can be moved", name.value),
        None => format!("no input or path is called `{}`", name.value),
    };
    let error = Diagnostic::error("name-unknown", what).at(name.span.clone(), "");
    found.push(suggest(error, &name.value, named.movable(), "inputs and paths"));
    None
}
