//! Numbers for what is told in sentences and shown in charts, so that each can be looked up as any figure of a table can.

use super::book::Book;
use crate::report::document::{Block, Inline, Picture, Section};
use crate::wording::{grouped, shortened};

/// Parts whose sentences tell figures of the answer.
const TOLD: [&str; 3] = ["answer", "results", "checks"];
/// A part of them that tells none.
const SAFETY: &str = "cautions";
/// Longest sentence that is repeated whole.
const MOST: usize = 600;

/// Gives each such sentence and each picture a number.
pub(super) fn number(book: &mut Book<'_>, sections: &mut [Section]) {
    for section in sections.iter_mut().filter(|section| TOLD.contains(&section.id.as_str())) {
        of_section(book, section);
    }
}

fn of_section(book: &mut Book<'_>, section: &mut Section) {
    let place = Place { id: section.id.clone(), heading: section.heading.clone() };
    let mut count = 0;
    // The cautions on page one stand in a note, and the figures in them are no answers.
    let blocks = section.blocks.iter_mut();
    for block in blocks.filter(|block| section.id != "answer" || !matches!(block, Block::Note { .. })) {
        of_block(book, &place, &mut count, block);
    }
    section.sections.iter_mut().filter(|part| part.id != SAFETY).for_each(|part| of_section(book, part));
}

/// Where a sentence stands.
struct Place {
    id: String,
    heading: String,
}

fn of_block(book: &mut Book<'_>, place: &Place, count: &mut usize, block: &mut Block) {
    match block {
        Block::Lead(line) | Block::Paragraph(line) => of_line(book, place, count, line),
        Block::List { items, .. } => {
            items.iter_mut().flatten().for_each(|block| of_block(book, place, count, block));
        }
        Block::Note { blocks, .. } => {
            blocks.iter_mut().for_each(|block| of_block(book, place, count, block));
        }
        Block::Picture(picture) => of_picture(book, picture),
        Block::Pictures(pictures) => pictures.iter_mut().for_each(|picture| of_picture(book, picture)),
        Block::Table(_) => {}
    }
}

/// Only what is ours has figures of ours: what the author wrote is verbatim. A line in which a figure has its number
/// leads somewhere already.
fn of_line(book: &mut Book<'_>, place: &Place, count: &mut usize, line: &mut Vec<Inline>) {
    let tells =
        |part: &Inline| matches!(part, Inline::Text(text) if text.contains(|c: char| c.is_ascii_digit()));
    let is_numbered = line.iter().any(|part| matches!(part, Inline::Figure { .. }));
    if is_numbered || !line.iter().any(tells) {
        return;
    }
    *count += 1;
    let answers = book.material.answers;
    let headline = answers.results.iter().find(|result| result.name == answers.study.headline);
    let (name, behind) = match headline.filter(|_| place.id == "answer") {
        Some(result) => (result.name.as_str(), book.behind(result)),
        None => ("", runs(book)),
    };
    let subject = format!("sentence {} {count}", place.id);
    let row = book.row(&subject, &format!("Sentence {count} under \"{}\"", place.heading), name, &behind);
    let said = shortened(plain(line).trim(), MOST);
    line.push(book.figures.figure(row, 'a', "It says", &said, ""));
}

fn of_picture(book: &mut Book<'_>, picture: &mut Picture) {
    let behind = format!("{}; where it has a table, that stands with it and gives each figure", runs(book));
    let row = book.row(&format!("chart {}", picture.id), &format!("Chart: {}", picture.caption), "", &behind);
    book.figures.figure(row, 'a', "It shows", &picture.alternative, "");
    picture.number = Some(row);
}

fn runs(book: &Book<'_>) -> String {
    format!("{} runs", grouped(book.material.answers.sampling.runs as f64, 0))
}

fn plain(line: &[Inline]) -> String {
    line.iter()
        .map(|part| match part {
            Inline::Text(text) | Inline::Verbatim(text) | Inline::Code(text) => text.clone(),
            Inline::Figure { text, .. } | Inline::Link { text, .. } | Inline::Web { text, .. } => {
                text.clone()
            }
            Inline::Strong(line) | Inline::Emphasis(line) => plain(line),
            Inline::Break => " ".into(),
        })
        .collect()
}
