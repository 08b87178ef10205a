//! A document as a word processor opens it (Office Open XML, ECMA-376).
//!
//! Knows styles, captions, lists and the archive; knows no study and no answers. What the writing library cannot
//! say (alternative texts, repeated header rows, language, properties) is put into its parts in `archive`.

mod archive;
mod blocks;
mod pictures;
mod styles;
mod tables;
mod text;

use std::collections::BTreeMap;

use docx_rs as w;

use super::document::{Block, Document, Section};
use blocks::{Piece, Writer};
use text::plain;

/// Why there is no document: a fault of ours.
#[derive(Debug)]
pub struct DocxError(pub String);

/// The bytes of a .docx file.
///
/// # Errors
/// If a picture cannot be made or the archive not be written; never because of what the document says.
pub fn docx(document: &Document) -> Result<Vec<u8>, DocxError> {
    let mut writer = Writer::new(bookmarks(document), pictures::rasters(document)?);
    let mut pieces = title(document);
    for (k, section) in document.sections.iter().enumerate() {
        pieces.extend(part(section, 1, &mut writer)?);
        // The answer comes before everything, a list of contents too.
        if k == 0 {
            pieces.extend(contents(document, &writer));
        }
    }
    let mut out = styles::empty(document);
    for k in 0..writer.lists.len() {
        out = out.add_numbering(styles::list(k, writer.lists[k]));
    }
    for piece in pieces {
        out = match piece {
            Piece::Paragraph(paragraph) => out.add_paragraph(*paragraph),
            Piece::Table(table) => out.add_table(*table),
        };
    }
    let mut bytes = std::io::Cursor::new(Vec::new());
    out.pack(&mut bytes).map_err(|e| DocxError(e.to_string()))?;
    archive::finished(bytes.into_inner(), document, &writer.alternatives)
}

/// Title, question and the lines of the title block.
fn title(document: &Document) -> Vec<Piece> {
    let styled = |style: &str, text: &str| {
        Piece::of(w::Paragraph::new().style(style).add_run(w::Run::new().add_text(plain(text))))
    };
    let mut pieces = vec![styled("Title", &document.title)];
    pieces.extend(document.question.iter().map(|question| styled("Subtitle", question)));
    if !document.facts.is_empty() {
        pieces.push(Piece::Table(Box::new(tables::facts(&document.facts))));
    }
    pieces
}

/// The table of contents, filled at once; page numbers come when the reader's program updates the field.
fn contents(document: &Document, writer: &Writer) -> Vec<Piece> {
    let mut headings = Vec::new();
    for section in &document.sections {
        listed(section, 1, &mut headings);
    }
    if headings.is_empty() {
        return Vec::new();
    }
    let heading = w::Paragraph::new().style("ContentsHeading").add_run(w::Run::new().add_text("Contents"));
    let mut pieces = vec![Piece::of(heading)];
    let last = headings.len() - 1;
    for (k, (level, section)) in headings.into_iter().enumerate() {
        let mut line = w::Paragraph::new().style(&format!("TOC{level}"));
        if k == 0 {
            let begin = w::Run::new()
                .add_field_char(w::FieldCharType::Begin, false)
                .add_instr_text(w::InstrText::Unsupported(" TOC \\o \"1-3\" \\h \\z \\u ".into()))
                .add_field_char(w::FieldCharType::Separate, false);
            line = line.add_run(begin);
        }
        line = line.add_hyperlink(writer.link(&section.id, w::Run::new().add_text(plain(&section.heading))));
        if k == last {
            line = line.add_run(w::Run::new().add_field_char(w::FieldCharType::End, false));
        }
        pieces.push(Piece::of(line));
    }
    pieces
}

fn listed<'a>(section: &'a Section, level: usize, into: &mut Vec<(usize, &'a Section)>) {
    into.push((level, section));
    if level < 3 {
        section.sections.iter().for_each(|part| listed(part, level + 1, into));
    }
}

fn part(section: &Section, level: usize, writer: &mut Writer) -> Result<Vec<Piece>, DocxError> {
    let heading =
        w::Paragraph::new().style(&format!("Heading{}", level.min(4))).page_break_before(section.new_page);
    let heading = writer.marked(heading, &section.id, w::Run::new().add_text(plain(&section.heading)));
    let mut pieces = vec![Piece::of(heading)];
    pieces.extend(writer.blocks(&section.blocks)?);
    for inner in &section.sections {
        pieces.extend(part(inner, level + 1, writer)?);
    }
    Ok(pieces)
}

/// A bookmark's number for every id that a link can lead to.
fn bookmarks(document: &Document) -> BTreeMap<String, usize> {
    let mut ids = Vec::new();
    document.sections.iter().for_each(|section| ids_of(section, &mut ids));
    let mut numbers = BTreeMap::new();
    for id in ids {
        let next = numbers.len() + 1;
        numbers.entry(id).or_insert(next);
    }
    numbers
}

fn ids_of(section: &Section, ids: &mut Vec<String>) {
    ids.push(section.id.clone());
    ids_in(&section.blocks, ids);
    section.sections.iter().for_each(|inner| ids_of(inner, ids));
}

fn ids_in(blocks: &[Block], ids: &mut Vec<String>) {
    for block in blocks {
        match block {
            Block::Table(table) => ids.push(table.id.clone()),
            Block::Picture(picture) => ids.push(picture.id.clone()),
            Block::Pictures(pictures) => ids.extend(pictures.iter().map(|picture| picture.id.clone())),
            Block::List { items, .. } => items.iter().for_each(|item| ids_in(item, ids)),
            Block::Note { blocks, .. } => ids_in(blocks, ids),
            Block::Lead(_) | Block::Paragraph(_) => {}
        }
    }
}
