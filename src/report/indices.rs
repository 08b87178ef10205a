//! Global indices in words and as tables.

use comfy_table::Cell;

use crate::analysis::indices::GlobalIndices;
use crate::analysis::{Answers, Estimate};

use super::cells::{Cells, alone, cell, estimate, number};
use super::numbers::{clean, estimate_with_interval, grouped, in_sentence, percent_of, shortened};
use super::tables::{TableFile, file, head};
use super::terminal::{lines, plain, right, wrapped};

/// Groups that are shown.
const SHOWN: usize = 8;

/// The indices as a table of the terminal, with what they leave to interactions.
pub(super) fn in_short(answers: &Answers) -> Option<String> {
    let found = answers.indices.as_ref()?;
    let of = if found.of == "value" { String::new() } else { format!(" ({})", clean(&found.of)) };
    let title = format!(
        "Shares of the variance of {}{of} ({} evaluations at {} base points)",
        in_sentence(&shortened(&clean(&found.label), 80)),
        grouped(found.evaluations as f64, 0),
        grouped(found.base_points as f64, 0)
    );
    let mut table = plain(&["", "by itself [95 % interval]", "with all others [95 % interval]"]);
    for row in found.rows.iter().filter(|row| row.read).take(SHOWN) {
        table.add_row(vec![
            Cell::new(shortened(&clean(&row.label), 120)),
            right(estimate_with_interval(&row.first, "", "")),
            right(estimate_with_interval(&row.total, "", "")),
        ]);
    }
    let mut out = format!("{}{}", wrapped(&title, ""), lines(&table));
    if let Some(x) = found.interactions.as_ref().and_then(|e| e.value.number()) {
        let share = percent_of((x.max(0.0) * 100.0).round() / 100.0);
        out.push_str(&wrapped(
            &format!("What inputs do only together: {share}. All groups are in indices.csv."),
            "  ",
        ));
    }
    out.push_str(&shapley(found));
    Some(out)
}

fn shapley(found: &GlobalIndices) -> String {
    let Some(effects) = &found.shapley else { return String::new() };
    let one = |row: &crate::analysis::indices::ShapleyRow| {
        let share = row.effect.value.number().unwrap_or(0.0);
        format!(
            "{} {}",
            in_sentence(&shortened(&clean(&row.label), 80)),
            percent_of((share * 100.0).round() / 100.0)
        )
    };
    let rows: Vec<String> = effects.rows.iter().take(5).map(one).collect();
    wrapped(&format!("Shared out among what is correlated (Shapley effects): {}.", rows.join("; ")), "  ")
}

/// `indices` and `shapley`, where there are any.
pub(super) fn tables(answers: &Answers) -> Result<Vec<TableFile>, csv::Error> {
    let Some(found) = &answers.indices else { return Ok(Vec::new()) };
    let mut files = vec![indices(found)?];
    if let Some(effects) = &found.shapley {
        let names =
            ["inputs", "label", "measure", "value", "95 % interval from", "95 % interval to", "interval by"];
        let rows = effects.rows.iter().flat_map(|row| {
            let measures: [(&str, &Estimate); 3] = [
                ("Shapley effect", &row.effect),
                ("first order, correlations kept", &row.first),
                ("left when all others are known", &row.left),
            ];
            measures.map(|(measure, e)| line(&row.names, &row.label, measure, estimate(e)))
        });
        let about = ("evaluations", alone(effects.evaluations.to_string()));
        let about = line(&[], "", about.0, about.1);
        files.push(file("shapley", &head(&names), rows.chain([about]))?);
    }
    Ok(files)
}

fn line(names: &[String], label: &str, measure: &str, cells: Cells) -> Vec<String> {
    let mut row = vec![cell(&names.join(" ")), cell(label), measure.to_owned()];
    row.extend(cells);
    row
}

fn indices(found: &GlobalIndices) -> Result<TableFile, csv::Error> {
    let names =
        ["inputs", "label", "measure", "value", "95 % interval from", "95 % interval to", "interval by"];
    let mut rows = Vec::new();
    for row in &found.rows {
        rows.push(line(&row.names, &row.label, "first-order index", estimate(&row.first)));
        rows.push(line(&row.names, &row.label, "total index", estimate(&row.total)));
        rows.push(line(
            &row.names,
            &row.label,
            "first order by chance alone, up to",
            alone(number(row.floor)),
        ));
    }
    let of = [cell(&found.result)];
    for (measure, e) in [
        ("sum of first-order indices", &found.sum_first),
        ("interactions (1 - that sum)", &found.interactions),
    ] {
        rows.extend(e.as_ref().map(|e| line(&of, &found.label, measure, estimate(e))));
    }
    rows.push(line(&of, &found.label, "variance", estimate(&found.variance)));
    rows.push(line(&of, &found.label, "base points", alone(found.base_points.to_string())));
    rows.push(line(&of, &found.label, "evaluations", alone(found.evaluations.to_string())));
    file("indices", &head(&names), rows)
}
