//! `new`: asks, and writes a study.
//!
//! Questions go to standard error, so that `--out -` gives the study alone. Where standard input is no terminal its lines
//! are the answers, one to a line, just as they would be typed; a script that cannot answer says `--rest`.

mod asking;

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::failure::Failure;
use super::files::OutputFolder;
use super::options::General;
use super::terminal::Terminal;
use crate::hotwater::readings;
use crate::model::{self, Model};
use crate::report::numbers::clean;
use crate::starting::{Answers, CAUTIONS, CONSULTANT, QUESTIONS, RESEARCHER, Reply, study_of};
use crate::study::{self, Beside, Source, pin};
use asking::{Typed, ask, reply_of};

/// Most digits and letters of a currency's name.
const CURRENCY: usize = 3;

/// Write a study: from ten plain questions, or a template for a consultant or a researcher
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  payspread new
  payspread new --out our-home.toml
  payspread new --people 3 --heats-shower electric --export '1800 kWh' --controller '260 without VAT' --rest usual
  payspread new --for consultant --out feasibility.toml

Each answer may be a figure, `usual` (the figure in brackets, with its usual range) or `unknown` (\"don't know\": a wide
range). What a flag answers is not asked. Where standard input is no terminal, its lines are taken for the answers, one to
a line; with --rest nothing is read.")]
pub(super) struct New {
    /// Whose study it is
    #[arg(long = "for", value_enum, value_name = "USER", default_value_t = Whose::Buyer)]
    whose: Whose,
    /// File to write, never one that exists; `-` is standard output
    #[arg(long, value_name = "FILE", default_value = "study.toml")]
    out: PathBuf,
    /// What stands for every question that no flag answers; nothing is asked then
    #[arg(long, value_enum, value_name = "usual|unknown")]
    rest: Option<Rest>,
    /// Currency of all amounts, such as EUR
    #[arg(long, value_name = "CODE", value_parser = currency)]
    currency: Option<String>,
    /// First year of the study [default: 2027]
    #[arg(long, value_name = "YEAR", value_parser = clap::value_parser!(u32).range(2020..=2100))]
    first_year: Option<u32>,
    /// Date that your answers are of, such as 2026-11: it stands beside them
    #[arg(long, value_name = "DATE", value_parser = month)]
    as_of: Option<String>,
    #[command(flatten)]
    flags: Flags,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Whose {
    /// One home, a quote in hand, no statistics
    Buyer,
    /// A feasibility study by the month
    Consultant,
    /// A scheme of many homes
    Researcher,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Rest {
    /// The usual figures, with their usual ranges
    Usual,
    /// "Don't know": wide ranges
    Unknown,
}

macro_rules! flags {
    ($($field:ident $flag:literal $value:literal $help:literal;)*) => {
        #[derive(Debug, Args)]
        #[command(next_help_heading = "Answers")]
        struct Flags {
            $(#[arg(long = $flag, value_name = $value, help = $help, allow_negative_numbers = true)] $field: Option<String>,)*
        }
        impl Flags {
            fn all(&self) -> Vec<(&'static str, Option<&str>)> {
                vec![$(($flag, self.$field.as_deref()),)*]
            }
        }
    };
}

flags! {
    people "people" "N" "People living in your home";
    heats_shower "heats-shower" "WHAT" "cylinder, electric (heats its own water), or both";
    showers "showers" "N" "Showers that each of you takes in a day";
    shower_length "shower-length" "WORD" "short, medium or long";
    baths "baths" "N" "Baths a week, all together";
    heater "heater" "WHAT" "gas, oil, lpg, off-peak, day-electricity or heat-pump";
    heat_price "heat-price" "PRICE" "Price of a kWh of it";
    export "export" "SIZE" "Size of the panels (3.6 kWp) or a year's export (1800 kWh)";
    export_price "export-price" "PRICE" "What you are paid for a kWh of export";
    seller "seller" "NAME" "Who made the quote";
    controller "controller" "AMOUNT" "The controller; `260 without VAT` where VAT is still added";
    electrician "electrician" "AMOUNT" "The electrician";
    element "element" "AMOUNT" "A new element or thermostat; 0 if none is needed";
    other "other" "AMOUNT" "Other lines of the quote";
    vat "vat" "PERCENT" "Rate of VAT";
    valid_until "valid-until" "DATE" "Until when the quote is valid";
    promised_payback "promised-payback" "YEARS" "Promised: years until it has paid for itself";
    promised_saving "promised-saving" "AMOUNT" "Promised: saving in the first year";
    promised_life "promised-life" "YEARS" "Promised: years that it lasts";
    warranty "warranty" "YEARS" "Years of warranty in writing";
    meter "meter" "FILE" "Half-hourly meter readings (CSV), in the folder of the study";
}

impl New {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        self.free()?;
        let text = match self.whose {
            Whose::Buyer => self.study_of_flags(general)?,
            Whose::Consultant => self.template(CONSULTANT)?,
            Whose::Researcher => self.template(RESEARCHER)?,
        };
        let text = pinned(&text, &self.out)?;
        if self.to_standard_output() {
            return terminal.say(&text);
        }
        self.write(&text)?;
        terminal.say(&self.farewell())
    }

    fn to_standard_output(&self) -> bool {
        self.out.as_os_str() == "-"
    }

    /// A template takes no answers.
    fn template(&self, text: &str) -> Result<String, Failure> {
        let given = self.flags.all().into_iter().find(|(_, value)| value.is_some());
        let own = [
            ("rest", self.rest.is_some()),
            ("currency", self.currency.is_some()),
            ("first-year", self.first_year.is_some()),
            ("as-of", self.as_of.is_some()),
        ];
        let given = given
            .map(|(flag, _)| flag)
            .or_else(|| own.iter().find(|(_, there)| *there).map(|(flag, _)| *flag));
        match given {
            Some(flag) => Err(Failure::Usage {
                message: format!("a template takes no answers, and --{flag} is one"),
                hint: "leave it out and fill in the file, or leave out --for".into(),
            }),
            None => Ok(text.to_owned()),
        }
    }

    /// Known before anything is asked: an existing file is not touched.
    fn free(&self) -> Result<(), Failure> {
        if self.to_standard_output() || self.out.symlink_metadata().is_err() {
            return Ok(());
        }
        Err(taken(&self.out))
    }

    fn study_of_flags(&self, general: &General) -> Result<String, Failure> {
        let mut answers = Answers {
            currency: self.currency.clone(),
            first_year: self.first_year,
            as_of: self.as_of.clone(),
            ..Answers::default()
        };
        let folder = self.out.parent().unwrap_or(Path::new("")).to_owned();
        let mut given = vec![false; QUESTIONS.len()];
        for (place, question) in QUESTIONS.iter().enumerate() {
            let typed =
                self.flags.all().into_iter().find(|(flag, _)| *flag == question.flag).and_then(|(_, v)| v);
            let Some(typed) = typed else { continue };
            let reply = match reply_of(typed) {
                Typed::Answer(reply) => reply,
                _ => Reply::Typed(typed.to_owned()),
            };
            self.take(place, reply, &mut answers, &folder).map_err(|right| Failure::Usage {
                message: format!("--{} {} is no answer", question.flag, clean(typed)),
                hint: clean(&right),
            })?;
            given[place] = true;
        }
        match self.rest {
            Some(rest) => self.fill(rest, &given, &mut answers),
            None => ask(&given, &mut answers, general.quiet, &mut |place, reply, answers| {
                self.take(place, reply, answers, &folder)
            })?,
        }
        Ok(study_of(&answers))
    }

    /// Puts one reply among the answers; a file of readings must be there and be one.
    fn take(&self, place: usize, reply: Reply, answers: &mut Answers, folder: &Path) -> Result<(), String> {
        let Some(question) = QUESTIONS.get(place) else { return Ok(()) };
        let reply = match reply {
            Reply::Typed(text) if question.flag == "meter" && matches!(text.trim(), "none" | "no") => {
                Reply::Usual
            }
            other => other,
        };
        let before = answers.clone();
        question.answer(answers, reply)?;
        if question.flag == "meter"
            && let Some(file) = answers.meter.given()
            && let Err(right) = readable(&folder.join(file))
        {
            *answers = before;
            return Err(right);
        }
        Ok(())
    }

    fn fill(&self, rest: Rest, given: &[bool], answers: &mut Answers) {
        let reply = || match rest {
            Rest::Usual => Reply::Usual,
            Rest::Unknown => Reply::Unknown,
        };
        for (question, _) in QUESTIONS.iter().zip(given).filter(|(_, given)| !**given) {
            // Both are taken by every question.
            let _ = question.answer(answers, reply());
        }
    }

    /// Writes the file, unless one has come there meanwhile.
    fn write(&self, text: &str) -> Result<(), Failure> {
        if let Some(folder) = self.out.parent().filter(|f| !f.as_os_str().is_empty()) {
            OutputFolder::open(folder)?;
        }
        let fail = |error: &std::io::Error| match error.kind() {
            ErrorKind::AlreadyExists => taken(&self.out),
            _ => Failure::at_file("cannot write", &self.out, error),
        };
        let mut file =
            OpenOptions::new().write(true).create_new(true).open(&self.out).map_err(|e| fail(&e))?;
        let written = file.write_all(text.as_bytes()).and_then(|()| file.flush());
        written.map_err(|error| {
            // Half a study is none. The first error is the one to tell.
            let _ = std::fs::remove_file(&self.out);
            fail(&error)
        })
    }

    fn farewell(&self) -> String {
        let file = clean(&self.out.to_string_lossy());
        let mut out =
            format!("\nWritten: {file}\n\nNext:\n  payspread check {file}\n  payspread run {file}\n");
        if self.whose == Whose::Buyer {
            out.push_str("\nThe file is plain text: every figure in it can be changed, and says where it comes from.\n\nBefore you act on the answer:\n");
            for caution in CAUTIONS {
                out.push_str(&wrapped(caution));
            }
        } else {
            out.push_str("\nPlaces to fill in are marked TO FILL IN; `payspread survey` prints a form for the visit.\n");
        }
        out
    }
}

/// A line of a list at 90 columns.
fn wrapped(text: &str) -> String {
    let mut out = String::from("-");
    let mut width = 1;
    for word in text.split(' ') {
        if width + word.len() > 88 {
            out.push_str("\n ");
            width = 1;
        }
        out.push(' ');
        out.push_str(word);
        width += 1 + word.len();
    }
    out + "\n"
}

fn taken(path: &Path) -> Failure {
    let stem = path.file_stem().map_or_else(|| "study".into(), |s| s.to_string_lossy());
    let other = (2..1000).map(|n| path.with_file_name(format!("{stem}-{n}.toml"))).find(|p| !p.exists());
    let other = other.map_or_else(|| "another name".to_owned(), |p| clean(&p.to_string_lossy()));
    Failure::Usage {
        message: format!("{} is there already, and is left as it is", clean(&path.to_string_lossy())),
        hint: format!("such as --out {other}"),
    }
}

/// The study with its Sobol dimensions pinned; whatever was answered, it must be a sound study.
fn pinned(text: &str, out: &Path) -> Result<String, Failure> {
    let read = |text: &str| -> Result<Model, Failure> {
        let (made, found) = model::read_beside(text, &Beside::study(out));
        made.map(|(_, model)| model).ok_or_else(|| {
            let source = Source { name: clean(&out.to_string_lossy()), text: text.to_owned() };
            Failure::Study(study::render(&found, &source, true))
        })
    };
    let model = read(text)?;
    let machine = |what: String| Failure::Machine(format!("cannot pin the dimensions: {what}"));
    let plan = model.plan(model.design()).map_err(|error| machine(error.to_string()))?;
    let text = pin::pinned(text, plan.dimensions()).ok_or_else(|| machine("no room for them".into()))?;
    read(&text)?;
    Ok(text)
}

/// Whether there are readings in the file.
fn readable(path: &Path) -> Result<(), String> {
    let bytes = super::meter::bytes(path).map_err(|failure| match failure {
        Failure::Data { message, hint } => format!("{message}: {hint}"),
        other => other.to_string().lines().next().unwrap_or_default().replace("error: ", ""),
    })?;
    match readings::read(&bytes, &readings::Options::default()) {
        Ok(_) => Ok(()),
        Err(error) => Err(format!(
            "{}; {} (`payspread meter {}` shows how it is read)",
            error.what,
            error.right,
            path.to_string_lossy()
        )),
    }
}

fn currency(text: &str) -> Result<String, String> {
    let fits = text.len() == CURRENCY && text.bytes().all(|b| b.is_ascii_uppercase());
    if fits { Ok(text.to_owned()) } else { Err("three capital letters are wanted, such as EUR".to_owned()) }
}

fn month(text: &str) -> Result<String, String> {
    let parts: Vec<&str> = text.split('-').collect();
    let digits = |part: &&str, n: usize| part.len() == n && part.bytes().all(|b| b.is_ascii_digit());
    let fits = match parts.as_slice() {
        [year] => digits(year, 4),
        [year, month] => digits(year, 4) && digits(month, 2),
        [year, month, day] => digits(year, 4) && digits(month, 2) && digits(day, 2),
        _ => false,
    };
    if fits { Ok(text.to_owned()) } else { Err("a date is wanted, such as 2026-11 or 2026-11-28".to_owned()) }
}
