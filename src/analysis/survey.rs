//! The columns of a large random sample: results are kept whole; columns of
//! which only bands are asked are not.
//!
//! The first runs say where each wanted rank will about lie; of the rest only
//! what falls near it is kept. The percentiles are exact all the same: where a
//! rank lies outside its window, which one sample in many thousands meets, that
//! column is drawn again and kept.

use rayon::prelude::*;

use crate::analysis::statistics::quantiles::Ranking;
use crate::analysis::statistics::summary::{mean_and_percentiles_of, mean_of_runs, percentiles_by_rank};
use crate::analysis::{Estimate, Percentile};
use crate::engine::accumulate::windows::{Windowed, Windows};
use crate::engine::accumulate::{Accumulator, CHUNK, Chunk, Moments, Tree};
use crate::engine::graph::{Graph, NodeId};
use crate::engine::program::Program;
use crate::engine::run::{Control, Job, Stopped, empty_columns, keep, keep_some};

/// Chunks whose runs say where the windows are.
const PILOT: u64 = 4;

/// Half-width of a window in standard deviations of a rank.
const WIDTH: f64 = 5.0;

/// Runs from which surveying pays.
pub(super) const FROM_RUNS: u64 = 1 << 17;

/// What is known of a column.
pub(super) enum Column {
    /// Every run's value.
    Whole(Vec<f64>),
    /// Its mean, the values of the first runs, and the wanted percentiles.
    Surveyed { mean: Estimate, first: Vec<f64>, percentiles: Vec<Percentile> },
}

impl Column {
    /// Values of the first runs; a few at least.
    pub(super) fn first_runs(&self) -> &[f64] {
        match self {
            Column::Whole(values) => values,
            Column::Surveyed { first, .. } => first,
        }
    }

    /// The mean and the percentiles `ps`, which are those that were surveyed.
    pub(super) fn mean_and_percentiles(
        &self,
        replicates: Option<u32>,
        ps: &[f64],
    ) -> (Estimate, Vec<Percentile>) {
        match self {
            Column::Whole(values) => mean_and_percentiles_of(values, replicates, ps),
            Column::Surveyed { mean, percentiles, .. } => (mean.clone(), percentiles.clone()),
        }
    }
}

/// What is drawn: the wanted values of `job.program` whose index is in `kept` whole, the others surveyed for `ps`.
pub(super) struct Survey<'a> {
    pub(super) graph: &'a Graph,
    pub(super) wanted: &'a [NodeId],
    pub(super) kept: &'a [usize],
    pub(super) ps: &'a [f64],
}

impl Survey<'_> {
    /// A column for each wanted value, in their order.
    pub(super) fn draw(&self, job: Job<'_>, control: &Control) -> Result<Vec<Column>, Stopped> {
        self.draw_with(job, control, WIDTH)
    }

    fn draw_with(&self, job: Job<'_>, control: &Control, width: f64) -> Result<Vec<Column>, Stopped> {
        let mut kept = empty_columns(job, self.kept.len());
        let pilot = keep_some(job, control, 0..PILOT, self.kept, &mut kept, |_, passed| passed.to_vec())?;
        let n_surveyed = pilot.first().map_or(0, Vec::len);
        let windows: Vec<Windows> =
            (0..n_surveyed).into_par_iter().map(|c| windows_from(&pilot, c, self.ps, width)).collect();
        let part = |first_run: u64, c: usize, column: &[f64]| {
            let mut windowed = Windowed::new(&windows[c]);
            windowed.add(column);
            let mut mean = Moments::new();
            mean.add(Chunk::plain(first_run, column));
            (windowed, mean)
        };
        let of_pilot = pilot.iter().enumerate().map(|(k, columns)| {
            columns.iter().enumerate().map(|(c, x)| part((k * CHUNK) as u64, c, x)).collect::<Vec<_>>()
        });
        let mut parts: Vec<Vec<(Windowed, Moments)>> = of_pilot.collect();
        parts.extend(keep_some(job, control, PILOT..u64::MAX, self.kept, &mut kept, |runs, passed| {
            passed.iter().enumerate().map(|(c, x)| part(runs.first, c, x)).collect::<Vec<_>>()
        })?);
        let surveyed: Vec<Option<Column>> = (0..n_surveyed)
            .into_par_iter()
            .map(|c| joined(&parts, c, pilot.first().map_or(&[], |columns| &columns[c]), self.ps))
            .collect();
        self.in_order(job, control, kept, surveyed)
    }

    /// Columns in the order of the wanted values; surveyed ones that miss a rank are drawn again and kept.
    fn in_order(
        &self,
        job: Job<'_>,
        control: &Control,
        kept: Vec<Vec<f64>>,
        surveyed: Vec<Option<Column>>,
    ) -> Result<Vec<Column>, Stopped> {
        let (mut kept, mut surveyed) = (kept.into_iter(), surveyed.into_iter());
        let mut columns = Vec::with_capacity(self.wanted.len());
        for (k, &node) in self.wanted.iter().enumerate() {
            let column = if self.kept.contains(&k) {
                kept.next().map(Column::Whole)
            } else {
                surveyed.next().flatten()
            };
            let column = match column {
                Some(column) => column,
                None => {
                    let program = Program::of_runs(self.graph, &[node]);
                    let again = keep(Job { program: &program, ..job }, control)?;
                    Column::Whole(again.into_iter().next().unwrap_or_default())
                }
            };
            columns.push(column);
        }
        Ok(columns)
    }
}

/// Windows around the ranks of `ps` in column `c` of the pilot.
fn windows_from(pilot: &[Vec<Vec<f64>>], c: usize, ps: &[f64], width: f64) -> Windows {
    let mut values: Vec<f64> =
        pilot.iter().flat_map(|columns| &columns[c]).copied().filter(|x| !x.is_nan()).collect();
    values.sort_unstable_by(f64::total_cmp);
    let n = values.len() as f64;
    let ends = |&p: &f64| {
        let (middle, sd) = ((n - 1.0) * p, (n * p * (1.0 - p)).sqrt());
        let (low, high) = ((middle - width * sd - 2.0).floor(), (middle + width * sd + 2.0).ceil());
        let at = |rank: f64| values.get(rank as usize).copied();
        let low = if low < 0.0 { f64::NEG_INFINITY } else { at(low).unwrap_or(f64::NAN) };
        // Just above, so that values equal to the end are inside.
        (low, at(high).map_or(f64::INFINITY, f64::next_up))
    };
    Windows::new(ps.iter().map(ends).collect())
}

/// Column `c` of all parts, which follow each other; none where a rank lies outside its window.
fn joined(parts: &[Vec<(Windowed, Moments)>], c: usize, first_chunk: &[f64], ps: &[f64]) -> Option<Column> {
    let mut windowed: Option<Windowed> = None;
    let mut means = Tree::new();
    for part in parts {
        let (more, mean) = &part[c];
        match &mut windowed {
            Some(all) => all.merge(more),
            None => windowed = Some(more.clone()),
        }
        means.push(mean.clone());
    }
    let windowed = windowed?;
    let percentiles = percentiles_by_rank(windowed.values(), ps, |ranks| {
        let among: Option<Vec<u64>> = ranks.iter().map(|&rank| windowed.rank_among_kept(rank)).collect();
        Some(Ranking::of(windowed.kept()).at(&among?))
    })?;
    let mean = mean_of_runs(&means.merged().unwrap_or_else(Moments::new).finish());
    Some(Column::Surveyed { mean, first: first_chunk.iter().copied().take(64).collect(), percentiles })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::run::LeafSource;
    use crate::sampling::{Design, Distribution, InputSpec, Method, Plan, Value, Vectors};

    /// Surveyed percentiles are those of the whole column, also where windows are too narrow, values tie, or a column
    /// is the same in every run.
    #[test]
    fn surveyed_is_as_good_as_whole() {
        let runs = 40_000;
        let normal = [("mean".to_owned(), Value::Number(0.0)), ("sd".to_owned(), Value::Number(1.0))];
        let distribution = Distribution::build("normal", &normal, None).expect("a normal");
        let inputs = [InputSpec { name: "x".into(), distribution }];
        let design = Design::new(3, Method::Random, 1, runs);
        let plan = Plan::new(&inputs, &[], &[], design, &[]).expect("a plan");
        let mut graph = Graph::new();
        let x = graph.leaf(0);
        let whole_number = graph.unary(crate::engine::ops::Unary::Round, x);
        let zero = graph.constant(0.0);
        let never_negative = graph.binary(crate::engine::ops::Binary::Max, x, zero);
        let same = graph.times(x, zero);
        let wanted = [x, whole_number, never_negative, same];
        let program = Program::of_runs(&graph, &wanted);
        let leaves = [LeafSource::Drawn(0)];
        let job = Job {
            program: &program,
            plan: &plan,
            leaves: &leaves,
            n_runs: runs,
            block: None,
            epoch: 0,
            vectors: Vectors::Widest,
        };
        let ps = [0.05, 0.1, 0.5, 0.9];
        let control = Control::default();
        let whole = keep(job, &control).expect("columns");
        for (width, kept) in [(WIDTH, &[][..]), (WIDTH, &[1][..]), (0.5, &[][..]), (-10.0, &[][..])] {
            let survey = Survey { graph: &graph, wanted: &wanted, kept, ps: &ps };
            let columns = survey.draw_with(job, &control, width).expect("columns");
            for (k, (column, values)) in columns.iter().zip(&whole).enumerate() {
                assert_eq!(
                    column.mean_and_percentiles(None, &ps),
                    mean_and_percentiles_of(values, None, &ps),
                    "column {k}, {width}"
                );
                assert_eq!(column.first_runs()[..64], values[..64]);
                assert!(kept.contains(&k) == matches!(column, Column::Whole(_)) || width < WIDTH);
            }
        }
    }
}
