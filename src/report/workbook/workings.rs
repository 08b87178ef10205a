//! Workings and what simulated homes give, each on the sheet of its shape, and the results.

use rust_xlsxwriter::XlsxError;

use super::courses::unit_text;
use super::formulas::{Formulas, Obstacle};
use super::places::{FIRST_VALUE, Page, Place};
use super::text::Value;
use crate::formula::types::Shape;
use crate::model::Working;
use crate::model::trace::TraceRow;

/// Column of the sheet of workings after the value.
const WHERE: u16 = FIRST_VALUE + 1;

impl Formulas<'_> {
    /// Gives every working and output its place, so that formulas may read what stands below them.
    pub(super) fn lay_out(&mut self, sheet: &[TraceRow]) -> Result<(), XlsxError> {
        for row in sheet.iter().filter(|row| row.sort == "simulated") {
            self.simulated(row)?;
        }
        for working in &self.model.workings {
            let (shape, kind) = (working.shape(), working.formula.ty.kind.clone());
            // Every working has a row on the sheet of workings; its values may stand on another.
            let listed = self.grid.row(Page::Workings);
            let page = Page::of(shape);
            let row = if page == Page::Workings { listed } else { self.grid.row(page) };
            self.listing(working, listed, page, row)?;
            let scale = working.unit.scale;
            let place = Place { page, row, col: FIRST_VALUE, shape, scale, kind, defined: None };
            self.places.put(&working.about.name, place);
        }
        Ok(())
    }

    fn listing(&mut self, working: &Working, listed: u32, page: Page, row: u32) -> Result<(), XlsxError> {
        let about = &working.about;
        let is_result =
            self.model.results.iter().any(|r| self.model.result_working(r).about.name == about.name);
        let look = if is_result { self.grid.looks.result.clone() } else { self.grid.looks.text.clone() };
        for (page, row) in [(Page::Workings, listed), (page, row)] {
            self.grid.text_as(page, row, 0, &about.name, &look)?;
            self.grid.text_as(page, row, 1, &about.label, &look)?;
            self.grid.text(page, row, 2, unit_text(&working.unit.text))?;
        }
        let shape = working.shape();
        let place = if shape == Shape::Single {
            "here".to_owned()
        } else {
            format!("{}: sheet {}, row {}", shape.words(), page.name(), row + 1)
        };
        let texts = [
            place,
            working.text.clone(),
            about.note.clone().unwrap_or_default(),
            about.source.clone().unwrap_or_default(),
        ];
        for (k, text) in texts.iter().enumerate() {
            let look = if k == 1 { self.grid.looks.wrapped.clone() } else { self.grid.looks.text.clone() };
            self.grid.text_as(Page::Workings, listed, WHERE + k as u16, text, &look)?;
        }
        Ok(())
    }

    fn simulated(&mut self, output: &TraceRow) -> Result<(), XlsxError> {
        let page = Page::of(output.shape);
        let row = self.grid.row(page);
        let label = format!("{} (simulated by half hours, not a formula)", output.label);
        for (col, text) in [(0, &output.name), (1, &label), (2, &output.unit)] {
            self.grid.text(page, row, col, text)?;
        }
        let look = self.grid.looks.number(largest(&output.values), false);
        for (k, x) in output.values.iter().enumerate() {
            let value = Value::of(&output.kind, *x);
            self.grid.value(page, row, FIRST_VALUE + k as u16, &value, &look)?;
        }
        self.constants.push(format!("{} (simulated by half hours)", output.name));
        let unit = self.model.units.parse(&output.unit).map_or(1.0, |unit| unit.scale);
        let place = Place {
            page,
            row,
            col: FIRST_VALUE,
            shape: output.shape,
            scale: unit,
            kind: output.kind.clone(),
            defined: None,
        };
        self.places.put(&output.name, place);
        Ok(())
    }

    /// Writes the formulas of all workings.
    pub(super) fn workings(&mut self, sheet: &[TraceRow]) -> Result<(), XlsxError> {
        let model = self.model;
        for working in &model.workings {
            let name = &working.about.name;
            self.within.clone_from(name);
            let values = sheet.iter().find(|row| row.name == *name).map_or(&[][..], |row| &row.values);
            let Some(place) = self.places.get(name).cloned() else { continue };
            let kind = &working.formula.ty.kind;
            let look = self.grid.looks.number(largest(values), false);
            let mut live = true;
            for (k, x) in values.iter().enumerate() {
                let value = Value::of(kind, *x);
                let col = FIRST_VALUE + k as u16;
                live &= match self.cell(&working.formula, k, &working.unit, place.page) {
                    Ok(text) => self.grid.formula(place.page, place.row, col, &text, &value, &look)?,
                    Err(Obstacle::Writing(error)) => return Err(error),
                    Err(Obstacle::Constant) => {
                        self.grid.value(place.page, place.row, col, &value, &look)?;
                        false
                    }
                };
            }
            if !live {
                self.constants.push(format!("{name} (a formula that a cell cannot hold)"));
            }
        }
        Ok(())
    }

    /// The results, each with its base case live and beside it what the runs say.
    pub(super) fn results(&mut self, answers: &crate::analysis::Answers) -> Result<(), XlsxError> {
        let page = Page::Results;
        for result in &answers.results {
            let row = self.grid.row(page);
            self.grid.text(page, row, 0, &result.name)?;
            self.grid.text(page, row, 1, &result.label)?;
            self.grid.text(page, row, 2, unit_text(&result.unit))?;
            let kind = self.places.get(&result.name).map(|p| p.kind.clone());
            let Some((place, kind)) = self.places.get(&result.name).cloned().zip(kind) else { continue };
            let base = match result.base {
                crate::analysis::Figure::Number(x) => x,
                crate::analysis::Figure::Never => f64::INFINITY,
                crate::analysis::Figure::None => f64::NAN,
            };
            let look = self.grid.looks.number(base, false).set_bold();
            let text = place.cell(0, page);
            self.grid.formula(page, row, FIRST_VALUE, &text, &Value::of(&kind, base), &look)?;
            super::statistics::beside(&mut self.grid, page, row, FIRST_VALUE + 1, result)?;
        }
        Ok(())
    }
}

pub(super) fn largest(values: &[f64]) -> f64 {
    values.iter().filter(|x| x.is_finite()).fold(0.0, |a: f64, b| if b.abs() > a { b.abs() } else { a })
}
