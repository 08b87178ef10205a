//! From a day's clearness to that of its steps: the mean course of a day with clouds on it, the total kept.
//!
//! Spread and memory of hourly clearness about the day's course are those of Aguiar and Collares-Pereira 1992, *TAG: a
//! time-dependent, autoregressive, Gaussian model for generating synthetic hourly radiation*: standard deviation
//! A exp(B (1 - sine of the sun's height)) with A = 0.14 exp(-20 (K - 0.35)^2), B = 3 (K - 0.45)^2 + 16 K^5 for the
//! day's clearness K; correlation from hour to hour 0.38 + 0.06 cos(7.4 K - 2.5), here 0.40. Clear days are smooth, dull
//! days too, days between go up and down. For half and quarter hours memory and spread are those with which the
//! means over an hour have them (an autoregression within each hour as between hours).
//!
//! For that the steps are drawn wider (`widened`): the paper's spread is that of days of a known total.
//!
//! A step's clearness stays between nothing and its ceiling. What the day then has too little is given to each step in
//! proportion to its room below the ceiling, what it has too much is taken in proportion to what it has: no step
//! leaves its bounds, and the day's total is as drawn.

use super::plane::{Views, on_panels};
use super::tables::{DayTable, Lit};
use crate::sampling::maths::{exp, kernels};

/// Correlation of clearness, less its course, from hour to hour.
const HOURLY_MEMORY: f64 = 0.40;

/// The autoregression of a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Memory {
    /// Correlation from step to step.
    pub step: f64,
    /// Standard deviation of a step over that of an hour's mean.
    pub spread: f64,
}

impl Memory {
    /// For `in_hour` steps an hour.
    pub fn new(in_hour: usize) -> Memory {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let (variance, covariance) = of_hours(middle, in_hour);
            if covariance < HOURLY_MEMORY * variance { low = middle } else { high = middle }
        }
        let step = 0.5 * (low + high);
        Memory { step, spread: 1.0 / of_hours(step, in_hour).0.sqrt() }
    }

    /// Variance of the mean with these weights of steps that follow each other, for steps of variance 1.
    pub(super) fn variance_of_mean(self, weights: impl Iterator<Item = f64>) -> f64 {
        let (mut variance, mut before) = (0.0, 0.0);
        for weight in weights {
            // Twice the covariance with all steps before.
            variance += weight * weight + 2.0 * weight * before * self.step;
            before = before * self.step + weight;
        }
        variance
    }

    /// What fresh chance adds at each step.
    pub(super) fn rest(self) -> f64 {
        (1.0 - self.step * self.step).sqrt()
    }
}

/// Variance of an hour's mean and its covariance with the next hour's, for steps of variance 1 and correlation `r`.
fn of_hours(r: f64, in_hour: usize) -> (f64, f64) {
    let n = in_hour as f64;
    let (mut variance, mut covariance, mut power) = (n, 0.0, 1.0);
    for lag in 1..2 * in_hour {
        power *= r;
        let apart = lag as f64;
        if lag < in_hour {
            variance += 2.0 * (n - apart) * power;
        }
        covariance += (if lag <= in_hour { apart } else { 2.0 * n - apart }) * power;
    }
    (variance / (n * n), covariance / (n * n))
}

/// A, the spread of hourly clearness under a high sun.
#[inline(always)]
pub fn spread_at_zenith(clearness: f64) -> f64 {
    let off = clearness - 0.35;
    0.14 * exp(-20.0 * off * off)
}

/// B, by which it grows as the sun sinks.
#[inline(always)]
pub fn spread_growth(clearness: f64) -> f64 {
    let off = clearness - 0.45;
    let square = clearness * clearness;
    3.0 * off * off + 16.0 * (square * square * clearness)
}

/// exp(x) to 1 % for x from 0 to 5, more than which B never is: a sixteenth of it by four terms, to the 16th power. A
/// third of the cost of the full exponential, for a spread that is known to a tenth.
#[inline(always)]
pub(super) fn grown(x: f64) -> f64 {
    let y = x * 0.0625;
    let e = 1.0 + y * (1.0 + y * (0.5 + y * (1.0 / 6.0)));
    let e = e * e;
    let e = e * e;
    let e = e * e;
    e * e
}

/// A score of mean 0 and variance 1 from a uniform: the sum of four uniforms, each from 13 bits of the one.
///
/// Within 3.5 of nothing, of kurtosis 2.7; the autoregression brings it nearer still to a normal. A tenth of the cost of
/// a normal quantile, which would be half of that of a year.
#[inline(always)]
pub(super) fn bell(uniform: f64) -> f64 {
    // Adding it rounds to a whole number.
    const ROUND: f64 = 6_755_399_441_055_744.0; // 1.5 * 2^52
    let rest = |x: f64| x - ((x + ROUND) - ROUND);
    let high = (uniform - 0.5) + rest(uniform * 8_192.0);
    let low = rest(uniform * 67_108_864.0) + rest(uniform * 549_755_813_888.0);
    1.732_050_807_568_877_2 * (high + low)
}

/// Clearness of a step before the day's total is put right.
#[inline(always)]
pub(super) fn clouded(lit: &Lit, clearness: f64, spread: f64, growth: f64, score: f64) -> f64 {
    let k = lit.shape * clearness + spread * grown(growth * lit.lowness) * score;
    let k = if k < lit.ceiling { k } else { lit.ceiling };
    if k > 0.0 { k } else { 0.0 }
}

/// Shares of the room above and of what is there by which all steps of a day move.
#[inline(always)]
pub(super) fn pulls(day: &DayTable, clearness: f64, sum: f64) -> (f64, f64) {
    let lack = clearness * day.outside - sum;
    let (room, there) = (day.ceiling * day.outside - sum, sum);
    let up = if lack > 0.0 && room > 0.0 { lack / room } else { 0.0 };
    let down = if lack < 0.0 && there > 0.0 { -lack / there } else { 0.0 };
    (if up < 1.0 { up } else { 1.0 }, if down < 1.0 { down } else { 1.0 })
}

/// Clearness of a step with the day's total right.
#[inline(always)]
pub(super) fn pulled(lit: &Lit, clearness: f64, up: f64, down: f64) -> f64 {
    clearness + up * (lit.ceiling - clearness) - down * clearness
}

/// Spread with which steps are drawn, so that with the day's total put right they have the spread `sd`.
///
/// Taking the mean off leaves 1 - `common` of the variance (`common` is the mean's over a step's). Moving each step in
/// proportion to what it has, or its room, also shrinks what is between them by the share moved, whose mean is that of
/// a half normal: sqrt(2 / pi) sd sqrt(common), over what is there (too much) or the room (too little), each half of
/// the time.
#[inline(always)]
pub(super) fn widened(sd: f64, common: f64, clearness: f64, ceiling: f64) -> f64 {
    let sd = sd / (1.0 - common).sqrt();
    let (there, room) = (clearness, ceiling - clearness);
    let ends = if there * room > 1e-4 { ceiling / (there * room) } else { 0.0 };
    let moved = 0.398_942_280_401_432_7 * sd * common.sqrt() * ends;
    sd / (1.0 - if moved < 0.3 { moved } else { 0.3 })
}

/// Lists of a value for each lane that a day's steps share.
#[derive(Debug, Clone)]
pub(super) struct DayLanes {
    pub(super) clearness: Vec<f64>,
    pub(super) spread: Vec<f64>,
    pub(super) growth: Vec<f64>,
    pub(super) score: Vec<f64>,
    pub(super) fresh: Vec<f64>,
    pub(super) sum: Vec<f64>,
    pub(super) up: Vec<f64>,
    pub(super) down: Vec<f64>,
}

impl DayLanes {
    pub(super) fn new(lanes: usize) -> DayLanes {
        let zeros = || vec![0.0; lanes];
        DayLanes {
            clearness: zeros(),
            spread: zeros(),
            growth: zeros(),
            score: zeros(),
            fresh: zeros(),
            sum: zeros(),
            up: zeros(),
            down: zeros(),
        }
    }
}

kernels! {
    /// Spread, growth and an empty sum for the day's clearness.
    pub(super) fn sun_begin(day: &mut DayLanes, table: &DayTable, spread: f64) = begin;
    /// Clearness of a step into `out` and its sum, from fresh uniforms.
    pub(super) fn sun_step(day: &mut DayLanes, lit: &Lit, by: (f64, f64), out: &mut [f64]) = step;
    /// What puts the day's total right.
    pub(super) fn sun_pulls(day: &mut DayLanes, table: &DayTable) = day_pulls;
    /// Output of a step, kWh for each kWp, from its clearness before that.
    pub(super) fn sun_output(day: &DayLanes, lit: &Lit, views: Views, out: &mut [f64]) = output;
}

#[inline(always)]
fn begin(day: &mut DayLanes, table: &DayTable, spread: f64) {
    day.sum.fill(0.0);
    let common = if table.common < 0.75 { table.common } else { 0.75 };
    let lists = day.clearness.iter().zip(&mut day.spread).zip(&mut day.growth);
    for ((k, a), b) in lists {
        *a = widened(spread * spread_at_zenith(*k), common, *k, table.ceiling);
        *b = spread_growth(*k);
    }
}

#[inline(always)]
fn step(day: &mut DayLanes, lit: &Lit, by: (f64, f64), out: &mut [f64]) {
    let (memory, rest) = by;
    let spreads = day.spread.iter().zip(&day.growth);
    let moving = day.score.iter_mut().zip(&day.fresh).zip(&mut day.sum);
    for (((out, k), (a, b)), ((z, n), sum)) in out.iter_mut().zip(&day.clearness).zip(spreads).zip(moving) {
        *z = memory * *z + rest * bell(*n);
        *out = clouded(lit, *k, *a, *b, *z);
        *sum += lit.outside * *out;
    }
}

#[inline(always)]
fn day_pulls(day: &mut DayLanes, table: &DayTable) {
    for (((k, sum), up), down) in day.clearness.iter().zip(&day.sum).zip(&mut day.up).zip(&mut day.down) {
        (*up, *down) = pulls(table, *k, *sum);
    }
}

#[inline(always)]
fn output(day: &DayLanes, lit: &Lit, views: Views, out: &mut [f64]) {
    for ((out, up), down) in out.iter_mut().zip(&day.up).zip(&day.down) {
        let k = pulled(lit, *out, *up, *down);
        *out = lit.outside * on_panels(k, lit.beam_ratio, views);
    }
}
