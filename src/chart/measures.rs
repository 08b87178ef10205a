//! Measures of many things below each other, each with its interval: what driving, knowing or doing something is worth.
//! One drawing for several charts; they give the words.

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, Format, LABEL, STRONG, TICK};
use super::scale::{Writing, extent, ticks};
use super::{Chart, finish};

const ROW: f64 = 26.0;
/// Room for the names.
const NAMES: f64 = 224.0;
/// Room for the notes at the right.
const NOTES: f64 = 96.0;
/// Room for the key.
const KEY: f64 = 24.0;

/// A value with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mark {
    pub(super) value: f64,
    /// Ends of the 95 % interval, where there is one.
    pub(super) ends: Option<(f64, f64)>,
}

/// One thing.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Row {
    pub(super) label: String,
    /// A bar from nothing to here.
    pub(super) bar: Option<Mark>,
    /// A ring here.
    pub(super) ring: Option<Mark>,
    /// A thin line between these; an end that is never lies beyond the edge.
    pub(super) line: Option<(f64, f64)>,
    /// A disc here.
    pub(super) disc: Option<f64>,
    /// At the right, in a word or two.
    pub(super) note: String,
    /// It is not to be told from nothing.
    pub(super) faint: bool,
}

/// A sign of the key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sign {
    Bar,
    Ring,
    Disc,
    Line,
}

/// A chart of measures.
pub(super) struct Measures<'a> {
    pub(super) name: &'a str,
    pub(super) title: String,
    pub(super) finding: String,
    pub(super) subtitle: String,
    pub(super) axis: String,
    pub(super) foot: String,
    pub(super) rows: Vec<Row>,
    /// Signs and what they stand for; empty where there is only one.
    pub(super) key: Vec<(Sign, &'a str)>,
    /// Whether the axis begins at nothing.
    pub(super) from_zero: bool,
    /// A level that is drawn across all rows, with its name.
    pub(super) level: Option<(f64, String)>,
    /// What stands above the notes.
    pub(super) note_head: &'a str,
}

impl Measures<'_> {
    /// The chart; none without rows.
    pub(super) fn draw(&self, format: Format) -> Result<Option<Chart>, ChartError> {
        if self.rows.is_empty() {
            return Ok(None);
        }
        let around = layout::headings_height(format, &self.finding, &self.subtitle)
            + KEY
            + BOTTOM_ROOM
            + layout::foot_height(format, &self.foot);
        let (rows, pitch) = layout::rows(format, self.rows.len(), ROW, around);
        let height = format.height((around + pitch * rows as f64).ceil());
        let svg =
            super::canvas::sheet(format, height, |canvas| self.body(canvas, &self.rows[..rows], pitch))?;
        Ok(Some(finish(format, self.name, &self.title, &self.finding, height, &svg)))
    }

    fn body(&self, canvas: &Canvas<'_>, rows: &[Row], pitch: f64) -> Drawn {
        let top = layout::headings(canvas, &self.finding, &self.subtitle)? + KEY;
        let bottom = layout::foot(canvas, &self.foot)? - BOTTOM_ROOM;
        let frame = Frame {
            left: layout::MARGIN + names(canvas) + 12.0,
            top,
            right: canvas.width - layout::MARGIN - NOTES,
            bottom,
        };
        let marks = rows.iter().flat_map(|row| row.bar.iter().chain(&row.ring));
        let ends =
            marks.flat_map(|m| [m.value, m.ends.map_or(m.value, |e| e.0), m.ends.map_or(m.value, |e| e.1)]);
        let lines = rows.iter().flat_map(|row| row.line.iter().flat_map(|&(a, b)| [a, b]));
        let discs = rows.iter().filter_map(|row| row.disc);
        let zero = self.from_zero.then_some(0.0);
        let level = self.level.iter().map(|(x, _)| *x);
        let (low, high) = extent(ends.chain(lines).chain(discs).chain(zero).chain(level));
        let air = (high - low) * 0.04;
        let low = if self.from_zero && low >= 0.0 { 0.0 } else { low - air };
        let plot = canvas.plot(frame, (low, high + air), (0.0, 1.0));
        let scale = ticks(plot.x.0, plot.x.1, canvas.format.ticks(5), false);
        for &x in &scale.values {
            canvas.line(&[(plot.px(x), top), (plot.px(x), bottom)], colour::RULE, 1.0, 0.7)?;
        }
        self.level(canvas, &plot)?;
        for (k, row) in rows.iter().enumerate() {
            draw_row(canvas, &plot, row, top + pitch * (k as f64 + 0.5))?;
        }
        self.key(canvas, top - 12.0)?;
        canvas.text(self.note_head, frame.right + 14.0, top - 12.0, Align::Left, TICK)?;
        let writing = Writing::of(plot.x).unit("");
        let axis = if writing.is_empty() { self.axis.clone() } else { format!("{} ({writing})", self.axis) };
        layout::bottom_axis(canvas, &plot, &scale, &axis)
    }

    fn level(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let Some((x, name)) = self.level.as_ref().filter(|(x, _)| x.is_finite()) else { return Ok(()) };
        let Frame { top, bottom, left, right } = plot.frame;
        let x = plot.px(*x);
        canvas.dashed(&[(x, top), (x, bottom)], colour::SOFT_INK, 1.1, (4.0, 3.0))?;
        let half = TICK.width(name) / 2.0;
        let place = (x + 4.0 + half).clamp(left + half, (right - half).max(left + half));
        canvas.text(name, place, top - 12.0, Align::Middle, TICK)
    }

    fn key(&self, canvas: &Canvas<'_>, y: f64) -> Drawn {
        let mut x = layout::MARGIN;
        for (sign, word) in &self.key {
            match sign {
                Sign::Bar => {
                    let sample = Frame { left: x, right: x + 14.0, top: y - 4.5, bottom: y + 4.5 };
                    canvas.rect(sample, colour::BLUE, 0.85)?;
                }
                Sign::Ring => ring(canvas, x + 7.0, y)?,
                Sign::Disc => canvas.dot(x + 7.0, y, 4.2, colour::BLUE)?,
                Sign::Line => canvas.line(&[(x, y), (x + 14.0, y)], colour::GREY, 1.0, 3.0)?,
            }
            canvas.text(word, x + 19.0, y, Align::Left, TICK)?;
            x += 19.0 + TICK.width(word) + 16.0;
        }
        Ok(())
    }
}

fn ring(canvas: &Canvas<'_>, x: f64, y: f64) -> Drawn {
    canvas.dot(x, y, 4.8, colour::VERMILION)?;
    canvas.dot(x, y, 2.7, colour::WHITE)
}

/// Room for the names.
fn names(canvas: &Canvas<'_>) -> f64 {
    canvas.format.choose(NAMES, 146.0)
}

fn draw_row(canvas: &Canvas<'_>, plot: &Plot, row: &Row, y: f64) -> Drawn {
    let room = names(canvas);
    let names = layout::balanced(LABEL, &row.label, room, 2);
    let ink = if names.len() > 1 { super::canvas::Ink { points: 9.8, ..LABEL } } else { LABEL };
    let names = layout::balanced(ink, &row.label, room, 2);
    let first = y - ink.leading() * (names.len().max(1) - 1) as f64 / 2.0;
    canvas.lines(&names, layout::MARGIN + room, first, Align::Right, ink)?;
    let alpha = if row.faint { 0.35 } else { 0.85 };
    if let Some((from, to)) = row.line.filter(|(a, b)| !a.is_nan() && !b.is_nan()) {
        let (from, to) = (from.min(to), from.max(to));
        canvas.line(&[(plot.px(from), y), (plot.px(to), y)], colour::GREY, 1.0, 3.0)?;
        if to == f64::INFINITY {
            let x = plot.frame.right;
            canvas.polygon(&[(x, y - 5.0), (x + 8.0, y), (x, y + 5.0)], colour::GREY, 1.0)?;
        }
    }
    if let Some(x) = row.disc.filter(|x| x.is_finite()) {
        canvas.dot(plot.px(x), y, 4.2, colour::BLUE)?;
    }
    if let Some(bar) = row.bar.filter(|bar| bar.value.is_finite()) {
        let (zero, end) = (plot.px(0.0), plot.px(bar.value));
        let frame = Frame { left: zero.min(end), right: zero.max(end), top: y - 7.0, bottom: y + 7.0 };
        canvas.rect(frame, colour::BLUE, alpha)?;
        if row.faint {
            canvas.hatch(frame, colour::INK, 0.4, 5.0)?;
        }
        whisker(canvas, plot, bar, y, colour::INK)?;
    }
    if let Some(mark) = row.ring.filter(|mark| mark.value.is_finite()) {
        let y = if row.bar.is_some() && mark.ends.is_some() { y + 3.5 } else { y };
        whisker(canvas, plot, mark, y, colour::DARK_VERMILION)?;
        ring(canvas, plot.px(mark.value), y)?;
    }
    let ink = if row.faint { TICK } else { STRONG };
    let note = ink.fit(&row.note, NOTES - 16.0);
    canvas.text(&note, plot.frame.right + 14.0, y, Align::Left, ink)
}

/// The interval as a line with ends.
fn whisker(canvas: &Canvas<'_>, plot: &Plot, mark: Mark, y: f64, colour: plotters::style::RGBColor) -> Drawn {
    let Some((low, high)) = mark.ends.filter(|(a, b)| a.is_finite() && b.is_finite()) else { return Ok(()) };
    let (from, to) = (plot.px(low), plot.px(high));
    canvas.line(&[(from, y), (to, y)], colour, 1.0, 1.2)?;
    for x in [from, to] {
        canvas.line(&[(x, y - 3.5), (x, y + 3.5)], colour, 1.0, 1.2)?;
    }
    Ok(())
}
