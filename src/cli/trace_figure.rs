//! `trace STUDY 48213c`: what a figure of the report is, and what is behind it.

use std::fmt::Write as _;

use super::delivered::unwritable;
use super::failure::Failure;
use super::opened::Opened;
use super::progress;
use super::run::unanswered;
use crate::analysis::{Options, appraise};
use crate::chart;
use crate::model::trace::sheet;
use crate::report::document::FigureEntry;
use crate::report::material::Material;
use crate::report::pages;
use crate::sampling::Design;
use std::path::Path;

/// Row and letter of a number as a report prints it, if it is one.
pub(super) fn number_of(text: &str) -> Option<(u32, Option<char>)> {
    let (digits, letter) = match text.char_indices().nth(5) {
        None => (text, None),
        Some((at, letter)) if letter.is_ascii_lowercase() && text.len() == at + 1 => {
            (&text[..at], Some(letter))
        }
        Some(_) => return None,
    };
    let whole = digits.len() == 5 && digits.bytes().all(|b| b.is_ascii_digit()) && !digits.starts_with('0');
    digits.parse().ok().filter(|_| whole).map(|row| (row, letter))
}

/// What is asked of a figure.
pub(super) struct Asked<'a> {
    pub(super) text: &'a str,
    pub(super) row: u32,
    pub(super) letter: Option<char>,
}

/// The figure as text, and its name in the study if it has one.
///
/// # Errors
/// A number that the report does not have, a stop, or a fault of ours.
pub(super) fn told(
    asked: &Asked<'_>,
    study: &Path,
    opened: &Opened,
    design: Design,
    runs_are_given: bool,
    quiet: bool,
) -> Result<(String, Option<String>), Failure> {
    let until = opened.model.sampling.until.filter(|_| !runs_are_given);
    let options = Options { design, until, ..Options::of(&opened.model) };
    let control = progress::interruptible();
    let answers =
        progress::watched(&control, design.runs, quiet, || appraise(&opened.model, options, &control));
    let answers = answers.map_err(|error| unanswered(error, opened))?;
    let charts = chart::charts(&answers).map_err(|e| unwritable(&e))?;
    let small = chart::small(&answers).map_err(|e| unwritable(&e))?;
    let rows = sheet(&opened.model, opened.model.design());
    let study_file = study.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let material = Material {
        answers: &answers,
        model: &opened.model,
        sheet: &rows,
        charts: &charts,
        small: &small,
        study_file: &study_file,
        study_text: &opened.source.text,
    };
    let document = pages::document(&material);
    let entry = document.figures.iter().find(|entry| entry.row == asked.row);
    let entry = entry.filter(|entry| {
        asked.letter.is_none_or(|letter| entry.figures.iter().any(|(known, _, _)| *known == letter))
    });
    match entry {
        Some(entry) => Ok((in_words(entry, asked.letter), entry.name.clone())),
        None => Err(unknown(asked, &document.figures)),
    }
}

fn unknown(asked: &Asked<'_>, figures: &[FigureEntry]) -> Failure {
    let hint = match figures.iter().find(|entry| entry.row == asked.row) {
        Some(entry) => {
            let letters: Vec<String> =
                entry.figures.iter().map(|(letter, _, _)| letter.to_string()).collect();
            format!("the figures of {} are {}", asked.row, letters.join(", "))
        }
        None => {
            "the report lists its numbers under \"Figures by number\"; what only --all computes has none here"
                .into()
        }
    };
    Failure::Usage { message: format!("no figure of the report has the number {}", asked.text), hint }
}

/// An entry as lines: what it is, its figures, what is behind them, formula, what it reads, source.
fn in_words(entry: &FigureEntry, letter: Option<char>) -> String {
    let mut out = format!("{}  {}\n", entry.row, entry.what);
    for (known, what, value) in
        entry.figures.iter().filter(|(known, _, _)| letter.is_none_or(|l| l == *known))
    {
        let _ = writeln!(out, "    {known}  {what}: {value}");
    }
    let _ = writeln!(out, "    behind it: {}", entry.behind);
    if let Some(formula) = &entry.formula {
        let _ = writeln!(out, "    {formula}");
    }
    for (name, label, value) in &entry.reads {
        let _ = writeln!(out, "    reads {name} = {value}  ({label})");
    }
    if let Some(source) = &entry.source {
        let _ = writeln!(out, "    source: {source}");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_a_report_prints_them() {
        assert_eq!(number_of("48213"), Some((48_213, None)));
        assert_eq!(number_of("48213c"), Some((48_213, Some('c'))));
        for text in ["", "4821", "482130", "08213", "48213C", "48213cc", "npv", "4821é", "48213é", "-4821"]
        {
            assert_eq!(number_of(text), None, "{text}");
        }
    }
}
