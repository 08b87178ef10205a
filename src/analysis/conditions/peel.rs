//! Patient rule induction (Friedman, Fisher 1999, *Bump hunting in
//! high-dimensional data*): from all runs, slice after slice is peeled off,
//! each time the one that raises the density most for each run removed; then
//! slices are pasted back as long as the density does not fall.

use super::boxes::{Kept, Masks, Region};
use super::lot::{Count, Lot, Orders, Rows};
use crate::analysis::factors::Factor;
use rayon::prelude::*;

/// Share of the box that a peel takes away, at least.
pub const PEEL: f64 = 0.05;
/// Share of the box that a paste gives back.
pub const PASTE: f64 = 0.01;
/// Share of the runs that a box must keep.
pub const LEAST_MASS: f64 = 0.05;

/// Factors looked at in one go by a thread: fewer are not worth handing out.
const FACTORS_A_TASK: usize = 8;

/// How the values of a factor may be peeled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sort {
    /// Slices of values from either end.
    Values,
    /// Whole values from either end.
    Classes,
    /// Any label of a list of so many.
    Labels(usize),
}

impl Sort {
    /// How a factor may be peeled.
    pub fn of(factor: &Factor) -> Self {
        match factor.labels.len() {
            0 if factor.discrete => Sort::Classes,
            0 => Sort::Values,
            n => Sort::Labels(n),
        }
    }
}

/// A slice that may be taken off.
struct Slice {
    factor: usize,
    takes: Count,
    kept: Kept,
}

/// What is left of the runs, and each factor's rows by rising value: those outside the box may still be among them.
struct Peeling<'a> {
    lot: &'a Lot,
    sorts: &'a [Sort],
    lists: Vec<Vec<u32>>,
    /// For each row: whether it is in the box, and whether it is a hit.
    rows: Vec<(bool, bool)>,
    now: Count,
    region: Region,
}

/// The path of boxes, the whole first, each a peel smaller than the one before; it ends where a peel would leave fewer than
/// [`LEAST_MASS`] of the rows of `left`, or where every run is a hit. Ties go to the first factor, low side first.
pub fn peel(lot: &Lot, orders: &Orders, left: &Rows, sorts: &[Sort]) -> Vec<Region> {
    let now = lot.count(left);
    let least = (LEAST_MASS * now.runs as f64).ceil() as u64;
    let mut state = Peeling {
        lot,
        sorts,
        lists: orders.0.clone(),
        rows: (0..lot.len()).map(|row| (left.has(row), lot.hits.has(row))).collect(),
        now,
        region: Region::default(),
    };
    state.tidy();
    let mut path = vec![state.region.clone()];
    while state.now.hits < state.now.runs {
        let Some(slice) = state.best(least) else { break };
        state.take(slice);
        path.push(state.region.clone());
    }
    path
}

impl Peeling<'_> {
    fn best(&self, least: u64) -> Option<Slice> {
        let gains: Vec<Option<(f64, Slice)>> = (0..self.lists.len())
            .into_par_iter()
            .with_min_len(FACTORS_A_TASK)
            .map(|factor| {
                let enough = |slice: &Slice| self.now.runs - slice.takes.runs >= least;
                let gained = |slice: Slice| (gain(self.now, slice.takes), slice);
                first_of_most(self.slices(factor).into_iter().filter(enough).map(gained))
            })
            .collect();
        first_of_most(gains.into_iter().flatten()).map(|(_, slice)| slice)
    }

    fn slices(&self, factor: usize) -> Vec<Slice> {
        let share = (PEEL * self.now.runs as f64) as u64;
        let few = match self.sorts.get(factor) {
            Some(Sort::Labels(n)) => return self.labels(factor, *n),
            Some(Sort::Classes) => 0,
            _ => share.max(1),
        };
        let Some(list) = self.lists.get(factor) else { return Vec::new() };
        let (from, to) = match self.region.kept(factor) {
            Some(Kept::Between { from, to }) => (*from, *to),
            _ => (None, None),
        };
        let low = self.end(factor, list.iter(), few).map(|(takes, first)| Slice {
            factor,
            takes,
            kept: Kept::Between { from: Some(first), to },
        });
        let high = self.end(factor, list.iter().rev(), few).map(|(takes, last)| Slice {
            factor,
            takes,
            kept: Kept::Between { from, to: Some(last) },
        });
        low.into_iter().chain(high).collect()
    }

    /// From one end: what a slice of at most `few` runs takes, and the first value it leaves. Equal values stay together;
    /// where more than `few` are equal at the end, all of these go. None when all values are equal.
    fn end<'r>(&self, factor: usize, rows: impl Iterator<Item = &'r u32>, few: u64) -> Option<(Count, f64)> {
        let column = self.lot.columns.get(factor)?;
        let mut taken = Count::default();
        let mut found = None;
        let mut before = None;
        for &row in rows {
            let row = row as usize;
            let (inside, hit) = self.rows[row];
            if !inside {
                continue;
            }
            let x = column[row];
            if before.is_some_and(|before| before != x) {
                if taken.runs <= few || found.is_none() {
                    found = Some((taken, x));
                }
                if taken.runs >= few {
                    return found;
                }
            } else if taken.runs > few && found.is_some() {
                return found;
            }
            before = Some(x);
            taken.runs += 1;
            taken.hits += u64::from(hit);
        }
        found
    }

    /// Each label that is still there, unless it is the only one.
    fn labels(&self, factor: usize, n: usize) -> Vec<Slice> {
        let column = self.lot.columns.get(factor).map_or(&[][..], Vec::as_slice);
        let mut counts = vec![Count::default(); n];
        for &row in self.lists.get(factor).map_or(&[][..], Vec::as_slice) {
            let row = row as usize;
            let (inside, hit) = self.rows[row];
            if inside && let Some(count) = counts.get_mut(column[row] as usize) {
                count.runs += 1;
                count.hits += u64::from(hit);
            }
        }
        let kept = match self.region.kept(factor) {
            Some(Kept::Labels(kept)) => kept.clone(),
            _ => vec![true; n],
        };
        let there = |count: &Count| count.runs > 0 && count.runs < self.now.runs;
        let slice = |(label, &takes): (usize, &Count)| {
            let mut kept = kept.clone();
            kept[label] = false;
            Slice { factor, takes, kept: Kept::Labels(kept) }
        };
        counts.iter().enumerate().filter(|(_, count)| there(count)).map(slice).collect()
    }

    fn take(&mut self, slice: Slice) {
        if let (Some(list), Some(column)) = (self.lists.get(slice.factor), self.lot.columns.get(slice.factor))
        {
            for &row in list {
                let row = row as usize;
                self.rows[row].0 &= slice.kept.has(column[row]);
            }
        }
        self.now.runs -= slice.takes.runs;
        self.now.hits -= slice.takes.hits;
        self.region.set(slice.factor, slice.kept);
        let length = self.lists.first().map_or(0, Vec::len) as u64;
        if 3 * length > 4 * self.now.runs {
            self.tidy();
        }
    }

    /// Rows outside the box leave the lists, so that an end is found without a long walk.
    fn tidy(&mut self) {
        let rows = &self.rows;
        self.lists.par_iter_mut().for_each(|list| {
            // As retain does, without a branch that no processor can foresee.
            let mut kept = 0;
            for at in 0..list.len() {
                let row = list[at];
                list[kept] = row;
                kept += usize::from(rows[row as usize].0);
            }
            list.truncate(kept);
        });
    }
}

/// The one with the greatest gain, of equals the first.
fn first_of_most(slices: impl Iterator<Item = (f64, Slice)>) -> Option<(f64, Slice)> {
    slices.fold(None, |best, one| match best {
        Some((most, _)) if one.0 <= most => best,
        _ => Some(one),
    })
}

/// What a peel adds to the density, for each run removed: a quotient of whole numbers, so that equal gains are equal.
fn gain(now: Count, takes: Count) -> f64 {
    let left = Count { runs: now.runs - takes.runs, hits: now.hits - takes.hits };
    let [a, b] = [i128::from(left.hits) * i128::from(now.runs), i128::from(now.hits) * i128::from(left.runs)];
    let below = i128::from(now.runs) * i128::from(left.runs) * i128::from(takes.runs);
    (a - b) as f64 / below as f64
}

/// Boxes that grow from `region` by [`PASTE`] of themselves on the side that raises the density most, as long as one does
/// (or, once every run is a hit, as long as that stays so).
pub fn paste(lot: &Lot, left: &Rows, sorts: &[Sort], region: &Region) -> Vec<Region> {
    let mut path = Vec::new();
    let mut now = region.clone();
    let mut masks = now.masks(lot, left);
    while let Some((factor, kept)) = best_paste(lot, sorts, &now, &masks) {
        masks.change(&now, factor, &kept, lot);
        now.set(factor, kept);
        path.push(now.clone());
    }
    path
}

/// What to keep of which factor instead.
fn best_paste(lot: &Lot, sorts: &[Sort], region: &Region, masks: &Masks) -> Option<(usize, Kept)> {
    let rows = masks.inside(None);
    let now = lot.count(&rows);
    let few = ((PASTE * now.runs as f64) as usize).max(1);
    let denser = |a: Count, b: Count| {
        u128::from(a.hits) * u128::from(b.runs) > u128::from(b.hits) * u128::from(a.runs)
    };
    let mut best: Option<(Count, usize, Kept)> = None;
    for (j, limit) in region.limits.iter().enumerate() {
        let outside = masks.inside(Some(j)).less(&rows);
        let sort = sorts.get(limit.factor).copied().unwrap_or(Sort::Values);
        let few = if sort == Sort::Values { few } else { 1 };
        for (kept, adds) in pastes(lot, &outside, limit.factor, &limit.kept, few) {
            let then = Count { runs: now.runs + adds.runs, hits: now.hits + adds.hits };
            let full = adds.hits > 0 && then.hits == then.runs;
            if (denser(then, now) || full) && best.as_ref().is_none_or(|(most, ..)| denser(then, *most)) {
                best = Some((then, limit.factor, kept));
            }
        }
    }
    best.map(|(_, factor, kept)| (factor, kept))
}

/// What may be pasted to one restriction: the rows beyond it that meet all others, nearest first.
fn pastes(lot: &Lot, outside: &Rows, factor: usize, kept: &Kept, few: usize) -> Vec<(Kept, Count)> {
    let Some(column) = lot.columns.get(factor) else { return Vec::new() };
    let mut found = Vec::new();
    match kept {
        Kept::Labels(labels) => {
            for label in (0..labels.len()).filter(|&label| !labels[label]) {
                let rows = outside.and(&Rows::where_met(column, |x| x == label as f64));
                let mut labels = labels.clone();
                labels[label] = true;
                found.push((Kept::Labels(labels), lot.count(&rows)));
            }
        }
        Kept::Between { from, to } => {
            let side = |beyond: &dyn Fn(f64) -> bool, rising: bool| {
                let mut rows: Vec<(f64, usize)> =
                    outside.iter().filter(|&row| beyond(column[row])).map(|row| (column[row], row)).collect();
                let at = few.min(rows.len()).checked_sub(1)?;
                let nearest = |a: &(f64, usize), b: &(f64, usize)| {
                    let order = a.0.total_cmp(&b.0);
                    if rising { order } else { order.reverse() }
                };
                let last = rows.select_nth_unstable_by(at, nearest).1.0;
                let near = rows.iter().filter(|(x, _)| if rising { *x <= last } else { *x >= last });
                let adds = near.fold(Count::default(), |c, (_, row)| Count {
                    runs: c.runs + 1,
                    hits: c.hits + u64::from(lot.hits.has(*row)),
                });
                let all = adds.runs == rows.len() as u64;
                Some((if all { None } else { Some(last) }, adds))
            };
            if let Some(from) = *from {
                let low = side(&|x| x < from, false);
                found.extend(low.map(|(from, adds)| (Kept::Between { from, to: *to }, adds)));
            }
            if let Some(to) = *to {
                let high = side(&|x| x > to, true);
                found.extend(high.map(|(to, adds)| (Kept::Between { from: *from, to }, adds)));
            }
        }
    }
    found
}
