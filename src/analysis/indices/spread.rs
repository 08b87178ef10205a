//! How far figures made from rows of runs are known: by the replicates of a
//! stratified sample, or by the bootstrap of independent rows.

use rayon::prelude::*;

use crate::analysis::statistics::intervals::{CONFIDENCE, replicate_half_width};
use crate::analysis::statistics::quantiles::quantiles;
use crate::analysis::{Estimate, Figure, Interval};
use crate::sampling::Vectors;
use crate::sampling::philox::{Key, Purpose};

/// Resamples of a bootstrap.
const RESAMPLES: u32 = 1000;

/// Where the interval of a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// Student's t over the figures of this many replicates, about the figure of all rows. Row r is of replicate r mod R.
    Replicates(u32),
    /// Rows drawn with replacement, 1,000 times, all columns of a row together; the 2.5th and 97.5th percentile (Efron
    /// 1979). The number is the seed of the streams.
    Bootstrap(u64),
    /// There is none.
    None,
}

/// Figures of weighted rows with their intervals. `rows` are the numbers of the rows at hand; `figures` gets a weight for
/// each and must give equally many figures each time.
pub(super) fn spread(
    rows: &[u64],
    how: Spread,
    figures: &(dyn Fn(&[f64]) -> Vec<f64> + Sync),
) -> Vec<Estimate> {
    let all = figures(&vec![1.0; rows.len()]);
    let samples: Vec<Vec<f64>> = match how {
        Spread::Replicates(n) if n >= 2 => {
            let weights =
                |r: u64| rows.iter().map(|row| f64::from(row % u64::from(n) == r)).collect::<Vec<_>>();
            (0..u64::from(n)).into_par_iter().map(|r| figures(&weights(r))).collect()
        }
        Spread::Bootstrap(seed) if rows.len() >= 2 => {
            (0..RESAMPLES).into_par_iter().map(|k| figures(&resampled(seed, k, rows.len()))).collect()
        }
        _ => Vec::new(),
    };
    all.iter()
        .enumerate()
        .map(|(k, &value)| {
            let column: Vec<f64> = samples.iter().map(|sample| sample[k]).collect();
            interval(value, &column, how)
        })
        .collect()
}

/// How often each of `n` rows is drawn in resample `k`.
fn resampled(seed: u64, k: u32, n: usize) -> Vec<f64> {
    const STEP: usize = 1024;
    let key = Key::new(seed, "indices", Purpose::Bootstrap, k);
    let mut counts = vec![0.0; n];
    let mut uniforms = [0.0; STEP];
    let mut at = 0;
    while at < n {
        let some = &mut uniforms[..STEP.min(n - at)];
        Vectors::Widest.uniform_fill(key, 0, at as u64, some);
        // A uniform is below 1, but n times it may round up to n.
        some.iter().for_each(|u| counts[((u * n as f64) as usize).min(n - 1)] += 1.0);
        at += some.len();
    }
    counts
}

fn interval(value: f64, samples: &[f64], how: Spread) -> Estimate {
    let known = value.is_finite() && !samples.is_empty() && samples.iter().all(|x| x.is_finite());
    if !known {
        return Estimate::alone(Figure::of(value));
    }
    let ends = match how {
        Spread::Replicates(_) => {
            let half = replicate_half_width(samples, CONFIDENCE).unwrap_or(f64::NAN);
            Some((value - half, value + half, Interval::Replicates))
        }
        Spread::Bootstrap(_) => {
            let tail = 0.5 * (1.0 - CONFIDENCE);
            let ends = quantiles(samples, &[tail, 1.0 - tail]);
            ends.first().zip(ends.last()).map(|(low, high)| (*low, *high, Interval::Bootstrap))
        }
        Spread::None => None,
    };
    match ends {
        Some((low, high, interval)) if low.is_finite() && high.is_finite() => Estimate {
            value: Figure::of(value),
            low: Some(Figure::of(low)),
            high: Some(Figure::of(high)),
            interval,
        },
        _ => Estimate::alone(Figure::of(value)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The mean of 400 rows has a standard error known from theirs; the percentiles of 1,000 resamples lie 1.96 of it
    /// out, to about 6 % (three standard errors of such a percentile). The streams are fixed: this does not fail by chance.
    #[test]
    fn the_bootstrap_of_a_mean() {
        let rows: Vec<u64> = (0..400).collect();
        let values: Vec<f64> = rows.iter().map(|r| ((r * 7919) % 400) as f64 / 400.0).collect();
        let mean = |w: &[f64]| {
            let sum: f64 = w.iter().zip(&values).map(|(w, x)| w * x).sum();
            vec![sum / w.iter().sum::<f64>(), w.iter().sum()]
        };
        let found = spread(&rows, Spread::Bootstrap(7), &mean);
        let error = (1.0_f64 / 12.0 / 400.0).sqrt();
        let (low, high) = (found[0].low.unwrap().number().unwrap(), found[0].high.unwrap().number().unwrap());
        assert!(((high - low) / (2.0 * 1.96 * error) - 1.0).abs() < 0.06, "{low} {high}");
        assert_eq!(found[1].low, Some(Figure::Number(400.0)), "as many rows each time");
        let none = spread(&rows, Spread::None, &mean);
        assert_eq!((none[0].value, none[0].interval), (found[0].value, Interval::None));
    }

    /// Replicates whose means are 0, 1, 2, 3: standard error sqrt(5/3)/2, t with 3 degrees of freedom 3.18245.
    #[test]
    fn replicates_of_a_mean() {
        let rows: Vec<u64> = (0..80).collect();
        let mean = |w: &[f64]| {
            let sum: f64 = w.iter().zip(&rows).map(|(w, r)| w * (r % 4) as f64).sum();
            vec![sum / w.iter().sum::<f64>()]
        };
        let found = spread(&rows, Spread::Replicates(4), &mean);
        let half = 3.182_446_305 * (5.0_f64 / 3.0).sqrt() / 2.0;
        assert!((found[0].high.unwrap().number().unwrap() - 1.5 - half).abs() < 1e-6);
        assert_eq!(found[0].interval, Interval::Replicates);
    }
}
