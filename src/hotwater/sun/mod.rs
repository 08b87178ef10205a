//! Simulated sun, for homes without meter readings: what a kilowatt of panels makes in each step of a year.
//!
//! Each day of each run has a clearness index (global irradiation over that outside the atmosphere), drawn with memory
//! from day to day ([`clearness`]) from a month's mean and spread ([`climate`]). Within the day it follows the mean
//! course of a day plus passing clouds, the day's total kept ([`clouds`]); it is split into beam and diffuse
//! ([`split`]) and turned onto the roofs ([`plane`]). The sun's way ([`position`], [`geometry`]) does not vary
//! between runs and stands in tables.
//!
//! Hours are local solar time unless a [`Clock`] says otherwise: panels and weather know no other time. A household
//! lives by the clock, which in summer may run an hour and a half ahead of the sun; so a simulation that sets demand
//! against the sun should give its clock.

pub mod clearness;
pub mod climate;
pub mod clouds;
mod expected;
mod fault;
pub mod geometry;
pub mod plane;
pub mod position;
mod record;
pub mod split;
mod tables;
mod year;

pub use climate::Climate;
pub use fault::SunError;
pub use geometry::Clock;
pub use year::{Sun, SunBatch};

/// Where the panels stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Degrees, north positive.
    pub latitude: f64,
    /// Share of the light that the ground reflects: 0.2 for grass and built-up land (Liu and Jordan 1963), up to 0.7
    /// for fresh snow.
    pub albedo: f64,
}

/// One plane of panels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roof {
    /// Degrees from level: 0 flat, 90 a wall.
    pub tilt: f64,
    /// Direction it faces, degrees from north clockwise: 90 east, 180 south, 270 west.
    pub azimuth: f64,
    /// Share of the panels' power on it; the shares of all roofs add up to 1.
    pub share: f64,
}

#[cfg(test)]
mod tests;
