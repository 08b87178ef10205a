//! Sections and blocks.

use maud::{Markup, html};

use super::Page;
use super::ids::Place;
use super::text::legal;
use crate::report::document::{Block, NoteKind, Section};

impl Page {
    /// A section of this depth and the id that it got. `fresh`: nothing has been said since the last page began.
    pub(super) fn section(&mut self, section: &Section, depth: usize, fresh: bool) -> (String, Markup) {
        let id = self.ids.claim(Place::Section, &section.id);
        // Two breaks in a row would leave a heading alone on its page.
        let breaks = section.new_page && !fresh;
        let alone = (section.new_page || fresh) && section.blocks.is_empty();
        let markup = html! {
            section.page[breaks] id=(id) {
                (heading(depth, &section.heading))
                @for block in &section.blocks { (self.block(block)) }
                @for (k, part) in section.sections.iter().enumerate() {
                    (self.section(part, depth + 1, alone && k == 0).1)
                }
            }
        };
        (id, markup)
    }

    fn block(&mut self, block: &Block) -> Markup {
        match block {
            Block::Lead(line) => html! { p.lead { (self.line(line, None)) } },
            Block::Paragraph(line) => html! { p { (self.line(line, None)) } },
            Block::List { numbered: true, items } => html! { ol { (self.items(items)) } },
            Block::List { numbered: false, items } => html! { ul { (self.items(items)) } },
            Block::Table(table) => self.table(table),
            Block::Picture(picture) => self.picture(picture),
            Block::Pictures(pictures) => html! {
                div.pictures { @for picture in pictures { (self.picture(picture)) } }
            },
            Block::Note { kind, heading, blocks } => self.note(*kind, heading, blocks),
        }
    }

    fn items(&mut self, items: &[Vec<Block>]) -> Markup {
        html! {
            @for item in items {
                li {
                    @if let [Block::Paragraph(line)] = item.as_slice() {
                        (self.line(line, None))
                    } @else {
                        @for block in item { (self.block(block)) }
                    }
                }
            }
        }
    }

    fn note(&mut self, kind: NoteKind, heading: &str, blocks: &[Block]) -> Markup {
        let (class, word) = match kind {
            NoteKind::Caution => ("caution", "Caution"),
            NoteKind::Missing => ("missing", "Missing"),
            NoteKind::Remark => ("remark", "Remark"),
        };
        html! {
            div class={ "note " (class) } role="note" {
                p.of {
                    span.kind { (word) }
                    @if !heading.is_empty() && heading != word { " " strong { (legal(heading)) } }
                }
                @for block in blocks { (self.block(block)) }
            }
        }
    }
}

/// A heading. The title is the first level, so a section of the document has the second.
fn heading(depth: usize, text: &str) -> Markup {
    let text = legal(text);
    match depth {
        1 => html! { h2 { (text) } },
        2 => html! { h3 { (text) } },
        3 => html! { h4 { (text) } },
        4 => html! { h5 { (text) } },
        _ => html! { h6 { (text) } },
    }
}
