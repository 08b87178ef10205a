//! Speed of the whole and of its parts. Reports; asserts nothing.

use std::hint::black_box;
use std::sync::Arc;

use criterion::{Criterion, criterion_group, criterion_main};
use payspread::analysis::{Options, appraise};
use payspread::engine::graph::NodeId;
use payspread::engine::program::Program;
use payspread::engine::run::{Control, Job, by_chunk};
use payspread::model::lower::{Lowering, Setting};
use payspread::model::{Model, check};
use payspread::sampling::{Design, Scratch};

fn model(study: &str) -> Model {
    let path = format!("{}/studies/{study}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    check(&payspread::study::read::parse(&text).0.unwrap()).0.unwrap()
}

fn with_runs(model: &Model, runs: u64) -> Options {
    let own = model.design();
    Options { design: Design::new(own.seed, own.method, own.replicates, runs), ..Options::of(model) }
}

/// A million runs of the reference home: all of it, drawing alone, drawing and the workings without keeping a value.
fn reference_home(c: &mut Criterion) {
    let model = model("reference-home");
    let options = with_runs(&model, 1_000_000);
    let mut group = c.benchmark_group("reference-home, a million runs");
    group.sample_size(10);
    group.bench_function("answers", |b| {
        b.iter(|| appraise(black_box(&model), options, &Control::default()).unwrap())
    });

    let plan = Arc::new(model.plan(options.design).unwrap());
    group.bench_function("drawing, one thread", |b| {
        let block = 256;
        let mut columns = vec![0.0; plan.columns().len() * block];
        let mut scratch = Scratch::new();
        b.iter(|| {
            for first in (0..1_000_000).step_by(block) {
                plan.draw(&[], first, block, &mut columns, block, &mut scratch);
                black_box(&columns);
            }
        });
    });
    let mut low = Lowering::new(&model, Arc::clone(&plan), &Default::default());
    let sheet = low.lay(&Setting::default()).unwrap();
    let names = model.workings.iter().map(|w| &w.about.name);
    let wanted: Vec<NodeId> = names.flat_map(|name| sheet.nodes(name)).collect();
    let program = Program::of_runs(&low.graph, &wanted);
    let job = Job {
        program: &program,
        plan: &plan,
        leaves: &low.leaves,
        n_runs: 1_000_000,
        block: None,
        epoch: 0,
        vectors: options.vectors,
    };
    group.bench_function("drawing and workings", |b| {
        b.iter(|| {
            by_chunk(job, &Control::default(), 0..u64::MAX, |_, columns| black_box(columns.len())).unwrap()
        });
    });
    group.finish();
}

/// 16,384 runs of Harbour Row, as the page asks for them.
fn harbour_row(c: &mut Criterion) {
    let model = model("harbour-row");
    let all = with_runs(&model, 16_384);
    let mut group = c.benchmark_group("harbour-row, 16,384 runs");
    group.sample_size(10);
    for (name, options) in
        [("summary, bands, tornado", Options { break_even: false, ..all }), ("and break-even curves", all)]
    {
        group.bench_function(name, |b| {
            b.iter(|| appraise(black_box(&model), options, &Control::default()).unwrap())
        });
    }
    group.finish();
}

criterion_group!(benches, reference_home, harbour_row);
criterion_main!(benches);
