//! Each function's example in the reference gives what the reference says.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

use std::collections::BTreeSet;
use std::sync::Arc;

use payspread::diagnostic::has_errors;
use payspread::engine::program::Program;
use payspread::formula::functions;
use payspread::formula::types::{Kind, Shape};
use payspread::model::lower::{Lowering, Setting};
use payspread::model::{Model, base};
use payspread::study::read;
use payspread::units::UnitTable;

/// As the table of functions says: five years, EUR, an inflation of 0.25, and a life that is always 2 years.
const STUDY: &str = r#"
title      = "Examples"
currency   = "EUR"
prices     = "real"
inflation  = "example_inflation"
first_year = 2027
years      = 5

[sampling]
runs = 8

[inputs.example_inflation]
unit  = "1/yr"
value = 0.25

[inputs.example_life]
unit     = "yr"
discrete = { values = [2], weights = [1] }

"#;

fn model_of(text: &str) -> Result<Model, String> {
    let (study, found) = read::parse(text);
    let study = study.filter(|_| !has_errors(&found)).ok_or_else(|| format!("{found:#?}"))?;
    let (model, found) = payspread::model::check(&study);
    model.ok_or_else(|| format!("{found:#?}"))
}

/// The study with the example as a working; what its unit is, is found by trying.
fn example(formula: &str) -> Model {
    let units = ["", "EUR", "kWh", "yr", "1/yr", "K", "degC", "m", "EUR/kWh"];
    let mut why = String::new();
    for unit in units {
        let unit = if unit.is_empty() { String::new() } else { format!("unit = \"{unit}\"\n") };
        let text = format!(
            "{STUDY}[workings.example]\n{unit}formula = '''{formula}'''\n\n[results.answer]\nformula = \"1\"\n"
        );
        match model_of(&text) {
            Ok(model) => return model,
            Err(errors) => why = errors,
        }
    }
    panic!("{formula}: {why}");
}

/// Values of the example in base units: in the base case, and in a drawn run by the compiled program.
fn values(model: &Model) -> [Vec<f64>; 2] {
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let mut low = Lowering::new(model, Arc::clone(&plan), &BTreeSet::new());
    let sheet = low.lay(&Setting::default()).unwrap();
    let nodes = sheet.nodes("example");
    let all = base::base_values(&low, model, &plan);
    let base = nodes.iter().map(|id| all[id.index()]).collect();
    let program = Program::of_runs(&low.graph, &nodes);
    let job = payspread::engine::run::Job {
        program: &program,
        plan: &plan,
        leaves: &low.leaves,
        n_runs: 3,
        block: None,
        epoch: 0,
        vectors: payspread::sampling::Vectors::Widest,
    };
    let kept = payspread::engine::run::keep(job, &payspread::engine::run::Control::default()).unwrap();
    [base, kept.iter().map(|column| column[2]).collect()]
}

fn expected(text: &str) -> Vec<f64> {
    let list = text.trim_matches(['[', ']']);
    let value = |word: &str| match word.trim() {
        "yes" => 1.0,
        "no" => 0.0,
        "never" => f64::INFINITY,
        number => number.parse().unwrap_or_else(|_| panic!("`{number}` is no value")),
    };
    list.split(',').map(value).collect()
}

#[test]
fn every_example_gives_what_the_table_says() {
    let mut seen = BTreeSet::new();
    for function in functions::all() {
        assert!(
            function.example.contains(&format!("{}(", function.name)),
            "the example of {} does not call it",
            function.name
        );
        let model = example(function.example);
        let ty = model.workings[0].formula.ty.clone();
        let wanted = expected(function.expected);
        if wanted.len() == 1 {
            assert_eq!(ty.shape, Shape::Single, "{}", function.name);
        }
        // Yes and no stand for conditions alone, never for years alone.
        match function.expected {
            "yes" | "no" => assert_eq!(ty.kind, Kind::YesNo, "{}", function.name),
            _ => assert_ne!(ty.kind, Kind::YesNo, "{}", function.name),
        }
        for got in values(&model) {
            assert_eq!(got.len(), wanted.len(), "{}", function.name);
            for (a, b) in got.iter().zip(&wanted) {
                // Decimal examples are met to the last digits of a double.
                let fine = a == b || (a - b).abs() <= 1e-12 * b.abs().max(1.0);
                assert!(fine, "{}: {} is {a}, not {b}", function.name, function.example);
            }
        }
        assert!(seen.insert(function.name), "{} stands twice in the table", function.name);
    }
    assert!(seen.len() >= 36, "only {} functions", seen.len());
}

/// A unit in an example means what the reference's table of units says; the examples' unit is the base unit.
#[test]
fn units_of_examples_are_base_units() {
    let units = UnitTable::new("EUR");
    for unit in ["EUR", "kWh", "yr", "1/yr", "K", "degC", "m", "EUR/kWh"] {
        assert_eq!(units.parse(unit).unwrap().scale.to_bits(), 1.0_f64.to_bits(), "{unit}");
    }
}

/// Savings without years are the same in every year; those by month fall in each month of each year.
#[test]
fn savings_without_years_last_the_horizon() {
    let same = [
        // Five times 150, and sixty times 12.5, against 600: paid after four years.
        ("payback(600 [EUR], 150 [EUR])", 4.0),
        ("payback(600 [EUR], 12.5 [EUR] * month / month)", 4.0),
        ("payback(600 [EUR], 150 [EUR], in_service(9 [yr]))", 4.0),
        ("npv(0 [1/yr], 600 [EUR], 150 [EUR])", 150.0),
        ("npv(0 [1/yr], 600 [EUR], 12.5 [EUR] * month / month)", 150.0),
        // A life of 30 months, discounted by nothing: 150 + 150 + 75 = 375, reached at the end of its service.
        (
            "discounted_payback(0 [1/yr], 375 [EUR], 12.5 [EUR] * month / month * in_service(2.5 [yr]), in_service(2.5 [yr]))",
            2.5,
        ),
        (
            "discounted_payback(0 [1/yr], 375 [EUR], 150 [EUR] * in_service(2.5 [yr]), in_service(2.5 [yr]))",
            2.5,
        ),
        ("if(pays_back(750 [EUR], 150 [EUR]), 1, 0)", 1.0),
        ("if(pays_back(751 [EUR], 12.5 [EUR] * month / month), 1, 0)", 0.0),
        // 100 a year for ever is 10 % of 1000; five years of it and the money back at the end too.
        ("rates_of_return(1000 [EUR], 100 [EUR] + if(year == 4, 1000 [EUR], 0 [EUR]))", 0.1),
    ];
    for (formula, wanted) in same {
        for got in values(&example(formula)) {
            assert!((got[0] - wanted).abs() <= 1e-9, "{formula} is {}, not {wanted}", got[0]);
        }
    }
}

/// A wave whose mean differs from year to year: 10, 11, 12, ... with the same twelve months around it.
#[test]
fn a_seasonal_wave_by_year() {
    let [by_year, _] = values(&example("seasonal(10 [degC] + year * 1 [K], 4 [K], 41)"));
    let [plain, _] = values(&example("seasonal(10 [degC], 4 [K], 41)"));
    assert_eq!((by_year.len(), plain.len()), (60, 12));
    for (k, value) in by_year.iter().enumerate() {
        let year = (k / 12) as f64;
        assert!((value - plain[k % 12] - year).abs() <= 1e-12, "{k}");
    }
}

/// Sums within sums take the time of their values, not of all ways through them.
#[test]
fn nested_sums_are_laid_once() {
    let mut formula = "year".to_owned();
    for _ in 0..20 {
        formula = format!("sum_years(year * {formula})");
    }
    let start = std::time::Instant::now();
    // Sum of 0..4 is 10, and each further sum multiplies by it; the innermost sum is of squares, 30.
    let [got, _] = values(&example(&formula));
    assert!((got[0] / 30e19 - 1.0).abs() < 1e-12, "{}", got[0]);
    assert!(start.elapsed() < std::time::Duration::from_secs(2));
}
