//! In words: when a result fails, and whether it keeps what was promised.

use crate::analysis::Answers;
use crate::analysis::conditions::Of;

use super::numbers::{clean, in_sentence, shortened};
use super::terminal::wrapped;

/// Under which conditions a result fails, where any were found.
pub(super) fn failing(answers: &Answers) -> Option<String> {
    let found = answers.failing.as_ref()?;
    let label = in_sentence(&shortened(&clean(&found.label), 80));
    let title = match found.conditions.of {
        Of::Failures => "When it fails",
        Of::Successes => "When it succeeds",
    };
    let said = match found.conditions.boxes.first() {
        Some(found) => &found.words,
        None => found.conditions.notes.last()?,
    };
    Some(wrapped(&format!("{title} ({label} {}). {said}", clean(&found.rule)), ""))
}

/// The seller's promises against the runs.
pub(super) fn claim(answers: &Answers) -> Option<String> {
    let found = answers.claim.as_ref()?;
    let mut out = String::from("What was promised:\n");
    for promise in &found.promises {
        out.push_str(&wrapped(&promise.words, "  "));
    }
    out.push_str(&wrapped(&found.words, "  "));
    Some(out)
}
