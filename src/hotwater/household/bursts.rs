//! Appliances switched on by chance: a few kinds, each with a power, a time it is on, and the hours at which people use
//! it. In each half hour at most one is switched on, at a moment drawn evenly within it; none is on for longer than half an
//! hour at its full power. Powers and times are our own, from general knowledge of the trade: an assumption.

use crate::sampling::maths::kernels;

/// Half hours of a day, in which appliances are switched on whatever the steps of the simulation: with other steps a run
/// has the same appliances.
pub(crate) const SLOTS: usize = 48;

/// Hours of a slot.
pub(crate) const SLOT_HOURS: f64 = 0.5;

/// A kind of appliance.
struct Kind {
    /// Power while it is on.
    kw: f64,
    /// Time it is on, in slots of half an hour; at most 1.
    slots: f64,
    /// Share of the energy of all bursts.
    share: f64,
    /// Weights of the hours at which it is switched on.
    hours: [f64; 24],
}

/// How many kinds there are.
const COUNT: usize = 5;

const KINDS: [Kind; COUNT] = [
    // Kettle, toaster, microwave.
    Kind {
        kw: 2.2,
        slots: 0.1,
        share: 0.15,
        hours: [
            0.2, 0.1, 0.1, 0.1, 0.2, 0.5, 2.0, 3.0, 2.5, 1.5, 1.5, 1.5, 1.8, 1.5, 1.2, 1.3, 1.5, 1.8, 2.0,
            1.8, 1.5, 1.3, 0.9, 0.4,
        ],
    },
    // Hob and oven.
    Kind {
        kw: 1.8,
        slots: 0.8,
        share: 0.35,
        hours: [
            0.0, 0.0, 0.0, 0.0, 0.0, 0.1, 0.4, 0.6, 0.5, 0.4, 0.5, 1.0, 1.5, 0.9, 0.5, 0.6, 1.5, 3.2, 3.5,
            2.0, 0.9, 0.4, 0.2, 0.1,
        ],
    },
    // Washing machine while it heats.
    Kind {
        kw: 2.0,
        slots: 0.6,
        share: 0.15,
        hours: [
            0.1, 0.0, 0.0, 0.0, 0.0, 0.1, 0.6, 1.3, 1.8, 2.0, 1.9, 1.6, 1.3, 1.2, 1.1, 1.1, 1.1, 1.1, 1.1,
            1.0, 0.8, 0.5, 0.3, 0.2,
        ],
    },
    // Dishwasher while it heats.
    Kind {
        kw: 2.0,
        slots: 0.7,
        share: 0.15,
        hours: [
            0.2, 0.1, 0.0, 0.0, 0.0, 0.0, 0.2, 0.6, 1.0, 1.0, 0.6, 0.5, 0.8, 1.3, 1.0, 0.5, 0.4, 0.6, 1.2,
            2.2, 2.4, 1.8, 1.0, 0.5,
        ],
    },
    // Drier, iron, vacuum cleaner and others.
    Kind {
        kw: 1.5,
        slots: 0.9,
        share: 0.20,
        hours: [
            0.1, 0.0, 0.0, 0.0, 0.0, 0.1, 0.4, 0.8, 1.1, 1.5, 1.6, 1.5, 1.3, 1.2, 1.2, 1.2, 1.2, 1.3, 1.4,
            1.4, 1.2, 0.8, 0.4, 0.2,
        ],
    },
];

/// Highest chance that something is switched on in the busiest half hour.
const MOST_CHANCE: f64 = 0.95;

/// Chances of a home whose bursts come to 1 kWh a day.
#[derive(Debug, Clone)]
pub(crate) struct Chances {
    /// Of each slot, the chance of the first kind, of the first two, ...
    limits: Vec<[f64; COUNT]>,
    /// kW of all bursts' energy by window, as if it were spread by the slots in which it begins.
    pub(crate) spread_kw: Vec<f64>,
    busiest: f64,
}

impl Chances {
    pub(crate) fn new(windows: usize) -> Chances {
        let mut energy = [0.0; SLOTS];
        let mut limits = Vec::with_capacity(SLOTS);
        for (slot, energy) in energy.iter_mut().enumerate() {
            let mut sum = 0.0;
            limits.push(std::array::from_fn(|k| {
                let kind = &KINDS[k];
                let of_kind = kind.share * kind.hours[slot / 2] / (2.0 * kind.hours.iter().sum::<f64>());
                *energy += of_kind;
                sum += of_kind / (kind.kw * kind.slots * SLOT_HOURS);
                sum
            }));
        }
        let busiest = limits.iter().map(|l: &[f64; COUNT]| l[COUNT - 1]).fold(0.0, f64::max);
        let kw = energy.map(|kwh| kwh / SLOT_HOURS);
        Chances { limits, spread_kw: crate::hotwater::profile::means(&kw, windows), busiest }
    }

    /// For a home whose bursts come to `kwh` a day.
    ///
    /// Where more than one would be switched on in the busiest half hour (n times what [`MOST_CHANCE`] allows), each has
    /// the power of sqrt(n), and what is lacking goes into the steady use at the same hours: mean and variance of
    /// the use are then those of n times as many.
    pub(crate) fn rate(&self, kwh: f64) -> Rate {
        if kwh.is_nan() || kwh <= 0.0 {
            return Rate { inverse: NONE, power: 1.0, steady_kwh: 0.0 };
        }
        let n = kwh * self.busiest / MOST_CHANCE;
        if n <= 1.0 {
            return Rate { inverse: 1.0 / kwh, power: 1.0, steady_kwh: 0.0 };
        }
        let root = n.sqrt();
        Rate { inverse: self.busiest / MOST_CHANCE, power: root, steady_kwh: kwh * (1.0 - 1.0 / root) }
    }

    pub(crate) fn limits(&self, slot: usize) -> &[f64; COUNT] {
        &self.limits[slot]
    }
}

/// How often a run's appliances are switched on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rate {
    /// Factor on a uniform before it is held against the limits: 1 / rate.
    pub(crate) inverse: f64,
    /// Factor on the powers.
    pub(crate) power: f64,
    /// kWh a day that are steady instead.
    pub(crate) steady_kwh: f64,
}

/// How often something is switched on in a slot, and with what power: inverse rates and powers by lane, and the limits of
/// the slot.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Habits<'a> {
    pub(crate) inverse: &'a [f64],
    pub(crate) power: &'a [f64],
    pub(crate) limits: &'a [f64; COUNT],
}

/// An inverse rate at which nothing is ever switched on.
pub(crate) const NONE: f64 = 1e300;

/// A whole number added and taken away rounds: 2^52.
const ROUND: f64 = 4_503_599_627_370_496.0;

/// What the bits of a uniform below 1 / `bits` say: a uniform again.
#[inline(always)]
fn fine(uniform: f64, bits: f64) -> f64 {
    let x = uniform * bits;
    (x - ((x + ROUND) - ROUND)) + 0.5
}

/// Two uniforms of 26 bits from one, never 0: enough for what is switched on (the upper bits) and when (the lower ones).
/// Random numbers are a good part of the work.
#[inline(always)]
fn half_of(uniform: f64, second: bool) -> f64 {
    const BITS: f64 = 67_108_864.0; // 2^26
    let x = uniform * BITS;
    let whole = (x + ROUND) - ROUND;
    if second { (x - whole) + 0.5 } else { (whole + 0.25) / BITS }
}

#[inline(always)]
fn start_all(u: &[f64], second: bool, habits: Habits<'_>, kw: &mut [f64], from: &mut [f64], to: &mut [f64]) {
    let n = u.len();
    let (inverse, power, limits) = (&habits.inverse[..n], &habits.power[..n], habits.limits);
    let (kw, from, to) = (&mut kw[..n], &mut from[..n], &mut to[..n]);
    for i in 0..n {
        let u = half_of(u[i], second);
        let v = u * inverse[i];
        let (mut p, mut d) = (0.0, 0.0);
        for k in (0..COUNT).rev() {
            let on = v < limits[k];
            p = if on { KINDS[k].kw } else { p };
            d = if on { KINDS[k].slots } else { d };
        }
        let begin = fine(u, 4096.0);
        kw[i] = p * power[i];
        from[i] = begin;
        to[i] = begin + d;
    }
}

#[inline(always)]
fn carry_all(kw: &[f64], to: &[f64], left_kw: &mut [f64], left_to: &mut [f64]) {
    for (((kw, to), left_kw), left_to) in kw.iter().zip(to).zip(left_kw).zip(left_to) {
        let over = *to > 1.0;
        *left_kw = if over { *kw } else { 0.0 };
        *left_to = if over { to - 1.0 } else { 0.0 };
    }
}

kernels! {
    /// What is switched on in a slot: power, and from when to when as shares of the slot (the end may lie in the next).
    /// A pair of slots shares its uniforms.
    pub(crate) fn start_bursts(
        u: &[f64],
        second: bool,
        habits: Habits<'_>,
        kw: &mut [f64],
        from: &mut [f64],
        to: &mut [f64]
    ) = start_all;
    /// What of it is still on in the next slot.
    pub(crate) fn carry_bursts(kw: &[f64], to: &[f64], left_kw: &mut [f64], left_to: &mut [f64]) = carry_all;
}

#[cfg(test)]
pub(super) mod tests;
