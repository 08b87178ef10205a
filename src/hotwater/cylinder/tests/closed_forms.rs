//! Cases that can be worked out on paper.

use super::made_up::{FLAT, alike, bare, one};
use crate::hotwater::HEAT_PER_VOLUME_KELVIN;
use crate::hotwater::course::DayCourse;
use crate::hotwater::cylinder::Make;
use crate::hotwater::outputs::Output as O;
use crate::hotwater::settings::{Setting as S, Settings};
use crate::hotwater::time::FIRST_DAYS;

/// kWh that warm a litre by a kelvin.
const LITRE: f64 = HEAT_PER_VOLUME_KELVIN / 1000.0;

fn close(a: f64, b: f64, of: f64) {
    assert!((a - b).abs() <= of * b.abs().max(1e-3), "{a} is not {b}");
}

fn steps(n: usize) -> Make {
    Make { steps: n, ..Make::default() }
}

#[test]
fn constant_surplus_fills_the_water_to_the_set_point_and_then_flows_out() {
    for n in [24, 48, 96] {
        let settings = bare(1).with(S::SetPoint, 62.0);
        let mut c = one(&settings, steps(n));
        // 1.2 kW all day; the water takes 180 L from 10 to 62 degC.
        let each = 1.2 * 24.0 / n as f64;
        let (meter, litres) = alike(n, 1, |_| [each, 0.0, 0.0]);
        let mut course = DayCourse::default();
        c.day(0, &meter, &litres, &FLAT, Some((0, &mut course)));
        let room = 180.0 * LITRE * 52.0;
        close(c.totals().at(O::Diverted, 0)[0], room, 1e-12);
        close(c.totals().at(O::HeatFromSun, 0)[0], room, 1e-12);
        close(c.totals().at(O::Exported, 0)[0], 28.8 - room, 1e-12);
        let full = (room / each).floor() as usize;
        assert!(course.diverted[..full].iter().all(|&d| (d - each).abs() < 1e-12));
        assert!(course.diverted[full + 1..].iter().all(|&d| d.abs() < 1e-12));
        assert!(
            (course.top_degc[n - 1] - 62.0).abs() < 1e-12 && (course.bottom_degc[n - 1] - 62.0).abs() < 1e-9
        );
        let hot = c.stored_kwh(0);
        c.day(1, &meter, &litres, &FLAT, None);
        close(c.stored_kwh(0), hot, 1e-12);
    }
}

#[test]
fn what_lies_below_the_element_stays_cold() {
    let mut c = one(&bare(1).with(S::ElementHeight, 0.5).with(S::SetPoint, 60.0), steps(48));
    let (meter, litres) = alike(48, 1, |_| [1.0, 0.0, 0.0]);
    c.day(0, &meter, &litres, &FLAT, None);
    let taken = c.totals().at(O::HeatFromSun, 0)[0];
    // The upper half, and what is conducted downwards: below a surface kept warm, 2 sqrt(a t / pi) of a deep body warms up
    // (Carslaw and Jaeger 1959), 0.2 m of the half's 0.64 m in a day; somewhat less, as heating up takes hours.
    let half = 90.0 * LITRE * 50.0;
    assert!(taken > 1.1 * half && taken < 1.31 * half, "{taken} of {half}");
}

#[test]
fn a_full_cylinder_takes_only_its_loss() {
    let settings = bare(1).with(S::StandingLoss, 2.0).with(S::SetPoint, 65.0).with(S::Ambient, 20.0);
    let mut c = one(&settings, steps(48));
    let (meter, litres) = alike(48, 1, |_| [1.4, 0.0, 0.0]);
    for day in 0..365 {
        c.day(day, &meter, &litres, &FLAT, None);
    }
    // From February on: at 45 K above its surroundings a half hour loses 2/48 kWh, but for what the layer cools in it.
    let capacity = 180.0 * LITRE;
    let a_step = 45.0 * capacity * -libm::expm1(-2.0 / 48.0 / (45.0 * capacity));
    for month in 1..12 {
        let days = (FIRST_DAYS[month + 1] - FIRST_DAYS[month]) as f64;
        close(c.totals().at(O::Diverted, month)[0], days * 48.0 * a_step, 1e-9);
        close(c.totals().at(O::StandingLoss, month)[0], days * 48.0 * a_step, 1e-9);
    }
}

#[test]
fn without_surplus_nothing_is_diverted() {
    let settings = bare(1).with(S::StandingLoss, 2.0).with(S::Standby, 2.0);
    let mut c = one(&settings, steps(48));
    let (meter, litres) = alike(48, 1, |_| [0.0, 0.2, 3.0]);
    for day in 0..31 {
        c.day(day, &meter, &litres, &FLAT, None);
    }
    let of = |output| c.totals().at(output, 0)[0];
    assert_eq!([of(O::Diverted), of(O::HeatFromSun), of(O::Exported), of(O::HeatFromBackup)], [0.0; 4]);
    close(of(O::Imported), 31.0 * 48.0 * 0.2 + 31.0 * 0.048, 1e-12);
    // Cold water only: every litre drawn lacks the heat up to 55 degC, and was too cold. The surroundings warm it a little.
    assert!(of(O::HeatShort) > 0.7 * 31.0 * 144.0 * LITRE * 45.0);
    close(of(O::HoursBelowComfort), 31.0 * 24.0, 1e-12);
    assert_eq!([of(O::DaysBySun), of(O::BackupFreeDays)], [0.0, 31.0]);
}

#[test]
fn standing_loss_alone_decays_exponentially() {
    for n in [24, 48, 96] {
        let settings = bare(1).with(S::StandingLoss, 1.7).with(S::Ambient, 18.0);
        let mut c = one(&settings.clone().with(S::SetPoint, 70.0), steps(n));
        // Heated to 70 degC by a big element, then left alone.
        let (meter, litres) = alike(n, 1, |_| [50.0, 0.0, 0.0]);
        let mut settings_off = DayCourse::default();
        c.day(0, &meter, &litres, &FLAT, None);
        c.day(1, &meter, &litres, &FLAT, Some((0, &mut settings_off)));
        let capacity = 180.0 * LITRE;
        let start = c.stored_kwh(0) / capacity - 18.0;
        let (meter, litres) = alike(n, 1, |_| [0.0, 0.0, 0.0]);
        for day in 2..62 {
            c.day(day, &meter, &litres, &FLAT, None);
            let hours = (day - 1) as f64 * 24.0;
            let expect = 18.0 + start * libm::exp(-1.7 / (24.0 * 45.0) * hours / capacity);
            close(c.stored_kwh(0) / capacity, expect, 1e-12);
        }
    }
}

#[test]
fn threshold_smallest_and_largest_power() {
    let settings = bare(1)
        .with(S::Threshold, 100.0)
        .with(S::SmallestPower, 300.0)
        .with(S::LargestPower, 1500.0)
        .with(S::ConversionLoss, 0.03)
        .with(S::Volume, 2000.0);
    let mut c = one(&settings, steps(48));
    // 0.39 kW is too little, 0.41 is taken but for 0.1, 3 kW is cut at 1.5.
    let (meter, litres) = alike(48, 1, |step| [[0.195, 0.205, 1.5][step % 3], 0.0, 0.0]);
    c.day(0, &meter, &litres, &FLAT, None);
    let of = |output| c.totals().at(output, 0)[0];
    close(of(O::Diverted), 16.0 * (0.155 + 0.75), 1e-12);
    close(of(O::ControllerLoss), 0.03 * 16.0 * (0.155 + 0.75), 1e-12);
    close(of(O::Exported), 16.0 * (0.195 + 0.05 + 0.75), 1e-12);
}

#[test]
fn hotter_water_is_mixed_down_at_the_tap() {
    // 60 degC in the cylinder, counted at 40: (40 - 10) / (60 - 10) of the litres are taken, or all of them.
    for (mixed, share) in [(true, 0.6), (false, 1.0)] {
        let settings = bare(1).with(S::SetPoint, 60.0).with(S::DrawnAt, 40.0).with(S::Element, 100.0);
        let mut c = one(&settings, Make { mixed_at_tap: mixed, ..Make::default() });
        let (meter, litres) = alike(48, 1, |step| {
            [if step < 2 { 20.0 } else { 0.0 }, 0.0, if step == 10 { 50.0 } else { 0.0 }]
        });
        c.day(0, &meter, &litres, &FLAT, None);
        let of = |output| c.totals().at(output, 0)[0];
        close(of(O::HeatDrawn), share * 50.0 * LITRE * 50.0, 1e-9);
        assert!(of(O::HeatShort).abs() < 1e-12 && of(O::HoursBelowComfort) == 0.0);
    }
}

#[test]
fn plug_flow_gives_all_the_hot_water_before_the_cold() {
    // A draw of the whole content of a hot cylinder gets its heat, all but what the layers mix; twice as much gets no more.
    let settings = bare(1).with(S::SetPoint, 60.0).with(S::DrawnAt, 60.0).with(S::Element, 100.0);
    for drawn in [180.0, 360.0, 1.0e6] {
        let mut c = one(&settings, Make::default());
        let (meter, litres) = alike(48, 1, |step| {
            [if step < 2 { 20.0 } else { 0.0 }, 0.0, if step == 10 { drawn } else { 0.0 }]
        });
        c.day(0, &meter, &litres, &FLAT, None);
        let of = |output| c.totals().at(output, 0)[0];
        close(of(O::HeatDrawn), 180.0 * LITRE * 50.0, 1e-9);
        let short = (drawn - 180.0) * LITRE * 50.0;
        assert!((of(O::HeatShort) - short).abs() < 1e-9 * drawn, "{} {short}", of(O::HeatShort));
    }
}

#[test]
fn an_evening_boiler_heats_in_its_window_up_to_its_temperature() {
    let settings = bare(1)
        .with(S::BackupPower, 6.0)
        .with(S::BackupHeight, 0.0)
        .with(S::BackupUpTo, 60.0)
        .with(S::BackupBelow, 50.0)
        .with(S::BackupFrom, 17.25)
        .with(S::BackupTo, 18.0);
    let mut c = one(&settings, steps(48));
    // Emptied at midnight: cold at 17:15, 6 kW for three quarters of an hour.
    let (meter, litres) = alike(48, 1, |step| [0.0, 0.0, if step == 0 { 1000.0 } else { 0.0 }]);
    let mut course = DayCourse::default();
    c.day(0, &meter, &litres, &FLAT, Some((0, &mut course)));
    close(course.backup_heat[34], 1.5, 1e-12);
    close(course.backup_heat[35], 3.0, 1e-12);
    close(c.totals().at(O::HeatFromBackup, 0)[0], 4.5, 1e-12);
    // With power enough, it stops when all is at 60.
    let mut c = one(&settings.with(S::BackupPower, 40.0), steps(48));
    c.day(0, &meter, &litres, &FLAT, None);
    close(c.totals().at(O::HeatFromBackup, 0)[0], 180.0 * LITRE * 50.0, 1e-9);
}

#[test]
fn hygiene_heats_the_whole_cylinder_on_its_days_whatever_the_sun_does() {
    let settings = bare(1)
        .with(S::BackupPower, 2.0)
        .with(S::BackupHeight, 0.9)
        .with(S::BackupFrom, 0.0)
        .with(S::BackupTo, 0.0)
        .with(S::HygieneDays, 7.0)
        .with(S::Hygiene, 62.0)
        .with(S::HygieneFrom, 22.0);
    let mut c = one(&settings, steps(48));
    let (meter, litres) = alike(48, 1, |step| [0.0, 0.0, if step == 40 { 1000.0 } else { 0.0 }]);
    let mut days = Vec::new();
    for day in 0..21 {
        let mut course = DayCourse::default();
        c.day(day, &meter, &litres, &FLAT, Some((0, &mut course)));
        days.push((
            course.backup_heat.iter().sum::<f64>(),
            course.bottom_degc.iter().copied().fold(0.0, f64::max),
        ));
    }
    // 10.9 kWh at 2 kW: two hours before midnight, the rest after it, on days 0, 7, 14 and those behind them.
    let all = 180.0 * LITRE * 52.0;
    for week in [0, 7, 14] {
        close(days[week].0, 4.0, 1e-9);
        close(days[week + 1].0, all - 4.0, 1e-3);
        assert!((days[week + 1].1 - 62.0).abs() < 1e-3, "{:?}", days[week + 1]);
        assert!(days[week + 2..week + 7].iter().all(|day| day.0.abs() < 1e-12));
    }
    // Where the sun has heated all of it, nothing is left to do.
    let mut c = one(&settings.with(S::SetPoint, 70.0), steps(48));
    let (meter, litres) = alike(48, 1, |_| [1.4, 0.0, 0.0]);
    for day in 1..15 {
        c.day(day, &meter, &litres, &FLAT, None);
    }
    assert_eq!(c.totals().at(O::HeatFromBackup, 0)[0], 0.0);
    assert_eq!(c.totals().at(O::BackupFreeDays, 0)[0], 14.0);
    assert_eq!(c.totals().at(O::DaysBySun, 0)[0], 14.0);
}

#[test]
fn circulation_stops_at_forty_degrees() {
    let settings = bare(1).with(S::SetPoint, 60.0).with(S::CirculationLoss, 100.0).with(S::Element, 100.0);
    let mut c = one(&settings.clone().with(S::CirculationFrom, 6.0).with(S::CirculationTo, 9.5), steps(48));
    let (meter, litres) = alike(48, 1, |step| [if step < 2 { 20.0 } else { 0.0 }, 0.0, 0.0]);
    c.day(0, &meter, &litres, &FLAT, None);
    close(c.totals().at(O::CirculationLoss, 0)[0], 0.35, 1e-12);
    let mut c = one(&settings, steps(48));
    c.day(0, &meter, &litres, &FLAT, None);
    let (meter, litres) = alike(48, 1, |_| [0.0; 3]);
    for day in 1..10 {
        c.day(day, &meter, &litres, &FLAT, None);
    }
    close(c.stored_kwh(0), 180.0 * LITRE * 40.0, 1e-9);
}

fn battery(settings: Settings) -> Settings {
    settings
        .with(S::Battery, 5.0)
        .with(S::BatteryPower, 2.5)
        .with(S::BatteryEfficiency, 0.81)
        .with(S::Volume, 2000.0)
}

#[test]
fn a_battery_first_takes_what_it_holds_and_gives_it_back_less_its_loss() {
    let mut c = one(&battery(bare(1)), steps(48));
    // 1 kW from 0 to 12, then the home needs 0.5 kW. The battery takes 5/0.9 kWh, gives 4.5.
    let (meter, litres) = alike(48, 1, |step| if step < 24 { [0.5, 0.0, 0.0] } else { [0.0, 0.25, 0.0] });
    c.day(0, &meter, &litres, &FLAT, None);
    let of = |output| c.totals().at(output, 0)[0];
    close(of(O::BatteryIn), 5.0 / 0.9, 1e-12);
    close(of(O::Diverted), 12.0 - 5.0 / 0.9, 1e-12);
    close(of(O::BatteryOut), 4.5, 1e-12);
    close(of(O::Imported), 1.5, 1e-12);
    close(of(O::BatteryLoss), 5.0 / 0.9 - 4.5, 1e-12);
    // After the water nothing is left for it.
    let mut c = one(&battery(bare(1)).with(S::BatteryFirst, 0.0), steps(48));
    c.day(0, &meter, &litres, &FLAT, None);
    close(c.totals().at(O::Diverted, 0)[0], 12.0, 1e-12);
    assert_eq!(c.totals().at(O::BatteryIn, 0)[0], 0.0);
    close(c.totals().at(O::Imported, 0)[0], 6.0, 1e-12);
}

#[test]
fn a_battery_drained_by_mistake_ends_in_the_water_and_the_grid_makes_up_for_it() {
    let mut c = one(&battery(bare(1)).with(S::BatteryDrained, 1.0), steps(48));
    // 2 kW for four hours fill the battery and no more; then nothing until 18:00, then 1 kW of need.
    let day = |step| {
        if step < 8 { [5.0 / 0.9 / 8.0, 0.0, 0.0] } else { [0.0, if step < 36 { 0.0 } else { 0.5 }, 0.0] }
    };
    let (meter, litres) = alike(48, 1, day);
    c.day(0, &meter, &litres, &FLAT, None);
    let of = |output| c.totals().at(output, 0)[0];
    close(of(O::BatteryIn), 5.0 / 0.9, 1e-12);
    close(of(O::BatteryDrainedInto), 4.5, 1e-9);
    close(of(O::HeatFromGrid), 4.5, 1e-9);
    assert_eq!(of(O::BatteryOut), 0.0);
    close(of(O::Imported), 6.0, 1e-12);
    close(of(O::FromGrid), 4.5, 1e-9);
    assert_eq!(of(O::Diverted), 0.0);
}

#[test]
fn cylinders_side_by_side_and_in_a_row() {
    // Two of 180 L: the sun fills one after the other, whichever way they are joined.
    for in_series in [false, true] {
        let settings = bare(1).with(S::Cylinders, 2.0).with(S::SetPoint, 60.0).with(S::Element, 3.0);
        let mut c = one(&settings, Make { in_series, ..Make::default() });
        let (meter, litres) = alike(48, 1, |_| [1.5, 0.0, 0.0]);
        c.day(0, &meter, &litres, &FLAT, None);
        close(c.totals().at(O::Diverted, 0)[0], 360.0 * LITRE * 50.0, 1e-12);
        // Then a draw of all of it at 60 degC gets all of the heat.
        let (meter, litres) = alike(48, 1, |step| [0.0, 0.0, if step == 3 { 360.0 } else { 0.0 }]);
        c.day(1, &meter, &litres, &FLAT, None);
        let got = c.totals().at(O::HeatDrawn, 0)[0];
        // Counted at 55 degC and mixed down: 360 L at 55.
        assert!((got - 360.0 * LITRE * 45.0).abs() < 1e-9, "{got}");
    }
}

#[test]
fn what_may_not_flow_out_is_curtailed() {
    let mut c = one(&bare(1).with(S::ExportLimit, 1.0).with(S::Element, 0.0), steps(48));
    let (meter, litres) = alike(48, 1, |_| [0.8, 0.0, 0.0]);
    c.day(0, &meter, &litres, &FLAT, None);
    close(c.totals().at(O::Exported, 0)[0], 24.0, 1e-12);
    close(c.totals().at(O::Curtailed, 0)[0], 48.0 * 0.3, 1e-12);
}
