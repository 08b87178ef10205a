//! Where the answer flips: break-even values of a lever, windows, chances, curves, and maps over two other inputs.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};

use crate::analysis::{Interval, Share};

/// A break-even value: a number, or no crossing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lever {
    /// The result crosses its threshold here.
    At(f64),
    /// Good at every value of the lever.
    Always,
    /// Good at none.
    Never,
}

impl Serialize for Lever {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        match self {
            Lever::At(x) => s.serialize_f64(*x),
            Lever::Always => s.serialize_str("always"),
            Lever::Never => s.serialize_str("never"),
        }
    }
}

impl JsonSchema for Lever {
    fn schema_name() -> Cow<'static, str> {
        "Lever".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "The break-even value; \"always\": good at every value of the lever; \"never\": good at none.",
            "oneOf": [{ "type": "number" }, { "enum": ["always", "never"] }]
        })
    }
}

/// What follows the label of a path that is moved by the level of its first year.
pub const OF_FIRST_YEAR: &str = " in the first year";

/// Where the answer flips.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BreakEven {
    /// Name of the lever.
    pub of: String,
    /// Plain name.
    pub of_label: String,
    /// Unit of the lever.
    pub of_unit: String,
    /// The lever's base value and its P10, P50, P90 as drawn, for comparison.
    pub of_base: f64,
    /// As above.
    pub of_drawn: [f64; 3],
    /// Name of the result.
    pub result: String,
    /// Plain name of the result.
    pub result_label: String,
    /// Such as "at least 0 EUR".
    pub rule: String,
    /// Good above the break-even value (true), below it (false), or mixed: runs on different sides, or with several
    /// crossings.
    pub good_above: Option<bool>,
    /// Whether the result is affine in the lever, so that values are exact.
    pub exact: bool,
    /// Runs behind it.
    pub runs: u64,
    /// Range of the lever that was looked at: as asked, else P0.1 to P99.9 as drawn, else from nothing to three times the
    /// known value. Exact values may lie outside it.
    pub range: (f64, f64),
    /// Break-even value of the base case; the lowest of several.
    pub base: Lever,
    /// Where the lever may lie for the base case to be good, from low to high.
    pub windows: Vec<LeverWindow>,
    /// P5, P10, P25, P50, P75, P90, P95 over the runs, the rest as drawn; of the lowest crossing where there are several.
    pub percentiles: Vec<LeverPercentile>,
    /// Lever at which 50, 80, 95 % (or the chances asked) of runs succeed, with its 95 % interval; where all runs have
    /// at most one crossing and are good on one side of it.
    pub for_chance: Vec<ForChance>,
    /// The same for any runs: every lever at which the share of runs that succeed passes the chance.
    pub levers_for_chance: Vec<LeversForChance>,
    /// Share of runs that succeed with the lever held at each of 41 values over the range.
    pub chance_curve: Vec<ChancePoint>,
    /// The best of them; the middle one of several alike. A largest share is a little too large: it was picked.
    pub best: Option<ChancePoint>,
    /// How the intervals of lever values, here and on the curve, were made.
    pub interval: Interval,
    /// Share of runs good at every value.
    pub always: Share,
    /// Share of runs good at none.
    pub never: Share,
    /// Share of runs with more than one crossing in the range.
    pub several: Share,
    /// Share of runs with 1, 2, 3, ... crossings, up to the most that any run has.
    pub crossings: Vec<Share>,
    /// Share of runs whose crossing lies below the range; none where only the range was looked at.
    pub below_range: Option<Share>,
    /// Above it.
    pub above_range: Option<Share>,
    /// Range and cells of the scan where not exact, in words.
    pub note: Option<String>,
    /// Against another input.
    pub curve: Option<BreakEvenCurve>,
    /// Against two other inputs; at the base choices only.
    pub map: Option<BreakEvenMap>,
    /// The study asks no such question: it is an input that the headline hangs on most.
    pub by_default: bool,
}

/// A lever value with its 95 % interval. `None` at an end: no limit from so few runs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct LeverEstimate {
    /// The estimate.
    pub lever: Lever,
    /// Lower end.
    pub low: Option<Lever>,
    /// Upper end.
    pub high: Option<Lever>,
}

/// A percentile of break-even values.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct LeverPercentile {
    /// Between 0 and 1.
    pub p: f64,
    /// Its value.
    pub estimate: LeverEstimate,
}

/// The lever for a wanted chance of success.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ForChance {
    /// Wanted share of runs.
    pub chance: f64,
    /// Lever value.
    pub lever: Lever,
    /// Interval.
    pub low: Option<Lever>,
    /// Interval.
    pub high: Option<Lever>,
}

/// Break-even against another input, that input fixed at each point and the rest as drawn.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BreakEvenCurve {
    /// Name of the other input.
    pub against: String,
    /// Plain name.
    pub against_label: String,
    /// Its unit.
    pub against_unit: String,
    /// Its base value.
    pub against_base: f64,
    /// That holding it is an intervention, in words.
    pub held: String,
    /// Its points.
    pub points: Vec<CurvePoint>,
}

/// One point of the curve.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CurvePoint {
    /// Value of the other input.
    pub at: f64,
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

/// A stretch of the lever where the result is good. None: as far as was looked, or for ever where that is exact.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct LeverWindow {
    /// Good from here.
    pub from: Option<f64>,
    /// Good up to here.
    pub to: Option<f64>,
}

/// The lever held at a value in all runs, the rest as drawn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ChancePoint {
    /// Value of the lever.
    pub lever: f64,
    /// Share of runs that succeed.
    pub share: Share,
}

/// All levers for one chance of success.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LeversForChance {
    /// Wanted share of runs.
    pub chance: f64,
    /// Whether any lever reaches it: in the range, or at all where all runs are good on one side.
    pub reached: bool,
    /// Where the share passes the chance, from low to high. None: every lever reaches it, or none does.
    pub levers: Vec<ChanceLever>,
}

/// A lever at which the share of runs that succeed passes a chance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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
