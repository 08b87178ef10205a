//! Numbers as typed on the command line, and as a trace shows them.

use crate::report::inputs::NARROWEST;
use crate::report::numbers::{exponent, grouped};

/// Most runs.
pub(super) const MOST_RUNS: u64 = 10_000_000_000;
/// Most threads.
const MOST_THREADS: u64 = 1024;

/// `--runs`.
pub(super) fn runs(text: &str) -> Result<u64, String> {
    whole(text, 1, MOST_RUNS, "20000")
}

/// `--threads`.
pub(super) fn threads(text: &str) -> Result<usize, String> {
    whole(text, 1, MOST_THREADS, "4").map(|n| n as usize) // OK: at most MOST_THREADS
}

/// `--width`.
pub(super) fn columns(text: &str) -> Result<usize, String> {
    whole(text, NARROWEST as u64, 400, "100").map(|n| n as usize) // OK: at most 400
}

/// `--seed`, and `--run`.
pub(super) fn any_whole(text: &str) -> Result<u64, String> {
    whole(text, 0, u64::MAX, "4711")
}

/// A whole number; digits may be grouped by underscores, as in a study.
fn whole(text: &str, least: u64, most: u64, such_as: &str) -> Result<u64, String> {
    let digits = text.replace('_', "");
    let is_whole = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    let number = if is_whole { digits.parse().ok() } else { None };
    match number {
        Some(n) if (least..=most).contains(&n) => Ok(n),
        Some(_) => Err(format!("it must lie from {least} to {}", thousands(most))),
        None if is_whole => Err(format!("it must lie from {least} to {}", thousands(most))),
        None => {
            Err(format!("a whole number from {least} to {} is wanted, such as {such_as}", thousands(most)))
        }
    }
}

/// With commas between thousands.
pub(super) fn thousands(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// Six significant digits, so that a reader can follow the sum: 1,234.57, 0.112.
pub(super) fn traced(x: f64) -> String {
    if x == f64::NEG_INFINITY {
        return "below all numbers".into();
    }
    let places = if x == 0.0 { 0 } else { (5 - exponent(x.abs())).max(0) };
    let text = grouped(x, places);
    if text.contains('e') || !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_typed() {
        assert_eq!(runs("20_000"), Ok(20_000));
        assert_eq!(runs("10000000000"), Ok(MOST_RUNS));
        assert_eq!(any_whole("18446744073709551615"), Ok(u64::MAX));
        for beyond in ["0", "10000000001", "1000000000000", "99999999999999999999999"] {
            assert_eq!(runs(beyond), Err("it must lie from 1 to 10,000,000,000".into()), "{beyond}");
        }
        for other in ["", "_", "-1", "1e6", "2.5", "many", "２０"] {
            let told = runs(other).unwrap_err();
            assert_eq!(told, "a whole number from 1 to 10,000,000,000 is wanted, such as 20000", "{other}");
        }
        assert!(threads("0").is_err() && threads("1025").is_err());
        assert_eq!(threads("1024"), Ok(1024));
    }

    #[test]
    fn figures_of_a_trace() {
        let cases = [
            (0.0, "0"),
            (-0.0, "0"),
            (0.112, "0.112"),
            (1234.5678, "1,234.57"),
            (-1_234_567.8, "-1,234,568"),
            (100.0, "100"),
            (0.000_123_456_78, "0.000123457"),
            (f64::INFINITY, "never"),
            (f64::NAN, "no value"),
        ];
        for (x, text) in cases {
            assert_eq!(traced(x), text);
        }
    }
}
