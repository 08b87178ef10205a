//! What a group of runs carries from one step to the next.

use super::Make;
use super::home::{Home, MOST_CYLINDERS};
use super::lanes::{Lanes, ZERO, each};

/// Water, switches and battery of a group of runs.
#[derive(Debug, Clone)]
pub(super) struct State {
    /// Layers of the first cylinder from the bottom upwards, then of the next: degC.
    pub(super) water: Vec<Lanes>,
    pub(super) layers: usize,
    pub(super) cylinders: usize,
    /// 1 where the back-up heats a cylinder.
    pub(super) firing: [Lanes; MOST_CYLINDERS],
    /// 1 where a hygiene heat-up is not yet done, and the hours for which all of the water has been hot enough.
    pub(super) hygiene_due: [Lanes; MOST_CYLINDERS],
    pub(super) hygiene_held: [Lanes; MOST_CYLINDERS],
    /// Held by the battery, kWh.
    pub(super) battery: Lanes,
    /// Emptied into the water by mistake and not yet made up for, kWh.
    pub(super) drained: Lanes,
    /// Whether any lane heats or owes a heat-up.
    pub(super) any_firing: bool,
    pub(super) any_due: bool,
}

impl State {
    pub(super) fn new(home: &Home, make: Make) -> State {
        let cylinders = home.cylinders();
        State {
            water: vec![home.start_degc(); make.layers * cylinders],
            layers: make.layers,
            cylinders,
            firing: [ZERO; MOST_CYLINDERS],
            hygiene_due: [ZERO; MOST_CYLINDERS],
            hygiene_held: [ZERO; MOST_CYLINDERS],
            battery: ZERO,
            drained: ZERO,
            any_firing: false,
            any_due: false,
        }
    }

    /// The layers of a cylinder.
    #[inline(always)]
    pub(super) fn cylinder(&mut self, c: usize) -> &mut [Lanes] {
        &mut self.water[c * self.layers..(c + 1) * self.layers]
    }

    /// Temperature at the top of a cylinder.
    #[inline(always)]
    pub(super) fn top(&self, c: usize) -> &Lanes {
        &self.water[(c + 1) * self.layers - 1]
    }

    /// Heat in all cylinders, above water of 0 degC: kWh.
    #[inline(always)]
    pub(super) fn stored_kwh(&self, home: &Home) -> Lanes {
        let mut sum = ZERO;
        for (k, there) in home.store.there.iter().enumerate() {
            let layers = self.water.get(k * self.layers..(k + 1) * self.layers).unwrap_or_default();
            for layer in layers {
                sum = each(|l| sum[l] + there[l] * layer[l]);
            }
        }
        each(|l| sum[l] * home.store.capacity[l])
    }
}
