//! Courses by year, of price paths and of inputs that change: as a table at the base choices and at each other value,
//! and in short for the terminal.

use comfy_table::Cell;

use crate::analysis::{Answers, ChoiceAnswer, Figure, PathFan, PathYear};

use super::cells::{cell, estimate, figure};
use super::numbers::{clean, figure as written, in_prose, shortened};
use super::tables::{TableFile, below, file, head};
use super::terminal::{lines, plain, right, wrapped};

/// A row for each path and year; nothing without paths.
pub(super) fn paths(answers: &Answers) -> Result<Option<TableFile>, csv::Error> {
    let at_base = answers.paths.iter().map(|fan| (None, fan));
    let others = answers.choices.iter().filter(|choice| !choice.is_base);
    let others = others.flat_map(|choice| choice.paths.iter().map(move |fan| (Some(choice), fan)));
    let fans: Vec<(Option<&ChoiceAnswer>, &PathFan)> = at_base.chain(others).collect();
    let Some(first) = fans.iter().find_map(|(_, fan)| fan.years.first()) else { return Ok(None) };
    let shares: Vec<f64> = first.percentiles.iter().map(|q| q.p).collect();
    let mut names =
        head(&["path", "label", "unit", "choice", "choice value", "calendar year", "base course"]);
    let with_interval = |what: String| {
        let heads = ["", ": 95 % interval from", ": 95 % interval to", ": interval by"];
        heads.map(|head| format!("{what}{head}"))
    };
    names.extend(with_interval("mean course".into()));
    names.extend(shares.iter().flat_map(|&p| with_interval(below(p))));
    names.push("runs".into());
    let rows = fans.iter().flat_map(|&(choice, fan)| rows(choice, fan, &shares));
    file("paths", &names, rows.collect::<Vec<_>>()).map(Some)
}

/// For the terminal: where the courses that a choice moves start and end, for each of its values; nothing if there are
/// none (all others are in the charts and the table).
pub(super) fn side_by_side(answers: &Answers) -> Option<String> {
    let moved: Vec<&ChoiceAnswer> = answers.choices.iter().filter(|c| !c.paths.is_empty()).collect();
    let years = &moved.first()?.paths.first()?.years;
    let (first, last) = (years.first()?.year, years.last()?.year);
    let mut table = plain(&["", "base course", "mean course", "8 in 10 end between"]);
    for choice in moved {
        for fan in &choice.paths {
            table.add_row(row_in_short(answers, fan, choice));
        }
    }
    let title = format!("Side by side, courses from {first} to {last}");
    Some(format!("{}{}", wrapped(&title, ""), lines(&table)))
}

fn row_in_short(answers: &Answers, fan: &PathFan, choice: &ChoiceAnswer) -> Vec<Cell> {
    let currency = &answers.study.currency;
    let ends = [fan.years.first(), fan.years.last()];
    let from_to = |text: &dyn Fn(&PathYear) -> String| {
        let [first, last] = ends.map(|year| year.map_or_else(String::new, text));
        if first == last { first } else { format!("{first} -> {last}") }
    };
    let base = from_to(&|year| written(year.base, None, &fan.unit, currency));
    let mean = from_to(&|year| match year.mean.value {
        Figure::Number(_) => in_prose(&year.mean, &fan.unit, currency),
        other => written(other, None, &fan.unit, currency),
    });
    let end = |p: f64| {
        let found = ends[1]?.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9)?;
        found.estimate.value.number().map(|_| in_prose(&found.estimate, &fan.unit, currency))
    };
    let range = match (fan.is_known(), end(0.1), end(0.9)) {
        (false, Some(low), Some(high)) => format!("{low} and {high}"),
        _ => "known".into(),
    };
    let unit =
        if fan.unit.is_empty() { String::new() } else { format!(", {}", shortened(&clean(&fan.unit), 24)) };
    let base_mark = if choice.is_base { ", base" } else { "" };
    let at = format!(
        " ({}: {}{base_mark})",
        shortened(&clean(&choice.label), 40),
        shortened(&clean(&choice.value), 40)
    );
    let label = format!("{}{unit}{at}", shortened(&clean(&fan.label), 120));
    vec![Cell::new(label), right(base), right(mean), right(range)]
}

fn rows(choice: Option<&ChoiceAnswer>, fan: &PathFan, shares: &[f64]) -> Vec<Vec<String>> {
    let (name, value) = match choice {
        Some(choice) => (cell(&choice.choice), cell(&choice.value)),
        None => (String::new(), "base".into()),
    };
    let year = |year: &PathYear| {
        let mut row = vec![cell(&fan.name), cell(&fan.label), cell(&fan.unit), name.clone(), value.clone()];
        row.extend([year.year.to_string(), figure(year.base)]);
        row.extend(estimate(&year.mean));
        for p in shares {
            let found = year.percentiles.iter().find(|q| q.p == *p);
            row.extend(found.map_or_else(Default::default, |q| estimate(&q.estimate)));
        }
        row.push(fan.runs.to_string());
        row
    };
    fan.years.iter().map(year).collect()
}
