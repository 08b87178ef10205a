//! Where the answer flips: the lever's break-even value against another
//! input, as a band over the runs, beside what the lever is drawn at.

use crate::analysis::{Answers, BreakEven, BreakEvenCurve, CurvePoint, Lever, LeverEstimate, Share};
use crate::report::numbers::{decimals, few_decimals, grouped, lever_half_width, percent, spoken};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, Format, LABEL, STRONG, TOP_ROOM};
use super::scale::{Ticks, Writing, extent, spread, ticks};
use super::{Chart, finish};

const HEIGHT: f64 = 420.0;
/// Room at the right for the labels of the lines.
const END_ROOM: f64 = 150.0;

/// A chart for each break-even that has a curve.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut charts = Vec::new();
    for break_even in &answers.break_even {
        let Some(curve) = break_even.curve.as_ref().filter(|curve| !curve.points.is_empty()) else {
            continue;
        };
        let name = match charts.len() {
            0 => "break-even".to_string(),
            n => format!("break-even-{}", n + 1),
        };
        let picture = Picture { answers, break_even, curve };
        let finding = picture.finding();
        let svg =
            super::canvas::sheet(format, format.height(HEIGHT), |canvas| picture.body(canvas, &finding))?;
        let title = format!(
            "Where {} flips the answer, by {}",
            layout::subject(&break_even.of_label),
            layout::mentioned(&curve.against_label)
        );
        charts.push(finish(format, &name, &title, &finding, format.height(HEIGHT), &svg));
    }
    Ok(charts)
}

/// Height of the chart, at most, in ranges of what the lever is drawn at and of the middle line together.
const MOST_RANGES: f64 = 6.0;

/// The value, if there is one.
fn crossing(lever: Lever) -> Option<f64> {
    if let Lever::At(x) = lever { Some(x).filter(|x| x.is_finite()) } else { None }
}

fn half_width(estimate: &LeverEstimate) -> Option<f64> {
    lever_half_width(estimate.lever, estimate.low, estimate.high)
}

/// A label without what is said of paths.
fn brief(label: &str) -> &str {
    label.strip_suffix(crate::analysis::OF_FIRST_YEAR).unwrap_or(label)
}

struct Picture<'a> {
    answers: &'a Answers,
    break_even: &'a BreakEven,
    curve: &'a BreakEvenCurve,
}

impl Picture<'_> {
    /// A value of the lever without its unit.
    fn number(&self, value: f64) -> String {
        self.known_to(value, None)
    }

    /// The same of a value known to within `half`.
    fn known_to(&self, value: f64, half: Option<f64>) -> String {
        grouped(value, few_decimals(value, half, &self.break_even.of_unit, &self.answers.study.currency))
    }

    /// The value at which half of the runs flip at a point, with its unit.
    fn middle(&self, point: &CurvePoint, value: f64) -> String {
        spoken(&self.known_to(value, half_width(&point.p50)), &self.break_even.of_unit)
    }

    fn lever(&self, value: f64) -> String {
        spoken(&self.number(value), &self.break_even.of_unit)
    }

    /// Where the other input has a point's value: "where price of gas is 0.10 EUR/kWh", "with 3 people".
    fn at(&self, point: &CurvePoint, again: bool) -> String {
        let unit = &self.curve.against_unit;
        let text = grouped(point.at, decimals(point.at, None, unit, &self.answers.study.currency));
        let short = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
        let value = spoken(short, unit);
        match unit.as_str() {
            "person" | "home" => format!("with {value}"),
            _ if again => format!("where it is {value}"),
            _ => format!("where {} is {value}", layout::subject(brief(&self.curve.against_label))),
        }
    }

    fn finding(&self) -> String {
        // That a path is moved in its first year is said below the heading.
        let of = layout::named(brief(&self.break_even.of_label));
        let label = brief(&self.curve.against_label);
        let (against, subject) = (layout::mentioned(label), layout::subject(label));
        let points = &self.curve.points;
        let known: Vec<(&CurvePoint, f64)> =
            points.iter().filter_map(|point| Some((point, crossing(point.p50.lever)?))).collect();
        let values = || known.iter().map(|k| k.1);
        let [drawn_low, _, drawn_high] = self.break_even.of_drawn;
        let (low, high) = extent(values());
        let widest = known.iter().filter_map(|(point, _)| half_width(&point.p50)).reduce(f64::max);
        let flat = high - low <= 0.15 * (drawn_high - drawn_low);
        match (known.first(), known.last()) {
            (Some((a, _)), Some((b, _))) if a.at != b.at && flat && known.len() == points.len() => format!(
                "{of}: where it flips hardly depends on {against}; half of the runs flip below {} to {}",
                self.known_to(low, widest),
                spoken(&self.known_to(high, widest), &self.break_even.of_unit)
            ),
            (Some((a, x)), Some((b, y))) if a.at != b.at => format!(
                "{of}: half of the runs flip below {} {}, below {} {}",
                self.middle(a, *x),
                self.at(a, false),
                self.middle(b, *y),
                self.at(b, true)
            ),
            (Some((a, x)), _) => {
                format!("{of}: half of the runs flip below {} {}", self.middle(a, *x), self.at(a, false))
            }
            _ if points.iter().all(|p| p.p50.lever == Lever::Always) => {
                format!("{of}: every value is good in half of the runs, whatever {subject} is")
            }
            _ if points.iter().all(|p| p.p50.lever == Lever::Never) => {
                format!("{of}: no value is good in half of the runs, whatever {subject} is")
            }
            _ => format!("{of}: half of the runs do not flip, whatever {subject} is"),
        }
    }

    fn body(&self, canvas: &Canvas<'_>, finding: &str) -> Drawn {
        let good = match self.break_even.good_above {
            Some(true) => "above its line",
            Some(false) => "below its line",
            None => "on one side of its line",
        };
        let subtitle = format!(
            "Where {} flips the answer, by {}. In each run, {} is {} {good}",
            layout::subject(&self.break_even.of_label),
            layout::mentioned(&self.curve.against_label),
            layout::subject(&self.break_even.result_label),
            layout::named(&self.break_even.rule),
        );
        let top = layout::headings(canvas, finding, &subtitle)?;
        let bottom = layout::foot(canvas, &self.small_print())?;
        let y = self.vertical();
        let left_ticks = vertical_ticks(canvas.format, y);
        let frame = Frame {
            left: layout::left_room(y, &left_ticks),
            top: top + TOP_ROOM,
            right: canvas.width - canvas.format.choose(END_ROOM, 166.0),
            bottom: bottom - BOTTOM_ROOM,
        };
        let plot = canvas.plot(frame, extent(self.curve.points.iter().map(|p| p.at)), y);
        let unit = layout::unit_after(&Writing::of(y).unit(&self.break_even.of_unit));
        let name = format!("{}{unit}", layout::named(&self.break_even.of_label));
        self.areas(canvas, &plot)?;
        layout::left_axis(canvas, &plot, &left_ticks, &name)?;
        self.drawn_band(canvas, &plot)?;
        self.lines(canvas, &plot)?;
        self.area_words(canvas, &plot)?;
        self.beyond(canvas, &plot)?;
        let name = format!(
            "{}{}",
            layout::named(&self.curve.against_label),
            layout::unit_after(&self.curve.against_unit)
        );
        layout::bottom_axis(canvas, &plot, &self.horizontal_ticks(&plot), &name)?;
        self.base_flip(canvas, &plot)?;
        self.end_labels(canvas, &plot)
    }

    /// Values that are few and whole (people) are ticks themselves.
    fn horizontal_ticks(&self, plot: &Plot) -> Ticks {
        let few = self.curve.points.len() <= 10;
        let whole = self.curve.points.iter().all(|p| p.at == p.at.round());
        ticks(plot.x.0, plot.x.1, 8, few && whole)
    }

    fn small_print(&self) -> String {
        let most = |of: fn(&CurvePoint) -> Share| {
            let shares = self.curve.points.iter().map(of).filter(|share| share.value >= 0.005);
            shares.max_by(|a, b| a.value.total_cmp(&b.value))
        };
        let mut text = layout::drawn_by(self.answers, self.break_even.runs);
        text.push_str(&format!(
            " {} is held at each point with its links cut, the rest as drawn.",
            layout::named(&self.curve.against_label)
        ));
        text.push_str(if self.break_even.exact {
            " Exact in each run."
        } else {
            " Found by search in each run."
        });
        if self.break_even.several.value > 0.0 {
            text.push_str(" Of several crossings the lowest.");
        }
        for (share, words) in [(most(|p| p.never), "No"), (most(|p| p.always), "Every")] {
            if let Some(share) = share {
                text.push_str(&format!(
                    " {words} value is good in up to {} of runs at a point.",
                    percent(&share)
                ));
            }
        }
        let ends = |of: fn(&CurvePoint) -> Lever| self.curve.points.iter().any(|p| crossing(of(p)).is_none());
        if ends(|p| p.p10.lever) || ends(|p| p.p50.lever) || ends(|p| p.p90.lever) {
            text.push_str(" A line ends where it has no value.");
        }
        text
    }

    /// All lines, unless the outer ones go so far that they would flatten the rest.
    fn vertical(&self) -> (f64, f64) {
        let points = &self.curve.points;
        let middle = points.iter().filter_map(|p| crossing(p.p50.lever));
        let [drawn_low, _, drawn_high] = self.break_even.of_drawn;
        let base = [self.break_even.of_base].into_iter().chain(crossing(self.break_even.base));
        let core = extent(middle.chain([drawn_low, drawn_high]).chain(base));
        let room = (core.1 - core.0) * (MOST_RANGES - 1.0) / 2.0;
        let outer = points.iter().flat_map(|p| [crossing(p.p10.lever), crossing(p.p90.lever)]).flatten();
        let (low, high) =
            extent(outer.map(|x| x.clamp(core.0 - room, core.1 + room)).chain([core.0, core.1]));
        (low - (high - low) * 0.1, high + (high - low) * 0.1)
    }

    /// Says how far a line goes that leaves the sheet.
    fn beyond(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let lines: [fn(&CurvePoint) -> LeverEstimate; 2] = [|p| p.p90, |p| p.p10];
        for of in lines {
            let out = |up: bool| {
                let known = |p: &CurvePoint| Some((p.at, crossing(of(p).lever)?, half_width(&of(p))));
                let far = self.curve.points.iter().filter_map(known);
                let far = far.filter(move |(_, y, _)| if up { *y > plot.y.1 } else { *y < plot.y.0 });
                far.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
            };
            for up in [true, false] {
                let Some((at, far, half)) = out(up) else { continue };
                let far = spoken(&self.known_to(far, half), &self.break_even.of_unit);
                let text = format!("{} to {}", if up { "\u{2191} up" } else { "\u{2193} down" }, far);
                let ink = Ink { colour: colour::BLUE, ..LABEL };
                let half = ink.width(&text) / 2.0 + 4.0;
                let x = plot
                    .px(at)
                    .clamp(plot.frame.left + half, (plot.frame.right - half).max(plot.frame.left + half));
                let y = if up { plot.frame.top + 8.0 } else { plot.frame.bottom - 8.0 };
                canvas.boxed_text(&text, x, y, Align::Middle, ink)?;
            }
        }
        Ok(())
    }

    fn base_flip_label(&self) -> String {
        let at = crossing(self.break_even.base).map_or(String::new(), |x| self.number(x));
        format!("\u{25C6} base flips at {at}")
    }

    /// The point at which the base case flips.
    fn base_flip(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let (x, Some(y)) = (self.curve.against_base, crossing(self.break_even.base)) else { return Ok(()) };
        let inside = |v: f64, (low, high): (f64, f64)| v >= low && v <= high;
        if !(inside(x, plot.x) && inside(y, plot.y)) {
            return Ok(());
        }
        let (x, y) = plot.place(x, y);
        let diamond = |r: f64| [(x - r, y), (x, y - r), (x + r, y), (x, y + r)];
        canvas.polygon(&diamond(7.0), colour::WHITE, 1.0)?;
        canvas.polygon(&diamond(5.5), colour::VERMILION, 1.0)
    }

    /// A percentile as a height on the chart: a run that is good (or bad)
    /// whatever the lever has its break-even beyond the edge.
    fn height(&self, lever: Lever, plot: &Plot) -> f64 {
        let above = self.break_even.good_above == Some(true);
        match lever {
            Lever::At(x) => x,
            Lever::Always if above => plot.y.0,
            Lever::Always => plot.y.1,
            Lever::Never if above => plot.y.1,
            Lever::Never => plot.y.0,
        }
    }

    fn edge(&self, plot: &Plot, of: fn(&CurvePoint) -> Lever) -> Vec<(f64, f64)> {
        let points: Vec<(f64, f64)> =
            self.curve.points.iter().map(|p| (p.at, self.height(of(p), plot))).collect();
        let mut edge = Vec::with_capacity(points.len());
        for (i, &(x, y)) in points.iter().enumerate() {
            // Where the line comes in or goes out, the area bends with it.
            let before = i.checked_sub(1).and_then(|i| points.get(i));
            let mut bends: Vec<f64> = before
                .into_iter()
                .flat_map(|&(_, from)| [plot.y.0, plot.y.1].map(|limit| (limit - from) / (y - from)))
                .filter(|part| *part > 0.0 && *part < 1.0)
                .collect();
            bends.sort_by(f64::total_cmp);
            if let Some(&(x0, y0)) = before {
                edge.extend(
                    bends.into_iter().map(|part| plot.place(x0 + (x - x0) * part, y0 + (y - y0) * part)),
                );
            }
            edge.push(plot.place(x, y));
        }
        edge
    }

    /// Where nearly all runs are good, where nearly none is, and between.
    fn areas(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        if self.break_even.good_above.is_none() {
            return Ok(());
        }
        let below = self.edge(plot, |p| p.p10.lever);
        let above = self.edge(plot, |p| p.p90.lever);
        let floor = |edge: &[(f64, f64)], y: f64| {
            let mut area = edge.to_vec();
            area.extend(edge.iter().rev().map(|p| (p.0, y)));
            area
        };
        let good_above = self.break_even.good_above == Some(true);
        let (low, high) =
            if good_above { (colour::ORANGE, colour::SKY) } else { (colour::SKY, colour::ORANGE) };
        canvas.polygon(&floor(&below, plot.frame.bottom), low, 0.24)?;
        canvas.polygon(&floor(&above, plot.frame.top), high, 0.24)
    }

    /// What the lever is drawn at, as a band across.
    fn drawn_band(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let Frame { left, right, .. } = plot.frame;
        let [low, _, high] = self.break_even.of_drawn;
        let band = Frame { left, right, top: plot.py(high), bottom: plot.py(low) };
        canvas.rect(band, colour::GREY, 0.22)?;
        for y in [band.top, band.bottom] {
            canvas.dashed(&[(left, y), (right, y)], colour::SOFT_INK, 0.8, (2.0, 2.5))?;
        }
        let base = plot.py(self.break_even.of_base);
        canvas.dashed(&[(left, base), (right, base)], colour::VERMILION, 1.7, (6.0, 3.5))
    }

    fn lines(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        type Of = fn(&CurvePoint) -> Lever;
        let of: [(Of, f64); 3] = [(|p| p.p10.lever, 1.3), (|p| p.p90.lever, 1.3), (|p| p.p50.lever, 2.6)];
        for (of, width) in of {
            let points: Vec<(f64, f64)> = self
                .curve
                .points
                .iter()
                .map(|p| (p.at, if let Lever::At(x) = of(p) { x } else { f64::NAN }))
                .collect();
            for piece in plot.curve(&points) {
                canvas.line(&piece, colour::BLUE, 1.0, width)?;
            }
            if let [(x, y)] = points.as_slice()
                && y.is_finite()
            {
                let (x, y) = plot.place(*x, *y);
                canvas.dot(x, y, width + 1.5, colour::BLUE)?;
            }
        }
        Ok(())
    }

    /// Words in the two areas, where there is most room for them.
    fn area_words(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let Some(good_above) = self.break_even.good_above else { return Ok(()) };
        let good = "good in 9 of 10 runs or more";
        let bad = "good in 1 of 10 runs or fewer";
        let (low, high) = if good_above { (bad, good) } else { (good, bad) };
        let below = self.edge(plot, |p| p.p10.lever);
        let above = self.edge(plot, |p| p.p90.lever);
        let Frame { top, bottom, .. } = plot.frame;
        if let Some((x, edge)) = roomiest(&below, STRONG.width(low), plot.frame, |y| bottom - y) {
            let y =
                between_rules(canvas.format, plot, bottom - (edge / 2.0).min(22.0), (bottom - edge, bottom));
            canvas.text(low, x, y, Align::Middle, STRONG)?;
        }
        if let Some((x, edge)) = roomiest(&above, STRONG.width(high), plot.frame, |y| y - top) {
            let y = between_rules(canvas.format, plot, top + (edge / 2.0).min(22.0), (top, top + edge));
            canvas.text(high, x, y, Align::Middle, STRONG)?;
        }
        Ok(())
    }

    fn end_labels(&self, canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
        let Some(last) = self.curve.points.last() else { return Ok(()) };
        let blue = Ink { colour: colour::BLUE, ..STRONG };
        let thin = Ink { colour: colour::BLUE, ..LABEL };
        let red = Ink { colour: colour::DARK_VERMILION, ..STRONG };
        let [low, _, high] = self.break_even.of_drawn;
        let named = [
            (crossing(last.p90.lever), "90 % of runs flip below".to_string(), thin),
            (crossing(last.p50.lever), "half flip below".to_string(), blue),
            (crossing(last.p10.lever), "10 % flip below".to_string(), thin),
            (Some(self.break_even.of_base), format!("base {}", self.lever(self.break_even.of_base)), red),
            (crossing(self.break_even.base), self.base_flip_label(), red),
            (Some(high), "90 % drawn below".to_string(), LABEL),
            (Some(low), "10 % drawn below".to_string(), LABEL),
        ];
        let shown: Vec<(f64, String, Ink)> = named
            .into_iter()
            .filter_map(|(v, text, ink)| {
                let v = v.filter(|v| v.is_finite())?;
                let mark = if v > plot.y.1 {
                    "\u{2191} "
                } else if v < plot.y.0 {
                    "\u{2193} "
                } else {
                    ""
                };
                Some((plot.py(v), format!("{mark}{text}"), ink))
            })
            .collect();
        let ends: Vec<f64> = shown.iter().map(|s| s.0).collect();
        let places = spread(&ends, 14.0, plot.frame.top, plot.frame.bottom);
        for ((end, text, ink), place) in shown.iter().zip(places) {
            let (from, to) = (plot.frame.right + 2.0, plot.frame.right + 14.0);
            canvas.line(&[(from, *end), (to - 2.0, place)], ink.colour, 1.0, 0.7)?;
            canvas.text_at_end(text, to, place, *ink)?;
        }
        Ok(())
    }
}

/// A height near `y` and within `room` at which no rule strikes through a text, if there is one.
fn between_rules(format: Format, plot: &Plot, y: f64, room: (f64, f64)) -> f64 {
    let rules: Vec<f64> = vertical_ticks(format, plot.y).values.iter().map(|&v| plot.py(v)).collect();
    let free = |y: &f64| {
        let clear = rules.iter().all(|rule| (rule - y).abs() > 7.5);
        clear && *y - 9.0 > room.0 && *y + 9.0 < room.1
    };
    [0.0, 3.0, -3.0, 6.0, -6.0, 9.0, -9.0, 12.0, -12.0, 15.0, -15.0]
        .into_iter()
        .map(|by| y + by)
        .find(free)
        .unwrap_or(y)
}

fn vertical_ticks(format: Format, range: (f64, f64)) -> Ticks {
    ticks(range.0, range.1, format.ticks(6), false)
}

/// Where along an edge a text of this width has most room to the border, if
/// it has enough: the middle of the text and the room.
fn roomiest(edge: &[(f64, f64)], width: f64, frame: Frame, room: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    let half = width / 2.0 + 6.0;
    let mut best: Option<(f64, f64)> = None;
    for step in 0..=40 {
        let x = frame.left + frame.width() * f64::from(step) / 40.0;
        if x - half < frame.left || x + half > frame.right {
            continue;
        }
        let over = |p: &&(f64, f64)| p.0 >= x - half - 12.0 && p.0 <= x + half + 12.0;
        let least = edge.iter().filter(over).map(|p| room(p.1)).fold(f64::INFINITY, f64::min);
        if least.is_finite() && best.is_none_or(|(_, most)| least > most + 0.5) {
            best = Some((x, least));
        }
    }
    best.filter(|(_, room)| *room > 24.0)
}
