//! The questions: ten, some of several lines. Each has a usual answer, a "don't know", and a word on why it is asked.

use super::answers::{Answer, Answers};
use super::parse;

/// What came back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reply {
    /// The usual figure.
    Usual,
    /// "Don't know".
    Unknown,
    /// Something was typed.
    Typed(String),
}

/// What the usual answer means, as it stands in brackets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sort {
    /// A figure or word.
    Figure,
    /// Nothing: the line may be left out.
    Optional,
}

/// A question, or a line of one.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// Name of its flag, without dashes.
    pub flag: &'static str,
    /// Its number, from 1.
    pub number: u8,
    /// Heading of the question where it has several lines and this is the first.
    pub heading: Option<&'static str>,
    /// What is asked.
    pub ask: &'static str,
    /// Why, and where the answer is found.
    pub explain: &'static str,
    /// What Enter stands for.
    pub usual: fn(&Answers) -> String,
    /// Whether Enter means a figure or nothing.
    pub sort: Sort,
    /// Whether other answers make it needless.
    pub needless: fn(&Answers) -> bool,
    take: fn(&mut Answers, Reply) -> Result<(), String>,
}

impl Question {
    /// Puts a reply among the answers.
    ///
    /// # Errors
    /// With what would be right.
    pub fn answer(&self, answers: &mut Answers, reply: Reply) -> Result<(), String> {
        (self.take)(answers, reply)
    }

    /// How many questions there are, lines of one counted once.
    pub fn total() -> u8 {
        QUESTIONS.iter().map(|q| q.number).max().unwrap_or(0)
    }
}

fn put<T>(
    slot: &mut Answer<T>,
    reply: Reply,
    read: impl Fn(&str) -> Result<T, String>,
) -> Result<(), String> {
    *slot = match reply {
        Reply::Usual => Answer::Usual,
        Reply::Unknown => Answer::Unknown,
        Reply::Typed(text) => Answer::Given(read(&text)?),
    };
    Ok(())
}

/// The usual price of the fuel, which the words in brackets name.
fn usual_fuel(answers: &Answers) -> String {
    super::money::fuel(&answers.heater).usual.mode.to_string()
}

macro_rules! question {
    ($flag:literal, $number:literal, $heading:expr, $ask:literal, $usual:expr, $sort:ident, $needless:expr,
     $field:ident by $read:expr, $explain:literal) => {
        Question {
            flag: $flag,
            number: $number,
            heading: $heading,
            ask: $ask,
            explain: $explain,
            usual: $usual,
            sort: Sort::$sort,
            needless: $needless,
            take: |answers, reply| put(&mut answers.$field, reply, $read),
        }
    };
}

const ALWAYS: fn(&Answers) -> bool = |_| false;
const YEARS: [&str; 4] = [" years", " year", " yr", " y"];
const QUOTE: &str =
    "The quote, line by line. Write \"without VAT\" after an amount to which VAT is still added.";
const PROMISE: &str = "What the seller promised. Enter where nothing was said.";

/// All questions, in order.
pub const QUESTIONS: [Question; 21] = [
    question!("people", 1, None, "How many people live in your home?", |_| "3".into(), Figure, ALWAYS,
        people by |t| parse::number(t, 1.0, 12.0, &[" people", " person"], "3"),
        "Count everyone who showers there most weeks. Half a person is allowed: 2.5."),
    question!("heats-shower", 2, None, "What heats the water of the shower: cylinder, electric, or both?",
        |_| "cylinder".into(), Figure, ALWAYS, heats_shower by parse::shower,
        "\"electric\" is a shower that heats its own water (a box on the wall with its own switch), or any heater of \
         its own. Such a shower takes nothing from the cylinder, so there is less for the sun to do. \"both\": one of each."),
    question!("showers", 3, None, "How many showers does each of you take in a day?", |_| "0.7".into(), Figure,
        Answers::showers_do_not_count, showers by |t| parse::number(t, 0.0, 5.0, &[" a day"], "0.7 (five a week)"),
        "In the mean over a week: one every day is 1, one every second day 0.5."),
    question!("shower-length", 4, None, "How long are your showers: short, medium or long?", |_| "medium".into(),
        Figure, Answers::showers_do_not_count, shower_length by parse::length,
        "Short is about four minutes, medium seven, long twelve and more."),
    question!("baths", 5, None, "How many baths are taken in your home in a week, all together?", |_| "2".into(),
        Figure, ALWAYS, baths by |t| parse::number(t, 0.0, 50.0, &[" a week"], "2"),
        "Baths from the cylinder. None is 0."),
    question!("heater", 6, None, "What heats the cylinder now: gas, oil, LPG, off-peak, day electricity or heat pump?",
        |_| "gas".into(), Figure, ALWAYS, heater by parse::heater,
        "The heater that would burn less. \"off-peak\" is electricity at night on a cheaper price; LPG is gas from a \
         bottle or tank."),
    question!("heat-price", 6, None, "What do you pay for a kWh of it?", usual_fuel, Figure, ALWAYS,
        heat_price by parse::price,
        "The price for one kWh on your bill, taxes in, without the standing charge: 11.2 cents is 0.112. A litre of \
         oil holds about 10 kWh, a kilogram of LPG about 13.8."),
    question!("export", 7, None, "Size of your panels (as 3.6 kWp), or what they sent to the grid in a year (as 1800 kWh)?",
        |_| "3.6 kWp".into(), Figure, |a| a.meter.given().is_some(), export by parse::export,
        "The year's export stands on your bill or in the inverter's app and is worth more than the panels' size: sizes \
         are turned into export for a cloudy climate at 53 degrees north, and a sunnier place sends more."),
    question!("export-price", 7, None, "What are you paid for a kWh that you send to the grid?", |_| "0.075".into(),
        Figure, ALWAYS, export_price by parse::price,
        "From your contract or bill: 7.5 cents is 0.075. Nothing is 0. What you are paid for export you lose when it \
         goes into the water."),
    question!("seller", 8, Some(QUOTE), "Who made the quote?", |_| "nobody named".into(), Optional, ALWAYS,
        seller by parse::words, "Only so that your study says which quote it is about."),
    question!("controller", 8, None, "The controller?", |_| "320".into(), Figure, ALWAYS, controller by parse::line,
        "What the quote asks for the device alone. A quote with one sum only: give it here, and 0 for the electrician."),
    question!("electrician", 8, None, "The electrician, material included?", |_| "220".into(), Figure, ALWAYS,
        electrician by parse::line, "Two to four hours of work, cable and a switch."),
    question!("element", 8, None, "A new element or thermostat, if one is needed?", |_| "perhaps".into(), Figure,
        ALWAYS, element by parse::line,
        "0 if somebody has looked and none is needed. Enter: needed in one home of seven. An element without a working \
         thermostat and cut-out of its own must not be used."),
    question!("other", 8, None, "Anything else in the quote?", |_| "nothing".into(), Figure, ALWAYS, other by parse::line,
        "Such as a meter, a longer cable, a mixing valve, the notification."),
    question!("vat", 8, None, "The rate of VAT, in per cent?", |_| "21".into(), Figure, |a| !a.vat_matters(),
        vat by |t| parse::number(t, 0.0, 40.0, &[" %", "%", " per cent"], "21"),
        "It is added to the lines that are without it. You pay it, so it counts."),
    question!("valid-until", 8, None, "Until when is the quote valid?", |_| "not said".into(), Optional, ALWAYS,
        valid_until by parse::date, "As the quote writes it. It stands in your study, so that nobody decides on an old price."),
    question!("promised-payback", 9, Some(PROMISE), "In how many years was it to pay for itself?", |_| "not said".into(),
        Optional, ALWAYS, promised_payback by |t| parse::number(t, 0.1, 60.0, &YEARS, "6"),
        "The answer says how often that comes true."),
    question!("promised-saving", 9, None, "How much was it to save in the first year?", |_| "not said".into(), Optional,
        ALWAYS, promised_saving by |t| parse::number(t, 0.0, 20_000.0, &[], "90"), "In your currency. The answer says how often that comes true."),
    question!("promised-life", 9, None, "How many years was it to last?", |_| "not said".into(), Optional, ALWAYS,
        promised_life by |t| parse::number(t, 0.1, 60.0, &YEARS, "15"),
        "A promise, not a warranty. It does not change what the study takes for its life."),
    question!("warranty", 9, None, "How many years of warranty are in writing?", |_| "2".into(), Figure, ALWAYS,
        warranty by |t| parse::number(t, 0.0, 30.0, &YEARS, "3"),
        "What fails within the warranty is taken as made good without cost. 2 years are the legal minimum in the EU."),
    question!("meter", 10, None, "Have you a file of half-hourly meter readings? Its name:", |_| "none".into(), Optional,
        ALWAYS, meter by parse::file,
        "A CSV file from your network operator, made before any such controller was fitted, in the folder of the \
         study. With it your own export is used, half hour by half hour, in place of the panels' size. \
         `payspread meter FILE` shows how it is read."),
];
