//! Every kilowatt-hour is accounted for, whatever the settings.

use super::made_up::{Numbers, any_day, any_make, any_settings, any_tariff};
use crate::hotwater::cylinder::{Cylinder, TariffDay};
use crate::hotwater::outputs::Output as O;
use crate::hotwater::time::month_of;
use crate::sampling::Vectors;

/// One side of a balance and the other.
fn check(what: &str, left: &[f64], right: &[f64], case: &str) {
    let throughput: f64 = left.iter().chain(right).map(|x| x.abs()).sum();
    let apart = (left.iter().sum::<f64>() - right.iter().sum::<f64>()).abs();
    assert!(
        apart <= 1e-9 * throughput + 1e-12,
        "{what}: {apart:e} of {throughput}; {case}\n{left:?}\n{right:?}"
    );
}

fn balances(c: &Cylinder, month: usize, lane: usize, before: [f64; 2], case: &str) {
    let of = |output| c.totals().at(output, month)[lane];
    let heat_in = [of(O::HeatFromSun), of(O::HeatFromGrid), of(O::HeatFromBackup)];
    let lost = [of(O::HeatDrawn), of(O::StandingLoss), of(O::CirculationLoss), of(O::StoredChange)];
    check("heat", &heat_in, &lost, case);
    let electric = if c.make.electric_backup { of(O::HeatFromBackup) } else { 0.0 };
    let into = of(O::BatteryDrainedInto);
    let came = [before[0], of(O::Imported), of(O::BatteryOut), into];
    let went = [
        before[1],
        of(O::Exported),
        of(O::Curtailed),
        of(O::Diverted),
        into,
        of(O::BatteryIn),
        of(O::StandbyUse),
        electric,
    ];
    check("electricity", &came, &went, case);
    let element = [of(O::HeatFromSun), of(O::HeatFromGrid), of(O::ControllerLoss)];
    check("element", &[of(O::Diverted), into], &element, case);
    let battery = [of(O::BatteryOut), into, of(O::BatteryLoss), of(O::BatteryChange)];
    check("battery", &[of(O::BatteryIn)], &battery, case);
    for output in [
        O::HeatFromSun,
        O::HeatFromGrid,
        O::HeatFromBackup,
        O::HeatShort,
        O::CirculationLoss,
        O::Diverted,
        O::Exported,
        O::Curtailed,
        O::Imported,
        O::FromGrid,
        O::BatteryIn,
        O::BatteryOut,
        O::BatteryLoss,
        O::BatteryDrainedInto,
    ] {
        assert!(of(output) >= -1e-9, "{output:?} {} {case}", of(output));
    }
}

/// One home after another, of random settings, on days all over the year.
#[test]
fn every_kilowatt_hour_is_accounted_for() {
    let mut drained = 0.0;
    for seed in 0..120 {
        let mut n = Numbers::new(seed);
        let (make, lanes) = (any_make(&mut n), 3);
        let settings = any_settings(&mut n, lanes);
        let mut c = Cylinder::new(&settings, make, n.chance(0.9), Vectors::Widest);
        let mut before = vec![[0.0; 2]; 12 * lanes];
        for day in (0..365).step_by(5) {
            let (meter, litres) = any_day(&mut n, make.steps, lanes);
            let (export, import) = any_tariff(&mut n, make.steps);
            c.day(day, &meter, &litres, &TariffDay { export: &export, import: &import }, None);
            for (i, (e, m)) in meter.export.iter().zip(&meter.import).enumerate() {
                let at = &mut before[month_of(day) * lanes + i % lanes];
                at[0] += e;
                at[1] += m;
            }
        }
        for (i, &before) in before.iter().enumerate() {
            balances(&c, i / lanes, i % lanes, before, &format!("seed {seed}, {make:?}"));
        }
        for lane in 0..lanes {
            let year = |output| c.totals().year(output, lane);
            drained += year(O::BatteryDrainedInto);
            // No more is made up for than was drained, and heat and electricity drained are of one kind.
            assert!(year(O::FromGrid) <= year(O::BatteryDrainedInto) * (1.0 + 1e-12));
            assert!(year(O::FromGrid) <= year(O::Imported) * (1.0 + 1e-12));
        }
    }
    assert!(drained > 1.0, "no case drained a battery");
}

/// What is stored is what the months say it became.
#[test]
fn what_is_stored_is_what_came_in() {
    let mut n = Numbers::new(77);
    let make = any_make(&mut n);
    let settings = any_settings(&mut n, 5);
    let mut c = Cylinder::new(&settings, make, true, Vectors::Widest);
    let start: Vec<[f64; 2]> = (0..5).map(|lane| [c.stored_kwh(lane), c.battery_kwh(lane)]).collect();
    for day in 0..365 {
        let (meter, litres) = any_day(&mut n, make.steps, 5);
        c.day(day, &meter, &litres, &super::made_up::FLAT, None);
    }
    for (lane, start) in start.iter().enumerate() {
        let heat = c.stored_kwh(lane) - start[0] - c.totals().year(O::StoredChange, lane);
        let battery = c.battery_kwh(lane) - start[1] - c.totals().year(O::BatteryChange, lane);
        assert!(heat.abs() < 1e-9 && battery.abs() < 1e-9);
    }
    assert_eq!(c.stored_kwh(5), 0.0);
}
