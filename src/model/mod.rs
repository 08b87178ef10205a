//! A checked study: names resolved, units, kinds and shapes checked, workings
//! in order. From here on nothing of the study can be wrong; what the engine
//! runs and what a trace shows are both made from it.

mod alternatives;
pub mod base;
pub mod cash;
mod check;
mod data;
mod functions;
mod inputs;
mod items;
mod levers;
mod links;
pub mod lower;
mod names;
pub mod order;
mod own_units;
mod paths;
mod read;
pub mod trace;
mod until;
mod workings;

pub use check::check;
pub use data::DataFile;
pub use items::*;
pub use read::{read, read_beside};
