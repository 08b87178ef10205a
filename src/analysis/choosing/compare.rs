//! Courses side by side on the same draws (methods 10): means, chances of
//! being best, regret, and differences by pairs.

use super::dominance::dominances;
use super::runs::Runs;
use super::{Comparison, Course, CourseRow, PairRow};
use crate::analysis::statistics::percentiles_of;

/// Percentiles of a difference.
const PERCENTILES: [f64; 5] = [0.05, 0.10, 0.50, 0.90, 0.95];

/// Compares courses run by run. Run r belongs to replicate r mod `replicates` of a stratified method; none for
/// independent runs. Runs in which any course has no value are left out and counted.
pub fn compare(courses: &[Course<'_>], replicates: Option<u32>) -> Comparison {
    let columns: Vec<&[f64]> = courses.iter().map(|c| c.net_benefit).collect();
    let runs = Runs::of(&columns, replicates);
    let kept: Vec<Vec<f64>> = columns.iter().map(|c| runs.gather(c)).collect();
    let most = greatest(&kept, runs.len());
    let rows: Vec<CourseRow> =
        courses.iter().zip(&kept).map(|(course, own)| row(course, own, &kept, &most, &runs)).collect();
    let mut pairs = Vec::new();
    for (i, first) in courses.iter().enumerate() {
        for (j, second) in courses.iter().enumerate().skip(i + 1) {
            pairs.push(pair([first, second], [&kept[i], &kept[j]], &runs, replicates));
        }
    }
    Comparison {
        unit: courses.first().map(|c| c.unit.clone()).unwrap_or_default(),
        runs: runs.len() as u64,
        left_out: runs.left_out,
        best: best_of(&kept).and_then(|b| courses.get(b)).map(|c| c.name.clone()).unwrap_or_default(),
        rows,
        pairs,
    }
}

/// The course with the greatest mean, the first of several; none without runs.
pub(super) fn best_of(kept: &[Vec<f64>]) -> Option<usize> {
    let mut best: Option<(usize, f64)> = None;
    for (k, column) in kept.iter().enumerate() {
        let mean = super::runs::mean(column);
        if mean.is_finite() && best.is_none_or(|(_, most)| mean > most) {
            best = Some((k, mean));
        }
    }
    best.map(|(k, _)| k)
}

/// What the best course of each run nets.
pub(super) fn greatest(kept: &[Vec<f64>], n: usize) -> Vec<f64> {
    let mut most = vec![f64::NEG_INFINITY; n];
    for column in kept {
        for (m, &x) in most.iter_mut().zip(column) {
            *m = m.max(x);
        }
    }
    most
}

fn row(course: &Course<'_>, own: &[f64], all: &[Vec<f64>], most: &[f64], runs: &Runs) -> CourseRow {
    let regret: Vec<f64> = most.iter().zip(own).map(|(m, x)| m - x).collect();
    let ties = |run: usize| all.iter().filter(|c| c[run] == most[run]).count().max(1) as f64;
    let part = |(run, &r): (usize, &f64)| if r == 0.0 { 1.0 / ties(run) } else { 0.0 };
    let best: Vec<f64> = regret.iter().enumerate().map(part).collect();
    CourseRow {
        name: course.name.clone(),
        label: course.label.clone(),
        mean: runs.mean(own).0,
        best_share: runs.share(&best),
        regret: runs.mean(&regret).0,
        largest_regret: regret.iter().copied().fold(0.0, f64::max),
    }
}

fn pair(courses: [&Course<'_>; 2], kept: [&[f64]; 2], runs: &Runs, replicates: Option<u32>) -> PairRow {
    let [a, b] = kept;
    let differences: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - b).collect();
    let (mean, standard_error) = runs.mean(&differences);
    // At the runs' own places, so that percentiles know the replicates: runs left out stay without a value.
    let mut by_run = vec![f64::NAN; courses.iter().map(|c| c.net_benefit.len()).min().unwrap_or(0)];
    for (&run, &d) in runs.order.iter().zip(&differences) {
        by_run[run] = d;
    }
    let share = |better: &dyn Fn(f64) -> bool| {
        runs.share(&differences.iter().map(|&d| f64::from(u8::from(better(d)))).collect::<Vec<f64>>())
    };
    let [first_dominates, second_dominates] = dominances(a, b, runs.replicates());
    PairRow {
        first: courses[0].name.clone(),
        second: courses[1].name.clone(),
        mean,
        standard_error,
        percentiles: percentiles_of(&by_run, replicates, &PERCENTILES),
        first_better: share(&|d| d > 0.0),
        second_better: share(&|d| d < 0.0),
        first_dominates,
        second_dominates,
    }
}
