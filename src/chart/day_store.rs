//! What became of the store on a day: temperatures at its top, in the mean and at its bottom, hot water drawn, and when
//! the back-up heated.

use crate::hotwater::course::DayCourse;
use crate::report::numbers::{grouped, shortened};

use super::canvas::{Align, Canvas, Drawn, Frame, Ink, Plot, colour};
use super::day_course::{at_hour, upright_rules};
use super::layout::{LABEL, MARGIN, STRONG, TICK};
use super::scale::{extent, spread, ticks};

/// Height of the temperatures, and of the strips below them.
const TEMPERATURES: f64 = 118.0;
const DRAWS: f64 = 28.0;
const BACKUP: f64 = 9.0;
/// Room for a name above a panel.
const NAME: f64 = 26.0;
/// Room for the name of a strip.
const STRIP_NAME: f64 = 20.0;
/// Heat that is too little to be shown, in kWh a step.
const LEAST_KWH: f64 = 1e-3;

/// A list that is known for the day at all.
fn is_known(list: &[f64]) -> bool {
    list.iter().any(|x| x.is_finite())
}

fn temperatures(course: &DayCourse) -> [(&[f64], &'static str); 3] {
    [(&course.top_degc, "top"), (&course.mean_degc, "mean"), (&course.bottom_degc, "bottom")]
}

fn has_temperatures(course: &DayCourse) -> bool {
    temperatures(course).iter().any(|(list, _)| is_known(list))
}

/// Height of all that is known of the store; 0 if nothing is.
pub(super) fn height(course: &DayCourse) -> f64 {
    let mut height = 0.0;
    if has_temperatures(course) {
        height += NAME + TEMPERATURES;
    }
    if is_known(&course.litres) {
        height += STRIP_NAME + DRAWS;
    }
    if is_known(&course.backup_heat) {
        height += STRIP_NAME + BACKUP;
    }
    height
}

/// Panels below each other within the frame.
pub(super) fn draw(canvas: &Canvas<'_>, frame: Frame, course: &DayCourse, backup: &str) -> Drawn {
    let mut top = frame.top;
    let mut next = |name: f64, high: f64| {
        let panel = Frame { top: top + name, bottom: top + name + high, ..frame };
        top = panel.bottom;
        panel
    };
    if has_temperatures(course) {
        draw_temperatures(canvas, next(NAME, TEMPERATURES), course)?;
    }
    if is_known(&course.litres) {
        draw_draws(canvas, next(STRIP_NAME, DRAWS), &course.litres, hours(course))?;
    }
    if is_known(&course.backup_heat) {
        draw_backup(canvas, next(STRIP_NAME, BACKUP), course, backup)?;
    }
    Ok(())
}

/// Hours of a step.
fn hours(course: &DayCourse) -> f64 {
    24.0 / course.steps.max(1) as f64
}

/// Hours from the first to the last moment of each run of steps in which the back-up heats.
fn heating(course: &DayCourse) -> Vec<(f64, f64)> {
    let hours = hours(course);
    let mut spans: Vec<(f64, f64)> = Vec::new();
    for (s, _) in course.backup_heat.iter().enumerate().filter(|(_, heat)| **heat > LEAST_KWH) {
        let (from, to) = (s as f64 * hours, (s + 1) as f64 * hours);
        match spans.last_mut() {
            Some(span) if from - span.1 < 1e-9 => span.1 = to,
            _ => spans.push((from, to)),
        }
    }
    spans
}

fn draw_temperatures(canvas: &Canvas<'_>, frame: Frame, course: &DayCourse) -> Drawn {
    let all = temperatures(course).into_iter().flat_map(|(list, _)| list.iter().copied());
    let (low, high) = extent(all);
    let air = ((high - low) * 0.06).max(1.0);
    let plot = canvas.plot(frame, (0.0, 24.0), (low - air, high + air));
    for (from, to) in heating(course) {
        let span = Frame { left: plot.px(from), right: plot.px(to), ..frame };
        canvas.rect(span, colour::VERMILION, 0.10)?;
    }
    upright_rules(canvas, frame)?;
    let marks = ticks(plot.y.0, plot.y.1, 5, false);
    for &degc in &marks.values {
        let y = plot.py(degc);
        canvas.line(&[(frame.left, y), (frame.right, y)], colour::RULE, 1.0, 0.7)?;
        canvas.text(&grouped(degc, marks.decimals), frame.left - 6.0, y, Align::Right, TICK)?;
    }
    canvas.text("Water in the store, °C", MARGIN, frame.top - 11.0, Align::Left, TICK)?;
    curves(canvas, &plot, course)?;
    end_labels(canvas, &plot, course)
}

fn curve(list: &[f64], hours: f64) -> Vec<(f64, f64)> {
    list.iter().enumerate().map(|(s, &degc)| ((s + 1) as f64 * hours, degc)).collect()
}

/// Top as a heavy line, mean dashed, bottom as a thin line: told apart without colour.
fn curves(canvas: &Canvas<'_>, plot: &Plot, course: &DayCourse) -> Drawn {
    for piece in plot.curve(&curve(&course.bottom_degc, hours(course))) {
        canvas.line(&piece, colour::BLUE, 1.0, 1.1)?;
    }
    for piece in plot.curve(&curve(&course.mean_degc, hours(course))) {
        canvas.dashed(&piece, colour::INK, 1.4, (5.0, 3.0))?;
    }
    for piece in plot.curve(&curve(&course.top_degc, hours(course))) {
        canvas.line(&piece, colour::VERMILION, 1.0, 2.2)?;
    }
    Ok(())
}

/// Names at the right ends with the last value, pushed apart.
fn end_labels(canvas: &Canvas<'_>, plot: &Plot, course: &DayCourse) -> Drawn {
    let red = Ink { colour: colour::DARK_VERMILION, ..STRONG };
    let inks = [red, LABEL, Ink { colour: colour::BLUE, ..LABEL }];
    let lists = temperatures(course).into_iter().zip(inks);
    let ends: Vec<(f64, String, Ink)> = lists
        .filter_map(|((list, name), ink)| {
            let last = list.last().copied().filter(|degc| degc.is_finite())?;
            Some((plot.py(last), format!("{name} {} °C", grouped(last, 0)), ink))
        })
        .collect();
    let heights: Vec<f64> = ends.iter().map(|(y, ..)| *y).collect();
    let places = spread(&heights, 14.0, plot.frame.top, plot.frame.bottom);
    for ((y, text, ink), place) in ends.iter().zip(places) {
        let right = plot.frame.right;
        canvas.line(&[(right + 2.0, *y), (right + 11.0, place)], ink.colour, 1.0, 0.7)?;
        canvas.text(text, right + 14.0, place, Align::Left, *ink)?;
    }
    Ok(())
}

fn strip_name(canvas: &Canvas<'_>, frame: Frame, name: &str) -> Drawn {
    canvas.text(&TICK.fit(name, frame.right - MARGIN), MARGIN, frame.top - 8.0, Align::Left, TICK)
}

/// Litres of each step as bars on a line.
fn draw_draws(canvas: &Canvas<'_>, frame: Frame, litres: &[f64], hours: f64) -> Drawn {
    let known = || litres.iter().copied().filter(|x| x.is_finite() && *x > 0.0);
    let (total, most) = (known().sum::<f64>(), known().fold(0.0, f64::max));
    let name = match most > 0.0 {
        true => format!(
            "Hot water drawn: {} litres, of which {} in the highest bar",
            grouped(total, 0),
            grouped(most, 0)
        ),
        false => "Hot water drawn: none".to_owned(),
    };
    strip_name(canvas, frame, &name)?;
    for (s, &x) in litres.iter().enumerate().filter(|(_, x)| x.is_finite() && **x > 0.0) {
        let (from, to) = (at_hour(frame, s as f64 * hours), at_hour(frame, (s + 1) as f64 * hours));
        let top = frame.bottom - ((frame.bottom - frame.top) * x / most).max(0.8);
        canvas.rect(
            Frame { left: from + 0.6, right: to - 0.6, top, bottom: frame.bottom },
            colour::SKY,
            1.0,
        )?;
    }
    canvas.line(&[(frame.left, frame.bottom), (frame.right, frame.bottom)], colour::GREY, 1.0, 0.8)
}

/// The times at which the back-up heats, as marked spans on a line.
fn draw_backup(canvas: &Canvas<'_>, frame: Frame, course: &DayCourse, backup: &str) -> Drawn {
    let backup = if backup.is_empty() { "back-up" } else { backup };
    let total: f64 = course.backup_heat.iter().filter(|heat| heat.is_finite()).sum();
    let spans = heating(course);
    let name = match spans.is_empty() {
        true => format!("No heat from the {}", shortened(backup, 40)),
        false => format!("Heat from the {}: {} kWh", shortened(backup, 40), grouped(total, 1)),
    };
    strip_name(canvas, frame, &name)?;
    canvas.line(&[(frame.left, frame.bottom), (frame.right, frame.bottom)], colour::GREY, 1.0, 0.8)?;
    for (from, to) in spans {
        let span = Frame { left: at_hour(frame, from), right: at_hour(frame, to), ..frame };
        canvas.rect(span, colour::VERMILION, 0.45)?;
        canvas.hatch(span, colour::DARK_VERMILION, 0.9, 4.0)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heating_is_told_in_spans() {
        let mut course = DayCourse { steps: 48, backup_heat: vec![0.0; 48], ..DayCourse::default() };
        for s in [12, 13, 14, 40] {
            course.backup_heat[s] = 1.0;
        }
        assert_eq!(heating(&course), [(6.0, 7.5), (20.0, 20.5)]);
    }

    #[test]
    fn what_is_not_known_takes_no_room() {
        assert_eq!(height(&DayCourse::default()), 0.0);
        let unknown = DayCourse { top_degc: vec![f64::NAN; 48], ..DayCourse::default() };
        assert_eq!(height(&unknown), 0.0);
    }

    #[test]
    fn temperatures_stand_at_the_end_of_their_step() {
        assert_eq!(curve(&[50.0, 40.0], 12.0), [(12.0, 50.0), (24.0, 40.0)]);
    }
}
