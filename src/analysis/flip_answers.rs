//! What is said of levers beside their break-even values: windows, chances, and maps over two other inputs.

use serde::Serialize;

use crate::analysis::{Lever, LeverEstimate, Share};

/// A stretch of the lever where the result is good. None: as far as was looked, or for ever where that is exact.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LeverWindow {
    /// Good from here.
    pub from: Option<f64>,
    /// Good up to here.
    pub to: Option<f64>,
}

/// The lever held at a value in all runs, the rest as drawn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChancePoint {
    /// Value of the lever.
    pub lever: f64,
    /// Share of runs that succeed.
    pub share: Share,
}

/// All levers for one chance of success.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeversForChance {
    /// Wanted share of runs.
    pub chance: f64,
    /// Whether any lever reaches it: in the range, or at all where all runs are good on one side.
    pub reached: bool,
    /// Where the share passes the chance, from low to high. None: every lever reaches it, or none does.
    pub levers: Vec<ChanceLever>,
}

/// A lever at which the share of runs that succeed passes a chance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChanceLever {
    /// The lever.
    pub lever: f64,
    /// 95 % interval by order statistics: the levers around it at which the chance cannot be excluded. None at an end: no
    /// limit.
    pub low: Option<Lever>,
    /// Upper end.
    pub high: Option<Lever>,
    /// The chance is reached above the lever (true) or below it.
    pub rises: bool,
}

/// Break-even against two other inputs, both held in each cell and the rest as drawn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BreakEvenMap {
    /// The first other input.
    pub across: MapAxis,
    /// The second.
    pub up: MapAxis,
    /// That holding them is an intervention, in words.
    pub held: String,
    /// Runs behind each cell.
    pub runs: u64,
    /// More cells and runs than usual, as asked.
    pub refined: bool,
    /// The second's first value with all of the first's, then its second value, and so on.
    pub cells: Vec<MapCell>,
}

/// An input along one side of a map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapAxis {
    /// Name.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit.
    pub unit: String,
    /// Base value.
    pub base: f64,
    /// Its values, rising: all of a discrete input, else evenly from P5 to P95.
    pub values: Vec<f64>,
}

/// The break-even of the runs with both other inputs held.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapCell {
    /// Value of the first input.
    pub across: f64,
    /// Value of the second.
    pub up: f64,
    /// P10 of the lever over runs.
    pub p10: LeverEstimate,
    /// P50.
    pub p50: LeverEstimate,
    /// P90.
    pub p90: LeverEstimate,
    /// Share good at every lever value.
    pub always: Share,
    /// Share good at none.
    pub never: Share,
}
