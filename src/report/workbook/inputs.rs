//! The sheet of inputs, as `layout` has it, and the places of inputs.

use rust_xlsxwriter::XlsxError;

use super::courses::unit_text;
use super::formulas::Formulas;
use super::layout as at;
use super::places::{FIRST_VALUE, Page, Place};
use super::text::{Value, raw_text};
use super::written::{Written, written};
use crate::analysis::Answers;
use crate::formula::types::{Kind, Shape};
use crate::hotwater::time::MONTHS;
use crate::model::{About, Input, Path};
use crate::units::Unit;

const PAGE: Page = Page::Inputs;

/// A row of the sheet.
struct Row<'a> {
    name: &'a str,
    about: &'a About,
    unit: &'a Unit,
    kind: &'a Kind,
    base: &'a [f64],
    /// Its values go through another row before a formula reads them.
    goes_on: bool,
}

impl Formulas<'_> {
    pub(super) fn inputs(&mut self, answers: &Answers) -> Result<(), XlsxError> {
        let texts = written(self.study_text);
        let said = |name: &str| texts.get(name).cloned().unwrap_or_default();
        self.heads_of_inputs()?;
        let model = self.model;
        for input in model.inputs.iter().filter(|i| i.part_of.is_none()) {
            let row = of_input(input);
            self.input_row(&row, &said(row.name), answers)?;
        }
        for path in &model.paths {
            self.path_rows(path, &said, answers)?;
        }
        for input in model.inputs.iter().filter(|i| i.part_of.is_some()) {
            self.part_of_change(input)?;
        }
        Ok(())
    }

    fn heads_of_inputs(&mut self) -> Result<(), XlsxError> {
        let (title, faint, head) =
            (self.grid.looks.title.clone(), self.grid.looks.faint.clone(), self.grid.looks.head.clone());
        self.grid.text_as(PAGE, 0, 0, "Inputs", &title)?;
        let how = match self.model.homes.is_empty() {
            true => {
                "Change yellow cells only. A changed base value moves the whole base case of this workbook; the run statistics stay as they were."
            }
            false => {
                "Change yellow cells only. A changed base value moves the base case of this workbook; what a simulated home computes, and the run statistics, stay as they were."
            }
        };
        self.grid.text_as(PAGE, 1, 0, how, &faint)?;
        let back = "`payspread update STUDY --from WORKBOOK` takes yellow cells back into the study, and new runs answer it. Distributions are written as in the study.";
        self.grid.text_as(PAGE, 2, 0, back, &faint)?;
        self.grid.two_lines(PAGE, at::HEADER_ROW)?;
        for (col, text) in at::HEADINGS.iter().enumerate() {
            self.grid.text_as(PAGE, at::HEADER_ROW, col as u16, text, &head)?;
        }
        for (k, month) in MONTHS.iter().enumerate() {
            self.grid.text_as(PAGE, at::HEADER_ROW, at::FIRST_MONTH + k as u16, month, &head)?;
        }
        Ok(())
    }

    fn input_row(&mut self, row: &Row<'_>, said: &Written, answers: &Answers) -> Result<(), XlsxError> {
        let at_row = self.grid.row(PAGE);
        self.grid.text(PAGE, at_row, at::NAME, row.name)?;
        self.grid.text(PAGE, at_row, at::LABEL, &row.about.label)?;
        self.grid.text(PAGE, at_row, at::UNIT, unit_text(&row.unit.text))?;
        let monthly = row.base.len() == 12;
        let first = if monthly { at::FIRST_MONTH } else { at::BASE };
        let look = self.grid.looks.number(1.0, true);
        for (k, x) in row.base.iter().enumerate() {
            let value = match (row.kind, *x as usize) {
                // Labels as written, so that they can be read back.
                (Kind::Label(labels), k) => {
                    Value::Text(labels.get(k).map_or_else(String::new, |l| raw_text(l)))
                }
                _ => Value::of(row.kind, *x),
            };
            self.grid.value(PAGE, at_row, first + k as u16, &value, &look)?;
        }
        let about = row.about;
        let of = |text: &Option<String>| text.clone().unwrap_or_default();
        let texts = [
            (at::KIND, said.kind.clone()),
            (at::PARAMETERS, said.parameters.clone()),
            (at::TRUNCATE, said.truncate.clone()),
            (at::GROUP, of(&about.group)),
            (at::SOURCE, of(&about.source)),
            (at::AS_OF, of(&about.as_of)),
            (at::NOTE, of(&about.note)),
        ];
        for (col, text) in texts {
            self.grid.raw(PAGE, at_row, col, &text)?;
        }
        let drawn = answers.inputs.iter().find(|r| r.name == row.name).and_then(|r| r.percentiles);
        for (k, x) in drawn.into_iter().flatten().enumerate() {
            let look = self.grid.looks.number(x, false);
            self.grid.value(PAGE, at_row, at::P10 + k as u16, &Value::of(&number(), x), &look)?;
        }
        let shape = if monthly { Shape::Monthly } else { Shape::Single };
        let place = Place {
            page: PAGE,
            row: at_row,
            col: first,
            shape,
            scale: row.unit.scale,
            kind: row.kind.clone(),
            defined: None,
        };
        if row.goes_on {
            self.places.put_unnamed(row.name, place);
        } else {
            self.places.put(row.name, place);
        }
        Ok(())
    }

    fn path_rows(
        &mut self,
        path: &Path,
        said: &dyn Fn(&str) -> Written,
        answers: &Answers,
    ) -> Result<(), XlsxError> {
        if path.table.is_some() {
            return Ok(());
        }
        let kind = Kind::Number { dimension: path.unit.dimension, point: path.unit.point };
        let (start, growth) = (format!("{}.start", path.about.name), format!("{}.growth", path.about.name));
        let row = Row {
            name: &start,
            about: &path.about,
            unit: &path.unit,
            kind: &kind,
            base: &[path.start],
            goes_on: path.conversion.is_some(),
        };
        self.input_row(&row, &said(&start), answers)?;
        let written = said(&growth);
        if written == Written::default() {
            return Ok(());
        }
        let mut about = path.about.clone();
        about.label = format!("{}: growth by year", about.label);
        let unit = self.model.units.parse("1/yr").unwrap_or_else(|_| Unit::plain());
        let row = Row {
            name: &growth,
            about: &about,
            unit: &unit,
            kind: &kind,
            base: &[path.spec.growth.base()],
            goes_on: false,
        };
        self.input_row(&row, &written, answers)
    }

    /// What a change or a scenario draws has no row in the study to go back to: it stands among the workings.
    fn part_of_change(&mut self, input: &Input) -> Result<(), XlsxError> {
        let page = Page::Workings;
        let row = self.grid.row(page);
        self.grid.text(page, row, 0, &input.about.name)?;
        self.grid.text(page, row, 1, &input.about.label)?;
        self.grid.text(page, row, 2, unit_text(&input.unit.text))?;
        let base = input.base.first().copied().unwrap_or(f64::NAN);
        let look = self.grid.looks.number(base, false);
        self.grid.value(page, row, FIRST_VALUE, &Value::of(&input.ty.kind, base), &look)?;
        self.grid.text(page, row, FIRST_VALUE + 1, "its base value in the study")?;
        let place = Place {
            page,
            row,
            col: FIRST_VALUE,
            shape: Shape::Single,
            scale: input.unit.scale,
            kind: input.ty.kind.clone(),
            defined: None,
        };
        self.places.put(&input.about.name, place);
        Ok(())
    }
}

fn of_input(input: &Input) -> Row<'_> {
    Row {
        name: &input.about.name,
        about: &input.about,
        unit: &input.unit,
        kind: &input.ty.kind,
        base: &input.base,
        goes_on: !input.changes.is_empty() || input.conversion.is_some(),
    }
}

fn number() -> Kind {
    Kind::Number { dimension: crate::units::Dimension::NONE, point: false }
}
