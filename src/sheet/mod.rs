//! The sheet: a study as rows that are edited in place, and its answers while that is done.
//!
//! The document is the study's text: an edit turns one text into the next, so undo is only another text, and comments,
//! order and look of all else stay. Nothing here opens a file or a connection.

pub mod edits;
pub mod history;
pub mod live;
