//! The same study and seed give the same bytes: whatever else is in the file,
//! in whatever order, in blocks of any size, on any number of threads, with
//! the CPU's vector extensions on or off, in full or only where a change acts.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on fails")]

mod naive;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use naive::sample::{Laid, draw, model_of, run_all};
use payspread::engine::block::Runs;
use payspread::engine::graph::NodeId;
use payspread::engine::program::{Program, Rate};
use payspread::engine::run::{Control, Job, keep};
use payspread::model::Model;
use payspread::sampling::{Design, Method, Plan, Vectors};

const METHODS: [Method; 3] = [Method::Random, Method::LatinHypercube, Method::Sobol];
const STUDIES: [&str; 3] = ["harbour-row", "first-look", "reference-home"];

fn text_of(study: &str) -> String {
    let path = format!("{}/studies/{study}.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).unwrap()
}

fn model(text: &str) -> Model {
    model_of(text).unwrap_or_else(|errors| panic!("{errors}"))
}

fn bits(column: &[f64]) -> Vec<u64> {
    // Which NaN it is, is no result.
    column.iter().map(|x| if x.is_nan() { f64::NAN.to_bits() } else { x.to_bits() }).collect()
}

/// How the runs are made; none of it may matter.
#[derive(Clone, Copy)]
struct Way {
    block: Option<usize>,
    threads: usize,
    vectors: Vectors,
}

const PLAIN: Way = Way { block: None, threads: 1, vectors: Vectors::Widest };

/// Bits of every value of every working, by name and index.
fn kept(model: &Model, design: Design, runs: u64, way: Way) -> BTreeMap<String, Vec<u64>> {
    let plan = Arc::new(model.plan(design).unwrap().with_vectors(way.vectors));
    let laid = Laid::new(model, &plan, &BTreeSet::new());
    let program = Program::of_runs(&laid.low.graph, &laid.wanted());
    let leaves = &laid.low.leaves;
    let job = Job {
        program: &program,
        plan: &plan,
        leaves,
        n_runs: runs,
        block: way.block,
        epoch: 0,
        vectors: way.vectors,
    };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(way.threads).build().unwrap();
    let columns = pool.install(|| keep(job, &Control::default()).unwrap());
    let names = model.workings.iter().flat_map(|w| {
        let n = laid.sheet.nodes(&w.about.name).len();
        (0..n).map(move |k| format!("{}[{k}]", w.about.name))
    });
    names.zip(columns.iter().map(|c| bits(c))).collect()
}

fn all_equal(what: &str, a: &BTreeMap<String, Vec<u64>>, b: &BTreeMap<String, Vec<u64>>) {
    assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>(), "{what}");
    for (name, column) in a {
        assert!(column == &b[name], "{what}: {name} differs");
    }
}

/// The draws of every column, by name and year.
fn draws(plan: &Plan, runs: usize) -> BTreeMap<(String, Option<usize>), Vec<u64>> {
    let columns = plan.columns().iter().map(|c| (c.name.clone(), c.lane));
    columns.zip(draw(plan, 0, runs).iter().map(|c| bits(c))).collect()
}

const PARTS: [&str; 6] = [
    "[inputs.people]\nunit = \"person\"\ndiscrete = { values = [1, 2, 3], weights = [2, 3, 1] }\n",
    "[inputs.litres]\nunit = \"L\"\nlognormal = { mean = 36, sd = 12 }\ntruncate = { min = 15, max = 80 }\n",
    "[inputs.life]\nunit = \"yr\"\nweibull = { shape = 3, scale = 4 }\n",
    "[paths.gas]\nunit = \"EUR/kWh\"\nstart = { pert = { min = 0.09, mode = 0.11, max = 0.14 } }\n\
     growth = { normal = { mean = 0.01, sd = 0.02 } }\nprocess = \"random walk\"\nvolatility = 0.1\n",
    "[paths.export]\nunit = \"EUR/kWh\"\nstart = { uniform = { min = 0.03, max = 0.14 } }\nprocess = \"mean reverting\"\n\
     half_life = 2\nvolatility = 0.2\nchanges = [ { chance = 0.4, year = { discrete = { values = [2028, 2030] } }, \
     scale = { uniform = { min = 0.3, max = 0.9 } } } ]\n",
    "[[correlations]]\nbetween = [\"gas\", \"export\"]\nrank = 0.5\n[[correlations]]\nbetween = [\"litres\", \"life\"]\nrank = -0.4\n",
];

const WORKINGS: &str = "[workings.fails]\nformula = \"failures(life)\"\n\
    [results.answer]\nunit = \"EUR\"\nformula = \"sum_years(gas - export) * 100 [kWh] * people / 1 [person] + litres / 1 [L] * 1 [EUR] + sum_years(fails) * 1 [EUR]\"\n";

const UNRELATED: [&str; 2] = [
    "[inputs.aaa]\nnormal = { mean = 0, sd = 1 }\n",
    "[paths.bbb]\nstart = { uniform = { min = 1, max = 2 } }\nprocess = \"random walk\"\nvolatility = 0.3\n",
];

fn study(parts: &[&str], dimensions: &[String]) -> Model {
    let pinned = match dimensions {
        [] => String::new(),
        list => format!("[sampling]\ndimensions = {list:?}\n"),
    };
    let head = "title = \"A\"\ncurrency = \"EUR\"\nprices = \"real\"\nfirst_year = 2027\nyears = 6\n";
    model(&format!("{head}{pinned}{}{WORKINGS}", parts.concat()))
}

#[test]
fn an_unrelated_input_changes_no_other_draw() {
    for method in METHODS {
        let design = Design::new(11, method, 8, 4096);
        let alone = study(&PARTS, &[]);
        let plan = alone.plan(design).unwrap();
        let pins = if method == Method::Sobol { plan.dimensions().to_vec() } else { Vec::new() };
        let before = draws(&plan, 600);
        let results = kept(&alone, design, 600, PLAIN);
        // First in the file and last in it.
        let first = [&UNRELATED[..], &PARTS[..]].concat();
        let last = [&PARTS[..], &UNRELATED[..]].concat();
        let others = [study(&first, &pins), study(&last, &pins)];
        for other in &others {
            let plan = other.plan(design).unwrap();
            let after = draws(&plan, 600);
            assert!(after.len() > before.len());
            for (column, values) in &before {
                assert!(&after[column] == values, "{method:?}: {column:?} was drawn otherwise");
            }
            all_equal("an unrelated input", &results, &kept(other, design, 600, PLAIN));
        }
    }
}

#[test]
fn the_order_in_the_file_changes_no_draw() {
    for method in METHODS {
        let design = Design::new(12, method, 8, 4096);
        let one = study(&PARTS, &[]);
        let plan = one.plan(design).unwrap();
        let pins = if method == Method::Sobol { plan.dimensions().to_vec() } else { Vec::new() };
        let turned: Vec<&str> = PARTS.iter().rev().copied().collect();
        let other = study(&turned, &pins);
        assert_eq!(draws(&plan, 600), draws(&other.plan(design).unwrap(), 600), "{method:?}");
        all_equal("the order of inputs", &kept(&one, design, 600, PLAIN), &kept(&other, design, 600, PLAIN));
    }
}

/// A run's draws hang on its number alone, wherever a block begins.
#[test]
fn any_run_can_be_drawn_alone() {
    for method in METHODS {
        let plan = study(&PARTS, &[]).plan(Design::new(13, method, 8, 4096)).unwrap();
        let all = draw(&plan, 0, 300);
        for run in [0_usize, 1, 7, 8, 63, 299] {
            let alone = draw(&plan, run as u64, 1);
            for (c, column) in alone.iter().enumerate() {
                assert_eq!(column[0].to_bits(), all[c][run].to_bits(), "{method:?}, {:?}", plan.columns()[c]);
            }
        }
    }
}

/// More than a chunk, and no multiple of any block.
const RUNS: u64 = 4_500;

#[test]
fn blocks_threads_and_vectors_change_no_bit() {
    for name in STUDIES {
        let model = model(&text_of(name));
        for method in METHODS {
            let design = Design::new(4711, method, 8, RUNS);
            let plain = kept(&model, design, RUNS, PLAIN);
            let mut ways = vec![
                Way { block: Some(32), threads: 2, vectors: Vectors::Baseline },
                Way { block: Some(100), threads: 5, vectors: Vectors::Widest },
                Way { block: Some(1024), threads: 2, vectors: Vectors::Baseline },
            ];
            if method == Method::Sobol {
                ways.push(Way { block: Some(1), threads: 5, vectors: Vectors::Widest });
                ways.push(Way { block: None, threads: 2, vectors: Vectors::Widest });
                ways.push(Way { block: None, threads: 1, vectors: Vectors::Baseline });
            }
            for way in ways {
                let what = format!(
                    "{name}, {method:?}, blocks of {:?}, {} threads, {:?}",
                    way.block, way.threads, way.vectors
                );
                all_equal(&what, &plain, &kept(&model, design, RUNS, way));
            }
        }
    }
}

/// Another seed is another sample: the comparisons above compare something.
#[test]
fn another_seed_gives_other_draws() {
    let model = model(&text_of("reference-home"));
    for method in METHODS {
        let one = kept(&model, Design::new(1, method, 8, 64), 64, PLAIN);
        let two = kept(&model, Design::new(2, method, 8, 64), 64, PLAIN);
        assert_ne!(one["npv[0]"], two["npv[0]"], "{method:?}");
    }
}

/// `name` wherever it stands as a whole word.
fn renamed(text: &str, name: &str, to: &str) -> String {
    let is_word = |c: char| c.is_ascii_alphanumeric() || c == '_';
    let mut out = String::new();
    let mut word = String::new();
    for c in text.chars().chain(std::iter::once('\n')) {
        if is_word(c) {
            word.push(c);
            continue;
        }
        out.push_str(if word == name { to } else { &word });
        word.clear();
        out.push(c);
    }
    out
}

/// The tables of a study, each from its header to the next.
fn tables(text: &str) -> Vec<String> {
    let mut tables = vec![String::new()];
    for line in text.lines() {
        if line.starts_with('[') {
            tables.push(String::new());
        }
        let table = tables.last_mut().unwrap();
        table.push_str(line);
        table.push('\n');
    }
    tables
}

#[test]
fn names_and_order_of_workings_change_no_bit() {
    for name in STUDIES {
        let text = text_of(name);
        let before = model(&text);
        let n_workings = before.workings.len() - before.results.len();
        let mut changed = text.clone();
        let mut new_names = BTreeMap::new();
        for (k, working) in before.workings[..n_workings].iter().enumerate() {
            // The last shall be the first in the alphabet.
            let new = format!("{}_{}", char::from(b'z' - (k % 26) as u8), working.about.name);
            changed = renamed(&changed, &working.about.name, &new);
            new_names.insert(working.about.name.clone(), new);
        }
        let (mut workings, rest): (Vec<String>, Vec<String>) =
            tables(&changed).into_iter().partition(|t| t.starts_with("[workings."));
        workings.reverse();
        let middle = workings.len() / 2;
        workings.swap(0, middle);
        workings.push("[workings.unrelated]\nformula = \"exp(year / 7) + month ^ 0.3\"\n".to_owned());
        let (head, results): (Vec<String>, Vec<String>) =
            rest.into_iter().partition(|t| !t.starts_with("[results.") && !t.starts_with("[[break_even"));
        let after = model(&[head.concat(), workings.concat(), results.concat()].concat());
        assert_eq!(after.workings.len(), before.workings.len() + 1);

        let design = Design::new(4711, Method::Sobol, 8, 1_024);
        let (one, mut two) = (kept(&before, design, 1_024, PLAIN), kept(&after, design, 1_024, PLAIN));
        two.retain(|name, _| !name.starts_with("unrelated["));
        let one = one
            .into_iter()
            .map(|(name, column)| {
                let (stem, index) = name.split_once('[').unwrap();
                (format!("{}[{index}", new_names.get(stem).map_or(stem, String::as_str)), column)
            })
            .collect();
        all_equal(name, &one, &two);
    }
}

/// What results need of a study, laid.
fn results<'m>(model: &'m Model, plan: &Arc<Plan>) -> (Laid<'m>, Vec<NodeId>) {
    let laid = Laid::new(model, plan, &BTreeSet::new());
    let of_results = model.results.iter().map(|r| &model.workings[r.working].about.name);
    let wanted = of_results.flat_map(|name| laid.sheet.nodes(name)).collect();
    (laid, wanted)
}

#[test]
fn the_cone_of_a_price_gives_the_bits_of_a_full_evaluation() {
    let n = 300;
    let model = model(&text_of("harbour-row"));
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let (laid, wanted) = results(&model, &plan);
    let price = laid.low.leaf("export_price.start").unwrap();
    let cone = Program::cone(&laid.low.graph, |leaf| leaf == price, &wanted);
    let full = Program::of_runs(&laid.low.graph, &wanted);
    assert!(cone.stage(1).len() * 4 < full.stage(0).len(), "the cone is hardly smaller than the whole");

    let before = laid.leaves(&draw(&plan, 0, n), n);
    let mut frame = cone.frame(n);
    let runs = Runs { first: 0, n };
    let columns: Vec<&[f64]> = before.iter().map(Vec::as_slice).collect();
    cone.execute(0, &mut frame, &columns, runs);
    for factor in [1.0, 0.0, 1.3, -2.0, f64::NAN] {
        let mut after = before.clone();
        after[price as usize].iter_mut().for_each(|x| *x *= factor);
        let columns: Vec<&[f64]> = after.iter().map(Vec::as_slice).collect();
        cone.execute(1, &mut frame, &columns, runs);
        for (k, full) in run_all(&full, &after, n, 0, n).iter().enumerate() {
            let mut column = vec![0.0; n];
            cone.copy_wanted(k, &frame, &columns, &mut column);
            assert_eq!(bits(&column), bits(full), "result {k}, factor {factor}");
        }
    }
}

/// Futures (prices, weather) crossed with homes (all inputs): each side's stage runs once for each of its own, the
/// last stage once for each pair.
#[test]
fn homes_crossed_with_futures_give_the_bits_of_each_pair_in_full() {
    let (homes, futures) = (40, 6);
    for name in STUDIES {
        let model = model(&text_of(name));
        let plan = Arc::new(model.plan(model.design()).unwrap());
        let (laid, wanted) = results(&model, &plan);
        let is_path = |leaf: u32| plan.columns()[leaf as usize].name.contains('.');
        let rate = |leaf: u32| if is_path(leaf) { Rate::Future } else { Rate::Home };
        let staged = Program::by_rate(&laid.low.graph, &wanted, rate, Rate::Run);
        for rate in [Rate::Future, Rate::Home, Rate::Run] {
            assert!(!staged.stage(rate.stage()).is_empty(), "{name}: nothing goes by {rate:?}");
        }
        let full = Program::of_runs(&laid.low.graph, &wanted);
        let of_homes = laid.leaves(&draw(&plan, 0, homes), homes);
        let of_futures = laid.leaves(&draw(&plan, 500, futures), futures);

        let mut frame = staged.frame(homes);
        let each_future: Vec<Vec<f64>> =
            (0..futures).map(|f| of_futures.iter().map(|c| c[f]).collect()).collect();
        for (future, values) in each_future.iter().enumerate() {
            let runs = Runs { first: (future * homes) as u64, n: homes };
            let pairs: Vec<Vec<f64>> = (0..of_homes.len())
                .map(|leaf| match is_path(leaf as u32) {
                    true => vec![values[leaf]; homes],
                    false => of_homes[leaf].clone(),
                })
                .collect();
            let columns: Vec<&[f64]> = pairs.iter().map(Vec::as_slice).collect();
            if future == 0 {
                staged.execute(Rate::Constant.stage(), &mut frame, &columns, runs);
                staged.execute(Rate::Home.stage(), &mut frame, &columns, runs);
            }
            staged.execute(Rate::Future.stage(), &mut frame, &columns, runs);
            staged.execute(Rate::Run.stage(), &mut frame, &columns, runs);
            for (k, full) in run_all(&full, &pairs, homes, runs.first, homes).iter().enumerate() {
                let mut column = vec![0.0; homes];
                staged.copy_wanted(k, &frame, &columns, &mut column);
                assert_eq!(bits(&column), bits(full), "{name}: result {k}, future {future}");
            }
        }
    }
}
