//! `check`: everything that can be known of a study without running it.

use std::fmt::Write as _;

use clap::Args;

use super::failure::Failure;
use super::numbers::thousands;
use super::opened::Opened;
use super::options::{StudyFile, method_in_words};
use super::pin::pin;
use super::terminal::Terminal;
use super::timings::Timings;
use crate::model::{About, Input, InputValue, Model};
use crate::report::numbers::clean;
use crate::study::render;

/// Check a study without running it: units, names, formulas, distributions, sources
#[derive(Debug, Args)]
pub(super) struct Check {
    #[command(flatten)]
    study: StudyFile,
    /// Write the list of Sobol dimensions into the study file, so that inputs added later change no other draw
    #[arg(long)]
    pin: bool,
}

impl Check {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        let opened = Opened::read(&self.study.study, &mut Timings::start())?;
        let cautions = render(&opened.model.cautions, &opened.source, true);
        let gap = if cautions.is_empty() { "" } else { "\n" };
        terminal.say(&format!("{cautions}{gap}{}", summary(&opened.model)))?;
        if !self.pin {
            return Ok(());
        }
        terminal.say(&pin(&self.study.study, &opened)?)
    }
}

fn summary(model: &Model) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", clean(&model.title));
    let _ = writeln!(out, "In order: {}.", parts(model).join(", "));
    let wish = &model.sampling;
    let _ = writeln!(
        out,
        "Sampling: {}, method {}, seed {}.",
        match wish.until {
            Some(_) => format!("until precise enough, at most {}", counted(model.design().runs, "run")),
            None => counted(model.design().runs, "run"),
        },
        method_in_words(wish.method),
        wish.seed
    );
    let unsourced: Vec<String> =
        abouts(model).filter(|a| a.source.is_none()).map(|a| clean(&a.name)).collect();
    let _ = match unsourced.as_slice() {
        [] => writeln!(out, "Every input has a source."),
        names => writeln!(out, "Without a source: {}.", names.join(", ")),
    };
    let _ = match model.cautions.len() {
        0 => writeln!(out, "No cautions."),
        n => writeln!(out, "{}, shown above.", counted(n as u64, "caution")),
    };
    out
}

fn parts(model: &Model) -> Vec<String> {
    let of_sort = |sort: fn(&InputValue) -> bool| written(model).filter(|i| sort(&i.value)).count() as u64;
    let known = of_sort(|v| matches!(v, InputValue::Known));
    let choices = of_sort(|v| matches!(v, InputValue::Choice(_)));
    let drawn = of_sort(|v| matches!(v, InputValue::Drawn(_) | InputValue::Given(_)));
    let inputs = counted(written(model).count() as u64, "input");
    let mut parts = vec![format!("{inputs} ({known} known, {drawn} drawn, {})", counted(choices, "choice"))];
    parts.push(counted(model.paths.len() as u64, "price path"));
    let workings = model.workings.len() - model.results.len() - model.settings_of_homes();
    parts.push(counted(workings as u64, "working"));
    if !model.homes.is_empty() {
        parts.push(counted(model.homes.len() as u64, "simulated home"));
    }
    parts.push(counted(model.results.len() as u64, "result"));
    if !model.break_even.is_empty() {
        parts.push(counted(model.break_even.len() as u64, "break-even question"));
    }
    parts
}

/// Inputs of the file, without the drawn parts of their changes.
fn written(model: &Model) -> impl Iterator<Item = &Input> {
    model.inputs.iter().filter(|input| input.part_of.is_none())
}

/// Inputs and paths, in the order of the file.
fn abouts(model: &Model) -> impl Iterator<Item = &About> {
    written(model).map(|i| &i.about).chain(model.paths.iter().map(|p| &p.about))
}

fn counted(n: u64, what: &str) -> String {
    format!("{} {what}{}", thousands(n), if n == 1 { "" } else { "s" })
}
