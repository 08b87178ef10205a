//! Real and nominal money: known answers, and one study written in each money.
//!
//! The outlay is paid at the start of the first year, the amounts of a year at its end (`npv`). So the price level of year t
//! is (1 + i_0) .. (1 + i_t), and money is that of the start. Were the level 1 in the first year, as its own prices, the
//! savings of a nominal writing would come out too small by one year's inflation.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod naive;

use std::collections::BTreeSet;
use std::sync::Arc;

use naive::sample::{Laid, draw, model_of, run_all};
use payspread::engine::program::Program;
use payspread::model::Model;
use payspread::model::base::base_values;
use serde_json::Value as Json;

const RUNS: usize = 500;

fn model(top: &str, body: &str) -> Model {
    let text = format!(
        "title = \"t\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 12\n{top}[sampling]\nruns = 512\n{body}\n\
         [results.answer]\nformula = \"1\"\n"
    );
    model_of(&text).unwrap_or_else(|errors| panic!("{errors}\n{text}"))
}

fn base(model: &Model, name: &str) -> Vec<f64> {
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let laid = Laid::new(model, &plan, &BTreeSet::new());
    let values = base_values(&laid.low, model, &plan);
    laid.sheet.nodes(name).iter().map(|id| values[id.index()]).collect()
}

/// The one value of a name in each run.
fn runs(model: &Model, name: &str) -> Vec<f64> {
    let plan = Arc::new(model.plan(model.design()).unwrap());
    let laid = Laid::new(model, &plan, &BTreeSet::new());
    let program = Program::of_runs(&laid.low.graph, &laid.sheet.nodes(name));
    run_all(&program, &laid.leaves(&draw(&plan, 0, RUNS), RUNS), RUNS, 0, 64).remove(0)
}

fn close(what: &str, got: f64, wanted: f64, rel: f64) {
    assert!((got - wanted).abs() <= rel * wanted.abs(), "{what}: {got}, not {wanted}");
}

const REAL: &str = "prices = \"real\"\ninflation = \"inflation\"\n";
const NOMINAL: &str = "prices = \"nominal\"\ninflation = \"inflation\"\n";

#[test]
fn known_answers() {
    let json: Json = serde_json::from_str(include_str!("oracles/paths.json")).unwrap();
    let case =
        json["cases"].as_array().unwrap().iter().find(|c| c["name"] == "real and nominal, 0.06 and 0.02");
    let case = case.unwrap();
    let given = |key: &str| case["inputs"][key].as_f64().unwrap();
    let wanted = |key: &str| case["expect"][key].as_f64().unwrap();
    let rel = case["tolerance"]["rel"].as_f64().unwrap();
    // Ten years from the start is the end of the tenth year, of index 9.
    let index = given("years_from_start") - 1.0;
    let body = format!(
        "[inputs.inflation]\nunit = \"1/yr\"\nvalue = {}\n\
         [inputs.rate]\nunit = \"1/yr\"\nvalue = {}\nmoney = \"nominal\"\n\
         [inputs.amount]\nunit = \"EUR\"\nvalue = {}\nmoney = \"nominal\"\n\
         [workings.then]\nunit = \"EUR\"\nformula = \"at_year(amount + 0 [EUR] * year, {index})\"\n\
         [workings.present]\nunit = \"EUR\"\nformula = \"npv(rate, 0 [EUR], if(year == {index}, amount, 0 [EUR]))\"\n",
        given("inflation"),
        given("nominal_rate"),
        given("nominal_amount"),
    );
    let real = model(REAL, &body);
    close("real rate", base(&real, "rate")[0], wanted("real_rate"), rel);
    close("real amount", base(&real, "then")[0], wanted("real_value_in_first_year_money"), rel);
    close("present, real", base(&real, "present")[0], wanted("present_value_real_way"), rel);
    let nominal = model(NOMINAL, &body);
    close("rate as it is", base(&nominal, "rate")[0], given("nominal_rate"), 0.0);
    close("amount as it is", base(&nominal, "then")[0], given("nominal_amount"), 0.0);
    close("present, nominal", base(&nominal, "present")[0], wanted("present_value_nominal_way"), rel);
}

/// Each input says its money, so that only `prices` differs: the NPV, money of the start, is the same in every run. Amounts,
/// prices, so much for each unit of money, by month and with changes; inflation known, drawn, changing.
#[test]
fn a_real_and_a_nominal_writing_agree() {
    for inflation in
        ["value = 0.02", "normal = { mean = 0.02, sd = 0.01 }", "choice = [0.03, 0.01]", "value = -0.01"]
    {
        let body = format!(
            "[inputs.inflation]\nunit = \"1/yr\"\n{inflation}\n\
             [inputs.rate]\nunit = \"1/yr\"\nuniform = {{ min = 0.02, max = 0.05 }}\nmoney = \"real\"\n\
             [inputs.fee]\nunit = \"EUR\"\nuniform = {{ min = 30, max = 50 }}\nmoney = \"nominal\"\n\
             [inputs.service]\nunit = \"EUR\"\nvalue = 20\nmoney = \"real\"\nchanges = [ {{ year = 2030, add = 5 }} ]\n\
             [inputs.heat_for_money]\nunit = \"kWh/EUR\"\nvalue = 8\nmoney = \"nominal\"\n\
             [inputs.monthly_fee]\nunit = \"EUR\"\nmonthly = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]\nmoney = \"nominal\"\n\
             [paths.tariff]\nunit = \"EUR/kWh\"\nstart = 0.11\nprocess = \"random walk\"\nvolatility = 0.1\nmoney = \"real\"\n\
             [paths.other]\nunit = \"EUR/kWh\"\nstart = 0.1\nprocess = \"steady growth\"\ngrowth = 0.03\nmoney = \"nominal\"\n\
             [workings.saving]\nunit = \"EUR\"\n\
             formula = \"1_000 [kWh] * (tariff + other + 1 / heat_for_money) - fee - service - sum_months(monthly_fee)\"\n\
             [workings.npv_of_it]\nunit = \"EUR\"\nformula = \"npv(rate, 900 [EUR], saving)\"\n"
        );
        let (real, nominal) = (model(REAL, &body), model(NOMINAL, &body));
        for (a, b) in runs(&real, "npv_of_it").iter().zip(&runs(&nominal, "npv_of_it")) {
            close(inflation, *a, *b, 1e-10);
        }
        // By year: what the functions do to the saving of the one study is the saving of the other.
        let said = |top: &str, formula: &str| {
            let text = format!("{body}[workings.said]\nunit = \"EUR\"\nformula = \"{formula}\"\n");
            base(&model(top, &text), "said")
        };
        for (there, back) in [
            ((REAL, "inflate(saving)"), (NOMINAL, "saving")),
            ((NOMINAL, "deflate(saving)"), (REAL, "saving")),
        ] {
            for (a, b) in said(there.0, there.1).iter().zip(&said(back.0, back.1)) {
                close(there.1, *a, *b, 1e-12);
            }
        }
    }
}

/// The payments of a nominal loan, deflated, are worth the loan at the real rate: what the lender counts is no matter.
#[test]
fn a_loan_is_worth_what_was_lent() {
    let body = "[inputs.inflation]\nunit = \"1/yr\"\nnormal = { mean = 0.02, sd = 0.01 }\n\
        [inputs.rate]\nunit = \"1/yr\"\nvalue = 0.06\nmoney = \"nominal\"\n\
        [workings.payment]\nunit = \"EUR\"\nformula = \"deflate(annuity(0.06 [1/yr], 5_000 [EUR], 12 [yr]))\"\n\
        [workings.worth]\nunit = \"EUR\"\nformula = \"npv(rate, 0 [EUR], payment)\"\n";
    for worth in runs(&model(REAL, body), "worth") {
        close("worth", worth, 5_000.0, 1e-11);
    }
}

/// In the middle of their years amounts stand in the prices of its end: half a year's inflation more in the nominal study. That is
/// told (`mid-year-money`).
#[test]
fn the_middle_of_a_year_is_half_a_year_off() {
    let body = "[inputs.inflation]\nunit = \"1/yr\"\nvalue = 0.02\n\
        [inputs.rate]\nunit = \"1/yr\"\nvalue = 0.06\nmoney = \"nominal\"\n\
        [inputs.saving]\nunit = \"EUR\"\nvalue = 100\nmoney = \"real\"\n\
        [workings.worth]\nunit = \"EUR\"\nformula = 'npv(rate, 0 [EUR], saving, \"mid year\")'\n";
    let (real, nominal) = (model(REAL, body), model(NOMINAL, body));
    assert!(real.cautions.iter().chain(&nominal.cautions).all(|caution| caution.id == "mid-year-money"));
    close("gap", base(&nominal, "worth")[0] / base(&real, "worth")[0], 1.02_f64.sqrt(), 1e-12);
}

/// An inflation by year: the level is the product up to the year's end.
#[test]
fn the_price_level_of_a_path() {
    let body = "[paths.inflation]\nunit = \"%/yr\"\nprocess = \"years\"\nvalues = [2, 3, 4, 0, 0, 0, 0, 0, 0, 0, 0, -50]\n\
        [inputs.rate]\nunit = \"1/yr\"\nvalue = 0.0302\nmoney = \"nominal\"\n\
        [workings.level]\nformula = \"inflate(1 [EUR]) / 1 [EUR]\"\n\
        [workings.price]\nformula = \"deflate(3 [kWh/EUR]) / 3 [kWh/EUR]\"\n";
    let model = model(REAL, body);
    let (level, price, rate) = (base(&model, "level"), base(&model, "price"), base(&model, "rate"));
    let wanted = [1.02, 1.02 * 1.03, 1.02 * 1.03 * 1.04];
    for t in 0..3 {
        close("level", level[t], wanted[t], 1e-14);
        close("so much for money", price[t], wanted[t], 1e-14);
    }
    close("last", level[11], wanted[2] / 2.0, 1e-14);
    // A rate is taken by the inflation of its year.
    close("first rate", rate[0], 0.01, 1e-13);
    close("a year without inflation", rate[4], 0.0302, 1e-13);
}
