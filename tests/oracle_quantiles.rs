//! Inputs by percentiles or observed values, against known answers.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test")]

use payspread::sampling::{Distribution, ParameterError, Value};
use serde_json::Value as Json;

fn numbers(json: &Json) -> Vec<f64> {
    json.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn number(json: &Json) -> f64 {
    json.as_f64().unwrap()
}

fn build(inputs: &Json) -> Result<Distribution, ParameterError> {
    let given = &inputs["quantiles"];
    // The file gives probabilities; a study gives keys such as p2.5.
    let key = |p: &f64| {
        let percent = format!("{:.6}", 100.0 * p);
        format!("p{}", percent.trim_end_matches('0').trim_end_matches('.'))
    };
    let points = numbers(&given["p"]);
    let mut parameters: Vec<(String, Value)> =
        points.iter().map(key).zip(numbers(&given["x"]).into_iter().map(Value::Number)).collect();
    for end in ["min", "max", "terms"] {
        if given[end].is_number() {
            parameters.push((end.to_owned(), Value::Number(number(&given[end]))));
        }
    }
    if let Some(shape) = inputs["shape"].as_str() {
        parameters.push(("shape".to_owned(), Value::Word(shape.to_owned())));
    }
    Distribution::build("quantiles", &parameters, None)
}

fn close(case: &Json, what: &str, got: f64, expect: f64) {
    let (rel, abs) = (number(&case["tolerance"]["rel"]), number(&case["tolerance"]["abs"]));
    let near = (got - expect).abs() <= abs.max(rel * expect.abs());
    assert!(near, "{}: {what} is {got}, not {expect}", case["name"]);
}

fn check_quantiles(case: &Json, d: &Distribution, expect: &Json) {
    for (p, q) in numbers(&case["inputs"]["p"]).into_iter().zip(numbers(expect)) {
        close(case, &format!("quantile {p}"), d.quantile_at(p), q);
        if p > 0.0 && p < 1.0 && !d.is_discrete() {
            let back = d.cdf(q);
            assert!((back - p).abs() <= 1e-9, "{}: cdf({q}) is {back}, not {p}", case["name"]);
        }
    }
}

#[test]
fn known_answers() {
    let all: Json = serde_json::from_str(include_str!("oracles/quantile_specified.json")).unwrap();
    let mut seen = 0;
    for case in all["cases"].as_array().unwrap() {
        let (inputs, expect) = (&case["inputs"], &case["expect"]);
        seen += 1;
        if inputs["samples"].is_array() {
            for (shape, key) in [("line", "interpolated_type_7"), ("step", "step")] {
                let values = Value::List(numbers(&inputs["samples"]));
                let parameters = [("values".into(), values), ("shape".into(), Value::Word(shape.into()))];
                let d = Distribution::build("samples", &parameters, None).unwrap();
                check_quantiles(case, &d, &expect[key]);
                assert!(d.cautions().iter().any(|c| c.id == "few-values"));
            }
            continue;
        }
        let built = build(inputs);
        if expect["feasible"] == false {
            let error = built.unwrap_err();
            assert!(error.message.contains("would fall"), "{error}");
            assert!(error.hint.contains("straight"), "{error}");
            continue;
        }
        let d = built.unwrap();
        check_quantiles(case, &d, &expect["quantiles"]);
        for (key, got) in [("mean", d.mean()), ("sd", d.sd())] {
            if expect[key].is_number() {
                close(case, key, got, number(&expect[key]));
            }
        }
    }
    assert_eq!(seen, 12);
}

/// Three terms rise everywhere iff the median lies between 16.66 % and 83.34 % of the way (Keelin 2016).
#[test]
fn the_limit_of_three_percentiles() {
    let build = |p50: f64| {
        let points = [("p10", 0.0), ("p50", p50), ("p90", 100.0)];
        let parameters: Vec<(String, Value)> =
            points.iter().map(|(k, x)| ((*k).to_owned(), Value::Number(*x))).collect();
        Distribution::build("quantiles", &parameters, None)
    };
    for (p50, feasible) in [(16.6, false), (16.7, true), (83.3, true), (83.4, false)] {
        assert_eq!(build(p50).is_ok(), feasible, "{p50}");
    }
    let hint = build(90.0).unwrap_err().hint;
    assert!(hint.starts_with("`p50` must lie between 16.66 and 83.34;"), "{hint}");
}

/// Of 5, 5, 5, 6, 7 half lies at 5 in straight lines between the order statistics: a cut at 5 keeps it.
#[test]
fn a_cut_keeps_the_weight_of_its_own_value() {
    let values = || vec![("values".to_owned(), Value::List(vec![5.0, 5.0, 5.0, 6.0, 7.0]))];
    let cut = Distribution::build("samples", &values(), Some((Some(5.0), None))).unwrap();
    assert_eq!(cut.quantile_at(0.4), 5.0);
    assert_eq!(cut.quantile_at(0.75), 6.0);
    let parts = vec![
        (
            1.0,
            Distribution::build("discrete", &[("values".to_owned(), Value::List(vec![2.0]))], None).unwrap(),
        ),
        (
            1.0,
            Distribution::build(
                "uniform",
                &[("min".to_owned(), Value::Number(0.0)), ("max".to_owned(), Value::Number(4.0))],
                None,
            )
            .unwrap(),
        ),
    ];
    // Half at 2, a quarter on either side: from 2 up, two thirds of what is left lie at 2.
    let parts = [("parts".to_owned(), Value::Parts(parts))];
    let cut = Distribution::build("mixture", &parts, Some((Some(2.0), None))).unwrap();
    assert_eq!(cut.quantile_at(0.6), 2.0);
    assert!((cut.quantile_at(5.0 / 6.0) - 3.0).abs() < 1e-9);
}
