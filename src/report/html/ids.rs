//! Ids of sections, tables and pictures, each once in the page.

use std::collections::{BTreeMap, BTreeSet};

use crate::report::document::{Block, Document, Picture, Section};

/// What can be linked to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Place {
    Section,
    Table,
    Picture,
}

impl Place {
    const ALL: [Place; 3] = [Place::Section, Place::Table, Place::Picture];

    fn prefix(self) -> &'static str {
        match self {
            Place::Section => "part",
            Place::Table => "table",
            Place::Picture => "picture",
        }
    }
}

/// Ids that the document has, and those given out so far.
#[derive(Debug, Default)]
pub(super) struct Ids {
    wanted: BTreeSet<(Place, String)>,
    given: BTreeMap<String, usize>,
    unnamed: usize,
}

impl Ids {
    /// All that the document wants.
    pub(super) fn of(document: &Document) -> Ids {
        let mut ids = Ids::default();
        document.sections.iter().for_each(|section| ids.note_section(section));
        ids
    }

    fn note(&mut self, place: Place, id: &str) {
        self.wanted.insert((place, plain(id)));
    }

    fn note_section(&mut self, section: &Section) {
        self.note(Place::Section, &section.id);
        self.note_blocks(&section.blocks);
        section.sections.iter().for_each(|part| self.note_section(part));
    }

    fn note_blocks(&mut self, blocks: &[Block]) {
        for block in blocks {
            match block {
                Block::Table(table) => self.note(Place::Table, &table.id),
                Block::Picture(picture) => self.note_picture(picture),
                Block::Pictures(pictures) => pictures.iter().for_each(|picture| self.note_picture(picture)),
                Block::List { items, .. } => items.iter().for_each(|item| self.note_blocks(item)),
                Block::Note { blocks, .. } => self.note_blocks(blocks),
                Block::Lead(_) | Block::Paragraph(_) => {}
            }
        }
    }

    fn note_picture(&mut self, picture: &Picture) {
        self.note(Place::Picture, &picture.id);
    }

    /// An id of its own for what wants to be called `id`; a second of the same name gets a count.
    pub(super) fn claim(&mut self, place: Place, id: &str) -> String {
        let mut name = plain(id);
        if name.is_empty() {
            self.unnamed += 1;
            name = format!(".{}", self.unnamed);
        }
        let name = format!("{}-{name}", place.prefix());
        let count = self.given.entry(name.clone()).or_insert(0);
        *count += 1;
        // No plain name has a full stop.
        if *count == 1 { name } else { format!("{name}.{count}") }
    }

    /// Where a link to `id` leads, if the document has such a place.
    pub(super) fn target(&self, id: &str) -> Option<String> {
        let name = plain(id);
        let place = Place::ALL.into_iter().find(|place| self.wanted.contains(&(*place, name.clone())))?;
        (!name.is_empty()).then(|| format!("{}-{name}", place.prefix()))
    }
}

/// Letters, digits, hyphens and underscores of an id.
fn plain(id: &str) -> String {
    id.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_')).collect()
}
