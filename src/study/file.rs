//! The one door from here to the file system.

use std::fmt;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Component, Path, PathBuf};

use crate::diagnostic::{Diagnostic, has_errors};
use crate::study::data::{DataError, DataFiles, MAX_DATA_BYTES};
use crate::study::read;
use crate::study::render::{printable, render};
use crate::study::schema::Study;
use crate::study::words;

/// The path that stands for standard input.
pub const STANDARD_INPUT: &str = "-";

/// Largest study.
pub const MAX_BYTES: u64 = 4 * 1024 * 1024;

/// A study's text under the name that the user gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// As given, for messages.
    pub name: String,
    /// The text.
    pub text: String,
}

/// Why there is no study.
#[derive(Debug, Clone)]
pub enum LoadError {
    /// The file cannot be read, or is none.
    File(Box<Diagnostic>),
    /// The file can be read, but the study is wrong.
    Study(Source, Vec<Diagnostic>),
}

impl LoadError {
    /// The error as the user sees it.
    pub fn render(&self, color: bool) -> String {
        match self {
            LoadError::File(found) => render(
                std::slice::from_ref(found),
                &Source { name: String::new(), text: String::new() },
                color,
            ),
            LoadError::Study(source, found) => render(found, source, color),
        }
    }
}

impl fmt::Display for LoadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for LoadError {}

/// Reads and parses the study at `path`. Reading gives errors only; cautions
/// come from later stages.
///
/// # Errors
/// When `path` is no readable text file of at most [`MAX_BYTES`], or when the
/// study has errors.
pub fn load(path: &Path) -> Result<(Source, Study), LoadError> {
    let source = read_source(path).map_err(LoadError::File)?;
    let (study, found) = read::parse(&source.text);
    match study {
        Some(study) if !has_errors(&found) => Ok((source, study)),
        _ => Err(LoadError::Study(source, found)),
    }
}

/// Reads the text of the study at `path` (`-`: from standard input), without parsing it.
///
/// # Errors
/// When `path` is no readable text file of at most [`MAX_BYTES`].
pub fn read_source(path: &Path) -> Result<Source, Box<Diagnostic>> {
    if path == Path::new(STANDARD_INPUT) {
        return read_from(std::io::stdin().lock(), "standard input");
    }
    let name = path.to_string_lossy().into_owned();
    let shown = printable(&name);
    let fail = |id, what: String| Box::new(Diagnostic::error(id, what));
    let meta = match std::fs::metadata(path) {
        Ok(meta) => meta,
        Err(e) if e.kind() == ErrorKind::NotFound => return Err(missing(path, &shown).into()),
        Err(e) => return Err(fail("unreadable-file", format!("cannot read {shown}: {e}"))),
    };
    if meta.is_dir() {
        return Err(directory(path, &shown).into());
    }
    if !meta.is_file() {
        let found = Diagnostic::error("no-file", format!("{shown} is no ordinary file"));
        return Err(found.hint("copy its contents into a file first").into());
    }
    if meta.len() > MAX_BYTES {
        return Err(too_large(&shown, meta.len()).into());
    }
    match File::open(path) {
        Ok(file) => read_from(file, &name),
        Err(e) => Err(fail("unreadable-file", format!("cannot read {shown}: {e}"))),
    }
}

/// The text that comes from `reader`, called `name` in messages.
fn read_from(reader: impl Read, name: &str) -> Result<Source, Box<Diagnostic>> {
    let shown = printable(name);
    let mut bytes = Vec::new();
    // One byte more than allowed, in case it grows while it is read.
    match reader.take(MAX_BYTES + 1).read_to_end(&mut bytes) {
        Err(e) => {
            return Err(Diagnostic::error("unreadable-file", format!("cannot read {shown}: {e}")).into());
        }
        Ok(n) if n as u64 > MAX_BYTES => return Err(too_large(&shown, n as u64).into()),
        Ok(_) => {}
    }
    match String::from_utf8(bytes) {
        Ok(text) => Ok(Source { name: name.to_owned(), text }),
        Err(e) => Err(not_utf8(&shown, &e).into()),
    }
}

fn too_large(shown: &str, bytes: u64) -> Diagnostic {
    let mb = bytes.div_ceil(1024 * 1024);
    Diagnostic::error("file-too-large", format!("{shown} is larger than the 4 MB that a study may have"))
        .hint(format!("it has {mb} MB: is it a study at all?"))
}

fn not_utf8(shown: &str, error: &std::string::FromUtf8Error) -> Diagnostic {
    let valid = error.utf8_error().valid_up_to();
    let line = 1 + error.as_bytes().iter().take(valid).filter(|b| **b == b'\n').count();
    let found = Diagnostic::error("not-text", format!("{shown} is not text in UTF-8: see line {line}"));
    if error.as_bytes().contains(&0) {
        return found.hint("it holds zero bytes, as spreadsheets, archives and texts in UTF-16 do");
    }
    found.hint("save it as UTF-8 in your editor")
}

fn missing(path: &Path, shown: &str) -> Diagnostic {
    let found = Diagnostic::error("no-file", format!("there is no file {shown}"));
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if !folder.is_dir() {
        return found.hint(format!("there is no folder {} either", printable(&folder.to_string_lossy())));
    }
    suggest(found, folder, path.file_name().map(|n| n.to_string_lossy().into_owned()))
}

fn directory(path: &Path, shown: &str) -> Diagnostic {
    suggest(Diagnostic::error("no-file", format!("{shown} is a folder, not a study")), path, None)
}

/// Names the studies that are in `folder`.
fn suggest(found: Diagnostic, folder: &Path, wanted: Option<String>) -> Diagnostic {
    let names = studies_in(folder);
    let known: Vec<&str> = names.iter().map(String::as_str).collect();
    let shown = |name: &str| {
        let at = if folder == Path::new(".") { name.into() } else { folder.join(name) };
        printable(&at.to_string_lossy())
    };
    if let Some(near) = wanted.and_then(|w| words::nearest(&w, &known)) {
        return found.hint(format!("did you mean {}?", shown(near)));
    }
    if names.is_empty() {
        return found.hint("there is no *.toml file in that folder");
    }
    let listed: Vec<String> = names.iter().take(8).map(|n| shown(n)).collect();
    let more = if names.len() > listed.len() { " and others" } else { "" };
    found.hint(format!("in that folder: {}{more}", listed.join(", ")))
}

/// The folder of a study, from which the data files come that it names.
#[derive(Debug, Clone)]
pub struct Beside {
    folder: PathBuf,
}

impl Beside {
    /// Of the study at `path`.
    pub fn study(path: &Path) -> Self {
        Beside { folder: path.parent().map_or_else(PathBuf::new, Path::to_path_buf) }
    }
}

impl DataFiles for Beside {
    /// Only files in the study's folder or below it: a study that someone sends must not reach for others.
    fn read(&self, file: &str) -> Result<Vec<u8>, DataError> {
        let shown = printable(file);
        let inside =
            Path::new(file).components().all(|c| matches!(c, Component::Normal(_) | Component::CurDir));
        if file.is_empty() || !inside || file.contains('\\') {
            let message = format!("the data file {shown} is not named from the study's folder downwards");
            return Err(DataError::new(
                message,
                "such as data/prices.csv: no drive, no leading slash, no `..`",
            ));
        }
        let path = self.folder.join(file);
        let fail = |e: &std::io::Error| {
            DataError::new(format!("cannot read {shown}: {e}"), "it must be a text file")
        };
        let meta = match std::fs::metadata(&path) {
            Ok(meta) => meta,
            Err(e) if e.kind() == ErrorKind::NotFound => {
                let message = format!("there is no data file {shown}");
                return Err(DataError::new(message, "it is looked for from the folder that the study is in"));
            }
            Err(e) => return Err(fail(&e)),
        };
        if !meta.is_file() {
            return Err(DataError::new(format!("{shown} is no ordinary file"), "name a CSV file"));
        }
        let mut bytes = Vec::new();
        let read = File::open(&path).and_then(|f| f.take(MAX_DATA_BYTES + 1).read_to_end(&mut bytes));
        match read {
            Err(e) => Err(fail(&e)),
            Ok(n) if n as u64 > MAX_DATA_BYTES => Err(DataError::new(
                format!("{shown} is larger than the 32 MB that a data file may have"),
                "keep only the columns and rows that are needed",
            )),
            Ok(_) => Ok(bytes),
        }
    }
}

/// Names of the *.toml files in `folder`, sorted; a folder that cannot be listed has none.
fn studies_in(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut names: Vec<String> = entries
        .take(10_000)
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter(|n| n.ends_with(".toml"))
        .collect();
    names.sort();
    names
}
