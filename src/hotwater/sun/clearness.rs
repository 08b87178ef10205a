//! The clearness index from day to day: a normal score with memory, mapped to a beta distribution of the month.
//!
//! The index is `ceiling x B`: the ceiling is what a cloudless day of that date lets through, B a share with the beta
//! distribution that gives the month its mean and standard deviation. B is drawn from a normal score
//! `sqrt(1 - s) fast + sqrt(s) slow`: `fast` is an autoregression from day to day (Aguiar, Collares-Pereira and Conde
//! 1988 show that a memory of one day suffices for most), `slow` is one number for the month, for a memory of weeks
//! that no autoregression of one day has; its share s is small.
//!
//! Mean and spread step from month to month: at Dublin by at most a quarter of the spread of days.
//!
//! The map bends the score, so the correlation of the index is below that of the score. With the map expanded in
//! orthonormal Hermite polynomials, g = sum c_n h_n, two scores of correlation r have indexes of covariance
//! sum c_n^2 r^n (Mehler 1866): that gives the score's memory from the index's, and the spread of monthly means.

use super::climate::Climate;
use super::fault::SunError;
use crate::hotwater::chance::{Chance, Stream};
use crate::hotwater::time::{DAYS, FIRST_DAYS, month_of};
use crate::sampling::maths::{Vectors, kernels, normal_density};
use crate::sampling::{Distribution, Value};

/// Hermite coefficients kept: with betas of shapes above 0.5 the rest is below a thousandth of the variance.
const TERMS: usize = 16;

/// A month's distribution of B and the memory of its score.
#[derive(Debug, Clone)]
pub(super) struct MonthIndex {
    pub(super) share: Distribution,
    /// Squares of c_1, c_2, ...
    powers: [f64; TERMS],
    /// Correlation of `fast` from one day to the next.
    memory: f64,
}

impl MonthIndex {
    /// Covariance of two days whose scores have correlation `r`.
    fn covariance(&self, r: f64) -> f64 {
        self.powers.iter().rev().fold(0.0, |sum, c| (sum + c) * r)
    }

    fn variance(&self) -> f64 {
        self.covariance(1.0)
    }

    /// Correlation of scores `days` apart.
    fn score_correlation(&self, slow: f64, days: usize) -> f64 {
        slow + (1.0 - slow) * libm::pow(self.memory, days as f64)
    }
}

/// The process of a year at a place.
#[derive(Debug, Clone)]
pub(super) struct Clearness {
    /// By month; none where the sun never rises.
    pub(super) months: Vec<Option<MonthIndex>>,
    ceilings: Vec<f64>,
    slow: f64,
}

impl Clearness {
    pub(super) fn new(ceilings: Vec<f64>, climate: &Climate) -> Result<Clearness, SunError> {
        climate.check()?;
        let months = (0..12).map(|m| month_index(&ceilings, climate, m)).collect::<Result<_, _>>()?;
        Ok(Clearness { months, ceilings, slow: climate.slow })
    }

    /// Takes another lasting share, the correlation from day to day staying that of the climate.
    pub(super) fn set_slow(&mut self, climate: &Climate, slow: f64) {
        self.slow = slow;
        for (index, persistence) in self.months.iter_mut().zip(climate.persistence) {
            if let Some(index) = index {
                index.memory = memory(index, persistence, slow);
            }
        }
    }

    /// Variance of a month's mean index from year to year.
    pub(super) fn variance_of_mean(&self, month: usize) -> f64 {
        let Some(Some(index)) = self.months.get(month) else { return 0.0 };
        let days = FIRST_DAYS[month + 1] - FIRST_DAYS[month];
        let by_lag = |lag: usize| {
            let pairs = if lag == 0 { days as f64 } else { 2.0 * (days - lag) as f64 };
            pairs * index.covariance(index.score_correlation(self.slow, lag))
        };
        let ceiling = month_mean(&self.ceilings, month, |c| c);
        (0..days).map(by_lag).sum::<f64>() / (days * days) as f64 * ceiling * ceiling
    }
}

/// Mean of a function of the ceilings of a month's days on which the sun rises.
fn month_mean(ceilings: &[f64], month: usize, f: fn(f64) -> f64) -> f64 {
    let days = ceilings.iter().take(FIRST_DAYS[month + 1]).skip(FIRST_DAYS[month]).filter(|c| **c > 0.0);
    let (sum, count) = days.fold((0.0, 0.0), |(sum, n), c| (sum + f(*c), n + 1.0));
    if count > 0.0 { sum / count } else { 0.0 }
}

fn month_index(ceilings: &[f64], climate: &Climate, month: usize) -> Result<Option<MonthIndex>, SunError> {
    let ceiling = month_mean(ceilings, month, |c| c);
    if ceiling <= 0.0 {
        return Ok(None);
    }
    let (mean, sd) = (climate.mean[month], climate.sd[month]);
    let name = crate::hotwater::time::MONTHS[month];
    if !(mean > 0.01 && mean < 0.98 * ceiling) {
        return Err(SunError::new(
            format!("the mean clearness of {name} is {mean}"),
            format!("it must lie from 0.01 to {:.3}, what a cloudless sky lets through", 0.98 * ceiling),
        ));
    }
    // The moments of B from those of ceiling x B, the ceiling moving a little over the month.
    let share_mean = mean / ceiling;
    let square = (mean * mean + sd * sd) / month_mean(ceilings, month, |c| c * c);
    // Below a hundredth the ceiling's own way through the month is all the spread there is.
    let share_sd = (square - share_mean * share_mean).max(1e-4).sqrt();
    let widest = (share_mean * (1.0 - share_mean)).sqrt();
    if !(sd >= 0.01 && share_sd < 0.85 * widest) {
        return Err(SunError::new(
            format!("the standard deviation of the clearness of {name} is {sd}"),
            format!("with its mean of {mean} it must lie from 0.01 to {:.3}", 0.84 * widest * ceiling),
        ));
    }
    let parameters = [("mean", share_mean), ("sd", share_sd)].map(|(k, v)| (k.to_owned(), Value::Number(v)));
    let share = Distribution::build("beta", &parameters, None)
        .map_err(|e| SunError::new(format!("{name}: {}", e.message), e.hint))?;
    let powers = hermite_powers(&share);
    let mut index = MonthIndex { share, powers, memory: 0.0 };
    index.memory = memory(&index, climate.persistence[month], climate.slow);
    Ok(Some(index))
}

/// c_n^2 = (integral of g h_n under the normal density)^2, by the trapezoid rule, which converges exponentially here.
fn hermite_powers(share: &Distribution) -> [f64; TERMS] {
    const REACH: i32 = 8 * 32;
    let mut c = [0.0; TERMS];
    for i in -REACH..=REACH {
        let z = f64::from(i) / 32.0;
        let weight = share.from_score(z) * normal_density(z) / 32.0;
        // h_(n+1) = (z h_n - sqrt(n) h_(n-1)) / sqrt(n + 1)
        let (mut before, mut now) = (0.0, 1.0);
        for (n, c) in c.iter_mut().enumerate() {
            let next = (z * now - (n as f64).sqrt() * before) / (n as f64 + 1.0).sqrt();
            (before, now) = (now, next);
            *c += weight * now;
        }
    }
    c.map(|c| c * c)
}

/// The memory of `fast` with which the index has the correlation `persistence` from day to day.
fn memory(index: &MonthIndex, persistence: f64, slow: f64) -> f64 {
    let wanted = persistence * index.variance();
    let (mut low, mut high) = (-0.95, 0.98);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if index.covariance(slow + (1.0 - slow) * middle) < wanted { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// The clearness of a batch of runs, day after day.
#[derive(Debug, Clone)]
pub(super) struct ClearnessBatch<'a> {
    of: &'a Clearness,
    weather: Stream,
    months: Stream,
    vectors: Vectors,
    next: usize,
    fast: Vec<f64>,
    slow: Vec<f64>,
    fresh: Vec<f64>,
    /// Index of each lane on the day last asked for.
    pub(super) index: Vec<f64>,
}

impl<'a> ClearnessBatch<'a> {
    pub(super) fn new(of: &'a Clearness, chance: &Chance<'_>) -> Self {
        let zeros = vec![0.0; chance.lanes];
        ClearnessBatch {
            of,
            weather: chance.stream("weather"),
            months: chance.stream("weather of the month"),
            vectors: chance.vectors,
            next: 0,
            fast: zeros.clone(),
            slow: zeros.clone(),
            fresh: zeros.clone(),
            index: zeros,
        }
    }

    /// Goes on to a day; to an earlier one by starting anew.
    pub(super) fn go_to(&mut self, day: usize) {
        let day = day.min(DAYS - 1);
        if day + 1 < self.next {
            self.next = 0;
        }
        while self.next <= day {
            self.step();
        }
    }

    fn step(&mut self) {
        let day = self.next;
        self.next += 1;
        let month = month_of(day);
        if FIRST_DAYS.contains(&day) {
            self.months.normals(month as u32, &mut self.slow);
        }
        self.weather.normals(day as u32, &mut self.fresh);
        let Some(Some(index)) = self.of.months.get(month) else { return self.index.fill(0.0) };
        let memory = if day == 0 { 0.0 } else { index.memory };
        let slow = self.of.slow;
        let rest = (1.0 - memory * memory).sqrt();
        self.vectors.sun_score(
            &mut self.fast,
            &self.fresh,
            &self.slow,
            &mut self.index,
            [memory, rest, (1.0 - slow).sqrt(), slow.sqrt()],
        );
        index.share.fill_from_score(self.vectors, &mut self.index);
        let ceiling = self.of.ceilings.get(day).copied().unwrap_or(0.0);
        for k in &mut self.index {
            *k *= ceiling;
        }
    }
}

kernels! {
    /// The score of a day from that of the day before, fresh normals and that of the month.
    pub(super) fn sun_score(fast: &mut [f64], fresh: &[f64], slow: &[f64], score: &mut [f64], by: [f64; 4]) = scores;
}

#[inline(always)]
fn scores(fast: &mut [f64], fresh: &[f64], slow: &[f64], score: &mut [f64], by: [f64; 4]) {
    let [memory, rest, fast_share, slow_share] = by;
    for (((f, n), s), z) in fast.iter_mut().zip(fresh).zip(slow).zip(score) {
        *f = memory * *f + rest * n;
        *z = fast_share * *f + slow_share * s;
    }
}
