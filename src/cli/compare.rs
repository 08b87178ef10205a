//! `compare`.

use clap::Args;

use super::failure::Failure;
use super::options::General;
use super::terminal::Terminal;

/// What differs between two studies, and what each difference does to the results
#[derive(Debug, Args)]
pub(super) struct Compare {}

impl Compare {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let _ = (general, terminal);
        Err(Failure::Machine("not built yet".into()))
    }
}
