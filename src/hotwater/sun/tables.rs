//! The sun's year at a place, step by step: made once, shared by all runs.

use libm::{exp, sin};

use super::clouds::Memory;
use super::fault::{SunError, within};
use super::geometry::{Arc, Clock, DaySun, Incidence};
use super::plane::Views;
use super::{Place, Roof};
use crate::hotwater::time::DAYS;

/// A step in which the sun is up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lit {
    /// Step of the day.
    pub(super) step: usize,
    /// Irradiation outside the atmosphere on the level, kWh/m2.
    pub(super) outside: f64,
    /// Its mean clearness over that of the day.
    pub(super) shape: f64,
    /// Highest clearness it can have.
    pub(super) ceiling: f64,
    /// 1 - sine of the sun's height.
    pub(super) lowness: f64,
    /// Beam on the panels over that on the level.
    pub(super) beam_ratio: f64,
}

/// A day: its lit steps and their sums.
#[derive(Debug, Clone, Default)]
pub(super) struct DayTable {
    pub(super) lit: Vec<Lit>,
    /// Irradiation outside the atmosphere on the level, kWh/m2.
    pub(super) outside: f64,
    /// Highest clearness that the day can have; 0 without sun.
    pub(super) ceiling: f64,
    /// Variance of the day's clearness from clouds before the total is put right, over that of a step.
    pub(super) common: f64,
}

#[derive(Debug, Clone)]
pub(super) struct Tables {
    pub(super) steps: usize,
    pub(super) days: Vec<DayTable>,
    pub(super) memory: Memory,
    pub(super) views: Views,
}

/// The ratio of the beam on the panels to that on the level is no higher than where the sun stands 5 degrees up: for a
/// lower sun it grows beyond all bounds, while the way through the air takes most of the beam.
const LARGEST_BEAM_RATIO: f64 = 11.5;

/// What a cloudless sky lets through, from the sine of the sun's height: Haurwitz 1945, 1098 exp(-0.059 / sine) W/m2 on
/// the level over the solar constant, and a tenth more for very clear air and light from the edges of clouds.
/// Below 3.4 degrees it stays as it is there: refraction and twilight keep some light.
fn ceiling_at(height_sine: f64) -> f64 {
    1.1 * 0.803 * exp(-0.059 / height_sine.max(0.06))
}

impl Tables {
    pub(super) fn new(
        place: &Place,
        roofs: &[Roof],
        clock: &Clock,
        steps: usize,
    ) -> Result<Tables, SunError> {
        check(place, roofs, clock, steps)?;
        let memory = Memory::new(steps / 24);
        let days = (0..DAYS).map(|day| day_table(place, roofs, clock, day, steps, memory)).collect();
        Ok(Tables { steps, days, memory, views: Views::new(place, roofs) })
    }

    /// Highest clearness of every day, 0 where the sun does not rise.
    pub(super) fn ceilings(&self) -> Vec<f64> {
        self.days.iter().map(|d| d.ceiling).collect()
    }
}

/// The sun of every day on the level, by half hours: enough to know what clearness a place can have.
pub(super) fn level(latitude: f64) -> Result<Tables, SunError> {
    Tables::new(&Place { latitude, albedo: 0.0 }, &[], &Clock::SOLAR, 48)
}

fn check(place: &Place, roofs: &[Roof], clock: &Clock, steps: usize) -> Result<(), SunError> {
    within("the latitude", place.latitude, -90.0, 90.0)?;
    within("the albedo", place.albedo, 0.0, 1.0)?;
    within("solar noon by the clock", clock.noon_hour, 8.0, 16.0)?;
    if steps == 0 || !steps.is_multiple_of(24) || steps > 96 {
        let message = format!("a day has {steps} steps");
        return Err(SunError::new(message, "it must have 24, 48 or 96: hours, half hours or quarters"));
    }
    for (i, roof) in roofs.iter().enumerate() {
        within(&format!("the tilt of roof {}", i + 1), roof.tilt, 0.0, 90.0)?;
        within(&format!("the azimuth of roof {}", i + 1), roof.azimuth, -360.0, 360.0)?;
        within(&format!("the share of roof {}", i + 1), roof.share, 0.0, 1.0)?;
    }
    let sum: f64 = roofs.iter().map(|r| r.share).sum();
    if !roofs.is_empty() && (sum - 1.0).abs() > 1e-6 {
        return Err(SunError::new(
            format!("the shares of the roofs add up to {sum}"),
            "they must add up to 1",
        ));
    }
    Ok(())
}

fn day_table(
    place: &Place,
    roofs: &[Roof],
    clock: &Clock,
    day: usize,
    steps: usize,
    memory: Memory,
) -> DayTable {
    let sun = DaySun::new(place, clock, day);
    let level = Incidence::new(place, 0.0, 0.0, sun.declination);
    let planes: Vec<(f64, Incidence)> =
        roofs.iter().map(|r| (r.share, Incidence::of_roof(place, r, sun.declination))).collect();
    let lit: Vec<Lit> = (0..steps).filter_map(|step| lit_step(&sun, &level, &planes, step, steps)).collect();
    finish(lit, memory)
}

/// Scales the shape so that the day's mean clearness is that of the day, and adds up.
fn finish(mut lit: Vec<Lit>, memory: Memory) -> DayTable {
    let outside: f64 = lit.iter().map(|l| l.outside).sum();
    if outside <= 0.0 {
        return DayTable::default();
    }
    let mean = |f: fn(&Lit) -> f64, lit: &[Lit]| lit.iter().map(|l| l.outside * f(l)).sum::<f64>() / outside;
    let scale = 1.0 / mean(|l| l.shape, &lit);
    for l in &mut lit {
        l.shape *= scale;
    }
    let ceiling = mean(|l| l.ceiling, &lit);
    let common = memory.variance_of_mean(lit.iter().map(|l| l.outside / outside));
    DayTable { lit, outside, ceiling, common }
}

fn lit_step(
    sun: &DaySun,
    level: &Incidence,
    planes: &[(f64, Incidence)],
    step: usize,
    steps: usize,
) -> Option<Lit> {
    let over = |f: &dyn Fn(Arc) -> f64| sun.lit(step, steps).map(f).sum::<f64>();
    let (length, sum, cosine) = (over(&Arc::length), over(&|arc| level.sum(arc)), over(&Arc::cosine));
    // Less than a millionth of a step with the sun above it: a sunrise at the step's very end.
    if sum <= 1e-9 {
        return None;
    }
    let height_sine = sum / length;
    let ratio = |plane: &Incidence| (over(&|arc| plane.sum(arc)) / sum).min(LARGEST_BEAM_RATIO);
    Some(Lit {
        step,
        outside: sun.outside_kw * sum * (12.0 / core::f64::consts::PI),
        shape: course(sun.sunset, cosine / length),
        ceiling: ceiling_at(height_sine),
        lowness: 1.0 - height_sine,
        beam_ratio: planes.iter().map(|(share, plane)| share * ratio(plane)).sum(),
    })
}

/// Mean clearness at an hour over that of the day: Collares-Pereira and Rabl 1979, whose ratio of hourly to daily
/// irradiation is that outside the atmosphere times a + b cos w. The sunset's hour angle in radians.
fn course(sunset: f64, cosine: f64) -> f64 {
    let from_60 = sin(sunset - core::f64::consts::FRAC_PI_3);
    (0.409 + 0.5016 * from_60) + (0.6609 - 0.4767 * from_60) * cosine
}
