//! Cases with known answers, worked out on the reader's own machine. What is expected comes from the oracles in
//! `tests/oracles/` (made and checked twice without this program), from published tables, or from a closed form that stands
//! beside the case; never from what this program once gave. Knows nothing of printing.

mod draws;
mod figures;
mod studies;
mod sun;

use serde::Serialize;
use serde_json::Value;

/// What one kind of cases came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Check {
    /// What was worked out.
    pub what: &'static str,
    /// Where the known answers come from.
    pub source: &'static str,
    /// In what deviations are measured.
    pub measure: &'static str,
    /// Figures that were compared.
    pub cases: usize,
    /// Largest deviation.
    pub largest: f64,
    /// What is allowed.
    pub tolerance: f64,
    /// What is wrong, the first few.
    pub wrong: Vec<String>,
}

/// Most faults that are told of a kind.
const MOST_TOLD: usize = 3;

impl Check {
    fn new(what: &'static str, source: &'static str, measure: &'static str, tolerance: f64) -> Self {
        Check { what, source, measure, cases: 0, largest: 0.0, tolerance, wrong: Vec::new() }
    }

    /// Whether all is as it must be; a kind without cases is not.
    pub fn is_ok(&self) -> bool {
        self.wrong.is_empty() && self.cases > 0
    }

    /// A figure: relative to what is expected, absolute where that is nought. Never is never.
    fn figure(&mut self, name: &str, got: f64, expected: f64) {
        let deviation = match () {
            () if got == expected => 0.0,
            () if expected.abs() < 1e-9 => (got - expected).abs(),
            () => ((got - expected) / expected).abs(),
        };
        self.apart(name, got, expected, deviation);
    }

    /// A figure whose deviation is measured otherwise.
    fn apart(&mut self, name: &str, got: f64, expected: f64, deviation: f64) {
        self.cases += 1;
        self.largest = if deviation.is_nan() { f64::INFINITY } else { self.largest.max(deviation) };
        let is_near = deviation <= self.tolerance;
        if !is_near {
            self.fault(format!("{name}: {got}, not {expected}"));
        }
    }

    fn fault(&mut self, what: String) {
        if self.wrong.len() < MOST_TOLD {
            self.wrong.push(what);
        }
    }
}

/// Works out everything; a few seconds.
pub fn checks() -> Vec<Check> {
    vec![
        draws::philox(),
        draws::sobol(),
        draws::distributions(),
        figures::cash_flows(),
        figures::quantiles_of_runs(),
        figures::ranks(),
        sun::almanac(),
        sun::geometry(),
        studies::payback(),
        studies::break_even(),
        studies::linear(),
        studies::indices(),
        studies::threads(),
    ]
}

/// The cases of an oracle.
fn cases(text: &str) -> Vec<Value> {
    let oracle: Value = serde_json::from_str(text).unwrap_or_default();
    oracle["cases"].as_array().cloned().unwrap_or_default()
}

/// A number, or never.
fn number(json: &Value) -> Option<f64> {
    if json == "never" { Some(f64::INFINITY) } else { json.as_f64() }
}

fn numbers(json: &Value) -> Vec<f64> {
    json.as_array().map_or_else(Vec::new, |list| list.iter().filter_map(number).collect())
}

fn name(case: &Value) -> &str {
    case["name"].as_str().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_is_well_here() {
        for check in checks() {
            assert!(check.is_ok(), "{check:?}");
        }
    }

    #[test]
    fn what_is_wrong_is_found() {
        let mut check = Check::new("x", "y", "relative", 1e-9);
        assert!(!check.is_ok(), "no case is no proof");
        check.figure("a", 1.0, 1.0 + 1e-12);
        check.figure("never", f64::INFINITY, f64::INFINITY);
        assert!(check.is_ok());
        for (got, expected) in [(1.0, 1.1), (f64::NAN, 1.0), (f64::INFINITY, 1.0), (1.0, f64::INFINITY)] {
            let mut check = check.clone();
            check.figure("b", got, expected);
            assert!(!check.is_ok(), "{got} {expected}");
        }
    }
}
