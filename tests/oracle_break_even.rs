//! Break-even values against `oracles/break_even.json`: affine runs, and one run
//! whose result is a formula (here a closure).
//!
//! Of the cases of kind "study", the two whose break-even has a closed form are
//! checked through the affine solver at the inputs' own quantiles. "good only in
//! a window" is checked through its curve of chances. None of them is *sampled*
//! here: that is left to the tests of the whole program.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use payspread::analysis::Lever;
use payspread::analysis::statistics::roots::{
    CELLS, affine, is_affine, lever_for_chance, lever_quantiles, levers_of_curve, scan, share_good_at,
};
use serde_json::Value;
use statrs::distribution::{ContinuousCDF, Normal};

fn case(name: &str) -> Value {
    let oracle: Value = serde_json::from_str(include_str!("oracles/break_even.json")).unwrap();
    oracle["cases"].as_array().unwrap().iter().find(|c| c["name"] == name).unwrap().clone()
}

fn figures(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

#[track_caller]
fn close(case: &Value, got: f64, expect: f64) {
    let tolerance = |k| case["tolerance"][k].as_f64().unwrap_or(0.0);
    let allowed = f64::max(tolerance("abs"), tolerance("rel") * expect.abs());
    assert!((got - expect).abs() <= allowed, "{}: {got} for {expect}", case["name"]);
}

#[track_caller]
fn same(case: &Value, got: Lever, expect: &Value) {
    match (got, expect.as_str()) {
        (Lever::Always, Some("always")) | (Lever::Never, Some("never")) => {}
        (Lever::At(x), None) => close(case, x, expect.as_f64().unwrap()),
        _ => panic!("{}: {got:?} for {expect}", case["name"]),
    }
}

#[test]
fn affine_runs() {
    let rising = "price of gas at which each run breaks even";
    let falling = "outlay at which each run breaks even (falling)";
    for (name, good_above) in [(rising, true), (falling, false)] {
        let case = case(name);
        let mut levers = Vec::new();
        for (run, expect) in case["inputs"]["runs"]
            .as_array()
            .unwrap()
            .iter()
            .zip(case["expect"]["per_run"].as_array().unwrap())
        {
            let (c, s) = (run["constant"].as_f64().unwrap(), run["slope"].as_f64().unwrap());
            // Two points well away from the answer.
            let at = |x: f64| (x, c + s * x);
            assert!(is_affine([at(0.0), at(1.0), at(3.0)]));
            let found = affine(at(0.05), at(0.3));
            assert!(found.good_above.is_none_or(|above| above == good_above));
            let lever = found.lever.unwrap();
            same(&case, lever, expect);
            levers.push(lever);
        }
        let got = lever_quantiles(&levers, good_above, &figures(&case["inputs"]["p"]));
        for (got, expect) in got.iter().zip(case["expect"]["quantiles"].as_array().unwrap()) {
            same(&case, got.unwrap(), expect);
        }
        let share = |of: Lever| levers.iter().filter(|&&l| l == of).count() as f64 / levers.len() as f64;
        close(&case, share(Lever::Always), case["expect"]["share_always"].as_f64().unwrap());
        close(&case, share(Lever::Never), case["expect"]["share_never"].as_f64().unwrap());
        for (x, e) in
            figures(&case["inputs"]["lever_at"]).iter().zip(figures(&case["expect"]["share_good_at"]))
        {
            close(&case, share_good_at(&levers, good_above, *x), e);
        }
    }
}

/// The formulas of the cases, written out.
fn formula(text: &str) -> fn(f64) -> f64 {
    match text {
        "2600*(1 - exp(-x/150)) - 4.0*x - 700" => {
            |x| 2600.0 * (1.0 - libm::exp(-x / 150.0)) - 4.0 * x - 700.0
        }
        "1500*(1 - exp(-x/150)) - 4.0*x - 700" => {
            |x| 1500.0 * (1.0 - libm::exp(-x / 150.0)) - 4.0 * x - 700.0
        }
        "150*(1 - (1 + x)^-12)/x - 1000" => |x| 150.0 * (1.0 - libm::pow(1.0 + x, -12.0)) / x - 1000.0,
        "ln(x) + 6 - 0.002*x" => |x| libm::log(x) + 6.0 - 0.002 * x,
        "x^3 - 6*x^2 + 11*x - 6.2" => |x| x * x * x - 6.0 * x * x + 11.0 * x - 6.2,
        _ => panic!("no such formula: {text}"),
    }
}

#[test]
fn one_run() {
    let oracle: Value = serde_json::from_str(include_str!("oracles/break_even.json")).unwrap();
    let mut checked = 0;
    for case in oracle["cases"].as_array().unwrap().iter().filter(|c| c["inputs"]["kind"] == "one run") {
        let f = formula(case["inputs"]["result"].as_str().unwrap());
        let end = |k: &str| case["inputs"][k].as_f64().unwrap();
        let found = scan(f, end("from"), end("to"), CELLS).unwrap();
        let roots = figures(&case["expect"]["roots"]);
        assert_eq!(found.roots.len(), roots.len(), "{}: {found:?}", case["name"]);
        found.roots.iter().zip(&roots).for_each(|(&g, &e)| close(case, g, e));
        let good: Vec<bool> =
            case["expect"]["between"].as_array().unwrap().iter().map(|side| side == "good").collect();
        assert_eq!(found.good, good, "{}", case["name"]);
        checked += 1;
    }
    assert_eq!(checked, 6);
}

/// price kwh 11.2 = cost, so the break-even at the p-quantile of ln(cost/kwh)
/// (normal: the difference of two) is the p-quantile of the break-even.
#[test]
fn lognormal_cost_and_yield_in_closed_form() {
    let case = case("break-even price, lognormal cost and yield");
    let z = Normal::standard();
    let (g1, g2) = (libm::log(1.25), libm::log(1.4));
    let sd = (g1 * g1 + g2 * g2).sqrt();
    let price = |p: f64| {
        let ratio = 900.0 / 1100.0 * libm::exp(sd * z.inverse_cdf(p));
        let margin = |price: f64| (price, price * 11.2 - ratio);
        affine(margin(0.0), margin(1.0)).lever.unwrap()
    };
    let check = |got: Lever, expect: f64| match got {
        Lever::At(x) => assert!((x - expect).abs() <= 1e-8 * expect, "{x} for {expect}"),
        _ => panic!("{got:?} for {expect}"),
    };
    let ps = figures(&case["inputs"]["p"]);
    for (p, expect) in ps.iter().zip(figures(&case["expect"]["break_even_quantiles"])) {
        check(price(*p), expect);
    }
    // A fine even sample of the break-evens: its quantiles are the levers for a chance.
    let n = 20_001;
    let levers: Vec<Lever> = (0..n).map(|i| price((f64::from(i) + 0.5) / f64::from(n))).collect();
    for wanted in case["expect"]["lever_for_chance"].as_array().unwrap() {
        let (chance, expect) = (wanted["chance"].as_f64().unwrap(), wanted["lever"].as_f64().unwrap());
        let got = lever_for_chance(&levers, true, chance).unwrap();
        let at = |l: Lever| if let Lever::At(x) = l { x } else { panic!("{l:?}") };
        assert!((at(got.lever) - expect).abs() < 1e-3 * expect);
        assert!(at(got.low.unwrap()) < expect && expect < at(got.high.unwrap()));
    }
    for at in case["expect"]["chance_at"].as_array().unwrap() {
        let got = share_good_at(&levers, true, at["lever"].as_f64().unwrap());
        assert!((got - at["chance"].as_f64().unwrap()).abs() < 1e-4);
    }
}

#[test]
fn price_against_daily_litres_in_closed_form() {
    let case = case("break-even price against daily litres");
    let z = Normal::standard();
    for point in case["expect"]["curve"].as_array().unwrap() {
        let litres = point["other"].as_f64().unwrap();
        for (p, expect) in figures(&case["inputs"]["p"]).iter().zip(figures(&point["quantiles"])) {
            let cost = 950.0 * libm::exp(libm::log(1.3) * z.inverse_cdf(*p));
            let margin =
                |price: f64| (price, price * 1900.0 * (1.0 - libm::exp(-litres / 120.0)) * 10.5 - cost);
            match affine(margin(0.0), margin(1.0)).lever {
                Some(Lever::At(x)) => assert!((x - expect).abs() <= 1e-8 * expect, "{x} for {expect}"),
                other => panic!("{other:?}"),
            }
        }
    }
}

/// P(4 - (x-5)^2 + e >= 0) = Phi((4 - (x-5)^2)/1.5) on a fine grid of levers.
#[test]
fn a_window_has_two_levers_for_one_chance() {
    let case = case("good only in a window: two levers for one chance");
    let z = Normal::standard();
    let curve: Vec<(f64, f64)> = (0..=10_000)
        .map(|i| {
            let x = f64::from(i) / 1000.0;
            (x, z.cdf((4.0 - (x - 5.0) * (x - 5.0)) / 1.5))
        })
        .collect();
    for wanted in case["expect"]["levers_for_chance"].as_array().unwrap() {
        let (levers, best) = levers_of_curve(&curve, wanted["chance"].as_f64().unwrap()).unwrap();
        let expect = figures(&wanted["levers"]);
        assert_eq!(levers.len(), expect.len());
        levers.iter().zip(&expect).for_each(|(g, e)| assert!((g - e).abs() < 1e-5, "{g} for {e}"));
        assert_eq!(best.0, case["expect"]["best_lever"].as_f64().unwrap());
        assert!((best.1 - case["expect"]["best_chance"].as_f64().unwrap()).abs() < 1e-9);
    }
}

#[test]
fn falling_levers_and_ends() {
    let levers = [Lever::Never, Lever::At(4.0), Lever::At(6.0), Lever::Always];
    // Good below: never counts as below every lever, always as above.
    let got = lever_quantiles(&levers, false, &[0.0, 0.5, 1.0]);
    assert_eq!(got, [Some(Lever::Never), Some(Lever::At(5.0)), Some(Lever::Always)]);
    // Three of four runs are good at 4 and below, as P(good at x) = P(break-even >= x).
    assert_eq!(share_good_at(&levers, false, 4.0), 0.75);
    assert_eq!(lever_quantiles(&[], true, &[0.5]), [None]);
    assert_eq!(lever_quantiles(&[Lever::Always, Lever::Never], true, &[0.5]), [Some(Lever::Never)]);
    assert_eq!(lever_quantiles(&[Lever::Always, Lever::Never], false, &[0.5]), [Some(Lever::Never)]);
}
