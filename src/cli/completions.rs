//! `completions`: what a shell completes after `payspread`.

use clap::Args;
use clap_complete::{Shell, generate};

use super::failure::Failure;
use super::terminal::Terminal;

/// Print the completions of a shell
#[derive(Debug, Args)]
pub(super) struct Completions {
    /// For which shell
    #[arg(value_enum)]
    shell: Shell,
}

impl Completions {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        let mut bytes = Vec::new();
        generate(self.shell, &mut super::command(), "payspread", &mut bytes);
        terminal.say(&String::from_utf8_lossy(&bytes))
    }
}
