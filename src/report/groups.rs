//! Results by groups of runs, for the terminal.

use comfy_table::Cell;

use crate::analysis::{Answers, ResultByGroup};

use super::numbers::{clean, figure, half_width, in_sentence, percent_of, share_with_interval, shortened};
use super::terminal::{lines, plain, right, wrapped};

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
            q.map_or_else(String::new, |q| {
                figure(q.estimate.value, half_width(&q.estimate), &found.unit, currency)
            })
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
