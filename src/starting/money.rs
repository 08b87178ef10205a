//! Rows of money: prices, the quote, warranty.

use super::answers::{Answer, Answers, Heater, LineAmount};
use super::home::{GIVEN, WIDE, input, told};
use super::toml_text::{Row, Three, number};

/// A fuel: what it is called, its usual price, and how its price moves.
#[derive(Debug)]
pub(super) struct Fuel {
    pub(super) name: &'static str,
    pub(super) usual: Three,
    movement: &'static str,
    source: &'static str,
}

const STEADY: &str = "mean reverting";
const EUROSTAT: &str = "Eurostat household prices 2025 and how they moved from 2009 to 2025";
const OWN: &str = "Our own estimate, unverified";

/// The fuel of a heater.
pub(super) fn fuel(heater: &Answer<Heater>) -> Fuel {
    let three = |min, mode, max| Three { min, mode, max };
    let fuel = |name, usual, movement, source| Fuel { name, usual, movement, source };
    match heater {
        Answer::Given(Heater::Oil) => fuel("heating oil", three(0.07, 0.10, 0.14), STEADY, OWN),
        Answer::Given(Heater::Lpg) => fuel("LPG", three(0.10, 0.15, 0.21), STEADY, OWN),
        Answer::Given(Heater::OffPeak) => fuel(
            "off-peak electricity",
            three(0.11, 0.17, 0.25),
            "random walk",
            "Day price (Eurostat 2025) times 0.4 to 0.7: our own estimate, unverified",
        ),
        Answer::Given(Heater::Day | Heater::HeatPump) => {
            fuel("electricity", three(0.26, 0.31, 0.38), "random walk", EUROSTAT)
        }
        Answer::Unknown => fuel("the heater's fuel", three(0.07, 0.13, 0.33), STEADY, OWN),
        _ => fuel("gas", three(0.090, 0.112, 0.140), STEADY, EUROSTAT),
    }
}

/// What the heater's fuel costs, by year.
pub(super) fn heat_price(answers: &Answers) -> Row {
    let fuel = fuel(&answers.heater);
    let three = match &answers.heat_price {
        Answer::Given(x) => Three::round(*x, 5.0, 5.0),
        Answer::Usual => fuel.usual,
        Answer::Unknown => Three::of(fuel.usual.min * 0.65, fuel.usual.mode, fuel.usual.max * 1.5),
    };
    let row = Row::new("paths.heat_price", &format!("Price of a kWh of {}", fuel.name));
    let row = row.text("group", "Prices").text("unit", &format!("{}/kWh", answers.currency()));
    let row = start(row, three, "pert")
        .raw("growth", "{ normal = { mean = 0.005, sd = 0.015 } }")
        .text("process", fuel.movement);
    let row = if fuel.movement == STEADY {
        row.raw("half_life", "5").raw("volatility", "0.10")
    } else {
        row.raw("volatility", "0.05")
    };
    let given = format!("Your answer, within 5 %; how it moves: {}", fuel.source);
    told(row, answers, &answers.heat_price, &given, fuel.source, "2025-10")
        .text("note", "For one kWh, without the standing charge. Prices are of the first year's money")
}

/// Where a path starts: nothing at all where the price is nought.
fn start(row: Row, three: Three, kind: &str) -> Row {
    if three.max <= 0.0 {
        return row.raw("start", "0");
    }
    row.raw("start", format!("{{ {kind} = {} }}", three.inline())).raw("base", number(three.mode))
}

/// What export is paid, by year.
pub(super) fn export_price(answers: &Answers) -> Row {
    let three = match &answers.export_price {
        Answer::Given(x) => Three::round(*x, 3.0, 3.0),
        Answer::Usual => Three::of(0.035, 0.075, 0.135),
        Answer::Unknown => Three::of(0.005, 0.075, 0.22),
    };
    let row = Row::new("paths.export_price", "Price that you are paid for a kWh of export");
    let row = row.text("group", "Prices").text("unit", &format!("{}/kWh", answers.currency()));
    let row = start(row, three, "triangular")
        .raw("growth", "{ triangular = { min = -0.04, mode = -0.02, max = 0 } }")
        .text("process", "mean reverting")
        .raw("half_life", "3")
        .raw("volatility", "0.20")
        .raw("changes", changes(answers));
    let usual = "Solar-weighted wholesale prices 2024-25 and household offers; that the rules change is a belief, unverified";
    told(
        row,
        answers,
        &answers.export_price,
        &format!("Your answer, within 3 %. How it moves: {usual}"),
        usual,
        "2026",
    )
}

/// The rules change within six years, one time in three.
fn changes(answers: &Answers) -> String {
    let first = first_year(answers) + 1;
    let years: Vec<String> = (first..first + 5).map(|y| y.to_string()).collect();
    format!(
        "[\n  {{ chance = 0.35, year = {{ discrete = {{ values = [{}], weights = [1, 1, 1, 1, 1] }} }}, scale = {{ uniform = {{ min = 0.3, max = 0.9 }} }} }},\n]",
        years.join(", ")
    )
}

/// First year of the study.
pub(super) fn first_year(answers: &Answers) -> u32 {
    answers.first_year.unwrap_or(2027)
}

/// The quote, and what a quote leaves out.
pub(super) fn quote(answers: &Answers, out: &mut String) {
    let lines = [
        (
            "controller_price",
            "The controller",
            &answers.controller,
            Three::of(230.0, 320.0, 470.0),
            Three::of(180.0, 320.0, 750.0),
        ),
        (
            "fitting_price",
            "The electrician",
            &answers.electrician,
            Three::of(140.0, 220.0, 420.0),
            Three::of(90.0, 220.0, 750.0),
        ),
    ];
    for (name, label, line, usual, unknown) in lines {
        let row = input(name, &labelled(label, line), "The quote", answers.currency());
        let row = match line {
            Answer::Given(line) => row.raw("value", number(line.amount)),
            Answer::Usual => usual.in_row(row, "pert"),
            Answer::Unknown => unknown.in_row(row, "pert"),
        };
        told(
            row,
            answers,
            line,
            "The quote",
            "Our own estimate, unverified; VAT included: better the quote in your hand",
            "2026-11",
        )
        .write(out);
    }
    element(answers, out);
    other(answers, out);
    if answers.vat_matters() {
        vat(answers).write(out);
    }
    let row = input("extras", "What comes on top of a quote, as a share of it", "The quote", "");
    Three::of(0.0, 0.02, 0.15)
        .in_row(row, "pert")
        .text("source", "Our own estimate, unverified: surprises at fitting")
        .text("as_of", "2026-11")
        .write(out);
}

fn labelled(label: &str, line: &Answer<LineAmount>) -> String {
    match line.given() {
        Some(line) if line.without_vat => format!("{label}, without VAT"),
        _ => label.to_owned(),
    }
}

fn element(answers: &Answers, out: &mut String) {
    if let Answer::Given(line) = &answers.element {
        if line.amount <= 0.0 {
            return;
        }
        let row = input(
            "element_price",
            &labelled("A new element or thermostat", &answers.element),
            "The quote",
            answers.currency(),
        );
        told(row.raw("value", number(line.amount)), answers, &answers.element, "The quote", "", "")
            .write(out);
        return;
    }
    let chance = if answers.element.is_unknown() { "0.4" } else { "0.15" };
    let row = input("element_needed", "A new element or thermostat is needed", "The quote", "");
    let row = row.raw("bernoulli", format!("{{ chance = {chance} }}"));
    told(
        row,
        answers,
        &answers.element,
        "",
        "Our own estimate, unverified; fitted it costs about 150, from 90 to 280",
        "2026-11",
    )
    .write(out);
}

fn other(answers: &Answers, out: &mut String) {
    if !has_other(answers) {
        return;
    }
    let row = input(
        "other_price",
        &labelled("Other lines of the quote", &answers.other),
        "The quote",
        answers.currency(),
    );
    let row = match &answers.other {
        Answer::Given(line) => row
            .raw("value", number(line.amount))
            .text("source", "The quote")
            .maybe("as_of", answers.as_of.as_deref()),
        _ => Three::of(0.0, 50.0, 300.0)
            .in_row(row, "pert")
            .text("source", &format!("{WIDE}: our own estimate, unverified"))
            .text("as_of", "2026-11"),
    };
    row.write(out);
}

fn vat(answers: &Answers) -> Row {
    let row = input("vat", "VAT on the lines that are without it", "The quote", "%");
    let row = match &answers.vat {
        Answer::Given(rate) => row.raw("value", number(*rate)),
        Answer::Usual => Three::of(13.0, 21.0, 25.0).in_row(row, "triangular"),
        Answer::Unknown => row.raw("uniform", "{ min = 0, max = 27 }").raw("base", "21"),
    };
    told(row, answers, &answers.vat, GIVEN, "Rates in Europe: our own estimate, unverified", "2026-11")
}

/// Whether the quote has further lines, or may have.
fn has_other(answers: &Answers) -> bool {
    match &answers.other {
        Answer::Given(line) => line.amount > 0.0,
        Answer::Usual => false,
        Answer::Unknown => true,
    }
}

/// The formula of the outlay.
pub(super) fn outlay(answers: &Answers) -> String {
    let term = |name: &str, line: &Answer<LineAmount>| match line.given() {
        Some(line) if line.without_vat && answers.vat_matters() => format!("{name} * (1 + vat)"),
        _ => name.to_owned(),
    };
    let mut terms =
        vec![term("controller_price", &answers.controller), term("fitting_price", &answers.electrician)];
    match &answers.element {
        Answer::Given(line) if line.amount <= 0.0 => {}
        Answer::Given(_) => terms.push(term("element_price", &answers.element)),
        _ => terms.push(format!("element_needed * 150 [{}]", answers.currency())),
    }
    if has_other(answers) {
        terms.push(term("other_price", &answers.other));
    }
    format!("({}) * (1 + extras)", terms.join(" + "))
}

/// What it costs to keep, how long it lasts, how long somebody else answers for it.
pub(super) fn keeping(answers: &Answers, out: &mut String) {
    let row = input(
        "running_cost",
        "Cost of standby and upkeep each year",
        "The controller",
        &format!("{}/yr", answers.currency()),
    );
    Three::of(3.0, 14.0, 32.0)
        .in_row(row, "triangular")
        .text(
            "source",
            "Our own estimate, unverified: 2 W day and night, a check now and then, part of a worn element",
        )
        .text("as_of", "2026-11")
        .write(out);
    let row = input("life", "Life of the controller", "The controller", "yr");
    row.raw("weibull", "{ shape = 2.5, scale = 13 }")
        .text("revealed", "later")
        .text("source", "Our own estimate, unverified: half of them last 11 years")
        .text("as_of", "2026-11")
        .text("note", "What the seller promised stands in [claim] and changes nothing here")
        .write(out);
    let row = input("warranty", "Warranty on the controller", "The controller", "yr");
    let row = match &answers.warranty {
        Answer::Given(years) => row.raw("value", number(*years)),
        Answer::Usual => row.raw("value", "2"),
        Answer::Unknown => Three::of(0.0, 2.0, 5.0).in_row(row, "triangular"),
    };
    told(
        row,
        answers,
        &answers.warranty,
        GIVEN,
        "2 years are the legal minimum in the EU (unverified)",
        "2026-11",
    )
    .write(out);
}
