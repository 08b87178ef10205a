//! The bytes of a saved accumulator: magic, kind, version, body, check sum.

use sha2::{Digest, Sha256};

const MAGIC: &[u8; 4] = b"psac";
const VERSION: u16 = 1;
const CHECK: usize = 8;

/// Why saved bytes cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damaged {
    reason: &'static str,
}

impl Damaged {
    pub(super) fn new(reason: &'static str) -> Self {
        Damaged { reason }
    }
}

impl std::fmt::Display for Damaged {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "saved runs cannot be used: {}", self.reason)
    }
}

impl std::error::Error for Damaged {}

/// Which accumulator the bytes belong to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Moments = 1,
    Shares = 2,
    Classes = 3,
    Replicates = 4,
    Extremes = 5,
    Quantiles = 6,
    Sketch = 7,
}

/// Writes little-endian.
pub(super) struct Writer {
    bytes: Vec<u8>,
}

impl Writer {
    pub(super) fn new(kind: Kind) -> Self {
        let mut bytes = Vec::new();
        bytes.extend(MAGIC);
        bytes.push(kind as u8);
        bytes.extend(VERSION.to_le_bytes());
        Writer { bytes }
    }

    pub(super) fn count(&mut self, x: u64) {
        self.bytes.extend(x.to_le_bytes());
    }

    pub(super) fn number(&mut self, x: f64) {
        self.count(x.to_bits());
    }

    pub(super) fn numbers(&mut self, all: &[f64]) {
        self.count(all.len() as u64);
        for &x in all {
            self.number(x);
        }
    }

    pub(super) fn end(mut self) -> Vec<u8> {
        let sum = Sha256::digest(&self.bytes);
        self.bytes.extend(sum.iter().take(CHECK));
        self.bytes
    }
}

/// Reads what [`Writer`] wrote.
pub(super) struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    pub(super) fn new(kind: Kind, bytes: &'a [u8]) -> Result<Self, Damaged> {
        let at = bytes.len().checked_sub(CHECK).ok_or(Damaged::new("too short"))?;
        let (body, sum) = bytes.split_at(at);
        let rest = body.strip_prefix(MAGIC).ok_or(Damaged::new("not a file of saved runs"))?;
        if !Sha256::digest(body).iter().take(CHECK).eq(sum) {
            return Err(Damaged::new("the check sum does not fit"));
        }
        let mut reader = Reader { rest };
        if reader.take::<1>()? != [kind as u8] {
            return Err(Damaged::new("it holds another statistic"));
        }
        if u16::from_le_bytes(reader.take()?) != VERSION {
            return Err(Damaged::new("written by another version"));
        }
        Ok(reader)
    }

    fn take<const N: usize>(&mut self) -> Result<[u8; N], Damaged> {
        let (&first, rest) = self.rest.split_first_chunk().ok_or(Damaged::new("it ends too early"))?;
        self.rest = rest;
        Ok(first)
    }

    pub(super) fn count(&mut self) -> Result<u64, Damaged> {
        Ok(u64::from_le_bytes(self.take()?))
    }

    pub(super) fn number(&mut self) -> Result<f64, Damaged> {
        Ok(f64::from_bits(self.count()?))
    }

    /// A length of items of `size` bytes each, which must still be there.
    pub(super) fn length(&mut self, size: usize) -> Result<usize, Damaged> {
        let n = self.count()?;
        let fits = n <= (self.rest.len() / size) as u64;
        if fits { Ok(n as usize) } else { Err(Damaged::new("it ends too early")) }
    }

    pub(super) fn numbers(&mut self) -> Result<Vec<f64>, Damaged> {
        let n = self.length(8)?;
        (0..n).map(|_| self.number()).collect()
    }

    pub(super) fn end(self) -> Result<(), Damaged> {
        if self.rest.is_empty() { Ok(()) } else { Err(Damaged::new("it is too long")) }
    }
}
