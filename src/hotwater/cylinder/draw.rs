//! Hot water drawn in a step.

use super::super::outputs::Output;
use super::home::{MOST_CYLINDERS, Store};
use super::lanes::{Lanes, W, ZERO, any, each, flag, high, low};
use super::state::State;
use super::sums::Sums;
use super::water;

/// What is left to draw, kWh/K of water at `drawn_at`, and whether some was too cold.
struct Tap {
    left: Lanes,
    cold: Lanes,
}

/// One move: what leaves at the top.
struct Move {
    outlet: Lanes,
    water: Lanes,
    served: Lanes,
}

/// Draws `wanted` (kWh/K of water at `drawn_at`) of each lane. A draw larger than a layer is made in moves of at most
/// one layer; after as many as there can be layers all of the water is what came in, and the rest is drawn cold.
#[inline(always)]
pub(super) fn draw(state: &mut State, store: &Store, wanted: &Lanes, hours: f64, sums: &mut Sums) {
    if !any(wanted) {
        return;
    }
    let mut tap = Tap { left: *wanted, cold: ZERO };
    for _ in 0..state.layers * MOST_CYLINDERS {
        let step = plan(state, store, &tap);
        take(&mut tap, store, &step, sums);
        shift(state, store, &step.water);
        if !any(&tap.left) {
            break;
        }
    }
    if any(&tap.left) {
        let cold = store.cold;
        let step = Move { outlet: cold, water: ZERO, served: tap.left };
        take(&mut tap, store, &step, sums);
    }
    sums.add_times(Output::HoursBelowComfort, &tap.cold, hours);
}

#[inline(always)]
fn plan(state: &State, store: &Store, tap: &Tap) -> Move {
    let outlet = outlet(state, store);
    // Hotter water is mixed down: less of it is taken.
    let thinned = each(|l| store.lift[l] / high(outlet[l] - store.cold[l], 1e-9));
    let ratio = each(|l| if outlet[l] > store.mixed_above[l] { thinned[l] } else { 1.0 });
    let wanted = each(|l| tap.left[l] * ratio[l]);
    let water = each(|l| low(wanted[l], store.move_limit[l]));
    let over = each(|l| wanted[l] - store.move_limit[l]);
    if !any(&over) {
        return Move { outlet, water, served: tap.left };
    }
    let served = each(|l| if over[l] > 0.0 { store.move_limit[l] / ratio[l] } else { tap.left[l] });
    Move { outlet, water, served }
}

/// Temperature of what leaves: of the last in a row, of all together side by side.
#[inline(always)]
fn outlet(state: &State, store: &Store) -> Lanes {
    if state.cylinders == 1 {
        return *state.top(0);
    }
    let mut outlet = ZERO;
    for (c, share) in store.outlet[..state.cylinders].iter().enumerate() {
        let top = state.top(c);
        for l in 0..W {
            outlet[l] += share[l] * top[l];
        }
    }
    outlet
}

#[inline(always)]
fn take(tap: &mut Tap, store: &Store, step: &Move, sums: &mut Sums) {
    let Move { outlet, water, served } = step;
    sums.add(Output::HeatDrawn, &each(|l| water[l] * (outlet[l] - store.cold[l])));
    sums.add(Output::HeatShort, &each(|l| served[l] * high(store.drawn_at[l] - outlet[l], 0.0)));
    tap.cold = each(|l| high(tap.cold[l], flag((tap.left[l] > 0.0) & (outlet[l] < store.comfort[l]))));
    tap.left = each(|l| high(tap.left[l] - served[l], 0.0));
}

/// Moves the water through the cylinders, the last first, since in a row each takes in what the one before gives.
#[inline(always)]
fn shift(state: &mut State, store: &Store, water: &Lanes) {
    let layers = state.layers;
    for c in (0..state.cylinders).rev() {
        let share = &store.share[c];
        let part = each(|l| low(water[l] * share[l] * store.per_capacity[l], 1.0));
        let (before, from) = state.water.split_at_mut(c * layers);
        let inlet = before.last().filter(|_| store.in_series).unwrap_or(&store.cold);
        water::push(&mut from[..layers], inlet, &part);
    }
}
