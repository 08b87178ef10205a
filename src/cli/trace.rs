//! `trace`: how a figure comes about, down to the inputs.

use std::fmt::Write as _;

use clap::Args;

use super::failure::Failure;
use super::numbers::{any_whole, thousands, traced};
use super::opened::Opened;
use super::options::{Sampling, StudyFile, method_in_words};
use super::terminal::Terminal;
use super::timings::Timings;
use super::trace_figure::{Asked, number_of, told};
use crate::diagnostic::suggestion::nearest;
use crate::formula::types::{Kind, Shape};
use crate::model::Model;
use crate::model::homes::output_name;
use crate::model::trace::{TraceRow, trace};
use crate::report::numbers::{clean, with_unit};
use crate::sampling::Design;

/// Columns that rows of values keep to.
const WIDTH: usize = 100;
/// Deeper rows are not indented further.
const DEEPEST: usize = 24;

/// Show how a figure comes about: its formula and the value of all it reads, down to the inputs
#[derive(Debug, Args)]
pub(super) struct Trace {
    #[command(flatten)]
    study: StudyFile,
    /// A result, working, input or price path of the study, or the number of a figure in its report, such as 48213c
    name: String,
    /// In this run, counted from 0, in place of the base case
    #[arg(long, value_name = "N", value_parser = any_whole, allow_negative_numbers = true)]
    run: Option<u64>,
    #[command(flatten)]
    sampling: Sampling,
}

impl Trace {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        let opened = Opened::read_and_tell(&self.study.study, terminal, &mut Timings::start())?;
        let model = &opened.model;
        let design = self.sampling.design(model);
        if self.run.is_some_and(|run| run >= design.runs) {
            return Err(Failure::Usage {
                message: format!("there is no run {}", thousands(self.run.unwrap_or_default())),
                hint: format!("runs are counted from 0 to {}", thousands(design.runs - 1)),
            });
        }
        let mut out = String::new();
        let mut name = self.name.clone();
        if let Some((row, letter)) = number_of(&self.name) {
            let asked = Asked { text: &self.name, row, letter };
            let given = self.sampling.runs_are_given();
            let (figure, of) = told(&asked, &self.study.study, &opened, design, given, true)?;
            let Some(of) = of else { return terminal.say(&figure) };
            out = figure + "\n";
            name = of;
        }
        let rows = trace(model, &name, self.run, design);
        if rows.first().is_none_or(|row| row.values.is_empty()) {
            return Err(unknown(model, &name));
        }
        let _ = write!(out, "{}\n{}\n\n", clean(&model.title), self.which(&design));
        for row in &rows {
            describe(row, &mut out);
        }
        terminal.say(&out)
    }

    fn which(&self, design: &Design) -> String {
        match self.run {
            None => "Base case".into(),
            Some(run) => format!(
                "Run {} of 0 to {} (method {}, seed {})",
                thousands(run),
                thousands(design.runs - 1),
                method_in_words(design.method),
                design.seed
            ),
        }
    }
}

fn unknown(model: &Model, name: &str) -> Failure {
    let workings = model.workings.iter().map(|w| w.about.name.as_str());
    let inputs = model.inputs.iter().map(|i| i.about.name.as_str());
    let paths = model.paths.iter().map(|p| p.about.name.as_str());
    let outputs = model.homes.iter().flat_map(|h| h.wanted.iter().map(|&o| output_name(&h.about.name, o)));
    let outputs: Vec<String> = outputs.collect();
    let known: Vec<&str> =
        workings.chain(inputs).chain(paths).chain(outputs.iter().map(String::as_str)).collect();
    let results: Vec<&str> =
        model.results.iter().map(|r| model.result_working(r).about.name.as_str()).collect();
    let hint = match nearest(name, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("its results are {}", results.join(", ")),
    };
    Failure::Usage { message: format!("the study has no `{}`", clean(name)), hint }
}

/// A row as lines: its value, its formula, its source.
fn describe(row: &TraceRow, out: &mut String) {
    let indent = "  ".repeat(row.depth.min(DEEPEST));
    let values: Vec<String> = row.values.iter().map(|&x| value(row, x)).collect();
    let _ = writeln!(out, "{indent}{}{}{}", row.name, head(row, &values), label(row));
    if row.seen {
        return;
    }
    let indent = format!("{indent}    ");
    let _ = writeln!(out, "{indent}{}", clean(&row.formula));
    if let Some(source) = &row.source {
        let _ = writeln!(out, "{indent}source: {}", clean(source));
    }
    for (what, part) in courses(row, &values) {
        listed(&indent, &what, part, out);
    }
}

/// After the name: the one value, or what the many are.
fn head(row: &TraceRow, values: &[String]) -> String {
    let above = if row.seen { "  (shown above)" } else { "" };
    match (row.shape, values) {
        (Shape::Single, [one]) => format!(" = {}{above}", with_unit(one, &row.unit)),
        _ if row.unit.is_empty() => format!(", {}{above}", row.shape.words()),
        _ => format!(", {}, {}{above}", clean(&row.unit), row.shape.words()),
    }
}

fn label(row: &TraceRow) -> String {
    let label = clean(&row.label);
    if row.seen || label.is_empty() || label == row.name.replace('_', " ") {
        return String::new();
    }
    format!("  ({label})")
}

fn value(row: &TraceRow, x: f64) -> String {
    match &row.kind {
        Kind::YesNo if x.is_nan() => "no value".into(),
        Kind::YesNo => (if x == 0.0 { "no" } else { "yes" }).into(),
        Kind::Label(labels) => labels.get(x as usize).map_or_else(|| "no value".into(), |l| clean(l)),
        Kind::Number { .. } if x == f64::INFINITY => "above all numbers".into(),
        Kind::Number { .. } | Kind::Years => traced(x),
    }
}

/// Values by month and year as rows. Below the first name, years between the first and the last are left out.
fn courses<'v>(row: &TraceRow, values: &'v [String]) -> Vec<(String, &'v [String])> {
    let last = |n: usize| n.saturating_sub(1);
    match row.shape {
        Shape::Single => Vec::new(),
        Shape::Monthly if all_alike(values) => vec![("every month".into(), &values[..1])],
        Shape::Monthly => vec![("months 1 to 12".into(), values)],
        Shape::Yearly if all_alike(values) => vec![("every year".into(), &values[..1])],
        Shape::Yearly => vec![(format!("years 0 to {}", last(values.len())), values)],
        Shape::MonthlyByYearly => {
            let years: Vec<&[String]> = values.chunks(12).collect();
            if all_alike(&years) {
                return vec![("every year, months 1 to 12".into(), years[0])];
            }
            let shown = |year: &usize| row.depth == 0 || *year == 0 || *year == last(years.len());
            let named = |year: usize| (format!("year {year}, months 1 to 12"), years[year]);
            (0..years.len()).filter(shown).map(named).collect()
        }
    }
}

fn all_alike<T: PartialEq>(values: &[T]) -> bool {
    values.windows(2).all(|pair| pair[0] == pair[1]) && !values.is_empty()
}

/// Values in lines of bounded length, those after the first below the first value.
fn listed(indent: &str, what: &str, values: &[String], out: &mut String) {
    let head = format!("{indent}{what}: ");
    let room = WIDTH.saturating_sub(head.len()).max(20);
    let mut line = String::new();
    let mut lead = head.clone();
    for value in values {
        if !line.is_empty() && line.chars().count() + 2 + value.chars().count() > room {
            let _ = writeln!(out, "{lead}{line}");
            lead = " ".repeat(head.len());
            line.clear();
        }
        if !line.is_empty() {
            line.push_str("  ");
        }
        line.push_str(value);
    }
    let _ = writeln!(out, "{lead}{line}");
}
