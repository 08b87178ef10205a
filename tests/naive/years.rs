//! What differs by year, year by year: changes, paths, tables, floors and ceilings, real and nominal money.

use std::collections::BTreeMap;

use payspread::formula::types::Shape;
use payspread::model::{Change, Conversion, Model, Part, Path, PathTable};
use payspread::study::Effect;

use super::{max, min, place};

type Values = BTreeMap<String, Vec<f64>>;

/// Inputs as they are before their changes become inputs and paths as formulas read them, in base units.
pub fn lay(
    model: &Model,
    given: &mut Values,
    start: &dyn Fn(&Path) -> f64,
    course: &dyn Fn(&Path, usize) -> f64,
) {
    for input in model.inputs.iter().filter(|i| !i.changes.is_empty()) {
        let own = &given[&input.about.name];
        let of_year = |year: usize| {
            let one = |x: &f64| changed(model, *x, year, &input.changes, input.unit.scale, given);
            own.iter().map(one).collect::<Vec<f64>>()
        };
        let all = (0..model.years).flat_map(of_year).collect();
        given.insert(input.about.name.clone(), all);
    }
    for path in &model.paths {
        let scale = path.unit.scale;
        let start = start(path) * scale;
        let moved = |t: usize| match &path.table {
            None => start * course(path, t),
            Some(PathTable::Years(values)) => {
                let factor = if path.start == 0.0 { 1.0 } else { start / (path.start * scale) };
                factor * (values[t] * scale)
            }
            Some(PathTable::Scenarios(columns)) => {
                let which = given[&path.scenario()][0];
                let column = (0..columns.len()).find(|k| *k as f64 == which).unwrap_or(columns.len() - 1);
                columns[column][t] * scale
            }
        };
        let bounded = |t: usize| {
            let value = changed(model, moved(t), t, &path.changes, scale, given);
            let value = path.floor.map_or(value, |floor| max(value, floor * scale));
            path.ceiling.map_or(value, |ceiling| min(value, ceiling * scale))
        };
        let first = if matches!(path.table, Some(PathTable::Scenarios(_))) { moved(0) } else { start };
        let all = (0..model.years).map(bounded).collect();
        given.insert(path.about.name.clone(), all);
        given.insert(format!("{}.start", path.about.name), vec![first]);
    }
    convert_all(model, given);
}

/// One value after all changes that have come by a year.
fn changed(model: &Model, mut x: f64, year: usize, changes: &[Change], scale: f64, given: &Values) -> f64 {
    for change in changes {
        let number = |part: &Part, scale: f64| match part {
            Part::Known(x) => x * scale,
            Part::Input(name) => given[name][0],
        };
        let comes = number(&change.comes, 1.0) != 0.0;
        if !comes || number(&change.year, 1.0).floor().is_nan() {
            continue;
        }
        if number(&change.year, 1.0).floor() > (model.first_year + year as i64) as f64 {
            continue;
        }
        x = match change.effect {
            Effect::Scale => x * number(&change.by, 1.0),
            Effect::To => number(&change.by, scale),
            Effect::Add => x + number(&change.by, scale),
            Effect::AtMost => min(x, number(&change.by, scale)),
            Effect::AtLeast => max(x, number(&change.by, scale)),
        };
    }
    x
}

fn convert_all(model: &Model, given: &mut Values) {
    let Some(inflation) = &model.inflation else { return };
    let inflation = given[inflation].clone();
    let growth = |year: usize| 1.0 + inflation[if inflation.len() > 1 { year } else { 0 }];
    let level = |year: usize| (0..=year).fold(1.0, |level, y| level * growth(y));
    let convert = |x: f64, year: usize, conversion: Conversion| match conversion {
        Conversion::TimesLevel => x * level(year),
        Conversion::ByLevel => x / level(year),
        Conversion::RealRate => (1.0 + x) / growth(year) - 1.0,
        Conversion::NominalRate => (1.0 + x) * growth(year) - 1.0,
    };
    for input in &model.inputs {
        let Some(conversion) = input.conversion else { continue };
        let own = given[&input.about.name].clone();
        let from = match own.len() {
            1 => Shape::Single,
            _ if input.changes.is_empty() => Shape::Monthly,
            n if n == model.years => Shape::Yearly,
            _ => Shape::MonthlyByYearly,
        };
        let to = input.ty.shape;
        let months = if to.has_months() { 12 } else { 1 };
        let years = if to.has_years() { model.years } else { 1 };
        let all = (0..years).flat_map(|y| (0..months).map(move |m| (y, m)));
        let all = all.map(|(y, m)| convert(own[place(from, y, m)], y, conversion)).collect();
        given.insert(input.about.name.clone(), all);
    }
    for path in &model.paths {
        let Some(conversion) = path.conversion else { continue };
        for name in [path.about.name.clone(), format!("{}.start", path.about.name)] {
            let all = given[&name].iter().enumerate().map(|(y, x)| convert(*x, y, conversion)).collect();
            given.insert(name, all);
        }
    }
}
