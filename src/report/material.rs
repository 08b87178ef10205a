//! What everything that is handed on is made from.

use crate::analysis::Answers;
use crate::chart::Chart;
use crate::model::Model;
use crate::model::trace::TraceRow;

/// Answers, the study behind them and their charts. Readers take figures from the answers and the sheet, formulas,
/// notes and cautions from the model; they compute no statistics.
#[derive(Clone, Copy)]
pub struct Material<'a> {
    /// What the runs say.
    pub answers: &'a Answers,
    /// The checked study.
    pub model: &'a Model,
    /// Base case of every name, with its formula ([`crate::model::trace::sheet`]).
    pub sheet: &'a [TraceRow],
    /// Charts of the answers.
    pub charts: &'a [Chart],
    /// Small pictures for the first page ([`crate::chart::small`]).
    pub small: &'a [Chart],
    /// The study's file, without its folder.
    pub study_file: &'a str,
    /// Its text.
    pub study_text: &'a str,
}

/// A file to hand on: its name and its bytes.
pub type File = (String, Vec<u8>);
