//! Light on tilted planes: beam by its ratio to that on the level, diffuse from around the sun and from the whole sky
//! (Hay and Davies 1980) with a brighter horizon (Reindl, Beckman and Duffie 1990, *Evaluation of hourly tilted surface
//! radiation models*), and what the ground throws back (Liu and Jordan 1963).
//!
//! How much of the diffuse light counts as coming from around the sun or from the horizon depends on the sky alone, so
//! the sum over several roofs is that over one with the means of their ratios and views.

use libm::cos;

use super::position::rad;
use super::split::diffuse_share;
use super::{Place, Roof};

/// What does not change over the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Views {
    /// Mean share of the sky that the panels see.
    pub sky: f64,
    /// Mean share of the sky times the cube of the sine of half the tilt: how much of a brighter horizon they see.
    pub horizon: f64,
    /// Mean share of the ground, times the albedo.
    pub ground: f64,
}

impl Views {
    /// Of roofs whose shares add up to 1.
    pub fn new(place: &Place, roofs: &[Roof]) -> Views {
        let mean = |f: &dyn Fn(f64) -> f64| roofs.iter().map(|r| r.share * f(cos(rad(r.tilt)))).sum::<f64>();
        Views {
            sky: mean(&|upright| (1.0 + upright) / 2.0),
            horizon: mean(&|upright| {
                let half_sine = ((1.0 - upright) / 2.0).max(0.0).sqrt();
                (1.0 + upright) / 2.0 * (half_sine * half_sine * half_sine)
            }),
            ground: place.albedo * mean(&|upright| (1.0 - upright) / 2.0),
        }
    }
}

/// Irradiation of the panels over that outside the atmosphere on the level.
///
/// `beam_ratio` is the beam on the panels over that on the level.
#[inline(always)]
pub fn on_panels(clearness: f64, beam_ratio: f64, views: Views) -> f64 {
    let share = diffuse_share(clearness);
    let diffuse = clearness * share;
    // The beam that got through is also the share of the diffuse light that comes from around the sun.
    let beam = clearness - diffuse;
    // The root of the beam's share of all light tells how bright the horizon is.
    let sky = views.sky + views.horizon * (1.0 - share).sqrt();
    beam * beam_ratio * (1.0 + diffuse) + diffuse * (1.0 - beam) * sky + clearness * views.ground
}

/// The same under a sky that is equally bright everywhere (Liu and Jordan 1963).
pub fn under_even_sky(clearness: f64, beam_ratio: f64, views: Views) -> f64 {
    let diffuse = clearness * diffuse_share(clearness);
    (clearness - diffuse) * beam_ratio + diffuse * views.sky + clearness * views.ground
}
