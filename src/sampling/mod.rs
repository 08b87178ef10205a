//! Draws: streams of random numbers, methods, distributions, dependence, paths.
//!
//! A draw is a pure function of (seed, method, replicate, name, part, index):
//! not of the thread, the block, the order in the file, or which other inputs
//! exist. Latin hypercube adds the number of runs in a replicate, Sobol the
//! dimensions, kept as a list with the study. No threads, no units, no files.
#![expect(clippy::neg_cmp_op_on_partial_ord, reason = "guards are written so that NaN cannot pass")]

pub mod dependence;
pub mod design;
pub mod dimensions;
pub mod distributions;
pub mod maths;
pub mod paths;
pub mod philox;
pub mod plan;

pub(crate) mod bridge;
pub(crate) mod eigen;
pub(crate) mod fault;
pub(crate) mod groups;
pub(crate) mod hypercube;
pub mod nearest;
pub(crate) mod path_draw;
pub(crate) mod path_plan;
pub mod repair;
pub mod second;
pub mod sobol;
pub(crate) mod streams;
pub(crate) mod ties;

pub use dependence::{Link, LinkRules, Linking};
pub use design::{Design, Method};
pub use distributions::{Distribution, Family, ParameterError, Value};
pub use maths::Vectors;
pub use paths::{ChangeSpec, Drift, PathSpec, Process, Quantity};
pub use plan::{Column, InputSpec, Plan, PlanError, Scratch};
pub use repair::Repair;
