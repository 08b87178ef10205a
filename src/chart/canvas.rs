//! The sheet that charts are drawn on: plotters' SVG backend in tenths of a
//! point, with text, dashes and hatching in points.

use std::fmt;

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::element::{Circle, PathElement, Polygon, Rectangle};
use plotters::prelude::{Cartesian2d, DrawingArea, IntoDrawingArea, IntoFont, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontTransform, RGBColor, ShapeStyle, TextStyle};

use super::font::{self, Weight};
use super::layout::Format;

/// plotters' coordinates are whole numbers, so a point is ten of them.
const UNITS: f64 = 10.0;

/// Colours of Okabe and Ito (2008), *Color universal design*, told apart under
/// the common kinds of colour blindness; greys for what is not data.
pub(super) mod colour {
    use plotters::style::RGBColor;
    pub(crate) const BLUE: RGBColor = RGBColor(0, 114, 178);
    pub(crate) const SKY: RGBColor = RGBColor(86, 180, 233);
    pub(crate) const ORANGE: RGBColor = RGBColor(230, 159, 0);
    pub(crate) const GREEN: RGBColor = RGBColor(0, 158, 115);
    pub(crate) const VERMILION: RGBColor = RGBColor(213, 94, 0);
    /// Vermilion, darkened until it can be read as text on white.
    pub(crate) const DARK_VERMILION: RGBColor = RGBColor(176, 72, 0);
    pub(crate) const INK: RGBColor = RGBColor(28, 36, 44);
    pub(crate) const SOFT_INK: RGBColor = RGBColor(78, 88, 98);
    pub(crate) const GREY: RGBColor = RGBColor(140, 148, 156);
    pub(crate) const RULE: RGBColor = RGBColor(222, 226, 230);
    pub(crate) const WHITE: RGBColor = RGBColor(255, 255, 255);
}

/// A chart could not be drawn or turned into a picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChartError(pub String);

impl fmt::Display for ChartError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "cannot draw the chart: {}", self.0)
    }
}

impl std::error::Error for ChartError {}

/// What drawing returns.
pub(super) type Drawn = Result<(), ChartError>;

fn failed(error: impl fmt::Display) -> ChartError {
    ChartError(error.to_string())
}

/// A rectangle in points, y downwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Frame {
    pub(super) fn width(&self) -> f64 {
        self.right - self.left
    }
}

/// Which end of a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Middle,
    Right,
}

/// How a text looks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ink {
    pub(super) points: f64,
    pub(super) weight: Weight,
    pub(super) colour: RGBColor,
}

impl Ink {
    pub(super) const fn new(points: f64, weight: Weight, colour: RGBColor) -> Self {
        Ink { points, weight, colour }
    }
    pub(super) fn width(&self, text: &str) -> f64 {
        font::width(text, self.points, self.weight)
    }
    pub(super) fn fit(&self, text: &str, width: f64) -> String {
        font::fit(text, self.points, self.weight, width)
    }
    pub(super) fn wrap(&self, text: &str, width: f64, lines: usize) -> Vec<String> {
        font::wrap(text, self.points, self.weight, width, lines)
    }
    /// Distance between two lines of this text.
    pub(super) fn leading(&self) -> f64 {
        self.points * 1.28
    }
}

/// The sheet.
pub(super) struct Canvas<'a> {
    root: DrawingArea<SVGBackend<'a>, Shift>,
    pub(super) format: Format,
    pub(super) width: f64,
    pub(super) height: f64,
}

/// Draws on a sheet of the format's width and `height` points and returns the SVG as plotters wrote it.
pub(super) fn sheet(
    format: Format,
    height: f64,
    body: impl FnOnce(&Canvas<'_>) -> Drawn,
) -> Result<String, ChartError> {
    font::register()?;
    let width = format.width;
    let mut svg = String::new();
    {
        let size = ((width * UNITS) as u32, (height * UNITS) as u32);
        let root = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        root.fill(&colour::WHITE).map_err(failed)?;
        let canvas = Canvas { root, format, width, height };
        body(&canvas)?;
        canvas.root.present().map_err(failed)?;
    }
    Ok(svg)
}

/// The sheet with more markup between its ground and all that was drawn on it.
pub(super) fn with_markup(svg: &str, markup: &str) -> String {
    let ground = svg.find("<rect").and_then(|start| svg[start..].find("/>").map(|end| start + end + 2));
    let (below, above) = svg.split_at(ground.unwrap_or(svg.len()));
    format!("{below}\n{markup}{above}")
}

/// Points to units; a coordinate that is no number lands at the edge instead of wrapping around.
fn units(points: f64) -> i32 {
    if points.is_finite() { (points * UNITS).round().clamp(-1e6, 1e6) as i32 } else { 0 }
}

fn at((x, y): (f64, f64)) -> (i32, i32) {
    (units(x), units(y))
}

fn stroke(colour: RGBColor, alpha: f64, width: f64) -> ShapeStyle {
    ShapeStyle { color: colour.mix(alpha), filled: false, stroke_width: units(width).max(1) as u32 }
}

fn fill(colour: RGBColor, alpha: f64) -> ShapeStyle {
    ShapeStyle { color: colour.mix(alpha), filled: true, stroke_width: 0 }
}

impl Canvas<'_> {
    /// A line of text, centred vertically on `y`.
    pub(super) fn text(&self, text: &str, x: f64, y: f64, align: Align, ink: Ink) -> Drawn {
        self.turned_text(text, x, y, align, ink, FontTransform::None)
    }

    /// A line of text that reads upwards.
    /// Text from `x` to the edge of the sheet, cut where it finds no room: on a slide only after the least type that a
    /// slide may have has been tried.
    pub(super) fn text_at_end(&self, text: &str, x: f64, y: f64, ink: Ink) -> Drawn {
        let room = self.width - x - 4.0;
        let points = if ink.width(text) > room { self.format.choose(ink.points, 9.5) } else { ink.points };
        let ink = Ink { points, ..ink };
        self.text(&ink.fit(text, room), x, y, Align::Left, ink)
    }

    pub(super) fn upward_text(&self, text: &str, x: f64, y: f64, align: Align, ink: Ink) -> Drawn {
        self.turned_text(text, x, y, align, ink, FontTransform::Rotate270)
    }

    fn turned_text(&self, text: &str, x: f64, y: f64, align: Align, ink: Ink, turn: FontTransform) -> Drawn {
        if text.is_empty() {
            return Ok(());
        }
        let horizontal = match align {
            Align::Left => HPos::Left,
            Align::Middle => HPos::Center,
            Align::Right => HPos::Right,
        };
        let size = font::plotters_size(ink.points, UNITS);
        let font = (font::FAMILY, size, ink.weight.style()).into_font().transform(turn);
        let style = TextStyle::from(font).color(&ink.colour).pos(Pos::new(horizontal, VPos::Center));
        // A true minus sign is as wide as a digit; a hyphen looks like a dash.
        let text = minus_signs(text);
        self.root.draw_text(&text, &style, at((x, y))).map_err(failed)
    }

    /// Lines of text below each other, the first centred on `y`; returns the y below the last.
    pub(super) fn lines(
        &self,
        lines: &[String],
        x: f64,
        y: f64,
        align: Align,
        ink: Ink,
    ) -> Result<f64, ChartError> {
        let mut y = y;
        for line in lines {
            self.text(line, x, y, align, ink)?;
            y += ink.leading();
        }
        Ok(y)
    }

    /// Text on a pale ground, legible over lines.
    pub(super) fn boxed_text(&self, text: &str, x: f64, y: f64, align: Align, ink: Ink) -> Drawn {
        let width = ink.width(text) + 4.0;
        let left = match align {
            Align::Left => x - 2.0,
            Align::Middle => x - width / 2.0,
            Align::Right => x - width + 2.0,
        };
        let half = ink.points * 0.62;
        self.rect(Frame { left, right: left + width, top: y - half, bottom: y + half }, colour::WHITE, 0.92)?;
        self.text(text, x, y, align, ink)
    }

    pub(super) fn rect(&self, frame: Frame, colour: RGBColor, alpha: f64) -> Drawn {
        let corners = [at((frame.left, frame.top)), at((frame.right, frame.bottom))];
        self.root.draw(&Rectangle::new(corners, fill(colour, alpha))).map_err(failed)
    }

    pub(super) fn line(&self, points: &[(f64, f64)], colour: RGBColor, alpha: f64, width: f64) -> Drawn {
        if points.len() < 2 {
            return Ok(());
        }
        let points: Vec<(i32, i32)> = points.iter().copied().map(at).collect();
        self.root.draw(&PathElement::new(points, stroke(colour, alpha, width))).map_err(failed)
    }

    pub(super) fn polygon(&self, points: &[(f64, f64)], colour: RGBColor, alpha: f64) -> Drawn {
        if points.len() < 3 {
            return Ok(());
        }
        let points: Vec<(i32, i32)> = points.iter().copied().map(at).collect();
        self.root.draw(&Polygon::new(points, fill(colour, alpha))).map_err(failed)
    }

    pub(super) fn dot(&self, x: f64, y: f64, radius: f64, colour: RGBColor) -> Drawn {
        self.root.draw(&Circle::new(at((x, y)), units(radius), fill(colour, 1.0))).map_err(failed)
    }

    pub(super) fn ring(&self, x: f64, y: f64, radius: f64, colour: RGBColor, width: f64) -> Drawn {
        self.root.draw(&Circle::new(at((x, y)), units(radius), stroke(colour, 1.0, width))).map_err(failed)
    }

    /// A dashed line (plotters' own dashes go through the platform's hypot).
    pub(super) fn dashed(
        &self,
        points: &[(f64, f64)],
        colour: RGBColor,
        width: f64,
        dash: (f64, f64),
    ) -> Drawn {
        for piece in dashes(points, dash) {
            self.line(&piece, colour, 1.0, width)?;
        }
        Ok(())
    }

    /// Diagonal strokes over a rectangle: a mark that does not need colour.
    pub(super) fn hatch(&self, frame: Frame, colour: RGBColor, alpha: f64, step: f64) -> Drawn {
        let (w, h) = (frame.right - frame.left, frame.bottom - frame.top);
        if !(w > 0.5 && h > 0.5) {
            return Ok(());
        }
        // Anchored at whole steps so that neighbouring bars share one pattern.
        let mut start = ((frame.left - h) / step).floor() * step;
        while start < frame.right {
            let (a, b) = ((frame.left - start).max(0.0), (frame.right - start).min(h));
            if b > a {
                let ends = [(start + a, frame.bottom - a), (start + b, frame.bottom - b)];
                self.line(&ends, colour, alpha, 0.8)?;
            }
            start += step;
        }
        Ok(())
    }

    /// An area with its own coordinates, `x` to the right and `y` upwards.
    pub(super) fn plot(&self, frame: Frame, x: (f64, f64), y: (f64, f64)) -> Plot {
        let x = if x.1 > x.0 { x } else { (x.0 - 0.5, x.0 + 0.5) };
        let y = if y.1 > y.0 { y } else { (y.0 - 0.5, y.0 + 0.5) };
        let spec = Cartesian2d::new(
            x.0..x.1,
            y.0..y.1,
            (units(frame.left)..units(frame.right), units(frame.bottom)..units(frame.top)),
        );
        let area = self.root.clone().apply_coord_spec(spec);
        let place = |point: (f64, f64)| area.map_coordinate(&point);
        let origin = place((x.0, y.0));
        debug_assert_eq!(origin.0, units(frame.left));
        Plot { frame, spec: area.into_coord_spec(), x, y }
    }
}

/// Turns hyphens that stand for a sign into U+2212.
fn minus_signs(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        let sign = c == '-'
            && matches!(before, ' ' | '[' | '(' | '+')
            && chars.peek().is_some_and(char::is_ascii_digit);
        out.push(if sign { '\u{2212}' } else { c });
        before = c;
    }
    out
}

/// Cuts a polyline into dashes of `on` points with gaps of `off`.
fn dashes(points: &[(f64, f64)], (on, off): (f64, f64)) -> Vec<Vec<(f64, f64)>> {
    let mut out = Vec::new();
    let mut piece: Vec<(f64, f64)> = points.first().copied().into_iter().collect();
    let (mut drawing, mut left) = (true, on);
    for pair in points.windows(2) {
        let &[mut from, to] = pair else { continue };
        loop {
            let (dx, dy) = (to.0 - from.0, to.1 - from.1);
            let length = (dx * dx + dy * dy).sqrt();
            if length <= left || !length.is_finite() {
                left -= length;
                if drawing {
                    piece.push(to);
                }
                break;
            }
            from = (from.0 + dx * left / length, from.1 + dy * left / length);
            if drawing {
                piece.push(from);
                out.push(std::mem::take(&mut piece));
            } else {
                piece = vec![from];
            }
            drawing = !drawing;
            left = if drawing { on } else { off };
        }
    }
    if drawing && piece.len() > 1 {
        out.push(piece);
    }
    out
}

/// Coordinates of a plot: data in, points on the sheet out (through plotters).
pub(super) struct Plot {
    pub(super) frame: Frame,
    spec: Cartesian2d<RangedCoordf64, RangedCoordf64>,
    pub(super) x: (f64, f64),
    pub(super) y: (f64, f64),
}

impl Plot {
    /// Place of a value on the sheet, kept within the plot.
    pub(super) fn place(&self, x: f64, y: f64) -> (f64, f64) {
        use plotters::coord::CoordTranslate;
        let x = if x.is_nan() { self.x.0 } else { x.clamp(self.x.0, self.x.1) };
        let y = if y.is_nan() { self.y.0 } else { y.clamp(self.y.0, self.y.1) };
        let (px, py) = self.spec.translate(&(x, y));
        (f64::from(px) / UNITS, f64::from(py) / UNITS)
    }
    pub(super) fn px(&self, x: f64) -> f64 {
        self.place(x, self.y.0).0
    }
    pub(super) fn py(&self, y: f64) -> f64 {
        self.place(self.x.0, y).1
    }
    /// The parts of a curve that lie within the plot's height, in points. A
    /// point that is no finite number breaks the curve.
    pub(super) fn curve(&self, points: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let mut out = Vec::new();
        let mut piece: Vec<(f64, f64)> = Vec::new();
        let mut last: Option<(f64, f64)> = None;
        for &point in points {
            if !(point.0.is_finite() && point.1.is_finite()) {
                out.push(std::mem::take(&mut piece));
                last = None;
                continue;
            }
            if let Some(segment) = last.and_then(|from| self.clipped(from, point)) {
                let from = self.place(segment.0.0, segment.0.1);
                if piece.last() != Some(&from) {
                    out.push(std::mem::take(&mut piece));
                    piece.push(from);
                }
                piece.push(self.place(segment.1.0, segment.1.1));
            }
            last = Some(point);
        }
        out.push(piece);
        out.retain(|piece| piece.len() > 1);
        out
    }
    /// The part of a segment between the lower and the upper edge.
    fn clipped(&self, a: (f64, f64), b: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
        let (low, high) = self.y;
        if (a.1 < low && b.1 < low) || (a.1 > high && b.1 > high) {
            return None;
        }
        let cut = |p: (f64, f64), other: (f64, f64)| {
            let edge = p.1.clamp(low, high);
            if edge == p.1 { p } else { (p.0 + (other.0 - p.0) * (edge - p.1) / (other.1 - p.1), edge) }
        };
        Some((cut(a, b), cut(b, a)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_cover_the_line_in_turn() {
        // 10 long, 3 on and 1 off: on 0-3, 4-7, 8-10.
        let pieces = dashes(&[(0.0, 0.0), (6.0, 0.0), (10.0, 0.0)], (3.0, 1.0));
        let ends: Vec<(f64, f64)> = pieces.iter().map(|p| (p[0].0, p[p.len() - 1].0)).collect();
        assert_eq!(ends, [(0.0, 3.0), (4.0, 7.0), (8.0, 10.0)]);
        assert!(dashes(&[], (3.0, 1.0)).is_empty());
    }

    #[test]
    fn signs_but_not_hyphens() {
        assert_eq!(minus_signs("-5 to -3, off-peak 2027-28"), "\u{2212}5 to \u{2212}3, off-peak 2027-28");
    }

    #[test]
    fn a_curve_is_cut_at_the_edges_and_broken_at_gaps() {
        let mut pieces = Vec::new();
        sheet(Format { width: 100.0, ..Format::PAGE }, 100.0, |canvas| {
            let frame = Frame { left: 0.0, top: 0.0, right: 100.0, bottom: 100.0 };
            let plot = canvas.plot(frame, (0.0, 10.0), (0.0, 10.0));
            pieces = plot.curve(&[
                (0.0, -10.0),
                (2.0, 10.0),
                (4.0, 10.0),
                (5.0, f64::NAN),
                (6.0, 1.0),
                (8.0, 1.0),
            ]);
            Ok(())
        })
        .unwrap();
        assert_eq!(pieces, [vec![(10.0, 100.0), (20.0, 0.0), (40.0, 0.0)], vec![(60.0, 90.0), (80.0, 90.0)]]);
    }
}
