//! Sums of the beam over a step, in closed form: on the level and on a roof, from sunrise to sunset and while the sun
//! is in front of the roof.
//!
//! On a day of declination d the cosine of the angle between the sun and a plane is A + B cos w + C sin w for the hour
//! angle w (Duffie and Beckman 2013, equation 1.6.2), so its sum over any part of the day is elementary. The
//! declination is that of noon: it moves at most 0.2 degrees until the evening and as much back to the morning.

use core::f64::consts::PI;

use libm::{acos, atan2, cos, sin};

use super::position::{Coordinates, half_day_deg, rad};
use super::{Place, Roof};

/// Irradiance outside the atmosphere at the mean distance, kW/m2 (the reference value to which the correlations of
/// Erbs et al. and Collares-Pereira and Rabl belong; today's 1.361 would change every clearness by 0.4 %).
pub const SOLAR_CONSTANT: f64 = 1.367;

/// What the clock shows when the sun is in the south (or north, south of the equator).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clock {
    /// Standard time of mean solar noon, hours: 12 + hours ahead of universal time - longitude / 15.
    pub noon_hour: f64,
    /// Whether the sun's own noon wanders about it over the year (up to 16 minutes), as it does by the clock.
    pub equation_of_time: bool,
    /// First day of summer time and the day after its last, an hour ahead between them (the first may be the larger:
    /// south of the equator it runs through New Year).
    pub summer_time: Option<(usize, usize)>,
}

impl Clock {
    /// Local solar time: noon is at 12.
    pub const SOLAR: Clock = Clock { noon_hour: 12.0, equation_of_time: false, summer_time: None };

    /// Clock of a place at `longitude` (degrees, east positive) whose standard time is `hours_ahead` of universal time.
    pub fn at(longitude: f64, hours_ahead: f64, summer_time: Option<(usize, usize)>) -> Clock {
        Clock { noon_hour: 12.0 + hours_ahead - longitude / 15.0, equation_of_time: true, summer_time }
    }

    /// Clock time of solar noon on a day.
    pub(super) fn noon_on(&self, day: usize, sun: &Coordinates) -> f64 {
        let ahead = if self.equation_of_time { sun.equation_of_time_min / 60.0 } else { 0.0 };
        let summer = self.summer_time.is_some_and(|(first, end)| {
            if first <= end { (first..end).contains(&day) } else { day >= first || day < end }
        });
        self.noon_hour - ahead + f64::from(u8::from(summer))
    }
}

/// A stretch of hour angles, radians.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arc {
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Arc {
    fn meet(self, other: Arc) -> Option<Arc> {
        let both = Arc { from: self.from.max(other.from), to: self.to.min(other.to) };
        (both.from < both.to).then_some(both)
    }

    /// The parts that it shares with an arc about `middle`, which comes back every turn.
    fn shared(self, middle: f64, half: f64) -> impl Iterator<Item = Arc> {
        [-2.0 * PI, 0.0, 2.0 * PI]
            .into_iter()
            .filter_map(move |turn| self.meet(Arc { from: middle - half + turn, to: middle + half + turn }))
    }

    pub(super) fn length(self) -> f64 {
        self.to - self.from
    }

    /// Integral of the cosine.
    pub(super) fn cosine(self) -> f64 {
        sin(self.to) - sin(self.from)
    }

    fn sine(self) -> f64 {
        cos(self.from) - cos(self.to)
    }
}

/// A plane on one day: the cosine of incidence as A + B cos w + C sin w.
#[derive(Debug, Clone, Copy)]
pub(super) struct Incidence {
    a: f64,
    b: f64,
    c: f64,
    /// Hour angle at which the sun is most in front of it, and how long to each side it is in front.
    middle: f64,
    half: f64,
}

impl Incidence {
    pub(super) fn new(place: &Place, tilt: f64, azimuth: f64, declination: f64) -> Incidence {
        let (phi, delta) = (rad(place.latitude), rad(declination));
        // The plane's normal: east, north, up.
        let (east, north, up) =
            (sin(rad(tilt)) * sin(rad(azimuth)), sin(rad(tilt)) * cos(rad(azimuth)), cos(rad(tilt)));
        let a = sin(delta) * (cos(phi) * north + sin(phi) * up);
        let b = cos(delta) * (cos(phi) * up - sin(phi) * north);
        let c = -cos(delta) * east;
        let swing = (b * b + c * c).sqrt();
        let half = if a >= swing {
            PI
        } else if a <= -swing {
            0.0
        } else {
            acos(-a / swing)
        };
        Incidence { a, b, c, middle: atan2(c, b), half }
    }

    pub(super) fn of_roof(place: &Place, roof: &Roof, declination: f64) -> Incidence {
        Incidence::new(place, roof.tilt, roof.azimuth, declination)
    }

    /// Integral over `arc` of the cosine where it is above 0.
    pub(super) fn sum(&self, arc: Arc) -> f64 {
        let part = |p: Arc| self.a * p.length() + self.b * p.cosine() + self.c * p.sine();
        let sum: f64 = arc.shared(self.middle, self.half).map(part).sum();
        sum.max(0.0)
    }
}

/// A day's sun at a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct DaySun {
    pub(super) declination: f64,
    /// Hour angle of sunset, radians.
    pub(super) sunset: f64,
    /// Normal irradiance outside the atmosphere, kW/m2.
    pub(super) outside_kw: f64,
    noon_hour: f64,
}

impl DaySun {
    pub(super) fn new(place: &Place, clock: &Clock, day: usize) -> DaySun {
        let sun = super::position::on_day(day);
        DaySun {
            declination: sun.declination_deg,
            sunset: rad(half_day_deg(place.latitude, sun.declination_deg, 0.0)),
            outside_kw: SOLAR_CONSTANT / (sun.distance_au * sun.distance_au),
            noon_hour: clock.noon_on(day, &sun),
        }
    }

    /// The sunlit parts of a step, as hour angles.
    pub(super) fn lit(&self, step: usize, steps: usize) -> impl Iterator<Item = Arc> {
        let angle = |at: usize| (at as f64 * 24.0 / steps as f64 - self.noon_hour) * (PI / 12.0);
        Arc { from: angle(step), to: angle(step + 1) }.shared(0.0, self.sunset)
    }
}

/// Irradiation outside the atmosphere on the level over a day, kWh/m2.
pub(super) fn outside(latitude: f64, sun: &Coordinates) -> f64 {
    let place = Place { latitude, albedo: 0.0 };
    let sunset = rad(half_day_deg(latitude, sun.declination_deg, 0.0));
    let day = Incidence::new(&place, 0.0, 0.0, sun.declination_deg).sum(Arc { from: -sunset, to: sunset });
    day * (12.0 / PI) * SOLAR_CONSTANT / (sun.distance_au * sun.distance_au)
}
