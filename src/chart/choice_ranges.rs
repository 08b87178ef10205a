//! Ranges over the runs in rows, one for each value of a choice.

use super::by_choice::Values;
use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, LABEL, TICK};
use super::scale::{Writing, extent, ticks};
use super::{Chart, finish};

const ROW: f64 = 40.0;
/// Room for the names of the values.
const NAMES: f64 = 132.0;
/// Room for what is said of each row.
const NOTES: f64 = 142.0;
/// Room above the rows for the name of the mark.
const MARK_ROOM: f64 = 18.0;
/// Most rows; a choice of more values is told in the tables.
const MOST: usize = 12;

/// One row.
pub(super) struct Range {
    pub(super) label: String,
    /// P5, P25, P50, P75, P95; infinite for never, NaN where there is none.
    pub(super) ends: [f64; 5],
    pub(super) base: f64,
    pub(super) notes: Vec<String>,
}

/// Rows of one quantity.
pub(super) struct Ranges {
    pub(super) title: String,
    pub(super) finding: String,
    pub(super) subtitle: String,
    pub(super) axis: String,
    /// A value that matters, with its name.
    pub(super) mark: Option<(f64, String)>,
    /// What the quantity is drawn at.
    pub(super) drawn: Option<(f64, f64)>,
    pub(super) runs: u64,
    pub(super) ranges: Vec<Range>,
}

impl Ranges {
    pub(super) fn chart(&self, name: &str, values: &Values<'_>) -> Result<Chart, ChartError> {
        let foot = self.foot(values);
        let around = layout::headings_height(values.format, &self.finding, &self.subtitle)
            + layout::foot_height(values.format, &foot);
        let around = around + MARK_ROOM + BOTTOM_ROOM;
        let (rows, pitch) = layout::rows(values.format, self.ranges.len().min(MOST), ROW, around);
        let height = values.format.height((around + pitch * rows as f64).ceil());
        let shown = &self.ranges[..rows];
        let svg =
            super::canvas::sheet(values.format, height, |canvas| self.body(canvas, shown, pitch, &foot))?;
        Ok(finish(values.format, name, &self.title, &self.finding, height, &svg))
    }

    fn foot(&self, values: &Values<'_>) -> String {
        let more = match self.ranges.len().saturating_sub(MOST) {
            0 => String::new(),
            n => format!(" {n} more values are in the tables."),
        };
        format!("{} The same runs for each value.{more}", layout::drawn_by(values.answers, self.runs))
    }

    fn body(&self, canvas: &Canvas<'_>, shown: &[Range], pitch: f64, foot: &str) -> Drawn {
        let top = layout::headings(canvas, &self.finding, &self.subtitle)? + MARK_ROOM;
        let bottom = layout::foot(canvas, foot)? - BOTTOM_ROOM;
        let finite = shown.iter().flat_map(|r| r.ends.into_iter().chain([r.base]));
        let mark = self.mark.iter().map(|(x, _)| *x);
        let (low, high) = extent(finite.chain(mark).chain(self.drawn.iter().flat_map(|&(a, b)| [a, b])));
        let air = (high - low) * 0.03;
        let left = layout::MARGIN + names(canvas) + 12.0;
        let frame = Frame { left, top, right: canvas.width - canvas.format.choose(NOTES, 132.0), bottom };
        let plot = canvas.plot(frame, (low - air, high + air), (0.0, 1.0));
        let scale = ticks(plot.x.0, plot.x.1, canvas.format.ticks(5), false);
        if let Some((from, to)) = self.drawn {
            let column = Frame { left: plot.px(from), right: plot.px(to), top, bottom };
            canvas.rect(column, colour::RULE, 0.6)?;
        }
        for &x in &scale.values {
            canvas.line(&[(plot.px(x), top), (plot.px(x), bottom)], colour::RULE, 1.0, 0.7)?;
        }
        for (k, range) in shown.iter().enumerate() {
            row(canvas, &plot, range, (top + pitch * (k as f64 + 0.5), pitch))?;
        }
        if let Some((x, name)) = self.mark.as_ref().filter(|(x, _)| x.is_finite()) {
            let x = plot.px(*x);
            canvas.line(&[(x, top - 3.0), (x, bottom)], colour::INK, 1.0, 1.2)?;
            let half = TICK.width(name) / 2.0;
            let place = x.clamp(left + half, frame.right - half);
            canvas.text(name, place, top - 10.0, Align::Middle, TICK)?;
        }
        let writing = Writing::of(plot.x).unit("");
        let axis = if writing.is_empty() { self.axis.clone() } else { format!("{} ({writing})", self.axis) };
        layout::bottom_axis(canvas, &plot, &scale, &axis)
    }
}

/// Room for the names of the values.
fn names(canvas: &Canvas<'_>) -> f64 {
    canvas.format.choose(NAMES, 84.0)
}

fn row(canvas: &Canvas<'_>, plot: &Plot, range: &Range, (y, pitch): (f64, f64)) -> Drawn {
    let room = names(canvas);
    let names = layout::balanced(LABEL, &range.label, room, 2);
    let first = y - LABEL.leading() * (names.len().max(1) - 1) as f64 / 2.0;
    canvas.lines(&names, layout::MARGIN + room, first, Align::Right, LABEL)?;
    let [low, q1, middle, q3, high] = range.ends;
    // What is no number lies beyond the edge: below the first for the low ends, above the last for the high ones.
    let end = |x: f64, edge: f64| if x.is_nan() { edge } else { plot.px(x) };
    let Frame { left, right, .. } = plot.frame;
    let some = range.ends.iter().any(|x| x.is_finite());
    if some {
        let (from, to) = (end(low, left), end(high, right));
        canvas.line(&[(from, y), (to, y)], colour::BLUE, 1.0, 1.6)?;
        let bar = Frame { left: end(q1, left), right: end(q3, right), top: y - 7.0, bottom: y + 7.0 };
        canvas.rect(bar, colour::BLUE, 0.85)?;
        if high == f64::INFINITY || high.is_nan() {
            canvas.polygon(&[(right, y - 4.0), (right + 6.0, y), (right, y + 4.0)], colour::BLUE, 1.0)?;
        }
        if low.is_nan() {
            canvas.polygon(&[(left, y - 4.0), (left - 6.0, y), (left, y + 4.0)], colour::BLUE, 1.0)?;
        }
    }
    if middle.is_finite() {
        let x = plot.px(middle);
        canvas.rect(
            Frame { left: x - 1.4, right: x + 1.4, top: y - 9.0, bottom: y + 9.0 },
            colour::INK,
            1.0,
        )?;
        canvas.rect(
            Frame { left: x - 0.7, right: x + 0.7, top: y - 8.3, bottom: y + 8.3 },
            colour::WHITE,
            1.0,
        )?;
    }
    if range.base.is_finite() {
        let x = plot.px(range.base);
        canvas.dot(x, y, 4.6, colour::VERMILION)?;
        canvas.dot(x, y, 2.6, colour::WHITE)?;
    }
    let most = if pitch < ROW { 2 } else { 3 };
    let notes = range.notes.iter().take(most).map(|n| TICK.fit(n, canvas.width - right - 26.0));
    let notes: Vec<String> = notes.collect();
    let first = y - TICK.leading() * (notes.len().max(1) - 1) as f64 / 2.0;
    canvas.lines(&notes, right + 14.0, first, Align::Left, TICK)?;
    Ok(())
}
