//! Convergence, checks and warnings.

use super::book::{Book, bullets, missing, section as part, text, verbatim};
use crate::report::document::{Block, Inline, NoteKind, Section};
use crate::report::stopping;
use crate::report::words::{Touches, cautions};
use crate::wording::{clean, grouped};

pub(super) fn section(book: &mut Book<'_>) -> Section {
    let answers = book.material.answers;
    let mut blocks = book.words("checks");
    blocks.extend(book.charts(&["convergence"]));
    match stopping::sentence(answers) {
        Some(said) => blocks.push(Block::text(said)),
        None => blocks.push(Block::text(format!(
            "The number of runs was given, not sought: {}. How far each figure is known from them stands in brackets beside it.",
            grouped(answers.sampling.runs as f64, 0)
        ))),
    }
    let mut failed: Vec<Vec<Inline>> = Vec::new();
    for result in answers.results.iter().filter(|result| result.without_value > 0) {
        let row = book.row_of(result);
        let n = book.given(row, 'o', "runs without a value", &grouped(result.without_value as f64, 0), "");
        let all = book.given(row, 'n', "runs", &grouped(result.runs as f64, 0), "");
        failed.push(vec![
            verbatim(&result.label),
            text(": "),
            n,
            text(" of "),
            all,
            text(" runs have no value"),
        ]);
    }
    match failed.is_empty() {
        true => blocks.push(Block::text("Every run gave a value for every result; none was left out.")),
        false => blocks.push(Block::Note {
            kind: NoteKind::Caution,
            heading: "Runs without a value".into(),
            blocks: vec![bullets(failed)],
        }),
    }
    blocks.extend(told(book));
    if answers.study.unsourced.is_empty() {
        blocks.push(Block::text("Every input has a source."));
    } else {
        let names: Vec<String> = answers.study.unsourced.iter().map(|name| clean(name)).collect();
        blocks.push(missing("Inputs without a source", &names.join(", ")));
    }
    let cautions = cautions(Touches::of(answers)).into_iter().map(|c| vec![text(c)]).collect();
    let cautions = part("cautions", "Cautions", vec![bullets(cautions)]);
    let sections = vec![cautions];
    Section { new_page: true, sections, ..part("checks", "Convergence, checks and warnings", blocks) }
}

/// Cautions of the study and remarks of the answers.
fn told(book: &Book<'_>) -> Vec<Block> {
    let cautions = &book.material.model.cautions;
    let remarks = &book.material.answers.remarks;
    let note = |heading: &str, lines: Vec<Vec<Inline>>| Block::Note {
        kind: NoteKind::Caution,
        heading: heading.into(),
        blocks: vec![bullets(lines)],
    };
    let mut blocks = Vec::new();
    if !cautions.is_empty() {
        let lines =
            cautions.iter().map(|c| vec![Inline::Code(c.id.into()), verbatim(&format!(": {}", c.message))]);
        blocks.push(note("To look at again in the study", lines.collect()));
    }
    if !remarks.is_empty() {
        blocks.push(note("To know of these answers", remarks.iter().map(|r| vec![text(clean(r))]).collect()));
    }
    if blocks.is_empty() {
        blocks.push(Block::text("Nothing in the study or in its answers asks for a second look."));
    }
    blocks
}
