//! `update`: what was changed in a workbook, shown and written into its study.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use clap::Args;

use super::failure::Failure;
use super::numbers::thousands;
use super::opened::Opened;
use super::options::{General, StudyFile};
use super::pin::replace;
use super::terminal::Terminal;
use super::timings::Timings;
use crate::model;
use crate::report::numbers::{clean, shortened};
use crate::report::workbook::layout::INPUTS;
use crate::report::workbook_edits::{Changed, RowFault, compare, rows, written};
use crate::study::{Beside, Source, render};

/// Largest workbook that is read, in bytes.
const MOST_BYTES: u64 = 64 * 1024 * 1024;

/// Characters of an old or new value that are shown.
const SHOWN: usize = 60;

/// Write what was changed in the inputs sheet of a workbook into its study; comments and order stay
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  payspread update studies/harbour-row.toml --from workbook.xlsx --show
  payspread update studies/harbour-row.toml --from workbook.xlsx")]
pub(super) struct Update {
    #[command(flatten)]
    study: StudyFile,
    /// Workbook that was made from the study and edited since
    #[arg(long, value_name = "WORKBOOK")]
    from: PathBuf,
    /// Only show what was changed; write nothing
    #[arg(long)]
    show: bool,
}

impl Update {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let _ = general;
        let path = &self.study.study;
        let opened = Opened::read(path, &mut Timings::start())?;
        let rows = rows(&bytes_of(&self.from)?)
            .map_err(|error| Failure::Data { message: at(&self.from, &error.message), hint: error.hint })?;
        let compared = compare(&opened.source.text, &opened.model, &rows);
        if !compared.faults.is_empty() {
            return Err(Failure::Study(faults_text(&self.from, &compared.faults)));
        }
        if compared.changes.is_empty() {
            return terminal.say("Nothing has changed: the workbook says what the study says.\n");
        }
        terminal.say(&changes_text(&compared.changes))?;
        let text = written(&opened.source.text, &compared.changes)
            .ok_or_else(|| Failure::Machine("the study has no room for what was changed".into()))?;
        // What is written must be a study before it takes the place of one.
        let (made, found) = model::read_beside(&text, &Beside::study(path));
        if made.is_none() {
            let source = Source { name: format!("{} as changed", opened.source.name), text };
            let told = render(&found, &source, true);
            return Err(Failure::Study(format!("{told}\nThe study is left as it was.\n")));
        }
        if self.show {
            return terminal.say("Nothing is written: --show was given.\n");
        }
        replace(path, opened.source.text.as_bytes(), text.as_bytes())?;
        let n = thousands(compared.changes.len() as u64);
        let changes = if n == "1" { "change" } else { "changes" };
        terminal.say(&format!("Written into {}: {n} {changes}.\n", clean(&path.to_string_lossy())))
    }
}

fn at(path: &Path, message: &str) -> String {
    format!("{}: {message}", clean(&path.to_string_lossy()))
}

fn bytes_of(path: &Path) -> Result<Vec<u8>, Failure> {
    let data = |message: String, hint: &str| Failure::Data { message: at(path, &message), hint: hint.into() };
    let unreadable = |error: std::io::Error| {
        data(format!("the workbook cannot be read: {error}"), "name the .xlsx file that was edited")
    };
    let size = fs::metadata(path).map_err(unreadable)?;
    if !size.is_file() {
        return Err(data("this is no file".into(), "name the .xlsx file that was edited"));
    }
    if size.len() > MOST_BYTES {
        return Err(data(
            "the workbook is larger than 64 MB".into(),
            "give the one that was made from the study",
        ));
    }
    fs::read(path).map_err(unreadable)
}

/// What was changed, a line each.
fn changes_text(changes: &[Changed]) -> String {
    let mut out = format!("Changed in the sheet `{INPUTS}`:\n");
    let shown = |text: &str| match text {
        "" => "nothing".to_owned(),
        text => shortened(&clean(text), SHOWN),
    };
    for change in changes {
        let Changed { row, name, what, old, new, .. } = change;
        let _ = writeln!(out, "  row {row}: {name}, {what}: {} -> {}", shown(old), shown(new));
    }
    out
}

fn faults_text(path: &Path, faults: &[RowFault]) -> String {
    let mut out = String::new();
    for fault in faults {
        let place = fault.row.map_or_else(String::new, |row| format!("row {row}: "));
        let _ = writeln!(out, "error: {}", at(path, &format!("{place}{}", fault.message)));
        let _ = writeln!(out, "hint: {}", fault.hint);
    }
    out.push_str("The study is left as it was.\n");
    out
}
