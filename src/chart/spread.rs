//! How an input spreads, drawn small enough for a cell of a table, and the same in words.

use std::fmt::Write as _;

use crate::analysis::{InputHistogram, InputRow, InputShare, InputSort};
use crate::report::inputs::spoken;
use crate::report::numbers::{clean, few_decimals, grouped, listed, percent_of, shortened, spoken as amount};

/// The picture in tenths of a point.
const WIDTH: f64 = 900.0;
const HEIGHT: f64 = 180.0;
/// Where the bars stand, and where the highest ends.
const FOOT: f64 = 150.0;
const TOP: f64 = 12.0;
/// White at the sides, so that the mark of an end is whole.
const SIDE: f64 = 26.0;

const FILL: &str = "#56B4E9";
const EDGE: &str = "#0072B2";
const BASE: &str = "#B04800";
const RULE: &str = "#8C949C";

/// Words of a value at most, before the rest is counted.
const VALUES_IN_WORDS: usize = 6;

/// An SVG of 90 x 18 points, the base value marked below; none where nothing is drawn at random or chosen.
pub fn spread(row: &InputRow) -> Option<String> {
    let body = match (row.sort, &row.histogram) {
        (InputSort::Known, _) => return None,
        (InputSort::Choice, _) => ticks(&row.values)?,
        (InputSort::Drawn, Some(histogram)) if row.values.is_empty() => area(histogram, base(row))?,
        (InputSort::Drawn, _) => bars(&row.values)?,
    };
    Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"90pt\" height=\"18pt\" \
         viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\">{body}</svg>"
    ))
}

fn base(row: &InputRow) -> Option<f64> {
    match row.base.as_slice() {
        &[base] if base.is_finite() => Some(base),
        _ => None,
    }
}

/// The line that everything stands on.
fn ground() -> String {
    format!("<path d=\"M0 {FOOT}H{WIDTH}\" stroke=\"{RULE}\" stroke-width=\"5\"/>")
}

/// The base value: a wedge that points up at its place.
fn mark(x: f64) -> String {
    let (left, right) = (x - 22.0, x + 22.0);
    format!("<path d=\"M{x:.0} {:.0}L{right:.0} {HEIGHT}H{left:.0}Z\" fill=\"{BASE}\"/>", FOOT + 3.0)
}

/// Height of each value by the greatest; what is above nought is never left out. None if all are nought.
fn heights(shares: impl Iterator<Item = f64>) -> Option<Vec<f64>> {
    let shares: Vec<f64> = shares.map(|s| if s.is_finite() { s.max(0.0) } else { 0.0 }).collect();
    let most = shares.iter().copied().fold(0.0, f64::max);
    let height = |s: f64| if s > 0.0 { (s / most * (FOOT - TOP)).max(6.0) } else { 0.0 };
    (most > 0.0).then(|| shares.into_iter().map(height).collect())
}

/// Equal classes side by side, as one area.
fn area(histogram: &InputHistogram, base: Option<f64>) -> Option<String> {
    let heights = heights(histogram.shares.iter().copied())?;
    let width = (WIDTH - 2.0 * SIDE) / heights.len() as f64;
    let mut line = format!("M{SIDE} {FOOT}");
    for (k, height) in heights.iter().enumerate() {
        let _ = write!(line, "V{:.0}H{:.0}", FOOT - height, SIDE + width * (k + 1) as f64);
    }
    line.push_str(&format!("V{FOOT}Z"));
    let mut out = format!(
        "<path d=\"{line}\" fill=\"{FILL}\" stroke=\"{EDGE}\" stroke-width=\"6\" stroke-linejoin=\"round\"/>"
    );
    out.push_str(&ground());
    let span = histogram.to - histogram.from;
    if let Some(base) = base.filter(|_| span > 0.0 && span.is_finite()) {
        let part = ((base - histogram.from) / span).clamp(0.0, 1.0);
        out.push_str(&mark(SIDE + part * (WIDTH - 2.0 * SIDE)));
    }
    Some(out)
}

/// Middle of the place of the k-th of `n` values.
fn place(k: usize, n: usize) -> f64 {
    SIDE + (WIDTH - 2.0 * SIDE) * (k as f64 + 0.5) / n as f64
}

/// Few values, a bar for each.
fn bars(values: &[InputShare]) -> Option<String> {
    let heights = heights(values.iter().map(|v| v.share.unwrap_or(0.0)))?;
    let half = ((WIDTH - 2.0 * SIDE) / heights.len() as f64 * 0.3).min(60.0);
    let mut out = String::new();
    for (k, height) in heights.iter().enumerate() {
        let _ = write!(
            out,
            "<rect x=\"{:.0}\" y=\"{:.0}\" width=\"{:.0}\" height=\"{height:.0}\" fill=\"{EDGE}\"/>",
            place(k, heights.len()) - half,
            FOOT - height,
            2.0 * half
        );
    }
    Some(out + &ground() + &base_of(values))
}

/// A choice: a tick for each value, none with a height, since none has a probability.
fn ticks(values: &[InputShare]) -> Option<String> {
    if values.is_empty() {
        return None;
    }
    let tick = |k: usize| format!("M{:.0} {FOOT}V75", place(k, values.len()));
    let line: String = (0..values.len()).map(tick).collect();
    Some(format!("<path d=\"{line}\" stroke=\"{EDGE}\" stroke-width=\"14\"/>{}{}", ground(), base_of(values)))
}

fn base_of(values: &[InputShare]) -> String {
    values.iter().position(|v| v.is_base).map_or_else(String::new, |k| mark(place(k, values.len())))
}

/// What the picture shows, for who cannot see it.
pub fn alternative(row: &InputRow) -> String {
    match row.sort {
        InputSort::Known if row.base.len() > 1 => "known by month".into(),
        InputSort::Known => base(row).map_or("known".into(), |x| format!("known: {}", number(row, x))),
        InputSort::Choice => format!("choice of {}", in_words(row)),
        InputSort::Drawn if !row.values.is_empty() => in_words(row),
        InputSort::Drawn => drawn(row),
    }
}

fn drawn(row: &InputRow) -> String {
    let Some([low, middle, high]) = row.percentiles else { return "drawn at random".into() };
    let mut text = format!(
        "between {} and {} in 8 of 10 draws, in half of them below {}",
        bare(row, low),
        number(row, high),
        bare(row, middle)
    );
    if let Some(base) = base(row) {
        text.push_str(&format!("; base value {}", bare(row, base)));
    }
    text
}

/// "2 (20 %), 3 (60 %, base) and 4 (20 %) person".
fn in_words(row: &InputRow) -> String {
    let value = |v: &InputShare| {
        let share = v.share.map(percent_of);
        let said: Vec<String> = share.into_iter().chain(v.is_base.then(|| "base".to_owned())).collect();
        let value = shortened(&clean(&v.value), 60);
        if said.is_empty() { value } else { format!("{value} ({})", said.join(", ")) }
    };
    let mut values: Vec<String> = row.values.iter().take(VALUES_IN_WORDS).map(value).collect();
    match row.values.len().saturating_sub(VALUES_IN_WORDS) {
        0 => {}
        more => values.push(format!("{more} more")),
    }
    listed(&values)
}

/// A value in the row's unit, as it is spoken of.
fn number(row: &InputRow, value: f64) -> String {
    amount(&bare(row, value), &spoken(&row.unit).1)
}

fn bare(row: &InputRow, value: f64) -> String {
    if row.name.ends_with(".year") {
        // A calendar year has no comma.
        return format!("{value:.0}");
    }
    let value = value * spoken(&row.unit).0;
    grouped(value, few_decimals(value, None, &row.unit, ""))
}

#[cfg(test)]
mod tests {
    use resvg::usvg::roxmltree::Document;

    use super::*;
    use crate::chart::{fixture, png_of_svg};

    fn rows() -> Vec<InputRow> {
        fixture::studies().into_iter().flat_map(|(_, answers)| answers.inputs).collect()
    }

    fn some_row(sort: InputSort) -> InputRow {
        rows().into_iter().find(|row| row.sort == sort && row.base.len() == 1).unwrap()
    }

    #[test]
    fn every_input_of_the_studies_is_drawn_unless_it_is_known() {
        assert!(rows().len() > 20);
        for row in rows() {
            let svg = spread(&row);
            assert_eq!(svg.is_none(), row.sort == InputSort::Known, "{}", row.name);
            let words = alternative(&row);
            assert!(!words.is_empty() && !words.contains("NaN") && !words.contains("no value"), "{words}");
            let Some(svg) = svg else { continue };
            let document = Document::parse(&svg).unwrap();
            assert!(!document.descendants().any(|node| node.has_tag_name("text")), "{}", row.name);
            assert_eq!(png_of_svg(&svg, 1.0).unwrap(), png_of_svg(&spread(&row).unwrap(), 1.0).unwrap());
        }
    }

    #[test]
    fn bars_are_as_high_as_their_values_are_likely() {
        let mut row = some_row(InputSort::Drawn);
        let value = |value: &str, share: f64, is_base| InputShare {
            value: value.into(),
            share: Some(share),
            is_base,
        };
        row.values = vec![value("2", 0.2, false), value("3", 0.6, true), value("<b>4", 0.2, false)];
        let svg = spread(&row).unwrap();
        let document = Document::parse(&svg).unwrap();
        let heights: Vec<f64> = document
            .descendants()
            .filter(|node| node.has_tag_name("rect"))
            .map(|node| node.attribute("height").unwrap().parse().unwrap())
            .collect();
        // 138 units high is what is likeliest; a third of that are the others.
        assert_eq!(heights, [46.0, 138.0, 46.0]);
        // The wedge stands under the middle of the picture.
        assert!(svg.contains("M450 153L472 180H428Z"), "{svg}");
        assert_eq!(alternative(&row), "2 (20 %), 3 (60 %, base) and <b>4 (20 %)");
    }

    #[test]
    fn the_base_value_is_marked_where_it_lies() {
        let mut row = some_row(InputSort::Drawn);
        row.values.clear();
        row.histogram = Some(InputHistogram { from: 10.0, to: 20.0, shares: vec![0.5, 0.5] });
        let at = |base: f64| {
            row.base = vec![base];
            let svg = spread(&row).unwrap();
            let start = svg.find(&format!("fill=\"{BASE}\"")).unwrap();
            let from = svg[..start].rfind("d=\"M").unwrap() + 4;
            svg[from..].split(' ').next().unwrap().parse::<f64>().unwrap()
        };
        let mut at = at;
        // 26 + 848 x part; what lies outside is marked at the end.
        assert_eq!([at(12.5), at(20.0), at(900.0), at(-3.0)], [238.0, 874.0, 874.0, 26.0]);
    }

    #[test]
    fn words_give_the_range_the_middle_and_the_base() {
        let mut row = some_row(InputSort::Drawn);
        (row.values, row.name, row.unit) = (Vec::new(), "gas".into(), "EUR/kWh".into());
        (row.base, row.percentiles) = (vec![0.112], Some([0.0952, 0.1126, 0.1299]));
        assert_eq!(
            alternative(&row),
            "between 0.0952 and 0.130 EUR/kWh in 8 of 10 draws, in half of them below 0.113; base value 0.112"
        );
        (row.unit, row.base, row.percentiles) = ("1/yr".into(), vec![0.005], Some([-0.0142, 0.005, 0.0242]));
        assert_eq!(
            alternative(&row),
            "between -1.42 and 2.42 % a year in 8 of 10 draws, in half of them below 0.500; base value 0.500"
        );
    }

    #[test]
    fn what_no_analysis_should_return_is_survived() {
        let mut row = some_row(InputSort::Drawn);
        row.values.clear();
        row.base = vec![f64::NAN];
        row.percentiles = Some([f64::NAN, f64::INFINITY, 1e300]);
        row.histogram = Some(InputHistogram { from: 0.0, to: f64::NAN, shares: vec![f64::NAN, 0.2] });
        assert!(!spread(&row).unwrap().contains("NaN"));
        row.histogram = Some(InputHistogram { from: 0.0, to: 1.0, shares: vec![0.0] });
        assert!(spread(&row).is_none());
        row.histogram = None;
        assert!(spread(&row).is_none());
        alternative(&row);
    }
}
