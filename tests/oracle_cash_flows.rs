//! Payback, present values and rates of return against `oracles/cash_flows.json`,
//! for one run and as a block of runs.
#![expect(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use payspread::finance::{
    self, Period, Timing, columns, cumulative_cash, discounted_payback, first_payback, npv, npv_mid_year,
    payback, pays_back, rates_of_return,
};
use serde_json::Value;

fn cases() -> Vec<Value> {
    let oracle: Value = serde_json::from_str(include_str!("oracles/cash_flows.json")).unwrap();
    oracle["cases"].as_array().unwrap().clone()
}

fn numbers(v: &Value) -> Option<Vec<f64>> {
    v.as_array().map(|a| a.iter().map(|x| x.as_f64().unwrap()).collect())
}

#[track_caller]
fn close(case: &Value, key: &str, got: f64) {
    let expect = &case["expect"][key];
    if expect == "never" {
        assert_eq!(got, f64::INFINITY, "{}: {key}", case["name"]);
        return;
    }
    let expect = expect.as_f64().unwrap_or_else(|| panic!("{}: no {key}", case["name"]));
    let tolerance = |k| case["tolerance"][k].as_f64().unwrap_or(0.0);
    let allowed = f64::max(tolerance("abs"), tolerance("rel") * expect.abs());
    assert!((got - expect).abs() <= allowed, "{}: {key} {got} for {expect}", case["name"]);
}

#[test]
fn yearly_cases() {
    let mut checked = 0;
    for case in cases().iter().filter(|c| c["inputs"]["yearly"].is_array()) {
        let input = &case["inputs"];
        let saving = numbers(&input["yearly"]).unwrap();
        let outlay = input["outlay"].as_f64().unwrap();
        let rate = input["rate"].as_f64().unwrap();
        let service = numbers(&input["in_service"]);
        let service = service.as_deref();
        let timing = if input["timing"] == "mid" { Timing::MidYear } else { Timing::YearEnd };

        close(case, "payback", payback(outlay, &saving, service, Period::Year));
        close(case, "payback_first", first_payback(outlay, &saving, service, Period::Year));
        close(case, "discounted_payback", discounted_payback(rate, outlay, &saving, service, timing));
        let value = match timing {
            Timing::YearEnd => npv(rate, outlay, &saving),
            Timing::MidYear => npv_mid_year(rate, outlay, &saving),
        };
        close(case, "npv", value);
        let cash = cumulative_cash(outlay, &saving);
        close(case, "cumulative_at_end", *cash.last().unwrap());
        let ups = cash.windows(2).filter(|w| w[0] < 0.0 && w[1] >= 0.0).count();
        close(case, "crossings_up", ups as f64);
        if let Some(expect) = case["expect"]["pays_back_in_service"].as_bool() {
            assert_eq!(pays_back(outlay, &saving) == 1.0, expect, "{}", case["name"]);
        }
        if let Some(expect) = numbers(&case["expect"]["irr"]) {
            let got = rates_of_return(outlay, &saving).rates;
            assert_eq!(got.len(), expect.len(), "{}: {got:?} for {expect:?}", case["name"]);
            for (g, e) in got.iter().zip(&expect) {
                assert!((g - e).abs() <= 1e-9, "{}: {g} for {e}", case["name"]);
            }
        }
        checked += 1;
    }
    assert_eq!(checked, 18);
}

#[test]
fn the_same_as_a_block_of_runs() {
    const RUNS: usize = 5;
    for case in cases().iter().filter(|c| c["inputs"]["yearly"].is_array()) {
        let input = &case["inputs"];
        let column = |x: f64| vec![x; RUNS];
        let saving: Vec<Vec<f64>> = numbers(&input["yearly"]).unwrap().into_iter().map(column).collect();
        let saving: Vec<&[f64]> = saving.iter().map(Vec::as_slice).collect();
        let service: Option<Vec<Vec<f64>>> =
            numbers(&input["in_service"]).map(|w| w.into_iter().map(column).collect());
        let service: Option<Vec<&[f64]>> = service.as_ref().map(|w| w.iter().map(Vec::as_slice).collect());
        let service = service.as_deref();
        let outlay = column(input["outlay"].as_f64().unwrap());
        let rate = column(input["rate"].as_f64().unwrap());
        let timing = if input["timing"] == "mid" { Timing::MidYear } else { Timing::YearEnd };
        let mut scratch = vec![f64::NAN; columns::SCRATCH_COLUMNS * RUNS];
        let mut out = vec![f64::NAN; RUNS];
        let all = |key, out: &[f64]| out.iter().for_each(|&x| close(case, key, x));

        columns::payback(&outlay, &saving, service, Period::Year, &mut scratch, &mut out);
        all("payback", &out);
        columns::first_payback(&outlay, &saving, service, Period::Year, &mut scratch, &mut out);
        all("payback_first", &out);
        columns::discounted_payback(&rate, &outlay, &saving, service, timing, &mut scratch, &mut out);
        all("discounted_payback", &out);
        columns::npv(&rate, &outlay, &saving, timing, &mut scratch, &mut out);
        all("npv", &out);
    }
}

#[test]
fn monthly_case() {
    let cases = cases();
    let case = cases.iter().find(|c| c["inputs"]["monthly_each_year"].is_array()).unwrap();
    let outlay = case["inputs"]["outlay"].as_f64().unwrap();
    let each = numbers(&case["inputs"]["monthly_each_year"]).unwrap();
    let years = case["inputs"]["years"].as_u64().unwrap() as usize;
    let monthly: Vec<f64> = std::iter::repeat_n(&each, years).flatten().copied().collect();
    let yearly = vec![each.iter().sum::<f64>(); years];
    close(case, "payback_from_months", payback(outlay, &monthly, None, Period::Month));
    close(case, "payback_from_years", payback(outlay, &yearly, None, Period::Year));
}

#[test]
fn life_and_service_agree_with_the_case_of_a_part_year() {
    let service: Vec<f64> = (0..9).map(|t| finance::in_service(7.4, t, Period::Year)).collect();
    let expect = [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.4, 0.0];
    assert!(service.iter().zip(expect).all(|(g, e)| (g - e).abs() < 1e-12), "{service:?}");
}
