//! The studies of the house, every value of every working, in the base case and in drawn runs: compiled and
//! naive to the last bit.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

mod naive;

use std::collections::BTreeSet;
use std::sync::Arc;

use naive::sample::{
    Laid, compare, draw, given, given_base, model_of, model_of_file, model_of_good, naive_run, run_all,
};
use payspread::engine::block::BASE_RUN;
use payspread::engine::program::Program;
use payspread::model::Model;
use payspread::model::base::base_values;

const RUNS: usize = 16;

fn agree(name: &str, model: &Model) {
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let laid = Laid::new(model, &plan, &BTreeSet::new());
    let wanted = laid.wanted();

    let values = base_values(&laid.low, model, &plan);
    let compiled: Vec<f64> = wanted.iter().map(|id| values[id.index()]).collect();
    let plain = naive_run(model, &plan, given_base(model), BASE_RUN);
    compare(name, 0, &compiled, &plain).unwrap();
    assert!(compiled.iter().all(|x| !x.is_nan()), "{name}: the base case has a value that is no number");

    let first = 1_000;
    let drawn = draw(&plan, first, RUNS);
    let program = Program::of_runs(&laid.low.graph, &wanted);
    let columns = run_all(&program, &laid.leaves(&drawn, RUNS), RUNS, first, 7);
    for run in 0..RUNS {
        let compiled: Vec<f64> = columns.iter().map(|c| c[run]).collect();
        let plain = naive_run(model, &plan, given(model, &plan, &|c| drawn[c][run]), first + run as u64);
        compare(name, run, &compiled, &plain).unwrap();
    }
}

#[test]
fn harbour_row() {
    agree("harbour-row", &model_of_file("harbour-row"));
}

#[test]
fn first_look() {
    agree("first-look", &model_of_file("first-look"));
}

#[test]
fn reference_home() {
    agree("reference-home", &model_of_file("reference-home"));
}

/// Changes of every sort, tables, money of both sorts.
#[test]
fn what_differs_by_year() {
    for name in ["changes", "tables", "money", "money-nominal"] {
        agree(name, &model_of_good(name));
    }
}

/// Workings that read last year's yes or no, their own and each other's.
#[test]
fn flags() {
    agree("flags", &model_of(include_str!("good/flags.toml")).unwrap());
}
