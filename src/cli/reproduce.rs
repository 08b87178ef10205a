//! `reproduce`.

use clap::Args;

use super::failure::Failure;
use super::options::General;
use super::terminal::Terminal;

/// Make an output folder again from its manifest, and say what agrees
#[derive(Debug, Args)]
pub(super) struct Reproduce {}

impl Reproduce {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let _ = (general, terminal);
        Err(Failure::Machine("not built yet".into()))
    }
}
