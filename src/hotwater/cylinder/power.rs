//! The electricity of a step: surplus, controller, battery, grid. All energies are kWh in the step.

use super::super::outputs::Output;
use super::home::{Battery, Home};
use super::lanes::{Lanes, W, ZERO, any, each, high, low};
use super::state::State;
use super::sums::Sums;
use super::water;

/// Less than this, kWh, neither fills nor drains a battery: what rounding leaves of a full one is no reason to act.
const NOTHING: f64 = 1e-9;

/// What is still free of the surplus, and what the home still needs, as the step goes on.
#[derive(Debug, Clone)]
pub(super) struct Power {
    pub(super) surplus: Lanes,
    pub(super) need: Lanes,
    /// Into the battery, and out of it for the home and into the water, so far.
    pub(super) charged: Lanes,
    pub(super) discharged: Lanes,
    pub(super) drained: Lanes,
    /// Surplus that the controller took.
    pub(super) diverted: Lanes,
}

impl Power {
    /// What crosses the meter, and the standby draw of the controller, which the sun serves where it can.
    #[inline(always)]
    pub(super) fn new(export: &Lanes, import: &Lanes, standby: &Lanes) -> Power {
        let by_sun = each(|l| low(standby[l], export[l]));
        Power {
            surplus: each(|l| export[l] - by_sun[l]),
            need: each(|l| import[l] + (standby[l] - by_sun[l])),
            charged: ZERO,
            discharged: ZERO,
            drained: ZERO,
            diverted: ZERO,
        }
    }

    /// A load of the home: the surplus serves it first.
    #[inline(always)]
    pub(super) fn load(&mut self, kwh: &Lanes) {
        for l in 0..W {
            let by_sun = low(kwh[l], self.surplus[l]);
            self.surplus[l] -= by_sun;
            self.need[l] += kwh[l] - by_sun;
        }
    }

    /// Charges the battery from the surplus in lanes where `allowed` is 1.
    #[inline(always)]
    pub(super) fn charge(&mut self, held: &mut Lanes, battery: &Battery, allowed: &Lanes) {
        for l in 0..W {
            let space =
                low(battery.most[l] - self.charged[l], (battery.holds[l] - held[l]) * battery.per_kept[l]);
            let kwh = allowed[l] * high(low(self.surplus[l], space), 0.0);
            self.surplus[l] -= kwh;
            self.charged[l] += kwh;
            held[l] += kwh * battery.kept[l];
        }
    }

    /// What the battery could still give.
    #[inline(always)]
    fn on_hand(&self, held: &Lanes, battery: &Battery) -> Lanes {
        each(|l| high(low(battery.most[l] - self.drained[l], held[l] * battery.kept[l]), 0.0))
    }

    /// The battery serves the home.
    #[inline(always)]
    pub(super) fn discharge(&mut self, held: &mut Lanes, battery: &Battery) {
        let on_hand = self.on_hand(held, battery);
        for l in 0..W {
            let kwh = low(self.need[l], on_hand[l]);
            self.need[l] -= kwh;
            self.discharged[l] += kwh;
            held[l] = high(held[l] - kwh * battery.per_kept[l], 0.0);
        }
    }
}

/// The controller sends surplus into the water: the first cylinder takes what its element and thermostat allow, the
/// next what is left.
#[inline(always)]
pub(super) fn divert(state: &mut State, home: &Home, power: &mut Power, sums: &mut Sums) {
    let controller = &home.controller;
    let sun = each(|l| high(power.surplus[l] - controller.threshold[l], 0.0));
    // By mistake, what the battery would give is surplus too; it gives nothing while it is being filled.
    let mut offered = sun;
    if home.battery.there {
        let battery = power.on_hand(&state.battery, &home.battery);
        offered = each(|l| {
            sun[l] + if power.charged[l] > NOTHING { 0.0 } else { home.battery.drained[l] * battery[l] }
        });
    }
    let offered = each(|l| {
        let enough = offered[l] >= controller.smallest[l];
        if enough { low(offered[l], controller.largest[l]) } else { 0.0 }
    });
    if any(&offered) {
        let taken = into_water(state, home, &offered);
        account(state, home, power, &sun, &taken, sums);
    }
}

/// Heats the water with as much of `offered` as it takes. Returns electricity taken.
#[inline(always)]
fn into_water(state: &mut State, home: &Home, offered: &Lanes) -> Lanes {
    let (controller, store) = (&home.controller, &home.store);
    let mut left = each(|l| offered[l] * controller.kept[l]);
    let mut used = ZERO;
    for c in 0..state.cylinders {
        let layers = state.cylinder(c);
        let limit = each(|l| low(left[l], controller.element[c][l]));
        for spot in &controller.spots {
            let layers = &mut layers[spot.layer..];
            let room = water::room(layers, &controller.set_point);
            let heat = each(|l| spot.here[l] * low(limit[l], room[l] * store.capacity[l]));
            water::heat(layers, &each(|l| heat[l] * store.per_capacity[l]));
            for l in 0..W {
                left[l] -= heat[l];
                used[l] += heat[l];
            }
        }
    }
    each(|l| if left[l] > 0.0 { used[l] * controller.per_kept[l] } else { offered[l] })
}

#[inline(always)]
fn account(state: &mut State, home: &Home, power: &mut Power, sun: &Lanes, taken: &Lanes, sums: &mut Sums) {
    let kept = &home.controller.kept;
    power.diverted = each(|l| low(taken[l], sun[l]));
    for l in 0..W {
        power.surplus[l] -= power.diverted[l];
    }
    sums.add(Output::HeatFromSun, &each(|l| power.diverted[l] * kept[l]));
    sums.add(Output::Diverted, &power.diverted);
    sums.add(Output::ControllerLoss, &each(|l| taken[l] * (1.0 - kept[l])));
    if home.battery.there {
        power.drained = each(|l| taken[l] - power.diverted[l]);
        for l in 0..W {
            state.battery[l] = high(state.battery[l] - power.drained[l] * home.battery.per_kept[l], 0.0);
        }
        sums.add(Output::HeatFromGrid, &each(|l| power.drained[l] * kept[l]));
        sums.add(Output::BatteryDrainedInto, &power.drained);
    }
}

/// The battery takes what is left of the surplus and serves the home.
#[inline(always)]
pub(super) fn settle(state: &mut State, battery: &Battery, power: &mut Power, sums: &mut Sums) {
    let idle = each(|l| if power.drained[l] > NOTHING { 0.0 } else { 1.0 });
    power.charge(&mut state.battery, battery, &idle);
    power.discharge(&mut state.battery, battery);
    make_up(state, battery, power, sums);
    sums.add(Output::BatteryIn, &power.charged);
    sums.add(Output::BatteryOut, &power.discharged);
    let lost = each(|l| {
        let out = power.discharged[l] + power.drained[l];
        power.charged[l] * (1.0 - battery.kept[l]) + out * (battery.per_kept[l] - 1.0)
    });
    sums.add(Output::BatteryLoss, &lost);
}

/// What was drained by mistake is owed until the grid has given it in its place, or the sun has filled the battery to
/// the brim, so that no trace is left.
#[inline(always)]
fn make_up(state: &mut State, battery: &Battery, power: &Power, sums: &mut Sums) {
    let replaced = each(|l| low(power.need[l], low(state.drained[l], battery.most[l] - power.discharged[l])));
    sums.add(Output::FromGrid, &replaced);
    for l in 0..W {
        let owed = state.drained[l] - replaced[l] + power.drained[l];
        let full = state.battery[l] >= battery.holds[l] * (1.0 - 1e-12);
        state.drained[l] = if full { 0.0 } else { owed };
    }
}
