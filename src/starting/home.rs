//! Rows of the home: people, water, heater, surplus.

use super::answers::{Answer, Answers, Export, Heater, Shower, ShowerLength};
use super::toml_text::{Row, Three, number};

/// What a row says of an answer that was given.
pub(super) const GIVEN: &str = "Your answer";
/// Said of what is not known.
pub(super) const WIDE: &str = "not known: wide range";

/// An input with its group, unit and where its figure comes from.
pub(super) fn input(name: &str, label: &str, group: &str, unit: &str) -> Row {
    Row::new(&format!("inputs.{name}"), label).text("group", group).text("unit", unit)
}

/// Source, and the date of the answers where the figure is one of them.
pub(super) fn told<T>(
    row: Row,
    answers: &Answers,
    answer: &Answer<T>,
    given: &str,
    usual: &str,
    as_of: &str,
) -> Row {
    match answer {
        Answer::Given(_) => row.text("source", given).maybe("as_of", answers.as_of.as_deref()),
        Answer::Usual => row.text("source", usual).text("as_of", as_of),
        Answer::Unknown => row.text("source", &format!("{WIDE}. {usual}")).text("as_of", as_of),
    }
}

/// People and the water that they draw.
pub(super) fn water(answers: &Answers, out: &mut String) {
    people(answers).write(out);
    if answers.showers_do_not_count() {
        super::toml_text::comment(
            out,
            "The shower heats its own water: it takes nothing from the cylinder, so showers do not count here.\n",
        );
        out.push('\n');
    } else {
        shower_source(answers, out);
        showers(answers).write(out);
        shower_litres(answers).write(out);
    }
    baths(answers).write(out);
    let other = Three::of(0.5, 1.0, 1.7);
    let row =
        input("other_uses", "Other hot water, against what is usual for so many people", "Your home", "");
    let row = other.in_row(row, "pert");
    row.text("source", "Usual: 9.8 L a day for each person and 14 L for the home, BREDEM 2012; range: our own estimate, unverified")
        .text("as_of", "2012")
        .text("note", "Basins, kitchen, cleaning")
        .write(out);
}

fn people(answers: &Answers) -> Row {
    let row = input("people", "People living in your home", "Your home", "person");
    let row = match &answers.people {
        Answer::Given(n) => row.raw("value", number(*n)),
        Answer::Usual => {
            row.raw("discrete", "{ values = [2, 3, 4], weights = [20, 60, 20] }").raw("base", "3")
        }
        Answer::Unknown => row
            .raw("discrete", "{ values = [1, 2, 3, 4, 5, 6], weights = [31, 32, 17, 14, 4.4, 1.6] }")
            .raw("base", "3"),
    };
    let usual = "Sizes of homes after Eurostat's labour force survey, 2017, rounded; weights: our own estimate, unverified";
    told(row, answers, &answers.people, GIVEN, usual, "2017")
}

fn shower_source(answers: &Answers, out: &mut String) {
    let row = input("from_cylinder", "Share of the showers that the cylinder heats", "Your home", "");
    let row = match &answers.heats_shower {
        Answer::Given(Shower::Both) => Three::of(0.2, 0.5, 0.8).in_row(row, "triangular"),
        Answer::Unknown => {
            row.raw("discrete", "{ values = [0, 0.5, 1], weights = [35, 15, 50] }").raw("base", "1")
        }
        _ => return,
    };
    let usual = "Electric showers are common in some countries and unknown in others; weights: our own estimate, unverified";
    told(
        row,
        answers,
        &answers.heats_shower,
        "Your answer: some of each; range: our own estimate, unverified",
        usual,
        "2026-11",
    )
    .text("note", "A shower that heats its own water takes nothing from the cylinder")
    .write(out);
}

fn showers(answers: &Answers) -> Row {
    let row = input("showers_each", "Showers that each of you takes in a day", "Your home", "1/person/day");
    let three = match &answers.showers {
        Answer::Given(n) => Three::round(*n, 15.0, 15.0),
        Answer::Usual => Three::of(0.4, 0.7, 1.1),
        Answer::Unknown => Three::of(0.15, 0.7, 1.6),
    };
    let row = if three.max > 0.0 { three.in_row(row, "pert") } else { row.raw("value", "0") };
    let usual =
        "BREDEM 2012: 0.45 a day for each person and 0.65 for the home; range: our own estimate, unverified";
    told(row, answers, &answers.showers, "Your answer, within 15 %", usual, "2012")
}

fn shower_litres(answers: &Answers) -> Row {
    let row = input("shower_water", "Hot water for a shower", "Your home", "L");
    let three = match &answers.shower_length {
        Answer::Given(ShowerLength::Short) => Three::of(10.0, 16.0, 25.0),
        Answer::Given(ShowerLength::Usual) => Three::of(20.0, 29.0, 41.0),
        Answer::Given(ShowerLength::Long) => Three::of(34.0, 50.0, 72.0),
        Answer::Usual => Three::of(15.0, 29.0, 52.0),
        Answer::Unknown => Three::of(8.0, 29.0, 80.0),
    };
    let row = three.in_row(row, "pert");
    let litres = "BREDEM 2012: 28.8 L for a mixer shower on a cylinder, taken for seven minutes; 4 and 12 minutes in proportion; ranges: our own estimate, unverified";
    told(
        row,
        answers,
        &answers.shower_length,
        &format!("Your answer on its length. {litres}"),
        litres,
        "2012",
    )
    .text("note", "A strong or pumped shower takes half as much again")
}

fn baths(answers: &Answers) -> Row {
    let row = input("baths_a_week", "Baths in your home in a week", "Your home", "");
    let row = match &answers.baths {
        Answer::Given(0.0) => row.raw("value", "0"),
        Answer::Given(n) => Three::round(*n, 25.0, 25.0).in_row(row, "pert"),
        Answer::Usual => Three::of(0.0, 2.0, 5.0).in_row(row, "pert"),
        Answer::Unknown => Three::of(0.0, 2.0, 10.0).in_row(row, "pert"),
    };
    let usual = "BREDEM 2012: 0.13 a day for each person and 0.19 for the home, fewer where people shower; range: our own estimate, unverified";
    told(row, answers, &answers.baths, "Your answer, within 25 %", usual, "2012")
}

/// Export of the panels, where no meter tells it.
pub(super) fn export(answers: &Answers) -> Row {
    let row = input("export_now", "What your panels send to the grid in a year", "Your home", "kWh/yr");
    let (three, given) = match &answers.export {
        Answer::Given(Export::Yearly(x)) => {
            (Three::round(*x, 12.0, 12.0), "Your answer; another year's sun may differ by 12 %".to_owned())
        }
        Answer::Given(Export::Panels(kwp)) => {
            let mode = export_of(*kwp).round();
            let given = format!(
                "Your answer: {} kWp. Our hourly model at 53 degrees north, cloudy climate; how much the house uses itself: our own estimate, unverified",
                number(*kwp)
            );
            (Three::round(mode, 30.0, 40.0), given)
        }
        Answer::Usual => (Three::of(1000.0, 1800.0, 2900.0), String::new()),
        Answer::Unknown => (Three::of(400.0, 1800.0, 4500.0), String::new()),
    };
    let usual = "Our hourly model: 1,806 kWh from 3.6 kWp, 726 to 3,641 from 2 to 6 kWp; range: our own estimate, unverified";
    told(three.in_row(row, "pert"), answers, &answers.export, &given, usual, "2026-11")
        .text("note", "Your electricity bill knows better than the size of the panels")
}

/// Export of a year by size, between the points of the hourly model; outside them, less than in proportion below 2 kWp and
/// by the last slope above 6.
fn export_of(kwp: f64) -> f64 {
    const KNOWN: [(f64, f64); 5] = [(2.0, 726.0), (3.0, 1380.0), (4.0, 2100.0), (5.0, 2859.0), (6.0, 3641.0)];
    if kwp < KNOWN[0].0 {
        return KNOWN[0].1 * (kwp / KNOWN[0].0) * (kwp / KNOWN[0].0);
    }
    let at = KNOWN.iter().rposition(|(size, _)| *size <= kwp).unwrap_or(0).min(KNOWN.len() - 2);
    let (low, high) = (KNOWN[at], KNOWN[at + 1]);
    low.1 + (kwp - low.0) * (high.1 - low.1) / (high.0 - low.0)
}

/// What the heater makes of its fuel.
pub(super) fn efficiency(answers: &Answers) -> Row {
    let row = input("efficiency", "Heat in the water from each kWh that is bought", "Your home", "");
    let boiler = "range: our own estimate, unverified";
    let (three, source) = match &answers.heater {
        Answer::Given(Heater::OffPeak | Heater::Day) => {
            return row.raw("value", "1").text("source", "An element turns all of its electricity into heat").text("as_of", "2026-11");
        }
        Answer::Given(Heater::HeatPump) => (
            Three::of(1.7, 2.3, 3.0),
            "Heat pumps for hot water: laboratory test, University of Salford 2025, and field medians, UK demonstration 2022-24".to_owned(),
        ),
        Answer::Given(Heater::Oil) => (Three::of(0.55, 0.70, 0.82), "As a gas boiler, a little lower: our own estimate, unverified".to_owned()),
        Answer::Unknown => (Three::of(0.58, 0.85, 2.6), format!("{WIDE}, from an old boiler to a heat pump: our own estimate, unverified")),
        _ => (Three::of(0.58, 0.73, 0.84), format!("UK SAP 2012, table D2.7, in summer; {boiler}")),
    };
    three.in_row(row, "pert").text("source", &source).text("as_of", "2026-11")
}

/// Whether the heater's pipes stay warm for nothing, and how warm it keeps the water.
pub(super) fn is_boiler(answers: &Answers) -> bool {
    !matches!(answers.heater, Answer::Given(Heater::OffPeak | Heater::Day | Heater::HeatPump))
}
