//! Shapley effects: the variance shared out among inputs that may be
//! correlated. They are not below 0 but for noise, and sum to 1.
//!
//! With c(u) = E Var(Y | all but u) as the worth of a set u of players, player
//! i gets the mean of c(u + i) - c(u) over all orders in which players join
//! (Owen 2014, *Sobol' indices and Shapley value*; Song, Nelson, Staum 2016,
//! *Shapley effects for global sensitivity analysis*: this form of c, and
//! random orders where there are too many sets).
//!
//! Each row of the design gives one sample of every c(u): half the square of
//! f at the row less f with u drawn anew given the rest, which is the variance
//! of a pair of such draws. f at the row serves all sets, so that a sample
//! takes one run; three draws for each set would take three, with half the
//! variance only.

use std::collections::BTreeMap;
use std::ops::Range;

use schemars::JsonSchema;
use serde::Serialize;

use crate::analysis::indices::design::{ALIGNED, From, Matrices, Worker};
use crate::analysis::indices::spread::{Spread, spread};
use crate::analysis::indices::target::Target;
use crate::analysis::indices::units::{Group, Unit};
use crate::analysis::statistics::intervals::{CONFIDENCE, normal_z};
use crate::analysis::{AppraisalError, Estimate, Figure, Interval};
use crate::engine::run::Control;
use crate::sampling::Plan;
use crate::sampling::philox::{Key, Purpose, uniform_at};

/// Most players; further ones are pooled.
const MOST_PLAYERS: usize = 12;
/// Up to this many, every set of players is looked at.
const ALL_SETS_UP_TO: usize = 8;
/// Runs that the effects may take, about.
const RUNS: u64 = 1 << 20;
/// Rows that share a random order.
const ROWS_OF_ORDER: usize = ALIGNED;
/// Plans of draws given others that are kept; further ones are made when needed.
const PLANS_KEPT: usize = 256;

/// Shapley effects of a result.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Shapley {
    /// A row for each player, the largest effect first. What the result neither reads nor is correlated with is no player.
    pub rows: Vec<ShapleyRow>,
    /// Rows of the design.
    pub base_points: u64,
    /// Runs made for them.
    pub evaluations: u64,
    /// Whether every set of players was looked at; else random orders.
    pub all_sets: bool,
    /// How the intervals were made.
    pub interval: Interval,
}

/// The effect of one input or path, or of all that are pooled.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ShapleyRow {
    /// Names of its inputs and paths: one, unless pooled.
    pub names: Vec<String>,
    /// Plain name.
    pub label: String,
    /// Its share of the variance.
    pub effect: Estimate,
    /// First order with all correlations kept: Var E(Y | it) / Var Y.
    pub first: Estimate,
    /// What is left when all others are known: E Var(Y | all others) / Var Y. Near 0 beside a large first order: it acts
    /// only through what it is correlated with.
    pub left: Estimate,
    /// Correlated with another player.
    pub linked: bool,
    /// A single path.
    pub is_path: bool,
}

/// A player.
#[derive(Debug, Clone)]
pub(super) struct Player {
    names: Vec<String>,
    label: String,
    sources: Vec<usize>,
    lives: bool,
    linked: bool,
    is_path: bool,
}

/// Units as players, those without effect left out; of more than twelve the eleven whose groups have the largest totals,
/// the others pooled into one.
pub(super) fn players(units: &[Unit], groups: &[Group], totals: &[f64]) -> Vec<Player> {
    let mut all: Vec<(f64, Player)> = Vec::new();
    for (group, total) in groups.iter().zip(totals) {
        if group.units.iter().any(|&u| units[u].read) {
            let linked = group.units.len() > 1;
            all.extend(group.units.iter().map(|&u| (*total, player(&units[u], linked))));
        }
    }
    if all.len() <= MOST_PLAYERS {
        return all.into_iter().map(|(_, player)| player).collect();
    }
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    let rest = all.split_off(MOST_PLAYERS - 1);
    let mut players: Vec<Player> = all.into_iter().map(|(_, player)| player).collect();
    let pooled = rest.into_iter().map(|(_, player)| player).reduce(|mut pool, other| {
        pool.names.extend(other.names);
        pool.sources.extend(other.sources);
        pool.lives |= other.lives;
        pool.linked |= other.linked;
        pool
    });
    players.extend(pooled.map(|pool| Player { label: "All others".to_owned(), is_path: false, ..pool }));
    players
}

fn player(unit: &Unit, linked: bool) -> Player {
    Player {
        names: vec![unit.name.clone()],
        label: unit.label.clone(),
        sources: unit.sources.clone(),
        lives: unit.lives,
        linked,
        is_path: unit.is_path,
    }
}

/// The effects of `players`; none if the result does not vary.
///
/// # Errors
/// When stopped, and when no input can be drawn given others.
pub(super) fn shapley(
    matrices: &Matrices<'_>,
    players: Vec<Player>,
    target: &Target,
    how: Spread,
    control: &Control,
) -> Result<Option<Shapley>, AppraisalError> {
    let d = players.len();
    let all_sets = d <= ALL_SETS_UP_TO;
    let sets_of_row = if all_sets { (1_u64 << d) - 1 } else { 3 * d as u64 };
    let rows = rows(matrices.rows, sets_of_row);
    let game = Game::new(matrices, players, target, rows, all_sets)?;
    let sampled = game.sample(control)?;
    let found = if all_sets { sampled.estimates(d, how) } else { sampled.estimates_by_order(d) };
    if found.is_empty() {
        return Ok(None);
    }
    let interval = found.first().map_or(Interval::None, |effect| effect.interval);
    let mut rows_of: Vec<ShapleyRow> = game
        .players
        .into_iter()
        .enumerate()
        .map(|(i, player)| ShapleyRow {
            names: player.names,
            label: player.label,
            effect: found[i].clone(),
            left: found[d + i].clone(),
            first: found[2 * d + i].clone(),
            linked: player.linked,
            is_path: player.is_path,
        })
        .collect();
    let effect = |row: &ShapleyRow| row.effect.value.number().unwrap_or(0.0);
    rows_of.sort_by(|a, b| effect(b).total_cmp(&effect(a)));
    Ok(Some(Shapley { rows: rows_of, base_points: rows, evaluations: sampled.runs, all_sets, interval }))
}

/// Rows that the effects are made from: a power of two times 8, so that the replicates of a sequence stay whole.
fn rows(base_points: u64, sets: u64) -> u64 {
    let affordable = (RUNS / (sets + 1) / 8).max(128);
    let power = 1_u64 << affordable.ilog2();
    base_points.min(8 * power)
}

/// The sets of players for which a run is made, and what each does to each player's effect.
struct Sets {
    /// Players as bits.
    sets: Vec<u16>,
    /// For each set, the weight of its variance in each player's effect.
    weights: Vec<Vec<f64>>,
}

impl Sets {
    /// All sets: player i gets w(|u|) (c(u + i) - c(u)) for each u without it, w(s) = s! (d - 1 - s)! / d!.
    fn all(d: usize) -> Sets {
        let sets: Vec<u16> = (1..1_u16 << d).collect();
        let weight = |set: u16, i: usize| {
            let size = set.count_ones() as usize;
            if set >> i & 1 == 1 { share(d, size - 1) } else { -share(d, size) }
        };
        let weights = sets.iter().map(|&set| (0..d).map(|i| weight(set, i)).collect()).collect();
        Sets { sets, weights }
    }

    /// The sets met when players join in `order`; then each player alone, and all but each.
    fn by_order(order: &[usize]) -> Sets {
        let d = order.len();
        let full = ((1_u32 << d) - 1) as u16;
        let mut made = Sets { sets: Vec::new(), weights: Vec::new() };
        let mut joined = 0_u16;
        for (k, &i) in order.iter().enumerate() {
            joined |= 1 << i;
            let mut weights = vec![0.0; d];
            weights[i] = 1.0;
            if let Some(&next) = order.get(k + 1) {
                weights[next] = -1.0;
            }
            made.sets.push(joined);
            made.weights.push(weights);
        }
        for set in (0..d).flat_map(|i| [1 << i, full ^ 1 << i]) {
            if !made.sets.contains(&set) {
                made.sets.push(set);
                made.weights.push(vec![0.0; d]);
            }
        }
        made
    }
}

/// s! (d - 1 - s)! / d!
fn share(d: usize, s: usize) -> f64 {
    // 1 / (d C(d-1, s))
    let choose = (0..s).fold(1.0, |c, k| c * (d - 1 - k) as f64 / (k + 1) as f64);
    1.0 / (d as f64 * choose)
}

struct Game<'a> {
    matrices: &'a Matrices<'a>,
    players: Vec<Player>,
    target: &'a Target,
    rows: u64,
    all: Option<Sets>,
    /// Players correlated with others, as bits.
    linked: u16,
    /// Plans in which some of the linked players are drawn given the others.
    plans: BTreeMap<u16, Plan>,
}

impl<'a> Game<'a> {
    fn new(
        matrices: &'a Matrices<'a>,
        players: Vec<Player>,
        target: &'a Target,
        rows: u64,
        all_sets: bool,
    ) -> Result<Self, AppraisalError> {
        let bits = players.iter().enumerate().filter(|(_, player)| player.linked);
        let linked = bits.fold(0_u16, |bits, (i, _)| bits | 1 << i);
        let all = all_sets.then(|| Sets::all(players.len()));
        let mut game = Game { matrices, players, target, rows, all, linked, plans: BTreeMap::new() };
        // Subsets of the linked bits, each once.
        let mut given = linked & linked.wrapping_sub(1);
        while given > 0 && game.plans.len() < PLANS_KEPT {
            let plan = game.plan(given)?;
            game.plans.insert(given, plan);
            given = given.wrapping_sub(1) & linked;
        }
        Ok(game)
    }

    /// The draws in which the players of `set` come anew given the others.
    fn plan(&self, set: u16) -> Result<Plan, AppraisalError> {
        let mut fresh = vec![false; self.matrices.first.sources()];
        self.members(set).flat_map(|player| &player.sources).for_each(|&source| fresh[source] = true);
        let made = self.matrices.first.redrawn_from(self.matrices.second, &fresh);
        made.map_err(AppraisalError::Plan)
    }

    fn members(&self, set: u16) -> impl Iterator<Item = &Player> {
        self.players.iter().enumerate().filter(move |(i, _)| set >> i & 1 == 1).map(|(_, player)| player)
    }

    /// Samples of all rows.
    fn sample(&self, control: &Control) -> Result<Sampled, AppraisalError> {
        let blocks = self.matrices.by_block(self.matrices.program, self.rows, control, |worker, runs| {
            let step = if self.all.is_some() { runs.n } else { ROWS_OF_ORDER };
            let mut made = Sampled::default();
            let mut at = 0;
            while at < runs.n {
                let part = at..runs.n.min(at + step);
                at = part.end;
                let order = (runs.first + part.start as u64) / ROWS_OF_ORDER as u64;
                let own;
                let sets = match &self.all {
                    Some(all) => all,
                    None => {
                        own = Sets::by_order(&random_order(
                            self.matrices.first.design().seed,
                            order,
                            self.players.len(),
                        ));
                        &own
                    }
                };
                self.part(worker, sets, part, &mut made)?;
            }
            control.done.fetch_add(made.runs, std::sync::atomic::Ordering::Relaxed);
            Ok::<_, AppraisalError>(made)
        })?;
        let mut all = Sampled::default();
        for block in blocks {
            all.rows.extend(block.rows);
            all.runs += block.runs;
        }
        Ok(all)
    }

    /// Samples of a part of a block.
    fn part(
        &self,
        worker: &mut Worker<'_>,
        sets: &Sets,
        part: Range<usize>,
        made: &mut Sampled,
    ) -> Result<(), AppraisalError> {
        let (n, d) = (part.len(), self.players.len());
        let n_sources = self.matrices.first.sources();
        let mut at_row = vec![0.0; n];
        worker.evaluate(&vec![From::First; n_sources], false, 0, part.clone(), &mut at_row);
        at_row.iter_mut().for_each(|x| *x = self.target.value(*x));
        let width = 3 * d + 1;
        let mut rows = vec![0.0; n * width];
        let full = ((1_u32 << d) - 1) as u16;
        let mut other = vec![0.0; n];
        for (&set, weights) in sets.sets.iter().zip(&sets.weights) {
            self.redrawn(worker, set, part.clone(), &mut other)?;
            for ((row, x), y) in rows.chunks_exact_mut(width).zip(&at_row).zip(&other) {
                let change = self.target.value(*y) - x;
                let half = 0.5 * change * change;
                row.iter_mut().zip(weights).for_each(|(sum, weight)| *sum += weight * half);
                if set.is_power_of_two() {
                    row[d + set.trailing_zeros() as usize] = half;
                }
                if (full ^ set).is_power_of_two() {
                    row[2 * d + (full ^ set).trailing_zeros() as usize] = half;
                }
                if set == full {
                    row[3 * d] = half;
                }
            }
        }
        made.rows.extend(rows.chunks_exact(width).map(<[f64]>::to_vec));
        made.runs += (n * (sets.sets.len() + 1)) as u64;
        Ok(())
    }

    /// The result with the players of `set` drawn anew given the others.
    fn redrawn(
        &self,
        worker: &mut Worker<'_>,
        set: u16,
        part: Range<usize>,
        out: &mut [f64],
    ) -> Result<(), AppraisalError> {
        let given = set & self.linked;
        // If all that is linked comes anew, nothing of it is given.
        let whole = given == self.linked;
        let mut from = vec![From::First; self.matrices.first.sources()];
        for player in self.members(set) {
            let where_from = if player.linked && !whole { From::Given } else { From::Second };
            player.sources.iter().for_each(|&source| from[source] = where_from);
        }
        if given != 0 && !whole {
            match self.plans.get(&given) {
                Some(plan) => worker.draw_given(plan, &from, part.clone()),
                None => worker.draw_given(&self.plan(given)?, &from, part.clone()),
            }
        }
        worker.evaluate(&from, self.members(set).any(|player| player.lives), 0, part, out);
        Ok(())
    }
}

/// A random order of `d` players (Fisher, Yates).
fn random_order(seed: u64, number: u64, d: usize) -> Vec<usize> {
    let key = Key::new(seed, "order of players", Purpose::Bootstrap, 0);
    let mut order: Vec<usize> = (0..d).collect();
    for k in (1..d).rev() {
        let u = uniform_at(key, k as u32, number);
        order.swap(k, ((u * (k + 1) as f64) as usize).min(k));
    }
    order
}

/// For each row: samples of the effects, of c of each alone, of c of all but each, of the whole variance.
#[derive(Default)]
struct Sampled {
    rows: Vec<Vec<f64>>,
    runs: u64,
}

impl Sampled {
    /// Effects, what is left, first orders: as ratios of sums, with intervals by rows.
    fn estimates(&self, d: usize, how: Spread) -> Vec<Estimate> {
        let good: Vec<u64> = (0..self.rows.len())
            .filter(|&r| self.rows[r].iter().all(|x| x.is_finite()))
            .map(|r| r as u64)
            .collect();
        let figures = |weights: &[f64]| {
            let mut sums = vec![0.0; 3 * d + 1];
            for (&r, &weight) in good.iter().zip(weights).filter(|(_, weight)| **weight != 0.0) {
                sums.iter_mut().zip(&self.rows[r as usize]).for_each(|(sum, x)| *sum += weight * x);
            }
            ratios(&sums, d)
        };
        if figures(&vec![1.0; good.len()]).iter().any(|x| !x.is_finite()) {
            return Vec::new();
        }
        spread(&good, how, &figures)
    }

    /// The same where rows share random orders: with the standard error of a ratio of sums over the orders. Under a
    /// stratified method that errs on the safe side.
    fn estimates_by_order(&self, d: usize) -> Vec<Estimate> {
        let sum_of = |rows: &[Vec<f64>]| {
            let mut sums = vec![0.0; 3 * d + 1];
            for row in rows.iter().filter(|row| row.iter().all(|x| x.is_finite())) {
                sums.iter_mut().zip(row).for_each(|(sum, x)| *sum += x);
            }
            sums
        };
        let orders: Vec<Vec<f64>> = self.rows.chunks(ROWS_OF_ORDER).map(sum_of).collect();
        let mut all = vec![0.0; 3 * d + 1];
        orders.iter().for_each(|order| all.iter_mut().zip(order).for_each(|(sum, x)| *sum += x));
        let (values, whole, m) = (ratios(&all, d), all[3 * d], orders.len() as f64);
        if values.iter().any(|x| !x.is_finite()) {
            return Vec::new();
        }
        let z = normal_z(CONFIDENCE);
        let estimate = |(k, &value): (usize, &f64)| {
            // A first order is 1 less a ratio.
            let ratio = all[k] / whole;
            let square =
                |order: &Vec<f64>| (order[k] - ratio * order[3 * d]) * (order[k] - ratio * order[3 * d]);
            let squares: f64 = orders.iter().map(square).sum();
            let half = z * (squares * m / (m - 1.0)).sqrt() / whole;
            if !half.is_finite() {
                return Estimate::alone(Figure::of(value));
            }
            let (low, high) = (Some(Figure::of(value - half)), Some(Figure::of(value + half)));
            Estimate { value: Figure::of(value), low, high, interval: Interval::StandardError }
        };
        values.iter().enumerate().map(estimate).collect()
    }
}

/// Effects, what is left, first orders from sums over rows.
fn ratios(sums: &[f64], d: usize) -> Vec<f64> {
    let whole = sums[3 * d];
    let ratio = |x: &f64| x / whole;
    sums[..2 * d].iter().map(ratio).chain(sums[2 * d..3 * d].iter().map(|x| 1.0 - x / whole)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Any game: Shapley values from the weights of all sets are those of the definition by all orders.
    #[test]
    fn weights_of_all_sets_are_the_mean_over_all_orders() {
        let d = 4;
        let worth = |set: u16| f64::from(set) * 0.7 + f64::from(set.count_ones()).sqrt() + f64::from(set % 3);
        let worth = |set: u16| if set == 0 { 0.0 } else { worth(set) };
        let all = Sets::all(d);
        let mut by_sets = vec![0.0; d];
        for (&set, weights) in all.sets.iter().zip(&all.weights) {
            by_sets.iter_mut().zip(weights).for_each(|(sum, w)| *sum += w * worth(set));
        }
        let mut orders = vec![vec![]];
        for _ in 0..d {
            orders = orders
                .into_iter()
                .flat_map(|order: Vec<usize>| {
                    let free = (0..d).filter(|i| !order.contains(i)).collect::<Vec<_>>();
                    free.into_iter().map(move |i| [order.clone(), vec![i]].concat())
                })
                .collect();
        }
        let mut by_orders = vec![0.0; d];
        for order in &orders {
            let made = Sets::by_order(order);
            for (&set, weights) in made.sets.iter().zip(&made.weights) {
                by_orders.iter_mut().zip(weights).for_each(|(sum, w)| *sum += w * worth(set) / 24.0);
            }
        }
        let mut defined = vec![0.0; d];
        for order in &orders {
            let mut before = 0_u16;
            for &i in order {
                defined[i] += (worth(before | 1 << i) - worth(before)) / 24.0;
                before |= 1 << i;
            }
        }
        for (k, value) in defined.iter().enumerate() {
            assert!((by_sets[k] - value).abs() < 1e-12 && (by_orders[k] - value).abs() < 1e-12, "{k}");
        }
    }

    #[test]
    fn orders_are_orders() {
        let mut first = [0; 12];
        for k in 0..1200 {
            let mut order = random_order(3, k, 12);
            first[order[0]] += 1;
            order.sort_unstable();
            assert_eq!(order, (0..12).collect::<Vec<_>>());
        }
        // 100 each, standard deviation 9.6: five of them.
        assert!(first.iter().all(|n| (52..=148).contains(n)), "{first:?}");
    }
}
