//! Exact order statistics of which it is known beforehand about where they lie.

use multiversion::multiversion;

use super::bytes::{Damaged, Kind, Reader, Writer};
use super::{Accumulator, Chunk};

/// Values handled between counting and keeping.
const STRIP: usize = 512;

/// Counts what lies between windows, keeps what lies in them.
///
/// A wanted rank whose value lies in a window is found exactly, wherever the
/// windows came from; one that lies between windows is not, and is then to be
/// found another way. For runs that all weigh one.
#[derive(Debug, Clone, PartialEq)]
pub struct Windows {
    /// Low and high edge of each window in turn, rising: it holds low <= x < high.
    edges: Vec<f64>,
    /// Values at or above each edge, never among them.
    at_least: Vec<u64>,
    /// Values in any window.
    inside: Vec<f64>,
    runs: u64,
    never: u64,
    without_value: u64,
}

/// What [`Windows`] says.
#[derive(Debug, Clone, PartialEq)]
pub struct WindowsFound {
    /// Values in any window, not in order.
    pub inside: Vec<f64>,
    /// For each window: numbers below it, and numbers below its upper end.
    pub ranks: Vec<(u64, u64)>,
    /// Numbers (-infinity counts as one).
    pub numbers: u64,
    /// Runs that are never.
    pub never: u64,
    /// NaNs.
    pub without_value: u64,
}

impl Windows {
    /// Windows `(low, high)` in rising order of their low ends; those that overlap become one. Empty ones are left out.
    pub fn new(windows: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let mut edges: Vec<f64> = Vec::new();
        for (low, high) in windows {
            match edges.last_mut() {
                Some(end) if low <= *end => *end = if high > *end { high } else { *end },
                _ if low < high => edges.extend([low, high]),
                _ => {}
            }
        }
        let at_least = vec![0; edges.len()];
        Windows { edges, at_least, inside: Vec::new(), runs: 0, never: 0, without_value: 0 }
    }

    /// The same windows, no runs yet.
    #[must_use]
    pub fn fresh(&self) -> Self {
        let at_least = vec![0; self.edges.len()];
        Windows { edges: self.edges.clone(), at_least, inside: Vec::new(), runs: 0, never: 0, without_value: 0 }
    }

    /// [`finish`](Accumulator::finish) without a copy of what was kept.
    pub fn into_found(self) -> WindowsFound {
        let with_value = self.runs - self.without_value;
        // Never lies at or above every edge.
        let below: Vec<u64> = self.at_least.iter().map(|n| with_value - n).collect();
        WindowsFound {
            inside: self.inside,
            ranks: below.as_chunks::<2>().0.iter().map(|&[low, high]| (low, high)).collect(),
            numbers: with_value - self.never,
            never: self.never,
            without_value: self.without_value,
        }
    }
}

/// Counts and keeps the values of a strip: in how many edges' upper half each lies tells where it is, and an odd number
/// that it is in a window. Returns how many are never and how many NaN.
#[multiversion(targets("x86_64+avx512f+avx512vl+avx512dq+avx512bw", "x86_64+avx2"))]
fn take(strip: &[f64], edges: &[f64], at_least: &mut [u64], inside: &mut Vec<f64>) -> (u64, u64) {
    let mut above = [0_u64; STRIP];
    let above = &mut above[..strip.len()];
    for (&edge, count) in edges.iter().zip(at_least) {
        let mut sum = 0;
        for (above, &x) in above.iter_mut().zip(strip) {
            let yes = u64::from(x >= edge);
            *above += yes;
            sum += yes;
        }
        *count += sum;
    }
    // Written always, kept where inside: a branch here would be mispredicted at every fifth value.
    let mut kept = [0.0; STRIP];
    let mut n = 0;
    for (&above, &x) in above.iter().zip(strip) {
        if let Some(place) = kept.get_mut(n) {
            *place = x;
        }
        n += (above & 1) as usize;
    }
    inside.extend_from_slice(&kept[..n]);
    let count = |is: fn(f64) -> bool| strip.iter().map(|&x| u64::from(is(x))).sum::<u64>();
    (count(|x| x == f64::INFINITY), count(f64::is_nan))
}

impl Accumulator for Windows {
    type Found = WindowsFound;

    fn add(&mut self, chunk: Chunk) {
        for strip in chunk.values.chunks(STRIP) {
            let (never, without_value) = take(strip, &self.edges, &mut self.at_least, &mut self.inside);
            self.never += never;
            self.without_value += without_value;
        }
        self.runs += chunk.values.len() as u64;
    }

    /// `later` must have the same windows.
    fn merge(&mut self, later: Self) {
        debug_assert_eq!(self.edges, later.edges);
        self.at_least.iter_mut().zip(&later.at_least).for_each(|(a, b)| *a += b);
        self.inside.extend(later.inside);
        self.runs += later.runs;
        self.never += later.never;
        self.without_value += later.without_value;
    }

    fn finish(&self) -> WindowsFound {
        self.clone().into_found()
    }
    fn save(&self) -> Vec<u8> {
        let mut to = Writer::new(Kind::Windows);
        to.numbers(&self.edges);
        self.at_least.iter().for_each(|&n| to.count(n));
        to.numbers(&self.inside);
        for n in [self.runs, self.never, self.without_value] {
            to.count(n);
        }
        to.end()
    }

    fn load(bytes: &[u8]) -> Result<Self, Damaged> {
        let mut from = Reader::new(Kind::Windows, bytes)?;
        let edges = from.numbers()?;
        if edges.len() % 2 == 1 || !edges.windows(2).all(|w| matches!(w, [a, b] if a < b)) {
            return Err(Damaged::new("windows do not rise"));
        }
        let at_least = edges.iter().map(|_| from.count()).collect::<Result<Vec<u64>, _>>()?;
        let inside = from.numbers()?;
        let (runs, never, without_value) = (from.count()?, from.count()?, from.count()?);
        from.end()?;
        let counted = at_least.iter().chain([&never]).max().copied().unwrap_or(0).checked_add(without_value);
        if counted.is_none_or(|counted| counted > runs) {
            return Err(Damaged::new("more runs in windows than runs"));
        }
        Ok(Windows { edges, at_least, inside, runs, never, without_value })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_what_lies_inside_and_counts_the_rest() {
        // 0 to 9, windows [2,4) and [6,7); the third begins in the second and reaches to 8.
        let mut all = Windows::new([(2.0, 4.0), (6.0, 7.0), (6.5, 8.0)]);
        let mut later = all.fresh();
        all.add(Chunk::plain(0, &[9.0, 3.0, f64::NAN, 0.0, 6.0, f64::INFINITY, 2.0]));
        later.add(Chunk::plain(7, &[1.0, 8.0, 4.0, 7.0, 5.0, f64::NEG_INFINITY]));
        all.merge(later);
        let found = all.finish();
        assert_eq!(found.inside, [3.0, 6.0, 2.0, 7.0]);
        // Below 2: -infinity, 0, 1. Below 4: and 2, 3. Below 6: and 4, 5. Below 8: and 6, 7.
        assert_eq!(found.ranks, [(3, 5), (7, 9)]);
        assert_eq!((found.numbers, found.never, found.without_value), (11, 1, 1));
        let bytes = all.save();
        assert_eq!(Windows::load(&bytes), Ok(all));
        assert!(Windows::load(&bytes[..bytes.len() - 1]).is_err());
    }
}
