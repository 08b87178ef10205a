//! What moves in a tornado: each drawn input between its P10 and P90, each
//! path between its low and high course.

use crate::analysis::facts::{course_in_words, drawn_in_words, value_in_words};
use crate::analysis::laid::Laid;
use crate::analysis::paths::Courses;
use crate::analysis::tornado::{self, Mover};
use crate::formula::types::Kind;
use crate::model::{Input, InputValue, Path};
use crate::sampling::{Distribution, maths};

/// P10, P25, P75, P90.
const ENDS: [f64; 4] = [0.10, 0.25, 0.75, 0.90];

/// All that moves, inputs first, in file order.
pub(super) fn movers(laid: &Laid<'_>, courses: &Courses<'_>) -> Vec<Mover> {
    let inputs = laid.model.inputs.iter().filter_map(|input| of_input(laid, input));
    let paths = laid.model.paths.iter().enumerate();
    let paths = paths.filter_map(|(k, path)| of_path(laid, path, &courses.percentiles(k, ENDS)));
    inputs.chain(paths).collect()
}

fn of_input(laid: &Laid<'_>, input: &Input) -> Option<Mover> {
    let distribution = match &input.value {
        InputValue::Drawn(distribution) => distribution,
        InputValue::Given(given) => &given.at_base,
        _ => return None,
    };
    let leaf = laid.low.leaf(&input.about.name)?;
    // The leaf of an input whose parameters are inputs is its score.
    let of_leaf = |p: f64| match &input.value {
        InputValue::Given(_) => maths::normal_quantile(p, 1.0 - p),
        _ => distribution.quantile_at(p),
    };
    let (courses, low_input, high_input) = match &input.ty.kind {
        Kind::Label(labels) => {
            let each = (0..labels.len()).map(|k| (vec![(leaf, k as f64)], value_in_words(input, k as f64)));
            (tornado::Courses::Unordered(each.collect()), String::new(), String::new())
        }
        _ => {
            let values = ENDS.map(|p| distribution.quantile_at(p));
            let yes_or_no = input.unit.text.is_empty()
                && distribution.points().is_some_and(|(values, _)| values == [0.0, 1.0]);
            let [low, .., high] = values;
            let words = |x: f64| match yes_or_no {
                true => if x == 0.0 { "no" } else { "yes" }.to_owned(),
                false if input.is_year_of_change() => format!("{}", x.floor()),
                false => drawn_in_words(x, low.abs().max(high.abs()), &input.unit),
            };
            (tornado::Courses::Ordered(ENDS.map(|p| vec![(leaf, of_leaf(p))])), words(low), words(high))
        }
    };
    Some(Mover {
        name: input.about.name.clone(),
        label: input.about.label.clone(),
        unit: input.unit.text.clone(),
        courses,
        low_input,
        high_input,
    })
}

/// A path moves as one: start 1, and the course its values.
fn of_path(laid: &Laid<'_>, path: &Path, years: &[[f64; 4]]) -> Option<Mover> {
    let name = &path.about.name;
    let start = laid.low.leaf(&format!("{name}.start"))?;
    let course = laid.low.course_leaves(name);
    let at = |k: usize| {
        let values = course.iter().zip(years).map(|(&leaf, ends)| (leaf, ends[k] / path.unit.scale));
        std::iter::once((start, 1.0)).chain(values).collect::<Vec<_>>()
    };
    if years.iter().all(|ends| ends[0] == ends[3]) {
        return None;
    }
    let words = |k: usize| {
        let value = |ends: Option<&[f64; 4]>| path.unit.from_base(ends.map_or(f64::NAN, |e| e[k]));
        course_in_words(value(years.first()), value(years.last()), &path.unit)
    };
    Some(Mover {
        name: name.clone(),
        label: path.about.label.clone(),
        unit: path.unit.text.clone(),
        courses: tornado::Courses::Ordered(std::array::from_fn(at)),
        low_input: words(0),
        high_input: words(3),
    })
}

/// The distribution of a lever or another input by name: an input's, or that of a path's start.
pub(super) fn distribution_of<'m>(laid: &Laid<'m>, name: &str) -> Option<&'m Distribution> {
    let model = laid.model;
    if let Some(input) = model.inputs.iter().find(|i| i.about.name == name) {
        return match &input.value {
            InputValue::Drawn(distribution) => Some(distribution),
            _ => None,
        };
    }
    match &model.paths.iter().find(|p| p.about.name == name)?.spec.start {
        crate::sampling::Quantity::Uncertain(distribution) => Some(distribution),
        crate::sampling::Quantity::Known(_) => None,
    }
}
