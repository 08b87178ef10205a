//! All values while they are few enough, a sketch of them after that.

use super::bytes::{Damaged, Kind, Reader, Writer};
use super::{Accumulator, Chunk, Sketch, SketchFound};

/// Most values that are kept one by one; above it the sketch takes over.
pub const KEPT_AT_MOST: usize = 1 << 22;

/// Quantiles: exact up to a limit of runs, then by [`Sketch`].
#[derive(Debug, Clone, PartialEq)]
pub struct Quantiles {
    limit: usize,
    /// A value for each run, in order; NaN without a value. Empty once sketched.
    kept: Vec<f64>,
    /// Weights of the kept values; none when all are one.
    weights: Option<Vec<f64>>,
    sketch: Option<Sketch>,
}

/// What [`Quantiles`] says; its `rank_error` is 0 when exact.
pub type QuantilesFound = SketchFound;

impl Default for Quantiles {
    fn default() -> Self {
        Self::with_limit(KEPT_AT_MOST)
    }
}

impl Quantiles {
    /// No runs yet; up to [`KEPT_AT_MOST`] are kept.
    pub fn new() -> Self {
        Self::default()
    }

    /// No runs yet; up to `limit` are kept.
    pub fn with_limit(limit: usize) -> Self {
        Quantiles { limit, kept: Vec::new(), weights: None, sketch: None }
    }

    /// The value of each run in order (NaN: none) and its weight, while all are kept.
    pub fn kept(&self) -> Option<(&[f64], Option<&[f64]>)> {
        self.sketch.is_none().then_some((&self.kept, self.weights.as_deref()))
    }

    /// Weights of what is kept, all written out.
    fn weights_mut(&mut self) -> &mut Vec<f64> {
        let n = self.kept.len();
        self.weights.get_or_insert_with(|| vec![1.0; n])
    }

    fn sketched(&mut self) -> &mut Sketch {
        let (kept, weights) = (std::mem::take(&mut self.kept), self.weights.take());
        let sketch = self.sketch.get_or_insert_default();
        if !kept.is_empty() {
            let chunk = Chunk { first_run: 0, values: &kept, weights: weights.as_deref() };
            sketch.add(chunk);
        }
        sketch
    }

    fn check_limit(&mut self) {
        if self.kept.len() > self.limit {
            self.sketched();
        }
    }
}

impl Accumulator for Quantiles {
    type Found = QuantilesFound;

    fn add(&mut self, chunk: Chunk) {
        if let Some(sketch) = &mut self.sketch {
            sketch.add(chunk);
            return;
        }
        if chunk.weights.is_some() {
            self.weights_mut();
        }
        for (x, w) in chunk.pairs() {
            let counts = w >= 0.0 && x > f64::NEG_INFINITY;
            self.kept.push(if counts { x } else { f64::NAN });
            if let Some(all) = &mut self.weights {
                all.push(if counts { w } else { 0.0 });
            }
        }
        self.check_limit();
    }

    fn merge(&mut self, mut later: Self) {
        if self.sketch.is_some() || later.sketch.is_some() {
            let theirs = std::mem::take(later.sketched());
            self.sketched().merge(theirs);
            return;
        }
        if self.weights.is_some() || later.weights.is_some() {
            let theirs = std::mem::take(later.weights_mut());
            self.weights_mut().extend(theirs);
        }
        self.kept.extend(later.kept);
        self.check_limit();
    }

    fn finish(&self) -> QuantilesFound {
        if let Some(sketch) = &self.sketch {
            return sketch.finish();
        }
        // A sketch that is never full is exact.
        let mut all = Sketch::with_capacity(usize::MAX);
        let weight = |i: usize| self.weights.as_ref().map_or(1.0, |w| w.get(i).copied().unwrap_or(0.0));
        for (i, &x) in self.kept.iter().enumerate() {
            all.add_pair(x, weight(i));
        }
        if self.weights.is_some() {
            all.mark_weighted();
        }
        all.finish()
    }

    fn save(&self) -> Vec<u8> {
        let mut to = Writer::new(Kind::Quantiles);
        to.count(self.limit as u64);
        to.numbers(&self.kept);
        to.count(u64::from(self.weights.is_some()));
        to.numbers(self.weights.as_deref().unwrap_or_default());
        to.count(u64::from(self.sketch.is_some()));
        if let Some(sketch) = &self.sketch {
            sketch.write(&mut to);
        }
        to.end()
    }

    fn load(bytes: &[u8]) -> Result<Self, Damaged> {
        let mut from = Reader::new(Kind::Quantiles, bytes)?;
        let limit = usize::try_from(from.count()?).map_err(|_| Damaged::new("too large a limit"))?;
        let kept = from.numbers()?;
        let weighted = from.count()? != 0;
        let weights = from.numbers()?;
        let weights = weighted.then_some(weights);
        if weights.as_ref().is_some_and(|w| w.len() != kept.len()) {
            return Err(Damaged::new("weights do not fit the values"));
        }
        let sketch = if from.count()? != 0 { Some(Sketch::read(&mut from)?) } else { None };
        from.end()?;
        Ok(Quantiles { limit, kept, weights, sketch })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(values: &[f64], weights: Option<&[f64]>, limit: usize) -> Quantiles {
        let mut part = Quantiles::with_limit(limit);
        part.add(Chunk { first_run: 0, values, weights });
        part
    }

    #[test]
    fn keeps_the_runs_in_order() {
        let mut all = part(&[3.0, f64::NEG_INFINITY], None, 100);
        all.merge(part(&[1.0, f64::INFINITY], Some(&[2.0, 0.5]), 100));
        let (values, weights) = all.kept().unwrap();
        assert!(values[1].is_nan());
        assert_eq!((values[0], values[2], values[3]), (3.0, 1.0, f64::INFINITY));
        assert_eq!(weights, Some(&[1.0, 1.0, 2.0, 0.5][..]));
        let found = all.finish();
        assert_eq!((found.without_value, found.never.runs, found.rank_error), (1, 1, 0.0));
        // Weights 2 at 1, 1 at 3, 0.5 at never.
        assert_eq!((found.quantile(0.5), found.quantile(0.6)), (1.0, 3.0));
        assert_eq!(found.quantile(0.95), f64::INFINITY);
    }

    #[test]
    fn above_the_limit_it_is_a_sketch_of_the_same_runs() {
        let values: Vec<f64> = (0..1000).map(f64::from).collect();
        let mut all = part(&values[..600], None, 700);
        assert!(all.kept().is_some());
        all.merge(part(&values[600..], None, 700));
        assert!(all.kept().is_none());
        assert_eq!(all.finish().quantile(0.5), 499.5);
        assert_eq!(all.finish().numbers.runs, 1000);
        assert_eq!(Quantiles::load(&all.save()).unwrap().finish(), all.finish());
    }
}
