//! The answers as text for a terminal, at most [`WIDTH`] columns wide, without colour.

use comfy_table::presets::{NOTHING, UTF8_HORIZONTAL_ONLY};
use comfy_table::{Cell, CellAlignment, ContentArrangement, LineStyle, Table};

use crate::analysis::{
    Answers, BreakEven, ChoiceAnswer, Estimate, Figure, Lever, ResultKind, Share, Summary, Tornado,
};

use super::numbers::{
    clean, decimals, estimate, estimate_with_interval, figure, grouped, percent_of, share_with_interval,
    shortened, with_unit,
};
use super::words::{Touches, cautions_in_short, sentences};

/// Columns that the text keeps to.
pub const WIDTH: u16 = 100;

/// Rows of the tornado that are shown.
const TORNADO_ROWS: usize = 8;

/// Everything: two sentences, the tables, remarks, cautions.
pub fn text(answers: &Answers) -> String {
    let sentences = sentences(answers).map(|s| wrapped(&s, "")).concat();
    let mut parts = vec![sentences, results(answers)];
    parts.extend(choices(answers));
    parts.extend(answers.tornado.as_ref().map(|tornado| hangs_on(answers, tornado)));
    parts.extend(answers.break_even.iter().map(|b| flips(answers, b)));
    if !answers.remarks.is_empty() {
        parts.push(answers.remarks.iter().map(|remark| wrapped(&clean(remark), "  ")).collect());
    }
    parts.push(wrapped(&cautions_in_short(Touches::of(answers)), ""));
    parts.retain(|part| !part.is_empty());
    parts.join("\n")
}

/// The results: base case, percentiles and mean, then the shares of runs, with their 95 % intervals.
pub fn results(answers: &Answers) -> String {
    let mut table = ruled(&[
        "Result",
        "Unit",
        "Base case",
        "10 % of\nruns lie\nbelow",
        "50 % of\nruns lie\nbelow",
        "90 % of\nruns lie\nbelow",
        "Mean",
    ]);
    let mut shares = ruled(&["Share of runs", "Share", "95 % interval"]);
    for result in &answers.results {
        let mut row =
            vec![Cell::new(shortened(&clean(&result.label), 60)), Cell::new(unit_word(&result.unit))];
        row.extend(figures(answers, result).into_iter().map(right));
        table.add_row(row);
        for (words, share) in shares_of(result) {
            let text = share_with_interval(share);
            let (value, interval) = text.split_once(' ').unwrap_or((&text, ""));
            shares.add_row(vec![Cell::new(words), right(value.into()), right(interval.into())]);
        }
    }
    let runs = grouped(answers.sampling.runs as f64, 0);
    let note = format!(
        "{runs} runs, method {}, seed {}. In brackets: 95 % interval.",
        clean(&answers.sampling.method),
        answers.sampling.seed
    );
    let shares = if shares.is_empty() { String::new() } else { format!("\n{}", lines(&shares)) };
    format!("{}{shares}{}", lines(&table), wrapped(&note, ""))
}

/// What is counted of a result, in words, and its share.
fn shares_of(result: &Summary) -> Vec<(String, &Share)> {
    let label = shortened(&clean(&result.label), 50);
    let mut out = Vec::new();
    if let Some(success) = &result.success {
        out.push((format!("{label}: {}", shortened(&clean(&success.rule), 30)), &success.share));
    }
    if let Some(never) = &result.never {
        out.push((format!("{label}: never"), never));
    }
    out
}

/// The results for each value of each choice, side by side; nothing without choices.
pub fn choices(answers: &Answers) -> Option<String> {
    let mut names: Vec<&str> = Vec::new();
    for choice in &answers.choices {
        if !names.contains(&choice.choice.as_str()) {
            names.push(&choice.choice);
        }
    }
    let one = |name: &&str| {
        let values: Vec<&ChoiceAnswer> = answers.choices.iter().filter(|c| c.choice == *name).collect();
        let label = values.first().map_or_else(String::new, |c| shortened(&clean(&c.label), 60));
        format!(
            "{}{}",
            wrapped(&format!("{label}, a matter of judgement:"), ""),
            choice_table(answers, &values)
        )
    };
    (!names.is_empty()).then(|| names.iter().map(one).collect::<Vec<String>>().join("\n"))
}

fn choice_table(answers: &Answers, values: &[&ChoiceAnswer]) -> String {
    let mut table = ruled(&[
        "Value",
        "Result",
        "Base case",
        "10 % of\nruns lie\nbelow",
        "50 % of\nruns lie\nbelow",
        "90 % of\nruns lie\nbelow",
        "Share of runs",
    ]);
    for choice in values {
        let mark = if choice.is_base { " (base)" } else { "" };
        let value = format!("{}{mark}", shortened(&clean(&choice.value), 30));
        for result in &choice.results {
            let unit = unit_word(&result.unit);
            let unit = if unit.is_empty() { unit } else { format!(", {unit}") };
            let result_name = format!("{}{unit}", shortened(&clean(&result.label), 40));
            let [base, p10, p50, p90, _] = figures(answers, result);
            let mut row = vec![Cell::new(&value), Cell::new(result_name)];
            row.extend([base, p10, p50, p90, share_in_short(result)].into_iter().map(right));
            table.add_row(row);
        }
    }
    lines(&table)
}

/// A share to the digits that its interval supports.
fn without_interval(share: &Share) -> String {
    share_with_interval(share).split(' ').next().unwrap_or_default().to_string()
}

/// Share of success or of never.
fn share_in_short(result: &Summary) -> String {
    match (&result.success, &result.never) {
        (Some(success), _) => {
            format!("{}: {}", shortened(&clean(&success.rule), 20), without_interval(&success.share))
        }
        (None, Some(never)) => format!("never: {}", without_interval(never)),
        (None, None) => String::new(),
    }
}

fn unit_word(unit: &str) -> String {
    if unit == "yr" { "years".into() } else { shortened(&clean(unit), 24) }
}

/// Base, P10, P50, P90 and the mean with its interval.
fn figures(answers: &Answers, result: &Summary) -> [String; 5] {
    let currency = &answers.study.currency;
    let unit = &result.unit;
    let base = match (result.kind, result.base) {
        (ResultKind::YesNo, Figure::Number(x)) => (if x == 0.0 { "no" } else { "yes" }).to_string(),
        (_, base) => figure(base, None, unit, currency),
    };
    let at = |p: f64| {
        let found = result.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9);
        found.map_or_else(String::new, |q| estimate(&q.estimate, unit, currency))
    };
    let mean = |e: &Estimate| estimate_with_interval(e, unit, currency);
    if result.kind == ResultKind::YesNo {
        return [base, String::new(), String::new(), String::new(), String::new()];
    }
    [base, at(0.1), at(0.5), at(0.9), result.mean.as_ref().map_or_else(String::new, mean)]
}

/// What the result hangs on, as a short list.
pub fn hangs_on(answers: &Answers, tornado: &Tornado) -> String {
    let mut table = plain(&["", "from", "to", "moves it from", "to"]);
    let written = |f: Figure| figure(f, None, &tornado.unit, &answers.study.currency);
    let moving: Vec<_> =
        tornado.rows.iter().filter(|row| row.span > 0.0 || row.span_is_lower_bound).collect();
    for row in moving.iter().take(TORNADO_ROWS) {
        table.add_row(vec![
            Cell::new(shortened(&clean(&row.label), 40)),
            right(shortened(&clean(&row.low_input), 22)),
            right(shortened(&clean(&row.high_input), 22)),
            right(written(row.low)),
            right(written(row.high)),
        ]);
    }
    let unit = if tornado.unit.is_empty() { String::new() } else { format!(", {}", clean(&tornado.unit)) };
    let title = format!(
        "What {}{unit}, hangs on (base case {}), one input at a time from its low to its high value:",
        shortened(&clean(&tornado.label), 60),
        written(tornado.base)
    );
    let mut out = wrapped(&title, "");
    if moving.is_empty() {
        out.push_str("  no input moves it\n");
    } else {
        out.push_str(&lines(&table));
    }
    if moving.len() > TORNADO_ROWS {
        out.push_str(&format!("  and {} more\n", moving.len() - TORNADO_ROWS));
    }
    for note in &tornado.notes {
        out.push_str(&wrapped(&clean(note), "  "));
    }
    out
}

/// Where the answer flips.
pub fn flips(answers: &Answers, b: &BreakEven) -> String {
    let currency = &answers.study.currency;
    let number = |x: f64| grouped(x, decimals(x, None, &b.of_unit, currency));
    let lever = |l: Lever| match l {
        Lever::At(x) => with_unit(&number(x), &b.of_unit),
        Lever::Always => "every value".into(),
        Lever::Never => "no value".into(),
    };
    let title = format!(
        "Where {} turns \"{} {}\" (base {}):",
        shortened(&clean(&b.of_label), 40),
        shortened(&clean(&b.result_label), 40),
        shortened(&clean(&b.rule), 30),
        with_unit(&number(b.of_base), &b.of_unit)
    );
    let mut rows = vec![("the base case flips at".to_string(), lever(b.base))];
    for (p, words) in
        [(0.1, "10 % of runs flip below"), (0.5, "half of runs flip below"), (0.9, "90 % of runs flip below")]
    {
        if let Some((_, l)) = b.percentiles.iter().find(|(q, _)| (q - p).abs() < 1e-9) {
            rows.push((words.into(), lever(*l)));
        }
    }
    let side = match b.good_above {
        Some(true) => "at or above",
        Some(false) => "at or below",
        None => "at",
    };
    for want in &b.for_chance {
        let words = format!("good in {} of runs {side}", percent_of(want.chance));
        let interval = match (want.low, want.high) {
            (Some(Lever::At(low)), Some(Lever::At(high))) => format!(" [{}, {}]", number(low), number(high)),
            _ => String::new(),
        };
        rows.push((words, format!("{}{interval}", lever(want.lever))));
    }
    for (share, words) in [(b.always, "good at every value"), (b.never, "good at no value")] {
        if share > 0.0 {
            rows.push((words.into(), format!("{} of runs", percent_of(share))));
        }
    }
    let mut table = plain(&[]);
    for (words, value) in rows {
        table.add_row(vec![Cell::new(words), Cell::new(value)]);
    }
    let mut out = format!("{}{}", wrapped(&title, ""), lines(&table));
    if let Some(note) = &b.note {
        out.push_str(&wrapped(&clean(note), "  "));
    }
    out
}

fn right(text: String) -> Cell {
    Cell::new(text).set_alignment(CellAlignment::Right)
}

fn ruled(head: &[&str]) -> Table {
    let mut table = Table::new();
    table
        .load_style(UTF8_HORIZONTAL_ONLY.row_separator(LineStyle::none()))
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(WIDTH);
    let cell = |(i, text): (usize, &&str)| {
        let left = i == 0 || *text == "Unit" || *text == "Result";
        Cell::new(text).set_alignment(if left { CellAlignment::Left } else { CellAlignment::Right })
    };
    table.set_header(head.iter().enumerate().map(cell).collect::<Vec<Cell>>());
    table
}

fn plain(head: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(NOTHING).set_content_arrangement(ContentArrangement::Dynamic).set_width(WIDTH);
    if !head.is_empty() {
        let cell = |text: &&str| Cell::new(text).set_alignment(CellAlignment::Right);
        table.set_header(head.iter().map(cell).collect::<Vec<Cell>>());
    }
    table
}

/// The table's lines without blanks at their ends.
fn lines(table: &Table) -> String {
    let mut out = String::new();
    for line in table.lines() {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// Text broken into lines, each with an indent.
fn wrapped(text: &str, indent: &str) -> String {
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
            "and 6 more",
            "0.078 EUR/kWh [0.076, 0.080]",
            "no value",
            "Discount rate, a matter of judgement",
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
