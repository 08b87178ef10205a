//! The study file: what it may say, reading it with places, and showing what
//! is wrong with it. Knows no units, no formulas and no mathematics: names are
//! not resolved here. Only `file.rs` touches the file system.

mod changes;
pub mod data;
pub mod differences;
mod distributions;
pub mod edit_input;
pub mod editor;
mod file;
mod further;
mod hotwater;
pub mod hotwater_reference;
mod inputs;
mod numbers;
mod paths;
pub mod pin;
pub mod processes;
mod questions;
pub mod read;
mod render;
mod report;
mod schema;
mod sections;
mod simulated;
mod syntax;
#[cfg(test)]
mod tests;
mod until;
mod values;
pub(crate) mod words;
pub(crate) mod written;

pub use file::{Beside, LoadError, MAX_BYTES, STANDARD_INPUT, Source, load, read_source};
pub use further::*;
pub use render::{MAX_SHOWN, render, render_in_short};
pub use report::{AgreedDef, NUMBER_STYLES, NumberStyle, PARTS, ReportDef};
pub use schema::*;
pub use simulated::*;
