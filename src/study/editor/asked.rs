//! Sections that ask more of a study.

use serde_json::{Value, json};

use super::any_number;
use super::parts::{flag, number, number_within, object, text, whole};

/// One of `[alternatives]`.
pub(super) fn alternative() -> Value {
    let settings = |what: &str, kinds: Value| json!({ "description": what, "type": "object", "additionalProperties": { "type": kinds } });
    let fields = [
        ("label", text("Plain name.", "Timer only")),
        (
            "inputs",
            settings("Inputs set to another value: a number, or a label.", json!(["number", "string"])),
        ),
        ("workings", settings("Workings with another formula.", json!("string"))),
    ];
    let mut made = object("Another course.", fields, &[]);
    let filled = |key: &str| json!({ "required": [key], "properties": { key: { "minProperties": 1 } } });
    made["anyOf"] = json!([filled("inputs"), filled("workings")]);
    made
}

/// One of `[[break_even]]`.
pub(super) fn break_even() -> Value {
    let fields = [
        ("of", text("The input or path that is moved.", "export_price")),
        ("result", text("The result; the headline if not given.", "npv")),
        (
            "against",
            json!({
                "description": "One other name for a curve, two for a map.",
                "oneOf": [
                    { "type": "string" },
                    { "type": "array", "items": { "type": "string" }, "minItems": 2, "maxItems": 2 },
                ],
            }),
        ),
        ("refined", flag("More points on the map.")),
        (
            "chances",
            json!({
                "description": "Wanted shares of success.", "type": "array",
                "items": { "type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1 },
                "examples": [[0.5, 0.8, 0.95]],
            }),
        ),
        ("from", any_number("Looked for from here, in the unit of the input.")),
        ("to", any_number("Looked for up to here.")),
    ];
    object("A break-even question.", fields, &["of"])
}

/// `[comparison]`.
pub(super) fn comparison() -> Value {
    let fields = [
        ("result", text("The result by which courses are compared.", "npv")),
        ("label", text("What the study's own course is called.", "Surplus controller")),
        (
            "nothing",
            json!({
                "description": "Which course is doing nothing: what the result is then, \"study\", or an alternative.",
                "type": ["number", "string"], "examples": [0, "study"],
            }),
        ),
        (
            "along",
            json!({
                "description": "Inputs along which it is asked where the best course changes.", "type": "array",
                "items": { "type": "string" },
            }),
        ),
    ];
    object("How courses are compared.", fields, &[])
}

/// `[indices]`.
pub(super) fn indices() -> Value {
    let fields = [
        ("result", text("The result; the headline if not given.", "npv")),
        ("base_points", whole("Rows of the design.", 64, 1 << 22)),
        ("shapley", flag("Whether Shapley effects are made.")),
    ];
    object("Global indices in every run.", fields, &[])
}

/// One of `[[measurements]]`.
pub(super) fn measurement() -> Value {
    let fields = [
        ("of", text("The input that is observed.", "litres_each")),
        ("observations", whole("How many.", 1, 1_000_000)),
        ("sd", number_within("Standard deviation of one, in the unit of the input.", 0.0, None)),
        ("cost", number("What they cost together.", Some(0.0), None)),
        ("label", text("Plain name.", "Two weeks of meter readings")),
    ];
    object("Observations that could be made.", fields, &["of", "observations", "sd"])
}

/// `[conditions]`.
pub(super) fn conditions() -> Value {
    let result = text("The result; the headline if not given.", "npv");
    object("When a result fails.", [("result", result)], &[])
}

/// `[claim]`.
pub(super) fn claim() -> Value {
    json!({
        "description": "What was promised: names of results, workings or inputs, with a value in their unit.",
        "type": "object",
        "additionalProperties": { "type": "number" },
        "minProperties": 1,
    })
}

/// One of `[[groups]]`.
pub(super) fn group() -> Value {
    let fields = [
        ("result", text("The result; the headline if not given.", "npv")),
        ("by", text("The input or path by whose values or thirds runs are grouped.", "people")),
    ];
    object("A result by groups of runs.", fields, &["by"])
}
