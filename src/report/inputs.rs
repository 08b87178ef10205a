//! The inputs of a study as text: a row of figures for each, below it what it is and where it comes from.

use crate::analysis::{InputHistogram, InputRow, InputSort};

use super::numbers::{clean, exponent, grouped, percent_of, shortened};

/// How a page of inputs is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Page {
    /// Columns that the lines keep to, at least [`NARROWEST`].
    pub width: usize,
    /// Whether histograms may use block characters; else ASCII.
    pub blocks: bool,
}

/// Fewest columns that a row needs.
pub const NARROWEST: usize = 72;
/// From here on units have a column of their own.
const WITH_UNITS: usize = 96;
const UNIT: usize = 13;
const FIGURE: usize = 8;
const SHAPE: usize = 12;

/// All rows, those with a group under its heading, in the order of their first row.
pub fn text(title: &str, rows: &[InputRow], page: Page) -> String {
    let page = Page { width: page.width.max(NARROWEST), ..page };
    let mut out = format!("{}\n\n", wrapped(&clean(title), page.width, "").join("\n"));
    out.push_str(&head(page));
    let mut groups: Vec<Option<&String>> = Vec::new();
    for row in rows {
        if !groups.contains(&row.group.as_ref()) {
            groups.push(row.group.as_ref());
        }
    }
    // A heading over everything would say nothing.
    let headed = groups.len() > 1 || groups.iter().any(Option::is_some);
    for group in groups {
        if headed {
            let heading =
                group.map_or_else(|| "Others".to_owned(), |group| shortened(&clean(group), page.width));
            out.push_str(&format!("\n{heading}\n"));
        }
        let mut above: Option<&InputRow> = None;
        for row in rows.iter().filter(|row| row.group.as_ref() == group) {
            out.push_str(&lines_of(row, above, page));
            above = Some(row);
        }
    }
    out.push_str(&foot(rows, page));
    out
}

fn label_width(page: Page) -> usize {
    let units = if page.width >= WITH_UNITS { UNIT + 1 } else { 0 };
    page.width - units - 5 * FIGURE - 2 - SHAPE
}

fn head(page: Page) -> String {
    let above = ["", "", "", "10 %", "half", "90 %", "", ""];
    let below = ["Input", "Unit", "base", "below", "below", "below", "mean", "spread"];
    [above, below].map(|words| line(page, words)).concat()
}

/// Label, unit, five figures, histogram.
fn line(page: Page, [label, unit, figures @ .., shape]: [&str; 8]) -> String {
    let mut line = format!("{label:<width$}", width = label_width(page));
    if page.width >= WITH_UNITS {
        line.push_str(&format!(" {unit:<UNIT$}"));
    }
    figures.iter().for_each(|figure| line.push_str(&format!("{figure:>FIGURE$}")));
    format!("{line}  {shape}").trim_end().to_owned() + "\n"
}

/// A row: its figures, then what it is. Parts of one path share their source.
fn lines_of(row: &InputRow, above: Option<&InputRow>, page: Page) -> String {
    let (factor, unit) = spoken(&row.unit);
    let mut label = clean(&row.label);
    let own_column = page.width >= WITH_UNITS && unit.chars().count() <= UNIT;
    if !own_column && !unit.is_empty() {
        label = format!("{label}, {unit}");
    }
    let [base, low, middle, high, mean] = figures(row, factor);
    let mut labels = wrapped(&label, label_width(page), "");
    let last = labels.pop().unwrap_or_default();
    let mut out: String = labels.into_iter().map(|label| label + "\n").collect();
    let unit = if own_column { unit.as_str() } else { "" };
    out.push_str(&line(page, [&last, unit, &base, &low, &middle, &high, &mean, &shape(row, page.blocks)]));
    for line in wrapped(&details(row, above), page.width - 4, "    ") {
        out.push_str(&line);
        out.push('\n');
    }
    out
}

/// Base value, P10, P50, P90, mean.
fn figures(row: &InputRow, factor: f64) -> [String; 5] {
    let base = match row.base.as_slice() {
        [_] if row.percentiles.is_none() && !row.values.is_empty() => None,
        [base] => Some(*base),
        _ => None,
    };
    let [low, middle, high] = row.percentiles.map_or([None; 3], |p| p.map(Some));
    let all = [base, low, middle, high, row.mean].map(|x| x.map(|x| x * factor));
    if row.name.ends_with(".year") {
        // A calendar year has no comma.
        return all.map(|x| x.map_or_else(String::new, |x| format!("{x:.0}")));
    }
    let largest = all.iter().flatten().map(|x| x.abs()).filter(|x| x.is_finite()).fold(0.0, f64::max);
    let most = if largest > 0.0 { (2 - exponent(largest)).max(0) } else { 0 };
    let most = if row.unit == "yr" { most.min(1) } else { most };
    let whole_at = |places: i32| {
        let rounded = |x: f64, places: i32| grouped(x, places).replace(',', "").parse::<f64>().ok();
        all.iter().flatten().all(|&x| rounded(x, places) == rounded(x, most))
    };
    let places = (0..most).find(|&places| whole_at(places)).unwrap_or(most);
    all.map(|x| x.map_or_else(String::new, |x| number(x, places)))
}

/// So many decimals; what would be written as nought is given its first digit.
fn number(x: f64, places: i32) -> String {
    let places = if x != 0.0 && exponent(x.abs()) < -places - 1 { -exponent(x.abs()) } else { places };
    let text = grouped(x, places);
    if text.chars().count() < FIGURE { text } else { format!("{x:.1e}") }
}

/// A rate of 0.02 1/yr is 2 % a year.
pub(crate) fn spoken(unit: &str) -> (f64, String) {
    match unit {
        "1/yr" => (100.0, "% a year".to_owned()),
        "yr" => (1.0, "years".to_owned()),
        unit => (1.0, shortened(&clean(unit), 24)),
    }
}

/// The histogram in one cell; the months of a year; else what kind of row it is.
fn shape(row: &InputRow, blocks: bool) -> String {
    match (&row.histogram, row.sort) {
        (Some(InputHistogram { shares, .. }), _) => bars(shares, blocks),
        (None, InputSort::Choice) => "choice".into(),
        (None, _) if row.base.len() > 1 => bars(&row.base, blocks),
        (None, InputSort::Known) => "known".into(),
        (None, InputSort::Drawn) => String::new(),
    }
}

/// A character for each value, its height by the greatest; a value above nought is never left out.
fn bars(values: &[f64], blocks: bool) -> String {
    const BLOCKS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
    const ASCII: [char; 6] = [' ', '.', ':', '+', '*', '#'];
    let heights: &[char] = if blocks { &BLOCKS } else { &ASCII };
    let most = values.iter().copied().filter(|v| v.is_finite()).fold(0.0, f64::max);
    let steps = heights.len() - 1;
    let bar = |&value: &f64| {
        // Also true for what is no number.
        if !(value > 0.0 && most > 0.0) {
            return heights[0];
        }
        let height = (value / most * steps as f64).round() as usize;
        heights[height.clamp(1, steps)]
    };
    values.iter().take(SHAPE).map(bar).collect()
}

/// Name, what it is, its values, its source.
fn details(row: &InputRow, above: Option<&InputRow>) -> String {
    let mut said = format!("{}: {}", clean(&row.name), clean(&row.how));
    if !row.values.is_empty() {
        let value = |v: &crate::analysis::InputShare| {
            let share = v.share.map(|share| format!(": {}", percent_of(share))).unwrap_or_default();
            let base = if v.is_base { " (base)" } else { "" };
            format!("{}{share}{base}", shortened(&clean(&v.value), 60))
        };
        said.push_str(&format!(" ({})", row.values.iter().map(value).collect::<Vec<_>>().join(", ")));
    }
    if row.base.len() > 1 {
        let months: Vec<String> =
            row.base.iter().map(|x| grouped(*x, (2 - exponent(x.abs())).clamp(0, 6))).collect();
        said.push_str(&format!(" ({})", months.join(", ")));
    }
    if let Some(runs) = row.runs {
        said.push_str(&format!(", figures from {} draws", grouped(runs as f64, 0)));
    }
    let part_of = |row: &InputRow| row.name.split_once('.').map(|(path, _)| path.to_owned());
    match &row.source {
        Some(_) if above.is_some_and(|a| part_of(a).is_some() && part_of(a) == part_of(row)) => said + ".",
        Some(source) => format!("{said}. Source: {}", clean(source)),
        None => format!("{said}. No source."),
    }
}

fn foot(rows: &[InputRow], page: Page) -> String {
    let exact = "Figures are those of the distributions themselves; 10 % of what is drawn lies below the first of the three.";
    let unsourced = rows.iter().filter(|row| row.source.is_none()).count();
    let sources = match unsourced {
        0 => "Every row has a source.".to_owned(),
        1 => "1 row has no source.".to_owned(),
        n => format!("{n} rows have no source."),
    };
    let lines = wrapped(&format!("{exact} {sources}"), page.width, "");
    format!("\n{}\n", lines.join("\n"))
}

/// Text broken into lines of at most `room` characters, each with an indent; a longer word is cut.
pub(super) fn wrapped(text: &str, room: usize, indent: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let letters: Vec<char> = word.chars().collect();
        for piece in letters.chunks(room.max(1)) {
            let taken = line.chars().count();
            if taken > 0 && taken + 1 + piece.len() > room {
                lines.push(std::mem::take(&mut line));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.extend(piece);
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines.into_iter().map(|line| format!("{indent}{line}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;

    fn row(name: &str, base: f64, percentiles: [f64; 3], unit: &str) -> InputRow {
        InputRow {
            name: name.into(),
            label: "Upkeep".into(),
            group: None,
            unit: unit.into(),
            sort: InputSort::Drawn,
            how: "normal".into(),
            base: vec![base],
            percentiles: Some(percentiles),
            mean: Some(percentiles[1]),
            values: Vec::new(),
            histogram: Some(InputHistogram { from: 0.0, to: 1.0, shares: vec![0.1, 0.4, 0.1, 0.0001, 0.0] }),
            source: None,
            as_of: None,
            note: None,
            runs: None,
        }
    }

    #[test]
    fn figures_of_a_row_have_the_same_places() {
        for (base, percentiles, unit, wanted) in [
            (3.0, [2.0, 3.0, 4.0], "person", ["3", "2", "3", "4", "3"]),
            (1800.0, [1537.2, 1825.4, 2141.0], "kWh", ["1,800", "1,537", "1,825", "2,141", "1,825"]),
            (0.075, [0.052, 0.0781, 0.1043], "EUR/kWh", ["0.075", "0.052", "0.078", "0.104", "0.078"]),
            (0.005, [-0.0142, 0.005, 0.0242], "1/yr", ["0.50", "-1.42", "0.50", "2.42", "0.50"]),
            (1e12, [1e12, 2e12, 3e12], "kg", ["1.0e12", "1.0e12", "2.0e12", "3.0e12", "2.0e12"]),
        ] {
            let factor = spoken(unit).0;
            assert_eq!(figures(&row("x", base, percentiles, unit), factor), wanted.map(str::to_owned));
        }
        let year = row("gas.change1.year", 2030.0, [2028.0, 2029.0, 2030.0], "");
        assert_eq!(figures(&year, 1.0)[0], "2030");
    }

    #[test]
    fn bars_show_what_is_rare_and_nothing_for_nothing() {
        assert_eq!(bars(&[0.1, 0.4, 0.1, 0.0001, 0.0], true), "▂█▂▁ ");
        assert_eq!(bars(&[0.1, 0.4, 0.1, 0.0001, 0.0], false), ".#.. ");
        assert_eq!(bars(&[f64::NAN, f64::INFINITY], true), "  ");
    }

    #[test]
    fn every_page_keeps_to_its_width() {
        let mut tiresome = row("x", 1.0, [f64::NAN, f64::INFINITY, -1e-9], "kWh/home/person/yr");
        tiresome.label = format!("<b>\u{1b}[31m {}", "Schornsteinfegernebenkosten".repeat(9));
        tiresome.source = Some(tiresome.label.clone());
        tiresome.group = Some(tiresome.label.clone());
        let mut pages: Vec<Vec<InputRow>> = fixture::studies().into_iter().map(|(_, a)| a.inputs).collect();
        pages.push(vec![tiresome, row("y", 1.0, [0.5, 1.0, 2.0], "")]);
        for (rows, width) in pages.iter().flat_map(|rows| [40, 72, 80, 100].map(|width| (rows, width))) {
            assert!(!rows.is_empty());
            let text = text(
                "A title that is longer than most of them are, for a home and its water, twice over, and more",
                rows,
                Page { width, blocks: true },
            );
            for line in text.lines() {
                assert!(line.chars().count() <= width.max(NARROWEST), "{line}");
                assert!(!line.chars().any(char::is_control) && line == line.trim_end(), "{line:?}");
            }
            assert!(rows.iter().all(|row| text.contains(&format!("    {}: ", row.name))));
        }
    }

    #[test]
    fn without_blocks_only_ascii_is_added() {
        let text = text("t", &[row("x", 1.0, [0.5, 1.0, 2.0], "EUR")], Page { width: 80, blocks: false });
        assert!(text.is_ascii(), "{text}");
        assert!(text.contains("1 row has no source."));
    }
}
