//! Means of independent replicates.

use super::bytes::{Damaged, Kind, Reader, Writer};
use super::{Accumulator, Chunk, Moments, MomentsFound};

/// Moments of each replicate: run r belongs to replicate r mod R.
#[derive(Debug, Clone, PartialEq)]
pub struct Replicates {
    all: Vec<Moments>,
}

impl Replicates {
    /// `replicates` of them, at least one.
    pub fn new(replicates: u32) -> Self {
        Replicates { all: vec![Moments::new(); replicates.max(1) as usize] }
    }
}

impl Accumulator for Replicates {
    type Found = Vec<MomentsFound>;

    fn add(&mut self, chunk: Chunk) {
        let n = self.all.len();
        let start = (chunk.first_run % n as u64) as usize;
        for (replicate, moments) in self.all.iter_mut().enumerate() {
            let skip = (replicate + n - start) % n;
            let pick = |all: &[f64]| -> Vec<f64> { all.iter().copied().skip(skip).step_by(n).collect() };
            let values = pick(chunk.values);
            let weights = chunk.weights.map(pick);
            moments.add(Chunk { first_run: 0, values: &values, weights: weights.as_deref() });
        }
    }

    /// `later` must have as many replicates.
    fn merge(&mut self, later: Self) {
        debug_assert_eq!(self.all.len(), later.all.len());
        for (mine, theirs) in self.all.iter_mut().zip(later.all) {
            mine.merge(theirs);
        }
    }

    fn finish(&self) -> Vec<MomentsFound> {
        self.all.iter().map(Accumulator::finish).collect()
    }

    fn save(&self) -> Vec<u8> {
        let mut to = Writer::new(Kind::Replicates);
        to.count(self.all.len() as u64);
        for moments in &self.all {
            moments.write(&mut to);
        }
        to.end()
    }

    fn load(bytes: &[u8]) -> Result<Self, Damaged> {
        let mut from = Reader::new(Kind::Replicates, bytes)?;
        let n = from.length(8)?;
        let all = (0..n).map(|_| Moments::read(&mut from)).collect::<Result<Vec<_>, _>>()?;
        from.end()?;
        if all.is_empty() { Err(Damaged::new("no replicates")) } else { Ok(Replicates { all }) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_belongs_to_its_index_modulo_the_replicates() {
        let mut all = Replicates::new(3);
        all.add(Chunk::plain(0, &[0.0, 10.0, 20.0, 0.0]));
        let mut later = Replicates::new(3);
        later.add(Chunk::plain(4, &[10.0, 26.0, 3.0]));
        all.merge(later);
        let found = all.finish();
        let means: Vec<f64> = found.iter().map(|f| f.mean.unwrap()).collect();
        assert_eq!(means, [1.0, 10.0, 23.0]);
        assert_eq!(Replicates::load(&all.save()), Ok(all));
    }
}
