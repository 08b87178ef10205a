//! What a cylinder takes of a home's surplus, by panels, boiler, draw-off, volume, threshold and battery: as a separate
//! hourly model has it, then as this model has it: made as plain as that one, with its defaults and the performance ratio of
//! real roofs (which makes the yields alike), and with its defaults and that of the tables.
//!
//!     cargo run --release --example half_hour_tables -- [YEARS]
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs, reason = "an experiment for the terminal")]

#[path = "../tests/half_hours/facts.rs"]
mod facts;
#[path = "../tests/half_hours/homes.rs"]
mod homes;
#[path = "../tests/half_hours/measured.rs"]
mod measured;

use facts::Row;
use homes::{Case, Way, monthly, yearly};
use measured::YEARS;
use payspread::hotwater::outputs::{Output, Totals};

fn main() {
    let years = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(256);
    for (name, rows) in [
        ("panels", facts::by_panels()),
        ("boiler", facts::by_boiler()),
        ("draw-off", facts::by_litres()),
        ("volume", facts::by_volume()),
        ("threshold", facts::by_threshold()),
        ("battery first", facts::by_battery()),
    ] {
        table(name, &rows, years);
    }
    months("plain hours, measured days", &Way::HOURLY.years(&Case::USUAL, YEARS));
    months("defaults, real roofs", &Way::OURS_OF_REAL_ROOFS.years(&Case::USUAL, years));
    months("defaults", &Way::OURS.years(&Case::USUAL, years));
    ladder(years);
    netting(years);
}

fn label(case: &Case) -> String {
    let Case { kwp, boiler, litres, volume, threshold, battery } = case;
    format!("{kwp} kWp {boiler:?} {litres} L/d {volume} L {threshold} W {battery} kWh")
}

fn table(name: &str, rows: &[Row], years: usize) {
    println!("\nBy {name}: export before, diverted (kWh), share diverted");
    for (case, before, diverted) in rows {
        print!("{:48} facts {before:5.0} {diverted:5.0} {:3.0} %", label(case), 100.0 * diverted / before);
        for way in [Way::HOURLY, Way::OURS_OF_REAL_ROOFS, Way::OURS] {
            let lanes = if way.measured { YEARS } else { years };
            let totals = way.years(case, lanes);
            let (b, d) = (yearly(&totals, Output::ExportedBefore), yearly(&totals, Output::Diverted));
            print!(
                " | {:5.0} +-{:3.0} ({:+3.0} %) {:5.0} +-{:3.0} ({:+3.0} %) {:3.0} %",
                b.value,
                b.error,
                100.0 * (b.value / before - 1.0),
                d.value,
                d.error,
                100.0 * (d.value / diverted - 1.0),
                100.0 * d.value / b.value
            );
        }
        println!();
    }
}

fn months(name: &str, totals: &Totals) {
    println!("\nBy month, {name}:");
    let days = payspread::hotwater::time::DAYS_IN_MONTH;
    let sun = monthly(totals, Output::BackupFreeDays);
    for (what, facts, ours) in [
        ("generated", facts::GENERATED, monthly(totals, Output::Generated)),
        ("export before", facts::EXPORTED_BEFORE, monthly(totals, Output::ExportedBefore)),
        ("diverted", facts::DIVERTED, monthly(totals, Output::Diverted)),
        ("boiler heat left", facts::BOILER_LEFT, monthly(totals, Output::HeatFromBackup)),
        (
            "no boiler, % of days",
            facts::DAYS_BY_SUN_PERCENT,
            std::array::from_fn(|m| 100.0 * sun[m] / days[m]),
        ),
    ] {
        for (whose, values) in [("facts", facts), ("", ours)] {
            print!("{what:18} {whose:6}");
            for value in values {
                print!("{value:6.0}");
            }
            println!("{:7.0}", values.iter().sum::<f64>());
        }
    }
    let of = |output| yearly(totals, output).value;
    println!(
        "boiler before {:.0} (facts {:.0}), drawn {:.0}, standing loss {:.0}, short {:.0}, too cold {:.0} h, before {:.0} h; displaced / diverted {:.3} (facts {:.3})",
        of(Output::BackupBefore),
        facts::BOILER_BEFORE,
        of(Output::HeatDrawn),
        of(Output::StandingLoss),
        of(Output::HeatShort),
        of(Output::HoursBelowComfort),
        of(Output::HoursBelowComfortBefore),
        (of(Output::BackupBefore) - of(Output::HeatFromBackup)) / of(Output::Diverted),
        935.0 / 1219.0
    );
}

/// From the one way to the other, a step at a time.
fn ladder(years: usize) {
    println!("\nFrom plain hours to the defaults, one change after another:");
    let mut way = Way::HOURLY;
    type Change = (&'static str, fn(&mut Way));
    let changes: [Change; 11] = [
        ("plain hours, measured days", |_| ()),
        ("simulated days with clouds", |w| w.measured = false),
        ("performance of real roofs", |w| w.sun_loss = Way::OURS_OF_REAL_ROOFS.sun_loss),
        ("half hours", |w| w.steps = 48),
        ("a meter that nets at once", |w| w.netted = false),
        ("four hours for the boiler", |w| w.boiler_hours = 4.0),
        ("a day's draw varies", |w| w.day_to_day = 0.45),
        ("draws in lumps", |w| w.lumpy = true),
        ("ten layers", |w| w.layers = 10),
        ("mixed at the tap: defaults", |w| w.mixed_at_tap = true),
        ("quarter hours", |w| w.steps = 96),
    ];
    for (name, change) in changes {
        change(&mut way);
        let totals = way.years(&Case::USUAL, if way.measured { YEARS } else { years });
        print!("{name:28}");
        for output in [
            Output::Generated,
            Output::ExportedBefore,
            Output::Diverted,
            Output::BackupBefore,
            Output::HeatFromBackup,
            Output::HeatDrawn,
        ] {
            let mean = yearly(&totals, output);
            print!(" {} {:5.0} +-{:3.0}", output.info().key, mean.value, mean.error);
        }
        println!();
    }
}

/// What is exported before, by the length of a step, the home's appliances, and what the meter nets.
fn netting(years: usize) {
    println!("\nExport before at 3.6 kWp, real roofs (kWh):");
    println!("steps a day   no bursts   bursts, netted over the step   bursts, netted at once");
    for steps in [24, 48, 96] {
        print!("{steps:11}");
        for (bursts, netted) in [(0.0, false), (0.5, true), (0.5, false)] {
            let way = Way { steps, bursts, netted, ..Way::OURS_OF_REAL_ROOFS };
            let export = yearly(&way.years(&Case::USUAL, years), Output::ExportedBefore);
            print!("   {:5.0} +-{:3.0}", export.value, export.error);
        }
        println!();
    }
}
