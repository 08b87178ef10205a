//! Blocks as paragraphs and tables.

use std::collections::{BTreeMap, BTreeSet};

use docx_rs as w;

use super::pictures::Rasters;
use super::text::{Look, plain};
use super::{DocxError, styles};
use crate::report::document::{Block, NoteKind, Picture};

/// English Metric Units in a point.
const EMU_A_POINT: f64 = 12_700.0;

/// What is counted while a document is written.
#[derive(Default)]
pub(super) struct Writer {
    /// Numbers of the places that links lead to.
    pub(super) bookmarks: BTreeMap<String, usize>,
    /// What each picture says, in the order of the document.
    pub(super) alternatives: Vec<String>,
    pictures: Rasters,
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
    pub(super) fn new(bookmarks: BTreeMap<String, usize>, pictures: Rasters) -> Writer {
        Writer { bookmarks, pictures, ..Writer::default() }
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
                let mut pieces = vec![Piece::of(self.caption("Table", &table.id, &table.caption, None))];
                pieces.push(Piece::Table(Box::new(self.table(table)?)));
                for note in &table.notes {
                    pieces.push(Piece::of(self.line(paragraph("TableNote"), note, Look::default(), None)));
                }
                // Keeps the table apart from one that may follow.
                pieces.push(Piece::of(paragraph("TableNote")));
                Ok(pieces)
            }
            Block::Picture(picture) => self.picture(picture),
            Block::Pictures(pictures) => self.pictures(pictures),
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

    /// Two beside two, each with its caption.
    fn pictures(&mut self, pictures: &[Picture]) -> Result<Vec<Piece>, DocxError> {
        let wide = styles::TEXT_WIDTH / 2;
        let mut rows = Vec::new();
        for pair in pictures.chunks(2) {
            let mut cells = Vec::new();
            for picture in pair {
                // Cells have margins of about six points on each side.
                let run = self.drawn(&picture.svg, &picture.alternative, wide as f64 / 20.0 - 12.0)?;
                let drawn = w::Paragraph::new().style("Picture").keep_next(true).add_run(run);
                let caption = self.caption("Figure", &picture.id, &picture.caption, picture.number);
                let cell = w::TableCell::new().width(wide, w::WidthType::Dxa);
                cells.push(cell.add_paragraph(drawn).add_paragraph(caption));
            }
            rows.push(w::TableRow::new(cells).cant_split());
        }
        let table = w::Table::without_borders(rows)
            .set_grid(vec![wide; 2])
            .width(styles::TEXT_WIDTH, w::WidthType::Dxa)
            .layout(w::TableLayoutType::Fixed);
        Ok(vec![Piece::Table(Box::new(table)), Piece::of(w::Paragraph::new().style("TableNote"))])
    }

    fn picture(&mut self, picture: &Picture) -> Result<Vec<Piece>, DocxError> {
        let run = self.drawn(&picture.svg, &picture.alternative, styles::TEXT_WIDTH as f64 / 20.0)?;
        let drawn = w::Paragraph::new().style("Picture").keep_next(true).add_run(run);
        let caption = self.caption("Figure", &picture.id, &picture.caption, picture.number);
        Ok(vec![Piece::of(drawn), Piece::of(caption)])
    }

    /// A picture in the line, no wider than `widest` points.
    pub(super) fn drawn(&mut self, svg: &str, alternative: &str, widest: f64) -> Result<w::Run, DocxError> {
        let raster = self.pictures.get(svg).ok_or_else(|| DocxError("a picture was not drawn".into()))?;
        self.alternatives.push(plain(alternative));
        let scale = (widest / raster.points.0).min(1.0) * EMU_A_POINT;
        let size = |points: f64| (points * scale) as u32;
        let pic = w::Pic::new_with_dimensions(raster.png.clone(), raster.pixels.0, raster.pixels.1)
            .id(format!("rIdImage{}", self.alternatives.len()))
            .size(size(raster.points.0), size(raster.points.1));
        Ok(w::Run::new().add_image(pic))
    }

    /// "Table 1: ..." with a number that the word processor counts; behind it that of what a picture shows.
    fn caption(&mut self, word: &str, id: &str, caption: &str, shows: Option<u32>) -> w::Paragraph {
        // A table comes after its caption, a picture before.
        let stays_with_next = word == "Table";
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
        let text = w::Run::new().add_text(format!(": {}", plain(caption)));
        let paragraph = self.marked(paragraph, id, number).add_run(text);
        match shows {
            Some(row) => paragraph.add_run(w::Run::new().style("FigureNumber").add_text(row.to_string())),
            None => paragraph,
        }
    }
}
