//! The two halves of the runs: one finds boxes, the other says how good they
//! are.

use super::Wish;
use super::answers::*;
use super::boxes::{Kept, Limit, Region, quasi_p};
use super::lot::{Count, Lot, Orders, Rows};
use super::peel::Sort;
use super::search::{Found, correlation, find};
use super::words::{self, Phrases, plain};
use crate::analysis::factors::Factor;
use crate::analysis::statistics::intervals::{CONFIDENCE, share_of_parts, wilson};
use crate::analysis::{Figure, Share};
use rayon::prelude::*;

/// A second box is worth telling from this coverage on.
const SECOND_COVERAGE: f64 = 0.1;
/// A factor without a value in a larger share of the runs is left out itself, not the runs.
const MOST_WITHOUT: f64 = 0.1;
/// Neighbours have a greater rank correlation than this.
const NEIGHBOUR: f64 = 0.3;

/// The runs looked at, in two halves.
pub(super) struct Halves<'a> {
    factors: Vec<&'a Factor>,
    sorts: Vec<Sort>,
    finding: Lot,
    /// Its columns are filled when a box asks for them.
    other: Lot,
    other_runs: Vec<usize>,
    orders: Orders,
}

/// Whether a run is of the half that finds: even replicates, or half of all runs by a fixed scramble of the run's number
/// (Steele, Lea, Flood 2014, *Fast splittable pseudorandom number generators*).
fn finds(run: usize, replicates: Option<u32>) -> bool {
    if let Some(n) = replicates.filter(|&n| n >= 2) {
        return (run % n as usize).is_multiple_of(2);
    }
    let mut z = (run as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ z >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    (z ^ z >> 31) & 1 == 0
}

fn lacks(factor: &Factor, run: usize) -> bool {
    factor.values.get(run).is_none_or(|x| x.is_nan())
}

/// The factors with a value in most of the `runs` runs that have a result, and those of them with gaps.
fn valued<'a>(
    fails: &[Option<bool>],
    factors: &'a [Factor],
    runs: usize,
    notes: &mut Vec<String>,
) -> (Vec<&'a Factor>, Vec<&'a Factor>) {
    let lacking: Vec<usize> = factors
        .par_iter()
        .map(|factor| {
            let both = factor.values.iter().zip(fails).filter(|(x, fails)| !x.is_nan() && fails.is_some());
            runs - both.count()
        })
        .collect();
    let (mut kept, mut gaps) = (Vec::new(), Vec::new());
    for (factor, &n) in factors.iter().zip(&lacking) {
        if n as f64 > MOST_WITHOUT * runs as f64 {
            notes.push(format!("{} is left out: it has no value in {} runs.", factor.label, plain(n as f64)));
            continue;
        }
        kept.push(factor);
        if n > 0 {
            gaps.push(factor);
        }
    }
    (kept, gaps)
}

impl<'a> Halves<'a> {
    pub(super) fn of(
        fails: &[Option<bool>],
        factors: &'a [Factor],
        wish: &Wish,
        of: Of,
        notes: &mut Vec<String>,
    ) -> Self {
        let with_result: Vec<usize> = (0..fails.len()).filter(|&run| fails[run].is_some()).collect();
        let (factors, gaps) = valued(fails, factors, with_result.len(), notes);
        let whole = |run: &usize| !gaps.iter().any(|factor| lacks(factor, *run));
        let (finding, other): (Vec<usize>, Vec<usize>) =
            with_result.iter().copied().filter(whole).partition(|&run| finds(run, wish.replicates));
        let out = with_result.len() - finding.len() - other.len();
        if out > 0 {
            notes.push(format!("{} runs are left out: an input has no value in them.", plain(out as f64)));
        }
        let hit = |run: usize| fails.get(run) == Some(&Some(of == Of::Failures));
        // Replicates 0, 2, 4.. find and 1, 3, 5.. do not: in either half they are counted from 0.
        let n = wish.replicates.filter(|&n| n >= 2).unwrap_or(1) as usize;
        let part = |run: usize| (run % n / 2) as u32;
        let mut lot = Lot::empty(factors.len(), &finding, hit, part);
        lot.columns = factors.par_iter().map(|factor| taken(factor, &finding)).collect();
        let orders = Orders::of(&lot);
        let sorts = factors.iter().map(|factor| Sort::of(factor)).collect();
        let rest = Lot::empty(factors.len(), &other, hit, part);
        Halves { factors, sorts, finding: lot, other: rest, other_runs: other, orders }
    }

    /// Fills the columns of the other half that a box asks for.
    fn ask(&mut self, region: &Region) {
        for limit in &region.limits {
            if let (Some(column), Some(factor)) =
                (self.other.columns.get_mut(limit.factor), self.factors.get(limit.factor))
                && column.is_empty()
            {
                *column = taken(factor, &self.other_runs);
            }
        }
    }

    /// Searches one half, and says how good the boxes are on the other.
    pub(super) fn fill(&mut self, answer: &mut Conditions, says: &Phrases) {
        let (mut left, mut other_left) = (self.finding.all(), self.other.all());
        let base = self.other.count(&other_left).density();
        let share = match answer.of {
            Of::Failures => answer.share_failing,
            Of::Successes => answer.share_failing.rest(),
        };
        for second in [false, true] {
            let found = find(&self.finding, &self.orders, &left, &self.sorts);
            if !second {
                answer.trajectory = self.trajectory(&found);
            }
            let region = found.region;
            self.ask(&region);
            let (inside, outside) =
                (region.inside(&self.finding, &left), region.inside(&self.other, &other_left));
            let held = self.other.count(&outside);
            let holds = !region.limits.is_empty() && wilson(held.hits, held.runs, CONFIDENCE).low > base;
            let caught = self.finding.count(&inside).hits as f64 / self.finding.hits.len() as f64;
            if !holds || (second && caught < SECOND_COVERAGE) {
                break;
            }
            let found = self.describe(&region, &left, &other_left, share, second, says);
            answer.boxes.push(found);
            left = left.less(&inside);
            other_left = other_left.less(&outside);
        }
        if answer.boxes.is_empty() {
            let Phrases { those, they } = says;
            answer.notes.push(format!(
                "No few conditions mark out the {those}: no box both catches many of them and has clearly more runs that {they}."
            ));
        }
    }

    fn trajectory(&self, found: &Found) -> Vec<TrajectoryPoint> {
        let whole = self.finding.all();
        let all = self.finding.count(&whole);
        let point = |region: &Region| {
            let count = self.finding.count(&region.inside(&self.finding, &whole));
            TrajectoryPoint {
                coverage: count.hits as f64 / all.hits as f64,
                density: count.density(),
                mass: count.runs as f64 / all.runs as f64,
                restricted: region.limits.len() as u32,
            }
        };
        found.path.par_iter().map(point).collect()
    }

    fn describe(
        &self,
        region: &Region,
        left: &Rows,
        other_left: &Rows,
        share: Share,
        second: bool,
        says: &Phrases,
    ) -> ConditionBox {
        let (inside, without) = region.counts(&self.finding, left);
        let (held, held_without) = region.counts(&self.other, other_left);
        let hits = self.other.hits.len();
        let restriction = |(j, limit): (usize, &Limit)| {
            let without_here = held_without.get(j).copied().unwrap_or_default();
            let p = without.get(j).map_or(1.0, |&without| quasi_p(inside, without));
            self.restriction(limit, p, without_here, hits)
        };
        let reach = |lot: &Lot, left: &Rows| reach(lot, &region.inside(lot, left));
        let [coverage, density] = reach(&self.finding, left);
        let [held_coverage, held_density] = reach(&self.other, other_left);
        let mut found = ConditionBox {
            restrictions: region.limits.iter().enumerate().filter_map(restriction).collect(),
            coverage,
            density,
            mass: inside.runs as f64 / self.finding.len() as f64,
            held_out: HeldOut {
                coverage: held_coverage,
                density: held_density,
                mass: held.runs as f64 / self.other.len() as f64,
                runs: held.runs,
                failures: held.hits,
            },
            words: String::new(),
            adds: Vec::new(),
            neighbours: self.neighbours(region),
        };
        found.words = words::of_box(&found, share, second, says);
        found.adds = words::of_adds(&found);
        found
    }

    fn restriction(&self, limit: &Limit, p: f64, without: Count, hits: u64) -> Option<Restriction> {
        let factor = self.factors.get(limit.factor)?;
        let (from, to, labels) = match &limit.kept {
            Kept::Between { from, to } => (from.map(Figure::of), to.map(Figure::of), None),
            Kept::Labels(kept) => {
                let names = factor.labels.iter().zip(kept).filter(|(_, kept)| **kept);
                (None, None, Some(names.map(|(label, _)| label.clone()).collect()))
            }
        };
        Some(Restriction {
            name: factor.name.clone(),
            label: factor.label.clone(),
            unit: factor.unit.clone(),
            from,
            to,
            labels,
            whole_values: self.sorts.get(limit.factor) != Some(&Sort::Values),
            quasi_p: p,
            adds: Adds {
                coverage_without: without.hits as f64 / hits as f64,
                density_without: (without.runs > 0).then(|| without.density()),
            },
        })
    }

    /// Factors whose ranks go with those of a restricted one. Lists of three and more labels have no order, hence no ranks.
    fn neighbours(&self, region: &Region) -> Vec<Neighbour> {
        let ordered = |factor: usize| !matches!(self.sorts.get(factor), Some(Sort::Labels(3..)));
        let restricted = region.limits.iter().map(|limit| limit.factor).filter(|&factor| ordered(factor));
        let pairs: Vec<(usize, usize)> = restricted
            .flat_map(|one| (0..self.factors.len()).map(move |other| (one, other)))
            // Two levels of one path go together: that is no news.
            .filter(|&(one, other)| self.factors[one].name != self.factors[other].name && ordered(other))
            .collect();
        let ranks: Vec<Vec<f64>> =
            (0..self.factors.len()).into_par_iter().map(|factor| self.ranks(factor)).collect();
        let correlation = |&(one, other): &(usize, usize)| {
            let rho = correlation(ranks.get(one)?, ranks.get(other)?)?;
            let (one, other) = (self.factors.get(one)?, self.factors.get(other)?);
            (rho.abs() > NEIGHBOUR).then(|| words::of_neighbour(one, other, rho))
        };
        pairs.par_iter().map(correlation).collect::<Vec<_>>().into_iter().flatten().collect()
    }

    /// Average ranks less their middle, from the order that is there already.
    fn ranks(&self, factor: usize) -> Vec<f64> {
        let mut ranks = vec![0.0; self.finding.len()];
        let (Some(order), Some(column)) = (self.orders.0.get(factor), self.finding.columns.get(factor))
        else {
            return ranks;
        };
        let middle = (ranks.len() + 1) as f64 / 2.0;
        let mut before = 0;
        for ties in order.chunk_by(|&a, &b| column[a as usize] == column[b as usize]) {
            let rank = before as f64 + (ties.len() + 1) as f64 / 2.0 - middle;
            for &row in ties {
                ranks[row as usize] = rank;
            }
            before += ties.len();
        }
        ranks
    }
}

/// The values of some runs.
fn taken(factor: &Factor, runs: &[usize]) -> Vec<f64> {
    runs.iter().map(|&run| factor.values.get(run).copied().unwrap_or(f64::NAN)).collect()
}

/// Coverage and density of some rows, with their intervals.
fn reach(lot: &Lot, rows: &Rows) -> [Share; 2] {
    let (inside, all) = (lot.count_parts(rows), lot.count_parts(&lot.all()));
    let coverage: Vec<(u64, u64)> =
        inside.iter().zip(&all).map(|(box_, all)| (box_.hits, all.hits)).collect();
    let density: Vec<(u64, u64)> = inside.iter().map(|count| (count.hits, count.runs)).collect();
    [share_of_parts(&coverage, CONFIDENCE), share_of_parts(&density, CONFIDENCE)]
}
