//! What an analysis says: plain data that every reader shares. Each figure
//! carries its own uncertainty and the number of runs behind it. All values
//! are in the unit named beside them (never in base units).

use super::figures::{Estimate, Figure, Percentile, Share};
use schemars::JsonSchema;
use serde::Serialize;

use crate::analysis::indices::GlobalIndices;
use crate::analysis::{
    Alternatives, BreakEven, Claim, Drivers, Failing, InputRow, Knowing, PathFan, ResultByGroup,
    SimulatedHome,
};

/// Everything that a study's runs say.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Answers {
    /// Format number of this structure.
    pub format: u32,
    /// What was asked.
    pub study: StudyFacts,
    /// How it was drawn.
    pub sampling: SamplingFacts,
    /// Each result, choices at their base values, headline first.
    pub results: Vec<Summary>,
    /// Each result for each value of each choice, side by side, never pooled.
    pub choices: Vec<ChoiceAnswer>,
    /// Share paid back by year and cumulative cash by year.
    pub bands: Option<PaybackBands>,
    /// What the headline hangs on, one at a time.
    pub tornado: Option<Tornado>,
    /// Where the answer flips.
    pub break_even: Vec<BreakEven>,
    /// Reached against asked rank correlations.
    pub links: Vec<Link>,
    /// Things the reader must know (failed runs, doubtful figures), one sentence each.
    pub remarks: Vec<String>,
    /// How the number of runs was found, where the study asks for a precision.
    pub convergence: Option<Convergence>,
    /// Courses of price paths and of inputs that change by year, choices at their base values.
    pub paths: Vec<PathFan>,
    /// What goes in: a row for each input and each part of a path.
    pub inputs: Vec<InputRow>,
    /// Groups of correlations that contradicted each other, as given and as used.
    pub repairs: Vec<LinkRepair>,
    /// What drives the headline, from its runs.
    pub drivers: Option<Drivers>,
    /// Results by groups of runs: the headline by every input and path, then what the study asks for.
    pub groups: Vec<ResultByGroup>,
    /// The study, its alternatives and doing nothing side by side.
    pub alternatives: Option<Alternatives>,
    /// What it is worth to know more before choosing.
    pub knowing: Option<Knowing>,
    /// When a result fails.
    pub failing: Option<Failing>,
    /// Whether it keeps what was promised.
    pub claim: Option<Claim>,
    /// Global indices, where they are asked for.
    pub indices: Option<GlobalIndices>,
    /// Simulated homes in the base case.
    pub homes: Vec<SimulatedHome>,
}

/// The search for as many runs as a wanted precision takes.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Convergence {
    /// Name of the result.
    pub result: String,
    /// Plain name.
    pub label: String,
    /// Unit of the figure and of `within`; "" for a share.
    pub unit: String,
    /// "mean", "share", or a percentile such as "P10".
    pub statistic: String,
    /// What is counted, for a share, such as "at least 0 EUR".
    pub rule: Option<String>,
    /// Wanted: the further end of the 95 % interval lies no further than this from the estimate.
    pub within: f64,
    /// Whether that was reached: at the last look, with no more than twice as much at the look before.
    pub reached: bool,
    /// Most runs allowed.
    pub most_runs: u64,
    /// Where it was not reached: about how many runs it would take; none where nothing can be said.
    pub runs_needed: Option<u64>,
    /// What was seen at each number of runs, rising.
    pub looks: Vec<Look>,
}

/// What was seen at some number of runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Look {
    /// Runs.
    pub runs: u64,
    /// The figure (a share as a number) with its interval.
    pub estimate: Estimate,
    /// Distance from the figure to the further end; none where an end is missing or never.
    pub half_width: Option<f64>,
}

/// Facts of the study for headings.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct StudyFacts {
    /// Title.
    pub title: String,
    /// Question.
    pub question: Option<String>,
    /// Currency code.
    pub currency: String,
    /// "real" or "nominal".
    pub prices: String,
    /// Calendar year of year 0.
    pub first_year: i64,
    /// Horizon.
    pub years: usize,
    /// Name of the headline result.
    pub headline: String,
    /// Name of the first result of kind years that is not "first" or "discounted", if any.
    pub payback: Option<String>,
    /// Inputs without a source.
    pub unsourced: Vec<String>,
}

/// How the runs were drawn.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SamplingFacts {
    /// "sobol", "latin hypercube" or "random".
    pub method: String,
    /// Runs asked for.
    pub runs_asked: u64,
    /// Runs done.
    pub runs: u64,
    /// Independent replicates.
    pub replicates: u32,
    /// Seed.
    pub seed: u64,
    /// Version of what decides sampled values.
    pub engine: u32,
    /// Components in the order of their Sobol dimensions.
    pub dimensions: Vec<String>,
    /// How linked inputs are made to go together: "gaussian copula" or "iman-conover".
    pub linking: String,
}

/// What sort of result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ResultKind {
    /// A number.
    Number,
    /// Years or never.
    Years,
    /// Yes or no (its share is that of yes).
    YesNo,
}

/// One result over the runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Summary {
    /// Name in the study.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit, "" if dimensionless.
    pub unit: String,
    /// Sort.
    pub kind: ResultKind,
    /// Base case.
    pub base: Figure,
    /// Share of runs below the base case's value.
    pub base_rank: Option<Share>,
    /// Runs behind it.
    pub runs: u64,
    /// Runs without a value (failed, or no single rate).
    pub without_value: u64,
    /// Mean; none for years-or-never with any never.
    pub mean: Option<Estimate>,
    /// Standard deviation; none as above.
    pub sd: Option<Estimate>,
    /// P1, P5, P10, P25, P50, P75, P90, P95, P99 (type 7 of Hyndman and Fan, 1996).
    pub percentiles: Vec<Percentile>,
    /// Share that is never; for kind years only.
    pub never: Option<Share>,
    /// Share that meets the threshold (or is yes).
    pub success: Option<Success>,
    /// Counts over equal classes between about P0.5 and P99.5.
    pub histogram: Histogram,
    /// Points (value, share of runs not above it) of the cumulative curve, at most 201, numbers only.
    pub cumulative: Vec<(f64, f64)>,
    /// The whole curve of the distribution lies within this distance of the points with 95 % confidence: sqrt(ln(40)/2n)
    /// of independent runs (Dvoretzky, Kiefer, Wolfowitz 1956; Massart 1990); conservative under a stratified method.
    pub cumulative_within: f64,
}

/// Share of runs that meet a threshold.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Success {
    /// Such as "at least 0 EUR" or "yes".
    pub rule: String,
    /// The threshold, in the result's unit; none for yes/no.
    pub threshold: Option<f64>,
    /// Whether values above the threshold are the good ones.
    pub good_above: bool,
    /// Share of runs.
    pub share: Share,
}

/// Counts over classes.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Histogram {
    /// Edges, one more than counts.
    pub edges: Vec<f64>,
    /// Runs in each class.
    pub counts: Vec<u64>,
    /// Runs below the first edge.
    pub below: u64,
    /// Runs above the last edge (numbers only).
    pub above: u64,
    /// Runs that are never.
    pub never: u64,
}

/// The results for one value of one choice, the other choices at base.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct ChoiceAnswer {
    /// Name of the choice.
    pub choice: String,
    /// Plain name.
    pub label: String,
    /// Its value as the reader writes it, with unit.
    pub value: String,
    /// Whether it is the base value.
    pub is_base: bool,
    /// Results that depend on this choice.
    pub results: Vec<Summary>,
    /// Courses that depend on this choice.
    pub paths: Vec<PathFan>,
    /// Share paid back and cash by year, if they depend on this choice.
    pub bands: Option<PaybackBands>,
    /// What the tornado's result hangs on, if that depends on this choice.
    pub tornado: Option<Tornado>,
    /// Break-even values that depend on this choice, those of the base choices with more points on their curves.
    pub break_even: Vec<BreakEven>,
    /// The courses side by side, if that depends on this choice.
    pub alternatives: Option<Alternatives>,
    /// What it is worth to know, if that depends on this choice.
    pub knowing: Option<Knowing>,
    /// When the result fails, if that depends on this choice.
    pub failing: Option<Failing>,
}

/// Share paid back and cash by year.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PaybackBands {
    /// Name of the payback result.
    pub result: String,
    /// Currency.
    pub unit: String,
    /// Share of runs paid back by the end of year 1, 2, ...
    pub paid_back: Vec<Share>,
    /// Share never paid back within the horizon.
    pub never: Share,
    /// Cumulative cash at the end of year 0 (outlay only), 1, 2, ...
    pub cash: Vec<CashBand>,
    /// Cumulative cash of a few runs, to show that no run follows an edge.
    pub some_runs: Vec<Vec<f64>>,
}

/// Cumulative cash at the end of one year.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CashBand {
    /// Years from the start.
    pub year: usize,
    /// Base case.
    pub base: f64,
    /// Mean over runs.
    pub mean: Estimate,
    /// P5, P10, P25, P50, P75, P90, P95.
    pub percentiles: Vec<Percentile>,
}

/// Span of one result over each input, one at a time.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Tornado {
    /// Name of the result.
    pub result: String,
    /// Plain name.
    pub label: String,
    /// Unit of the result.
    pub unit: String,
    /// Base case.
    pub base: Figure,
    /// Threshold of success, if the result has one.
    pub threshold: Option<f64>,
    /// Largest first; at a never end first of all.
    pub rows: Vec<TornadoRow>,
    /// How linked inputs were held, and that one at a time misses interactions.
    pub notes: Vec<String>,
}

/// One bar.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TornadoRow {
    /// Name of the input or path.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit of the input.
    pub unit: String,
    /// Its P10 as text with unit (of its first year for a path).
    pub low_input: String,
    /// Its P90 as text with unit.
    pub high_input: String,
    /// Result at P10.
    pub low: Figure,
    /// Result at P90.
    pub high: Figure,
    /// Result at P25 and P75 where both ends lie on one side of the base.
    pub quartiles: Option<(Figure, Figure)>,
    /// high - low, absolute; "at least" when an end is never.
    pub span: f64,
    /// An end is never, so the span is a lower bound.
    pub span_is_lower_bound: bool,
}

/// Asked and reached rank correlation.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Link {
    /// First name.
    pub first: String,
    /// Second name.
    pub second: String,
    /// Asked, as rank correlation.
    pub asked: f64,
    /// Reached over the first runs (Spearman); of paths, by their shocks in the middle year of the horizon.
    pub reached: f64,
    /// Used, as rank correlation: other than asked after a repair.
    pub used: f64,
    /// 95 % interval of what is reached, as if the runs were independent (Bonett, Wright 2000); wide for stratified runs.
    pub low: Option<f64>,
    /// Its upper end.
    pub high: Option<f64>,
    /// Runs behind it.
    pub runs: u64,
    /// Of two paths: what that means for the rank correlation of their levels in the middle year, start, growth and
    /// changes apart.
    pub levels: Option<f64>,
}

/// Correlations that contradicted each other, moved to the nearest ones that do not (Higham 2002).
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LinkRepair {
    /// Names, in the order of rows and columns.
    pub names: Vec<String>,
    /// Rank correlations as given; 0 where none is given.
    pub given: Vec<Vec<f64>>,
    /// Rank correlations used.
    pub used: Vec<Vec<f64>>,
    /// Largest change of a rank correlation.
    pub largest_change: f64,
    /// Its pair.
    pub pair: [String; 2],
    /// Frobenius distance of the two matrices of normal scores.
    pub distance: f64,
    /// Smallest eigenvalue of the matrix of normal scores as given.
    pub smallest_eigenvalue: f64,
}
