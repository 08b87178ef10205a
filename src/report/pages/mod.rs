//! What a report says: answers and study in, one [`Document`] out. A file for each part.
//!
//! Every figure gets a number here. Nothing here knows the form in which the document is written.

mod answer;
mod book;
mod by_table;
mod checklist;
mod checks;
mod formulas;
mod global;
mod listed;
mod method;
mod question;
mod register;
mod repeat;
mod results;
mod tables_shown;
mod told;

use super::document::{Document, Section, numbers};
use super::material::Material;
use crate::wording::clean;
use book::{Book, section};

/// The report.
pub fn document(material: &Material<'_>) -> Document {
    let mut book = Book::new(material);
    let mut sections = vec![
        answer::section(&mut book),
        question::section(&book),
        method::section(&book),
        register::section(&mut book),
        formulas::section(&mut book),
        results::section(&mut book),
    ];
    sections.extend(conclusion(&book));
    sections.push(checks::section(&mut book));
    sections.push(repeat::section(&book));
    sections.push(checklist::section(&book));
    told::number(&mut book, &mut sections);
    let study = &material.answers.study;
    let figures = std::mem::take(&mut book.figures).into_entries();
    sections.push(listed::section(&figures));
    let mut document = Document {
        title: clean(&study.title),
        question: study.question.as_deref().map(clean),
        facts: question::facts(&book),
        sections,
        figures,
    };
    numbers::apply(&mut document, material.model.report.numbers);
    document
}

/// What the study's author concludes, if anything.
fn conclusion(book: &Book<'_>) -> Option<Section> {
    let words = book.words("conclusion");
    (!words.is_empty()).then(|| section("conclusion", "What its author concludes", words))
}
