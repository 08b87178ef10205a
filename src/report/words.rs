//! The answer in plain sentences, and the cautions that stand beside it.
//!
//! Written for a buyer: shares as "7 in 10", no percentiles, no more digits
//! than the sampling error supports.

use crate::analysis::{Answers, Estimate, Figure, PaybackBands, ResultKind, Summary};

use super::numbers::{clean, in_prose, in_sentence, in_ten, shortened, with_unit};

/// Two sentences: whether it pays back, and how the headline result comes out.
/// Where the study has no payback, or payback is the headline, both speak of
/// the headline.
pub fn sentences(answers: &Answers) -> [String; 2] {
    let headline =
        answers.results.iter().find(|r| r.name == answers.study.headline).or_else(|| answers.results.first());
    let payback = answers
        .study
        .payback
        .as_ref()
        .and_then(|name| answers.results.iter().find(|r| &r.name == name && r.kind == ResultKind::Years));
    match (headline, payback) {
        (None, _) => ["The study names no result.".into(), "Nothing can be said.".into()],
        (Some(headline), Some(payback)) if headline.name != payback.name => {
            [payback_sentence(answers, payback), headline_sentence(answers, headline)]
        }
        (Some(headline), Some(_)) => [payback_sentence(answers, headline), base_sentence(answers, headline)],
        (Some(headline), None) => [headline_sentence(answers, headline), base_sentence(answers, headline)],
    }
}

fn estimate(result: &Summary, p: f64) -> Option<&Estimate> {
    result.percentiles.iter().find(|q| (q.p - p).abs() < 1e-9).map(|q| &q.estimate)
}

fn years(n: usize) -> String {
    with_unit(&n.to_string(), "yr")
}

/// First year by whose end a share of the runs has paid back.
fn year_of(bands: &PaybackBands, share: f64) -> Option<usize> {
    bands.paid_back.iter().position(|s| s.value >= share).map(|i| i + 1)
}

fn payback_sentence(answers: &Answers, payback: &Summary) -> String {
    let never = payback.never.map_or(0.0, |never| never.value);
    let within = years(answers.study.years);
    let paid = 1.0 - never;
    if paid <= 0.0 {
        return format!("In none of the futures tried does the outlay come back within {within}.");
    }
    let half = answers
        .bands
        .as_ref()
        .filter(|bands| bands.result == payback.name)
        .and_then(|bands| year_of(bands, paid / 2.0))
        .filter(|&year| year < answers.study.years);
    let head = format!("In {} of the futures tried, the outlay comes back within {within}", in_ten(paid));
    match half {
        Some(year) => format!("{head}, in half of these by year {year}."),
        None => format!("{head}."),
    }
}

fn headline_sentence(answers: &Answers, result: &Summary) -> String {
    let horizon = years(answers.study.years);
    let label = subject(&result.label);
    match result.kind {
        ResultKind::YesNo => match &result.success {
            Some(success) => {
                let question = first_upper(&clean(&result.label));
                format!(
                    "{question}: within {horizon}, the answer is yes in {} of the futures tried.",
                    in_ten(success.share.value)
                )
            }
            None => format!("Over {horizon}, {label} has no answer in any future tried."),
        },
        ResultKind::Years => {
            let never = result.never.map_or(0.0, |never| never.value);
            let no = if never > 0.0 {
                format!("never within {horizon} in {} of them", in_ten(never))
            } else {
                String::new()
            };
            let middle = estimate(result, 0.5).filter(|e| e.value != Figure::Never);
            let label = first_upper(&clean(&result.label));
            match middle {
                Some(e) => {
                    let value = in_prose(e, &result.unit, &answers.study.currency);
                    let value = with_unit(&value, &result.unit);
                    let no = if no.is_empty() { format!("always within {horizon}") } else { no };
                    format!("{label}: at most {value} in half of the futures tried, {no}.")
                }
                None => format!("{label}: never within {horizon} in {} of the futures tried.", in_ten(never)),
            }
        }
        ResultKind::Number => number_sentence(answers, result, &horizon, &label),
    }
}

fn number_sentence(answers: &Answers, result: &Summary, horizon: &str, label: &str) -> String {
    let currency = &answers.study.currency;
    let lead = result.success.as_ref().map(|success| {
        format!("{} in {} of the futures tried", clean(&success.rule), in_ten(success.share.value))
    });
    let text = |p: f64| {
        let e = estimate(result, p)?;
        e.value.number().map(|_| in_prose(e, &result.unit, currency))
    };
    let range = match (text(0.1), text(0.9)) {
        (Some(low), Some(high)) if low == high => {
            Some(format!("about {} in 8 of 10", with_unit(&high, &result.unit)))
        }
        (Some(low), Some(high)) => {
            Some(format!("between {low} and {} in 8 of 10", with_unit(&high, &result.unit)))
        }
        _ => None,
    };
    match (lead, range) {
        (Some(lead), Some(range)) => format!("Over {horizon}, {label} is {lead}, and {range}."),
        (Some(lead), None) => format!("Over {horizon}, {label} is {lead}."),
        (None, Some(range)) => format!("Over {horizon}, {label} is {range} of the futures tried."),
        (None, None) => format!("Over {horizon}, {label} is a number in no future tried."),
    }
}

fn base_sentence(answers: &Answers, result: &Summary) -> String {
    let currency = &answers.study.currency;
    let horizon = years(answers.study.years);
    let head = format!("With every input at its base value over {horizon},");
    if result.kind == ResultKind::YesNo {
        let share = result.success.as_ref().map(|success| success.share.value);
        return match (result.base, share) {
            (Figure::Number(0.0), Some(share)) => {
                format!("{head} the answer is no, as it is in {} of the futures tried.", in_ten(1.0 - share))
            }
            (Figure::Number(_), Some(share)) => {
                format!("{head} the answer is yes, as it is in {} of the futures tried.", in_ten(share))
            }
            _ => format!("{head} there is no answer."),
        };
    }
    let base = super::numbers::figure(result.base, None, &result.unit, currency);
    let base = match result.base {
        Figure::Number(_) => with_unit(&base, &result.unit),
        _ => base,
    };
    let rank = match (result.base_rank.map(|rank| rank.value), result.kind) {
        (Some(rank), ResultKind::Years) if result.base != Figure::Never => {
            format!("; it is shorter in {} of the futures tried", in_ten(rank))
        }
        (Some(rank), ResultKind::Number) => {
            format!("; it is lower in {} of the futures tried", in_ten(rank))
        }
        _ => String::new(),
    };
    format!("{head} {} is {base}{rank}.", subject(&result.label))
}

/// A label as the subject of a sentence: one with a comma in it needs another behind it.
pub(crate) fn subject(label: &str) -> String {
    let label = in_sentence(&shortened(&clean(label), 120));
    if label.contains(',') { format!("{label},") } else { label }
}

pub(crate) fn first_upper(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// What the study is about, as far as safety is concerned.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Touches {
    /// Equipment on the mains, or electricity sold to the grid.
    pub mains: bool,
    /// Stored hot water.
    pub hot_water: bool,
}

impl Touches {
    /// A guess from the words of the study: better one caution too many than one too few.
    pub fn of(answers: &Answers) -> Self {
        let mut text = format!(
            "{} {} {}",
            answers.study.title,
            answers.study.question.as_deref().unwrap_or(""),
            answers.sampling.dimensions.join(" ")
        );
        for result in &answers.results {
            text.push_str(&format!(" {} {}", result.name, result.label));
        }
        for row in answers.tornado.iter().flat_map(|tornado| &tornado.rows) {
            text.push_str(&format!(" {} {}", row.name, row.label));
        }
        let text = text.to_lowercase();
        let any = |words: &[&str]| words.iter().any(|word| text.contains(word));
        let hot_water = any(&["hot water", "hot_water", "cylinder", "boiler", "legionella", "water_heat"]);
        Touches {
            mains: hot_water
                || any(&[
                    "electric", "solar", "panel", "surplus", "export", "inverter", "battery", "wiring", "kwp",
                ]),
            hot_water,
        }
    }
}

/// The caution that every answer carries.
pub const GENERAL: &str = "Only figures: this is a calculation from what was typed in and from uncertain \
     figures. It is no financial, engineering or safety advice, and what happens will differ.";

/// Cautions for work on the mains and for electricity sold.
pub const MAINS: [&str; 5] = [
    "Fitting a controller or an element is mains work: have it done and tested by an electrician licensed or \
     registered where you live, under the local wiring code; it may have to be notified.",
    "An element draws its full current for hours: cable, switch and controller must be rated for continuous \
     load. If a fitting is warm or discoloured, switch off and call an electrician.",
    "Export prices and rules can change or end, and exporting may need an agreement with the network operator \
     and a suitable meter: read your contract before you count on either side of this sum.",
    "Set up wrongly, a controller can empty a battery into the tank: ask the installer which takes priority.",
    "Ask makers in writing whether the change affects the warranty of cylinder, boiler, battery or inverter.",
];

/// Cautions for stored hot water.
pub const HOT_WATER: [&str; 5] = [
    "Lukewarm water can breed Legionella: whatever the sun does, the whole cylinder must reach the temperature \
     that local rules ask for (commonly 60 degC) as often as they ask, by a back-up heater that does so by itself.",
    "Stored hot water can scald in seconds: if it will run hotter than before, have a plumber check the mixing valves.",
    "Only a person qualified for sealed (unvented) cylinders may alter one; never bypass or remove a safety device.",
    "Every element needs its own working thermostat and over-temperature cut-out; have old ones checked first.",
    "With the boiler off for the summer, cloudy spells leave the water cold, and the hygiene heat-up must still happen.",
];

/// The cautions that apply, the general one first.
pub fn cautions(touches: Touches) -> Vec<&'static str> {
    let mut out = vec![GENERAL];
    if touches.mains {
        out.extend(MAINS);
    }
    if touches.hot_water {
        out.extend(HOT_WATER);
    }
    out
}

/// The cautions as one compact paragraph, for the terminal's last lines.
pub fn cautions_in_short(touches: Touches) -> String {
    let mut text = GENERAL.to_string();
    if touches.mains {
        text.push_str(
            " Mains work is for a licensed electrician, and a warm fitting is a reason to switch off; read your \
             export contract and warranties first.",
        );
    }
    if touches.hot_water {
        text.push_str(
            " The whole cylinder must still reach the temperature that local rules ask for against Legionella \
             (commonly 60 degC), mixing valves must limit what reaches the taps, and no safety device may be bypassed.",
        );
    }
    if touches.mains || touches.hot_water {
        text.push_str(" Local codes and licensed practice go before anything said here.");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;

    #[test]
    fn two_sentences_for_the_buyer() {
        let [payback, headline] = sentences(&fixture::answers());
        // The fixture's curve: 0.65 (1 - exp(-(t/9)^2.2)) / (1 - exp(-(20/9)^2.2)) passes 0.325 between years 7 and 8.
        assert_eq!(
            payback,
            "In about 7 in 10 of the futures tried, the outlay comes back within 20 years, \
             in half of these by year 8."
        );
        // Normal with mean 75 and sd 330: 75 -+ 1.2816 x 330 = -348 and 498, known to about 8; P(x >= 0) = 0.59.
        assert_eq!(
            headline,
            "Over 20 years, net present value is at least 0 EUR in about 6 in 10 of the futures tried, \
             and between -350 and 500 EUR in 8 of 10."
        );
    }

    #[test]
    fn the_ends_are_said_as_they_are() {
        let [all, _] = sentences(&fixture::answers_of(1, 1.0));
        assert_eq!(all, "In all of the futures tried, the outlay comes back within 1 year.");
        let [none, base] = sentences(&fixture::all_never());
        assert_eq!(none, "In none of the futures tried does the outlay come back within 20 years.");
        assert!(base.contains("is never"), "{base}");
        let mut empty = fixture::answers();
        empty.results.clear();
        assert_eq!(sentences(&empty)[0], "The study names no result.");
    }

    #[test]
    fn without_payback_both_sentences_are_about_the_headline() {
        let mut answers = fixture::answers();
        answers.study.payback = None;
        let [first, second] = sentences(&answers);
        assert!(first.starts_with("Over 20 years, net present value is at least 0 EUR"));
        assert_eq!(
            second,
            "With every input at its base value over 20 years, net present value is 9 EUR; \
             it is lower in about 4 in 10 of the futures tried."
        );
        answers.study.headline = "pays_back".into();
        let [first, second] = sentences(&answers);
        assert_eq!(
            first,
            "Pays back: within 20 years, the answer is yes in about 7 in 10 of the futures tried."
        );
        assert_eq!(
            second,
            "With every input at its base value over 20 years, the answer is yes, \
             as it is in about 7 in 10 of the futures tried."
        );
    }

    #[test]
    fn a_headline_in_years() {
        let mut answers = fixture::about_payback();
        answers.study.payback = None;
        let [first, second] = sentences(&answers);
        // 0.65 (1 - exp(-(t/9)^2.2)) / 0.99695 = 0.5 where t = 9 x 1.4562^(1/2.2) = 10.68; at the base, 10.4, it is 0.487.
        assert_eq!(
            first,
            "Payback: at most 10.7 years in half of the futures tried, never within 20 years in about 4 in 10 of them."
        );
        assert_eq!(
            second,
            "With every input at its base value over 20 years, payback is 10.4 years; \
             it is shorter in about half of the futures tried."
        );
        answers.study.payback = Some("payback".into());
        assert!(sentences(&answers)[0].ends_with("in half of these by year 8."));
    }

    #[test]
    fn the_buyer_sees_no_percentile() {
        for answers in
            [fixture::answers(), fixture::about_payback(), fixture::all_never(), fixture::all_equal()]
        {
            for sentence in sentences(&answers) {
                assert!(
                    !sentence.contains("percentile") && !sentence.contains("P10") && !sentence.contains('%')
                );
                assert!(sentence.ends_with('.') && !sentence.contains("  "), "{sentence}");
            }
        }
    }

    #[test]
    fn cautions_follow_the_matter() {
        assert_eq!(Touches::of(&fixture::answers()), Touches { mains: true, hot_water: true });
        let mut dry = fixture::answers();
        dry.study.title = "A new loading bay".into();
        dry.study.question = None;
        dry.sampling.dimensions.clear();
        dry.tornado = None;
        assert_eq!(Touches::of(&dry), Touches::default());
        assert_eq!(cautions(Touches::default()), [GENERAL]);
        assert_eq!(cautions(Touches { mains: true, hot_water: true }).len(), 11);
        let short = cautions_in_short(Touches { mains: true, hot_water: true });
        assert!(short.contains("Legionella") && short.contains("electrician") && short.len() < 800);
    }
}
