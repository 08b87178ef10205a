//! Checks inputs whose parameters are other inputs, in the order in which they hang on each other.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::formula::types::{Kind, Shape, Type};
use crate::model::distributions::{built, named_parameter, place_of};
use crate::model::given::{Given, GivenParameter};
use crate::model::inputs::{base_caution, base_number, caution, not_for_points};
use crate::model::workings::{about, unit_of};
use crate::model::{Input, InputValue};
use crate::sampling::{Distribution, Family, Value};
use crate::study::{self, DistributionText, Parameter};
use crate::units::{Unit, UnitTable};

/// The distribution of an input of which some parameter is a name.
pub(super) fn text_of(input: &study::Input) -> Option<&DistributionText> {
    match &input.value {
        study::InputValue::Distribution(text) => names(text).next().map(|_| text),
        _ => None,
    }
}

fn names(text: &DistributionText) -> impl Iterator<Item = (&Spanned<String>, &Spanned<String>)> {
    text.parameters.iter().filter_map(|(key, value)| match value {
        Parameter::Name(name) => Some((key, name)),
        _ => None,
    })
}

/// Fills in the inputs that hang on others; `made` holds the rest, `None` where something is wrong with them.
pub(super) fn check(
    study: &study::Study,
    units: &UnitTable,
    made: &mut [Option<Input>],
    found: &mut Vec<Diagnostic>,
) {
    let parents = parents_of(study);
    let mut open: Vec<usize> = (0..made.len()).filter(|&k| text_of(&study.inputs[k]).is_some()).collect();
    let mut is_open = vec![false; made.len()];
    open.iter().for_each(|&k| is_open[k] = true);
    while !open.is_empty() {
        let waits = |k: &usize| parents[*k].iter().any(|&p| is_open[p]);
        let (later, now): (Vec<usize>, Vec<usize>) = open.iter().partition(|k| waits(k));
        if now.is_empty() {
            let cycle = cycle(&parents, &is_open, later[0]);
            found.push(cycle_error(study, &cycle));
            cycle.iter().for_each(|&k| is_open[k] = false);
            open = later.into_iter().filter(|&k| is_open[k]).collect();
            continue;
        }
        for k in now {
            is_open[k] = false;
            if let Some(text) = text_of(&study.inputs[k]) {
                made[k] = check_one(&study.inputs[k], text, study, units, made, found);
            }
        }
        open = later;
    }
}

/// For each input, those that its parameters name.
fn parents_of(study: &study::Study) -> Vec<Vec<usize>> {
    let mut places = BTreeMap::new();
    for (k, input) in study.inputs.iter().enumerate() {
        places.entry(input.name.value.as_str()).or_insert(k);
    }
    let named = |input: &study::Input| match text_of(input) {
        Some(text) => names(text).filter_map(|(_, n)| places.get(n.value.as_str()).copied()).collect(),
        None => Vec::new(),
    };
    study.inputs.iter().map(named).collect()
}

/// Inputs that hang on each other in a circle, on the way from `first`; each open one hangs on another.
fn cycle(parents: &[Vec<usize>], is_open: &[bool], first: usize) -> Vec<usize> {
    let mut walk = vec![first];
    while let Some(k) = walk.last().and_then(|&k| parents[k].iter().copied().find(|&p| is_open[p])) {
        if let Some(start) = walk.iter().position(|&w| w == k) {
            return walk.split_off(start);
        }
        walk.push(k);
    }
    walk
}

fn cycle_error(study: &study::Study, cycle: &[usize]) -> Diagnostic {
    let name = |k: &usize| study.inputs[*k].name.value.clone();
    let mut words: Vec<String> = cycle.iter().map(name).collect();
    words.extend(cycle.first().map(name));
    let message = format!("these parameters go in a circle: {}", words.join(" -> "));
    let mut error = Diagnostic::error("parameter-cycle", message);
    for (at, k) in cycle.iter().enumerate() {
        let place = study.inputs[*k].name.span.clone();
        error = if at == 0 { error.at(place, "") } else { error.also(place, "") };
    }
    error.hint("give one of them numbers for its parameters")
}

fn check_one(
    input: &study::Input,
    text: &DistributionText,
    study: &study::Study,
    units: &UnitTable,
    made: &[Option<Input>],
    found: &mut Vec<Diagnostic>,
) -> Option<Input> {
    let unit = unit_of(input.unit.as_ref(), units, found)?;
    let before = found.len();
    not_for_points(text, &unit, found);
    let mut parameters = Vec::new();
    let mut parents = Vec::new();
    let mut sound = true;
    for (key, value) in &text.parameters {
        let value = match value {
            Parameter::Number(x) => Value::Number(x.value),
            Parameter::List(xs, _) => Value::List(xs.iter().map(|x| x.value).collect()),
            Parameter::Text(text) => Value::Word(text.value.clone()),
            // A mixture's parts take numbers only, so none of its parameters is a name.
            Parameter::Parts(..) => Value::Parts(Vec::new()),
            Parameter::Name(name) => {
                let parent = study.inputs.iter().position(|i| i.name.value == name.value);
                match parent.filter(|_| name.value != input.name.value) {
                    // What has an error of its own is not told again.
                    Some(k) if by_year(&study.inputs[k], input) => found.push(by_year_error(name)),
                    Some(k) => match &made[k] {
                        Some(parent) => parents.extend(joined(key, name, parent, &unit, found)),
                        None => sound = false,
                    },
                    None => found.push(named_parameter(key, name, study)),
                }
                Value::Number(f64::NAN)
            }
        };
        parameters.push((key.value.clone(), value));
    }
    if found.len() > before || !sound {
        return None;
    }
    let given = made_given(input, text, parameters, &parents, found)?;
    at_ends(text, &given, &parents, found);
    let base = given.base;
    Some(Input {
        about: about(&input.name, &input.about),
        ty: Type {
            kind: Kind::Number { dimension: unit.dimension, point: unit.point },
            shape: Shape::Single,
        },
        unit,
        value: InputValue::Given(Arc::new(given)),
        base: vec![base],
        between_homes: input.between_homes,
        changes: Vec::new(),
        conversion: None,
        part_of: None,
    })
}

/// Whether a parameter's input differs by year: through changes, or because its money is not that of `child`.
fn by_year(parent: &study::Input, child: &study::Input) -> bool {
    let money = |input: &study::Input| input.money.as_ref().map(|m| m.value);
    !parent.changes.is_empty() || money(parent) != money(child)
}

fn by_year_error(name: &Spanned<String>) -> Diagnostic {
    let message =
        format!("`{}` differs by year or is in another money: a parameter is one number", name.value);
    Diagnostic::error("parameter-name", message)
        .at(name.span.clone(), "")
        .hint("give `changes` to the input whose parameter it is, and both the same `money`")
}

/// Keys whose numbers have no unit, whatever the quantity.
const PLAIN: [&str; 10] =
    ["shape", "gsd", "mu", "sigma", "alpha", "beta", "weight", "chance", "trials", "weights"];

/// The parameter `key` of a quantity in `unit`, if `parent` can be that.
fn joined<'a>(
    key: &Spanned<String>,
    name: &Spanned<String>,
    parent: &'a Input,
    unit: &Unit,
    found: &mut Vec<Diagnostic>,
) -> Option<(GivenParameter, &'a Input)> {
    let kind = match (&parent.ty.kind, parent.ty.shape) {
        (Kind::Number { .. }, Shape::Single) => None,
        (Kind::Number { .. }, _) => Some("has several values"),
        _ => Some("is a list of labels"),
    };
    if let Some(what) = kind {
        let error = Diagnostic::error(
            "parameter-name",
            format!("`{}` {what}: a parameter is one number", name.value),
        );
        found.push(error.at(name.span.clone(), "").hint("name an input that is one number"));
        return None;
    }
    let plain = PLAIN.contains(&key.value.as_str());
    let per = key.value == "rate";
    let written = if plain { Unit::plain() } else { unit.clone() };
    let fits = match per {
        true => parent.unit.dimension.mul(&written.dimension).is_none() && !parent.unit.point,
        // A spread of temperatures is a difference.
        false => {
            parent.unit.dimension == written.dimension
                && parent.unit.point == (written.point && key.value != "sd")
        }
    };
    if !fits {
        let of = |unit: &Unit| {
            if unit.text.is_empty() { "a plain number".to_owned() } else { format!("in [{}]", unit.text) }
        };
        let needs = match () {
            () if per && unit.text.is_empty() => "a plain number".to_owned(),
            () if per => format!("in one over [{}]", unit.text),
            () if unit.point && key.value == "sd" => "a difference in [K]".to_owned(),
            () => of(&written),
        };
        let message =
            format!("`{}` is {}, but `{}` here must be {needs}", name.value, of(&parent.unit), key.value);
        found.push(
            Diagnostic::error("parameter-unit", message)
                .at(name.span.clone(), "")
                .also(parent.about.span.clone(), of(&parent.unit))
                .hint("units that measure the same are converted; others do not fit"),
        );
        return None;
    }
    Some((GivenParameter { key: key.value.clone(), name: name.value.clone(), unit: written, per }, parent))
}

fn made_given(
    input: &study::Input,
    text: &DistributionText,
    parameters: Vec<(String, Value)>,
    parents: &[(GivenParameter, &Input)],
    found: &mut Vec<Diagnostic>,
) -> Option<Given> {
    let cut = input.truncate.as_ref();
    let truncate = cut.map(|t| (t.min.as_ref().map(|x| x.value), t.max.as_ref().map(|x| x.value)));
    // The reader has told of a cut that is upside down.
    if matches!(truncate, Some((Some(min), Some(max))) if max <= min) {
        return None;
    }
    let mut places: Vec<_> =
        text.parameters.iter().map(|(key, value)| (key.value.as_str(), place_of(key, value))).collect();
    places.extend(cut.map(|t| ("truncate", t.span.clone())));
    let open: Vec<&str> = parents.iter().map(|(p, _)| p.key.as_str()).collect();
    let family =
        built(Family::new(&text.kind.value, parameters, &open, truncate), &text.span, &places, found)?;
    let number = |(p, parent): &(GivenParameter, &Input)| p.number(base_of(parent) * parent.unit.scale);
    let base_numbers: Vec<f64> = parents.iter().map(number).collect();
    let at_base = built(family.at(&base_numbers, &mut family.room()), &text.span, &places, found)?;
    caution(text, &at_base, found);
    let wanted = base_number(input);
    if let Some(base) = wanted {
        base_caution(base, &at_base, &text.span, found);
    }
    let base = wanted.map_or_else(|| at_base.default_base(), |b| b.value);
    let base_score = if wanted.is_none() && !at_base.is_discrete() { 0.0 } else { score_of(&at_base, base) };
    let parameters = parents.iter().map(|(p, _)| p.clone()).collect();
    Some(Given { family, parameters, base_numbers, at_base, base_score, base })
}

fn base_of(input: &Input) -> f64 {
    input.base.first().copied().unwrap_or(f64::NAN)
}

/// The score at which `law` has the value `x`; of a value with a probability of its own, the middle of its scores.
fn score_of(law: &Distribution, x: f64) -> f64 {
    let below = match law.points() {
        Some((values, shares)) => {
            let share = |keep: fn(&f64, &f64) -> bool| {
                values.iter().zip(shares).filter(|(v, _)| keep(v, &x)).map(|(_, s)| *s).sum::<f64>()
            };
            share(|v, x| v < x) + 0.5 * share(|v, x| v == x)
        }
        None => law.cdf(x),
    };
    // A base outside of what can be drawn has the nearest score.
    let below = below.clamp(1e-12, 1.0 - 1e-12);
    crate::sampling::maths::normal_quantile(below, 1.0 - below)
}

/// Says where a parameter far from its base, the others at theirs, fits no distribution.
fn at_ends(
    text: &DistributionText,
    given: &Given,
    parents: &[(GivenParameter, &Input)],
    found: &mut Vec<Diagnostic>,
) {
    let mut room = given.family.room();
    for (k, (parameter, parent)) in parents.iter().enumerate() {
        let ends: Vec<(String, f64)> = match &parent.value {
            InputValue::Known => Vec::new(),
            InputValue::Choice(values) => values.iter().map(|&v| (v.to_string(), v)).collect(),
            InputValue::Drawn(law) => percentiles(law),
            InputValue::Given(parent) => percentiles(&parent.at_base),
        };
        let wrong = ends.into_iter().find_map(|(what, x)| {
            let mut numbers = given.base_numbers.clone();
            numbers[k] = parameter.number(x * parent.unit.scale);
            given.family.at(&numbers, &mut room).err().map(|error| (what, error))
        });
        let Some((what, error)) = wrong else { continue };
        let name = &parameter.name;
        let message = format!("with `{name}` at {what}, no values can be drawn: {}", error.message);
        let place = text.parameters.iter().find(|(key, _)| key.value == parameter.key);
        let place = place.map_or_else(|| text.span.clone(), |(key, value)| place_of(key, value));
        let hint = format!("{}; a run without values is counted as one without an answer", error.hint);
        found.push(Diagnostic::caution("parameter-ends", message).at(place, "").hint(hint));
    }
}

fn percentiles(law: &Distribution) -> Vec<(String, f64)> {
    [("its P1", 0.01), ("its P99", 0.99)].map(|(what, p)| (what.to_owned(), law.quantile_at(p))).to_vec()
}
