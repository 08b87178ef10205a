//! Whether enough runs have been done (JCGM 101:2008, 7.9.4).

use super::digits::tolerance;

/// What one block of runs says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
    /// Low quantile.
    pub low: f64,
    /// High quantile.
    pub high: f64,
}

/// How the blocks scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stability {
    /// Standard error of each figure, from the blocks.
    pub errors: Block,
    /// What twice each error must not exceed.
    pub tolerance: f64,
    /// All four are stable.
    pub stable: bool,
}

/// The rule of JCGM 101:2008, 7.9.4: stable when twice the standard deviation
/// of the mean of each block estimate is within the tolerance of the standard
/// uncertainty `u` of all runs so far, written with `digits` digits. None
/// below two blocks, and when `u` is not positive. The rule can stop early by
/// luck (Wuebbeler, Harris, Cox, Elster 2010).
pub fn stability(blocks: &[Block], u: f64, digits: usize) -> Option<Stability> {
    let error = |of: fn(&Block) -> f64| {
        let values: Vec<f64> = blocks.iter().map(of).collect();
        super::intervals::mean_and_error(&values).map(|(_, error)| error)
    };
    let errors = Block {
        mean: error(|b| b.mean)?,
        sd: error(|b| b.sd)?,
        low: error(|b| b.low)?,
        high: error(|b| b.high)?,
    };
    let tolerance = tolerance(u, digits)?.tolerance;
    let all = [errors.mean, errors.sd, errors.low, errors.high];
    Some(Stability { errors, tolerance, stable: all.iter().all(|s| 2.0 * s <= tolerance) })
}
