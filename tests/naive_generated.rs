//! Made-up studies, compiled and naive to the last bit: in one stage, in
//! several, after a cone alone was run again, and with known inputs as leaves.
//! Leaves hold what was drawn and, here and there, NaN, infinities and zeros.
//!
//! `NAIVE_SEED=7 PROPTEST_CASES=20000` looks further than the usual run does.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

mod naive;

use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use naive::generate::study;
use naive::sample::{Laid, compare, draw, given, given_but, model_of, naive_run, run_all};
use payspread::engine::block::Runs;
use payspread::engine::program::Program;
use payspread::formula::functions;
use payspread::model::lower::Setting;
use payspread::sampling::Plan;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestCaseError, TestRng, TestRunner};

const RUNS: usize = 6;

/// Values that a leaf is given in place of its draw.
const STRANGE: [f64; 9] = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, -1.0, 1e308, 5e-324, -7.5];

/// The plan's columns with strange values among them; constants keep their value.
fn strange_columns(plan: &Plan, first: u64, spice: u64) -> Vec<Vec<f64>> {
    let mut columns = draw(plan, first, RUNS);
    let mut state = spice;
    for (column, about) in columns.iter_mut().zip(plan.columns()) {
        for value in column.iter_mut().filter(|_| about.constant.is_none()) {
            // Marsaglia's 64-bit xorshift: any mixing will do.
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            if state.is_multiple_of(8) {
                *value = STRANGE[(state / 8 % 9) as usize];
            }
        }
    }
    columns
}

fn check(text: &str, spice: u64, numbers: &Cell<(u64, u64)>) -> Result<(), String> {
    let Ok(model) = model_of(text) else { return Err("refused".to_owned()) };
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let first = spice % 50;
    let drawn = strange_columns(&plan, first, spice | 1);
    let naive: Vec<_> = (0..RUNS)
        .map(|run| naive_run(&model, &plan, given(&model, &plan, &|c| drawn[c][run]), first + run as u64))
        .collect();
    let all = || naive.iter().flatten().map(|(_, value)| value);
    let (sound, total) = numbers.get();
    numbers.set((sound + all().filter(|x| x.is_finite()).count() as u64, total + all().count() as u64));
    let agree = |what: &str, columns: &[Vec<f64>], naive: &[Vec<(String, f64)>]| {
        (0..RUNS).try_for_each(|run| {
            let compiled: Vec<f64> = columns.iter().map(|c| c[run]).collect();
            compare(what, run, &compiled, &naive[run])
        })
    };
    let laid = Laid::new(&model, &plan, &BTreeSet::new());
    let wanted = laid.wanted();
    let leaves = laid.leaves(&drawn, RUNS);
    let graph = &laid.low.graph;

    let one = Program::of_runs(graph, &wanted);
    agree("one stage", &run_all(&one, &leaves, RUNS, first, 4), &naive)?;

    let staged = Program::compile(graph, &wanted, 4, |leaf| (leaf as usize * 7 + spice as usize) % 4, 3);
    agree("four stages", &run_all(&staged, &leaves, RUNS, first, RUNS), &naive)?;

    // Only the cone of the changed leaf is run again.
    let changed = (spice / 64) as usize % leaves.len().max(1);
    let cone = Program::cone(graph, |leaf| leaf as usize == changed, &wanted);
    let mut frame = cone.frame(RUNS);
    let runs = Runs { first, n: RUNS };
    let columns: Vec<&[f64]> = leaves.iter().map(Vec::as_slice).collect();
    cone.execute(0, &mut frame, &columns, runs);
    cone.execute(1, &mut frame, &columns, runs);
    let mut later = drawn.clone();
    if plan.columns().get(changed).is_some_and(|about| about.constant.is_none()) {
        later[changed].rotate_left(1);
        later[changed][0] = STRANGE[spice as usize % 9];
    }
    let leaves = laid.leaves(&later, RUNS);
    let columns: Vec<&[f64]> = leaves.iter().map(Vec::as_slice).collect();
    cone.execute(1, &mut frame, &columns, runs);
    let mut out = vec![vec![0.0; RUNS]; wanted.len()];
    for (k, column) in out.iter_mut().enumerate() {
        cone.copy_wanted(k, &frame, &columns, column);
    }
    let naive_later: Vec<_> = (0..RUNS)
        .map(|run| naive_run(&model, &plan, given(&model, &plan, &|c| later[c][run]), first + run as u64))
        .collect();
    agree("cone", &out, &naive_later)?;

    // A known input that can be moved has, unmoved, the same bits.
    let free: BTreeSet<String> = model.inputs.iter().map(|i| i.about.name.clone()).collect();
    let laid = Laid::new(&model, &plan, &free);
    let program = Program::of_runs(&laid.low.graph, &laid.wanted());
    let columns = laid.leaves(&drawn, RUNS);
    agree("known inputs as leaves", &run_all(&program, &columns, RUNS, first, RUNS), &naive)?;

    // Moved as a leaf or set otherwise, it is as if the study had said so.
    let mut movable = model.inputs.iter().filter(|i| !i.is_drawn() && i.base.len() == 1);
    let Some(input) = movable.nth(spice as usize % 3) else { return Ok(()) };
    let name = &input.about.name;
    let value = [2.0, -1.0, 0.0, 3.5, f64::NAN][spice as usize % 5];
    let mut moved = columns;
    moved[laid.low.leaf(name).unwrap() as usize].fill(value);
    let naive: Vec<_> = (0..RUNS)
        .map(|run| {
            let but = BTreeMap::from([(name.clone(), value)]);
            let given = given_but(&model, &plan, &|c| drawn[c][run], &but);
            naive_run(&model, &plan, given, first + run as u64)
        })
        .collect();
    agree("a known input moved", &run_all(&program, &moved, RUNS, first, RUNS), &naive)?;
    let mut laid = Laid::new(&model, &plan, &BTreeSet::new());
    let setting = Setting { values: BTreeMap::from([(name.clone(), value)]), formulas: None };
    laid.sheet = laid.low.lay(&setting).unwrap();
    let program = Program::of_runs(&laid.low.graph, &laid.wanted());
    agree("a setting", &run_all(&program, &laid.leaves(&drawn, RUNS), RUNS, first, RUNS), &naive)
}

#[test]
fn compiled_and_naive_agree() {
    let seed = std::env::var("NAIVE_SEED").ok().and_then(|s| s.parse::<u64>().ok()).unwrap_or(1);
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &bytes);
    let cases = Config::default().cases.max(1_500);
    let config = Config { cases, failure_persistence: None, ..Config::default() };
    let (tried, passed) = (Cell::new(0_u32), Cell::new(0_u32));
    let numbers = Cell::new((0, 0));
    let unused: RefCell<BTreeSet<&str>> = RefCell::new(functions::all().map(|f| f.name).collect());
    let tapes = (prop::collection::vec(any::<u32>(), 20..700), any::<u64>());
    let result = TestRunner::new_with_rng(config, rng).run(&tapes, |(tape, spice)| {
        let text = study(&tape);
        tried.set(tried.get() + 1);
        match check(&text, spice, &numbers) {
            Ok(()) => {
                passed.set(passed.get() + 1);
                unused.borrow_mut().retain(|name| !text.contains(&format!("{name}(")));
                Ok(())
            }
            Err(why) if why == "refused" => {
                if std::env::var_os("NAIVE_SHOW").is_some() {
                    eprintln!("{text}\n{}", model_of(&text).err().unwrap_or_default());
                }
                Ok(())
            }
            Err(why) => Err(TestCaseError::fail(format!("{why}\n{text}"))),
        }
    });
    if let Err(error) = result {
        panic!("{error}");
    }
    let (tried, passed, (sound, total)) = (tried.get(), passed.get(), numbers.get());
    eprintln!(
        "{passed} of {tried} studies passed the checker and agree; {sound} of {total} values are finite"
    );
    // Agreement on NaN alone would say little.
    assert!(sound * 2 > total, "only {sound} of {total} values are finite");
    assert!(unused.borrow().is_empty(), "no study called {:?}", unused.borrow());
    assert!(passed >= 1_000 && passed * 4 >= tried * 3, "only {passed} of {tried} studies were sound");
}
