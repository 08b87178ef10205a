use super::*;
use crate::hotwater::away::Hemisphere;
use crate::hotwater::draw_off::DrawOff;
use crate::hotwater::phases::Phases;
use crate::hotwater::profile::Profile;

/// A sun that shines from six to six with a half sine that has the given kWh a day for each kWp.
struct Sine {
    lanes: usize,
    kwh: f64,
}

impl PanelOutput for Sine {
    fn day(&mut self, _day: usize, kwh_per_kwp: &mut [f64]) {
        let steps = kwh_per_kwp.len() / self.lanes;
        // The integral of a half sine between the ends of a step.
        let until = |step: usize| {
            let place = (step as f64 / steps as f64 - 0.25) * 2.0;
            0.5 - 0.5 * libm::cos(core::f64::consts::PI * place.clamp(0.0, 1.0))
        };
        for (step, out) in kwh_per_kwp.chunks_exact_mut(self.lanes).enumerate() {
            out.fill(self.kwh * (until(step + 1) - until(step)));
        }
    }
}

fn chance(lanes: usize) -> Chance<'static> {
    Chance { seed: 5, name: "home", first: 0, lanes, vectors: Vectors::Widest }
}

fn day(settings: &Settings, steps: usize, kwh: f64, which: usize) -> MeterDay {
    let lanes = settings.lanes();
    let household = Household::new(Hemisphere::North, Phases::single(), steps);
    let mut home = SimulatedHome::new(&household, settings, &chance(lanes), Sine { lanes, kwh });
    let mut out = MeterDay::new(steps, lanes);
    for day in 0..=which {
        home.fill(day, &mut out);
    }
    out
}

#[test]
fn an_empty_house_exports_all_that_the_losses_leave() {
    let settings = Settings::new(2).with(Setting::Panels, 3.0).with(Setting::SunLoss, 0.2);
    for steps in [24, 48, 96] {
        let out = day(&settings, steps, 5.0, 3);
        assert!((out.generation.iter().sum::<f64>() - 2.0 * 12.0).abs() < 1e-12);
        for (export, generation) in out.export.iter().zip(&out.generation) {
            assert!((export - generation).abs() < 1e-15);
        }
        assert!(out.import.iter().all(|&i| i == 0.0));
    }
}

/// A half sine of peak p, cut at a limit c, has p (1 - cos x)·24/(2 pi)·2 + c (24 - ...) kWh: the sine up to where it
/// reaches the limit, at both ends, and the limit between.
#[test]
fn the_inverter_cuts_the_noon() {
    let settings = Settings::new(1)
        .with(Setting::Panels, 4.0)
        .with(Setting::SunLoss, 0.1)
        .with(Setting::InverterLimit, 1.5);
    let out = day(&settings, 1440, 6.0, 0);
    let day_kwh = 6.0 * 4.0 * 0.9;
    let peak = day_kwh * core::f64::consts::PI / 24.0;
    let angle = libm::asin(1.5 / peak);
    let flat_hours = 12.0 * (1.0 - 2.0 * angle / core::f64::consts::PI);
    let expect = day_kwh * (1.0 - libm::cos(angle)) + 1.5 * flat_hours;
    let got: f64 = out.generation.iter().sum();
    assert!((got - expect).abs() < 1e-4, "{got} {expect}");
    assert!(out.generation.iter().all(|&g| g <= 1.5 / 60.0 + 1e-15));
}

/// The balance of every half hour, and the year's use, from what the meter saw.
#[test]
fn generation_less_what_flows_out_is_what_is_used() {
    let lanes = 200;
    let settings = Settings::new(lanes)
        .with(Setting::Panels, 3.6)
        .with(Setting::Electricity, 3_900.0)
        .with(Setting::DaysAway, 10.0);
    let household = Household::new(Hemisphere::North, Phases::single(), 48);
    let mut home = SimulatedHome::new(&household, &settings, &chance(lanes), Sine { lanes, kwh: 3.0 });
    let mut dark = SimulatedHome::new(&household, &settings, &chance(lanes), Sine { lanes, kwh: 0.0 });
    let (mut a, mut b) = (MeterDay::new(48, lanes), MeterDay::new(48, lanes));
    let (mut both, mut exported) = (0, 0.0);
    for day in 0..time::DAYS {
        home.fill(day, &mut a);
        dark.fill(day, &mut b);
        for i in 0..48 * lanes {
            // The same home without sun imports all that it uses.
            assert!((a.generation[i] + a.import[i] - a.export[i] - b.import[i]).abs() < 1e-12);
            assert!(a.export[i] >= 0.0 && a.import[i] >= 0.0 && b.export[i] == 0.0);
            both += usize::from(a.export[i] > 0.0 && a.import[i] > 0.0);
            exported += a.export[i] / lanes as f64;
        }
    }
    assert!(both > 0);
    let made = 365.0 * 3.0 * 3.6 * 0.8;
    assert!(exported > 0.3 * made && exported < 0.9 * made, "{exported} of {made}");
}

/// Settings that make no sense (a reader refuses them first) give no panic and no endless loop; nor does a batch without
/// lanes.
#[test]
fn nonsense_does_not_panic() {
    let values = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e300];
    let asked = [
        Setting::Litres,
        Setting::DayToDay,
        Setting::Weekend,
        Setting::DaysAway,
        Setting::AwayBlock,
        Setting::Panels,
        Setting::SunLoss,
        Setting::InverterLimit,
        Setting::Electricity,
        Setting::ApplianceShare,
    ];
    let draw_off = DrawOff::new(&Profile::working_household(), 48);
    let household = Household::new(Hemisphere::South, Phases::single(), 48);
    for lanes in [0, 3] {
        for setting in asked {
            for value in values {
                let settings = Settings::new(lanes).with(Setting::Litres, 100.0).with(setting, value);
                let mut litres = vec![0.0; 48 * lanes];
                let mut draws = draw_off.batch(&settings, &chance(lanes));
                let sun = Sine { lanes: lanes.max(1), kwh: 2.0 };
                let mut home = SimulatedHome::new(&household, &settings, &chance(lanes), sun);
                let mut out = MeterDay::new(48, lanes);
                for day in 0..10 {
                    draws.day(day, &mut litres);
                    home.fill(day, &mut out);
                }
            }
        }
    }
}
