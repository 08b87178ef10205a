//! `inputs`: what goes into a study, a row for each.

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::failure::Failure;
use super::numbers::columns;
use super::opened::Opened;
use super::options::StudyFile;
use super::terminal::{Terminal, speaks_utf8};
use super::timings::Timings;
use crate::analysis::{InputRow, input_rows};
use crate::report::inputs::{Page, text};

/// Show each input: unit, base, 10 % / half / 90 % of draws below, mean, a small histogram, source
#[derive(Debug, Args)]
pub(super) struct Inputs {
    #[command(flatten)]
    study: StudyFile,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Columns that the text keeps to, 72 to 400
    #[arg(long, value_name = "N", value_parser = columns, default_value_t = 100)]
    width: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    Text,
    /// The rows for machines
    Json,
}

/// The rows as JSON.
#[derive(Serialize)]
struct Rows<'a> {
    format: u32,
    title: &'a str,
    inputs: &'a [InputRow],
}

impl Inputs {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        let opened = Opened::read_and_tell(&self.study.study, terminal, &mut Timings::start())?;
        let rows = input_rows(&opened.model);
        let title = &opened.model.title;
        terminal.say(&match self.format {
            Format::Text => text(title, &rows, Page { width: self.width, blocks: speaks_utf8() }),
            Format::Json => {
                let rows = Rows { format: 1, title, inputs: &rows };
                let json = serde_json::to_string_pretty(&rows);
                json.map_err(|e| Failure::Machine(format!("cannot write the rows: {e}")))? + "\n"
            }
        })
    }
}
