//! The second matrix of a variance design, and draws of some sources given the others.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test: no bytes are promised")]

use payspread::sampling::{
    ChangeSpec, Design, Distribution, Drift, InputSpec, Link, LinkRules, Linking, Method, PathSpec, Plan,
    Process, Quantity, Scratch, Value,
};

const METHODS: [Method; 3] = [Method::Sobol, Method::LatinHypercube, Method::Random];

/// Runs: a correlation is known to 0.004 by random draws.
const RUNS: usize = 1 << 16;
/// Five standard errors of a correlation: passed by chance once in 1.7 million.
const NEAR: f64 = 0.02;

fn build(kind: &str, parameters: &[(&str, f64)]) -> Distribution {
    let parameters: Vec<(String, Value)> =
        parameters.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
    Distribution::build(kind, &parameters, None).unwrap()
}

fn input(name: &str, distribution: Distribution) -> InputSpec {
    InputSpec { name: name.to_owned(), distribution }
}

fn normal(name: &str) -> InputSpec {
    input(name, build("normal", &[("mean", 0.0), ("sd", 1.0)]))
}

fn uniform(name: &str) -> InputSpec {
    input(name, build("uniform", &[("min", 0.0), ("max", 1.0)]))
}

fn link(a: &str, b: &str, normal: f64) -> Link {
    Link { a: a.to_owned(), b: b.to_owned(), normal }
}

fn draw(plan: &Plan, n: usize) -> Vec<Vec<f64>> {
    let mut out = vec![0.0; plan.columns().len() * n];
    plan.draw(&[], 0, n, &mut out, n, &mut Scratch::new());
    out.chunks(n).map(<[f64]>::to_vec).collect()
}

fn correlation(x: &[f64], y: &[f64]) -> f64 {
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let (mx, my) = (mean(x), mean(y));
    let sum = |p: &[f64], mp: f64, q: &[f64], mq: f64| {
        p.iter().zip(q).map(|(a, b)| (a - mp) * (b - mq)).sum::<f64>()
    };
    sum(x, mx, y, my) / (sum(x, mx, x, mx) * sum(y, my, y, my)).sqrt()
}

fn assert_near(found: f64, wanted: f64, what: &str) {
    assert!((found - wanted).abs() < NEAR, "{what}: {found} for {wanted}");
}

fn path(name: &str, process: Process) -> PathSpec {
    PathSpec {
        name: name.to_owned(),
        years: 4,
        first_year: 2027,
        start: Quantity::Uncertain(build("lognormal", &[("median", 1.0), ("gsd", 1.2)])),
        level: None,
        growth: Quantity::Uncertain(build("uniform", &[("min", 0.01), ("max", 0.03)])),
        drift: Drift::Median,
        process,
        changes: vec![ChangeSpec {
            chance: 0.5,
            year: Quantity::Uncertain(build("uniform", &[("min", 2028.0), ("max", 2031.0)])),
            scale: Quantity::Uncertain(build("uniform", &[("min", 0.5), ("max", 0.9)])),
        }],
    }
}

#[test]
fn the_second_matrix_is_independent_of_the_first() {
    let inputs = [normal("a"), normal("b"), normal("c")];
    let paths = [path("p", Process::RandomWalk { volatility: 0.2 })];
    for method in METHODS {
        let design = Design::new(3, method, 8, RUNS as u64);
        let plan = Plan::new(&inputs, &paths, &[link("a", "b", 0.7)], design, &[]).unwrap();
        let (a, b) = (draw(&plan, RUNS), draw(&plan.second(), RUNS));
        assert_near(correlation(&b[0], &b[1]), 0.7, "linked as the first");
        for (i, x) in a.iter().enumerate() {
            for (j, y) in b.iter().enumerate() {
                let finite = x.iter().chain(y).all(|v| v.is_finite());
                let varies = |v: &[f64]| v.iter().any(|x| *x != v[0]);
                if finite && varies(x) && varies(y) {
                    let what = format!("{method:?}: {} and second {}", i, plan.columns()[j].name);
                    assert_near(correlation(x, y), 0.0, &what);
                }
            }
        }
        for (column, (x, y)) in plan.columns().iter().zip(a.iter().zip(&b)) {
            let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
            let sd = |v: &[f64]| {
                let middle = mean(v);
                (v.iter().map(|x| (x - middle).powi(2)).sum::<f64>() / RUNS as f64).sqrt()
            };
            if x.iter().all(|v| v.is_finite()) && sd(x) > 0.0 {
                let off = (mean(x) - mean(y)) / (sd(x) * (2.0 / RUNS as f64).sqrt());
                assert!(off.abs() < 5.0, "{method:?}: {} {off}", column.name);
                assert!((sd(x) / sd(y) - 1.0).abs() < 0.03, "{method:?}: {}", column.name);
            }
        }
    }
}

/// Dimensions of one sequence: any pair of its first ten, one from each matrix, has exactly 4,096 / 16 points in each of
/// 4 x 4 cells. Two stretches of one dimension would leave most of those of a pair (i, i) empty or uneven.
#[test]
fn under_sobol_both_matrices_are_one_net() {
    let n = 4096;
    let inputs: Vec<InputSpec> = (0..5).map(|k| uniform(&format!("x{k}"))).collect();
    let plan = Plan::new(&inputs, &[], &[], Design::new(5, Method::Sobol, 1, n as u64), &[]).unwrap();
    let all: Vec<Vec<f64>> = draw(&plan, n).into_iter().chain(draw(&plan.second(), n)).collect();
    for (i, x) in all.iter().enumerate() {
        for y in &all[..i] {
            let mut counts = [0; 16];
            x.iter().zip(y).for_each(|(x, y)| counts[(x * 4.0) as usize * 4 + (y * 4.0) as usize] += 1);
            assert_eq!(counts, [n / 16; 16], "{i}");
        }
    }
}

/// Each stratum of each replicate once, in the second matrix too.
#[test]
fn the_second_hypercube_has_its_strata() {
    for linking in [Linking::GaussianCopula, Linking::ImanConover] {
        let n = 8 * 250;
        let rules = LinkRules { repair: false, linking };
        let links = if linking == Linking::ImanConover { vec![link("a", "b", 0.6)] } else { Vec::new() };
        let design = Design::new(9, Method::LatinHypercube, 8, n as u64);
        let plan = Plan::with_rules(&[uniform("a"), uniform("b")], &[], &links, rules, design, &[]).unwrap();
        let (first, second) = (draw(&plan, n), draw(&plan.second(), n));
        for r in 0..8 {
            let cells = |column: &[f64]| -> Vec<usize> {
                column.iter().skip(r).step_by(8).map(|u| (u * 250.0) as usize).collect()
            };
            let mut sorted = cells(&second[0]);
            assert_ne!(sorted, cells(&first[0]));
            sorted.sort_unstable();
            assert_eq!(sorted, (0..250).collect::<Vec<_>>());
        }
        if linking == Linking::ImanConover {
            assert!((correlation(&second[0], &second[1]) - correlation(&first[0], &first[1])).abs() < 0.01);
            assert!(correlation(&first[0], &second[0]).abs() < 5.0 / (n as f64).sqrt());
        }
    }
}

/// z_u anew given z_v: with R the correlations, those of z_u' and z_v are as given, and those of z_u and z_u', which
/// share nothing but z_v, are R_uv R_vv^-1 R_vu. Here v is b; u is a and c: r_ab = 0.6, r_bc = -0.5, r_ac = 0.2.
#[test]
fn linked_inputs_are_redrawn_given_the_others() {
    let inputs = [normal("a"), normal("b"), normal("c"), normal("d")];
    let links = [link("a", "b", 0.6), link("b", "c", -0.5), link("a", "c", 0.2)];
    for method in METHODS {
        let design = Design::new(17, method, 8, RUNS as u64);
        let plan = Plan::new(&inputs, &[], &links, design, &[]).unwrap();
        let (old, new) = (draw(&plan, RUNS), draw(&plan.redrawn(&[true, false, true, false]).unwrap(), RUNS));
        assert_eq!(old[1], new[1], "kept");
        assert_eq!(old[3], new[3], "kept");
        let wanted = [
            (&new[0], &new[1], 0.6),
            (&new[2], &new[1], -0.5),
            (&new[0], &new[2], 0.2),
            (&new[0], &old[0], 0.36),
            (&new[2], &old[2], 0.25),
            (&new[0], &old[2], -0.3),
            (&new[0], &old[3], 0.0),
        ];
        for (k, (x, y, r)) in wanted.into_iter().enumerate() {
            assert_near(correlation(x, y), r, &format!("{method:?}, {k}"));
        }
        for column in [0, 2] {
            let mean = new[column].iter().sum::<f64>() / RUNS as f64;
            let square = new[column].iter().map(|z| z * z).sum::<f64>() / RUNS as f64;
            assert!(mean.abs() < 5.0 / 256.0 && (square - 1.0).abs() < 5.0 * 2_f64.sqrt() / 256.0);
        }
    }
}

/// Correlations of exactly 1 leave nothing to redraw.
#[test]
fn what_the_others_determine_stays() {
    let links = [link("a", "b", 1.0), link("b", "c", 0.5), link("a", "c", 0.5)];
    let design = Design::new(2, Method::Random, 1, 512);
    let plan = Plan::new(&[normal("a"), normal("b"), normal("c")], &[], &links, design, &[]).unwrap();
    for fresh in [[true, false, false], [false, true, false]] {
        let (old, new) = (draw(&plan, 512), draw(&plan.redrawn(&fresh).unwrap(), 512));
        for (x, y) in old.iter().flatten().zip(new.iter().flatten()) {
            assert!((x - y).abs() < 1e-12, "{fresh:?}: {x} {y}");
        }
    }
}

/// Shocks of the years: ln X_t/X_(t-1) less growth, over the volatility.
fn shocks(plan: &Plan, columns: &[Vec<f64>], name: &str, volatility: f64) -> Vec<Vec<f64>> {
    let find = |part: &str| plan.columns().iter().position(|c| c.name == format!("{name}.{part}")).unwrap();
    let (growth, course) = (find("growth"), find("course"));
    (1..4)
        .map(|t| {
            let years = columns[course + t].iter().zip(&columns[course + t - 1]);
            let logs = years.map(|(now, before)| (now / before).ln() / volatility);
            logs.zip(&columns[growth]).map(|(z, g)| z - (1.0 + g).ln() / volatility).collect()
        })
        .collect()
}

#[test]
fn linked_shocks_are_redrawn_year_by_year() {
    let walk =
        |name: &str| PathSpec { changes: Vec::new(), ..path(name, Process::RandomWalk { volatility: 0.2 }) };
    // Unlike the walks it has a shock in the first year, but none to be linked with there.
    let weather = PathSpec { changes: Vec::new(), ..path("w", Process::Independent { volatility: 0.2 }) };
    let paths = [walk("p"), walk("q"), weather];
    let links = [link("p", "q", 0.8), link("q", "w", 0.4), link("p", "w", 0.3)];
    for method in METHODS {
        let design = Design::new(23, method, 8, RUNS as u64);
        let plan = Plan::new(&[normal("a")], &paths, &links, design, &[]).unwrap();
        for fresh in [[false, true, false, false], [false, false, true, true]] {
            let again = plan.redrawn(&fresh).unwrap();
            assert_eq!(plan.columns(), again.columns());
            let (old, new) = (draw(&plan, RUNS), draw(&again, RUNS));
            for (column, (x, y)) in plan.columns().iter().zip(old.iter().zip(&new)) {
                let same = x == y;
                let constant = column.constant.is_some();
                assert_eq!(same, constant || !fresh[column.source], "{method:?}: {}", column.name);
            }
            let of = |drawn: &[Vec<f64>], name: &str| shocks(&plan, drawn, name, 0.2);
            let (p, q) = (of(&old, "p"), of(&old, "q"));
            let (p_new, q_new) = (of(&new, "p"), of(&new, "q"));
            for t in 0..3 {
                assert_near(correlation(&p_new[t], &q_new[t]), 0.8, &format!("{method:?}, year {}", t + 1));
                assert_near(correlation(&p_new[t], &q_new[(t + 1) % 3]), 0.0, "other years");
                // Given q and w, or given p alone.
                if fresh[1] {
                    // R_uv R_vv^-1 R_vu with r = (0.8, 0.3) and 0.4 between them.
                    let wanted = (0.8 * 0.8 + 0.3 * 0.3 - 2.0 * 0.4 * 0.8 * 0.3) / (1.0 - 0.16);
                    assert_near(correlation(&p[t], &p_new[t]), wanted, "p given q and w");
                } else {
                    assert_near(correlation(&q[t], &q_new[t]), 0.64, "q given p");
                }
            }
            // The weather's own courses: independent years of ln X_t with growth taken out.
            let find =
                |part: &str| plan.columns().iter().position(|c| c.name == format!("w.{part}")).unwrap();
            let own = |drawn: &[Vec<f64>], t: usize| -> Vec<f64> {
                let growth = &drawn[find("growth")];
                let logs = drawn[find("course") + t].iter().zip(growth);
                logs.map(|(x, g)| x.ln() - t as f64 * (1.0 + g).ln()).collect()
            };
            assert_near(correlation(&own(&new, 2), &q_new[1]), 0.4, "weather and q");
            if fresh[3] {
                assert_near(correlation(&own(&new, 2), &own(&old, 2)), 0.09, "weather given p");
                assert_near(
                    correlation(&own(&new, 0), &own(&old, 0)),
                    0.0,
                    "the first year has none to go by",
                );
            }
        }
    }
}

/// All parts of a path are its own: start, growth, chance, year and scale of a change, shocks.
#[test]
fn a_path_is_redrawn_with_all_its_parts() {
    let paths = [path("p", Process::RandomWalk { volatility: 0.2 }), path("q", Process::SteadyGrowth)];
    let links = [link("p.start", "a", 0.5)];
    let plan =
        Plan::new(&[normal("a"), normal("b")], &paths, &links, Design::new(1, Method::Sobol, 8, 4096), &[])
            .unwrap();
    let new = draw(&plan.redrawn(&[false, false, true]).unwrap(), 4096);
    for (column, (x, y)) in plan.columns().iter().zip(draw(&plan, 4096).iter().zip(&new)) {
        // The first year comes before any change.
        let varies = x.iter().any(|v| *v != x[0]);
        assert_eq!(x != y, column.source == 2 && varies, "{}", column.name);
    }
    let all = plan.redrawn(&[true; 4]).unwrap();
    assert_eq!(draw(&all, 4096), draw(&plan.second(), 4096));
    let none = plan.redrawn(&[]).unwrap();
    assert_eq!(draw(&none, 4096), draw(&plan, 4096));
    let known = PathSpec {
        start: Quantity::Known(2.0),
        growth: Quantity::Known(0.02),
        changes: Vec::new(),
        ..path("k", Process::SteadyGrowth)
    };
    let plan = Plan::new(&[normal("a")], &[known], &[], Design::new(1, Method::Sobol, 8, 64), &[]).unwrap();
    assert!(plan.is_drawn(0) && !plan.is_drawn(1) && !plan.is_drawn(2));
}

/// Any block gives the same bits.
#[test]
fn redrawn_blocks_are_the_same() {
    let paths = [
        path("p", Process::RandomWalk { volatility: 0.2 }),
        path("q", Process::RandomWalk { volatility: 0.1 }),
    ];
    let links = [link("p", "q", 0.5), link("a", "b", 0.5)];
    for method in METHODS {
        let design = Design::new(1, method, 8, 4096);
        let plan = Plan::new(&[normal("a"), normal("b")], &paths, &links, design, &[]).unwrap();
        let plan = plan.redrawn(&[true, false, false, true]).unwrap();
        let whole = draw(&plan, 1000);
        let columns = plan.columns().len();
        let mut part = vec![0.0; columns * 37];
        // Only the second path, whose shocks want the first one's.
        plan.draw(&[true, false, false, true], 411, 37, &mut part, 37, &mut Scratch::new());
        for (c, column) in plan.columns().iter().enumerate().filter(|(_, c)| [0, 3].contains(&c.source)) {
            assert_eq!(part[c * 37..(c + 1) * 37], whole[c][411..448], "{method:?}: {}", column.name);
        }
    }
}

#[test]
fn rearranged_strata_know_no_draws_given_others() {
    let rules = LinkRules { repair: false, linking: Linking::ImanConover };
    let design = Design::new(1, Method::LatinHypercube, 8, 800);
    let plan = Plan::with_rules(&[normal("a"), normal("b")], &[], &[link("a", "b", 0.5)], rules, design, &[])
        .unwrap();
    let error = plan.redrawn(&[true]).unwrap_err();
    assert!(error.hint.contains("gaussian copula"), "{error}");
}
