//! Differences into steps, each of which makes a sound study alone and after those before it. A new input and the formula
//! that reads it are one step; what has nothing to do with them is another.

use std::collections::BTreeSet;

use crate::study::differences::Difference;

/// Steps of the differences `bearing`, in their order. `is_sound` says whether the first study stands with some of them
/// put in; with none and with all it does.
pub(super) fn steps(
    bearing: &[usize],
    all: &[Difference],
    is_sound: impl Fn(&BTreeSet<usize>) -> bool,
) -> Vec<BTreeSet<usize>> {
    let mut steps: Vec<BTreeSet<usize>> = Vec::new();
    for &k in bearing {
        if steps.iter().any(|step| step.contains(&k)) {
            continue;
        }
        let mut step = least(k, bearing, all, &is_sound);
        // What shares a difference is one step.
        steps.retain(|other| {
            let shared = !other.is_disjoint(&step);
            if shared {
                step.extend(other);
            }
            !shared
        });
        steps.push(step);
    }
    let whole: BTreeSet<usize> = bearing.iter().copied().collect();
    if !steps.iter().all(&is_sound) {
        return if whole.is_empty() { Vec::new() } else { vec![whole] };
    }
    in_order(steps, &is_sound)
}

/// A small set with `k` in it that makes a sound study.
fn least(
    k: usize,
    bearing: &[usize],
    all: &[Difference],
    is_sound: &impl Fn(&BTreeSet<usize>) -> bool,
) -> BTreeSet<usize> {
    let mut step = BTreeSet::from([k]);
    while !is_sound(&step) {
        let touches = |other: &&usize| step.iter().any(|k| all[*k].touches(&all[**other]));
        let near: Vec<usize> =
            bearing.iter().filter(|other| !step.contains(other)).filter(touches).copied().collect();
        if near.is_empty() {
            // Names do not say what is missing.
            step = bearing.iter().copied().collect();
            break;
        }
        step.extend(near);
    }
    // What it does not need is left out again.
    for other in step.clone() {
        if other != k {
            step.remove(&other);
            if !is_sound(&step) {
                step.insert(other);
            }
        }
    }
    step
}

/// Each step after those before it: one that does not stand there is joined with the next.
fn in_order(
    steps: Vec<BTreeSet<usize>>,
    is_sound: &impl Fn(&BTreeSet<usize>) -> bool,
) -> Vec<BTreeSet<usize>> {
    let mut ordered: Vec<BTreeSet<usize>> = Vec::new();
    let (mut put, mut open) = (BTreeSet::new(), BTreeSet::new());
    for step in steps {
        put.extend(&step);
        open.extend(step);
        if is_sound(&put) {
            ordered.push(std::mem::take(&mut open));
        }
    }
    if !open.is_empty() {
        ordered.push(open);
    }
    if ordered.iter().all(is_sound) { ordered } else { vec![put] }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::differences::SideBySide;

    /// Steps by the names of their differences; sound where every name that is read exists.
    fn names(a: &str, b: &str) -> Vec<Vec<String>> {
        let found = SideBySide::new(a, b).unwrap();
        let head = "title = \"t\"\ncurrency = \"EUR\"\nprices = \"real\"\nfirst_year = 2027\nyears = 2\n";
        let is_sound =
            |put: &BTreeSet<usize>| crate::model::read(&format!("{head}{}", found.between(put))).0.is_some();
        let all: Vec<usize> = (0..found.differences.len()).collect();
        let steps = steps(&all, &found.differences, is_sound);
        let named = |step: &BTreeSet<usize>| {
            step.iter().map(|k| found.differences[*k].name.clone()).collect::<Vec<_>>()
        };
        steps.iter().map(named).collect()
    }

    fn study(inputs: &str, formula: &str) -> String {
        format!("[inputs]\n{inputs}[workings]\nw.formula = \"{formula}\"\n[results]\nr.formula = \"w + 1\"\n")
    }

    #[test]
    fn what_belongs_together_goes_together() {
        let a = study("x.value = 1\ny.value = 2\n", "x + y");
        // A new input that a formula reads; another input changed.
        let b = study("x.value = 5\ny.value = 2\nz.value = 3\n", "x + y * z");
        assert_eq!(names(&a, &b), [vec!["x"], vec!["z", "w"]]);
        // An input gone, with the formula that read it.
        let b = study("x.value = 1\n", "2 * x");
        assert_eq!(names(&a, &b), [vec!["w", "y"]]);
        // An input called otherwise.
        let b = study("x.value = 1\nnew.value = 2\n", "x + new");
        assert_eq!(names(&a, &b), [vec!["new", "w", "y"]]);
    }
}
