//! Where the sun stands.

use super::*;
use crate::hotwater::sun::position::{
    coordinates, day_length_hours, half_day_deg, horizontal, julian_day, on_day, seen_from,
};

#[test]
fn dates_have_their_julian_days() {
    // Meeus 1998, example 7.a and the table below it.
    for (year, month, day, expected) in [
        (1957, 10, 4.81, 2_436_116.31),
        (2000, 1, 1.5, 2_451_545.0),
        (1999, 1, 1.0, 2_451_179.5),
        (1987, 6, 19.5, 2_446_966.0),
        (1900, 1, 1.0, 2_415_020.5),
    ] {
        near(julian_day(year, month, day), expected, 1e-6, "julian day");
    }
}

/// Meeus 1998, examples 25.a and 28.a: 13 October 1992, 0 h dynamical time.
#[test]
fn the_sun_of_the_worked_example() {
    let sun = coordinates(2_448_908.5 - 69.0 / 86_400.0);
    near(sun.longitude_deg, 199.90895, 2e-5, "apparent longitude");
    near(sun.right_ascension_deg, 198.38083, 2e-5, "right ascension");
    near(sun.declination_deg, -7.78507, 2e-5, "declination");
    near(sun.distance_au, 0.99766, 1e-5, "distance");
    near(sun.equation_of_time_min, 13.0 + 42.6 / 60.0, 0.01, "equation of time");
}

/// Reda and Andreas 2004: 17 October 2003, 12:30:30 seven hours behind universal time, 39.742476 N, 105.1786 W,
/// 1830.14 m, 820 mbar, 11 degC. Their zenith angle has refraction in it, by their equation 42.
#[test]
fn the_sun_of_an_algorithm_a_hundred_times_finer() {
    let moment = julian_day(2003, 10, 17.0 + (19.0 + 30.5 / 60.0) / 24.0);
    near(moment, 2_452_930.312847, 1e-6, "julian day");
    let sun = coordinates(moment);
    near(sun.right_ascension_deg, 202.22741, 0.01, "right ascension");
    near(sun.declination_deg, -9.31434, 0.01, "declination");
    near(sun.distance_au, 0.9965422974, 5e-5, "distance");
    let seen = seen_from(39.742476, -105.1786, moment);
    let e = seen.elevation_deg;
    let bent = 820.0 / 1010.0 * 283.0 / (273.0 + 11.0) * 1.02
        / (60.0 * libm::tan((e + 10.3 / (e + 5.11)).to_radians()));
    near(90.0 - e - bent, 50.11162, 0.01, "zenith");
    near(seen.azimuth_deg, 194.34024, 0.01, "azimuth");
}

#[test]
fn positions_of_a_separate_program() {
    for p in independent("positions") {
        let seen = seen_from(number(&p, "latitude"), number(&p, "longitude"), number(&p, "julian_day"));
        near(seen.elevation_deg, number(&p, "elevation"), 0.01, &format!("elevation {p}"));
        // A degree of azimuth is the less of the sky the higher the sun.
        let apart = (seen.azimuth_deg - number(&p, "azimuth")) * libm::cos(seen.elevation_deg.to_radians());
        near(apart, 0.0, 0.01, &format!("azimuth {p}"));
    }
}

/// Spencer 1971, good to 0.035 degrees and 0.6 minutes plus the drift of the calendar over four years.
#[test]
fn declination_and_equation_of_time_through_the_year() {
    for f in independent("fourier") {
        let sun = on_day(number(&f, "day") as usize);
        near(sun.declination_deg, number(&f, "declination"), 0.25, &format!("{f}"));
        near(sun.equation_of_time_min, number(&f, "minutes"), 0.9, &format!("{f}"));
    }
}

#[test]
fn days_are_as_long_as_stepping_through_them_says() {
    for d in independent("daylight") {
        let declination = on_day(number(&d, "day") as usize).declination_deg;
        let hours = day_length_hours(number(&d, "latitude"), declination, 0.0);
        near(hours, number(&d, "hours"), 0.005, &format!("{d}"));
    }
}

/// Almanacs: sunrise to sunset of the rim with refraction, at the solstices.
#[test]
fn days_are_as_long_as_almanacs_say() {
    const JUNE: f64 = 23.436;
    for (place, latitude, declination, hours, minutes) in [
        ("London, June", 51.51, JUNE, 16.0, 38.0),
        ("Reykjavik, June", 64.15, JUNE, 21.0, 8.0),
        ("Sydney, December", -33.87, -JUNE, 14.0, 25.0),
        ("Sydney, June", -33.87, JUNE, 9.0, 54.0),
        ("Quito, June", -0.18, JUNE, 12.0, 7.0),
    ] {
        near(day_length_hours(latitude, declination, -0.833), hours + minutes / 60.0, 0.05, place);
    }
}

#[test]
fn polar_night_and_midnight_sun() {
    for latitude in [69.65, 78.2, 90.0] {
        for sign in [1.0, -1.0] {
            assert_eq!(day_length_hours(sign * latitude, sign * 23.43, 0.0), 24.0);
            assert_eq!(day_length_hours(sign * latitude, sign * -23.43, 0.0), 0.0);
        }
    }
    // The pole's day turns with the declination's sign.
    assert_eq!(half_day_deg(90.0, 0.1, 0.0), 180.0);
    assert_eq!(half_day_deg(90.0, -0.1, 0.0), 0.0);
    // A place of neither: the geometric day at the equator is half of it whatever the season.
    near(day_length_hours(0.0, 15.0, 0.0), 12.0, 1e-12, "equator");
}

/// Duffie and Beckman 2013, example 1.6.2: latitude 43; half past nine on 13 February (declination -14): zenith 66.5,
/// 40.0 east of south; half past six on the evening of 1 July (23.1): zenith 79.6, 112.0 west of south.
#[test]
fn the_sun_of_the_textbook() {
    let (morning, evening) = (horizontal(43.0, -14.0, -37.5), horizontal(43.0, 23.1, 97.5));
    near(90.0 - morning.elevation_deg, 66.5, 0.06, "zenith in the morning");
    near(morning.azimuth_deg, 180.0 - 40.0, 0.1, "azimuth in the morning");
    near(90.0 - evening.elevation_deg, 79.6, 0.06, "zenith in the evening");
    near(evening.azimuth_deg, 180.0 + 112.0, 0.1, "azimuth in the evening");
}

#[test]
fn the_sun_at_noon_and_at_the_zenith() {
    let noon = horizontal(50.0, 20.0, 0.0);
    near(noon.elevation_deg, 60.0, 1e-12, "noon elevation");
    near(noon.azimuth_deg, 180.0, 1e-12, "noon azimuth");
    near(horizontal(-50.0, 20.0, 0.0).azimuth_deg, 0.0, 1e-12, "noon in the north");
    near(horizontal(20.0, 20.0, 0.0).elevation_deg, 90.0, 1e-6, "zenith");
    let (morning, evening) = (horizontal(0.0, 0.0, -45.0), horizontal(0.0, 0.0, 45.0));
    near(morning.azimuth_deg, 90.0, 1e-9, "east");
    near(evening.azimuth_deg, 270.0, 1e-9, "west");
    near(evening.elevation_deg, 45.0, 1e-9, "height");
}
