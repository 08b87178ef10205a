//! Where the sun stands.

use super::Check;
use crate::hotwater::sun::position::{coordinates, half_day_deg, horizontal, julian_day};

/// Worked examples of an almanac (Meeus 1998, examples 7.a and 25.a).
pub(super) fn almanac() -> Check {
    let mut check = Check::new("sun by the almanac", "Meeus 1998, chapters 7 and 25", "degrees, days", 0.01);
    for (year, month, day, expected) in
        [(1957, 10, 4.81, 2_436_116.31), (2000, 1, 1.5, 2_451_545.0), (1987, 6, 19.5, 2_446_966.0)]
    {
        let got = julian_day(year, month, day);
        check.apart("Julian day", got, expected, (got - expected).abs());
    }
    // 13 October 1992, 0 h dynamical time: longitude 199 54' 32", right ascension 198.38083, declination -7.78507.
    let sun = coordinates(2_448_908.5);
    for (name, got, expected) in [
        ("longitude", sun.longitude_deg, 199.908_95),
        ("right ascension", sun.right_ascension_deg, 198.380_83),
        ("declination", sun.declination_deg, -7.785_07),
    ] {
        check.apart(name, got, expected, (got - expected).abs());
    }
    check
}

/// Closed forms of the sphere: at solar noon the height is 90 - latitude + declination; half a day is the arc whose cosine is
/// -tan(latitude) tan(declination), in degrees; at the equinox it is a quarter of a turn everywhere.
pub(super) fn geometry() -> Check {
    let mut check =
        Check::new("sun by the sphere", "closed forms of spherical trigonometry", "degrees", 1e-9);
    for (latitude, declination) in [(60.0, 23.44), (51.5, -20.0), (0.0, 10.0), (-35.0, -5.0)] {
        let noon = horizontal(latitude, declination, 0.0).elevation_deg;
        let expected = 90.0 - f64::abs(latitude - declination);
        check.apart("height at noon", noon, expected, (noon - expected).abs());
    }
    for (latitude, declination, expected) in [
        (60.0, 23.44, 138.673_724_910_222_66),
        (51.5, -20.0, 62.769_372_740_910_62),
        (43.0, 0.0, 90.0),
        (80.0, 23.0, 180.0),
        (80.0, -23.0, 0.0),
    ] {
        let got = half_day_deg(latitude, declination, 0.0);
        check.apart("half a day", got, expected, (got - expected).abs());
    }
    check
}
