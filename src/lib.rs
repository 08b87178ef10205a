//! payspread: does it pay back, how sure is that, what does it hang on, and at what price does the answer flip?
//!
//! The house, in the order in which data flows through it (one direction, no way back):
//!
//! ```text
//! study text -> study    (parsed, every value with its place in the file)
//!            -> model    (names resolved, units, kinds and shapes checked, workings in order)
//!            -> engine   (compiled for blocks of runs, in stages) with draws from sampling
//!            -> analysis (answers: plain data)
//!            -> chart, report, cli (readers of the answers)
//! ```
#![deny(unsafe_code)]

pub mod analysis;
pub mod chart;
pub mod cli;
pub mod diagnostic;
pub mod engine;
pub mod finance;
pub mod formula;
pub mod hotwater;
pub mod model;
pub mod report;
pub mod sampling;
pub mod selftest;
pub mod sheet;
pub mod starting;
pub mod study;
pub mod units;
pub mod wording;

/// Version of everything that decides sampled values. It rises whenever the
/// same study and seed would give other draws or other results.
pub const ENGINE_VERSION: u32 = 3;
