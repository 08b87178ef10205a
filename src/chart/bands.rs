//! Share of runs paid back by each year, and the share that never is.

use crate::analysis::{Answers, PaybackBands, Share};
use crate::report::numbers::{exponent, grouped, percent};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, Format, HEIGHT, LABEL, STRONG, TOP_ROOM};
use super::scale::ticks;
use super::{Chart, finish};

/// Room at the right for the bar that splits the runs at the end.
const END_ROOM: f64 = 158.0;

/// The chart, if the study has a payback.
pub(super) fn draw(format: Format, answers: &Answers) -> Result<Option<Chart>, ChartError> {
    let Some(bands) = answers.bands.as_ref().filter(|bands| !bands.paid_back.is_empty()) else {
        return Ok(None);
    };
    let finding = finding(bands);
    let svg =
        super::canvas::sheet(format, format.height(HEIGHT), |canvas| body(canvas, answers, bands, &finding))?;
    Ok(Some(finish(
        format,
        "payback",
        "Share of runs paid back by each year",
        &finding,
        format.height(HEIGHT),
        &svg,
    )))
}

/// First year by whose end half of the runs that pay back have done so; none if that is the last.
fn halfway(bands: &PaybackBands) -> Option<usize> {
    let last = bands.paid_back.last().filter(|last| last.value > 0.0)?;
    let year = bands.paid_back.iter().position(|s| s.value >= last.value / 2.0)? + 1;
    (year < bands.paid_back.len()).then_some(year)
}

fn within(years: usize) -> String {
    if years == 1 { "within 1 year".into() } else { format!("within {years} years") }
}

fn finding(bands: &PaybackBands) -> String {
    let years = bands.paid_back.len();
    let Some(last) = bands.paid_back.last() else { return String::new() };
    if last.value <= 0.0 {
        return format!("Paid back in none of the runs {}", within(years));
    }
    let head = if last.value >= 1.0 {
        format!("Paid back {} in every run", within(years))
    } else {
        format!("Paid back {} in {} of runs", within(years), percent(last))
    };
    match halfway(bands) {
        Some(year) => format!("{head}; half of those by year {year}"),
        None => head,
    }
}

fn body(canvas: &Canvas<'_>, answers: &Answers, bands: &PaybackBands, finding: &str) -> Drawn {
    let years = bands.paid_back.len();
    let top = layout::headings(
        canvas,
        finding,
        "Share of runs whose outlay has come back by the end of each year, and what becomes of the rest",
    )?;
    let runs =
        answers.results.iter().find(|r| r.name == bands.result).map_or(answers.sampling.runs, |r| r.runs);
    let small = format!(
        "{} Pale band: 95 % interval of the share. \"Never\" means not {}; what would come later is not known.",
        layout::drawn_by(answers, runs),
        within(years)
    );
    let bottom = layout::foot(canvas, &small)?;
    let percent_ticks = ticks(0.0, 100.0, canvas.format.ticks(5), false);
    let frame = Frame {
        left: layout::left_room((0.0, 100.0), &percent_ticks),
        top: top + TOP_ROOM,
        right: canvas.width - canvas.format.choose(END_ROOM, 116.0),
        bottom: bottom - BOTTOM_ROOM,
    };
    let plot = canvas.plot(frame, (0.0, years as f64), (0.0, 100.0));
    layout::left_axis(canvas, &plot, &percent_ticks, "% of runs")?;
    curve(canvas, &plot, bands)?;
    layout::bottom_axis(
        canvas,
        &plot,
        &ticks(0.0, years as f64, canvas.format.ticks(10), true),
        "Years from the start",
    )?;
    half_mark(canvas, &plot, bands)?;
    end_bar(canvas, &plot, bands)
}

fn curve(canvas: &Canvas<'_>, plot: &Plot, bands: &PaybackBands) -> Drawn {
    // Nobody has paid back at the start if the outlay is above zero in (nearly) every run.
    let starts_unpaid = bands
        .cash
        .first()
        .and_then(|c| c.percentiles.last())
        .and_then(|p| p.estimate.value.number())
        .is_some_and(|x| x < 0.0);
    let series = |of: fn(&Share) -> f64| -> Vec<(f64, f64)> {
        let start = starts_unpaid.then_some((0.0, 0.0));
        let years = bands.paid_back.iter().enumerate().map(|(i, s)| ((i + 1) as f64, of(s) * 100.0));
        start.into_iter().chain(years).collect()
    };
    let place = |points: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
        points.into_iter().map(|(x, y)| plot.place(x, y)).collect()
    };
    let middle = place(series(|s| s.value));
    let mut area = middle.clone();
    if let (Some(first), Some(last)) = (middle.first(), middle.last()) {
        area.extend([(last.0, plot.frame.bottom), (first.0, plot.frame.bottom)]);
    }
    canvas.polygon(&area, colour::SKY, 0.22)?;
    let mut interval = place(series(|s| s.low));
    interval.extend(place(series(|s| s.high)).into_iter().rev());
    canvas.polygon(&interval, colour::SKY, 0.75)?;
    canvas.line(&middle, colour::BLUE, 1.0, 2.2)?;
    if bands.paid_back.len() <= 30 {
        for &(x, y) in &middle {
            canvas.dot(x, y, 2.4, colour::BLUE)?;
        }
    }
    Ok(())
}

/// The year by which half of those that pay back have done so, as the heading says.
fn half_mark(canvas: &Canvas<'_>, plot: &Plot, bands: &PaybackBands) -> Drawn {
    let Some((year, share)) = halfway(bands).and_then(|year| Some((year, bands.paid_back.get(year - 1)?)))
    else {
        return Ok(());
    };
    let (x, y) = plot.place(year as f64, share.value * 100.0);
    canvas.dashed(&[(x, y), (x, plot.frame.bottom)], colour::SOFT_INK, 1.0, (4.0, 3.0))?;
    canvas.dot(x, y, 4.0, colour::BLUE)?;
    let text = format!("half of those by year {year}");
    let width = STRONG.width(&text);
    if x - 10.0 - width > plot.frame.left {
        canvas.boxed_text(&text, x - 9.0, y - 8.0, Align::Right, STRONG)
    } else {
        canvas.text(&text, x + 9.0, y + 12.0, Align::Left, STRONG)
    }
}

/// All runs as one bar at the end: paid back and never.
fn end_bar(canvas: &Canvas<'_>, plot: &Plot, bands: &PaybackBands) -> Drawn {
    let Some(last) = bands.paid_back.last() else { return Ok(()) };
    let (left, right) = (plot.frame.right + 10.0, plot.frame.right + 26.0);
    let split = plot.py(last.value * 100.0);
    let paid = Frame { left, right, top: split, bottom: plot.frame.bottom };
    let never = Frame { left, right, top: plot.frame.top, bottom: split };
    canvas.rect(paid, colour::BLUE, 1.0)?;
    canvas.rect(never, colour::GREY, 0.28)?;
    canvas.hatch(never, colour::SOFT_INK, 1.0, 5.0)?;
    canvas.line(&[(plot.frame.right, split), (right, split)], colour::BLUE, 1.0, 1.0)?;
    let years = bands.paid_back.len();
    // A slide has room for one line below each figure.
    let format = canvas.format;
    let paid_words = format.choose(format!("paid back by year {years}"), "paid back".into());
    let never_words = format.choose(format!("never {}", within(years)), "never".into());
    let blocks = [
        (last, paid_words, (split + plot.frame.bottom) / 2.0),
        (&bands.never, never_words, (split + plot.frame.top) / 2.0),
    ];
    for (share, words, middle) in blocks {
        if share.value <= 0.0 {
            continue;
        }
        let middle = middle.clamp(plot.frame.top + 14.0, plot.frame.bottom - 22.0);
        canvas.text(&percent(share), right + 8.0, middle - 14.0, Align::Left, layout::HEADING)?;
        let width = canvas.width - layout::MARGIN / 2.0 - right - 8.0;
        let mut lines = LABEL.wrap(&words, width, 2);
        if share.high - share.low > 5e-4 && !format.is_slide() {
            let places = (-exponent((share.high - share.low) * 50.0)).clamp(0, 1);
            let ends = [share.low, share.high].map(|end| grouped(end * 100.0, places));
            lines.push(format!("({} to {} %)", ends[0], ends[1]));
        }
        canvas.lines(&lines, right + 8.0, middle + 3.0, Align::Left, LABEL)?;
    }
    Ok(())
}
