//! How fast the cylinder is: years of half hours of a made-up but varied set of homes, for `benches/compare_cylinder.sh`.
//!
//!     cargo run --release --example cylinder_speed -- [--runs 10000] [--days 365] [--threads 1] [--batch 256]
//!         [--vectors widest|avx2|baseline] [--idle yes]
//!
//! With `--idle yes` days are made but not lived through: what the rest of the program takes. Prints, as JSON, the seconds spent in the cylinder (of the thread that spent most), the whole time, and the heat of the
//! first runs by month.
#![allow(clippy::print_stdout, missing_docs, reason = "an experiment for the terminal")]

mod varied_homes;

use std::time::Instant;

use payspread::hotwater::cylinder::{Cylinder, Make, TariffDay};
use payspread::hotwater::flows::MeterDay;
use payspread::hotwater::outputs::Output;
use payspread::sampling::Vectors;
use rayon::prelude::*;
use varied_homes::{STEPS, fill, settings};

/// Runs whose months are printed.
const SHOWN: usize = 40;
const OUTPUTS: [Output; 6] = [
    Output::HeatFromSun,
    Output::HeatFromBackup,
    Output::HeatDrawn,
    Output::StandingLoss,
    Output::Exported,
    Output::Imported,
];

/// Years of runs `first` on: seconds in the cylinder, and amounts by output and month of each lane.
fn simulate(first: u64, lanes: usize, days: usize, vectors: Vectors, idle: bool) -> (f64, Cylinder) {
    let mut cylinder = Cylinder::new(&settings(first, lanes), Make::default(), true, vectors);
    let mut meter = MeterDay::new(STEPS, lanes);
    meter.generation.clear();
    let mut litres = vec![0.0; STEPS * lanes];
    let mut seconds = 0.0;
    for day in 0..days {
        fill(day, first, &mut meter, &mut litres);
        let start = Instant::now();
        if !idle {
            cylinder.day(day, &meter, &litres, &TariffDay { export: &[], import: &[] }, None);
        }
        seconds += start.elapsed().as_secs_f64();
    }
    (seconds, cylinder)
}

fn argument(name: &str, default: &str) -> String {
    let arguments: Vec<String> = std::env::args().collect();
    let at = arguments.iter().position(|a| a == name);
    at.and_then(|at| arguments.get(at + 1)).map_or_else(|| default.to_owned(), Clone::clone)
}

fn number(name: &str, default: &str) -> usize {
    argument(name, default).parse().unwrap_or(1).max(1)
}

fn months(cylinder: &Cylinder, output: Output) -> Vec<Vec<f64>> {
    let lanes = SHOWN.min(cylinder.totals().lanes());
    (0..lanes).map(|lane| (0..12).map(|month| cylinder.totals().at(output, month)[lane]).collect()).collect()
}

fn main() {
    let (runs, days, threads) =
        (number("--runs", "10000"), number("--days", "365"), number("--threads", "1"));
    let (batch, idle) = (number("--batch", "256"), argument("--idle", "no") == "yes");
    let vectors = match argument("--vectors", "widest").as_str() {
        "baseline" => Vectors::Baseline,
        "avx2" => Vectors::Avx2,
        _ => Vectors::Widest,
    };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    let Ok(pool) = pool else { return };
    let start = Instant::now();
    let done: Vec<_> = pool.install(|| {
        let starts: Vec<usize> = (0..runs).step_by(batch).collect();
        let one = |&first: &usize| {
            let (seconds, cylinder) = simulate(first as u64, batch.min(runs - first), days, vectors, idle);
            let shown = (first == 0).then(|| OUTPUTS.map(|output| months(&cylinder, output)));
            (rayon::current_thread_index().unwrap_or(0), seconds, shown)
        };
        starts.par_iter().map(one).collect()
    });
    let whole = start.elapsed().as_secs_f64();
    let of_thread = |thread| done.iter().filter(|d| d.0 == thread).map(|d| d.1).sum::<f64>();
    let seconds = (0..threads).map(of_thread).fold(0.0, f64::max);
    let shown = done.first().and_then(|d| d.2.as_ref());
    let shown = shown.map(|s| OUTPUTS.iter().map(|o| o.info().key).zip(s.iter()).collect::<Vec<_>>());
    let months: serde_json::Map<String, serde_json::Value> = shown
        .unwrap_or_default()
        .into_iter()
        .map(|(key, s)| (key.to_owned(), serde_json::json!(s)))
        .collect();
    let steps = (runs * days * STEPS) as f64;
    println!(
        "{}",
        serde_json::json!({ "seconds": seconds, "whole": whole, "steps": steps, "threads": threads, "months": months })
    );
}
