//! From a simulated home to rows of a study that knows no half hours: what a result came to over the runs, as the input
//! of a simpler model.

use crate::analysis::Summary;
use crate::sampling::{Distribution, Value};

/// A quantity of a simulated year that simpler studies have as an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evidence {
    /// Its name.
    pub name: &'static str,
    /// Plain name.
    pub label: &'static str,
    /// Its unit, "" if none.
    pub unit: &'static str,
    /// Its formula over the outputs of a home called `HOME`.
    pub formula: &'static str,
}

/// All of them.
pub const EVIDENCE: [Evidence; 5] = [
    Evidence {
        name: "sunny_days",
        label: "Share of days on which the sun suffices",
        unit: "",
        formula: "sum_months(HOME.days_by_sun) / (365 [day])",
    },
    Evidence {
        name: "export",
        label: "What the panels send to the grid in a year without the controller",
        unit: "kWh",
        formula: "sum_months(HOME.exported_before)",
    },
    Evidence {
        name: "share_taken",
        label: "Share of the export that the water takes",
        unit: "",
        formula: "sum_months(HOME.diverted) / max(sum_months(HOME.exported_before), 0.001 [kWh])",
    },
    Evidence {
        name: "displaced",
        label: "Back-up heat saved for each kWh put into the water",
        unit: "",
        formula: "sum_months(HOME.displaced) / max(sum_months(HOME.diverted), 0.001 [kWh])",
    },
    Evidence {
        name: "backup_free_days",
        label: "Days without back-up heat that the controller adds in a year",
        unit: "day",
        formula: "sum_months(HOME.backup_free_days - HOME.backup_free_days_before)",
    },
];

/// A distribution as a row of a study writes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its kind.
    pub kind: &'static str,
    /// Its parameters.
    pub parameters: Vec<(&'static str, f64)>,
    /// Base value.
    pub base: f64,
    /// Largest distance between its P10, P50 and P90 and those of the runs, as a share of their spread P90 - P10.
    pub off: f64,
}

/// Up to this share of the spread may a percentile of the named law be off; else the percentiles themselves are written.
const NEAR: f64 = 0.1;

/// The row for what `summary` says: a beta for shares, a lognormal for amounts above 0, a normal otherwise; where these do
/// not come near the runs' percentiles, those percentiles. None where the runs have no spread or no numbers.
pub fn row(summary: &Summary) -> Option<Row> {
    let (mean, sd) = (summary.mean.as_ref()?.value.number()?, summary.sd.as_ref()?.value.number()?);
    let base = summary.base.number()?;
    let at = |p: f64| summary.percentiles.iter().find(|x| x.p == p)?.estimate.value.number();
    let (low, middle, high) = (at(0.10)?, at(0.50)?, at(0.90)?);
    if !(high > low && sd > 0.0) {
        return None;
    }
    let lowest = at(0.01)?;
    let share = summary.unit.is_empty() && lowest > 0.0 && at(0.99)? < 1.0;
    let kind = if share {
        "beta"
    } else if lowest > 0.0 {
        "lognormal"
    } else {
        "normal"
    };
    let moments = vec![("mean", round(mean)), ("sd", round(sd))];
    let off = |kind: &str, parameters: &[(&str, f64)]| {
        let parameters: Vec<(String, Value)> =
            parameters.iter().map(|(key, x)| ((*key).to_owned(), Value::Number(*x))).collect();
        let law = Distribution::build(kind, &parameters, None).ok()?;
        let apart = [(0.10, low), (0.50, middle), (0.90, high)];
        Some(apart.iter().map(|(p, x)| (law.quantile_at(*p) - x).abs()).fold(0.0, f64::max) / (high - low))
    };
    if let Some(off) = off(kind, &moments).filter(|off| *off <= NEAR) {
        return Some(Row { kind, parameters: moments, base: round(base), off });
    }
    let percentiles = vec![("p10", round(low)), ("p50", round(middle)), ("p90", round(high))];
    let off = off("quantiles", &percentiles)?;
    Some(Row { kind: "quantiles", parameters: percentiles, base: round(base), off })
}

/// Three digits: more than a simulation of a home deserves.
fn round(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    let places = 2 - libm::floor(libm::log10(x.abs())) as i32;
    let ten = libm::pow(10.0, f64::from(places.abs()));
    if places >= 0 { (x * ten).round() / ten } else { (x / ten).round() * ten }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::{Estimate, Figure, Percentile};

    /// A summary with the percentiles of a known law.
    fn of(law: &Distribution, unit: &str) -> Summary {
        let mut summary = crate::chart::fixture::normal("x", "x", unit, 0.0, 1.0, None);
        let estimate = |x: f64| Estimate::alone(Figure::Number(x));
        summary.base = Figure::Number(law.median());
        (summary.mean, summary.sd) = (Some(estimate(law.mean())), Some(estimate(law.sd())));
        summary.percentiles = [0.01, 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95, 0.99]
            .map(|p| Percentile { p, estimate: estimate(law.quantile_at(p)) })
            .to_vec();
        summary
    }

    fn law(kind: &str, parameters: &[(&str, f64)]) -> Distribution {
        let parameters: Vec<(String, Value)> =
            parameters.iter().map(|(k, x)| ((*k).to_owned(), Value::Number(*x))).collect();
        Distribution::build(kind, &parameters, None).unwrap()
    }

    #[test]
    fn a_beta_comes_back_as_itself() {
        let row = row(&of(&law("beta", &[("mean", 0.62), ("sd", 0.09)]), "")).unwrap();
        assert_eq!((row.kind, row.parameters), ("beta", vec![("mean", 0.62), ("sd", 0.09)]));
        assert!(row.off < 0.01);
    }

    #[test]
    fn amounts_are_lognormal_and_rounded_to_three_digits() {
        let row = row(&of(&law("lognormal", &[("mean", 1803.7), ("sd", 301.2)]), "kWh")).unwrap();
        assert_eq!((row.kind, row.parameters), ("lognormal", vec![("mean", 1800.0), ("sd", 301.0)]));
    }

    #[test]
    fn what_no_named_law_fits_keeps_its_percentiles() {
        // Two far heaps: no beta with this mean and spread has such a middle.
        let mut summary = of(&law("beta", &[("mean", 0.5), ("sd", 0.1)]), "");
        for percentile in &mut summary.percentiles {
            let x = if percentile.p < 0.5 { 0.2 } else { 0.8 } + percentile.p * 0.01;
            percentile.estimate = Estimate::alone(Figure::Number(x));
        }
        summary.sd = Some(Estimate::alone(Figure::Number(0.3)));
        assert!(row(&summary).is_none_or(|row| row.kind == "quantiles"));
    }

    #[test]
    fn without_spread_there_is_no_row() {
        let mut summary = of(&law("beta", &[("mean", 0.5), ("sd", 0.1)]), "");
        summary.sd = Some(Estimate::alone(Figure::Number(0.0)));
        assert_eq!(row(&summary), None);
    }
}
