//! The courses along one input: a line of means for each, and where the best changes.

use crate::analysis::{Along, Alternatives, Answers};
use crate::report::numbers::{clean, few_decimals, grouped, in_sentence, shortened, spoken};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::choice_lines::{stroke, style};
use super::choosing::drawable;
use super::fan::plain_words;
use super::layout::{self, BOTTOM_ROOM, Format, STRONG, TICK, TOP_ROOM};
use super::scale::{Writing, extent, spread, ticks};
use super::{Chart, finish};

/// Room at the right for the names of the lines.
const END_ROOM: f64 = 232.0;
/// Height of the chart.
const HEIGHT: f64 = 430.0;
/// Lines in colour; the others are grey.
const COLOURED: usize = 4;

/// A chart for each input along which the courses were asked.
pub(super) fn draw_all(
    format: Format,
    answers: &Answers,
    found: &Alternatives,
) -> Result<Vec<Chart>, ChartError> {
    found.along.iter().map(|line| Picture { answers, found, line }.draw(format)).collect()
}

struct Picture<'a> {
    answers: &'a Answers,
    found: &'a Alternatives,
    line: &'a Along,
}

impl Picture<'_> {
    fn draw(&self, format: Format) -> Result<Chart, ChartError> {
        let finding = self.finding();
        let svg = super::canvas::sheet(format, format.height(HEIGHT), |canvas| self.body(canvas, &finding))?;
        let title = format!("Courses along {}", layout::mentioned(&self.line.label));
        let name = format!("alternatives-along-{}", plain_words(&self.line.of));
        Ok(finish(format, &name, &title, &finding, format.height(HEIGHT), &svg))
    }

    fn course(&self, k: usize) -> String {
        let row = self.found.comparison.rows.get(k);
        row.map_or_else(String::new, |row| shortened(&clean(&row.label), 60))
    }

    fn value(&self, x: f64) -> String {
        let unit = &self.line.unit;
        spoken(&grouped(x, few_decimals(x, None, unit, &self.answers.study.currency)), unit)
    }

    fn finding(&self) -> String {
        let of = layout::mentioned(&self.line.label);
        let first = self.line.points.iter().find_map(|p| p.best).map(|k| in_sentence(&self.course(k)));
        let first = first.unwrap_or_default();
        match self.line.flips.as_slice() {
            [] => format!("Whatever {of}, the best course in the mean is {first}"),
            flips => {
                let steps: Vec<String> = flips
                    .iter()
                    .map(|f| format!("above {} {}", self.value(f.at), in_sentence(&self.course(f.to))))
                    .collect();
                let near = if self.line.level { " (all but level throughout)" } else { "" };
                format!("Best in the mean along {of}: {first}; {}{near}", steps.join("; "))
            }
        }
    }

    /// Courses that are best somewhere, or lie nearest to the best, are told apart by colour.
    fn order(&self) -> Vec<usize> {
        let n = self.found.comparison.rows.len();
        let sign = if self.found.higher { 1.0 } else { -1.0 };
        let mean = |k: usize| {
            let values = self.line.points.iter().filter_map(|p| drawable(p.means.get(k)?.value));
            values.map(|x| sign * x).fold(f64::NEG_INFINITY, f64::max)
        };
        let best = |k: usize| self.line.points.iter().filter(|p| p.best == Some(k)).count();
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|&a, &b| best(b).cmp(&best(a)).then(mean(b).total_cmp(&mean(a))));
        order
    }

    fn body(&self, canvas: &Canvas<'_>, finding: &str) -> Drawn {
        let line = self.line;
        let subtitle = format!(
            "For each course the mean of {}, with {} held at each value and the rest as drawn ({})",
            layout::mentioned(&self.found.label),
            layout::mentioned(&line.label),
            if self.found.higher { "more is better" } else { "less is better" }
        );
        let top = layout::headings(canvas, finding, &subtitle)?;
        let foot = format!(
            "{} To hold it is to intervene: what is correlated with it stays as drawn.",
            layout::drawn_by(self.answers, line.runs)
        );
        let bottom = layout::foot(canvas, &foot)?;
        let all = line.points.iter().flat_map(|p| p.means.iter().filter_map(|m| drawable(m.value)));
        let (low, high) = extent(all);
        let air = (high - low) * 0.05;
        let y = (low - air, high + air);
        let scale = ticks(y.0, y.1, 6, false);
        let frame = Frame {
            left: layout::left_room(y, &scale),
            top: top + TOP_ROOM,
            right: canvas.width - END_ROOM,
            bottom: bottom - BOTTOM_ROOM,
        };
        let x = extent(line.points.iter().map(|p| p.at));
        let plot = canvas.plot(frame, x, y);
        let unit = Writing::of(plot.y).unit(&self.found.comparison.unit);
        layout::left_axis(canvas, &plot, &scale, &unit)?;
        for flip in &line.flips {
            let x = plot.px(flip.at);
            canvas.dashed(&[(x, frame.top), (x, frame.bottom)], colour::SOFT_INK, 1.0, (3.0, 3.0))?;
        }
        let order = self.order();
        for (rank, &k) in order.iter().enumerate().rev() {
            self.course_line(canvas, &plot, k, rank)?;
        }
        if line.base > x.0 && line.base < x.1 {
            let at = plot.px(line.base);
            canvas.line(&[(at, frame.bottom), (at, frame.bottom - 8.0)], colour::INK, 1.0, 1.6)?;
            canvas.boxed_text("base", at, frame.bottom - 15.0, Align::Middle, TICK)?;
        }
        let unit = layout::unit_after(&Writing::of(plot.x).unit(&line.unit));
        let name = format!("{}{unit}", layout::named(&line.label));
        layout::bottom_axis(canvas, &plot, &ticks(plot.x.0, plot.x.1, 6, false), &name)?;
        self.ends(canvas, &plot, &order)
    }

    fn course_line(&self, canvas: &Canvas<'_>, plot: &Plot, k: usize, rank: usize) -> Drawn {
        let at = |p: &crate::analysis::AlongPoint| {
            (p.at, p.means.get(k).and_then(|m| m.value.number()).unwrap_or(f64::NAN))
        };
        let points: Vec<(f64, f64)> = self.line.points.iter().map(at).collect();
        for piece in plot.curve(&points) {
            if rank < COLOURED {
                let (ink, dash) = style(rank);
                stroke(canvas, &piece, ink, dash)?;
            } else {
                canvas.line(&piece, colour::GREY, 1.0, 1.1)?;
            }
        }
        Ok(())
    }

    /// Names at the right, pushed apart, with leaders.
    fn ends(&self, canvas: &Canvas<'_>, plot: &Plot, order: &[usize]) -> Drawn {
        let last = |k: usize| {
            let mean = self.line.points.last().and_then(|p| p.means.get(k));
            mean.and_then(|m| m.value.number()).unwrap_or(f64::NAN)
        };
        let heights: Vec<f64> = order.iter().map(|&k| plot.py(last(k))).collect();
        let places = spread(&heights, 15.0, plot.frame.top, plot.frame.bottom);
        let names = plot.frame.right + 16.0;
        for (rank, ((&k, height), place)) in order.iter().zip(heights).zip(places).enumerate() {
            let right = plot.frame.right;
            canvas.line(&[(right + 2.0, height), (names, place)], colour::GREY, 1.0, 0.6)?;
            let ink = if rank < COLOURED {
                let (ink, dash) = style(rank);
                stroke(canvas, &[(names + 2.0, place), (names + 22.0, place)], ink, dash)?;
                Ink { colour: colour::INK, ..STRONG }
            } else {
                canvas.line(&[(names + 2.0, place), (names + 22.0, place)], colour::GREY, 1.0, 1.1)?;
                TICK
            };
            let room = canvas.width - names - 26.0 - 8.0;
            let ink = if ink.width(&self.course(k)) > room { Ink { points: 9.5, ..ink } } else { ink };
            let text = ink.fit(&self.course(k), room);
            canvas.text(&text, names + 26.0, place, Align::Left, ink)?;
        }
        Ok(())
    }
}
