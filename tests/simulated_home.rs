//! Simulated homes as workings of a study: the same figures as the simulation gives by itself, the same bits whatever
//! the block, and shared days where they are asked for.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]
#![allow(clippy::needless_range_loop, reason = "runs have numbers, which columns are asked for by")]

mod naive;

use std::collections::BTreeSet;
use std::sync::Arc;

use naive::sample::{Laid, draw, model_of, run_all};
use payspread::analysis::{Answers, Figure, Options, appraise};
use payspread::engine::block::BASE_RUN;
use payspread::engine::program::Program;
use payspread::engine::run::Control;
use payspread::hotwater::chance::Chance;
use payspread::hotwater::outputs::Output;
use payspread::hotwater::settings::{Setting, Settings};
use payspread::model::Model;
use payspread::model::trace::trace;
use payspread::sampling::{Design, Vectors};

const HOME: &str = "\
volume = 180
element = 2.75
standing_loss = 1.7
cold = 11
litres = \"drawn\"
panels = 3.6
electricity = 3900
sun = { latitude = 53, tilt = 35, azimuth = 180, clearness = [0.33, 0.38, 0.41, 0.44, 0.46, 0.43, 0.42, 0.42, 0.43, 0.40, 0.37, 0.32] }
";

/// A study with `homes` and results of the given formulas (in kWh).
fn study(homes: &str, results: &[(&str, &str)]) -> Model {
    let mut text = format!(
        "title = \"t\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 3\n[sampling]\nruns = 64\nseed = 5\n\
         [inputs.drawn]\nunit = \"L/day\"\nuniform = {{ min = 60, max = 160 }}\nbase = 110\n{homes}\n"
    );
    for (name, formula) in results {
        text.push_str(&format!("[results.{name}]\nunit = \"kWh\"\nformula = \"{formula}\"\n"));
    }
    model_of(&text).unwrap_or_else(|errors| panic!("{errors}\n{text}"))
}

fn plain(results: &[(&str, &str)]) -> Model {
    study(&format!("[hotwater.home]\n{HOME}"), results)
}

const TAKEN: (&str, &str) = ("taken", "sum_months(home.diverted)");
const SAVED: (&str, &str) = ("saved", "sum_months(home.displaced)");

fn settings(litres: &[f64]) -> Settings {
    let fixed = [
        (Setting::Volume, 180.0),
        (Setting::Element, 2.75),
        (Setting::StandingLoss, 1.7),
        (Setting::Cold, 11.0),
        (Setting::Panels, 3.6),
        (Setting::Electricity, 3900.0),
    ];
    let settings = fixed.iter().fold(Settings::new(litres.len()), |s, &(setting, x)| s.with(setting, x));
    let mut settings = settings;
    settings.set(Setting::Litres, vec![litres.to_vec()]);
    settings
}

fn chance(first: u64, lanes: usize) -> Chance<'static> {
    Chance { seed: 5, name: "home", first, lanes, vectors: Vectors::Widest }
}

/// Values of all results by run, in base units; settings follow them.
fn values(model: &Model, first: u64, n: usize, block: usize) -> Vec<Vec<f64>> {
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let laid = Laid::new(model, &plan, &BTreeSet::new());
    let wanted = laid.wanted();
    let program = Program::of_runs(&laid.low.graph, &wanted);
    let drawn = draw(&plan, first, n);
    run_all(&program, &laid.leaves(&drawn, n), n, first, block)
}

fn answers(model: &Model, runs: u64) -> Answers {
    let design = Design { runs, ..model.design() };
    let options = Options { design: design.with_runs(runs), ..Options::of(model) };
    appraise(model, options, &Control::default()).unwrap()
}

#[test]
fn a_run_is_what_the_simulation_gives_for_its_litres() {
    let model = plain(&[TAKEN, SAVED]);
    let plan = model.plan(model.design()).unwrap();
    let litres = draw(&plan, 40, 6).remove(0);
    let home = &model.homes[0].home;
    let totals = home.year(&settings(&litres), &chance(40, 6), true);
    let columns = values(&model, 40, 6, 6);
    let kwh = model.workings[model.results[0].working].unit.scale;
    // The litres go to base units and back on their way, which may cost a last bit.
    for run in 0..6 {
        for (k, output) in [Output::Diverted, Output::Displaced].into_iter().enumerate() {
            let (got, alone) = (columns[k][run] / kwh, totals.year(output, run));
            assert!((got - alone).abs() <= 1e-6 * alone.abs(), "run {run}: {got} {alone}");
        }
    }
}

#[test]
fn the_base_case_is_the_mean_of_sixteen_years() {
    let model = plain(&[TAKEN]);
    let answers = answers(&model, 64);
    let totals = model.homes[0].home.year(&settings(&[110.0; 16]), &chance(BASE_RUN, 16), true);
    let mean = (0..16).map(|lane| totals.year(Output::Diverted, lane)).sum::<f64>() / 16.0;
    let Figure::Number(base) = answers.results[0].base else { panic!("no base case") };
    assert!((base - mean).abs() < 1e-6 * mean, "{base} {mean}");
    let months = &answers.homes[0].months;
    let diverted = months.iter().find(|m| m.output == "diverted").unwrap();
    assert!((diverted.year - mean).abs() < 1e-6 * mean);
    assert_eq!(diverted.values.len(), 12);
}

#[test]
fn no_block_moves_a_bit() {
    let model = plain(&[TAKEN, SAVED]);
    let bits = |block| -> Vec<Vec<u64>> {
        values(&model, 0, 40, block).iter().map(|c| c.iter().map(|x| x.to_bits()).collect()).collect()
    };
    let whole = bits(40);
    assert_eq!(bits(1), whole);
    assert_eq!(bits(7), whole);
}

#[test]
fn homes_that_share_their_days_differ_only_by_their_settings() {
    let homes = format!(
        "[hotwater.home]\n{HOME}\n[hotwater.same]\n{HOME}same_days_as = \"home\"\n[hotwater.other]\n{HOME}"
    );
    let results = [
        ("home_taken", "sum_months(home.diverted)"),
        ("same_taken", "sum_months(same.diverted)"),
        ("other_taken", "sum_months(other.diverted)"),
    ];
    let columns = values(&study(&homes, &results), 0, 8, 8);
    let [home, same, other] = &columns[..3] else { panic!("three results") };
    assert_eq!(home, same);
    assert!(home.iter().zip(other).all(|(a, b)| a != b));
}

#[test]
fn settings_beyond_their_limits_have_no_value() {
    let home = HOME.replace("litres = \"drawn\"", "litres = \"drawn * if(drawn > 100 [L/day], -1, 1)\"");
    let model = study(&format!("[hotwater.home]\n{home}"), &[TAKEN]);
    let plan = model.plan(model.design()).unwrap();
    let litres = draw(&plan, 0, 32).remove(0);
    let columns = values(&model, 0, 32, 32);
    let taken = &columns[0];
    for (litres, taken) in litres.iter().zip(taken) {
        assert_eq!(taken.is_nan(), *litres > 100.0, "{litres} {taken}");
    }
}

#[test]
fn a_plain_tariff_weighs_every_kwh_alike_and_periods_do_not() {
    let results = [
        TAKEN,
        ("weighed", "sum_months(home.diverted_by_tariff)"),
        ("kept", "sum_months(home.exported_by_tariff - home.exported)"),
    ];
    let columns = values(&plain(&results), 0, 4, 4);
    let [taken, weighed, kept] = &columns[..3] else { panic!("three results") };
    for run in 0..4 {
        assert!((taken[run] - weighed[run]).abs() < 1e-9 * taken[run]);
        assert!(kept[run].abs() < 1e-6 * taken[run]);
    }
    // Half the price from 0 to 24 is half of all.
    let home = format!("{HOME}export_tariff = [{{ from = 0, to = 24, factor = 0.5 }}]\n");
    let columns = values(&study(&format!("[hotwater.home]\n{home}"), &results), 0, 4, 4);
    let [taken, weighed, _] = &columns[..3] else { panic!("three results") };
    for run in 0..4 {
        assert!((0.5 * taken[run] - weighed[run]).abs() < 1e-9 * taken[run]);
    }
}

#[test]
fn a_trace_leads_through_the_home_to_its_settings() {
    let model = plain(&[TAKEN]);
    let rows = trace(&model, "taken", Some(3), model.design());
    let named = |name: &str| rows.iter().find(|row| row.name == name).unwrap_or_else(|| panic!("{name}"));
    assert_eq!(named("home.diverted").sort, "simulated");
    assert_eq!(named("home.diverted").values.len(), 12);
    assert_eq!(named("home.litres").depth, 2);
    let sum: f64 = named("home.diverted").values.iter().sum();
    assert!((named("taken").values[0] - sum).abs() < 1e-9 * sum);
    assert_eq!(named("drawn").sort, "input");
}

#[test]
fn readings_of_which_nobody_says_when_they_were_made_are_asked_about() {
    let beside = |before: &str| {
        let text = format!(
            "title = \"t\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 3\n[hotwater.home]\nvolume = 180\n\
             element = 2.75\nstanding_loss = 1.7\ncold = 11\nlitres = 110\nreadings = \"meter.csv\"\n\
             readings_as = {{ export = \"sent\" }}\n{before}\n[results.taken]\nunit = \"kWh\"\n\
             formula = \"sum_months(home.diverted)\"\n"
        );
        let study = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/good/study.toml");
        let (made, found) = payspread::model::read_beside(&text, &payspread::study::Beside::study(&study));
        let Some((_, model)) = made else { panic!("{found:?}") };
        model.cautions.iter().map(|c| c.message.clone()).collect::<Vec<_>>()
    };
    assert!(beside("")[0].contains("before the equipment was fitted"));
    assert!(beside("before_equipment = false")[0].contains("with the equipment at work"));
    assert!(beside("before_equipment = true").is_empty());
}
