//! Sensitivity from the runs at hand: against closed forms, counting by hand, and known invariances.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::analysis::factors::Factor;
use payspread::analysis::sensitivity::outcome::{Outcome, doubled_ranks, order_of, tie_ends};
use payspread::analysis::sensitivity::whole::{Distances, bin_ends, distances};
use payspread::analysis::sensitivity::{
    Sensitivity, SensitivityOf, SensitivityRow, SensitivityWish, classes::Classes, sensitivity,
};
use payspread::analysis::{Estimate, Figure, Interval};
use payspread::sampling::{Design, Distribution, InputSpec, Link, Method, Plan, Scratch, Value};
use serde_json::Value as Json;

const NEVER: f64 = f64::INFINITY;

fn factor(name: &str, values: &[f64]) -> Factor {
    Factor {
        name: name.into(),
        label: name.into(),
        unit: String::new(),
        values: values.to_vec(),
        labels: Vec::new(),
        discrete: false,
        linked: false,
    }
}

fn uniforms(d: usize, seed: u64, method: Method, runs: usize) -> Vec<Vec<f64>> {
    let ends = [("min".to_owned(), Value::Number(0.0)), ("max".to_owned(), Value::Number(1.0))];
    let spec = |i| InputSpec {
        name: format!("x{i}"),
        distribution: Distribution::build("uniform", &ends, None).unwrap(),
    };
    let specs: Vec<InputSpec> = (0..d).map(spec).collect();
    drawn(&specs, &[], seed, method, runs)
}

fn drawn(specs: &[InputSpec], links: &[Link], seed: u64, method: Method, runs: usize) -> Vec<Vec<f64>> {
    let plan = Plan::new(specs, &[], links, Design::new(seed, method, 8, runs as u64), &[]).unwrap();
    let mut out = vec![0.0; specs.len() * runs];
    plan.draw(&[], 0, runs, &mut out, runs, &mut Scratch::new());
    out.chunks(runs).map(<[f64]>::to_vec).collect()
}

fn row<'a>(found: &'a Sensitivity, name: &str) -> &'a SensitivityRow {
    found.rows.iter().find(|r| r.name == name).unwrap()
}

fn number(estimate: &Estimate) -> f64 {
    estimate.value.number().unwrap()
}

fn ask(y: &[f64], columns: &[Vec<f64>], replicates: Option<u32>) -> Sensitivity {
    let factors: Vec<Factor> =
        columns.iter().enumerate().map(|(i, c)| factor(&format!("x{}", i + 1), c)).collect();
    sensitivity(y, &factors, replicates, SensitivityWish::default())
}

#[track_caller]
fn near(got: f64, expect: f64, tolerance: f64, what: &str) {
    assert!((got - expect).abs() <= tolerance, "{what}: {got} for {expect} within {tolerance}");
}

/// Coefficients of "5 + 1*x1 + 2*x2 + -3*x3".
fn coefficients(formula: &str) -> (f64, Vec<f64>) {
    let mut terms = formula.split(" + ");
    let constant = terms.next().unwrap().parse().unwrap();
    (constant, terms.map(|t| t.split('*').next().unwrap().parse().unwrap()).collect())
}

/// The oracle's tolerances are about five standard errors; seeds are fixed.
#[test]
fn linear_results_of_linked_normals() {
    let oracle: Json = serde_json::from_str(include_str!("oracles/linear_gaussian.json")).unwrap();
    let cases = oracle["cases"].as_array().unwrap();
    assert!(cases.len() >= 4);
    for (case, method) in
        cases.iter().flat_map(|c| [(c, Method::Random), (c, Method::LatinHypercube), (c, Method::Sobol)])
    {
        let runs = if method == Method::Sobol { 16_384 } else { 20_000 };
        let (inputs, expect, within) = (&case["inputs"], &case["expect"], &case["tolerance"]);
        let names: Vec<String> = inputs["inputs"].as_object().unwrap().keys().cloned().collect();
        let specs: Vec<InputSpec> = names
            .iter()
            .map(|name| {
                let normal = &inputs["inputs"][name]["normal"];
                let of = |k: &str| (k.to_owned(), Value::Number(normal[k].as_f64().unwrap()));
                let distribution = Distribution::build("normal", &[of("mean"), of("sd")], None).unwrap();
                InputSpec { name: name.clone(), distribution }
            })
            .collect();
        let links: Vec<Link> = inputs["correlations"]
            .as_array()
            .unwrap()
            .iter()
            .map(|c| {
                let end = |k: usize| c["between"][k].as_str().unwrap();
                Link::from_rank(end(0), end(1), c["rank"].as_f64().unwrap())
            })
            .collect();
        let x = drawn(&specs, &links, 20, method, runs);
        let (constant, b) = coefficients(inputs["result"].as_str().unwrap());
        let y: Vec<f64> =
            (0..runs).map(|r| constant + b.iter().zip(&x).map(|(b, x)| b * x[r]).sum::<f64>()).collect();
        let found = ask(&y, &x, (method != Method::Random).then_some(8));
        let what = format!("{} {method:?}", case["name"]);
        near(found.r_squared.unwrap(), expect["r_squared"].as_f64().unwrap(), 1e-9, &what);
        assert!(!found.withheld);
        let mut worst = [0.0f64; 5];
        for (i, name) in names.iter().enumerate() {
            let r = row(&found, name);
            let one = |k: &str| expect[k][i].as_f64().unwrap();
            let pairs = [
                (number(&r.first_order), one("full_first"), "indices_abs"),
                (r.delta.unwrap().value, one("delta"), "delta_abs"),
                (r.kolmogorov.unwrap().value, one("mean_kolmogorov_distance"), "kolmogorov_abs"),
                (r.src.unwrap(), one("src"), "src_abs"),
                (number(&r.spearman), one("spearman_with_result"), "spearman_abs"),
            ];
            for (k, (got, expect, tolerance)) in pairs.into_iter().enumerate() {
                near(got, expect, within[tolerance].as_f64().unwrap(), &format!("{what} {name} {tolerance}"));
                worst[k] = worst[k].max((got - expect).abs());
            }
        }
        println!(
            "{what}: first {:.4} delta {:.4} kolmogorov {:.4} src {:.4} spearman {:.4}",
            worst[0], worst[1], worst[2], worst[3], worst[4]
        );
    }
}

#[test]
fn tables_of_the_oracle() {
    let oracle: Json = serde_json::from_str(include_str!("oracles/rank_statistics.json")).unwrap();
    let figure = |v: &Json| if v == "never" { NEVER } else { v.as_f64().unwrap() };
    let figures = |v: &Json| -> Vec<f64> { v.as_array().unwrap().iter().map(figure).collect() };
    let cases = oracle["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 2);
    for case in cases {
        let inputs = case["inputs"]["inputs"].as_object().unwrap();
        let factors: Vec<Factor> = inputs.iter().map(|(name, v)| factor(name, &figures(v))).collect();
        let y = figures(&case["inputs"]["result"]);
        let found = sensitivity(&y, &factors, None, SensitivityWish::default());
        let expect = &case["expect"];
        let tolerance = case["tolerance"]["abs"].as_f64().unwrap();
        near(found.rank_r_squared.unwrap(), figure(&expect["rank_r_squared"]), tolerance, "rank R^2");
        for (i, f) in factors.iter().enumerate() {
            let r = row(&found, &f.name);
            near(number(&r.spearman), figure(&expect["spearman"][i]), tolerance, "spearman");
            near(r.srrc.unwrap(), figure(&expect["srrc"][i]), tolerance, "srrc");
            near(r.prcc.unwrap(), figure(&expect["prcc"][i]), tolerance, "prcc");
            if expect.get("src").is_none() {
                continue;
            }
            near(found.r_squared.unwrap(), figure(&expect["r_squared"]), tolerance, "R^2");
            near(r.src.unwrap(), figure(&expect["src"][i]), tolerance, "src");
            let outcome = Outcome::of(&y, None);
            let order = order_of(&f.values);
            let wanted = case["inputs"]["classes"].as_u64().unwrap() as usize;
            let classes = Classes::cut(&order, &tie_ends(&f.values, &order), 0, wanted);
            assert_eq!(classes.counts, [6; 4]);
            let share = payspread::analysis::sensitivity::classes::class_share(&outcome, &classes).unwrap();
            near(share.raw, figure(&expect["class_share"][i]), tolerance, "class share");
            near(share.corrected, figure(&expect["class_share_corrected"][i]), tolerance, "corrected");
        }
    }
}

/// Ishigami, Homma 1990: f = sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1 on (-pi, pi)^3; closed forms.
fn ishigami(u: &[Vec<f64>]) -> (Vec<f64>, [f64; 3]) {
    let pi = std::f64::consts::PI;
    let x = |k: usize, r: usize| pi * (2.0 * u[k][r] - 1.0);
    let y = (0..u[0].len())
        .map(|r| x(0, r).sin() + 7.0 * x(1, r).sin().powi(2) + 0.1 * x(2, r).powi(4) * x(0, r).sin())
        .collect();
    let (a, b) = (7.0f64, 0.1f64);
    let v1 = 0.5 * (1.0 + b * pi.powi(4) / 5.0).powi(2);
    let v2 = a * a / 8.0;
    let v = a * a / 8.0 + b * pi.powi(4) / 5.0 + b * b * pi.powi(8) / 18.0 + 0.5;
    (y, [v1 / v, v2 / v, 0.0])
}

/// Standard errors at 20 000 independent runs are 0.005 to 0.006 (0.001 without effect): four of them and the loss
/// within 64 classes (0.0015 of x2). May fail by chance 1 in 10 000; the seed is fixed.
#[test]
fn ishigami_by_classes() {
    let u = uniforms(3, 5, Method::Random, 20_000);
    let (y, expect) = ishigami(&u);
    let found = ask(&y, &u, None);
    for (i, tolerance) in [0.025, 0.025, 0.006].into_iter().enumerate() {
        let r = row(&found, &format!("x{}", i + 1));
        near(number(&r.first_order), expect[i], tolerance, &r.name);
        assert_eq!((r.classes, r.first_order.interval), (64, Interval::StandardError));
    }
    // x3 acts, but only together with x1: nothing for the variance of means, a clear sign for the whole distribution.
    let x3 = row(&found, "x3");
    assert!(x3.delta.unwrap().value > 2.0 * found.floor.delta.unwrap(), "{x3:?} {:?}", found.floor);
    assert!(x3.kolmogorov.unwrap().value > 2.0 * found.floor.kolmogorov.unwrap());
    assert!(found.withheld && found.notes.iter().any(|n| n.contains("straight effects")));
    assert_eq!(found.rows[0].name, "x2");
}

/// An input without effect stays about at the floor: the floor is the largest of 20 dummies, so three times its excess
/// over the mean level is far out.
#[test]
fn an_inert_input_shows_the_floor() {
    for (method, replicates) in [(Method::Random, None), (Method::Sobol, Some(8))] {
        let u = uniforms(2, 7, method, 16_384);
        let y: Vec<f64> = u[0].iter().map(|u| u * u).collect();
        let found = ask(&y, &u, replicates);
        let (inert, floor) = (row(&found, "x2"), found.floor);
        assert!(number(&inert.first_order).abs() < 2.0 * floor.first_order.unwrap().max(0.001));
        assert!(inert.delta.unwrap().value < 1.2 * floor.delta.unwrap());
        assert!(inert.kolmogorov.unwrap().value < 1.2 * floor.kolmogorov.unwrap());
        assert!(number(&inert.spearman).abs() < 2.0 * floor.spearman.unwrap());
        // Methods 8 measured 0.053 and 0.027 at 20 000 runs, 20 classes, 20 bins; they scale as 1/sqrt(runs).
        let scale = (20_000.0f64 / 16_384.0).sqrt();
        near(floor.delta.unwrap(), 0.053 * scale, 0.006, "floor of delta");
        near(floor.kolmogorov.unwrap(), 0.027 * scale, 0.005, "floor of Kolmogorov's distance");
        println!("{method:?} floor {floor:?}\n inert {inert:?}");
    }
}

/// A rising transform of the result changes ranks, Kolmogorov's distance and delta by nothing at all.
#[test]
fn rising_transforms_change_no_rank() {
    let u = uniforms(3, 9, Method::LatinHypercube, 4_000);
    let (y, _) = ishigami(&u);
    let risen: Vec<f64> = y.iter().map(|y| (0.3 * y).exp()).collect();
    let plain = ask(&y, &u, Some(8));
    let other = ask(&risen, &u, Some(8));
    for r in &plain.rows {
        let o = row(&other, &r.name);
        assert_eq!((&r.spearman, r.srrc, r.prcc), (&o.spearman, o.srrc, o.prcc));
        assert_eq!((r.kolmogorov, r.delta), (o.kolmogorov, o.delta));
        assert_ne!(r.first_order, o.first_order);
    }
}

/// Never: the first order is that of the yes/no result, to the bit; the rest takes it as a largest value.
#[test]
fn never_is_a_value_of_its_own() {
    let u = uniforms(2, 11, Method::Random, 5_000);
    let y: Vec<f64> = (0..5_000).map(|r| if u[0][r] > 0.7 { NEVER } else { 5.0 + u[1][r] }).collect();
    let yes: Vec<f64> = y.iter().map(|y| f64::from(u8::from(*y == NEVER))).collect();
    let large: Vec<f64> = y.iter().map(|y| y.min(1e6)).collect();
    let (found, of_yes, of_large) = (ask(&y, &u, None), ask(&yes, &u, None), ask(&large, &u, None));
    assert_eq!((found.of, of_yes.of), (SensitivityOf::Never, SensitivityOf::Value));
    assert_eq!(found.never, y.iter().filter(|y| **y == NEVER).count() as u64);
    for r in &found.rows {
        assert_eq!((&r.first_order, r.src), (&row(&of_yes, &r.name).first_order, row(&of_yes, &r.name).src));
        let large = row(&of_large, &r.name);
        assert_eq!((&r.spearman, r.srrc, r.prcc), (&large.spearman, large.srrc, large.prcc));
        assert_eq!(r.kolmogorov, large.kolmogorov);
    }
    // Never is decided by x1 alone, all but the class with 0.7 in it: 1 - (1/64) / 4 / (0.7 0.3) at worst.
    assert!(number(&row(&found, "x1").first_order) > 0.98);
    assert!(number(&row(&found, "x2").first_order).abs() < 0.01);
    // Delta of x1 in the limit: 0.3 of runs all never, 0.7 never never: 0.3 0.7 + 0.7 0.3.
    near(row(&found, "x1").delta.unwrap().value, 0.42, 0.06, "delta of never");
    near(row(&found, "x1").kolmogorov.unwrap().value, 0.42, 0.04, "Kolmogorov's distance of never");
    let all_never = ask(&[NEVER; 50], &[u[0][..50].to_vec()], None);
    assert_eq!(all_never.rows[0].first_order, Estimate::alone(Figure::None));
    assert_eq!((all_never.rows[0].delta, all_never.floor.delta), (None, None));
    assert!(all_never.notes.iter().any(|n| n.contains("same in every run")));
}

/// Runs without a value change nothing but their count.
#[test]
fn runs_without_a_value_are_left_out() {
    let u = uniforms(2, 13, Method::Random, 3_000);
    let mut y: Vec<f64> = (0..3_000).map(|r| u[0][r] + 0.5 * u[1][r]).collect();
    (0..3_000).step_by(7).for_each(|r| y[r] = if r % 2 == 0 { f64::NAN } else { f64::NEG_INFINITY });
    let keep = |v: &[f64]| -> Vec<f64> { (0..3_000).filter(|r| r % 7 != 0).map(|r| v[r]).collect() };
    let found = ask(&y, &u, None);
    let plain = ask(&keep(&y), &[keep(&u[0]), keep(&u[1])], None);
    assert_eq!((found.runs, found.without_value, plain.without_value), (3_000, 429, 0));
    assert_eq!((&found.rows, found.floor), (&plain.rows, plain.floor));
    assert!(found.notes.iter().any(|n| n.contains("429 of 3000")));
    let none = ask(&[f64::NAN; 20], &[u[0][..20].to_vec()], Some(8));
    assert_eq!((none.without_value, none.rows[0].src), (20, None));
    assert_eq!(ask(&[], &[vec![]], None).runs, 0);
}

/// Replicates stay those of the run's number when runs before it have no value.
#[test]
fn replicates_are_those_of_all_runs() {
    let runs = [1.0, f64::NAN, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0];
    assert_eq!(Outcome::of(&runs, Some(2)).replicate, [0, 0, 1, 0, 1, 0, 1]);
}

fn measured(x: &[f64], y: &[f64], bins: usize) -> Distances {
    let outcome = Outcome::of(y, None);
    let order = order_of(x);
    let classes = Classes::cut(&order, &tie_ends(x, &order), 64, 4);
    distances(&outcome, &classes, &bin_ends(&outcome, bins), |_| 1)
}

/// y = x in four values of equal count: every class is one value. Against the distribution of all:
/// largest distances 3/4, 1/2, 1/2, 3/4; half the area between (1, 0, 0, 0) and quarters is 3/4.
#[test]
fn distances_by_hand() {
    let x: Vec<f64> = (0..40).map(|i| f64::from(i % 4)).collect();
    assert_eq!(measured(&x, &x, 20), Distances { kolmogorov: 0.625, delta: 0.75 });
    // The same with the largest value never.
    let y: Vec<f64> = x.iter().map(|&x| if x == 3.0 { NEVER } else { x }).collect();
    assert_eq!(measured(&x, &y, 20), Distances { kolmogorov: 0.625, delta: 0.75 });
    // Ten values in two bins of equal count, two classes (0..5 against 5..10 but for one run each way).
    let y: Vec<f64> = (0..10).map(f64::from).collect();
    let x = [0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 1.0, 1.0, 1.0, 1.0];
    // In each class 4 of 5 in its own bin: (0.3 + 0.3) / 2. Class 0 leads most after four runs: 4/5 - 4/10.
    let found = measured(&x, &y, 2);
    near(found.delta, 0.3, 1e-15, "delta");
    near(found.kolmogorov, 0.4, 1e-15, "kolmogorov");
}

/// Against the definition, with ties and never, and resampled counts against the runs written out.
#[test]
fn distances_by_their_definition() {
    let u = uniforms(3, 17, Method::Random, 500);
    let x: Vec<f64> = u[0].iter().map(|u| (u * 7.0).floor()).collect();
    let y: Vec<f64> = (0..500)
        .map(|r| if u[1][r] > 0.9 { NEVER } else { ((u[1][r] + 0.1 * x[r]) * 12.0).floor() })
        .collect();
    let counts: Vec<usize> = u[2].iter().map(|u| (u * 4.0) as usize).collect();
    let repeat = |v: &[f64]| -> Vec<f64> {
        v.iter().zip(&counts).flat_map(|(&v, &n)| std::iter::repeat_n(v, n)).collect()
    };
    let plain = |x: &[f64], y: &[f64]| {
        let part = |k: f64, met: &dyn Fn(f64) -> bool| {
            let of: Vec<f64> = x.iter().zip(y).filter(|(x, _)| **x == k).map(|(_, &y)| y).collect();
            of.iter().filter(|y| met(**y)).count() as f64 / of.len() as f64
        };
        let all = |met: &dyn Fn(f64) -> bool| y.iter().filter(|y| met(**y)).count() as f64 / y.len() as f64;
        let mut values = y.to_vec();
        values.sort_by(f64::total_cmp);
        values.dedup();
        let (mut kolmogorov, mut delta) = (0.0, 0.0);
        for k in (0..7).map(f64::from) {
            let held = x.iter().filter(|x| **x == k).count() as f64 / x.len() as f64;
            let gap = |v: f64| (part(k, &|y| y <= v) - all(&|y| y <= v)).abs();
            kolmogorov += held * values.iter().map(|&v| gap(v)).fold(0.0, f64::max);
            let area: f64 = values.iter().map(|&v| (part(k, &|y| y == v) - all(&|y| y == v)).abs()).sum();
            delta += held * 0.5 * area;
        }
        (kolmogorov, delta)
    };
    // So many bins that each value of the result has its own.
    let bins = 500;
    let (kolmogorov, delta) = plain(&x, &y);
    let found = measured(&x, &y, bins);
    near(found.kolmogorov, kolmogorov, 1e-12, "kolmogorov");
    near(found.delta, delta, 1e-12, "delta");
    let outcome = Outcome::of(&y, None);
    let order = order_of(&x);
    let classes = Classes::cut(&order, &tie_ends(&x, &order), 64, 4);
    let found = distances(&outcome, &classes, &bin_ends(&outcome, bins), |i| counts[i] as i64);
    let (kolmogorov, delta) = plain(&repeat(&x), &repeat(&y));
    near(found.kolmogorov, kolmogorov, 1e-12, "resampled kolmogorov");
    near(found.delta, delta, 1e-12, "resampled delta");
}

#[test]
fn bins_hold_equal_counts_and_never_its_own() {
    let y: Vec<f64> = (0..103).map(|i| if i < 3 { NEVER } else { f64::from(i) }).collect();
    let outcome = Outcome::of(&y, None);
    let ends: Vec<u32> = (1..=20).map(|k| 5 * k).chain([103]).collect();
    assert_eq!(bin_ends(&outcome, 20), ends);
    // Equal values stay together: 90 zeros, then ten others.
    let y: Vec<f64> = (0..100).map(|i| f64::from((i - 89i32).max(0))).collect();
    assert_eq!(bin_ends(&Outcome::of(&y, None), 20), [90, 95, 100]);
}

#[test]
fn classes_by_hand() {
    let cut = |x: &[f64], by_value, wanted| {
        let order = order_of(x);
        let ends = tie_ends(x, &order);
        let classes = Classes::cut(&order, &ends, by_value, wanted);
        (classes.of_run, classes.counts, doubled_ranks(&order, &ends))
    };
    // Ten into three: 4, 3, 3.
    let x: Vec<f64> = (0..10).rev().map(f64::from).collect();
    let (of_run, counts, _) = cut(&x, 0, 3);
    assert_eq!((of_run, counts), (vec![2, 2, 2, 1, 1, 1, 0, 0, 0, 0], vec![4, 3, 3]));
    let (of_run, counts, ranks) = cut(&[2.0, 0.0, -0.0, 2.0, 5.0, 0.0], 64, 2);
    assert_eq!((of_run, counts), (vec![1, 0, 0, 1, 2, 0], vec![3, 2, 1]));
    assert_eq!(ranks, [9, 4, 4, 9, 12, 4]);
    // Equal counts part equal values, by run; `together` does not: seven of them fill two places and some of the third.
    let x = [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 2.0, 3.0];
    assert_eq!(cut(&x, 0, 2).0, [0, 0, 0, 0, 0, 1, 1, 1, 1]);
    let order = order_of(&x);
    let ends = tie_ends(&x, &order);
    assert_eq!(Classes::together(&order, &ends, 3).counts, [7, 2]);
    assert_eq!(Classes::together(&order, &ends, 2).counts, [7, 2]);
}

/// Labels have classes but no order; a copy of an input is left out of the regressions; links are explained.
#[test]
fn labels_copies_and_links() {
    let u = uniforms(3, 19, Method::Random, 2_000);
    let pick: Vec<f64> = u[2].iter().map(|u| (u * 3.0).floor()).collect();
    // By label 1, 0, 2 added: mean 1, variance 2/3; x1 gives 1/12.
    let y: Vec<f64> = (0..2_000).map(|r| u[0][r] + [1.0, 0.0, 2.0][pick[r] as usize]).collect();
    let mut labels = factor("pick", &pick);
    (labels.labels, labels.discrete) = (vec!["a".into(), "b".into(), "c".into()], true);
    let double: Vec<f64> = u[0].iter().map(|u| 3.0 - 2.0 * u).collect();
    let mut x1 = factor("x1", &u[0]);
    x1.linked = true;
    let mut constant = factor("constant", &u[0]);
    constant.values.fill(0.1 + 0.2);
    let mut broken = factor("broken", &u[1]);
    broken.values[3] = f64::NAN;
    let factors = [labels, x1, factor("double", &double), constant, broken];
    let found = sensitivity(&y, &factors, None, SensitivityWish::default());
    let pick = row(&found, "pick");
    assert_eq!((pick.classes, pick.src, pick.srrc, pick.prcc), (3, None, None, None));
    assert_eq!(pick.spearman, Estimate::alone(Figure::None));
    near(number(&pick.first_order), 8.0 / 9.0, 0.015, "label");
    let (x1, double) = (row(&found, "x1"), row(&found, "double"));
    near(x1.src.unwrap(), 1.0 / 3.0, 0.08, "src beside a copy");
    assert_eq!((double.src, double.prcc), (None, None));
    near(number(&double.spearman), -number(&x1.spearman), 1e-12, "falling copy");
    assert_eq!(row(&found, "constant").first_order, Estimate::alone(Figure::None));
    assert_eq!((row(&found, "constant").src, row(&found, "broken").delta), (None, None));
    for words in
        ["Linked inputs: x1.", "already determine it: double.", "said of broken", "labels have no order"]
    {
        assert!(found.notes.iter().any(|n| n.contains(words)), "{words}: {:?}", found.notes);
    }
    assert!(found.withheld, "{:?}", found.r_squared);
    assert_eq!(found.rows[0].name, "pick");
}

/// Twice the estimate less the resamples' mean lies between half of the raw one and the raw one for no effect,
/// and changes a strong effect little.
#[test]
fn resampling_lowers_the_noise() {
    let u = uniforms(2, 23, Method::Random, 4_096);
    let factors = [factor("x1", &u[0]), factor("x2", &u[1])];
    let found = sensitivity(&u[0], &factors, None, SensitivityWish { bootstrap: Some(50) });
    let inert = row(&found, "x2").kolmogorov.unwrap();
    println!("{found:?}");
    assert!(inert.corrected.unwrap() < 0.8 * inert.value, "{inert:?}");
    let strong = row(&found, "x1").kolmogorov.unwrap();
    near(strong.corrected.unwrap(), strong.value, 0.01, "strong");
    assert!(found.floor.kolmogorov_corrected.unwrap() < 0.8 * found.floor.kolmogorov.unwrap());
}

/// The same bytes for one thread and for three.
#[test]
fn threads_change_nothing() {
    let u = uniforms(6, 29, Method::Sobol, 4_096);
    let y: Vec<f64> = (0..4_096).map(|r| u[0][r] * u[1][r] + u[2][r]).collect();
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let found = pool.install(|| {
            let factors: Vec<Factor> = u.iter().map(|c| factor("x", c)).collect();
            sensitivity(&y, &factors, Some(8), SensitivityWish { bootstrap: Some(5) })
        });
        serde_json::to_string(&found).unwrap()
    };
    assert_eq!(with(1), with(3));
}

/// The 95 % intervals of the first-order index of y = 2 a + b (4/5, 1/5, and 0 for one that does nothing) hold it in
/// at least 91 of 100 of 300 samples: below that less than once in 500 by chance if the coverage is 0.95. For no
/// effect they are wider than need be.
#[test]
fn intervals_of_the_first_order_cover() {
    for (method, replicates) in
        [(Method::Random, None), (Method::LatinHypercube, Some(8)), (Method::Sobol, Some(8))]
    {
        let mut held = [0; 3];
        for seed in 0..300 {
            let u = uniforms(3, seed, method, 1_024);
            let y: Vec<f64> = (0..1_024).map(|r| 2.0 * u[0][r] + u[1][r]).collect();
            let found = ask(&y, &u, replicates);
            for (i, expect) in [0.8, 0.2, 0.0].into_iter().enumerate() {
                let e = &row(&found, &format!("x{}", i + 1)).first_order;
                let end = |f: Option<Figure>| f.unwrap().number().unwrap();
                held[i] += u32::from(end(e.low) <= expect && expect <= end(e.high));
            }
        }
        let shares = held.map(|n| f64::from(n) / 300.0);
        println!("{method:?} {shares:?}");
        assert!(shares.iter().all(|&s| s >= 0.91), "{method:?} {shares:?}");
    }
}

/// A discrete factor's values are its classes, so that nothing is lost within them: y = x + noise with x a fair
/// die (variance 35/12) and the noise uniform on 0 to 6 (variance 3): 35/71. Standard error below 0.006 at 16 384
/// independent runs: five of them.
#[test]
fn a_die_has_six_classes() {
    let u = uniforms(2, 31, Method::Random, 16_384);
    let die: Vec<f64> = u[0].iter().map(|u| (u * 6.0).floor()).collect();
    let y: Vec<f64> = die.iter().zip(&u[1]).map(|(d, u)| d + 6.0 * u).collect();
    let mut factor = factor("die", &die);
    factor.discrete = true;
    let found = sensitivity(&y, &[factor], None, SensitivityWish::default());
    assert_eq!(found.rows[0].classes, 6);
    near(number(&found.rows[0].first_order), 35.0 / 71.0, 0.03, "die");
}
