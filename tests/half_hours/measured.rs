//! Fifteen measured years of Dublin's sun on a roof that faces south at 35 degrees, worked out with none of the
//! crate's geometry: each day follows the mean course of a day without clouds on it (Collares-Pereira and Rabl 1979),
//! is split as a whole (Erbs, Klein and Duffie 1982) and turned hour by hour under an even sky (Liu and Jordan 1963).

use std::f64::consts::PI;

use libm::{acos, cos, sin};
use payspread::hotwater::simulated::PanelOutput;
use payspread::hotwater::time::{DAYS, month_of};

/// Daily irradiation on the level, Dublin Airport. Source: Met Eireann, open data, CC BY 4.0.
const DUBLIN: &str = include_str!("../data/dublin-daily-1996-2012.csv");
pub(crate) const LATITUDE: f64 = 53.428;
const TILT: f64 = 35.0;
const ALBEDO: f64 = 0.2;
/// The last so many full years of the record.
pub(crate) const YEARS: usize = 15;
const FIRST_YEAR: usize = 1998;

/// Monthly means of the clearness index of the years behind the table, which are not all in the record.
pub(crate) const MEAN: [f64; 12] = [0.33, 0.38, 0.41, 0.44, 0.46, 0.43, 0.42, 0.42, 0.43, 0.40, 0.37, 0.32];
/// Their standard deviations from day to day.
pub(crate) const SD: [f64; 12] = [0.16, 0.17, 0.17, 0.17, 0.17, 0.16, 0.14, 0.14, 0.16, 0.17, 0.18, 0.16];

fn rad(degrees: f64) -> f64 {
    degrees * PI / 180.0
}

/// Sun of a day: declination and hour angle of sunset (Cooper 1969), and what arrives outside the atmosphere on a plane
/// square to it, kW/m2.
struct Sky {
    declination: f64,
    sunset: f64,
    normal: f64,
}

impl Sky {
    fn of(day: usize) -> Sky {
        let declination = rad(23.45) * sin(2.0 * PI * (285.0 + day as f64) / 365.0);
        let sunset = acos(-libm::tan(rad(LATITUDE)) * libm::tan(declination));
        let normal = 1.367 * (1.0 + 0.033 * cos(2.0 * PI * (day as f64 + 1.0) / 365.0));
        Sky { declination, sunset, normal }
    }

    /// Cosine of the angle between the sun and a plane that faces south.
    fn incidence(&self, tilt: f64, hour_angle: f64) -> f64 {
        let latitude = rad(LATITUDE - tilt);
        sin(latitude) * sin(self.declination) + cos(latitude) * cos(self.declination) * cos(hour_angle)
    }

    /// kWh/m2 of the day on the level outside the atmosphere.
    fn outside(&self) -> f64 {
        let (phi, w) = (rad(LATITUDE), self.sunset);
        let sum = cos(phi) * cos(self.declination) * sin(w) + w * sin(phi) * sin(self.declination);
        24.0 / PI * self.normal * sum
    }

    /// Share of a day's irradiation in an hour around an hour angle.
    fn share(&self, hour_angle: f64) -> f64 {
        let w = self.sunset;
        let a = 0.409 + 0.5016 * sin(w - rad(60.0));
        let b = 0.6609 - 0.4767 * sin(w - rad(60.0));
        let course = (a + b * cos(hour_angle)) * (cos(hour_angle) - cos(w)) / (sin(w) - w * cos(w));
        (PI / 24.0 * course).max(0.0)
    }

    /// kWh/m2 on the roof in an hour around an hour angle, on a day of `daily` kWh/m2 on the level.
    fn on_roof(&self, daily: f64, hour_angle: f64) -> f64 {
        let level = daily * self.share(hour_angle);
        let high = self.incidence(0.0, hour_angle);
        if level <= 0.0 || high <= 0.01 {
            return 0.0;
        }
        let diffuse = daily * self.diffuse_share(daily / self.outside()) * self.share_outside(hour_angle);
        let diffuse = diffuse.min(level);
        let ratio = (self.incidence(TILT, hour_angle) / high).max(0.0);
        let upright = cos(rad(TILT));
        (level - diffuse) * ratio + diffuse * (1.0 + upright) / 2.0 + level * ALBEDO * (1.0 - upright) / 2.0
    }

    /// Share of the day's light outside the atmosphere in an hour: diffuse light follows it (Liu and Jordan 1960).
    fn share_outside(&self, hour_angle: f64) -> f64 {
        let w = self.sunset;
        (PI / 24.0 * (cos(hour_angle) - cos(w)) / (sin(w) - w * cos(w))).max(0.0)
    }

    /// Diffuse share of a day of clearness `k`.
    fn diffuse_share(&self, k: f64) -> f64 {
        if self.sunset < rad(81.4) {
            if k < 0.715 {
                1.0 - 0.2727 * k + 2.4495 * k * k - 11.9514 * k * k * k + 9.3879 * k * k * k * k
            } else {
                0.143
            }
        } else if k < 0.722 {
            1.0 + 0.2832 * k - 2.5557 * k * k + 0.8448 * k * k * k
        } else {
            0.175
        }
    }
}

/// Irradiation of the 365 days of each year, kWh/m2: without 29 February; a missing day is as the one before it.
fn days() -> Vec<[f64; DAYS]> {
    let mut years = Vec::new();
    for year in FIRST_YEAR..FIRST_YEAR + YEARS {
        let start = format!("{year}-");
        let lines = DUBLIN.lines().filter(|l| l.starts_with(&start) && !l.contains("-02-29"));
        let (mut days, mut last) = ([0.0; DAYS], 0.0);
        for (day, line) in days.iter_mut().zip(lines) {
            last = line.split(',').nth(1).and_then(|cell| cell.parse().ok()).unwrap_or(last);
            *day = last;
        }
        years.push(days);
    }
    years
}

/// The measured years side by side: lane `l` has year `l % YEARS`. Months are as clear on average as [`MEAN`] says.
pub(crate) struct MeasuredSun {
    lanes: usize,
    years: Vec<[f64; DAYS]>,
    factor: [f64; 12],
}

impl MeasuredSun {
    pub(crate) fn new(lanes: usize) -> MeasuredSun {
        let years = days();
        let (mut sum, mut count) = ([0.0; 12], [0.0; 12]);
        for day in 0..DAYS {
            let outside = Sky::of(day).outside();
            for year in &years {
                sum[month_of(day)] += year[day] / outside;
                count[month_of(day)] += 1.0;
            }
        }
        let factor = std::array::from_fn(|m| MEAN[m] * count[m] / sum[m]);
        MeasuredSun { lanes, years, factor }
    }
}

impl PanelOutput for MeasuredSun {
    fn day(&mut self, day: usize, kwh_per_kwp: &mut [f64]) {
        let sky = Sky::of(day);
        let steps = kwh_per_kwp.len() / self.lanes;
        for (step, out) in kwh_per_kwp.chunks_exact_mut(self.lanes).enumerate() {
            let hour_angle = ((step as f64 + 0.5) / steps as f64 - 0.5) * 2.0 * PI;
            for (lane, out) in out.iter_mut().enumerate() {
                let daily = self.years[lane % YEARS][day] * self.factor[month_of(day)];
                *out = sky.on_roof(daily, hour_angle) * 24.0 / steps as f64;
            }
        }
    }
}
