//! Statistics that are gathered chunk by chunk: add, merge, finish, save, load.
//!
//! Runs come in chunks of [`CHUNK`] whatever the block size; each chunk is
//! added to a fresh accumulator, and these are merged along a fixed tree
//! ([`merge_tree`], [`Tree`]), so that the answer's bits depend neither on the
//! number of threads nor on who did which chunk. Parts of a split study that
//! begin at a whole subtree are saved and merged later with the same bits.
//!
//! Never (+infinity) and values that are no number (NaN, -infinity) are
//! counted apart by every accumulator and enter no sum.

mod bytes;
mod classes;
mod extremes;
mod moments;
mod quantiles;
mod replicates;
mod shares;
mod sketch;
mod tree;
pub mod windows;

pub use bytes::Damaged;
pub use classes::{ClassCounts, Classes};
pub use extremes::{Extreme, Extremes, ExtremesFound};
pub use moments::{Moments, MomentsFound};
pub use quantiles::{KEPT_AT_MOST, Quantiles, QuantilesFound};
pub use replicates::Replicates;
pub use shares::{Counts, Shares};
pub use sketch::{Sketch, SketchFound};
pub use tree::{Tree, merge_tree};

use bytes::{Reader, Writer};

/// Runs in a chunk.
pub const CHUNK: usize = 4096;

/// Values of consecutive runs.
#[derive(Debug, Clone, Copy)]
pub struct Chunk<'a> {
    /// Index of the first run.
    pub first_run: u64,
    /// A value for each run.
    pub values: &'a [f64],
    /// A weight for each run; none when all are one. A run whose weight is
    /// negative or no number counts as a run without a value.
    pub weights: Option<&'a [f64]>,
}

impl<'a> Chunk<'a> {
    /// Runs that all weigh one.
    pub fn plain(first_run: u64, values: &'a [f64]) -> Self {
        Chunk { first_run, values, weights: None }
    }

    /// Value and weight of each run; the weight is NaN where it is not allowed.
    fn pairs(self) -> impl Iterator<Item = (f64, f64)> + 'a {
        let weight = move |i: usize| match self.weights {
            None => 1.0,
            Some(w) => match w.get(i) {
                Some(&w) if (0.0..f64::INFINITY).contains(&w) => w,
                _ => f64::NAN,
            },
        };
        self.values.iter().enumerate().map(move |(i, &x)| (x, weight(i)))
    }
}

/// A statistic that can be gathered in parts.
pub trait Accumulator: Sized {
    /// What it says at the end.
    type Found;

    /// Takes in the runs of a chunk, which follow those already added.
    fn add(&mut self, chunk: Chunk);

    /// Takes in what `later` gathered, whose runs follow these.
    fn merge(&mut self, later: Self);

    /// The statistic so far.
    fn finish(&self) -> Self::Found;

    /// Its state as bytes: named, versioned, with a check sum.
    fn save(&self) -> Vec<u8>;

    /// Its state from bytes.
    ///
    /// # Errors
    /// [`Damaged`] when the bytes are not what [`save`](Self::save) wrote.
    fn load(bytes: &[u8]) -> Result<Self, Damaged>;
}

/// Runs by what sort of value they have.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tally {
    /// Runs.
    pub runs: u64,
    /// Sum of their weights.
    pub weight: f64,
}

impl Tally {
    fn add(&mut self, weight: f64) {
        self.runs += 1;
        self.weight += weight;
    }

    fn merge(&mut self, later: Tally) {
        self.runs += later.runs;
        self.weight += later.weight;
    }

    fn write(self, to: &mut Writer) {
        to.count(self.runs);
        to.number(self.weight);
    }

    fn read(from: &mut Reader) -> Result<Tally, Damaged> {
        let tally = Tally { runs: from.count()?, weight: from.number()? };
        if tally.weight >= 0.0 { Ok(tally) } else { Err(Damaged::new("a sum of weights is negative")) }
    }
}
