//! `until`: the figure whose precision ends the runs.

use crate::diagnostic::Diagnostic;
use crate::formula::types::Kind;
use crate::model::levers::result_named;
use crate::model::{UntilWish, Working};
use crate::sampling::Method;
use crate::study::{Sought, Study, Until, Within};
use crate::units::{Unit, UnitTable};

/// Fewest runs that may be the most: two looks are needed.
const LEAST_RUNS: u64 = 4096;

/// Fewest replicates whose scatter can be trusted.
const LEAST_REPLICATES: u32 = 8;

/// The wish, if there is one that can be met; `workings` is empty where formulas are broken.
pub(super) fn check(
    study: &Study,
    workings: &[Working],
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Option<UntilWish> {
    let until = study.sampling.until.as_ref()?;
    enough_runs(study, until, found);
    let result = result_named(until.result.as_ref(), study, found)?;
    let working = workings.get(study.workings.len() + result)?;
    let def = study.results.get(result)?;
    let statistic = until.statistic.value;
    let place = until.statistic.span.clone();
    let refused = match (&working.formula.ty.kind, statistic) {
        (Kind::YesNo, Sought::Mean | Sought::Percentile(_)) => Some((
            "is yes or no: it has no mean and no percentiles",
            "ask for its share: statistic = \"share\"",
        )),
        (Kind::Years, Sought::Mean) => Some((
            "may be never, and never has no mean",
            "ask for a percentile, such as statistic = \"P50\", or for the share",
        )),
        (Kind::Number { .. }, Sought::Share) if def.at_least.is_none() && def.at_most.is_none() => Some((
            "has no threshold whose share could be asked",
            "give the result `at_least = ..` or `at_most = ..`",
        )),
        _ => None,
    };
    if let Some((why, hint)) = refused {
        let name = &working.about.name;
        found.push(
            Diagnostic::error("until-statistic", format!("the result `{name}` {why}"))
                .at(place, "")
                .also(def.working.name.span.clone(), "the result")
                .hint(hint),
        );
        return None;
    }
    let unit = if statistic == Sought::Share { Unit::plain() } else { working.unit.clone() };
    let within = within(until, &unit, units, found)?;
    if statistic == Sought::Share && within >= 0.5 {
        found.push(
            Diagnostic::error("out-of-range", "a share is between 0 and 1: this asks for nothing")
                .at(until.within.span.clone(), "")
                .hint("such as within = 0.005, or within = \"0.5 %\""),
        );
        return None;
    }
    Some(UntilWish { result, statistic, within })
}

fn enough_runs(study: &Study, until: &Until, found: &mut Vec<Diagnostic>) {
    let sampling = &study.sampling;
    if let Some(runs) = sampling.runs.as_ref().filter(|runs| runs.value < LEAST_RUNS) {
        found.push(
            Diagnostic::error(
                "out-of-range",
                format!("with `until`, `runs` is the most and at least {LEAST_RUNS}"),
            )
            .at(runs.span.clone(), "")
            .also(until.within.span.clone(), "the precision wanted")
            .hint("leave `runs` out, or leave `until` out"),
        );
    }
    let random = sampling.method.as_ref().is_some_and(|m| m.value == Method::Random);
    if let Some(replicates) = sampling.replicates.as_ref().filter(|r| !random && r.value < LEAST_REPLICATES) {
        found.push(
            Diagnostic::error(
                "out-of-range",
                format!("a precision is judged from {LEAST_REPLICATES} replicates or more"),
            )
            .at(replicates.span.clone(), "")
            .also(until.within.span.clone(), "the precision wanted")
            .hint("leave `replicates` out: 8 are made"),
        );
    }
}

/// The wanted half-width in the result's own unit. A difference of temperatures has no zero point.
fn within(until: &Until, unit: &Unit, units: &UnitTable, found: &mut Vec<Diagnostic>) -> Option<f64> {
    let (value, text) = match &until.within.value {
        Within::Number(value) => return Some(*value),
        Within::Quantity(value, text) => (*value, text),
    };
    let span = until.within.span.clone();
    let given = match units.parse(text) {
        Ok(given) => given,
        Err(error) => {
            let wrong = Diagnostic::error(error.id, error.message.clone()).at(span, "");
            found.push(if error.hint.is_empty() { wrong } else { wrong.hint(error.hint.clone()) });
            return None;
        }
    };
    if given.dimension != unit.dimension {
        let wanted =
            if unit.text.is_empty() { "a plain number or %".to_owned() } else { format!("in {}", unit.text) };
        found.push(
            Diagnostic::error("unit-mismatch", format!("`within` is in {text}, but the figure is {wanted}"))
                .at(span, "")
                .hint("give it in a unit of the same kind"),
        );
        return None;
    }
    let converted = value * (given.scale / unit.scale);
    Some(converted).filter(|x| x.is_finite() && *x > 0.0).or(Some(value))
}
