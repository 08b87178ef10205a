//! The sheets being written: cells, rows and what was counted on the way.

use std::collections::BTreeMap;

use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, Formula, Worksheet, XlsxError};

use super::places::Page;
use super::text::{Value, cell_text, raw_text};

/// Longest formula that every spreadsheet takes, with a margin below 8,192.
pub(super) const LONGEST_FORMULA: usize = 8_000;

/// Looks of cells.
pub(super) struct Looks {
    pub(super) title: Format,
    pub(super) head: Format,
    pub(super) text: Format,
    pub(super) wrapped: Format,
    pub(super) faint: Format,
    pub(super) part: Format,
    pub(super) edit_text: Format,
    pub(super) result: Format,
}

impl Looks {
    fn new() -> Looks {
        let text = || Format::new().set_align(FormatAlign::Top);
        Looks {
            title: Format::new().set_bold().set_font_size(14),
            head: Format::new()
                .set_bold()
                .set_background_color(Color::RGB(0xE7_EC_F1))
                .set_border_bottom(FormatBorder::Thin)
                .set_text_wrap()
                .set_align(FormatAlign::Top),
            text: text(),
            wrapped: text().set_text_wrap(),
            faint: Format::new().set_font_color(Color::RGB(0x55_5F_69)),
            part: Format::new().set_italic().set_font_color(Color::RGB(0x55_5F_69)),
            // Else it would touch the number before it.
            edit_text: text()
                .set_align(FormatAlign::Left)
                .set_indent(1)
                .set_background_color(Color::RGB(0xFF_F8_DC))
                .set_num_format("@"),
            result: Format::new().set_bold(),
        }
    }

    /// Numbers of a row as large as `largest`.
    pub(super) fn number(&self, largest: f64, editable: bool) -> Format {
        let digits = match largest.abs() {
            x if x >= 10_000.0 => "#,##0",
            x if x >= 100.0 => "#,##0.0",
            x if x >= 10.0 => "#,##0.00",
            x if x >= 1.0 => "0.000",
            x if x >= 0.001 || x == 0.0 => "0.0000",
            _ => "0.000E+00",
        };
        let format = Format::new().set_align(FormatAlign::Top).set_align(FormatAlign::Right);
        // An input is shown as the study gives it.
        let format = if editable { format.set_num_format("General") } else { format.set_num_format(digits) };
        if editable { format.set_background_color(Color::RGB(0xFF_F8_DC)) } else { format }
    }
}

/// All sheets.
pub(super) struct Grid {
    pub(super) sheets: BTreeMap<Page, Worksheet>,
    next: BTreeMap<Page, u32>,
    pub(super) looks: Looks,
    /// Formulas written.
    pub(super) live: usize,
}

impl Grid {
    pub(super) fn new() -> Result<Grid, XlsxError> {
        let mut sheets = BTreeMap::new();
        for page in Page::ALL {
            let mut sheet = Worksheet::new();
            sheet.set_name(page.name())?;
            sheets.insert(page, sheet);
        }
        Ok(Grid { sheets, next: BTreeMap::new(), looks: Looks::new(), live: 0 })
    }

    fn sheet(&mut self, page: Page) -> &mut Worksheet {
        self.sheets.entry(page).or_default()
    }

    /// The next free row of a sheet, from `FIRST_ROW` on.
    pub(super) fn row(&mut self, page: Page) -> u32 {
        let next = self.next.entry(page).or_insert(FIRST_ROW);
        *next += 1;
        *next - 1
    }

    /// Room for headings of two lines, which no program that opens the file makes by itself.
    pub(super) fn two_lines(&mut self, page: Page, row: u32) -> Result<(), XlsxError> {
        self.sheet(page).set_row_height(row, 30).map(|_| ())
    }

    /// Whether anything was put on a sheet of rows.
    pub(super) fn has_rows(&self, page: Page) -> bool {
        self.next.contains_key(&page)
    }

    pub(super) fn text(&mut self, page: Page, row: u32, col: u16, text: &str) -> Result<(), XlsxError> {
        let look = self.looks.text.clone();
        self.text_as(page, row, col, text, &look)
    }

    pub(super) fn text_as(
        &mut self,
        page: Page,
        row: u32,
        col: u16,
        text: &str,
        look: &Format,
    ) -> Result<(), XlsxError> {
        self.sheet(page).write_string_with_format(row, col, cell_text(text), look).map(|_| ())
    }

    /// Text as the study has it, to be edited.
    pub(super) fn raw(&mut self, page: Page, row: u32, col: u16, text: &str) -> Result<(), XlsxError> {
        let look = self.looks.edit_text.clone();
        self.sheet(page).write_string_with_format(row, col, raw_text(text), &look).map(|_| ())
    }

    /// A constant.
    pub(super) fn value(
        &mut self,
        page: Page,
        row: u32,
        col: u16,
        value: &Value,
        look: &Format,
    ) -> Result<(), XlsxError> {
        let sheet = self.sheet(page);
        match value {
            Value::Number(x) => sheet.write_number_with_format(row, col, *x, look),
            Value::Text(text) => sheet.write_string_with_format(row, col, text, look),
            Value::YesNo(yes) => sheet.write_boolean_with_format(row, col, *yes, look),
            Value::None => {
                sheet.write_formula_with_format(row, col, Formula::new("=NA()").set_result("#N/A"), look)
            }
        }
        .map(|_| ())
    }

    /// A formula with its result; the result alone where the formula cannot be written.
    pub(super) fn formula(
        &mut self,
        page: Page,
        row: u32,
        col: u16,
        formula: &str,
        value: &Value,
        look: &Format,
    ) -> Result<bool, XlsxError> {
        let Some(cached) = value.cached().filter(|_| formula.len() < LONGEST_FORMULA) else {
            self.value(page, row, col, value, look)?;
            return Ok(false);
        };
        self.live += 1;
        let formula = Formula::new(format!("={formula}")).set_result(cached);
        self.sheet(page).write_formula_with_format(row, col, formula, look)?;
        Ok(true)
    }
}

/// Row of the headings, and of the first values, of sheets of rows.
pub(super) const HEAD_ROW: u32 = 3;
const FIRST_ROW: u32 = HEAD_ROW + 1;
