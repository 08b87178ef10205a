//! Figures made from columns of runs: quantiles, intervals, shares, ranks,
//! crossings, and how many digits of them may be shown (methods 5 and 9).
//!
//! Columns hold never as +infinity and no value as NaN. Everything here is
//! exact and the same for any number of threads.

pub mod digits;
pub mod gathered;
pub mod intervals;
pub mod limits;
pub mod quantiles;
pub mod ranks;
mod replicates;
pub mod roots;
pub mod stopping;
pub mod summary;

pub use summary::{
    Asked, Rule, Statistics, mean_and_percentiles_of, moments, percentiles_of, shares_of, summarise,
};
