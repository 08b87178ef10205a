//! Made-up homes and days for tests: every number from a seed.

use crate::hotwater::cylinder::{Cylinder, Make, TariffDay};
use crate::hotwater::flows::MeterDay;
use crate::hotwater::settings::{Setting, Settings};
use crate::sampling::Vectors;
use crate::sampling::philox::mix;

/// Numbers in [0, 1).
pub(super) struct Numbers(u64);

impl Numbers {
    pub(super) fn new(seed: u64) -> Numbers {
        Numbers(mix(seed))
    }

    pub(super) fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        (mix(self.0) >> 11) as f64 / 9_007_199_254_740_992.0
    }

    pub(super) fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    pub(super) fn chance(&mut self, of: f64) -> bool {
        self.next() < of
    }

    pub(super) fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[(self.next() * all.len() as f64) as usize]
    }
}

/// Any way of making the simulation.
pub(super) fn any_make(n: &mut Numbers) -> Make {
    Make {
        steps: n.one_of(&[24, 48, 96]),
        layers: n.one_of(&[1, 2, 5, 10, 20]),
        in_series: n.chance(0.5),
        mixed_at_tap: n.chance(0.5),
        electric_backup: n.chance(0.5),
    }
}

/// Where a setting may lie in a test: within its limits, near what homes have, now and then far from it.
fn range(setting: Setting) -> (f64, f64) {
    match setting {
        Setting::Cylinders => (0.6, 4.4),
        Setting::Volume => (40.0, 500.0),
        Setting::Element => (0.5, 9.0),
        Setting::StandingLoss => (0.0, 6.0),
        Setting::Ambient => (-20.0, 35.0),
        Setting::CirculationLoss => (0.0, 300.0),
        Setting::Threshold => (0.0, 300.0),
        Setting::SmallestPower => (0.0, 500.0),
        Setting::LargestPower => (500.0, 8_000.0),
        Setting::ConversionLoss => (0.0, 0.2),
        Setting::Standby => (0.0, 30.0),
        Setting::BackupPower => (0.0, 20.0),
        Setting::BackupBelow => (30.0, 60.0),
        Setting::BackupUpTo => (45.0, 75.0),
        Setting::HygieneDays => (0.0, 9.0),
        Setting::Hygiene => (50.0, 70.0),
        Setting::Battery => (0.0, 12.0),
        Setting::BatteryPower => (0.0, 5.0),
        Setting::ExportLimit => (0.2, 6.0),
        Setting::SetPoint => (40.0, 90.0),
        other => (other.info().least, other.info().most),
    }
}

/// Settings that hold heat or electricity: the same all year.
const OF_YEAR: [Setting; 3] = [Setting::Cylinders, Setting::Volume, Setting::Battery];

/// Settings anywhere in their ranges, different in each lane, some by month, some alike in all lanes or off.
pub(super) fn any_settings(n: &mut Numbers, lanes: usize) -> Settings {
    let mut settings = Settings::new(lanes);
    for &setting in Setting::ALL {
        let (low, high) = range(setting);
        let months = if n.chance(0.15) && !OF_YEAR.contains(&setting) { 12 } else { 1 };
        let alike = n.chance(0.4).then(|| n.within(low, high));
        let value = |n: &mut Numbers| alike.unwrap_or_else(|| n.within(low, high));
        settings.set(setting, (0..months).map(|_| (0..lanes).map(|_| value(n)).collect()).collect());
    }
    for off in [Setting::Battery, Setting::CirculationLoss, Setting::HygieneDays, Setting::BackupPower] {
        if n.chance(0.25) {
            settings = settings.with(off, 0.0);
        }
    }
    settings
}

/// A day of any home: sun in some steps, demand in others, at times both; draws from none to more than the cylinder.
pub(super) fn any_day(n: &mut Numbers, steps: usize, lanes: usize) -> (MeterDay, Vec<f64>) {
    let mut meter = MeterDay::new(steps, lanes);
    let mut litres = vec![0.0; steps * lanes];
    let (bright, thirst) = (n.within(0.0, 6.0), n.within(0.0, 2.0));
    let size = 24.0 / steps as f64;
    for (i, litres) in litres.iter_mut().enumerate() {
        let sun = if n.chance(0.5) { n.within(0.0, bright) * size } else { 0.0 };
        meter.generation[i] = sun;
        meter.export[i] = sun * n.next();
        meter.import[i] = if n.chance(0.5) { n.within(0.0, 1.0) * size } else { 0.0 };
        *litres = if n.chance(0.4) { n.within(0.0, 25.0) * thirst * size } else { 0.0 };
        if n.chance(0.002) {
            *litres *= 100.0;
        }
    }
    (meter, litres)
}

/// Factors of a tariff.
pub(super) fn any_tariff(n: &mut Numbers, steps: usize) -> (Vec<f64>, Vec<f64>) {
    ((0..steps).map(|_| n.within(-0.1, 2.0)).collect(), (0..steps).map(|_| n.within(0.3, 2.0)).collect())
}

/// A small home that the tests of closed forms change: no draw, no loss, no back-up, no sun unless given.
pub(super) fn bare(lanes: usize) -> Settings {
    Settings::new(lanes)
        .with(Setting::Volume, 180.0)
        .with(Setting::Element, 3.0)
        .with(Setting::ElementHeight, 0.0)
        .with(Setting::StandingLoss, 0.0)
        .with(Setting::Cold, 10.0)
        .with(Setting::Litres, 0.0)
        .with(Setting::Threshold, 0.0)
        .with(Setting::Standby, 0.0)
        .with(Setting::ConversionLoss, 0.0)
        .with(Setting::BackupPower, 0.0)
        .with(Setting::HygieneDays, 0.0)
}

/// A tariff without times.
pub(super) const FLAT: TariffDay<'static> = TariffDay { export: &[], import: &[] };

/// A day that is the same in every lane: export, import, litres of each step.
pub(super) fn alike(steps: usize, lanes: usize, of: impl Fn(usize) -> [f64; 3]) -> (MeterDay, Vec<f64>) {
    let mut meter = MeterDay::new(steps, lanes);
    let mut litres = vec![0.0; steps * lanes];
    for step in 0..steps {
        let [export, import, drawn] = of(step);
        for lane in 0..lanes {
            meter.export[step * lanes + lane] = export;
            meter.import[step * lanes + lane] = import;
            litres[step * lanes + lane] = drawn;
        }
    }
    (meter, litres)
}

/// A home of one lane with the widest vectors.
pub(super) fn one(settings: &Settings, make: Make) -> Cylinder {
    Cylinder::new(settings, make, true, Vectors::Widest)
}
