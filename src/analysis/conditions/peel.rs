//! Patient rule induction (Friedman, Fisher 1999, *Bump hunting in
//! high-dimensional data*): from all runs, slice after slice is peeled off,
//! each time the one that raises the density most for each run removed; then
//! slices are pasted back as long as the density does not fall.

use super::boxes::{Kept, Region};
use super::lot::{Count, Lot, Orders, Rows};
use crate::analysis::factors::Factor;

/// Share of the box that a peel takes away, at least.
pub const PEEL: f64 = 0.05;
/// Share of the box that a paste gives back.
pub const PASTE: f64 = 0.01;
/// Share of the runs that a box must keep.
pub const LEAST_MASS: f64 = 0.05;

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
    inside: Vec<bool>,
    hits: Vec<bool>,
    now: Count,
    region: Region,
}

/// The path of boxes, the whole first, each a peel smaller than the one before; it ends where a peel would leave fewer than
/// [`LEAST_MASS`] of the rows of `left`, or where every run is a hit. Ties go to the first factor, low side first.
pub fn peel(lot: &Lot, orders: &Orders, left: &Rows, sorts: &[Sort]) -> Vec<Region> {
    let now = lot.count(left);
    let least = (LEAST_MASS * now.runs as f64).ceil() as u64;
    let rows = lot.len();
    let mut state = Peeling {
        lot,
        sorts,
        lists: orders.0.clone(),
        inside: (0..rows).map(|row| left.has(row)).collect(),
        hits: (0..rows).map(|row| lot.hits.has(row)).collect(),
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
        let mut best: Option<(f64, Slice)> = None;
        for factor in 0..self.lists.len() {
            for slice in self.slices(factor) {
                if self.now.runs - slice.takes.runs < least {
                    continue;
                }
                let gain = gain(self.now, slice.takes);
                if best.as_ref().is_none_or(|(most, _)| gain > *most) {
                    best = Some((gain, slice));
                }
            }
        }
        best.map(|(_, slice)| slice)
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
            if !self.inside[row] {
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
            taken.hits += u64::from(self.hits[row]);
        }
        found
    }

    /// Each label that is still there, unless it is the only one.
    fn labels(&self, factor: usize, n: usize) -> Vec<Slice> {
        let column = self.lot.columns.get(factor).map_or(&[][..], Vec::as_slice);
        let mut counts = vec![Count::default(); n];
        for &row in self.lists.get(factor).map_or(&[][..], Vec::as_slice) {
            let row = row as usize;
            if self.inside[row]
                && let Some(count) = counts.get_mut(column[row] as usize)
            {
                count.runs += 1;
                count.hits += u64::from(self.hits[row]);
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
                self.inside[row] &= slice.kept.has(column[row]);
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
        for list in &mut self.lists {
            list.retain(|&row| self.inside[row as usize]);
        }
    }
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
    while let Some(next) = paste_once(lot, left, sorts, &now) {
        path.push(next.clone());
        now = next;
    }
    path
}

fn paste_once(lot: &Lot, left: &Rows, sorts: &[Sort], region: &Region) -> Option<Region> {
    let masks = region.masks(lot, left);
    let rows = masks.inside(None);
    let now = lot.count(&rows);
    let few = ((PASTE * now.runs as f64) as usize).max(1);
    let mut best: Option<(Count, usize, Kept)> = None;
    for (j, limit) in region.limits.iter().enumerate() {
        let outside = masks.inside(Some(j)).less(&rows);
        let sort = sorts.get(limit.factor).copied().unwrap_or(Sort::Values);
        let few = if sort == Sort::Values { few } else { 1 };
        for (kept, adds) in pastes(lot, &outside, limit.factor, &limit.kept, few) {
            let then = Count { runs: now.runs + adds.runs, hits: now.hits + adds.hits };
            let than = |a: Count, b: Count| {
                u128::from(a.hits) * u128::from(b.runs) > u128::from(b.hits) * u128::from(a.runs)
            };
            let full = adds.hits > 0 && then.hits == then.runs;
            if (than(then, now) || full) && best.as_ref().is_none_or(|(most, ..)| than(then, *most)) {
                best = Some((then, limit.factor, kept));
            }
        }
    }
    let (_, factor, kept) = best?;
    let mut next = region.clone();
    next.set(factor, kept);
    Some(next)
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
                rows.sort_unstable_by(|a, b| {
                    let order = a.0.total_cmp(&b.0);
                    if rising { order } else { order.reverse() }
                });
                let last = rows.get(few.min(rows.len()).checked_sub(1)?)?.0;
                let near = rows.iter().take_while(|(x, _)| if rising { *x <= last } else { *x >= last });
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
