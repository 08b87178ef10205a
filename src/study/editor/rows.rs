//! Rows of a study: inputs, paths, workings and results, with the distributions that they hold.

use serde_json::{Map, Value, json};

use super::any_number;
use super::parts::{list, number, numbers, object_of, one_of_these, text, words};
use crate::sampling::distributions::catalogue::{DistributionKind, Form, KINDS};
use crate::study::inputs::PLAIN;
use crate::study::processes::{KEYS, PROCESSES};
use crate::study::schema::Effect;

/// Keys of percentiles: p1 to p99, with decimals in quotes.
const PERCENTILE: &str = "^p[0-9.]{1,12}$";

/// A reference to one of the definitions.
pub(super) fn refer(name: &str) -> Value {
    json!({ "$ref": format!("#/definitions/{name}") })
}

/// A reference with a description of its own, which draft 7 does not let stand beside it.
fn referred(what: &str, name: &str) -> Value {
    json!({ "description": what, "allOf": [refer(name)] })
}

/// Adds the definitions of rows.
pub(super) fn define(all: &mut Map<String, Value>) {
    for kind in KINDS {
        all.insert(kind.name.to_owned(), distribution(kind));
    }
    all.insert("parameter".into(), json!({ "type": ["number", "string"] }));
    all.insert("truncate".into(), truncate());
    let kinds: Vec<&str> = KINDS.iter().map(|kind| kind.name).collect();
    let one = one_of_these(object_of("A distribution.", kinds_as_keys(), &[]), &kinds);
    all.insert("number_or_distribution".into(), json!({ "anyOf": [{ "type": "number" }, one] }));
    all.insert("change".into(), change());
    all.insert("step".into(), step());
    all.insert("input".into(), input(&kinds));
    all.insert("path".into(), path());
    all.insert("working".into(), object_of("A named formula.", formula_keys(), &["formula"]));
    all.insert("result".into(), result());
}

fn kinds_as_keys() -> Map<String, Value> {
    let key = |kind: &&DistributionKind| (kind.name.to_owned(), refer(kind.name));
    KINDS.iter().map(key).collect()
}

fn distribution(kind: &DistributionKind) -> Value {
    let what = format!("{} Such as {}", kind.summary, kind.example);
    if kind.name == "mixture" {
        return json!({ "description": what, "type": "array", "items": part(), "minItems": 1 });
    }
    let keys = kind.all_keys().into_iter().map(|key| (key.to_owned(), parameter(kind, key)));
    let mut made = object_of(&what, keys.collect(), &[]);
    if kind.percentiles {
        made["patternProperties"] = json!({ PERCENTILE: { "type": ["number", "string"] } });
    }
    made["minProperties"] = 1.into();
    made["anyOf"] = kind.forms.iter().map(|form| of_form(kind, form)).collect();
    made
}

/// The keys of one form, and no others.
fn of_form(kind: &DistributionKind, form: &Form) -> Value {
    let known: Vec<&str> = form.keys.iter().chain(form.optional).copied().collect();
    let names = match kind.percentiles {
        true => json!({ "anyOf": [{ "enum": known }, { "pattern": PERCENTILE }] }),
        false => json!({ "enum": known }),
    };
    json!({ "required": form.keys, "propertyNames": names })
}

fn parameter(kind: &DistributionKind, key: &str) -> Value {
    let takes_texts = matches!(kind.name, "quantiles" | "samples");
    match key {
        "values" | "weights" => json!({ "type": "array", "items": { "type": "number" }, "minItems": 1 }),
        "shape" | "file" | "column" if takes_texts => json!({ "type": "string" }),
        _ => refer("parameter"),
    }
}

/// A part of a mixture.
fn part() -> Value {
    let mut keys = kinds_as_keys();
    keys.insert("weight".into(), number("Its weight, on any scale.", Some(0.0), None));
    keys.insert("truncate".into(), refer("truncate"));
    let kinds: Vec<&str> = KINDS.iter().map(|kind| kind.name).collect();
    one_of_these(object_of("A part of the mixture.", keys, &["weight"]), &kinds)
}

fn truncate() -> Value {
    let keys = [("min", any_number("Lower cut.")), ("max", any_number("Upper cut."))];
    let mut made = object_of("Cut of a distribution.", owned(keys), &[]);
    made["minProperties"] = 1.into();
    made
}

fn owned<const N: usize>(keys: [(&str, Value); N]) -> Map<String, Value> {
    keys.into_iter().map(|(key, value)| (key.to_owned(), value)).collect()
}

/// What the reader is told about a row.
pub(super) fn about() -> Map<String, Value> {
    owned([
        ("label", text("Plain name.", "People living here")),
        ("note", text("A remark.", "Two of them work shifts")),
        ("source", text("Where the figure comes from.", "Household, autumn 2026")),
        (
            "as_of",
            json!({ "description": "Date of the figure.", "type": "string", "examples": ["2026-10-01"] }),
        ),
        ("group", text("Heading under which it is listed.", "Household")),
        ("revealed", words("Only time tells, so nobody can find it out before choosing.", &["later"])),
    ])
}

fn unit() -> (String, Value) {
    ("unit".into(), text("Unit; none is dimensionless. `payspread reference units` lists them.", "EUR/kWh"))
}

fn money() -> (String, Value) {
    ("money".into(), words("In which money its figures are.", &["real", "nominal"]))
}

fn changes() -> (String, Value) {
    ("changes".into(), list("Changes by year, in the order in which they act.", refer("change")))
}

fn input(kinds: &[&str]) -> Value {
    let texts = json!({ "type": "array", "items": { "type": "string" }, "minItems": 1 });
    let mut keys = about();
    keys.extend(kinds_as_keys());
    keys.extend([unit(), money(), changes()]);
    let labels = owned([("values", texts.clone()), ("weights", numbers("Their weights.", &[]))]);
    keys.extend(owned([
        ("value", any_number("A known value.")),
        ("monthly", numbers("Twelve known values, January first.", &[12])),
        (
            "labels",
            json!({
                "description": "A named choice of chance.",
                "anyOf": [texts.clone(), object_of("", labels, &["values"])],
                "examples": [["gas", "electricity"]],
            }),
        ),
        ("weights", numbers("Weights of `labels`; equal if not given.", &[])),
        (
            "choice",
            json!({
                "description": "A matter of judgement: each value is answered by itself.",
                "anyOf": [{ "type": "array", "items": { "type": "number" }, "minItems": 1, "maxItems": 100 }, texts],
                "examples": [[0.02, 0.04, 0.07]],
            }),
        ),
        (
            "base",
            json!({
                "description": "Value in the base case; the median (of discrete ones the mode) if not given.",
                "type": ["number", "string"],
            }),
        ),
        ("truncate", referred("Cut of the distribution.", "truncate")),
        ("varies", words("It differs between homes.", &["between homes"])),
    ]));
    let values: Vec<&str> = PLAIN.iter().chain(kinds).copied().collect();
    one_of_these(object_of("An input: exactly one key says what value it has.", keys, &[]), &values)
}

/// A change or a step: exactly one effect.
fn with_effect(what: &str, mut keys: Map<String, Value>, effects: &[(&'static str, Effect)]) -> Value {
    for (key, effect) in effects {
        let value = match effect {
            Effect::To => json!({ "anyOf": [refer("number_or_distribution"), { "type": "string" }] }),
            _ => refer("number_or_distribution"),
        };
        keys.insert((*key).to_owned(), value);
    }
    let names: Vec<&str> = effects.iter().map(|(key, _)| *key).collect();
    one_of_these(object_of(what, keys, &["year"]), &names)
}

fn change() -> Value {
    let keys = owned([
        ("chance", number("Probability that it comes at all.", Some(0.0), Some(1.0))),
        ("year", referred("Calendar year from which it holds.", "number_or_distribution")),
    ]);
    with_effect("A change from a year on.", keys, &Effect::ALL)
}

fn step() -> Value {
    let keys = owned([("year", any_number("Calendar year from which it holds."))]);
    with_effect("A value from a year on.", keys, &Effect::ALL[..2])
}

fn path() -> Value {
    let mut keys = about();
    keys.extend([unit(), money(), changes()]);
    let process: Vec<&str> = PROCESSES.iter().map(|kind| kind.word).collect();
    keys.extend(owned([
        ("process", words("How it moves. `payspread reference processes` tells them.", &process)),
        ("start", referred("Value in the first year.", "number_or_distribution")),
        (
            "base",
            json!({
                "description": "Base value of the start; the scenario of the base case.", "type": ["number", "string"],
            }),
        ),
        ("growth", referred("Growth, 1/yr; 0 if not given.", "number_or_distribution")),
        ("drift", words("Whether growth is that of the mean (default) or of the median.", &["mean", "median"])),
        ("half_life", any_number("Years in which half of a deviation is gone.")),
        ("volatility", any_number("Of the logarithm, in a year.")),
        ("steps", list("New values from given years on.", refer("step"))),
        ("values", numbers("A known value for each year.", &[])),
        ("file", text("Data file, relative to the study.", "data/prices.csv")),
        ("column", text("Column of the file.", "mid")),
        ("columns", list("Columns of the file, each a scenario.", json!({ "type": "string" }))),
        ("weights", numbers("Weights of the scenarios; without them each is answered by itself.", &[])),
        ("floor", any_number("Lowest value.")),
        ("ceiling", any_number("Highest value.")),
    ]));
    let mut made = object_of("An input with a value for each year.", keys, &["process"]);
    made["allOf"] = PROCESSES
        .iter()
        .map(|kind| {
            let needs: Vec<&str> = kind.needs.iter().map(|(key, _)| *key).collect();
            let idle = KEYS.iter().filter(|key| !needs.contains(key) && !kind.may.contains(key));
            let idle: Vec<Value> = idle.map(|key| json!({ "required": [key] })).collect();
            json!({
                "if": { "properties": { "process": { "const": kind.word } }, "required": ["process"] },
                "then": { "required": needs, "not": { "anyOf": idle } },
            })
        })
        .collect();
    made
}

fn formula_keys() -> Map<String, Value> {
    let mut keys = about();
    keys.extend([unit()]);
    let what = "Its formula. `payspread reference functions` lists what it may call.";
    keys.insert("formula".into(), text(what, "people * litres_each"));
    keys
}

fn result() -> Value {
    let mut keys = formula_keys();
    keys.extend(owned([
        ("at_least", any_number("Success when not below this, in the unit of the result.")),
        ("at_most", any_number("Success when not above this.")),
        ("better", words("Which side is good.", &["lower", "higher"])),
    ]));
    let mut made = object_of("A result.", keys, &["formula"]);
    made["not"] = json!({ "required": ["at_least", "at_most"] });
    made
}
