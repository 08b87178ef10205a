//! How long global indices take: `cargo run --release --example index_speed -- benches/indices.toml`.
//!
//! One JSON object: seconds of each repeat (draws, runs and estimates, without reading the file), and the indices.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs, reason = "an experiment for the terminal")]

use std::time::Instant;

use clap::Parser;
use payspread::analysis::indices::{IndexWish, of_model};
use payspread::engine::run::Control;
use payspread::model::check;
use payspread::sampling::{Design, Method};
use payspread::study::read;

/// Times first-order and total indices of the first result of a study, by Sobol points.
#[derive(Parser)]
struct Options {
    /// Study file.
    study: std::path::PathBuf,
    /// Rows of each matrix.
    #[arg(long, default_value_t = 16_384)]
    points: u64,
    /// Replicates.
    #[arg(long, default_value_t = 8)]
    replicates: u32,
    /// Rows in a block; chosen by the program if not given.
    #[arg(long)]
    block: Option<usize>,
    /// How often.
    #[arg(long, default_value_t = 1)]
    repeat: u32,
    /// Threads; 0 takes all cores.
    #[arg(long, default_value_t = 0)]
    threads: usize,
}

fn main() {
    let options = Options::parse();
    rayon::ThreadPoolBuilder::new().num_threads(options.threads).build_global().unwrap();
    let text = std::fs::read_to_string(&options.study).unwrap();
    let (study, found) = read::parse(&text);
    assert!(found.is_empty(), "{found:?}");
    let (model, found) = check(&study.unwrap());
    assert!(model.is_some(), "{found:?}");
    let model = model.unwrap();
    let design = Design::new(4711, Method::Sobol, options.replicates, options.points);
    let wish = IndexWish { design, block: options.block, ..IndexWish::of(&model, options.points) };
    let mut seconds = Vec::new();
    let mut answer = None;
    for _ in 0..options.repeat.max(1) {
        let begin = Instant::now();
        answer = Some(of_model(&model, 0, wish, &Control::default()).unwrap());
        seconds.push(begin.elapsed().as_secs_f64());
    }
    println!("{}", serde_json::json!({ "seconds": seconds, "indices": answer }));
}
