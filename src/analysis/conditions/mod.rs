//! Under which conditions a result fails: boxes of inputs in which most
//! failures lie and most runs fail (methods 12), found from the runs at hand.
//!
//! Half of the runs find a box by patient rule induction (Friedman, Fisher
//! 1999); the suggested one has the best smaller of coverage and density
//! among those with few conditions (Bryant, Lempert 2010, *Thinking inside
//! the box*). The other half says how good it is.

mod answers;
pub mod boxes;
pub mod lot;
pub mod peel;
mod rounding;
mod search;
mod words;

pub use answers::*;
pub use search::{Found, find};
pub use words::Phrases;
pub(crate) use words::plain;

use crate::analysis::Share;
use crate::analysis::factors::Factor;
use crate::analysis::statistics::intervals::{CONFIDENCE, share_of_parts, wilson};
use boxes::{Kept, Region, quasi_p};
use lot::{Count, Lot, Orders, Rows};
use peel::Sort;
use rayon::prelude::*;

/// Fewer runs to be looked for than this: no box.
const LEAST_HITS: u64 = 50;
/// A larger share than this: no box.
const MOST_HITS: f64 = 0.9;
/// A second box is worth telling from this coverage on.
const SECOND_COVERAGE: f64 = 0.1;
/// A factor without a value in a larger share of the runs is left out itself, not the runs.
const MOST_WITHOUT: f64 = 0.1;
/// Neighbours have a greater rank correlation than this.
const NEIGHBOUR: f64 = 0.3;

/// What to look for.
#[derive(Debug, Clone, PartialEq)]
pub struct Wish {
    /// Failures or successes; none: failures, unless more than 90 % of the runs fail.
    pub of: Option<Of>,
    /// Run r belongs to replicate r mod R of a stratified method; none for independent runs.
    pub replicates: Option<u32>,
    /// How failures are spoken of.
    pub failures: Phrases,
    /// How successes are spoken of.
    pub successes: Phrases,
}

impl Wish {
    /// Failures, or successes where most runs fail.
    pub fn new(replicates: Option<u32>) -> Self {
        Wish {
            of: None,
            replicates,
            failures: Phrases::new("failures", "fail"),
            successes: Phrases::new("successes", "succeed"),
        }
    }
}

/// The runs looked at, in two halves.
struct Halves<'a> {
    factors: Vec<&'a Factor>,
    sorts: Vec<Sort>,
    finding: Lot,
    other: Lot,
    orders: Orders,
}

/// Conditions under which runs fail. `fails` holds a run each: whether it fails, none for a run without a result; so do the
/// columns of `factors`. The same bytes for any number of threads.
pub fn conditions(fails: &[Option<bool>], factors: &[Factor], wish: &Wish) -> Conditions {
    let replicates = wish.replicates.filter(|&n| n >= 2).unwrap_or(1) as usize;
    let mut parts = vec![(0u64, 0u64); replicates];
    for (run, &fails) in fails.iter().enumerate() {
        if let (Some(fails), Some(part)) = (fails, parts.get_mut(run % replicates)) {
            *part = (part.0 + u64::from(fails), part.1 + 1);
        }
    }
    let (failures, runs) = parts.iter().fold((0, 0), |(a, b), (hits, n)| (a + hits, b + n));
    let many = |hits: u64| hits as f64 > MOST_HITS * runs as f64;
    let of = wish.of.unwrap_or(if many(failures) { Of::Successes } else { Of::Failures });
    let mut answer = Conditions {
        runs,
        failures,
        share_failing: share_of_parts(&parts, CONFIDENCE),
        of,
        boxes: Vec::new(),
        trajectory: Vec::new(),
        notes: Vec::new(),
    };
    let (says, hits) = match of {
        Of::Failures => (&wish.failures, failures),
        Of::Successes => (&wish.successes, runs - failures),
    };
    if wish.of.is_none() && of == Of::Successes {
        let they = &wish.successes.they;
        answer
            .notes
            .push(format!("Most runs {}: what is looked for is where they {they}.", wish.failures.they));
    }
    if hits < LEAST_HITS || many(hits) {
        answer.notes.push(no_box(hits, runs, says));
        return answer;
    }
    let halves = Halves::of(fails, factors, wish, of, &mut answer.notes);
    halves.fill(&mut answer, says);
    answer
}

/// Why there is no box.
fn no_box(hits: u64, runs: u64, says: &Phrases) -> String {
    let Phrases { those, they } = says;
    let all = plain(runs as f64);
    if hits < LEAST_HITS {
        let some = if hits == 0 { "None".into() } else { format!("Only {}", plain(hits as f64)) };
        return format!("{some} of {all} runs {they}: too few to say where, {LEAST_HITS} are needed.");
    }
    let share = 100 * hits / runs.max(1);
    format!("{share} % of {all} runs {they}: too many for the {those} to have conditions of their own.")
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

impl<'a> Halves<'a> {
    fn of(
        fails: &[Option<bool>],
        factors: &'a [Factor],
        wish: &Wish,
        of: Of,
        notes: &mut Vec<String>,
    ) -> Self {
        let with_result: Vec<usize> = (0..fails.len()).filter(|&run| fails[run].is_some()).collect();
        let lacks = |factor: &Factor, run: usize| factor.values.get(run).is_none_or(|x| x.is_nan());
        let most = MOST_WITHOUT * with_result.len() as f64;
        let lacking: Vec<usize> = factors
            .par_iter()
            .map(|factor| with_result.iter().filter(|&&run| lacks(factor, run)).count())
            .collect();
        let mut kept = Vec::new();
        for (factor, &n) in factors.iter().zip(&lacking) {
            if n as f64 > most {
                notes.push(format!(
                    "{} is left out: it has no value in {} runs.",
                    factor.label,
                    plain(n as f64)
                ));
            } else {
                kept.push((factor, n));
            }
        }
        let gaps: Vec<&Factor> = kept.iter().filter(|(_, n)| *n > 0).map(|(factor, _)| *factor).collect();
        let whole = |run: &usize| !gaps.iter().any(|factor| lacks(factor, *run));
        let (finding, other): (Vec<usize>, Vec<usize>) =
            with_result.iter().copied().filter(whole).partition(|&run| finds(run, wish.replicates));
        let out = with_result.len() - finding.len() - other.len();
        if out > 0 {
            notes.push(format!("{} runs are left out: an input has no value in them.", plain(out as f64)));
        }
        let factors: Vec<&Factor> = kept.into_iter().map(|(factor, _)| factor).collect();
        let hit = |run: usize| fails.get(run) == Some(&Some(of == Of::Failures));
        // Replicates 0, 2, 4.. find and 1, 3, 5.. do not: in either half they are counted from 0.
        let n = wish.replicates.filter(|&n| n >= 2).unwrap_or(1) as usize;
        let part = |run: usize| (run % n / 2) as u32;
        let finding = Lot::pick(&factors, &finding, hit, part);
        let other = Lot::pick(&factors, &other, hit, part);
        let orders = Orders::of(&finding);
        let sorts = factors.iter().map(|factor| Sort::of(factor)).collect();
        Halves { factors, sorts, finding, other, orders }
    }

    fn fill(&self, answer: &mut Conditions, says: &Phrases) {
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
                "No conditions were found in which clearly more of the runs {they}: the {those} are spread over all inputs."
            ));
        }
    }

    fn trajectory(&self, found: &Found) -> Vec<TrajectoryPoint> {
        let all = self.finding.count(&self.finding.all());
        let point = |region: &Region| {
            let count = self.finding.count(&region.inside(&self.finding, &self.finding.all()));
            TrajectoryPoint {
                coverage: count.hits as f64 / all.hits as f64,
                density: count.density(),
                mass: count.runs as f64 / all.runs as f64,
                restricted: region.limits.len() as u32,
            }
        };
        found.path.iter().map(point).collect()
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
        let restriction = |(j, limit): (usize, &boxes::Limit)| {
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
            neighbours: self.neighbours(region),
        };
        let discrete: Vec<bool> =
            region.limits.iter().map(|limit| self.sorts.get(limit.factor) != Some(&Sort::Values)).collect();
        found.words = words::of_box(&found, &discrete, share, second, says);
        found
    }

    fn restriction(&self, limit: &boxes::Limit, p: f64, without: Count, hits: u64) -> Option<Restriction> {
        let factor = self.factors.get(limit.factor)?;
        let (from, to, labels) = match &limit.kept {
            Kept::Between { from, to } => {
                (from.map(crate::analysis::Figure::of), to.map(crate::analysis::Figure::of), None)
            }
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
            .filter(|&(one, other)| one != other && ordered(other))
            .collect();
        let ranks: Vec<Vec<f64>> =
            (0..self.factors.len()).into_par_iter().map(|factor| self.ranks(factor)).collect();
        let correlation = |&(one, other): &(usize, usize)| {
            let rho = search::correlation(ranks.get(one)?, ranks.get(other)?)?;
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

/// Coverage and density of some rows, with their intervals.
fn reach(lot: &Lot, rows: &Rows) -> [Share; 2] {
    let (inside, all) = (lot.count_parts(rows), lot.count_parts(&lot.all()));
    let coverage: Vec<(u64, u64)> =
        inside.iter().zip(&all).map(|(box_, all)| (box_.hits, all.hits)).collect();
    let density: Vec<(u64, u64)> = inside.iter().map(|count| (count.hits, count.runs)).collect();
    [share_of_parts(&coverage, CONFIDENCE), share_of_parts(&density, CONFIDENCE)]
}
