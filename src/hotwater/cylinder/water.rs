//! The water of one cylinder: layers of equal volume, each fully mixed, the coldest at the bottom.
//!
//! This is the multi-node model of a stratified store (Kleinbach, Beckman and Klein 1993, *Performance study of
//! one-dimensional models for stratified thermal storage tanks*, Solar Energy 50, 155-166), with an explicit plug-flow
//! step for draws. Temperatures in degC, from the bottom upwards; heat is in kelvins of one layer: kWh over the heat
//! capacity of a layer. Every function keeps heat exactly but for rounding, and keeps warmer water above colder.

use super::lanes::{Lanes, W, ZERO, any, each, high, low};

/// Most layers of a cylinder.
pub(super) const MOST_LAYERS: usize = 20;

/// 1/n.
const SHARES: [f64; MOST_LAYERS] = {
    let mut shares = [1.0; MOST_LAYERS];
    let mut i = 0;
    while i < MOST_LAYERS {
        shares[i] = 1.0 / (i + 1) as f64;
        i += 1;
    }
    shares
};

/// The share of each of the first k + 1 layers. Here and in other loops over lanes nothing stands side by side in
/// `zip`: not in every build is that compiled into the loop, which then takes a fifth longer.
#[inline(always)]
fn share_of(k: usize) -> f64 {
    SHARES[k.min(MOST_LAYERS - 1)]
}

/// Heat that the layers take until all of them are at `target`.
#[inline(always)]
pub(super) fn room(layers: &[Lanes], target: &Lanes) -> Lanes {
    let mut sum = ZERO;
    for layer in layers {
        for l in 0..W {
            sum[l] += high(target[l] - layer[l], 0.0);
        }
    }
    sum
}

/// Gives heat to the lowest of these layers, from where it rises: layer after layer joins those below it as soon as
/// they are as warm as it is. So all end at one level or above it, and of all levels at which the heat would be used
/// up by the lowest 1, 2, 3, ... layers the least is the true one.
#[inline(always)]
pub(super) fn heat(layers: &mut [Lanes], rise: &Lanes) {
    let (mut sum, mut level) = (*rise, Lanes::all(f64::INFINITY));
    for (k, layer) in layers.iter().enumerate() {
        let share = share_of(k);
        for l in 0..W {
            sum[l] += layer[l];
            level[l] = low(sum[l] * share, level[l]);
        }
    }
    // Without heat nothing moves, not by a bit.
    let mut level = each(|l| if rise[l] > 0.0 { level[l] } else { f64::NEG_INFINITY });
    for layer in layers {
        for l in 0..W {
            layer[l] = high(layer[l], level[l]);
            // In order to the last bit; carried along, so that the compiler makes its vectors of lanes and not of layers.
            level[l] = if rise[l] > 0.0 { layer[l] } else { f64::NEG_INFINITY };
        }
    }
}

/// Takes heat from the hottest water: the same from above.
#[inline(always)]
pub(super) fn cool(layers: &mut [Lanes], drop: &Lanes) {
    let (mut sum, mut level) = (each(|l| -drop[l]), Lanes::all(f64::NEG_INFINITY));
    for (k, layer) in layers.iter().rev().enumerate() {
        let share = share_of(k);
        for l in 0..W {
            sum[l] += layer[l];
            level[l] = high(sum[l] * share, level[l]);
        }
    }
    let level = each(|l| if drop[l] > 0.0 { level[l] } else { f64::INFINITY });
    for layer in layers {
        for l in 0..W {
            layer[l] = low(layer[l], level[l]);
        }
    }
}

/// Moves water up by `part` of a layer (at most 1); the same amount enters at the bottom and leaves at the top.
#[inline(always)]
pub(super) fn push(layers: &mut [Lanes], inlet: &Lanes, part: &Lanes) {
    for k in (1..layers.len()).rev() {
        let below = layers[k - 1];
        for l in 0..W {
            layers[k][l] += part[l] * (below[l] - layers[k][l]);
        }
    }
    for l in 0..W {
        layers[0][l] += part[l] * (inlet[l] - layers[0][l]);
    }
    settle(layers);
}

/// Water that came in warmer than what lies above it rises and mixes with it. Only the lowest layer can be out of
/// order: the others are mixtures of neighbours that were in order.
#[inline(always)]
fn settle(layers: &mut [Lanes]) {
    let [first, second, ..] = layers else { return };
    let lighter = each(|l| first[l] - second[l]);
    if !any(&lighter) {
        return;
    }
    let (mut sum, mut level) = (ZERO, Lanes::all(f64::INFINITY));
    for (k, layer) in layers.iter().enumerate() {
        let share = share_of(k);
        for l in 0..W {
            sum[l] += layer[l];
            level[l] = low(sum[l] * share, level[l]);
        }
    }
    for (k, layer) in layers.iter_mut().enumerate() {
        for l in 0..W {
            let mixed = if k == 0 { level[l] } else { high(layer[l], level[l]) };
            layer[l] = if lighter[l] > 0.0 { mixed } else { layer[l] };
        }
    }
}

/// Standing loss and conduction over a step. Walls: each layer loses the share `fade` of what it is warmer than its
/// surroundings, which is exact in time; the loss is spread evenly over the height, so it turns no order around (the
/// ends' own area is left out). Conduction: neighbours exchange the share `exchange` of their difference, all at once;
/// it is below a half, so each layer ends between its neighbours and nothing can swing, however long the step. Returns
/// the sum of the differences to the surroundings that faded.
#[inline(always)]
pub(super) fn rest(layers: &mut [Lanes], ambient: &Lanes, fade: &Lanes, exchange: &Lanes) -> Lanes {
    let mut above = ZERO;
    // The layer below, whose wall loss is done, and what flows down out of it: carried along for the same reason as above.
    let (mut below, mut flow_below) = (ZERO, ZERO);
    for k in 0..layers.len() {
        let (mut faded, mut flow) = (ZERO, ZERO);
        for l in 0..W {
            let excess = layers[k][l] - ambient[l];
            above[l] += excess;
            faded[l] = layers[k][l] - fade[l] * excess;
        }
        if k > 0 {
            for l in 0..W {
                flow[l] = exchange[l] * (faded[l] - below[l]);
                layers[k - 1][l] = below[l] + (flow[l] - flow_below[l]);
            }
        }
        (below, flow_below) = (faded, flow);
    }
    if let Some(top) = layers.last_mut() {
        *top = each(|l| below[l] - flow_below[l]);
    }
    above
}
