//! The unit that a working declares against the one that its formula has.

use super::types::{Kind, Typed};
use crate::diagnostic::{Diagnostic, Span};
use crate::units::{Dimension, Unit, UnitTable};

/// Checks a formula against the unit declared for its working (`None`: none declared).
/// `span` is the place of the declared unit, or of the working's name when there is none.
pub fn check_declared(
    typed: &Typed,
    unit: Option<&Unit>,
    span: &Span,
    units: &UnitTable,
    diagnostics: &mut Vec<Diagnostic>,
) {
    let plain = Unit::plain();
    let declared = unit.unwrap_or(&plain);
    let shown = |u: &Unit| if u.text.is_empty() { "a plain number".to_owned() } else { u.text.clone() };
    let (gives, hint) = match &typed.ty.kind {
        Kind::Number { dimension, point } => {
            if *dimension == declared.dimension && *point == declared.point {
                return;
            }
            let own = units.unit_for(dimension, *point);
            let hint = match (own.text.as_str(), *dimension == declared.dimension) {
                ("", _) => "leave the unit out, or mend the formula".to_owned(),
                (_, true) => "degC is a point on the scale, K a difference of two".to_owned(),
                (text, _) => format!("declare `unit = \"{text}\"`, or mend the formula"),
            };
            (shown(&own), hint)
        }
        Kind::Years if unit.is_none() || declared.dimension == Dimension::TIME => return,
        Kind::Years => {
            ("years or never".to_owned(), "declare `unit = \"yr\"`, or mend the formula".to_owned())
        }
        _ if unit.is_none() => return,
        Kind::YesNo => ("yes or no".to_owned(), "leave the unit out".to_owned()),
        Kind::Label(_) => ("a label".to_owned(), "leave the unit out".to_owned()),
    };
    let message = match unit {
        Some(unit) => format!("the formula gives {gives}, the declared unit is {}", shown(unit)),
        None => format!("the formula gives {gives}, but no unit is declared"),
    };
    let error =
        Diagnostic::error("unit-mismatch", message).at(typed.span.clone(), gives).also(span.clone(), "");
    diagnostics.push(error.hint(hint));
}
