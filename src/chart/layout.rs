//! What all charts share: headings, foot, axes and their inks.

use crate::analysis::{Answers, Summary};
use crate::report::numbers::{clean, grouped, in_sentence, shortened};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::font::Weight;
use super::scale::{Ticks, Writing, ticks};

/// Height of most charts on a page, in points.
pub(super) const HEIGHT: f64 = 400.0;

/// What a chart is drawn for. The sheet of a slide is smaller and shown larger, so that the same points of type are
/// large on it; what is drawn goes by the width and height of its canvas.
#[derive(Debug, Clone, Copy)]
pub(super) struct Format {
    /// Width of the sheet, in points.
    pub(super) width: f64,
    /// Its height, where that is not for the chart to say.
    pub(super) fixed_height: Option<f64>,
    /// Size of a point of the sheet where the picture is shown.
    pub(super) shown: f64,
    /// Most lines of finding, of what is drawn, and of small print.
    pub(super) lines: [usize; 3],
    pub(super) heading: Ink,
    /// Middle of the first line of the heading.
    pub(super) heading_at: f64,
}

impl Format {
    /// For a page of a report.
    pub(super) const PAGE: Format = Format {
        width: 640.0,
        fixed_height: None,
        shown: 1.0,
        lines: [3, 2, 3],
        heading: HEADING,
        heading_at: 22.0,
    };
    /// For a slide of 960 x 540 points.
    pub(super) const SLIDE: Format = Format {
        width: 400.0,
        fixed_height: Some(225.0),
        shown: 2.4,
        lines: [4, 1, 1],
        heading: Ink::new(13.0, Weight::SemiBold, colour::INK),
        heading_at: 15.0,
    };

    /// For a slide of as many points, of which rows with names take more: type a little smaller, and more of it.
    pub(super) const SLIDE_OF_ROWS: Format =
        Format { width: 480.0, fixed_height: Some(270.0), shown: 2.0, ..Format::SLIDE };
    /// For a quarter of half a page: the finding and the picture, without small print.
    pub(super) const SMALL: Format =
        Format { width: 400.0, fixed_height: Some(232.0), shown: 0.62, lines: [4, 0, 0], ..Format::SLIDE };

    /// For a picture of many small things under the heading of a slide.
    const PART: Format = Format { lines: [0, 0, 3], heading_at: 5.0, ..Format::PAGE };

    /// What a picture of many small things is drawn for: a page, or a part of a slide.
    pub(super) fn details(self) -> Format {
        self.choose(self, Format::PART)
    }
    /// What a picture of rows with names is drawn for.
    pub(super) fn rows(self) -> Format {
        if self.is_slide() && !self.is_small() { Format::SLIDE_OF_ROWS } else { self }
    }
    /// Whether the picture has to do without what explains it.
    pub(super) fn is_small(self) -> bool {
        self.shown < 1.0
    }
    /// The height of the sheet, `wanted` on a page.
    pub(super) fn height(self, wanted: f64) -> f64 {
        self.fixed_height.unwrap_or(wanted)
    }
    pub(super) fn is_slide(self) -> bool {
        self.fixed_height.is_some()
    }
    /// `wanted` ticks on a page, fewer on a slide.
    pub(super) fn ticks(self, wanted: usize) -> usize {
        if self.is_slide() { (wanted / 2).max(3) } else { wanted }
    }
    /// One measure on a page, another on a slide.
    pub(super) fn choose<T>(self, page: T, slide: T) -> T {
        if self.is_slide() { slide } else { page }
    }
}
/// White at the sides.
pub(super) const MARGIN: f64 = 18.0;

pub(super) const HEADING: Ink = Ink::new(15.0, Weight::SemiBold, colour::INK);
pub(super) const SUBTITLE: Ink = Ink::new(11.0, Weight::Regular, colour::SOFT_INK);
pub(super) const LABEL: Ink = Ink::new(11.0, Weight::Regular, colour::INK);
pub(super) const STRONG: Ink = Ink::new(11.0, Weight::SemiBold, colour::INK);
pub(super) const TICK: Ink = Ink::new(10.5, Weight::Regular, colour::SOFT_INK);
pub(super) const FOOT: Ink = Ink::new(9.5, Weight::Regular, colour::SOFT_INK);

/// Lines of the two headings.
fn heading_lines(format: Format, finding: &str, subtitle: &str) -> (Vec<String>, Vec<String>) {
    let width = format.width - 2.0 * MARGIN;
    let [most, most_below, _] = format.lines;
    let subtitle = whole_sentences(format, SUBTITLE, &clean(subtitle), most_below);
    (balanced(format.heading, &clean(finding), width, most), balanced(SUBTITLE, &subtitle, width, most_below))
}

/// On a slide, as many whole sentences as find room in so many lines; on a page all.
fn whole_sentences(format: Format, ink: Ink, text: &str, lines: usize) -> String {
    let width = format.width - 2.0 * MARGIN;
    if !format.is_slide() || ink.wrap(text, width, lines + 1).len() <= lines {
        return text.to_owned();
    }
    let mut ends = text.rmatch_indices(". ").map(|(place, _)| &text[..=place]);
    ends.find(|kept| ink.wrap(kept, width, lines + 1).len() <= lines).unwrap_or("").to_owned()
}

/// Wrapped so that the last line is not left with one short word.
pub(super) fn balanced(ink: Ink, text: &str, width: f64, most: usize) -> Vec<String> {
    let mut lines = ink.wrap(text, width, most);
    if lines.len() < 2 || lines.last().is_some_and(|line| line.ends_with('…')) {
        return lines;
    }
    for part in [0.9, 0.8, 0.7, 0.6] {
        let narrower = ink.wrap(text, width * part, most + 1);
        if narrower.len() != lines.len() {
            break;
        }
        lines = narrower;
    }
    lines
}

/// Height that the headings take.
pub(super) fn headings_height(format: Format, finding: &str, subtitle: &str) -> f64 {
    let (heading, sub) = heading_lines(format, finding, subtitle);
    let leading = format.heading.leading();
    format.heading_at - 1.0 + leading * heading.len() as f64 + SUBTITLE.leading() * sub.len() as f64
}

/// The finding and what is drawn, at the top; returns the y below them.
pub(super) fn headings(canvas: &Canvas<'_>, finding: &str, subtitle: &str) -> Result<f64, ChartError> {
    let format = canvas.format;
    let (heading, sub) = heading_lines(format, finding, subtitle);
    let y = canvas.lines(&heading, MARGIN, format.heading_at, Align::Left, format.heading)?;
    let y = canvas.lines(&sub, MARGIN, y + 1.0, Align::Left, SUBTITLE)?;
    Ok(y - 2.0)
}

fn foot_lines(format: Format, text: &str) -> Vec<String> {
    let most = format.lines[2];
    let text = whole_sentences(format, FOOT, &clean(text), most);
    FOOT.wrap(&text, format.width - 2.0 * MARGIN, most)
}

/// Height that the small print takes.
pub(super) fn foot_height(format: Format, text: &str) -> f64 {
    let lines = foot_lines(format, text).len();
    if format.is_slide() && lines == 0 {
        return 4.0;
    }
    format.choose(12.0, 6.0) + FOOT.points + FOOT.leading() * (lines.max(1) - 1) as f64
}

/// Small print at the bottom; returns the y above it.
pub(super) fn foot(canvas: &Canvas<'_>, text: &str) -> Result<f64, ChartError> {
    let lines = foot_lines(canvas.format, text);
    let above = canvas.height - foot_height(canvas.format, text);
    canvas.lines(&lines, MARGIN, above + FOOT.points, Align::Left, FOOT)?;
    Ok(above)
}

/// Rows that are drawn of `all`, and the height of each: on a page all in the height they want, on a slide as many as
/// find room for two lines of small type each in what is left `around` them.
pub(super) fn rows(format: Format, all: usize, wanted: f64, around: f64) -> (usize, f64) {
    let Some(height) = format.fixed_height else { return (all, wanted) };
    let room = (height - around).max(LEAST_ROW);
    let rows = all.clamp(1, ((room / LEAST_ROW) as usize).max(1));
    (rows.min(all), (room / rows as f64).min(wanted))
}

/// Two lines of small type.
const LEAST_ROW: f64 = 23.0;

/// "16,384 runs, drawn by Sobol sequence, seed 4711".
pub(super) fn drawn_by(answers: &Answers, runs: u64) -> String {
    let method = match answers.sampling.method.as_str() {
        "sobol" => "Sobol points",
        "latin hypercube" => "a Latin hypercube",
        _ => "random draws",
    };
    let plural = if runs == 1 { "" } else { "s" };
    let base = if answers.choices.is_empty() { "" } else { " Choices at base unless said." };
    let facts = &answers.sampling;
    let asked = match runs == facts.runs && runs != facts.runs_asked {
        true => format!(" ({} asked for)", grouped(facts.runs_asked as f64, 0)),
        false => String::new(),
    };
    format!("{} run{plural}{asked} from {method}, seed {}.{base}", grouped(runs as f64, 0), facts.seed)
}

/// A user's label, tamed and short enough to leave room for our own words.
pub(super) fn named(label: &str) -> String {
    shortened(&clean(label), 60)
}

/// The same inside a sentence.
pub(super) fn mentioned(label: &str) -> String {
    in_sentence(&shortened(&clean(label), 60))
}

/// The same as the subject of a sentence.
pub(super) fn subject(label: &str) -> String {
    crate::report::words::subject(&shortened(&clean(label), 60))
}

/// The headline result: by name, else the first.
pub(super) fn headline(answers: &Answers) -> Option<&Summary> {
    answers.results.iter().find(|r| r.name == answers.study.headline).or_else(|| answers.results.first())
}

/// Horizontal rules with numbers at the left and the axis' name above them.
pub(super) fn left_axis(canvas: &Canvas<'_>, plot: &Plot, ticks: &Ticks, name: &str) -> Drawn {
    let writing = Writing::of(plot.y);
    let frame = plot.frame;
    for &value in &ticks.values {
        let y = plot.py(value);
        canvas.line(&[(frame.left, y), (frame.right, y)], colour::RULE, 1.0, 0.7)?;
        canvas.text(&writing.tick(value, ticks), frame.left - 6.0, y, Align::Right, TICK)?;
    }
    let name = TICK.fit(&clean(name), canvas.width - 2.0 * MARGIN);
    canvas.text(&name, MARGIN, frame.top - 13.0, Align::Left, TICK)
}

/// Room that the numbers of a left axis take.
pub(super) fn left_room(range: (f64, f64), ticks: &Ticks) -> f64 {
    let writing = Writing::of(range);
    let widest = ticks.values.iter().map(|&v| TICK.width(&writing.tick(v, ticks))).fold(0.0, f64::max);
    MARGIN + widest + 8.0
}

/// The line at the bottom with numbers below and the axis' name below those.
pub(super) fn bottom_axis(canvas: &Canvas<'_>, plot: &Plot, ticks: &Ticks, name: &str) -> Drawn {
    let writing = Writing::of(plot.x);
    let Frame { left, right, bottom, .. } = plot.frame;
    canvas.line(&[(left, bottom), (right, bottom)], colour::INK, 1.0, 0.9)?;
    for &value in &ticks.values {
        let x = plot.px(value);
        canvas.line(&[(x, bottom), (x, bottom + 4.0)], colour::INK, 1.0, 0.9)?;
        canvas.text(&writing.tick(value, ticks), x, bottom + 12.0, Align::Middle, TICK)?;
    }
    let name = TICK.fit(&clean(name), canvas.width - 2.0 * MARGIN);
    let half = TICK.width(&name) / 2.0;
    let middle =
        ((left + right) / 2.0).clamp(MARGIN + half, (canvas.width - MARGIN - half).max(MARGIN + half));
    canvas.text(&name, middle, bottom + 27.0, Align::Middle, TICK)
}

/// The line at the bottom with calendar years below it.
pub(super) fn calendar_axis(canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
    let Frame { left, right, bottom, .. } = plot.frame;
    canvas.line(&[(left, bottom), (right, bottom)], colour::INK, 1.0, 0.9)?;
    for &year in &ticks(plot.x.0.ceil(), plot.x.1.floor(), canvas.format.ticks(8), true).values {
        let x = plot.px(year);
        canvas.line(&[(x, bottom), (x, bottom + 4.0)], colour::INK, 1.0, 0.9)?;
        // A year has no thousands separator.
        canvas.text(&format!("{year:.0}"), x, bottom + 12.0, Align::Middle, TICK)?;
    }
    canvas.text("Year", (left + right) / 2.0, bottom + 27.0, Align::Middle, TICK)
}

/// Room that a bottom axis takes.
pub(super) const BOTTOM_ROOM: f64 = 38.0;
/// Room that the name of a left axis takes above the plot.
pub(super) const TOP_ROOM: f64 = 24.0;

/// A unit for an axis: ", EUR" or nothing; "yr" is written out.
pub(super) fn unit_after(unit: &str) -> String {
    match unit {
        "" => String::new(),
        "yr" => ", years".into(),
        // Labels of such counts name what is counted.
        "person" | "home" => String::new(),
        unit => format!(", {}", clean(unit)),
    }
}
