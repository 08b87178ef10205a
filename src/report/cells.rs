//! Cells of a table: plain numbers without thousands separators, never as the
//! word, an interval beside each figure that has one, and no digit that the
//! interval does not support. (The JSON holds every figure in full.)

use crate::analysis::{Estimate, Figure, Interval, Lever, LeverEstimate, Share};

use super::numbers::{clean, exponent, half_width, lever_half_width, power_of_ten};

/// Value, both ends of its interval, and how the interval was made.
pub(super) type Cells = [String; 4];

/// A text that a spreadsheet must not take for a formula gets an apostrophe
/// before it; control characters go, and so do marks that cannot be seen.
pub(super) fn cell(text: &str) -> String {
    let visible = |text: &str| clean(text).trim_start_matches(UNSEEN).to_owned();
    let risky = text.trim_start_matches(' ').starts_with(['\t', '\r', '\n']);
    let text = visible(text);
    // What is left after marks of direction and the like have gone is what a spreadsheet reads.
    let risky = risky || text.starts_with(FORMULA_SIGNS);
    if risky { format!("'{text}") } else { text }
}

/// Signs with which a formula begins; some programs take the wide ones for the same.
const FORMULA_SIGNS: [char; 8] = ['=', '+', '-', '@', '\u{FF1D}', '\u{FF0B}', '\u{FF0D}', '\u{FF20}'];

/// Marks without width that may stand before such a sign: byte order mark, joiners, Arabic letter mark.
const UNSEEN: [char; 8] =
    ['\u{FEFF}', '\u{200B}', '\u{200C}', '\u{200D}', '\u{2060}', '\u{061C}', '\u{00AD}', ' '];

/// A number in full.
pub(super) fn number(x: f64) -> String {
    if x.is_nan() {
        String::new()
    } else if x == f64::INFINITY {
        "never".into()
    } else {
        format!("{x}")
    }
}

/// A figure that no sampling error touches.
pub(super) fn figure(f: Figure) -> String {
    match f {
        Figure::Number(x) => number(x),
        Figure::Never => "never".into(),
        Figure::None => String::new(),
    }
}

/// A lever value of the base case.
pub(super) fn lever(l: Lever) -> String {
    lever_to(l, None)
}

/// A text without an interval.
pub(super) fn alone(text: String) -> Cells {
    [text, String::new(), String::new(), String::new()]
}

pub(super) fn estimate(e: &Estimate) -> Cells {
    let places = e.value.number().and_then(|x| places(x, half_width(e)));
    let written = |f: Figure| match f {
        Figure::Number(x) => rounded(x, places),
        other => figure(other),
    };
    let end = |f: Option<Figure>| f.map_or_else(String::new, written);
    [written(e.value), end(e.low), end(e.high), by(e.interval)]
}

pub(super) fn lever_estimate(e: &LeverEstimate, interval: Interval) -> Cells {
    let places = match e.lever {
        Lever::At(x) => places(x, lever_half_width(e.lever, e.low, e.high)),
        _ => None,
    };
    let end = |l: Option<Lever>| l.map_or_else(String::new, |l| lever_to(l, places));
    [lever_to(e.lever, places), end(e.low), end(e.high), by(interval)]
}

pub(super) fn share(s: &Share) -> Cells {
    let places = places(s.value, Some((s.high - s.low) / 2.0));
    [rounded(s.value, places), rounded(s.low, places), rounded(s.high, places), by(s.interval)]
}

/// A figure that is known to `half` on either side.
pub(super) fn known_to(x: f64, half: f64) -> String {
    rounded(x, places(x, Some(half)))
}

/// A point that was chosen, not estimated: twelve digits, so that 0.1 x 3 is written 0.3.
pub(super) fn chosen(x: f64) -> String {
    rounded(x, (x != 0.0).then(|| 11 - exponent(x.abs())))
}

/// A correlation that is worked out, not estimated: four decimals say more than anyone can use.
pub(super) fn correlation(x: f64) -> String {
    rounded(x, Some(4))
}

/// A half-width itself: two significant digits, which is more than it is known to.
pub(super) fn half(x: f64) -> String {
    rounded(x, Some(1 - exponent(x)))
}

/// A figure without an interval of its own, known about as well as another that is known to `half`; three significant
/// digits where nothing is known of the error. Blank where there is no number.
pub(super) fn about(x: f64, half: Option<f64>) -> String {
    let half = half.filter(|half| *half > 0.0).unwrap_or(f64::NAN);
    if x.is_finite() { known_to(x, half) } else { String::new() }
}

/// A part of the runs that is counted, not estimated.
pub(super) fn part(x: f64) -> String {
    if x.is_finite() { rounded(x, Some(4)) } else { String::new() }
}

/// A value of an input as drawn: five significant digits, whole numbers in full.
pub(super) fn drawn(x: f64) -> String {
    if x == f64::NEG_INFINITY { String::new() } else { rounded(x, Some((4 - exponent(x.abs())).max(0))) }
}

/// A chance: two significant digits, of a tiny one with an exponent.
pub(super) fn chance(p: f64) -> String {
    if p > 0.0 && p < 1e-6 { format!("{p:.1e}") } else { half(p) }
}

fn by(interval: Interval) -> String {
    if interval == Interval::None { String::new() } else { interval.name().into() }
}

fn lever_to(l: Lever, places: Option<i32>) -> String {
    match l {
        Lever::At(x) => rounded(x, places),
        Lever::Always => "always".into(),
        Lever::Never => "never".into(),
    }
}

/// Decimals of a figure: the last digit is of the order of half its half-width (of a quarter of its interval). Three
/// significant digits where nothing is known of the error; none are cut where all replicates agree.
fn places(x: f64, half: Option<f64>) -> Option<i32> {
    match half {
        Some(0.0) => None,
        Some(half) if half.is_finite() => Some(-exponent(half / 2.0)),
        _ if x == 0.0 => None,
        _ => Some(2 - exponent(x.abs())),
    }
}

fn rounded(x: f64, places: Option<i32>) -> String {
    let Some(places) = places.filter(|places| *places <= 15 && x.is_finite()) else { return number(x) };
    if places >= 0 {
        // Through its decimals, so that 0.1 x 3 is written 0.3.
        return format!("{x:.*}", places as usize).parse().map_or_else(|_| number(x), plus_nought);
    }
    let unit = power_of_ten(-places);
    plus_nought((x / unit).round() * unit)
}

/// Nought has no sign in a table.
fn plus_nought(x: f64) -> String {
    number(x + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_text_is_no_formula_whatever_stands_before_it() {
        for before in
            ["", " ", "\u{200F}", "\u{202E}", "\u{FEFF}", "\u{200B}", "\u{061C} ", "\0", "\n", "\t", "\r\n"]
        {
            for sign in ["=", "+", "-", "@", "\u{FF1D}"] {
                let made = cell(&format!("{before}{sign}cmd()\n\u{202E}x"));
                assert_eq!(made, format!("'{sign}cmd() x"), "{before:?}");
            }
        }
        assert_eq!(cell("plain \"quoted\", <b>"), "plain \"quoted\", <b>");
        let long = cell(&"=".repeat(1 << 20));
        assert_eq!(long.len(), (1 << 20) + 1);
    }

    #[test]
    fn digits_end_where_the_interval_says() {
        let of = |value: f64, half: f64| Estimate {
            value: Figure::Number(value),
            low: Some(Figure::Number(value - half)),
            high: Some(Figure::Number(value + half)),
            interval: Interval::Replicates,
        };
        for (value, half, cells) in [
            (497.928, 7.73, ["498", "490", "506"]),
            (497.928, 30.0, ["500", "470", "530"]),
            (0.076_312, 0.000_21, ["0.0763", "0.0761", "0.0765"]),
            (-0.001, 0.3, ["0", "-0.3", "0.3"]),
            (12.345_678, 0.0, ["12.345678"; 3]),
            (123_456.0, 25_000.0, ["120000", "100000", "150000"]),
        ] {
            assert_eq!(estimate(&of(value, half))[..3], cells, "{value} {half}");
        }
        assert_eq!(estimate(&Estimate::alone(Figure::Number(12.345_678)))[0], "12.3");
        assert_eq!(estimate(&Estimate::alone(Figure::Never)), ["never", "", "", ""]);
    }

    #[test]
    fn figures_without_an_interval_of_their_own() {
        for (x, half, text) in [
            (0.641_234, Some(0.02), "0.64"),
            (0.641_234, Some(0.0), "0.641"),
            (-0.641_234, None, "-0.641"),
            (1234.5, None, "1230"),
            (f64::NAN, None, ""),
            (f64::INFINITY, Some(1.0), ""),
            (f64::NEG_INFINITY, None, ""),
        ] {
            assert_eq!(about(x, half), text, "{x} {half:?}");
        }
        assert_eq!([0.123_456, 1.0, f64::NAN].map(part), ["0.1235", "1", ""]);
        let values = [3.0, 2034.56, 0.074_182_93, -12.345_678, 1_234_567.8, f64::NAN, f64::NEG_INFINITY];
        assert_eq!(values.map(drawn), ["3", "2034.6", "0.074183", "-12.346", "1234568", "", ""]);
        assert_eq!([0.0, 0.0123, 0.5, 1.0, 3.14e-42].map(chance), ["0", "0.012", "0.5", "1", "3.1e-42"]);
    }

    /// A printed number is a whole multiple of the order of half its half-width.
    fn supported(text: &str, half: Option<f64>, what: &str) {
        let plain: String = text.chars().take_while(|c| !c.is_whitespace()).filter(|c| *c != ',').collect();
        let (Ok(x), Some(half)) = (plain.parse::<f64>(), half.filter(|half| *half > 0.0)) else { return };
        let steps = x / power_of_ten(exponent(half / 2.0));
        assert!(
            (steps - steps.round()).abs() < 1e-6 * steps.abs().max(1.0),
            "{what}: {text} known to {half}"
        );
    }

    /// What the terminal, the sentences, the labels of charts and the tables print of the house's own studies.
    #[test]
    fn no_figure_of_the_studies_has_digits_beyond_its_error() {
        use crate::chart::fixture;
        use crate::report::numbers::{few_decimals, grouped, in_prose, percent, share_with_interval};
        let mut seen = 0;
        for (study, answers) in fixture::studies() {
            let currency = &answers.study.currency;
            let mut told = |e: &Estimate, unit: &str, what: &str| {
                let what = format!("{study} {what}");
                let half = half_width(e);
                supported(&crate::report::numbers::estimate(e, unit, currency), half, &what);
                supported(&in_prose(e, unit, currency), half, &what);
                estimate(e)[..3].iter().for_each(|text| supported(text, half, &what));
                seen += 1;
            };
            let choices = answers.choices.iter().flat_map(|choice| &choice.results);
            for result in answers.results.iter().chain(choices) {
                let percentiles = result.percentiles.iter().map(|q| &q.estimate);
                for e in percentiles.chain(&result.mean).chain(&result.sd) {
                    told(e, &result.unit, &result.name);
                }
            }
            for band in answers.bands.iter().flat_map(|bands| &bands.cash) {
                told(&band.mean, currency, "cash");
                band.percentiles.iter().for_each(|q| told(&q.estimate, currency, "cash"));
            }
            let results = answers.results.iter();
            let shares = results.flat_map(|r| [r.never, r.base_rank, r.success.as_ref().map(|s| s.share)]);
            let paid = answers.bands.iter().flat_map(|bands| bands.paid_back.iter().copied());
            let flips = answers.break_even.iter().flat_map(|b| [b.always, b.never, b.several]);
            for s in shares.flatten().chain(paid).chain(flips) {
                let half = Some((s.high - s.low) / 2.0);
                supported(&share_with_interval(&s), half, study);
                supported(&percent(&s), half.map(|half| half * 100.0), study);
                supported(&share(&s)[0], half, study);
            }
            for b in &answers.break_even {
                let points =
                    b.curve.iter().flat_map(|curve| &curve.points).flat_map(|p| [p.p10, p.p50, p.p90]);
                for e in b.percentiles.iter().map(|q| q.estimate).chain(points) {
                    let half = lever_half_width(e.lever, e.low, e.high);
                    supported(&lever_estimate(&e, b.interval)[0], half, &b.of);
                    if let Lever::At(x) = e.lever {
                        supported(&grouped(x, few_decimals(x, half, &b.of_unit, currency)), half, &b.of);
                    }
                }
            }
        }
        assert!(seen > 500, "{seen}");
    }
}
