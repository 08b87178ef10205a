//! How fast the cylinder is: years of half hours of a made-up but varied set of homes, for `benches/compare_cylinder.sh`.
//!
//!     cargo run --release --example cylinder_speed -- [--runs 10000] [--days 365] [--threads 1] [--batch 256]
//!         [--vectors widest|avx2|baseline]
//!
//! Sun, demand, draws and settings of a run follow from its number by whole-number arithmetic and plain `+ - * /`, so that
//! `benches/cylinder_numpy.py` has the very same. Prints, as JSON, the seconds spent in the cylinder (of the thread that
//! spent most), the whole time, and the heat of the first runs by month.

use std::time::Instant;

use payspread::hotwater::cylinder::{Cylinder, Make, TariffDay};
use payspread::hotwater::flows::MeterDay;
use payspread::hotwater::outputs::Output;
use payspread::hotwater::settings::{Setting, Settings};
use payspread::sampling::Vectors;
use rayon::prelude::*;

const STEPS: usize = 48;
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

/// Share of a day's draw in each hour, in thousandths.
const PROFILE: [f64; 24] = [
    9.0, 5.0, 3.0, 3.0, 9.0, 28.0, 93.0, 121.0, 84.0, 51.0, 37.0, 33.0, 37.0, 33.0, 28.0, 33.0, 47.0, 70.0,
    79.0, 65.0, 47.0, 42.0, 28.0, 15.0,
];
const COLD: [f64; 12] = [8.0, 8.2, 9.3, 12.7, 14.6, 16.7, 18.4, 17.6, 16.6, 14.3, 11.1, 8.5];

/// A number in [0, 1) for a run: Steele, Lea, Flood 2014, finaliser of Stafford.
fn share(run: u64, what: u64) -> f64 {
    let z = (run * 4096 + what).wrapping_add(0x9E37_79B9_7F4A_7C15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / 9_007_199_254_740_992.0
}

/// 0 in midwinter, 1 in midsummer.
fn season(day: usize) -> f64 {
    1.0 - (day as f64 - 172.0).abs() / 193.0
}

/// Output of the panels at its brightest, as a share, in each step of a day.
fn sunshine(day: usize, step: usize) -> f64 {
    let away = (step as f64 * 0.5 + 0.25 - 12.5) / (4.0 + 4.0 * season(day));
    (1.0 - away * away).max(0.0) * (0.35 + 0.65 * season(day))
}

fn fill(day: usize, first: u64, meter: &mut MeterDay, litres: &mut [f64]) {
    let lanes = meter.lanes;
    for lane in 0..lanes {
        let run = first + lane as u64;
        let clear = 0.1 + 0.9 * share(run, 8 * day as u64 + 1);
        let drawn = 108.0 * (0.4 + 1.2 * share(run, 8 * day as u64 + 2));
        let home = 0.1 + 0.15 * share(run, 8 * day as u64 + 3);
        for step in 0..STEPS {
            let surplus = 1.4 * clear * sunshine(day, step) - home;
            meter.export[step * lanes + lane] = surplus.max(0.0);
            meter.import[step * lanes + lane] = (-surplus).max(0.0);
            litres[step * lanes + lane] = drawn * (PROFILE[step / 2] / 2000.0);
        }
    }
}

fn settings(first: u64, lanes: usize) -> Settings {
    let mut settings = Settings::new(lanes)
        .with(Setting::Element, 2.75)
        .with(Setting::Litres, 108.0)
        .with_months(Setting::Cold, &COLD);
    let mut varied = |setting, what: u64, low: f64, span: f64| {
        let values = (0..lanes).map(|lane| low + span * share(first + lane as u64, 3000 + what)).collect();
        settings.set(setting, vec![values]);
    };
    varied(Setting::Volume, 1, 120.0, 130.0);
    varied(Setting::StandingLoss, 2, 1.2, 1.2);
    varied(Setting::SetPoint, 3, 58.0, 10.0);
    varied(Setting::Threshold, 4, 20.0, 130.0);
    varied(Setting::BackupUpTo, 5, 55.0, 8.0);
    varied(Setting::Ambient, 6, 14.0, 8.0);
    settings
}

/// Years of runs `first` on: seconds in the cylinder, and amounts by output and month of each lane.
fn simulate(first: u64, lanes: usize, days: usize, vectors: Vectors) -> (f64, Cylinder) {
    let mut cylinder = Cylinder::new(&settings(first, lanes), Make::default(), true, vectors);
    let mut meter = MeterDay::new(STEPS, lanes);
    meter.generation.clear();
    let mut litres = vec![0.0; STEPS * lanes];
    let mut seconds = 0.0;
    for day in 0..days {
        fill(day, first, &mut meter, &mut litres);
        let start = Instant::now();
        cylinder.day(day, &meter, &litres, &TariffDay { export: &[], import: &[] }, None);
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
    let batch = number("--batch", "256");
    let vectors = match argument("--vectors", "widest").as_str() {
        "baseline" => Vectors::Baseline,
        "avx2" => Vectors::Avx2,
        _ => Vectors::Widest,
    };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    let Ok(pool) = pool else { return eprintln!("no threads") };
    let start = Instant::now();
    let done: Vec<_> = pool.install(|| {
        let starts: Vec<usize> = (0..runs).step_by(batch).collect();
        let one = |&first: &usize| {
            let (seconds, cylinder) = simulate(first as u64, batch.min(runs - first), days, vectors);
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
