//! How long a study takes, in process: `cargo bench --bench engine`. Reports, asserts nothing.
//!
//! The machine should have nothing else to do. `benches/compare.sh` sets the reference home beside NumPy.

#![allow(missing_docs, reason = "criterion's macros make public functions")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a bench that cannot begin has nothing to say")]

use std::hint::black_box;
use std::sync::Arc;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use payspread::analysis::{Options, appraise};
use payspread::engine::program::Program;
use payspread::engine::run::{Control, Job, by_chunk};
use payspread::model::lower::{Lowering, Setting};
use payspread::model::{Model, read};
use payspread::sampling::{Design, Distribution, Method, Scratch, Value, Vectors};

const REFERENCE: &str = include_str!("../studies/reference-home.toml");
const HARBOUR_ROW: &str = include_str!("../studies/harbour-row.toml");
const MILLION: u64 = 1_000_000;

fn model(text: &str) -> Model {
    let (made, found) = read(text);
    made.unwrap_or_else(|| panic!("{found:?}")).1
}

/// A draw of each distribution in its first form, beside a normal one: from uniforms, a block at a time.
fn distributions(c: &mut Criterion) {
    let number = |list: &[(&str, f64)]| -> Vec<(String, Value)> {
        list.iter().map(|(key, x)| ((*key).to_owned(), Value::Number(*x))).collect()
    };
    let built = |kind: &str, given: Vec<(String, Value)>| Distribution::build(kind, &given, None).unwrap();
    let observed: Vec<f64> = (0..500).map(|k| f64::from(k * k % 997)).collect();
    let parts = vec![
        (0.7, built("normal", number(&[("mean", 5.0), ("sd", 1.0)]))),
        (0.3, built("gamma", number(&[("mean", 9.0), ("sd", 2.0)]))),
    ];
    let all = [
        built("normal", number(&[("mean", 10.0), ("sd", 1.0)])),
        built("uniform", number(&[("min", 0.0), ("max", 1.0)])),
        built("triangular", number(&[("min", 0.0), ("mode", 1.0), ("max", 3.0)])),
        built("pert", number(&[("min", 0.0), ("mode", 1.0), ("max", 3.0)])),
        built("lognormal", number(&[("mean", 36.0), ("sd", 12.0)])),
        built("beta", number(&[("mean", 0.3), ("sd", 0.1)])),
        built("gamma", number(&[("mean", 120.0), ("sd", 30.0)])),
        built("weibull", number(&[("shape", 3.0), ("scale", 14.0)])),
        built("exponential", number(&[("mean", 8.0)])),
        built("poisson", number(&[("mean", 3.2)])),
        built("binomial", number(&[("trials", 12.0), ("chance", 0.3)])),
        built("quantiles", number(&[("p10", 8.0), ("p50", 11.0), ("p90", 17.0)])),
        built("samples", vec![("values".to_owned(), Value::List(observed))]),
        built("mixture", vec![("parts".to_owned(), Value::Parts(parts))]),
    ];
    let mut group = c.benchmark_group("a block of 256 draws");
    group.throughput(Throughput::Elements(256));
    let uniforms: Vec<f64> = (0..256).map(|k| (f64::from(k * 97 % 256) + 0.5) / 256.0).collect();
    for distribution in &all {
        let mut block = uniforms.clone();
        group.bench_function(distribution.kind(), |b| {
            b.iter(|| {
                block.copy_from_slice(&uniforms);
                distribution.fill_from_uniform(Vectors::Widest, &mut block);
                black_box(block[0])
            });
        });
    }
}

/// A million runs of the reference home: all answers, and what drawing and evaluating take of it.
fn reference_home(c: &mut Criterion) {
    let model = model(REFERENCE);
    let design = Design::new(4711, Method::Random, 1, MILLION);
    let mut group = c.benchmark_group("reference home, a million runs");
    group.sample_size(10).throughput(Throughput::Elements(MILLION));
    let options = Options { design, ..Options::of(&model) };
    group.bench_function("answers", |b| b.iter(|| appraise(&model, options, &Control::default())));
    for (method, name) in
        [(Method::Random, "random"), (Method::Sobol, "sobol"), (Method::LatinHypercube, "latin hypercube")]
    {
        let plan = model.plan(Design::new(4711, method, 8, MILLION)).unwrap();
        let (columns, block) = (plan.columns().len(), 256);
        let mut out = vec![0.0; columns * block];
        let mut scratch = Scratch::default();
        group.bench_function(format!("draw, one thread, {name}"), |b| {
            b.iter(|| {
                for first in (0..MILLION).step_by(block) {
                    plan.draw(&[], first, block, &mut out, block, &mut scratch);
                }
                black_box(out[0])
            });
        });
    }
    let plan = Arc::new(model.plan(design).unwrap());
    let mut low = Lowering::new(&model, Arc::clone(&plan), &Default::default());
    let sheet = low.lay(&Setting::default()).unwrap();
    let wanted: Vec<_> = ["npv", "payback"].iter().flat_map(|name| sheet.nodes(name)).collect();
    let program = Program::of_runs(&low.graph, &wanted);
    let job = Job {
        program: &program,
        plan: &plan,
        leaves: &low.leaves,
        n_runs: MILLION,
        block: None,
        epoch: 0,
        vectors: Vectors::Widest,
    };
    group.bench_function("draw and evaluate, all threads", |b| {
        b.iter(|| by_chunk(job, &Control::default(), 0..u64::MAX, |_, columns| columns[0][0]));
    });
    group.finish();
}

/// 16,384 runs of the demonstration home.
fn harbour_row(c: &mut Criterion) {
    let mut group = c.benchmark_group("harbour row, 16,384 runs");
    group.sample_size(20);
    group.bench_function("read and check", |b| b.iter(|| model(HARBOUR_ROW)));
    let model = model(HARBOUR_ROW);
    for (name, break_even) in [("summary, bands, choices, tornado", false), ("the same and break-even", true)]
    {
        let options = Options { break_even, ..Options::of(&model) };
        group.bench_function(name, |b| b.iter(|| appraise(&model, options, &Control::default())));
    }
    group.finish();
}

criterion_group!(benches, reference_home, harbour_row, distributions);
criterion_main!(benches);
