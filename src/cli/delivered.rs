//! Files of an answer, made and written.

use std::path::Path;

use super::failure::Failure;
use super::files::{MANIFEST, OutputFolder};
use super::opened::Opened;
use crate::analysis::Answers;
use crate::chart;
use crate::engine::run::Control;
use crate::model::trace::sheet;
use crate::report::delivery::{self, Kind};
use crate::report::manifest::Manifest;
use crate::report::material::{File, Material};

/// Every file of these kinds by name; the manifest, which vouches for the others, last.
///
/// # Errors
/// A stop that was asked for, or a fault of ours.
pub(super) fn files(
    kinds: &[Kind],
    study: &Path,
    opened: &Opened,
    answers: &Answers,
    control: &Control,
) -> Result<Vec<File>, Failure> {
    let charts = chart::charts(answers).map_err(|e| unwritable(&e))?;
    let of_study = kinds.iter().any(|kind| matches!(kind, Kind::Html | Kind::Docx | Kind::Workbook));
    let rows = if of_study { sheet(&opened.model, opened.model.design()) } else { Vec::new() };
    let study_file = study.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let material = Material {
        answers,
        model: &opened.model,
        sheet: &rows,
        charts: &charts,
        study_file: &study_file,
        study_text: &opened.source.text,
    };
    let go_on = || control.check(0).is_ok();
    let mut files = Vec::new();
    for kind in kinds {
        let made = delivery::files(*kind, &material, &go_on);
        if !go_on() {
            return Err(Failure::Interrupted);
        }
        files.extend(made.map_err(|e| unwritable(&e))?);
    }
    let mut manifest = Manifest::new(&study_file, opened.source.text.as_bytes(), &answers.sampling);
    for data in &opened.model.data {
        manifest.read(&data.file, &data.bytes);
    }
    for (name, bytes) in &files {
        manifest.wrote(name, bytes);
    }
    let manifest = manifest.to_json().map_err(|e| unwritable(&e))?;
    files.push((MANIFEST.into(), manifest.into_bytes()));
    Ok(files)
}

/// Writes them all, and clears away what an earlier answer left.
///
/// # Errors
/// When the disk does not take one.
pub(super) fn write(folder: &OutputFolder, files: &[File]) -> Result<(), Failure> {
    let names: Vec<String> = files.iter().map(|(name, _)| name.clone()).collect();
    folder.clear_earlier(&names);
    files.iter().try_for_each(|(name, bytes)| folder.write(name, bytes))
}

/// What is said of an answer that cannot be put into a file: a fault of ours, told as plainly as any.
pub(super) fn unwritable(error: &dyn std::fmt::Display) -> Failure {
    Failure::Machine(format!("cannot make a file of the answer: {error}"))
}
