//! When a result fails: the boxes that the search went through, by how many failures they catch and how many of their
//! runs fail; and whether it keeps what was promised.

use crate::analysis::conditions::Of;
use crate::analysis::{Answers, Claim, Failing};
use crate::report::numbers::{clean, grouped, in_ten, percent, spoken};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, colour};
use super::layout::{self, BOTTOM_ROOM, Format, LABEL, STRONG, TICK, TOP_ROOM};
use super::measures::{Mark, Measures, Row};
use super::scale::ticks;
use super::slides::mounted;
use super::{Chart, finish};

const HEIGHT: f64 = 400.0;
/// Room at the right for the words.
const WORDS: f64 = 232.0;

/// All charts of this matter.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut charts = Vec::new();
    if let Some(found) = answers.failing.as_ref().filter(|f| !f.conditions.boxes.is_empty()) {
        let picture = Picture { answers, found }.draw(format.details())?;
        charts.extend(mounted(format, vec![picture])?);
    }
    if let Some(found) = &answers.claim {
        charts.extend(claim(answers, found).draw(format)?);
    }
    Ok(charts)
}

struct Picture<'a> {
    answers: &'a Answers,
    found: &'a Failing,
}

impl Picture<'_> {
    fn draw(&self, format: Format) -> Result<Chart, ChartError> {
        let finding = self.finding();
        let svg = super::canvas::sheet(format, format.height(HEIGHT), |canvas| self.body(canvas, &finding))?;
        let title = format!("When {} {}", layout::mentioned(&self.found.label), self.they());
        Ok(finish(format, "conditions", &title, &finding, format.height(HEIGHT), &svg))
    }

    fn they(&self) -> &'static str {
        if self.found.conditions.of == Of::Failures { "fails" } else { "succeeds" }
    }

    fn those(&self) -> &'static str {
        if self.found.conditions.of == Of::Failures { "failures" } else { "successes" }
    }

    fn finding(&self) -> String {
        let Some(found) = self.found.conditions.boxes.first() else { return String::new() };
        let n = found.restrictions.len();
        let conditions =
            if n == 1 { "Under one condition".to_owned() } else { format!("Where {n} things come together") };
        format!(
            "{conditions}, {} of the runs {}; {} of all {} lie there",
            percent(&found.held_out.density),
            self.they().trim_end_matches('s'),
            percent(&found.held_out.coverage),
            self.those()
        )
    }

    fn body(&self, canvas: &Canvas<'_>, finding: &str) -> Drawn {
        let c = &self.found.conditions;
        let subtitle = format!(
            "Each dot is a box of conditions: how many of the {} it holds, and how many of its runs {}",
            self.those(),
            self.they().trim_end_matches('s')
        );
        let top = layout::headings(canvas, finding, &subtitle)?;
        let foot = format!(
            "{} Dots: found on half of the runs. Ring: the chosen box on the other half, with its 95 % interval where that is longer. Success \
             is {}.",
            layout::drawn_by(self.answers, c.runs),
            clean(&self.found.rule)
        );
        let bottom = layout::foot(canvas, &foot)?;
        let y = (0.0, 100.0);
        let scale = ticks(y.0, y.1, 5, false);
        let frame = Frame {
            left: layout::left_room(y, &scale),
            top: top + TOP_ROOM,
            right: canvas.width - WORDS,
            bottom: bottom - BOTTOM_ROOM,
        };
        let plot = canvas.plot(frame, (0.0, 100.0), y);
        layout::left_axis(
            canvas,
            &plot,
            &scale,
            &format!("% of the box's runs that {}", self.they().trim_end_matches('s')),
        )?;
        let base = match c.of {
            Of::Failures => c.share_failing.value,
            Of::Successes => 1.0 - c.share_failing.value,
        };
        let level = plot.py(base * 100.0);
        canvas.dashed(&[(frame.left, level), (frame.right, level)], colour::SOFT_INK, 1.0, (4.0, 3.0))?;
        canvas.boxed_text("all runs", frame.left + 6.0, level - 8.0, Align::Left, TICK)?;
        let path: Vec<(f64, f64)> =
            c.trajectory.iter().map(|p| plot.place(p.coverage * 100.0, p.density * 100.0)).collect();
        canvas.line(&path, colour::SKY, 1.0, 1.2)?;
        for &(x, y) in &path {
            canvas.dot(x, y, 2.4, colour::BLUE)?;
        }
        for (k, found) in c.boxes.iter().enumerate() {
            let held = &found.held_out;
            let (x, y) = plot.place(held.coverage.value * 100.0, held.density.value * 100.0);
            let (low, high) = (plot.py(held.density.low * 100.0), plot.py(held.density.high * 100.0));
            canvas.line(&[(x, low), (x, high)], colour::DARK_VERMILION, 1.0, 1.3)?;
            let (left, right) = (plot.px(held.coverage.low * 100.0), plot.px(held.coverage.high * 100.0));
            canvas.line(&[(left, y), (right, y)], colour::DARK_VERMILION, 1.0, 1.3)?;
            canvas.dot(x, y, 6.2, colour::VERMILION)?;
            canvas.dot(x, y, 3.8, colour::WHITE)?;
            if c.boxes.len() > 1 {
                canvas.boxed_text(&format!("{}", k + 1), x + 9.0, y - 9.0, Align::Left, STRONG)?;
            }
        }
        layout::bottom_axis(
            canvas,
            &plot,
            &ticks(0.0, 100.0, 5, false),
            &format!("% of the {} in the box", self.those()),
        )?;
        self.words(canvas, &frame)
    }

    /// The conditions at the right.
    fn words(&self, canvas: &Canvas<'_>, frame: &Frame) -> Drawn {
        let left = frame.right + 22.0;
        let width = canvas.width - left - layout::MARGIN;
        let mut y = frame.top + 4.0;
        for (k, found) in self.found.conditions.boxes.iter().enumerate() {
            let head = match (self.found.conditions.boxes.len(), k) {
                (1, _) => "The box: all of".to_owned(),
                (_, 0) => "Box 1: all of".to_owned(),
                _ => "Box 2, outside box 1: all of".to_owned(),
            };
            canvas.text(&head, left, y, Align::Left, STRONG)?;
            y += 17.0;
            for restriction in &found.restrictions {
                let said = crate::analysis::conditions::in_words(restriction);
                let lines = LABEL.wrap(&format!("\u{2022} {said}"), width, 3);
                y = canvas.lines(&lines, left, y, Align::Left, LABEL)? + 2.0;
            }
            y += 10.0;
        }
        Ok(())
    }
}

/// How often each promise is kept.
fn claim<'a>(answers: &'a Answers, found: &Claim) -> Measures<'a> {
    let bar = |s: &crate::analysis::Share| {
        Some(Mark { value: s.value * 100.0, ends: Some((s.low * 100.0, s.high * 100.0)) })
    };
    let mut rows: Vec<Row> = found
        .promises
        .iter()
        .map(|p| {
            let side = if p.better_above { "at least" } else { "at most" };
            let text = format!("{}", p.value);
            let places = text.split_once('.').map_or(0, |(_, d)| d.len() as i32);
            Row {
                label: format!("{}: {side} {}", clean(&p.what), spoken(&grouped(p.value, places), &p.unit)),
                bar: bar(&p.kept),
                note: in_few(p.kept.value),
                ..Row::default()
            }
        })
        .collect();
    if found.promises.len() > 1 {
        rows.push(Row {
            label: "All of them together".into(),
            bar: bar(&found.all),
            note: in_few(found.all.value),
            ..Row::default()
        });
    }
    Measures {
        name: "claim",
        title: "What was promised".into(),
        finding: format!(
            "What was promised is kept, all together, in {} of the futures tried",
            in_ten(found.all.value)
        ),
        subtitle: "Share of the runs in which each promise is kept, with its 95 % interval".into(),
        axis: "% of runs".into(),
        foot: layout::drawn_by(answers, found.runs),
        rows,
        key: Vec::new(),
        from_zero: true,
        level: None,
        note_head: "kept in",
    }
}

/// A share in so few words that they find room beside a bar.
fn in_few(share: f64) -> String {
    in_ten(share).replace("fewer than", "under").replace("more than", "over")
}
