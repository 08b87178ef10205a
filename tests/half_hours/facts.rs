//! Figures of a separate hourly model of the same home, kWh a year: what is exported before, and what the water takes.

use super::homes::{Boiler, Case};

/// A row: the case, what is exported before, what is diverted.
pub(crate) type Row = (Case, f64, f64);

fn of(change: impl Fn(&mut Case), before: f64, diverted: f64) -> Row {
    let mut case = Case::USUAL;
    change(&mut case);
    (case, before, diverted)
}

pub(crate) fn by_panels() -> Vec<Row> {
    [
        (2.0, 726.0, 605.0),
        (3.0, 1380.0, 1034.0),
        (4.0, 2100.0, 1318.0),
        (5.0, 2859.0, 1510.0),
        (6.0, 3641.0, 1644.0),
    ]
    .map(|(kwp, before, diverted)| of(|case| case.kwp = kwp, before, diverted))
    .to_vec()
}

pub(crate) fn by_boiler() -> Vec<Row> {
    [(Boiler::Evening, 1219.0), (Boiler::MorningToo, 1003.0)]
        .map(|(boiler, diverted)| of(|case| case.boiler = boiler, 1806.0, diverted))
        .to_vec()
}

pub(crate) fn by_litres() -> Vec<Row> {
    [(55.0, 967.0), (80.0, 1104.0), (108.0, 1219.0), (140.0, 1316.0), (180.0, 1403.0)]
        .map(|(litres, diverted)| of(|case| case.litres = litres, 1806.0, diverted))
        .to_vec()
}

pub(crate) fn by_volume() -> Vec<Row> {
    [(120.0, 1144.0), (180.0, 1219.0), (250.0, 1273.0)]
        .map(|(volume, diverted)| of(|case| case.volume = volume, 1806.0, diverted))
        .to_vec()
}

pub(crate) fn by_threshold() -> Vec<Row> {
    [(0.0, 1291.0), (50.0, 1231.0), (100.0, 1172.0), (200.0, 1060.0)]
        .map(|(threshold, diverted)| of(|case| case.threshold = threshold, 1806.0, diverted))
        .to_vec()
}

pub(crate) fn by_battery() -> Vec<Row> {
    [(5.0, 695.0, 515.0), (10.0, 514.0, 369.0)]
        .map(|(battery, before, diverted)| of(|case| case.battery = battery, before, diverted))
        .to_vec()
}

/// By month for the usual case.
pub(crate) const GENERATED: [f64; 12] =
    [91.0, 162.0, 246.0, 339.0, 415.0, 405.0, 392.0, 336.0, 289.0, 198.0, 129.0, 80.0];
pub(crate) const EXPORTED_BEFORE: [f64; 12] =
    [37.0, 84.0, 134.0, 201.0, 258.0, 254.0, 247.0, 208.0, 176.0, 110.0, 66.0, 33.0];
pub(crate) const DIVERTED: [f64; 12] =
    [32.0, 67.0, 102.0, 140.0, 158.0, 151.0, 151.0, 138.0, 117.0, 81.0, 55.0, 28.0];
pub(crate) const BOILER_LEFT: [f64; 12] =
    [150.0, 108.0, 90.0, 47.0, 29.0, 22.0, 19.0, 27.0, 37.0, 82.0, 112.0, 146.0];
pub(crate) const DAYS_BY_SUN_PERCENT: [f64; 12] =
    [5.0, 16.0, 30.0, 56.0, 69.0, 77.0, 79.0, 70.0, 60.0, 31.0, 14.0, 3.0];
/// Of the year, boiler heat without diverting.
pub(crate) const BOILER_BEFORE: f64 = 1802.0;
