//! What differs by year before any formula: changes of inputs, paths, the price level, and money converted.

use super::formulas::{Formulas, Obstacle};
use super::places::{FIRST_VALUE, Page, Place};
use super::text::{Value, literal, number};
use crate::formula::types::{Kind, Shape};
use crate::model::{About, Change, Conversion, Input, Part, Path, PathTable};
use crate::study::Effect;
use crate::units::Unit;

/// No name of a study has a space.
pub(super) const PRICE_LEVEL: &str = "price level";

/// A row on its way: how each value is written and what it is, in the unit of the row.
#[derive(Clone)]
struct Lanes {
    shape: Shape,
    texts: Vec<String>,
    values: Vec<f64>,
}

/// Whose values they are.
struct Owner<'a> {
    about: &'a About,
    unit: &'a Unit,
    kind: &'a Kind,
}

impl Formulas<'_> {
    /// Rows of inputs that change or are converted, and of all paths; inputs must have their places.
    pub(super) fn courses(&mut self) -> Result<(), Obstacle> {
        let model = self.model;
        for input in model.inputs.iter().filter(|i| !i.changes.is_empty() && i.conversion.is_none()) {
            self.input(input)?;
        }
        for path in model.paths.iter().filter(|p| p.conversion.is_none()) {
            self.path(path)?;
        }
        self.price_level()?;
        for input in model.inputs.iter().filter(|i| i.conversion.is_some()) {
            self.input(input)?;
        }
        for path in model.paths.iter().filter(|p| p.conversion.is_some()) {
            self.path(path)?;
        }
        Ok(())
    }

    fn input(&mut self, input: &Input) -> Result<(), Obstacle> {
        let owner = Owner { about: &input.about, unit: &input.unit, kind: &input.ty.kind };
        let place = self.places.get(&input.about.name).cloned().ok_or(Obstacle::Constant)?;
        let own = input.own_shape();
        let shape = if input.changes.is_empty() { own } else { own.join(Shape::Yearly) };
        let count = shape.len(self.years());
        let mut lanes = Lanes {
            shape,
            texts: (0..count).map(|k| place.cell(own.lane(k, shape), Page::of(shape))).collect(),
            values: (0..count).filter_map(|k| input.base.get(own.lane(k, shape)).copied()).collect(),
        };
        for (k, change) in input.changes.iter().enumerate() {
            lanes = self.changed(&owner, &lanes, change)?;
            // The last row is the input itself, if nothing more is done to it.
            if k + 1 < input.changes.len() || input.conversion.is_some() {
                lanes = self.stage(&owner, &format!("after change {}", k + 1), &lanes)?;
            }
        }
        if let Some(conversion) = input.conversion {
            lanes = self.converted(&owner, &lanes, conversion, input.ty.shape)?;
        }
        self.named(&owner, &input.about.name, &lanes)
    }

    fn path(&mut self, path: &Path) -> Result<(), Obstacle> {
        let kind = Kind::Number { dimension: path.unit.dimension, point: path.unit.point };
        let owner = Owner { about: &path.about, unit: &path.unit, kind: &kind };
        let name = &path.about.name;
        let mut lanes = match &path.table {
            None => self.drawn(path, &owner)?,
            Some(PathTable::Years(values)) => {
                let lanes = constants(values);
                let lanes = self.stage(&owner, "table of the study", &lanes)?;
                self.start_of_table(path, &owner, &lanes)?;
                lanes
            }
            Some(PathTable::Scenarios(columns)) => {
                let lanes = self.scenario(path, &owner, columns)?;
                let lanes = self.stage(&owner, "of the scenario", &lanes)?;
                self.start_of_table(path, &owner, &lanes)?;
                lanes
            }
        };
        for (k, change) in path.changes.iter().enumerate() {
            lanes = self.stage(&owner, &format!("before change {}", k + 1), &lanes)?;
            lanes = self.changed(&owner, &lanes, change)?;
        }
        lanes = within(lanes, path.floor, path.ceiling);
        if let Some(conversion) = path.conversion {
            lanes = self.stage(&owner, "as given", &lanes)?;
            lanes = self.converted(&owner, &lanes, conversion, Shape::Yearly)?;
            let start = format!("{name}.start");
            if let Some(place) = self.places.get(&start).cloned() {
                let text = place.cell(0, Page::Workings);
                let of_start = Lanes { shape: Shape::Single, texts: vec![text], values: vec![path.start] };
                let of_start = self.converted(&owner, &of_start, conversion, Shape::Single)?;
                self.named(&owner, &start, &of_start)?;
            }
        }
        self.named(&owner, name, &lanes)
    }

    /// Start times growth, times what changes at their likeliest make of it.
    fn drawn(&mut self, path: &Path, owner: &Owner<'_>) -> Result<Lanes, Obstacle> {
        let name = &path.about.name;
        let start = self.places.get(&format!("{name}.start")).cloned().ok_or(Obstacle::Constant)?;
        let start = start.cell(0, Page::Years);
        let rate = path.spec.growth.base();
        let growth = self.places.get(&format!("{name}.growth")).map(|p| p.reference(0, Page::Years));
        let mut power = 1.0;
        let mut factors = Vec::with_capacity(self.years());
        for course in &path.course {
            factors.push(course / power);
            power *= 1.0 + rate;
        }
        // What is left of the course beside growth is what changes do.
        let changed = factors.iter().any(|f| (f - 1.0).abs() > 1e-12);
        let row = if changed {
            let plain = Unit::plain();
            let of_factors = Owner { unit: &plain, ..*owner };
            Some(self.stage(
                &of_factors,
                "factor of its changes, at their likeliest",
                &constants(&factors),
            )?)
        } else {
            None
        };
        let texts = (0..self.years()).map(|t| {
            let grown =
                growth.as_ref().filter(|_| t > 0).map(|g| format!("*(1+{g})^{t}")).unwrap_or_default();
            let factor =
                row.as_ref().and_then(|row| row.texts.get(t)).map(|f| format!("*{f}")).unwrap_or_default();
            format!("{start}{grown}{factor}")
        });
        let values = path.course.iter().map(|c| path.start * c).collect();
        Ok(Lanes { shape: Shape::Yearly, texts: texts.collect(), values })
    }

    fn start_of_table(&mut self, path: &Path, owner: &Owner<'_>, lanes: &Lanes) -> Result<(), Obstacle> {
        let text = lanes.texts.first().map(|t| format!("{}!{t}", Page::Years.name())).unwrap_or_default();
        let value = lanes.values.first().copied().unwrap_or(f64::NAN);
        let start = Lanes { shape: Shape::Single, texts: vec![text], values: vec![value] };
        self.named(owner, &format!("{}.start", path.about.name), &start)
    }

    fn scenario(&mut self, path: &Path, owner: &Owner<'_>, columns: &[Vec<f64>]) -> Result<Lanes, Obstacle> {
        let place = self.places.get(&path.scenario()).cloned().ok_or(Obstacle::Constant)?;
        let which = place.cell(0, Page::Years);
        let Kind::Label(labels) = &place.kind else { return Err(Obstacle::Constant) };
        let chosen = self.model.inputs.iter().find(|i| i.about.name == path.scenario());
        let base = chosen.and_then(|i| i.base.first()).copied().unwrap_or(0.0) as usize;
        let mut rows = Vec::new();
        for (label, column) in labels.iter().zip(columns) {
            rows.push(self.stage(owner, &format!("scenario {label}"), &constants(column))?);
        }
        let mut texts = Vec::new();
        for t in 0..self.years() {
            let cell = |row: &Lanes| row.texts.get(t).cloned().unwrap_or_default();
            let mut text = rows.last().map(cell).unwrap_or_default();
            for (k, row) in rows.iter().enumerate().rev().skip(1) {
                let label = literal(&place.kind, k as f64).ok_or(Obstacle::Constant)?;
                text = format!("IF(EXACT({which},{label}),{},{text})", cell(row));
            }
            texts.push(text);
        }
        let values = columns.get(base).cloned().unwrap_or_default();
        Ok(Lanes { shape: Shape::Yearly, texts, values })
    }

    fn changed(&mut self, owner: &Owner<'_>, before: &Lanes, change: &Change) -> Result<Lanes, Obstacle> {
        let page = Page::of(before.shape);
        let (comes, comes_value) = self.part(&change.comes, &plain(), page)?;
        let (year, year_value) = self.part(&change.year, &plain(), page)?;
        let kind = if change.effect == Effect::Scale { plain() } else { owner.kind.clone() };
        let (by, by_value) = self.part(&change.by, &kind, page)?;
        let a_year = (before.values.len() / self.years().max(1)).max(1);
        let mut after = before.clone();
        for (k, (text, value)) in after.texts.iter_mut().zip(&mut after.values).enumerate() {
            let now = self.model.first_year + (k / a_year) as i64;
            let (done, effect) = match change.effect {
                Effect::Scale => (format!("{text}*{by}"), *value * by_value),
                Effect::To => (by.clone(), by_value),
                Effect::Add => (format!("{text}+{by}"), *value + by_value),
                Effect::AtMost => {
                    (format!("MIN({text},{by})"), if by_value < *value { by_value } else { *value })
                }
                Effect::AtLeast => {
                    (format!("MAX({text},{by})"), if by_value > *value { by_value } else { *value })
                }
            };
            *text = match &change.comes {
                Part::Known(x) if *x != 0.0 => format!("IF(INT({year})<={now},{done},{text})"),
                _ => format!("IF(AND({comes}<>0,INT({year})<={now}),{done},{text})"),
            };
            if comes_value != 0.0 && year_value.floor() <= now as f64 {
                *value = effect;
            }
        }
        Ok(after)
    }

    fn part(&self, part: &Part, kind: &Kind, from: Page) -> Result<(String, f64), Obstacle> {
        match part {
            Part::Known(x) => Ok((literal(kind, *x).ok_or(Obstacle::Constant)?, *x)),
            Part::Input(name) => {
                let place = self.places.get(name).ok_or(Obstacle::Constant)?;
                let input = self.model.inputs.iter().find(|i| i.about.name == *name);
                let base = input.and_then(|i| i.base.first()).copied().unwrap_or(f64::NAN);
                Ok((place.cell(0, from), base))
            }
        }
    }

    fn price_level(&mut self) -> Result<(), Obstacle> {
        let Some(name) = &self.model.inflation else { return Ok(()) };
        let place = self.places.get(name).cloned().ok_or(Obstacle::Constant)?;
        let values = self.level.clone();
        let (about, unit) = (
            About {
                name: PRICE_LEVEL.into(),
                label: "Price level at the end of the year".into(),
                ..About::default()
            },
            Unit::plain(),
        );
        let row = self.grid.row(Page::Years);
        let here = Place {
            page: Page::Years,
            row,
            col: FIRST_VALUE,
            shape: Shape::Yearly,
            scale: 1.0,
            kind: plain(),
            defined: None,
        };
        let texts = (0..self.years()).map(|t| {
            let lane = if place.shape == Shape::Single { 0 } else { t };
            let growth = format!("(1+{})", place.reference(lane, Page::Years));
            if t == 0 { growth } else { format!("{}*{growth}", here.cell(t - 1, Page::Years)) }
        });
        let lanes = Lanes { shape: Shape::Yearly, texts: texts.collect(), values };
        let kind = plain();
        self.write_row(
            &Owner { about: &about, unit: &unit, kind: &kind },
            &about.name,
            &about.label,
            &lanes,
            &here,
        )?;
        self.places.put(PRICE_LEVEL, here);
        Ok(())
    }

    fn converted(
        &mut self,
        owner: &Owner<'_>,
        given: &Lanes,
        conversion: Conversion,
        to: Shape,
    ) -> Result<Lanes, Obstacle> {
        let page = Page::of(to);
        let level = self.places.get(PRICE_LEVEL).cloned().ok_or(Obstacle::Constant)?;
        let inflation = self.model.inflation.as_ref().and_then(|name| self.places.get(name)).cloned();
        let inflation = inflation.ok_or(Obstacle::Constant)?;
        let scale = owner.unit.scale;
        let mut made = Lanes { shape: to, texts: Vec::new(), values: Vec::new() };
        for k in 0..to.len(self.years()) {
            let lane = given.shape.lane(k, to);
            let value = given.values.get(lane).copied().unwrap_or(f64::NAN);
            let text = given.texts.get(lane).cloned().unwrap_or_default();
            let year = Shape::Yearly.lane(if to.has_years() { k } else { 0 }, to);
            let at = self.level.get(year).copied().unwrap_or(f64::NAN);
            let growth =
                if year == 0 { at } else { at / self.level.get(year - 1).copied().unwrap_or(f64::NAN) };
            let level = level.reference(year, page);
            let rate = inflation.reference(if inflation.shape == Shape::Single { 0 } else { year }, page);
            let (up, down) = if scale == 1.0 {
                (String::new(), String::new())
            } else {
                (format!("*{}", number(scale)), format!("/{}", number(scale)))
            };
            let (text, value) = match conversion {
                Conversion::TimesLevel => (format!("{text}*{level}"), value * at),
                Conversion::ByLevel => (format!("{text}/{level}"), value / at),
                Conversion::RealRate => (
                    format!("((1+{text}{up})/(1+{rate})-1){down}"),
                    ((1.0 + value * scale) / growth - 1.0) / scale,
                ),
                Conversion::NominalRate => (
                    format!("((1+{text}{up})*(1+{rate})-1){down}"),
                    ((1.0 + value * scale) * growth - 1.0) / scale,
                ),
            };
            made.texts.push(text);
            made.values.push(value);
        }
        Ok(made)
    }

    /// Puts a stage into a row of its own; what follows refers to its cells.
    fn stage(&mut self, owner: &Owner<'_>, what: &str, lanes: &Lanes) -> Result<Lanes, Obstacle> {
        let page = Page::of(lanes.shape);
        let row = self.grid.row(page);
        let place = Place {
            page,
            row,
            col: FIRST_VALUE,
            shape: lanes.shape,
            scale: owner.unit.scale,
            kind: owner.kind.clone(),
            defined: None,
        };
        let label = format!("{}: {what}", owner.about.label);
        self.write_row(owner, &format!("part of {}", owner.about.name), &label, lanes, &place)?;
        let texts = (0..lanes.texts.len()).map(|k| place.cell(k, page)).collect();
        Ok(Lanes { texts, ..lanes.clone() })
    }

    /// The row under the name itself.
    fn named(&mut self, owner: &Owner<'_>, name: &str, lanes: &Lanes) -> Result<(), Obstacle> {
        let page = Page::of(lanes.shape);
        let row = self.grid.row(page);
        let (kind, scale) = (owner.kind.clone(), owner.unit.scale);
        let place = Place { page, row, col: FIRST_VALUE, shape: lanes.shape, scale, kind, defined: None };
        self.write_row(owner, name, &owner.about.label, lanes, &place)?;
        self.places.put(name, place);
        Ok(())
    }

    fn write_row(
        &mut self,
        owner: &Owner<'_>,
        name: &str,
        label: &str,
        lanes: &Lanes,
        place: &Place,
    ) -> Result<(), Obstacle> {
        let (page, row) = (place.page, place.row);
        for (col, text) in [(0, name), (1, label), (2, owner.unit.text.as_str())] {
            self.grid.text(page, row, col, if col == 2 { unit_text(text) } else { text })?;
        }
        let largest = lanes.values.iter().fold(0.0, |a: f64, b| if b.abs() > a { b.abs() } else { a });
        let look = self.grid.looks.number(largest, false);
        for (k, text) in lanes.texts.iter().enumerate() {
            let value = Value::of(owner.kind, lanes.values.get(k).copied().unwrap_or(f64::NAN));
            let col = FIRST_VALUE + k as u16;
            if text.is_empty() {
                self.grid.value(page, row, col, &value, &look)?;
            } else {
                self.grid.formula(page, row, col, text, &value, &look)?;
            }
        }
        Ok(())
    }
}

/// The text of a unit for a cell: none for a plain number.
pub(super) fn unit_text(text: &str) -> &str {
    if text == "1" { "" } else { text }
}

fn constants(values: &[f64]) -> Lanes {
    Lanes { shape: Shape::Yearly, texts: vec![String::new(); values.len()], values: values.to_vec() }
}

fn within(mut lanes: Lanes, floor: Option<f64>, ceiling: Option<f64>) -> Lanes {
    for (text, value) in lanes.texts.iter_mut().zip(&mut lanes.values) {
        if let Some(floor) = floor {
            *text = format!("MAX({text},{})", number(floor));
            *value = if floor > *value { floor } else { *value };
        }
        if let Some(ceiling) = ceiling {
            *text = format!("MIN({text},{})", number(ceiling));
            *value = if ceiling < *value { ceiling } else { *value };
        }
    }
    lanes
}

fn plain() -> Kind {
    Kind::Number { dimension: crate::units::Dimension::NONE, point: false }
}
