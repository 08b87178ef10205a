//! What drives the headline across the runs: how much of its variance each input explains by itself, and the result where
//! each is lowest and where it is highest.

use crate::analysis::sensitivity::{SensitivityOf, TenthStatistic};
use crate::analysis::{Answers, Drivers, Estimate, Figure, ResultByGroup};
use crate::report::numbers::{
    clean, few_decimals, figure, grouped, half_width, percent, shortened, spoken, with_unit,
};

use super::canvas::ChartError;
use super::fan::plain_words;
use super::layout::Format;
use super::measures::{Mark, Measures, Row, Sign};
use super::{Chart, layout};

/// Rows that are drawn.
const MOST: usize = 12;

/// All charts of this matter.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut charts = Vec::new();
    if let Some(drivers) = &answers.drivers {
        charts.extend(shares(answers, drivers).draw(format)?);
        charts.extend(ends(answers, drivers).draw(format)?);
    }
    for group in answers.groups.iter().filter(|group| group.asked) {
        let name = format!("groups-{}-by-{}", plain_words(&group.result), plain_words(&group.by.name));
        charts.extend(groups(answers, group, &name).draw(format)?);
    }
    Ok(charts)
}

/// An estimate with its ends, where it is a number.
pub(super) fn mark(estimate: &Estimate, factor: f64) -> Option<Mark> {
    let value = estimate.value.number()? * factor;
    let end = |f: Option<Figure>| f.and_then(Figure::number).map(|x| x * factor);
    Some(Mark { value, ends: end(estimate.low).zip(end(estimate.high)) })
}

fn what(answers: &Answers, drivers: &Drivers) -> String {
    let label = layout::mentioned(&drivers.label);
    match drivers.sensitivity.of {
        SensitivityOf::Value => label,
        SensitivityOf::Never => format!("whether {label} is never within {} years", answers.study.years),
    }
}

/// First-order indices from the runs.
fn shares<'a>(answers: &'a Answers, drivers: &Drivers) -> Measures<'a> {
    let found = &drivers.sensitivity;
    let floor = found.floor.first_order;
    let rows: Vec<Row> = found
        .rows
        .iter()
        .filter_map(|row| {
            let mut bar = mark(&row.first_order, 100.0)?;
            bar.value = bar.value.max(0.0);
            let rank =
                row.spearman.value.number().map_or_else(String::new, |r| {
                    format!("{}{}", if r > 0.0 { "+" } else { "" }, grouped(r, 2))
                });
            let faint = floor.is_some_and(|floor| bar.value <= floor * 100.0);
            Some(Row { label: clean(&row.label), bar: Some(bar), note: rank, faint, ..Row::default() })
        })
        .take(MOST)
        .collect();
    let what = what(answers, drivers);
    let finding = match rows.as_slice() {
        [first, ..] => format!(
            "To know {} alone would take away {} % of the variance of {what}",
            layout::mentioned(&first.label),
            grouped(first.bar.map_or(0.0, |b| b.value), 0)
        ),
        [] => String::new(),
    };
    let linked = if found.rows.iter().any(|row| row.linked) {
        " Inputs that are correlated share what they explain, so the bars may add up to more than 100 %."
    } else {
        ""
    };
    Measures {
        name: "drivers",
        title: format!("What drives {what}"),
        finding,
        subtitle: "Share of the variance that each input explains by itself (first-order index), with its 95 % interval"
            .into(),
        axis: "% of the variance".into(),
        foot: format!(
            "{} Found from these runs, by classes of each input.{linked} Pale bars: no more than an input without \
             effect shows by chance.",
            layout::drawn_by(answers, found.runs)
        ),
        rows,
        key: Vec::new(),
        from_zero: true,
        level: None,
        note_head: "rank correlation",
    }
}

/// The result where each input is lowest and where it is highest.
fn ends<'a>(answers: &'a Answers, drivers: &Drivers) -> Measures<'a> {
    let found = &drivers.tenths;
    let currency = &answers.study.currency;
    let (factor, unit) = match found.statistic {
        TenthStatistic::Share => (100.0, "% of runs".to_owned()),
        _ => (1.0, drivers.unit.clone()),
    };
    let value = |e: &Estimate| match e.value {
        Figure::Number(x) => x * factor,
        Figure::Never => f64::INFINITY,
        Figure::None => f64::NAN,
    };
    let said = |e: &Estimate| match e.value {
        Figure::Number(x) => {
            figure(Figure::Number(x * factor), half_width(e).map(|h| h * factor), &unit, currency)
        }
        _ => "never".to_owned(),
    };
    let rows: Vec<Row> = found
        .rows
        .iter()
        .take(MOST)
        .map(|row| Row {
            label: clean(&row.label),
            line: Some((value(&row.low.result), value(&row.high.result))),
            ring: mark(&row.low.result, factor),
            disc: Some(value(&row.high.result)),
            note: format!("{} to {}", said(&row.low.result), said(&row.high.result)),
            ..Row::default()
        })
        .collect();
    let statistic = match found.statistic {
        TenthStatistic::Mean => "Mean of",
        TenthStatistic::Median => "Median of",
        TenthStatistic::Share => "Share of runs with",
    };
    let label = layout::mentioned(&drivers.label);
    let finding = match found.rows.first() {
        Some(row) => format!(
            "{statistic} {label}: {} where {} is lowest, {} where it is highest",
            with_unit(&said(&row.low.result), &unit),
            layout::mentioned(&row.label),
            said(&row.high.result)
        ),
        None => String::new(),
    };
    Measures {
        name: "tenths",
        title: format!("{statistic} {label} where each input is low and high"),
        finding,
        subtitle: format!(
            "{statistic} {label} over the tenth of the runs in which one input is lowest, and the tenth in which it \
             is highest; all else as drawn"
        ),
        axis: format!("{}{}", layout::named(&drivers.label), layout::unit_after(&unit)),
        foot: format!(
            "{} Unlike the tornado, nothing is held at its base value: interactions, and what comes along through \
             correlations, are in.",
            layout::drawn_by(answers, found.runs)
        ),
        rows,
        key: vec![(Sign::Ring, "input lowest"), (Sign::Disc, "input highest")],
        from_zero: false,
        level: found.all.value.number().map(|x| (x * factor, "all runs".to_owned())),
        note_head: "lowest to highest",
    }
}

/// A number with its unit; a third with its limits; a word as it is.
fn group_label(group: &ResultByGroup, one: &crate::analysis::sensitivity::Group) -> String {
    let unit = &group.by.unit;
    if group.by.thirds {
        let places = few_decimals(one.to, Some((one.to - one.from).abs() / 20.0), unit, "");
        let to = spoken(&grouped(one.to, places), unit);
        return format!("{}: {} to {to}", clean(&one.label), grouped(one.from, places));
    }
    if one.label.parse::<f64>().is_ok() { spoken(&one.label, unit) } else { clean(&one.label) }
}

/// A result by groups of runs.
fn groups<'a>(answers: &'a Answers, group: &ResultByGroup, name: &'a str) -> Measures<'a> {
    let currency = &answers.study.currency;
    let at = |p: f64, all: &[crate::analysis::Percentile]| {
        let found = all.iter().find(|q| (q.p - p).abs() < 1e-9).map(|q| q.estimate.value);
        match found {
            Some(Figure::Number(x)) => x,
            Some(Figure::Never) => f64::INFINITY,
            _ => f64::NAN,
        }
    };
    let rows: Vec<Row> = group
        .by
        .groups
        .iter()
        .map(|g| {
            let success = g.success.as_ref().map(percent);
            if g.percentiles.is_empty() {
                // Yes or no: the share is all there is to draw.
                let bar = g
                    .success
                    .map(|s| Mark { value: s.value * 100.0, ends: Some((s.low * 100.0, s.high * 100.0)) });
                return Row {
                    label: group_label(group, g),
                    bar,
                    note: success.unwrap_or_default(),
                    ..Row::default()
                };
            }
            let middle = at(0.5, &g.percentiles);
            let note = success.unwrap_or_else(|| figure(Figure::of(middle), None, &group.unit, currency));
            Row {
                label: group_label(group, g),
                line: Some((at(0.1, &g.percentiles), at(0.9, &g.percentiles))),
                disc: Some(middle),
                note,
                ..Row::default()
            }
        })
        .collect();
    let by = layout::mentioned(&group.by.label);
    let share = group.rule.as_ref().map(|rule| shortened(&clean(rule), 40));
    let yes_or_no = group.by.groups.iter().all(|g| g.percentiles.is_empty());
    let finding = match (group.by.groups.first(), group.by.groups.last(), &share) {
        (Some(a), Some(b), Some(rule)) => format!(
            "{} {rule}: {} of the runs at {}, {} at {}",
            layout::named(&group.label),
            a.success.as_ref().map_or_else(String::new, percent),
            group_label(group, a),
            b.success.as_ref().map_or_else(String::new, percent),
            group_label(group, b)
        ),
        _ => format!("{} by {by}", layout::named(&group.label)),
    };
    Measures {
        name,
        title: format!("{} by {by}", layout::named(&group.label)),
        finding,
        subtitle: if yes_or_no {
            format!("Share of runs, by {by}")
        } else {
            format!(
                "{}, by {by}: 8 of 10 runs lie on the line, half below the dot",
                layout::named(&group.label)
            )
        },
        axis: if yes_or_no {
            "% of runs".into()
        } else {
            format!("{}{}", layout::named(&group.label), layout::unit_after(&group.unit))
        },
        foot: layout::drawn_by(answers, group.by.groups.iter().map(|g| g.runs).sum()),
        rows,
        key: if yes_or_no {
            Vec::new()
        } else {
            vec![(Sign::Line, "8 of 10 runs"), (Sign::Disc, "half lie below")]
        },
        from_zero: yes_or_no,
        level: None,
        note_head: if share.is_some() { "share of runs" } else { "half below" },
    }
}
