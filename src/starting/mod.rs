//! Starting: from a buyer's answers to a study, and the studies to start from for the other two users.
//!
//! Pure functions: answers in, the text of a study out. Knows the questions, what may be answered, the rows of the
//! buyer's study and what each figure leans on. Knows no terminal, no files and no clock: `cli/new.rs` asks and writes.

mod answers;
mod home;
mod money;
mod parse;
mod questions;
mod study;
mod templates;
mod toml_text;

pub use answers::{Answer, Answers, Export, Heater, LineAmount, Shower, ShowerLength};
pub use questions::{QUESTIONS, Question, Reply, Sort};
pub use study::study_of;
pub use templates::{CONSULTANT, RESEARCHER};

/// Cautions that stand where somebody acts on the answer: domain knowledge in our own words; they replace no local code.
pub const CAUTIONS: [&str; 7] = [
    "Fitting a controller or an element is mains work: for an electrician licensed where you live.",
    "The whole cylinder must still reach the temperature that local rules ask for (commonly 60 degC), sun or no sun: \
     lukewarm water can breed Legionella. Keep a back-up heater that does this by itself.",
    "Hot water scalds: if the cylinder will run hotter than before, have mixing valves checked.",
    "Sealed cylinders are altered only by people qualified for them; no safety device is bypassed.",
    "Ask in writing what the change does to warranties, and with a battery which of the two comes first.",
    "Export prices and rules can change; some contracts restrict what you may do with your surplus.",
    "The answer is a calculation from what you typed and from uncertain figures: no financial, engineering or safety advice.",
];
