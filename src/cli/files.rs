//! Files of an answer: a folder that is tried before the long work, and files
//! that are there whole or not at all.

use std::fs;
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

use super::failure::Failure;
use crate::report::manifest::sha256;
use crate::report::numbers::clean;

/// Name of the manifest.
pub(super) const MANIFEST: &str = "manifest.json";

/// A folder that takes files.
#[derive(Debug)]
pub(super) struct OutputFolder {
    path: PathBuf,
}

impl OutputFolder {
    /// Makes the folder and tries whether it takes a file, so that a locked or
    /// missing disk is known before the work and not after it.
    ///
    /// # Errors
    /// When it cannot be made or written to.
    pub(super) fn open(path: &Path) -> Result<Self, Failure> {
        fs::create_dir_all(path).map_err(|error| Failure::at_file("cannot make the folder", path, &error))?;
        let trial = partial(path, "trial");
        fs::write(&trial, b"payspread")
            .and_then(|()| fs::remove_file(&trial))
            .map_err(|error| Failure::at_file("cannot write into the folder", path, &error))?;
        Ok(OutputFolder { path: path.to_owned() })
    }

    /// Where it is.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Writes `name`, replacing what was there.
    ///
    /// # Errors
    /// When the disk does not take it; what was there is then left as it was.
    pub(super) fn write(&self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        let path = self.path.join(name);
        self.replace(name, &path, bytes).map_err(|error| Failure::at_file("cannot write", &path, &error))
    }

    /// Writes a copy of what went in; one that is there already stays as it is.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub(super) fn write_copy(&self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        let path = self.path.join(name);
        if fs::read(&path).is_ok_and(|there| there == bytes) {
            return Ok(());
        }
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(|e| Failure::at_file("cannot make the folder", parent, &e))?;
        }
        self.write(name, bytes)
    }

    /// Whether copies of what went in may be written: each place is free, or has that very copy, or one that an earlier
    /// answer put there and nobody changed since.
    ///
    /// # Errors
    /// At the first that would go over somebody's own file.
    pub(super) fn check_copies(&self, copies: &[(String, Vec<u8>)]) -> Result<(), Failure> {
        let earlier = self.listed_earlier(&["study", "data"]);
        for (name, bytes) in copies {
            let path = self.path.join(name);
            if !path.exists() {
                continue;
            }
            let there = fs::read(&path).map_err(|e| Failure::at_file("cannot read", &path, &e))?;
            let ours = |(file, hash): &(String, String)| file == name && *hash == sha256(&there);
            if there != *bytes && !earlier.iter().any(ours) {
                let shown = clean(&path.to_string_lossy());
                return Err(Failure::Usage {
                    message: format!("a copy of {} would go over another file: {shown}", clean(name)),
                    hint: "that file was made or changed by somebody: move it away, or give another folder with \
                           --out"
                        .into(),
                });
            }
        }
        Ok(())
    }

    /// Removes what an earlier answer left here and this one has not: files
    /// that the manifest lists and that nobody has changed since.
    pub(super) fn clear_earlier(&self, kept: &[String]) {
        for (name, hash) in self.listed_earlier(&["files"]) {
            let is_plain = !name.contains(['/', '\\']) && !name.starts_with('.');
            if !is_plain || kept.contains(&name) {
                continue;
            }
            let path = self.path.join(&name);
            // A file that cannot be read or removed does this answer no harm.
            if fs::read(&path).is_ok_and(|bytes| sha256(&bytes) == hash) {
                let _ = fs::remove_file(&path);
            }
        }
    }

    /// A name for `bytes`, wanted as `name`, that goes over nobody's work: `name` itself, or with `-2`, `-3` ... the first
    /// where nothing lies or what an earlier answer put there and nobody changed since.
    pub(super) fn beside_edited(&self, name: &str, bytes: &[u8]) -> String {
        let earlier = self.listed_earlier(&["files"]);
        let listed =
            |there: &str, hash: &str| earlier.iter().any(|(file, known)| file == there && known == hash);
        let is_free = |candidate: &str| match fs::read(self.path.join(candidate)) {
            Ok(there) => there == bytes || listed(candidate, &sha256(&there)),
            Err(error) => error.kind() == io::ErrorKind::NotFound,
        };
        let (stem, ending) = name.rsplit_once('.').unwrap_or((name, ""));
        let numbered = (2_u64..).map(|k| format!("{stem}-{k}.{ending}"));
        std::iter::once(name.to_owned()).chain(numbered).find(|name| is_free(name)).unwrap_or_default()
    }

    /// Names and hashes under these keys of the manifest that is here; none if there is no such manifest.
    fn listed_earlier(&self, keys: &[&str]) -> Vec<(String, String)> {
        let Ok(text) = fs::read(self.path.join(MANIFEST)) else { return Vec::new() };
        let Ok(manifest) = serde_json::from_slice::<serde_json::Value>(&text) else { return Vec::new() };
        let entry = |file: &serde_json::Value| {
            Some((file["file"].as_str()?.to_owned(), file["sha256"].as_str()?.to_owned()))
        };
        let under = |key: &&str| {
            manifest[*key].as_array().map_or(vec![&manifest[*key]], |list| list.iter().collect())
        };
        keys.iter().flat_map(under).filter_map(entry).collect()
    }

    fn replace(&self, name: &str, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let folder = path.parent().unwrap_or(&self.path);
        let last = name.rsplit('/').next().unwrap_or(name);
        let beside = partial(folder, last);
        let done = fs::write(&beside, bytes).and_then(|()| fs::rename(&beside, path));
        if done.is_err() {
            // The first error is the one to tell.
            let _ = fs::remove_file(&beside);
        }
        done
    }
}

/// A name beside the wanted one that no other process uses.
fn partial(folder: &Path, name: &str) -> PathBuf {
    folder.join(format!(".{name}.{}.partial", std::process::id()))
}

/// The bytes of a file; none if there is none.
///
/// # Errors
/// When it is larger than `most`, or cannot be read.
pub(super) fn read_at_most(path: &Path, most: u64) -> Result<Option<Vec<u8>>, Failure> {
    let meta = match fs::metadata(path) {
        Ok(meta) if meta.is_file() => meta,
        Ok(_) => return Ok(None),
        Err(e) if matches!(e.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => {
            return Ok(None);
        }
        Err(e) => return Err(Failure::at_file("cannot read", path, &e)),
    };
    if meta.len() > most {
        return Err(Failure::Data {
            message: format!("{} is larger than any file of its kind", clean(&path.to_string_lossy())),
            hint: "it was not made by payspread".into(),
        });
    }
    let mut bytes = Vec::new();
    let taken = fs::File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes));
    taken.map_err(|e| Failure::at_file("cannot read", path, &e))?;
    Ok(Some(bytes))
}
