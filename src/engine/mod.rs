//! (to be written)

pub mod accumulate;
