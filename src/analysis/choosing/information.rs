//! What it is worth to know a subject before choosing (methods 10): the
//! expected value of partial perfect information, from the runs at hand.
//!
//! Gains over the best course are fitted to the subject, by classes where it
//! takes few values, else by regression; how their worth is told without bias
//! stands at [`Worth`]. Shuffled copies of a subject, which are worth nothing,
//! go through the same steps: what they seem to be worth is the floor.

use rayon::prelude::*;

use super::classes::Classes;
use super::features::Terms;
use super::fit::Regression;
use super::gains::{Found, Gains, Worth};
use super::{Course, Information, InformationRow, Subject};
use crate::analysis::{Estimate, Figure, Share};
use crate::sampling::philox::{Key, Purpose, uniform_at};

/// Shuffled copies of a single input, and of the widest subject.
const SHUFFLES: [u32; 2] = [3, 1];

/// What each subject is worth to know, the greatest value first. Run r belongs to replicate r mod `replicates` of a
/// stratified method; none for independent runs. Runs in which a course has no value are left out and counted.
pub fn information(courses: &[Course<'_>], subjects: &[Subject<'_>], replicates: Option<u32>) -> Information {
    let unit = courses.first().map(|c| c.unit.clone()).unwrap_or_default();
    let gains = Gains::of(courses, replicates).filter(|gains| !gains.columns.is_empty());
    let Some(gains) = gains else {
        return nothing_to_choose(unit);
    };
    let evpi = gains.perfect().0;
    let most = evpi.value.number().unwrap_or(0.0);
    let tasks = tasks(subjects);
    let found: Vec<Option<Found>> =
        tasks.par_iter().map(|(subject, shuffle)| worth(subject, *shuffle, &gains, &evpi)).collect();
    let (own, shuffled) = found.split_at(subjects.len());
    let floor = |several: bool| {
        let of = tasks.iter().skip(subjects.len()).zip(shuffled);
        let of = of.filter(|((s, _), _)| (s.columns.len() > 1) == several);
        of.filter_map(|(_, found)| found.as_ref()).map(|f| f.raw).fold(0.0, f64::max)
    };
    let floors = [floor(false), floor(true)];
    let pairs = subjects.iter().zip(own);
    let mut rows: Vec<InformationRow> = pairs.map(|(s, found)| row(s, found, most, floors)).collect();
    // A stable sort: ties keep their order.
    rows.sort_by(|a, b| of_row(b).total_cmp(&of_row(a)));
    let best = courses.get(gains.best);
    Information {
        unit,
        runs: gains.runs.len() as u64,
        left_out: gains.runs.left_out,
        best: best.map(|c| c.name.clone()).unwrap_or_default(),
        best_label: best.map(|c| c.label.clone()).unwrap_or_default(),
        evpi,
        floor: floors[0],
        floor_of_several: floors[1],
        notes: notes(&rows, gains.runs.left_out),
        rows,
    }
}

/// A subject, or the shuffled copy of that number.
type Task<'a> = (&'a Subject<'a>, Option<u32>);

/// Every subject in its order, then shuffled copies of a single input and of the widest subject.
fn tasks<'a>(subjects: &'a [Subject<'a>]) -> Vec<Task<'a>> {
    let single = subjects.iter().find(|s| s.columns.len() == 1 && !s.discrete.contains(&true));
    let single = single.or_else(|| subjects.iter().find(|s| s.columns.len() == 1));
    let widest = subjects.iter().filter(|s| s.columns.len() > 1);
    // Of equals the first.
    let widest = widest.reduce(|a, b| if b.columns.len() > a.columns.len() { b } else { a });
    let mut tasks: Vec<Task<'_>> = subjects.iter().map(|s| (s, None)).collect();
    for (subject, count) in [single, widest].into_iter().zip(SHUFFLES) {
        tasks.extend(subject.into_iter().flat_map(|s| (0..count).map(move |k| (s, Some(k)))));
    }
    tasks
}

fn of_row(row: &InformationRow) -> f64 {
    row.value.value.number().unwrap_or(f64::NEG_INFINITY)
}

fn notes(rows: &[InformationRow], left_out: u64) -> Vec<String> {
    let mut notes = Vec::new();
    if left_out > 0 {
        notes.push(format!("{left_out} runs without a value of every course are left out."));
    }
    let without = rows.iter().filter(|r| r.raw.is_nan()).map(|r| r.name.as_str());
    let without: Vec<&str> = without.collect();
    if !without.is_empty() {
        notes.push(format!("No value of knowing {}: it is no number in some runs.", without.join(", ")));
    }
    notes
}

fn nothing_to_choose(unit: String) -> Information {
    Information {
        unit,
        runs: 0,
        left_out: 0,
        best: String::new(),
        best_label: String::new(),
        evpi: Estimate::alone(Figure::None),
        rows: Vec::new(),
        floor: 0.0,
        floor_of_several: 0.0,
        notes: vec!["There are no two courses to choose between, or no run has a value of both.".into()],
    }
}

/// The worth of knowing a subject, or a shuffled copy of it; none where a column is no number.
fn worth(subject: &Subject<'_>, shuffle: Option<u32>, gains: &Gains, evpi: &Estimate) -> Option<Found> {
    let mut columns: Vec<Vec<f64>> = subject.columns.iter().map(|c| gains.runs.gather(c)).collect();
    if columns.iter().any(|c| c.iter().any(|x| !x.is_finite())) {
        return None;
    }
    if let Some(shuffle) = shuffle {
        let order = shuffled(gains.runs.len(), shuffle);
        for column in &mut columns {
            *column = order.iter().map(|&run| column[run]).collect();
        }
    }
    let worth = match Classes::of(&columns, &subject.discrete) {
        Some(classes) => classes.worth(gains),
        None => {
            let terms = Terms::of(&columns, &subject.discrete, &gains.columns);
            let mut regression = Regression::new(gains, terms);
            regression.add(&columns);
            let mut worth = Worth::new(gains, 1);
            regression.solve().judge(&columns, &mut worth);
            worth
        }
    };
    Some(worth.found(gains, evpi))
}

/// Runs in random order, always the same for the same number of them (Fisher, Yates).
fn shuffled(n: usize, part: u32) -> Vec<usize> {
    let key = Key::new(0, "shuffled subject", Purpose::Bootstrap, 0);
    let mut order: Vec<usize> = (0..n).collect();
    for k in (1..n).rev() {
        let other = (uniform_at(key, part, k as u64) * (k + 1) as f64) as usize;
        order.swap(k, other.min(k));
    }
    order
}

fn row(subject: &Subject<'_>, found: &Option<Found>, evpi: f64, floors: [f64; 2]) -> InformationRow {
    let floor = if subject.columns.len() > 1 { floors[1] } else { floors[0] };
    let value = found.as_ref().map_or(Estimate::alone(Figure::None), |f| f.value.clone());
    let number = value.value.number();
    let low = value.low.and_then(Figure::number);
    InformationRow {
        name: subject.name.clone(),
        label: subject.label.clone(),
        unit: subject.unit.clone(),
        raw: found.as_ref().map_or(f64::NAN, |f| f.raw),
        standard_error: found.as_ref().and_then(|f| f.standard_error),
        share_of_evpi: number.map_or(0.0, |v| if evpi > 0.0 { v / evpi } else { 0.0 }),
        about_zero: low.or(number).is_some_and(|low| low <= floor),
        is_group: subject.is_group,
        can_be_found_out: subject.can_be_found_out,
        changes_decision: found.as_ref().map_or(Share::unknown(), |f| f.changes),
        value,
    }
}
