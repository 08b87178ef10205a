//! The course of a price path by year: nested bands, the middle, and apart from them the base course and the mean course.

use std::collections::BTreeSet;

use crate::analysis::{Answers, ChoiceAnswer, Estimate, Figure, PathFan, PathYear};
use crate::report::numbers::{clean, figure, in_prose, shortened, spoken};

use super::canvas::{Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, Format, HEIGHT, LABEL, STRONG, TOP_ROOM};
use super::scale::{Writing, extent, spread, ticks};
use super::{Chart, finish};

/// Room at the right for the labels of the lines.
const END_ROOM: f64 = 158.0;
/// Ends of the bands, the widest first, with how strongly each is filled.
const BANDS: [(f64, f64, f64); 3] = [(0.05, 0.95, 0.24), (0.10, 0.90, 0.22), (0.25, 0.75, 0.34)];

/// A chart for each path; for a path that hangs on a choice, one for each of its values.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut taken = BTreeSet::new();
    let mut charts = Vec::new();
    for fan in answers.paths.iter().filter(|fan| !fan.years.is_empty()) {
        // A course that hangs on a choice is told with the value it is for.
        let moves = |choice: &&ChoiceAnswer| choice.paths.iter().any(|moved| moved.name == fan.name);
        let choice = answers.choices.iter().filter(|choice| choice.is_base).find(moves);
        charts.push(draw(format, answers, fan, choice, &file_name(&fan.name, &mut taken))?);
    }
    for choice in answers.choices.iter().filter(|choice| !choice.is_base) {
        for fan in choice.paths.iter().filter(|fan| !fan.years.is_empty()) {
            let name = format!("{}-{}-{}", fan.name, choice.choice, choice.value);
            charts.push(draw(format, answers, fan, Some(choice), &file_name(&name, &mut taken))?);
        }
    }
    Ok(charts)
}

/// A file stem of small ASCII letters, digits and hyphens that no other path has, whatever the file system thinks of case.
fn file_name(name: &str, taken: &mut BTreeSet<String>) -> String {
    let stem = format!("path-{}", plain_words(name));
    let numbered = (2..).map(|n| format!("{stem}-{n}"));
    let free =
        std::iter::once(stem.clone()).chain(numbered).find(|name| !taken.contains(name)).unwrap_or(stem);
    taken.insert(free.clone());
    free
}

/// Words of small ASCII letters, digits and full stops, joined by hyphens.
pub(super) fn plain_words(name: &str) -> String {
    let apart = |c: char| !(c.is_ascii_alphanumeric() || c == '.');
    let words = name.split(apart).map(|word| word.trim_matches('.').to_ascii_lowercase());
    let words: Vec<String> = words.filter(|word| !word.is_empty()).collect();
    words.join("-").chars().take(80).collect()
}

fn draw(
    format: Format,
    answers: &Answers,
    fan: &PathFan,
    choice: Option<&ChoiceAnswer>,
    name: &str,
) -> Result<Chart, ChartError> {
    let finding = finding(answers, fan, choice);
    let svg =
        super::canvas::sheet(format, format.height(HEIGHT), |canvas| body(canvas, answers, fan, &finding))?;
    let title = format!("{} by year", label_of(fan));
    Ok(finish(format, name, &title, &finding, format.height(HEIGHT), &svg))
}

fn percentile(year: &PathYear, p: f64) -> Option<&Estimate> {
    year.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9).map(|q| &q.estimate)
}

fn value(year: &PathYear, p: f64) -> f64 {
    percentile(year, p).and_then(|e| e.value.number()).unwrap_or(f64::NAN)
}

fn mean(year: &PathYear) -> f64 {
    year.mean.value.number().unwrap_or(f64::NAN)
}

fn base(year: &PathYear) -> f64 {
    year.base.number().unwrap_or(f64::NAN)
}

/// What the last year holds: the middle nine tenths, and how far mean and base course are apart.
fn finding(answers: &Answers, fan: &PathFan, choice: Option<&ChoiceAnswer>) -> String {
    let label = label_of(fan);
    let lead = match choice {
        Some(c) => format!("{label}, {} {}", layout::mentioned(&c.label), shortened(&clean(&c.value), 30)),
        None => label,
    };
    let Some(last) = fan.years.last() else { return lead };
    let currency = &answers.study.currency;
    let prose = |e: Option<&Estimate>| {
        e.filter(|e| e.value.number().is_some()).map(|e| in_prose(e, &fan.unit, currency))
    };
    let base_text = figure(last.base, None, &fan.unit, currency);
    if fan.is_known() {
        let first = fan.years.first().map_or(Figure::None, |year| year.base);
        let first = figure(first, None, &fan.unit, currency);
        let unit = unit_of(fan);
        return if first == base_text {
            format!("{lead}: the same in every run, {}", spoken(&first, &unit))
        } else {
            format!(
                "{lead}: the same in every run, from {first} to {} in {}",
                spoken(&base_text, &unit),
                last.year
            )
        };
    }
    let (low, high) = (prose(percentile(last, 0.05)), prose(percentile(last, 0.95)));
    let (Some(low), Some(high), Some(mean_text)) = (low, high, prose(Some(&last.mean))) else {
        return format!("{lead}: its course to {}", last.year);
    };
    let middle = if base_text == mean_text || inside(&last.mean, base(last)) {
        "on average as in the base course".to_string()
    } else {
        format!("{mean_text} on average, against {base_text} in the base course")
    };
    let range = format!("{low} to {}", spoken(&high, &unit_of(fan)));
    format!("{lead} in {}: {range} in 9 of 10 runs; {middle}", last.year)
}

fn inside(estimate: &Estimate, x: f64) -> bool {
    let end = |f: Option<Figure>| f.and_then(Figure::number);
    matches!((end(estimate.low), end(estimate.high)), (Some(low), Some(high)) if (low..=high).contains(&x))
}

/// Longer than elsewhere: the heading is about this label alone.
fn label_of(fan: &PathFan) -> String {
    shortened(&clean(&fan.label), 90)
}

fn unit_of(fan: &PathFan) -> String {
    shortened(&clean(&fan.unit), 24)
}

/// The range of the axis: bands and both courses, single runs as far as they do not flatten the rest, and nought
/// where it is near.
fn vertical(fan: &PathFan) -> (f64, f64) {
    let banded =
        fan.years.iter().flat_map(|year| [value(year, 0.05), value(year, 0.95), base(year), mean(year)]);
    let core = extent(banded);
    let room = (core.1 - core.0) * 0.4;
    let runs = fan.some_runs.iter().flatten().map(|v| v.clamp(core.0 - room, core.1 + room));
    let (mut low, mut high) = extent(runs.chain([core.0, core.1]));
    let air = (high - low) * 0.03;
    (low, high) = (if low >= 0.0 { (low - air).max(0.0) } else { low - air }, high + air);
    if low > 0.0 && low < 0.6 * high {
        low = 0.0;
    }
    (low, high)
}

fn body(canvas: &Canvas<'_>, answers: &Answers, fan: &PathFan, finding: &str) -> Drawn {
    let known = fan.is_known();
    let subtitle = if known {
        "Nothing about this course is drawn: all runs follow it."
    } else {
        "By calendar year. Bands: 9 in 10 runs, 8 in 10, the middle half. Thin lines: single runs. The mean weighs a \
         change by its chance; the base course has it only if it is as likely as not."
    };
    let top = layout::headings(canvas, finding, subtitle)?;
    let small = format!(
        "{} The bands hold a share of runs in each year by itself: no single run follows an edge.",
        layout::drawn_by(answers, fan.runs)
    );
    let bottom = layout::foot(canvas, if known { "" } else { &small })?;
    let y = vertical(fan);
    let value_ticks = ticks(y.0, y.1, canvas.format.ticks(6), false);
    let frame = Frame {
        left: layout::left_room(y, &value_ticks),
        top: top + TOP_ROOM,
        right: canvas.width - canvas.format.choose(END_ROOM, 136.0),
        bottom: bottom - BOTTOM_ROOM,
    };
    let (first, last) = ends(fan);
    let plot = canvas.plot(frame, (first, last), y);
    let unit = Writing::of(plot.y).unit(&unit_of(fan));
    layout::left_axis(canvas, &plot, &value_ticks, &unit)?;
    if !known {
        bands(canvas, &plot, fan)?;
        runs(canvas, &plot, fan)?;
    }
    if y.0 < 0.0 && y.1 > 0.0 {
        let zero = plot.py(0.0);
        canvas.line(&[(frame.left, zero), (frame.right, zero)], colour::INK, 1.0, 1.0)?;
    }
    courses(canvas, &plot, fan, known)?;
    layout::calendar_axis(canvas, &plot)?;
    end_labels(canvas, &plot, answers, fan, known)
}

/// First and last calendar year on the axis; a single year is given some width.
fn ends(fan: &PathFan) -> (f64, f64) {
    let year = |y: Option<&PathYear>| y.map_or(0.0, |y| y.year as f64);
    let (first, last) = (year(fan.years.first()), year(fan.years.last()));
    if last > first { (first, last) } else { (first - 0.5, first + 0.5) }
}

/// A course as points of the plot; that of a single year as a level line.
fn series(fan: &PathFan, values: impl Iterator<Item = f64>) -> Vec<(f64, f64)> {
    let points: Vec<(f64, f64)> = fan.years.iter().map(|year| year.year as f64).zip(values).collect();
    match points[..] {
        [(_, y)] => vec![(ends(fan).0, y), (ends(fan).1, y)],
        _ => points,
    }
}

fn by_year(fan: &PathFan, of: impl Fn(&PathYear) -> f64) -> Vec<(f64, f64)> {
    series(fan, fan.years.iter().map(of))
}

fn bands(canvas: &Canvas<'_>, plot: &Plot, fan: &PathFan) -> Drawn {
    for (low, high, alpha) in BANDS {
        let place = |p: f64| -> Vec<(f64, f64)> {
            let points = by_year(fan, |year| value(year, p)).into_iter();
            points.filter(|q| q.1.is_finite()).map(|(x, y)| plot.place(x, y)).collect()
        };
        let mut area = place(low);
        area.extend(place(high).into_iter().rev());
        canvas.polygon(&area, colour::SKY, alpha)?;
    }
    Ok(())
}

fn runs(canvas: &Canvas<'_>, plot: &Plot, fan: &PathFan) -> Drawn {
    for run in &fan.some_runs {
        for piece in plot.curve(&series(fan, run.iter().copied())) {
            canvas.line(&piece, colour::SOFT_INK, 0.55, 0.7)?;
        }
    }
    Ok(())
}

/// The middle as a plain line, the mean as a line of dots, the base course dashed: told apart without colour.
fn courses(canvas: &Canvas<'_>, plot: &Plot, fan: &PathFan, known: bool) -> Drawn {
    if known {
        for piece in plot.curve(&by_year(fan, base)) {
            canvas.line(&piece, colour::BLUE, 1.0, 2.4)?;
        }
        return Ok(());
    }
    for piece in plot.curve(&by_year(fan, |year| value(year, 0.5))) {
        canvas.line(&piece, colour::BLUE, 1.0, 2.2)?;
    }
    for piece in plot.curve(&by_year(fan, base)) {
        canvas.dashed(&piece, colour::VERMILION, 1.9, (7.0, 3.5))?;
    }
    for (x, y) in beads(&plot.curve(&by_year(fan, mean)), 8.0) {
        canvas.dot(x, y, 2.3, colour::WHITE)?;
        canvas.dot(x, y, 1.7, colour::INK)?;
    }
    Ok(())
}

/// Points along a line, `gap` apart.
fn beads(pieces: &[Vec<(f64, f64)>], gap: f64) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    for piece in pieces {
        let mut left = 0.0;
        for pair in piece.windows(2) {
            let &[from, to] = pair else { continue };
            let (dx, dy) = (to.0 - from.0, to.1 - from.1);
            let length = (dx * dx + dy * dy).sqrt();
            while left <= length && length > 0.0 {
                out.push((from.0 + dx * left / length, from.1 + dy * left / length));
                left += gap;
            }
            left -= length;
        }
    }
    out
}

/// Names of the lines at their right ends, pushed apart, with leaders.
fn end_labels(canvas: &Canvas<'_>, plot: &Plot, answers: &Answers, fan: &PathFan, known: bool) -> Drawn {
    let Some(last) = fan.years.last() else { return Ok(()) };
    let currency = &answers.study.currency;
    let of = |p: f64, words: &'static str, ink: Ink| {
        let e = percentile(last, p)?;
        Some((e.value.number()?, format!("{}: {words}", in_prose(e, &fan.unit, currency)), ink))
    };
    let blue = Ink { colour: colour::BLUE, ..STRONG };
    let red = Ink { colour: colour::DARK_VERMILION, ..STRONG };
    let base_label = last.base.number().map(|x| {
        let text = figure(last.base, None, &fan.unit, currency);
        if known { (x, text, blue) } else { (x, format!("{text}: base course"), red) }
    });
    let mean_label = last
        .mean
        .value
        .number()
        .map(|x| (x, format!("{}: mean course", in_prose(&last.mean, &fan.unit, currency)), STRONG));
    let named = if known {
        vec![base_label]
    } else {
        vec![
            of(0.95, "95 % below", LABEL),
            of(0.75, "75 % below", LABEL),
            mean_label,
            of(0.5, "half below", blue),
            base_label,
            of(0.25, "25 % below", LABEL),
            of(0.05, "5 % below", LABEL),
        ]
    };
    let mut shown: Vec<(f64, String, Ink)> =
        named.into_iter().flatten().filter(|(v, ..)| v.is_finite()).collect();
    // Where a slide has no room for all names, the quartiles go without theirs.
    if canvas.format.is_slide() && shown.len() as f64 * 14.0 > plot.frame.bottom - plot.frame.top {
        shown.retain(|(_, text, _)| !text.contains("75 % below") && !text.contains("25 % below"));
    }
    let heights: Vec<f64> = shown.iter().map(|(v, ..)| plot.py(*v)).collect();
    let places = spread(&heights, 14.0, plot.frame.top, plot.frame.bottom);
    for (((_, text, ink), end), place) in shown.iter().zip(heights).zip(places) {
        let (from, to) = (plot.frame.right + 2.0, plot.frame.right + 18.0);
        canvas.line(&[(from, end), (to - 3.0, place)], ink.colour, 1.0, 0.7)?;
        canvas.text_at_end(text, to, place, *ink)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;

    #[test]
    fn names_of_files_are_plain_and_their_own() {
        let mut taken = BTreeSet::new();
        let name = |text: &str, taken: &mut BTreeSet<String>| file_name(text, taken);
        assert_eq!(name("gas_price", &mut taken), "path-gas-price");
        assert_eq!(name("Gas_price", &mut taken), "path-gas-price-2");
        assert_eq!(name("gas-price-../../ä 0.04 1/yr", &mut taken), "path-gas-price-0.04-1-yr");
        assert!(name(&"x".repeat(500), &mut taken).len() < 100);
    }

    #[test]
    fn the_finding_tells_mean_and_base_apart() {
        let answers = fixture::answers();
        // 0.075 x 0.99^19 = 0.06196; the mean 0.86 of it, 0.0533; the band 0.9 x 0.06196 exp(-+1.6449 x 0.06 sqrt(23)).
        assert_eq!(
            finding(&answers, &answers.paths[0], None),
            "Export price in 2046: 0.035 to 0.090 EUR/kWh in 9 of 10 runs; 0.053 on average, against 0.062 in the base course"
        );
    }

    #[test]
    fn beads_are_evenly_apart() {
        let beads = beads(&[vec![(0.0, 0.0), (6.0, 0.0), (10.0, 0.0)]], 4.0);
        assert_eq!(beads, [(0.0, 0.0), (4.0, 0.0), (8.0, 0.0)]);
    }
}
