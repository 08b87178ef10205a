//! `reference`: pages written from the tables that the checker reads.

use std::fmt::Write as _;

use clap::{Args, ValueEnum};

use super::failure::Failure;
use super::terminal::Terminal;
use crate::formula::reference::{functions_text, units_text};
use crate::sampling::distributions::catalogue::KINDS;
use crate::units::UnitTable;

/// Print what a study may use: functions, units, distributions
#[derive(Debug, Args)]
pub(super) struct Reference {
    /// Which page
    #[arg(value_enum)]
    page: Page,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Page {
    /// Functions of formulas: what they take and give, with an example
    Functions,
    /// Units and their sizes
    Units,
    /// Distributions and their parameters
    Distributions,
}

impl Reference {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        terminal.say(&match self.page {
            Page::Functions => functions_text(),
            Page::Units => units_text(&UnitTable::new(EXAMPLE_CURRENCY)),
            Page::Distributions => distributions_text(),
        })
    }
}

/// Stands for the currency of the study.
const EXAMPLE_CURRENCY: &str = "EUR";

fn distributions_text() -> String {
    let mut out = String::new();
    for kind in KINDS {
        let _ = writeln!(out, "{} = {}", kind.name, kind.forms_in_words());
        let _ = writeln!(out, "    {}", kind.summary);
        for form in kind.forms.iter().filter(|form| !form.words.is_empty()) {
            let keys = match (kind.percentiles, form.keys) {
                (true, []) => "pNN".to_owned(),
                (_, keys) => keys.join(", "),
            };
            let _ = writeln!(out, "    {keys}: {}", form.words);
        }
        let _ = writeln!(out, "    example: {}", kind.example);
        if !kind.source.is_empty() {
            let _ = writeln!(out, "    source: {}", kind.source);
        }
        out.push('\n');
    }
    out.push_str(
        "Keys in square brackets may be left out. Any of them can be cut: truncate = { min = .., max = .. }.\n\
         A parameter is a number or the name of another input.\n",
    );
    out
}
