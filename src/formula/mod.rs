//! Formulas: text in, a checked tree and all errors out. Opens no file.
//!
//! Data flow: [`parse`] (lexer and parser) -> [`check`] (names, kinds, units, shapes) -> [`types::Typed`],
//! whose numbers are in base units. What a function is called, takes and means stands once, in
//! [`functions::TABLE`].

pub mod ast;
mod checker;
pub mod functions;
mod lexer;
mod parser;
mod printer;
pub mod reference;
pub mod types;

pub use crate::units::suggestion;
pub use checker::{CLOCK_WORDS, Names, RESERVED, Reference, check, check_declared, clock_type, references};
pub use parser::{DEEPEST, DEEPEST_TREE, LONGEST, parse};
pub use printer::{print, sign};
