//! Answers for each value of a choice, side by side in one chart: results and break-even values as ranges, paybacks and
//! cash as lines, spans as panels.

use std::collections::BTreeSet;

use crate::analysis::{
    Answers, BreakEven, CashBand, ChoiceAnswer, Estimate, Figure, Lever, ResultKind, Summary,
};
use crate::report::numbers::{
    clean, decimals, figure, grouped, in_prose, percent, shortened, spoken, with_unit,
};

use super::choice_lines::{Line, Lines};
use super::choice_ranges::{Range, Ranges};
use super::choice_spans;
use super::fan::plain_words;
use super::layout::{self, Format};
use super::slides::mounted;
use super::{Chart, ChartError};

/// The values of one choice, in their order.
pub(super) struct Values<'a> {
    pub(super) format: Format,
    pub(super) answers: &'a Answers,
    pub(super) choices: Vec<&'a ChoiceAnswer>,
}

impl Values<'_> {
    /// Plain name of the choice, inside a sentence.
    pub(super) fn mentioned(&self) -> String {
        self.choices.first().map_or_else(String::new, |c| layout::mentioned(&c.label))
    }
}

/// A value as its row or line is named.
pub(super) fn value(choice: &ChoiceAnswer) -> String {
    let mark = if choice.is_base { " (base)" } else { "" };
    format!("{}{mark}", shortened(&clean(&choice.value), 40))
}

/// A value inside a sentence.
pub(super) fn plain_value(choice: &ChoiceAnswer) -> String {
    shortened(&clean(&choice.value), 40)
}

/// All charts of all choices, in the order of the choices.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut names: Vec<&str> = Vec::new();
    for choice in &answers.choices {
        if !names.contains(&choice.choice.as_str()) {
            names.push(&choice.choice);
        }
    }
    let mut taken = BTreeSet::new();
    let mut charts = Vec::new();
    for name in names {
        let choices = answers.choices.iter().filter(|c| c.choice == name).collect();
        for mut chart in of_choice(&Values { format, answers, choices })? {
            let stem = format!("{}-by-{}", chart.name, plain_words(name));
            chart.name = (1..)
                .map(|n| if n == 1 { stem.clone() } else { format!("{stem}-{n}") })
                .find(|stem| !taken.contains(stem))
                .unwrap_or(stem);
            taken.insert(chart.name.clone());
            charts.push(chart);
        }
    }
    Ok(charts)
}

fn of_choice(values: &Values<'_>) -> Result<Vec<Chart>, ChartError> {
    let mut charts = Vec::new();
    if let Some(ranges) = results(values) {
        charts.push(ranges.chart("result", values)?);
    }
    for lines in [paid_back(values), cash(values)].into_iter().flatten() {
        charts.push(lines.chart(values)?);
    }
    let spans = choice_spans::draw(values.format.details(), values)?;
    charts.extend(mounted(values.format, spans.into_iter().collect())?);
    let questions = values.choices.first().map_or(0, |c| c.break_even.len());
    let mut told: Vec<(&str, &str)> = Vec::new();
    for k in 0..questions {
        let Some(first) = values.choices.first().and_then(|c| c.break_even.get(k)) else { continue };
        if told.contains(&(&first.of, &first.result)) {
            continue;
        }
        told.push((&first.of, &first.result));
        charts.push(levers(values, k, first).chart("break-even", values)?);
    }
    Ok(charts)
}

/// The headline, else the first result that the choice changes and that has a number.
fn results(values: &Values<'_>) -> Option<Ranges> {
    let answers = values.answers;
    let first = values.choices.first()?;
    let ordered = || first.results.iter().filter(|r| r.kind != ResultKind::YesNo);
    let shown = ordered().find(|r| r.name == answers.study.headline).or_else(|| ordered().next())?;
    let currency = &answers.study.currency;
    let mut ranges = Vec::new();
    for choice in &values.choices {
        let result = choice.results.iter().find(|r| r.name == shown.name)?;
        let at = |p: f64| result.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9).map(|q| &q.estimate);
        let place = |p: f64| at(p).map_or(f64::NAN, |e| of_figure(e.value));
        let middle = at(0.5).map_or_else(String::new, |e| in_prose(e, &result.unit, currency));
        let never = at(0.5).is_some_and(|e| e.value == Figure::Never);
        let mut notes = vec![if never { "half: never".into() } else { format!("half below {middle}") }];
        notes.extend(
            result
                .success
                .as_ref()
                .map(|s| format!("{}: {}", shortened(&clean(&s.rule), 22), percent(&s.share))),
        );
        notes.extend(result.never.as_ref().map(|never| format!("never: {}", percent(never))));
        ranges.push(Range {
            label: value(choice),
            ends: [0.05, 0.25, 0.5, 0.75, 0.95].map(place),
            base: of_figure(result.base),
            notes,
        });
    }
    let label = layout::named(&shown.label);
    Some(Ranges {
        title: format!("{label}, by {}", values.mentioned()),
        finding: result_finding(values, shown, &label),
        subtitle: "Bar: the middle half of the runs. Line: 9 in 10 of them. White mark: half below. Ring: base case.".into(),
        axis: format!("{label}{}", layout::unit_after(&shown.unit)),
        mark: shown.success.as_ref().and_then(|s| s.threshold).map(|t| (t, "threshold".to_owned())),
        drawn: None,
        runs: shown.runs,
        ranges,
    })
}

fn of_figure(figure: Figure) -> f64 {
    match figure {
        Figure::Number(x) => x,
        Figure::Never => f64::INFINITY,
        Figure::None => f64::NAN,
    }
}

/// The values with the least and the most success, else with the least and the greatest middle.
fn result_finding(values: &Values<'_>, shown: &Summary, label: &str) -> String {
    let of = |c: &ChoiceAnswer| c.results.iter().find(|r| r.name == shown.name).cloned();
    let all: Vec<(String, Summary)> =
        values.choices.iter().filter_map(|c| Some((plain_value(c), of(c)?))).collect();
    let currency = &values.answers.study.currency;
    let told = |r: &Summary| match (&r.success, &r.never) {
        (Some(s), _) => (s.share.value, percent(&s.share)),
        (None, Some(never)) => (never.value, percent(never)),
        (None, None) => {
            let middle = r.percentiles.iter().find(|q| (q.p - 0.5).abs() < 1e-9).map(|q| &q.estimate);
            let text =
                middle.map_or_else(String::new, |e| with_unit(&in_prose(e, &r.unit, currency), &r.unit));
            (middle.map_or(f64::NAN, |e| of_figure(e.value)), text)
        }
    };
    let mut told: Vec<(f64, String, &String)> = all
        .iter()
        .map(|(v, r)| {
            let (x, text) = told(r);
            (x, text, v)
        })
        .collect();
    told.sort_by(|a, b| a.0.total_cmp(&b.0));
    let what = match (&shown.success, &shown.never) {
        (Some(s), _) => format!("{} in", shortened(&clean(&s.rule), 40)),
        (None, Some(_)) => "never in".into(),
        (None, None) => "half of the runs below".into(),
    };
    let of_runs = if shown.success.is_some() || shown.never.is_some() { " of runs" } else { "" };
    match (told.first(), told.last()) {
        (Some(least), Some(most)) if least.1 != most.1 => {
            format!("{label}: {what} {}{of_runs} ({}), {} ({})", least.1, least.2, most.1, most.2)
        }
        (Some(one), _) => {
            format!("{label}: {what} {}{of_runs} at each value of {}", one.1, values.mentioned())
        }
        _ => label.to_owned(),
    }
}

/// Where a lever flips, for each value.
fn levers(values: &Values<'_>, k: usize, first: &BreakEven) -> Ranges {
    let currency = &values.answers.study.currency;
    let number = |x: f64| grouped(x, decimals(x, None, &first.of_unit, currency));
    let label =
        layout::named(first.of_label.strip_suffix(crate::analysis::OF_FIRST_YEAR).unwrap_or(&first.of_label));
    let mut told = Vec::new();
    let ranges = values.choices.iter().filter_map(|choice| {
        let b = choice.break_even.get(k)?;
        let base = match b.base {
            Lever::At(x) => {
                told.push((number(x), plain_value(choice)));
                x
            }
            _ => f64::NAN,
        };
        let crossed = lever_at(b, 0.5);
        let mut notes = vec![if crossed.is_finite() {
            format!("half flip below {}", number(crossed))
        } else {
            "half do not flip".into()
        }];
        notes.push(match b.base {
            Lever::At(x) => format!("base case {}", number(x)),
            Lever::Always => "base case: always good".into(),
            Lever::Never => "base case: never good".into(),
        });
        Some(Range {
            label: value(choice),
            ends: [0.05, 0.25, 0.5, 0.75, 0.95].map(|p| lever_at(b, p)),
            base,
            notes,
        })
    });
    let ranges: Vec<Range> = ranges.collect();
    let finding = match told.as_slice() {
        [] => format!("{label}: flips nowhere in the base case, whatever {} is", values.mentioned()),
        [(x, at)] => format!("{label}: flips in the base case only at {} ({at})", spoken(x, &first.of_unit)),
        [(x, at), .., (y, other)] => {
            format!(
                "{label}: flips in the base case at {x} ({at}), at {} ({other})",
                spoken(y, &first.of_unit)
            )
        }
    };
    let drawn = first.of_drawn;
    Ranges {
        title: format!("Where {} flips the answer, by {}", layout::subject(&label), values.mentioned()),
        finding,
        subtitle: format!(
            "Value at which {} is {}. Bar: the middle half of the runs. Line: 9 in 10 of them. White mark: half below. \
             Ring: base case. Pale column: 8 in 10 draws of the lever.",
            layout::mentioned(&first.result_label),
            shortened(&clean(&first.rule), 40)
        ),
        axis: format!("{}{}", layout::named(&first.of_label), layout::unit_after(&first.of_unit)),
        mark: Some((first.of_base, "base value".to_owned())),
        drawn: (drawn[0] < drawn[2]).then_some((drawn[0], drawn[2])),
        runs: first.runs,
        ranges,
    }
}

/// A percentile of a lever; NaN where it is no number.
fn lever_at(b: &BreakEven, p: f64) -> f64 {
    match b.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9).map(|q| q.estimate.lever) {
        Some(Lever::At(x)) => x,
        _ => f64::NAN,
    }
}

fn paid_back(values: &Values<'_>) -> Option<Lines> {
    let mut lines = Vec::new();
    for choice in &values.choices {
        let bands = choice.bands.as_ref()?;
        let last = bands.paid_back.last()?;
        let years = bands.paid_back.iter().enumerate();
        lines.push(Line {
            label: format!("{}: {}", percent(last), value(choice)),
            points: years.map(|(k, s)| ((k + 1) as f64, s.value * 100.0)).collect(),
            reach: Some((last.low * 100.0, last.high * 100.0)),
        });
    }
    let years = with_unit(&lines.first()?.points.len().to_string(), "yr");
    let share = |c: &&ChoiceAnswer| {
        let last = c.bands.as_ref().and_then(|bands| bands.paid_back.last());
        (last.map_or_else(String::new, percent), plain_value(c))
    };
    let ends: Vec<(String, String)> = values.choices.iter().map(share).collect();
    Some(Lines {
        name: "payback",
        title: format!("Share of runs paid back by each year, by {}", values.mentioned()),
        finding: two_of(&format!("Paid back within {years} in"), " of runs", "in", &ends),
        subtitle:
            "Share of runs whose outlay has come back by the end of each year. Bar at the end: 95 % interval."
                .into(),
        unit: "% of runs".into(),
        range: Some((0.0, 100.0)),
        runs: values.choices.first()?.results.first().map_or(values.answers.sampling.runs, |r| r.runs),
        lines,
    })
}

fn cash(values: &Values<'_>) -> Option<Lines> {
    let currency = &values.answers.study.currency;
    let at = |band: &CashBand, p: f64| -> Option<Estimate> {
        band.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9).map(|q| q.estimate.clone())
    };
    let number = |e: Option<Estimate>| e.and_then(|e| e.value.number()).unwrap_or(f64::NAN);
    let mut lines = Vec::new();
    for choice in &values.choices {
        let bands = choice.bands.as_ref().filter(|bands| bands.cash.len() > 1)?;
        let last = bands.cash.last()?;
        let middle = at(last, 0.5).map_or_else(String::new, |e| in_prose(&e, currency, currency));
        lines.push(Line {
            label: format!("{middle}: {}", value(choice)),
            points: bands.cash.iter().map(|c| (c.year as f64, number(at(c, 0.5)))).collect(),
            reach: Some((number(at(last, 0.05)), number(at(last, 0.95)))),
        });
    }
    let years = with_unit(&(lines.first()?.points.len() - 1).to_string(), "yr");
    let middle = |c: &&ChoiceAnswer| {
        let last = c.bands.as_ref().and_then(|bands| bands.cash.last()).and_then(|last| at(last, 0.5));
        let text = last.map_or_else(String::new, |e| in_prose(&e, currency, currency));
        (with_unit(&text, currency), plain_value(c))
    };
    let ends: Vec<(String, String)> = values.choices.iter().map(middle).collect();
    let alike = values.choices.windows(2).all(|pair| {
        let cash = |c: &ChoiceAnswer| c.bands.as_ref().map(|b| b.cash.clone());
        cash(pair[0]) == cash(pair[1])
    });
    (!alike).then(|| Lines {
        name: "cash",
        title: format!("Cumulative cash by year, by {}", values.mentioned()),
        finding: two_of("Half of the runs end below", &format!(" after {years}"), "below", &ends),
        subtitle: "Cumulative cash by the end of each year: half of the runs lie below the line, 9 in 10 of them end \
                   within the bar. Above zero the outlay is back."
            .into(),
        unit: currency.clone(),
        range: None,
        runs: values.answers.sampling.runs,
        lines,
    })
}

/// The first and the last of some figures, each with the value of the choice that it is for.
fn two_of(head: &str, after: &str, again: &str, ends: &[(String, String)]) -> String {
    match ends {
        [(a, first), .., (b, last)] => format!("{head} {a}{after} ({first}), {again} {b} ({last})"),
        [(a, one)] => format!("{head} {a}{after} ({one})"),
        [] => head.to_owned(),
    }
}

/// A figure of a panel, with its unit.
pub(super) fn written(answers: &Answers, f: Figure, unit: &str) -> String {
    let text = figure(f, None, unit, &answers.study.currency);
    if f.number().is_some() { spoken(&text, unit) } else { text }
}
