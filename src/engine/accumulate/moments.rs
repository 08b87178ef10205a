//! Mean and variance, about a first value.

use super::bytes::{Damaged, Kind, Reader, Writer};
use super::{Accumulator, Chunk, Tally};

/// Sums in this many lanes, run i in lane i mod 8, added as a tree: a fixed
/// order that vectorises.
const LANES: usize = 8;

/// Count, weights, mean and variance of the runs that have a number.
///
/// Values are taken about the first one, so that figures with a large common
/// part keep their digits; chunks are merged by the rule of Chan, Golub and
/// LeVeque (1979, *Updating formulae and a pairwise algorithm for computing
/// sample variances*), after Welford (1962).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Moments {
    numbers: Tally,
    never: Tally,
    without_value: u64,
    sum_w2: f64,
    /// The first value, and the mean's distance from it.
    origin: f64,
    offset: f64,
    /// Sum of weighted squares about the mean.
    squares: f64,
    weighted: bool,
}

/// What [`Moments`] says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MomentsFound {
    /// Runs with a number, and their weight.
    pub numbers: Tally,
    /// Runs that are never.
    pub never: Tally,
    /// Runs without a value.
    pub without_value: u64,
    /// Mean of the numbers; none without weight.
    pub mean: Option<f64>,
    /// Variance with n - 1; none below two runs' worth of weight.
    pub variance: Option<f64>,
    /// Effective number of runs: (sum w)^2 / sum w^2 (Kish, 1965), n when all weigh one.
    pub effective_runs: f64,
}

impl MomentsFound {
    /// Standard deviation.
    pub fn sd(&self) -> Option<f64> {
        self.variance.map(f64::sqrt)
    }

    /// Standard error of the mean of independent runs.
    pub fn standard_error(&self) -> Option<f64> {
        self.variance.map(|v| (v / self.effective_runs).sqrt())
    }
}

fn lane_sum(terms: impl Iterator<Item = f64>) -> f64 {
    let mut lanes = [0.0; LANES];
    for (i, x) in terms.enumerate() {
        lanes[i % LANES] += x;
    }
    lanes_together(lanes)
}

fn lanes_together([a, b, c, d, e, f, g, h]: [f64; LANES]) -> f64 {
    ((a + b) + (c + d)) + ((e + f) + (g + h))
}

/// [`lane_sum`] of a slice, eight at a time.
#[inline(always)]
fn lane_sum_of(values: &[f64], term: impl Fn(f64) -> f64) -> f64 {
    let mut lanes = [0.0; LANES];
    let (eights, rest) = values.as_chunks::<LANES>();
    for eight in eights {
        for (lane, &x) in lanes.iter_mut().zip(eight) {
            *lane += term(x);
        }
    }
    for (lane, &x) in lanes.iter_mut().zip(rest) {
        *lane += term(x);
    }
    lanes_together(lanes)
}

/// Mean distance from `origin`, and the squares about that mean. Wider vectors change the speed, never the bits.
#[multiversion::multiversion(targets("x86_64+avx2"))]
fn plain_sums(values: &[f64], origin: f64) -> (f64, f64) {
    let offset = lane_sum_of(values, |x| x - origin) / values.len() as f64;
    let squares = lane_sum_of(values, |x| {
        let d = (x - origin) - offset;
        d * d
    });
    (offset, squares)
}

impl Moments {
    /// No runs yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// The moments of one chunk, in two passes over it.
    fn of(chunk: Chunk) -> Self {
        match chunk {
            Chunk { values: values @ [origin, ..], weights: None, .. } => {
                Self::of_plain(values, *origin).unwrap_or_else(|| Self::of_any(chunk))
            }
            _ => Self::of_any(chunk),
        }
    }

    /// All numbers, all weighing one: the same sums as [`of_any`](Self::of_any), in fast loops. None where a value is
    /// no number (or their sum is none).
    fn of_plain(values: &[f64], origin: f64) -> Option<Self> {
        let (offset, squares) = plain_sums(values, origin);
        let n = values.len() as f64;
        let numbers = Tally { runs: values.len() as u64, weight: n };
        offset.is_finite().then(|| Moments {
            numbers,
            sum_w2: n,
            origin,
            offset,
            squares,
            ..Moments::default()
        })
    }

    fn of_any(chunk: Chunk) -> Self {
        let mut all = Moments { weighted: chunk.weights.is_some(), ..Moments::default() };
        let counts = |(x, w): (f64, f64)| x.is_finite() && w >= 0.0;
        for (x, w) in chunk.pairs() {
            if counts((x, w)) {
                all.numbers.runs += 1;
            } else if x == f64::INFINITY && w >= 0.0 {
                all.never.add(w);
            } else {
                all.without_value += 1;
            }
        }
        let numbers = || chunk.pairs().filter(|&p| counts(p));
        let Some((origin, _)) = numbers().next() else { return all };
        all.origin = origin;
        all.numbers.weight = lane_sum(numbers().map(|(_, w)| w));
        all.sum_w2 = lane_sum(numbers().map(|(_, w)| w * w));
        if all.numbers.weight > 0.0 {
            let offset = lane_sum(numbers().map(|(x, w)| w * (x - origin))) / all.numbers.weight;
            all.offset = offset;
            all.squares = lane_sum(numbers().map(|(x, w)| {
                let d = (x - origin) - offset;
                w * (d * d)
            }));
        }
        all
    }
}

impl Accumulator for Moments {
    type Found = MomentsFound;

    fn add(&mut self, chunk: Chunk) {
        self.merge(Moments::of(chunk));
    }

    fn merge(&mut self, later: Self) {
        self.weighted |= later.weighted;
        self.never.merge(later.never);
        self.without_value += later.without_value;
        if later.numbers.runs == 0 {
            return;
        }
        if self.numbers.runs == 0 {
            let (never, without_value, weighted) = (self.never, self.without_value, self.weighted);
            *self = Moments { never, without_value, weighted, ..later };
            return;
        }
        let weight = self.numbers.weight + later.numbers.weight;
        if weight > 0.0 {
            let share = later.numbers.weight / weight;
            let apart = (later.origin - self.origin) + (later.offset - self.offset);
            self.offset += apart * share;
            self.squares = self.squares + later.squares + apart * apart * (self.numbers.weight * share);
        }
        self.numbers.merge(later.numbers);
        self.sum_w2 += later.sum_w2;
    }

    fn finish(&self) -> MomentsFound {
        let weight = self.numbers.weight;
        let effective_runs = if self.sum_w2 > 0.0 { weight * weight / self.sum_w2 } else { 0.0 };
        // With weights, n - 1 is taken from the effective number of runs.
        let variance = if self.weighted {
            (effective_runs > 1.0).then(|| self.squares / weight * (effective_runs / (effective_runs - 1.0)))
        } else {
            (self.numbers.runs > 1).then(|| self.squares / (weight - 1.0))
        };
        MomentsFound {
            numbers: self.numbers,
            never: self.never,
            without_value: self.without_value,
            mean: (weight > 0.0).then_some(self.origin + self.offset),
            variance,
            effective_runs,
        }
    }

    fn save(&self) -> Vec<u8> {
        let mut to = Writer::new(Kind::Moments);
        self.write(&mut to);
        to.end()
    }

    fn load(bytes: &[u8]) -> Result<Self, Damaged> {
        let mut from = Reader::new(Kind::Moments, bytes)?;
        let all = Self::read(&mut from)?;
        from.end()?;
        Ok(all)
    }
}

impl Moments {
    pub(super) fn write(&self, to: &mut Writer) {
        self.numbers.write(to);
        self.never.write(to);
        to.count(self.without_value);
        for x in [self.sum_w2, self.origin, self.offset, self.squares] {
            to.number(x);
        }
        to.count(u64::from(self.weighted));
    }

    pub(super) fn read(from: &mut Reader) -> Result<Self, Damaged> {
        Ok(Moments {
            numbers: Tally::read(from)?,
            never: Tally::read(from)?,
            without_value: from.count()?,
            sum_w2: from.number()?,
            origin: from.number()?,
            offset: from.number()?,
            squares: from.number()?,
            weighted: from.count()? != 0,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::accumulate::{CHUNK, merge_tree};

    fn gather(values: &[f64], weights: Option<&[f64]>) -> Moments {
        let parts = values.chunks(CHUNK).enumerate().map(|(i, values)| {
            let mut part = Moments::new();
            let weights = weights.map(|w| &w[i * CHUNK..i * CHUNK + values.len()]);
            part.add(Chunk { first_run: (i * CHUNK) as u64, values, weights });
            part
        });
        merge_tree(parts.collect()).unwrap_or_default()
    }

    /// 2^40 + (0, 1, 2, 3, 0, ...): the mean is 2^40 + 1.5 and the squares about it are
    /// n (2.25 + 0.25 + 0.25 + 2.25)/4 = 1.25 n, all exact in binary.
    #[test]
    fn a_large_common_part_costs_no_digit() {
        let offset = 1_099_511_627_776.0;
        let n = 8 * CHUNK;
        let values: Vec<f64> = (0..n).map(|i| offset + (i % 4) as f64).collect();
        let found = gather(&values, None).finish();
        assert_eq!(found.mean, Some(offset + 1.5));
        assert_eq!(found.variance, Some(1.25 * n as f64 / (n as f64 - 1.0)));
        assert_eq!(found.effective_runs, n as f64);
    }

    /// 2^40 + i for i < n: mean 2^40 + (n-1)/2, squares about it n(n^2-1)/12. The
    /// chunks' means differ by 4,096, and every step is exact in binary.
    #[test]
    fn chunks_of_different_means_merge_exactly() {
        let offset = 1_099_511_627_776.0;
        let n = 8 * CHUNK;
        let values: Vec<f64> = (0..n).map(|i| offset + i as f64).collect();
        let found = gather(&values, None).finish();
        let n = n as f64;
        assert_eq!(found.mean, Some(offset + (n - 1.0) / 2.0));
        assert_eq!(found.variance, Some(n * (n * n - 1.0) / 12.0 / (n - 1.0)));
    }

    #[test]
    fn the_fast_way_has_the_same_bits() {
        for n in [1, 2, 7, 8, 9, 1000, CHUNK] {
            let values: Vec<f64> = (0..n).map(|i| 1.0 / (i as f64 + 0.3)).collect();
            let chunk = Chunk::plain(0, &values);
            assert_eq!(Moments::of(chunk), Moments::of_any(chunk));
            let ones = vec![1.0; n];
            let weighted = Moments::of(Chunk { weights: Some(&ones), ..chunk });
            assert_eq!(Moments { weighted: false, ..weighted }, Moments::of(chunk));
        }
    }

    #[test]
    fn never_and_nan_stand_apart() {
        let found = gather(&[1.0, f64::INFINITY, f64::NAN, 3.0, f64::NEG_INFINITY], None).finish();
        assert_eq!((found.numbers.runs, found.never.runs, found.without_value), (2, 1, 2));
        assert_eq!((found.mean, found.variance), (Some(2.0), Some(2.0)));
        let none = gather(&[f64::INFINITY, f64::NAN], None).finish();
        assert_eq!((none.mean, none.variance), (None, None));
    }

    /// A run that weighs two counts as two runs in mean; 1, 1, 2 by hand.
    #[test]
    fn weights() {
        let found = gather(&[4.0, 8.0, 6.0], Some(&[1.0, 1.0, 2.0])).finish();
        assert_eq!(found.mean, Some(6.0));
        assert_eq!(found.effective_runs, 16.0 / 6.0);
        let n = 16.0 / 6.0;
        assert!((found.variance.unwrap() - (4.0 + 4.0) / 4.0 * n / (n - 1.0)).abs() < 1e-12);
        let bad = gather(&[4.0, 8.0], Some(&[1.0, f64::NAN])).finish();
        assert_eq!((bad.numbers.runs, bad.without_value), (1, 1));
    }

    #[test]
    fn saved_and_loaded_is_the_same() {
        let all = gather(&[1.5, 2.5, f64::INFINITY], None);
        let bytes = all.save();
        assert_eq!(Moments::load(&bytes), Ok(all));
        for i in 0..bytes.len() {
            let mut damaged = bytes.clone();
            damaged[i] ^= 1;
            assert!(Moments::load(&damaged).is_err(), "byte {i}");
            assert!(Moments::load(&bytes[..i]).is_err(), "cut at {i}");
        }
    }
}
