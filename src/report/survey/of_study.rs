//! The form of one study: its own inputs, those without a source first.

use super::{ASK, Line, PHOTOGRAPH, Page, SAFETY};
use super::forms::LINES;
use crate::model::trace::Sheet;
use crate::model::{About, InputValue, Model};
use crate::report::numbers::{clean, grouped};

/// Lines of a page that are not blanks: heads, safety, lists.
const FIRST_PAGE: usize = 16;
const LAST_PAGE: usize = 16;

/// A figure that a visit can bring.
struct Wanted {
    line: Line,
    rank: u8,
}
