//! When a result fails, the way of that search, and what was promised.

use crate::analysis::conditions::{ConditionBox, Neighbour, Of, Restriction, TrajectoryPoint};
use crate::analysis::{Claim, Failing, PromiseKept, Share};

use super::super::cells::{Cells, about, cell, chance, figure, number, part, share};
use super::super::tables::head;
use super::{Sheet, some, with_interval, word};

pub(super) fn tables(found: &Failing) -> [Sheet; 2] {
    [conditions(found), path(found)]
}

/// What stands first on every row.
const RESULT: [&str; 4] = ["result", "result label", "success means", "looked for"];

fn result(found: &Failing) -> Vec<String> {
    let of = match found.conditions.of {
        Of::Failures => "runs that fail",
        Of::Successes => "runs that succeed",
    };
    let mut row = [&found.result, &found.label, &found.rule].map(|t| cell(t)).to_vec();
    row.push(of.into());
    row
}

/// A row of the table of conditions; what it does not tell is blank.
#[derive(Default)]
struct Row {
    number: Option<usize>,
    what: &'static str,
    /// Input, its label, its unit, from, to, labels.
    input: [String; 6],
    /// Chance of doing as well at random, coverage and density without the condition.
    adds: [String; 3],
    /// Coverage, density, share of the runs: on the half that found the box, then on the other.
    quality: [Option<(Share, Share, f64)>; 2],
    /// Runs, and those looked for among them.
    counts: [String; 2],
    failing: Option<Share>,
    /// Input of the box that another goes along with, and their rank correlation.
    along: [String; 2],
    words: String,
}

impl Row {
    fn cells(self) -> Vec<String> {
        let mut row = vec![self.number.map_or_else(String::new, |n| n.to_string()), self.what.to_owned()];
        row.extend(self.input);
        row.extend(self.adds);
        for half in self.quality {
            let (coverage, density, mass) = match half {
                Some((coverage, density, mass)) => (share(&coverage), share(&density), part(mass)),
                None => Default::default(),
            };
            row.extend(coverage.into_iter().chain(density).chain([mass]));
        }
        row.extend(self.counts);
        row.extend(self.failing.map_or_else(Cells::default, |failing| share(&failing)));
        row.extend(self.along);
        row.push(self.words);
        row
    }
}

fn names() -> Vec<String> {
    let mut names = head(&RESULT);
    names.extend(head(&[
        "box",
        "row",
        "input",
        "input label",
        "unit",
        "from (included)",
        "to (included)",
        "labels",
        "chance that a random condition does as well",
        "coverage without this condition (half of the runs held out)",
        "density without this condition (half of the runs held out)",
    ]));
    for half in ["half of the runs that found it", "half of the runs held out"] {
        names.extend(with_interval(&format!("coverage (share of those looked for in the box), {half}")));
        names.extend(with_interval(&format!("density (share of the box's runs looked for), {half}")));
        names.push(format!("share of runs in the box, {half}"));
    }
    names.extend(head(&["runs (of a box: held out)", "of these, runs looked for"]));
    names.extend(with_interval("share of all runs that fail"));
    names.extend(head(&["goes along with the input", "rank correlation of the two", "in words"]));
    names
}

/// All runs, each box with its conditions and what goes along with them, then what a reader has to know besides.
pub(super) fn conditions(found: &Failing) -> Sheet {
    let all = &found.conditions;
    let hits = match all.of {
        Of::Failures => all.failures,
        Of::Successes => all.runs.saturating_sub(all.failures),
    };
    let mut rows = vec![Row {
        what: "all runs",
        counts: [all.runs.to_string(), hits.to_string()],
        failing: Some(all.share_failing),
        ..Row::default()
    }];
    for (number, found) in (1..).zip(&all.boxes) {
        rows.push(box_row(number, found));
        rows.extend(found.restrictions.iter().map(|r| restriction(number, found, r)));
        rows.extend(found.neighbours.iter().map(|n| neighbour(number, n)));
    }
    rows.extend(all.notes.iter().map(|note| Row { what: "note", words: cell(note), ..Row::default() }));
    let rows = rows.into_iter().map(|row| result(found).into_iter().chain(row.cells()).collect());
    Sheet::new("conditions", names(), rows)
}

fn box_row(number: usize, found: &ConditionBox) -> Row {
    let held_out = &found.held_out;
    Row {
        number: Some(number),
        what: "box",
        quality: [
            Some((found.coverage, found.density, found.mass)),
            Some((held_out.coverage, held_out.density, held_out.mass)),
        ],
        counts: [held_out.runs, held_out.failures].map(|n| n.to_string()),
        words: cell(&found.words),
        ..Row::default()
    }
}

/// A condition; without it a share is known about as well as with it.
fn restriction(number: usize, of: &ConditionBox, found: &Restriction) -> Row {
    let end = |f: Option<crate::analysis::Figure>| f.map_or_else(String::new, figure);
    let labels = found.labels.as_ref().map_or_else(String::new, |labels| word(&labels.join("; ")));
    let known = |s: Share| Some((s.high - s.low) / 2.0);
    Row {
        number: Some(number),
        what: "condition",
        input: [
            cell(&found.name),
            cell(&found.label),
            cell(&found.unit),
            end(found.from),
            end(found.to),
            labels,
        ],
        adds: [
            chance(found.quasi_p),
            about(found.adds.coverage_without, known(of.held_out.coverage)),
            some(found.adds.density_without, known(of.held_out.density)),
        ],
        ..Row::default()
    }
}

fn neighbour(number: usize, found: &Neighbour) -> Row {
    let [name, label] = [&found.name, &found.label].map(|t| cell(t));
    Row {
        number: Some(number),
        what: "goes along",
        input: [name, label, String::new(), String::new(), String::new(), String::new()],
        along: [cell(&found.of), about(found.rank_correlation, None)],
        words: cell(&found.words),
        ..Row::default()
    }
}

/// The boxes that the search went through, from all runs to the smallest.
fn path(found: &Failing) -> Sheet {
    let mut names = head(&RESULT);
    names.extend(head(&[
        "step",
        "coverage (share of those looked for in the box)",
        "density (share of the box's runs looked for)",
        "share of runs in the box",
        "restricted inputs",
    ]));
    let row = |(step, point): (u32, &TrajectoryPoint)| {
        let mut row = result(found);
        row.push(step.to_string());
        row.extend([point.coverage, point.density, point.mass].map(part));
        row.push(point.restricted.to_string());
        row
    };
    Sheet::new("conditions_path", names, (0..).zip(&found.conditions.trajectory).map(row))
}

/// Each promise, then all of them together.
pub(super) fn claim(found: &Claim) -> Sheet {
    let mut names = head(&["promise", "at least or at most", "promised value", "unit"]);
    names.extend(with_interval("share of runs that keep it"));
    names.push("kept in so many of ten runs".into());
    names.extend(with_interval("share of runs that lie below the promised value"));
    names.extend(head(&["runs", "in words"]));
    let mut all = vec!["all promises together".into(), String::new(), String::new(), String::new()];
    all.extend(share(&found.all));
    all.push(found.all_of_ten.to_string());
    all.extend(Cells::default());
    all.extend([found.runs.to_string(), cell(&found.words)]);
    Sheet::new("claim", names, found.promises.iter().map(promise).chain([all]))
}

fn promise(found: &PromiseKept) -> Vec<String> {
    let side = if found.better_above { "at least" } else { "at most" };
    let mut row = vec![cell(&found.what), side.into(), number(found.value), cell(&found.unit)];
    row.extend(share(&found.kept));
    row.push(found.of_ten.to_string());
    row.extend(share(&found.below));
    row.extend([found.runs.to_string(), cell(&found.words)]);
    row
}
