//! `survey`.

use clap::Args;

use super::failure::Failure;
use super::options::General;
use super::terminal::Terminal;

/// Print a form for a visit: what to read, measure, photograph and ask
#[derive(Debug, Args)]
pub(super) struct Survey {}

impl Survey {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let _ = (general, terminal);
        Err(Failure::Machine("not built yet".into()))
    }
}
