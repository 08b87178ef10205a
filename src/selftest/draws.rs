//! Random numbers, low-discrepancy points and quantiles of distributions.

use serde_json::Value as Json;

use super::{Check, cases, name, number, numbers};
use crate::sampling::philox::block;
use crate::sampling::sobol::Directions;
use crate::sampling::{Distribution, Value};

/// The counter-based generator for all zeros and all ones, as published with the method.
pub(super) fn philox() -> Check {
    let mut check = Check::new(
        "random numbers",
        "Salmon et al. 2011, known answers of the companion library",
        "bits",
        0.0,
    );
    let ones = u32::MAX;
    let known = [
        ([0; 2], [0; 4], [0x6627_e8d5, 0xe169_c58d, 0xbc57_ac4c, 0x9b00_dbd8_u32]),
        ([ones; 2], [ones; 4], [0x408f_276d, 0x41c8_3b0e, 0xa20b_c7c6, 0x6d54_51fd]),
    ];
    for (key, counter, expected) in known {
        for (got, expected) in block(key, counter).into_iter().zip(expected) {
            check.figure("a block", f64::from(got), f64::from(expected));
        }
    }
    check
}

/// Points of the sequence before it is scrambled.
pub(super) fn sobol() -> Check {
    let mut check = Check::new("Sobol points", "Joe and Kuo 2008; oracle sobol_points", "bits", 0.0);
    for case in cases(include_str!("../../tests/oracles/sobol_points.json")) {
        let input = &case["inputs"];
        let dimension = input["dimension"].as_u64().and_then(|d| u16::try_from(d).ok()).unwrap_or(0);
        let Some(directions) = Directions::new(dimension) else {
            check.fault(format!("{}: no such dimension", name(&case)));
            continue;
        };
        let expected = numbers(&case["expect"]["times_2_to_32"]);
        for (index, expected) in numbers(&input["index"]).into_iter().zip(expected) {
            check.figure(name(&case), f64::from(directions.point(index as u32)), expected);
        }
    }
    check
}

/// Quantiles, mean and standard deviation of every kind.
pub(super) fn distributions() -> Check {
    let mut check = Check::new(
        "distributions",
        "oracle distributions: 40 digits, and a second library",
        "relative",
        1e-9,
    );
    for case in cases(include_str!("../../tests/oracles/distributions.json")) {
        let Some(law) = build(&case["inputs"]["distribution"]) else {
            check.fault(format!("{}: cannot be built", name(&case)));
            continue;
        };
        let expect = &case["expect"];
        for (p, q) in numbers(&case["inputs"]["p"]).into_iter().zip(numbers(&expect["quantiles"])) {
            check.figure(name(&case), law.quantile_at(p), q);
        }
        for (key, got) in [("mean", law.mean()), ("sd", law.sd())] {
            if let Some(expected) = number(&expect[key]) {
                check.figure(name(&case), got, expected);
            }
        }
    }
    check
}

/// A distribution as an oracle writes it.
fn build(json: &Json) -> Option<Distribution> {
    let map = json.as_object()?;
    let (kind, given) = map.iter().find(|(key, _)| *key != "truncate")?;
    let parameters: Vec<(String, Value)> = match given {
        Json::Object(keys) => {
            keys.iter().map(|(key, json)| Some((key.clone(), value(json)?))).collect::<Option<_>>()?
        }
        parts => vec![("parts".to_owned(), value(parts)?)],
    };
    let cut = map.get("truncate").map(|t| (t["min"].as_f64(), t["max"].as_f64()));
    Distribution::build(kind, &parameters, cut).ok()
}

fn value(json: &Json) -> Option<Value> {
    match json {
        Json::Array(parts) if parts.iter().all(Json::is_object) => {
            let part = |part: &Json| {
                let mut own = part.as_object()?.clone();
                let weight = own.remove("weight")?.as_f64()?;
                Some((weight, build(&Json::Object(own))?))
            };
            Some(Value::Parts(parts.iter().map(part).collect::<Option<_>>()?))
        }
        Json::Array(_) => Some(Value::List(numbers(json))),
        Json::String(word) => Some(Value::Word(word.clone())),
        _ => json.as_f64().map(Value::Number),
    }
}
