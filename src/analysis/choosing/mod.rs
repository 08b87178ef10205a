//! Which course to take, and what it is worth to find out more first.
//!
//! Courses are compared on the same draws, run by run (common random numbers).
//! Net benefits are money: more is better.

mod classes;
mod compare;
mod dominance;
mod features;
mod fit;
mod gains;
mod information;
mod runs;
mod sampling_value;

pub use compare::compare;
pub use information::information;
pub use sampling_value::value_of_sampling;

use schemars::JsonSchema;
use serde::Serialize;

use crate::analysis::{Estimate, Percentile, Share};

/// One course of action and what it nets in each run.
#[derive(Debug, Clone, PartialEq)]
pub struct Course<'a> {
    /// Name, as in the study.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Money that the net benefits are in; that of the first course heads the answers.
    pub unit: String,
    /// Net benefit in each run; NaN where there is none.
    pub net_benefit: &'a [f64],
}

/// What could be found out: an input, a path or a group of them, with its value in each run.
#[derive(Debug, Clone, PartialEq)]
pub struct Subject<'a> {
    /// Name, as in the study.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit; empty if none.
    pub unit: String,
    /// One column for an input, several for a path or a group; a value a run.
    pub columns: Vec<&'a [f64]>,
    /// Of each column: few values without a curve between them (labels, yes/no, small counts).
    pub discrete: Vec<bool>,
    /// Several inputs together.
    pub is_group: bool,
    /// Whether anybody could find it out before deciding.
    pub can_be_found_out: bool,
}

/// Courses side by side.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Comparison {
    /// Money of all figures.
    pub unit: String,
    /// Runs compared.
    pub runs: u64,
    /// Runs left out because a course has no value there.
    pub left_out: u64,
    /// Name of the course with the greatest mean; empty when there are no runs.
    pub best: String,
    /// A row for each course, in the order given.
    pub rows: Vec<CourseRow>,
    /// A row for each pair of courses, in the order given.
    pub pairs: Vec<PairRow>,
}

/// What is said of one course.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CourseRow {
    /// Name.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Mean net benefit.
    pub mean: Estimate,
    /// Share of runs in which no other course does better; courses that tie share the run.
    pub best_share: Share,
    /// Expected regret: mean of what the best course of each run nets beyond this one.
    pub regret: Estimate,
    /// Largest regret of any run.
    pub largest_regret: f64,
}

/// The difference of two courses, first less second, run by run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PairRow {
    /// Name of the first.
    pub first: String,
    /// Name of the second.
    pub second: String,
    /// Mean difference, its interval from the runs' differences.
    pub mean: Estimate,
    /// Standard error of the mean difference; none from too few runs.
    pub standard_error: Option<f64>,
    /// P5, P10, P50, P90 and P95 of the difference.
    pub percentiles: Vec<Percentile>,
    /// Share of runs in which the first is better.
    pub first_better: Share,
    /// Share of runs in which the second is better.
    pub second_better: Share,
    /// Whether the first dominates the second.
    pub first_dominates: Dominance,
    /// Whether the second dominates the first.
    pub second_dominates: Dominance,
}

impl PairRow {
    /// Whether it is about these two, whichever stands first.
    pub fn joins(&self, a: &str, b: &str) -> bool {
        (self.first == a && self.second == b) || (self.first == b && self.second == a)
    }
}

/// Whether one course dominates another (Hadar, Russell 1969).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Dominance {
    /// First order: at every share of runs it nets at least as much. Everybody who likes more prefers it.
    pub first_order: Verdict,
    /// Second order: everybody who likes more and dislikes risk prefers it.
    pub second_order: Verdict,
}

/// Whether an order holds among the runs, and how surely.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Verdict {
    /// It does not hold among these runs.
    #[serde(rename = "no")]
    No,
    /// It holds among these runs, but somewhere by less than one standard error.
    #[serde(rename = "within sampling error")]
    WithinSamplingError,
    /// It holds, and nowhere does one standard error break it.
    #[serde(rename = "yes")]
    Yes,
}

impl Verdict {
    /// Whether it holds among the runs, surely or not.
    pub fn holds(self) -> bool {
        self != Verdict::No
    }

    /// In words, as in the JSON.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::No => "no",
            Verdict::WithinSamplingError => "within sampling error",
            Verdict::Yes => "yes",
        }
    }
}

/// What it is worth to know before deciding.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Information {
    /// Money of all values.
    pub unit: String,
    /// Runs used.
    pub runs: u64,
    /// Runs left out because a course has no value there.
    pub left_out: u64,
    /// Name of the course that is best in the mean; empty when there is nothing to choose.
    pub best: String,
    /// Its plain name.
    pub best_label: String,
    /// Expected value of perfect information: the smallest expected regret. No finding can be worth more.
    pub evpi: Estimate,
    /// A row for each subject, the greatest value first.
    pub rows: Vec<InformationRow>,
    /// What shuffled copies of a single input seem to be worth: the noise of the method.
    pub floor: f64,
    /// The same for shuffled copies of the widest subject, if any has several columns.
    pub floor_of_several: f64,
    /// What a reader must know.
    pub notes: Vec<String>,
}

/// What it is worth to find out one subject.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct InformationRow {
    /// Name.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit of the subject.
    pub unit: String,
    /// Expected value of knowing it, between 0 and that of perfect information.
    pub value: Estimate,
    /// The estimate before it was cut to that range; NaN where none could be made.
    pub raw: f64,
    /// Standard error of the estimate; none from too few runs.
    pub standard_error: Option<f64>,
    /// Part of the value of perfect information, between 0 and 1.
    pub share_of_evpi: f64,
    /// Its interval reaches down to 0 or to the floor: print "about 0".
    pub about_zero: bool,
    /// Several inputs together.
    pub is_group: bool,
    /// Whether anybody could find it out before deciding.
    pub can_be_found_out: bool,
    /// Share of runs in which knowing it would change the choice.
    pub changes_decision: Share,
}

/// What some observations of one input are worth before deciding.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SamplingValue {
    /// Name of the input.
    pub name: String,
    /// Number of observations.
    pub observations: u32,
    /// Standard deviation of one observation, in the unit of the input.
    pub observation_sd: f64,
    /// Expected value of the observations, between 0 and that of perfect information.
    pub value: Estimate,
    /// The estimate before it was cut to that range.
    pub raw: f64,
    /// Standard error of the estimate.
    pub standard_error: Option<f64>,
    /// Share of runs in which the observations would change the choice.
    pub changes_decision: Share,
}
