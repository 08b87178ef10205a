//! CSV tables of the answers: plain numbers with the digits that their errors
//! support, a unit beside each, intervals in columns of their own, never as
//! the word.

use csv::Writer;

use crate::analysis::{
    Answers, BreakEven, Convergence, ForChance, Lever, LeverEstimate, Percentile, ResultKind, Share, Summary,
};

use super::cells::{
    Cells, alone, cell, chosen, estimate, figure, half, lever, lever_estimate, number, share,
};
use super::numbers::clean;

/// A table: its file name and its bytes (UTF-8, commas, line feeds).
pub type TableFile = (String, Vec<u8>);

/// All tables that the answers have rows for: results, bands, cash, tornado,
/// break-even, choices, links, looks, paths, what choices make different, and what single runs say.
///
/// # Errors
/// Only if the CSV writer fails, which it does not on memory.
pub fn tables(answers: &Answers) -> Result<Vec<TableFile>, csv::Error> {
    let mut files = vec![results(answers)?];
    if let Some(bands) = &answers.bands {
        if !bands.paid_back.is_empty() {
            files.push(paid_back(answers)?);
        }
        if !bands.cash.is_empty() {
            files.push(cash(answers)?);
        }
    }
    if answers.tornado.is_some() {
        files.push(tornado(answers)?);
    }
    if !answers.break_even.is_empty() {
        files.push(break_even(answers)?);
    }
    files.extend(super::maps::maps(answers)?);
    if !answers.choices.is_empty() {
        files.push(choices(answers)?);
    }
    files.extend(super::indices::tables(answers)?);
    files.extend(super::links::tables(answers)?);
    if let Some(convergence) = &answers.convergence {
        files.push(looks(convergence)?);
    }
    files.extend(super::yearly::paths(answers)?);
    files.extend(super::by_choice::tables(answers)?);
    files.extend(super::tables_of_runs::tables(answers)?);
    files.extend(super::homes::tables(answers)?);
    files.extend(super::tables_beside::tables(answers)?);
    Ok(files)
}

/// What a table says of an input that is held at values: it is another question than that of the runs in which it
/// happens to have them.
pub(super) const HELD: &str = " (held there with its links cut: intervention, not conditioning)";

/// "10 % of runs lie below": energy engineers read P90 the other way round.
pub(super) fn below(p: f64) -> String {
    format!("{} % of runs lie below", number((p * 1e6).round() / 1e4))
}

pub(super) fn file(
    name: &str,
    head: &[String],
    rows: impl IntoIterator<Item = Vec<String>>,
) -> Result<TableFile, csv::Error> {
    let mut writer = Writer::from_writer(Vec::new());
    writer.write_record(head)?;
    for row in rows {
        writer.write_record(&row)?;
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok((format!("{name}.csv"), bytes))
}

pub(super) fn head(names: &[&str]) -> Vec<String> {
    names.iter().map(ToString::to_string).collect()
}

/// What every statistic of a result needs: its name, its unit, value and interval.
fn statistics(result: &Summary) -> Vec<(String, String, Cells)> {
    let unit = cell(&result.unit);
    let mut rows = vec![("base case".to_string(), unit.clone(), alone(figure(result.base)))];
    if let Some(rank) = &result.base_rank {
        rows.push(("share of runs below the base case".into(), "1".into(), share(rank)));
    }
    if let Some(mean) = &result.mean {
        rows.push(("mean".into(), unit.clone(), estimate(mean)));
    }
    if let Some(sd) = &result.sd {
        rows.push(("standard deviation".into(), unit.clone(), estimate(sd)));
    }
    for Percentile { p, estimate: found } in &result.percentiles {
        rows.push((below(*p), unit.clone(), estimate(found)));
    }
    if let Some(success) = &result.success {
        rows.push((format!("share of runs: {}", clean(&success.rule)), "1".into(), share(&success.share)));
    }
    if let Some(never) = &result.never {
        rows.push(("share of runs: never".into(), "1".into(), share(never)));
    }
    rows.push(("runs".into(), "1".into(), alone(result.runs.to_string())));
    if result.without_value > 0 {
        rows.push(("runs without a value".into(), "1".into(), alone(result.without_value.to_string())));
    }
    rows
}

const RESULT_HEAD: [&str; 9] = [
    "result",
    "label",
    "kind",
    "statistic",
    "unit",
    "value",
    "95 % interval from",
    "95 % interval to",
    "interval by",
];

fn result_rows(result: &Summary) -> Vec<Vec<String>> {
    let kind = match result.kind {
        ResultKind::Number => "number",
        ResultKind::Years => "years",
        ResultKind::YesNo => "yes/no",
    };
    let row = |(statistic, unit, values): (String, String, Cells)| {
        let mut row = vec![cell(&result.name), cell(&result.label), kind.into(), statistic, unit];
        row.extend(values);
        row
    };
    statistics(result).into_iter().map(row).collect()
}

fn results(answers: &Answers) -> Result<TableFile, csv::Error> {
    let (made, asked) = (answers.sampling.runs, answers.sampling.runs_asked);
    let rows = answers.results.iter().flat_map(|result| {
        let mut rows = result_rows(result);
        if asked != made
            && let Some(mut row) = rows.last().cloned()
        {
            row.truncate(3);
            row.extend(["runs asked for".into(), "1".into()]);
            row.extend(alone(asked.to_string()));
            rows.push(row);
        }
        rows
    });
    file("results", &head(&RESULT_HEAD), rows)
}

fn choices(answers: &Answers) -> Result<TableFile, csv::Error> {
    let mut names = head(&["choice", "choice label", "choice value", "base value"]);
    names.extend(head(&RESULT_HEAD));
    let rows = answers.choices.iter().flat_map(|choice| {
        let base = if choice.is_base { "yes" } else { "no" };
        let before = [cell(&choice.choice), cell(&choice.label), cell(&choice.value), base.to_string()];
        choice
            .results
            .iter()
            .flat_map(result_rows)
            .map(move |row| before.iter().cloned().chain(row).collect())
    });
    file("choices", &names, rows)
}

/// The figure that a study wants to a precision, at each look.
fn looks(convergence: &Convergence) -> Result<TableFile, csv::Error> {
    let names = [
        "runs",
        "statistic",
        "unit",
        "value",
        "95 % interval from",
        "95 % interval to",
        "interval by",
        "half-width",
        "half-width wanted",
    ];
    let what = convergence
        .rule
        .as_ref()
        .map_or(convergence.statistic.clone(), |rule| format!("share of runs: {}", clean(rule)));
    let what = cell(&format!("{} of {}", what, convergence.result));
    let rows = convergence.looks.iter().map(|look| {
        let unit = if convergence.unit.is_empty() { "1".into() } else { cell(&convergence.unit) };
        let mut row = vec![look.runs.to_string(), what.clone(), unit];
        row.extend(estimate(&look.estimate));
        row.extend([look.half_width.map_or_else(String::new, half), number(convergence.within)]);
        row
    });
    file("convergence", &head(&names), rows)
}

fn calendar(answers: &Answers, year: usize) -> String {
    // Year 0 is the first calendar year's start, so the end of year n lies in first_year + n - 1.
    let offset = i64::try_from(year).unwrap_or(i64::MAX).saturating_sub(1).max(0);
    answers.study.first_year.saturating_add(offset).to_string()
}

pub(super) fn paid_back(answers: &Answers) -> Result<TableFile, csv::Error> {
    let names = [
        "year",
        "calendar year",
        "share of runs paid back by its end",
        "95 % interval from",
        "95 % interval to",
        "interval by",
    ];
    let Some(bands) = &answers.bands else { return file("bands", &head(&names), []) };
    let row = |year: String, calendar: String, s: &Share| {
        let mut row = vec![year, calendar];
        row.extend(share(s));
        row
    };
    let years = bands.paid_back.iter().enumerate();
    let years = years.map(|(i, s)| row((i + 1).to_string(), calendar(answers, i + 1), s));
    let never = row("never".into(), String::new(), &bands.never);
    file("bands", &head(&names), years.chain([never]))
}

pub(super) fn cash(answers: &Answers) -> Result<TableFile, csv::Error> {
    let bands = answers.bands.iter();
    let unit = bands.clone().map(|b| cell(&b.unit)).next().unwrap_or_default();
    let first = bands.clone().find_map(|b| b.cash.first());
    let mut names = head(&["year", "calendar year"]);
    names.push(format!("base case, {unit}"));
    names.extend(with_interval("mean", &unit));
    let shares: Vec<f64> = first.map_or_else(Vec::new, |c| c.percentiles.iter().map(|q| q.p).collect());
    for &p in &shares {
        names.extend(with_interval(&below(p), &unit));
    }
    let rows = bands.flat_map(|b| &b.cash).map(|band| {
        let mut row = vec![band.year.to_string(), calendar(answers, band.year), number(band.base)];
        row.extend(estimate(&band.mean));
        for p in &shares {
            let found = band.percentiles.iter().find(|q| q.p == *p);
            row.extend(found.map_or_else(Default::default, |q| estimate(&q.estimate)));
        }
        row
    });
    file("cash", &names, rows)
}

fn with_interval(what: &str, unit: &str) -> [String; 4] {
    [
        format!("{what}, {unit}"),
        format!("{what}: 95 % interval from, {unit}"),
        format!("{what}: 95 % interval to, {unit}"),
        format!("{what}: interval by"),
    ]
}

pub(super) fn tornado(answers: &Answers) -> Result<TableFile, csv::Error> {
    let names = [
        "input",
        "label",
        "low value (10 % of draws lie below)",
        "high value (90 % of draws lie below)",
        "result",
        "unit of the result",
        "result at base",
        "result at low value",
        "result at high value",
        "result at 25 % value",
        "result at 75 % value",
        "span",
        "span is at least",
    ];
    let rows = answers.tornado.iter().flat_map(|tornado| {
        tornado.rows.iter().map(move |row| {
            let (q1, q3) = row.quartiles.map_or_else(Default::default, |(a, b)| (figure(a), figure(b)));
            let least = if row.span_is_lower_bound { "yes" } else { "no" };
            vec![
                cell(&row.name),
                cell(&row.label),
                input_value(&row.low_input),
                input_value(&row.high_input),
                cell(&tornado.result),
                cell(&tornado.unit),
                figure(tornado.base),
                figure(row.low),
                figure(row.high),
                q1,
                q3,
                number(row.span),
                least.into(),
            ]
        })
    });
    file("tornado", &head(&names), rows)
}

/// An input's value as text with unit. A plain negative number is no formula.
fn input_value(text: &str) -> String {
    if text.parse::<f64>().is_ok() { text.to_string() } else { cell(text) }
}

pub(super) fn break_even(answers: &Answers) -> Result<TableFile, csv::Error> {
    let value = format!("value of against{HELD}");
    let names = [
        "lever",
        "unit of the lever",
        "result",
        "rule",
        "against",
        "unit of against",
        &value,
        "statistic",
        "value",
        "95 % interval from",
        "95 % interval to",
        "interval by",
    ];
    file("break_even", &head(&names), answers.break_even.iter().flat_map(break_even_rows))
}

fn break_even_rows(b: &BreakEven) -> Vec<Vec<String>> {
    let row = |against: [String; 3], statistic: String, values: Cells| {
        let mut row = vec![cell(&b.of), cell(&b.of_unit), cell(&b.result), cell(&b.rule)];
        row.extend(against);
        row.push(statistic);
        row.extend(values);
        row
    };
    let none = || [String::new(), String::new(), String::new()];
    let found = |e: &LeverEstimate| lever_estimate(e, b.interval);
    let mut rows = vec![
        row(none(), "lever at base".into(), alone(number(b.of_base))),
        row(none(), "break-even of the base case".into(), alone(lever(b.base))),
    ];
    for (k, window) in b.windows.iter().enumerate().filter(|_| b.windows.len() > 1 || is_closed(b)) {
        for (end, x) in [("from", window.from), ("up to", window.to)] {
            let what = format!("base case good {end} (window {})", k + 1);
            rows.extend(x.map(|x| row(none(), what, alone(number(x)))));
        }
    }
    let which = if b.several.value > 0.0 { "lowest break-even" } else { "break-even" };
    for percentile in &b.percentiles {
        let what = format!("{} ({which})", below(percentile.p));
        rows.push(row(none(), what, found(&percentile.estimate)));
    }
    for (statistic, values) in chances(b) {
        rows.push(row(none(), statistic, values));
    }
    let [from, to] = [b.range.0, b.range.1].map(chosen);
    let mut shares = vec![
        ("good at every value".to_owned(), b.always),
        ("good at none".to_owned(), b.never),
        ("more than one crossing".to_owned(), b.several),
    ];
    let numbers = b.crossings.iter().enumerate().filter(|_| b.crossings.len() > 1);
    shares.extend(
        numbers.map(|(k, &share)| (format!("{} crossing{}", k + 1, if k > 0 { "s" } else { "" }), share)),
    );
    shares.extend(b.below_range.map(|share| (format!("crossing below {from}"), share)));
    shares.extend(b.above_range.map(|share| (format!("crossing above {to}"), share)));
    for (what, value) in shares {
        rows.push(row(none(), format!("share of runs: {what}"), share(&value)));
    }
    let at_lever = |x: f64| [cell(&b.of), cell(&b.of_unit), chosen(x)];
    if let Some(best) = &b.best {
        rows.push(row(
            at_lever(best.lever),
            "share of runs: good, the best of the range".into(),
            share(&best.share),
        ));
    }
    for point in &b.chance_curve {
        rows.push(row(at_lever(point.lever), "share of runs: good".into(), share(&point.share)));
    }
    for point in b.curve.iter().flat_map(|curve| &curve.points) {
        let curve = b.curve.as_ref();
        let name = |of: fn(&crate::analysis::BreakEvenCurve) -> &String| {
            curve.map_or_else(String::new, |c| cell(of(c)))
        };
        let against = || [name(|c| &c.against), name(|c| &c.against_unit), number(point.at)];
        for (p, l) in [(0.1, point.p10), (0.5, point.p50), (0.9, point.p90)] {
            rows.push(row(against(), format!("{} (break-even)", below(p)), found(&l)));
        }
        rows.push(row(against(), "share of runs: good at every value".into(), share(&point.always)));
        rows.push(row(against(), "share of runs: good at none".into(), share(&point.never)));
    }
    rows
}

/// The base case is good in a window with two ends.
fn is_closed(b: &BreakEven) -> bool {
    b.windows.iter().any(|window| window.from.is_some() && window.to.is_some())
}

/// Levers for each chance. Where runs are good on different sides, all of them.
fn chances(b: &BreakEven) -> Vec<(String, Cells)> {
    let of = |chance: f64| format!("for success in {} % of runs", number((chance * 1e6).round() / 1e4));
    if b.good_above.is_some() {
        let found = |want: &ForChance| LeverEstimate { lever: want.lever, low: want.low, high: want.high };
        let one = |want: &ForChance| (of(want.chance), lever_estimate(&found(want), b.interval));
        return b.for_chance.iter().map(one).collect();
    }
    let mut rows = Vec::new();
    for want in &b.levers_for_chance {
        if want.levers.is_empty() {
            let word = if want.reached { Lever::Always } else { Lever::Never };
            rows.push((of(want.chance), alone(lever(word))));
        }
        for at in &want.levers {
            let side = if at.rises { "from here up" } else { "up to here" };
            let found = LeverEstimate { lever: Lever::At(at.lever), low: at.low, high: at.high };
            rows.push((format!("{}, {side}", of(want.chance)), lever_estimate(&found, b.interval)));
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;

    fn read(bytes: &[u8]) -> Vec<Vec<String>> {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes);
        reader.records().map(|r| r.unwrap().iter().map(ToString::to_string).collect()).collect()
    }

    fn table(answers: &Answers, name: &str) -> Vec<Vec<String>> {
        let files = tables(answers).unwrap();
        read(&files.iter().find(|(file, _)| file == name).unwrap().1)
    }

    #[test]
    fn every_table_is_rectangular_and_named() {
        let mut answers = fixture::answers();
        fixture::single_runs(&mut answers);
        let files = tables(&answers).unwrap();
        let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(
            names,
            [
                "results.csv",
                "bands.csv",
                "cash.csv",
                "tornado.csv",
                "break_even.csv",
                "choices.csv",
                "links.csv",
                "paths.csv",
                "choices_bands.csv",
                "choices_cash.csv",
                "choices_tornado.csv",
                "choices_break_even.csv",
                "drivers.csv",
                "tenths.csv",
                "groups.csv",
                "alternatives.csv",
                "differences.csv",
                "along.csv",
                "information.csv",
                "conditions.csv",
                "conditions_path.csv",
                "claim.csv",
                "choices_alternatives.csv",
                "choices_information.csv",
                "choices_conditions.csv",
                "study.csv",
                "histograms.csv",
                "cumulative.csv",
                "remarks.csv"
            ]
        );
        for (name, bytes) in &files {
            let rows = read(bytes);
            assert!(rows.len() > 1, "{name}");
            assert!(rows.iter().all(|row| row.len() == rows[0].len()), "{name}");
            let mut head = rows[0].clone();
            head.sort();
            head.dedup();
            assert!(head.len() == rows[0].len() && !head.contains(&String::new()), "{name}: {:?}", rows[0]);
        }
    }

    #[test]
    fn what_stands_beside_the_figures_has_tables_too() {
        let text = [
            "title = 'A'\ncurrency = 'EUR'\nfirst_year = 2027\nyears = 1\n[inputs.fuel]\nlabels = ['gas', '\u{202E}=x']",
            "weights = [3, 1]\nsource = '+1'\n[results.a]\nformula = 'fuel == \"gas\"'\n",
        ]
        .join("\n");
        let (made, found) = crate::model::read(&text);
        let model = made.unwrap_or_else(|| panic!("{found:?}")).1;
        let answers = Answers { inputs: crate::analysis::input_rows(&model), ..fixture::answers() };
        let inputs = table(&answers, "inputs.csv");
        assert_eq!(
            inputs[1][..7],
            ["fuel", "fuel", "", "", "drawn", inputs[1][5].as_str(), "gas"].map(String::from)
        );
        assert!(inputs[1].contains(&"'+1".to_owned()), "{inputs:?}");
        let values = table(&answers, "inputs_values.csv");
        let of = |k: usize| [values[k][2].as_str(), &values[k][3], &values[k][4]].map(str::to_owned);
        assert_eq!(
            (of(1), of(2)),
            (["gas", "0.75", "yes"].map(String::from), ["'=x", "0.25", "no"].map(String::from))
        );
        let counted: u64 = table(&answers, "histograms.csv")[1..]
            .iter()
            .filter(|row| row[0] == answers.results[0].name)
            .map(|row| row[5].parse::<u64>().unwrap())
            .sum();
        let histogram = &answers.results[0].histogram;
        let all: u64 = histogram.counts.iter().sum();
        assert_eq!(counted, all + histogram.below + histogram.above + histogram.never);
        assert_eq!(table(&answers, "remarks.csv").len(), 2);
        assert!(table(&answers, "study.csv").iter().any(|row| row[0] == "seed"));
    }

    #[test]
    fn values_keep_their_precision_and_never_its_word() {
        let rows = table(&fixture::answers(), "results.csv");
        let find = |result: &str, statistic: &str| {
            rows.iter().find(|row| row[0] == result && row[3] == statistic).unwrap().clone()
        };
        // 75 + 1.2816 x 330 = 497.928, known to 3 x 330 / 128 = 7.7.
        assert_eq!(find("npv", "90 % of runs lie below")[5..], ["498", "490", "506", "replicates"]);
        assert_eq!(find("npv", "mean")[4], "EUR");
        assert_eq!(find("payback", "90 % of runs lie below")[5], "never");
        assert_eq!(find("npv", "share of runs: at least 0 EUR")[4], "1");
        let bands = table(&fixture::answers(), "bands.csv");
        assert_eq!(bands[1][..2], ["1".to_string(), "2027".to_string()]);
        assert_eq!(bands.last().unwrap()[0], "never");
        assert_eq!(table(&fixture::answers(), "cash.csv").len(), 22);
        let paths = table(&fixture::answers(), "paths.csv");
        assert_eq!(paths.len(), 41);
        assert_eq!(
            paths[1][..6],
            ["export_price", "Export price", "EUR/kWh", "", "base", "2027"].map(String::from)
        );
        assert_eq!((paths[1][6].as_str(), paths[1][7].as_str()), ("0.075", "0.0757"));
        let links = table(&fixture::answers(), "links.csv");
        assert_eq!(links[1][..5], ["gas_price", "export_price", "0.5", "0.5", "0.497"].map(String::from));
        let break_even = table(&fixture::answers(), "break_even.csv");
        assert!(break_even.iter().any(|row| row[7] == "for success in 95 % of runs" && row[8] == "never"));
        // Points of the curve of chances stand with the lever itself held: from 0.02 on in steps of 0.003.
        let chances: Vec<_> = break_even.iter().filter(|row| row[7] == "share of runs: good").collect();
        assert_eq!(
            (chances.len(), chances[0][4].as_str(), chances[0][6].as_str()),
            (41, "export_price", "0.02")
        );
        assert!(break_even.iter().any(|row| row[7] == "share of runs: crossing above 0.14"));
    }

    #[test]
    fn a_window_has_all_its_levers_in_the_table() {
        let rows = table(&fixture::in_a_window(), "break_even.csv");
        let find = |statistic: &str| {
            rows.iter().filter(|row| row[7] == statistic).map(|row| row[8].clone()).collect::<Vec<_>>()
        };
        assert_eq!(find("base case good from (window 1)"), ["3"]);
        assert_eq!(find("base case good up to (window 1)"), ["7"]);
        // Known to 0.1: the last digit is of the order of half of that.
        assert_eq!(find("for success in 80 % of runs, from here up"), ["3.34"]);
        assert_eq!(find("for success in 80 % of runs, up to here"), ["6.66"]);
        assert_eq!(find("for success in 99 % of runs"), ["never"]);
        assert_eq!(find("50 % of runs lie below (lowest break-even)").len(), 1);
        assert_eq!(find("share of runs: 2 crossings"), ["0.984"]);
    }

    #[test]
    fn a_map_has_a_row_for_each_figure_of_each_cell() {
        let rows = table(&fixture::with_map(11, 4), "break_even_map.csv");
        assert_eq!(rows.len(), 1 + 11 * 4 * 5);
        assert!(rows[0][6].contains("intervention, not conditioning"));
        assert!(rows.iter().all(|row| row.len() == rows[0].len()));
        assert!(
            rows.iter().any(|row| row[10] == "50 % of runs lie below (break-even)" && row[11] == "always")
        );
        assert!(
            rows.iter().any(|row| row[10] == "50 % of runs lie below (break-even)" && row[11] == "never")
        );
    }

    #[test]
    fn no_text_becomes_a_formula() {
        for bad in ["=1+1", "+cmd", "-cmd", "@sum", "\tx", "  =x", "\r=x"] {
            assert!(cell(bad).starts_with('\''), "{bad:?}");
        }
        assert_eq!(cell("plain, \"text\""), "plain, \"text\"");
        let mut answers = fixture::answers();
        answers.results[0].label = "=HYPERLINK(\"x\")".into();
        answers.results[0].unit = "@EUR".into();
        answers.choices[0].value = "-1 1/yr".into();
        if let Some(tornado) = &mut answers.tornado {
            tornado.rows[0].label = "+1".into();
            tornado.rows[0].low_input = "-5 degC".into();
        }
        answers.break_even[0].of_unit = "=1".into();
        for (name, bytes) in tables(&answers).unwrap() {
            for text in read(&bytes).into_iter().flatten() {
                let risky = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
                assert!(!risky || text.parse::<f64>().is_ok(), "{name}: {text:?}");
            }
        }
    }

    #[test]
    fn awkward_answers_are_written_too() {
        for answers in [fixture::tiresome(), fixture::all_equal(), fixture::all_never()] {
            for (name, bytes) in tables(&answers).unwrap() {
                let text = String::from_utf8(bytes).unwrap();
                assert!(
                    !text.contains("NaN") && !text.contains("inf,") && !text.contains('\u{1b}'),
                    "{name}"
                );
            }
        }
    }
}
