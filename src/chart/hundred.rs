//! A hundred futures as a hundred marks, told apart by shape as well as by colour.

use crate::analysis::{Answers, PaybackBands, ResultKind, Share, Summary};
use crate::report::numbers::{exponent, grouped, in_ten, with_unit};

use super::canvas::{Align, Canvas, Drawn, colour};
use super::layout::{self, Format, HEADING, LABEL};
use super::{Chart, ChartError, finish};

/// Marks in a row, and rows.
const SIDE: usize = 10;
/// Distance of two marks on a page.
const STEP: f64 = 22.0;
/// Height of a line of the key.
const KEY_LINE: f64 = 62.0;
/// Room between the marks and the key.
const GAP: f64 = 34.0;

/// A hundred marks in the shares of the outcomes: when the outlay comes back, or where the study has no payback,
/// whether the headline meets its threshold; none where nothing succeeds or fails.
///
/// # Errors
/// If the built-in font cannot be used.
pub fn hundred(answers: &Answers) -> Result<Option<Chart>, ChartError> {
    draw(Format::PAGE, answers)
}

/// The same for a page or a slide.
pub(super) fn draw(format: Format, answers: &Answers) -> Result<Option<Chart>, ChartError> {
    let Some(told) = told(answers) else { return Ok(None) };
    let finding = told.finding();
    let small = told.small_print(answers);
    let picture = Picture { told: &told, counts: told.counts(), finding: &finding, small: &small };
    let around = layout::headings_height(format, &finding, &picture.subtitle())
        + layout::foot_height(format, &small)
        + 16.0;
    let height = format.height((around + STEP * SIDE as f64).ceil());
    let svg = super::canvas::sheet(format, height, |canvas| picture.body(canvas))?;
    Ok(Some(finish(format, "hundred", &told.title, &finding, height, &svg)))
}

/// How a mark looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    Disc,
    Ring,
    Cross,
}

/// One way in which a future can end.
#[derive(Debug, Clone, PartialEq)]
struct Outcome {
    mark: Mark,
    /// Share of the runs.
    share: f64,
    /// The same with its interval, where it is no difference of two.
    known: Option<Share>,
    /// As the finding goes on: "later".
    said: String,
    /// As the key names it: "paid back later".
    named: String,
}

/// The outcomes and what they are outcomes of.
#[derive(Debug, Clone, PartialEq)]
struct Told {
    title: String,
    outcomes: Vec<Outcome>,
    runs: u64,
    /// Whether a future is also a home drawn at random.
    homes: bool,
}

/// What is told: the payback that the buyer asks for before the headline's threshold.
fn told(answers: &Answers) -> Option<Told> {
    let headline = layout::headline(answers).filter(|result| result.runs > 0);
    let payback = answers.bands.as_ref().filter(|bands| !bands.paid_back.is_empty());
    let result = payback.and_then(|bands| answers.results.iter().find(|r| r.name == bands.result));
    let (title, outcomes, runs) = match (payback, headline) {
        (Some(bands), _) => {
            let runs = result.map_or(answers.sampling.runs, |r| r.runs);
            ("Whether and when the outlay comes back".to_owned(), of_payback(bands, result), runs)
        }
        (None, Some(result)) => (layout::named(&result.label), of_result(answers, result)?, result.runs),
        (None, None) => return None,
    };
    let homes = answers.inputs.iter().any(|row| row.how.ends_with("between homes"));
    let title = format!("{title}: a hundred equally likely futures");
    Some(Told { title, outcomes, runs, homes })
}

fn within(years: f64) -> String {
    let places = i32::from((years - years.round()).abs() > 1e-9);
    format!("within {}", with_unit(&grouped(years, places), "yr"))
}

/// In good time, later, never. In good time is what the result asks for, else the first half of the horizon.
fn of_payback(bands: &PaybackBands, result: Option<&Summary>) -> Vec<Outcome> {
    let years = bands.paid_back.len();
    let asked = result
        .and_then(|r| r.success.as_ref())
        .and_then(|s| s.threshold.filter(|_| !s.good_above).map(|t| (t, s.share)))
        .filter(|(limit, _)| *limit > 0.0 && *limit < years as f64);
    let halfway = years.div_ceil(2);
    let (limit, early) = match (asked, bands.paid_back.get(halfway - 1)) {
        (Some(asked), _) => asked,
        (None, Some(share)) => (halfway as f64, *share),
        (None, None) => return Vec::new(),
    };
    let never = bands.never;
    let mut outcomes = vec![Outcome {
        mark: Mark::Disc,
        share: early.value,
        known: Some(early),
        said: format!("Paid back {}", within(limit)),
        named: format!("paid back {}", within(limit)),
    }];
    if limit < years as f64 {
        outcomes.push(Outcome {
            mark: Mark::Ring,
            share: (1.0 - never.value - early.value).max(0.0),
            known: None,
            said: "later".into(),
            named: format!("paid back later, {}", within(years as f64)),
        });
    }
    outcomes.push(Outcome {
        mark: Mark::Cross,
        share: never.value,
        known: Some(never),
        said: format!("never {}", within(years as f64)),
        named: format!("not paid back {}", within(years as f64)),
    });
    outcomes
}

/// Meets the threshold or does not; of years also never.
fn of_result(answers: &Answers, result: &Summary) -> Option<Vec<Outcome>> {
    let label = layout::named(&result.label);
    let horizon = within(answers.study.years as f64);
    let never = result.never.filter(|_| result.kind == ResultKind::Years);
    let good = match &result.success {
        Some(success) => (layout::named(&success.rule), success.share),
        None => (horizon.clone(), complement(&never?)),
    };
    let rest = (1.0 - good.1.value).max(0.0);
    let mut outcomes = vec![Outcome {
        mark: Mark::Disc,
        share: good.1.value,
        known: Some(good.1),
        said: format!("{label}: {}", good.0),
        named: good.0.clone(),
    }];
    let (said, named) = match result.kind {
        ResultKind::YesNo => ("no", "no".to_owned()),
        _ => ("not so", format!("not {}", good.0)),
    };
    let between = (rest - never.map_or(0.0, |n| n.value)).max(0.0);
    if never.is_none() || (result.success.is_some() && between > 0.0) {
        let mark = if never.is_some() { Mark::Ring } else { Mark::Cross };
        let known = never.is_none().then(|| complement(&good.1));
        outcomes.push(Outcome { mark, share: between, known, said: said.into(), named });
    }
    if let Some(never) = never {
        let words = format!("never {horizon}");
        outcomes.push(Outcome {
            mark: Mark::Cross,
            share: never.value,
            known: Some(never),
            said: words.clone(),
            named: words,
        });
    }
    Some(outcomes)
}

/// The share of all others.
fn complement(share: &Share) -> Share {
    Share { value: 1.0 - share.value, low: 1.0 - share.high, high: 1.0 - share.low, interval: share.interval }
}

impl Told {
    /// Marks of each outcome, a hundred in all: whole parts, then the largest remainders.
    fn counts(&self) -> Vec<usize> {
        let shares =
            self.outcomes.iter().map(|o| if o.share.is_finite() { o.share.clamp(0.0, 1.0) } else { 0.0 });
        let shares: Vec<f64> = shares.collect();
        let sum: f64 = shares.iter().sum();
        if sum <= 0.0 {
            return vec![0; shares.len()];
        }
        // Rounded to a billionth, so that 0.29 x 100 is not 28.999...
        let parts: Vec<f64> = shares.iter().map(|s| (s / sum * 1e11).round() / 1e9).collect();
        let mut counts: Vec<usize> = parts.iter().map(|part| part.floor() as usize).collect();
        let mut order: Vec<usize> = (0..parts.len()).collect();
        order.sort_by(|&a, &b| parts[b].fract().total_cmp(&parts[a].fract()).then(a.cmp(&b)));
        let missing = (SIDE * SIDE).saturating_sub(counts.iter().sum());
        for &k in order.iter().cycle().take(missing) {
            counts[k] += 1;
        }
        counts
    }

    /// "Paid back within 10 years in about 6 in 10 of the futures tried, later in about 1 in 10, ..."
    fn finding(&self) -> String {
        let mut text = String::new();
        for (k, outcome) in self.outcomes.iter().enumerate() {
            match k {
                0 => text = format!("{} in {} of the futures tried", outcome.said, in_ten(outcome.share)),
                _ if outcome.share > 0.0 && self.outcomes[0].share < 1.0 => {
                    text.push_str(&format!(", {} in {}", outcome.said, in_ten(outcome.share)));
                }
                _ => {}
            }
        }
        text
    }

    /// What has no mark all the same, then the runs behind it.
    fn small_print(&self, answers: &Answers) -> String {
        let rare = |(outcome, count): (&Outcome, usize)| {
            (outcome.share > 0.0 && count == 0)
                .then(|| format!("Too rare for a mark: {}, in {}.", outcome.named, in_ten(outcome.share)))
        };
        let mut text: Vec<String> = self.outcomes.iter().zip(self.counts()).filter_map(rare).collect();
        text.push(layout::drawn_by(answers, self.runs));
        text.push("In brackets: 95 % interval of the share.".into());
        text.join(" ")
    }
}

struct Picture<'a> {
    told: &'a Told,
    counts: Vec<usize>,
    finding: &'a str,
    small: &'a str,
}

impl Picture<'_> {
    fn subtitle(&self) -> String {
        let what = if self.told.homes { "futures, each with a home of its own" } else { "futures" };
        format!("Each mark is one of 100 equally likely {what}.")
    }

    fn body(&self, canvas: &Canvas<'_>) -> Drawn {
        let top = layout::headings(canvas, self.finding, &self.subtitle())? + 8.0;
        let bottom = layout::foot(canvas, self.small)? - 4.0;
        let step = ((bottom - top) / SIDE as f64).min(STEP);
        let left = layout::MARGIN + 2.0;
        let kinds = self.counts.iter().zip(&self.told.outcomes);
        let marks = kinds.flat_map(|(&count, outcome)| std::iter::repeat_n(outcome.mark, count));
        for (k, kind) in marks.enumerate() {
            let (row, column) = (k / SIDE, k % SIDE);
            let place = |n: usize| step * (n as f64 + 0.5);
            mark(canvas, kind, left + place(column), top + place(row), step * 0.36)?;
        }
        let middle = (top + top + step * SIDE as f64) / 2.0;
        self.key(canvas, left + step * SIDE as f64 + GAP, middle, step)
    }

    /// Mark, count, name and interval of each outcome, below each other about the middle.
    fn key(&self, canvas: &Canvas<'_>, left: f64, middle: f64, step: f64) -> Drawn {
        let line = KEY_LINE.min(step * SIDE as f64 / self.counts.len().max(1) as f64);
        let mut y = middle - line * (self.counts.len() as f64 - 1.0) / 2.0;
        let words = left + 22.0;
        let room = canvas.width - layout::MARGIN / 2.0 - words;
        for (outcome, count) in self.told.outcomes.iter().zip(&self.counts) {
            mark(canvas, outcome.mark, left + 4.0, y - 13.0, 8.0)?;
            canvas.text(&format!("{count} of 100"), words, y - 13.0, Align::Left, HEADING)?;
            let mut lines = LABEL.wrap(&outcome.named, room, 2);
            lines.extend(outcome.known.as_ref().and_then(interval));
            // What would reach the next count is left out.
            lines.truncate(1 + ((line - 30.0).max(0.0) / LABEL.leading()) as usize);
            canvas.lines(&lines, words, y + 5.0, Align::Left, LABEL)?;
            y += line;
        }
        Ok(())
    }
}

/// "(57 to 61 in 100)", unless it has no length.
fn interval(share: &Share) -> Option<String> {
    let length = (share.high - share.low) * 100.0;
    let places = (-exponent(length / 2.0)).clamp(0, 1);
    let ends = [share.low, share.high].map(|end| grouped(end * 100.0, places));
    (length > 0.05).then(|| format!("({} to {} in 100)", ends[0], ends[1]))
}

fn mark(canvas: &Canvas<'_>, mark: Mark, x: f64, y: f64, radius: f64) -> Drawn {
    match mark {
        Mark::Disc => canvas.dot(x, y, radius, colour::BLUE),
        Mark::Ring => canvas.ring(x, y, radius * 0.84, colour::ORANGE, radius * 0.34),
        Mark::Cross => {
            let arm = radius * 0.74;
            for (from, to) in
                [((x - arm, y - arm), (x + arm, y + arm)), ((x - arm, y + arm), (x + arm, y - arm))]
            {
                canvas.line(&[from, to], colour::DARK_VERMILION, 1.0, radius * 0.34)?;
            }
            Ok(())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::Interval;
    use crate::chart::fixture;

    fn of_shares(shares: &[f64]) -> Told {
        let outcome = |&share: &f64| Outcome {
            mark: Mark::Disc,
            share,
            known: None,
            said: "so".into(),
            named: "so".into(),
        };
        let outcomes = shares.iter().map(outcome).collect();
        Told { title: String::new(), outcomes, runs: 1, homes: false }
    }

    #[test]
    fn the_largest_remainders_get_the_last_marks() {
        for (shares, counts) in [
            (vec![0.594, 0.203, 0.203], vec![60, 20, 20]),
            (vec![0.333, 0.333, 0.334], vec![33, 33, 34]),
            (vec![0.005, 0.995], vec![1, 99]),
            (vec![0.29, 0.71], vec![29, 71]),
            (vec![0.004, 0.996], vec![0, 100]),
            (vec![1.0, 0.0, 0.0], vec![100, 0, 0]),
            (vec![0.0, 0.0, 1.0], vec![0, 0, 100]),
            (vec![f64::NAN, 0.5], vec![0, 100]),
            (vec![0.0, 0.0], vec![0, 0]),
        ] {
            assert_eq!(of_shares(&shares).counts(), counts, "{shares:?}");
        }
    }

    #[test]
    fn marks_are_always_a_hundred_and_never_further_than_one_from_the_share() {
        for a in 0..=60 {
            for b in 0..=60 - a {
                let shares = [f64::from(a) / 60.0, f64::from(b) / 60.0, f64::from(60 - a - b) / 60.0];
                let counts = of_shares(&shares).counts();
                assert_eq!(counts.iter().sum::<usize>(), 100);
                for (share, count) in shares.iter().zip(counts) {
                    assert!((share * 100.0 - count as f64).abs() < 1.0, "{shares:?}");
                }
            }
        }
    }

    #[test]
    fn payback_is_told_in_three_parts() {
        let chart = hundred(&fixture::answers()).unwrap().unwrap();
        // 0.65 (1 - exp(-(10/9)^2.2)) / 0.99695 = 0.466 by year 10; 0.65 by year 20.
        assert_eq!(
            chart.finding,
            "Paid back within 10 years in about half of the futures tried, later in about 2 in 10, \
             never within 20 years in about 4 in 10"
        );
        for count in ["47 of 100", "18 of 100", "35 of 100"] {
            assert!(chart.svg.contains(count), "{count}");
        }
    }

    #[test]
    fn without_payback_the_headlines_threshold_is_told() {
        let mut answers = fixture::answers();
        (answers.bands, answers.study.payback) = (None, None);
        let chart = hundred(&answers).unwrap().unwrap();
        assert_eq!(
            chart.finding,
            "Net present value: at least 0 EUR in about 6 in 10 of the futures tried, not so in about 4 in 10"
        );
        assert!(chart.svg.contains("59 of 100") && chart.svg.contains("41 of 100"));
        answers.results[0].success = None;
        answers.study.headline.clone_from(&answers.results[0].name);
        assert_eq!(hundred(&answers).unwrap(), None);
        answers.results.clear();
        assert_eq!(hundred(&answers).unwrap(), None);
    }

    #[test]
    fn what_is_too_rare_for_a_mark_is_named() {
        let mut answers = fixture::answers();
        let rare = Share { value: 0.003, low: 0.001, high: 0.006, interval: Interval::Wilson };
        if let Some(bands) = &mut answers.bands {
            bands.never = rare;
            for share in &mut bands.paid_back[9..] {
                *share = complement(&rare);
            }
        }
        let told = told(&answers).unwrap();
        assert_eq!(told.counts(), [100, 0, 0]);
        let small = told.small_print(&answers);
        assert!(
            small.starts_with("Too rare for a mark: not paid back within 20 years, in fewer than 1 in 100."),
            "{small}"
        );
    }

    #[test]
    fn no_outcome_is_told_by_colour_alone() {
        let answers = fixture::answers();
        let marks: Vec<Mark> = told(&answers).unwrap().outcomes.iter().map(|o| o.mark).collect();
        assert_eq!(marks, [Mark::Disc, Mark::Ring, Mark::Cross]);
    }
}
