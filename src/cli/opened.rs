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
    /// Reads and checks the study at `path`. What is doubtful is in the model's cautions, untold.
    ///
    /// # Errors
    /// When there is no such study, or it is wrong: with everything that is wrong.
    pub(super) fn read(path: &Path, timings: &mut Timings) -> Result<Opened, Failure> {
        let source = study::read_source(path)
            .map_err(|found| Failure::Study(study::LoadError::File(found).render(true)))?;
        timings.lap("read");
        let (made, found) = model::read_beside(&source.text, &study::Beside::study(path));
        timings.lap("check");
        match made {
            Some((_, model)) => Ok(Opened { source, model }),
            None => Err(Failure::Study(study::render(&found, &source, true))),
        }
    }

    /// As [`Opened::read`], with the cautions in short on standard error.
    pub(super) fn read_and_tell(
        path: &Path,
        terminal: &Terminal,
        timings: &mut Timings,
    ) -> Result<Opened, Failure> {
        let opened = Opened::read(path, timings)?;
        terminal.note(&study::render_in_short(&opened.model.cautions, &opened.source, true));
        Ok(opened)
    }
}
