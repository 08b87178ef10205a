//! What is expected of a year: equal shares of each day's distribution of clearness as lanes side by side.

use super::clouds::DayLanes;
use super::year::{Cloudy, Sun, by_month};
use crate::hotwater::chance::Chance;
use crate::hotwater::time::month_of;
use crate::sampling::maths::Vectors;

/// Shares of the distribution.
const SHARES: usize = 32;
/// Clouds drawn for each.
const CLOUDS: usize = 4;

pub(super) fn monthly(sun: &Sun) -> [f64; 12] {
    let lanes = SHARES * CLOUDS;
    // Any fixed seed will do: thousands of days average its chance away.
    let chance = Chance { seed: 1, name: "expected", first: 0, lanes, vectors: Vectors::Widest };
    let cloudy = Cloudy { sun, clouds: chance.stream("clouds"), vectors: chance.vectors };
    let middles: Vec<Vec<f64>> = (0..12).map(|month| middles(sun, month)).collect();
    let mut room = DayLanes::new(lanes);
    let mut out = vec![0.0; sun.steps() * lanes];
    by_month(|day| {
        let ceiling = sun.tables.days[day].ceiling;
        for (lane, k) in room.clearness.iter_mut().enumerate() {
            *k = ceiling * middles[month_of(day)][lane % SHARES];
        }
        cloudy.day(day, &mut room, &mut out);
        out.iter().sum::<f64>() / lanes as f64
    })
}

/// The mean of the share in each of the equal shares of the distribution, near enough: its middle, all scaled so
/// that their mean is that of the distribution.
fn middles(sun: &Sun, month: usize) -> Vec<f64> {
    let Some(Some(index)) = sun.clearness.months.get(month) else { return vec![0.0; SHARES] };
    let middle = |i: usize| {
        let lower = (i as f64 + 0.5) / SHARES as f64;
        index.share.quantile(lower, 1.0 - lower)
    };
    let middles: Vec<f64> = (0..SHARES).map(middle).collect();
    let scale = index.share.mean() * SHARES as f64 / middles.iter().sum::<f64>();
    middles.into_iter().map(|k| (k * scale).min(1.0)).collect()
}
