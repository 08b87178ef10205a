//! Changes of inputs and paths: checked, their drawn parts made inputs of their own, so that whatever can be asked of
//! an input can be asked of them.

use crate::diagnostic::{Diagnostic, Span};
use crate::formula::types::{Kind, Shape, Type};
use crate::model::data::Data;
use crate::model::distributions::distribution;
use crate::model::inputs::not_for_points;
use crate::model::names::suggest;
use crate::model::{About, Change, Input, InputValue, Part};
use crate::sampling::{Distribution, Quantity, Value};
use crate::study::{self, ChangeValue, Effect, NumberOrDistribution};
use crate::units::{Unit, UnitTable};

/// Most changes of one input or path.
const MOST_CHANGES: usize = 50;

/// Whose changes they are.
pub(super) struct Owner<'a> {
    pub(super) about: &'a About,
    pub(super) unit: &'a Unit,
    pub(super) kind: &'a Kind,
    pub(super) between_homes: bool,
}

/// Gives an input its changes: from then on it has a value for each year. The parts of them that are drawn.
pub(super) fn of_input(
    texts: &[study::Change],
    input: &mut Input,
    (study, data): (&study::Study, &Data<'_>),
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Option<Vec<Input>> {
    if texts.is_empty() {
        return Some(Vec::new());
    }
    let owner = Owner {
        about: &input.about,
        unit: &input.unit,
        kind: &input.ty.kind,
        between_homes: input.between_homes,
    };
    let (changes, parts) = check_changes(texts, "change", &owner, (study, data), units, found)?;
    input.changes = changes;
    input.ty.shape = input.ty.shape.join(Shape::Yearly);
    Some(parts)
}

/// Changes in their order, with the inputs that their drawn parts are; `word` is how they are called.
pub(super) fn check_changes(
    texts: &[study::Change],
    word: &str,
    owner: &Owner<'_>,
    (study, data): (&study::Study, &Data<'_>),
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Option<(Vec<Change>, Vec<Input>)> {
    if let Some(over) = texts.get(MOST_CHANGES) {
        let message =
            format!("`{}` has {} {word}s; at most {MOST_CHANGES} are read", owner.about.name, texts.len());
        let error = Diagnostic::error("too-many", message).at(over.span.clone(), "");
        found.push(error.hint("a path with `process = \"years\"` has a value for each year"));
        return None;
    }
    let mut parts = Vec::new();
    let made: Vec<Option<Change>> = texts
        .iter()
        .enumerate()
        .map(|(k, text)| {
            let number = if texts.len() > 1 { format!(" {}", k + 1) } else { String::new() };
            let mut making = Making {
                owner,
                name: format!("{}.{word}{}", owner.about.name, k + 1),
                label: format!("{}: {word}{number}", owner.about.label),
                span: text.span.clone(),
                parts: &mut parts,
            };
            making.change(text, (study, data), units, found)
        })
        .collect();
    Some((made.into_iter().collect::<Option<_>>()?, parts))
}

/// One change being made.
struct Making<'a> {
    owner: &'a Owner<'a>,
    name: String,
    label: String,
    span: Span,
    parts: &'a mut Vec<Input>,
}

impl Making<'_> {
    fn change(
        &mut self,
        text: &study::Change,
        (study, data): (&study::Study, &Data<'_>),
        units: &UnitTable,
        found: &mut Vec<Diagnostic>,
    ) -> Option<Change> {
        let effect = text.effect.value;
        let year = quantity(&text.year, (study, data), found);
        let by = self.value_of(text, (study, data), found);
        let (year, by) = (year?, by?);
        found.extend(never_or_always(text, &year, study));
        let plain = Unit::plain();
        let comes = self.comes(text.chance.as_ref().map_or(1.0, |chance| chance.value))?;
        let year = self.part("year", &plain, "year", year);
        let difference = units.unit_for(&self.owner.unit.dimension, false);
        let (unit, words) = match effect {
            Effect::Scale => (&plain, "factor"),
            Effect::To => (self.owner.unit, "new value"),
            // A difference of two temperatures is no point on the scale.
            Effect::Add if self.owner.unit.point => (&difference, "amount added"),
            Effect::Add => (self.owner.unit, "amount added"),
            Effect::AtMost => (self.owner.unit, "highest value"),
            Effect::AtLeast => (self.owner.unit, "lowest value"),
        };
        let by = self.part(effect.key(), unit, words, by);
        Some(Change { comes, year, effect, by })
    }

    /// Whether it comes: known where the chance is 0 or 1.
    fn comes(&mut self, chance: f64) -> Option<Part> {
        if chance <= 0.0 || chance >= 1.0 {
            return Some(Part::Known(if chance > 0.0 { 1.0 } else { 0.0 }));
        }
        let coin = Distribution::build("bernoulli", &[("chance".to_owned(), Value::Number(chance))], None);
        let base = if chance >= 0.5 { 1.0 } else { 0.0 };
        let unit = Unit::plain();
        Some(self.input("chance", &unit, " comes", InputValue::Drawn(coin.ok()?), base))
    }

    fn part(&mut self, suffix: &str, unit: &Unit, words: &str, quantity: Quantity) -> Part {
        match quantity {
            Quantity::Known(x) => Part::Known(x),
            Quantity::Uncertain(drawn) => {
                let base = drawn.mode();
                self.input(suffix, unit, &format!(", {words}"), InputValue::Drawn(drawn), base)
            }
        }
    }

    fn input(&mut self, suffix: &str, unit: &Unit, words: &str, value: InputValue, base: f64) -> Part {
        let name = format!("{}.{suffix}", self.name);
        let kind = Kind::Number { dimension: unit.dimension, point: unit.point };
        self.parts.push(Input {
            about: About {
                name: name.clone(),
                label: format!("{}{words}", self.label),
                group: self.owner.about.group.clone(),
                revealed_later: true,
                note: None,
                source: self.owner.about.source.clone(),
                as_of: self.owner.about.as_of.clone(),
                span: self.span.clone(),
            },
            unit: unit.clone(),
            ty: Type { kind, shape: Shape::Single },
            value,
            base: vec![base],
            between_homes: self.owner.between_homes,
            changes: Vec::new(),
            conversion: None,
            part_of: Some(self.owner.about.name.clone()),
        });
        Part::Input(name)
    }

    /// By how much, or to what; a label as its index.
    fn value_of(
        &self,
        text: &study::Change,
        (study, data): (&study::Study, &Data<'_>),
        found: &mut Vec<Diagnostic>,
    ) -> Option<Quantity> {
        let (effect, name) = (text.effect.value, &self.owner.about.name);
        let place = text.effect.span.clone();
        match (self.owner.kind, &text.by) {
            (Kind::Label(labels), ChangeValue::Label(label)) => {
                let at = labels.iter().position(|l| *l == label.value);
                if at.is_none() {
                    let message = format!("`{name}` has no label \"{}\"", label.value);
                    let error = Diagnostic::error("change-label", message).at(label.span.clone(), "");
                    found.push(suggest(
                        error,
                        &label.value,
                        labels.iter().map(String::as_str).collect(),
                        "labels",
                    ));
                }
                at.map(|k| Quantity::Known(k as f64))
            }
            (Kind::Label(labels), ChangeValue::Number(_)) => {
                let message = format!("`{name}` is a label: a change puts another label in its place");
                let error = Diagnostic::error("change-label", message).at(place, "");
                let to = labels.last().map_or("", String::as_str);
                found.push(error.hint(format!("such as to = \"{to}\"")));
                None
            }
            (_, ChangeValue::Label(label)) => {
                let message = format!("`{name}` is a number, not a label");
                let error = Diagnostic::error("change-label", message).at(label.span.clone(), "");
                found.push(error.hint("give a number or a distribution, such as to = 0.12"));
                None
            }
            (_, ChangeValue::Number(by)) => {
                if effect == Effect::Scale && self.owner.unit.point {
                    let message = "a temperature in degC cannot be scaled: its zero is a convention";
                    let error = Diagnostic::error("temperature-point", message).at(place.clone(), "");
                    found
                        .push(error.hint("use `add` with a difference in K, or `to` with a new temperature"));
                    return None;
                }
                if let (true, NumberOrDistribution::Distribution(drawn)) = (effect != Effect::Add, by) {
                    not_for_points(drawn, self.owner.unit, found);
                }
                let by = quantity(by, (study, data), found)?;
                if effect == Effect::Scale && by.mode() < 0.0 {
                    let message = format!("a {} cannot scale by {}", self.word(), by.mode());
                    let error = Diagnostic::error("out-of-range", message).at(place, "");
                    found.push(error.hint("it is a factor, not below 0, such as 0.6"));
                    return None;
                }
                Some(by)
            }
        }
    }

    fn word(&self) -> &'static str {
        if self.name.contains(".step") { "step" } else { "change" }
    }
}

/// A number or a distribution as written.
pub(super) fn quantity(
    value: &NumberOrDistribution,
    (study, data): (&study::Study, &Data<'_>),
    found: &mut Vec<Diagnostic>,
) -> Option<Quantity> {
    match value {
        NumberOrDistribution::Number(x) => Some(Quantity::Known(x.value)),
        NumberOrDistribution::Distribution(text) => {
            distribution(text, None, study, data, found).map(Quantity::Uncertain)
        }
    }
}

/// A change that no year of the study can see coming.
pub(super) fn never_or_always(
    change: &study::Change,
    year: &Quantity,
    study: &study::Study,
) -> Option<Diagnostic> {
    let (earliest, latest) = match year {
        Quantity::Known(year) => (*year, *year),
        Quantity::Uncertain(drawn) => drawn.support(),
    };
    let first = study.first_year.value;
    let last = first + i64::try_from(study.years.value).unwrap_or(i64::MAX - first) - 1;
    let place = match &change.year {
        NumberOrDistribution::Number(x) => x.span.clone(),
        NumberOrDistribution::Distribution(text) => text.span.clone(),
    };
    // OK because calendar years are small.
    let what = if earliest.floor() > last as f64 {
        "this change comes after the last year: it never takes effect"
    } else if latest.floor() <= first as f64 {
        "this change comes no later than the first year: it holds from the start"
    } else {
        return None;
    };
    let caution = Diagnostic::caution("change-outside", what).at(place, "");
    Some(caution.hint(format!("the study goes from {first} to {last}")))
}
