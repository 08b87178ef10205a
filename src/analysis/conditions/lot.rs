//! The runs that a search works on, in columns, and sets of them as bits.

use rayon::prelude::*;

/// Runs in columns: a row is a run, in the order of the runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// For each factor, its value in each row; no NaN, never is +infinity.
    pub columns: Vec<Vec<f64>>,
    /// Whether the row is one of those looked for (a failure, say).
    pub hits: Rows,
    /// Replicate of each row; one lot of independent runs when all are 0.
    pub part: Vec<u32>,
}

/// A set of rows, a bit each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rows(Vec<u64>);

/// Runs, and how many of them are hits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Count {
    /// Runs.
    pub runs: u64,
    /// Hits among them.
    pub hits: u64,
}

impl Count {
    /// Hits for each run; NaN without runs.
    pub fn density(self) -> f64 {
        self.hits as f64 / self.runs as f64
    }
}

impl Rows {
    /// The rows of `0..n` that meet a condition.
    pub fn of(n: usize, met: impl Fn(usize) -> bool) -> Self {
        let word = |first: usize| {
            (first..n.min(first + 64)).fold(0u64, |bits, row| bits | u64::from(met(row)) << (row - first))
        };
        Rows((0..n).step_by(64).map(word).collect())
    }

    /// The rows of a column that meet a condition.
    pub fn where_met(column: &[f64], met: impl Fn(f64) -> bool) -> Self {
        // Gathers the lowest bits of eight bytes, the first byte's lowest.
        const GATHER: u64 = 0x0102_0408_1020_4080;
        let word = |values: &[f64]| {
            // Bytes first, as compilers make vector code of that; then eight bytes at once into bits.
            let mut bytes = [[0u8; 8]; 8];
            for (byte, &x) in bytes.as_flattened_mut().iter_mut().zip(values) {
                *byte = u8::from(met(x));
            }
            bytes
                .iter()
                .rev()
                .fold(0, |word, &eight| word << 8 | u64::from_le_bytes(eight).wrapping_mul(GATHER) >> 56)
        };
        Rows(column.chunks(64).map(word).collect())
    }

    /// Whether a row belongs to the set.
    pub fn has(&self, row: usize) -> bool {
        self.0.get(row / 64).is_some_and(|word| word >> (row % 64) & 1 == 1)
    }

    /// How many rows there are.
    pub fn len(&self) -> u64 {
        self.0.iter().map(|word| u64::from(word.count_ones())).sum()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Rows of both sets.
    pub fn and(&self, other: &Rows) -> Rows {
        Rows(self.0.iter().zip(&other.0).map(|(a, b)| a & b).collect())
    }

    /// Rows of this set that the other lacks.
    pub fn less(&self, other: &Rows) -> Rows {
        Rows(self.0.iter().zip(&other.0).map(|(a, b)| a & !b).collect())
    }

    /// The rows in order.
    pub fn iter(&self) -> impl Iterator<Item = usize> + '_ {
        self.0.iter().enumerate().flat_map(|(at, &word)| {
            let rest = std::iter::successors(Some(word), |w| Some(w & w.wrapping_sub(1)));
            rest.take_while(|&w| w != 0).map(move |w| at * 64 + w.trailing_zeros() as usize)
        })
    }
}

impl Lot {
    /// The given runs of some columns.
    pub fn new(columns: &[&[f64]], hits: &[bool], part: &[u32]) -> Self {
        let columns = columns.iter().map(|column| column.to_vec()).collect();
        let hits = Rows::of(hits.len(), |row| hits.get(row) == Some(&true));
        Lot { columns, hits, part: part.to_vec() }
    }

    /// The given runs, with columns still to be filled; `hit` and `part` are asked for each run.
    pub(super) fn empty(
        factors: usize,
        runs: &[usize],
        hit: impl Fn(usize) -> bool,
        part: impl Fn(usize) -> u32,
    ) -> Self {
        Lot {
            columns: vec![Vec::new(); factors],
            hits: Rows::of(runs.len(), |row| runs.get(row).is_some_and(|&run| hit(run))),
            part: runs.iter().map(|&run| part(run)).collect(),
        }
    }

    /// How many rows.
    pub fn len(&self) -> usize {
        self.part.len()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.part.is_empty()
    }

    /// All rows.
    pub fn all(&self) -> Rows {
        Rows::of(self.len(), |_| true)
    }

    /// How many rows of a set there are, and how many are hits.
    pub fn count(&self, rows: &Rows) -> Count {
        let both = |(a, b): (&u64, &u64)| u64::from((a & b).count_ones());
        Count { runs: rows.len(), hits: rows.0.iter().zip(&self.hits.0).map(both).sum() }
    }

    /// The same for each replicate.
    pub(super) fn count_parts(&self, rows: &Rows) -> Vec<Count> {
        let parts = self.part.iter().copied().max().map_or(1, |last| last as usize + 1);
        let mut counts = vec![Count::default(); parts];
        for row in rows.iter() {
            if let Some(count) = self.part.get(row).and_then(|&part| counts.get_mut(part as usize)) {
                count.runs += 1;
                count.hits += u64::from(self.hits.has(row));
            }
        }
        counts
    }
}

/// For each factor its rows by rising value, ties in the order of the rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Orders(pub(super) Vec<Vec<u32>>);

impl Orders {
    /// Sorts every column once.
    pub fn of(lot: &Lot) -> Self {
        Orders(lot.columns.par_iter().map(|column| order(column)).collect())
    }
}

/// Rows by rising value. Sorted are single words, the value's high bits before the row's number; rows whose values differ
/// in the bits cut off are then put right among themselves.
fn order(column: &[f64]) -> Vec<u32> {
    // Whole numbers in the order of total_cmp; adding 0 makes -0 equal to 0.
    let key = |x: f64| {
        let bits = (x + 0.0).to_bits();
        if bits >> 63 == 1 { !bits } else { bits | 1 << 63 }
    };
    let low = (column.len() as u64).next_power_of_two() - 1;
    let mut words: Vec<u64> = column.iter().zip(0u64..).map(|(&x, row)| key(x) & !low | row).collect();
    words.sort_unstable();
    let value = |word: u64| column[(word & low) as usize] + 0.0;
    for near in words.chunk_by_mut(|a, b| a & !low == b & !low) {
        if near.iter().any(|&word| value(word) != value(near[0])) {
            near.sort_unstable_by(|&a, &b| value(a).total_cmp(&value(b)).then(a.cmp(&b)));
        }
    }
    words.into_iter().map(|word| (word & low) as u32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_sets() {
        let thirds = Rows::of(200, |row| row % 3 == 0);
        let column: Vec<f64> = (0..200).map(f64::from).collect();
        let high = Rows::where_met(&column, |x| x >= 100.0);
        assert_eq!(thirds.len(), 67);
        let both: Vec<usize> = thirds.and(&high).iter().collect();
        assert_eq!(both, (100..200).filter(|row| row % 3 == 0).collect::<Vec<_>>());
        assert_eq!(thirds.less(&high).len(), 34);
        assert!(thirds.has(198) && !thirds.has(199) && !thirds.has(1000));
    }

    #[test]
    fn orders_rise_and_keep_ties() {
        let never = f64::INFINITY;
        let lot = Lot::new(&[&[3.0, 0.0, never, -0.0, -1.0]], &[false; 5], &[0; 5]);
        assert_eq!(Orders::of(&lot).0, [vec![4, 1, 3, 0, 2]]);
        let ulp = 1.0_f64.next_up();
        let near = Lot::new(&[&[ulp, 1.0, ulp, -ulp, -1.0, never, 1.0]], &[false; 7], &[0; 7]);
        assert_eq!(Orders::of(&near).0, [vec![3, 4, 1, 6, 0, 2, 5]]);
    }
}
