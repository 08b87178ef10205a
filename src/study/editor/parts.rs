//! Small pieces of a schema.

use serde_json::{Map, Value, json};

use crate::study::words::{MAX_NAME_BYTES, RESERVED};

/// A table with these keys and no others.
pub(super) fn object<const N: usize>(what: &str, fields: [(&str, Value); N], required: &[&str]) -> Value {
    object_of(what, fields.into_iter().map(|(key, value)| (key.to_owned(), value)).collect(), required)
}

/// As [`object`], of any number of keys.
pub(super) fn object_of(what: &str, fields: Map<String, Value>, required: &[&str]) -> Value {
    let mut made = json!({ "type": "object", "properties": fields, "additionalProperties": false });
    if !what.is_empty() {
        made["description"] = what.into();
    }
    if !required.is_empty() {
        made["required"] = required.into();
    }
    made
}

/// The same, with exactly one of these keys.
pub(super) fn one_of_these(mut table: Value, keys: &[&str]) -> Value {
    table["oneOf"] = keys.iter().map(|key| json!({ "required": [key] })).collect();
    table
}

/// Tables under names that formulas may use.
pub(super) fn named(what: &str, each: Value) -> Value {
    json!({
        "description": what,
        "type": "object",
        "propertyNames": {
            "pattern": "^[A-Za-z][A-Za-z0-9_]*$", "maxLength": MAX_NAME_BYTES, "not": { "enum": RESERVED },
        },
        "additionalProperties": each,
    })
}

/// A list.
pub(super) fn list(what: &str, each: Value) -> Value {
    json!({ "description": what, "type": "array", "items": each })
}

/// So many numbers.
pub(super) fn numbers(what: &str, lengths: &[usize]) -> Value {
    let of = |n: &usize| {
        json!({
            "description": what, "type": "array", "items": { "type": "number" }, "minItems": n, "maxItems": n,
        })
    };
    match lengths {
        [] => list(what, json!({ "type": "number" })),
        [n] => of(n),
        several => json!({ "description": what, "oneOf": several.iter().map(of).collect::<Vec<_>>() }),
    }
}

/// Text.
pub(super) fn text(what: &str, example: &str) -> Value {
    json!({ "description": what, "type": "string", "examples": [example] })
}

/// A number between limits, if there are any.
pub(super) fn number(what: &str, least: Option<f64>, most: Option<f64>) -> Value {
    let mut made = json!({ "description": what, "type": "number" });
    if let Some(least) = least {
        made["minimum"] = least.into();
    }
    if let Some(most) = most {
        made["maximum"] = most.into();
    }
    made
}

/// A number above the first and below the second.
pub(super) fn number_within(what: &str, above: f64, below: Option<f64>) -> Value {
    let mut made = json!({ "description": what, "type": "number", "exclusiveMinimum": above });
    if let Some(below) = below {
        made["exclusiveMaximum"] = below.into();
    }
    made
}

/// A whole number.
pub(super) fn whole(what: &str, least: i64, most: i64) -> Value {
    json!({ "description": what, "type": "integer", "minimum": least, "maximum": most })
}

/// True or false.
pub(super) fn flag(what: &str) -> Value {
    json!({ "description": what, "type": "boolean" })
}

/// One of a few words.
pub(super) fn words(what: &str, words: &[&str]) -> Value {
    json!({ "description": what, "enum": words })
}
