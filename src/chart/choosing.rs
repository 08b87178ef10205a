//! The courses side by side, and what it is worth to know more before choosing.

use crate::analysis::{Alternatives, Answers, Figure, Knowing};
use crate::report::choosing::verdict;
use crate::report::numbers::{clean, in_prose, percent, shortened, with_unit};

use super::canvas::ChartError;
use super::driving::mark;
use super::layout::Format;
use super::measures::{Measures, Row, Sign};
use super::slides::mounted;
use super::{Chart, along, layout};

/// Rows that are drawn.
const MOST: usize = 12;

/// All charts of this matter.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut charts = Vec::new();
    if let Some(found) = answers.alternatives.as_ref().filter(|found| found.comparison.rows.len() > 2) {
        charts.extend(gains(answers, found).draw(format)?);
        charts.extend(mounted(format, along::draw_all(format.details(), answers, found)?)?);
    }
    if let Some(found) = &answers.knowing {
        charts.extend(worth(answers, found).draw(format)?);
    }
    Ok(charts)
}

/// What each course gains over doing nothing, or over the study where nothing is not among them.
fn gains<'a>(answers: &'a Answers, found: &Alternatives) -> Measures<'a> {
    let comparison = &found.comparison;
    let over = "study".to_owned();
    let name =
        |of: &str| comparison.rows.iter().find(|row| row.name == of).map_or("", |row| row.label.as_str());
    let gain = |row: &crate::analysis::choosing::CourseRow| {
        let pair = comparison.pairs.iter().find(|pair| pair.joins(&row.name, &over))?;
        // The advantage of the course over the study, whichever of the two stands first.
        let turn = if pair.first == row.name { 1.0 } else { -1.0 };
        let at = |p: f64| {
            let p = if turn > 0.0 { p } else { 1.0 - p };
            let found = pair.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9)?;
            found.estimate.value.number().map(|x| turn * x)
        };
        let better = if turn > 0.0 { pair.first_better } else { pair.second_better };
        Some(Row {
            label: clean(&row.label),
            line: at(0.1).zip(at(0.9)),
            disc: pair.mean.value.number().map(|x| turn * x),
            note: percent(&better),
            ..Row::default()
        })
    };
    let mut rows: Vec<Row> = comparison.rows.iter().filter(|row| row.name != over).filter_map(gain).collect();
    rows.sort_by(|a, b| b.disc.unwrap_or(f64::NAN).total_cmp(&a.disc.unwrap_or(f64::NAN)));
    rows.truncate(MOST);
    let label = layout::mentioned(&found.label);
    let base = layout::mentioned(name(&over));
    Measures {
        name: "alternatives",
        title: format!("Courses against {base}"),
        finding: verdict(answers, found)
            .map_or_else(String::new, |said| said.trim_end_matches('.').to_owned()),
        subtitle: format!(
            "What each course gains over \u{201c}{}\u{201d}, in {label}: mean, and the line on which 8 of 10 runs lie",
            shortened(&clean(name(&over)), 60)
        ),
        axis: format!("Gain{}", layout::unit_after(&comparison.unit)),
        foot: format!(
            "{} Every course meets the same draws in each run. {}",
            layout::drawn_by(answers, comparison.runs),
            if found.higher { "" } else { "A gain is so much less to pay." }
        ),
        rows,
        key: vec![(Sign::Line, "8 of 10 runs"), (Sign::Disc, "mean")],
        from_zero: true,
        level: Some((0.0, String::new())),
        note_head: "better in",
    }
}

/// What it is worth to know each thing.
fn worth<'a>(answers: &'a Answers, found: &Knowing) -> Measures<'a> {
    let information = &found.information;
    let rows: Vec<Row> = information
        .rows
        .iter()
        .filter(|row| row.value.value.number().is_some_and(|x| x > 0.0))
        .take(MOST)
        .map(|row| Row {
            label: if row.is_group {
                format!("All of \u{201c}{}\u{201d}", clean(&row.label))
            } else {
                clean(&row.label)
            },
            bar: mark(&row.value, 1.0),
            note: match (row.about_zero, row.can_be_found_out) {
                (true, _) => "about 0".to_owned(),
                (false, true) => "can be known".to_owned(),
                (false, false) if row.is_group => "in part, later".to_owned(),
                (false, false) => "only time tells".to_owned(),
            },
            faint: row.about_zero,
            ..Row::default()
        })
        .collect();
    let money = |e: &crate::analysis::Estimate| {
        with_unit(&in_prose(e, &information.unit, &answers.study.currency), &information.unit)
    };
    let everything = money(&information.evpi);
    let first = information.rows.iter().find(|row| row.can_be_found_out && !row.about_zero && !row.is_group);
    let finding = match first {
        Some(row) => format!(
            "Of what can be known before choosing, {} is worth most: about {}",
            crate::report::words::subject(&row.label),
            money(&row.value)
        ),
        None => {
            "Nothing that can be known before choosing is worth anything to speak of by itself".to_owned()
        }
    };
    let level = information.evpi.value.number().filter(|x| *x > 0.0);
    Measures {
        name: "information",
        title: "What it is worth to know more before choosing".into(),
        finding,
        subtitle: format!(
            "Expected value of knowing one thing before choosing, with its 95 % interval; to know everything would be \
             worth {everything}"
        ),
        axis: format!("Worth{}", layout::unit_after(&information.unit)),
        foot: format!(
            "{} For one decision as this study describes it. Values do not add up: what two things tell may be the \
             same.",
            layout::drawn_by(answers, information.runs)
        ),
        rows,
        key: Vec::new(),
        from_zero: true,
        level: level.map(|x| (x, "everything".to_owned())),
        note_head: "",
    }
}

/// Whether a figure can be drawn.
pub(super) fn drawable(f: Figure) -> Option<f64> {
    f.number().filter(|x| x.is_finite())
}
