//! Data files of a study that lies in an output folder: looked for where the user says, then in the folder, then from
//! here.

use std::path::{Path, PathBuf};

use crate::report::manifest::{Hashed, sha256};
use crate::study::Beside;
use crate::study::data::{DataError, DataFiles};

/// Folders in the order in which they are looked through.
pub(super) struct Searched {
    folders: Vec<PathBuf>,
    wanted: Vec<Hashed>,
}

impl Searched {
    /// For a study in `folder`; `data` is where the user says they are, `wanted` what they were when they were read.
    pub(super) fn new(data: Option<&Path>, folder: &Path, wanted: &[Hashed]) -> Self {
        let folders = data.into_iter().chain([folder, Path::new("")]).map(Path::to_path_buf).collect();
        Searched { folders, wanted: wanted.to_vec() }
    }
}

impl DataFiles for Searched {
    /// The first that is as it was; if none is, the first that is there.
    fn read(&self, file: &str) -> Result<Vec<u8>, DataError> {
        let plain = file.trim_start_matches("./");
        let wanted = self.wanted.iter().find(|wanted| wanted.file == plain);
        let mut first: Option<Result<Vec<u8>, DataError>> = None;
        for folder in &self.folders {
            let found = Beside::study(&folder.join("study")).read(file);
            if let (Ok(bytes), Some(wanted)) = (&found, wanted)
                && sha256(bytes) == wanted.sha256
            {
                return found;
            }
            if first.as_ref().is_none_or(|first| first.is_err() && found.is_ok()) {
                first = Some(found);
            }
        }
        first.unwrap_or_else(|| {
            Err(DataError::new(format!("there is no data file {file}"), "say where with --data"))
        })
    }
}
