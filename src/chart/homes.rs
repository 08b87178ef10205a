//! Charts of the simulated homes of a study: a day, what would be exported over the year, what the water takes of it.

use crate::analysis::{Answers, SimulatedHome};
use crate::hotwater::course::YearMap;
use crate::report::homes::{amount, surplus_words, year_finding};
use crate::report::hotwater_words::{day_finding, day_name};

use super::day_course::{self, DayWords};
use super::fan::plain_words;
use super::layout::Format;
use super::year_map::{self, MapWords};
use super::{Chart, ChartError};

/// Three charts for each home.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut charts = Vec::new();
    for home in answers.homes.iter().filter(|home| !home.day.export_before.is_empty()) {
        charts.push(day(format, home)?);
        let exported = amount(home, "exported_before");
        let finding = format!("Without the controller {exported} would go to the grid in a year");
        charts.push(year(
            format,
            home,
            "surplus",
            &home.surplus_map,
            "Sent to the grid without the controller",
            finding,
        )?);
        charts.push(year(format, home, "taken", &home.taken_map, "Taken by the water", year_finding(home))?);
    }
    Ok(charts)
}

fn day(format: Format, home: &SimulatedHome) -> Result<Chart, ChartError> {
    let words = DayWords {
        name: format!("simulated-{}-day", plain_words(&home.name)),
        day: day_name(home.day.day),
        finding: day_finding(&home.day, &home.backup),
        backup: home.backup.clone(),
        note: format!("{}, {}: {}.", home.label, surplus_words(home), home.day_is),
    };
    day_course::draw(format, &home.day, &words)
}

fn year(
    format: Format,
    home: &SimulatedHome,
    what: &str,
    map: &YearMap,
    quantity: &str,
    finding: String,
) -> Result<Chart, ChartError> {
    let words = MapWords {
        name: format!("simulated-{}-{what}", plain_words(&home.name)),
        title: format!("{}: {}", home.label, quantity.to_lowercase()),
        finding,
        quantity: quantity.to_owned(),
        note: format!(
            "One year of {} years that are the base case ({}); sums in the heading are their mean.",
            home.years,
            surplus_words(home)
        ),
    };
    year_map::draw(format, map, &words)
}
