//! A result by groups and by tenths of a factor: figures by hand and closed forms.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test: no bytes are promised"
)]

use payspread::analysis::factors::Factor;
use payspread::analysis::sensitivity::{TenthStatistic, by_group, tenths};
use payspread::analysis::statistics::Rule;
use payspread::analysis::{Estimate, Figure, Interval, ResultKind};
use payspread::sampling::{Design, Distribution, InputSpec, Method, Plan, Scratch, Value};

const NEVER: f64 = f64::INFINITY;

fn factor(name: &str, values: Vec<f64>) -> Factor {
    let (label, unit, labels) = (name.into(), "m".into(), Vec::new());
    Factor { name: name.into(), label, unit, values, labels, discrete: false, linked: false }
}

fn uniforms(d: usize, seed: u64, method: Method, runs: usize) -> Vec<Vec<f64>> {
    let ends = [("min".to_owned(), Value::Number(0.0)), ("max".to_owned(), Value::Number(1.0))];
    let spec = |i| InputSpec {
        name: format!("x{i}"),
        distribution: Distribution::build("uniform", &ends, None).unwrap(),
    };
    let specs: Vec<InputSpec> = (0..d).map(spec).collect();
    let plan = Plan::new(&specs, &[], &[], Design::new(seed, method, 8, runs as u64), &[]).unwrap();
    let mut out = vec![0.0; d * runs];
    plan.draw(&[], 0, runs, &mut out, runs, &mut Scratch::new());
    out.chunks(runs).map(<[f64]>::to_vec).collect()
}

fn number(estimate: &Estimate) -> f64 {
    estimate.value.number().unwrap()
}

fn ends(estimate: &Estimate) -> (f64, f64) {
    (estimate.low.unwrap().number().unwrap(), estimate.high.unwrap().number().unwrap())
}

#[test]
fn groups_by_hand() {
    let mut roof = factor("roof", vec![0.0, 2.0, 0.0, 2.0, 0.0, 2.0, 0.0, 1.0, 2.0]);
    (roof.labels, roof.discrete) = (vec!["flat".into(), "steep".into(), "none".into()], true);
    let years = [1.0, 4.0, 2.0, NEVER, 3.0, 6.0, f64::NAN, 9.0, 5.0];
    let found = by_group(&years, ResultKind::Years, &roof, Some(Rule::AtMost(4.0)), None);
    assert_eq!((found.thirds, found.without_value), (false, 1));
    let labels: Vec<&str> = found.groups.iter().map(|g| g.label.as_str()).collect();
    assert_eq!(labels, ["flat", "steep", "none"]);
    let (flat, none) = (&found.groups[0], &found.groups[2]);
    assert_eq!((flat.runs, flat.share, none.runs, none.share), (3, 3.0 / 8.0, 4, 0.5));
    // Of 1, 2, 3: mean 2, sd 1; Student's t with 2 degrees of freedom is 4.302653.
    let mean = flat.mean.as_ref().unwrap();
    assert_eq!(number(mean), 2.0);
    assert!((ends(mean).1 - (2.0 + 4.302_653 / 3f64.sqrt())).abs() < 1e-5, "{mean:?}");
    assert_eq!(flat.never.unwrap().value, 0.0);
    // Of 4, 5, 6, never: the median lies between 5 and 6, P90 beside never.
    assert!(none.mean.is_none());
    let percentiles: Vec<Figure> = none.percentiles.iter().map(|p| p.estimate.value).collect();
    assert_eq!(percentiles[1..], [Figure::Number(5.5), Figure::Never]);
    assert_eq!((none.never.unwrap().value, none.success.unwrap().value), (0.25, 0.25));
    assert_eq!(none.success.unwrap().interval, Interval::Wilson);
    // Yes or no: no mean, and yes is the success.
    let yes = years.map(|y| f64::from(u8::from(y == NEVER)));
    let found = by_group(&yes, ResultKind::YesNo, &roof, None, None);
    assert_eq!((found.groups[2].mean.is_none(), found.groups[2].percentiles.len()), (true, 0));
    assert_eq!((found.groups[2].success.unwrap().value, found.groups[2].never), (0.25, None));
}

/// y = x + noise of x uniform: means of the thirds are 1/6, 1/2, 5/6, each within its interval (t over eight
/// replicates; seed fixed, 1 in 7 by chance that one of three is missed). Replicates of the sample know x better
/// than independent runs do.
#[test]
fn thirds_of_a_uniform() {
    let u = uniforms(2, 3, Method::LatinHypercube, 6_000);
    let y: Vec<f64> = (0..6_000).map(|r| u[0][r] + 0.02 * (u[1][r] - 0.5)).collect();
    let x = factor("x", u[0].clone());
    let found = by_group(&y, ResultKind::Number, &x, Some(Rule::AtLeast(0.5)), Some(8));
    let alone = by_group(&y, ResultKind::Number, &x, Some(Rule::AtLeast(0.5)), None);
    assert!(found.thirds);
    let labels: Vec<&str> = found.groups.iter().map(|g| g.label.as_str()).collect();
    assert_eq!(labels, ["lowest third", "middle third", "highest third"]);
    for ((group, other), expect) in found.groups.iter().zip(&alone.groups).zip([1.0 / 6.0, 0.5, 5.0 / 6.0]) {
        let mean = group.mean.as_ref().unwrap();
        let (low, high) = ends(mean);
        assert_eq!((group.runs, mean.interval), (2_000, Interval::Replicates));
        assert!(low <= expect && expect <= high, "{mean:?} for {expect}");
        assert!((number(mean) - expect).abs() < 0.002, "{mean:?} for {expect}");
        let independent = other.mean.as_ref().unwrap();
        assert!((number(mean) - number(independent)).abs() < 1e-12);
        assert_eq!(independent.interval, Interval::StandardError);
        assert!(high - low < 0.5 * (ends(independent).1 - ends(independent).0));
    }
    assert!((found.groups[0].to - 1.0 / 3.0).abs() < 0.002 && found.groups[0].to < found.groups[1].from);
    assert_eq!(found.groups[0].success.unwrap().value, 0.0);
    assert_eq!(found.groups[2].success.unwrap().value, 1.0);
    assert!((found.groups[1].success.unwrap().value - 0.5).abs() < 0.03);
}

/// More values than groups: thirds that part no value.
#[test]
fn many_values_become_thirds() {
    let mut x = factor("x", (0..130).map(|i| f64::from(i % 13)).collect());
    x.discrete = true;
    let found = by_group(&x.values, ResultKind::Number, &x, None, None);
    // 130 runs, ten of each value: thirds end at run 44 (value 4) and 87 (value 8).
    let bounds: Vec<(f64, f64)> = found.groups.iter().map(|g| (g.from, g.to)).collect();
    assert_eq!(bounds, [(0.0, 4.0), (5.0, 8.0), (9.0, 12.0)]);
    x.values.iter_mut().for_each(|x| *x = x.min(11.0));
    let found = by_group(&x.values.clone(), ResultKind::Number, &x, None, None);
    assert_eq!((found.thirds, found.groups.len(), found.groups[11].label.as_str()), (false, 12, "11"));
}

/// y = 3 a - b of uniforms: means in the tenths are 3/20 - 1/2 and 57/20 - 1/2 for a, 3/2 - 1/20 and 3/2 - 19/20 for b.
/// Standard errors are sqrt(1/12)/sqrt(1600) = 0.007 and 3 times that for b, less under the hypercube: five of them.
#[test]
fn tenths_of_a_sum() {
    for (method, replicates) in [(Method::Random, None), (Method::LatinHypercube, Some(8))] {
        let u = uniforms(3, 9, method, 16_000);
        let y: Vec<f64> = (0..16_000).map(|r| 3.0 * u[0][r] - u[1][r]).collect();
        let factors: Vec<Factor> =
            ["a", "b", "inert"].iter().zip(&u).map(|(name, u)| factor(name, u.clone())).collect();
        let found = tenths(&y, ResultKind::Number, &factors, replicates);
        assert_eq!(found.statistic, TenthStatistic::Mean);
        let names: Vec<&str> = found.rows.iter().map(|r| r.name.as_str()).collect();
        assert_eq!(names, ["a", "b", "inert"]);
        assert!((number(&found.all) - 1.0).abs() < 0.035);
        for (row, (low, high, error)) in
            found.rows.iter().zip([(-0.35, 2.35, 0.036), (1.45, 0.55, 0.11), (1.0, 1.0, 0.115)])
        {
            assert!((number(&row.low.result) - low).abs() < error, "{row:?}");
            assert!((number(&row.high.result) - high).abs() < error, "{row:?}");
            assert!((row.difference.unwrap() - (high - low)).abs() < 2.0 * error);
            assert_eq!((row.low.runs, row.high.runs), (1_600, 1_600));
            assert!((row.low.to - 0.1).abs() < 0.01 && (row.high.from - 0.9).abs() < 0.01);
        }
    }
}

/// The intervals of the mean in the lowest tenth hold it in about 95 of 100 samples: 400 samples, binomial standard
/// error 0.011; below 0.91 or above 0.99 less than once in 1000 by chance if the coverage is 0.95.
#[test]
fn intervals_of_tenths_cover() {
    for (method, replicates) in
        [(Method::Random, None), (Method::LatinHypercube, Some(8)), (Method::Sobol, Some(8))]
    {
        let mut held = 0;
        for seed in 0..400 {
            let u = uniforms(2, seed, method, 2_048);
            let y: Vec<f64> = (0..2_048).map(|r| u[0][r] + u[1][r]).collect();
            let found = tenths(&y, ResultKind::Number, &[factor("a", u[0].clone())], replicates);
            let (low, high) = ends(&found.rows[0].low.result);
            held += usize::from(low <= 0.55 && 0.55 <= high);
        }
        let share = f64::from(held as u32) / 400.0;
        println!("{method:?} {share}");
        assert!((0.91..0.995).contains(&share), "{method:?} {share}");
    }
}

#[test]
fn tenths_with_never_shares_and_labels() {
    let u = uniforms(2, 21, Method::Random, 4_000);
    let years: Vec<f64> = (0..4_000).map(|r| if u[0][r] > 0.6 { NEVER } else { 10.0 * u[0][r] }).collect();
    let mut labels =
        factor("kind", u[0].iter().map(|u| if *u < 0.02 { 3.0 } else { (u * 3.0).floor() }).collect());
    (labels.discrete, labels.labels) = (true, ["a", "b", "c", "rare"].map(Into::into).to_vec());
    let factors =
        [factor("b", u[1].clone()), factor("a", u[0].clone()), labels, factor("same", vec![1.0; 4_000])];
    let found = tenths(&years, ResultKind::Years, &factors, None);
    assert_eq!(found.statistic, TenthStatistic::Median);
    let names: Vec<&str> = found.rows.iter().map(|r| r.name.as_str()).collect();
    assert_eq!(names, ["a", "kind", "b"], "an end at never first; a constant has no row");
    let a = &found.rows[0];
    // The median of the lowest tenth of a is 10 x 0.05; the highest tenth is never.
    assert!((number(&a.low.result) - 0.5).abs() < 0.08, "{a:?}");
    assert_eq!((a.high.result.value, a.difference), (Figure::Never, None));
    // "rare" holds 2 % of the runs, less than a tenth, though its result is the least.
    let kind = &found.rows[1];
    assert_eq!((kind.low.word.as_deref(), kind.high.word.as_deref()), (Some("a"), Some("c")));
    assert!(found.notes.iter().any(|n| n.contains("medians")));
    let yes: Vec<f64> = years.iter().map(|y| f64::from(u8::from(*y < NEVER))).collect();
    let found = tenths(&yes, ResultKind::YesNo, &factors, Some(8));
    assert_eq!(found.statistic, TenthStatistic::Share);
    assert!((number(&found.all) - 0.6).abs() < 0.04);
    let a = found.rows.iter().find(|r| r.name == "a").unwrap();
    assert_eq!((number(&a.low.result), number(&a.high.result), a.difference), (1.0, 0.0, Some(-1.0)));
}
