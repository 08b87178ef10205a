//! Draws are pure functions of the run: whatever the block, the columns asked
//! for, the other inputs or the order in the file.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::sampling::{
    ChangeSpec, Design, Distribution, Drift, InputSpec, Link, Method, PathSpec, Plan, Process, Quantity,
    Scratch, Value, Vectors,
};
use proptest::prelude::*;

fn distribution(kind: &str, parameters: &[(&str, f64)]) -> Distribution {
    let parameters: Vec<(String, Value)> =
        parameters.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
    Distribution::build(kind, &parameters, None).unwrap()
}

fn input(name: &str, distribution: Distribution) -> InputSpec {
    InputSpec { name: name.to_owned(), distribution }
}

fn inputs() -> Vec<InputSpec> {
    let people = vec![
        ("values".to_owned(), Value::List(vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0])),
        ("weights".to_owned(), Value::List(vec![0.28, 0.34, 0.17, 0.14, 0.05, 0.02])),
    ];
    vec![
        input("people", Distribution::build("discrete", &people, None).unwrap()),
        input("litres", distribution("pert", &[("min", 22.0), ("mode", 38.0), ("max", 65.0)])),
        input("kit", distribution("triangular", &[("min", 280.0), ("mode", 360.0), ("max", 520.0)])),
        input("life", distribution("weibull", &[("shape", 3.2), ("scale", 14.0)])),
        input("cold", distribution("normal", &[("mean", 10.5), ("sd", 1.0)])),
        input("discount", distribution("uniform", &[("min", 0.02), ("max", 0.06)])),
    ]
}

fn path(name: &str, process: Process) -> PathSpec {
    PathSpec {
        name: name.to_owned(),
        years: 20,
        first_year: 2027,
        start: Quantity::Uncertain(distribution("lognormal", &[("p10", 0.065), ("p90", 0.12)])),
        level: None,
        growth: Quantity::Uncertain(distribution("normal", &[("mean", 0.01), ("sd", 0.015)])),
        drift: Drift::Mean,
        process,
        changes: vec![ChangeSpec {
            chance: 0.35,
            year: Quantity::Uncertain(distribution("uniform", &[("min", 2028.0), ("max", 2032.0)])),
            scale: Quantity::Uncertain(distribution("uniform", &[("min", 0.3), ("max", 0.9)])),
        }],
    }
}

fn paths() -> Vec<PathSpec> {
    let mut export = path("export", Process::MeanReverting { half_life: 3.0, volatility: 0.18 });
    export.drift = Drift::Median;
    export.level = Some(0.07);
    let mut steady = path("steady", Process::SteadyGrowth);
    steady.changes.clear();
    vec![
        path("gas", Process::RandomWalk { volatility: 0.1 }),
        export,
        path("weather", Process::Independent { volatility: 0.05 }),
        steady,
    ]
}

fn links() -> Vec<Link> {
    vec![
        Link::from_rank("gas", "export", 0.5),
        Link::from_rank("weather", "gas", -0.3),
        Link::from_rank("life", "kit", 0.4),
        Link::from_rank("kit", "people", 0.2),
        Link::from_rank("gas.start", "export.start", 0.6),
    ]
}

fn plan(method: Method) -> Plan {
    let design = Design::new(4711, method, 8, 4096);
    Plan::new(&inputs(), &paths(), &links(), design, &[]).unwrap()
}

/// All columns of runs `first..first + n`, drawn in blocks of `block`.
fn drawn(plan: &Plan, wanted: &[bool], first: u64, n: usize, block: usize) -> Vec<Vec<f64>> {
    let columns = plan.columns().len();
    let mut all = vec![Vec::new(); columns];
    let mut scratch = Scratch::new();
    let stride = block + 3;
    let mut done = 0;
    while done < n {
        let now = block.min(n - done);
        let mut out = vec![f64::NAN; columns * stride];
        plan.draw(wanted, first + done as u64, now, &mut out, stride, &mut scratch);
        for (c, column) in all.iter_mut().enumerate() {
            column.extend_from_slice(&out[c * stride..c * stride + now]);
        }
        done += now;
    }
    all
}

fn bits(columns: &[Vec<f64>]) -> Vec<Vec<u64>> {
    columns.iter().map(|c| c.iter().map(|x| x.to_bits()).collect()).collect()
}

const METHODS: [Method; 3] = [Method::Random, Method::LatinHypercube, Method::Sobol];

#[test]
fn any_offset_and_block_give_the_same_bits() {
    for method in METHODS {
        let plan = plan(method);
        let whole = drawn(&plan, &[], 0, 1000, 1000);
        assert!(whole.iter().flatten().all(|x| !x.is_nan()));
        for (first, n, block) in [(0, 1000, 256), (0, 1000, 7), (13, 500, 64), (999, 1, 1), (301, 333, 100)] {
            let part = drawn(&plan, &[], first, n, block);
            let at = first as usize;
            let expect: Vec<Vec<f64>> = whole.iter().map(|c| c[at..at + n].to_vec()).collect();
            assert_eq!(bits(&part), bits(&expect), "{method:?} {first} {n} {block}");
        }
    }
}

#[test]
fn vector_extensions_change_nothing() {
    for method in METHODS {
        let widest = plan(method);
        let expect = bits(&drawn(&widest, &[], 5, 3000, 512));
        for vectors in [Vectors::Avx2, Vectors::Baseline] {
            let other = plan(method).with_vectors(vectors);
            assert!(bits(&drawn(&other, &[], 5, 3000, 512)) == expect, "{method:?} {vectors:?}");
        }
    }
}

#[test]
fn columns_asked_for_alone_are_the_same() {
    for method in METHODS {
        let plan = plan(method);
        let whole = drawn(&plan, &[], 40, 300, 300);
        for source in 0..plan.sources() {
            let wanted: Vec<bool> = (0..plan.sources()).map(|s| s == source).collect();
            let alone = drawn(&plan, &wanted, 40, 300, 300);
            for (c, column) in plan.columns().iter().enumerate() {
                if column.source == source {
                    assert_eq!(bits(&alone[c..=c]), bits(&whole[c..=c]), "{method:?} {column:?}");
                } else {
                    assert!(alone[c].iter().all(|x| x.is_nan()), "{column:?} was not asked for");
                }
            }
        }
    }
}

#[test]
fn other_inputs_and_the_order_in_the_file_change_nothing() {
    for method in METHODS {
        let first = plan(method);
        let pinned = first.dimensions().to_vec();
        let mut more = inputs();
        more.reverse();
        more.insert(2, input("unrelated", distribution("normal", &[("mean", 0.0), ("sd", 1.0)])));
        let mut turned = paths();
        turned.reverse();
        turned.push(path("unrelated_path", Process::RandomWalk { volatility: 0.2 }));
        let mut turned_links = links();
        turned_links.reverse();
        let design = Design::new(4711, method, 8, 4096);
        let second = Plan::new(&more, &turned, &turned_links, design, &pinned).unwrap();
        assert_eq!(second.dimensions()[..pinned.len()], pinned[..]);
        let (a, b) = (drawn(&first, &[], 0, 600, 256), drawn(&second, &[], 0, 600, 256));
        for (c, column) in first.columns().iter().enumerate() {
            let same = |o: &payspread::sampling::Column| o.name == column.name && o.lane == column.lane;
            let d = second.columns().iter().position(same).unwrap();
            assert_eq!(bits(&a[c..=c]), bits(&b[d..=d]), "{method:?} {column:?}");
        }
    }
}

#[test]
fn constant_columns_hold_what_they_say() {
    let plan = plan(Method::Random);
    let all = drawn(&plan, &[], 0, 50, 50);
    let mut constants = 0;
    for (c, column) in plan.columns().iter().enumerate() {
        if let Some(value) = column.constant {
            constants += 1;
            assert!(all[c].iter().all(|x| *x == value), "{column:?}");
        }
    }
    assert_eq!(constants, 1, "year 0 of the path without changes");
}

/// Renewals are draws of the same distribution from a stream of their own:
/// mean 14 Gamma(1 + 1/3.2) = 12.539, sd 4.297, so a mean of 4,000 has a
/// standard error of 0.068 (five of them), and the parts are uncorrelated.
#[test]
fn renewals_are_fresh_draws() {
    for method in METHODS {
        let plan = plan(method);
        let life = plan.input("life").unwrap();
        let mut scratch = Scratch::new();
        let mut draws = [vec![0.0; 4000], vec![0.0; 4000]];
        for (part, out) in draws.iter_mut().enumerate() {
            plan.renewal(life, part as u32, 0, out, &mut scratch);
            let mean = out.iter().sum::<f64>() / 4000.0;
            assert!((mean - 12.539).abs() < 0.34, "{method:?} {mean}");
        }
        let [first, second] = &draws;
        let product = |a: &[f64], b: &[f64]| {
            a.iter().zip(b).map(|(x, y)| (x - 12.539) * (y - 12.539)).sum::<f64>() / 4000.0 / (4.297 * 4.297)
        };
        let value = &drawn(&plan, &[], 0, 4000, 4000)[life];
        assert!(product(first, second).abs() < 0.08 && product(first, value).abs() < 0.08);
        let mut part = vec![0.0; 77];
        plan.renewal(life, 1, 1001, &mut part, &mut scratch);
        assert_eq!(part, second[1001..1078]);
    }
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![-2.0..2.0, 0.0..0.3, any::<f64>(), Just(0.0), Just(1.0), Just(f64::NAN), Just(f64::INFINITY)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// No path and no links panic, and what is accepted draws numbers.
    #[test]
    fn any_path_and_links(
        numbers in prop::collection::vec(any_number(), 12),
        process in 0..4,
        method in 0..3_usize,
        years in 0..30_usize,
        replicates in 0..70_u32,
        runs in 0..3000_u64,
        median in any::<bool>(),
        has_level in any::<bool>(),
        first_run in 0..(1_u64 << 40),
    ) {
        let [volatility, half_life] = [numbers[0], numbers[1]];
        let process = match process {
            0 => Process::SteadyGrowth,
            1 => Process::RandomWalk { volatility },
            2 => Process::MeanReverting { half_life, volatility },
            _ => Process::Independent { volatility },
        };
        let mut one = path("one", process);
        one.years = years;
        one.growth = Quantity::Known(numbers[2]);
        one.level = has_level.then_some(numbers[3]);
        one.drift = if median { Drift::Median } else { Drift::Mean };
        one.changes[0].chance = numbers[4];
        one.changes[0].scale = Quantity::Known(numbers[5]);
        one.changes[0].year = Quantity::Known(numbers[6]);
        let mut two = path("two", Process::RandomWalk { volatility: 0.1 });
        two.years = years;
        let pairs = [("one", "two"), ("one.start", "two.start"), ("life", "kit"), ("kit", "cold"), ("life", "cold")];
        let links: Vec<Link> = pairs
            .iter()
            .zip(&numbers[7..])
            .filter(|(_, r)| **r != 0.0)
            .map(|((a, b), r)| Link { a: (*a).to_owned(), b: (*b).to_owned(), normal: *r })
            .collect();
        let design = Design::new(1, METHODS[method], replicates, runs);
        let Ok(plan) = Plan::new(&inputs(), &[one, two], &links, design, &[]) else { return Ok(()) };
        for column in drawn(&plan, &[], first_run, 40, 40) {
            prop_assert!(column.iter().all(|x| !x.is_nan()));
        }
    }
}
