//! Pins: the list of dimensions written into the study file.

use std::fs;
use std::path::Path;

use super::failure::Failure;
use super::numbers::thousands;
use super::opened::Opened;
use crate::model;
use crate::report::numbers::clean;
use crate::sampling::Method;
use crate::study::{Beside, pin};

/// Most lines that a study may list.
const MOST_LINES: usize = 5_000;

/// Pins what the study draws; what was done, in a line.
///
/// # Errors
/// When the file cannot be written, or has changed since it was read.
pub(super) fn pin(path: &Path, opened: &Opened) -> Result<String, Failure> {
    let model = &opened.model;
    if model.sampling.method != Method::Sobol {
        return Ok("Nothing to pin: only Sobol points have dimensions.\n".into());
    }
    let machine = |what: &str| Failure::Machine(format!("cannot pin the dimensions: {what}"));
    let plan = model.plan(model.design()).map_err(|error| machine(&error.to_string()))?;
    let (before, after) = (&model.sampling.dimensions, plan.dimensions());
    let total = thousands(after.len() as u64);
    let new = after.len() - before.len().min(after.len());
    if after.is_empty() {
        return Ok("Nothing to pin: the study draws nothing.\n".into());
    }
    if new == 0 {
        return Ok(format!(
            "Nothing to pin: all that is drawn stands in the {total} lines of `dimensions`.\n"
        ));
    }
    if after.len() > MOST_LINES {
        return Err(machine(&format!(
            "there are {total} lines, and a study may have {}",
            thousands(MOST_LINES as u64)
        )));
    }
    let text =
        pin::pinned(&opened.source.text, after).ok_or_else(|| machine("[sampling] has no room for them"))?;
    let again = model::read_beside(&text, &Beside::study(path)).0;
    // What is written must say what was meant, before it takes the place of the study.
    if again.is_none_or(|(_, model)| model.sampling.dimensions != after) {
        return Err(machine("the study with them would not be read as it was"));
    }
    replace(path, opened.source.text.as_bytes(), text.as_bytes())?;
    let file = clean(&path.to_string_lossy());
    Ok(format!("Pinned in {file}: {total} lines of `dimensions`, {} of them new.\n", thousands(new as u64)))
}

/// Puts new bytes in the place of a file, at once or not at all, if it still holds the old ones.
pub(super) fn replace(path: &Path, old: &[u8], new: &[u8]) -> Result<(), Failure> {
    let fail = |error: &std::io::Error| Failure::at_file("cannot write", path, error);
    // A link stays a link: what it leads to is written.
    let whole = fs::canonicalize(path).map_err(|e| fail(&e))?;
    let permissions = fs::metadata(&whole).map_err(|e| fail(&e))?.permissions();
    if permissions.readonly() {
        let file = clean(&path.to_string_lossy());
        return Err(Failure::Machine(format!("cannot write {file}: it is read-only")));
    }
    let name = whole.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let beside = whole.with_file_name(format!(".{name}.{}.partial", std::process::id()));
    let unchanged = || match fs::read(&whole) {
        Ok(bytes) if bytes == old => Ok(()),
        Ok(_) => Err(std::io::Error::other("it has changed meanwhile")),
        Err(error) => Err(error),
    };
    let done = fs::write(&beside, new)
        .and_then(|()| fs::set_permissions(&beside, permissions))
        .and_then(|()| unchanged())
        .and_then(|()| fs::rename(&beside, &whole));
    if let Err(error) = done {
        // The first error is the one to tell.
        let _ = fs::remove_file(&beside);
        return Err(fail(&error));
    }
    Ok(())
}
