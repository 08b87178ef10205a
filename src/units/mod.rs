//! Units of measure as data: exact exponents, scales against the base units, and the table of names.
//!
//! Base units: the study's currency, kWh, m, kg, yr, K, person, home. Energy is a dimension of its own
//! (the trade never writes it as mass and length), so a power is energy/time and kWh has scale 1.
//! This module knows no study and no formula.

mod dimension;
mod hints;
mod parse;
mod table;

pub use dimension::{Base, Dimension, Exponent};
pub use parse::UnitError;
pub use table::{DefineError, Unit, UnitLine, UnitTable};
