//! A year by day and hour as shades of one hue; where nothing is known it is hatched.

use crate::hotwater::course::YearMap;
use crate::report::numbers::{clean, grouped, percent_of, shortened};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, colour};
use super::layout::{self, Format, LABEL, MARGIN, STRONG, TICK};
use super::scale::ticks;
use super::year_cells::{
    MOST_STRIPS, Place, SHADES, Scale, Strip, hatching, powers, strip_markup, strips, unknown_areas,
};
use super::{Chart, finish};

/// Widest strip, in points.
const WIDEST: f64 = 549.0;
/// Room for the hours at the left.
const LEFT: f64 = 54.0;
/// Room above each strip for the name of its months.
const NAME: f64 = 27.0;
/// Room for months below the last strip, and for the key.
const MONTHS: f64 = 22.0;
const KEY: f64 = 40.0;
/// Units of the sheet in a point.
const UNITS: f64 = 10.0;
/// Bytes of cells beyond which rows are put together.
const MOST_BYTES: usize = 300_000;

/// What a year is called and what is said of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct MapWords {
    /// File stem.
    pub name: String,
    /// What is drawn.
    pub title: String,
    /// What it shows, in one sentence without a full stop.
    pub finding: String,
    /// What the values are, such as "sent to the grid".
    pub quantity: String,
    /// Small print: where it comes from, what else to say of it.
    pub note: String,
}

/// The chart of a year, or of several years below each other.
///
/// # Errors
/// If the built-in font cannot be used; never because of what the map holds.
pub fn year_map(map: &YearMap, words: &MapWords) -> Result<Chart, ChartError> {
    draw(Format::PAGE, map, words)
}

/// The same for a page or a part of a slide.
pub(super) fn draw(format: Format, map: &YearMap, words: &MapWords) -> Result<Chart, ChartError> {
    let picture = Picture::of(map, words);
    let (finding, subtitle, note) = (clean(&words.finding), picture.subtitle(), picture.note());
    let strips = picture.strips.len() as f64;
    let height = layout::headings_height(format, &finding, &subtitle)
        + strips * (NAME + picture.strip_height())
        + MONTHS
        + KEY
        + layout::foot_height(format, &note);
    let height = height.ceil();
    let top = even(layout::headings_height(format, &finding, &subtitle));
    let svg = super::canvas::sheet(format, height, |canvas| {
        layout::headings(canvas, &finding, &subtitle)?;
        layout::foot(canvas, &note)?;
        picture.frames(canvas, top)
    })?;
    let svg = super::canvas::with_markup(&svg, &picture.markup(top));
    Ok(finish(format, &words.name, &words.title, &finding, height, &svg))
}

/// The nearest half point: an edge of a pixel.
fn even(points: f64) -> f64 {
    (points * 2.0).round() / 2.0
}

struct Picture<'a> {
    words: &'a MapWords,
    strips: Vec<Strip>,
    scale: Scale,
    /// Cells of a day.
    rows: usize,
    /// Shade of each cell, none where it is not known.
    shades: Vec<Option<usize>>,
    /// Days of the map.
    days: usize,
    /// Whether a step of the map is less than a cell.
    joined: bool,
}

impl<'a> Picture<'a> {
    /// Half hours at the finest; longer spans where cells differ so much that the file would be large.
    fn of(map: &YearMap, words: &'a MapWords) -> Self {
        let finest = if map.steps > 96 { 48 } else { map.steps.max(1) };
        let (strips, days) = (strips(map), map.values.len() / map.steps.max(1));
        let mut picture = Picture {
            words,
            strips,
            scale: Scale::of(&[]),
            rows: finest,
            shades: Vec::new(),
            days,
            joined: false,
        };
        loop {
            let powers = powers(map, picture.rows);
            let scale = Scale::of(&powers);
            picture.shades = powers.iter().map(|&kw| (!kw.is_nan()).then(|| scale.shade(kw))).collect();
            picture.scale = scale;
            picture.joined = picture.rows < map.steps;
            if picture.rows <= 12 || picture.markup(0.0).len() <= MOST_BYTES {
                return picture;
            }
            picture.rows = picture.rows.div_ceil(2);
        }
    }

    /// Width of a day in whole half points.
    fn day_width(&self) -> f64 {
        let most = self.strips.iter().map(Strip::days).max().unwrap_or(1).max(1);
        ((WIDEST / most as f64).min(18.0) * 2.0).floor().max(1.0) / 2.0
    }

    fn row_height(&self) -> f64 {
        let wanted = match self.strips.len() {
            0 | 1 => 264.0,
            2 => 168.0,
            3 => 132.0,
            _ => 108.0,
        };
        (wanted / self.rows as f64 * 2.0).floor().max(1.0) / 2.0
    }

    fn strip_height(&self) -> f64 {
        self.row_height() * self.rows as f64
    }

    fn subtitle(&self) -> String {
        let span = match self.rows {
            24 => "hour".into(),
            48 => "half hour".into(),
            96 => "quarter of an hour".into(),
            rows => format!("{} minutes", grouped(1440.0 / rows as f64, 0)),
        };
        let quantity = shortened(&clean(&self.words.quantity), 90);
        let quantity = if quantity.is_empty() { "power".to_owned() } else { quantity };
        format!("{quantity}: mean power of each {span}, by day across and hour upwards. Darker: more.")
    }

    fn note(&self) -> String {
        let mut text = clean(&self.words.note);
        if self.scale.beyond > 0.0 {
            text.push_str(&format!(
                " Darkest: also above {} kW ({} of what is known), up to {} kW.",
                plain(self.scale.top),
                part_of(self.scale.beyond),
                grouped(self.scale.most, 1)
            ));
        }
        let unknown = self.shades.iter().filter(|shade| shade.is_none()).count();
        if unknown > 0 {
            let part = unknown as f64 / self.shades.len().max(1) as f64;
            text.push_str(&format!(" Hatched: not known ({}).", part_of(part)));
        }
        if self.joined {
            text.push_str(" Steps of the readings are put together in each cell.");
        }
        if self.strips.len() == MOST_STRIPS {
            let held: usize = self.strips.iter().map(|strip| strip.held.len()).sum();
            if held < self.days {
                let years = self.days as f64 / 365.25;
                text.push_str(&format!(" Only the first {MOST_STRIPS} of {} years.", grouped(years, 1)));
            }
        }
        text.trim_start().to_owned()
    }

    /// A strip's frame on the sheet, all of its months.
    fn frame(&self, top: f64, k: usize, strip: &Strip) -> Frame {
        let top = top + NAME + k as f64 * (NAME + self.strip_height());
        Frame {
            left: LEFT,
            top,
            right: LEFT + self.day_width() * strip.days() as f64,
            bottom: top + self.strip_height(),
        }
    }

    /// All cells as paths.
    fn markup(&self, top: f64) -> String {
        let mut out = String::new();
        for (k, strip) in self.strips.iter().enumerate() {
            let frame = self.frame(top, k, strip);
            let place = Place {
                left: frame.left * UNITS,
                bottom: frame.bottom * UNITS,
                wide: self.day_width() * UNITS,
                high: self.row_height() * UNITS,
            };
            out.push_str(&strip_markup(strip, &self.shades, self.rows, place));
            let areas = unknown_areas(strip, &self.shades, self.rows);
            out.push_str(&hatching(&areas, place, 45.0));
        }
        out
    }

    fn frames(&self, canvas: &Canvas<'_>, top: f64) -> Drawn {
        let mut bottom = top;
        for (k, strip) in self.strips.iter().enumerate() {
            let frame = self.frame(top, k, strip);
            bottom = frame.bottom;
            canvas.text(&strip.name(), frame.left, frame.top - 14.0, Align::Left, STRONG)?;
            if k == 0 {
                canvas.text("Hour", MARGIN, frame.top - 14.0, Align::Left, TICK)?;
            }
            self.hours(canvas, frame)?;
            self.months(canvas, frame, strip)?;
        }
        // The months of the first strip: a later one may end early.
        if let Some(first) = self.strips.first() {
            self.month_names(canvas, first, bottom)?;
        }
        self.key(canvas, bottom + MONTHS)
    }

    fn hours(&self, canvas: &Canvas<'_>, frame: Frame) -> Drawn {
        canvas.line(&[(frame.left, frame.top), (frame.left, frame.bottom)], colour::INK, 1.0, 0.8)?;
        let step = if frame.bottom - frame.top > 150.0 { 3 } else { 6 };
        for hour in (0..=24).step_by(step) {
            let y = frame.bottom - (frame.bottom - frame.top) * f64::from(hour) / 24.0;
            canvas.line(&[(frame.left - 4.0, y), (frame.left, y)], colour::INK, 1.0, 0.8)?;
            canvas.text(&format!("{hour}"), frame.left - 7.0, y, Align::Right, TICK)?;
        }
        Ok(())
    }

    /// Thin lines between months, and around what the map holds.
    fn months(&self, canvas: &Canvas<'_>, frame: Frame, strip: &Strip) -> Drawn {
        let x = |day: usize| frame.left + self.day_width() * day as f64;
        let held = &strip.held;
        for month in strip.months.iter().filter(|m| m.days.start > held.start && m.days.start < held.end) {
            let at = x(month.days.start);
            canvas.line(&[(at, frame.top), (at, frame.bottom)], colour::SOFT_INK, 0.35, 0.5)?;
        }
        let (left, right) = (x(held.start), x(held.end));
        let around = [
            (left, frame.top),
            (right, frame.top),
            (right, frame.bottom),
            (left, frame.bottom),
            (left, frame.top),
        ];
        canvas.line(&around, colour::SOFT_INK, 0.8, 0.5)
    }

    fn month_names(&self, canvas: &Canvas<'_>, strip: &Strip, bottom: f64) -> Drawn {
        for month in &strip.months {
            // A few days at an end may be narrower than their month's name.
            if self.day_width() * (month.days.len() as f64) < TICK.width(month.name) && strip.months.len() > 1
            {
                continue;
            }
            let middle = (month.days.start + month.days.end) as f64 / 2.0;
            let x = LEFT + self.day_width() * middle;
            canvas.text(month.name, x, bottom + 11.0, Align::Middle, TICK)?;
        }
        Ok(())
    }

    /// Shades with their power, and the hatching.
    fn key(&self, canvas: &Canvas<'_>, top: f64) -> Drawn {
        const BOX: f64 = 22.0;
        let (y, last) = (top + 4.0, SHADES.len() - 1);
        // The first box is nothing; the others share the scale.
        let zero = LEFT + BOX + 3.0;
        let boxed = |left: f64| Frame { left, right: left + BOX, top: y, bottom: y + 10.0 };
        for (k, shade) in SHADES.iter().enumerate() {
            let left = if k == 0 { LEFT } else { zero + BOX * (k - 1) as f64 };
            canvas.rect(boxed(left), rgb(shade), 1.0)?;
        }
        outline(canvas, boxed(LEFT))?;
        outline(canvas, Frame { left: zero, right: zero + BOX * last as f64, top: y, bottom: y + 10.0 })?;
        canvas.text("none", LEFT + BOX / 2.0 - 2.0, y + 20.0, Align::Middle, TICK)?;
        let marks = ticks(0.0, self.scale.top, 5, false);
        let right = zero + BOX * last as f64;
        for &kw in marks.values.iter().filter(|kw| **kw > 0.0) {
            let x = zero + BOX * last as f64 * kw / self.scale.top;
            canvas.line(&[(x, y + 10.0), (x, y + 13.5)], colour::INK, 1.0, 0.7)?;
            canvas.text(&grouped(kw, marks.decimals), x, y + 20.0, Align::Middle, TICK)?;
        }
        let unit = if self.scale.beyond > 0.0 { "kW and more" } else { "kW" };
        canvas.text(unit, right + 8.0, y + 5.0, Align::Left, LABEL)?;
        if self.shades.contains(&None) {
            let left = right + 8.0 + LABEL.width(unit) + 24.0;
            canvas.rect(boxed(left), rgb(super::year_cells::UNKNOWN), 1.0)?;
            canvas.hatch(boxed(left), colour::GREY, 1.0, 4.5)?;
            canvas.text("not known", left + BOX + 6.0, y + 5.0, Align::Left, LABEL)?;
        }
        Ok(())
    }
}

/// A colour from "#rrggbb".
fn rgb(text: &str) -> plotters::style::RGBColor {
    let part = |k: usize| text.get(k..k + 2).and_then(|t| u8::from_str_radix(t, 16).ok()).unwrap_or(0);
    plotters::style::RGBColor(part(1), part(3), part(5))
}

fn outline(canvas: &Canvas<'_>, Frame { left, right, top, bottom }: Frame) -> Drawn {
    let around = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
    canvas.line(&around, colour::SOFT_INK, 0.8, 0.5)
}

/// A part as a percentage, however small.
fn part_of(part: f64) -> String {
    if part < 0.0005 { "less than 0.1 %".into() } else { percent_of(part) }
}

/// A power without noughts behind the point.
fn plain(kw: f64) -> String {
    let text = grouped(kw, 3);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
