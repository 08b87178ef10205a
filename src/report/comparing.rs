//! What differs between two studies and what that does, as a page of text, as JSON and as CSV.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::cells;
use super::numbers::{clean, decimals, few_decimals, grouped, listed, shortened, with_unit};
use crate::analysis::comparing::{Change, Comparison, Effect, Figures, ResultChange, STATISTICS};
use crate::analysis::{ResultKind, SamplingFacts};
use crate::study::differences::{Bearing, Difference, Done};

/// Longest formula or list that is shown in full.
const MOST_CHARS: usize = 110;

/// The two sides as the reader knows them, and the money of the first.
pub struct Sides<'a> {
    /// File or folder of the first.
    pub a: &'a str,
    /// Of the second.
    pub b: &'a str,
    /// Currency of the first study.
    pub currency: &'a str,
}

/// A page of text.
pub fn text(found: &Comparison, sides: &Sides<'_>) -> String {
    let mut out = format!("A  {}\nB  {}\n\n", clean(sides.a), clean(sides.b));
    if found.differences.is_empty() {
        out.push_str("The two are the same.\n");
        return out;
    }
    out.push_str(&differences(found));
    if found.steps.is_empty() && found.results.iter().all(|r| r.drawn.is_none()) {
        out.push_str("\nNone of that changes a result.\n");
        return out;
    }
    let _ = writeln!(out, "\n{}", drawn(found));
    for names in [("A", &found.only_a), ("B", &found.only_b)] {
        if !names.1.is_empty() {
            let _ = writeln!(out, "Only {} has, or has as such a quantity: {}.", names.0, names.1.join(", "));
        }
    }
    for result in &found.results {
        out.push('\n');
        out.push_str(&table(found, result, sides.currency));
    }
    out
}

fn differences(found: &Comparison) -> String {
    let mut out = String::from("What differs\n");
    for (k, difference) in found.differences.iter().enumerate() {
        let _ =
            writeln!(out, "{:>3}  {} {}{}", k + 1, title(difference), done(difference), lines(difference));
        for detail in &difference.details {
            let shown = |text: &str| {
                if text.is_empty() { "nothing".into() } else { shortened(&clean(text), MOST_CHARS) }
            };
            let key = if detail.key.is_empty() { String::new() } else { format!("{}: ", clean(&detail.key)) };
            let _ = match difference.done {
                Done::Changed => {
                    writeln!(out, "       {key}{} -> {}", shown(&detail.old), shown(&detail.new))
                }
                Done::Added => writeln!(out, "       {key}{}", shown(&detail.new)),
                Done::Removed => writeln!(out, "       {key}{}", shown(&detail.old)),
            };
        }
    }
    out
}

fn title(difference: &Difference) -> String {
    let section = match difference.section.as_str() {
        "units" => "unit",
        "inputs" => "input",
        "paths" => "path",
        "hotwater" => "simulated home",
        "workings" => "working",
        "results" => "result",
        "alternatives" => "alternative",
        "data" => "data file",
        other => other,
    };
    clean(format!("{section} {}", difference.name).trim_end())
}

fn done(difference: &Difference) -> &'static str {
    match (difference.done, difference.bearing, difference.section.as_str()) {
        (_, _, "data") => "holds something else",
        (Done::Added, ..) => "added",
        (Done::Removed, ..) => "removed",
        (Done::Changed, Bearing::Words, _) => "changed, in words only",
        (Done::Changed, Bearing::Questions, _) => "changed, which asks something else",
        (Done::Changed, Bearing::Drawing, _) => "changed, which draws otherwise",
        (Done::Changed, ..) => "changed",
    }
}

fn lines(difference: &Difference) -> String {
    match (difference.line_a, difference.line_b) {
        (Some(a), Some(b)) => format!(" (line {a} in A, {b} in B)"),
        (Some(a), None) => format!(" (line {a} in A)"),
        (None, Some(b)) => format!(" (line {b} in B)"),
        (None, None) => String::new(),
    }
}

/// How it is drawn, and what the intervals are.
fn drawn(found: &Comparison) -> String {
    let facts = |s: &SamplingFacts| {
        format!(
            "{} runs, {}, {} replicates, seed {}",
            grouped(s.runs as f64, 0),
            s.method,
            s.replicates,
            s.seed
        )
    };
    let (a, b) = (facts(&found.sampling_a), facts(&found.sampling_b));
    let paired = "Steps are taken from A on A's draws, so that the same run of two studies differs by the change alone: +- is \
                  half of the 95 % interval of the difference.";
    if found.results.iter().all(|r| r.drawn.is_none()) {
        return format!("{a}. {paired}");
    }
    format!(
        "A: {a}. B: {b}. {paired} B itself is drawn otherwise: that is a step of its own, and what goes over it is known \
         less well."
    )
}

/// A table of one result.
fn table(found: &Comparison, result: &ResultChange, currency: &str) -> String {
    let shown = shown(result);
    let row = |label: String, cell: &dyn Fn(usize) -> String| {
        (label, shown.iter().map(|&k| cell(k)).collect::<Vec<_>>())
    };
    let figures =
        |label: &str, figures: &Figures| row(label.into(), &|k| figure(figures.all[k], k, result, currency));
    let effect = |label: String, effect: &Effect| row(label, &|k| change(effect.all[k], k, result, currency));
    let mut rows = vec![row(String::new(), &|k| heading(k, result)), figures("A", &result.before)];
    for (k, one) in result.in_turn.iter().enumerate() {
        rows.push(effect(format!("  {}", step(found, k)), one));
    }
    rows.extend(result.drawn.iter().map(|one| effect("  B drawn as it says".into(), one)));
    rows.push(figures("B", &result.after));
    rows.push(effect("B less A".into(), &result.whole));
    if result.alone.len() > 1 {
        rows.push(("Each alone, from A".into(), Vec::new()));
        for (k, one) in result.alone.iter().enumerate() {
            rows.push(effect(format!("  {}", step(found, k)), one));
        }
        let together =
            |k: usize| change(Change { by: result.together[k], within: None }, k, result, currency);
        rows.push(row("  only together".into(), &together));
    }
    let label = with_unit(
        &clean(&result.label),
        &if result.unit.is_empty() { String::new() } else { format!("({})", clean(&result.unit)) },
    );
    format!("{label}\n{}", laid_out(&rows))
}

/// Which statistics a result has.
fn shown(result: &ResultChange) -> Vec<usize> {
    let has = |k: &usize| match *k {
        5 => !result.before.all[5].is_nan() || !result.after.all[5].is_nan(),
        2..=4 => result.kind != ResultKind::YesNo,
        _ => true,
    };
    (0..STATISTICS.len()).filter(has).collect()
}

fn heading(k: usize, result: &ResultChange) -> String {
    match (k, result.kind) {
        (0, _) => "base case".into(),
        (5, ResultKind::YesNo) => "yes".into(),
        (5, _) => "success".into(),
        _ => STATISTICS[k].into(),
    }
}

/// The differences that make up a step.
fn step(found: &Comparison, k: usize) -> String {
    let numbers = found.steps.get(k).map_or(&[][..], |step| &step.differences);
    let named = |n: &usize| found.differences.get(*n).map(|d| format!("{} {}", n + 1, short(d)));
    let names: Vec<String> = numbers.iter().filter_map(named).collect();
    shortened(&names.join(" + "), 40)
}

fn short(difference: &Difference) -> String {
    clean(if difference.name.is_empty() { &difference.section } else { &difference.name })
}

fn figure(x: f64, k: usize, result: &ResultChange, currency: &str) -> String {
    if x.is_nan() {
        return "none".into();
    }
    if k == 5 {
        return format!("{} %", grouped(100.0 * x, 1));
    }
    let within = result.whole.all[k].within;
    grouped(x, decimals(x, within.filter(|w| *w > 0.0), &result.unit, currency))
}

/// A difference with its sign and half of its interval.
fn change(change: Change, k: usize, result: &ResultChange, currency: &str) -> String {
    let Some(by) = change.by else { return "no number".into() };
    let (scale, unit) = if k == 5 { (100.0, "%") } else { (1.0, result.unit.as_str()) };
    let (by, within) = (scale * by, change.within.map(|within| scale * within));
    if by == 0.0 && within.is_none_or(|within| within == 0.0) {
        return "0".into();
    }
    let half = within.filter(|within| *within > 0.0);
    let places = if half.is_some() {
        decimals(by, half, unit, currency)
    } else {
        few_decimals(by, None, unit, currency)
    };
    let places = if k == 5 { places.clamp(0, 2) } else { places };
    let sign = if by > 0.0 { "+" } else { "" };
    let points = if k == 5 { " pt" } else { "" };
    let half = half.map_or_else(String::new, |half| format!(" +-{}", grouped(half, places)));
    format!("{sign}{}{half}{points}", grouped(by, places))
}

/// Columns of equal width, figures to the right.
fn laid_out(rows: &[(String, Vec<String>)]) -> String {
    let first = rows.iter().map(|(label, _)| label.chars().count()).max().unwrap_or(0);
    let columns = rows.iter().map(|(_, cells)| cells.len()).max().unwrap_or(0);
    let width = |k: usize| rows.iter().filter_map(|(_, cells)| cells.get(k)).map(|c| c.chars().count()).max();
    let widths: Vec<usize> = (0..columns).map(|k| width(k).unwrap_or(0)).collect();
    let mut out = String::new();
    for (label, cells) in rows {
        let mut line = format!("{label}{}", " ".repeat(first - label.chars().count()));
        for (cell, width) in cells.iter().zip(&widths) {
            let _ = write!(line, "  {}{cell}", " ".repeat(width - cell.chars().count()));
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
    out
}

/// For machines.
///
/// # Errors
/// None is known.
pub fn json(found: &Comparison, sides: &Sides<'_>) -> Result<String, serde_json::Error> {
    let difference = |(k, d): (usize, &Difference)| {
        json!({
            "number": k + 1, "section": d.section, "name": d.name, "done": d.done, "bears_on": d.bearing,
            "details": d.details, "line_a": d.line_a, "line_b": d.line_b,
        })
    };
    let steps = found.steps.iter().map(|s| s.differences.iter().map(|k| k + 1).collect::<Vec<_>>());
    let mut results = serde_json::to_value(&found.results)?;
    for (json, result) in results.as_array_mut().into_iter().flatten().zip(&found.results) {
        let together: serde_json::Map<String, Value> =
            STATISTICS.iter().zip(result.together).map(|(name, x)| ((*name).to_owned(), json!(x))).collect();
        json["together"] = Value::Object(together);
    }
    let all = json!({
        "format": 1,
        "a": clean(sides.a),
        "b": clean(sides.b),
        "same": found.differences.is_empty(),
        "differences": found.differences.iter().enumerate().map(difference).collect::<Vec<_>>(),
        "steps": steps.collect::<Vec<_>>(),
        "sampling_a": found.sampling_a,
        "sampling_b": found.sampling_b,
        "results": results,
        "only_a": found.only_a,
        "only_b": found.only_b,
    });
    Ok(serde_json::to_string_pretty(&all)? + "\n")
}

/// Differences and effects as CSV.
///
/// # Errors
/// A fault of ours.
pub fn tables(found: &Comparison) -> Result<Vec<(String, Vec<u8>)>, csv::Error> {
    let mut differences = csv::Writer::from_writer(Vec::new());
    differences.write_record(["number", "what", "done", "key", "old", "new", "line_a", "line_b"])?;
    for (k, d) in found.differences.iter().enumerate() {
        let line = |n: Option<usize>| n.map_or_else(String::new, |n| n.to_string());
        let mut write = |key: &str, old: &str, new: &str| {
            let texts = [&title(d), done(d), key, old, new].map(cells::cell);
            let ends = [line(d.line_a), line(d.line_b)];
            differences.write_record([(k + 1).to_string()].iter().chain(&texts).chain(&ends))
        };
        if d.details.is_empty() {
            write("", "", "")?;
        }
        d.details.iter().try_for_each(|x| write(&x.key, &x.old, &x.new))?;
    }
    let mut effects = csv::Writer::from_writer(Vec::new());
    effects.write_record(["result", "unit", "what", "step", "statistic", "figure", "within"])?;
    for result in &found.results {
        for (what, step, all) in rows(found, result) {
            for (name, (figure, within)) in STATISTICS.iter().zip(all) {
                let head = [&*result.name, &result.unit, what, &step, name].map(cells::cell);
                effects.write_record(head.iter().chain(&[figure, within]))?;
            }
        }
    }
    let bytes = |w: csv::Writer<Vec<u8>>| w.into_inner().map_err(|e| csv::Error::from(e.into_error()));
    Ok(vec![("differences.csv".into(), bytes(differences)?), ("effects.csv".into(), bytes(effects)?)])
}

/// What is said of a result: what it is, the step, and for each statistic a figure and half of its interval.
type Said = (&'static str, String, Vec<(String, String)>);

fn rows(found: &Comparison, result: &ResultChange) -> Vec<Said> {
    let figures = |f: &Figures| f.all.iter().map(|x| (cells::number(*x), String::new())).collect::<Vec<_>>();
    let number = |x: Option<f64>| x.map_or_else(String::new, cells::number);
    let effect = |e: &Effect| e.all.iter().map(|c| (number(c.by), number(c.within))).collect::<Vec<_>>();
    let mut rows =
        vec![("A", String::new(), figures(&result.before)), ("B", String::new(), figures(&result.after))];
    rows.push(("B less A", String::new(), effect(&result.whole)));
    rows.extend(result.in_turn.iter().enumerate().map(|(k, e)| ("in turn", step(found, k), effect(e))));
    rows.extend(result.alone.iter().enumerate().map(|(k, e)| ("alone", step(found, k), effect(e))));
    rows.extend(result.drawn.iter().map(|e| ("drawn otherwise", String::new(), effect(e))));
    let together = result.together.iter().map(|x| (number(*x), String::new()));
    rows.push(("only together", String::new(), together.collect()));
    rows
}

/// What was found in one sentence, for a terminal.
pub fn sentence(found: &Comparison) -> String {
    let count = |bearing| found.differences.iter().filter(|d| d.bearing == bearing).count();
    let parts: Vec<String> = [
        (Bearing::Results, "that bear on results"),
        (Bearing::Drawing, "in how runs are drawn"),
        (Bearing::Questions, "in what is asked"),
        (Bearing::Words, "in words only"),
    ]
    .iter()
    .filter(|(bearing, _)| count(*bearing) > 0)
    .map(|(bearing, words)| format!("{} {words}", count(*bearing)))
    .collect();
    if parts.is_empty() {
        "The two are the same.".into()
    } else {
        format!("Differences: {}.", listed(&parts))
    }
}
