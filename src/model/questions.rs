//! What more is asked of the runs: comparison, indices, measurements, conditions, claim, groups. Checked once the study
//! itself stands.

use crate::diagnostic::{Diagnostic, Spanned};
use crate::formula::types::{Kind, Shape};
use crate::model::levers::{headline, movable, result_named};
use crate::model::names::{Named, suggest};
use crate::model::{
    ComparisonItem, IndicesItem, Input, InputValue, MeasurementItem, Model, NothingIs, PromiseItem, Questions,
};
use crate::study::{Better, ComparisonDef, MeasurementDef, Nothing, Study};
use crate::units::Unit;

/// All questions of a study.
pub(super) fn check(study: &Study, model: &Model, found: &mut Vec<Diagnostic>) -> Questions {
    let named =
        |name: Option<&Spanned<String>>, found: &mut Vec<Diagnostic>| result_named(name, study, found);
    let indices = study.indices.as_ref().and_then(|def| {
        let result = named(def.result.as_ref(), found)?;
        let points = def.base_points.as_ref().map(|n| n.value);
        Some(IndicesItem { result, base_points: points, shapley: def.shapley.as_ref().map(|s| s.value) })
    });
    let groups = study.groups.iter().filter_map(|def| {
        let result = named(def.result.as_ref(), found);
        let by = uncertain(&def.by, study, model, found);
        Some((result?, by?))
    });
    let groups = groups.collect();
    Questions {
        comparison: comparison(study, model, found),
        indices,
        measurements: study.measurements.iter().filter_map(|m| measurement(m, study, model, found)).collect(),
        conditions: conditions(study, model, found),
        claim: claim(study, model, found),
        groups,
    }
}

/// A number result that courses can be compared by.
fn is_number(model: &Model, result: usize) -> bool {
    let working = model.results.get(result).map(|r| model.result_working(r));
    working.is_some_and(|w| matches!(w.formula.ty.kind, Kind::Number { point: false, .. }))
}

fn comparison(study: &Study, model: &Model, found: &mut Vec<Diagnostic>) -> Option<ComparisonItem> {
    let def = study.comparison.as_ref();
    let result =
        match def.and_then(|def| def.result.as_ref()) {
            Some(name) => {
                let result = result_named(Some(name), study, found)?;
                if !is_number(model, result) {
                    let message =
                        format!("courses cannot be compared by `{}`: it is no plain number", name.value);
                    found.push(Diagnostic::error("comparison", message).at(name.span.clone(), "").hint(
                        "name a result that is an amount, such as a net present value or a yearly cost",
                    ));
                    return None;
                }
                result
            }
            // Without a word of the study: the headline, else the first amount of money.
            None => std::iter::once(headline(study))
                .chain(0..model.results.len())
                .find(|&r| is_number(model, r))?,
        };
    let item = &model.results[result];
    let higher = match item.better {
        Some(better) => better == Better::Higher,
        None => item.at_most.is_none(),
    };
    let nothing = match def.and_then(|def| def.nothing.as_ref()) {
        Some(nothing) => nothing_is(nothing, study, found),
        None => by_default(model, result),
    };
    if nothing.is_none() && model.alternatives.is_empty() {
        if let Some(def) = def {
            found.push(nothing_to_compare(def));
        }
        return None;
    }
    let mut along = Vec::new();
    for name in def.map_or(&[][..], |def| &def.along) {
        along.extend(movable(name, study, &model.inputs, &model.paths, found));
    }
    let label = def.and_then(|def| def.label.as_ref()).map(|label| label.value.clone());
    let label = label.unwrap_or_else(|| match nothing {
        Some(NothingIs::Study) => "Doing nothing".to_owned(),
        _ => "As the study has it".to_owned(),
    });
    Some(ComparisonItem { result, higher, label, nothing, along })
}

fn nothing_to_compare(def: &ComparisonDef) -> Diagnostic {
    Diagnostic::error("comparison", "there is nothing to compare the study with")
        .at(def.span.clone(), "")
        .hint("add [alternatives.NAME], or say what the result is when nothing is done: nothing = 0")
}

/// A net value of money with the threshold 0 is one over doing nothing.
fn by_default(model: &Model, result: usize) -> Option<NothingIs> {
    let item = model.results.get(result)?;
    let money = model.result_working(item).unit.text == model.currency;
    (money && item.at_least == Some(0.0)).then_some(NothingIs::Value(0.0))
}

fn nothing_is(nothing: &Nothing, study: &Study, found: &mut Vec<Diagnostic>) -> Option<NothingIs> {
    match nothing {
        Nothing::Number(number) => Some(NothingIs::Value(number.value)),
        Nothing::Name(name) if name.value == "study" => Some(NothingIs::Study),
        Nothing::Name(name) => {
            let at = study.alternatives.iter().position(|a| a.name.value == name.value);
            if at.is_none() {
                let error =
                    Diagnostic::error("comparison", format!("no alternative is called `{}`", name.value))
                        .at(name.span.clone(), "a number, \"study\", or the name of an alternative");
                let known = study.alternatives.iter().map(|a| a.name.value.as_str());
                found.push(suggest(error, &name.value, known.chain(["study"]).collect(), "courses"));
            }
            at.map(NothingIs::Alternative)
        }
    }
}

/// The result that is asked, if it can fail; without a word of the study the headline, else the first that can.
fn conditions(study: &Study, model: &Model, found: &mut Vec<Diagnostic>) -> Option<usize> {
    let can_fail = |&r: &usize| {
        let item = &model.results[r];
        let number = matches!(model.result_working(item).formula.ty.kind, Kind::Number { .. });
        !number || item.at_least.is_some() || item.at_most.is_some()
    };
    let Some(def) = &study.conditions else {
        return std::iter::once(headline(study)).chain(0..model.results.len()).find(can_fail);
    };
    let result = result_named(def.result.as_ref(), study, found)?;
    if can_fail(&result) {
        return Some(result);
    }
    let name = &model.result_working(&model.results[result]).about;
    let place = def.result.as_ref().map_or(def.span.clone(), |name| name.span.clone());
    found.push(
        Diagnostic::error("no-threshold", format!("the result `{}` has no threshold to miss", name.name))
            .at(place, "")
            .also(name.span.clone(), "the result")
            .hint("give the result `at_least = ..` or `at_most = ..`"),
    );
    None
}

fn claim(study: &Study, model: &Model, found: &mut Vec<Diagnostic>) -> Vec<PromiseItem> {
    let Some(def) = &study.claim else { return Vec::new() };
    def.promises.iter().filter_map(|(name, value)| promise(name, value.value, study, model, found)).collect()
}

fn promise(
    name: &Spanned<String>,
    value: f64,
    study: &Study,
    model: &Model,
    found: &mut Vec<Diagnostic>,
) -> Option<PromiseItem> {
    let error = |what: String| Diagnostic::error("claim", what).at(name.span.clone(), "");
    if let Some(at) = model.workings.iter().position(|w| w.about.name == name.value) {
        let working = &model.workings[at];
        let years = working.formula.ty.kind == Kind::Years;
        if working.shape() != Shape::Single
            || !(years || matches!(working.formula.ty.kind, Kind::Number { .. }))
        {
            found.push(
                error(format!("`{}` is not one number", name.value))
                    .hint("a promise is about one number: reduce it with at_year, sum_years or mean_years"),
            );
            return None;
        }
        let higher = !years && !lower_is_better(model, at);
        return Some(of(&working.about, &working.unit, value, higher));
    }
    if let Some(input) = model.inputs.iter().find(|i| i.about.name == name.value) {
        if !matches!(input.ty.kind, Kind::Number { .. }) || input.own_shape() != Shape::Single {
            found.push(error(format!("`{}` is not one number", name.value)).hint("promise a number"));
            return None;
        }
        return Some(of(&input.about, &input.unit, value, true));
    }
    let named = Named::of(study);
    found.push(match named.section(&name.value) {
        Some(section) => {
            error(format!("`{}` is in {section}: it has no one value to be promised", name.value))
                .hint("promise a result, a working or an input that is one number")
        }
        None => {
            let results = study.results.iter().map(|r| &r.working).chain(&study.workings);
            let known = results.map(|w| w.name.value.as_str());
            let known = known.chain(study.inputs.iter().map(|i| i.name.value.as_str())).collect();
            let error = error(format!("no result, working or input is called `{}`", name.value));
            suggest(error, &name.value, known, "results, workings and inputs")
        }
    });
    None
}

fn of(about: &crate::model::About, unit: &Unit, value: f64, higher: bool) -> PromiseItem {
    let (name, label) = (about.name.clone(), about.label.clone());
    PromiseItem { name, label, unit: unit.clone(), value, higher }
}

/// A result that says so, or whose threshold is a most.
fn lower_is_better(model: &Model, working: usize) -> bool {
    let result = model.results.iter().find(|r| r.working == working);
    result.is_some_and(|r| r.better == Some(Better::Lower) || r.at_most.is_some())
}

fn measurement(
    def: &MeasurementDef,
    study: &Study,
    model: &Model,
    found: &mut Vec<Diagnostic>,
) -> Option<MeasurementItem> {
    let of = uncertain(&def.of, study, model, found)?;
    let input = model.inputs.iter().find(|i| i.about.name == of);
    let Some(input) = input.filter(|i| matches!(i.ty.kind, Kind::Number { .. })) else {
        found.push(
            Diagnostic::error("measurement", format!("`{of}` is no number that can be measured"))
                .at(def.of.span.clone(), "")
                .hint("name an input that is one uncertain number"),
        );
        return None;
    };
    let label = def.label.as_ref().map_or_else(|| input.about.label.clone(), |l| l.value.clone());
    let cost = def.cost.as_ref().map(|c| c.value);
    Some(MeasurementItem { label, of, observations: def.observations.value, sd: def.sd.value, cost })
}

/// Name of an input or path that is a matter of chance.
fn uncertain(
    name: &Spanned<String>,
    study: &Study,
    model: &Model,
    found: &mut Vec<Diagnostic>,
) -> Option<String> {
    if model.paths.iter().any(|p| p.about.name == name.value) {
        return Some(name.value.clone());
    }
    let error = |what: String| Diagnostic::error("not-uncertain", what).at(name.span.clone(), "");
    match model.inputs.iter().find(|i| i.about.name == name.value) {
        Some(input) if input.is_drawn() => Some(name.value.clone()),
        Some(input) => {
            found.push(
                error(format!("`{}` {}", name.value, why_certain(input))).hint("name an uncertain input"),
            );
            None
        }
        None => {
            let what = match Named::of(study).section(&name.value) {
                Some(section) => format!("`{}` is in {section}, not an input or path", name.value),
                None => format!("no input or path is called `{}`", name.value),
            };
            let error = Diagnostic::error("name-unknown", what).at(name.span.clone(), "");
            found.push(suggest(error, &name.value, Named::of(study).movable(), "inputs and paths"));
            None
        }
    }
}

fn why_certain(input: &Input) -> &'static str {
    match &input.value {
        InputValue::Choice(_) => "is a choice: every answer is given for each of its values anyway",
        _ => "is known: it is the same in every run",
    }
}
