//! The cylinder against the same homes in another language: `tests/independent/cylinder.py`.

#[path = "../examples/varied_homes/mod.rs"]
mod varied_homes;

use std::collections::BTreeMap;

use payspread::hotwater::cylinder::{Cylinder, Make, TariffDay};
use payspread::hotwater::flows::MeterDay;
use payspread::hotwater::outputs::Output;
use payspread::sampling::Vectors;

/// Homes whose months are written down.
const HOMES: usize = 8;

#[test]
fn a_year_of_eight_homes_as_another_program_has_it() {
    let text = include_str!("independent/cylinder.json");
    let expected: BTreeMap<String, Vec<Vec<f64>>> = serde_json::from_str(text).unwrap();
    let mut cylinder =
        Cylinder::new(&varied_homes::settings(0, HOMES), Make::default(), true, Vectors::Widest);
    let mut meter = MeterDay::new(varied_homes::STEPS, HOMES);
    let mut litres = vec![0.0; varied_homes::STEPS * HOMES];
    for day in 0..365 {
        varied_homes::fill(day, 0, &mut meter, &mut litres);
        cylinder.day(day, &meter, &litres, &TariffDay { export: &[], import: &[] }, None);
    }
    assert_eq!(expected.len(), 6);
    for (key, homes) in expected {
        let output = Output::of_key(&key).unwrap();
        assert_eq!(homes.len(), HOMES);
        for (lane, months) in homes.iter().enumerate() {
            for (month, &kwh) in months.iter().enumerate() {
                let got = cylinder.totals().at(output, month)[lane];
                assert!(
                    (got - kwh).abs() <= 1e-9 * kwh.abs(),
                    "{key} of home {lane}, month {month}: {got} is not {kwh}"
                );
            }
        }
    }
}
