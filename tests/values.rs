//! The first draws of every distribution, method and path, as bits.
//!
//! They hold the promise that the same study and seed give the same draws in
//! every build and on every machine. A change here needs a line under 'Sampled
//! values' in the changelog and a higher `ENGINE_VERSION`. To write the file
//! anew: `UPDATE_VALUES=1 cargo test --test values`.
#![allow(clippy::unwrap_used, reason = "a test")]

use std::fmt::Write as _;

use payspread::sampling::distributions::KINDS;
use payspread::sampling::philox::{Key, Purpose, Stream};
use payspread::sampling::{
    ChangeSpec, Design, Distribution, Drift, InputSpec, Link, Method, PathSpec, Plan, Process, Quantity,
    Scratch, Value,
};
use rand::Rng as _;

fn build(kind: &str, parameters: &[(&str, f64)], cut: Option<(Option<f64>, Option<f64>)>) -> Distribution {
    let parameters: Vec<(String, Value)> =
        parameters.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
    Distribution::build(kind, &parameters, cut).unwrap()
}

fn discrete() -> Distribution {
    let parameters = [
        ("values".to_owned(), Value::List(vec![2.0, 3.0, 4.0])),
        ("weights".to_owned(), Value::List(vec![20.0, 60.0, 20.0])),
    ];
    Distribution::build("discrete", &parameters, None).unwrap()
}

fn samples() -> Distribution {
    let values = Value::List(vec![31.2, 28.4, 40.1, 35.5, 22.9]);
    Distribution::build("samples", &[("values".to_owned(), values)], None).unwrap()
}

fn mixture() -> Distribution {
    let parts = vec![
        (0.7, build("normal", &[("mean", 5.0), ("sd", 1.0)], None)),
        (0.3, build("uniform", &[("min", 0.0), ("max", 9.0)], None)),
    ];
    Distribution::build("mixture", &[("parts".to_owned(), Value::Parts(parts))], None).unwrap()
}

/// Kinds that came later: in a plan of their own, so that the first keep their Sobol dimensions.
fn later_inputs() -> Vec<InputSpec> {
    let percentiles = [("p10", 8.0), ("p50", 11.0), ("p90", 17.0)];
    let made = [
        ("quantiles", build("quantiles", &percentiles, None)),
        ("samples", samples()),
        ("mixture", mixture()),
    ];
    made.map(|(name, distribution)| InputSpec { name: name.to_owned(), distribution }).to_vec()
}

fn inputs() -> Vec<InputSpec> {
    let made = [
        ("uniform", build("uniform", &[("min", 0.02), ("max", 0.06)], None)),
        ("triangular", build("triangular", &[("min", 280.0), ("mode", 360.0), ("max", 520.0)], None)),
        ("triangular_p", build("triangular", &[("p10", 800.0), ("mode", 900.0), ("p90", 1250.0)], None)),
        ("pert", build("pert", &[("min", 22.0), ("mode", 38.0), ("max", 65.0)], None)),
        (
            "pert_cut",
            build("pert", &[("min", 22.0), ("mode", 38.0), ("max", 65.0)], Some((Some(25.0), None))),
        ),
        ("normal", build("normal", &[("mean", 10.5), ("sd", 1.0)], None)),
        ("normal_cut", build("normal", &[("mean", 1.0), ("sd", 1.0)], Some((Some(0.0), None)))),
        ("lognormal", build("lognormal", &[("p10", 0.065), ("p90", 0.12)], None)),
        ("lognormal_m", build("lognormal", &[("mean", 36.0), ("sd", 12.0)], None)),
        ("beta", build("beta", &[("mean", 0.3), ("sd", 0.1)], None)),
        ("gamma", build("gamma", &[("mean", 120.0), ("sd", 30.0)], None)),
        ("weibull", build("weibull", &[("shape", 3.2), ("scale", 14.0)], None)),
        ("weibull_m", build("weibull", &[("mean", 12.0), ("sd", 4.0)], None)),
        ("exponential", build("exponential", &[("mean", 8.0)], None)),
        ("discrete", discrete()),
        ("bernoulli", build("bernoulli", &[("chance", 0.35)], None)),
        ("poisson", build("poisson", &[("mean", 3.2)], None)),
        ("binomial", build("binomial", &[("trials", 12.0), ("chance", 0.3)], None)),
        ("labels", Distribution::labels(&[1.0, 2.0, 1.0]).unwrap()),
    ];
    made.map(|(name, distribution)| InputSpec { name: name.to_owned(), distribution }).to_vec()
}

fn path(name: &str, process: Process, drift: Drift) -> PathSpec {
    PathSpec {
        name: name.to_owned(),
        years: 4,
        first_year: 2027,
        start: Quantity::Uncertain(build("lognormal", &[("p10", 0.065), ("p90", 0.12)], None)),
        level: None,
        growth: Quantity::Uncertain(build("normal", &[("mean", 0.01), ("sd", 0.015)], None)),
        drift,
        process,
        changes: vec![ChangeSpec {
            chance: 0.5,
            year: Quantity::Uncertain(build("uniform", &[("min", 2028.0), ("max", 2031.0)], None)),
            scale: Quantity::Known(0.5),
        }],
    }
}

fn all() -> String {
    let mut text = String::new();
    for (seed, name, purpose, replicate) in [
        (0, "", Purpose::Value, 0),
        (4711, "people", Purpose::Value, 0),
        (4711, "people", Purpose::Renewal, 7),
        (u64::MAX, "gas_price.shock", Purpose::Shock, 1),
    ] {
        let key = Key::new(seed, name, purpose, replicate);
        let mut stream = Stream::new(key, 3);
        writeln!(
            text,
            "key {seed} '{name}' {purpose:?} {replicate}: {:016x} {:016x}",
            key.0,
            stream.next_u64()
        )
        .unwrap();
    }
    let (inputs, later) = (inputs(), later_inputs());
    for kind in KINDS {
        let mut all = inputs.iter().chain(&later);
        assert!(all.any(|i| i.distribution.kind() == kind.name), "{} is not here", kind.name);
    }
    let paths = [
        path("steady", Process::SteadyGrowth, Drift::Mean),
        path("walk", Process::RandomWalk { volatility: 0.1 }, Drift::Mean),
        path("reverting", Process::MeanReverting { half_life: 3.0, volatility: 0.18 }, Drift::Median),
        path("weather", Process::Independent { volatility: 0.05 }, Drift::Mean),
    ];
    let links = [
        Link::from_rank("walk", "reverting", 0.5),
        Link::from_rank("pert", "discrete", 0.4),
        Link::from_rank("pert", "lognormal", -0.3),
    ];
    for method in [Method::Random, Method::LatinHypercube, Method::Sobol] {
        let design = Design::new(4711, method, 8, 64);
        let plan = Plan::new(&inputs, &paths, &links, design, &[]).unwrap();
        let mut scratch = Scratch::new();
        write_draws(&plan, method, &mut text);
        let mut renewals = [0.0; 12];
        plan.renewal(plan.input("weibull").unwrap(), 2, 0, &mut renewals, &mut scratch);
        writeln!(text, "{method:?} renewal: {:016x} {:016x}", renewals[0].to_bits(), renewals[11].to_bits())
            .unwrap();
    }
    for method in [Method::Random, Method::LatinHypercube, Method::Sobol] {
        let plan = Plan::new(&later, &[], &[], Design::new(4711, method, 8, 64), &[]).unwrap();
        write_draws(&plan, method, &mut text);
    }
    text
}

fn write_draws(plan: &Plan, method: Method, text: &mut String) {
    let n = 12;
    let mut out = vec![0.0; plan.columns().len() * n];
    plan.draw(&[], 0, n, &mut out, n, &mut Scratch::new());
    for (column, values) in plan.columns().iter().zip(out.chunks_exact(n)) {
        let lane = column.lane.map_or_else(String::new, |t| format!("[{t}]"));
        let bits = [0, 1, 11].map(|i| format!("{:016x}", values[i].to_bits())).join(" ");
        writeln!(text, "{method:?} {}{lane}: {bits}", column.name).unwrap();
    }
}

#[test]
fn first_draws_are_frozen() {
    let now = all();
    if std::env::var_os("UPDATE_VALUES").is_some() {
        std::fs::write(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/values.txt"), &now).unwrap();
        return;
    }
    for (now, then) in now.lines().zip(include_str!("values.txt").lines()) {
        assert_eq!(now, then, "a draw has changed: see the head of this file");
    }
    assert_eq!(now.lines().count(), include_str!("values.txt").lines().count());
}
