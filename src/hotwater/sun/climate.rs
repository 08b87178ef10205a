//! What is known of the clearness of a place's days, and how to come by it.

use super::clearness::Clearness;
use super::fault::{SunError, within};
use super::position::{coordinates, day_length_hours, julian_day, on_day};
use super::record::{self, Record};
use super::tables::level;
use crate::hotwater::time::{DAYS, MONTHS, month_of};

/// The daily clearness index (global irradiation on the level over that outside the atmosphere) by month.
#[derive(Debug, Clone, PartialEq)]
pub struct Climate {
    /// Mean.
    pub mean: [f64; 12],
    /// Standard deviation of the days of a month, over all years.
    pub sd: [f64; 12],
    /// Correlation of a day with the next.
    pub persistence: [f64; 12],
    /// Share of the variance (of the normal score behind the index) that a month has in common: weather that lasts.
    pub slow: f64,
}

/// Ångström 1924, Prescott 1940: clearness = a + b x (sunshine hours over day length). These are the values that Allen
/// et al. 1998 (*Crop evapotranspiration*, FAO irrigation and drainage paper 56, equation 35) advise where none are
/// known; measured pairs range over about 0.15 to 0.35 and 0.40 to 0.60.
pub const ANGSTROM_PRESCOTT: (f64, f64) = (0.25, 0.50);

impl Climate {
    /// Correlation from day to day where nothing is known: that of maritime weather (0.18 at Dublin, 0.21 at Valentia).
    /// Inland and Mediterranean summers have more, 0.3 to 0.5.
    pub const USUAL_PERSISTENCE: f64 = 0.20;

    /// Lasting share where nothing is known: 0.02 gives the spread of monthly means at Dublin, 1996 to 2012.
    pub const USUAL_SLOW: f64 = 0.02;

    /// Sum of the shapes of the beta distribution of a day's index over that of a cloudless day, where no spread is
    /// known: at Dublin 3 in winter to 7 in summer.
    pub const USUAL_SHAPES: f64 = 4.5;

    /// From monthly means of the index; spread and memory as usual.
    ///
    /// # Errors
    /// A latitude beyond the poles, a mean that no sky lets through.
    pub fn from_means(latitude: f64, mean: [f64; 12]) -> Result<Climate, SunError> {
        let ceilings = level(latitude)?.ceilings();
        let mut sd = [0.0; 12];
        for (month, sd) in sd.iter_mut().enumerate() {
            let ceiling = mean_by_month(&ceilings)[month];
            if ceiling > 0.0 {
                let share = (mean[month] / ceiling).clamp(0.0, 1.0);
                *sd = ceiling * (share * (1.0 - share) / (Self::USUAL_SHAPES + 1.0)).sqrt();
            }
        }
        let climate =
            Climate { mean, sd, persistence: [Self::USUAL_PERSISTENCE; 12], slow: Self::USUAL_SLOW };
        Clearness::new(ceilings, &climate)?;
        Ok(climate)
    }

    /// From the irradiation on the level in each month of an ordinary year, kWh/m2.
    ///
    /// # Errors
    /// As [`Climate::from_means`].
    pub fn from_irradiation(latitude: f64, kwh_per_m2: [f64; 12]) -> Result<Climate, SunError> {
        let mut outside = [0.0; 12];
        for (day, table) in level(latitude)?.days.iter().enumerate() {
            outside[month_of(day)] += table.outside;
        }
        let mut mean = [0.0; 12];
        for (month, name) in MONTHS.iter().enumerate() {
            within(&format!("the irradiation of {name}"), kwh_per_m2[month], 0.0, 400.0)?;
            if outside[month] > 0.0 {
                mean[month] = kwh_per_m2[month] / outside[month];
            }
        }
        Climate::from_means(latitude, mean)
    }

    /// From hours of bright sunshine in each month, by the formula of Ångström and Prescott with a and b (see
    /// [`ANGSTROM_PRESCOTT`]).
    ///
    /// # Errors
    /// As [`Climate::from_means`]; more sunshine than day.
    pub fn from_sunshine_hours(latitude: f64, hours: [f64; 12], ab: (f64, f64)) -> Result<Climate, SunError> {
        within("the latitude", latitude, -90.0, 90.0)?;
        within("a of the formula of Ångström and Prescott", ab.0, 0.05, 0.6)?;
        within("b of the formula of Ångström and Prescott", ab.1, 0.1, 0.8)?;
        let mut possible = [0.0; 12];
        for day in 0..DAYS {
            possible[month_of(day)] += day_length_hours(latitude, on_day(day).declination_deg, 0.0);
        }
        let mut mean = [0.0; 12];
        for (month, name) in MONTHS.iter().enumerate() {
            within(&format!("the sunshine of {name} in hours"), hours[month], 0.0, possible[month])?;
            if possible[month] > 0.0 {
                mean[month] = ab.0 + ab.1 * hours[month] / possible[month];
            }
        }
        Climate::from_means(latitude, mean)
    }

    /// From measured days: global irradiation on the level, kWh/m2, NaN where it is missing, day after day from `first`
    /// (year, month 1 to 12, day of the month).
    ///
    /// Persistence is the usual one in months with fewer than 100 pairs of days, the lasting share in records of
    /// fewer than five years.
    ///
    /// # Errors
    /// A value below 0 or above what arrives outside the atmosphere; a month with fewer than 20 days measured.
    pub fn from_measured(
        latitude: f64,
        first: (i32, u8, u8),
        kwh_per_m2: &[f64],
    ) -> Result<Climate, SunError> {
        within("the latitude", latitude, -90.0, 90.0)?;
        let record = Record::of_irradiation(latitude, first, kwh_per_m2)?;
        let ceilings = level(latitude)?.ceilings();
        let mut climate = Climate {
            mean: [0.0; 12],
            sd: [0.0; 12],
            persistence: [Self::USUAL_PERSISTENCE; 12],
            slow: Self::USUAL_SLOW,
        };
        for (month, ceiling) in mean_by_month(&ceilings).into_iter().enumerate() {
            if ceiling > 0.0 {
                climate.take(month, &record)?;
            }
        }
        if let Some(variance) = record.variance_of_means() {
            climate.slow = lasting_share(ceilings, &climate, variance)?;
        }
        Ok(climate)
    }

    fn take(&mut self, month: usize, record: &Record) -> Result<(), SunError> {
        let m = record.month(month);
        if m.days < record::FEWEST_DAYS {
            let message = format!("{} has {} measured days", MONTHS[month], m.days);
            return Err(SunError::new(message, format!("it needs at least {}", record::FEWEST_DAYS)));
        }
        self.mean[month] = m.mean;
        self.sd[month] = m.sd;
        if m.pairs >= record::FEWEST_PAIRS {
            self.persistence[month] = m.persistence.clamp(-0.4, 0.9);
        }
        Ok(())
    }

    pub(super) fn check(&self) -> Result<(), SunError> {
        for (month, name) in MONTHS.iter().enumerate() {
            let of = |what: &str| format!("the {what} of the clearness of {name}");
            within(&of("mean"), self.mean[month], 0.0, 1.0)?;
            within(&of("standard deviation"), self.sd[month], 0.0, 0.5)?;
            within(&of("persistence"), self.persistence[month], -0.4, 0.9)?;
        }
        within("the lasting share of the weather", self.slow, 0.0, 0.3)
    }
}

/// Mean of a value of each day above 0, by month.
fn mean_by_month(days: &[f64]) -> [f64; 12] {
    let (mut sum, mut count) = ([0.0; 12], [0.0; 12]);
    for (day, value) in days.iter().enumerate().filter(|(_, v)| **v > 0.0) {
        sum[month_of(day)] += value;
        count[month_of(day)] += 1.0;
    }
    std::array::from_fn(|m| if count[m] > 0.0 { sum[m] / count[m] } else { 0.0 })
}

/// The lasting share with which the variance of monthly means, averaged over the months, is as measured.
fn lasting_share(ceilings: Vec<f64>, climate: &Climate, wanted: f64) -> Result<f64, SunError> {
    let mut clearness = Clearness::new(ceilings, climate)?;
    let (mut low, mut high) = (0.0, 0.2);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        clearness.set_slow(climate, middle);
        let with_sun = clearness.months.iter().filter(|m| m.is_some()).count() as f64;
        let variance: f64 = (0..12).map(|m| clearness.variance_of_mean(m)).sum();
        if variance / with_sun < wanted { low = middle } else { high = middle }
    }
    Ok(0.5 * (low + high))
}

/// Irradiation outside the atmosphere on the level of a date's day, kWh/m2.
pub fn outside_kwh_per_m2(latitude: f64, year: i32, month: u8, day: u8) -> f64 {
    super::geometry::outside(latitude, &coordinates(julian_day(year, month, f64::from(day) + 0.5)))
}
