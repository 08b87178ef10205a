//! From a path of boxes to the one that is suggested.

use super::boxes::Region;
use super::lot::{Lot, Orders, Rows};
use super::peel::{Sort, paste, peel};
use super::rounding::rounded;
use rayon::prelude::*;

/// Most factors that a suggested box restricts (Bryant, Lempert 2010): more, and nobody keeps them in mind.
const MOST_RESTRICTED: usize = 4;

/// What a search found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The suggested box; without restrictions if none is better than all runs.
    pub region: Region,
    /// The boxes gone through: all peels, then what was pasted to the last.
    pub path: Vec<Region>,
}

/// Searches the rows of `left`. Of every box on the path the restrictions that may be chance are dropped; the box with the
/// best smaller of coverage and density is pasted to, its limits are rounded outward, and chance is dropped once more.
pub fn find(lot: &Lot, orders: &Orders, left: &Rows, sorts: &[Sort]) -> Found {
    let mut path = peel(lot, orders, left, sorts);
    if let Some(last) = path.last() {
        path.extend(paste(lot, left, sorts, last));
    }
    let hits = lot.count(left).hits as f64;
    let scored: Vec<(Region, f64)> = path
        .par_iter()
        .map(|region| {
            let region = region.clone().simplified(lot, left, MOST_RESTRICTED);
            let inside = lot.count(&region.inside(lot, left));
            let coverage = inside.hits as f64 / hits;
            (region, if inside.runs > 0 { coverage.min(inside.density()) } else { 0.0 })
        })
        .collect();
    let mut best: Option<&(Region, f64)> = None;
    for one in &scored {
        // Of equals the one with fewer restrictions, then the larger.
        let better = best.is_none_or(|(region, score)| {
            one.1 > *score || (one.1 == *score && one.0.limits.len() < region.limits.len())
        });
        if better {
            best = Some(one);
        }
    }
    let chosen = best.map_or_else(Region::default, |(region, _)| region.clone());
    let chosen = paste(lot, left, sorts, &chosen).pop().unwrap_or(chosen);
    let region = rounded(&chosen, lot, orders, sorts).simplified(lot, left, MOST_RESTRICTED);
    Found { region, path }
}

/// Correlation of two columns whose means are 0; none when one is constant.
pub(super) fn correlation(a: &[f64], b: &[f64]) -> Option<f64> {
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    (aa > 0.0 && bb > 0.0).then(|| ab / (aa * bb).sqrt())
}
