//! `reference`: pages written from the tables that the checker reads.

use std::fmt::Write as _;

use clap::{Args, ValueEnum};

use super::failure::Failure;
use super::terminal::Terminal;
use crate::formula::reference::{functions_text, units_text};
use crate::report::answers_schema;
use crate::sampling::distributions::catalogue::KINDS;
use crate::study::editor;
use crate::study::hotwater_reference::hotwater_text;
use crate::study::processes::PROCESSES;
use crate::units::UnitTable;

/// Print what a study may use: functions, units, distributions, processes of paths, changes by year, questions, hotwater
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
    /// Sections that ask more of a study: break-even, alternatives, claim, conditions, groups, measurements, indices
    Questions,
    /// Simulated homes: keys, settings and outputs of [hotwater.NAME]
    Hotwater,
    /// JSON Schema of the study file, by which an editor completes and checks it
    StudySchema,
    /// JSON Schema of the answers as `run --format json` writes them
    AnswersSchema,
}

impl Reference {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        terminal.say(&match self.page {
            Page::Functions => functions_text(),
            Page::Units => units_text(&UnitTable::new(EXAMPLE_CURRENCY)),
            Page::Distributions => distributions_text(),
            Page::Processes => processes_text(),
            Page::Questions => QUESTIONS.to_owned(),
            Page::Hotwater => hotwater_text(),
            Page::StudySchema => editor::PUBLISHED.to_owned(),
            Page::AnswersSchema => answers_schema::PUBLISHED.to_owned(),
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

/// Sections that ask more of a study.
const QUESTIONS: &str = "\
Every run of a study answers, without being asked: what drives the headline, the headline by every input, in which
conditions it fails, what it is worth to know more, and where it flips along the inputs that matter most.

[[break_even]]              of = \"export_price\", result = \"npv\"
    The value of one input or path at which the result meets its threshold. against = \"people\" gives a curve, against =
    [\"gas_price\", \"people\"] a map (refined = true: more points); chances = [0.5, 0.8]; from, to: where it is looked for.

[alternatives.NAME]         label = \"..\", inputs = { outlay = 0 }, workings = { saving = \"..\" }
    Another course: the study with some inputs set to a value and some workings set otherwise. Of an input that changes by
    year, what is set is its first year. A path cannot be set.
[comparison]                result = \"npv\", label = \"..\", nothing = 0, along = [\"export_price\"]
    By which result courses are compared, what the study's own course is called, and which is doing nothing: a number (what
    the result is then), \"study\", or an alternative. along: inputs along which it is asked where the best course changes.

[claim]                     payback = 6, first_year_saving = 90
    What was promised: names of results, workings or inputs, with a value in their unit. Years, and results of which less is
    better, are kept at or below it; all else at or above.
[conditions]                result = \"npv\"
    The result whose conditions of failure are sought; without it the headline, if it can fail.
[[groups]]                  by = \"people\", result = \"npv\"
    A result by the values of an input, or by thirds of its runs.
[[measurements]]            of = \"litres_each\", observations = 14, sd = 12, cost = 20
    What observations of an input would be worth before choosing; sd is that of one, in the unit of the input.
[indices]                   result = \"npv\", base_points = 4096, shapley = true
    Global indices in every run; without the section they are made by `run --all`.

revealed = \"later\"          (in an input)
    Only time tells: nobody can find it out before choosing. So are all paths and changes by year.
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
