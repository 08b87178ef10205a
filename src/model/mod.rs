//! A checked study: names resolved, units, kinds and shapes checked, workings
//! in order. From here on nothing of the study can be wrong; what the engine
//! runs and what a trace shows are both made from it.

pub mod base;
pub mod cash;
mod check;
mod functions;
mod inputs;
mod items;
pub mod lower;
mod names;
pub mod order;
pub mod trace;
mod workings;

pub use check::check;
pub use items::*;
