//! Tables.

use docx_rs as w;

use super::DocxError;
use super::blocks::Writer;
use super::styles::TEXT_WIDTH;
use super::text::{Look, plain};
use crate::report::document::{Cell, Row, Table};

/// Width of the column with the numbers of the rows, in twentieths of a point.
const NUMBER_WIDTH: usize = 750;
/// Tables with more columns are set in small type.
const MOST_COLUMNS: usize = 6;
/// Widest drawing in a cell, in points.
const DRAWING_WIDTH: f64 = 120.0;

/// How the cells of one table are set.
struct Setting {
    widths: Vec<usize>,
    style: &'static str,
    has_numbers: bool,
}

/// The lines of the title block.
pub(super) fn facts(facts: &[(String, String)]) -> w::Table {
    let widths = [TEXT_WIDTH / 4, TEXT_WIDTH - TEXT_WIDTH / 4];
    let cell = |text: &str, width: usize, style: &str| {
        let line = w::Paragraph::new().style(style).add_run(w::Run::new().add_text(plain(text)));
        w::TableCell::new().width(width, w::WidthType::Dxa).add_paragraph(line)
    };
    let row = |(what, said): &(String, String)| {
        w::TableRow::new(vec![cell(what, widths[0], "FactName"), cell(said, widths[1], "TableText")])
    };
    w::Table::without_borders(facts.iter().map(row).collect())
        .set_grid(widths.to_vec())
        .width(TEXT_WIDTH, w::WidthType::Dxa)
        .layout(w::TableLayoutType::Fixed)
}

impl Writer {
    pub(super) fn table(&mut self, table: &Table) -> Result<w::Table, DocxError> {
        let setting = setting(table);
        let mut headings: Vec<(&str, bool)> =
            table.columns.iter().map(|column| (column.heading.as_str(), column.numbers)).collect();
        if setting.has_numbers {
            headings.push(("No.", true));
        }
        let heading = |(k, (text, right)): (usize, &(&str, bool))| {
            let line = aligned(w::Paragraph::new().style("TableHead"), *right);
            cell(setting.widths[k]).add_paragraph(line.add_run(w::Run::new().add_text(plain(text))))
        };
        let mut rows =
            vec![w::TableRow::new(headings.iter().enumerate().map(heading).collect()).cant_split()];
        for row in &table.rows {
            rows.push(self.row(table, row, &setting)?);
        }
        Ok(w::Table::new(rows)
            .margins(w::TableCellMargins::new().margin(10, 50, 10, 50))
            .set_grid(setting.widths.clone())
            .width(TEXT_WIDTH, w::WidthType::Dxa)
            .layout(w::TableLayoutType::Fixed))
    }

    fn row(&mut self, table: &Table, row: &Row, setting: &Setting) -> Result<w::TableRow, DocxError> {
        if row.is_heading {
            let line = w::Paragraph::new().style("TableGroup").keep_next(true);
            let content = row.cells.first().map_or(&[][..], |cell| &cell.content);
            let line = self.line(line, content, Look::default(), row.number);
            let over = cell(TEXT_WIDTH).grid_span(setting.widths.len()).add_paragraph(line);
            return Ok(w::TableRow::new(vec![over]).cant_split());
        }
        let mut cells = Vec::new();
        let missing = Cell::default();
        for (k, column) in table.columns.iter().enumerate() {
            let content = row.cells.get(k).unwrap_or(&missing);
            let mut line = aligned(w::Paragraph::new().style(setting.style), column.numbers);
            if let Some(drawing) = &content.drawing {
                // Cells have margins of about six points on each side.
                let widest = (setting.widths[k] as f64 / 20.0 - 12.0).clamp(10.0, DRAWING_WIDTH);
                line = line.add_run(self.drawn(&drawing.svg, &drawing.alternative, widest)?);
            }
            let line = self.line(line, &content.content, Look::default(), row.number);
            cells.push(cell(setting.widths[k]).add_paragraph(line));
        }
        if setting.has_numbers {
            let number = row.number.map_or_else(String::new, |number| number.to_string());
            let line = aligned(w::Paragraph::new().style(setting.style), true);
            let run = w::Run::new().style("RowNumber").add_text(number);
            cells.push(cell(NUMBER_WIDTH).add_paragraph(line.add_run(run)));
        }
        Ok(w::TableRow::new(cells).cant_split())
    }
}

fn setting(table: &Table) -> Setting {
    let has_numbers = table.rows.iter().any(|row| row.number.is_some());
    let room = if has_numbers { TEXT_WIDTH - NUMBER_WIDTH } else { TEXT_WIDTH };
    let share = |width: u32| u64::from(width.max(1));
    let all: u64 = table.columns.iter().map(|column| share(column.width)).sum::<u64>().max(1);
    let wide = |width: u32| (room as u64 * share(width) / all) as usize;
    let mut widths: Vec<usize> = table.columns.iter().map(|column| wide(column.width)).collect();
    if has_numbers {
        widths.push(NUMBER_WIDTH);
    }
    let style = if widths.len() > MOST_COLUMNS { "TableSmall" } else { "TableText" };
    Setting { widths, style, has_numbers }
}

fn cell(width: usize) -> w::TableCell {
    w::TableCell::new().width(width, w::WidthType::Dxa)
}

fn aligned(paragraph: w::Paragraph, right: bool) -> w::Paragraph {
    if right { paragraph.align(w::AlignmentType::Right) } else { paragraph }
}
