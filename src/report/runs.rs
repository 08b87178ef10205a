//! The runs one by one as a Parquet file: a row a run, a column for what was drawn and what came of it.
//!
//! Written part by part, so that all columns of all runs are never held at once. What a reader needs to understand the
//! columns is in the key-value metadata of the file, under keys that begin with `payspread.`.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use parquet::basic::{Compression, Encoding, LogicalType, Repetition, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int32Type, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::{ColumnPath, Type};
use serde_json::json;

use super::manifest::{Hashed, sha256};
use super::material::Material;
use super::numbers::clean;
use crate::analysis::runs::{RunColumn, RunPart, RunTable, RunValue, design_of, too_many};
use crate::engine::run::Control;
use crate::formula::types::Kind;
use crate::model::{InputValue, Model};
use crate::sampling::Design;

/// Name of the file.
pub const FILE: &str = "runs.parquet";

/// Format number of its columns and metadata.
pub const FORMAT: u32 = 1;

/// Bytes of a text that are kept in the metadata.
const LONGEST: usize = 10_000;

/// What never is, and what is missing, as the metadata say it.
const NEVER: &str = "In columns of kind \"years\" never is +infinity: greater than every year, counted like any other value, \
                     so shares and percentiles are those of the answers (their means are not: a mean of never is none).";
const MISSING: &str = "null: the run gave no number";

/// Why there is no file of runs.
#[derive(Debug)]
pub struct RunsError(pub String);

impl From<ParquetError> for RunsError {
    fn from(error: ParquetError) -> Self {
        RunsError(error.to_string())
    }
}

/// The file of the runs behind the answers. `go_on` is asked at every chunk; at its no nothing is made.
///
/// # Errors
/// More runs than are written one by one; a stop; a fault of ours.
pub fn runs(material: &Material<'_>, go_on: &(dyn Fn() -> bool + Sync)) -> Result<Vec<u8>, RunsError> {
    let design = design_of(&material.answers.sampling);
    if let Some(why) = too_many(material.model, design.runs) {
        return Err(RunsError(why));
    }
    let table = RunTable::new(material.model, design)
        .map_err(|_| RunsError("the draws behind the answers cannot be made again".into()))?;
    let names = numbering(&table);
    let schema = schema(&table, &names)?;
    let properties = properties(&table, material);
    let mut writer = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    let control = Control::default();
    for k in 0..table.n_parts() {
        if !go_on() {
            control.cancel.store(true, Ordering::Relaxed);
        }
        let part = table.part(k, &control).map_err(|_| RunsError("stopped".into()))?;
        let mut group = writer.next_row_group()?;
        write_numbering(&mut group, &part, design)?;
        for (column, values) in table.columns().iter().zip(&part.columns) {
            write_column(&mut group, column, values)?;
        }
        group.close()?;
    }
    Ok(writer.into_inner()?)
}

/// Names of the columns that count runs and replicates; no input is called so.
fn numbering(table: &RunTable<'_>) -> [String; 2] {
    ["run", "replicate"].map(|word| {
        let mut name = word.to_owned();
        while table.columns().iter().any(|column| column.name == name) {
            name.push('_');
        }
        name
    })
}

fn schema(table: &RunTable<'_>, names: &[String; 2]) -> Result<Type, ParquetError> {
    let field = |name: &str, physical: Physical, repetition: Repetition, logical: Option<LogicalType>| {
        let made = Type::primitive_type_builder(name, physical);
        made.with_repetition(repetition).with_logical_type(logical).build().map(Arc::new)
    };
    let mut fields = vec![
        field(&names[0], Physical::INT64, Repetition::REQUIRED, None)?,
        field(&names[1], Physical::INT32, Repetition::REQUIRED, None)?,
    ];
    for column in table.columns() {
        let (physical, logical) = match column.value {
            RunValue::Number | RunValue::Years => (Physical::DOUBLE, None),
            RunValue::YesNo => (Physical::BOOLEAN, None),
            RunValue::Label(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        };
        fields.push(field(&column.name, physical, Repetition::OPTIONAL, logical)?);
    }
    Type::group_type_builder("runs").with_fields(fields).build()
}

/// How the columns are packed, and what is said of them.
fn properties(table: &RunTable<'_>, material: &Material<'_>) -> WriterProperties {
    let mut made = WriterProperties::builder()
        .set_created_by(format!("payspread {}", env!("CARGO_PKG_VERSION")))
        .set_compression(Compression::SNAPPY)
        .set_dictionary_enabled(false)
        .set_statistics_enabled(EnabledStatistics::Chunk)
        .set_key_value_metadata(Some(metadata(table, material)));
    for column in table.columns() {
        let path = ColumnPath::new(vec![column.name.clone()]);
        made = match column.value {
            RunValue::Number | RunValue::Years => made.set_column_encoding(path, Encoding::BYTE_STREAM_SPLIT),
            RunValue::Label(_) => made.set_column_dictionary_enabled(path, true),
            RunValue::YesNo => made,
        };
    }
    made.build()
}

fn metadata(table: &RunTable<'_>, material: &Material<'_>) -> Vec<KeyValue> {
    let facts = &material.answers.sampling;
    let data: Vec<Hashed> =
        material.model.data.iter().map(|data| Hashed::of(&data.file, &data.bytes)).collect();
    let columns: Vec<serde_json::Value> = table.columns().iter().map(of_column).collect();
    let entries = [
        ("format", FORMAT.to_string()),
        ("version", env!("CARGO_PKG_VERSION").to_owned()),
        ("engine", facts.engine.to_string()),
        ("study", short(material.study_file)),
        ("title", short(&material.model.title)),
        ("study_sha256", sha256(material.study_text.as_bytes())),
        ("data", json!(data).to_string()),
        ("method", facts.method.clone()),
        ("seed", facts.seed.to_string()),
        ("runs", facts.runs.to_string()),
        ("replicates", facts.replicates.to_string()),
        ("choices", choices(material.model).to_string()),
        ("never", NEVER.to_owned()),
        ("missing", MISSING.to_owned()),
        ("columns", serde_json::Value::from(columns).to_string()),
    ];
    entries.map(|(key, value)| KeyValue::new(format!("payspread.{key}"), value)).into()
}

fn of_column(column: &RunColumn) -> serde_json::Value {
    let kind = match column.value {
        RunValue::Number => "number",
        RunValue::Years => "years",
        RunValue::YesNo => "yes-no",
        RunValue::Label(_) => "label",
    };
    let choice = column.choice.as_ref().map(|(name, value)| json!({ "name": name, "value": short(value) }));
    json!({
        "name": column.name,
        "of": column.of,
        "label": short(&column.label),
        "unit": column.unit,
        "kind": kind,
        "role": column.role.name(),
        "year": column.year,
        "choice": choice,
    })
}

/// The value of each choice in all columns that do not name another.
fn choices(model: &Model) -> serde_json::Value {
    let choices = model.inputs.iter().filter(|input| matches!(input.value, InputValue::Choice(_)));
    let value = |input: &crate::model::Input| {
        let base = input.base.first().copied().unwrap_or(f64::NAN);
        let value = match &input.ty.kind {
            Kind::Label(labels) => json!(labels.get(base as usize)),
            _ => json!(base),
        };
        json!({ "name": input.about.name, "unit": input.unit.text, "value": value })
    };
    choices.map(value).collect()
}

/// What a user typed, without control characters, and no longer than a reader needs.
fn short(text: &str) -> String {
    let text = clean(text);
    let end = (0..=LONGEST.min(text.len())).rev().find(|&k| text.is_char_boundary(k)).unwrap_or(0);
    text[..end].to_owned()
}

type Group<'a> = SerializedRowGroupWriter<'a, Vec<u8>>;

fn write_numbering(group: &mut Group<'_>, part: &RunPart, design: Design) -> Result<(), ParquetError> {
    let runs = part.first..part.first + part.runs as u64;
    let Some(mut writer) = group.next_column()? else { return Ok(()) };
    let numbers: Vec<i64> = runs.clone().map(|run| run as i64).collect();
    writer.typed::<Int64Type>().write_batch(&numbers, None, None)?;
    writer.close()?;
    let Some(mut writer) = group.next_column()? else { return Ok(()) };
    let replicates: Vec<i32> = runs.map(|run| design.place(run).0 as i32).collect();
    writer.typed::<Int32Type>().write_batch(&replicates, None, None)?;
    writer.close()
}

fn write_column(group: &mut Group<'_>, column: &RunColumn, values: &[f64]) -> Result<(), ParquetError> {
    let Some(mut writer) = group.next_column()? else { return Ok(()) };
    let levels: Vec<i16> = values.iter().map(|x| i16::from(!x.is_nan())).collect();
    let there = values.iter().copied().filter(|x| !x.is_nan());
    match &column.value {
        RunValue::Number | RunValue::Years => {
            let there: Vec<f64> = there.collect();
            writer.typed::<DoubleType>().write_batch(&there, Some(&levels), None)?;
        }
        RunValue::YesNo => {
            let there: Vec<bool> = there.map(|x| x != 0.0).collect();
            writer.typed::<BoolType>().write_batch(&there, Some(&levels), None)?;
        }
        RunValue::Label(labels) => {
            let labels: Vec<ByteArray> = labels.iter().map(|label| short(label).as_str().into()).collect();
            let of = |x: f64| labels.get(x as usize).cloned().unwrap_or_default();
            let there: Vec<ByteArray> = there.map(of).collect();
            writer.typed::<ByteArrayType>().write_batch(&there, Some(&levels), None)?;
        }
    }
    writer.close()
}
