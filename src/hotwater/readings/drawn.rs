//! A year for each run, drawn from a library of days.

use std::sync::Arc;

use super::grid::SLOTS;
use super::library::{Day, Kept, Library};
use crate::hotwater::chance::{Chance, Stream};
use crate::hotwater::flows::{MeterDay, MeterYear};
use crate::hotwater::settings::{Setting, Settings};
use crate::hotwater::time::{DAYS, FIRST_DAYS, month_of};
use crate::sampling::maths::exp;

/// A year of metered days for a batch of runs.
#[derive(Debug, Clone)]
pub struct DrawnYear {
    kept: Arc<Kept>,
    blocks: Stream,
    /// `readings_scale`: one column or twelve, a value for each lane.
    scale: Vec<Vec<f64>>,
    /// Factor on export and generation of each lane: its year.
    year: Vec<f64>,
    /// A standard normal of each lane: how the season is misjudged, the same in all months made from others.
    season: Vec<f64>,
    /// Start of the present block of each lane, a place in the month's list.
    starts: Vec<f64>,
    /// The block that `starts` is of, and the month whose factors `factor` has.
    block: Option<u32>,
    month: Option<usize>,
    /// Factor on export of each lane in this month.
    factor: Vec<f64>,
}

impl Library {
    /// A year for each run of a batch: blocks of days in a row, each starting on any of the month's days with the same
    /// chance and going on, past the last, at the first. So every day of a month comes with the same chance and the mean
    /// of many runs is the mean of the readings. Of `settings`, `readings_scale` is used.
    pub fn batch(&self, chance: &Chance<'_>, settings: &Settings) -> DrawnYear {
        let lanes = chance.lanes;
        let mut year = vec![0.0; lanes];
        chance.stream("readings year").normals(0, &mut year);
        let sd = self.kept.scatter.year_log_sd;
        // Mean 1: the readings are not scaled up or down as a whole.
        year.iter_mut().for_each(|z| *z = exp(sd * *z - 0.5 * sd * sd));
        let mut season = vec![0.0; lanes];
        chance.stream("readings season").normals(0, &mut season);
        let months = if settings.by_month(Setting::ReadingsScale) { 12 } else { 1 };
        let scale = (0..months).map(|month| settings.at(Setting::ReadingsScale, month).to_vec()).collect();
        DrawnYear {
            kept: Arc::clone(&self.kept),
            blocks: chance.stream("readings blocks"),
            scale,
            year,
            season,
            starts: vec![0.0; lanes],
            block: None,
            month: None,
            factor: vec![1.0; lanes],
        }
    }
}

impl DrawnYear {
    fn scale(&self, month: usize) -> &[f64] {
        self.scale.get(month).or(self.scale.first()).map_or(&[], Vec::as_slice)
    }

    /// Factor on export of each lane: its year times, in a month made from others, how the season is misjudged.
    fn enter_month(&mut self, month: usize) {
        if self.month == Some(month) {
            return;
        }
        self.month = Some(month);
        let sd = self.kept.months[month].log_sd;
        let mut factor = std::mem::take(&mut self.factor);
        for (lane, (into, &scale)) in factor.iter_mut().zip(self.scale(month)).enumerate() {
            let season = if sd > 0.0 { exp(sd * self.season[lane] - 0.5 * sd * sd) } else { 1.0 };
            *into = self.year[lane] * season * scale;
        }
        self.factor = factor;
    }

    fn enter_block(&mut self, month: usize, block: usize) {
        let part = (month * 32 + block) as u32;
        if self.block != Some(part) {
            self.block = Some(part);
            self.blocks.uniforms(part, &mut self.starts);
            let count = self.kept.months[month].days.len();
            self.starts.iter_mut().for_each(|u| *u = ((*u * count as f64) as usize).min(count - 1) as f64);
        }
    }
}

impl MeterYear for DrawnYear {
    /// Steps of the day are those of `out`: half hours are shared evenly among shorter steps, summed into longer ones.
    fn fill(&mut self, day: usize, out: &mut MeterDay) {
        let day = day.min(DAYS - 1);
        let month = month_of(day);
        let of_month = day - FIRST_DAYS[month];
        let block = of_month / self.kept.block;
        self.enter_month(month);
        self.enter_block(month, block);
        let (lanes, steps) = (out.lanes, out.steps);
        out.export.resize(steps * lanes, 0.0);
        out.import.resize(steps * lanes, 0.0);
        let generation = if self.kept.has_generation { steps * lanes } else { 0 };
        out.generation.resize(generation, 0.0);
        let place = of_month - block * self.kept.block;
        let scale = self.scale(month);
        let list = &self.kept.months[month];
        for first in (0..lanes.min(self.starts.len())).step_by(TILE) {
            let count = TILE.min(self.starts.len() - first).min(lanes - first);
            let mut tile = Tile { days: [&self.kept.days[0]; TILE], first, count, lanes, steps };
            let (mut factors, mut scales) = ([0.0; TILE], [0.0; TILE]);
            for at in 0..count {
                let lane = first + at;
                let drawn = (self.starts[lane] as usize + place) % list.days.len();
                tile.days[at] = &self.kept.days[list.days[drawn] as usize];
                factors[at] = self.factor[lane] * list.season[drawn];
                scales[at] = scale[lane];
            }
            tile.lay(|day| &day.export, &factors, &mut out.export);
            tile.lay(|day| &day.import, &scales, &mut out.import);
            if generation > 0 {
                tile.lay(|day| &day.generation, &factors, &mut out.generation);
            }
        }
    }
}

/// Lanes filled side by side: as many values as a line of the processor's cache holds, so that each is written whole.
const TILE: usize = 8;

/// The days of some lanes.
struct Tile<'a> {
    days: [&'a Day; TILE],
    first: usize,
    count: usize,
    lanes: usize,
    steps: usize,
}

impl Tile<'_> {
    /// Lays one quantity of the days, times a factor for each lane.
    fn lay(&self, of: fn(&Day) -> &[f64; SLOTS], factors: &[f64; TILE], into: &mut [f64]) {
        let courses = self.days.map(of);
        for step in 0..self.steps {
            let from = step * self.lanes + self.first;
            for ((into, course), factor) in
                into[from..from + self.count].iter_mut().zip(&courses).zip(factors)
            {
                *into = factor * of_step(course, step, self.steps);
            }
        }
    }
}

/// kWh of a step of the day: by the share of each half hour that it covers.
#[inline(always)]
fn of_step(from: &[f64; SLOTS], step: usize, steps: usize) -> f64 {
    if steps == SLOTS {
        return from[step];
    }
    // In units of 1 / (48 steps) of a day: a half hour is `steps` of them, a step 48.
    let (begin, end) = (step * SLOTS, (step + 1) * SLOTS);
    let slots = begin / steps..end.div_ceil(steps);
    let covered = |slot: usize| ((slot + 1) * steps).min(end) - (slot * steps).max(begin);
    slots.map(|slot| from[slot] * (covered(slot) as f64 / steps as f64)).sum()
}
