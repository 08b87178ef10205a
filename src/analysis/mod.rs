//! Questions asked of the runs, a file for each. Reads runs, returns answers;
//! draws nothing, prints nothing.

mod answers;
mod appraise;
pub mod break_even;
pub mod tornado;

pub use answers::*;
pub use appraise::{AppraisalError, Options, appraise};
