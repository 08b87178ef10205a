//! What a kWh is worth by the half hour: factors on a price that a study gives as a path by year.
//!
//! A factor of 1 is what the price path says. Over the mean ([`Scale::OverMean`]) that is the plain mean over all hours
//! of the year, every hour alike, whatever is used in it. As given ([`Scale::AsGiven`]) it is a period whose factor is 1:
//! then the price path is that period's price ("day rate 1, night rate 0.6").

use std::fmt;

use super::profile::means;
use super::time;

/// What a factor of 1 means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// The price of a period whose factor is 1.
    AsGiven,
    /// The plain mean over all hours of the year.
    OverMean,
}

/// Days of the week.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Days {
    /// All of them.
    #[default]
    All,
    /// Monday to Friday.
    Weekdays,
    /// Saturday and Sunday.
    Weekends,
}

/// A period of the day in which a factor holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Period {
    /// Hour at which it begins, 0 to 24, to the minute.
    pub from: f64,
    /// Hour at which it ends. Before the first, it goes on after midnight: those hours count as hours of the day on which
    /// they fall. The same hour is never; 0 to 24 is all day.
    pub to: f64,
    /// The factor; may be negative.
    pub factor: f64,
    /// Months (0 to 11) in which it holds; empty is all.
    pub months: Vec<usize>,
    /// Days of the week on which it holds.
    pub days: Days,
}

impl Period {
    fn holds(&self, month: usize, weekend: bool) -> bool {
        let day = match self.days {
            Days::All => true,
            Days::Weekdays => !weekend,
            Days::Weekends => weekend,
        };
        day && (self.months.is_empty() || self.months.contains(&month))
    }

    /// Sets its factor in the minutes of a day.
    fn paint(&self, minutes: &mut [f64]) {
        let minute = |hour: f64| (libm::round(hour * 60.0) as usize).min(MINUTES);
        let (from, to) = (minute(self.from), minute(self.to));
        if from <= to {
            minutes[from..to].fill(self.factor);
        } else {
            minutes[..to].fill(self.factor);
            minutes[from..].fill(self.factor);
        }
    }
}

const MINUTES: usize = 1440;

/// Where factors come from.
#[derive(Debug, Clone, PartialEq)]
pub enum Course {
    /// 1 at all times.
    Plain,
    /// Periods of the day; where several hold the last one counts, where none holds `otherwise`.
    Periods {
        /// The periods.
        periods: Vec<Period>,
        /// Factor outside them.
        otherwise: f64,
        /// What a factor of 1 means.
        scale: Scale,
    },
    /// The same day all year: 24 or 48 or any number of values for equal parts of it.
    Profile {
        /// Prices or factors.
        values: Vec<f64>,
        /// What a factor of 1 means.
        scale: Scale,
    },
    /// Prices of a year of 365 days, hourly (8,760) or half-hourly (17,520), divided by their mean.
    Series(Vec<f64>),
}

/// Why there are no factors.
#[derive(Debug, Clone, PartialEq)]
pub enum TariffError {
    /// A period whose hours are not from 0 to 24, or whose month does not exist.
    Period(usize),
    /// A value that is not finite.
    Value(usize),
    /// Too few or too many values for a profile (1 to 1,440).
    Profile(usize),
    /// A series of another length.
    Series(usize),
    /// The mean is zero or negative, so nothing can be a share of it.
    Mean(f64),
}

impl fmt::Display for TariffError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TariffError::Period(at) => {
                write!(f, "period {}: hours go from 0 to 24, months from 1 to 12", at + 1)
            }
            TariffError::Value(at) => write!(f, "value {} is not a number", at + 1),
            TariffError::Profile(n) => write!(f, "a day has 1 to 1,440 values, not {n}"),
            TariffError::Series(n) => {
                write!(f, "a series has 8,760 values (hours) or 17,520 (half hours) of 365 days, not {n}")
            }
            TariffError::Mean(mean) => write!(
                f,
                "the mean over the year is {mean}: factors are shares of the mean, which must be above 0"
            ),
        }
    }
}

impl std::error::Error for TariffError {}

impl Course {
    /// The factor of each step of the year, at `[day * steps + step]`.
    pub fn factors(&self, steps: usize) -> Result<Vec<f64>, TariffError> {
        let steps = steps.max(1);
        match self {
            Course::Plain => Ok(vec![1.0; time::DAYS * steps]),
            Course::Periods { periods, otherwise, scale } => from_periods(periods, *otherwise, *scale, steps),
            Course::Profile { values, scale } => {
                if values.is_empty() || values.len() > MINUTES {
                    return Err(TariffError::Profile(values.len()));
                }
                all_finite(values)?;
                scaled(means(values, steps).repeat(time::DAYS), *scale)
            }
            Course::Series(values) => {
                let a_day = values.len() / time::DAYS;
                if !matches!(a_day, 24 | 48) || a_day * time::DAYS != values.len() {
                    return Err(TariffError::Series(values.len()));
                }
                all_finite(values)?;
                let by_step = values.chunks_exact(a_day).flat_map(|day| means(day, steps)).collect();
                scaled(by_step, Scale::OverMean)
            }
        }
    }
}

fn all_finite(values: &[f64]) -> Result<(), TariffError> {
    match values.iter().position(|v| !v.is_finite()) {
        Some(at) => Err(TariffError::Value(at)),
        None => Ok(()),
    }
}

fn scaled(mut values: Vec<f64>, scale: Scale) -> Result<Vec<f64>, TariffError> {
    if scale == Scale::AsGiven {
        return Ok(values);
    }
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    if !(mean > 0.0 && mean.is_finite()) {
        return Err(TariffError::Mean(mean));
    }
    for value in &mut values {
        *value /= mean;
    }
    Ok(values)
}

fn from_periods(
    periods: &[Period],
    otherwise: f64,
    scale: Scale,
    steps: usize,
) -> Result<Vec<f64>, TariffError> {
    let hour = |h: f64| (0.0..=24.0).contains(&h);
    let fits = |p: &Period| hour(p.from) && hour(p.to) && p.months.iter().all(|&m| m < 12);
    if let Some(at) = periods.iter().position(|p| !fits(p)) {
        return Err(TariffError::Period(at));
    }
    all_finite(&periods.iter().map(|p| p.factor).chain([otherwise]).collect::<Vec<_>>())?;
    let day_of = |month: usize, weekend: bool| {
        let mut minutes = vec![otherwise; MINUTES];
        for period in periods.iter().filter(|p| p.holds(month, weekend)) {
            period.paint(&mut minutes);
        }
        means(&minutes, steps)
    };
    let kinds: Vec<[Vec<f64>; 2]> = (0..12).map(|m| [day_of(m, false), day_of(m, true)]).collect();
    let by_step = (0..time::DAYS).flat_map(|day| {
        let kind = &kinds[time::month_of(day)][usize::from(time::is_weekend(day))];
        kind.iter().copied()
    });
    scaled(by_step.collect(), scale)
}

/// Factors of the export and the import tariff by step.
#[derive(Debug, Clone, PartialEq)]
pub struct Tariff {
    steps: usize,
    export: Vec<f64>,
    import: Vec<f64>,
}

impl Tariff {
    /// In days of `steps` steps: means where a step holds several values.
    pub fn new(export: &Course, import: &Course, steps: usize) -> Result<Tariff, TariffError> {
        let steps = steps.max(1);
        Ok(Tariff { steps, export: export.factors(steps)?, import: import.factors(steps)? })
    }

    /// All factors 1.
    pub fn plain(steps: usize) -> Tariff {
        let ones = vec![1.0; time::DAYS * steps.max(1)];
        Tariff { steps: steps.max(1), export: ones.clone(), import: ones }
    }

    /// Factors of the steps of a day of the year (0 to 364): of export and of import.
    pub fn day(&self, day: usize) -> (&[f64], &[f64]) {
        let start = day.min(time::DAYS - 1) * self.steps;
        (&self.export[start..start + self.steps], &self.import[start..start + self.steps])
    }
}

#[cfg(test)]
mod tests;
