//! Readers of the answers that write words and tables: sentences, the
//! terminal's table, CSV files, JSON and the manifest.
//!
//! Answers in, text or bytes out. Nothing here computes statistics or touches
//! files, clock or terminal.

mod by_choice;
mod cells;
mod flip_words;
pub mod inputs;
pub mod json;
mod links;
pub mod manifest;
mod maps;
pub mod numbers;
pub mod stopping;
pub mod tables;
pub mod terminal;
pub mod words;
mod yearly;
