//! How a figure settled as runs were added: its estimate with the 95 %
//! interval at each look, and the precision that was asked, about the last.

use crate::analysis::{Answers, Convergence, Figure, Look};
use crate::report::numbers::{grouped, half_width, in_prose, with_unit};
use crate::report::stopping::{figure_of, half_in_words};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, Format, HEIGHT, LABEL, STRONG, TICK, TOP_ROOM};
use super::scale::{Writing, extent, ticks};
use super::{Chart, finish};

/// Room at the right for the words beside the last look.
const END_ROOM: f64 = 120.0;

/// The chart, if a precision was asked and there is anything to draw.
pub(super) fn draw(format: Format, answers: &Answers) -> Result<Option<Chart>, ChartError> {
    let Some(convergence) =
        answers.convergence.as_ref().filter(|c| c.looks.iter().any(|l| at(c, l).is_some()))
    else {
        return Ok(None);
    };
    let picture = Picture { answers, convergence };
    let finding = picture.finding();
    let svg = super::canvas::sheet(format, format.height(HEIGHT), |canvas| picture.body(canvas, &finding))?;
    let title = format!("How the {} settled", figure_of(convergence));
    Ok(Some(finish(format, "convergence", &title, &finding, format.height(HEIGHT), &svg)))
}

/// Estimate and ends of a look as drawn (a share in per cent); an open end is drawn at the estimate.
fn at(convergence: &Convergence, look: &Look) -> Option<(f64, f64, f64)> {
    let factor = factor(convergence);
    let value = look.estimate.value.number().filter(|x| x.is_finite())?;
    let end = |f: Option<Figure>| f.and_then(Figure::number).filter(|x| x.is_finite()).unwrap_or(value);
    Some((value * factor, end(look.estimate.low) * factor, end(look.estimate.high) * factor))
}

fn factor(convergence: &Convergence) -> f64 {
    if convergence.rule.is_some() { 100.0 } else { 1.0 }
}

struct Picture<'a> {
    answers: &'a Answers,
    convergence: &'a Convergence,
}

impl Picture<'_> {
    fn finding(&self) -> String {
        let c = self.convergence;
        let Some(last) = c.looks.last() else { return String::new() };
        let (figure, runs) = (figure_of(c), grouped(last.runs as f64, 0));
        let what = figure.strip_prefix(['m', 's']).map_or(figure.clone(), |rest| {
            format!("{}{rest}", if figure.starts_with('m') { "M" } else { "S" })
        });
        let wanted = half_in_words(c, c.within);
        match last.half_width {
            Some(half) if c.reached => {
                format!(
                    "{what}: known to within {} after {runs} runs; {wanted} was asked",
                    half_in_words(c, half)
                )
            }
            Some(half) => format!(
                "{what}: not yet precise enough, within {} after {runs} runs; {wanted} was asked",
                half_in_words(c, half)
            ),
            None => format!("{what}: no interval after {runs} runs; {wanted} was asked"),
        }
    }

    fn body(&self, canvas: &Canvas<'_>, finding: &str) -> Drawn {
        let c = self.convergence;
        let subtitle = format!("The {} at each number of runs tried, with its 95 % interval", figure_of(c));
        let top = layout::headings(canvas, finding, &subtitle)?;
        let small = format!(
            "{} Runs are added until the interval is short enough, and was nearly so at the look before.",
            layout::drawn_by(self.answers, c.looks.last().map_or(0, |look| look.runs))
        );
        let bottom = layout::foot(canvas, &small)?;
        let y = self.vertical();
        let left_ticks = ticks(y.0, y.1, canvas.format.ticks(6), false);
        let frame = Frame {
            left: layout::left_room(y, &left_ticks),
            top: top + TOP_ROOM,
            right: canvas.width - END_ROOM,
            bottom: bottom - BOTTOM_ROOM,
        };
        // Looks double: on the axis each stands one step after the other.
        let steps: Vec<f64> = c.looks.iter().map(|look| libm::log2(look.runs as f64)).collect();
        let (first, last) = extent(steps.iter().copied());
        let plot = canvas.plot(frame, (first - 0.3, last + 0.3), y);
        let unit = if c.rule.is_some() { "% of runs".to_owned() } else { Writing::of(y).unit(&c.unit) };
        layout::left_axis(canvas, &plot, &left_ticks, &unit)?;
        self.wanted(canvas, &plot)?;
        self.looks(canvas, &plot, &steps)?;
        self.bottom_axis(canvas, &plot, &steps)
    }

    /// All intervals, and the wanted one about the last estimate.
    fn vertical(&self) -> (f64, f64) {
        let c = self.convergence;
        let ends = c.looks.iter().filter_map(|look| at(c, look)).flat_map(|(_, low, high)| [low, high]);
        let wanted = self.last().into_iter().flat_map(|(value, half)| [value - half, value + half]);
        let (low, high) = extent(ends.chain(wanted));
        let air = (high - low) * 0.06;
        (low - air, high + air)
    }

    /// The last estimate and the wanted half-width, as drawn.
    fn last(&self) -> Option<(f64, f64)> {
        let c = self.convergence;
        let (value, ..) = at(c, c.looks.last()?)?;
        Some((value, c.within * factor(c)))
    }

    fn wanted(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let Some((value, half)) = self.last() else { return Ok(()) };
        let Frame { left, right, .. } = plot.frame;
        let band = Frame { left, right, top: plot.py(value + half), bottom: plot.py(value - half) };
        canvas.rect(band, colour::SKY, 0.2)?;
        for y in [band.top, band.bottom] {
            canvas.dashed(&[(left, y), (right, y)], colour::BLUE, 1.0, (5.0, 3.0))?;
        }
        let wanted = half_in_words(self.convergence, self.convergence.within);
        let lines = ["asked: within".to_owned(), wanted];
        let ink = Ink { colour: colour::BLUE, ..LABEL };
        let middle = plot.py(value);
        let place = (middle + 16.0).min(plot.frame.bottom - 16.0);
        canvas.lines(&lines, right + 8.0, place, Align::Left, ink)?;
        canvas.text(&self.said(), right + 8.0, (middle - 2.0).min(place - 16.0), Align::Left, STRONG)
    }

    /// The last estimate as words.
    fn said(&self) -> String {
        let c = self.convergence;
        let Some(last) = c.looks.last() else { return String::new() };
        let currency = &self.answers.study.currency;
        if c.rule.is_some() {
            let Some((value, low, high)) = at(c, last) else { return String::new() };
            let half = half_width(&last.estimate).map_or(1.0, |_| (high - low) / 2.0);
            let places = (-crate::report::numbers::exponent(half)).clamp(0, 3);
            return format!("{} %", grouped(value, places));
        }
        with_unit(&in_prose(&last.estimate, &c.unit, currency), &c.unit)
    }

    fn looks(&self, canvas: &Canvas<'_>, plot: &Plot, steps: &[f64]) -> Drawn {
        let c = self.convergence;
        let mut middle = Vec::new();
        for (look, &step) in c.looks.iter().zip(steps) {
            let Some((value, low, high)) = at(c, look) else { continue };
            let (x, y) = plot.place(step, value);
            let (top, bottom) = (plot.py(high), plot.py(low));
            canvas.line(&[(x, top), (x, bottom)], colour::INK, 1.0, 1.4)?;
            for end in [top, bottom] {
                canvas.line(&[(x - 5.0, end), (x + 5.0, end)], colour::INK, 1.0, 1.4)?;
            }
            middle.push((x, y));
        }
        canvas.line(&middle, colour::BLUE, 1.0, 1.6)?;
        for &(x, y) in &middle {
            canvas.dot(x, y, 3.6, colour::BLUE)?;
        }
        Ok(())
    }

    /// Each look's runs below it, as far as they do not touch.
    fn bottom_axis(&self, canvas: &Canvas<'_>, plot: &Plot, steps: &[f64]) -> Drawn {
        let Frame { left, right, bottom, .. } = plot.frame;
        canvas.line(&[(left, bottom), (right, bottom)], colour::INK, 1.0, 0.9)?;
        let mut taken = f64::INFINITY;
        // From the last: it matters most.
        for (look, &step) in self.convergence.looks.iter().zip(steps).rev() {
            let x = plot.px(step);
            canvas.line(&[(x, bottom), (x, bottom + 4.0)], colour::INK, 1.0, 0.9)?;
            let text = grouped(look.runs as f64, 0);
            let half = TICK.width(&text) / 2.0;
            if x + half + 6.0 < taken {
                canvas.text(&text, x, bottom + 12.0, Align::Middle, TICK)?;
                taken = x - half;
            }
        }
        canvas.text("Runs", (left + right) / 2.0, bottom + 27.0, Align::Middle, TICK)
    }
}
