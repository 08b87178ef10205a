//! What a user must be able to see in a simulated home.

use payspread::hotwater::HEAT_PER_VOLUME_KELVIN;
use payspread::hotwater::chance::Chance;
use payspread::hotwater::course::DayCourse;
use payspread::hotwater::draw_off::DrawOff;
use payspread::hotwater::home::Home;
use payspread::hotwater::outputs::Output;
use payspread::hotwater::profile::Profile;
use payspread::hotwater::settings::{Setting, Settings};

use super::homes::{Boiler, Case, Way, chance};
use super::{LANES, year};

fn usual(way: &Way) -> Settings {
    way.settings(&Case::USUAL, 1)
}

fn sum(values: &[f64]) -> f64 {
    values.iter().sum()
}

fn days_of(home: &Home, settings: &Settings, run: u64) -> Vec<DayCourse> {
    home.days(settings, &Chance { first: run, ..chance(1) })
}

/// On bright days the same sun finds hotter water where the boiler fired at six, and leaves less in it.
#[test]
fn a_boiler_at_six_leaves_no_room_on_bright_mornings() {
    let way = Way::OURS;
    let home = way.home();
    let evening = days_of(&home, &usual(&way), 0);
    let morning = days_of(&home, &way.settings(&Case { boiler: Boiler::MorningToo, ..Case::USUAL }, 1), 0);
    let (mut bright, mut warmer, mut taken) = (0.0, 0.0, [0.0; 2]);
    for (e, m) in evening.iter().zip(&morning) {
        assert_eq!(e.export_before, m.export_before);
        if sum(&e.export_before[16..26]) < 5.0 {
            continue;
        }
        bright += 1.0;
        warmer += m.mean_degc[15] - e.mean_degc[15];
        taken[0] += sum(&e.diverted);
        taken[1] += sum(&m.diverted);
    }
    assert!(bright > 50.0, "{bright} bright days");
    assert!(warmer / bright > 4.0, "at eight the water is {:.1} K warmer", warmer / bright);
    assert!(taken[1] < 0.85 * taken[0], "{taken:?}");
}

/// To the last drop: nothing drawn by day, nothing lost, and a boiler that fills the cylinder to 60 at six. The sun then
/// has room for two kelvins of 180 L, however bright the day.
#[test]
fn two_kelvins_are_left_behind_a_full_cylinder() {
    let way = Way::OURS;
    let mut late = [0.0; 24];
    late[22] = 1.0;
    let home = Home { draw_off: DrawOff::new(&Profile::new(&late).unwrap(), 48), ..way.home() };
    let settings = usual(&way)
        .with(Setting::StandingLoss, 0.0)
        .with(Setting::Threshold, 0.0)
        .with(Setting::BackupHeight, 0.0)
        .with(Setting::ElementHeight, 0.0)
        .with(Setting::BackupFrom, 6.0)
        .with(Setting::BackupTo, 7.0)
        .with(Setting::BackupBelow, 59.99)
        .with(Setting::BackupSensor, 0.0);
    let capacity = 0.180 * HEAT_PER_VOLUME_KELVIN;
    let mut full = 0;
    for day in days_of(&home, &settings, 3).iter().skip(1) {
        let early = sum(&day.diverted[..14]);
        // Water that the sun had heated to 62 the day before may still be on top.
        let room = capacity * (62.0 - day.mean_degc[13]);
        assert!(day.bottom_degc[13] >= 60.0 - 1e-9 && room < 2.0 * capacity + 1e-9);
        let taken = sum(&day.diverted[14..]);
        assert!(taken < room + 1e-9, "day {}: {taken}, {room}", day.day);
        if sum(&day.export_before[14..44]) > 1.0 {
            full += 1;
            assert!(early < 1.0 && (taken - room).abs() < 1e-9, "day {}: {early} {taken}, {room}", day.day);
        }
    }
    assert!(full > 200, "{full}");
}

/// The grid gives back what a battery loses to the water by mistake, at the price of electricity: at middle prices more
/// than the boiler's fuel is worth.
#[test]
fn a_battery_drained_by_mistake_costs_more_than_it_saves() {
    let way = Way::OURS;
    let case = Case { battery: 5.0, ..Case::USUAL };
    let of = |drained| way.years_of(&way.settings(&case, LANES).with(Setting::BatteryDrained, drained));
    let (right, wrong) = (of(0.0), of(1.0));
    let more = |output| year(&wrong, output) - year(&right, output);
    assert!(more(Output::Imported) > 400.0, "{}", more(Output::Imported));
    assert!(more(Output::BatteryOut) < -400.0);
    assert!(year(&wrong, Output::HeatFromGrid) > 500.0 && year(&right, Output::HeatFromGrid) == 0.0);
    // EUR/kWh: import, export, and gas over a summer boiler's efficiency.
    let (import, export, heat) = (0.31, 0.075, 0.112 / 0.73);
    let cost = import * more(Output::Imported) - export * more(Output::Exported);
    let saved = -heat * more(Output::HeatFromBackup);
    assert!(saved > 0.0 && cost > 1.5 * saved, "costs {cost:.0}, saves {saved:.0}");
    // For each run and month, the grid never gives back more than was drained so far.
    for lane in 0..LANES {
        let (mut drained, mut back) = (0.0, 0.0);
        for month in 0..12 {
            drained += wrong.at(Output::BatteryDrainedInto, month)[lane];
            back += wrong.at(Output::FromGrid, month)[lane];
            assert!(back <= drained + 1e-9);
        }
    }
}

fn several(way: &Way, cylinders: f64, in_series: bool, lanes: usize) -> (Home, Settings) {
    let mut home = way.home();
    home.make.in_series = in_series;
    let settings = way
        .settings(&Case { volume: 180.0 / cylinders, ..Case::USUAL }, lanes)
        .with(Setting::Cylinders, cylinders)
        .with(Setting::StandingLoss, 1.7 / cylinders)
        .with(Setting::Element, 2.8 / cylinders);
    (home, settings)
}

/// One cylinder cut in two, side by side, is much the same one. In a row the boiler heats only the second: the first is
/// left to the sun, which finds more room, the boiler gives less, and the water is colder.
#[test]
fn cylinders_side_by_side_and_in_a_row() {
    let way = Way::OURS;
    let of = |cylinders, in_series| {
        let (home, settings) = several(&way, cylinders, in_series, LANES);
        home.year(&settings, &chance(LANES), true)
    };
    let (one, side, row) = (of(1.0, false), of(2.0, false), of(2.0, true));
    for output in [Output::Diverted, Output::BackupBefore, Output::HeatFromBackup, Output::HeatDrawn] {
        let off = year(&side, output) / year(&one, output) - 1.0;
        assert!(off.abs() < 0.03, "{output:?} {off}");
    }
    assert!(year(&row, Output::Diverted) > 1.03 * year(&one, Output::Diverted));
    assert!(year(&row, Output::BackupBefore) < 0.85 * year(&one, Output::BackupBefore));
    assert!(year(&row, Output::StandingLoss) < year(&one, Output::StandingLoss));
    assert!(year(&row, Output::HoursBelowComfort) > year(&one, Output::HoursBelowComfort));
}

/// On every seventh evening all of the water is at 60 for an hour, with the sun and without. Steps end after their
/// standing loss, a tenth of a kelvin; the last litres drawn in the hour are heated within their step.
#[test]
fn no_hygiene_heat_up_is_skipped() {
    let way = Way::OURS;
    for (cylinders, in_series) in [(1.0, false), (2.0, false), (2.0, true), (4.0, true)] {
        let (home, settings) = several(&way, cylinders, in_series, 1);
        let settings = settings.with(Setting::HygieneDays, 7.0);
        for run in 0..2 {
            let days = days_of(&home, &settings, run);
            for day in days.iter().step_by(7) {
                // The mean is of all cylinders, the bottom of the first.
                let hot = |s: usize| day.bottom_degc[s] > 59.5 && day.mean_degc[s] > 59.5;
                let steps = (34..48).filter(|&s| hot(s)).count();
                assert!(steps >= 2, "day {}, {cylinders} cylinders: hot for {steps} half hours", day.day);
            }
        }
    }
}

/// Left to itself at night the water only cools, and no faster than its walls let it. Nothing flows backwards.
#[test]
fn nights_are_quiet_and_nothing_flows_backwards() {
    let way = Way::OURS;
    let home = way.home();
    // Of what it is above 20 degC: 1.7 kWh a day at 45 K.
    let rate = 1.7 / 45.0 / 48.0 / (0.180 * HEAT_PER_VOLUME_KELVIN);
    for run in 0..3 {
        for day in days_of(&home, &usual(&way), run) {
            for s in 0..48 {
                for flow in [
                    &day.generation,
                    &day.export_before,
                    &day.import_before,
                    &day.diverted,
                    &day.export,
                    &day.import,
                    &day.backup_heat,
                    &day.drawn_heat,
                    &day.litres,
                ] {
                    assert!(flow[s] >= 0.0);
                }
                assert!(day.diverted[s] <= 2.8 / 2.0 + 1e-9 && day.top_degc[s] <= 62.0 + 1e-9);
                assert!(day.top_degc[s] >= day.bottom_degc[s] - 1e-9);
                let idle = s > 0 && day.litres[s] <= 0.0 && day.backup_heat[s] + day.diverted[s] <= 0.0;
                if idle {
                    let (was, is) = (day.mean_degc[s - 1], day.mean_degc[s]);
                    let expected = 20.0 + (was - 20.0) * libm::exp(-rate);
                    assert!((is - expected).abs() < 1e-9, "{was} {is} {expected}");
                }
            }
        }
    }
}

/// A controller of 2 W draws 17.52 kWh a year: from the sun while there is any, else from the grid.
#[test]
fn standby_is_counted() {
    let way = Way::OURS;
    let settings = way.settings(&Case::USUAL, LANES).with(Setting::Standby, 2.0);
    let totals = way.years_of(&settings);
    for lane in 0..LANES {
        let of = |output| totals.year(output, lane);
        assert!((of(Output::StandbyUse) - 17.52).abs() < 1e-9);
        let grid = of(Output::Imported) - of(Output::ImportedBefore);
        let sun = of(Output::ExportedBefore) - of(Output::Exported) - of(Output::Diverted);
        assert!((grid + sun - 17.52).abs() < 1e-6 && grid > 8.0 && sun > 3.0, "{grid} {sun}");
    }
}

/// In December the sun suffices on few days, and without a controller on hardly any; a day on which it suffices has no
/// back-up heat.
#[test]
fn days_by_sun_follow_the_season() {
    let totals = Way::OURS_OF_REAL_ROOFS.years(&Case::USUAL, LANES);
    let days = |month| super::monthly(&totals, Output::DaysBySun)[month];
    assert!(days(11) < 0.2 * 31.0 && days(5) > 0.6 * 30.0, "{} {}", days(11), days(5));
    for month in 0..12 {
        for (sun, free) in
            totals.at(Output::DaysBySun, month).iter().zip(totals.at(Output::BackupFreeDays, month))
        {
            assert!(sun <= free);
        }
    }
}

/// The same home lived through day by day by hand, to the last digit.
#[test]
fn a_home_is_its_parts() {
    let way = Way::OURS;
    let settings = way.settings(&Case::USUAL, 3);
    let (whole, parts) = (way.home().year(&settings, &chance(3), true), way.by_hand(&settings));
    for output in [
        Output::ExportedBefore,
        Output::ImportedBefore,
        Output::Exported,
        Output::Diverted,
        Output::HeatFromBackup,
        Output::BackupBefore,
        Output::HeatDrawn,
    ] {
        for month in 0..12 {
            assert_eq!(whole.at(output, month), parts.at(output, month), "{output:?}");
        }
    }
}
