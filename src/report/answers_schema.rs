//! The JSON Schema of the answers, made from their types: whoever reads `answers.json` can check it and need not guess.

use schemars::Schema;
use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use serde_json::Value;

use crate::analysis::{ANSWERS_FORMAT, Answers};

/// The published schema. A test holds it to what [`generated`] makes.
pub const PUBLISHED: &str = include_str!("schemas/answers.schema.json");

/// The schema of this version's answers, with a final line feed.
///
/// # Errors
/// None is known.
pub fn generated() -> Result<String, serde_json::Error> {
    let settings = SchemaSettings::draft2020_12()
        .for_serialize()
        .with_transform(RecursiveTransform(no_others))
        .with_transform(RecursiveTransform(numbers_or_none));
    let mut schema = settings.into_generator().into_root_schema_for::<Answers>();
    let of_format = |schema: &mut Schema| {
        let format = schema.get_mut("properties").and_then(|fields| fields.get_mut("format"))?;
        format.as_object_mut()?.insert("const".into(), ANSWERS_FORMAT.into());
        Some(())
    };
    of_format(&mut schema);
    schema.insert("title".into(), format!("Answers of payspread, format {ANSWERS_FORMAT}").into());
    let mut text = serde_json::to_string_pretty(&schema)?;
    text.push('\n');
    Ok(text)
}

/// Nothing but what is named stands in an object.
fn no_others(schema: &mut Schema) {
    if schema.get("properties").is_some() {
        schema.insert("additionalProperties".into(), false.into());
    }
}

/// A number outside a figure is null where none exists: JSON has no word for it.
fn numbers_or_none(schema: &mut Schema) {
    let of_f64 = schema.get("format").and_then(Value::as_str) == Some("double");
    if of_f64 {
        schema.remove("format");
        schema.insert("type".into(), serde_json::json!(["number", "null"]));
    }
}
