//! Sobol points by index, and their scrambling.
//!
//! Direction numbers: Joe and Kuo 2008, *Constructing Sobol sequences with
//! better two-dimensional projections* (set D6). Scrambling: Owen's nested
//! scheme (Owen 1998) through a hash of the bit-reversed coordinate (Laine,
//! Karras 2011; Burley 2020, *Practical hash-based Owen scrambling*), widened
//! to 64 bits, so that the digits beyond the sequence's 32 come from the same
//! hash and a coordinate has 52 bits.

use super::maths::kernels;
use super::philox::{Key, mix, uniform};

/// Dimensions in the table.
pub const DIMENSIONS: u16 = 1111;

const TABLE: &str = include_str!("joe-kuo-d6-1111.txt");

/// Direction numbers of one dimension, first digit in the highest bit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Directions([u32; 32]);

impl Directions {
    /// Of dimension 1 to [`DIMENSIONS`]; none outside.
    pub fn new(dimension: u16) -> Option<Directions> {
        if dimension == 1 {
            return Some(Self::van_der_corput());
        }
        let row = TABLE.lines().find_map(|line| row_of(line, dimension))?;
        let [_, degree, inner, initial @ ..] = row.as_slice() else { return None };
        let degree = usize::try_from(*degree).ok()?;
        if initial.len() != degree || degree == 0 {
            return None;
        }
        let mut v = [0_u32; 32];
        for (k, m) in initial.iter().enumerate() {
            v[k] = m << (31 - k);
        }
        for k in degree..32 {
            let mut next = v[k - degree] ^ (v[k - degree] >> degree);
            for j in 1..degree {
                if inner >> (degree - 1 - j) & 1 == 1 {
                    next ^= v[k - j];
                }
            }
            v[k] = next;
        }
        Some(Directions(v))
    }

    /// Dimension 1: the index with its bits reversed.
    pub fn van_der_corput() -> Directions {
        let mut v = [0; 32];
        for (k, value) in v.iter_mut().enumerate() {
            *value = 1 << (31 - k);
        }
        Directions(v)
    }

    /// The point of an index, unscrambled, times 2^32.
    pub fn point(&self, index: u32) -> u32 {
        let mut x = 0;
        for (k, v) in self.0.iter().enumerate() {
            if index >> k & 1 == 1 {
                x ^= v;
            }
        }
        x
    }

    /// What changes from index i to i + 1 by the number of ones at i's low end, bits reversed.
    pub(crate) fn reversed_changes(&self) -> [u32; 33] {
        let mut changes = [0; 33];
        let mut all = 0;
        for (change, v) in changes.iter_mut().zip(self.0) {
            all ^= v.reverse_bits();
            *change = all;
        }
        // After the last index the sequence starts again.
        changes[32] = all;
        changes
    }
}

fn row_of(line: &str, dimension: u16) -> Option<Vec<u32>> {
    let first = line.split(' ').next()?;
    if first.parse() != Ok(dimension) {
        return None;
    }
    line.split_whitespace().map(|word| word.parse().ok()).collect()
}

/// The scrambling of one coordinate in one replicate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scramble([u64; 4]);

impl Scramble {
    pub(crate) fn new(key: Key) -> Scramble {
        let k = |i: u64| mix(key.0 ^ i.wrapping_mul(0xA24B_AED4_963E_E407));
        Scramble([k(1), k(2) | 1, k(3), k(4) | 1])
    }

    /// A bijection of 64 bits in which each bit is flipped, or not, according
    /// to the bits below it: on reversed digits that is Owen's nested scheme.
    #[inline(always)]
    fn hash(self, x: u64) -> u64 {
        let [a, b, c, d] = self.0;
        let x = x.wrapping_add(a);
        let x = x ^ x.wrapping_mul(0x9F7D_5A4E_6C50_B47C);
        let x = x.wrapping_mul(b);
        let x = x ^ x.wrapping_mul(0x5D9E_83C2_B82F_1E52);
        let x = x.wrapping_add(c);
        let x = x ^ x.wrapping_mul(0xE36A_91F4_C7AF_E638);
        let x = x.wrapping_mul(d);
        x ^ x.wrapping_mul(0xC5B3_2D68_8D22_F6E6)
    }

    /// An index shuffled so that each block of a power of two stays one: for
    /// coordinates beyond the table.
    pub(crate) fn shuffle(self, index: u32) -> u32 {
        // On the index as it stands the scheme would keep residues; on its
        // reversed bits it keeps blocks.
        (self.hash(u64::from(index.reverse_bits())) as u32).reverse_bits()
    }
}

#[inline(always)]
fn scramble_all(scramble: Scramble, reversed: &[u64], out: &mut [f64]) {
    for (o, x) in out.iter_mut().zip(reversed) {
        *o = uniform(scramble.hash(*x).reverse_bits());
    }
}

kernels! {
    /// Scrambled coordinates of points whose bits are reversed.
    pub(crate) fn scramble_fill(scramble: Scramble, reversed: &[u64], out: &mut [f64]) = scramble_all;
}

/// Points of consecutive indices of one dimension, bits reversed.
#[derive(Debug)]
pub(crate) struct Walk<'a> {
    changes: &'a [u32; 33],
    index: u32,
    reversed: u32,
}

impl<'a> Walk<'a> {
    pub(crate) fn new(directions: &Directions, changes: &'a [u32; 33], index: u32) -> Walk<'a> {
        Walk { changes, index, reversed: directions.point(index).reverse_bits() }
    }

    /// The point, and a step on.
    #[inline]
    pub(crate) fn next_reversed(&mut self) -> u64 {
        let reversed = self.reversed;
        self.reversed ^= self.changes[self.index.trailing_ones() as usize];
        self.index = self.index.wrapping_add(1);
        u64::from(reversed)
    }
}
