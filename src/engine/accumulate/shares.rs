//! Shares of yes, of never, of no value.

use super::bytes::{Damaged, Kind, Reader, Writer};
use super::{Accumulator, Chunk, Tally};

/// Runs by sort of value.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Counts {
    /// Numbers other than 0: yes.
    pub yes: Tally,
    /// 0: no.
    pub no: Tally,
    /// Never.
    pub never: Tally,
    /// Without a value.
    pub without_value: Tally,
    /// Sum of squared weights of all runs that have a value.
    pub sum_w2: f64,
}

impl Counts {
    /// Effective number of runs with a value (Kish, 1965).
    pub fn effective_runs(&self) -> f64 {
        let weight = self.yes.weight + self.no.weight + self.never.weight;
        if self.sum_w2 > 0.0 { weight * weight / self.sum_w2 } else { 0.0 }
    }

    /// Share of yes among yes and no.
    pub fn share_yes(&self) -> Option<f64> {
        let weight = self.yes.weight + self.no.weight;
        (weight > 0.0).then(|| self.yes.weight / weight)
    }

    /// Share of never among the runs that have a value.
    pub fn share_never(&self) -> Option<f64> {
        let weight = self.yes.weight + self.no.weight + self.never.weight;
        (weight > 0.0).then(|| self.never.weight / weight)
    }
}

/// Counts yes, no, never and no value.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shares {
    counts: Counts,
}

impl Shares {
    /// No runs yet.
    pub fn new() -> Self {
        Self::default()
    }
}

impl Accumulator for Shares {
    type Found = Counts;

    fn add(&mut self, chunk: Chunk) {
        let c = &mut self.counts;
        for (x, w) in chunk.pairs() {
            if w.is_nan() || x.is_nan() || x == f64::NEG_INFINITY {
                c.without_value.add(if w.is_nan() { 0.0 } else { w });
                continue;
            }
            c.sum_w2 += w * w;
            if x == f64::INFINITY {
                c.never.add(w);
            } else if x != 0.0 {
                c.yes.add(w);
            } else {
                c.no.add(w);
            }
        }
    }

    fn merge(&mut self, later: Self) {
        let (c, l) = (&mut self.counts, later.counts);
        c.yes.merge(l.yes);
        c.no.merge(l.no);
        c.never.merge(l.never);
        c.without_value.merge(l.without_value);
        c.sum_w2 += l.sum_w2;
    }

    fn finish(&self) -> Counts {
        self.counts
    }

    fn save(&self) -> Vec<u8> {
        let mut to = Writer::new(Kind::Shares);
        let c = &self.counts;
        for tally in [c.yes, c.no, c.never, c.without_value] {
            tally.write(&mut to);
        }
        to.number(c.sum_w2);
        to.end()
    }

    fn load(bytes: &[u8]) -> Result<Self, Damaged> {
        let mut from = Reader::new(Kind::Shares, bytes)?;
        let counts = Counts {
            yes: Tally::read(&mut from)?,
            no: Tally::read(&mut from)?,
            never: Tally::read(&mut from)?,
            without_value: Tally::read(&mut from)?,
            sum_w2: from.number()?,
        };
        from.end()?;
        Ok(Shares { counts })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_each_sort() {
        let mut shares = Shares::new();
        shares.add(Chunk::plain(0, &[1.0, 0.0, 1.0, f64::INFINITY, f64::NAN]));
        let mut later = Shares::new();
        later.add(Chunk { first_run: 5, values: &[1.0, 0.0], weights: Some(&[0.5, 2.5]) });
        shares.merge(later);
        let c = shares.finish();
        assert_eq!((c.yes.runs, c.no.runs, c.never.runs, c.without_value.runs), (3, 2, 1, 1));
        assert_eq!(c.share_yes(), Some(2.5 / 6.0));
        assert_eq!(c.share_never(), Some(1.0 / 7.0));
        assert_eq!(c.effective_runs(), 49.0 / (4.0 + 0.25 + 6.25));
        assert_eq!(Shares::load(&shares.save()), Ok(shares));
    }
}
