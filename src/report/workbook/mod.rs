//! The study as a workbook whose base case is live formulas (Office Open XML, ECMA-376).
//!
//! It knows the checked study, the values of its base case and the answers. It knows nothing of files or of how runs
//! are drawn: what they say stands in the workbook as constants.

mod about;
mod cash;
mod charts;
mod courses;
mod formulas;
mod grid;
mod inputs;
pub mod layout;
mod places;
mod statistics;
mod text;
mod workings;
mod written;

use std::collections::BTreeMap;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, XlsxError};

use self::formulas::{Formulas, Obstacle, calls, key};
use self::grid::{Grid, HEAD_ROW};
use self::places::{FIRST_VALUE, Page, Places};
use super::material::Material;
use crate::hotwater::time::MONTHS;
use crate::model::parts::parts;

/// Why there is no workbook: a fault of ours.
#[derive(Debug)]
pub struct WorkbookError(pub String);

impl From<XlsxError> for WorkbookError {
    fn from(error: XlsxError) -> WorkbookError {
        WorkbookError(error.to_string())
    }
}

impl From<Obstacle> for WorkbookError {
    fn from(obstacle: Obstacle) -> WorkbookError {
        match obstacle {
            Obstacle::Writing(error) => error.into(),
            Obstacle::Constant => WorkbookError("a row of the workbook cannot be written".into()),
        }
    }
}

/// The bytes of an .xlsx file.
///
/// # Errors
/// If the archive cannot be written; never because of what the study says.
pub fn workbook(material: &Material<'_>) -> Result<Vec<u8>, WorkbookError> {
    let mut formulas = formulas_of(material)?;
    formulas.inputs(material.answers)?;
    formulas.courses()?;
    formulas.lay_out(material.sheet)?;
    formulas.workings(material.sheet)?;
    formulas.results(material.answers)?;
    let tables = statistics::statistics(&mut formulas.grid, material.answers)?;
    let histogram = charts::histogram_table(&mut formulas.grid, material.answers)?;
    charts::charts(&mut formulas.grid, material.answers, &tables, histogram.as_ref())?;
    formulas.about(material)?;
    formulas.heads(material)?;
    let Formulas { grid, places, .. } = formulas;
    bytes(grid, &places)
}

fn formulas_of<'a>(material: &Material<'a>) -> Result<Formulas<'a>, WorkbookError> {
    let model = material.model;
    let mut trees = Vec::new();
    model.workings.iter().for_each(|working| calls(&working.formula, &mut trees));
    let values = parts(model, &trees);
    let known: BTreeMap<_, _> = trees.iter().map(|tree| key(tree)).zip(values.values).collect();
    Ok(Formulas {
        model,
        study_text: material.study_text,
        grid: Grid::new()?,
        places: Places::default(),
        known,
        level: values.price_level,
        rows: BTreeMap::new(),
        constants: Vec::new(),
        within: String::new(),
    })
}

impl Formulas<'_> {
    /// Titles and headings of the sheets of rows, widths of columns and what stays in view.
    fn heads(&mut self, material: &Material<'_>) -> Result<(), XlsxError> {
        let (years, first) = (self.model.years, self.model.first_year);
        let by_year = |t: usize| format!("year {t}\n{}", first + t as i64);
        let pages: [(Page, &str, Vec<String>); 6] = [
            (
                Page::Workings,
                "Workings: the base case, one row for each formula",
                words(&["Value", "Values stand", "Formula as in the study", "Note", "Source"]),
            ),
            (Page::Years, "By year: the base case", (0..years).map(by_year).collect()),
            (Page::Months, "By month: the base case", words(&MONTHS)),
            (
                Page::MonthsByYear,
                "By month and year: the base case",
                (0..12 * years).map(|k| format!("{} {}", MONTHS[k % 12], first + (k / 12) as i64)).collect(),
            ),
            (
                Page::Cash,
                "Cash behind paybacks, present values and rates of return: the base case",
                Vec::new(),
            ),
            (Page::Results, "Results: the base case as a formula, and what the runs say", {
                let mut heads = words(&["Base case"]);
                heads.extend(words(&statistics::BESIDE));
                heads
            }),
        ];
        for (page, title, heads) in pages {
            self.head(page, title, &heads)?;
        }
        let title = self.grid.looks.title.clone();
        self.grid.text_as(Page::Statistics, 0, 0, "What the runs say", &title)?;
        let faint = self.grid.looks.faint.clone();
        let runs = format!(
            "{} runs, seed {}. Constants.",
            material.answers.sampling.runs, material.answers.sampling.seed
        );
        self.grid.text_as(Page::Statistics, 1, 0, &runs, &faint)?;
        self.widths()
    }

    fn head(&mut self, page: Page, title: &str, heads: &[String]) -> Result<(), XlsxError> {
        let (large, look) = (self.grid.looks.title.clone(), self.grid.looks.head.clone());
        self.grid.text_as(page, 0, 0, title, &large)?;
        if page == Page::Cash {
            return Ok(());
        }
        self.grid.two_lines(page, HEAD_ROW)?;
        for (col, text) in ["Name", "Label", "Unit"].iter().enumerate() {
            self.grid.text_as(page, HEAD_ROW, col as u16, text, &look)?;
        }
        for (k, text) in heads.iter().enumerate() {
            self.grid.text_as(page, HEAD_ROW, FIRST_VALUE + k as u16, text, &look)?;
        }
        Ok(())
    }

    fn widths(&mut self) -> Result<(), XlsxError> {
        for (page, sheet) in &mut self.grid.sheets {
            let mut columns: Vec<(u16, f64)> = vec![(0, 26.0), (1, 44.0), (2, 11.0)];
            match page {
                Page::About => columns = vec![(0, 34.0), (1, 100.0)],
                Page::Inputs => {
                    let rest = [12.0, 13.0, 40.0, 22.0, 20.0, 48.0, 11.0, 48.0, 11.0, 11.0, 11.0];
                    columns.extend(rest.iter().zip(3..).map(|(width, col)| (col, *width)));
                }
                Page::Workings => {
                    let rest = [14.0, 38.0, 90.0, 40.0, 40.0];
                    columns.extend(rest.iter().zip(3..).map(|(width, col)| (col, *width)));
                }
                Page::Statistics => columns = (0..16).map(|col| (col, 24.0)).collect(),
                Page::Charts => columns.clear(),
                Page::Results => columns.extend((3..17).map(|col| (col, 13.0))),
                _ => {
                    sheet.set_column_range_width(FIRST_VALUE, FIRST_VALUE + 1200, 10.5)?;
                }
            }
            for (col, width) in columns {
                sheet.set_column_width(col, width)?;
            }
            match page {
                Page::About | Page::Charts => {}
                Page::Statistics => {
                    sheet.set_freeze_panes(2, 0)?;
                }
                Page::Inputs => {
                    sheet.set_freeze_panes(HEAD_ROW + 1, 1)?;
                }
                _ => {
                    sheet.set_freeze_panes(HEAD_ROW + 1, FIRST_VALUE)?;
                }
            }
            // Charts on one page, so that none is cut.
            let pages_high = u16::from(*page == Page::Charts);
            sheet.set_landscape().set_print_fit_to_pages(1, pages_high);
        }
        Ok(())
    }
}

fn words(texts: &[&str]) -> Vec<String> {
    texts.iter().map(ToString::to_string).collect()
}

/// Sheets that have something on them, in their order.
fn bytes(grid: Grid, places: &Places) -> Result<Vec<u8>, WorkbookError> {
    let mut workbook = Workbook::new();
    // No clock: the same study gives the same bytes.
    let created = ExcelDateTime::from_ymd(2000, 1, 1)?;
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&created));
    let rows = [Page::Years, Page::Months, Page::MonthsByYear, Page::Cash];
    let empty: Vec<Page> = rows.into_iter().filter(|page| !grid.has_rows(*page)).collect();
    for (page, sheet) in grid.sheets {
        if !empty.contains(&page) {
            workbook.push_worksheet(sheet);
        }
    }
    for (name, means) in places.names() {
        workbook.define_name(name, &means)?;
    }
    Ok(workbook.save_to_buffer()?)
}
