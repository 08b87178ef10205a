//! Two models whose figures are known by quadrature (`tests/independent/known_models.py`), drawn by a plan.
#![allow(
    dead_code,
    clippy::unwrap_used,
    reason = "each of the programs that share it uses a part; wrong inputs are found at once"
)]

pub(crate) mod functions;
pub(crate) mod intervals;
pub(crate) mod reduction;

use payspread::sampling::{Design, Distribution, InputSpec, Plan, Scratch, Value};
use serde_json::Value as Json;

/// Figures by quadrature; the share is that of runs at or above 0.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Known {
    pub(crate) mean: f64,
    pub(crate) sd: f64,
    pub(crate) p10: f64,
    pub(crate) p90: f64,
    pub(crate) share: f64,
}

/// Name, kind and parameters of an input.
type Input = (&'static str, &'static str, &'static [(&'static str, f64)]);

/// A model of eight inputs.
pub(crate) struct KnownModel {
    pub(crate) name: &'static str,
    pub(crate) known: Known,
    inputs: Vec<InputSpec>,
    value: fn([f64; 8]) -> f64,
}

/// A product of five inputs less three: no kink anywhere.
fn smooth([heat, share, price, life, efficiency, outlay, fitting, upkeep]: [f64; 8]) -> f64 {
    heat * share * price * life / efficiency - outlay - fitting - upkeep
}

const SMOOTH: [Input; 8] = [
    ("heat", "gamma", &[("mean", 2400.0), ("sd", 400.0)]),
    ("share", "beta", &[("mean", 0.55), ("sd", 0.1)]),
    ("price", "lognormal", &[("p10", 0.065), ("p90", 0.12)]),
    ("life", "weibull", &[("shape", 3.2), ("scale", 14.0)]),
    ("efficiency", "uniform", &[("min", 0.7), ("max", 0.9)]),
    ("outlay", "triangular", &[("min", 900.0), ("mode", 1300.0), ("max", 2100.0)]),
    ("fitting", "normal", &[("mean", 250.0), ("sd", 40.0)]),
    ("upkeep", "exponential", &[("mean", 120.0)]),
];

/// Four kinks and an input of whole numbers; no value has a probability of its own.
fn kinked([supply, people, each, worth, outlay, life, upkeep, grant]: [f64; 8]) -> f64 {
    supply.min(people * each) * worth + grant
        - outlay.max(650.0)
        - 60.0 * (12.0 - life).max(0.0)
        - upkeep.min(200.0)
}

const KINKED: [Input; 8] = [
    ("supply", "gamma", &[("mean", 1500.0), ("sd", 450.0)]),
    ("people", "discrete", &[]),
    ("each", "pert", &[("min", 300.0), ("mode", 500.0), ("max", 900.0)]),
    ("worth", "lognormal", &[("p10", 0.65), ("p90", 1.2)]),
    ("outlay", "triangular", &[("min", 500.0), ("mode", 700.0), ("max", 1200.0)]),
    ("life", "weibull", &[("shape", 3.2), ("scale", 14.0)]),
    ("upkeep", "exponential", &[("mean", 100.0)]),
    ("grant", "uniform", &[("min", 0.0), ("max", 300.0)]),
];

/// The two models.
pub(crate) fn models() -> [KnownModel; 2] {
    [KnownModel::new("smooth", &SMOOTH, smooth), KnownModel::new("kinked", &KINKED, kinked)]
}

fn spec(&(name, kind, parameters): &Input) -> InputSpec {
    let mut parameters: Vec<(String, Value)> =
        parameters.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
    if kind == "discrete" {
        parameters.push(("values".to_owned(), Value::List(vec![1.0, 2.0, 3.0, 4.0])));
        parameters.push(("weights".to_owned(), Value::List(vec![20.0, 40.0, 25.0, 15.0])));
    }
    let distribution = Distribution::build(kind, &parameters, None).unwrap();
    InputSpec { name: name.to_owned(), distribution }
}

impl KnownModel {
    fn new(name: &'static str, inputs: &[Input], value: fn([f64; 8]) -> f64) -> KnownModel {
        let text = include_str!("../../tests/independent/known_models.json");
        let json: Json = serde_json::from_str(text).unwrap();
        let figure = |key: &str| json[name][key].as_f64().unwrap();
        let known = Known {
            mean: figure("mean"),
            sd: figure("sd"),
            p10: figure("p10"),
            p90: figure("p90"),
            share: figure("share"),
        };
        KnownModel { name, known, inputs: inputs.iter().map(spec).collect(), value }
    }

    /// The result in every run of a design.
    pub(crate) fn draw(&self, design: Design) -> Vec<f64> {
        const BLOCK: usize = 1024;
        let plan = Plan::new(&self.inputs, &[], &[], design, &[]).unwrap();
        let runs = design.runs as usize;
        let (mut columns, mut scratch) = (vec![0.0; 8 * BLOCK], Scratch::new());
        let mut results = Vec::with_capacity(runs);
        for first in (0..runs).step_by(BLOCK) {
            let n = BLOCK.min(runs - first);
            plan.draw(&[], first as u64, n, &mut columns, BLOCK, &mut scratch);
            results.extend((0..n).map(|i| (self.value)(std::array::from_fn(|k| columns[k * BLOCK + i]))));
        }
        results
    }
}
