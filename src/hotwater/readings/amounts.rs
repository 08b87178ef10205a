//! A column of values as energies of intervals: registers or amounts, units, values that cannot be.

use super::options::{Kind, Options, Unit};
use super::tidy::Tidy;
use super::troubles::{Trouble, Troubles};
use super::words;

/// Energy of one interval.
#[derive(Debug, Clone, Copy)]
pub(super) struct Interval {
    /// Seconds since 1970 of the standard clock.
    pub(super) start: i64,
    /// Length in seconds.
    pub(super) seconds: u32,
    pub(super) kwh: f64,
    pub(super) line: u32,
}

/// How a column was taken.
#[derive(Debug, Clone)]
pub(super) struct Taken {
    pub(super) unit: Unit,
    pub(super) unit_why: &'static str,
    pub(super) unit_sure: bool,
    pub(super) register: bool,
    pub(super) register_why: &'static str,
    /// Whether the sign was turned (a column of export written below 0).
    pub(super) turned: bool,
}

/// Whether a column is a register: it hardly ever falls.
pub(super) fn is_register(values: &[f64], heading: &str, options: &Options) -> (bool, &'static str) {
    if let Some(told) = options.register {
        return (told, "as told");
    }
    let (mut rises, mut falls, mut all, mut last) = (0usize, 0usize, 0usize, f64::NAN);
    for &value in values.iter().filter(|value| !value.is_nan()) {
        rises += usize::from(value > last);
        falls += usize::from(value < last);
        all += 1;
        last = value;
    }
    // Amounts fall every evening; a register falls when it is exchanged, rolls over or is misread.
    let never_falls = falls <= 3 + all / 500 && rises > 3 * falls;
    if words::is_register(heading) && !words::is_power(heading) && never_falls && rises > 0 {
        return (true, "the heading says so and it rises");
    }
    if all >= 96 && never_falls && rises * 20 >= all {
        return (true, "it rises for ever");
    }
    (false, "it rises and falls")
}

/// Splits a column of readings into intervals in its own unit; of a register the differences. `ends`: stamps mark ends.
pub(super) fn intervals(
    tidy: &Tidy,
    values: &[f64],
    register: bool,
    ends: bool,
    cap: f64,
    troubles: &mut Troubles,
) -> Vec<Interval> {
    if register {
        return differences(tidy, values, cap, troubles);
    }
    let mut found = Vec::with_capacity(values.len());
    for (row, &value) in values.iter().enumerate().filter(|(_, value)| !value.is_nan()) {
        let seconds = tidy.step[row];
        let start = if ends { tidy.at[row] - seconds } else { tidy.at[row] };
        found.push(Interval { start, seconds: seconds as u32, kwh: value, line: tidy.lines[row] });
    }
    found
}

/// A rise per interval that a register may plausibly show: far above what is usual.
pub(super) fn plausible_rise(values: &[f64]) -> f64 {
    let known = values.iter().copied().filter(|value| !value.is_nan());
    let mut last = f64::NAN;
    let mut rises: Vec<f64> = Vec::new();
    for value in known {
        if value > last {
            rises.push(value - last);
        }
        last = value;
    }
    usual_high(&mut rises).map_or(f64::INFINITY, |high| 20.0 * high)
}

/// A value that only about one in a hundred exceeds, whatever a few absurd ones are.
fn usual_high(positive: &mut [f64]) -> Option<f64> {
    if positive.len() < 12 {
        return None;
    }
    let rank = positive.len() - 1 - (positive.len() / 100 + 3);
    Some(*positive.select_nth_unstable_by(rank, f64::total_cmp).1)
}

/// Differences of a register from reading to reading.
fn differences(tidy: &Tidy, values: &[f64], cap: f64, troubles: &mut Troubles) -> Vec<Interval> {
    let known: Vec<usize> = (0..values.len()).filter(|&row| !values[row].is_nan()).collect();
    let mut found = Vec::with_capacity(known.len());
    let Some((&first, rest)) = known.split_first() else { return found };
    let mut last = first;
    for (place, &row) in rest.iter().enumerate() {
        let line = tidy.lines[row] as usize;
        let seconds = tidy.at[row] - tidy.at[last];
        let intervals = (seconds as f64 / tidy.step[row] as f64).max(1.0);
        let (before, now) = (values[last], values[row]);
        let next = rest.get(place + 1).map(|&next| values[next]);
        if is_glitch(before, now, next, cap * intervals) {
            troubles.add(Trouble::Glitch, line);
            continue;
        }
        let kwh =
            if now >= before { now - before } else { fall(before, now, cap * intervals, line, troubles) };
        found.push(Interval {
            start: tidy.at[last],
            seconds: seconds.min(i64::from(u32::MAX)) as u32,
            kwh,
            line: tidy.lines[row],
        });
        last = row;
    }
    found
}

/// Whether a reading is far off while its neighbours agree with each other.
fn is_glitch(before: f64, now: f64, next: Option<f64>, cap: f64) -> bool {
    let Some(next) = next else { return false };
    let neighbours_agree = next >= before && next - before <= 2.0 * cap;
    neighbours_agree && (now < before || (now > next && now - before > cap))
}

/// What passed where a register shows less than before.
fn fall(before: f64, now: f64, cap: f64, line: usize, troubles: &mut Troubles) -> f64 {
    let mut full = 1000.0;
    while full <= before && full < 1e12 {
        full *= 10.0;
    }
    let over = full - before + now;
    if before > 0.9 * full && over <= cap {
        troubles.add(Trouble::RollOver, line);
        return over;
    }
    if now <= cap && now >= 0.0 && now < 0.5 * before {
        troubles.add(Trouble::Reset, line);
        return now;
    }
    if before - now <= cap {
        troubles.add(Trouble::Backwards, line);
        return 0.0;
    }
    // A register that starts again from some other figure: what passed is not known.
    troubles.add(Trouble::Reset, line);
    0.0
}

/// The size that only few of a column's values exceed.
pub(super) fn high(found: &[Interval]) -> f64 {
    // Some thousands tell it as well as all.
    let some = (found.len() / 5000).max(1);
    let mut sizes: Vec<f64> =
        found.iter().step_by(some).map(|i| i.kwh.abs()).filter(|&size| size > 0.0).collect();
    match usual_high(&mut sizes) {
        Some(high) => high,
        None => sizes.iter().copied().fold(0.0, f64::max),
    }
}

/// The unit of a column: told, in the heading, or by size; `high` is the size of the columns together.
pub(super) fn unit(
    kind: Option<Kind>,
    heading: &str,
    high: f64,
    options: &Options,
) -> (Unit, &'static str, bool) {
    if let Some(told) = options.unit.filter(|_| kind != Some(Kind::Gas)) {
        return (told, "as told", true);
    }
    if let Some(unit) = words::unit(heading) {
        return (unit, "heading", true);
    }
    let power = words::is_power(heading);
    match (kind, power) {
        (Some(Kind::Gas), _) => (Unit::Kwh, "nothing says; gas bills count kWh", false),
        (_, true) if high > 60.0 => (Unit::W, "power by its heading; watts by size", true),
        (_, true) => (Unit::Kw, "power by its heading; kilowatts by size", true),
        (_, false) if high > 60.0 => (Unit::Wh, "no unit is named; by size not kWh", false),
        (_, false) => (Unit::Kwh, "no unit is named; by size kWh", false),
    }
}

/// Turns amounts into kWh.
pub(super) fn to_kwh(found: &mut [Interval], unit: Unit, gas_kwh_per_m3: f64) {
    for interval in found {
        // Wh are divided, not multiplied by 0.001: fewer roundings.
        interval.kwh = match unit {
            Unit::Wh => interval.kwh / 1000.0,
            _ => interval.kwh * unit.kwh(f64::from(interval.seconds) / 3600.0, gas_kwh_per_m3),
        };
    }
}

/// Leaves out what is absurdly high: more than 20 times what is usual and more than 10 kW; or above what is told.
pub(super) fn without_spikes(found: &mut Vec<Interval>, largest_kw: Option<f64>, troubles: &mut Troubles) {
    let power = |i: &Interval| i.kwh.abs() / (f64::from(i.seconds) / 3600.0);
    let cap = largest_kw.or_else(|| {
        let most = found.iter().map(power).fold(0.0, f64::max);
        if most <= 10.0 {
            return None;
        }
        let mut sizes: Vec<f64> = found.iter().map(power).filter(|&p| p > 0.0).collect();
        usual_high(&mut sizes).map(|high| (20.0 * high).max(10.0))
    });
    let Some(cap) = cap else { return };
    found.retain(|interval| {
        let fine = power(interval) <= cap;
        if !fine {
            troubles.add(Trouble::Spike, interval.line as usize);
        }
        fine
    });
}

/// Leaves out values below 0, or turns the sign of a column that is nearly always below.
pub(super) fn without_negatives(found: &mut Vec<Interval>, troubles: &mut Troubles) -> bool {
    let below = found.iter().filter(|i| i.kwh < 0.0).count();
    let above = found.iter().filter(|i| i.kwh > 0.0).count();
    if below == 0 {
        return false;
    }
    let turned = below > 20 * above;
    if turned {
        found.iter_mut().for_each(|i| i.kwh = 0.0 - i.kwh);
    }
    found.retain(|interval| {
        if interval.kwh < 0.0 {
            troubles.add(Trouble::Negative, interval.line as usize);
        }
        interval.kwh >= 0.0
    });
    turned
}
