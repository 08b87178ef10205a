//! Break-even against two other inputs, as a table: a row for each cell and figure.

use crate::analysis::{Answers, BreakEven, BreakEvenMap};

use super::cells::{cell, chosen, lever_estimate, share};
use super::tables::{HELD, TableFile, below, file, head};

/// A row for each cell and figure; nothing without maps.
pub(super) fn maps(answers: &Answers) -> Result<Option<TableFile>, csv::Error> {
    let mut maps = answers.break_even.iter().filter_map(|b| Some((b, b.map.as_ref()?))).peekable();
    if maps.peek().is_none() {
        return Ok(None);
    }
    let (first, second) =
        (format!("value of the first input{HELD}"), format!("value of the second input{HELD}"));
    let names = [
        "lever",
        "unit of the lever",
        "result",
        "rule",
        "first input",
        "unit of the first input",
        &first,
        "second input",
        "unit of the second input",
        &second,
        "statistic",
        "value",
        "95 % interval from",
        "95 % interval to",
        "interval by",
        "runs",
    ];
    file("break_even_map", &head(&names), maps.flat_map(|(b, map)| rows(b, map))).map(Some)
}

fn rows(b: &BreakEven, map: &BreakEvenMap) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    for at in &map.cells {
        let place = [
            cell(&b.of),
            cell(&b.of_unit),
            cell(&b.result),
            cell(&b.rule),
            cell(&map.across.name),
            cell(&map.across.unit),
            chosen(at.across),
            cell(&map.up.name),
            cell(&map.up.unit),
            chosen(at.up),
        ];
        let percentiles = [(0.1, at.p10), (0.5, at.p50), (0.9, at.p90)];
        let levers = percentiles
            .map(|(p, found)| (format!("{} (break-even)", below(p)), lever_estimate(&found, b.interval)));
        let shares = [("good at every value", at.always), ("good at none", at.never)];
        let shares = shares.map(|(what, of)| (format!("share of runs: {what}"), share(&of)));
        for (statistic, values) in levers.into_iter().chain(shares) {
            let mut row = place.to_vec();
            row.push(statistic);
            row.extend(values);
            row.push(map.runs.to_string());
            rows.push(row);
        }
    }
    rows
}
