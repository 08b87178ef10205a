//! `reference`: pages written from the tables that the checker reads.

use std::fmt::Write as _;

use clap::{Args, ValueEnum};

use super::failure::Failure;
use super::terminal::Terminal;
use crate::formula::reference::{functions_text, units_text};
use crate::sampling::distributions::catalogue::KINDS;
use crate::study::processes::PROCESSES;
use crate::units::UnitTable;

/// Print what a study may use: functions, units, distributions, processes of paths, changes by year
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
    /// Processes of paths with their keys, changes by year, real and nominal money
    Processes,
}

impl Reference {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        terminal.say(&match self.page {
            Page::Functions => functions_text(),
            Page::Units => units_text(&UnitTable::new(EXAMPLE_CURRENCY)),
            Page::Distributions => distributions_text(),
            Page::Processes => processes_text(),
        })
    }
}

/// Stands for the currency of the study.
const EXAMPLE_CURRENCY: &str = "EUR";

fn processes_text() -> String {
    let mut out = String::new();
    for kind in &PROCESSES {
        let _ = writeln!(out, "process = \"{}\"", kind.word);
        let _ = writeln!(out, "    {}", kind.summary);
        for (_, example) in kind.needs {
            let _ = writeln!(out, "    needs: {example}");
        }
        if !kind.may.is_empty() {
            let _ = writeln!(out, "    may have: {}", kind.may.join(", "));
        }
        out.push('\n');
    }
    out.push_str(CHANGES_AND_MONEY);
    out
}

/// What paths of every process may have, and inputs too.
const CHANGES_AND_MONEY: &str = "\
Every path may have floor and ceiling; every path and input changes and money.

changes = [ { chance = 0.35, year = 2030, scale = 0.5 } ]
    From its year on, in the runs in which it comes (all, without a chance), a change does one of:
    scale (a factor), to (a new value; a label of an input with labels), add, at_most (a cap), at_least.
    Several act in the order of the list. year and effect may be distributions; a year is rounded down.
    An input with changes has a value for each year. The base case has a change if its chance is at least one half.

money = \"real\" | \"nominal\"
    In which money an amount, a price or a rate by year is; without it, that of the study (prices). Where the two differ it is
    converted with inflation = \"NAME\" (an input or path in 1/yr), by year: 1 + nominal = (1 + real)(1 + inflation).
    Real money is that of the start of the first year, when an outlay is paid; the amounts of a year are in the prices of
    its end, where npv puts them, so a real and a nominal study give the same NPV (not with \"mid year\").
    source: Fisher 1930
";

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
