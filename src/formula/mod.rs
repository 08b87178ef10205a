//! Formulas: text in, a checked tree and all errors out. Opens no file.
//!
//! Data flow: [`parse`] (lexer and parser) -> [`check`] (names, kinds, units, shapes) -> [`types::Typed`],
//! whose numbers are in base units. What a function is called, takes and means stands once, in
//! [`functions::TABLE`].

pub mod ast;
mod binding;
mod checker;
mod declared;
pub mod functions;
mod lexer;
mod names;
mod operators;
mod parser;
mod printer;
pub mod reference;
pub mod types;

pub use crate::diagnostic::suggestion;
pub use checker::check;
pub use declared::check_declared;
pub use names::{CLOCK_WORDS, Names, RESERVED, Reference, clock_type, references};
pub use parser::{DEEPEST, DEEPEST_TREE, LONGEST, parse};
pub use printer::{print, sign};
