//! Numbers and labels as a reader sees them: thousands separators, and no more digits
//! than the sampling error supports.

use crate::analysis::{Estimate, Figure, Lever, Share};

/// The power of ten 10^n, exact for the exponents that a printed figure needs.
pub fn power_of_ten(n: i32) -> f64 {
    libm::pow(10.0, f64::from(n))
}

/// The exponent of the first digit of a positive finite number; 0 for anything else.
pub fn exponent(x: f64) -> i32 {
    if !(x > 0.0 && x.is_finite()) {
        return 0;
    }
    let e = libm::floor(libm::log10(x)) as i32;
    // log10 of 1000 may come out a hair below 3.
    if x >= power_of_ten(e + 1) * (1.0 - 1e-12) { e + 1 } else { e }
}

/// `value` with `decimals` decimals and commas between thousands. Negative
/// decimals round to tens, hundreds and so on. Numbers of 16 digits and more,
/// and small ones that would need more than 9 decimals, are written with an exponent.
pub fn grouped(value: f64, decimals: i32) -> String {
    if !value.is_finite() {
        return if value == f64::INFINITY { "never".into() } else { "no value".into() };
    }
    if value.abs() >= 1e15 || decimals > 9 {
        return format!("{value:.2e}");
    }
    let rounded = if decimals < 0 {
        let unit = power_of_ten(-decimals);
        (value / unit).round() * unit
    } else {
        value
    };
    let text = format!("{rounded:.*}", decimals.max(0) as usize);
    let (sign, digits) = match text.strip_prefix('-') {
        Some(rest) if rest.chars().any(|c| ('1'..='9').contains(&c)) => ("-", rest),
        Some(rest) => ("", rest), // no "-0"
        None => ("", text.as_str()),
    };
    let (whole, fraction) = digits.split_once('.').map_or((digits, None), |(w, f)| (w, Some(f)));
    let mut out = String::from(sign);
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    if let Some(fraction) = fraction {
        out.push('.');
        out.push_str(fraction);
    }
    out
}

/// Most decimals that a unit deserves: whole units of money, a thousandth of
/// it in a price, a tenth of a year.
pub fn most_decimals(unit: &str, currency: &str) -> i32 {
    if !currency.is_empty() && unit == currency {
        0
    } else if !currency.is_empty() && unit.strip_prefix(currency).is_some_and(|rest| rest.starts_with('/')) {
        3
    } else if unit == "yr" {
        1
    } else {
        9
    }
}

/// Decimals for `value` known to within `half_width` (half the length of its
/// interval): down to the first digit of that half-width, but no more than four
/// significant digits, which is what a reader can use; three where no interval
/// is known; never more than the unit deserves.
pub fn decimals(value: f64, half_width: Option<f64>, unit: &str, currency: &str) -> i32 {
    let significant = if value == 0.0 { 0 } else { 2 - exponent(value.abs()) };
    let supported = match half_width {
        Some(h) if h > 0.0 && h.is_finite() => -exponent(h),
        // A half-width of zero says that all replicates agree, not that all digits are known.
        _ => significant,
    };
    let most = if value == 0.0 { 9 } else { 3 - exponent(value.abs()) };
    supported.min(most).min(most_decimals(unit, currency))
}

/// The same with three significant digits at most, for labels and sentences.
pub fn few_decimals(value: f64, half_width: Option<f64>, unit: &str, currency: &str) -> i32 {
    decimals(value, half_width, unit, currency).min(decimals(value, None, unit, currency))
}

/// Half the length of an estimate's interval; where one end is no number, the distance to the other.
pub fn half_width(estimate: &Estimate) -> Option<f64> {
    let end = |f: Option<Figure>| f.and_then(Figure::number);
    half_of(estimate.value.number(), end(estimate.low), end(estimate.high))
}

/// The same of a lever value, from its two ends.
pub fn lever_half_width(value: Lever, low: Option<Lever>, high: Option<Lever>) -> Option<f64> {
    let number = |lever: Lever| if let Lever::At(x) = lever { Some(x) } else { None };
    half_of(number(value), low.and_then(number), high.and_then(number))
}

fn half_of(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<f64> {
    match (low, high) {
        (Some(low), Some(high)) => Some((high - low).abs() / 2.0),
        (None, None) => None,
        (low, high) => Some((value? - low.or(high)?).abs()),
    }
}

/// A figure without its unit.
pub fn figure(figure: Figure, half: Option<f64>, unit: &str, currency: &str) -> String {
    match figure {
        Figure::Number(x) => grouped(x, decimals(x, half, unit, currency)),
        Figure::Never => "never".into(),
        Figure::None => "no value".into(),
    }
}

/// An estimate without its unit or interval, to the digits that its interval supports.
pub fn estimate(e: &Estimate, unit: &str, currency: &str) -> String {
    figure(e.value, half_width(e), unit, currency)
}

/// An estimate for running text, where no interval stands beside it: rounded to
/// the coarsest step of 1, 5 or 10 times a power of ten that is no coarser than
/// the length of its interval, so that it cannot leave that, and to three digits
/// at most.
pub fn in_prose(e: &Estimate, unit: &str, currency: &str) -> String {
    let Figure::Number(x) = e.value else { return figure(e.value, None, unit, currency) };
    let finest = power_of_ten(-decimals(x, None, unit, currency));
    let step = match half_width(e) {
        Some(half) if 2.0 * half > finest * (1.0 + 1e-9) => {
            let power = power_of_ten(exponent(2.0 * half));
            if 2.0 * half / power < 5.0 - 1e-9 { power } else { 5.0 * power }
        }
        _ => finest,
    };
    let step = step.max(finest);
    let places = if step < 1.0 { -exponent(step) } else { 0 };
    let text = grouped((x / step).round() * step, places);
    // A nought behind the point says more than a step of 0.5 knows.
    if step > finest * 1.5 && text.ends_with(".0") { text.trim_end_matches(".0").to_owned() } else { text }
}

/// An estimate with its interval: `120 [90, 150]`. An end without a limit is
/// written "no limit".
pub fn estimate_with_interval(e: &Estimate, unit: &str, currency: &str) -> String {
    let half = half_width(e);
    let places = e.value.number().map_or(0, |x| decimals(x, half, unit, currency));
    let end = |f: Option<Figure>| match f {
        Some(Figure::Number(x)) => grouped(x, places),
        Some(Figure::Never) => "never".into(),
        Some(Figure::None) | None => "no limit".to_string(),
    };
    match e.value {
        Figure::Number(x) => format!("{} [{}, {}]", grouped(x, places), end(e.low), end(e.high)),
        other => figure(other, None, unit, currency),
    }
}

/// A share with its interval: `0.70 [0.69, 0.71]`.
pub fn share_with_interval(share: &Share) -> String {
    let half = (share.high - share.low).abs() / 2.0;
    let most = if (0.01..=0.99).contains(&share.value) { 3 } else { 4 };
    let places = if half > 0.0 { (-exponent(half)).clamp(1, most) } else { 2 };
    format!(
        "{} [{}, {}]",
        grouped(share.value, places),
        grouped(share.low, places),
        grouped(share.high, places)
    )
}

/// A share as a percentage, in steps of 1, 5 or 10 (or a tenth and less for
/// very sure or very rare things), the finest that its interval supports.
pub fn percent(share: &Share) -> String {
    if !share.value.is_finite() {
        return "an unknown share".into();
    }
    let value = share.value * 100.0;
    let half = ((share.high - share.low).abs() / 2.0 * 100.0).max(1e-9);
    // No step is so coarse that the rounded share leaves the interval.
    let step = if half < 2.5 {
        1.0
    } else if half < 5.0 {
        5.0
    } else {
        10.0
    };
    let rounded = (value / step).round() * step;
    // 0 % and 100 % are promises: made only where every run agrees.
    if rounded <= 0.0 && value > 0.0 {
        return format!("under {} %", grouped(step, 0));
    }
    if rounded >= 100.0 && value < 100.0 {
        return format!("over {} %", grouped(100.0 - step, 0));
    }
    format!("{} %", grouped(rounded, 0))
}

/// A share for the buyer, to stand before "of": "about 7 in 10", "about half", "none".
pub fn in_ten(share: f64) -> String {
    if !share.is_finite() {
        return "an unknown share".into();
    }
    match share {
        s if s <= 0.0 => "none".into(),
        s if s >= 1.0 => "all".into(),
        s if s < 0.005 => "fewer than 1 in 100".into(),
        s if s < 0.095 => format!("about {} in 100", grouped((s * 100.0).round(), 0)),
        s if s > 0.995 => "more than 99 in 100".into(),
        s if s > 0.95 => format!("about {} in 100", grouped((s * 100.0).round(), 0)),
        s if (0.45..=0.55).contains(&s) => "about half".into(),
        s => format!("about {} in 10", grouped((s * 10.0).round().clamp(1.0, 9.0), 0)),
    }
}

/// A share that was asked for, as a percentage: "80 %", "2.5 %".
pub fn percent_of(share: f64) -> String {
    let value = share * 100.0;
    let places = if (value - value.round()).abs() < 0.05 { 0 } else { 1 };
    format!("{} %", grouped(value, places))
}

/// User text for one line: control characters and direction overrides become
/// spaces, so that no label can move the cursor, colour the terminal, turn
/// text around or break an XML file.
pub fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let bad = c.is_control()
            || matches!(c, '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
            || matches!(c, '\u{FFFE}' | '\u{FFFF}');
        if !bad && !c.is_whitespace() {
            out.push(c);
        } else if !out.ends_with(' ') {
            out.push(' ');
        }
    }
    out.trim().to_string()
}

/// A user's label inside a sentence of ours: without its capital, unless that
/// belongs to an abbreviation (VAT, CO2), and in quotation marks if it asks.
pub fn in_sentence(label: &str) -> String {
    let label = clean(label);
    if label.ends_with(['?', '!', '.']) {
        return format!("\"{label}\"");
    }
    let first = label.split([' ', ',', '-', '\'']).next().unwrap_or("");
    if first.chars().skip(1).any(|c| !c.is_lowercase()) {
        return label;
    }
    let mut chars = label.chars();
    chars.next().map_or_else(String::new, |c| c.to_lowercase().chain(chars).collect())
}

/// "a", "a and b", "a, b and c".
pub fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

/// At most `most` characters of `text`, with an ellipsis where some are left out.
pub fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_string();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

/// A value followed by its unit, if it has one; "yr" is written out as years.
pub fn with_unit(value: &str, unit: &str) -> String {
    match unit {
        "" => value.to_string(),
        "yr" if value == "1" => "1 year".to_string(),
        "yr" => format!("{value} years"),
        _ => format!("{value} {}", clean(unit)),
    }
}

/// A value and its unit in a sentence: "3 people", "2 % a year".
pub fn spoken(value: &str, unit: &str) -> String {
    match (value, unit) {
        ("1", "person" | "home") => format!("1 {unit}"),
        (_, "person") => format!("{value} people"),
        (_, "home") => format!("{value} homes"),
        _ => with_unit(value, unit),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::Interval;

    fn estimate_of(value: f64, low: f64, high: f64) -> Estimate {
        Estimate {
            value: Figure::Number(value),
            low: Some(Figure::Number(low)),
            high: Some(Figure::Number(high)),
            interval: Interval::StandardError,
        }
    }

    #[test]
    fn thousands_are_grouped_and_signs_kept() {
        for (value, decimals, text) in [
            (0.0, 0, "0"),
            (-0.2, 0, "0"),
            (-1.0, 0, "-1"),
            (999.6, 0, "1,000"),
            (1234567.891, 2, "1,234,567.89"),
            (-1234.5, -2, "-1,200"),
            (0.0752, 3, "0.075"),
            (100.0, 0, "100"),
            (2e16, 0, "2.00e16"),
            (f64::INFINITY, 0, "never"),
            (f64::NAN, 0, "no value"),
        ] {
            assert_eq!(grouped(value, decimals), text);
        }
    }

    #[test]
    fn exponents_at_exact_powers() {
        for n in -8..=14 {
            let x: f64 = format!("1e{n}").parse().unwrap();
            assert_eq!(exponent(x), n, "{x}");
            assert_eq!(exponent(x * 9.99), n, "{x}");
        }
        assert_eq!(exponent(0.0), 0);
        assert_eq!(exponent(f64::NAN), 0);
    }

    #[test]
    fn digits_follow_the_interval_and_the_unit() {
        // Half-width 30: tens are the last digit that means anything.
        assert_eq!(estimate(&estimate_of(1234.0, 1204.0, 1264.0), "kWh", "EUR"), "1,230");
        // Money: whole units however narrow the interval.
        assert_eq!(estimate(&estimate_of(12.345, 12.344, 12.346), "EUR", "EUR"), "12");
        assert_eq!(estimate(&estimate_of(0.07512, 0.0751, 0.0752), "EUR/kWh", "EUR"), "0.075");
        assert_eq!(estimate(&estimate_of(8.347, 8.34, 8.35), "yr", "EUR"), "8.3");
        assert_eq!(estimate_with_interval(&estimate_of(118.4, 95.2, 141.6), "EUR", "EUR"), "120 [100, 140]");
        let open = Estimate { high: Some(Figure::Never), ..Estimate::alone(Figure::Number(5.0)) };
        assert_eq!(estimate_with_interval(&open, "yr", "EUR"), "5.0 [no limit, never]");
    }

    #[test]
    fn prose_rounds_to_what_is_known() {
        for (value, half, text) in [
            (1041.7, 5.0, "1,040"),
            (1041.7, 0.4, "1,040"), // three digits are enough for a sentence
            (-348.2, 7.7, "-350"),
            (118.4, 23.2, "120"), // a hundred would lie hard by the end of its interval
            (133.3, 1.35, "133"),
            (0.4, 60.0, "0"),
            (8.0, 0.3, "8"),
        ] {
            assert_eq!(in_prose(&estimate_of(value, value - half, value + half), "EUR", "EUR"), text);
        }
        assert_eq!(in_prose(&estimate_of(0.0763, 0.0741, 0.0785), "EUR/kWh", "EUR"), "0.076");
        assert_eq!(in_prose(&estimate_of(8.34, 8.26, 8.42), "yr", "EUR"), "8.3");
        // Known on one side only: known to that side's length.
        let half_open = Estimate { high: Some(Figure::Never), ..estimate_of(17.3, 15.1, 0.0) };
        assert_eq!(estimate_with_interval(&half_open, "yr", "EUR"), "17 [15, never]");
        let never = Estimate::alone(Figure::Never);
        assert_eq!(in_prose(&never, "yr", "EUR"), "never");
    }

    #[test]
    fn shares_in_three_voices() {
        let of = |value, low, high| Share { value, low, high, interval: Interval::Wilson };
        let share = of(0.703, 0.693, 0.713);
        assert_eq!(share_with_interval(&share), "0.70 [0.69, 0.71]");
        assert_eq!(percent(&share), "70 %");
        assert_eq!(in_ten(share.value), "about 7 in 10");
        assert_eq!(percent(&of(0.9996, 0.999, 1.0)), "over 99 %");
        assert_eq!(percent(&of(0.0002, 0.0, 0.001)), "under 1 %");
        assert_eq!(percent(&of(1.0, 0.99, 1.0)), "100 %");
        assert_eq!(percent(&of(0.52, 0.42, 0.62)), "50 %");
        assert_eq!(in_ten(0.97), "about 97 in 100");
        assert_eq!(in_ten(0.52), "about half");
        assert_eq!(in_ten(0.001), "fewer than 1 in 100");
        assert_eq!(in_ten(f64::NAN), "an unknown share");
    }

    #[test]
    fn labels_inside_sentences() {
        for (label, text) in [
            ("Hot water each person draws", "hot water each person draws"),
            ("A new element", "a new element"),
            ("VAT of the kit", "VAT of the kit"),
            ("CO2 price", "CO2 price"),
            ("What does it cost?", "\"What does it cost?\""),
            ("Ölpreis", "ölpreis"),
            ("", ""),
        ] {
            assert_eq!(in_sentence(label), text);
        }
    }

    #[test]
    fn four_digits_are_enough() {
        assert_eq!(
            estimate_with_interval(&estimate_of(1450.678, 1450.668, 1450.688), "kWh", "EUR"),
            "1,451 [1,451, 1,451]"
        );
        assert_eq!(
            estimate_with_interval(&estimate_of(-29.7852, -29.7871, -29.7843), "kg", "EUR"),
            "-29.79 [-29.79, -29.78]"
        );
        assert_eq!(estimate(&estimate_of(1_234_567.0, 1_234_566.0, 1_234_568.0), "EUR", "EUR"), "1,235,000");
    }

    #[test]
    fn user_text_is_tamed() {
        assert_eq!(clean("a\u{1b}[31mred\r\n\u{202e}b"), "a [31mred b");
        assert_eq!(shortened("abcdef", 4), "abc…");
        assert_eq!(with_unit("9", "yr"), "9 years");
    }
}
