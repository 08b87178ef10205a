//! Blocks as paragraphs and tables.

use std::collections::{BTreeMap, BTreeSet};

use docx_rs as w;

use super::text::{Look, plain};
use super::{DocxError, styles};
use crate::chart;
use crate::report::document::{Block, NoteKind, Picture};

/// English Metric Units in a point.
const EMU_A_POINT: f64 = 12_700.0;
/// Pixels of a picture for each of its points.
const PIXELS_A_POINT: f64 = 2.0;

/// What is counted while a document is written.
#[derive(Default)]
pub(super) struct Writer {
    /// Numbers of the places that links lead to.
    pub(super) bookmarks: BTreeMap<String, usize>,
    /// What each picture says, in the order of the document.
    pub(super) alternatives: Vec<String>,
    /// Lists begun so far, and whether each is numbered.
    pub(super) lists: Vec<bool>,
    /// Places that have their bookmark.
    pub(super) placed: BTreeSet<usize>,
    tables: usize,
    figures: usize,
    depth: usize,
}

/// What a body or a cell is made of.
pub(super) enum Piece {
    Paragraph(Box<w::Paragraph>),
    Table(Box<w::Table>),
}

impl Piece {
    pub(super) fn of(paragraph: w::Paragraph) -> Piece {
        Piece::Paragraph(Box::new(paragraph))
    }
}

impl Writer {
    /// Nothing is written yet.
    pub(super) fn new(bookmarks: BTreeMap<String, usize>) -> Writer {
        Writer { bookmarks, ..Writer::default() }
    }

    pub(super) fn blocks(&mut self, blocks: &[Block]) -> Result<Vec<Piece>, DocxError> {
        let mut pieces = Vec::new();
        for block in blocks {
            pieces.extend(self.block(block)?);
        }
        Ok(pieces)
    }

    fn block(&mut self, block: &Block) -> Result<Vec<Piece>, DocxError> {
        let paragraph = |style: &str| w::Paragraph::new().style(style);
        match block {
            Block::Lead(line) => {
                Ok(vec![Piece::of(self.line(paragraph("Lead"), line, Look::default(), None))])
            }
            Block::Paragraph(line) => {
                Ok(vec![Piece::of(self.line(paragraph("BodyText"), line, Look::default(), None))])
            }
            Block::List { numbered, items } => self.list(*numbered, items),
            Block::Table(table) => {
                let mut pieces = vec![Piece::of(self.caption("Table", &table.id, &table.caption, true))];
                pieces.push(Piece::Table(Box::new(self.table(table)?)));
                for note in &table.notes {
                    pieces.push(Piece::of(self.line(paragraph("TableNote"), note, Look::default(), None)));
                }
                // Keeps the table apart from one that may follow.
                pieces.push(Piece::of(paragraph("TableNote")));
                Ok(pieces)
            }
            Block::Picture(picture) => self.picture(picture),
            Block::Pictures(pictures) => {
                let mut pieces = Vec::new();
                for picture in pictures {
                    pieces.extend(self.picture(picture)?);
                }
                Ok(pieces)
            }
            Block::Note { kind, heading, blocks } => self.note(*kind, heading, blocks),
        }
    }

    fn list(&mut self, numbered: bool, items: &[Vec<Block>]) -> Result<Vec<Piece>, DocxError> {
        let number = styles::list_number(self.lists.len());
        self.lists.push(numbered);
        // The word processor has nine levels; deeper ones stand on the last.
        let level = self.depth.min(styles::LEVELS - 1);
        let mut pieces = Vec::new();
        self.depth += 1;
        for item in items {
            let marked = w::Paragraph::new()
                .style("ListParagraph")
                .numbering(w::NumberingId::new(number), w::IndentLevel::new(level));
            match item.split_first() {
                Some((Block::Paragraph(line), rest)) => {
                    pieces.push(Piece::of(self.line(marked, line, Look::default(), None)));
                    pieces.extend(self.blocks(rest)?);
                }
                _ => {
                    pieces.push(Piece::of(marked));
                    pieces.extend(self.blocks(item)?);
                }
            }
        }
        self.depth -= 1;
        Ok(pieces)
    }

    fn note(&mut self, kind: NoteKind, heading: &str, blocks: &[Block]) -> Result<Vec<Piece>, DocxError> {
        let word = match kind {
            NoteKind::Caution => "Caution",
            NoteKind::Missing => "Missing",
            NoteKind::Remark => "Remark",
        };
        let said = if heading.is_empty() { word.to_owned() } else { format!("{word}: {}", plain(heading)) };
        let head = w::Paragraph::new().style("NoteHeading").add_run(w::Run::new().add_text(said));
        let mut cell = w::TableCell::new().width(styles::TEXT_WIDTH, w::WidthType::Dxa).add_paragraph(head);
        for piece in self.blocks(blocks)? {
            cell = match piece {
                Piece::Paragraph(paragraph) => cell.add_paragraph(*paragraph),
                Piece::Table(table) => cell.add_table(*table),
            };
        }
        let table = w::Table::new(vec![w::TableRow::new(vec![cell])])
            .set_grid(vec![styles::TEXT_WIDTH])
            .width(styles::TEXT_WIDTH, w::WidthType::Dxa);
        Ok(vec![Piece::Table(Box::new(table)), Piece::of(w::Paragraph::new().style("TableNote"))])
    }

    fn picture(&mut self, picture: &Picture) -> Result<Vec<Piece>, DocxError> {
        let run = self.drawn(&picture.svg, &picture.alternative, styles::TEXT_WIDTH as f64 / 20.0)?;
        let drawn = w::Paragraph::new().style("Picture").keep_next(true).add_run(run);
        Ok(vec![Piece::of(drawn), Piece::of(self.caption("Figure", &picture.id, &picture.caption, false))])
    }

    /// A picture in the line, no wider than `widest` points.
    pub(super) fn drawn(&mut self, svg: &str, alternative: &str, widest: f64) -> Result<w::Run, DocxError> {
        let png = chart::png_of_svg(svg, 2.0).map_err(|e| DocxError(e.to_string()))?;
        let (width, height) = pixels(&png).ok_or_else(|| DocxError("a picture without a size".into()))?;
        self.alternatives.push(plain(alternative));
        let points = f64::from(width) / PIXELS_A_POINT;
        let scale = (widest / points).min(1.0) * EMU_A_POINT / PIXELS_A_POINT;
        let (wide, high) = ((f64::from(width) * scale) as u32, (f64::from(height) * scale) as u32);
        let pic = w::Pic::new_with_dimensions(png, width, height)
            .id(format!("rIdImage{}", self.alternatives.len()))
            .size(wide, high);
        Ok(w::Run::new().add_image(pic))
    }

    /// "Table 1: ..." with a number that the word processor counts.
    fn caption(&mut self, word: &str, id: &str, caption: &str, stays_with_next: bool) -> w::Paragraph {
        let counter = if stays_with_next { &mut self.tables } else { &mut self.figures };
        *counter += 1;
        let number = w::Run::new()
            .add_text(format!("{word} "))
            .add_field_char(w::FieldCharType::Begin, false)
            .add_instr_text(w::InstrText::Unsupported(format!(" SEQ {word} \\* ARABIC ")))
            .add_field_char(w::FieldCharType::Separate, false)
            .add_text(counter.to_string())
            .add_field_char(w::FieldCharType::End, false);
        let paragraph = w::Paragraph::new().style("Caption").keep_next(stays_with_next);
        self.marked(paragraph, id, number).add_run(w::Run::new().add_text(format!(": {}", plain(caption))))
    }
}

/// Width and height as a PNG's header says them.
fn pixels(png: &[u8]) -> Option<(u32, u32)> {
    let number = |at: usize| Some(u32::from_be_bytes(png.get(at..at + 4)?.try_into().ok()?));
    Some((number(16)?, number(20)?)).filter(|(width, height)| *width > 0 && *height > 0)
}
