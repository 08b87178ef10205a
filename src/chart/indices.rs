//! Global indices: how much of a result's variance hangs on each input by itself and together with the others; Shapley
//! effects beside them where inputs are correlated.

use crate::analysis::Answers;
use crate::analysis::indices::{GlobalIndices, Shapley};
use crate::report::numbers::{clean, grouped, shortened};

use super::canvas::ChartError;
use super::driving::mark;
use super::layout::Format;
use super::measures::{Mark, Measures, Row, Sign};
use super::{Chart, layout};

/// Rows that are drawn.
const MOST: usize = 14;

/// The charts, if indices were asked for.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let Some(found) = &answers.indices else { return Ok(Vec::new()) };
    let mut charts: Vec<Chart> = by_group(answers, found).draw(format)?.into_iter().collect();
    if let Some(effects) = &found.shapley {
        charts.extend(shapley(answers, found, effects).draw(format)?);
    }
    Ok(charts)
}

/// What the variance is of.
fn what(found: &GlobalIndices) -> String {
    let label = layout::mentioned(&found.label);
    if found.of == "value" { label } else { format!("{label} ({})", clean(&found.of)) }
}

fn by_group<'a>(answers: &'a Answers, found: &'a GlobalIndices) -> Measures<'a> {
    let not_below_0 = |mark: Mark| Mark { value: mark.value.max(0.0), ..mark };
    let rows: Vec<Row> = found
        .rows
        .iter()
        .filter(|row| row.read)
        .take(MOST)
        .map(|row| {
            let (first, total) = (mark(&row.first, 100.0), mark(&row.total, 100.0));
            let said = |m: Option<Mark>| m.map_or_else(String::new, |m| grouped(m.value.max(0.0), 0));
            Row {
                label: shortened(&clean(&row.label), 90),
                bar: first.map(not_below_0),
                ring: total.map(not_below_0),
                note: format!("{} and {}", said(first), said(total)),
                faint: first.is_some_and(|m| m.value <= row.floor * 100.0),
                ..Row::default()
            }
        })
        .collect();
    let what = what(found);
    let together = found.interactions.as_ref().and_then(|e| e.value.number()).map_or_else(String::new, |x| {
        format!("; {} % come only from what inputs do together", grouped((x * 100.0).max(0.0), 0))
    });
    let finding = match found.rows.first() {
        Some(first) => format!(
            "{} of the variance of {what} would go if {} were known{together}",
            first
                .first
                .value
                .number()
                .map_or_else(String::new, |x| format!("{} %", grouped(x.max(0.0) * 100.0, 0))),
            shortened(&first_lower(&clean(&first.label)), 90)
        ),
        None => format!("Nothing was found to move {what}"),
    };
    Measures {
        name: "indices",
        title: format!("Global indices of {what}"),
        finding,
        subtitle: "Share of the variance that hangs on each input by itself (first order) and on it together with all \
                   others (total), with 95 % intervals"
            .into(),
        axis: "% of the variance".into(),
        foot: foot(answers, found),
        rows,
        key: vec![(Sign::Bar, "first order"), (Sign::Ring, "total")],
        from_zero: true,
        level: None,
        note_head: "first, total",
    }
}

fn first_lower(text: &str) -> String {
    crate::report::numbers::in_sentence(text)
}

fn foot(answers: &Answers, found: &GlobalIndices) -> String {
    let still = found.rows.iter().filter(|row| !row.read).count();
    let more = found.rows.iter().filter(|row| row.read).count().saturating_sub(MOST);
    let mut text = format!(
        "{} evaluations at {} base points, seed {}.",
        grouped(found.evaluations as f64, 0),
        grouped(found.base_points as f64, 0),
        answers.sampling.seed
    );
    if found.rows.iter().any(|row| row.linked) {
        text.push_str(" What is correlated is one group, for the design would tear it apart.");
    }
    if more + still > 0 {
        text.push_str(&format!(" Left out: {more} smaller, {still} that the result does not read."));
    }
    text
}

fn shapley<'a>(answers: &'a Answers, found: &'a GlobalIndices, effects: &Shapley) -> Measures<'a> {
    let rows: Vec<Row> = effects
        .rows
        .iter()
        .take(MOST)
        .map(|row| Row {
            label: shortened(&clean(&row.label), 90),
            bar: mark(&row.effect, 100.0).map(|m| Mark { value: m.value.max(0.0), ..m }),
            ring: mark(&row.first, 100.0).map(|m| Mark { value: m.value.max(0.0), ..m }),
            note: row
                .effect
                .value
                .number()
                .map_or_else(String::new, |x| format!("{} %", grouped(x * 100.0, 0))),
            ..Row::default()
        })
        .collect();
    let what = what(found);
    let finding = match rows.as_slice() {
        [first, ..] => format!(
            "Shared out among correlated inputs, {} carries {} % of the variance of {what}",
            first_lower(&first.label),
            grouped(first.bar.map_or(0.0, |b| b.value), 0)
        ),
        [] => String::new(),
    };
    Measures {
        name: "shapley",
        title: format!("Shapley effects of {what}"),
        finding,
        subtitle: "The variance shared out among inputs that may be correlated, with 95 % intervals; the bars add up to \
                   100 %"
            .into(),
        axis: "% of the variance".into(),
        foot: format!(
            "{} evaluations, seed {}. A ring far beyond its bar: the input acts mostly through what it is correlated \
             with.",
            grouped(effects.evaluations as f64, 0),
            answers.sampling.seed
        ),
        rows,
        key: vec![(Sign::Bar, "Shapley effect"), (Sign::Ring, "first order, correlations kept")],
        from_zero: true,
        level: None,
        note_head: "effect",
    }
}
