//! What a result hangs on, a panel for each value of a choice on one scale.

use crate::analysis::{ChoiceAnswer, Figure, Tornado, TornadoRow};
use crate::report::numbers::clean;

use super::by_choice::{Values, plain_value, value, written};
use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Plot, colour};
use super::layout::{self, BOTTOM_ROOM, Format, LABEL, STRONG, TICK};
use super::scale::{Writing, extent, ticks};
use super::{Chart, finish};

const ROW: f64 = 29.0;
const NAMES: f64 = 190.0;
/// Between two panels.
const GAP: f64 = 14.0;
/// Room above the bars for the names of the panels.
const HEAD: f64 = 46.0;
/// Panels that have room side by side.
const MOST_PANELS: usize = 4;
const MOST_ROWS: usize = 10;

const SUBTITLE: &str = "When one input goes from its low value (1 draw in 10 lies below it) to its high one (1 in 10 above), \
     the rest at base. Hatched: at the low value. Line: base case.";

struct Panel<'a> {
    name: String,
    plain: String,
    tornado: &'a Tornado,
}

/// The chart, if the spans depend on the choice.
pub(super) fn draw(format: Format, values: &Values<'_>) -> Result<Option<Chart>, ChartError> {
    let of = |c: &&'_ ChoiceAnswer| c.tornado.is_some();
    let with: Vec<&ChoiceAnswer> = values.choices.iter().copied().filter(of).collect();
    let panels: Vec<Panel<'_>> = chosen(&with)
        .into_iter()
        .filter_map(|c| Some(Panel { name: value(c), plain: plain_value(c), tornado: c.tornado.as_ref()? }))
        .collect();
    let Some(first) = panels.first() else { return Ok(None) };
    let rows = rows(&panels);
    // A base case that is never has no bar to start from.
    if rows.is_empty() || panels.iter().all(|panel| panel.tornado.base.number().is_none()) {
        return Ok(None);
    }
    let label = layout::named(&first.tornado.label);
    let finding = finding(&panels, &label);
    let left_out = with.len() - panels.len();
    let more =
        if left_out > 0 { format!(" {left_out} more values are in the tables.") } else { String::new() };
    let foot =
        format!("Bars on one scale. Other choices at base. One at a time: interactions are not seen.{more}");
    let around = layout::headings_height(format, &finding, SUBTITLE) + layout::foot_height(format, &foot);
    let height = (around + HEAD + ROW * rows.len() as f64 + BOTTOM_ROOM).ceil();
    let svg = super::canvas::sheet(format, height, |canvas| {
        let top = layout::headings(canvas, &finding, SUBTITLE)? + HEAD;
        let bottom = layout::foot(canvas, &foot)? - BOTTOM_ROOM;
        body(canvas, values, &panels, &rows, (top, bottom))
    })?;
    let title = format!("What it hangs on: {label}, by {}", values.mentioned());
    Ok(Some(finish(format, "tornado", &title, &finding, height, &svg)))
}

/// At most four of the values: the base, the first, the last, one between.
fn chosen<'a>(all: &[&'a ChoiceAnswer]) -> Vec<&'a ChoiceAnswer> {
    if all.len() <= MOST_PANELS {
        return all.to_vec();
    }
    let base = all.iter().position(|c| c.is_base).unwrap_or(0);
    let mut places = vec![0, all.len() / 2, base, all.len() - 1];
    places.sort_unstable();
    places.dedup();
    places.into_iter().map(|k| all[k]).collect()
}

fn row_of<'a>(tornado: &'a Tornado, name: &str) -> Option<&'a TornadoRow> {
    tornado.rows.iter().find(|row| row.name == name)
}

/// The inputs with the longest spans under any value.
fn rows<'a>(panels: &[Panel<'a>]) -> Vec<&'a TornadoRow> {
    let Some(first) = panels.first() else { return Vec::new() };
    let span = |name: &str| {
        let rows = panels.iter().filter_map(|panel| row_of(panel.tornado, name));
        rows.fold((false, 0.0_f64), |(bound, span), row| {
            (bound || row.span_is_lower_bound, span.max(row.span))
        })
    };
    let mut rows: Vec<(&TornadoRow, (bool, f64))> =
        first.tornado.rows.iter().map(|row| (row, span(&row.name))).collect();
    rows.retain(|(_, (bound, span))| *bound || *span > 0.0);
    // A stable sort: ties keep the order of the first panel.
    rows.sort_by(|(_, a), (_, b)| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)));
    rows.into_iter().map(|(row, _)| row).take(MOST_ROWS).collect()
}

fn finding(panels: &[Panel<'_>], label: &str) -> String {
    let most = |panel: &Panel<'_>| {
        panel.tornado.rows.first().map_or_else(String::new, |row| layout::mentioned(&row.label))
    };
    match panels {
        [first, .., last] if most(first) != most(last) => format!(
            "{label} hangs most on {} ({}), on {} ({})",
            most(first),
            first.plain,
            most(last),
            last.plain
        ),
        [first, ..] => format!("{label} hangs most on {} at each value", most(first)),
        [] => label.to_owned(),
    }
}

fn body(
    canvas: &Canvas<'_>,
    values: &Values<'_>,
    panels: &[Panel<'_>],
    rows: &[&TornadoRow],
    (top, bottom): (f64, f64),
) -> Drawn {
    for (k, row) in rows.iter().enumerate() {
        let y = top + ROW * (k as f64 + 0.5);
        let lines = layout::balanced(TICK, &clean(&row.label), NAMES, 2);
        let first = y - TICK.leading() * (lines.len().max(1) - 1) as f64 / 2.0;
        canvas.lines(
            &lines,
            layout::MARGIN + NAMES,
            first,
            Align::Right,
            super::canvas::Ink { colour: colour::INK, ..TICK },
        )?;
    }
    let figures = panels
        .iter()
        .flat_map(|p| p.tornado.rows.iter().flat_map(|r| [r.low, r.high]).chain([p.tornado.base]));
    let (low, high) = extent(figures.filter_map(Figure::number));
    let air = (high - low) * 0.03;
    let left = layout::MARGIN + NAMES + 10.0;
    let width =
        (canvas.width - layout::MARGIN - left - GAP * (panels.len() - 1) as f64) / panels.len() as f64;
    for (k, panel) in panels.iter().enumerate() {
        let from = left + (width + GAP) * k as f64;
        let frame = Frame { left: from, right: from + width, top, bottom };
        let plot = canvas.plot(frame, (low - air, high + air), (0.0, 1.0));
        self::panel(canvas, values, panel, rows, &plot)?;
    }
    let tornado = panels.first().map(|p| p.tornado);
    let axis = tornado.map_or_else(String::new, |t| {
        format!("{}{}", layout::named(&t.label), layout::unit_after(&Writing::of((low, high)).unit(&t.unit)))
    });
    let axis = TICK.fit(&axis, canvas.width - left - layout::MARGIN);
    canvas.text(&axis, (left + canvas.width - layout::MARGIN) / 2.0, bottom + 27.0, Align::Middle, TICK)
}

fn panel(
    canvas: &Canvas<'_>,
    values: &Values<'_>,
    panel: &Panel<'_>,
    rows: &[&TornadoRow],
    plot: &Plot,
) -> Drawn {
    let Frame { left, top, bottom, .. } = plot.frame;
    let width = plot.frame.width();
    let names = layout::balanced(STRONG, &panel.name, width, 2);
    canvas.lines(
        &names,
        left,
        top - 27.0 - STRONG.leading() * (names.len().max(1) - 1) as f64 / 2.0,
        Align::Left,
        STRONG,
    )?;
    let base = format!("base case {}", written(values.answers, panel.tornado.base, &panel.tornado.unit));
    canvas.text(&TICK.fit(&base, width), left, top - 10.0, Align::Left, TICK)?;
    let wanted = (width / 36.0).floor().clamp(1.0, 6.0) as usize;
    let scale = ticks(plot.x.0, plot.x.1, wanted, false);
    let writing = Writing::of(plot.x);
    canvas.line(&[(left, bottom), (left + width, bottom)], colour::INK, 1.0, 0.9)?;
    let mut free_from = f64::NEG_INFINITY;
    for &x in &scale.values {
        let at = plot.px(x);
        canvas.line(&[(at, top), (at, bottom)], colour::RULE, 1.0, 0.7)?;
        let text = writing.tick(x, &scale);
        let half = TICK.width(&text) / 2.0;
        if at - half > free_from + 4.0
            && at - half >= left - GAP / 2.0
            && at + half <= left + width + GAP / 2.0
        {
            canvas.text(&text, at, bottom + 12.0, Align::Middle, TICK)?;
            free_from = at + half;
        }
    }
    let place = |f: Figure| match f {
        Figure::Number(x) => Some(plot.px(x)),
        Figure::Never => Some(plot.frame.right),
        Figure::None => None,
    };
    let base = place(panel.tornado.base);
    for (k, row) in rows.iter().enumerate() {
        let y = top + ROW * (k as f64 + 0.5);
        let (Some(row), Some(base)) = (row_of(panel.tornado, &row.name), base) else { continue };
        for (end, is_low) in [(row.high, false), (row.low, true)] {
            let Some(x) = place(end) else { continue };
            let bar = Frame { left: base.min(x), right: base.max(x), top: y - 7.0, bottom: y + 7.0 };
            canvas.rect(
                bar,
                if is_low { colour::ORANGE } else { colour::BLUE },
                if is_low { 0.75 } else { 0.9 },
            )?;
            if is_low {
                canvas.hatch(bar, colour::INK, 0.55, 5.0)?;
            }
        }
        if row.low == Figure::Never || row.high == Figure::Never {
            canvas.boxed_text("never", plot.frame.right - 2.0, y, Align::Right, LABEL)?;
        }
    }
    if let Some(x) = base {
        canvas.line(&[(x, top - 3.0), (x, bottom)], colour::INK, 1.0, 1.3)?;
    }
    Ok(())
}
