//! Days on which nobody is there: blocks that begin by chance, half of the days in summer.
//!
//! A block lasts L days, L a rounding of a uniform number around the wanted mean B (B = 5: 3 to 7 days). On each day
//! on which people are at home a block begins with just that chance which makes the *unconditional* chance of a
//! beginning s_d constant in summer and constant in the rest of the year. A day d is then away with probability
//! q_d = sum over j >= 0 of s_(d-j) P(L > j), and the sum of q_d over the year is exactly the days asked for. Since
//! roundings of x are unbiased, E min(L, n) = E min(x, n) for whole n, and the sums have a closed form.

use super::chance::{Chance, Stream};
use super::settings::{Setting, Settings};
use super::time;

/// Which half of the year is summer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Hemisphere {
    /// June to August.
    #[default]
    North,
    /// December to February.
    South,
}

impl Hemisphere {
    /// First day of summer and its number of days.
    fn summer(self) -> (usize, usize) {
        match self {
            Hemisphere::North => (time::FIRST_DAYS[5], 92),
            Hemisphere::South => (time::FIRST_DAYS[11], 90),
        }
    }

    /// A typical coldest day of the year (air), from 0.
    pub(crate) fn coldest_day(self) -> f64 {
        match self {
            Hemisphere::North => 20.0,
            Hemisphere::South => 202.0,
        }
    }
}

/// Most days in summer are kept at home on this share of days, unless more than that are away all year.
const MOST_IN_SUMMER: f64 = 0.9;

/// Rates at which blocks begin in one run, and how long they last.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Blocks {
    hemisphere: Hemisphere,
    /// Beginnings a day in summer and in the rest of the year.
    rates: [f64; 2],
    mean: f64,
    least: f64,
    most: f64,
}

impl Blocks {
    /// For `days` of the year away in blocks of about `mean` days.
    pub(crate) fn new(hemisphere: Hemisphere, days: f64, mean: f64) -> Blocks {
        let (_, in_summer) = hemisphere.summer();
        let (summer, all) = (in_summer as f64, time::DAYS as f64);
        let share = (0.5 * days / summer).min(MOST_IN_SUMMER.max(days / all));
        let other = (days - summer * share) / (all - summer);
        let around = mean - 1.0;
        Blocks {
            hemisphere,
            rates: [share / mean, other / mean],
            mean,
            least: 1.0 + 0.5 * around,
            most: 1.0 + 1.5 * around,
        }
    }

    /// E min(L, n): days of a block that fall within `n` days of its beginning.
    fn within(&self, n: usize) -> f64 {
        let n = n as f64;
        if n >= self.most {
            return self.mean;
        }
        if n <= self.least {
            return n;
        }
        // x uniform from least to most: x below n, n above.
        let width = self.most - self.least;
        (0.5 * (n * n - self.least * self.least) + n * (self.most - n)) / width
    }

    /// Rates now and in the season before, and for how many days this season has lasted before day `day`.
    fn season(&self, day: usize) -> (f64, f64, usize) {
        let (first, days) = self.hemisphere.summer();
        let since = (day + time::DAYS - first) % time::DAYS;
        let [summer, rest] = self.rates;
        if since < days { (summer, rest, since) } else { (rest, summer, since - days) }
    }

    /// Chance that nobody is there on a day of the year. No block reaches over a whole season.
    pub(crate) fn chance_of(&self, day: usize) -> f64 {
        let (now, before, since) = self.season(day);
        let recent = self.within(since + 1);
        now * recent + before * (self.mean - recent)
    }

    /// Chance that a block begins on a day on which people are at home so far.
    fn begins(&self, day: usize) -> f64 {
        let (now, _, _) = self.season(day);
        let earlier = self.chance_of(day) - now;
        let home = 1.0 - earlier;
        if home > now { now / home } else { 1.0 }
    }

    /// Length of a block from two uniforms.
    fn length(&self, place: f64, rounding: f64) -> f64 {
        let x = self.least + (self.most - self.least) * place;
        ((x + rounding) as u32).max(1).into()
    }

    /// Days that a block still lasts on the first day of all, which is far behind a change of season: 0 if at home.
    fn at_first(&self, day: usize, uniform: f64) -> f64 {
        let (rate, _, _) = self.season(day);
        if rate <= 0.0 || uniform >= rate * self.mean {
            return 0.0;
        }
        // A block that covers the day lasts r days more, the day included, with chance rate * P(L >= r).
        let longest = self.most as usize + 2;
        (1..longest).find(|&r| uniform < rate * self.within(r)).unwrap_or(longest) as f64
    }
}

/// Days away of a batch of runs.
#[derive(Debug)]
pub struct AwayBatch {
    blocks: Vec<Blocks>,
    begin: Stream,
    length: Stream,
    /// Days that the block still lasts, today not counted.
    left: Vec<f64>,
    away: Vec<f64>,
    uniforms: Vec<f64>,
    any: bool,
    started: bool,
    hemisphere: Hemisphere,
}

impl AwayBatch {
    /// Of the runs of `chance`: settings `days_away` and `away_block`, of January where they differ by month. Every part
    /// of a home that asks has the same days.
    pub fn new(hemisphere: Hemisphere, settings: &Settings, chance: &Chance<'_>) -> AwayBatch {
        let (days, mean) = (settings.at(Setting::DaysAway, 0), settings.at(Setting::AwayBlock, 0));
        let block = |(&days, &mean): (&f64, &f64)| {
            // What a reader of studies has checked already; a NaN is none.
            let days = if days > 0.0 { days.min(360.0) } else { 0.0 };
            let mean = if mean > 1.0 { mean.min(60.0) } else { 1.0 };
            Blocks::new(hemisphere, days, mean)
        };
        let blocks: Vec<Blocks> = days.iter().zip(mean).map(block).collect();
        let zeros = vec![0.0; chance.lanes];
        AwayBatch {
            any: blocks.iter().any(|b| b.rates[1] > 0.0 || b.rates[0] > 0.0),
            blocks,
            begin: chance.stream("away"),
            length: chance.stream("away length"),
            left: zeros.clone(),
            away: zeros.clone(),
            uniforms: zeros,
            started: false,
            hemisphere,
        }
    }

    /// Chance that nobody is there, for a lane and a day of the year.
    pub fn chance_of(&self, lane: usize, day: usize) -> f64 {
        self.blocks[lane].chance_of(day)
    }

    /// Whether anybody ever goes away.
    pub(crate) fn any(&self) -> bool {
        self.any
    }

    /// 1 for each lane where nobody is there on this day, else 0. Days are asked for in order from 0.
    pub fn day(&mut self, day: usize) -> &[f64] {
        if self.any {
            if !self.started {
                self.begin_year();
            }
            self.advance(day, day as u32);
        }
        &self.away
    }

    /// The state at New Year. In the south that is within summer: the process begins before it.
    fn begin_year(&mut self) {
        self.started = true;
        let early = match self.hemisphere {
            Hemisphere::North => 0,
            Hemisphere::South => time::DAYS - time::FIRST_DAYS[11] + 1,
        };
        let first = (time::DAYS - early) % time::DAYS;
        // Parts above those of the days of the year.
        self.begin.uniforms(1000, &mut self.uniforms);
        for (left, (blocks, &u)) in self.left.iter_mut().zip(self.blocks.iter().zip(&self.uniforms)) {
            *left = blocks.at_first(first, u);
        }
        if early == 0 {
            return;
        }
        for left in &mut self.left {
            *left = (*left - 1.0).max(0.0);
        }
        for day in first + 1..time::DAYS {
            self.advance(day, 500 + day as u32);
        }
    }

    /// One day on.
    fn advance(&mut self, day: usize, part: u32) {
        self.begin.uniforms(part, &mut self.uniforms);
        let first_of_all = day == 0 && self.hemisphere == Hemisphere::North;
        for lane in 0..self.away.len() {
            let blocks = &self.blocks[lane];
            if self.left[lane] <= 0.0 && !first_of_all {
                let (u, begins) = (self.uniforms[lane], blocks.begins(day));
                if u < begins {
                    self.left[lane] = blocks.length(u / begins, self.length.uniform_of(part, lane));
                }
            }
            self.away[lane] = f64::from(u8::from(self.left[lane] > 0.0));
            self.left[lane] = (self.left[lane] - 1.0).max(0.0);
        }
    }
}

#[cfg(test)]
mod tests;
