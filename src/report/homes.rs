//! Simulated homes in the base case: a table by month, and a paragraph.

use crate::analysis::{Answers, HomeMonths, SimulatedHome};
use crate::hotwater::time::MONTHS;

use super::cells::number;
use super::numbers::{clean, grouped, percent_of};
use super::tables::{TableFile, file, head};

/// `homes.csv`: a row for each output of each home.
pub(super) fn tables(answers: &Answers) -> Result<Vec<TableFile>, csv::Error> {
    if answers.homes.is_empty() {
        return Ok(Vec::new());
    }
    let mut names = head(&["home", "output", "unit"]);
    names.extend(MONTHS.iter().map(ToString::to_string));
    names.extend(head(&["year", "what it is"]));
    let row = |home: &SimulatedHome, months: &HomeMonths| {
        let mut row = vec![clean(&home.name), months.output.to_owned(), months.unit.to_owned()];
        row.extend(months.values.iter().map(|&x| number(round(x))));
        row.push(number(round(months.year)));
        row.push(format!("{} (base case: mean of {} simulated years)", months.summary, home.years));
        row
    };
    let rows = answers.homes.iter().flat_map(|home| home.months.iter().map(move |m| row(home, m)));
    Ok(vec![file("homes", &names, rows)?])
}

/// To a thousandth: more digits than a simulated kWh has.
fn round(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

/// The year's amount of an output; 0 if it is not there.
fn year(home: &SimulatedHome, output: &str) -> f64 {
    home.months.iter().find(|m| m.output == output).map_or(0.0, |m| m.year)
}

/// The year's amount of an output, with its unit.
pub(crate) fn amount(home: &SimulatedHome, output: &str) -> String {
    let unit = home.months.iter().find(|m| m.output == output).map_or("", |m| m.unit);
    format!("{} {unit}", grouped(year(home, output), 0))
}

/// Where its surplus comes from.
pub(crate) fn surplus_words(home: &SimulatedHome) -> String {
    match home.surplus.as_str() {
        "meter readings" => "a year drawn from its meter readings".to_owned(),
        _ => "a year of simulated sun".to_owned(),
    }
}

/// What the water takes in a year, in a sentence without a full stop.
pub(crate) fn year_finding(home: &SimulatedHome) -> String {
    format!(
        "Of {} that would go to the grid in a year the water takes {}, {}",
        amount(home, "exported_before"),
        amount(home, "diverted"),
        percent_of(home.share_taken)
    )
}

/// A paragraph for each home.
pub(super) fn paragraphs(answers: &Answers) -> Vec<String> {
    let of = |home: &SimulatedHome| {
        let mut text = format!(
            "{}, half hour by half hour in the base case: {}. That saves {} of {} heat; the sun suffices on {:.0} days",
            clean(&home.label),
            lower(&year_finding(home)),
            amount(home, "displaced"),
            home.backup,
            year(home, "days_by_sun"),
        );
        let cold = year(home, "hours_below_comfort") - year(home, "hours_below_comfort_before");
        if cold.abs() >= 0.5 {
            let more = if cold > 0.0 { "more" } else { "fewer" };
            text.push_str(&format!(
                ", and water is drawn too cold in {:.0} hours {more} than before",
                cold.abs()
            ));
        }
        text + ". By month: homes.csv."
    };
    answers.homes.iter().map(of).collect()
}

fn lower(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_lowercase().collect::<String>() + chars.as_str())
}
