//! Smallest and largest number, and in which run.

use super::bytes::{Damaged, Kind, Reader, Writer};
use super::{Accumulator, Chunk};

/// A value and the first run that has it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extreme {
    /// Index of the run.
    pub run: u64,
    /// Its value.
    pub value: f64,
}

/// What [`Extremes`] says.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ExtremesFound {
    /// Smallest number.
    pub lowest: Option<Extreme>,
    /// Largest number (never is none).
    pub highest: Option<Extreme>,
    /// First run that is never.
    pub first_never: Option<u64>,
    /// First run without a value.
    pub first_without_value: Option<u64>,
}

/// Keeps the extremes; weights do not matter to it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Extremes {
    found: ExtremesFound,
}

impl Extremes {
    /// No runs yet.
    pub fn new() -> Self {
        Self::default()
    }
}

fn keep(mine: &mut Option<Extreme>, theirs: Option<Extreme>, better: fn(f64, f64) -> bool) {
    if let Some(t) = theirs
        && mine.is_none_or(|m| better(t.value, m.value) || t.value == m.value && t.run < m.run)
    {
        *mine = Some(t);
    }
}

fn earlier(mine: &mut Option<u64>, theirs: Option<u64>) {
    *mine = match (*mine, theirs) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    };
}

impl Accumulator for Extremes {
    type Found = ExtremesFound;

    fn add(&mut self, chunk: Chunk) {
        let f = &mut self.found;
        for (run, &value) in (chunk.first_run..).zip(chunk.values) {
            if value.is_finite() {
                let this = Some(Extreme { run, value });
                keep(&mut f.lowest, this, |a, b| a < b);
                keep(&mut f.highest, this, |a, b| a > b);
            } else if value == f64::INFINITY {
                earlier(&mut f.first_never, Some(run));
            } else {
                earlier(&mut f.first_without_value, Some(run));
            }
        }
    }

    fn merge(&mut self, later: Self) {
        let f = &mut self.found;
        keep(&mut f.lowest, later.found.lowest, |a, b| a < b);
        keep(&mut f.highest, later.found.highest, |a, b| a > b);
        earlier(&mut f.first_never, later.found.first_never);
        earlier(&mut f.first_without_value, later.found.first_without_value);
    }

    fn finish(&self) -> ExtremesFound {
        self.found
    }

    fn save(&self) -> Vec<u8> {
        let mut to = Writer::new(Kind::Extremes);
        let f = self.found;
        for extreme in [f.lowest, f.highest] {
            to.count(u64::from(extreme.is_some()));
            to.count(extreme.map_or(0, |e| e.run));
            to.number(extreme.map_or(0.0, |e| e.value));
        }
        for run in [f.first_never, f.first_without_value] {
            to.count(u64::from(run.is_some()));
            to.count(run.unwrap_or(0));
        }
        to.end()
    }

    fn load(bytes: &[u8]) -> Result<Self, Damaged> {
        let mut from = Reader::new(Kind::Extremes, bytes)?;
        let extreme = |from: &mut Reader| -> Result<Option<Extreme>, Damaged> {
            let there = from.count()? != 0;
            let found = Extreme { run: from.count()?, value: from.number()? };
            Ok(there.then_some(found))
        };
        let run = |from: &mut Reader| -> Result<Option<u64>, Damaged> {
            let there = from.count()? != 0;
            let run = from.count()?;
            Ok(there.then_some(run))
        };
        let found = ExtremesFound {
            lowest: extreme(&mut from)?,
            highest: extreme(&mut from)?,
            first_never: run(&mut from)?,
            first_without_value: run(&mut from)?,
        };
        from.end()?;
        Ok(Extremes { found })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_run_with_the_extreme() {
        let mut all = Extremes::new();
        all.add(Chunk::plain(10, &[2.0, f64::INFINITY, -1.0, 2.0]));
        let mut later = Extremes::new();
        later.add(Chunk::plain(14, &[f64::NAN, -1.0, 2.0]));
        all.merge(later);
        let found = all.finish();
        assert_eq!(found.lowest, Some(Extreme { run: 12, value: -1.0 }));
        assert_eq!(found.highest, Some(Extreme { run: 10, value: 2.0 }));
        assert_eq!((found.first_never, found.first_without_value), (Some(11), Some(14)));
        assert_eq!(Extremes::load(&all.save()), Ok(all));
    }
}
