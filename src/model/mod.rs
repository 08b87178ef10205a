//! A checked study: names resolved, units, kinds and shapes checked, workings
//! in order. From here on nothing of the study can be wrong; what the engine
//! runs and what a trace shows are both made from it.

mod alternatives;
pub mod base;
pub mod cash;
mod changes;
mod check;
mod data;
mod distributions;
mod functions;
pub mod given;
mod given_inputs;
mod home_parts;
pub mod homes;
mod inputs;
mod items;
mod lay_home;
pub(crate) mod levers;
mod links;
pub mod lower;
mod money;
mod names;
pub mod order;
mod own_units;
pub mod parts;
mod paths;
mod questions;
mod read;
pub mod simulated;
mod tables;
pub mod trace;
mod until;
mod workings;
mod years;

pub use check::check;
pub use data::DataFile;
pub use items::*;
pub use read::{read, read_beside};
