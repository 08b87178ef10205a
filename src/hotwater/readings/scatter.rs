//! How far a year drawn from readings may be off: years differ, and months without readings are made from others.

use super::library::{Day, MonthDays};
use crate::hotwater::time::DAYS_IN_MONTH;

/// Coefficient of variation of a year's sum on a tilted array: 5.0 % (19 years of measured radiation at Dublin; 3.9 to
/// 4.1 % on the horizontal at two stations).
const YEAR_CV: f64 = 0.05;

/// Coefficient of variation of a month's sum about what is usual for it: 6 to 13 % in the same records.
const MONTH_CV: f64 = 0.10;

/// How far, as a log, the season may be misjudged for each month that two months are apart. Shares of November to January
/// in the year run from 6 % (measured, a national fleet) to 9.8 % (computed at 53 degrees north, tilt 35): ln(9.8 / 6) = 0.49
/// over the six months between midwinter and midsummer.
const SEASON_PER_MONTH: f64 = 0.08;

/// Standard deviation of the log of the factor on a month made from one `apart` months away, of which `years` were read:
/// sqrt(0.10^2 / years + (0.08 apart)^2). The first part is the weather of the month that stands in, the second what is
/// not known about the season. Less than a year counts as one: each month was read once.
pub(super) fn season_log_sd(apart: usize, years: f64) -> f64 {
    let season = SEASON_PER_MONTH * apart as f64;
    (MONTH_CV * MONTH_CV / years.max(1.0) + season * season).sqrt()
}

/// What is drawn once for a run, over and above the blocks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scatter {
    /// Standard deviation of the log of the year's factor.
    pub(super) year_log_sd: f64,
    /// Coefficient of variation of the year's export that blocks alone give.
    pub(super) by_blocks: f64,
    years: f64,
}

/// The factor that is wanted so that years differ as years do. The year to come has a cv of 5 %, and the mean of the
/// `years` read is itself 5 % / sqrt(years) off what is usual; blocks give a part of that spread already:
/// variance = 0.05^2 (1 + 1 / years) - (cv by blocks)^2, not below 0.
pub(super) fn find(days: &[Day], months: &[MonthDays], block: usize, years: f64) -> Scatter {
    let by_blocks = cv_by_blocks(days, months, block);
    let wanted = YEAR_CV * YEAR_CV * (1.0 + 1.0 / years.max(0.5));
    let rest = (wanted - by_blocks * by_blocks).max(0.0);
    Scatter { year_log_sd: libm::log1p(rest).sqrt(), by_blocks, years }
}

/// Coefficient of variation of a year's export over all that blocks can give: every block starts on each of the month's
/// days with the same chance, so its variance is that over all starts.
fn cv_by_blocks(days: &[Day], months: &[MonthDays], block: usize) -> f64 {
    let (mut mean, mut variance) = (0.0, 0.0);
    for (month, length) in months.iter().zip(DAYS_IN_MONTH) {
        let daily: Vec<f64> = month
            .days
            .iter()
            .zip(&month.season)
            .map(|(&day, season)| season * days[day as usize].export.iter().sum::<f64>())
            .collect();
        let mut left = length as usize;
        while left > 0 {
            let long = left.min(block);
            let sums: Vec<f64> =
                (0..daily.len()).map(|s| (0..long).map(|d| daily[(s + d) % daily.len()]).sum()).collect();
            let centre = sums.iter().sum::<f64>() / sums.len() as f64;
            mean += centre;
            variance += sums.iter().map(|s| (s - centre) * (s - centre)).sum::<f64>() / sums.len() as f64;
            left -= long;
        }
    }
    if mean > 0.0 { variance.sqrt() / mean } else { 0.0 }
}

impl Scatter {
    pub(super) fn note(&self) -> String {
        format!(
            "{:.1} years of readings do not show how years differ: export and generation of each run get a factor of sd {:.1} %, so that with the {:.1} % that the blocks give a year to come has a cv of 5 % and the mean read its own error",
            self.years,
            100.0 * self.year_log_sd,
            100.0 * self.by_blocks
        )
    }
}
