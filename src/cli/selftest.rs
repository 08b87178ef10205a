//! `selftest`: known answers on the reader's own machine.

use std::fmt::Write as _;

use clap::{Args, ValueEnum};

use super::delivered::unwritable;
use super::failure::Failure;
use super::options::General;
use super::run::pool;
use super::terminal::Terminal;
use crate::selftest::{Check, checks};

/// Work out cases with known answers on this machine
#[derive(Debug, Args)]
pub(super) struct Selftest {
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    Text,
    /// For machines
    Json,
}

impl Selftest {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let found = pool(general.threads)?.install(checks);
        let text = match self.format {
            Format::Text => table(&found),
            Format::Json => serde_json::to_string_pretty(&found).map_err(|e| unwritable(&e))? + "\n",
        };
        terminal.say(&text)?;
        match found.iter().filter(|check| !check.is_ok()).count() {
            0 => Ok(()),
            n => Err(Failure::Machine(format!(
                "{n} of {} kinds of known answers do not come out on this machine: trust no figure of it",
                found.len()
            ))),
        }
    }
}

fn table(found: &[Check]) -> String {
    let mut out = format!(
        "payspread {}, engine {}: figures of other people's making, worked out here\n\n",
        env!("CARGO_PKG_VERSION"),
        crate::ENGINE_VERSION
    );
    let width = |text: fn(&Check) -> &str| found.iter().map(|c| text(c).chars().count()).max().unwrap_or(0);
    let (what, measure) = (width(|c| c.what), width(|c| c.measure));
    let _ = writeln!(
        out,
        "{:what$}  figures  {:>8}  {:>8}  {:measure$}      source",
        "what", "largest", "allowed", "measured in"
    );
    for check in found {
        let word = if check.is_ok() { "ok " } else { "NOT" };
        let _ = writeln!(
            out,
            "{:what$}  {:>7}  {:>8}  {:>8}  {:measure$}  {word} {}",
            check.what,
            check.cases,
            short(check.largest),
            short(check.tolerance),
            check.measure,
            check.source
        );
        for wrong in &check.wrong {
            let _ = writeln!(out, "    {wrong}");
        }
    }
    let wrong = found.iter().filter(|check| !check.is_ok()).count();
    let figures: usize = found.iter().map(|check| check.cases).sum();
    let _ = match wrong {
        0 => writeln!(out, "\nAll {figures} figures come out as they must."),
        n => writeln!(out, "\n{n} of {} kinds do not come out.", found.len()),
    };
    out
}

fn short(x: f64) -> String {
    if x == 0.0 { "0".into() } else { format!("{x:.0e}") }
}
