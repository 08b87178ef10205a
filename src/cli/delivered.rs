//! Files of an answer, made and written.

use std::path::Path;

use rayon::prelude::*;

use super::failure::Failure;
use super::files::{MANIFEST, OutputFolder};
use super::opened::Opened;
use super::options::Sampling;
use crate::analysis::Answers;
use crate::chart;
use crate::engine::run::Control;
use crate::model::trace::sheet;
use crate::report::delivery::{self, Kind};
use crate::report::manifest::{Made, Manifest, study_copy};
use crate::report::material::{File, Material};
use crate::report::numbers::clean;

/// What was asked on the command line.
pub(super) struct Asked<'a> {
    /// The study.
    pub(super) study: &'a Path,
    /// Runs and seed in place of the study's own.
    pub(super) sampling: &'a Sampling,
    /// Whether what takes many more evaluations is made.
    pub(super) all: bool,
    /// Whether the data that the study reads is copied too.
    pub(super) with_data: bool,
}

/// What goes into an output folder.
pub(super) struct Delivery {
    /// Files that are made.
    pub(super) made: Vec<File>,
    /// What vouches for them, once it is known under which names they lie.
    manifest: Manifest,
    /// Copies of what went in: the study, and data if that was asked for.
    pub(super) copies: Vec<File>,
}

/// The folder that is to take them, tried, before the long work.
///
/// # Errors
/// When it takes no files, or has others where the copies would lie.
pub(super) fn folder(path: &Path, asked: &Asked<'_>, opened: &Opened) -> Result<OutputFolder, Failure> {
    let folder = OutputFolder::open(path)?;
    folder.check_copies(&copies(asked, opened))?;
    Ok(folder)
}

/// Every file of these kinds by name, the manifest, and the copies.
///
/// # Errors
/// A stop that was asked for, or a fault of ours.
pub(super) fn files(
    kinds: &[Kind],
    asked: &Asked<'_>,
    opened: &Opened,
    answers: &Answers,
    control: &Control,
) -> Result<Delivery, Failure> {
    // By the name of its copy, so that a report names the file that lies beside it.
    let study_file = study_copy(&file_name(asked.study));
    let files = made(kinds, &study_file, opened, answers, control)?;
    let (runs, seed) = asked.sampling.given();
    let kinds = kinds.iter().map(|kind| kind.name().to_owned()).collect();
    let how = Made { kinds, all: asked.all, runs, seed };
    let mut manifest = Manifest::new(&study_file, opened.source.text.as_bytes(), how, &answers.sampling);
    for data in &opened.model.data {
        manifest.read(&data.file, &data.bytes);
    }
    Ok(Delivery { made: files, manifest, copies: copies(asked, opened) })
}

impl Delivery {
    /// The manifest, where each file lies under the name next to its own.
    fn manifest(&self, named: &[(String, String)]) -> Result<File, Failure> {
        let mut manifest = self.manifest.clone();
        for ((name, bytes), (_, given)) in self.made.iter().zip(named) {
            manifest.wrote(name, given, bytes);
        }
        let text = manifest.to_json().map_err(|e| unwritable(&e))?;
        Ok((MANIFEST.into(), text.into_bytes()))
    }
}

/// Every file of these kinds, in memory.
///
/// # Errors
/// A stop that was asked for, or a fault of ours.
pub(super) fn made(
    kinds: &[Kind],
    study_file: &str,
    opened: &Opened,
    answers: &Answers,
    control: &Control,
) -> Result<Vec<File>, Failure> {
    let charts = chart::charts(answers).map_err(|e| unwritable(&e))?;
    let of_study = kinds.iter().any(|kind| matches!(kind, Kind::Html | Kind::Docx | Kind::Workbook));
    let rows = if of_study { sheet(&opened.model, opened.model.design()) } else { Vec::new() };
    let with_pages = kinds.iter().any(|kind| matches!(kind, Kind::Html | Kind::Docx));
    let small = if with_pages { chart::small(answers) } else { Ok(Vec::new()) };
    let small = small.map_err(|e| unwritable(&e))?;
    let material = Material {
        answers,
        model: &opened.model,
        sheet: &rows,
        charts: &charts,
        small: &small,
        study_file,
        study_text: &opened.source.text,
    };
    let go_on = || control.check(0).is_ok();
    // Side by side; in the folder they stand in the order of their kinds.
    let made: Vec<_> = kinds.par_iter().map(|kind| delivery::files(*kind, &material, &go_on)).collect();
    if !go_on() {
        return Err(Failure::Interrupted);
    }
    let made: Result<Vec<Vec<File>>, _> = made.into_iter().collect();
    Ok(made.map_err(|e| unwritable(&e))?.into_iter().flatten().collect())
}

/// The study, so that the folder is enough to make it again; its data only if asked, since meter readings tell when
/// nobody is at home.
fn copies(asked: &Asked<'_>, opened: &Opened) -> Vec<File> {
    let study = (study_copy(&file_name(asked.study)), opened.source.text.clone().into_bytes());
    let data = opened.model.data.iter().filter(|_| asked.with_data);
    let plain = |file: &str| file.trim_start_matches("./").to_owned();
    std::iter::once(study).chain(data.map(|data| (plain(&data.file), data.bytes.clone()))).collect()
}

fn file_name(study: &Path) -> String {
    study.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

/// Writes them all, and clears away what an earlier answer left.
///
/// # Errors
/// When the disk does not take one, or a copy would go over what somebody else put there: then nothing is written.
pub(super) fn write(folder: &OutputFolder, files: &Delivery) -> Result<(), Failure> {
    let named: Vec<(String, String)> =
        files.made.iter().map(|(name, _)| (name.clone(), name.clone())).collect();
    let (manifest, bytes) = files.manifest(&named)?;
    let names: Vec<String> = named.into_iter().map(|(name, _)| name).chain([manifest.clone()]).collect();
    if let Some((name, _)) = files.copies.iter().find(|(name, _)| names.contains(name)) {
        return Err(Failure::Usage {
            message: format!("the data file {} is called as a file that is made", clean(name)),
            hint: "leave out --with-data, or rename it in the study and on the disk".into(),
        });
    }
    folder.check_copies(&files.copies)?;
    folder.clear_earlier(&names);
    files.copies.iter().try_for_each(|(name, bytes)| folder.write_copy(name, bytes))?;
    files.made.iter().try_for_each(|(name, bytes)| folder.write(name, bytes))?;
    // Last, since it vouches for the others.
    folder.write(&manifest, &bytes)
}

/// Writes them all, and removes nothing. What people edit is not written over: each file comes with the name it got.
///
/// # Errors
/// When the disk does not take one.
pub(super) fn write_beside_edited(
    folder: &OutputFolder,
    files: &Delivery,
) -> Result<Vec<(String, String)>, Failure> {
    folder.check_copies(&files.copies)?;
    // All names before the first file: the old manifest tells what was edited, and it is replaced last.
    let mut named: Vec<(String, String)> = files
        .made
        .iter()
        .map(|(name, bytes)| {
            let is_edited_by_people = name.ends_with(".docx") || name.ends_with(".xlsx");
            let given = if is_edited_by_people { folder.beside_edited(name, bytes) } else { name.clone() };
            (name.clone(), given)
        })
        .collect();
    files.copies.iter().try_for_each(|(name, bytes)| folder.write_copy(name, bytes))?;
    for ((_, bytes), (_, given)) in files.made.iter().zip(&named) {
        folder.write(given, bytes)?;
    }
    let (manifest, bytes) = files.manifest(&named)?;
    folder.write(&manifest, &bytes)?;
    named.push((manifest.clone(), manifest));
    Ok(named)
}

/// What is said of an answer that cannot be put into a file: a fault of ours, told as plainly as any.
pub(super) fn unwritable(error: &dyn std::fmt::Display) -> Failure {
    Failure::Machine(format!("cannot make a file of the answer: {error}"))
}
