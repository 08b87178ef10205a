//! Cumulative cash by year: a fan of bands, the middle, the base case and a few single runs.

use crate::analysis::{Answers, CashBand, PaybackBands};
use crate::report::numbers::{grouped, in_prose, with_unit};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Ink, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, Format, HEIGHT, LABEL, STRONG, TOP_ROOM};
use super::scale::{Writing, extent, spread, ticks};
use super::{Chart, finish};

/// Room at the right for the labels of the lines.
const END_ROOM: f64 = 150.0;

/// The chart, if there is cash by year.
pub(super) fn draw(format: Format, answers: &Answers) -> Result<Option<Chart>, ChartError> {
    let Some(bands) = answers.bands.as_ref().filter(|bands| bands.cash.len() > 1) else { return Ok(None) };
    let finding = finding(answers, bands);
    let svg =
        super::canvas::sheet(format, format.height(HEIGHT), |canvas| body(canvas, answers, bands, &finding))?;
    Ok(Some(finish(format, "cash", "Cumulative cash by year", &finding, format.height(HEIGHT), &svg)))
}

/// Value of a percentile in one year, if it is a number.
fn value(band: &CashBand, p: f64) -> Option<f64> {
    band.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9)?.estimate.value.number()
}

/// Money in prose: whole units, or as coarse as the interval.
fn money(band: &CashBand, p: f64, currency: &str) -> Option<String> {
    let percentile = band.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9)?;
    percentile.estimate.value.number()?;
    Some(in_prose(&percentile.estimate, currency, currency))
}

fn finding(answers: &Answers, bands: &PaybackBands) -> String {
    let Some(last) = bands.cash.last() else { return String::new() };
    let currency = &answers.study.currency;
    let years = with_unit(&last.year.to_string(), "yr");
    match (money(last, 0.05, currency), money(last, 0.5, currency), money(last, 0.95, currency)) {
        (Some(low), Some(middle), Some(high)) if low == high => {
            format!("After {years} the cash adds up to {middle} {currency}")
        }
        (Some(low), Some(middle), Some(high)) => format!(
            "After {years} the cash adds up to between {low} and {high} {currency} in 9 of 10 runs; \
             half of all end above {middle} {currency}"
        ),
        _ => format!("Cumulative cash over {years}"),
    }
}

/// The range of the axis: all bands, and single runs as far as they do not flatten the rest.
fn vertical(bands: &PaybackBands) -> (f64, f64) {
    let banded = bands.cash.iter().flat_map(|c| {
        c.percentiles.iter().filter_map(|p| p.estimate.value.number()).chain([c.base]).collect::<Vec<_>>()
    });
    let core = extent(banded.chain([0.0]));
    let room = (core.1 - core.0) * 0.12;
    let runs = bands.some_runs.iter().flatten().map(|v| v.clamp(core.0 - room, core.1 + room));
    let (low, high) = extent(runs.chain([core.0, core.1]));
    let air = (high - low) * 0.02;
    (low - air, high + air)
}

fn body(canvas: &Canvas<'_>, answers: &Answers, bands: &PaybackBands, finding: &str) -> Drawn {
    let top = layout::headings(
        canvas,
        finding,
        "Cumulative cash by the end of each year; above zero the outlay is back. Dark: the middle half of the runs. \
         Pale: 9 in 10 of them. Thin lines: single runs.",
    )?;
    let prices = if answers.study.prices == "real" {
        format!("money of {}", answers.study.first_year)
    } else {
        "money of the day".to_string()
    };
    let small = format!(
        "{} Not discounted; {prices}. The bands hold a share of runs in each year by itself: no single run follows an edge.",
        layout::drawn_by(answers, answers.sampling.runs)
    );
    let bottom = layout::foot(canvas, &small)?;
    let years = bands.cash.last().map_or(1, |c| c.year).max(1) as f64;
    let y = vertical(bands);
    let money_ticks = ticks(y.0, y.1, canvas.format.ticks(6), false);
    let frame = Frame {
        left: layout::left_room(y, &money_ticks),
        top: top + TOP_ROOM,
        right: canvas.width - canvas.format.choose(END_ROOM, 126.0),
        bottom: bottom - BOTTOM_ROOM,
    };
    let plot = canvas.plot(frame, (0.0, years), y);
    let unit = Writing::of(plot.y).unit(&bands.unit);
    layout::left_axis(canvas, &plot, &money_ticks, &unit)?;
    fan(canvas, &plot, bands)?;
    let zero = plot.py(0.0);
    canvas.line(&[(frame.left, zero), (frame.right, zero)], colour::INK, 1.0, 1.1)?;
    lines(canvas, &plot, bands)?;
    layout::bottom_axis(
        canvas,
        &plot,
        &ticks(0.0, years, canvas.format.ticks(10), true),
        "Years from the start",
    )?;
    end_labels(canvas, &plot, answers, bands)
}

fn series(bands: &PaybackBands, of: impl Fn(&CashBand) -> Option<f64>) -> Vec<(f64, f64)> {
    bands.cash.iter().map(|c| (c.year as f64, of(c).unwrap_or(f64::NAN))).collect()
}

fn fan(canvas: &Canvas<'_>, plot: &Plot, bands: &PaybackBands) -> Drawn {
    for (low, high, alpha) in [(0.05, 0.95, 0.28), (0.25, 0.75, 0.5)] {
        let place = |p: f64| -> Vec<(f64, f64)> {
            let finite = series(bands, |c| value(c, p)).into_iter().filter(|q| q.1.is_finite());
            finite.map(|(x, y)| plot.place(x, y)).collect()
        };
        let mut area = place(low);
        area.extend(place(high).into_iter().rev());
        canvas.polygon(&area, colour::SKY, alpha)?;
    }
    Ok(())
}

fn lines(canvas: &Canvas<'_>, plot: &Plot, bands: &PaybackBands) -> Drawn {
    for run in &bands.some_runs {
        let points: Vec<(f64, f64)> = run.iter().enumerate().map(|(t, &v)| (t as f64, v)).collect();
        for piece in plot.curve(&points) {
            canvas.line(&piece, colour::SOFT_INK, 0.75, 0.8)?;
        }
    }
    for piece in plot.curve(&series(bands, |c| value(c, 0.5))) {
        canvas.line(&piece, colour::BLUE, 1.0, 2.4)?;
    }
    for piece in plot.curve(&series(bands, |c| Some(c.base))) {
        canvas.dashed(&piece, colour::VERMILION, 1.9, (6.0, 3.5))?;
    }
    Ok(())
}

/// Names of the lines at their right ends, pushed apart, with leaders.
fn end_labels(canvas: &Canvas<'_>, plot: &Plot, answers: &Answers, bands: &PaybackBands) -> Drawn {
    let Some(last) = bands.cash.last() else { return Ok(()) };
    let currency = &answers.study.currency;
    let blue = Ink { colour: colour::BLUE, ..STRONG };
    let red = Ink { colour: colour::DARK_VERMILION, ..STRONG };
    let named = [
        (value(last, 0.95), money(last, 0.95, currency), "95 % below", LABEL),
        (value(last, 0.75), money(last, 0.75, currency), "75 % below", LABEL),
        (value(last, 0.5), money(last, 0.5, currency), "half below", blue),
        (Some(last.base), Some(grouped(last.base, 0)), "base case", red),
        (value(last, 0.25), money(last, 0.25, currency), "25 % below", LABEL),
        (value(last, 0.05), money(last, 0.05, currency), "5 % below", LABEL),
    ];
    let shown: Vec<(f64, String, Ink)> = named
        .into_iter()
        .filter_map(|(v, money, words, ink)| {
            let v = v.filter(|v| v.is_finite())?;
            Some((v, format!("{}: {words}", money?), ink))
        })
        .collect();
    let ends: Vec<f64> = shown.iter().map(|(v, ..)| plot.py(*v)).collect();
    let places = spread(&ends, 14.0, plot.frame.top, plot.frame.bottom);
    for (((_, text, ink), end), place) in shown.iter().zip(ends).zip(places) {
        let (from, to) = (plot.frame.right + 2.0, plot.frame.right + 16.0);
        canvas.line(&[(from, end), (to - 3.0, place)], ink.colour, 1.0, 0.7)?;
        canvas.text(text, to, place, Align::Left, *ink)?;
    }
    Ok(())
}
