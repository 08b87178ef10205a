//! Figures made of cash flows and of columns of runs.

use serde_json::Value;

use super::{Check, cases, name, number, numbers};
use crate::analysis::statistics::intervals::rank_interval;
use crate::analysis::statistics::quantiles::quantiles;
use crate::finance::{
    Period, Timing, discounted_payback, first_payback, npv, npv_mid_year, payback, rates_of_return,
};

/// Payback, discounted payback, net present value, rates of return.
pub(super) fn cash_flows() -> Check {
    let mut check =
        Check::new("cash flows", "oracle cash_flows: exact fractions, and a second way", "relative", 1e-9);
    for case in cases(include_str!("../../tests/oracles/cash_flows.json")) {
        if case["inputs"]["yearly"].is_array() {
            cash_flow(&case, &mut check);
        }
    }
    check
}

fn cash_flow(case: &Value, check: &mut Check) {
    let input = &case["inputs"];
    let saving = numbers(&input["yearly"]);
    let (outlay, rate) =
        (number(&input["outlay"]).unwrap_or(f64::NAN), number(&input["rate"]).unwrap_or(f64::NAN));
    let service = input["in_service"].is_array().then(|| numbers(&input["in_service"]));
    let service = service.as_deref();
    let is_mid = input["timing"] == "mid";
    let timing = if is_mid { Timing::MidYear } else { Timing::YearEnd };
    let worth = if is_mid { npv_mid_year(rate, outlay, &saving) } else { npv(rate, outlay, &saving) };
    let all = [
        ("payback", payback(outlay, &saving, service, Period::Year)),
        ("payback_first", first_payback(outlay, &saving, service, Period::Year)),
        ("discounted_payback", discounted_payback(rate, outlay, &saving, service, timing)),
        ("npv", worth),
    ];
    for (key, got) in all {
        check.figure(name(case), got, number(&case["expect"][key]).unwrap_or(f64::NAN));
    }
    if !case["expect"]["irr"].is_array() {
        return;
    }
    let (got, expected) = (rates_of_return(outlay, &saving).rates, numbers(&case["expect"]["irr"]));
    if got.len() != expected.len() {
        check.fault(format!("{}: {} rates of return, not {}", name(case), got.len(), expected.len()));
    }
    for (got, expected) in got.iter().zip(expected) {
        check.figure(name(case), *got, expected);
    }
}

/// Percentiles of runs, of which some are never.
pub(super) fn quantiles_of_runs() -> Check {
    let mut check = Check::new(
        "percentiles of runs",
        "Hyndman and Fan 1996, type 7; oracle output_statistics",
        "relative",
        1e-12,
    );
    for case in cases(include_str!("../../tests/oracles/output_statistics.json")) {
        let input = &case["inputs"];
        if input["values"].is_array() {
            let got = quantiles(&numbers(&input["values"]), &numbers(&input["p"]));
            for (got, expected) in got.into_iter().zip(numbers(&case["expect"]["quantiles"])) {
                check.figure(name(&case), got, expected);
            }
        }
    }
    check
}

/// Ranks between which a percentile lies, whatever the distribution.
pub(super) fn ranks() -> Check {
    let mut check = Check::new(
        "intervals of percentiles",
        "David and Nagaraja 2003; oracle output_statistics",
        "ranks; coverage absolute",
        1e-9,
    );
    for case in cases(include_str!("../../tests/oracles/output_statistics.json")) {
        let (input, expect) = (&case["inputs"], &case["expect"]);
        let (Some(runs), Some(p), Some(confidence)) =
            (input["runs"].as_u64(), number(&input["p"]), number(&input["confidence"]))
        else {
            continue;
        };
        let got = rank_interval(runs, p, confidence);
        let rank = |key: &str| expect[key].as_u64();
        if (got.lower, got.upper) != (rank("lower_rank"), rank("upper_rank")) {
            check.fault(format!("{}: ranks {:?} to {:?}", name(&case), got.lower, got.upper));
        }
        let coverage = number(&expect["coverage"]).unwrap_or(f64::NAN);
        check.apart(name(&case), got.coverage, coverage, (got.coverage - coverage).abs());
    }
    check
}
