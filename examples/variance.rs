//! How much closer than random draws the stratified methods come: `cargo run --release --example variance`.
//!
//! Root-mean-square error of the mean over many seeds, on two models whose means are known by quadrature.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs, reason = "an experiment for the terminal")]

mod known;

use clap::Parser;
use known::models;
use known::reduction::{WAYS, rmse};

/// Errors of the mean under each method: at one number of runs, and how they fall as it grows.
#[derive(Parser)]
struct Options {
    /// Studies for each number of runs, each with its own seed.
    #[arg(long, default_value_t = 400)]
    seeds: u64,
    /// Runs at which the methods are compared.
    #[arg(long, default_value_t = 4096)]
    runs: u64,
    /// Threads; 0 takes all cores. The figures are the same for any number.
    #[arg(long, default_value_t = 0)]
    threads: usize,
}

/// Numbers of runs over which the slope is taken.
const RUNS: [u64; 5] = [256, 1024, 4096, 16_384, 65_536];

/// Slope of the least-squares line through (ln x, ln y).
fn slope(points: &[(f64, f64)]) -> f64 {
    let logs: Vec<(f64, f64)> = points.iter().map(|&(x, y)| (libm::log(x), libm::log(y))).collect();
    let n = logs.len() as f64;
    let (mx, my) = (logs.iter().map(|p| p.0).sum::<f64>() / n, logs.iter().map(|p| p.1).sum::<f64>() / n);
    let sxy: f64 = logs.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    sxy / logs.iter().map(|p| (p.0 - mx) * (p.0 - mx)).sum::<f64>()
}

fn main() {
    let options = Options::parse();
    rayon::ThreadPoolBuilder::new().num_threads(options.threads).build_global().unwrap();
    println!(
        "Root-mean-square error of the mean, {} seeds, {} runs; slope over {RUNS:?} runs\n",
        options.seeds, options.runs
    );
    println!("| model  | method                       | RMSE       | of random | slope |");
    println!("|--------|------------------------------|------------|-----------|-------|");
    for model in &models() {
        let of = |method, replicates, runs| rmse(model, method, replicates, runs, options.seeds);
        let random = of(WAYS[0].0, WAYS[0].1, options.runs);
        for (method, replicates, name) in WAYS {
            let here = of(method, replicates, options.runs);
            let points: Vec<(f64, f64)> =
                RUNS.iter().map(|&runs| (runs as f64, of(method, replicates, runs))).collect();
            let ratio = format!("1/{:.1}", random / here);
            println!("| {:6} | {name:28} | {here:10.5} | {ratio:>9} | {:5.2} |", model.name, slope(&points));
        }
    }
}
