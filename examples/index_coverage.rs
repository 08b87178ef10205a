//! How often a 95 % interval of a global index holds the truth: `cargo run --release --example index_coverage`.
//!
//! The g-function of eight inputs (a = 0, 1, 4.5, 9, 99, 99, 99, 99), whose indices are known; many seeds.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs, reason = "an experiment for the terminal")]

mod known;

use clap::Parser;
use known::functions::{columns, g_of_eight};
use payspread::analysis::Estimate;
use payspread::analysis::indices::Spread;
use payspread::analysis::indices::estimators::{Indices, indices_of};
use payspread::sampling::{Design, Distribution, InputSpec, Method, Value, Vectors};
use rayon::prelude::*;

/// How often nominal 95 % intervals of first orders and totals cover the known figures.
#[derive(Parser)]
struct Options {
    /// Seeds for each method.
    #[arg(long, default_value_t = 400)]
    seeds: u64,
    /// Rows of each matrix.
    #[arg(long, default_value_t = 1024)]
    points: u64,
    /// Replicates of the stratified methods.
    #[arg(long, default_value_t = 8)]
    replicates: u32,
}

const FIRST: [f64; 4] = [0.7161921688790333, 0.1790480422197583, 0.023675774177819284, 0.007161921688790333];
const TOTAL: [f64; 4] = [0.787144126659275, 0.24219819281823846, 0.034316910154082836, 0.010460387065239534];

fn row(name: &str, what: &str, truth: f64, found: &[&Estimate]) -> f64 {
    let number = |x: Option<payspread::analysis::Figure>| x.unwrap().number().unwrap();
    let n = found.len() as f64;
    let held = found.iter().filter(|e| (number(e.low)..=number(e.high)).contains(&truth)).count() as f64;
    let half = found.iter().map(|e| 0.5 * (number(e.high) - number(e.low))).sum::<f64>() / n;
    let square = |e: &&Estimate| (number(Some(e.value)) - truth) * (number(Some(e.value)) - truth);
    let rmse = (found.iter().map(square).sum::<f64>() / n).sqrt();
    println!("| {name:15} | {what:11} | {:6.2} | {half:10.5} | {rmse:10.5} |", 100.0 * held / n);
    held / n
}

fn main() {
    let options = Options::parse();
    let ends = [("min".to_owned(), Value::Number(0.0)), ("max".to_owned(), Value::Number(1.0))];
    let uniform = Distribution::build("uniform", &ends, None).unwrap();
    let inputs: Vec<InputSpec> =
        (1..=8).map(|k| InputSpec { name: format!("x{k}"), distribution: uniform.clone() }).collect();
    let singles: Vec<Vec<usize>> = (0..8).map(|k| vec![k]).collect();
    println!("{} seeds, {} base points, {} replicates\n", options.seeds, options.points, options.replicates);
    println!("| method          | of          | held,% | half-width | RMSE       |");
    println!("|-----------------|-------------|--------|------------|------------|");
    let mut good = true;
    let methods =
        [(Method::Random, "random"), (Method::LatinHypercube, "latin hypercube"), (Method::Sobol, "sobol")];
    for (method, name) in methods {
        let found: Vec<Indices> = (1..=options.seeds)
            .into_par_iter()
            .map(|seed| {
                let made = columns(
                    g_of_eight,
                    &inputs,
                    &singles,
                    Design::new(seed, method, options.replicates, options.points),
                );
                let how = match method {
                    Method::Random => Spread::Bootstrap(seed),
                    _ => Spread::Replicates(options.replicates),
                };
                indices_of(&made, how, Vectors::Widest).unwrap()
            })
            .collect();
        for k in 0..4 {
            let of = |pick: fn(&Indices, usize) -> &Estimate| -> Vec<&Estimate> {
                found.iter().map(|indices| pick(indices, k)).collect()
            };
            row(name, &format!("first of x{}", k + 1), FIRST[k], &of(|i, k| &i.groups[k].first));
            let held = row(name, &format!("total of x{}", k + 1), TOTAL[k], &of(|i, k| &i.groups[k].total));
            good &= (0.90..=0.98).contains(&held);
        }
    }
    println!("\nTotals between 90 and 98 % everywhere: {}", if good { "yes" } else { "no" });
}
