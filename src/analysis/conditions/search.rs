//! From a path of boxes to the one that is suggested.

use super::boxes::Region;
use super::lot::{Count, Lot, Orders, Rows};
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
///
/// Boxes less than one standard error behind the best are as good (Breiman, Friedman, Olshen, Stone 1984, *Classification and
/// regression trees*): of these the one with the fewest restrictions and limits is taken, then the one with the largest sum.
/// Otherwise a lucky slice, worth half a percent of density, costs a tenth of the coverage where density is the smaller one.
pub fn find(lot: &Lot, orders: &Orders, left: &Rows, sorts: &[Sort]) -> Found {
    let mut path = peel(lot, orders, left, sorts);
    if let Some(last) = path.last() {
        path.extend(paste(lot, left, sorts, last));
    }
    let hits = lot.count(left).hits;
    let scored: Vec<Scored> = path
        .par_iter()
        .map(|region| {
            let region = region.clone().simplified(lot, left, MOST_RESTRICTED);
            let inside = lot.count(&region.inside(lot, left));
            Scored::of(region, inside, hits)
        })
        .collect();
    let chosen = choose(&scored);
    let chosen = paste(lot, left, sorts, &chosen).pop().unwrap_or(chosen);
    let region = rounded(&chosen, lot, orders, sorts).simplified(lot, left, MOST_RESTRICTED);
    Found { region, path }
}

/// A box and how good it is.
struct Scored {
    region: Region,
    /// The smaller of coverage and density.
    smaller: f64,
    /// Its standard error.
    error: f64,
    /// Coverage and density together.
    sum: f64,
}

impl Scored {
    fn of(region: Region, inside: Count, hits: u64) -> Self {
        let coverage = inside.hits as f64 / hits.max(1) as f64;
        let density = inside.hits as f64 / inside.runs.max(1) as f64;
        let (smaller, n) = if coverage < density { (coverage, hits) } else { (density, inside.runs) };
        let error = (smaller * (1.0 - smaller) / n.max(1) as f64).sqrt();
        Scored { region, smaller, error, sum: coverage + density }
    }

    /// Factors restricted, and limits in all.
    fn size(&self) -> (usize, usize) {
        let ends = self.region.limits.iter().map(|limit| limit.kept.ends());
        (self.region.limits.len(), ends.sum())
    }
}

fn choose(scored: &[Scored]) -> Region {
    let best = scored.iter().max_by(|a, b| a.smaller.total_cmp(&b.smaller));
    let least = best.map_or(0.0, |best| best.smaller - best.error);
    let as_good = scored.iter().filter(|one| one.smaller >= least);
    // The first of equals: the larger box.
    let simplest = as_good.min_by(|a, b| a.size().cmp(&b.size()).then(b.sum.total_cmp(&a.sum)));
    simplest.map_or_else(Region::default, |one| one.region.clone())
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
