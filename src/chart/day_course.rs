//! One day step by step: where the electricity of the sun went and what else was drawn, and what became of the store.
//! Layers differ in hatching and carry their names, so nothing is said by colour alone.

use crate::hotwater::course::DayCourse;
use crate::report::numbers::{clean, grouped, listed, shortened};

use super::canvas::{Canvas, ChartError, Drawn, Frame, Plot, colour};
use super::day_labels::{self, Placed, Space, Wanted};
use super::day_stack::{self, Hatch, Layer, Stack, edges};
use super::layout::{self, BOTTOM_ROOM, Format, LABEL, MARGIN, STRONG, TOP_ROOM};
use super::scale::ticks;
use super::{Chart, day_store, finish};

/// Height of the panel of flows.
const FLOWS: f64 = 212.0;
/// Room at the right: for the names of the temperatures, if there are any.
const END_ROOM: f64 = 100.0;
/// Its height where nothing was made, drawn or sent.
const NO_FLOWS: f64 = 40.0;
/// Hours between two marks of the time axis.
const HOURS: usize = 3;

/// What a day is called and what is said of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DayWords {
    /// File stem.
    pub name: String,
    /// The day as a reader would call it, such as "21 June".
    pub day: String,
    /// What happened, in one sentence without a full stop.
    pub finding: String,
    /// What heats the water where the sun does not, such as "boiler".
    pub backup: String,
    /// Small print: whose day it is and where it comes from.
    pub note: String,
}

/// The chart of a day.
///
/// # Errors
/// If the built-in font cannot be used; never because of what the course holds.
pub fn day_course(course: &DayCourse, words: &DayWords) -> Result<Chart, ChartError> {
    draw(Format::PAGE, course, words)
}

/// The same for a page or a part of a slide.
pub(super) fn draw(format: Format, course: &DayCourse, words: &DayWords) -> Result<Chart, ChartError> {
    let stack = Stack::of(course);
    let picture = Picture { course, stack: &stack, words };
    let (finding, subtitle, note) = (clean(&words.finding), picture.subtitle(), picture.note());
    let store = day_store::height(course);
    let height = layout::headings_height(format, &finding, &subtitle)
        + TOP_ROOM
        + picture.flows_height()
        + store
        + BOTTOM_ROOM
        + layout::foot_height(format, &note);
    let height = height.round();
    let texts = [finding.as_str(), &subtitle, &note];
    let svg = super::canvas::sheet(format, height, |canvas| picture.body(canvas, texts))?;
    let title = format!("{} by {}", picture.day(), span(course));
    Ok(finish(format, &words.name, &title, &finding, height, &svg))
}

/// A step in words.
fn span(course: &DayCourse) -> String {
    match course.steps {
        24 => "hour".into(),
        48 => "half hour".into(),
        96 => "quarter of an hour".into(),
        steps => format!("{} minutes", grouped(1440.0 / steps.max(1) as f64, 0)),
    }
}

struct Picture<'a> {
    course: &'a DayCourse,
    stack: &'a Stack,
    words: &'a DayWords,
}

impl Picture<'_> {
    fn day(&self) -> String {
        shortened(&clean(&self.words.day), 60)
    }

    fn flows_height(&self) -> f64 {
        if self.stack.is_empty() { NO_FLOWS } else { FLOWS }
    }

    fn subtitle(&self) -> String {
        if self.stack.is_empty() {
            return format!("{}. The sun gave nothing and nothing was drawn.", self.day());
        }
        let mut text = format!("{}, mean power of each {}.", self.day(), span(self.course));
        let made = !self.course.generation.is_empty();
        text.push_str(match (self.stack.up.is_empty(), made) {
            (true, _) => " The sun gave nothing.",
            (false, true) => " Above the line what the sun made and where it went",
            (false, false) => " Above the line what would have been exported and where it went",
        });
        if !self.stack.down.is_empty() {
            let from: Vec<String> = self.stack.down.iter().rev().map(|layer| layer.name.into()).collect();
            let joint = if self.stack.up.is_empty() { " Below the line" } else { ", below it" };
            text.push_str(&format!("{joint} what was drawn {}", listed(&from)));
        }
        if text.ends_with('.') { text } else { text + "." }
    }

    fn note(&self) -> String {
        let mut text = clean(&self.words.note);
        if self.stack.unknown.iter().any(|unknown| *unknown) {
            text.push_str(" Hatched over the whole height: not known, counted as nothing.");
        }
        text.trim_start().to_owned()
    }

    fn body(&self, canvas: &Canvas<'_>, [finding, subtitle, note]: [&str; 3]) -> Drawn {
        let top = layout::headings(canvas, finding, subtitle)? + TOP_ROOM;
        layout::foot(canvas, note)?;
        let frame = Frame {
            left: MARGIN + 28.0,
            top,
            right: canvas.width - if day_store::height(self.course) > 0.0 { END_ROOM } else { MARGIN + 8.0 },
            bottom: top + self.flows_height(),
        };
        self.flows(canvas, frame)?;
        let below =
            Frame { top: frame.bottom, bottom: frame.bottom + day_store::height(self.course), ..frame };
        day_store::draw(canvas, below, self.course, &clean(&self.words.backup))?;
        time_axis(canvas, below)
    }

    fn flows(&self, canvas: &Canvas<'_>, frame: Frame) -> Drawn {
        let (plot, wanted, placed) = self.arranged(canvas, frame);
        upright_rules(canvas, frame)?;
        if !self.stack.is_empty() {
            power_axis(canvas, &plot)?;
        }
        for layer in self.stack.up.iter().chain(&self.stack.down) {
            day_stack::draw_layer(canvas, &plot, layer)?;
        }
        day_stack::draw_outline(canvas, &plot, self.stack)?;
        day_stack::draw_unknown(canvas, &plot, self.stack)?;
        let axis = plot.py(0.0);
        canvas.line(&[(frame.left, axis), (frame.right, axis)], colour::INK, 1.0, 1.0)?;
        for (wanted, placed) in wanted.iter().zip(&placed) {
            day_labels::draw(canvas, wanted, placed)?;
        }
        if self.stack.is_empty() {
            let middle = ((frame.left + frame.right) / 2.0, (frame.top + frame.bottom) / 2.0);
            let text = "Nothing crossed the meter on this day";
            canvas.boxed_text(text, middle.0, middle.1, super::canvas::Align::Middle, LABEL)?;
        }
        Ok(())
    }

    /// The scale that leaves as little air as the names outside of their areas need, and all names above and below
    /// the axis.
    fn arranged(&self, canvas: &Canvas<'_>, frame: Frame) -> (Plot, [Vec<Wanted>; 2], [Vec<Placed>; 2]) {
        let (up, down) = self.stack.reach();
        let scaled = |air: f64| {
            let below = if self.stack.down.is_empty() { 0.0 } else { air };
            let above = if self.stack.up.is_empty() { 4.0 } else { air };
            let a_point = (up + down).max(0.1) / (frame.bottom - frame.top - above - below);
            canvas.plot(frame, (0.0, 24.0), (-down - below * a_point, up.max(0.1) + above * a_point))
        };
        for air in [20.0, 36.0, 52.0] {
            let plot = scaled(air);
            let (above, below) = (self.above(&plot), self.below(&plot));
            let spaces = self.spaces(&plot);
            let places = [&above, &below].map(Vec::as_slice);
            if let (Some(a), Some(b)) =
                (day_labels::places(places[0], &spaces[0]), day_labels::places(places[1], &spaces[1]))
            {
                return (plot, [above, below], [a, b]);
            }
        }
        (scaled(20.0), [Vec::new(), Vec::new()], [Vec::new(), Vec::new()])
    }

    /// Free space above and below the axis.
    fn spaces(&self, plot: &Plot) -> [Space; 2] {
        let steps = self.stack.outline.len();
        let axis = plot.py(0.0);
        let rim = |layers: &[Layer], s: usize| layers.last().map_or(0.0, |layer| layer.far[s]);
        let tops = (0..steps).map(|s| plot.py(rim(&self.stack.up, s).max(self.stack.outline[s]))).collect();
        let bottoms = (0..steps).map(|s| plot.py(rim(&self.stack.down, s))).collect();
        let edges = edges(plot, steps);
        let half = |frame, tops, bottoms| Space { frame, edges: edges.clone(), tops, bottoms };
        [
            half(Frame { bottom: axis, ..plot.frame }, tops, vec![axis; steps]),
            half(Frame { top: axis, ..plot.frame }, vec![axis; steps], bottoms),
        ]
    }

    fn above(&self, plot: &Plot) -> Vec<Wanted> {
        let mut wanted: Vec<Wanted> = self.stack.up.iter().map(|layer| named(plot, layer)).collect();
        if self.stack.outline_kwh >= day_stack::LEAST_KWH {
            wanted.push(Wanted {
                text: with_sum(self.stack.outline_name, self.stack.outline_kwh),
                ink: STRONG,
                inside: None,
                tops: self.stack.outline.iter().map(|&kw| plot.py(kw)).collect(),
                bottoms: vec![plot.py(0.0); self.stack.outline.len()],
            });
        }
        wanted
    }

    fn below(&self, plot: &Plot) -> Vec<Wanted> {
        self.stack.down.iter().map(|layer| named(plot, layer)).collect()
    }
}

/// "water, 5.2 kWh".
fn with_sum(name: &str, kwh: f64) -> String {
    format!("{name}, {} kWh", grouped(kwh, if kwh < 0.095 { 2 } else { 1 }))
}

/// A layer's name and where its area lies.
fn named(plot: &Plot, layer: &Layer) -> Wanted {
    let dark = layer.look.alpha > 0.9;
    let inner = if dark { super::canvas::Ink { colour: colour::WHITE, ..STRONG } } else { LABEL };
    let ends = |list: &[f64]| -> Vec<f64> { list.iter().map(|&kw| plot.py(kw)).collect() };
    let (near, far) = (ends(&layer.near), ends(&layer.far));
    let pairs = || near.iter().zip(&far);
    Wanted {
        text: with_sum(layer.name, layer.kwh),
        ink: LABEL,
        inside: Some((inner, layer.look.hatch != Hatch::None)),
        tops: pairs().map(|(a, b)| a.min(*b)).collect(),
        bottoms: pairs().map(|(a, b)| a.max(*b)).collect(),
    }
}

/// Rules and numbers in kW, without a sign below the axis.
fn power_axis(canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
    let marks = ticks(plot.y.0, plot.y.1, 6, false);
    let frame = plot.frame;
    for &kw in &marks.values {
        let y = plot.py(kw);
        canvas.line(&[(frame.left, y), (frame.right, y)], colour::RULE, 1.0, 0.7)?;
        let text = grouped(kw.abs(), marks.decimals);
        canvas.text(&text, frame.left - 6.0, y, super::canvas::Align::Right, layout::TICK)?;
    }
    canvas.text("kW", MARGIN, frame.top - 13.0, super::canvas::Align::Left, layout::TICK)
}

/// Where an hour lies between both ends of a panel.
pub(super) fn at_hour(frame: Frame, hour: f64) -> f64 {
    frame.left + frame.width() * hour.clamp(0.0, 24.0) / 24.0
}

/// Thin upright lines at the hours of the time axis.
pub(super) fn upright_rules(canvas: &Canvas<'_>, frame: Frame) -> Drawn {
    for hour in (0..=24).step_by(HOURS) {
        let x = at_hour(frame, f64::from(hour));
        canvas.line(&[(x, frame.top), (x, frame.bottom)], colour::RULE, 1.0, 0.7)?;
    }
    Ok(())
}

fn time_axis(canvas: &Canvas<'_>, frame: Frame) -> Drawn {
    let Frame { left, right, bottom, .. } = frame;
    canvas.line(&[(left, bottom), (right, bottom)], colour::INK, 1.0, 0.9)?;
    for hour in (0..=24).step_by(HOURS) {
        let x = at_hour(frame, f64::from(hour));
        canvas.line(&[(x, bottom), (x, bottom + 4.0)], colour::INK, 1.0, 0.9)?;
        let text = format!("{hour:02}:00");
        canvas.text(&text, x, bottom + 12.0, super::canvas::Align::Middle, layout::TICK)?;
    }
    canvas.text("Time", (left + right) / 2.0, bottom + 27.0, super::canvas::Align::Middle, layout::TICK)
}
