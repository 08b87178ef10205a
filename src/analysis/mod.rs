//! Questions asked of the runs, a file for each. Reads runs, returns answers;
//! draws nothing, prints nothing.

mod answers;
mod appraise;
mod bands;
pub mod break_even;
mod choices;
mod drawing;
mod drawn;
mod facts;
mod figures;
mod flips;
pub mod indices;
mod inputs;
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
pub use inputs::{InputHistogram, InputRow, InputShare, InputSort, input_rows};
pub use paths::{PathFan, PathYear};
