//! Energies of intervals laid on days of 48 half hours, and gaps filled.

use super::amounts::Interval;
use super::found::Filled;

/// Seconds of a half hour.
pub(super) const SLOT: i64 = 1800;
/// Half hours of a day.
pub(super) const SLOTS: usize = 48;
/// Longest gap, in half hours, that is bridged from its ends.
const SHORT: usize = 4;
/// Most days that readings may span.
pub(super) const MOST_DAYS: i64 = 366 * 30;

/// What is known of a half hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Known {
    No,
    Measured,
    /// In part measured, the rest at the same mean power.
    Shared,
    /// Between its neighbours.
    Bridged,
    /// From the same half hour of a like day.
    LikeDay,
    /// Total of the gap known from the register, its course from a like day or even.
    Register,
}

/// One kind's energies by half hour of the standard clock.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    /// Days since 1970 of the first day.
    pub(super) first_day: i64,
    /// kWh of each half hour that is known, whole or filled; NaN else.
    pub(super) kwh: Vec<f64>,
    /// kWh measured in each half hour.
    pub(super) measured: Vec<f64>,
    pub(super) known: Vec<Known>,
    /// Stretches without readings: start and end in seconds.
    pub(super) gaps: Vec<(i64, i64)>,
    /// kWh that a register counted in gaps too long to be used.
    pub(super) lost_in_gaps: f64,
}

/// A gap whose total a register tells.
struct Totalled {
    from: usize,
    to: usize,
    kwh: f64,
}

impl Grid {
    /// Lays intervals, in the order of time, on whole days from `first_day`; fills gaps.
    pub(super) fn new(
        first_day: i64,
        days: usize,
        intervals: &[Interval],
        register: bool,
        step: i64,
    ) -> Grid {
        let slots = days * SLOTS;
        let mut grid = Grid {
            first_day,
            kwh: vec![f64::NAN; slots],
            measured: vec![0.0; slots],
            known: vec![Known::No; slots],
            gaps: Vec::new(),
            lost_in_gaps: 0.0,
        };
        let mut seconds = vec![0u16; slots];
        let totals = grid.lay(intervals, &mut seconds, register, step);
        grid.take_measured(&seconds);
        grid.bridge();
        grid.copy_like_days();
        grid.keep_totals(&totals);
        grid
    }

    fn lay(
        &mut self,
        intervals: &[Interval],
        seconds: &mut [u16],
        register: bool,
        step: i64,
    ) -> Vec<Totalled> {
        let origin = self.first_day * 86_400;
        let mut totals = Vec::new();
        let mut end = i64::MIN;
        for interval in intervals {
            if end != i64::MIN && interval.start > end {
                self.gaps.push((end, interval.start));
            }
            let length = i64::from(interval.seconds);
            end = end.max(interval.start + length);
            let from = interval.start - origin;
            if register && length > step {
                self.gaps.push((interval.start, interval.start + length));
                let aligned = from % SLOT == 0 && length % SLOT == 0;
                if length > SHORT as i64 * SLOT && (aligned || length > 86_400) {
                    totals.push(Totalled {
                        from: (from / SLOT).max(0) as usize,
                        to: ((from + length) / SLOT) as usize,
                        kwh: interval.kwh,
                    });
                    continue;
                }
            }
            self.spread(from, interval, seconds);
        }
        totals
    }

    /// Shares an interval among the half hours that it touches, by time.
    fn spread(&mut self, from: i64, interval: &Interval, seconds: &mut [u16]) {
        let length = i64::from(interval.seconds);
        let to = from + length;
        let mut at = from;
        while at < to {
            let slot = at.div_euclid(SLOT);
            let next = ((slot + 1) * SLOT).min(to);
            let here = next - at;
            let share =
                if here == length { interval.kwh } else { interval.kwh * (here as f64 / length as f64) };
            if let (Ok(slot), true) = (usize::try_from(slot), slot >= 0)
                && slot < seconds.len()
            {
                self.measured[slot] += share;
                seconds[slot] = (i64::from(seconds[slot]) + here).min(SLOT) as u16;
            }
            at = next;
        }
    }

    fn take_measured(&mut self, seconds: &[u16]) {
        for (slot, &known) in seconds.iter().enumerate() {
            if i64::from(known) == SLOT {
                self.kwh[slot] = self.measured[slot];
                self.known[slot] = Known::Measured;
            } else if known > 0 {
                self.kwh[slot] = self.measured[slot] * (SLOT as f64 / f64::from(known));
                self.known[slot] = Known::Shared;
            }
        }
    }

    /// Stretches of unknown half hours between known ones.
    fn holes(&self) -> Vec<(usize, usize)> {
        let mut holes = Vec::new();
        let mut from = None;
        let mut begun = false;
        for (slot, known) in self.known.iter().enumerate() {
            match (*known == Known::No, from) {
                (true, None) if begun => from = Some(slot),
                (false, Some(start)) => {
                    holes.push((start, slot));
                    from = None;
                }
                _ => {}
            }
            begun |= *known != Known::No;
        }
        holes
    }

    /// Up to two hours: a straight line between the half hours on either side.
    fn bridge(&mut self) {
        for (from, to) in self.holes() {
            let length = to - from;
            if length > SHORT || from == 0 {
                continue;
            }
            let (before, after) = (self.kwh[from - 1], self.kwh[to]);
            for slot in from..to {
                let share = (slot - from + 1) as f64 / (length + 1) as f64;
                self.kwh[slot] = before + (after - before) * share;
                self.known[slot] = Known::Bridged;
            }
        }
    }

    /// Up to a day: the same half hours of the nearest same weekday (up to four weeks off), else of a day beside.
    fn copy_like_days(&mut self) {
        const NEAR: [i64; 12] = [-7, 7, -14, 14, -21, 21, -28, 28, -1, 1, -2, 2];
        for (from, to) in self.holes() {
            if to - from > SLOTS {
                continue;
            }
            let whole = |shift: i64| {
                let moved = |slot: usize| usize::try_from(slot as i64 + shift * SLOTS as i64).ok();
                let known =
                    |slot| moved(slot).is_some_and(|s| matches!(self.known.get(s), Some(Known::Measured)));
                (from..to).all(known)
            };
            let Some(shift) = NEAR.into_iter().find(|&shift| whole(shift)) else { continue };
            for slot in from..to {
                self.kwh[slot] = self.kwh[(slot as i64 + shift * SLOTS as i64) as usize];
                self.known[slot] = Known::LikeDay;
            }
        }
    }

    /// Makes filled gaps sum to what the register counted.
    fn keep_totals(&mut self, totals: &[Totalled]) {
        for gap in totals {
            let to = gap.to.min(self.kwh.len());
            let slots = gap.from.min(to)..to;
            let filled = !slots.is_empty()
                && slots.clone().all(|s| matches!(self.known[s], Known::LikeDay | Known::Bridged));
            if !filled {
                self.lost_in_gaps += gap.kwh;
                continue;
            }
            let sum: f64 = self.kwh[slots.clone()].iter().sum();
            let count = slots.len() as f64;
            for slot in slots {
                self.kwh[slot] = if sum > 0.0 { self.kwh[slot] * (gap.kwh / sum) } else { gap.kwh / count };
                self.measured[slot] = self.kwh[slot];
                self.known[slot] = Known::Register;
            }
        }
    }

    /// Days with all 48 half hours known.
    pub(super) fn is_whole(&self, day: usize) -> bool {
        self.known[day * SLOTS..(day + 1) * SLOTS].iter().all(|known| *known != Known::No)
    }

    /// How a gap was filled.
    pub(super) fn how_filled(&self, gap: (i64, i64)) -> Filled {
        let origin = self.first_day * 86_400;
        let slots =
            ((gap.0 - origin).max(0) / SLOT) as usize..((gap.1 - origin + SLOT - 1).max(0) / SLOT) as usize;
        let states = self.known.get(slots.start..slots.end.min(self.known.len())).unwrap_or(&[]);
        let any = |known: Known| states.contains(&known);
        match () {
            () if any(Known::No) => Filled::LeftOut,
            () if any(Known::LikeDay) => Filled::LikeDay,
            () if any(Known::Register) => Filled::RegisterLikeDay,
            () if any(Known::Bridged) => Filled::Bridged,
            () if any(Known::Shared) => Filled::Shared,
            () => Filled::RegisterEven,
        }
    }
}
