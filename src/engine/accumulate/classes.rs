//! Counts over classes with fixed edges.

use super::bytes::{Damaged, Kind, Reader, Writer};
use super::{Accumulator, Chunk, Tally};

/// Counts runs between edges: class i holds edge i <= x < edge i+1, the last
/// one its upper edge too.
#[derive(Debug, Clone, PartialEq)]
pub struct Classes {
    edges: Vec<f64>,
    counts: Vec<Tally>,
    below: Tally,
    above: Tally,
    never: Tally,
    without_value: u64,
}

/// What [`Classes`] says.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassCounts {
    /// Edges, one more than counts.
    pub edges: Vec<f64>,
    /// Runs in each class.
    pub counts: Vec<Tally>,
    /// Runs below the first edge.
    pub below: Tally,
    /// Numbers above the last edge.
    pub above: Tally,
    /// Runs that are never.
    pub never: Tally,
    /// Runs without a value.
    pub without_value: u64,
}

impl Classes {
    /// Classes between `edges`, which must be two or more, finite and rising; else none.
    pub fn new(edges: Vec<f64>) -> Option<Self> {
        let rising = edges.windows(2).all(|w| matches!(w, [a, b] if a < b));
        if edges.len() < 2 || !rising || !edges.iter().all(|e| e.is_finite()) {
            return None;
        }
        let counts = vec![Tally::default(); edges.len() - 1];
        let (below, above, never) = Default::default();
        Some(Classes { edges, counts, below, above, never, without_value: 0 })
    }
}

impl Accumulator for Classes {
    type Found = ClassCounts;

    fn add(&mut self, chunk: Chunk) {
        let last = self.edges.last().copied().unwrap_or(f64::NAN);
        for (x, w) in chunk.pairs() {
            if w.is_nan() || x.is_nan() || x == f64::NEG_INFINITY {
                self.without_value += 1;
                continue;
            }
            let not_above = self.edges.partition_point(|&e| e <= x);
            let class = if x == last { self.counts.len() } else { not_above };
            let tally = match class.checked_sub(1) {
                _ if x == f64::INFINITY => &mut self.never,
                None => &mut self.below,
                Some(i) => self.counts.get_mut(i).unwrap_or(&mut self.above),
            };
            tally.add(w);
        }
    }

    /// `later` must have the same edges.
    fn merge(&mut self, later: Self) {
        debug_assert_eq!(self.edges, later.edges);
        for (mine, theirs) in self.counts.iter_mut().zip(later.counts) {
            mine.merge(theirs);
        }
        self.below.merge(later.below);
        self.above.merge(later.above);
        self.never.merge(later.never);
        self.without_value += later.without_value;
    }

    fn finish(&self) -> ClassCounts {
        ClassCounts {
            edges: self.edges.clone(),
            counts: self.counts.clone(),
            below: self.below,
            above: self.above,
            never: self.never,
            without_value: self.without_value,
        }
    }

    fn save(&self) -> Vec<u8> {
        let mut to = Writer::new(Kind::Classes);
        to.numbers(&self.edges);
        for tally in self.counts.iter().chain([&self.below, &self.above, &self.never]) {
            tally.write(&mut to);
        }
        to.count(self.without_value);
        to.end()
    }

    fn load(bytes: &[u8]) -> Result<Self, Damaged> {
        let mut from = Reader::new(Kind::Classes, bytes)?;
        let mut all = Classes::new(from.numbers()?).ok_or(Damaged::new("edges do not rise"))?;
        for tally in all.counts.iter_mut().chain([&mut all.below, &mut all.above, &mut all.never]) {
            *tally = Tally::read(&mut from)?;
        }
        all.without_value = from.count()?;
        from.end()?;
        Ok(all)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges_belong_to_the_class_above_but_the_last() {
        let mut all = Classes::new(vec![0.0, 1.0, 2.0]).unwrap();
        let values = [-0.1, 0.0, 0.99, 1.0, 2.0, 2.1, f64::INFINITY, f64::NAN];
        all.add(Chunk::plain(0, &values));
        all.merge(all.clone());
        let found = all.finish();
        let runs: Vec<u64> = found.counts.iter().map(|t| t.runs).collect();
        assert_eq!(runs, [4, 4]);
        assert_eq!((found.below.runs, found.above.runs, found.never.runs, found.without_value), (2, 2, 2, 2));
        assert_eq!(Classes::load(&all.save()), Ok(all));
        assert_eq!(Classes::new(vec![1.0, 1.0]), None);
    }
}
