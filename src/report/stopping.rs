//! In words: whether the precision that a study wants was reached.

use crate::analysis::{Answers, Convergence};

use super::numbers::{clean, exponent, grouped, in_sentence, power_of_ten, shortened, with_unit};

/// One sentence or two; nothing where no precision was asked.
pub fn sentence(answers: &Answers) -> Option<String> {
    answers.convergence.as_ref().map(told)
}

/// What was asked, such as "mean of net present value".
pub(crate) fn figure_of(convergence: &Convergence) -> String {
    let label = in_sentence(&shortened(&clean(&convergence.label), 80));
    match (&convergence.rule, convergence.statistic.as_str()) {
        (Some(rule), _) => format!("share of runs with {label} {}", shortened(&clean(rule), 40)),
        (None, "mean") => format!("mean of {label}"),
        (None, percentile) => format!("{percentile} of {label}"),
    }
}

/// A half-width with its unit: two digits, a share in per cent.
pub(crate) fn half_in_words(convergence: &Convergence, half: f64) -> String {
    if convergence.rule.is_some() {
        return format!("{} %", two_digits(half * 100.0));
    }
    with_unit(&two_digits(half), &convergence.unit)
}

fn two_digits(x: f64) -> String {
    let text = grouped(x, 1 - exponent(x));
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Runs to one digit: an estimate of a doubling is no more.
fn about(runs: u64) -> String {
    let unit = power_of_ten(exponent(runs as f64));
    grouped((runs as f64 / unit).round() * unit, 0)
}

fn told(convergence: &Convergence) -> String {
    let wanted = half_in_words(convergence, convergence.within);
    let Some(last) = convergence.looks.last() else { return String::new() };
    let (runs, half) = (grouped(last.runs as f64, 0), last.half_width);
    let figure = figure_of(convergence);
    if convergence.reached {
        let half = half.map_or_else(String::new, |half| half_in_words(convergence, half));
        return format!(
            "Runs ended at {runs}: the {figure} is known to within {half} with 95 % confidence ({wanted} was asked)."
        );
    }
    let needed = match convergence.runs_needed {
        Some(needed) => format!(" It would take about {} runs.", about(needed)),
        None => String::new(),
    };
    match half {
        Some(half) if half <= convergence.within => format!(
            "Not yet precise enough: after {runs} runs, the most allowed, the {figure} seems known to within {}, but \
             that has held for one look only ({wanted} was asked).{needed}",
            half_in_words(convergence, half)
        ),
        Some(half) => format!(
            "Not yet precise enough: after {runs} runs, the most allowed, the {figure} is known to within {} with \
             95 % confidence ({wanted} was asked).{needed}",
            half_in_words(convergence, half)
        ),
        None => format!(
            "Not yet precise enough: after {runs} runs, the most allowed, the {figure} has no interval with two ends \
             ({wanted} was asked); a percentile that is never, or nearly so, has none."
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::fixture;

    #[test]
    fn reached_or_not() {
        let mut convergence = fixture::convergence();
        assert_eq!(
            told(&convergence),
            "Runs ended at 16,384: the mean of net present value is known to within 2.9 EUR with 95 % confidence \
             (3 EUR was asked)."
        );
        (convergence.reached, convergence.within) = (false, 1.0);
        convergence.runs_needed = Some(131_072);
        let told_now = told(&convergence);
        assert!(told_now.starts_with("Not yet precise enough: after 16,384 runs"), "{told_now}");
        assert!(told_now.ends_with("(1 EUR was asked). It would take about 100,000 runs."), "{told_now}");
        convergence.looks.last_mut().unwrap().half_width = None;
        assert!(told(&convergence).contains("no interval with two ends"));
        convergence.rule = Some("at least 0 EUR".into());
        assert_eq!(half_in_words(&convergence, 0.005), "0.5 %");
    }
}
