//! What a result hangs on: one bar for each input, from its low to its high value.

use crate::analysis::{Answers, Figure, Tornado, TornadoRow};
use crate::report::numbers::{clean, figure, with_unit};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::layout::{self, Format, LABEL, STRONG, TICK};
use super::scale::{Writing, extent, ticks};
use super::{Chart, finish};

/// Bars that are drawn; the rest is counted.
const MOST_ROWS: usize = 12;
const ROW: f64 = 27.0;
/// Room for the names of the inputs.
const NAMES: f64 = 214.0;
/// Width of the column in which "never" lies.
const NEVER_ROOM: f64 = 62.0;
/// Room for the key and the names of base and threshold.
const KEY_ROOM: f64 = 40.0;
/// Least width that is left for the bars.
const LEAST_DATA: f64 = 80.0;
/// Head of a bar that runs off the scale.
const ARROW: f64 = 9.0;
/// Widest label at the end of a bar.
const END_LABEL: f64 = 92.0;

/// The chart, if there is a tornado with at least one bar.
pub(super) fn draw(format: Format, answers: &Answers) -> Result<Option<Chart>, ChartError> {
    let Some(tornado) = answers.tornado.as_ref() else { return Ok(None) };
    let format = format.rows();
    let (shown, left_out) = rows(tornado);
    if shown.is_empty() {
        return Ok(None);
    }
    let finding = finding(tornado, &shown);
    let mut picture = Picture { answers, tornado, rows: &shown, pitch: ROW, left_out, finding: &finding };
    let around = picture.around(format);
    let (rows, pitch) = layout::rows(format, shown.len(), ROW, around);
    (picture.rows, picture.pitch) = (&shown[..rows], pitch);
    picture.left_out.0 += shown.len() - rows;
    let height = format.height((around + pitch * rows as f64).ceil());
    let svg = super::canvas::sheet(format, height, |canvas| picture.body(canvas))?;
    let title = format!("What it hangs on: {}", layout::named(&tornado.label));
    Ok(Some(finish(format, "tornado", &title, &finding, height, &svg)))
}

/// Rows that move the result, the first twelve; and how many (smaller, without effect) are left out.
fn rows(tornado: &Tornado) -> (Vec<&TornadoRow>, (usize, usize)) {
    let base = tornado.base;
    let quartiles = |row: &TornadoRow| row.quartiles.is_some_and(|(a, b)| a != base || b != base);
    let moves = |row: &&TornadoRow| row.low != base || row.high != base || quartiles(row);
    let moving: Vec<&TornadoRow> = tornado.rows.iter().filter(moves).collect();
    let still = tornado.rows.len() - moving.len();
    let smaller = moving.len().saturating_sub(MOST_ROWS);
    (moving.into_iter().take(MOST_ROWS).collect(), (smaller, still))
}

/// Whether an end and the base lie on different sides of the threshold.
fn flips(end: Figure, base: Figure, threshold: f64) -> bool {
    let above = |f: Figure| match f {
        Figure::Number(x) => Some(x >= threshold),
        Figure::Never => Some(true),
        Figure::None => None,
    };
    matches!((above(end), above(base)), (Some(a), Some(b)) if a != b)
}

fn finding(tornado: &Tornado, shown: &[&TornadoRow]) -> String {
    let label = layout::named(&tornado.label);
    let names: Vec<String> = shown.iter().take(2).map(|row| layout::mentioned(&row.label)).collect();
    let head = match names.as_slice() {
        [one] => format!("{label} hangs on {one}"),
        [one, two] => format!("{label} hangs most on {one}, then on {two}"),
        _ => label,
    };
    let never = |row: &TornadoRow| row.low == Figure::Never || row.high == Figure::Never;
    let count = if let Some(threshold) = tornado.threshold {
        tornado
            .rows
            .iter()
            .filter(|row| flips(row.low, tornado.base, threshold) || flips(row.high, tornado.base, threshold))
            .count()
    } else {
        tornado.rows.iter().filter(|row| never(row)).count()
    };
    let what = if tornado.threshold.is_some() { "turn the answer" } else { "make it never" };
    match count {
        _ if tornado.base == Figure::Never => format!("{head} (never in the base case)"),
        0 => format!("{head}; no input can {what} by itself"),
        1 => format!("{head}; one input can {what} by itself"),
        n => format!("{head}; each of {n} inputs can {what} by itself"),
    }
}

/// Room for the names of the inputs.
fn names(canvas: &Canvas<'_>) -> f64 {
    canvas.format.choose(NAMES, 150.0)
}

/// Widest label at the end of a bar; a small picture has none.
fn end_room(format: Format) -> f64 {
    if format.is_small() { 0.0 } else { format.choose(END_LABEL, 66.0) }
}

/// The input's value at an end, if there is room to say it. On a slide no word is cut.
fn end_words(format: Format, ink: Ink, input: &str) -> Option<String> {
    let (text, room) = (clean(input), end_room(format));
    let fits = ink.width(&text) <= room;
    (fits || !format.is_slide()).then(|| ink.fit(&text, room)).filter(|text| !text.is_empty())
}

struct Picture<'a> {
    answers: &'a Answers,
    tornado: &'a Tornado,
    rows: &'a [&'a TornadoRow],
    /// Height of a row.
    pitch: f64,
    left_out: (usize, usize),
    finding: &'a str,
}

impl Picture<'_> {
    fn subtitle(&self) -> String {
        format!(
            "{}, when one input goes from its low value (1 draw in 10 lies below it) to its high one \
             (1 in 10 above), the rest at base",
            layout::named(&self.tornado.label),
        )
    }

    /// Height of all but the rows.
    fn around(&self, format: Format) -> f64 {
        layout::headings_height(format, self.finding, &self.subtitle())
            + KEY_ROOM
            + layout::BOTTOM_ROOM
            + layout::foot_height(format, &self.small_print())
    }

    fn body(&self, canvas: &Canvas<'_>) -> Drawn {
        let label = layout::named(&self.tornado.label);
        let top = layout::headings(canvas, self.finding, &self.subtitle())?;
        let bottom = layout::foot(canvas, &self.small_print())?;
        let plot = self.plot(canvas, top + KEY_ROOM, bottom - layout::BOTTOM_ROOM);
        let Frame { top, bottom, .. } = plot.frame;
        let scale = ticks(plot.x.0, plot.x.1, canvas.format.ticks(7), false);
        for &value in &scale.values {
            let x = plot.px(value);
            canvas.line(&[(x, top), (x, bottom)], colour::RULE, 1.0, 0.7)?;
        }
        if self.figures().any(|f| f == Figure::Never) {
            let right = plot.frame.right;
            canvas.dashed(&[(right, top), (right, bottom)], colour::SOFT_INK, 0.9, (2.0, 3.0))?;
            canvas.text("never", right + NEVER_ROOM / 2.0, bottom + 12.0, Align::Middle, TICK)?;
        }
        let rows =
            || self.rows.iter().enumerate().map(|(i, row)| Row { row, top: top + self.pitch * i as f64 });
        for row in rows() {
            self.bars(canvas, &plot, &row)?;
        }
        self.marks(canvas, &plot)?;
        // After the lines of base and threshold, which would strike them through.
        for row in rows() {
            self.labels(canvas, &plot, &row)?;
        }
        self.key(canvas, top - 30.0)?;
        let name = format!("{label}{}", layout::unit_after(&Writing::of(plot.x).unit(&self.tornado.unit)));
        layout::bottom_axis(canvas, &plot, &scale, &name)
    }

    fn small_print(&self) -> String {
        let mut text: Vec<String> = Vec::new();
        match self.left_out {
            (0, 0) => {}
            (0, still) => text.push(format!("Left out: {still} without effect.")),
            (smaller, 0) => text.push(format!("Left out: {smaller} with shorter bars.")),
            (smaller, still) => {
                text.push(format!("Left out: {smaller} with shorter bars, {still} without effect."));
            }
        }
        if self.rows.iter().any(|row| row.low_input.contains('\u{2192}')) {
            text.push("Arrows: from the first year to the last.".into());
        }
        text.extend(self.tornado.notes.iter().map(|note| clean(note)));
        text.join(" ")
    }

    fn figures(&self) -> impl Iterator<Item = Figure> {
        self.rows.iter().flat_map(|row| [row.low, row.high]).chain([self.tornado.base])
    }

    fn plot(&self, canvas: &Canvas<'_>, top: f64, bottom: f64) -> Plot {
        let never = self.figures().any(|f| f == Figure::Never);
        let left = layout::MARGIN + names(canvas) + 10.0;
        let right = canvas.width - layout::MARGIN - if never { NEVER_ROOM } else { 0.0 };
        let threshold = self.tornado.threshold;
        let (low, high) = extent(self.figures().filter_map(Figure::number).chain(threshold));
        // The labels at the ends of the bars need room too, at the side where they stand.
        let base = self.tornado.base.number().unwrap_or(high);
        let mut room = (0.0_f64, 0.0_f64);
        for row in self.rows {
            for (at, input) in [(row.low, &row.low_input), (row.high, &row.high_input)] {
                let text = without_unit(input, &row.unit).unwrap_or(input);
                let words = end_words(canvas.format, LABEL, text).unwrap_or_default();
                let width = LABEL.width(&words) + 10.0;
                match at.number() {
                    Some(x) if x < base => room.0 = room.0.max(width - (x - low) / (high - low) * LEAST_DATA),
                    Some(x) if x > base => {
                        room.1 = room.1.max(width - (high - x) / (high - low) * LEAST_DATA);
                    }
                    _ => room = (room.0.max(width), room.1.max(width)),
                }
            }
        }
        let data = (right - left - room.0 - room.1).max(LEAST_DATA);
        let a_point = (high - low) / data;
        let frame = Frame { left, right, top, bottom };
        canvas.plot(frame, (low - a_point * room.0, high + a_point * room.1), (0.0, self.rows.len() as f64))
    }

    /// Where a figure stands; never has a column of its own at the right.
    fn place(&self, plot: &Plot, f: Figure) -> Option<f64> {
        match f {
            Figure::Number(x) => Some(plot.px(x)),
            Figure::Never => Some(plot.frame.right + NEVER_ROOM - 8.0),
            Figure::None => None,
        }
    }

    /// The low end, then the high one, each with the place of the other.
    fn ends<'r>(&self, plot: &Plot, Row { row, top }: &Row<'r>) -> [End<'r>; 2] {
        let places = (self.place(plot, row.low), self.place(plot, row.high));
        let base = self.place(plot, self.tornado.base);
        let (top, middle, bottom) = (*top, top + self.pitch / 2.0, top + self.pitch);
        // Both ends on one side: a lane each, so that neither hides the other.
        let same_side =
            matches!((places, base), ((Some(a), Some(b)), Some(base)) if (a - base) * (b - base) > 0.0);
        let (low_lane, high_lane) = if same_side {
            ((top + 2.5, middle - 0.5), (middle + 0.5, bottom - 2.5))
        } else {
            ((top + 4.5, bottom - 4.5), (top + 4.5, bottom - 4.5))
        };
        let input = |text| without_unit(text, &row.unit).unwrap_or(text).trim();
        [
            End { at: row.low, input: input(&row.low_input), is_low: true, lane: low_lane, other: places.1 },
            End {
                at: row.high,
                input: input(&row.high_input),
                is_low: false,
                lane: high_lane,
                other: places.0,
            },
        ]
    }

    fn bars(&self, canvas: &Canvas<'_>, plot: &Plot, row: &Row<'_>) -> Drawn {
        let Some(base) = self.place(plot, self.tornado.base) else { return Ok(()) };
        for end in self.ends(plot, row) {
            self.bar(canvas, plot, base, &end)?;
        }
        for quartile in row.row.quartiles.iter().flat_map(|&(a, b)| [a, b]) {
            if let Some(x) = self.place(plot, quartile) {
                canvas.line(&[(x, row.top + 2.0), (x, row.top + self.pitch - 2.0)], colour::INK, 1.0, 1.2)?;
            }
        }
        Ok(())
    }

    /// The half of a bar that belongs to one value of the input.
    fn bar(&self, canvas: &Canvas<'_>, plot: &Plot, base: f64, end: &End<'_>) -> Drawn {
        let Some(x) = self.place(plot, end.at) else { return Ok(()) };
        let (top, bottom) = end.lane;
        // The head of the arrow takes the last points of a bar that runs off the scale.
        let off = end.at == Figure::Never && x > base;
        let shaft = if off { x - ARROW } else { x };
        let bar = Frame { left: base.min(shaft), right: base.max(shaft), top, bottom };
        let (ground, alpha) = if end.is_low { (colour::ORANGE, 0.75) } else { (colour::BLUE, 0.9) };
        canvas.rect(bar, ground, alpha)?;
        if end.is_low {
            canvas.hatch(bar, colour::INK, 0.55, 5.0)?;
        }
        if off {
            let head = [(shaft, top - 3.0), (x, (top + bottom) / 2.0), (shaft, bottom + 3.0)];
            canvas.polygon(&head, ground, 1.0)?;
        }
        Ok(())
    }

    /// The name of the input and its two values.
    fn labels(&self, canvas: &Canvas<'_>, plot: &Plot, row: &Row<'_>) -> Drawn {
        let name = input_name(row.row);
        let room = names(canvas);
        let ink = if LABEL.width(&name) > room { Ink { points: 10.0, ..LABEL } } else { LABEL };
        let lines = layout::balanced(ink, &name, room, 2);
        let first = row.top + self.pitch / 2.0 - ink.leading() * (lines.len().max(1) - 1) as f64 / 2.0;
        canvas.lines(&lines, layout::MARGIN + room, first, Align::Right, ink)?;
        let Some(base) = self.place(plot, self.tornado.base) else { return Ok(()) };
        for end in self.ends(plot, row) {
            self.end_label(canvas, plot, base, &end)?;
        }
        Ok(())
    }

    fn end_label(&self, canvas: &Canvas<'_>, plot: &Plot, base: f64, end: &End<'_>) -> Drawn {
        let Some(x) = self.place(plot, end.at) else { return Ok(()) };
        let (top, bottom) = end.lane;
        let middle = (top + bottom) / 2.0;
        if end.at == Figure::Never {
            let words = end_words(canvas.format, LABEL, end.input);
            let text = words.map_or_else(|| "never".into(), |words| format!("{words}: never"));
            let place = x - ARROW - 6.0;
            return if x > base {
                canvas.boxed_text(&text, place, middle, Align::Right, STRONG)
            } else {
                Ok(())
            };
        }
        let ink = if bottom - top < 12.0 { Ink { points: 9.5, ..LABEL } } else { LABEL };
        let Some(text) = end_words(canvas.format, ink, end.input) else { return Ok(()) };
        // An end at the base has no bar: its label keeps out of the way of the other's.
        let right_side = match end.other {
            _ if x != base => x > base,
            Some(other) if other != base => other < base,
            _ => !end.is_low,
        };
        let (place, align) = if right_side { (x + 5.0, Align::Left) } else { (x - 5.0, Align::Right) };
        canvas.boxed_text(&text, place, middle, align, ink)
    }

    /// Base case, threshold, and the head of the column of never.
    fn marks(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let Frame { top, bottom, .. } = plot.frame;
        let currency = &self.answers.study.currency;
        let written =
            |f: Figure| with_unit(&figure(f, None, &self.tornado.unit, currency), &self.tornado.unit);
        let base = self.place(plot, self.tornado.base);
        if let Some(x) = base {
            canvas.line(&[(x, top - 4.0), (x, bottom)], colour::INK, 1.0, 1.4)?;
        }
        let base_text = match self.tornado.base {
            Figure::Number(_) => format!("base case {}", written(self.tornado.base)),
            _ => "base case: never".to_string(),
        };
        let width = STRONG.width(&base_text);
        let threshold = self
            .tornado
            .threshold
            .filter(|t| t.is_finite())
            .map(|t| (plot.px(t), format!("threshold {}", written(Figure::Number(t)))));
        // The two texts stand on either side, away from each other.
        let base_right = match (&threshold, base) {
            (Some((t, _)), Some(b)) => b >= *t,
            (None, Some(b)) => b + width < canvas.width - layout::MARGIN,
            _ => true,
        };
        if let Some(x) = base {
            let edge = canvas.width - layout::MARGIN;
            let x = if base_right { (x - 2.0).min(edge - width) } else { x + 2.0 };
            let align = if base_right { Align::Left } else { Align::Right };
            canvas.text(&base_text, x, top - 10.0, align, STRONG)?;
        }
        if let Some((x, text)) = threshold {
            canvas.dashed(&[(x, top - 4.0), (x, bottom)], colour::VERMILION, 1.6, (5.0, 3.0))?;
            let ink = Ink { colour: colour::DARK_VERMILION, ..STRONG };
            let (x, align) = if base_right { (x - 4.0, Align::Right) } else { (x + 4.0, Align::Left) };
            canvas.text(&text, x, top - 10.0, align, ink)?;
        }
        Ok(())
    }

    fn key(&self, canvas: &Canvas<'_>, y: f64) -> Drawn {
        let mut x = layout::MARGIN;
        let words = ["input at its low value", "input at its high value"];
        let words = canvas.format.choose(words, ["input low", "input high"]);
        for (is_low, words) in [(true, words[0]), (false, words[1])] {
            let box_ = Frame { left: x, right: x + 18.0, top: y - 5.0, bottom: y + 5.0 };
            canvas.rect(
                box_,
                if is_low { colour::ORANGE } else { colour::BLUE },
                if is_low { 0.75 } else { 0.9 },
            )?;
            if is_low {
                canvas.hatch(box_, colour::INK, 0.55, 5.0)?;
            }
            canvas.text(words, x + 23.0, y, Align::Left, TICK)?;
            x += 23.0 + TICK.width(words) + 18.0;
        }
        if self.rows.iter().any(|row| row.quartiles.is_some()) {
            canvas.line(&[(x, y - 5.0), (x, y + 5.0)], colour::INK, 1.0, 1.2)?;
            let words =
                canvas.format.choose("at the input's quartiles (both ends on one side)", "at its quartiles");
            canvas.text(words, x + 6.0, y, Align::Left, TICK)?;
        }
        Ok(())
    }
}

/// A row of the chart and where it begins.
struct Row<'a> {
    row: &'a TornadoRow,
    top: f64,
}

/// One end of a bar.
struct End<'a> {
    at: Figure,
    input: &'a str,
    is_low: bool,
    lane: (f64, f64),
    /// Where the other end is.
    other: Option<f64>,
}

/// An input's value without the unit behind it, if it stands there.
fn without_unit<'a>(value: &'a str, unit: &str) -> Option<&'a str> {
    let rest = value.strip_suffix(unit).filter(|_| !unit.is_empty())?;
    rest.ends_with(' ').then_some(rest)
}

/// The input's name, with the unit of the values at its ends.
fn input_name(row: &TornadoRow) -> String {
    let both = [&row.low_input, &row.high_input].iter().all(|text| without_unit(text, &row.unit).is_some());
    let label = clean(&row.label);
    if both { format!("{label}{}", layout::unit_after(&row.unit)) } else { label }
}
