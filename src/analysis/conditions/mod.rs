//! Under which conditions a result fails: boxes of inputs in which most
//! failures lie and most runs fail (methods 12), found from the runs at hand.
//!
//! Half of the runs find a box by patient rule induction (Friedman, Fisher
//! 1999); the suggested one has the best smaller of coverage and density
//! among those with few conditions (Bryant, Lempert 2010, *Thinking inside
//! the box*). The other half says how good it is.

mod answers;
pub mod boxes;
mod halves;
pub mod lot;
pub mod peel;
mod rounding;
mod search;
mod words;

pub use answers::*;
pub use search::{Found, find};
pub(crate) use words::plain;
pub use words::{Phrases, in_words};

use crate::analysis::factors::Factor;
use crate::analysis::statistics::intervals::{CONFIDENCE, share_of_parts};
use halves::Halves;

/// Fewer runs to be looked for than this: no box.
const LEAST_HITS: u64 = 50;
/// A larger share than this: no box.
const MOST_HITS: f64 = 0.9;

/// What to look for.
#[derive(Debug, Clone, PartialEq)]
pub struct Wish {
    /// Failures or successes; none: failures, unless more than 90 % of the runs fail.
    pub of: Option<Of>,
    /// Run r belongs to replicate r mod R of a stratified method; none for independent runs.
    pub replicates: Option<u32>,
    /// How failures are spoken of.
    pub failures: Phrases,
    /// How successes are spoken of.
    pub successes: Phrases,
}

impl Wish {
    /// Failures, or successes where most runs fail.
    pub fn new(replicates: Option<u32>) -> Self {
        Wish {
            of: None,
            replicates,
            failures: Phrases::new("failures", "fail"),
            successes: Phrases::new("successes", "succeed"),
        }
    }
}

/// Conditions under which runs fail. `fails` holds a run each: whether it fails, none for a run without a result; so do the
/// columns of `factors`. The same bytes for any number of threads.
pub fn conditions(fails: &[Option<bool>], factors: &[Factor], wish: &Wish) -> Conditions {
    let replicates = wish.replicates.filter(|&n| n >= 2).unwrap_or(1) as usize;
    let mut parts = vec![(0u64, 0u64); replicates];
    for (run, &fails) in fails.iter().enumerate() {
        if let (Some(fails), Some(part)) = (fails, parts.get_mut(run % replicates)) {
            *part = (part.0 + u64::from(fails), part.1 + 1);
        }
    }
    let (failures, runs) = parts.iter().fold((0, 0), |(a, b), (hits, n)| (a + hits, b + n));
    let many = |hits: u64| hits as f64 > MOST_HITS * runs as f64;
    let of = wish.of.unwrap_or(if many(failures) { Of::Successes } else { Of::Failures });
    let mut answer = Conditions {
        runs,
        failures,
        share_failing: share_of_parts(&parts, CONFIDENCE),
        of,
        boxes: Vec::new(),
        trajectory: Vec::new(),
        notes: Vec::new(),
    };
    let (says, hits) = match of {
        Of::Failures => (&wish.failures, failures),
        Of::Successes => (&wish.successes, runs - failures),
    };
    if wish.of.is_none() && of == Of::Successes {
        let they = &wish.successes.they;
        answer
            .notes
            .push(format!("Most runs {}: what is looked for is where they {they}.", wish.failures.they));
    }
    if hits < LEAST_HITS || many(hits) {
        answer.notes.push(no_box(hits, runs, says));
        return answer;
    }
    let mut halves = Halves::of(fails, factors, wish, of, &mut answer.notes);
    halves.fill(&mut answer, says);
    answer
}

/// Why there is no box.
fn no_box(hits: u64, runs: u64, says: &Phrases) -> String {
    let Phrases { those, they } = says;
    let all = plain(runs as f64);
    if hits < LEAST_HITS {
        let some = if hits == 0 { "None".into() } else { format!("Only {}", plain(hits as f64)) };
        return format!("{some} of {all} runs {they}: too few to say where, {LEAST_HITS} are needed.");
    }
    let share = 100 * hits / runs.max(1);
    format!("{share} % of {all} runs {they}: too many for the {those} to have conditions of their own.")
}
