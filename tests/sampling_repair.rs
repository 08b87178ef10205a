//! Contradictory links against known answers, and exact strata with links.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::sampling::nearest::nearest_correlation;
use payspread::sampling::{
    Design, Distribution, Drift, InputSpec, Link, LinkRules, Linking, Method, PathSpec, Plan, PlanError,
    Process, Quantity, Scratch, Value,
};
use serde_json::Value as Json;

fn matrix(json: &Json) -> Vec<Vec<f64>> {
    let row = |row: &Json| row.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect();
    json.as_array().unwrap().iter().map(row).collect()
}

#[test]
fn nearest_matrices_are_known() {
    let json: Json = serde_json::from_str(include_str!("oracles/nearest_correlation.json")).unwrap();
    let cases = json["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 4);
    for case in cases {
        let (expect, name) = (&case["expect"], case["name"].as_str().unwrap());
        let most = case["tolerance"]["abs"].as_f64().unwrap();
        let found = nearest_correlation(&matrix(&case["inputs"]["matrix"])).unwrap();
        for (got, expect) in found.matrix.iter().flatten().zip(matrix(&expect["nearest"]).iter().flatten()) {
            assert!((got - expect).abs() <= most, "{name}: {got} {expect}");
        }
        for (got, key) in [
            (found.distance, "distance"),
            (found.largest_change, "largest_change"),
            (found.smallest_eigenvalue_before, "smallest_eigenvalue_before"),
        ] {
            assert!((got - expect[key].as_f64().unwrap()).abs() <= most, "{name} {key}: {got}");
        }
    }
}

fn uniform(name: &str) -> InputSpec {
    let ends = [("min".to_owned(), Value::Number(0.0)), ("max".to_owned(), Value::Number(1.0))];
    InputSpec { name: name.to_owned(), distribution: Distribution::build("uniform", &ends, None).unwrap() }
}

fn plan(names: usize, links: &[Link], rules: LinkRules, design: Design) -> Result<Plan, PlanError> {
    let inputs: Vec<InputSpec> = (0..names).map(|i| uniform(&format!("x{i}"))).collect();
    Plan::with_rules(&inputs, &[], links, rules, design, &[])
}

fn columns(plan: &Plan) -> Vec<Vec<f64>> {
    let n = plan.design().runs as usize;
    let mut out = vec![0.0; plan.columns().len() * n];
    plan.draw(&[], 0, n, &mut out, n, &mut Scratch::new());
    out.chunks(n).map(<[f64]>::to_vec).collect()
}

fn correlation(x: &[f64], y: &[f64]) -> f64 {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sum = |f: &dyn Fn(f64, f64) -> f64| x.iter().zip(y).map(|(a, b)| f(a - mx, b - my)).sum::<f64>();
    sum(&|a, b| a * b) / (sum(&|a, _| a * a) * sum(&|_, b| b * b)).sqrt()
}

const REPAIR: LinkRules = LinkRules { repair: true, linking: Linking::GaussianCopula };
const EXACT: LinkRules = LinkRules { repair: false, linking: Linking::ImanConover };

fn link(a: usize, b: usize, rank: f64) -> Link {
    Link::from_rank(format!("x{a}"), format!("x{b}"), rank)
}

/// The oracle's second case, in ranks: 0.8 and 0.8 with nothing between the ends. Uniform columns' own correlation is
/// that of their ranks; of 16,384 runs its standard error is below 0.008.
#[test]
fn a_small_contradiction_is_repaired() {
    let links = [("x0", "x1", 0.8), ("x1", "x2", 0.8)];
    let links = links.map(|(a, b, normal)| Link { a: a.into(), b: b.into(), normal });
    let design = Design::new(3, Method::Sobol, 8, 16_384);
    assert!(plan(3, &links, LinkRules::default(), design).is_err());
    let made = plan(3, &links, REPAIR, design).unwrap();
    let [repair] = made.repairs() else { panic!("one repair") };
    let rank = |normal: f64| 6.0 / std::f64::consts::PI * (normal / 2.0).asin();
    assert_eq!(repair.names, ["x0", "x1", "x2"]);
    assert!((repair.used[0][1] - rank(0.725_129_506_184_870_5)).abs() < 1e-6);
    assert!((repair.used[0][2] - rank(0.051_625_601_479_828_25)).abs() < 1e-6);
    assert!((repair.given[0][1] - rank(0.8)).abs() < 1e-12 && repair.given[0][2] == 0.0);
    assert!((repair.largest_change - (rank(0.8) - rank(0.725_129_506_184_870_5))).abs() < 1e-6);
    assert!((repair.distance - 0.166_591_622_937_029_78).abs() < 1e-6);
    assert!((repair.smallest_eigenvalue + 0.131_370_849_898_476_22).abs() < 1e-12);
    let x = columns(&made);
    for (i, j) in [(0, 1), (0, 2), (1, 2)] {
        assert!((correlation(&x[i], &x[j]) - repair.used[i][j]).abs() < 0.04);
    }
    // What can hold together is left alone, to the last bit.
    let fine = [link(0, 1, 0.5), link(1, 2, 0.5)];
    let (as_is, allowed) =
        (plan(3, &fine, LinkRules::default(), design).unwrap(), plan(3, &fine, REPAIR, design).unwrap());
    assert!(allowed.repairs().is_empty() && columns(&as_is) == columns(&allowed));
}

#[test]
fn a_large_contradiction_is_refused_all_the_same() {
    let links = [link(0, 1, 0.95), link(1, 2, 0.95), link(0, 2, -0.95)];
    let error = plan(3, &links, REPAIR, Design::new(1, Method::Sobol, 8, 64)).unwrap_err();
    assert!(error.message.contains("too much to be repaired"), "{error}");
    assert_eq!(error.names, ["x0", "x1", "x2"]);
}

/// A hundred and more names are answered in time, found at fault or repaired or not.
#[test]
fn many_names_are_answered_in_time() {
    for (names, rank) in [(30, -0.2), (60, -0.1), (120, -0.05), (200, -0.03)] {
        let pairs = (0..names).flat_map(|i| (i + 1..names).map(move |j| (i, j)));
        let links: Vec<Link> = pairs.map(|(i, j)| link(i, j, rank)).collect();
        for rules in [LinkRules::default(), REPAIR] {
            let begun = std::time::Instant::now();
            let made = plan(names, &links, rules, Design::new(1, Method::Sobol, 8, 64));
            let took = begun.elapsed();
            println!("{names} {rules:?} {:?} {took:?}", made.as_ref().map(|p| p.repairs()[0].largest_change));
            assert!(took.as_secs() < 6, "{names} {took:?}");
        }
    }
}

/// Judged pair by pair: 0.6 everywhere, give or take 0.25, which cannot all be.
#[test]
fn uneven_judgements_of_many_are_repaired_in_time() {
    for names in [10, 25, 40, 60] {
        let uneven = |i: usize, j: usize| ((i * 7919 + j * 104_729) % 101) as f64 / 202.0 - 0.25;
        let pairs = (0..names).flat_map(|i| (i + 1..names).map(move |j| (i, j)));
        let links: Vec<Link> = pairs.map(|(i, j)| link(i, j, 0.6 + uneven(i, j))).collect();
        let begun = std::time::Instant::now();
        let made = plan(names, &links, REPAIR, Design::new(1, Method::Sobol, 8, 64));
        let told = made.map(|p| p.repairs().first().map(|r| (r.largest_change, r.smallest_eigenvalue)));
        println!("{names} {:?} {:?}", told.map_err(|e| e.message), begun.elapsed());
        assert!(begun.elapsed().as_secs() < 6);
    }
}

/// Each replicate's values are exactly the strata, whatever the links, and the rank correlation is reached: in the
/// normal scores exactly but for ranking, here of 1,000 runs within 0.02.
#[test]
fn strata_stay_exact_and_correlations_are_reached() {
    let links = [link(0, 1, 0.5), link(1, 2, -0.3), link(0, 2, 0.4), link(3, 4, 0.9)];
    let made = plan(6, &links, EXACT, Design::new(5, Method::LatinHypercube, 4, 4000)).unwrap();
    let x = columns(&made);
    for column in &x {
        for replicate in 0..4 {
            let mut seen = [false; 1000];
            column.iter().skip(replicate).step_by(4).for_each(|u| seen[(u * 1000.0) as usize] = true);
            assert!(seen.iter().all(|s| *s));
        }
    }
    for replicate in 0..4 {
        let own = |k: usize| -> Vec<f64> { x[k].iter().skip(replicate).step_by(4).copied().collect() };
        for (a, b, asked) in [(0, 1, 0.5), (1, 2, -0.3), (0, 2, 0.4), (3, 4, 0.9)] {
            let reached = correlation(&own(a), &own(b));
            assert!((reached - asked).abs() < 0.02, "{a} {b}: {reached}");
        }
        // No link: about 1/sqrt(1000); four and a half of them.
        assert!(correlation(&own(5), &own(0)).abs() < 0.143);
    }
    // Any block gives the same bits, and what comes past the hypercube is one again.
    let mut part = vec![0.0; 6 * 37];
    made.draw(&[], 1001, 37, &mut part, 37, &mut Scratch::new());
    for (k, column) in x.iter().enumerate() {
        assert_eq!(part[k * 37..(k + 1) * 37], column[1001..1038]);
    }
    let mut later = vec![0.0; 6 * 4000];
    made.draw(&[], 4000, 4000, &mut later, 4000, &mut Scratch::new());
    for column in later.chunks(4000) {
        let mut seen = [false; 1000];
        column.iter().step_by(4).for_each(|u| seen[(u * 1000.0) as usize] = true);
        assert!(seen.iter().all(|s| *s));
    }
    assert!((correlation(&later[..4000], &later[4000..8000]) - 0.5).abs() < 0.02);
}

/// The error of a mean (methods 3: random 1.68, hypercube with Cholesky 0.22, rearranged 0.042): of a sum of three
/// linked inputs and their exponentials, over 40 seeds.
#[test]
fn means_gain_from_exact_strata() {
    let links = [link(0, 1, 0.5), link(1, 2, 0.5), link(0, 2, 0.5)];
    let truth = 3.0 * (0.5 + 1.0_f64.exp() - 1.0);
    let rmse = |method, rules| {
        let squares = (0..40).map(|seed| {
            let x = columns(&plan(3, &links, rules, Design::new(seed, method, 1, 1000)).unwrap());
            let mean = x.iter().flatten().map(|u| u + u.exp()).sum::<f64>() / 1000.0;
            (mean - truth) * (mean - truth)
        });
        (squares.sum::<f64>() / 40.0).sqrt()
    };
    let copula = LinkRules::default();
    let (random, cholesky, exact) = (
        rmse(Method::Random, copula),
        rmse(Method::LatinHypercube, copula),
        rmse(Method::LatinHypercube, EXACT),
    );
    println!("random {random}, hypercube and Cholesky {cholesky}, rearranged {exact}");
    assert!(cholesky < random / 3.0 && exact < cholesky / 4.0, "{random} {cholesky} {exact}");
}

fn path(name: &str, process: Process) -> PathSpec {
    PathSpec {
        name: name.into(),
        years: 6,
        first_year: 2027,
        start: Quantity::Known(1.0),
        level: None,
        growth: Quantity::Known(0.0),
        drift: Drift::Median,
        process,
        changes: Vec::new(),
    }
}

/// Shocks of each year keep their strata and are linked: a walk's steps with those of a path of fresh factors.
#[test]
fn shocks_of_paths_are_rearranged_too() {
    let paths = [
        path("walk", Process::RandomWalk { volatility: 0.1 }),
        path("fresh", Process::Independent { volatility: 0.1 }),
        path("other", Process::Independent { volatility: 0.1 }),
    ];
    let links = [Link::from_rank("walk", "fresh", 0.6), Link::from_rank("fresh", "other", 0.3)];
    let design = Design::new(2, Method::LatinHypercube, 2, 2000);
    let made = Plan::with_rules(&[], &paths, &links, EXACT, design, &[]).unwrap();
    let x = columns(&made);
    let log = |c: usize| -> Vec<f64> { x[c].iter().map(|v| v.ln()).collect() };
    for year in 0..6 {
        let fresh = log(6 + year);
        // Below the median of 1: half of each replicate, exactly.
        assert_eq!(fresh.iter().step_by(2).filter(|v| **v < 0.0).count(), 500);
        let pearson = |rank: f64| 2.0 * (std::f64::consts::PI * rank / 6.0).sin();
        assert!((correlation(&fresh, &log(12 + year)) - pearson(0.3)).abs() < 0.02, "{year}");
        if year > 0 {
            let step: Vec<f64> = log(year).iter().zip(log(year - 1)).map(|(now, was)| now - was).collect();
            assert!((correlation(&step, &fresh) - pearson(0.6)).abs() < 0.02, "{year}");
        }
    }
}

#[test]
fn where_strata_cannot_be_rearranged_it_is_said() {
    let links = [link(0, 1, 0.5)];
    let told = |design| plan(2, &links, EXACT, design).unwrap_err().to_string();
    assert!(told(Design::new(1, Method::Sobol, 8, 4096)).contains("only a Latin hypercube has"));
    assert!(told(Design::new(1, Method::Random, 1, 4096)).contains("only a Latin hypercube has"));
    assert!(told(Design::new(1, Method::LatinHypercube, 8, 1 << 23)).contains("at most 4194304 runs here"));
    assert!(told(Design::new(1, Method::LatinHypercube, 8, 64)).contains("make at least 80 runs"));
    // Nothing linked, nothing to rearrange.
    assert!(plan(2, &[], EXACT, Design::new(1, Method::Sobol, 8, 64)).is_ok());
}
