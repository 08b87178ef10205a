//! What a result hangs on, from the runs at hand: no new evaluations, and the
//! dependence among the inputs kept (methods 8).

pub mod by_group;
pub mod classes;
pub mod dummy;
mod measures;
mod notes;
pub mod outcome;
mod parts;
pub mod regression;
pub mod tenths;
pub mod whole;

use crate::analysis::Estimate;
use crate::analysis::factors::Factor;
use measures::{Measured, measure, measure_dummies};
use outcome::Outcome;
use rayon::prelude::*;
use regression::{Column, Fitted, fit_columns};
use schemars::JsonSchema;
use serde::Serialize;

pub use by_group::{Group, Groups, by_group};
pub use tenths::{End, TenthStatistic, Tenths, TenthsRow, tenths};

/// Below this share of variance explained, an order by regression coefficients is not to be trusted.
const LEAST_R_SQUARED: f64 = 0.7;

/// What is asked besides the measures that are always made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SensitivityWish {
    /// Resamples for the correction of the whole-distribution measures (100 are enough); none: raw estimates only.
    pub bootstrap: Option<usize>,
}

/// What the variance-based measures are of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum SensitivityOf {
    /// The value.
    Value,
    /// Whether it is never: 1 for never, 0 for a number.
    Never,
}

/// A measure of the whole distribution, between 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Whole {
    /// As estimated: biased up, so to be read beside the floor.
    pub value: f64,
    /// Twice the estimate less the mean of the resamples, when resamples were asked for. Still
    /// biased up for a factor of no effect (0.6 of its raw level stays).
    pub corrected: Option<f64>,
}

/// One factor.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SensitivityRow {
    /// Name of the factor.
    pub name: String,
    /// Its plain name.
    pub label: String,
    /// Share of the variance that knowing this factor alone takes away, by classes and corrected for their
    /// number; below 0 it is noise (show 0). Its interval is longer upwards, by what the width of the classes may
    /// lose of a steep effect. No value when there is none.
    pub first_order: Estimate,
    /// Classes it is estimated by; 0 without an estimate.
    pub classes: usize,
    /// Mean Kolmogorov distance of the classes.
    pub kolmogorov: Option<Whole>,
    /// Mean of half the area between densities.
    pub delta: Option<Whole>,
    /// Spearman's rank correlation with the result (interval: Bonett, Wright 2000, for independent runs).
    /// No value for a list of labels.
    pub spearman: Estimate,
    /// Standardised regression coefficient.
    pub src: Option<f64>,
    /// The same of ranks.
    pub srrc: Option<f64>,
    /// Partial rank correlation, the other factors held fixed.
    pub prcc: Option<f64>,
    /// Correlated with another factor by the study.
    pub linked: bool,
}

/// The most that any of [`dummy::DUMMIES`] factors without effect shows by the same estimators; a
/// further one would pass it with a chance of 1 in 21. For a factor with fewer classes, and for one of a Sobol sample, it is generous.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Floor {
    /// Of the first-order index.
    pub first_order: Option<f64>,
    /// Of the mean Kolmogorov distance, uncorrected.
    pub kolmogorov: Option<f64>,
    /// Of delta, uncorrected.
    pub delta: Option<f64>,
    /// Of the size of Spearman's correlation.
    pub spearman: Option<f64>,
    /// Of the corrected Kolmogorov distance, when resamples were asked for.
    pub kolmogorov_corrected: Option<f64>,
    /// Of the corrected delta, when resamples were asked for.
    pub delta_corrected: Option<f64>,
}

/// All factors.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Sensitivity {
    /// Runs given.
    pub runs: u64,
    /// Runs without a value; they count nowhere else.
    pub without_value: u64,
    /// Runs that are never.
    pub never: u64,
    /// What the first-order index and SRC are of.
    pub of: SensitivityOf,
    /// By falling first-order index; ties, and those without one, in file order.
    pub rows: Vec<SensitivityRow>,
    /// Noise.
    pub floor: Floor,
    /// Share of the variance that the regression of values explains.
    pub r_squared: Option<f64>,
    /// The same of ranks.
    pub rank_r_squared: Option<f64>,
    /// Largest over smallest eigenvalue of the rank correlations among the factors.
    pub condition_number: Option<f64>,
    /// R^2 is below 0.7 (or there is none): no order by SRC.
    pub withheld: bool,
    /// The same of ranks: no order by SRRC or PRCC.
    pub rank_withheld: bool,
    /// To be said beneath.
    pub notes: Vec<String>,
}

/// Sensitivity of `result` (one a run: never is +infinity; NaN is no value) to each factor. Run r belongs to
/// replicate r mod `replicates` of a stratified sample; none for independent runs.
///
/// As soon as any run is never, the measures that need a variance (first order, SRC) are those of the yes/no
/// result "is never"; ranks and the whole-distribution measures take never as the largest value. In a result that is
/// not in years an infinity is no value: give it as NaN.
pub fn sensitivity(
    result: &[f64],
    factors: &[Factor],
    replicates: Option<u32>,
    asked: SensitivityWish,
) -> Sensitivity {
    let outcome = Outcome::of(result, replicates);
    let bins = whole::bin_ends(&outcome, whole::classes_for(outcome.n()));
    let columns: Vec<_> = factors.iter().map(|factor| outcome.kept(&factor.values)).collect();
    let resamples = measures::resamples(&outcome, asked.bootstrap);
    let pairs: Vec<(&Factor, &[f64])> = factors.iter().zip(columns.iter().map(|c| &**c)).collect();
    let measured: Vec<Measured> = pairs
        .par_iter()
        .map(|&(factor, values)| measure(&outcome, &bins, factor, values, &resamples))
        .collect();
    let floor = measure_dummies(&outcome, &bins, &resamples);
    let (values, ranks) = regressions(&outcome, &pairs, &measured);
    let notes = notes::notes(&outcome, factors, &measured, &values, &ranks);
    let mut rows: Vec<SensitivityRow> = factors
        .iter()
        .zip(measured)
        .enumerate()
        .map(|(i, (factor, m))| row(factor, m, i, &values, &ranks, outcome.n() as u64))
        .collect();
    let place = |row: &SensitivityRow| row.first_order.value.number().unwrap_or(f64::NEG_INFINITY);
    rows.sort_by(|a, b| place(b).total_cmp(&place(a)));
    let low = |fit: &Fitted| fit.r_squared.is_none_or(|r| r < LEAST_R_SQUARED);
    Sensitivity {
        runs: outcome.runs as u64,
        without_value: (outcome.runs - outcome.n()) as u64,
        never: outcome.never as u64,
        of: if outcome.never > 0 { SensitivityOf::Never } else { SensitivityOf::Value },
        rows,
        floor,
        r_squared: values.r_squared,
        rank_r_squared: ranks.r_squared,
        condition_number: ranks.condition_number,
        withheld: low(&values),
        rank_withheld: low(&ranks),
        notes,
    }
}

/// Fits of values and of ranks, over the factors that have an order.
fn regressions(outcome: &Outcome, pairs: &[(&Factor, &[f64])], measured: &[Measured]) -> (Fitted, Fitted) {
    let of_values = pairs
        .iter()
        .zip(measured)
        .map(|((_, values), m)| m.ranks.as_ref().and_then(|_| Column::of_values(values)))
        .collect();
    let of_ranks = measured.iter().map(|m| Column::of_doubled_ranks(m.ranks.as_deref()?)).collect();
    (
        fit_columns(of_values, Column::of_values(&outcome.standard), outcome),
        fit_columns(of_ranks, Column::of_doubled_ranks(&outcome.doubled_ranks), outcome),
    )
}

fn row(factor: &Factor, m: Measured, i: usize, values: &Fitted, ranks: &Fitted, n: u64) -> SensitivityRow {
    SensitivityRow {
        name: factor.name.clone(),
        label: factor.label.clone(),
        first_order: m.first_order,
        classes: m.classes,
        kolmogorov: m.kolmogorov,
        delta: m.delta,
        spearman: measures::rank_correlation(ranks.with_result[i], n),
        src: values.coefficients[i],
        srrc: ranks.coefficients[i],
        prcc: ranks.partial[i],
        linked: factor.linked,
    }
}
