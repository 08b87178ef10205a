//! The runs that count, ordered once for every measure.

use std::borrow::Cow;

/// The result of the runs that have a value: its order, ranks and standardised values.
///
/// Positions are those among the runs kept; a run without a value (NaN, or
/// -infinity, which means nothing) is kept nowhere.
pub struct Outcome {
    /// Runs given.
    pub runs: usize,
    /// Which runs are kept; none when all are.
    kept: Option<Vec<u32>>,
    /// Replicate of each kept run; empty for independent runs.
    pub replicate: Vec<u32>,
    /// Number of replicates; 0 for independent runs.
    pub replicates: usize,
    /// What the variance-based measures are of, with mean 0 and variance 1 (divisor n): the
    /// value, or 1 for never and 0 else as soon as any run is never. Empty if constant.
    pub standard: Vec<f64>,
    /// Kept runs that are never.
    pub never: usize,
    /// Kept runs by rising value, never last.
    pub order: Vec<u32>,
    /// Where each lot of equal values ends in `order`.
    pub tie_ends: Vec<u32>,
    /// Twice the average rank (from 1) of each kept run.
    pub doubled_ranks: Vec<u32>,
}

impl Outcome {
    /// Run r of `result` belongs to replicate r mod `replicates`.
    pub fn of(result: &[f64], replicates: Option<u32>) -> Outcome {
        let counts = |x: f64| !x.is_nan() && x != f64::NEG_INFINITY;
        let kept: Option<Vec<u32>> = (!result.iter().all(|&x| counts(x)))
            .then(|| (0..).zip(result).filter(|(_, x)| counts(**x)).map(|(i, _)| i).collect());
        let values = chosen(kept.as_deref(), result);
        let n = values.len();
        let replicates = replicates.map_or(0, |r| r as usize);
        // Fewer than two replicates, or hardly a run in each: no error from them.
        let replicates = if replicates >= 2 && n >= 2 * replicates { replicates } else { 0 };
        let replicate_of = |position: usize| {
            let run = kept.as_ref().map_or(position, |kept| kept[position] as usize);
            (run % replicates.max(1)) as u32
        };
        let replicate = if replicates == 0 { Vec::new() } else { (0..n).map(replicate_of).collect() };
        let never = values.iter().filter(|x| x.is_infinite()).count();
        let standard = if never > 0 {
            standardise(values.iter().map(|x| f64::from(u8::from(x.is_infinite()))).collect())
        } else {
            standardise(values.to_vec())
        };
        let order = order_of(&values);
        let tie_ends = tie_ends(&values, &order);
        let doubled_ranks = doubled_ranks(&order, &tie_ends);
        drop(values);
        Outcome {
            runs: result.len(),
            kept,
            replicate,
            replicates,
            standard,
            never,
            order,
            tie_ends,
            doubled_ranks,
        }
    }

    /// Number of runs kept.
    pub fn n(&self) -> usize {
        self.order.len()
    }

    /// Whether all kept runs have the same value.
    pub fn constant(&self) -> bool {
        self.tie_ends.len() < 2
    }

    /// The values of a column in the runs kept.
    pub fn kept<'a>(&self, column: &'a [f64]) -> Cow<'a, [f64]> {
        chosen(self.kept.as_deref(), column)
    }
}

fn chosen<'a>(kept: Option<&[u32]>, column: &'a [f64]) -> Cow<'a, [f64]> {
    match kept {
        None => Cow::Borrowed(column),
        Some(kept) => {
            Cow::Owned(kept.iter().map(|&i| column.get(i as usize).copied().unwrap_or(f64::NAN)).collect())
        }
    }
}

/// Mean 0 and variance 1; empty if constant.
fn standardise(mut values: Vec<f64>) -> Vec<f64> {
    let n = values.len() as f64;
    let Some(&first) = values.first() else { return values };
    // About the first value, so that a large common part costs no digits, and by the
    // largest, so that no square overflows.
    let most = values.iter().map(|x| (x - first).abs()).fold(0.0, f64::max);
    if !(most > 0.0 && most.is_finite()) {
        return Vec::new();
    }
    values.iter_mut().for_each(|x| *x = (*x - first) / most);
    let mean = values.iter().sum::<f64>() / n;
    values.iter_mut().for_each(|x| *x -= mean);
    let sd = (values.iter().map(|x| x * x).sum::<f64>() / n).sqrt();
    values.iter_mut().for_each(|x| *x /= sd);
    values
}

/// Positions by rising value, equal values by position. No NaN.
///
/// Sorts single whole numbers, twice as fast as pairs: the value's leading bits
/// with the position behind them. Values that agree in those are put right after.
pub fn order_of(values: &[f64]) -> Vec<u32> {
    let keys: Vec<u64> = values.iter().map(|&x| key(x)).collect();
    let (Some(&least), Some(&most)) = (keys.iter().min(), keys.iter().max()) else { return Vec::new() };
    let bits = usize::BITS - (values.len() - 1).leading_zeros();
    let needed = 64 - (most - least).leading_zeros();
    let cut = (needed + bits).saturating_sub(64);
    let mut packed: Vec<u64> =
        keys.iter().zip(0u64..).map(|(key, i)| ((key - least) >> cut) << bits | i).collect();
    packed.sort_unstable();
    let position = |p: u64| (p & ((1 << bits) - 1)) as u32;
    let mut order: Vec<u32> = packed.iter().map(|&p| position(p)).collect();
    if cut > 0 {
        let mut start = 0;
        for same in packed.chunk_by(|a, b| a >> bits == b >> bits) {
            let end = start + same.len();
            // Stable: equal values stay by position.
            order[start..end].sort_by_key(|&i| keys[i as usize]);
            start = end;
        }
    }
    order
}

/// A whole number that orders as the value does; -0 as 0.
fn key(x: f64) -> u64 {
    let bits = (x + 0.0).to_bits();
    if bits >> 63 == 1 { !bits } else { bits | (1 << 63) }
}

/// Where each lot of equal values ends in `order`.
pub fn tie_ends(values: &[f64], order: &[u32]) -> Vec<u32> {
    let mut ends = Vec::with_capacity(order.len());
    let mut at = 0;
    for pair in order.windows(2) {
        at += 1;
        if values[pair[0] as usize] != values[pair[1] as usize] {
            ends.push(at);
        }
    }
    if !order.is_empty() {
        ends.push(order.len() as u32);
    }
    ends
}

/// Twice the average rank from 1, a whole number even among ties.
pub fn doubled_ranks(order: &[u32], tie_ends: &[u32]) -> Vec<u32> {
    let mut ranks = vec![0; order.len()];
    let mut start = 0;
    for &end in tie_ends {
        // Ranks start + 1 to end.
        for &i in &order[start as usize..end as usize] {
            ranks[i as usize] = start + 1 + end;
        }
        start = end;
    }
    ranks
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As by sorting pairs: values that agree in their leading bits, signs, zeros, never, ties.
    #[test]
    fn orders_as_by_sorting_pairs() {
        let mut values: Vec<f64> = (0..5_000u64).map(|i| ((i * i * 7919) % 3001) as f64 - 1500.0).collect();
        values.extend((0..3_000u64).map(|i| 1.0 + ((i * 7919) % 3001) as f64 * f64::EPSILON));
        values.extend([f64::INFINITY, -0.0, 0.0, -0.0, 1e-320, -1e-320, f64::MAX, f64::MIN, f64::INFINITY]);
        let mut expect: Vec<(f64, u32)> = values.iter().map(|x| x + 0.0).zip(0..).collect();
        expect.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        assert_eq!(order_of(&values), expect.into_iter().map(|(_, i)| i).collect::<Vec<u32>>());
        assert_eq!(order_of(&[]), [0u32; 0]);
        assert_eq!(order_of(&[4.0]), [0]);
        assert_eq!(order_of(&[4.0; 3]), [0, 1, 2]);
    }

    #[test]
    fn ranks_are_those_of_the_house() {
        let values = [2.0, f64::INFINITY, 2.0, -0.0, 0.0, 7.0, f64::INFINITY, 2.0];
        let order = order_of(&values);
        let ranks: Vec<f64> =
            doubled_ranks(&order, &tie_ends(&values, &order)).iter().map(|&r| f64::from(r) / 2.0).collect();
        assert_eq!(ranks, crate::analysis::statistics::ranks::average_ranks(&values));
    }

    #[test]
    fn standard_values_have_mean_0_and_variance_1() {
        for scale in [1.0, 1e-300, 1e300] {
            let found = standardise([1.0, 2.0, 3.0, 4.0].map(|x| x * scale).to_vec());
            let expect = [-1.5, -0.5, 0.5, 1.5].map(|x: f64| x / 1.25f64.sqrt());
            found.iter().zip(expect).for_each(|(x, e)| assert!((x - e).abs() < 1e-14, "{x} {e}"));
        }
        assert!(standardise(vec![7.0; 3]).is_empty());
    }
}
