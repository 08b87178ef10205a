//! Made-up but varied homes: sun, demand, draws and settings of a run follow from its number by whole-number arithmetic
//! and plain `+ - * /`, so that another program (`benches/cylinder_numpy.py`) has the very same to the last bit.

use payspread::hotwater::flows::MeterDay;
use payspread::hotwater::settings::{Setting, Settings};

/// Steps of a day.
pub(crate) const STEPS: usize = 48;

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

/// Fills a day of runs `first` on: what crosses the meter, and litres drawn.
pub(crate) fn fill(day: usize, first: u64, meter: &mut MeterDay, litres: &mut [f64]) {
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

/// Settings of runs `first` on.
pub(crate) fn settings(first: u64, lanes: usize) -> Settings {
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
