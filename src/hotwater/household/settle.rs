//! Export and import within a window of time in which generation and steady use do not change, but appliances are on for
//! only a part.
//!
//! Meters net within seconds, so a home exports and imports in turn within one half hour. Of a window, one burst (still
//! on from before) has the first part, another a part of its own; they may overlap. That makes at most four states, each
//! with its share of the window and its power: export = sum over the states of share x max(spare - power, 0). What is
//! imported follows from the balance. Generation is still a mean over the step: passing clouds are not seen, and exports
//! and imports of half hours with broken cloud remain a little too small.

use crate::sampling::Vectors;
use crate::sampling::maths::kernels;

use super::bursts::SLOT_HOURS;

/// Bursts of a slot, a value for each lane: one that is still on from before until `old_to`, one from `from` to `to`
/// (shares of the slot; beyond 1 it lies in the next).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bursts<'a> {
    pub(crate) old_kw: &'a [f64],
    pub(crate) old_to: &'a [f64],
    pub(crate) kw: &'a [f64],
    pub(crate) from: &'a [f64],
    pub(crate) to: &'a [f64],
}

/// Steady use: `always_on + people * people_kw + extra * extra_kw`, and generation, of which a share counts here.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Steady<'a> {
    pub(crate) always_on: &'a [f64],
    pub(crate) people: &'a [f64],
    pub(crate) people_kw: f64,
    pub(crate) extra: &'a [f64],
    pub(crate) extra_kw: f64,
    /// Of steady use, the share that is on this phase.
    pub(crate) demand_share: f64,
    /// kWh that the panels make in the step.
    pub(crate) generation: &'a [f64],
    /// kW on this phase for each of these kWh.
    pub(crate) generation_kw: f64,
}

impl Vectors {
    /// Whether nothing is generated in any lane.
    pub(crate) fn is_dark(self, generation: &[f64]) -> bool {
        let mut bits = 0;
        self.any_bits(generation, &mut bits);
        bits == 0
    }
}

#[inline(always)]
fn any_bits_of_all(values: &[f64], bits: &mut u64) {
    // Without a branch for each lane.
    *bits = values.iter().fold(0, |bits, value| bits | value.to_bits());
}

kernels! {
    /// All bits that any of the values has.
    fn any_bits(values: &[f64], bits: &mut u64) = any_bits_of_all;
    /// Adds the export and the import, in kWh, of the part from `window.0` to `window.1` of a slot.
    pub(crate) fn settle_window(
        window: (f64, f64),
        bursts: Bursts<'_>,
        steady: Steady<'_>,
        export: &mut [f64],
        import: &mut [f64]
    ) = settle_all;
    /// The same where nothing is generated, which is half of the year: only import.
    pub(crate) fn settle_dark(window: (f64, f64), bursts: Bursts<'_>, steady: Steady<'_>, import: &mut [f64]) = dark_all;
}

#[inline(always)]
fn at_least_0(x: f64) -> f64 {
    if x > 0.0 { x } else { 0.0 }
}

#[inline(always)]
fn lesser(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

#[inline(always)]
fn greater(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

#[inline(always)]
fn settle_all(
    (begin, end): (f64, f64),
    bursts: Bursts<'_>,
    steady: Steady<'_>,
    export: &mut [f64],
    import: &mut [f64],
) {
    let n = export.len();
    let import = &mut import[..n];
    let Bursts { old_kw, old_to, kw, from, to } = bursts;
    let (old_kw, old_to, kw, from, to) = (&old_kw[..n], &old_to[..n], &kw[..n], &from[..n], &to[..n]);
    let (always_on, people, extra) = (&steady.always_on[..n], &steady.people[..n], &steady.extra[..n]);
    let generation = &steady.generation[..n];
    for i in 0..n {
        let use_kw = always_on[i] + people[i] * steady.people_kw + extra[i] * steady.extra_kw;
        let spare = generation[i] * steady.generation_kw - use_kw * steady.demand_share;
        let old_end = lesser(old_to[i], end);
        let (new_begin, new_end) = (greater(from[i], begin), lesser(to[i], end));
        let old = at_least_0(old_end - begin);
        let new = at_least_0(new_end - new_begin);
        let both = at_least_0(lesser(old_end, new_end) - new_begin);
        let none = at_least_0((end - begin) - old - new + both);
        let out = none * at_least_0(spare)
            + (old - both) * at_least_0(spare - old_kw[i])
            + (new - both) * at_least_0(spare - kw[i])
            + both * at_least_0(spare - old_kw[i] - kw[i]);
        let net = (end - begin) * spare - old * old_kw[i] - new * kw[i];
        export[i] += SLOT_HOURS * out;
        import[i] += SLOT_HOURS * at_least_0(out - net);
    }
}

#[inline(always)]
fn dark_all((begin, end): (f64, f64), bursts: Bursts<'_>, steady: Steady<'_>, import: &mut [f64]) {
    let n = import.len();
    let Bursts { old_kw, old_to, kw, from, to } = bursts;
    let (old_kw, old_to, kw, from, to) = (&old_kw[..n], &old_to[..n], &kw[..n], &from[..n], &to[..n]);
    let (always_on, people, extra) = (&steady.always_on[..n], &steady.people[..n], &steady.extra[..n]);
    for i in 0..n {
        let use_kw = always_on[i] + people[i] * steady.people_kw + extra[i] * steady.extra_kw;
        let old = at_least_0(lesser(old_to[i], end) - begin);
        let new = at_least_0(lesser(to[i], end) - greater(from[i], begin));
        let drawn = (end - begin) * (use_kw * steady.demand_share) + old * old_kw[i] + new * kw[i];
        import[i] += SLOT_HOURS * drawn;
    }
}
