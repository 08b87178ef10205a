//! Questions asked of the runs, a file for each. Reads runs, returns answers;
//! draws nothing, prints nothing.

mod answers;
mod appraise;
mod bands;
pub mod break_even;
mod choices;
mod facts;
mod flips;
mod laid;
mod movers;
pub mod statistics;
mod stream;
pub mod tornado;
mod windowed;

pub use answers::*;
pub use appraise::{AppraisalError, Options, appraise};
