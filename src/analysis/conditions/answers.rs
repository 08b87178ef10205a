//! What is answered: where it fails, how much of the failing lies there, and
//! how sure that is.

use crate::analysis::{Figure, Share};
use schemars::JsonSchema;
use serde::Serialize;

/// What is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Of {
    /// Runs that fail.
    Failures,
    /// Runs that succeed.
    Successes,
}

/// Conditions under which a result fails (or succeeds).
///
/// Half of the runs find the boxes, the other half say how good they are.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Conditions {
    /// Runs with a result.
    pub runs: u64,
    /// Those that fail.
    pub failures: u64,
    /// Share of the runs that fail.
    pub share_failing: Share,
    /// What the boxes catch.
    pub of: Of,
    /// At most two boxes, the better first; empty where there is none, and then a note says why.
    pub boxes: Vec<ConditionBox>,
    /// The boxes that the search for the first one went through, from all runs to the smallest, on the finding half.
    pub trajectory: Vec<TrajectoryPoint>,
    /// What a reader has to know besides.
    pub notes: Vec<String>,
}

/// A box: conditions that hold together. The second box is about the runs outside the first: it counts only these, but its
/// coverage is still of all failures.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ConditionBox {
    /// Its conditions, in the order of the factors.
    pub restrictions: Vec<Restriction>,
    /// Of the failures of the finding half, the share in the box.
    pub coverage: Share,
    /// Of the runs of the finding half in the box, the share that fails.
    pub density: Share,
    /// Share of the runs of the finding half in the box.
    pub mass: f64,
    /// The same on the other half, which had no part in finding it: the figures to be believed.
    pub held_out: HeldOut,
    /// In a plain sentence, with the figures of the other half.
    pub words: String,
    /// What each of several conditions adds, a sentence for each.
    pub adds: Vec<String>,
    /// Factors that go along with those restricted: the box may stand for them.
    pub neighbours: Vec<Neighbour>,
}

/// A box on the runs that did not find it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct HeldOut {
    /// Of the failures, the share in the box.
    pub coverage: Share,
    /// Of the runs in the box, the share that fails.
    pub density: Share,
    /// Share of the runs in the box.
    pub mass: f64,
    /// Runs in the box.
    pub runs: u64,
    /// Failures in the box.
    pub failures: u64,
}

/// A condition on one factor.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Restriction {
    /// Name.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit of the limits.
    pub unit: String,
    /// Least value, itself included; `Never` where only the runs in which it never comes are in the box.
    pub from: Option<Figure>,
    /// Greatest value, itself included; never lies beyond.
    pub to: Option<Figure>,
    /// The labels in the box, for a list of labels.
    pub labels: Option<Vec<String>>,
    /// Each value is taken as it is: labels, counts, yes or no.
    pub whole_values: bool,
    /// Chance that a condition that picks runs at random does as well, on the finding half: P(Bin(runs in the box, density
    /// without it) >= failures in the box).
    pub quasi_p: f64,
    /// What the condition adds.
    pub adds: Adds,
}

/// The box without one of its conditions, on the half that did not find it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Adds {
    /// Coverage without the condition.
    pub coverage_without: f64,
    /// Density without the condition; none if there is no run.
    pub density_without: Option<f64>,
}

/// A factor whose ranks go with those of a restricted one.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Neighbour {
    /// Name of the restricted factor.
    pub of: String,
    /// Name of the neighbour.
    pub name: String,
    /// Its plain name.
    pub label: String,
    /// Rank correlation of the two (Spearman), on the finding half.
    pub rank_correlation: f64,
    /// In a plain sentence.
    pub words: String,
}

/// A box on the way of the search, on the finding half.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct TrajectoryPoint {
    /// Of the failures, the share in the box.
    pub coverage: f64,
    /// Of the runs in the box, the share that fails.
    pub density: f64,
    /// Share of the runs in the box.
    pub mass: f64,
    /// How many factors it restricts.
    pub restricted: u32,
}
