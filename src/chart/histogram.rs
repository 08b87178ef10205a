//! How the headline result spreads over the runs: bars, and on a second axis
//! the cumulative curve; what is never stands apart at the right.

use crate::analysis::{Answers, Figure, ResultKind, Share, Summary};
use crate::report::numbers::{decimals, grouped, in_prose, in_ten, percent, with_unit};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, Format, HEIGHT, LABEL, STRONG, TICK, TOP_ROOM};
use super::scale::{Writing, ticks};
use super::{Chart, finish};

/// Room at the right for the second axis.
const SECOND_AXIS: f64 = 54.0;
/// Room for the block of what is never.
const NEVER_ROOM: f64 = 70.0;

/// The chart, if the headline result is a number or years.
pub(super) fn draw(format: Format, answers: &Answers) -> Result<Option<Chart>, ChartError> {
    let Some(result) = layout::headline(answers).filter(|r| r.kind != ResultKind::YesNo && r.runs > 0) else {
        return Ok(None);
    };
    let classes = classes(result);
    if classes.is_empty() && result.never.is_none_or(|never| never.value <= 0.0) {
        return Ok(None);
    }
    let finding = finding(answers, result);
    let svg = super::canvas::sheet(format, format.height(HEIGHT), |canvas| {
        body(canvas, answers, result, &classes, &finding)
    })?;
    let title = format!("{} over the runs", layout::named(&result.label));
    Ok(Some(finish(format, "result", &title, &finding, format.height(HEIGHT), &svg)))
}

/// One bar: its edges and its percentage of all runs.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Class {
    low: f64,
    high: f64,
    percent: f64,
}

fn classes(result: &Summary) -> Vec<Class> {
    let all = result.runs.max(1) as f64;
    let bars = result.histogram.edges.windows(2).zip(&result.histogram.counts);
    let mut classes: Vec<Class> = bars
        .filter_map(|(edges, &count)| match edges {
            &[low, high] if low.is_finite() && high.is_finite() => {
                Some(Class { low, high, percent: count as f64 / all * 100.0 })
            }
            _ => None,
        })
        .collect();
    // All values equal: a class without width still wants a bar.
    for class in &mut classes {
        if class.high <= class.low {
            let half = if class.low == 0.0 { 0.5 } else { class.low.abs() * 0.02 };
            (class.low, class.high) = (class.low - half, class.high + half);
        }
    }
    classes
}

fn finding(answers: &Answers, result: &Summary) -> String {
    let label = layout::named(&result.label);
    let number = |p: f64| {
        let estimate = &result.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9)?.estimate;
        estimate.value.number().map(|_| in_prose(estimate, &result.unit, &answers.study.currency))
    };
    let spread = match (number(0.1), number(0.9)) {
        _ if result.kind == ResultKind::Years => number(0.5).map_or(String::new(), |middle| {
            format!("at most {} in half of all", with_unit(&middle, &result.unit))
        }),
        (Some(low), Some(high)) if low != high => {
            format!("between {low} and {} in 8 of 10", with_unit(&high, &result.unit))
        }
        (Some(low), Some(_)) => format!("{} in nearly all", with_unit(&low, &result.unit)),
        (Some(low), None) => format!("above {} in 9 of 10", with_unit(&low, &result.unit)),
        _ => String::new(),
    };
    let lead = match (&result.success, &result.never) {
        (Some(success), _) => {
            format!("{} in {} of runs", layout::named(&success.rule), percent(&success.share))
        }
        (None, Some(never)) if never.value > 0.0 => format!("never in {} of runs", percent(never)),
        _ => String::new(),
    };
    let said: Vec<String> = [lead, spread].into_iter().filter(|s| !s.is_empty()).collect();
    if said.is_empty() { label } else { format!("{label}: {}", said.join("; ")) }
}

fn body(canvas: &Canvas<'_>, answers: &Answers, result: &Summary, classes: &[Class], finding: &str) -> Drawn {
    let subtitle = "How often each value came out (bars), and the share of runs up to it (line)";
    let top = layout::headings(canvas, finding, subtitle)?;
    let bottom = layout::foot(canvas, &small_print(answers, result))?;
    let never = result.never.as_ref().filter(|never| never.value > 0.0);
    let tallest = classes.iter().map(|c| c.percent).fold(0.0, f64::max);
    let height = if tallest > 0.0 { tallest * 1.06 } else { 100.0 };
    let bars = ticks(0.0, height, canvas.format.ticks(6), false);
    let frame = Frame {
        left: layout::left_room((0.0, height), &bars),
        top: top + TOP_ROOM + strips(result),
        right: canvas.width - SECOND_AXIS - never.map_or(0.0, |_| NEVER_ROOM),
        bottom: bottom - BOTTOM_ROOM,
    };
    let plot = canvas.plot(frame, horizontal(result, classes), (0.0, height));
    layout::left_axis(canvas, &plot, &bars, "% of runs in each class")?;
    draw_bars(canvas, &plot, result, classes)?;
    draw_curve(canvas, &plot, result)?;
    let writing = Writing::of(plot.x);
    let name = format!("{}{}", layout::named(&result.label), layout::unit_after(&writing.unit(&result.unit)));
    layout::bottom_axis(canvas, &plot, &ticks(plot.x.0, plot.x.1, canvas.format.ticks(10), false), &name)?;
    second_axis(canvas, &plot)?;
    if let Some(never) = never {
        never_block(canvas, &plot, never)?;
    }
    if tallest <= 0.0 {
        let (x, y) = ((frame.left + frame.right) / 2.0, (frame.top + frame.bottom) / 2.0);
        canvas.boxed_text("no run has a number here", x, y, Align::Middle, LABEL)?;
    }
    base_case(canvas, &plot, answers, result)?;
    threshold(canvas, &plot, result)
}

/// Room above the plot for the base case and for the two sides of the threshold.
fn strips(result: &Summary) -> f64 {
    let threshold = result.success.as_ref().is_some_and(|s| s.threshold.is_some());
    if threshold { 34.0 } else { 17.0 }
}

fn small_print(answers: &Answers, result: &Summary) -> String {
    let mut text = layout::drawn_by(answers, result.runs);
    let outside = result.histogram.below + result.histogram.above;
    if outside > 0 {
        let runs = grouped(outside as f64, 0);
        text.push_str(&format!(" {runs} runs lie beyond the ends of the axis; the line counts them."));
    }
    if result.without_value > 0 {
        text.push_str(&format!(" {} runs gave no value.", grouped(result.without_value as f64, 0)));
    }
    text
}

/// The classes, with the threshold and the base case if they are near.
fn horizontal(result: &Summary, classes: &[Class]) -> (f64, f64) {
    let (Some(first), Some(last)) = (classes.first(), classes.last()) else { return (0.0, 1.0) };
    let (mut low, mut high) = (first.low, last.high);
    if classes.len() == 1 {
        // One bar alone stands in the middle.
        (low, high) = (low - 2.0 * (high - low), high + 2.0 * (high - low));
    }
    let near = (high - low) * 0.5;
    let marks = [result.success.as_ref().and_then(|s| s.threshold), result.base.number()];
    for mark in marks.into_iter().flatten() {
        if mark > low - near && mark < high + near {
            let air = (high - low) * 0.03;
            low = if mark < low { mark - air } else { low };
            high = if mark > high { mark + air } else { high };
        }
    }
    (low, high)
}

fn draw_bars(canvas: &Canvas<'_>, plot: &Plot, result: &Summary, classes: &[Class]) -> Drawn {
    let split = result.success.as_ref().and_then(|s| s.threshold.map(|t| (t, s.good_above)));
    for class in classes {
        let Some((threshold, above)) = split else {
            bar(canvas, plot, *class, true)?;
            continue;
        };
        let cut = threshold.clamp(class.low, class.high);
        bar(canvas, plot, Class { high: cut, ..*class }, !above)?;
        bar(canvas, plot, Class { low: cut, ..*class }, above)?;
    }
    Ok(())
}

fn bar(canvas: &Canvas<'_>, plot: &Plot, class: Class, good: bool) -> Drawn {
    let (left, top) = plot.place(class.low, class.percent);
    let right = plot.px(class.high);
    if right - left < 0.05 || class.percent <= 0.0 {
        return Ok(());
    }
    let gap = if right - left > 4.0 { 0.5 } else { 0.0 };
    let frame = Frame { left: left + gap, right: right - gap, top, bottom: plot.frame.bottom };
    if good {
        canvas.rect(frame, colour::SKY, 0.85)
    } else {
        canvas.rect(frame, colour::ORANGE, 0.45)?;
        canvas.hatch(frame, colour::VERMILION, 0.8, 5.0)
    }
}

/// The cumulative curve, 100 % at the top of the plot.
fn draw_curve(canvas: &Canvas<'_>, plot: &Plot, result: &Summary) -> Drawn {
    let scaled = result.cumulative.iter().map(|&(x, share)| (x, share * plot.y.1));
    let inside: Vec<(f64, f64)> = scaled.filter(|(x, _)| *x >= plot.x.0 && *x <= plot.x.1).collect();
    for piece in plot.curve(&inside) {
        canvas.line(&piece, colour::WHITE, 0.8, 4.2)?;
        canvas.line(&piece, colour::INK, 1.0, 1.8)?;
    }
    Ok(())
}

fn second_axis(canvas: &Canvas<'_>, plot: &Plot) -> Drawn {
    let right = plot.frame.right;
    for step in 0..=4 {
        let y = plot.py(plot.y.1 * f64::from(step) / 4.0);
        canvas.line(&[(right, y), (right + 4.0, y)], colour::INK, 1.0, 0.9)?;
        canvas.text(&format!("{}", step * 25), right + 7.0, y, Align::Left, TICK)?;
    }
    canvas.line(&[(right, plot.frame.top), (right, plot.frame.bottom)], colour::INK, 1.0, 0.9)?;
    let middle = (plot.frame.top + plot.frame.bottom) / 2.0;
    let name = canvas.format.choose("% of runs up to this value", "% up to here");
    canvas.upward_text(name, right + 38.0, middle, Align::Middle, TICK)
}

fn never_block(canvas: &Canvas<'_>, plot: &Plot, never: &Share) -> Drawn {
    let left = plot.frame.right + SECOND_AXIS + 4.0;
    let right = canvas.width - layout::MARGIN;
    // On the scale of the second axis, so that its height is its share.
    let top = plot.py(plot.y.1 * never.value);
    let frame = Frame { left, right, top, bottom: plot.frame.bottom };
    canvas.rect(frame, colour::GREY, 0.28)?;
    canvas.hatch(frame, colour::SOFT_INK, 1.0, 5.0)?;
    canvas.line(&[(left - 3.0, frame.bottom), (right + 3.0, frame.bottom)], colour::INK, 1.0, 0.9)?;
    let middle = (left + right) / 2.0;
    canvas.text(&percent(never), middle, (top - 9.0).max(plot.frame.top - 9.0), Align::Middle, STRONG)?;
    canvas.text("never", middle, frame.bottom + 12.0, Align::Middle, STRONG)
}

/// The threshold and the share of runs on either side of it, above the plot.
fn threshold(canvas: &Canvas<'_>, plot: &Plot, result: &Summary) -> Drawn {
    let Some((success, at)) = result.success.as_ref().and_then(|s| s.threshold.map(|t| (s, t))) else {
        return Ok(());
    };
    let Frame { left, top, bottom, .. } = plot.frame;
    let y = top - 29.0;
    let good = format!("{}: {}", percent(&success.share), layout::named(&success.rule));
    let rest = success.share.rest();
    let bad = format!("{}: not", percent(&rest));
    let x = plot.px(at);
    if at >= plot.x.0 && at <= plot.x.1 {
        canvas.dashed(&[(x, y - 7.0), (x, bottom)], colour::INK, 1.3, (5.0, 3.0))?;
    }
    // A side without runs is not named.
    let above = success.good_above;
    let good = Some((good, good_ink())).filter(|_| success.share.value > 0.0);
    let bad = Some((bad, bad_ink())).filter(|_| rest.value > 0.0);
    let (before, after) = if above { (bad, good) } else { (good, bad) };
    // Beside the line where there is room, else pushed in from the edge.
    let edge = canvas.width - layout::MARGIN;
    let after_width = after.as_ref().map_or(0.0, |(text, ink)| ink.width(text) + 14.0);
    let mut start = (x + 7.0).max(left);
    if let Some((text, ink)) = before {
        let end = (x - 7.0).min(edge - after_width).max(layout::MARGIN + ink.width(&text));
        canvas.boxed_text(&text, end, y, Align::Right, ink)?;
        start = start.max(end + 14.0);
    }
    if let Some((text, ink)) = after {
        let text = ink.fit(&text, edge - layout::MARGIN);
        let start = start.min(edge - ink.width(&text));
        canvas.boxed_text(&text, start, y, Align::Left, ink)?;
    }
    Ok(())
}

fn good_ink() -> Ink {
    Ink { colour: colour::BLUE, ..STRONG }
}

fn bad_ink() -> Ink {
    Ink { colour: colour::DARK_VERMILION, ..STRONG }
}

fn base_case(canvas: &Canvas<'_>, plot: &Plot, answers: &Answers, result: &Summary) -> Drawn {
    let Figure::Number(base) = result.base else { return Ok(()) };
    if !(base >= plot.x.0 && base <= plot.x.1) {
        return Ok(());
    }
    let Frame { left, right, top, bottom } = plot.frame;
    let x = plot.px(base);
    let y = top - strips(result) - 12.0;
    canvas.dashed(&[(x, y + 7.0), (x, bottom)], colour::INK, 0.9, (1.5, 2.5))?;
    let mark = [(x, bottom - 1.0), (x - 4.5, bottom - 10.0), (x + 4.5, bottom - 10.0)];
    canvas.polygon(&mark, colour::INK, 1.0)?;
    let places = decimals(base, None, &result.unit, &answers.study.currency);
    let rank =
        result.base_rank.map_or(String::new(), |rank| format!(" ({} of runs below)", in_ten(rank.value)));
    let text = format!("base case {}{rank}", with_unit(&grouped(base, places), &result.unit));
    let half = LABEL.width(&text) / 2.0;
    let middle = x.clamp(left + half, (right - half).max(left + half));
    canvas.text(&text, middle, y, Align::Middle, LABEL)
}
