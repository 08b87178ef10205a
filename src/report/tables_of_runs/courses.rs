//! Courses side by side, two by two and along single inputs, and what it is worth to know more before choosing.

use crate::analysis::choosing::{Comparison, CourseRow, InformationRow, PairRow};
use crate::analysis::{Along, AlongPoint, Alternatives, CourseFlip, Figure, Knowing, Measurement};

use super::super::cells::{Cells, about, alone, cell, drawn, estimate, figure, half, number, share};
use super::super::numbers::{clean, half_width};
use super::super::tables::{below, head};
use super::{Sheet, percentile, some, with_interval, yes};

pub(super) fn tables(found: &Alternatives) -> [Sheet; 3] {
    [alternatives(found), differences(found), along(found)]
}

/// What stands first on every row: the result by which courses are compared.
const RESULT: [&str; 4] = ["result", "result label", "unit", "more is better"];

fn result(found: &Alternatives) -> Vec<String> {
    let mut cells = [&found.result, &found.label, &found.comparison.unit].map(|t| cell(t)).to_vec();
    cells.push(yes(found.higher));
    cells
}

/// Each course.
pub(super) fn alternatives(found: &Alternatives) -> Sheet {
    let mut names = head(&RESULT);
    names.extend(head(&["course", "course label", "base case"]));
    names.extend(with_interval("mean"));
    names.extend(with_interval("share of runs in which it is best"));
    names.extend(with_interval("expected regret (mean shortfall from the best course of each run)"));
    names.extend(head(&[
        "largest regret of any run",
        "is doing nothing",
        "is best in the mean",
        "runs",
        "runs left out",
    ]));
    let comparison = &found.comparison;
    let bases = found.base.iter().copied().chain(std::iter::repeat(Figure::None));
    let rows = comparison.rows.iter().zip(bases).map(|(course, base)| {
        let mut row = result(found);
        row.extend([cell(&course.name), cell(&course.label), figure(base)]);
        row.extend(estimate(&course.mean));
        row.extend(share(&course.best_share));
        row.extend(estimate(&course.regret));
        row.push(about(course.largest_regret, None));
        row.push(yes(found.nothing.as_ref() == Some(&course.name)));
        row.push(yes(course.name == comparison.best));
        row.extend([comparison.runs.to_string(), comparison.left_out.to_string()]);
        row
    });
    Sheet::new("alternatives", names, rows)
}

/// Percentiles of the difference of two courses.
const OF_PAIRS: [f64; 5] = [0.05, 0.10, 0.50, 0.90, 0.95];

/// Each pair of courses.
fn differences(found: &Alternatives) -> Sheet {
    let mut names = head(&RESULT);
    names.extend(head(&["first", "first label", "second", "second label"]));
    names.extend(with_interval("mean advantage of the first over the second"));
    names.push("standard error of the mean advantage".into());
    names.extend(OF_PAIRS.iter().flat_map(|&p| with_interval(&format!("advantage: {}", below(p)))));
    names.extend(with_interval("share of runs in which the first is better"));
    names.extend(with_interval("share of runs in which the second is better"));
    for (over, under) in [("first", "second"), ("second", "first")] {
        names.push(format!("the {over} dominates the {under} (first order: whoever likes more prefers it)"));
        names.push(format!(
            "the {over} dominates the {under} (second order: whoever also dislikes risk prefers it)"
        ));
    }
    let rows = found.comparison.pairs.iter().map(|pair| {
        let mut row = result(found);
        row.extend(difference(&found.comparison, pair));
        row
    });
    Sheet::new("differences", names, rows)
}

fn difference(comparison: &Comparison, pair: &PairRow) -> Vec<String> {
    let label = |name: &String| {
        let course = comparison.rows.iter().find(|course| course.name == *name);
        course.map_or_else(String::new, |course| cell(&course.label))
    };
    let mut row = vec![cell(&pair.first), label(&pair.first), cell(&pair.second), label(&pair.second)];
    row.extend(estimate(&pair.mean));
    row.push(standard_error(pair.standard_error));
    row.extend(OF_PAIRS.iter().flat_map(|&p| percentile(&pair.percentiles, p)));
    row.extend(share(&pair.first_better));
    row.extend(share(&pair.second_better));
    for dominance in [pair.first_dominates, pair.second_dominates] {
        row.extend([dominance.first_order, dominance.second_order].map(|v| v.words().to_owned()));
    }
    row
}

fn standard_error(found: Option<f64>) -> String {
    found.filter(|e| e.is_finite()).map_or_else(String::new, half)
}

/// The mean of each course at each value of an input, then where the best course changes.
fn along(found: &Alternatives) -> Sheet {
    let mut names = head(&RESULT);
    names.extend(head(&[
        "input",
        "input label",
        "unit of the input",
        "value of the input",
        "row",
        "course",
        "course label",
    ]));
    names.extend(with_interval("mean"));
    names.extend(head(&["is best in the mean", "runs"]));
    let rows = found.along.iter().flat_map(|line| {
        let points = line.points.iter().flat_map(move |point| at_point(found, line, point));
        points.chain(line.flips.iter().map(move |flip| at_flip(found, line, flip)))
    });
    Sheet::new("along", names, rows)
}

fn before(found: &Alternatives, line: &Along, at: f64, what: String) -> Vec<String> {
    let mut row = result(found);
    row.extend([cell(&line.of), cell(&line.label), cell(&line.unit), drawn(at), what]);
    row
}

fn at_point(found: &Alternatives, line: &Along, point: &AlongPoint) -> Vec<Vec<String>> {
    let courses = found.comparison.rows.iter().zip(&point.means).enumerate();
    let row = |(k, (course, mean)): (usize, (&CourseRow, &crate::analysis::Estimate))| {
        let mut row = before(found, line, point.at, "mean of the course".into());
        row.extend([cell(&course.name), cell(&course.label)]);
        row.extend(estimate(mean));
        row.push(point.best.map_or_else(String::new, |best| yes(best == k)));
        row.push(line.runs.to_string());
        row
    };
    courses.map(row).collect()
}

fn at_flip(found: &Alternatives, line: &Along, flip: &CourseFlip) -> Vec<String> {
    let course = |k: usize| found.comparison.rows.get(k);
    let label = |k: usize| course(k).map_or_else(String::new, |course| clean(&course.label));
    let what = format!("best course changes from {} to {} at", label(flip.from), label(flip.to));
    let mut row = before(found, line, flip.at, what);
    let to = course(flip.to).map_or_else(Default::default, |c| [cell(&c.name), cell(&c.label)]);
    row.extend(to);
    row.extend(Cells::default());
    row.extend([String::new(), line.runs.to_string()]);
    row
}

/// Perfect information, each subject, the noise of the method, and what can be measured.
pub(super) fn information(found: &Knowing) -> Sheet {
    let mut names = head(&["result", "result label", "unit", "best course without knowing", "row"]);
    names.extend(head(&["input or group", "label", "unit of the input"]));
    names.extend(with_interval("worth of knowing it before choosing"));
    names.extend(head(&[
        "worth before it was cut to what is possible",
        "standard error of the worth",
        "share of the worth of perfect information",
        "about 0",
        "several inputs together",
        "can be found out",
    ]));
    names.extend(with_interval("share of runs in which the choice changes"));
    names.extend(head(&[
        "observations",
        "standard deviation of one observation",
        "cost of the observations",
    ]));
    let information = &found.information;
    let floors = [
        ("noise floor (one input, shuffled)", Some(information.floor)),
        // Nought where no subject has several columns.
        (
            "noise floor (several inputs, shuffled)",
            Some(information.floor_of_several).filter(|floor| *floor > 0.0),
        ),
    ];
    let mut rows = vec![perfect(found)];
    rows.extend(information.rows.iter().map(|row| subject(found, row)));
    rows.extend(floors.iter().filter_map(|(label, floor)| Some(noise(label, (*floor)?))));
    rows.extend(found.measurements.iter().map(measurement));
    let rows = rows.into_iter().map(|own| {
        let mut row = [&found.result, &found.label, &information.unit].map(|t| cell(t)).to_vec();
        row.push(cell(&information.best_label));
        row.extend(own);
        row
    });
    Sheet::new("information", names, rows)
}

/// Blank cells at the end.
fn filled(mut row: Vec<String>) -> Vec<String> {
    row.resize(INFORMATION, String::new());
    row
}

/// Columns of a row of information after those of the result.
const INFORMATION: usize = 21;

fn perfect(found: &Knowing) -> Vec<String> {
    let mut row = vec!["perfect information".into(), String::new(), "everything".into(), String::new()];
    row.extend(estimate(&found.information.evpi));
    filled(row)
}

fn noise(label: &str, floor: f64) -> Vec<String> {
    let mut row = vec!["noise floor".into(), String::new(), label.to_owned(), String::new()];
    row.extend(alone(if floor.is_finite() { half(floor) } else { String::new() }));
    filled(row)
}

fn subject(found: &Knowing, of: &InformationRow) -> Vec<String> {
    let what = if of.is_group { "group" } else { "input" };
    let mut row = vec![what.to_owned(), cell(&of.name), cell(&of.label), cell(&of.unit)];
    row.extend(estimate(&of.value));
    row.extend([about(of.raw, of.standard_error), standard_error(of.standard_error)]);
    let all = found.information.evpi.value.number();
    let has_value = of.value.value.number().is_some();
    let known = half_width(&of.value).zip(all).map(|(half, all)| half / all);
    row.push(if has_value { some(Some(of.share_of_evpi), known) } else { String::new() });
    row.push(if has_value { yes(of.about_zero) } else { String::new() });
    row.extend([yes(of.is_group), yes(of.can_be_found_out)]);
    row.extend(share(&of.changes_decision));
    filled(row)
}

fn measurement(of: &Measurement) -> Vec<String> {
    let worth = &of.worth;
    let mut row = vec!["measurement".into(), cell(&worth.name), cell(&of.label), cell(&of.unit)];
    row.extend(estimate(&worth.value));
    row.extend([about(worth.raw, worth.standard_error), standard_error(worth.standard_error)]);
    row.extend([const { String::new() }; 4]);
    row.extend(share(&worth.changes_decision));
    row.extend([worth.observations.to_string(), number(worth.observation_sd)]);
    row.push(of.cost.map_or_else(String::new, number));
    filled(row)
}
