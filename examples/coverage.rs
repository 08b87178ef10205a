//! How often a 95 % interval holds the truth: `cargo run --release --example coverage`.
//!
//! Many studies, each with a seed of its own, of two models whose figures are known by quadrature; draws from a plan,
//! intervals from the very summary that `run` shows.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs, reason = "an experiment for the terminal")]

mod known;

use clap::Parser;
use known::intervals::{FIGURES, METHODS, Outcome, study};
use known::{KnownModel, models};
use payspread::analysis::statistics::intervals::wilson;
use payspread::sampling::{Design, Method};
use rayon::prelude::*;

/// How often a nominal 95 % interval covers the known figure, by method, model and figure.
#[derive(Parser)]
struct Options {
    /// Studies for each method and model, each with its own seed.
    #[arg(long, default_value_t = 4000)]
    seeds: u64,
    /// Runs of each study.
    #[arg(long, default_value_t = 4096)]
    runs: u64,
    /// Replicates of the stratified methods.
    #[arg(long, default_value_t = 8)]
    replicates: u32,
    /// Threads; 0 takes all cores. The table is the same for any number.
    #[arg(long, default_value_t = 0)]
    threads: usize,
}

fn print_rows(options: &Options, model: &KnownModel, method: Method, name: &str) -> bool {
    let design = |seed| Design::new(seed, method, options.replicates, options.runs);
    let all: Vec<[Outcome; 4]> =
        (1..=options.seeds).into_par_iter().map(|seed| study(model, design(seed))).collect();
    let n = all.len() as f64;
    let mut good = true;
    for (k, figure) in FIGURES.iter().enumerate() {
        let covered = wilson(all.iter().filter(|o| o[k].covered).count() as u64, options.seeds, 0.95);
        let half_width = all.iter().map(|o| o[k].half_width).sum::<f64>() / n;
        let rmse = (all.iter().map(|o| o[k].error * o[k].error).sum::<f64>() / n).sqrt();
        good &= (0.93..=0.97).contains(&covered.value);
        let [share, low, high] = [covered.value, covered.low, covered.high].map(|x| 100.0 * x);
        println!(
            "| {:6} | {name:15} | {figure:5} | {share:6.2} ({low:.1} to {high:.1}) | {half_width:10.5} | {rmse:10.5} |",
            model.name
        );
    }
    good
}

fn main() {
    let options = Options::parse();
    rayon::ThreadPoolBuilder::new().num_threads(options.threads).build_global().unwrap();
    println!("{} studies of {} runs, {} replicates\n", options.seeds, options.runs, options.replicates);
    println!("| model  | method          | of    | held the truth, %     | half-width | RMSE       |");
    println!("|--------|-----------------|-------|-----------------------|------------|------------|");
    let mut good = true;
    for model in &models() {
        for (method, name) in METHODS {
            good &= print_rows(&options, model, method, name);
        }
    }
    println!("\nBetween 93 and 97 % everywhere: {}", if good { "yes" } else { "no" });
}
