//! Questions asked of the runs, a file for each. Reads runs, returns answers;
//! draws nothing, prints nothing.

mod answers;
pub mod statistics;

pub use answers::*;
pub use appraise::{AppraisalError, Options, appraise};
