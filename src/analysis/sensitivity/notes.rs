//! What must be said beneath the measures.

use super::LEAST_R_SQUARED;
use super::measures::Measured;
use super::outcome::Outcome;
use super::regression::Fitted;
use crate::analysis::factors::Factor;

/// Above this condition number, coefficients of single factors mean little (Belsley, Kuh, Welsch
/// 1980, *Regression diagnostics*: 30 on the scale of singular values, so 30^2 on that of eigenvalues).
const LARGE_CONDITION: f64 = 900.0;

/// The notes, in the order in which they matter.
pub(super) fn notes(
    outcome: &Outcome,
    factors: &[Factor],
    measured: &[Measured],
    values: &Fitted,
    ranks: &Fitted,
) -> Vec<String> {
    let mut notes = Vec::new();
    of_the_runs(outcome, &mut notes);
    let named = |pick: &dyn Fn(usize) -> bool| {
        let names: Vec<&str> =
            (0..factors.len()).filter(|&i| pick(i)).map(|i| factors[i].name.as_str()).collect();
        names.join(", ")
    };
    let broken = named(&|i| measured[i].broken);
    if !broken.is_empty() {
        notes.push(format!("Nothing is said of {broken}: not a number in every run."));
    }
    if factors.iter().any(|factor| factor.linked) {
        of_links(&named(&|i| factors[i].linked), ranks.condition_number, &mut notes);
    }
    let collinear = named(&|i| values.collinear.contains(&i) || ranks.collinear.contains(&i));
    if !collinear.is_empty() {
        notes.push(format!(
            "Left out of a regression, because the inputs above already determine it: {collinear}."
        ));
    }
    of_fit("values (SRC)", values.r_squared, &mut notes);
    of_fit("ranks (SRRC, PRCC)", ranks.r_squared, &mut notes);
    if factors.iter().any(|factor| !factor.labels.is_empty()) {
        notes.push(
            "Lists of labels have no order, so they have no rank correlation and are in no regression."
                .into(),
        );
    }
    notes
}

fn of_the_runs(outcome: &Outcome, notes: &mut Vec<String>) {
    let (n, never) = (outcome.n(), outcome.never);
    if outcome.constant() {
        notes.push("The result is the same in every run: it hangs on nothing here.".into());
    } else if never > 0 {
        notes.push(format!(
            "{never} of {n} runs are never. Years with never have no variance, so the first-order index and SRC \
             are those of the question whether it is never (1) or not (0). Rank correlations, the Kolmogorov \
             distance and delta take never as the largest value."
        ));
    }
    let without = outcome.runs - n;
    if without > 0 {
        notes.push(format!("{without} of {} runs have no value and are left out.", outcome.runs));
    }
}

fn of_links(linked: &str, condition: Option<f64>, notes: &mut Vec<String>) {
    notes.push(format!(
        "Linked inputs: {linked}. First order, Kolmogorov distance, delta and Spearman include what an input \
         brings along through its links, so first-order shares may add up to more than 1. SRC, SRRC and PRCC hold \
         the other inputs fixed. Total indices are valid only with linked inputs in one group; Shapley effects \
         share out what is common."
    ));
    if let Some(condition) = condition.filter(|&c| c > LARGE_CONDITION) {
        notes.push(format!(
            "The inputs are nearly determined by each other (condition number {condition:.0}): SRC, SRRC and PRCC \
             of a single one mislead."
        ));
    }
}

fn of_fit(of: &str, r_squared: Option<f64>, notes: &mut Vec<String>) {
    if let Some(r) = r_squared.filter(|&r| r < LEAST_R_SQUARED) {
        // Cut, not rounded: 0.699 must not read as 0.70.
        let shown = (r * 100.0).floor() / 100.0;
        notes.push(format!(
            "A sum of straight effects explains only {shown:.2} of the variance of {of}: no order by these \
             coefficients."
        ));
    }
}
