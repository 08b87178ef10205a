//! Hot water drawn: litres of each step of a year.
//!
//! A day's litres are those of a usual day, times a gamma variable with mean 1 (positive, skewed, keeps the mean), times
//! a factor for weekends that keeps the mean of the week, and nothing when nobody is there. Litres are those of a usual
//! day: days away are not made up for at home. Within the day a part follows the profile and the rest comes in lumps,
//! showers and baths, at moments drawn from the profile: see `lumps`.

pub(crate) mod day_factor;
pub(crate) mod lumps;

use super::away::{AwayBatch, Hemisphere};
use super::chance::Chance;
use super::profile::{Moments, Profile};
use super::settings::{Setting, Settings};
use super::time;
use crate::sampling::Vectors;
use crate::sampling::maths::kernels;
use day_factor::DayFactor;
use lumps::Lumps;

/// How draws spread over a kind of day.
#[derive(Debug, Clone)]
struct Pattern {
    /// Share of each step.
    shares: Vec<f64>,
    moments: Moments,
}

impl Pattern {
    fn new(profile: &Profile, steps: usize) -> Pattern {
        Pattern { shares: profile.shares(steps), moments: Moments::new(profile) }
    }
}

/// What all runs have in common: the profile, lumps or none, the hemisphere.
#[derive(Debug, Clone)]
pub struct DrawOff {
    usual: Pattern,
    weekend: Option<Pattern>,
    lumpy: bool,
    hemisphere: Hemisphere,
    steps: usize,
}

impl DrawOff {
    /// Draws by the profile `usual`, in lumps, in days of `steps` steps (at least one).
    pub fn new(usual: &Profile, steps: usize) -> DrawOff {
        let steps = steps.max(1);
        let usual = Pattern::new(usual, steps);
        DrawOff { usual, weekend: None, lumpy: true, hemisphere: Hemisphere::North, steps }
    }

    /// Another profile for Saturdays and Sundays.
    #[must_use]
    pub fn weekend(mut self, profile: &Profile) -> DrawOff {
        self.weekend = Some(Pattern::new(profile, self.steps));
        self
    }

    /// Whether draws come in lumps (the default), or each day follows the profile exactly.
    #[must_use]
    pub fn lumpy(mut self, lumpy: bool) -> DrawOff {
        self.lumpy = lumpy;
        self
    }

    /// Where summer, and half of the days away, is.
    #[must_use]
    pub fn hemisphere(mut self, hemisphere: Hemisphere) -> DrawOff {
        self.hemisphere = hemisphere;
        self
    }

    /// Steps of a day.
    pub fn steps(&self) -> usize {
        self.steps
    }

    /// The year of a batch of runs. `settings` has a value for each of its lanes.
    pub fn batch<'a>(&'a self, settings: &'a Settings, chance: &Chance<'_>) -> DrawOffBatch<'a> {
        debug_assert_eq!(settings.lanes(), chance.lanes);
        DrawOffBatch {
            draw_off: self,
            settings,
            away: AwayBatch::new(self.hemisphere, settings, chance),
            factor: DayFactor::new(chance),
            lumps: Lumps::new(chance),
            away_today: vec![0.0; chance.lanes],
            litres: vec![0.0; chance.lanes],
            vectors: chance.vectors,
        }
    }

    fn pattern(&self, day: usize) -> &Pattern {
        match &self.weekend {
            Some(weekend) if time::is_weekend(day) => weekend,
            _ => &self.usual,
        }
    }
}

/// The draws of a batch of runs, day by day.
#[derive(Debug)]
pub struct DrawOffBatch<'a> {
    draw_off: &'a DrawOff,
    settings: &'a Settings,
    away: AwayBatch,
    factor: DayFactor,
    lumps: Lumps,
    away_today: Vec<f64>,
    litres: Vec<f64>,
    vectors: Vectors,
}

impl DrawOffBatch<'_> {
    /// Litres of each step, counted at `drawn_at`, into `out[step * lanes + lane]`. Days are asked for in order from 0.
    pub fn day(&mut self, day: usize, out: &mut [f64]) {
        self.away_today.copy_from_slice(self.away.day(day));
        self.day_totals(day);
        let pattern = self.draw_off.pattern(day);
        if self.draw_off.lumpy {
            self.lumps.spread(day, &self.litres, &pattern.moments, &pattern.shares, out);
        } else {
            self.vectors.follow_shares(&pattern.shares, &self.litres, out);
        }
    }

    /// 1 for each lane where nobody is there on the day last asked for, else 0.
    pub fn away(&self) -> &[f64] {
        &self.away_today
    }

    /// Litres of the whole day for each lane.
    fn day_totals(&mut self, day: usize) {
        let month = time::month_of(day);
        let factors = self.factor.day(day, self.settings.at(Setting::DayToDay, month));
        let (usual, weekend) =
            (self.settings.at(Setting::Litres, month), self.settings.at(Setting::Weekend, month));
        let at_weekend = time::is_weekend(day);
        for (lane, litres) in self.litres.iter_mut().enumerate() {
            let of_week = week_factor(weekend[lane], at_weekend);
            *litres = usual[lane] * factors[lane] * of_week * (1.0 - self.away_today[lane]);
        }
    }
}

/// Factor on a day's draw: weekends have `weekend` times the draw of other days, and the week's mean stays.
fn week_factor(weekend: f64, at_weekend: bool) -> f64 {
    let other = 7.0 / (5.0 + 2.0 * weekend);
    if at_weekend { weekend * other } else { other }
}

kernels! {
    /// Each step's share of the day's litres.
    fn follow_shares(shares: &[f64], litres: &[f64], out: &mut [f64]) = follow_all;
}

#[inline(always)]
fn follow_all(shares: &[f64], litres: &[f64], out: &mut [f64]) {
    for (share, step) in shares.iter().zip(out.chunks_exact_mut(litres.len().max(1))) {
        for (o, l) in step.iter_mut().zip(litres) {
            *o = share * l;
        }
    }
}

#[cfg(test)]
mod tests;
