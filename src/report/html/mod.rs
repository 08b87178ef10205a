//! A document as one self-contained HTML page that prints to A4.
//!
//! Knows the document and nothing of what it is about. All text is escaped by maud's macro; only our own charts and
//! style sheet pass as they are. The page holds no script and asks no network for anything, and its policy line
//! forbids both. Each figure is a button that opens its panel; both are plain HTML.

mod blocks;
mod ids;
mod panels;
mod style;
mod svg;
mod tables;
mod text;

use std::collections::BTreeSet;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::document::{Document, Section};
use ids::Ids;
use text::legal;

/// What writing needs to know of the whole page.
struct Page {
    ids: Ids,
    /// Rows of figures that have a panel.
    rows: BTreeSet<u32>,
    /// Widths of columns and tables that the style sheet must name.
    widths: style::Widths,
    /// Drawings so far.
    drawings: usize,
}

/// The page.
pub fn html(document: &Document) -> String {
    let mut page = Page {
        ids: Ids::of(document),
        rows: document.figures.iter().map(|entry| entry.row).collect(),
        widths: style::Widths::default(),
        drawings: 0,
    };
    // Sections first: the contents link to the ids that they were given.
    let mut links = Vec::new();
    let mut parts = Vec::new();
    for (k, section) in document.sections.iter().enumerate() {
        // The first is page one, below the title.
        let (id, part) = page.section(section, 1, k == 0);
        links.push((id, section));
        parts.push(part);
    }
    let style = style::sheet(document, &page.widths);
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(document, &style))
            body {
                (front(document))
                (contents(&links))
                main {
                    @for part in &parts { (part) }
                    (panels::panels(&document.figures))
                }
            }
        }
    };
    markup.into_string()
}

/// Title, policy and style.
fn head(document: &Document, style: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta http-equiv="Content-Security-Policy" content=(style::policy(style));
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="referrer" content="no-referrer";
            title { (legal(&document.title)) }
            style { (PreEscaped(style)) }
        }
    }
}

/// The title block.
fn front(document: &Document) -> Markup {
    html! {
        header {
            h1 { (legal(&document.title)) }
            @if let Some(question) = &document.question {
                p.question { (legal(question)) }
            }
            @if !document.facts.is_empty() {
                dl.facts {
                    @for (what, fact) in &document.facts {
                        div { dt { (legal(what)) } dd { (legal(fact)) } }
                    }
                }
            }
        }
    }
}

/// Links to the parts; on wide screens they stand beside the text.
fn contents(links: &[(String, &Section)]) -> Markup {
    if links.len() < 2 {
        return html! {};
    }
    html! {
        nav aria-label="Contents" {
            p { "Contents" }
            ol {
                @for (id, section) in links {
                    li { a href={ "#" (id) } { (legal(&section.heading)) } }
                }
            }
        }
    }
}
