//! Where the answer flips more than once, in words: the windows that are good, and the levers for a chance.

use crate::analysis::{ChanceLever, ChancePoint, Lever, LeverWindow, LeversForChance};

use super::numbers::{lever_half_width, percent, percent_of};

/// "between 3 and 7 and above 9".
pub(super) fn windows_in_words(windows: &[LeverWindow], number: &impl Fn(f64) -> String) -> String {
    let each = windows.iter().map(|window| match (window.from, window.to) {
        (Some(from), Some(to)) => format!("between {} and {}", number(from), number(to)),
        (Some(from), None) => format!("above {}", number(from)),
        (None, Some(to)) => format!("below {}", number(to)),
        (None, None) => "everywhere".to_owned(),
    });
    each.collect::<Vec<_>>().join(" and ")
}

/// The levers for a chance, or the best chance where none reaches it.
pub(super) fn chance_in_words(
    want: &LeversForChance,
    best: Option<&ChancePoint>,
    known: &impl Fn(f64, Option<f64>) -> String,
) -> String {
    let in_runs = format!("good in {} of runs", percent_of(want.chance));
    if want.levers.is_empty() {
        return match best {
            _ if want.reached => format!("{in_runs} or more at every value looked at"),
            None => format!("{in_runs} at no value"),
            Some(best) => format!(
                "{in_runs} at no value looked at: in {} at best, at {}",
                percent(&best.share),
                known(best.lever, None)
            ),
        };
    }
    let text = |at: &ChanceLever| known(at.lever, lever_half_width(Lever::At(at.lever), at.low, at.high));
    let mut windows: Vec<(Option<String>, Option<String>)> = Vec::new();
    for at in &want.levers {
        match (at.rises, windows.last_mut()) {
            (true, _) => windows.push((Some(text(at)), None)),
            (false, Some(last)) if last.1.is_none() => last.1 = Some(text(at)),
            (false, _) => windows.push((None, Some(text(at)))),
        }
    }
    let each = windows.into_iter().map(|window| match window {
        (Some(from), Some(to)) => format!("between {from} and {to}"),
        (Some(from), None) => format!("at or above {from}"),
        (None, Some(to)) => format!("at or below {to}"),
        (None, None) => String::new(),
    });
    format!("{in_runs} or more {}", each.collect::<Vec<_>>().join(" and "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;
    use crate::report::terminal::flips;

    #[test]
    fn windows_and_chances_are_told_as_stretches() {
        let number = |x: f64| format!("{x}");
        let window = |from, to| LeverWindow { from, to };
        let words = windows_in_words(&[window(Some(3.0), Some(7.0)), window(Some(9.0), None)], &number);
        assert_eq!(words, "between 3 and 7 and above 9");
        assert_eq!(windows_in_words(&[window(None, Some(2.0))], &number), "below 2");
        let text = flips(&fixture::in_a_window()).unwrap();
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for wanted in [
            "good between 3.00 and 7.00 in the base case (base value 5.00",
            "8 in 10 runs first flip between",
            "good in 80 % of runs or more between 3.3 and 6.7",
            "more than one crossing in 98 % of runs",
        ] {
            assert!(flat.contains(wanted), "{wanted} in {flat}");
        }
    }

    #[test]
    fn a_chance_that_no_lever_reaches_says_the_best() {
        let answers = fixture::in_a_window();
        let b = &answers.break_even[0];
        let known = |x: f64, _: Option<f64>| format!("{x}");
        let words = chance_in_words(&b.levers_for_chance[2], b.best.as_ref(), &known);
        assert_eq!(words, "good in 99 % of runs at no value looked at: in 98 % at best, at 5");
    }
}
