//! In words: what drives the headline across the runs, and results by groups.

use comfy_table::Cell;

use crate::analysis::sensitivity::SensitivityOf;
use crate::analysis::{Answers, Estimate, ResultByGroup};

use super::numbers::{
    clean, figure, half_width, in_sentence, percent_of, share_with_interval, shortened,
};
use super::terminal::{lines, plain, right, wrapped};

/// Inputs that are named.
const NAMED: usize = 4;

/// One sentence: how much of the variation single inputs explain.
pub(super) fn drivers(answers: &Answers) -> Option<String> {
    let found = answers.drivers.as_ref()?;
    let sensitivity = &found.sensitivity;
    let floor = sensitivity.floor.first_order.unwrap_or(0.0);
    let above = |e: &Estimate| e.value.number().is_some_and(|x| x > floor && x >= 0.01);
    let rows: Vec<String> = sensitivity
        .rows
        .iter()
        .filter(|row| above(&row.first_order))
        .take(NAMED)
        .map(|row| {
            let share = row.first_order.value.number().unwrap_or(0.0);
            format!("{} {}", in_sentence(&shortened(&clean(&row.label), 80)), percent_of((share * 100.0).round() / 100.0))
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let of = match sensitivity.of {
        SensitivityOf::Value => in_sentence(&clean(&found.label)),
        SensitivityOf::Never => format!("whether {} is never", in_sentence(&clean(&found.label))),
    };
    Some(wrapped(
        &format!(
            "Across all runs, knowing one thing alone would take away of the variance of {of}: {} (drivers.csv).",
            rows.join("; ")
        ),
        "  ",
    ))
}

/// What the study asks by groups of runs; the headline by every input is in the table.
pub(super) fn groups(answers: &Answers) -> Option<String> {
    let wanted = |g: &&ResultByGroup| g.asked;
    let parts: Vec<String> = answers.groups.iter().filter(wanted).map(|g| one(answers, g)).collect();
    (!parts.is_empty()).then(|| parts.concat())
}

fn one(answers: &Answers, found: &ResultByGroup) -> String {
    let currency = &answers.study.currency;
    let unit = if found.unit.is_empty() { String::new() } else { format!(", {}", clean(&found.unit)) };
    let title = format!(
        "{}{unit}, by {}",
        shortened(&clean(&found.label), 80),
        in_sentence(&shortened(&clean(&found.by.label), 80))
    );
    let rule = found.rule.as_ref().map_or_else(String::new, |rule| format!("share {}", clean(rule)));
    let mut table = plain(&["", "share of runs", "10 % below", "half below", "90 % below", &rule]);
    for group in &found.by.groups {
        let value = |p: f64| {
            let q = group.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9);
            q.map_or_else(String::new, |q| figure(q.estimate.value, half_width(&q.estimate), &found.unit, currency))
        };
        table.add_row(vec![
            Cell::new(shortened(&clean(&group.label), 40)),
            right(percent_of(group.share)),
            right(value(0.1)),
            right(value(0.5)),
            right(value(0.9)),
            right(group.success.as_ref().map_or_else(String::new, share_with_interval)),
        ]);
    }
    format!("{}{}", wrapped(&title, ""), lines(&table))
}
