//! A study from its file to a checked model.

use std::path::Path;

use super::failure::Failure;
use super::terminal::Terminal;
use super::timings::Timings;
use crate::model::{self, Model};
use crate::study::{self, Source};

/// A study that can run.
pub(super) struct Opened {
    /// Its text.
    pub(super) source: Source,
    /// The checked study.
    pub(super) model: Model,
}

impl Opened {
    /// Reads and checks the study at `path`; cautions go to standard error.
    ///
    /// # Errors
    /// When there is no such study, or it is wrong: with everything that is wrong.
    pub(super) fn read(path: &Path, terminal: &Terminal, timings: &mut Timings) -> Result<Opened, Failure> {
        let (source, study) = study::load(path).map_err(|error| Failure::Study(error.render(true)))?;
        timings.lap("read");
        let (model, found) = model::check(&study);
        timings.lap("check");
        let told = study::render(&found, &source, true);
        let Some(model) = model else { return Err(Failure::Study(told)) };
        terminal.note(&told);
        Ok(Opened { source, model })
    }
}
