//! A box: some factors held between limits or to some of their labels, what
//! it catches, and which of its restrictions are more than chance.

use super::lot::{Count, Lot, Rows};
use crate::analysis::statistics::intervals::chance_of_at_least;

/// Restrictions with a larger quasi-p are dropped (Bryant, Lempert 2010).
pub const CHANCE: f64 = 0.05;

/// What a box asks of one factor.
#[derive(Debug, Clone, PartialEq)]
pub enum Kept {
    /// Values between limits, these included; +infinity is never.
    Between {
        /// Least value.
        from: Option<f64>,
        /// Greatest value.
        to: Option<f64>,
    },
    /// The labels of a list that are kept, by index.
    Labels(Vec<bool>),
}

impl Kept {
    /// Whether a value is kept.
    pub fn has(&self, x: f64) -> bool {
        match self {
            Kept::Between { from, to } => from.is_none_or(|from| x >= from) && to.is_none_or(|to| x <= to),
            // OK because a negative or large value saturates: beyond the list, hence not kept.
            Kept::Labels(kept) => x >= 0.0 && kept.get(x as usize) == Some(&true),
        }
    }

    /// The rows whose value of a factor is kept.
    fn met(&self, lot: &Lot, factor: usize) -> Rows {
        let column = lot.columns.get(factor).map_or(&[][..], Vec::as_slice);
        match self {
            // The usual case, as plain comparisons.
            Kept::Between { from, to } => {
                let (from, to) = (from.unwrap_or(f64::NEG_INFINITY), to.unwrap_or(f64::INFINITY));
                // Both compared whatever the first says: a branch here costs more than a comparison.
                Rows::where_met(column, move |x| (x >= from) & (x <= to))
            }
            Kept::Labels(_) => Rows::where_met(column, |x| self.has(x)),
        }
    }

    /// How many limits it sets; labels count as one.
    pub(super) fn ends(&self) -> usize {
        match self {
            Kept::Between { from, to } => usize::from(from.is_some()) + usize::from(to.is_some()),
            Kept::Labels(_) => 1,
        }
    }

    /// Whether nothing is left out.
    pub(super) fn is_open(&self) -> bool {
        match self {
            Kept::Between { from, to } => from.is_none() && to.is_none(),
            Kept::Labels(kept) => kept.iter().all(|&kept| kept),
        }
    }
}

/// A restriction: a factor by its place, and what is kept of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Place of the factor.
    pub factor: usize,
    /// What is kept.
    pub kept: Kept,
}

/// A box: restrictions in the order of the factors, one for each factor restricted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Region {
    /// The restrictions.
    pub limits: Vec<Limit>,
}

/// Rows that meet each restriction of a box: for asking about the box without one of them.
pub(super) struct Masks {
    met: Vec<Rows>,
    left: Rows,
}

impl Region {
    /// Sets what is kept of a factor; none when all is.
    pub(super) fn set(&mut self, factor: usize, kept: Kept) {
        self.limits.retain(|limit| limit.factor != factor);
        if !kept.is_open() {
            let at = self.limits.partition_point(|limit| limit.factor < factor);
            self.limits.insert(at, Limit { factor, kept });
        }
    }

    pub(super) fn kept(&self, factor: usize) -> Option<&Kept> {
        self.limits.iter().find(|limit| limit.factor == factor).map(|limit| &limit.kept)
    }

    pub(super) fn masks(&self, lot: &Lot, left: &Rows) -> Masks {
        let met = self.limits.iter().map(|limit| limit.kept.met(lot, limit.factor)).collect();
        Masks { met, left: left.clone() }
    }

    /// The rows of `left` in the box.
    pub fn inside(&self, lot: &Lot, left: &Rows) -> Rows {
        self.masks(lot, left).inside(None)
    }

    /// Runs and hits of `left` in the box, and in the box without each of its restrictions.
    pub fn counts(&self, lot: &Lot, left: &Rows) -> (Count, Vec<Count>) {
        let masks = self.masks(lot, left);
        let without = (0..self.limits.len()).map(|j| lot.count(&masks.inside(Some(j))));
        (lot.count(&masks.inside(None)), without.collect())
    }

    /// Quasi-p of each restriction.
    pub fn quasi_p(&self, lot: &Lot, left: &Rows) -> Vec<f64> {
        let (inside, without) = self.counts(lot, left);
        without.iter().map(|&without| quasi_p(inside, without)).collect()
    }

    /// Drops the restriction with the greatest quasi-p as long as that is above [`CHANCE`], or there are more than
    /// `most` of them.
    pub fn simplified(mut self, lot: &Lot, left: &Rows, most: usize) -> Region {
        let mut masks = self.masks(lot, left);
        loop {
            let inside = lot.count(&masks.inside(None));
            let ps = (0..self.limits.len()).map(|j| quasi_p(inside, lot.count(&masks.inside(Some(j)))));
            // The last of equals goes: the first in the file stays.
            let worst = ps.enumerate().max_by(|(_, a), (_, b)| a.total_cmp(b));
            match worst {
                Some((j, p)) if p > CHANCE || self.limits.len() > most => {
                    self.limits.remove(j);
                    masks.met.remove(j);
                }
                _ => return self,
            }
        }
    }
}

impl Masks {
    /// Follows a change of the box: `kept` is what will be kept of a factor that `region` restricts.
    pub(super) fn change(&mut self, region: &Region, factor: usize, kept: &Kept, lot: &Lot) {
        if let Some(j) = region.limits.iter().position(|limit| limit.factor == factor) {
            if kept.is_open() {
                self.met.remove(j);
            } else {
                self.met[j] = kept.met(lot, factor);
            }
        }
    }

    /// Rows that meet all restrictions, or all but one.
    pub(super) fn inside(&self, but: Option<usize>) -> Rows {
        let kept = self.met.iter().enumerate().filter(|(j, _)| Some(*j) != but);
        kept.fold(self.left.clone(), |rows, (_, met)| rows.and(met))
    }
}

/// Chance that a restriction which picks runs at random would catch as many
/// hits: P(Bin(runs in the box, density without the restriction) >= hits in
/// the box) (Bryant, Lempert 2010, *Thinking inside the box*).
pub fn quasi_p(inside: Count, without: Count) -> f64 {
    if inside.runs == 0 || without.runs == 0 {
        return 1.0;
    }
    chance_of_at_least(inside.runs, without.density(), inside.hits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_and_never_are_kept_or_not() {
        let labels = Kept::Labels(vec![true, false]);
        assert!(labels.has(0.0) && !labels.has(1.0) && !labels.has(2.0) && !labels.has(-1.0));
        let never = Kept::Between { from: Some(f64::INFINITY), to: None };
        assert!(never.has(f64::INFINITY) && !never.has(1e300));
    }
}
