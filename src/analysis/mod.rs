//! Questions asked of the runs, a file for each. Reads runs, returns answers;
//! draws nothing, prints nothing.

mod answers;
mod appraise;
mod bands;
pub mod break_even;
pub mod chances;
mod choices;
mod drawing;
mod drawn;
mod facts;
mod figures;
mod flip_answers;
mod flips;
mod held;
mod inputs;
mod itp;
mod laid;
mod links;
mod movers;
mod paths;
pub mod statistics;
mod stopping;
mod stream;
mod survey;
pub mod tornado;

pub use answers::*;
pub use appraise::{AppraisalError, Options, appraise};
pub use figures::*;
pub use flip_answers::*;
pub use inputs::{InputHistogram, InputRow, InputShare, InputSort, input_rows};
pub use paths::{PathFan, PathYear};
