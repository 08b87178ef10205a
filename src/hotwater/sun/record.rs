//! Statistics of a run of days, measured or simulated: by the same rules, so that like is compared with like.

use super::climate::outside_kwh_per_m2;
use super::fault::SunError;

pub(super) const FEWEST_DAYS: usize = 20;
pub(super) const FEWEST_PAIRS: usize = 100;
const FEWEST_YEARS: usize = 5;
/// Days with which a month counts as measured whole.
const WHOLE_MONTH: usize = 25;

/// Clearness day by day; NaN where it is not known.
#[derive(Debug, Clone)]
pub(super) struct Record {
    days: Vec<RecordDay>,
}

#[derive(Debug, Clone, Copy)]
struct RecordDay {
    year: i32,
    /// 0 to 11.
    month: usize,
    clearness: f64,
}

/// A month over all years.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct MonthOfRecord {
    pub(super) days: usize,
    pub(super) mean: f64,
    pub(super) sd: f64,
    /// Pairs of days that follow each other, both measured and in the month.
    pub(super) pairs: usize,
    pub(super) persistence: f64,
}

impl Record {
    pub(super) fn of_irradiation(
        latitude: f64,
        first: (i32, u8, u8),
        kwh_per_m2: &[f64],
    ) -> Result<Record, SunError> {
        let (mut year, mut month, mut day) = first;
        if !(1..=12).contains(&month)
            || day < 1
            || day > days_in(year, month)
            || !(1800..=2200).contains(&year)
        {
            let message = format!("the first day is {year}-{month:02}-{day:02}");
            return Err(SunError::new(message, "it must be a date from 1800 to 2200"));
        }
        let mut days = Vec::with_capacity(kwh_per_m2.len());
        for &value in kwh_per_m2 {
            let outside = outside_kwh_per_m2(latitude, year, month, day);
            if value < 0.0 || value > outside + 0.05 {
                return Err(SunError::new(
                    format!("the irradiation of {year}-{month:02}-{day:02} is {value} kWh/m2"),
                    format!(
                        "it must lie from 0 to {outside:.2}, what arrives above the air (empty if not measured)"
                    ),
                ));
            }
            let clearness = if outside > 0.05 { value / outside } else { f64::NAN };
            days.push(RecordDay { year, month: usize::from(month) - 1, clearness });
            (year, month, day) = next(year, month, day);
        }
        Ok(Record { days })
    }

    /// Of simulated years of 365 days.
    #[cfg(test)]
    pub(super) fn of_years(years: &[Vec<f64>]) -> Record {
        let day = |year: usize, day: usize, clearness: f64| RecordDay {
            year: year as i32,
            month: crate::hotwater::time::month_of(day),
            clearness,
        };
        let days = years
            .iter()
            .enumerate()
            .flat_map(|(y, ks)| ks.iter().enumerate().map(move |(d, k)| day(y, d, *k)));
        Record { days: days.collect() }
    }

    pub(super) fn month(&self, month: usize) -> MonthOfRecord {
        let known = |d: &&RecordDay| d.month == month && d.clearness.is_finite();
        let mean_of = |values: &mut dyn Iterator<Item = f64>| {
            let (sum, count) = values.fold((0.0, 0_usize), |(s, n), v| (s + v, n + 1));
            (if count > 0 { sum / count as f64 } else { 0.0 }, count)
        };
        let (mean, days) = mean_of(&mut self.days.iter().filter(known).map(|d| d.clearness));
        let square = |d: &RecordDay| (d.clearness - mean) * (d.clearness - mean);
        let (variance, _) = mean_of(&mut self.days.iter().filter(known).map(square));
        let together = |pair: &&[RecordDay]| pair.iter().all(|d| known(&d));
        let product = |pair: &[RecordDay]| pair.iter().map(|d| d.clearness - mean).product::<f64>();
        let (covariance, pairs) = mean_of(&mut self.days.windows(2).filter(together).map(product));
        let persistence = if variance > 0.0 { covariance / variance } else { 0.0 };
        let unbiased = days as f64 / (days.max(2) - 1) as f64;
        MonthOfRecord { days, mean, sd: (variance * unbiased).sqrt(), pairs, persistence }
    }

    /// Means of a month in the years that have it whole.
    pub(super) fn means(&self, month: usize) -> Vec<f64> {
        let of_month = self.days.chunk_by(|a, b| (a.year, a.month) == (b.year, b.month));
        let mean = |days: &[RecordDay]| {
            let known: Vec<f64> = days.iter().map(|d| d.clearness).filter(|k| k.is_finite()).collect();
            (days[0].month == month && known.len() >= WHOLE_MONTH)
                .then(|| known.iter().sum::<f64>() / known.len() as f64)
        };
        of_month.filter_map(mean).collect()
    }

    /// Variance of a month's means from year to year.
    pub(super) fn variance_of_mean(&self, month: usize) -> Option<f64> {
        let means = self.means(month);
        if means.len() < FEWEST_YEARS {
            return None;
        }
        let mean = means.iter().sum::<f64>() / means.len() as f64;
        Some(means.iter().map(|m| (m - mean) * (m - mean)).sum::<f64>() / (means.len() - 1) as f64)
    }

    /// Its mean over the months: from seventeen years a single month's is known to a third, that of all to a tenth.
    pub(super) fn variance_of_means(&self) -> Option<f64> {
        let known: Vec<f64> = (0..12).filter_map(|m| self.variance_of_mean(m)).collect();
        (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
    }
}

fn days_in(year: i32, month: u8) -> u8 {
    match month {
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

fn next(year: i32, month: u8, day: u8) -> (i32, u8, u8) {
    match (month, day) {
        (12, 31) => (year + 1, 1, 1),
        (m, d) if d >= days_in(year, m) => (year, m + 1, 1),
        (m, d) => (year, m, d + 1),
    }
}
