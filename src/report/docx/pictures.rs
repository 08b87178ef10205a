//! Pictures and drawings as PNG, made side by side: that takes most of the time of a document.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::DocxError;
use crate::chart;
use crate::report::document::{Block, Document, Section};

/// Pixels of a picture for each of its points.
const PIXELS_A_POINT: f32 = 2.0;

/// A picture as pixels.
pub(super) struct Raster {
    pub(super) png: Vec<u8>,
    pub(super) pixels: (u32, u32),
    /// Its size where it is not made smaller.
    pub(super) points: (f64, f64),
}

/// Every picture of a document, by its SVG.
pub(super) type Rasters = BTreeMap<String, Raster>;

/// # Errors
/// If a picture cannot be drawn.
pub(super) fn rasters(document: &Document) -> Result<Rasters, DocxError> {
    let mut svgs = Vec::new();
    document.sections.iter().for_each(|section| of_section(section, &mut svgs));
    svgs.sort_unstable();
    svgs.dedup();
    svgs.into_par_iter().map(|svg| Ok((svg.to_owned(), raster(svg)?))).collect()
}

fn raster(svg: &str) -> Result<Raster, DocxError> {
    let png = chart::png_of_svg(svg, PIXELS_A_POINT).map_err(|e| DocxError(e.to_string()))?;
    let pixels = size(&png).ok_or_else(|| DocxError("a picture without a size".into()))?;
    let points = |pixels: u32| f64::from(pixels) / f64::from(PIXELS_A_POINT);
    Ok(Raster { png, pixels, points: (points(pixels.0), points(pixels.1)) })
}

/// Width and height as a PNG's header says them.
fn size(png: &[u8]) -> Option<(u32, u32)> {
    let number = |at: usize| Some(u32::from_be_bytes(png.get(at..at + 4)?.try_into().ok()?));
    Some((number(16)?, number(20)?)).filter(|(width, height)| *width > 0 && *height > 0)
}

fn of_section<'a>(section: &'a Section, svgs: &mut Vec<&'a str>) {
    section.blocks.iter().for_each(|block| of_block(block, svgs));
    section.sections.iter().for_each(|part| of_section(part, svgs));
}

fn of_block<'a>(block: &'a Block, svgs: &mut Vec<&'a str>) {
    match block {
        Block::Picture(picture) => svgs.push(&picture.svg),
        Block::Pictures(pictures) => svgs.extend(pictures.iter().map(|picture| picture.svg.as_str())),
        Block::Table(table) => {
            let cells = table.rows.iter().flat_map(|row| &row.cells);
            svgs.extend(cells.filter_map(|cell| cell.drawing.as_ref()).map(|drawing| drawing.svg.as_str()));
        }
        Block::List { items, .. } => items.iter().flatten().for_each(|block| of_block(block, svgs)),
        Block::Note { blocks, .. } => blocks.iter().for_each(|block| of_block(block, svgs)),
        Block::Lead(_) | Block::Paragraph(_) => {}
    }
}
