//! (to be written)

pub mod ast;
