//! `report`.

use clap::Args;

use super::failure::Failure;
use super::options::General;
use super::terminal::Terminal;

/// Write the report of a study: HTML, word-processor document, PDF
#[derive(Debug, Args)]
pub(super) struct Report {}

impl Report {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let _ = (general, terminal);
        Err(Failure::Machine("not built yet".into()))
    }
}
