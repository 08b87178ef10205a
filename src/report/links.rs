//! What goes together: links as asked, used and reached, in a sentence and as tables.

use crate::analysis::{Answers, Link};

use super::cells::{cell, correlation, known_to};
use super::numbers::grouped;
use super::tables::{TableFile, file, head};

/// How far what is reached lies from what is used, in a sentence; nothing without links. Each with its interval is in
/// the table.
pub(super) fn sentence(answers: &Answers) -> Option<String> {
    let gap = answers.links.iter().map(|link| (link.reached - link.used).abs()).reduce(f64::max)?;
    let gap = grouped((gap * 100.0).ceil() / 100.0, 2);
    Some(format!(" Rank correlations are reached within {gap} (links.csv)."))
}

/// `links` and `links_repaired`, where there is something to tell.
pub(super) fn tables(answers: &Answers) -> Result<Vec<TableFile>, csv::Error> {
    let mut files = Vec::new();
    if !answers.links.is_empty() {
        files.push(links(answers)?);
    }
    if !answers.repairs.is_empty() {
        files.push(repairs(answers)?);
    }
    Ok(files)
}

fn links(answers: &Answers) -> Result<TableFile, csv::Error> {
    let names = [
        "first",
        "second",
        "rank correlation asked",
        "rank correlation used",
        "rank correlation reached",
        "95 % interval from",
        "95 % interval to",
        "runs",
        "of two paths' levels in the middle year",
    ];
    let row = |link: &Link| {
        let mut row = vec![cell(&link.first), cell(&link.second)];
        let half = link.low.zip(link.high).map_or(f64::NAN, |(low, high)| (high - low) / 2.0);
        let end = |x: Option<f64>| x.map_or_else(String::new, |x| known_to(x, half));
        row.extend([link.asked, link.used].map(correlation));
        row.extend([known_to(link.reached, half), end(link.low), end(link.high), link.runs.to_string()]);
        row.push(link.levels.map_or_else(String::new, correlation));
        row
    };
    file("links", &head(&names), answers.links.iter().map(row))
}

/// Each pair of a repaired group, as given and as used.
fn repairs(answers: &Answers) -> Result<TableFile, csv::Error> {
    let names = ["first", "second", "rank correlation given", "rank correlation used", "change"];
    let mut rows = Vec::new();
    for repair in &answers.repairs {
        let matrices = repair.given.iter().zip(&repair.used);
        for (i, ((given, used), first)) in matrices.zip(&repair.names).enumerate() {
            let pairs = given.iter().zip(used).zip(&repair.names).skip(i + 1);
            rows.extend(pairs.map(|((given, used), second)| {
                vec![
                    cell(first),
                    cell(second),
                    correlation(*given),
                    correlation(*used),
                    correlation(used - given),
                ]
            }));
        }
    }
    file("links_repaired", &head(&names), rows)
}
