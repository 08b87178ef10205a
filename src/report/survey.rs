//! The form for a visit: what to read, measure, photograph and ask, with what error, and where each figure goes.
//!
//! Two pages, as text or as HTML that prints on A4. A blank names the input of a study or the setting of a simulated home
//! that takes it.

mod blanks;
mod forms;
mod of_study;

pub use blanks::{ASK, Blank, PAGES, PHOTOGRAPH, SAFETY, Section};
pub use forms::{LINES, WIDTH, html, text};
pub use of_study::pages_of;

/// A page of the form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// What it is about.
    pub title: String,
    /// Lines that stand first.
    pub first: Vec<(String, Vec<String>)>,
    /// Headings and the blanks below them.
    pub parts: Vec<(String, Vec<Line>)>,
    /// Lists that stand last: heading and lines.
    pub last: Vec<(String, Vec<String>)>,
}

/// A blank as it is printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// What is wanted.
    pub what: String,
    /// How it is had.
    pub how: String,
    /// With what error.
    pub error: String,
    /// Its unit.
    pub unit: String,
    /// Where it goes.
    pub goes_to: String,
}

/// The general form.
pub fn pages() -> Vec<Page> {
    let line = |b: &Blank| Line {
        what: b.what.to_owned(),
        how: b.how.to_owned(),
        error: b.error.to_owned(),
        unit: b.unit.to_owned(),
        goes_to: b.goes_to.join(", "),
    };
    let own = |lines: &[&str]| lines.iter().map(|&l| l.to_owned()).collect::<Vec<_>>();
    let part = |s: &Section| (s.heading.to_owned(), s.blanks.iter().map(line).collect::<Vec<_>>());
    let mut pages: Vec<Page> = PAGES
        .iter()
        .map(|(title, sections)| Page {
            title: (*title).to_owned(),
            first: Vec::new(),
            parts: sections.iter().map(part).collect(),
            last: Vec::new(),
        })
        .collect();
    if let Some(page) = pages.first_mut() {
        page.first.push(("Before you begin".to_owned(), own(&SAFETY)));
    }
    if let Some(page) = pages.last_mut() {
        page.last = vec![("Photograph".to_owned(), own(&PHOTOGRAPH)), ("Ask".to_owned(), own(&ASK))];
    }
    pages
}
