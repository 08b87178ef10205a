//! `selftest`.

use clap::Args;

use super::failure::Failure;
use super::options::General;
use super::terminal::Terminal;

/// Work out cases with known answers on this machine
#[derive(Debug, Args)]
pub(super) struct Selftest {}

impl Selftest {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let _ = (general, terminal);
        Err(Failure::Machine("not built yet".into()))
    }
}
