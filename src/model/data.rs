//! The data files that a study names, each read once.

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Span};
use crate::hotwater::home::Home;
use crate::study::data::{Columns, DataError, DataFiles};

/// Most mixtures of a study.
pub(super) const MOST_MIXTURES: usize = 16;

/// A file that a study names, as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct DataFile {
    /// Name relative to the study, as written.
    pub file: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// A file with its columns, or what is wrong with it.
type Read = (DataFile, Result<Rc<Columns>, DataError>);

/// Reads each file at the first question for it.
pub(super) struct Data<'f> {
    files: &'f dyn DataFiles,
    read: RefCell<Vec<Read>>,
    raw: RefCell<Vec<DataFile>>,
    homes: RefCell<Vec<(String, Arc<Home>)>>,
    mixtures: Cell<usize>,
}

impl<'f> Data<'f> {
    pub(super) fn new(files: &'f dyn DataFiles) -> Self {
        Data {
            files,
            read: RefCell::new(Vec::new()),
            raw: RefCell::new(Vec::new()),
            homes: RefCell::new(Vec::new()),
            mixtures: Cell::new(0),
        }
    }

    /// Columns of `file`; what is wrong with it is told at `place`.
    pub(super) fn columns(&self, file: &str, place: &Span) -> Result<Rc<Columns>, Box<Diagnostic>> {
        let known =
            self.read.borrow().iter().find(|(f, _)| f.file == file).map(|(_, columns)| columns.clone());
        let columns = known.unwrap_or_else(|| {
            let bytes = self.files.read(file);
            let columns = bytes.as_ref().map_err(Clone::clone).and_then(|b| Columns::parse(b)).map(Rc::new);
            let read = DataFile { file: file.to_owned(), bytes: bytes.unwrap_or_default() };
            self.read.borrow_mut().push((read, columns.clone()));
            columns
        });
        columns.map_err(|error| Box::new(data_error(&error, place)))
    }

    /// Bytes of `file`, which is no plain table.
    pub(super) fn bytes(&self, file: &str) -> Result<Vec<u8>, DataError> {
        if let Some(known) = self.raw.borrow().iter().find(|known| known.file == file) {
            return Ok(known.bytes.clone());
        }
        let bytes = self.files.read(file)?;
        self.raw.borrow_mut().push(DataFile { file: file.to_owned(), bytes: bytes.clone() });
        Ok(bytes)
    }

    /// A simulated home made ready before: alternatives check the study again, and reading a year of readings takes time.
    pub(super) fn home(&self, content: &str) -> Option<Arc<Home>> {
        self.homes.borrow().iter().find(|(known, _)| known == content).map(|(_, home)| Arc::clone(home))
    }

    /// Keeps a simulated home.
    pub(super) fn keep_home(&self, content: &str, home: &Arc<Home>) {
        self.homes.borrow_mut().push((content.to_owned(), Arc::clone(home)));
    }

    /// Counts a mixture; whether there are not too many of them: each makes a table with some thousand roots.
    pub(super) fn one_more_mixture(&self) -> bool {
        self.mixtures.set(self.mixtures.get() + 1);
        self.mixtures.get() <= MOST_MIXTURES
    }

    /// The files that could be read, in the order in which they were asked for.
    pub(super) fn into_files(self) -> Vec<DataFile> {
        let sound = self.read.into_inner().into_iter().filter(|(_, columns)| columns.is_ok());
        let mut files: Vec<DataFile> = sound.map(|(file, _)| file).collect();
        let raw = self.raw.into_inner().into_iter();
        let new = raw.filter(|raw| !files.iter().any(|known| known.file == raw.file));
        let new: Vec<DataFile> = new.collect();
        files.extend(new);
        files
    }
}

/// What is wrong with a data file, at the place in the study that names it.
pub(super) fn data_error(error: &DataError, place: &Span) -> Diagnostic {
    Diagnostic::error("data-file", error.message.clone()).at(place.clone(), "").hint(error.hint.clone())
}
