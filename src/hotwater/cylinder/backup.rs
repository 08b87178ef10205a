//! Back-up heat and circulation.

use super::super::outputs::Output;
use super::home::{Backup, CIRCULATED_ABOVE, Home};
use super::lanes::{Lanes, W, ZERO, add, any, each, flag, high, low};
use super::state::State;
use super::sums::Sums;
use super::water;

/// The clock of a step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clock<'a> {
    /// Hour of the day at which it starts, and its length in hours.
    pub(super) hour: f64,
    pub(super) hours: f64,
    /// Hours in which the back-up may heat.
    pub(super) may_heat: &'a Lanes,
    /// 1 where a hygiene heat-up begins today.
    pub(super) hygiene_today: &'a Lanes,
}

/// Heats where the sensor or hygiene asks for it. Returns kWh of heat.
#[inline(always)]
pub(super) fn heat(state: &mut State, home: &Home, clock: Clock<'_>) -> Lanes {
    let mut heat = ZERO;
    if state.any_due || any(clock.hygiene_today) {
        disinfect(state, home, clock, &mut heat);
    }
    if any(clock.may_heat) {
        top_up(state, home, clock, &mut heat);
    } else if state.any_firing {
        state.firing.fill(ZERO);
        state.any_firing = false;
    }
    heat
}

/// Heats all of the water to the hygiene temperature, and keeps it there until it has been there for an hour in all.
/// Hours of the step in which it is still being heated up do not count. Every cylinder has its turn, those of a row too
/// that no coil heats on other days: water that is only pre-heated is where germs grow.
#[inline(always)]
fn disinfect(state: &mut State, home: &Home, clock: Clock<'_>, heat: &mut Lanes) {
    let (backup, store) = (&home.backup, &home.store);
    let end = clock.hour + clock.hours;
    let begins = each(|l| {
        let from = backup.hygiene_from[l];
        clock.hygiene_today[l] * flag((from >= clock.hour) & (from < end))
    });
    if !state.any_due && !any(&begins) {
        return;
    }
    let hours = each(|l| if begins[l] > 0.0 { end - backup.hygiene_from[l] } else { clock.hours });
    state.any_due = false;
    for c in 0..state.cylinders {
        let due = each(|l| high(state.hygiene_due[c][l], begins[l] * store.there[c][l]));
        let held = each(|l| if begins[l] > 0.0 { 0.0 } else { state.hygiene_held[c][l] });
        let layers = state.cylinder(c);
        let room = water::room(layers, &backup.hygiene);
        let room = each(|l| room[l] * store.capacity[l]);
        let most = each(|l| high(backup.power[l] * hours[l] - heat[l], 0.0));
        let given = each(|l| due[l] * low(most[l], room[l]));
        water::heat(layers, &each(|l| given[l] * store.per_capacity[l]));
        add(heat, &given);
        let hot = each(|l| {
            let reached = most[l] >= room[l];
            held[l] + if reached { high(hours[l] - heat[l] * backup.per_power[l], 0.0) } else { 0.0 }
        });
        // A hair less than an hour: sums of parts of an hour are rounded.
        state.hygiene_due[c] = each(|l| if hot[l] >= 1.0 - 1e-9 { 0.0 } else { due[l] });
        state.hygiene_held[c] = hot;
        state.any_due |= any(&state.hygiene_due[c]);
    }
}

/// Heats what lies above the coil, once the sensor was too cold, until it is warm or the time is over.
#[inline(always)]
fn top_up(state: &mut State, home: &Home, clock: Clock<'_>, heat: &mut Lanes) {
    let (backup, store) = (&home.backup, &home.store);
    let mut left = each(|l| high(backup.power[l] * clock.may_heat[l] - heat[l], 0.0));
    state.any_firing = false;
    for c in 0..state.cylinders {
        let firing = fires(state, backup, clock, c);
        if !any(&firing) {
            state.firing[c] = ZERO;
            continue;
        }
        let layers = state.cylinder(c);
        let mut still = ZERO;
        for spot in &backup.spots {
            let layers = &mut layers[spot.layer..];
            let room = water::room(layers, &backup.up_to);
            let room = each(|l| room[l] * store.capacity[l]);
            let given = each(|l| spot.here[l] * firing[l] * low(left[l], room[l]));
            still = each(|l| still[l] + spot.here[l] * firing[l] * flag(left[l] < room[l]));
            water::heat(layers, &each(|l| given[l] * store.per_capacity[l]));
            for l in 0..W {
                left[l] -= given[l];
                heat[l] += given[l];
            }
        }
        state.any_firing |= any(&still);
        state.firing[c] = still;
    }
}

/// 1 where the back-up heats a cylinder in this step.
#[inline(always)]
fn fires(state: &State, backup: &Backup, clock: Clock<'_>, c: usize) -> Lanes {
    let layers = &state.water[c * state.layers..(c + 1) * state.layers];
    let mut sensor = ZERO;
    for spot in &backup.sensor {
        let layer = &layers[spot.layer];
        sensor = each(|l| sensor[l] + spot.here[l] * layer[l]);
    }
    each(|l| {
        let calls = high(state.firing[c][l], flag(sensor[l] < backup.below[l]));
        calls * backup.serves[c][l] * flag(clock.may_heat[l] > 0.0)
    })
}

/// The pump takes heat from the hottest water for the share `runs` of the step. Returns kWh.
#[inline(always)]
pub(super) fn circulate(state: &mut State, home: &Home, runs: &Lanes, sums: &mut Sums) {
    let store = &home.store;
    for c in 0..state.cylinders {
        let wanted = each(|l| store.circulation[c][l] * runs[l]);
        if !any(&wanted) {
            continue;
        }
        let layers = state.cylinder(c);
        let mut hot = ZERO;
        for layer in layers.iter() {
            for l in 0..W {
                hot[l] += high(layer[l] - CIRCULATED_ABOVE, 0.0);
            }
        }
        let lost = each(|l| low(wanted[l], hot[l] * store.capacity[l]));
        water::cool(layers, &each(|l| lost[l] * store.per_capacity[l]));
        sums.add(Output::CirculationLoss, &lost);
    }
}
