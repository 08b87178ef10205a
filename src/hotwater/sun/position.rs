//! Where the sun stands: Meeus 1998, *Astronomical Algorithms*, chapters 7, 12, 13, 25 and 28 (the lower accuracy:
//! 0.01 degrees from 1950 to 2050). Angles are degrees, without refraction.

use libm::{acos, asin, atan2, cos, floor, sin};

/// Seconds by which uniform time is ahead of universal time (about 2017 to 2030); the sun moves 0.001 degrees in it.
const DELTA_T_SECONDS: f64 = 69.0;

/// Julian day of noon, universal time, on 1 January 2018: a Monday, like the first day of the simulated year.
const FIRST_NOON: f64 = 2_458_120.0;

/// The sun as seen from the centre of the earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coordinates {
    /// Apparent longitude along the ecliptic.
    pub longitude_deg: f64,
    /// Apparent right ascension, 0 to 360.
    pub right_ascension_deg: f64,
    /// Apparent declination.
    pub declination_deg: f64,
    /// Distance in astronomical units.
    pub distance_au: f64,
    /// Apparent less mean solar time, minutes.
    pub equation_of_time_min: f64,
    /// Apparent sidereal time at Greenwich, 0 to 360 (meaningful for a moment of universal time).
    sidereal_deg: f64,
}

/// The sun as seen by someone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Horizontal {
    /// Height of its centre above the horizon, without refraction.
    pub elevation_deg: f64,
    /// From north clockwise, 0 to 360.
    pub azimuth_deg: f64,
}

pub(super) fn rad(degrees: f64) -> f64 {
    degrees * (core::f64::consts::PI / 180.0)
}

fn deg(radians: f64) -> f64 {
    radians * (180.0 / core::f64::consts::PI)
}

/// The same angle from 0 up to 360.
fn turned(degrees: f64) -> f64 {
    degrees - 360.0 * floor(degrees / 360.0)
}

/// Julian day of a date of the Gregorian calendar; `day` with its fraction (Meeus, chapter 7).
pub fn julian_day(year: i32, month: u8, day: f64) -> f64 {
    let (y, m) = if month > 2 {
        (f64::from(year), f64::from(month))
    } else {
        (f64::from(year) - 1.0, f64::from(month) + 12.0)
    };
    let century = floor(y / 100.0);
    let leap = 2.0 - century + floor(century / 4.0);
    floor(365.25 * (y + 4716.0)) + floor(30.6001 * (m + 1.0)) + day + leap - 1524.5
}

/// The sun at a moment given as a Julian day of universal time.
pub fn coordinates(julian_day: f64) -> Coordinates {
    let uniform = julian_day + DELTA_T_SECONDS / 86_400.0;
    let t = (uniform - 2_451_545.0) / 36_525.0;
    let mean_longitude = 280.46646 + (36000.76983 + 0.0003032 * t) * t;
    let anomaly = rad(357.52911 + (35999.05029 - 0.0001537 * t) * t);
    let eccentricity = 0.016708634 - (0.000042037 + 0.0000001267 * t) * t;
    let centre = (1.914602 - (0.004817 + 0.000014 * t) * t) * sin(anomaly)
        + (0.019993 - 0.000101 * t) * sin(2.0 * anomaly)
        + 0.000289 * sin(3.0 * anomaly);
    let distance =
        1.000001018 * (1.0 - eccentricity * eccentricity) / (1.0 + eccentricity * cos(anomaly + rad(centre)));
    let node = rad(125.04 - 1934.136 * t);
    let nutation = -0.00478 * sin(node);
    let longitude = rad(mean_longitude + centre - 0.00569 + nutation);
    let obliquity = rad(23.439_291_1 - 0.013_004_167 * t + 0.00256 * cos(node));
    let right_ascension = turned(deg(atan2(cos(obliquity) * sin(longitude), cos(longitude))));
    let ahead = mean_longitude - 0.0057183 - right_ascension + nutation * cos(obliquity);
    let since = julian_day - 2_451_545.0;
    Coordinates {
        longitude_deg: turned(deg(longitude)),
        right_ascension_deg: right_ascension,
        declination_deg: deg(asin(sin(obliquity) * sin(longitude))),
        distance_au: distance,
        equation_of_time_min: 4.0 * (turned(ahead + 180.0) - 180.0),
        sidereal_deg: turned(
            280.46061837 + 360.98564736629 * since + 0.000387933 * t * t + nutation * cos(obliquity),
        ),
    }
}

/// The sun at noon on a day of the simulated year, 0 to 364.
pub fn on_day(day: usize) -> Coordinates {
    coordinates(FIRST_NOON + day as f64)
}

/// Height and direction from latitude, declination and hour angle (0 at solar noon, positive after it, 15 an hour).
pub fn horizontal(latitude: f64, declination: f64, hour_angle: f64) -> Horizontal {
    let (phi, delta, hour) = (rad(latitude), rad(declination), rad(hour_angle));
    let up = sin(phi) * sin(delta) + cos(phi) * cos(delta) * cos(hour);
    let north = cos(phi) * sin(delta) - sin(phi) * cos(delta) * cos(hour);
    let west = cos(delta) * sin(hour);
    Horizontal {
        // Better than the arcsine near the zenith.
        elevation_deg: deg(atan2(up, (north * north + west * west).sqrt())),
        azimuth_deg: turned(deg(atan2(-west, north))),
    }
}

/// The sun at a moment (Julian day of universal time) seen from a latitude and a longitude (east positive), the
/// parallax of 0.0024 degrees allowed for.
pub fn seen_from(latitude: f64, longitude: f64, julian_day: f64) -> Horizontal {
    let sun = coordinates(julian_day);
    let hour_angle = sun.sidereal_deg + longitude - sun.right_ascension_deg;
    let seen = horizontal(latitude, sun.declination_deg, hour_angle);
    let parallax = 8.794 / 3600.0 / sun.distance_au * cos(rad(seen.elevation_deg));
    Horizontal { elevation_deg: seen.elevation_deg - parallax, ..seen }
}

/// Hour angle at which the sun's centre passes `altitude`, 0 (it never rises so high) to 180 (it never sinks so low).
///
/// Altitude 0 is the plain geometry that irradiation needs; almanacs take -0.833 for refraction and the sun's rim.
pub fn half_day_deg(latitude: f64, declination: f64, altitude: f64) -> f64 {
    let (phi, delta) = (rad(latitude), rad(declination));
    let cosine = (sin(rad(altitude)) - sin(phi) * sin(delta)) / (cos(phi) * cos(delta));
    if cosine >= 1.0 {
        0.0
    } else if cosine <= -1.0 {
        180.0
    } else {
        deg(acos(cosine))
    }
}

/// Hours between sunrise and sunset, for the `altitude` of [`half_day_deg`].
pub fn day_length_hours(latitude: f64, declination: f64, altitude: f64) -> f64 {
    half_day_deg(latitude, declination, altitude) * 2.0 / 15.0
}
