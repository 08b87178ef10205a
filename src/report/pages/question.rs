//! The question, the decision that it serves, and how far the report goes.

use super::book::{Book, bullets, missing, said, text, verbatim};
use crate::report::document::{Block, Inline, Section, markdown};
use crate::wording::clean;

/// Lines of the title block.
pub(super) fn facts(book: &Book<'_>) -> Vec<(String, String)> {
    let report = &book.material.model.report;
    let given = [
        ("Client", &report.client),
        ("Reference", &report.reference),
        ("Author", &report.author),
        ("Checked by", &report.checker),
        ("Revision", &report.revision),
        ("Date", &report.date),
    ];
    let given = given.into_iter().filter_map(|(what, is)| Some((what.to_owned(), said(is.as_deref()?))));
    let study = &book.material.answers.study;
    let money = format!(
        "{}, {} prices; year 1 is {}, {} years",
        clean(&study.currency),
        study.prices,
        study.first_year,
        study.years
    );
    let file = clean(book.material.study_file);
    given.chain([("Study file".to_owned(), file), ("Money and time".to_owned(), money)]).collect()
}

pub(super) fn section(book: &Book<'_>) -> Section {
    let report = &book.material.model.report;
    let study = &book.material.answers.study;
    let mut blocks = Vec::new();
    match &study.question {
        Some(question) => blocks.push(led("The question: ", question)),
        None => {
            blocks.push(missing("No question", "The study asks none; `question` of the study would say it."));
        }
    }
    match &report.decision {
        Some(decision) => blocks.push(led("The decision: ", decision)),
        None => blocks.push(missing(
            "Decision not stated",
            "The study does not say which decision this serves; `decision` in its [report] would.",
        )),
    }
    blocks.extend(options(book));
    for (heading, words) in [("What it covers", &report.scope), ("What it leaves out", &report.exclusions)] {
        match words {
            Some(words) => {
                blocks.push(Block::Paragraph(vec![Inline::Strong(vec![text(heading)])]));
                blocks.extend(markdown::blocks(words));
            }
            None => blocks.push(missing(heading, "The study does not say.")),
        }
    }
    if let Some(doubts) = &report.doubts {
        blocks.push(Block::Paragraph(vec![Inline::Strong(vec![text("Doubts that no distribution covers")])]));
        blocks.extend(markdown::blocks(doubts));
    }
    blocks.extend(agreed(book));
    Section {
        id: "question".into(),
        heading: "Question, decision and scope".into(),
        new_page: true,
        blocks,
        sections: Vec::new(),
    }
}

fn led(lead: &str, words: &str) -> Block {
    Block::Paragraph(vec![Inline::Strong(vec![text(lead)]), verbatim(words)])
}

/// The courses that are compared.
fn options(book: &Book<'_>) -> Option<Block> {
    let found = book.material.answers.alternatives.as_ref()?;
    let names = found.comparison.rows.iter().map(|course| vec![verbatim(&said(&course.label))]).collect();
    Some(Block::Note {
        kind: crate::report::document::NoteKind::Remark,
        heading: "Courses compared".into(),
        blocks: vec![bullets(names)],
    })
}

fn agreed(book: &Book<'_>) -> Vec<Block> {
    let agreed = &book.material.model.report.agreed;
    if agreed.is_empty() {
        return vec![missing("Agreed assumptions", "The study lists none.")];
    }
    let line = |one: &crate::study::AgreedDef| {
        let mut line = vec![verbatim(&one.what)];
        let with = one.with.as_deref().map(|with| format!(" with {}", clean(with)));
        let date = one.date.as_deref().map(|date| format!(" on {}", clean(date)));
        if with.is_some() || date.is_some() {
            line.push(Inline::Verbatim(format!(
                " (agreed{}{})",
                with.unwrap_or_default(),
                date.unwrap_or_default()
            )));
        }
        line
    };
    vec![
        Block::Paragraph(vec![Inline::Strong(vec![text("Agreed assumptions")])]),
        bullets(agreed.iter().map(line).collect()),
    ]
}
