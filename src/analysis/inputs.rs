//! What a study puts in, a row for each input and each part of a path: figures of the distribution itself, not of draws.

use schemars::JsonSchema;
use serde::Serialize;

use crate::analysis::facts::{short_number, value_in_words};
use crate::formula::types::Kind;
use crate::model::{About, Input, InputValue, Model, Path, PathTable};
use crate::sampling::{Distribution, Process, Quantity};
use crate::units::Unit;

/// Classes of a row's histogram at most.
const CLASSES: usize = 12;

/// An input, or a part of a path.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct InputRow {
    /// Name in the study: `litres_each`, `gas_price.start`, `gas_price.growth`.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Heading under which it is listed, if the study gives one.
    pub group: Option<String>,
    /// Unit, "" if dimensionless.
    pub unit: String,
    /// What it is.
    pub sort: InputSort,
    /// Its distribution or process in words.
    pub how: String,
    /// Base value; twelve by month. A label's index.
    pub base: Vec<f64>,
    /// P10, P50, P90 of what is drawn and has an order.
    pub percentiles: Option<[f64; 3]>,
    /// Mean, likewise.
    pub mean: Option<f64>,
    /// Each value of a choice, of labels and of what has few values.
    pub values: Vec<InputShare>,
    /// How what is drawn spreads.
    pub histogram: Option<InputHistogram>,
    /// Where the figure comes from.
    pub source: Option<String>,
    /// Date of the figure.
    pub as_of: Option<String>,
    /// Remark.
    pub note: Option<String>,
    /// Draws behind the figures; none where they are those of the distribution itself.
    pub runs: Option<u64>,
}

/// What a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum InputSort {
    /// Known: nothing is drawn.
    Known,
    /// A matter of chance.
    Drawn,
    /// A matter of judgement: each value is answered by itself.
    Choice,
}

/// A value by itself.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct InputShare {
    /// As the reader writes it, with unit.
    pub value: String,
    /// Its probability; none for a choice.
    pub share: Option<f64>,
    /// Whether it is the base value.
    pub is_base: bool,
}

/// Probabilities of equal classes from `from` to `to` (of the values one by one where there are few).
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct InputHistogram {
    /// Lower end of the first class; of what has no end, P0.5.
    pub from: f64,
    /// Upper end of the last class; of what has no end, P99.5.
    pub to: f64,
    /// Probability of each class.
    pub shares: Vec<f64>,
}

/// Rows of all inputs and paths, in file order, inputs first.
pub fn input_rows(model: &Model) -> Vec<InputRow> {
    let inputs = model.inputs.iter().map(of_input);
    inputs.chain(model.paths.iter().flat_map(|path| of_path(model, path))).collect()
}

fn row(about: &About, unit: &Unit, base: Vec<f64>) -> InputRow {
    InputRow {
        name: about.name.clone(),
        label: about.label.clone(),
        group: about.group.clone(),
        unit: unit.text.clone(),
        sort: InputSort::Known,
        how: "known".into(),
        base,
        percentiles: None,
        mean: None,
        values: Vec::new(),
        histogram: None,
        source: about.source.clone(),
        as_of: about.as_of.clone(),
        note: about.note.clone(),
        runs: None,
    }
}

fn of_input(input: &Input) -> InputRow {
    let mut row = row(&input.about, &input.unit, input.base.clone());
    let is_base = |value: f64| input.base.first() == Some(&value);
    let labelled = matches!(input.ty.kind, Kind::Label(_));
    let share = |(&value, share): (&f64, Option<f64>)| InputShare {
        // The unit of what is drawn stands in the row.
        value: if share.is_some() && !labelled { short_number(value) } else { value_in_words(input, value) },
        share,
        is_base: is_base(value),
    };
    match &input.value {
        InputValue::Known if row.base.len() > 1 => row.how = "known by month".into(),
        InputValue::Known | InputValue::Given(_) => {}
        InputValue::Choice(values) => {
            row.sort = InputSort::Choice;
            row.how = "choice".into();
            row.values = values.iter().map(|value| share((value, None))).collect();
        }
        InputValue::Drawn(drawn) => {
            describe(&mut row, drawn);
            if labelled {
                row.how = "labels".into();
                (row.percentiles, row.mean) = (None, None);
            }
            if let Some((values, shares)) = drawn.points().filter(|(values, _)| values.len() <= CLASSES) {
                row.values = values.iter().zip(shares.iter().map(|&s| Some(s))).map(share).collect();
            }
        }
    }
    if let InputValue::Given(given) = &input.value {
        describe(&mut row, &given.at_base);
        row.how = format!("{}; figures at base parameters", given.in_words());
    }
    if input.between_homes {
        row.how.push_str(", between homes");
    }
    row
}

/// Figures of a distribution.
fn describe(row: &mut InputRow, drawn: &Distribution) {
    row.sort = InputSort::Drawn;
    row.how = drawn.kind().to_owned();
    let (min, max) = drawn.support();
    if min.is_finite() && max.is_finite() && !drawn.is_discrete() {
        let ends = match row.unit.as_str() {
            "1/yr" => [min * 100.0, max * 100.0],
            _ => [min, max],
        };
        row.how.push_str(&format!(" between {} and {}", short_number(ends[0]), short_number(ends[1])));
    }
    row.percentiles = Some([0.1, 0.5, 0.9].map(|p| drawn.quantile_at(p)));
    row.mean = Some(drawn.mean()).filter(|mean| mean.is_finite());
    row.histogram = histogram(drawn);
}

/// Probabilities by value where there are few, else by class.
fn histogram(drawn: &Distribution) -> Option<InputHistogram> {
    if let Some((values, shares)) = drawn.points() {
        return of_points(values, shares);
    }
    let (min, max) = drawn.support();
    let end = |bound: f64, p: f64| if bound.is_finite() { bound } else { drawn.quantile_at(p) };
    let (from, to) = (end(min, 0.005), end(max, 0.995));
    // A bounded one may have nearly all of itself far from its bounds.
    let (near_from, near_to) = (drawn.quantile_at(0.0005), drawn.quantile_at(0.9995));
    let (from, to) = (from.max(near_from), to.min(near_to));
    if !(from < to && (to - from).is_finite()) {
        return None;
    }
    let edge = |k: usize| from + (to - from) * (k as f64 / CLASSES as f64);
    let shares = (0..CLASSES).map(|k| (drawn.cdf(edge(k + 1)) - drawn.cdf(edge(k))).max(0.0));
    Some(InputHistogram { from, to, shares: shares.collect() })
}

/// Each value by itself; of many values, classes that each hold as many steps.
fn of_points(values: &[f64], shares: &[f64]) -> Option<InputHistogram> {
    let (&first, &last) = (values.first()?, values.last()?);
    if values.len() <= CLASSES {
        return Some(InputHistogram { from: first, to: last, shares: shares.to_vec() });
    }
    let step = values
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .filter(|gap| *gap > 0.0)
        .fold(f64::INFINITY, f64::min);
    let steps = ((last - first) / step).round() + 1.0;
    // Values without a common step fall into equal classes.
    let width =
        if steps <= 1e6 { (steps / CLASSES as f64).ceil() * step } else { (last - first) / CLASSES as f64 };
    let from = if steps <= 1e6 { first - 0.5 * step } else { first };
    let mut classes = vec![0.0; CLASSES];
    for (value, share) in values.iter().zip(shares) {
        let class = ((value - from) / width) as usize;
        classes[class.min(CLASSES - 1)] += share;
    }
    while classes.last() == Some(&0.0) {
        classes.pop();
    }
    Some(InputHistogram { from, to: from + width * classes.len() as f64, shares: classes })
}

/// Start, growth where there is any, and what changes.
fn of_path(model: &Model, path: &Path) -> Vec<InputRow> {
    let spec = &path.spec;
    let mut start = row(&path.about, &path.unit, vec![path.start]);
    start.name = format!("{}.start", path.about.name);
    start.label = format!("{}, {}", path.about.label, model.first_year);
    of_quantity(&mut start, &spec.start);
    start.how = format!("{}; from then on {}", start.how, in_words(path));
    let mut rows = vec![start];
    let mut part = |name: &str, label: &str, unit: &str, quantity: &Quantity, base: f64| {
        let mut part = row(&path.about, &Unit::plain(), vec![base]);
        part.name = format!("{}.{name}", path.about.name);
        part.label = format!("{}, {label}", path.about.label);
        part.unit = unit.to_owned();
        of_quantity(&mut part, quantity);
        rows.push(part);
    };
    if !matches!(spec.growth, Quantity::Known(g) if g == 0.0) {
        part("growth", "growth", "1/yr", &spec.growth, spec.growth.base());
    }
    for (k, change) in spec.changes.iter().enumerate() {
        let n = k + 1;
        part(
            &format!("change{n}.chance"),
            &format!("chance of change {n}"),
            "",
            &Quantity::Known(change.chance),
            change.chance,
        );
        part(
            &format!("change{n}.year"),
            &format!("year of change {n}"),
            "",
            &change.year,
            change.year.mode(),
        );
        part(
            &format!("change{n}.scale"),
            &format!("factor of change {n}"),
            "",
            &change.scale,
            change.scale.mode(),
        );
    }
    rows
}

fn of_quantity(row: &mut InputRow, quantity: &Quantity) {
    let Quantity::Uncertain(drawn) = quantity else { return };
    describe(row, drawn);
    if let Some((values, shares)) = drawn.points().filter(|(values, _)| values.len() <= CLASSES) {
        let share = |(&value, &share): (&f64, &f64)| InputShare {
            value: short_number(value),
            share: Some(share),
            is_base: row.base.first() == Some(&value),
        };
        row.values = values.iter().zip(shares).map(share).collect();
    }
}

/// How a path moves, with its figures.
fn in_words(path: &Path) -> String {
    let volatility = |v: f64| format!("volatility {}", short_number(v));
    let stands = matches!(path.spec.growth, Quantity::Known(0.0));
    let mut words = match path.spec.process {
        _ if matches!(path.table, Some(PathTable::Years(_))) => "by a table of years".to_owned(),
        _ if path.table.is_some() => "by its scenario".to_owned(),
        Process::SteadyGrowth if !path.changes.is_empty() && stands => "in steps".to_owned(),
        Process::SteadyGrowth => "steady growth".to_owned(),
        Process::RandomWalk { volatility: v } => format!("random walk, {}", volatility(v)),
        Process::MeanReverting { half_life, volatility: v } => {
            format!("mean reverting, half life {} yr, {}", short_number(half_life), volatility(v))
        }
        Process::Independent { volatility: v } => format!("independent from year to year, {}", volatility(v)),
    };
    for (limit, word) in [(path.floor, "floor"), (path.ceiling, "ceiling")] {
        if let Some(limit) = limit {
            words.push_str(&format!(", {word} {}", short_number(limit)));
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sampling::Value;

    fn drawn(kind: &str, parameters: &[(&str, f64)]) -> Distribution {
        let parameters: Vec<(String, Value)> =
            parameters.iter().map(|(key, x)| ((*key).to_owned(), Value::Number(*x))).collect();
        Distribution::build(kind, &parameters, None).unwrap()
    }

    fn shares(drawn: &Distribution) -> InputHistogram {
        histogram(drawn).unwrap()
    }

    #[test]
    fn a_uniform_fills_its_classes_evenly() {
        // All but a thousandth of it, in twelve equal classes.
        let found = shares(&drawn("uniform", &[("min", 2.0), ("max", 14.0)]));
        assert!((found.from - 2.006).abs() < 1e-9 && (found.to - 13.994).abs() < 1e-9);
        assert!(found.shares.iter().all(|s| (s - 0.999 / 12.0).abs() < 1e-9), "{found:?}");
    }

    #[test]
    fn an_exponential_falls_by_one_factor() {
        // F(x) = 1 - exp(-x/3): each class holds exp(-w/3) of the one before, w its width.
        let found = shares(&drawn("exponential", &[("mean", 3.0)]));
        let width = (found.to - found.from) / 12.0;
        for pair in found.shares.windows(2) {
            assert!((pair[1] / pair[0] - libm::exp(-width / 3.0)).abs() < 1e-6, "{found:?}");
        }
    }

    #[test]
    fn many_whole_numbers_share_classes_of_equal_width() {
        let found = shares(&drawn("poisson", &[("mean", 40.0)]));
        let width = (found.to - found.from) / found.shares.len() as f64;
        assert!(found.shares.len() <= CLASSES && width.fract() == 0.0 && found.from.fract().abs() == 0.5);
        assert!((found.shares.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn what_has_one_value_has_no_spread() {
        assert!(of_points(&[], &[]).is_none());
        assert_eq!(of_points(&[4.0], &[1.0]).unwrap().shares, [1.0]);
    }
}
