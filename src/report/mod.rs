//! Readers of the answers that write words and tables: sentences, the
//! terminal's table, CSV files, JSON and the manifest.
//!
//! Answers in, text or bytes out. Nothing here computes statistics or touches
//! files, clock or terminal.

pub mod agreement;
pub mod answers_schema;
mod by_choice;
mod cells;
pub(crate) mod choosing;
pub mod comparing;
pub mod delivery;
pub mod document;
pub mod docx;
mod failing;
mod flip_words;
mod groups;
pub(crate) mod homes;
pub mod hotwater_words;
pub mod html;
mod indices;
pub mod inputs;
pub mod json;
mod links;
pub mod manifest;
pub mod manifest_read;
mod maps;
pub mod material;
pub mod meter;
pub mod pages;
pub mod reproduced;
pub mod runs;
pub mod stopping;
pub mod survey;
pub mod tables;
mod tables_beside;
mod tables_of_runs;
pub mod terminal;
pub mod words;
pub mod workbook;
pub mod workbook_edits;
mod yearly;

pub use crate::wording as numbers;
