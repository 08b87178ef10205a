//! The unit table of a study: the common units, and its own from `[units]`.

use crate::diagnostic::Diagnostic;
use crate::model::workings::inside_quotes;
use crate::study::{OwnUnit, Study};
use crate::units::{DefineError, UnitError, UnitTable};

/// The units that the study knows; what is wrong with its own goes to `found`.
pub(super) fn table(study: &Study, found: &mut Vec<Diagnostic>) -> UnitTable {
    let mut units = UnitTable::new(&study.currency.value);
    for (k, own) in study.units.iter().enumerate() {
        match units.define(&own.name.value, &own.definition.value) {
            Ok(()) => {}
            Err(DefineError::Name(_)) if says_the_same(&units, own) => {}
            Err(DefineError::Name(error)) => found.push(name_error(&units, own, &error)),
            Err(DefineError::Definition(error)) => {
                found.push(definition_error(&study.units[k..], own, &error));
            }
        }
    }
    units
}

/// Whether a unit that exists already is defined once more with its own size: a minor currency unit, say.
fn says_the_same(units: &UnitTable, own: &OwnUnit) -> bool {
    let Ok(known) = units.parse(&own.name.value) else { return false };
    let mut scratch = UnitTable::new(units.currency());
    let name = "given_here";
    let Ok(given) = scratch
        .define(name, &own.definition.value)
        .and_then(|()| scratch.parse(name).map_err(DefineError::Name))
    else {
        return false;
    };
    let near = (known.scale - given.scale).abs() <= 1e-12 * known.scale;
    known.dimension == given.dimension && known.point == given.point && near
}

fn name_error(units: &UnitTable, own: &OwnUnit, error: &UnitError) -> Diagnostic {
    let place = own.name.span.clone();
    let found = Diagnostic::error(error.id, error.message.clone()).at(place, "");
    let line = units.lines().into_iter().find(|line| line.name == own.name.value);
    match line {
        Some(line) => found.hint(format!("`{}` is {}: choose another name", line.name, line.size)),
        None => found.hint(error.hint.clone()),
    }
}

/// Units are read in order: what is defined by itself or by a later one is told as such.
fn definition_error(from_here: &[OwnUnit], own: &OwnUnit, error: &UnitError) -> Diagnostic {
    let start = inside_quotes(&own.definition);
    let unknown =
        (error.id == "unit-unknown").then(|| own.definition.value.get(error.range.clone())).flatten();
    let told = |message: String| {
        Diagnostic::error("unit-order", message).at(start + error.range.start..start + error.range.end, "")
    };
    match from_here.iter().position(|other| Some(other.name.value.as_str()) == unknown) {
        Some(0) => told(format!("`{}` is defined by itself", own.name.value))
            .hint("give its size in a unit that is known already, such as `250 L`"),
        Some(later) => told(format!("`{}` is defined further down", from_here[later].name.value))
            .also(from_here[later].name.span.clone(), "here")
            .hint("put it above: units are read in order"),
        None => error.diagnostic(start),
    }
}
