//! Does it keep what the seller promised? How often each promise is kept,
//! how often all are, where a promise lies among the runs, and what would
//! have to be true for all of them to be kept.

use crate::analysis::Share;
use crate::analysis::conditions::{Conditions, Of, Phrases, Wish, conditions, plain};
use crate::analysis::factors::Factor;
use crate::analysis::statistics::intervals::{CONFIDENCE, share_of_parts};
use crate::wording::{in_sentence, in_ten, percent, spoken};
use schemars::JsonSchema;
use serde::Serialize;

/// A figure that was promised.
#[derive(Debug, Clone, PartialEq)]
pub struct Promise {
    /// Of what: "Saving in a year", "Payback", "Life".
    pub what: String,
    /// The figure, in `unit`.
    pub value: f64,
    /// Unit of the figure and of the runs' values.
    pub unit: String,
    /// Whether more is better: kept at `value` and above, else at `value` and below.
    pub better_above: bool,
}

/// A promise held against the runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PromiseKept {
    /// Of what.
    pub what: String,
    /// The figure promised.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// Whether more is better.
    pub better_above: bool,
    /// Runs with a value; the shares are of these.
    pub runs: u64,
    /// Share of runs that keep the promise.
    pub kept: Share,
    /// The same, so many of ten, rounded.
    pub of_ten: u32,
    /// Share of runs whose value lies below the promised one: the promise's own percentile. Never lies above.
    pub below: Share,
    /// In a plain sentence.
    pub words: String,
}

/// The seller's claim held against the runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Claim {
    /// Runs with a value for every promise.
    pub runs: u64,
    /// Each promise, in the order given.
    pub promises: Vec<PromiseKept>,
    /// Share of runs that keep all promises together.
    pub all: Share,
    /// The same, so many of ten.
    pub all_of_ten: u32,
    /// What would have to be true: boxes in which most runs keep all promises.
    pub conditions: Conditions,
    /// In plain sentences: how often all are kept, and what would have to be true.
    pub words: String,
}

/// Holds promises against the runs. `columns` has the runs' values for each promise, in its unit: never is +infinity, no
/// value NaN; `factors` are what conditions may speak of. Run r belongs to replicate r mod `replicates`.
pub fn claim(promises: &[Promise], columns: &[&[f64]], factors: &[Factor], replicates: Option<u32>) -> Claim {
    let pairs: Vec<(&Promise, &[f64])> = promises.iter().zip(columns.iter().copied()).collect();
    let runs = pairs.iter().map(|(_, column)| column.len()).min().unwrap_or(0);
    let misses: Vec<Option<bool>> = (0..runs)
        .map(|run| {
            let kept: Option<Vec<bool>> =
                pairs.iter().map(|(promise, column)| promise.kept(column[run])).collect();
            kept.map(|kept| !kept.iter().all(|&kept| kept))
        })
        .collect();
    let wish = Wish {
        of: Some(Of::Successes),
        failures: Phrases::new("runs that break a promise", "break a promise"),
        successes: Phrases::new("runs that keep the claim", "keep it"),
        ..Wish::new(replicates)
    };
    let conditions = conditions(&misses, factors, &wish);
    let of_all: Vec<f64> =
        misses.iter().map(|m| m.map_or(f64::NAN, |misses| f64::from(u8::from(!misses)))).collect();
    let (all, _) = share(&of_all, replicates, &|x| x == 1.0);
    Claim {
        runs: conditions.runs,
        promises: pairs.iter().map(|(promise, column)| promise.held(column, replicates)).collect(),
        all,
        all_of_ten: of_ten(all.value),
        words: words(promises.len(), all, &conditions),
        conditions,
    }
}

impl Promise {
    /// Whether a run keeps it; none without a value.
    fn kept(&self, x: f64) -> Option<bool> {
        (!x.is_nan()).then_some(if self.better_above { x >= self.value } else { x <= self.value })
    }

    fn held(&self, column: &[f64], replicates: Option<u32>) -> PromiseKept {
        let share = |met: &dyn Fn(f64) -> bool| share(column, replicates, met);
        let (kept, runs) = share(&|x| self.kept(x) == Some(true));
        let (below, _) = share(&|x| x < self.value);
        let (above, _) = share(&|x| x > self.value);
        let value = spoken(&plain(self.value), &self.unit);
        let (least, worse, give) = if self.better_above {
            ("at least", below, "give less")
        } else {
            ("at most", above, "need more, or never get there")
        };
        let what = &self.what;
        let words = format!(
            "{what} of {least} {value}: so in {} of the futures tried; {} of them {give}.",
            in_ten(kept.value),
            percent(&worse)
        );
        PromiseKept {
            what: what.clone(),
            value: self.value,
            unit: self.unit.clone(),
            better_above: self.better_above,
            runs,
            kept,
            of_ten: of_ten(kept.value),
            below,
            words,
        }
    }
}

/// Share of the runs with a value that meet a condition, and how many have one.
fn share(column: &[f64], replicates: Option<u32>, met: &dyn Fn(f64) -> bool) -> (Share, u64) {
    let n = replicates.filter(|&n| n >= 2).unwrap_or(1) as usize;
    let mut parts = vec![(0u64, 0u64); n];
    for (run, &x) in column.iter().enumerate().filter(|(_, x)| !x.is_nan()) {
        if let Some(part) = parts.get_mut(run % n) {
            *part = (part.0 + u64::from(met(x)), part.1 + 1);
        }
    }
    (share_of_parts(&parts, CONFIDENCE), parts.iter().map(|(_, n)| n).sum())
}

/// So many of ten, rounded: 0 is fewer than 1 in 20, and 10 is kept for all.
fn of_ten(share: f64) -> u32 {
    match share {
        s if s.is_nan() => 0,
        s if s >= 1.0 => 10,
        s => (10.0 * s).round().clamp(0.0, 9.0) as u32,
    }
}

/// A sentence behind a colon; an abbreviation keeps its capitals.
fn first_lower(sentence: &str) -> String {
    let (first, rest) = sentence.split_once(' ').unwrap_or((sentence, ""));
    format!("{} {rest}", in_sentence(first)).trim_end().to_owned()
}

fn words(n: usize, all: Share, conditions: &Conditions) -> String {
    let kept = match n {
        0 => return "Nothing was promised.".into(),
        1 => "The promise is kept".to_string(),
        n => format!("All {n} promises are kept together"),
    };
    let mut text = format!("{kept} in {} of the futures tried.", in_ten(all.value));
    match conditions.boxes.first() {
        Some(first) => text.push_str(&format!(" What would have to be true: {}", first_lower(&first.words))),
        None => {
            for note in &conditions.notes {
                text.push_str(&format!(" {note}"));
            }
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn promise(what: &str, value: f64, unit: &str, better_above: bool) -> Promise {
        Promise { what: what.into(), value, unit: unit.into(), better_above }
    }

    /// Ten runs by hand: a saving of 1..10, a payback of 20/saving with the three lowest never, a life of 10 or none.
    #[test]
    fn counted_by_hand() {
        let saving: Vec<f64> = (1..=10).map(f64::from).collect();
        let payback: Vec<f64> =
            saving.iter().map(|s| if *s < 4.0 { f64::INFINITY } else { 20.0 / s }).collect();
        let life: Vec<f64> = (0..10).map(|i| if i == 9 { f64::NAN } else { 10.0 }).collect();
        let promises = [
            promise("Saving in a year", 6.0, "EUR", true),
            promise("Payback", 2.5, "yr", false),
            promise("Life", 12.0, "yr", true),
        ];
        let found = claim(&promises, &[&saving, &payback, &life], &[], None);
        let by_hand: Vec<(f64, u32, f64, u64)> =
            found.promises.iter().map(|p| (p.kept.value, p.of_ten, p.below.value, p.runs)).collect();
        // 6..10 save at least 6; 20/8, 20/9 and 20/10 are at most 2.5, of which two lie below it.
        assert_eq!(by_hand, [(0.5, 5, 0.5, 10), (0.3, 3, 0.2, 10), (0.0, 0, 1.0, 9)]);
        assert_eq!((found.runs, found.all.value, found.all_of_ten), (9, 0.0, 0));
        assert_eq!(
            found.promises[1].words,
            "Payback of at most 2.5 years: so in about 3 in 10 of the futures tried; 70 % of them need more, or never get there."
        );
        assert_eq!(
            found.words,
            "All 3 promises are kept together in none of the futures tried. \
             None of 9 runs keep it: too few to say where, 50 are needed."
        );
        let two = claim(&promises[..2], &[&saving, &payback], &[], None);
        assert_eq!((two.runs, two.all.value), (10, 0.3));
    }

    /// 19 of 20 runs keep it: too many for conditions, and the sentence says so.
    #[test]
    fn mostly_kept() {
        let saving: Vec<f64> = (0..2_000).map(|run| f64::from(run % 20)).collect();
        let found = claim(&[promise("Saving", 1.0, "EUR", true)], &[&saving], &[], None);
        assert_eq!((found.all.value, found.all_of_ten, found.conditions.boxes.len()), (0.95, 9, 0));
        assert_eq!(
            found.words,
            "The promise is kept in about 9 in 10 of the futures tried. 95 % of 2,000 runs keep it: \
             too many for the runs that keep the claim to have conditions of their own."
        );
    }

    #[test]
    fn nothing_promised() {
        let found = claim(&[], &[], &[], Some(8));
        assert_eq!((found.runs, found.words.as_str()), (0, "Nothing was promised."));
    }

    #[test]
    fn so_many_of_ten() {
        assert_eq!([0.0, 0.04, 0.34, 0.96, 1.0].map(of_ten), [0, 0, 3, 9, 10]);
    }
}
