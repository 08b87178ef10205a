//! Quantiles of more values than are kept, with a stated rank error.

use super::bytes::{Damaged, Kind, Reader, Writer};
use super::{Accumulator, Chunk, Tally};

/// Values a level holds before it is halved.
const CAPACITY: usize = 1 << 16;

/// A mergeable summary of ranks: levels of values, each standing for several.
///
/// A full level is sorted, its values paired with their neighbours, and one of
/// each pair, standing for both, moves up a level (Munro, Paterson 1980,
/// *Selection and sorting with limited storage*; Manku, Rajagopalan, Lindsay
/// 1998, *Approximate medians and other quantiles in one pass and with limited
/// memory*; the same compactor as in Karnin, Lang, Liberty 2016, *Optimal
/// quantile approximation in streams*). Where KLL draws which of the pair
/// stays, here it is the one whose error makes up for those before, so that the
/// same runs give the same bytes and the error is a bound, not a probability.
///
/// # Rank error
/// Keeping the lower one overstates a rank by at most the weight of one upper
/// value, keeping the upper one understates it by at most one lower value;
/// both sums are kept, and the larger is the stated error. For n runs of
/// weight one it is about n log2(n / 65,536) / 131,072: 1.1e-4 of a billion.
#[derive(Debug, Clone, PartialEq)]
pub struct Sketch {
    /// Values, each with the weight it stands for; a full level is halved into the next.
    levels: Vec<Vec<(f64, f64)>>,
    capacity: usize,
    numbers: Tally,
    never: Tally,
    without_value: u64,
    weighted: bool,
    overstated: f64,
    understated: f64,
}

/// What [`Sketch`] says.
#[derive(Debug, Clone, PartialEq)]
pub struct SketchFound {
    /// Values in rising order, each with the weight of all values up to it.
    pub ranked: Vec<(f64, f64)>,
    /// Runs with a number.
    pub numbers: Tally,
    /// Runs that are never.
    pub never: Tally,
    /// Runs without a value.
    pub without_value: u64,
    /// By how much (in weight) a stated rank may be off; 0 when exact.
    pub rank_error: f64,
    /// Runs had weights.
    pub weighted: bool,
}

impl SketchFound {
    /// The value of 0-based rank `rank` among all runs that have a value,
    /// never ranking last.
    pub fn order_statistic(&self, rank: u64) -> f64 {
        self.above(rank as f64)
    }

    fn above(&self, weight: f64) -> f64 {
        let at = self.ranked.partition_point(|&(_, up_to)| up_to <= weight);
        self.ranked.get(at).map_or(f64::INFINITY, |&(x, _)| x)
    }

    /// The `p`-quantile, never ranking above every number: type 7 (Hyndman,
    /// Fan 1996) of runs that all weigh one, else the smallest value whose
    /// share of the weight reaches `p`. NaN without any value.
    pub fn quantile(&self, p: f64) -> f64 {
        let total = self.numbers.weight + self.never.weight;
        if total <= 0.0 || !(0.0..=1.0).contains(&p) {
            return f64::NAN;
        }
        if self.weighted {
            let at = self.ranked.partition_point(|&(_, up_to)| up_to < p * total);
            let past_numbers = self.never.weight > 0.0;
            return match self.ranked.get(at).or(self.ranked.last().filter(|_| !past_numbers)) {
                Some(&(x, _)) => x,
                None => f64::INFINITY,
            };
        }
        let h = (total - 1.0) * p;
        let (rank, between) = (h.floor(), h - h.floor());
        let this = self.above(rank);
        if between == 0.0 {
            return this;
        }
        let next = self.above(rank + 1.0);
        if next == f64::INFINITY { next } else { this + between * (next - this) }
    }

    /// The rank error as a share of all runs that have a value.
    pub fn rank_error_share(&self) -> f64 {
        let total = self.numbers.weight + self.never.weight;
        if total > 0.0 { self.rank_error / total } else { 0.0 }
    }
}

impl Default for Sketch {
    fn default() -> Self {
        Self::with_capacity(CAPACITY)
    }
}

impl Sketch {
    /// No runs yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// A level holds `capacity` values: more are more exact. At least 2.
    pub fn with_capacity(capacity: usize) -> Self {
        Sketch {
            levels: Vec::new(),
            capacity: capacity.max(2),
            numbers: Tally::default(),
            never: Tally::default(),
            without_value: 0,
            weighted: false,
            overstated: 0.0,
            understated: 0.0,
        }
    }

    fn push(&mut self, level: usize, item: (f64, f64)) {
        if self.levels.len() <= level {
            self.levels.resize(level + 1, Vec::new());
        }
        if let Some(level) = self.levels.get_mut(level) {
            level.push(item);
        }
    }

    /// Halves level after level until none is full.
    fn settle(&mut self) {
        let mut at = 0;
        while at < self.levels.len() {
            if self.levels.get(at).is_some_and(|level| level.len() >= self.capacity) {
                self.halve(at);
            }
            at += 1;
        }
    }

    fn halve(&mut self, at: usize) {
        let Some(level) = self.levels.get_mut(at) else { return };
        let mut items = std::mem::take(level);
        if at == 0 && !self.weighted {
            sort_ones(&mut items);
        } else {
            // Stable: it finds the runs that each halving below has left in order.
            items.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        let upper = self.understated < self.overstated;
        // An odd one out stays behind.
        if items.len() % 2 == 1 {
            level.extend(items.pop());
        }
        let mut worst = 0.0;
        for pair in items.chunks_exact(2) {
            let &[(low, w_low), (high, w_high)] = pair else { continue };
            let (kept, lost) = if upper { (high, w_low) } else { (low, w_high) };
            worst = if lost > worst { lost } else { worst };
            self.push(at + 1, (kept, w_low + w_high));
        }
        *(if upper { &mut self.understated } else { &mut self.overstated }) += worst;
    }

    pub(super) fn add_pair(&mut self, x: f64, w: f64) {
        if w.is_nan() || x.is_nan() || x == f64::NEG_INFINITY {
            self.without_value += 1;
        } else if x == f64::INFINITY {
            self.never.add(w);
        } else {
            self.numbers.add(w);
            if w > 0.0 {
                self.push(0, (x, w));
            }
        }
    }

    pub(super) fn mark_weighted(&mut self) {
        self.weighted = true;
    }
}

/// Sorts values that all weigh one, by whole numbers in the order of `total_cmp`: most of the work of a sketch.
fn sort_ones(items: &mut [(f64, f64)]) {
    // Negative numbers count downwards; the map is its own inverse.
    let turned = |bits: i64| bits ^ ((bits >> 63) as u64 >> 1) as i64;
    let mut keys: Vec<i64> = items.iter().map(|(x, _)| turned(x.to_bits() as i64)).collect();
    keys.sort_unstable();
    for ((x, _), key) in items.iter_mut().zip(keys) {
        *x = f64::from_bits(turned(key) as u64);
    }
}

impl Accumulator for Sketch {
    type Found = SketchFound;

    fn add(&mut self, chunk: Chunk) {
        self.weighted |= chunk.weights.is_some();
        for (x, w) in chunk.pairs() {
            self.add_pair(x, w);
        }
        self.settle();
    }

    fn merge(&mut self, later: Self) {
        for (at, level) in later.levels.into_iter().enumerate() {
            for item in level {
                self.push(at, item);
            }
        }
        self.numbers.merge(later.numbers);
        self.never.merge(later.never);
        self.without_value += later.without_value;
        self.weighted |= later.weighted;
        self.overstated += later.overstated;
        self.understated += later.understated;
        self.settle();
    }

    fn finish(&self) -> SketchFound {
        let mut ranked: Vec<(f64, f64)> =
            self.levels.iter().flat_map(|level| level.iter().copied()).collect();
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut up_to = 0.0;
        for (_, w) in &mut ranked {
            up_to += *w;
            *w = up_to;
        }
        SketchFound {
            ranked,
            numbers: self.numbers,
            never: self.never,
            without_value: self.without_value,
            rank_error: self.overstated.max(self.understated),
            weighted: self.weighted,
        }
    }

    fn save(&self) -> Vec<u8> {
        let mut to = Writer::new(Kind::Sketch);
        self.write(&mut to);
        to.end()
    }

    fn load(bytes: &[u8]) -> Result<Self, Damaged> {
        let mut from = Reader::new(Kind::Sketch, bytes)?;
        let all = Self::read(&mut from)?;
        from.end()?;
        Ok(all)
    }
}

impl Sketch {
    pub(super) fn write(&self, to: &mut Writer) {
        to.count(self.capacity as u64);
        self.numbers.write(to);
        self.never.write(to);
        to.count(self.without_value);
        to.count(u64::from(self.weighted));
        to.number(self.overstated);
        to.number(self.understated);
        to.count(self.levels.len() as u64);
        for level in &self.levels {
            to.count(level.len() as u64);
            for &(x, w) in level {
                to.number(x);
                to.number(w);
            }
        }
    }

    pub(super) fn read(from: &mut Reader) -> Result<Self, Damaged> {
        let capacity = usize::try_from(from.count()?).map_err(|_| Damaged::new("too large a sketch"))?;
        let mut all = Sketch::with_capacity(capacity);
        all.numbers = Tally::read(from)?;
        all.never = Tally::read(from)?;
        all.without_value = from.count()?;
        all.weighted = from.count()? != 0;
        all.overstated = from.number()?;
        all.understated = from.number()?;
        for _ in 0..from.length(8)? {
            let n = from.length(16)?;
            let items = (0..n).map(|_| Ok((from.number()?, from.number()?))).collect::<Result<_, _>>()?;
            all.levels.push(items);
        }
        Ok(all)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::accumulate::{CHUNK, merge_tree};

    /// 0..n in a scrambled order (multiplication by an odd number modulo a power of two).
    fn scrambled(n: usize) -> Vec<f64> {
        assert!(n.is_power_of_two());
        (0..n).map(|i| (i.wrapping_mul(0x9E37_79B1) % n) as f64).collect()
    }

    fn gather(values: &[f64], capacity: usize, weights: Option<&[f64]>) -> Sketch {
        let parts = values.chunks(CHUNK).enumerate().map(|(i, values)| {
            let mut part = Sketch::with_capacity(capacity);
            let weights = weights.map(|w| &w[i * CHUNK..i * CHUNK + values.len()]);
            part.add(Chunk { first_run: (i * CHUNK) as u64, values, weights });
            part
        });
        merge_tree(parts.collect()).unwrap()
    }

    #[test]
    fn every_rank_lies_within_the_stated_error() {
        let n = 1 << 18;
        for values in
            [scrambled(n), (0..n).map(|i| i as f64).collect(), (0..n).rev().map(|i| i as f64).collect()]
        {
            let found = gather(&values, 512, None).finish();
            // About n log2(n / capacity) / (2 capacity), as the documentation says.
            let promised = n as f64 * 10.0 / 1024.0;
            assert!(found.rank_error > 0.0 && found.rank_error < 1.1 * promised, "{}", found.rank_error);
            let (mut worst, mut before) = (0.0f64, 0.0);
            for &(x, up_to) in &found.ranked {
                // The value x has true rank x + 1; just below it the sketch still says `before`.
                worst = worst.max((up_to - (x + 1.0)).abs()).max((x - before).abs());
                before = up_to;
            }
            assert!(worst <= found.rank_error, "{worst} > {}", found.rank_error);
            assert_eq!(found.ranked.last().unwrap().1, n as f64);
        }
    }

    #[test]
    fn ones_are_sorted_as_by_total_order() {
        let mut all: Vec<(f64, f64)> =
            [3.0, -0.0, 0.0, -7.5, 1e-310, f64::MAX, -f64::MAX, 3.0, -1e-310, f64::MIN_POSITIVE]
                .map(|x| (x, 1.0))
                .to_vec();
        let mut plain = all.clone();
        plain.sort_by(|a, b| a.0.total_cmp(&b.0));
        sort_ones(&mut all);
        assert_eq!(format!("{all:?}"), format!("{plain:?}"));
    }

    #[test]
    fn exact_until_a_level_is_full() {
        let found = gather(&[7.5, f64::INFINITY, 9.2, 4.1], 64, None).finish();
        assert_eq!(found.rank_error, 0.0);
        assert_eq!(found.quantile(0.5), 7.5 + 0.5 * (9.2 - 7.5));
        assert_eq!(found.quantile(0.9), f64::INFINITY);
        assert_eq!(found.quantile(0.0), 4.1);
        assert!(Sketch::new().finish().quantile(0.5).is_nan());
    }

    #[test]
    fn weights_move_quantiles_and_never_has_its_share() {
        let n = 1 << 14;
        let mut values = scrambled(n);
        values[5] = f64::INFINITY;
        // The lower half of the values weighs three times as much as the upper half.
        let weights: Vec<f64> =
            values.iter().map(|&x| if x < (n / 2) as f64 { 0.75 } else { 0.25 }).collect();
        let found = gather(&values, 1024, Some(&weights)).finish();
        let expect = n as f64 / 2.0 * (0.5 / 0.75);
        let allowed = (found.rank_error + 1.0) / 0.75;
        assert!((found.quantile(0.5) - expect).abs() <= allowed, "{}", found.quantile(0.5));
        assert_eq!(found.quantile(1.0), f64::INFINITY);
        assert!(found.rank_error_share() < 0.01, "{}", found.rank_error_share());
    }

    #[test]
    fn saved_and_loaded_is_the_same() {
        let all = gather(&scrambled(1 << 13), 256, None);
        let bytes = all.save();
        assert_eq!(Sketch::load(&bytes), Ok(all));
        assert!(Sketch::load(&bytes[..bytes.len() - 1]).is_err());
    }
}
