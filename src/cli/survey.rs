//! `survey`: the form for a visit.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::failure::Failure;
use super::opened::Opened;
use super::options::General;
use super::terminal::Terminal;
use super::timings::Timings;
use crate::report::survey::{html, pages, pages_of, text};

/// Print a form for a visit: what to read, measure, photograph and ask, two pages
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  payspread survey
  payspread survey --as html > form.html      (open it in a browser and print it)
  payspread survey --for feasibility.toml

Behind each blank stands the input of a study, or the setting of a simulated home, that takes the figure: those of
`payspread new --for consultant` and `payspread reference hotwater`. Errors are what a careful visitor gets without
opening anything.")]
pub(super) struct Survey {
    /// Study whose own inputs are asked for, those without a source first, with their present figures
    #[arg(long = "for", value_name = "STUDY")]
    study: Option<PathBuf>,
    /// In what form
    #[arg(long = "as", value_enum, value_name = "text|html", default_value_t = Form::Text)]
    form: Form,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// 80 columns, two pages of at most 66 lines
    Text,
    /// A page for a browser, which prints on two sheets of A4
    Html,
}

impl Survey {
    pub(super) fn execute(&self, _general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let pages = match &self.study {
            Some(path) => pages_of(&Opened::read(path, &mut Timings::start())?.model),
            None => pages(),
        };
        let heading = "Site visit";
        match self.form {
            // A form feed: a printer takes a new sheet.
            Form::Text => terminal.say(&text(heading, &pages).join("\u{c}")),
            Form::Html => terminal.say(&html(heading, &pages)),
        }
    }
}
