//! Split, planes and tables.

use super::*;
use crate::hotwater::sun::geometry::{Arc, DaySun, Incidence, SOLAR_CONSTANT};
use crate::hotwater::sun::plane::{Views, on_panels, under_even_sky};
use crate::hotwater::sun::position::seen_from;
use crate::hotwater::sun::split::{diffuse_share, diffuse_share_of_day};
use crate::hotwater::sun::tables::{Lit, Tables};

#[test]
fn diffuse_shares_are_those_of_the_paper() {
    // By hand: 0.9511 - 0.0802 + 1.097 - 2.07975 + 0.771, and 1 + 0.1416 - 0.638925 + 0.1056.
    near(diffuse_share(0.5), 0.65915, 1e-12, "hour");
    near(diffuse_share_of_day(0.5, 100.0), 0.608275, 1e-12, "summer day");
    near(
        diffuse_share_of_day(0.5, 70.0),
        1.0 - 0.13635 + 0.612375 - 1.493925 + 0.58674375,
        1e-12,
        "winter day",
    );
    assert_eq!(diffuse_share(0.0), 1.0);
    assert_eq!((diffuse_share(0.81), diffuse_share_of_day(0.73, 90.0)), (0.165, 0.175));
    assert_eq!(diffuse_share_of_day(0.72, 80.0), 0.143);
    // The pieces meet.
    near(diffuse_share(0.22), diffuse_share(0.220001), 0.005, "at 0.22");
    near(diffuse_share(0.80), 0.165, 0.005, "at 0.80");
    near(diffuse_share_of_day(0.722 - 1e-9, 90.0), 0.175, 0.02, "at 0.722");
    near(diffuse_share_of_day(0.715 - 1e-9, 80.0), 0.143, 0.01, "at 0.715");
}

/// Hours that follow the day's course split about as the day's own correlation says, which has clouds in it.
#[test]
fn hours_and_days_split_alike() {
    let (place, roofs) = south(40.0, 0.0);
    let tables = Tables::new(&place, &roofs, &Clock::SOLAR, 24).unwrap();
    for day in [15, 80, 172, 300] {
        let sunset = DaySun::new(&place, &Clock::SOLAR, day).sunset.to_degrees();
        for (k, apart) in [(0.15, 0.03), (0.3, 0.08), (0.5, 0.09), (0.6, 0.09)] {
            let of_hour = |l: &Lit| l.outside * l.shape * diffuse_share(l.shape * k);
            let of_hours: f64 = tables.days[day].lit.iter().map(of_hour).sum();
            let what = format!("day {day}, clearness {k}");
            near(of_hours / tables.days[day].outside, diffuse_share_of_day(k, sunset), apart, &what);
        }
    }
}

#[test]
fn a_level_plane_gets_what_falls() {
    let place = Place { latitude: 50.0, albedo: 0.3 };
    let flat = [Roof { tilt: 0.0, azimuth: 123.0, share: 1.0 }];
    let views = Views::new(&place, &flat);
    for k in [0.0, 0.1, 0.22, 0.5, 0.7, 0.9] {
        near(on_panels(k, 1.0, views), k, 1e-15, "Hay and Davies");
        near(under_even_sky(k, 1.0, views), k, 1e-15, "even sky");
    }
    let tables = Tables::new(&place, &flat, &Clock::SOLAR, 48).unwrap();
    for lit in tables.days.iter().flat_map(|d| &d.lit) {
        near(lit.beam_ratio, 1.0, 1e-9, "ratio on the level");
    }
}

#[test]
fn a_wall_under_an_even_sky_sees_half_of_it() {
    let place = Place { latitude: 50.0, albedo: 0.4 };
    let wall = Views::new(&place, &[Roof { tilt: 90.0, azimuth: 0.0, share: 1.0 }]);
    near(wall.sky, 0.5, 1e-15, "sky");
    near(wall.ground, 0.2, 1e-15, "ground");
    // No beam gets there: diffuse half and ground half (Liu and Jordan 1963).
    let k = 0.4;
    near(under_even_sky(k, 0.0, wall), k * diffuse_share(k) * 0.5 + k * 0.2, 1e-15, "wall");
    // The sky is even where there is no beam; else there is the diffuse light from around the sun and a brighter
    // horizon: for a wall (1/2)^1.5 of the even part times the root of the beam's share.
    near(on_panels(1e-6, 3.0, wall) / under_even_sky(1e-6, 3.0, wall), 1.0, 1e-3, "overcast");
    let (diffuse, beam) = (k * diffuse_share(k), k * (1.0 - diffuse_share(k)));
    let more = on_panels(k, 3.0, wall) - under_even_sky(k, 3.0, wall);
    let horizon = diffuse * (1.0 - beam) * 0.5 * libm::pow(0.5, 1.5) * (beam / k).sqrt();
    near(more, diffuse * beam * (3.0 - 0.5) + horizon, 1e-15, "sun and horizon");
}

#[test]
fn two_roofs_are_the_mean_of_each() {
    let place = Place { latitude: 53.0, albedo: 0.2 };
    let climate = dublin_climate();
    let of = |roofs: &[Roof]| Sun::new(&place, roofs, &climate, 48).unwrap().yearly_kwh_per_kwp();
    let roof = |azimuth, share| Roof { tilt: 35.0, azimuth, share };
    let both = of(&[roof(90.0, 0.3), roof(270.0, 0.7)]);
    near(both, 0.3 * of(&[roof(90.0, 1.0)]) + 0.7 * of(&[roof(270.0, 1.0)]), 1e-6 * both, "sum");
}

/// The closed sums over steps against a separate program that adds up minutes.
#[test]
fn planes_of_a_separate_program() {
    for p in independent("planes") {
        let place = Place { latitude: number(&p, "latitude"), albedo: number(&p, "albedo") };
        let roofs = [Roof { tilt: number(&p, "tilt"), azimuth: number(&p, "azimuth"), share: 1.0 }];
        let tables = Tables::new(&place, &roofs, &Clock::SOLAR, 48).unwrap();
        let lit = tables.days.iter().flat_map(|d| &d.lit);
        let sum: f64 = lit.map(|l| l.outside * on_panels(0.45, l.beam_ratio, tables.views)).sum();
        let expected = number(&p, "kwh");
        near(sum, expected, 0.001 * expected, &format!("{p}"));
    }
}

/// Duffie and Beckman 2013, *Solar Engineering of Thermal Processes*, examples 1.10.1 and 1.10.2: latitude 43, 15 April,
/// outside the atmosphere on the level 33.8 MJ/m2 in the day and 3.79 from ten to eleven (their declination, by an
/// older formula, is 0.4 degrees lower: 1 %).
#[test]
fn outside_irradiation_of_the_textbook() {
    let place = Place { latitude: 43.0, albedo: 0.2 };
    let tables = Tables::new(&place, &[], &Clock::SOLAR, 24).unwrap();
    let day = &tables.days[104];
    near(3.6 * day.outside, 33.8, 0.35, "day");
    near(3.6 * climate::outside_kwh_per_m2(43.0, 2018, 4, 15), 33.8, 0.35, "date");
    let ten = day.lit.iter().find(|l| l.step == 10).unwrap();
    near(3.6 * ten.outside, 3.79, 0.03, "ten to eleven");
}

/// The same, example 1.6.1: latitude 43, 13 February (declination -14), half past ten, tilted 45 degrees and turned 15
/// degrees west of south: 35.0 degrees between the sun and the normal.
#[test]
fn incidence_of_the_textbook() {
    let place = Place { latitude: 43.0, albedo: 0.2 };
    let plane = Incidence::new(&place, 45.0, 195.0, -14.0);
    let at = -22.5_f64.to_radians();
    let cosine = plane.sum(Arc { from: at - 1e-4, to: at + 1e-4 }) / 2e-4;
    near(libm::acos(cosine).to_degrees(), 35.0, 0.2, "incidence");
}

/// Tables by the clock, declination held over the day, against the sun's true position minute by minute.
#[test]
fn tables_follow_the_sun_by_the_clock() {
    let place = Place { latitude: 53.35, albedo: 0.2 };
    let roof = [Roof { tilt: 40.0, azimuth: 140.0, share: 1.0 }];
    let clock = Clock::at(-6.26, 0.0, Some((86, 303)));
    let tables = Tables::new(&place, &roof, &clock, 48).unwrap();
    for day in [3, 79, 172, 265] {
        let summer = if (86..303).contains(&day) { 1.0 } else { 0.0 };
        for lit in &tables.days[day].lit {
            let (mut level, mut panels) = (0.0, 0.0);
            for minute in 0..30 {
                let hour = lit.step as f64 / 2.0 + (f64::from(minute) + 0.5) / 60.0 - summer;
                let sun = seen_from(place.latitude, -6.26, 2_458_119.5 + day as f64 + hour / 24.0);
                let (e, a) = (sun.elevation_deg.to_radians(), sun.azimuth_deg.to_radians());
                let (tilt, turn) = (40_f64.to_radians(), 140_f64.to_radians());
                let front =
                    libm::sin(e) * libm::cos(tilt) + libm::cos(e) * libm::sin(tilt) * libm::cos(a - turn);
                if e > 0.0 {
                    level += SOLAR_CONSTANT / 60.0 * libm::sin(e);
                    panels += SOLAR_CONSTANT / 60.0 * front.max(0.0);
                }
            }
            let what = format!("day {day}, step {}", lit.step);
            // The distance to the sun is in the table alone: up to 3.4 %.
            near(lit.outside, level, 0.035 * level + 0.003, &what);
            if level > 0.05 {
                // By 0.1 degrees of declination where the sun is low.
                let ratio = panels / level;
                near(lit.beam_ratio, ratio, 0.02 + 0.01 * ratio, &what);
            }
        }
    }
}

#[test]
fn summer_time_through_new_year() {
    let clock = Clock { noon_hour: 12.0, equation_of_time: false, summer_time: Some((273, 90)) };
    let place = Place { latitude: -34.0, albedo: 0.2 };
    let noon = |day: usize| {
        let table = Tables::new(&place, &[], &clock, 24).unwrap();
        let lit = &table.days[day].lit;
        lit.iter().map(|l| l.outside * (l.step as f64 + 0.5)).sum::<f64>() / table.days[day].outside
    };
    for (day, expected) in [(0, 13.0), (89, 13.0), (90, 12.0), (272, 12.0), (273, 13.0)] {
        near(noon(day), expected, 0.01, &format!("day {day}"));
    }
}
