//! The answers as text for a terminal, at most [`WIDTH`] columns wide, without
//! colour: about a page, no label cut. All details are in the tables.

use comfy_table::presets::{NOTHING, UTF8_HORIZONTAL_ONLY};
use comfy_table::{Cell, CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Table, Width};

use crate::analysis::{
    Answers, BreakEven, ChoiceAnswer, Figure, Lever, LeverEstimate, ResultKind, Share, Summary, Tornado,
};

use super::by_choice;
use super::flip_words::{chance_in_words, windows_in_words};
use super::numbers::{
    clean, decimals, estimate, few_decimals, figure, grouped, in_sentence, lever_half_width, percent,
    percent_of, share_with_interval, shortened, spoken, with_unit,
};
use super::stopping;
use super::words::{Touches, cautions_in_short, sentences, subject};

/// Columns that the text keeps to.
pub const WIDTH: u16 = 100;

/// Rows of the tornado that are shown.
const TORNADO_ROWS: usize = 5;

/// Longest label that is shown whole.
const MOST: usize = 120;

/// Everything: two sentences, the results, side by side, what it hangs on, where it flips, remarks, cautions.
pub fn text(answers: &Answers) -> String {
    let sentences = sentences(answers).map(|s| wrapped(&s, "")).concat();
    let mut parts = vec![sentences, results(answers)];
    parts.extend(choices(answers));
    parts.extend(super::yearly::side_by_side(answers));
    parts.extend(super::choosing::alternatives(answers));
    parts.extend(answers.tornado.as_ref().map(|tornado| hangs_on(answers, tornado)));
    parts.extend(super::indices::in_short(answers));
    parts.extend(flips(answers));
    parts.extend(super::failing::failing(answers));
    parts.extend(super::choosing::knowing(answers));
    parts.extend(super::failing::claim(answers));
    parts.extend(super::groups::groups(answers));
    parts.extend(super::homes::paragraphs(answers).iter().map(|text| wrapped(text, "")));
    parts.push(remarks(answers));
    parts.push(wrapped(&cautions_in_short(Touches::of(answers)), ""));
    parts.retain(|part| !part.is_empty());
    parts.join("\n")
}

/// The answer's two sentences alone.
pub fn headline(answers: &Answers) -> String {
    sentences(answers).map(|s| wrapped(&s, "")).concat()
}

const BELOW: [&str; 3] = ["10 % of\nruns lie\nbelow", "half of\nruns lie\nbelow", "90 % of\nruns lie\nbelow"];

/// The results: base case, percentiles, and the shares of runs with their 95 % intervals.
pub fn results(answers: &Answers) -> String {
    let [low, middle, high] = BELOW;
    let mut table =
        ruled(&["Result", "Unit", "Base\ncase", low, middle, high, "Share of runs\n[95 % interval]"]);
    for result in &answers.results {
        let mut row = vec![Cell::new(label(&result.label)), Cell::new(unit_word(&result.unit))];
        row.extend(figures(answers, result).into_iter().map(right));
        row.push(right(shares(result)));
        table.add_row(row);
    }
    // Figures stay whole; labels give way.
    widths(&mut table, &[(0, 28, 40), (6, 22, 27)]);
    let runs = grouped(answers.sampling.runs as f64, 0);
    let method = clean(&answers.sampling.method);
    let base =
        if answers.choices.is_empty() { "" } else { " Choices at their base values; each value below." };
    let asked = asked_for(answers).unwrap_or_default();
    let links = super::links::sentence(answers).unwrap_or_default();
    let mut note =
        format!("{runs} runs{asked}, method {method}, seed {}.{base}{links}", answers.sampling.seed);
    if let Some(told) = stopping::sentence(answers) {
        note.push_str(&format!(" {told}"));
    }
    format!("{}{}", lines(&table), wrapped(&note, ""))
}

/// How many runs were asked for, where that is another number than were made.
fn asked_for(answers: &Answers) -> Option<String> {
    let facts = &answers.sampling;
    let why = if facts.method == "sobol" { "in powers of two" } else { "as many in each replicate" };
    (facts.runs != facts.runs_asked)
        .then(|| format!(" ({} asked for; made {why})", grouped(facts.runs_asked as f64, 0)))
}

/// What is counted of a result, in words, and its share.
fn shares(result: &Summary) -> String {
    let rule = |success: &crate::analysis::Success| shortened(&clean(&success.rule), 30);
    let success = result.success.as_ref().map(|s| format!("{}:\n{}", rule(s), share_with_interval(&s.share)));
    let never = result.never.as_ref().map(|never| format!("never:\n{}", share_with_interval(never)));
    [success, never].into_iter().flatten().collect::<Vec<_>>().join("\n")
}

/// For each choice one result, for each value of the choice; nothing without choices.
pub fn choices(answers: &Answers) -> Option<String> {
    let mut names: Vec<&str> = Vec::new();
    for choice in &answers.choices {
        if !names.contains(&choice.choice.as_str()) {
            names.push(&choice.choice);
        }
    }
    let mut out = String::new();
    for name in names {
        let values: Vec<&ChoiceAnswer> = answers.choices.iter().filter(|c| c.choice == name).collect();
        out.extend(side_by_side(answers, &values));
        out.push_str(&by_choice::in_short(answers, &values));
    }
    (!out.is_empty()).then_some(out)
}

/// The headline for each value; where it does not depend on the choice, the
/// first result that does and has a threshold, else the first that does.
fn side_by_side(answers: &Answers, values: &[&ChoiceAnswer]) -> Option<String> {
    let first = values.first()?;
    let shown = first
        .results
        .iter()
        .find(|r| r.name == answers.study.headline)
        .or_else(|| first.results.iter().find(|r| r.success.is_some()))
        .or_else(|| first.results.first())?;
    let unit = unit_word(&shown.unit);
    let unit = if unit.is_empty() { unit } else { format!(", {unit}") };
    let title = format!(
        "Side by side, by {}: {}{unit}",
        in_sentence(&shortened(&clean(&first.label), MOST)),
        in_sentence(&label(&shown.label))
    );
    let counted = match (&shown.success, &shown.never) {
        (Some(success), _) => format!("share {}", shortened(&clean(&success.rule), 24)),
        (None, Some(_)) => "share never".into(),
        (None, None) => String::new(),
    };
    let mut table = plain(&["", "base case", "10 % below", "half below", "90 % below", &counted]);
    for choice in values {
        let Some(result) = choice.results.iter().find(|r| r.name == shown.name) else { continue };
        let mark = if choice.is_base { " (base)" } else { "" };
        let share = result.success.as_ref().map(|s| &s.share).or(result.never.as_ref());
        let mut row = vec![Cell::new(format!("{}{mark}", shortened(&clean(&choice.value), 60)))];
        row.extend(figures(answers, result).into_iter().map(right));
        row.push(right(share.map_or_else(String::new, without_interval)));
        table.add_row(row);
    }
    Some(format!("{}{}", wrapped(&title, ""), lines(&table)))
}

/// A share to the digits that its interval supports.
fn without_interval(share: &Share) -> String {
    // None and all are no roundings.
    if share.value == 0.0 || share.value == 1.0 {
        return grouped(share.value, 0);
    }
    share_with_interval(share).split(' ').next().unwrap_or_default().to_string()
}

fn label(text: &str) -> String {
    shortened(&clean(text), MOST)
}

fn unit_word(unit: &str) -> String {
    if unit == "yr" { "years".into() } else { shortened(&clean(unit), 24) }
}

/// Base, P10, P50 and P90.
fn figures(answers: &Answers, result: &Summary) -> [String; 4] {
    let currency = &answers.study.currency;
    let unit = &result.unit;
    if result.kind == ResultKind::YesNo {
        let base = match result.base {
            Figure::Number(x) => if x == 0.0 { "no" } else { "yes" }.to_string(),
            base => figure(base, None, unit, currency),
        };
        return [base, String::new(), String::new(), String::new()];
    }
    let at = |p: f64| {
        let found = result.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9);
        found.map_or_else(String::new, |q| estimate(&q.estimate, unit, currency))
    };
    [figure(result.base, None, unit, currency), at(0.1), at(0.5), at(0.9)]
}

/// What the result hangs on: the longest spans.
pub fn hangs_on(answers: &Answers, tornado: &Tornado) -> String {
    let written = |f: Figure| figure(f, None, &tornado.unit, &answers.study.currency);
    let moving: Vec<_> =
        tornado.rows.iter().filter(|row| row.span > 0.0 || row.span_is_lower_bound).collect();
    let unit = unit_word(&tornado.unit);
    let mut table = plain(&["", "low", "high", &unit]);
    for row in moving.iter().take(TORNADO_ROWS) {
        table.add_row(vec![
            Cell::new(label(&row.label)),
            right(input_value(&row.low_input, &row.unit)),
            right(input_value(&row.high_input, &row.unit)),
            right(format!("{} -> {}", written(row.low), written(row.high))),
        ]);
    }
    let title = format!(
        "What it hangs on: {} as one input alone goes from its low to its high value (base case {})",
        subject(&tornado.label),
        with_unit(&written(tornado.base), &tornado.unit)
    );
    let mut out = wrapped(&title, "");
    if moving.is_empty() {
        out.push_str("  no input moves it\n");
    } else {
        out.push_str(&lines(&table));
    }
    let more = moving.len().saturating_sub(TORNADO_ROWS);
    let mut notes: Vec<String> = Vec::new();
    if more > 0 {
        notes.push(format!("{more} more with a smaller effect are in tornado.csv."));
    }
    notes.push("What inputs do together is not seen one at a time.".into());
    notes.extend(other_driver(answers, moving.first().map(|row| row.name.as_str())));
    // The standing note says this at length: it is under the chart.
    notes.extend(tornado.notes.iter().filter(|note| !note.starts_with("One ")).map(|note| clean(note)));
    out.push_str(&wrapped(&notes.join(" "), "  "));
    out
}

/// What drives the result most over all runs, where that is another input than the longest bar's.
fn other_driver(answers: &Answers, first: Option<&str>) -> Option<String> {
    let drivers = answers.drivers.as_ref()?;
    let top = drivers.sensitivity.rows.first().filter(|row| Some(row.name.as_str()) != first)?;
    Some(format!(
        "Over all runs together it hangs most on {} (drivers.csv).",
        in_sentence(&label(&top.label))
    ))
}

/// An input's value, its unit as spoken.
fn input_value(value: &str, unit: &str) -> String {
    let number = value.strip_suffix(unit).filter(|rest| rest.ends_with(' ')).map(str::trim);
    shortened(&number.map_or_else(|| clean(value), |number| spoken(number, unit)), 32)
}

/// Where the answer flips: a few lines for each question, a lever asked twice (against other inputs) once.
pub fn flips(answers: &Answers) -> Option<String> {
    let mut told: Vec<(&str, &str)> = Vec::new();
    let mut out = String::new();
    let mut rule = String::new();
    for b in &answers.break_even {
        if told.contains(&(&b.of, &b.result)) {
            continue;
        }
        told.push((&b.of, &b.result));
        let here = format!("{} {}", in_sentence(&label(&b.result_label)), shortened(&clean(&b.rule), 40));
        if here != rule {
            let which = if b.by_default { ", by what it hangs on most" } else { "" };
            out.push_str(&wrapped(&format!("Where the answer flips ({here}){which}:"), ""));
            rule = here;
        }
        out.push_str(&hanging(&flip(answers, b)));
    }
    (!out.is_empty()).then_some(out)
}

pub(super) fn flip(answers: &Answers, b: &BreakEven) -> String {
    let currency = &answers.study.currency;
    let number = |x: f64| grouped(x, decimals(x, None, &b.of_unit, currency));
    let unit = |x: f64| spoken(&number(x), &b.of_unit);
    let mut said = vec![match b.base {
        Lever::At(_) if b.windows.len() != 1 || b.windows[0].from.is_some() == b.windows[0].to.is_some() => {
            let where_good = windows_in_words(&b.windows, &number);
            format!("good {where_good} in the base case (base value {})", unit(b.of_base))
        }
        Lever::At(x) => format!("flips at {} in the base case (base value {})", unit(x), number(b.of_base)),
        Lever::Always => format!("good at every value in the base case (base value {})", unit(b.of_base)),
        Lever::Never => format!("good at no value in the base case (base value {})", unit(b.of_base)),
    }];
    // Values found from runs, to the digits that their intervals support.
    let known = |x: f64, half: Option<f64>| grouped(x, few_decimals(x, half, &b.of_unit, currency));
    let at = |p: f64| {
        let LeverEstimate { lever, low, high } =
            b.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9)?.estimate;
        if let Lever::At(x) = lever { Some(known(x, lever_half_width(lever, low, high))) } else { None }
    };
    // Of several crossings the percentiles are those of the lowest.
    let first = if b.several.value > 0.0 { "first " } else { "" };
    match (at(0.1), at(0.5), at(0.9)) {
        (Some(low), _, Some(high)) => said.push(format!("8 in 10 runs {first}flip between {low} and {high}")),
        (_, Some(middle), _) => said.push(format!("half of the runs {first}flip below {middle}")),
        _ => {}
    }
    let side = match b.good_above {
        Some(true) => "at or above",
        Some(false) => "at or below",
        None => "at",
    };
    let told = |chance: f64| (chance - 0.8).abs() < 1e-9;
    if b.good_above.is_none()
        && let Some(want) = b.levers_for_chance.iter().find(|w| told(w.chance)).or(b.levers_for_chance.last())
    {
        said.push(chance_in_words(want, b.best.as_ref(), &known));
    }
    if let Some(want) = b.for_chance.iter().find(|w| told(w.chance)).or(b.for_chance.last()) {
        let in_runs = format!("good in {} of runs", percent_of(want.chance));
        let half = lever_half_width(want.lever, want.low, want.high);
        let places =
            if let Lever::At(x) = want.lever { few_decimals(x, half, &b.of_unit, currency) } else { 0 };
        let end = |lever| match lever {
            Some(Lever::At(x)) => grouped(x, places),
            Some(Lever::Always) => "every value".into(),
            Some(Lever::Never) => "no value".into(),
            None => "no limit".to_owned(),
        };
        said.push(match want.lever {
            Lever::At(x) => {
                format!("{in_runs} {side} {} [{}, {}]", grouped(x, places), end(want.low), end(want.high))
            }
            Lever::Always => format!("{in_runs} at every value"),
            Lever::Never => format!("{in_runs} at no value"),
        });
    }
    for (share, words) in [
        (b.always, "good at every value"),
        (b.never, "good at no value"),
        (b.several, "more than one crossing"),
    ] {
        if share.value >= 0.005 {
            said.push(format!("{words} in {} of runs", percent(&share)));
        }
    }
    said.extend(b.note.as_ref().map(|note| clean(note)));
    format!("{}: {}.", label(&b.of_label), said.join("; "))
}

/// What the reader must know of this answer, and which inputs come from nowhere.
fn remarks(answers: &Answers) -> String {
    let mut out: String = answers.remarks.iter().map(|remark| wrapped(&clean(remark), "")).collect();
    let unsourced = &answers.study.unsourced;
    let names = unsourced.iter().map(|name| clean(name)).collect::<Vec<_>>().join(", ");
    match unsourced.len() {
        0 => {}
        1 => out.push_str(&wrapped(&format!("One input has no source: {names}."), "")),
        n => out.push_str(&wrapped(&format!("{n} inputs have no source: {names}."), "")),
    }
    out
}

pub(super) fn right(text: String) -> Cell {
    Cell::new(text).set_alignment(CellAlignment::Right)
}

fn ruled(head: &[&str]) -> Table {
    let mut table = Table::new();
    table
        .load_style(UTF8_HORIZONTAL_ONLY.row_separator(LineStyle::none()))
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(WIDTH);
    let cell = |(i, text): (usize, &&str)| {
        let left = i == 0 || *text == "Unit";
        Cell::new(text).set_alignment(if left { CellAlignment::Left } else { CellAlignment::Right })
    };
    table.set_header(head.iter().enumerate().map(cell).collect::<Vec<Cell>>());
    table
}

/// Least and greatest widths of some columns.
fn widths(table: &mut Table, columns: &[(usize, u16, u16)]) {
    for &(column, least, most) in columns {
        if let Some(column) = table.column_mut(column) {
            column.set_constraint(ColumnConstraint::Boundaries {
                lower: Width::Fixed(least),
                upper: Width::Fixed(most),
            });
        }
    }
}

pub(super) fn plain(head: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(NOTHING).set_content_arrangement(ContentArrangement::Dynamic).set_width(WIDTH);
    let cell = |text: &&str| Cell::new(text).set_alignment(CellAlignment::Right);
    table.set_header(head.iter().map(cell).collect::<Vec<Cell>>());
    table
}

/// The table's lines without blanks at their ends.
pub(super) fn lines(table: &Table) -> String {
    let mut out = String::new();
    for line in table.lines() {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// Text broken into lines, set in; all but the first by as much again.
fn hanging(text: &str) -> String {
    let all = wrapped(text, "    ");
    all.strip_prefix("  ").map_or_else(String::new, ToString::to_string)
}

/// Text broken into lines, each with an indent.
pub(super) fn wrapped(text: &str, indent: &str) -> String {
    let mut out = String::new();
    let mut line = String::new();
    let room = usize::from(WIDTH) - indent.len();
    for word in text.split_whitespace() {
        let mut word = word.to_string();
        loop {
            let taken = line.chars().count();
            let gap = usize::from(taken > 0);
            if taken + gap + word.chars().count() <= room {
                if gap > 0 {
                    line.push(' ');
                }
                line.push_str(&word);
                break;
            }
            if taken == 0 {
                // A word longer than a line is cut.
                line = word.chars().take(room).collect();
                word = word.chars().skip(room).collect();
            }
            out.push_str(&format!("{indent}{line}\n"));
            line.clear();
        }
    }
    if !line.is_empty() {
        out.push_str(&format!("{indent}{line}\n"));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;

    fn keeps_to_width(text: &str) {
        for line in text.lines() {
            assert!(line.chars().count() <= usize::from(WIDTH), "{line}");
            assert!(!line.chars().any(char::is_control), "{line:?}");
            assert_eq!(line, line.trim_end());
        }
    }

    #[test]
    fn the_whole_text_for_the_eye() {
        let text = text(&fixture::answers());
        if std::env::var_os("PAYSPREAD_LOOK").is_some() {
            println!("{text}");
        }
        keeps_to_width(&text);
        for wanted in [
            "90 % of",
            "0.590 [0.582, 0.597]", // P(z >= -75/330) = 0.58988, half-width 1.96 sqrt(pq/16384) = 0.0075
            "0.350 [0.343, 0.357]",
            "never",
            "Export price",
            "9 more with a smaller effect are in tornado.csv",
            "0.045 [0.043, 0.048]",
            "One input has no source: upkeep.",
            "Side by side, by discount rate: net present value, EUR",
            "0.04 1/yr (base)",
            "Legionella",
        ] {
            // Cells may be broken over lines, so blanks do not count.
            assert!(flat(&text).contains(&flat(wanted)) || cells(&text, wanted), "{wanted} in\n{text}");
        }
    }

    fn flat(text: &str) -> String {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Whether every word of `wanted` is somewhere in the text.
    fn cells(text: &str, wanted: &str) -> bool {
        wanted.split_whitespace().all(|word| text.contains(word))
    }

    #[test]
    fn awkward_answers_keep_to_the_width() {
        for answers in [
            fixture::tiresome(),
            fixture::all_equal(),
            fixture::all_never(),
            fixture::about_payback(),
            fixture::answers_of(100, 0.2),
        ] {
            keeps_to_width(&text(&answers));
        }
    }

    #[test]
    fn the_studies_fit_a_page_and_no_word_is_cut() {
        for (name, answers) in fixture::studies() {
            let text = text(&answers);
            keeps_to_width(&text);
            assert!(text.lines().count() <= 95, "{name}:\n{text}");
            assert!(!text.contains('…'), "{name}:\n{text}");
            // A table's figures are not broken over two lines.
            assert!(!text.lines().any(|line| line.ends_with(',') && line.contains(" [")), "{name}:\n{text}");
            let [first, second] = sentences(&answers);
            assert!(first.contains("20 years") && first.contains("in 10"), "{first}");
            assert!(second.contains("20 years") && second.contains("futures tried"), "{second}");
        }
    }

    #[test]
    fn levers_asked_twice_are_told_once() {
        let mut answers = fixture::answers();
        answers.break_even.push(answers.break_even[0].clone());
        let told = flips(&answers).unwrap();
        assert_eq!(
            told.matches("Export price: flips at 0.076 EUR/kWh in the base case (base value 0.075)").count(),
            1
        );
        let flat = flat(&told);
        assert!(flat.starts_with("Where the answer flips (net present value at least 0 EUR):"), "{flat}");
        assert!(flat.contains("8 in 10 runs flip between 0.022 and 0.124"), "{flat}");
    }

    #[test]
    fn nothing_to_say_is_no_table() {
        let mut answers = fixture::answers();
        answers.choices.clear();
        answers.tornado = None;
        answers.break_even.clear();
        assert!(choices(&answers).is_none());
        assert!(!text(&answers).contains("hangs on"));
    }

    #[test]
    fn long_words_are_cut() {
        keeps_to_width(&wrapped(&"x".repeat(350), "  "));
        assert_eq!(wrapped(&"x".repeat(350), "").lines().count(), 4);
        assert_eq!(wrapped("a b", "  "), "  a b\n");
    }
}
