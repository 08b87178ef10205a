//! `new`.

use clap::Args;

use super::failure::Failure;
use super::options::General;
use super::terminal::Terminal;

/// Write a study from a few questions
#[derive(Debug, Args)]
pub(super) struct New {}

impl New {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let _ = (general, terminal);
        Err(Failure::Machine("not built yet".into()))
    }
}
