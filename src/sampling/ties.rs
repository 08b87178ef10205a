//! Exact strata with links: Iman, Conover 1982, *A distribution-free approach
//! to inducing rank correlation among input variables*.
//!
//! The strata of the members of a group, each in the order of its own
//! hypercube, are rearranged so that their normal scores correlate as asked:
//! with M the scores Phi^-1(i/(n+1)) by run, E = corr(M) = Q Q' and C = P P',
//! each member takes the ranks of its column of M (Q')^-1 P'. C holds 2
//! sin(pi rank/6), not the rank itself. The rearrangement needs the whole
//! replicate at once: it is made when first drawn from, and kept.

use std::sync::{Arc, OnceLock};

use super::design::Method;
use super::fault::cholesky;
use super::hypercube::Permutation;
use super::maths::{Vectors, normal_quantile};
use super::philox::{Key, mix};
use super::plan::{Plan, PlanError};

/// Most runs: above this they are streamed, and never all in memory.
const MOST_RUNS: u64 = 1 << 22;
/// Most runs times linked columns, 4 bytes each.
const MOST_PLACES: u64 = 1 << 26;

/// Linked members of one year (or of none): the place of each run's stratum.
#[derive(Debug)]
pub(crate) struct Tie {
    /// Keys of the strata: of each replicate, of each member.
    keys: Vec<Vec<Key>>,
    lower: Vec<Vec<f64>>,
    n: u64,
    strata: Vec<OnceLock<Vec<Vec<u32>>>>,
}

impl Tie {
    fn new(keys: Vec<Vec<Key>>, lower: Vec<Vec<f64>>, n: u64) -> Tie {
        let strata = keys.iter().map(|_| OnceLock::new()).collect();
        Tie { keys, lower, n, strata }
    }

    /// Strata of member `place` in a replicate, from index `first` on, in hypercube `epoch`: past
    /// the first, the same strata come to the runs in another order.
    pub(crate) fn fill(&self, replicate: usize, place: usize, epoch: u64, first: u64, out: &mut [u64]) {
        let Some((keys, strata)) = self.keys.get(replicate).zip(self.strata.get(replicate)) else { return };
        let members = strata.get_or_init(|| rearranged(keys, &self.lower, self.n));
        let Some(column) = members.get(place) else { return };
        let order = keys.first().filter(|_| epoch > 0);
        let order = order.map(|key| Permutation::new(Key(mix(key.0 ^ epoch)), self.n));
        for (index, o) in (first..).zip(out) {
            let at = order.map_or(index, |order| order.at(index));
            *o = column.get(at as usize).map_or(0, |s| u64::from(*s));
        }
    }
}

/// Ties of the second matrix of a variance design, one for each of the first.
#[derive(Debug, Default)]
pub(crate) struct SecondTies(Vec<(Arc<Tie>, Arc<Tie>)>);

impl SecondTies {
    /// The tie that goes with `first`: the same correlations, keys of its own.
    pub(crate) fn of(&mut self, first: &Arc<Tie>) -> Arc<Tie> {
        if let Some((_, made)) = self.0.iter().find(|(known, _)| Arc::ptr_eq(known, first)) {
            return Arc::clone(made);
        }
        let own = |keys: &Vec<Key>| keys.iter().map(|key| key.part(u32::MAX)).collect();
        let keys = first.keys.iter().map(own).collect();
        let made = Arc::new(Tie::new(keys, first.lower.clone(), first.n));
        self.0.push((Arc::clone(first), Arc::clone(&made)));
        made
    }
}

/// Each member's strata by run of a replicate.
fn rearranged(keys: &[Key], lower: &[Vec<f64>], n: u64) -> Vec<Vec<u32>> {
    let score = |stratum: u64| {
        let below = (stratum + 1) as f64 / (n + 1) as f64;
        normal_quantile(below, (n - stratum) as f64 / (n + 1) as f64)
    };
    let scores: Vec<f64> = (0..n).map(score).collect();
    let mut own = vec![0_u64; n as usize];
    let columns: Vec<Vec<f64>> = keys
        .iter()
        .map(|key| {
            Permutation::new(*key, n).fill(Vectors::Widest, 0, &mut own);
            own.iter().map(|&s| scores[s as usize]).collect()
        })
        .collect();
    // Scores are symmetric about 0, so products need no means.
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let size = product(&scores, &scores);
    let reached: Vec<Vec<f64>> = columns
        .iter()
        .enumerate()
        .map(|(i, a)| {
            let entry = |(j, b): (usize, &Vec<f64>)| if i == j { 1.0 } else { product(a, b) / size };
            columns.iter().enumerate().map(entry).collect()
        })
        .collect();
    let weights = weights(lower, &cholesky(&reached).unwrap_or_else(|| unit(keys.len())));
    weights
        .iter()
        .map(|row| {
            let mut mixed = vec![0.0; n as usize];
            row.iter().zip(&columns).for_each(|(w, from)| Vectors::Widest.add_scaled(*w, from, &mut mixed));
            ranks(&mixed)
        })
        .collect()
}

fn unit(n: usize) -> Vec<Vec<f64>> {
    (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect()
}

/// P Q^-1, both lower.
fn weights(p: &[Vec<f64>], q: &[Vec<f64>]) -> Vec<Vec<f64>> {
    p.iter().enumerate().map(|(i, row)| solved_from_right(&row[..=i], q)).collect()
}

/// w with w Q = `row`, Q the lower matrix `q` down to the row's length: from the right. A pivot of 0 belongs to a
/// member that those before it determine, and needs none of its own.
pub(crate) fn solved_from_right(row: &[f64], q: &[Vec<f64>]) -> Vec<f64> {
    let n = row.len();
    let mut w = vec![0.0; n];
    for j in (0..n).rev() {
        let rest: f64 = (j + 1..n).map(|k| w[k] * q[k][j]).sum();
        w[j] = if q[j][j] > 0.0 { (row[j] - rest) / q[j][j] } else { 0.0 };
    }
    w
}

/// Rank of each value from 0; of equal ones the earlier is lower.
fn ranks(values: &[f64]) -> Vec<u32> {
    let mut order: Vec<(f64, u32)> = values.iter().copied().zip(0..).collect();
    order.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut ranks = vec![0; values.len()];
    for (rank, (_, at)) in (0..).zip(&order) {
        ranks[*at as usize] = rank;
    }
    ranks
}

/// Puts ties in the place of the plan's groups.
pub(crate) fn tie(plan: &mut Plan) -> Result<(), PlanError> {
    check(plan)?;
    let n = plan.design.runs_per_replicate();
    let replicates = plan.design.replicates as usize;
    for group in std::mem::take(&mut plan.scalar_groups) {
        let keys = |r| group.members.iter().map(|&m| plan.scalars[m].component.strata_key(r, 0)).collect();
        let tie = Arc::new(Tie::new((0..replicates).map(keys).collect(), group.lower, n));
        for (place, &member) in group.members.iter().enumerate() {
            let scalar = &mut plan.scalars[member];
            scalar.group = None;
            scalar.component.tie(0, Arc::clone(&tie), place);
        }
        plan.tied += group.members.len();
    }
    for group in std::mem::take(&mut plan.shock_groups) {
        let years = group.members.iter().map(|&m| plan.paths[m].years()).max().unwrap_or(0);
        for year in 0..years {
            let rows = if year == 0 { &group.in_start_year } else { &group.lower };
            tie_year(plan, &group.members, rows, year);
        }
    }
    Ok(())
}

/// Ties the shocks of one year of those paths that have a row in the factor.
fn tie_year(plan: &mut Plan, members: &[usize], rows: &[Vec<f64>], year: usize) {
    let part = |plan: &Plan, member: usize| {
        let from_start = plan.paths[member].deviations.from_start;
        let part = if from_start { Some(year) } else { year.checked_sub(1) };
        part.map(|part| part as u32)
    };
    let own: Vec<(usize, usize, u32)> = members
        .iter()
        .enumerate()
        .filter(|(place, _)| rows.get(*place).is_some_and(|row| !row.is_empty()))
        .filter_map(|(place, &member)| Some((place, member, part(plan, member)?)))
        .collect();
    if own.len() < 2 {
        return;
    }
    let lower = own.iter().map(|(place, ..)| own.iter().map(|(other, ..)| rows[*place][*other]).collect());
    let key = |plan: &Plan, member: usize, r: usize, part: u32| {
        plan.paths[member].shock.as_ref().map_or(Key(0), |shock| shock.strata_key(r, part))
    };
    let keys = (0..plan.design.replicates as usize)
        .map(|r| own.iter().map(|&(_, member, part)| key(plan, member, r, part)).collect());
    let tie = Arc::new(Tie::new(keys.collect(), lower.collect(), plan.design.runs_per_replicate()));
    for (place, (_, member, part)) in own.iter().enumerate() {
        if let Some(shock) = &mut plan.paths[*member].shock {
            shock.tie(*part, Arc::clone(&tie), place);
        }
    }
    plan.tied += own.len();
}

/// Whether there are strata, and neither too many runs to be rearranged nor too few.
fn check(plan: &Plan) -> Result<(), PlanError> {
    if plan.scalar_groups.is_empty() && plan.shock_groups.is_empty() {
        return Ok(());
    }
    let design = &plan.design;
    if design.method != Method::LatinHypercube {
        let message = "the linking \"iman-conover\" rearranges strata, which only a Latin hypercube has";
        let hint = "add method = \"latin hypercube\", or leave the linking out";
        return Err(PlanError::new(&[], message, hint));
    }
    let shocks = |m: &usize| plan.paths[*m].years() as u64;
    let columns = plan.scalar_groups.iter().map(|g| g.members.len() as u64).sum::<u64>()
        + plan.shock_groups.iter().flat_map(|g| g.members.iter().map(shocks)).sum::<u64>();
    let runs = design.runs;
    let most = MOST_RUNS.min(MOST_PLACES / columns.max(1));
    if runs > most {
        let message = format!(
            "the linking \"iman-conover\" needs all runs in memory at once: {runs} runs of {columns} linked columns are too many"
        );
        let hint = format!(
            "at most {most} runs here; or leave the linking out: the Gaussian copula links run by run"
        );
        return Err(PlanError::new(&[], message, hint));
    }
    let groups = plan.scalar_groups.iter().chain(&plan.shock_groups);
    let largest = groups.map(|g| g.members.len() as u64).max().unwrap_or(0);
    let least = 10.max(3 * largest);
    if design.runs_per_replicate() < least {
        let message = format!(
            "the linking \"iman-conover\" needs {least} runs in a replicate to rearrange {largest} linked columns; there are {}",
            design.runs_per_replicate()
        );
        let hint = format!("make at least {} runs", least * u64::from(design.replicates));
        return Err(PlanError::new(&[], message, hint));
    }
    Ok(())
}
