//! The form of one study: its own inputs, those without a source first, each with its present base value.

use super::{ASK, Line, PHOTOGRAPH, Page, SAFETY};
use crate::model::trace::{TraceRow, sheet};
use crate::model::{About, InputValue, Model};
use crate::report::numbers::{clean, grouped};
use crate::wording::shortened;

/// Blanks that fit on a page beside what else stands there.
const FIRST_PAGE: usize = 22;
const SECOND_PAGE: usize = 20;

/// Longest label, which is bold, and longest source: two lines of a printed cell, even where long words leave room.
const MOST_LABEL: usize = 46;
const MOST: usize = 50;

/// How sure a figure is, worst first.
const HEADINGS: [&str; 3] =
    ["Without a source", "Estimates and places to fill in", "With a source: look again"];

/// A study's inputs that a visit can bring, on two pages. What finds no room is named at the end.
pub fn pages_of(model: &Model) -> Vec<Page> {
    let rows = sheet(model, model.design());
    let mut wanted: Vec<(usize, Line)> = Vec::new();
    for (about, unit) in measurable(model) {
        let row = rows.iter().find(|row| row.name == about.name);
        wanted.push((rank(about), line(about, unit, row)));
    }
    wanted.sort_by_key(|(rank, _)| *rank);
    let left: Vec<String> =
        wanted.iter().skip(FIRST_PAGE + SECOND_PAGE).map(|(_, l)| l.goes_to.clone()).collect();
    let second = wanted.split_off(FIRST_PAGE.min(wanted.len()));
    let own = |lines: &[&str]| lines.iter().map(|&l| l.to_owned()).collect::<Vec<_>>();
    let mut last = vec![("Photograph".to_owned(), own(&PHOTOGRAPH)), ("Ask".to_owned(), own(&ASK))];
    if !left.is_empty() {
        last.push((format!("{} more inputs found no room", left.len()), vec![left.join(", ")]));
    }
    vec![
        Page {
            title: clean(&model.title),
            first: vec![("Before you begin".to_owned(), own(&SAFETY))],
            parts: parts(wanted),
            last: Vec::new(),
        },
        Page {
            title: clean(&model.title),
            first: Vec::new(),
            parts: parts(second.into_iter().take(SECOND_PAGE).collect()),
            last,
        },
    ]
}

/// Inputs and levels of paths that can be read, measured or asked: no judgement, nothing that only time tells, no lists of
/// twelve values.
fn measurable(model: &Model) -> Vec<(&About, &str)> {
    let inputs = model.inputs.iter().filter(|input| {
        let judged = matches!(input.value, InputValue::Choice(_));
        input.part_of.is_none() && !judged && !input.about.revealed_later && input.base.len() == 1
    });
    let inputs = inputs.map(|input| (&input.about, input.unit.text.as_str()));
    let paths = model.paths.iter().filter(|path| !path.about.revealed_later);
    inputs.chain(paths.map(|path| (&path.about, path.unit.text.as_str()))).collect()
}

fn rank(about: &About) -> usize {
    match about.source.as_deref() {
        None => 0,
        Some(source) => {
            let source = source.to_lowercase();
            let doubtful =
                ["unverified", "to fill in", "not known", "assum"].iter().any(|word| source.contains(word));
            if doubtful { 1 } else { 2 }
        }
    }
}

fn line(about: &About, unit: &str, row: Option<&TraceRow>) -> Line {
    let now =
        row.and_then(|row| row.values.first()).map_or_else(String::new, |x| format!("now {}", short(*x)));
    let source = about.source.as_deref().map_or_else(|| "no source yet".to_owned(), clean);
    Line {
        what: shortened(&clean(&about.label), MOST_LABEL),
        how: shortened(&source, MOST),
        error: now,
        unit: if unit == "1" { String::new() } else { clean(unit) },
        goes_to: clean(&about.name),
    }
}

fn short(x: f64) -> String {
    let decimals = match x.abs() {
        a if a >= 100.0 || x.fract() == 0.0 => 0,
        a if a >= 10.0 => 1,
        a if a >= 1.0 => 2,
        _ => 3,
    };
    grouped(x, decimals)
}

fn parts(wanted: Vec<(usize, Line)>) -> Vec<(String, Vec<Line>)> {
    let mut parts: Vec<(String, Vec<Line>)> = Vec::new();
    for (rank, line) in wanted {
        let heading = HEADINGS.get(rank).copied().unwrap_or_default();
        match parts.last_mut().filter(|(last, _)| last == heading) {
            Some((_, lines)) => lines.push(line),
            None => parts.push((heading.to_owned(), vec![line])),
        }
    }
    parts
}
