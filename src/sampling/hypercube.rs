//! Latin hypercube: each of n equal cells of an input holds exactly one run of
//! a replicate (McKay, Beckman, Conover 1979). Which run gets which cell is a
//! keyed bijection, a Feistel network with cycle walking (Black, Rogaway 2002,
//! *Ciphers with arbitrary finite domains*), so that no list is kept.

use super::maths::{Vectors, kernels};
use super::philox::{Key, mix};

const ROUNDS: usize = 8;

/// Runs whose cells are looked up in one go.
pub(crate) const CHUNK: usize = 64;

/// A keyed bijection of 0..n.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Permutation {
    n: u64,
    bits_low: u32,
    bits_high: u32,
    keys: [u64; ROUNDS],
}

impl Permutation {
    /// Of 0..n, n at least 1.
    pub(crate) fn new(key: Key, n: u64) -> Permutation {
        let n = n.max(1);
        let bits = u64::BITS - (n - 1).leading_zeros();
        let mut keys = [0; ROUNDS];
        for (i, k) in keys.iter_mut().enumerate() {
            *k = mix(key.0 ^ (i as u64 + 1).wrapping_mul(0xD6E8_FEB8_6659_FD93));
        }
        Permutation { n, bits_low: bits / 2, bits_high: bits - bits / 2, keys }
    }

    /// The cell of a run, both in 0..n.
    pub(crate) fn at(&self, index: u64) -> u64 {
        let mut value = index % self.n;
        // Walks on until it falls inside; the network is a bijection of fewer
        // than 2n numbers, so it comes back, after two steps on average at most.
        loop {
            value = self.once(value);
            if value < self.n {
                return value;
            }
        }
    }

    /// The cells of the runs `first`, `first + 1`, ...: those of [`Permutation::at`].
    pub(crate) fn fill(self, vectors: Vectors, first: u64, out: &mut [u64]) {
        let mut first = first;
        for chunk in out.chunks_mut(CHUNK) {
            vectors.walk(self, first, chunk);
            first += chunk.len() as u64;
        }
    }

    /// [`Permutation::once`] for each of at most [`CHUNK`] values: round by round, so that a round is one loop for the
    /// vector unit.
    #[inline(always)]
    fn step(&self, values: &mut [u64]) {
        let (mask_low, mask_high) = ((1 << self.bits_low) - 1, (1 << self.bits_high) - 1);
        let mut low = [0_u64; CHUNK];
        let mut high = [0_u64; CHUNK];
        let count = values.len().min(CHUNK);
        let (low, high) = (&mut low[..count], &mut high[..count]);
        for ((l, h), v) in low.iter_mut().zip(high.iter_mut()).zip(values.iter()) {
            *l = *v & mask_low;
            *h = *v >> self.bits_low;
        }
        for pair in self.keys.chunks_exact(2) {
            if let [first, second] = *pair {
                for (l, h) in low.iter_mut().zip(high.iter_mut()) {
                    *l ^= scatter(*h ^ first) & mask_low;
                    *h ^= scatter(*l ^ second) & mask_high;
                }
            }
        }
        for ((l, h), v) in low.iter().zip(high.iter()).zip(values.iter_mut()) {
            *v = *h << self.bits_low | *l;
        }
    }

    #[inline(always)]
    fn once(&self, value: u64) -> u64 {
        let (mask_low, mask_high) = ((1 << self.bits_low) - 1, (1 << self.bits_high) - 1);
        let mut low = value & mask_low;
        let mut high = value >> self.bits_low;
        for pair in self.keys.chunks_exact(2) {
            if let [first, second] = *pair {
                low ^= scatter(high ^ first) & mask_low;
                high ^= scatter(low ^ second) & mask_high;
            }
        }
        high << self.bits_low | low
    }
}

/// One step for all, then another for those that fell outside, until none is left.
#[inline(always)]
fn walk_chunk(order: Permutation, first: u64, out: &mut [u64]) {
    let n = order.n;
    // Few chunks come round to the beginning.
    for (o, i) in out.iter_mut().zip(0_u64..) {
        let index = first + i;
        *o = if index < n { index } else { index % n };
    }
    order.step(out);
    let mut at = [0_u16; CHUNK];
    let mut outside = 0;
    for (i, value) in out.iter().enumerate().take(CHUNK) {
        at[outside & (CHUNK - 1)] = i as u16;
        outside += usize::from(*value >= n);
    }
    let mut outside = outside.min(CHUNK);
    let mut walking = [0_u64; CHUNK];
    for (w, &i) in walking.iter_mut().zip(&at[..outside]) {
        *w = out[usize::from(i)];
    }
    while outside > 0 {
        order.step(&mut walking[..outside]);
        let mut left = 0;
        for k in 0..outside {
            let (value, i) = (walking[k], at[k]);
            out[usize::from(i)] = value;
            walking[left] = value;
            at[left] = i;
            left += usize::from(value >= n);
        }
        outside = left;
    }
}

#[inline(always)]
fn place_each(cells: Cells, strata: &[u64], within: &mut [f64]) {
    for (w, s) in within.iter_mut().zip(strata) {
        *w = cells.place(*s, *w);
    }
}

kernels! {
    /// Cells of at most [`CHUNK`] runs from `first` on.
    pub(crate) fn walk(order: Permutation, first: u64, out: &mut [u64]) = walk_chunk;
    /// Moves each uniform into its cell.
    pub(crate) fn place_all(cells: Cells, strata: &[u64], within: &mut [f64]) = place_each;
}

/// Upper half of a product, folded once: cheap, and enough over eight rounds.
#[inline(always)]
fn scatter(value: u64) -> u64 {
    let z = value.wrapping_mul(0x9FB2_1C65_1E98_DF25);
    (z >> 32) ^ (z >> 43)
}

/// Where in a replicate of n runs cells end; turns a cell and a uniform into a probability.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cells {
    n: f64,
    /// Bits of the uniform that are cut so that cell + position is exact in a double.
    cut: u32,
    step: f64,
}

impl Cells {
    pub(crate) fn new(n: u64) -> Cells {
        let cut = u64::BITS - (n.max(1) - 1).leading_zeros();
        let cut = cut.min(51);
        let step = 1.0 / (1_u64 << (52 - cut)) as f64;
        Cells { n: n.max(1) as f64, cut, step }
    }

    /// A place in the cell, not its middle, which would bias tails and variance.
    #[inline(always)]
    pub(crate) fn place(&self, cell: u64, within: f64) -> f64 {
        // within = (k + 0.5) 2^-52, so this is k exactly, read from the digits of 1 + k 2^-52.
        let k = ((within - 1.110_223_024_625_156_5e-16) + 1.0).to_bits() & 0x000F_FFFF_FFFF_FFFF;
        // Exact, and below n by at least half a step: the quotient never rounds to 1.
        (as_number(cell) + (as_number(k >> self.cut) + 0.5) * self.step) / self.n
    }
}

/// A whole number below 2^52, exactly: its digits behind those of 2^52, which vector units have no other way to make.
#[inline(always)]
fn as_number(value: u64) -> f64 {
    f64::from_bits(value | 0x4330_0000_0000_0000) - 4_503_599_627_370_496.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_permutation_of_any_size() {
        for n in (1..200).chain([1000, 2500, 4096, 16_385]) {
            let p = Permutation::new(Key(n * 7 + 1), n);
            let mut seen = vec![false; n as usize];
            for i in 0..n {
                let at = p.at(i) as usize;
                assert!(!seen[at], "{n}: {at} twice");
                seen[at] = true;
            }
        }
    }

    /// Walking many at once is walking each, whatever the vectors, offset and length.
    #[test]
    fn many_at_once_are_each() {
        for n in [1, 2, 3, 100, 257, 1000, 4096, 1_000_003] {
            let p = Permutation::new(Key(n), n);
            for (first, len) in [(0, 1), (n / 3, 256), (n - 1, 700), (0, 1000)] {
                let expect: Vec<u64> = (first..first + len).map(|i| p.at(i)).collect();
                for vectors in [Vectors::Widest, Vectors::Avx2, Vectors::Baseline] {
                    let mut got = vec![0; len as usize];
                    p.fill(vectors, first, &mut got);
                    assert_eq!(got, expect, "{n} {first} {vectors:?}");
                }
            }
        }
    }

    /// The place as the definition has it, with conversions in place of digits.
    #[test]
    fn places_are_those_of_the_definition() {
        let within = |k: u64| (k as f64 + 0.5) / 4_503_599_627_370_496.0;
        for n in [1_u64, 3, 2048, 1000, 10_000_000_000] {
            let cells = Cells::new(n);
            for k in [0, 1, 12_345_678_901, 2_251_799_813_685_247, 2_251_799_813_685_248, (1 << 52) - 1] {
                for cell in [0, n / 2, n - 1] {
                    let plain = (cell as f64 + ((k >> cells.cut) as f64 + 0.5) * cells.step) / n as f64;
                    assert_eq!(cells.place(cell, within(k)).to_bits(), plain.to_bits(), "{n} {k} {cell}");
                }
            }
        }
    }

    /// Rank correlation of two columns of n cells is about normal with variance
    /// 1/(n-1): of 300 pairs none beyond 4.5 sd (false alarm 0.002), and the
    /// mean square within 5 of its standard errors (1e-6).
    #[test]
    fn columns_are_uncorrelated() {
        let n = 2048_u64;
        let mean = (n - 1) as f64 / 2.0;
        let variance = ((n * n - 1) as f64) / 12.0;
        let mut squares = 0.0;
        let pairs = 300;
        for pair in 0..pairs {
            let a = Permutation::new(Key(2 * pair), n);
            let b = Permutation::new(Key(2 * pair + 1), n);
            let sum: f64 = (0..n).map(|i| (a.at(i) as f64 - mean) * (b.at(i) as f64 - mean)).sum();
            let score = sum / (n as f64 * variance) * ((n - 1) as f64).sqrt();
            assert!(score.abs() < 4.5, "{pair}: {score}");
            squares += score * score;
        }
        let mean_square = squares / pairs as f64;
        assert!((mean_square - 1.0).abs() < 5.0 * (2.0 / pairs as f64).sqrt(), "{mean_square}");
    }

    #[test]
    fn places_stay_inside_their_cell() {
        for n in [1_u64, 2, 3, 1000, 2048, 1_250_000_000, 10_000_000_000] {
            let cells = Cells::new(n);
            for cell in [0, n / 2, n - 1] {
                for within in [1.110_223_024_625_156_5e-16, 0.3, 1.0 - 1.110_223_024_625_156_5e-16] {
                    let u = cells.place(cell, within);
                    assert!(u > 0.0 && u < 1.0, "{n} {cell} {within}: {u}");
                    let back = u * n as f64;
                    assert!(back >= cell as f64 - 1e-5 && back <= (cell + 1) as f64 + 1e-5);
                }
            }
        }
    }
}
