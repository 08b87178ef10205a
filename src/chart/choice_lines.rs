//! Lines by year, one for each value of a choice.

use super::by_choice::Values;
use super::canvas::{Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, HEIGHT, STRONG, TOP_ROOM};
use super::scale::{Writing, extent, spread, ticks};
use super::{Chart, finish};

/// Room at the right for the names of the lines.
const END_ROOM: f64 = 190.0;
/// Most lines that can be told apart.
const MOST: usize = 8;

/// One value's course.
pub(super) struct Line {
    pub(super) label: String,
    pub(super) points: Vec<(f64, f64)>,
    /// Ends of the bar at its last point.
    pub(super) reach: Option<(f64, f64)>,
}

/// Courses of one quantity.
pub(super) struct Lines {
    pub(super) name: &'static str,
    pub(super) title: String,
    pub(super) finding: String,
    pub(super) subtitle: String,
    pub(super) unit: String,
    /// Range of the axis; that of the lines if none.
    pub(super) range: Option<(f64, f64)>,
    pub(super) runs: u64,
    pub(super) lines: Vec<Line>,
}

impl Lines {
    pub(super) fn chart(&self, values: &Values<'_>) -> Result<Chart, ChartError> {
        let svg = super::canvas::sheet(values.format, values.format.height(HEIGHT), |canvas| {
            self.body(canvas, values)
        })?;
        Ok(finish(values.format, self.name, &self.title, &self.finding, values.format.height(HEIGHT), &svg))
    }

    fn body(&self, canvas: &Canvas<'_>, values: &Values<'_>) -> Drawn {
        let top = layout::headings(canvas, &self.finding, &self.subtitle)?;
        let more = match self.lines.len().saturating_sub(MOST) {
            0 => String::new(),
            n => format!(" {n} more values are in the tables."),
        };
        let foot =
            format!("{} The same runs for each value.{more}", layout::drawn_by(values.answers, self.runs));
        let bottom = layout::foot(canvas, &foot)?;
        let lines = || self.lines.iter().take(MOST);
        let all = lines()
            .flat_map(|l| l.points.iter().map(|p| p.1).chain(l.reach.iter().flat_map(|&(a, b)| [a, b])));
        let (low, high) = extent(all.chain([0.0]));
        let air = (high - low) * 0.03;
        let y = self.range.unwrap_or((low - air, high + air));
        let years = lines().flat_map(|l| l.points.last()).map(|p| p.0).fold(1.0, f64::max);
        let scale = ticks(y.0, y.1, canvas.format.ticks(6), false);
        let frame = Frame {
            left: layout::left_room(y, &scale),
            top: top + TOP_ROOM,
            right: canvas.width - canvas.format.choose(END_ROOM, 186.0),
            bottom: bottom - BOTTOM_ROOM,
        };
        let plot = canvas.plot(frame, (0.0, years), y);
        layout::left_axis(canvas, &plot, &scale, &Writing::of(plot.y).unit(&self.unit))?;
        if y.0 < 0.0 && y.1 > 0.0 {
            let zero = plot.py(0.0);
            canvas.line(&[(frame.left, zero), (frame.right, zero)], colour::INK, 1.0, 1.0)?;
        }
        for (k, line) in lines().enumerate() {
            course(canvas, &plot, line, k)?;
        }
        layout::bottom_axis(
            canvas,
            &plot,
            &ticks(0.0, years, canvas.format.ticks(10), true),
            "Years from the start",
        )?;
        self.ends(canvas, &plot)
    }

    /// Names and bars at the right, pushed apart, with leaders.
    fn ends(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let shown: Vec<&Line> = self.lines.iter().take(MOST).collect();
        let last = |line: &Line| line.points.last().map_or(f64::NAN, |p| p.1);
        let heights: Vec<f64> = shown.iter().map(|line| plot.py(last(line))).collect();
        let places = spread(&heights, 15.0, plot.frame.top, plot.frame.bottom);
        let bars = plot.frame.right + 7.0;
        let names = bars + 6.0 * shown.len() as f64 + 14.0;
        for (k, ((line, height), place)) in shown.iter().zip(heights).zip(places).enumerate() {
            let (ink, dash) = style(k);
            let x = bars + 6.0 * k as f64;
            if let Some((low, high)) = line.reach.filter(|(a, b)| a.is_finite() && b.is_finite()) {
                canvas.line(&[(x, plot.py(low)), (x, plot.py(high))], ink, 1.0, 2.0)?;
            }
            canvas.dot(x, height, 2.4, ink)?;
            canvas.line(&[(x + 3.0, height), (names - 26.0 + 10.0, place)], colour::GREY, 1.0, 0.6)?;
            let sample = [(names - 14.0, place), (names + 8.0, place)];
            stroke(canvas, &sample, ink, dash)?;
            let ink = Ink { colour: colour::INK, ..STRONG };
            canvas.text_at_end(&line.label, names + 12.0, place, ink)?;
        }
        Ok(())
    }
}

/// Colour and dashes of the k-th line: told apart without colour too.
pub(super) fn style(k: usize) -> (plotters::style::RGBColor, Option<(f64, f64)>) {
    let colours = [colour::BLUE, colour::VERMILION, colour::INK, colour::ORANGE];
    let dashes = [None, Some((7.0, 3.5)), Some((2.2, 2.6)), Some((12.0, 3.0))];
    (colours[k % 4], dashes[(k + k / 4) % 4])
}

pub(super) fn stroke(
    canvas: &Canvas<'_>,
    points: &[(f64, f64)],
    ink: plotters::style::RGBColor,
    dash: Option<(f64, f64)>,
) -> Drawn {
    match dash {
        Some(dash) => canvas.dashed(points, ink, 2.0, dash),
        None => canvas.line(points, ink, 1.0, 2.0),
    }
}

fn course(canvas: &Canvas<'_>, plot: &Plot, line: &Line, k: usize) -> Drawn {
    let (ink, dash) = style(k);
    for piece in plot.curve(&line.points) {
        stroke(canvas, &piece, ink, dash)?;
    }
    Ok(())
}
