//! CSV tables of what stands beside the figures: what was asked and drawn, what goes in, remarks, distributions of the
//! results, simulated homes.

use crate::analysis::{Answers, InputRow, InputSort, SimulatedHome, Summary};
use crate::hotwater::course::DayCourse;

use super::cells::{cell, chosen, number};
use super::numbers::clean;
use super::tables::{TableFile, file, head};

/// `study`, `inputs`, `inputs_values`, `remarks`, `histograms`, `cumulative`, `homes_settings` and `homes_day`, where
/// there is something to tell.
pub(super) fn tables(answers: &Answers) -> Result<Vec<TableFile>, csv::Error> {
    let mut files = vec![study(answers)?, histograms(answers)?, cumulative(answers)?];
    if !answers.inputs.is_empty() {
        files.push(inputs(answers)?);
    }
    if answers.inputs.iter().any(|row| !row.values.is_empty()) {
        files.push(values(answers)?);
    }
    if !answers.remarks.is_empty() {
        let rows = answers.remarks.iter().map(|remark| vec![cell(remark)]);
        files.push(file("remarks", &head(&["remark"]), rows)?);
    }
    if answers.homes.iter().any(|home| !home.settings.is_empty()) {
        files.push(settings(answers)?);
    }
    let shown: Vec<&SimulatedHome> = answers.homes.iter().filter(|home| is_made_up(home)).collect();
    if !shown.is_empty() {
        files.push(day(&shown)?);
    }
    Ok(files)
}

/// A day of real readings would show when nobody was at home; one of a simulated sun is nobody's.
fn is_made_up(home: &SimulatedHome) -> bool {
    home.surplus == "simulated sun"
}

/// What was asked and how it was drawn, a line each.
fn study(answers: &Answers) -> Result<TableFile, csv::Error> {
    let (study, sampling) = (&answers.study, &answers.sampling);
    let mut rows = vec![
        ("title", cell(&study.title)),
        ("question", cell(study.question.as_deref().unwrap_or_default())),
        ("currency", cell(&study.currency)),
        ("prices", study.prices.clone()),
        ("first year", study.first_year.to_string()),
        ("years", study.years.to_string()),
        ("headline", cell(&study.headline)),
        ("method", sampling.method.clone()),
        ("runs asked for", sampling.runs_asked.to_string()),
        ("runs", sampling.runs.to_string()),
        ("replicates", sampling.replicates.to_string()),
        ("seed", sampling.seed.to_string()),
        ("engine", sampling.engine.to_string()),
        ("linking", sampling.linking.clone()),
        ("format of the answers", answers.format.to_string()),
    ];
    rows.extend(sampling.dimensions.iter().map(|name| ("dimension", cell(name))));
    rows.extend(study.unsourced.iter().map(|name| ("input without a source", cell(name))));
    file("study", &head(&["fact", "value"]), rows.into_iter().map(|(fact, value)| vec![fact.into(), value]))
}

fn inputs(answers: &Answers) -> Result<TableFile, csv::Error> {
    let names = [
        "input",
        "label",
        "group",
        "unit",
        "sort",
        "how it is given",
        "base value",
        "10 % lie below",
        "50 % lie below",
        "90 % lie below",
        "mean",
        "source",
        "as of",
        "note",
    ];
    let optional = |text: &Option<String>| cell(text.as_deref().unwrap_or_default());
    let row = |input: &InputRow| {
        let sort = match input.sort {
            InputSort::Known => "known",
            InputSort::Drawn => "drawn",
            InputSort::Choice => "choice",
        };
        let mut row = vec![cell(&input.name), cell(&input.label), optional(&input.group), cell(&input.unit)];
        row.extend([sort.to_owned(), cell(&input.how), base(input)]);
        row.extend((0..3).map(|k| input.percentiles.map_or_else(String::new, |p| chosen(p[k]))));
        row.push(input.mean.map_or_else(String::new, chosen));
        row.extend([optional(&input.source), optional(&input.as_of), optional(&input.note)]);
        row
    };
    file("inputs", &head(&names), answers.inputs.iter().map(row))
}

/// Its base value: a number, twelve with semicolons between, or a label.
fn base(input: &InputRow) -> String {
    let labelled = input.percentiles.is_none() && input.values.iter().any(|value| value.is_base);
    match input.values.iter().find(|value| value.is_base) {
        Some(value) if labelled => cell(&value.value),
        _ => input.base.iter().map(|&x| number(x)).collect::<Vec<_>>().join("; "),
    }
}

/// Each value of a choice, of labels and of what has few values.
fn values(answers: &Answers) -> Result<TableFile, csv::Error> {
    let names = ["input", "label", "value", "probability", "base value"];
    let rows = answers.inputs.iter().flat_map(|input| {
        input.values.iter().map(|value| {
            let share = value.share.map_or_else(String::new, chosen);
            let is_base = if value.is_base { "yes" } else { "no" }.to_owned();
            vec![cell(&input.name), cell(&input.label), cell(&value.value), share, is_base]
        })
    });
    file("inputs_values", &head(&names), rows)
}

/// Runs of each result by classes of its value.
fn histograms(answers: &Answers) -> Result<TableFile, csv::Error> {
    let names = ["result", "label", "unit", "from", "to", "runs"];
    let class = |result: &Summary, from: String, to: String, runs: u64| {
        let unit = cell(&result.unit);
        vec![cell(&result.name), cell(&result.label), unit, from, to, runs.to_string()]
    };
    let rows = answers.results.iter().flat_map(|result| {
        let counts = &result.histogram;
        let edge = |k: usize| counts.edges.get(k).map_or_else(String::new, |&x| chosen(x));
        let mut rows = Vec::new();
        if counts.below > 0 {
            rows.push(class(result, String::new(), edge(0), counts.below));
        }
        rows.extend(counts.counts.iter().enumerate().map(|(k, &n)| class(result, edge(k), edge(k + 1), n)));
        if counts.above > 0 {
            rows.push(class(result, edge(counts.counts.len()), String::new(), counts.above));
        }
        if counts.never > 0 {
            rows.push(class(result, "never".into(), "never".into(), counts.never));
        }
        rows
    });
    file("histograms", &head(&names), rows)
}

/// Points of the cumulative curve of each result, and how far the whole curve is known.
fn cumulative(answers: &Answers) -> Result<TableFile, csv::Error> {
    let names = ["result", "label", "unit", "value", "share of runs not above it", "known to within"];
    let rows = answers.results.iter().flat_map(|result| {
        result.cumulative.iter().map(|&(value, share)| {
            let known = chosen((result.cumulative_within * 1e4).ceil() / 1e4);
            let mut row = vec![cell(&result.name), cell(&result.label), cell(&result.unit)];
            row.extend([chosen(value), chosen(share), known]);
            row
        })
    });
    file("cumulative", &head(&names), rows)
}

/// Settings of simulated homes at base values.
fn settings(answers: &Answers) -> Result<TableFile, csv::Error> {
    let rows = answers.homes.iter().flat_map(|home| {
        home.settings.iter().map(|setting| {
            let base = setting.base.iter().map(|&x| number(x)).collect::<Vec<_>>().join("; ");
            vec![clean(&home.name), setting.setting.to_owned(), setting.unit.to_owned(), base]
        })
    });
    file("homes_settings", &head(&["home", "setting", "unit", "base value"]), rows)
}

type StepsOf = fn(&DayCourse) -> &Vec<f64>;

/// Columns of a day, with their names.
const OF_A_DAY: [(&str, StepsOf); 13] = [
    ("generation kWh", |day| &day.generation),
    ("sent to the grid without controller kWh", |day| &day.export_before),
    ("taken from the grid without controller kWh", |day| &day.import_before),
    ("taken for the water kWh", |day| &day.diverted),
    ("put into the battery kWh", |day| &day.battery),
    ("sent to the grid kWh", |day| &day.export),
    ("taken from the grid kWh", |day| &day.import),
    ("heat from the back-up kWh", |day| &day.backup_heat),
    ("heat drawn kWh", |day| &day.drawn_heat),
    ("hot water drawn L", |day| &day.litres),
    ("top degC", |day| &day.top_degc),
    ("mean degC", |day| &day.mean_degc),
    ("bottom degC", |day| &day.bottom_degc),
];

/// The shown day of each home, step by step.
fn day(homes: &[&SimulatedHome]) -> Result<TableFile, csv::Error> {
    let mut names = head(&["home", "day of the year", "why this day", "hour"]);
    names.extend(OF_A_DAY.iter().map(|(name, _)| (*name).to_owned()));
    let rows = homes.iter().flat_map(|home| {
        (0..home.day.steps).map(move |step| {
            let hour = step as f64 * 24.0 / home.day.steps as f64;
            let mut row = vec![clean(&home.name), (home.day.day + 1).to_string()];
            row.extend([cell(&home.day_is), chosen(hour)]);
            let value = |x: &f64| chosen((x * 1e4).round() / 1e4);
            row.extend(
                OF_A_DAY.iter().map(|(_, of)| of(&home.day).get(step).map_or_else(String::new, value)),
            );
            row
        })
    });
    file("homes_day", &names, rows)
}
