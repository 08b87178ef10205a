//! The stream of random numbers: Philox 4x32 with 10 rounds.
//!
//! A generator without state: a key and a counter give four words, so any
//! draw can be had without those before it. Salmon, Moraes, Dror, Shaw 2011,
//! *Parallel random numbers: as easy as 1, 2, 3*.

use rand::rand_core::{Infallible, TryRng};

use super::maths::{Vectors, kernels};

const MULTIPLY: [u64; 2] = [0xD251_1F53, 0xCD9E_8D57];
const ADVANCE: [u32; 2] = [0x9E37_79B9, 0xBB67_AE85];
const LOW: u64 = 0xFFFF_FFFF;

/// What a stream is used for; each purpose has its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// The value of an input.
    Value = 1,
    /// The yearly shocks of a path.
    Shock = 2,
    /// Fresh draws of an input's distribution for replacements.
    Renewal = 3,
    /// The order of the strata of a Latin hypercube.
    Strata = 4,
    /// The scrambling of Sobol points.
    Scramble = 5,
    /// Second matrix of a variance design.
    SecondMatrix = 6,
    /// Resampling of runs.
    Bootstrap = 7,
    /// Weather, draw-off and appliances within a simulated year.
    Simulated = 8,
}

/// The key of a stream: a fixed hash of all that names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key(pub u64);

impl Key {
    /// Key of the stream `name` for `purpose`.
    pub fn new(seed: u64, name: &str, purpose: Purpose, replicate: u32) -> Key {
        let mut hash = mix(seed);
        for bytes in name.as_bytes().chunks(8) {
            let mut word = [0; 8];
            for (to, from) in word.iter_mut().zip(bytes) {
                *to = *from;
            }
            hash = mix(hash ^ u64::from_le_bytes(word));
        }
        hash = mix(hash ^ name.len() as u64);
        Key(mix(hash ^ (purpose as u64) << 32 ^ u64::from(replicate)))
    }

    /// A key below this one, for the part `part`.
    pub fn part(self, part: u32) -> Key {
        Key(mix(self.0 ^ u64::from(part)))
    }
}

/// Steele, Lea, Flood 2014, *Fast splittable pseudorandom number generators* (finaliser of Stafford).
pub(crate) fn mix(value: u64) -> u64 {
    let z = value.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// The four words of a counter.
pub fn block(key: [u32; 2], counter: [u32; 4]) -> [u32; 4] {
    rounds(key, counter.map(u64::from)).map(|w| w as u32)
}

/// Ten rounds, each word in 64 bits of which the upper half is dirt, so that
/// the widening multiplications become those of the vector unit.
#[inline(always)]
fn rounds(key: [u32; 2], counter: [u64; 4]) -> [u64; 4] {
    let [mut c0, mut c1, mut c2, mut c3] = counter;
    let [mut k0, mut k1] = key;
    for _ in 0..10 {
        let p0 = (c0 & LOW) * MULTIPLY[0];
        let p1 = (c2 & LOW) * MULTIPLY[1];
        c0 = (p1 >> 32) ^ c1 ^ u64::from(k0);
        c2 = (p0 >> 32) ^ c3 ^ u64::from(k1);
        c1 = p1;
        c3 = p0;
        k0 = k0.wrapping_add(ADVANCE[0]);
        k1 = k1.wrapping_add(ADVANCE[1]);
    }
    [c0, c1, c2, c3]
}

/// Uniform (k + 0.5) 2^-52 from the upper 52 bits: exact, never 0 or 1, symmetric.
#[inline(always)]
pub fn uniform(bits: u64) -> f64 {
    const ONE: u64 = 0x3ff0_0000_0000_0000;
    (f64::from_bits((bits >> 12) | ONE) - 1.0) + 1.110_223_024_625_156_5e-16
}

/// Blocks done in one loop, two uniforms each.
const BLOCKS: usize = 64;

/// The uniforms of `out.len() / 2` blocks (at most `BLOCKS`) from block `first` on, in order of index.
#[inline(always)]
fn pairs(key: Key, part: u32, first: u64, out: &mut [f64]) {
    let key = [key.0 as u32, (key.0 >> 32) as u32];
    let mut even = [0.0; BLOCKS];
    let mut odd = [0.0; BLOCKS];
    let count = (out.len() / 2).min(BLOCKS);
    for (i, (e, o)) in even[..count].iter_mut().zip(&mut odd[..count]).enumerate() {
        let at = first.wrapping_add(i as u64);
        let [a, b, c, d] = rounds(key, [at, at >> 32, u64::from(part), 0]);
        *e = uniform((a & LOW) | (b << 32));
        *o = uniform((c & LOW) | (d << 32));
    }
    for (pair, (e, o)) in out.as_chunks_mut::<2>().0.iter_mut().zip(even.iter().zip(&odd)) {
        *pair = [*e, *o];
    }
}

kernels! {
    /// Fills `out` with the uniforms of the indices `first`, `first + 1`, ... of a part of a stream.
    pub fn uniform_fill(key: Key, part: u32, first: u64, out: &mut [f64]) = fill;
}

#[inline(always)]
fn fill(key: Key, part: u32, first: u64, out: &mut [f64]) {
    let mut block = first >> 1;
    // An odd start takes the second value of its block, then goes on evenly.
    let (head, body) = out.split_at_mut(((first & 1) as usize).min(out.len()));
    if let [value] = head {
        *value = one_pair(key, part, block)[1];
        block = block.wrapping_add(1);
    }
    let (body, tail) = body.split_at_mut(body.len() & !1);
    for step in body.chunks_mut(2 * BLOCKS) {
        pairs(key, part, block, step);
        block = block.wrapping_add(BLOCKS as u64);
    }
    if let [value] = tail {
        *value = one_pair(key, part, (first + body.len() as u64 + (first & 1)) >> 1)[0];
    }
}

fn one_pair(key: Key, part: u32, block: u64) -> [f64; 2] {
    let mut both = [0.0; 2];
    pairs(key, part, block, &mut both);
    both
}

/// One uniform of a stream.
pub fn uniform_at(key: Key, part: u32, index: u64) -> f64 {
    let mut one = [0.0];
    Vectors::Baseline.uniform_fill(key, part, index, &mut one);
    one[0]
}

/// A stream as a generator of the rand crate: the words of part `part` in
/// order, for whatever wants a generator rather than a numbered draw.
#[derive(Debug, Clone)]
pub struct Stream {
    key: Key,
    part: u32,
    next_block: u64,
    words: [u32; 4],
    used: usize,
}

impl Stream {
    /// From its first word on.
    pub fn new(key: Key, part: u32) -> Stream {
        Stream { key, part, next_block: 0, words: [0; 4], used: 4 }
    }

    fn next_word(&mut self) -> u32 {
        if self.used >= self.words.len() {
            let (at, key) = (self.next_block, self.key.0);
            let counter = [at as u32, (at >> 32) as u32, self.part, 0];
            self.words = block([key as u32, (key >> 32) as u32], counter);
            self.next_block = at.wrapping_add(1);
            self.used = 0;
        }
        let word = self.words.get(self.used).copied().unwrap_or_default();
        self.used += 1;
        word
    }
}

impl TryRng for Stream {
    type Error = Infallible;

    fn try_next_u32(&mut self) -> Result<u32, Infallible> {
        Ok(self.next_word())
    }

    fn try_next_u64(&mut self) -> Result<u64, Infallible> {
        let low = u64::from(self.next_word());
        Ok(low | u64::from(self.next_word()) << 32)
    }

    fn try_fill_bytes(&mut self, out: &mut [u8]) -> Result<(), Infallible> {
        for bytes in out.chunks_mut(4) {
            for (to, from) in bytes.iter_mut().zip(self.next_word().to_le_bytes()) {
                *to = from;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Known answers of the paper's companion library.
    #[test]
    fn known_answers() {
        assert_eq!(block([0; 2], [0; 4]), [0x6627_e8d5, 0xe169_c58d, 0xbc57_ac4c, 0x9b00_dbd8]);
        let ones = u32::MAX;
        assert_eq!(block([ones; 2], [ones; 4]), [0x408f_276d, 0x41c8_3b0e, 0xa20b_c7c6, 0x6d54_51fd]);
    }

    #[test]
    fn a_fill_is_its_blocks_whatever_the_offset() {
        let key = Key::new(4711, "people", Purpose::Value, 0);
        let expect: Vec<f64> = (0..100_u64)
            .map(|i| {
                let at = (1 << 33) + i;
                let half = at >> 1;
                let words =
                    block([key.0 as u32, (key.0 >> 32) as u32], [half as u32, (half >> 32) as u32, 7, 0]);
                let pair = if at % 2 == 0 { [words[0], words[1]] } else { [words[2], words[3]] };
                let k = (u64::from(pair[0]) | u64::from(pair[1]) << 32) >> 12;
                (k as f64 + 0.5) / 4_503_599_627_370_496.0
            })
            .collect();
        for vectors in [Vectors::Widest, Vectors::Avx2, Vectors::Baseline] {
            for start in 0..20 {
                for n in 0..=(100 - start) {
                    let mut got = vec![0.0; n];
                    vectors.uniform_fill(key, 7, (1 << 33) + start as u64, &mut got);
                    assert_eq!(got, expect[start..start + n]);
                }
            }
        }
    }

    #[test]
    fn uniforms_never_reach_the_ends() {
        assert!(uniform(0) > 0.0 && uniform(u64::MAX) < 1.0);
        assert_eq!(uniform(0), 1.0 - uniform(u64::MAX));
    }
}
