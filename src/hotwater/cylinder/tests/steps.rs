//! A realistic home: what the step and the boiler's times do to it.

use super::made_up::{FLAT, Numbers, one};
use crate::hotwater::cylinder::{Cylinder, Make};
use crate::hotwater::flows::MeterDay;
use crate::hotwater::outputs::Output as O;
use crate::hotwater::settings::{Setting as S, Settings};

/// Share of a day's draw in each hour, in thousandths.
const PROFILE: [f64; 24] = [
    9.0, 5.0, 3.0, 3.0, 9.0, 28.0, 93.0, 121.0, 84.0, 51.0, 37.0, 33.0, 37.0, 33.0, 28.0, 33.0, 47.0, 70.0,
    79.0, 65.0, 47.0, 42.0, 28.0, 15.0,
];
const COLD: [f64; 12] = [8.0, 8.2, 9.3, 12.7, 14.6, 16.7, 18.4, 17.6, 16.6, 14.3, 11.1, 8.5];

/// Homes side by side, each with its own weather and draws.
const HOMES: usize = 32;

/// 3 people, 180 L, 1.7 kWh/day, 3 kW: usual homes.
fn home() -> Settings {
    Settings::new(HOMES)
        .with(S::Volume, 180.0)
        .with(S::Element, 2.8)
        .with(S::StandingLoss, 1.7)
        .with(S::Litres, 108.0)
        .with_months(S::Cold, &COLD)
}

/// A year of sun of some 3.6 kWp, clouds that pass, and a home's demand, in steps of the day. Clouds and demand change by
/// the half hour, the sun's path by the quarter. (Where they change faster than the step, a threshold sees averages: that
/// is a matter of the readings, not of the simulation.)
fn year(make: Make, settings: &Settings) -> Cylinder {
    let mut c = one(settings, make);
    let mut n = Numbers::new(11);
    for day in 0..365 {
        let season = 1.0 - (day as f64 - 172.0).abs() / 193.0;
        let mut meter = MeterDay::new(make.steps, HOMES);
        let mut litres = vec![0.0; make.steps * HOMES];
        for lane in 0..HOMES {
            let (clear, thirst) = (n.within(0.1, 1.0), n.within(0.4, 1.6));
            let (mut cloud, mut need) = (1.0, 0.3);
            for quarter in 0..96 {
                if quarter % 2 == 0 {
                    (cloud, need) = (n.within(0.6, 1.4), n.within(0.1, 0.7));
                }
                let away = (quarter as f64 / 4.0 + 0.125 - 12.5) / (4.0 + 4.0 * season);
                let sun = 3.0 * clear * (1.0 - away * away).max(0.0) * (0.35 + 0.65 * season) * cloud;
                let at = quarter * make.steps / 96 * HOMES + lane;
                meter.export[at] += (sun - need).max(0.0) / 4.0;
                meter.import[at] += (need - sun).max(0.0) / 4.0;
                litres[at] += 108.0 * thirst * PROFILE[quarter / 4] / 4000.0;
            }
        }
        c.day(day, &meter, &litres, &FLAT, None);
    }
    c
}

/// Of all homes: in a month, and in the year.
fn in_month(c: &Cylinder, output: O, month: usize) -> f64 {
    c.totals().at(output, month).iter().sum::<f64>() / HOMES as f64
}

fn in_year(c: &Cylinder, output: O) -> f64 {
    (0..12).map(|month| in_month(c, output, month)).sum()
}

fn make(steps: usize) -> Make {
    Make { steps, ..Make::default() }
}

#[test]
fn a_step_of_half_the_length_changes_little() {
    let (half_hours, quarters) = (year(make(48), &home()), year(make(96), &home()));
    for month in 0..12 {
        let (a, b) =
            (in_month(&half_hours, O::HeatFromSun, month), in_month(&quarters, O::HeatFromSun, month));
        assert!((a / b - 1.0).abs() < 0.01, "month {month}: {a} by half hours, {b} by quarters");
    }
    for output in [O::HeatFromSun, O::HeatFromBackup, O::HeatDrawn, O::StandingLoss] {
        let (a, b) = (in_year(&half_hours, output), in_year(&quarters, output));
        assert!((a / b - 1.0).abs() < 0.01, "{output:?}: {a} by half hours, {b} by quarters");
    }
}

#[test]
fn a_boiler_at_six_leaves_less_room_than_an_evening_one() {
    let evening = year(make(48), &home());
    let early = home()
        .with(S::BackupFrom, 6.0)
        .with(S::BackupTo, 7.5)
        .with(S::BackupFrom2, 17.0)
        .with(S::BackupTo2, 18.5);
    let early = year(make(48), &early);
    let sun = |c: &Cylinder| in_year(c, O::HeatFromSun);
    let loss = 1.0 - sun(&early) / sun(&evening);
    assert!((0.10..0.25).contains(&loss), "{loss}");
}
