//! `reproduce`: a folder made again in memory from its manifest, and compared item by item. Nothing is written.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::delivered::{self, unwritable};
use super::failure::Failure;
use super::files::{MANIFEST, read_at_most as read};
use super::opened::Opened;
use super::options::General;
use super::progress;
use super::run::{pool, unanswered};
use super::searched::Searched;
use super::terminal::Terminal;
use crate::analysis::{Answers, Options, appraise};
use crate::engine::run::Control;
use crate::report::agreement::{Agreement, agreement};
use crate::report::manifest::{Hashed, sha256};
use crate::report::manifest_read::{KeptManifest, MAX_BYTES};
use crate::report::numbers::clean;
use crate::report::reproduced::{Item, Reproduced, Verdict};
use crate::sampling::Design;
use crate::{model, study};

/// Make an output folder again from its manifest, and say what agrees
#[derive(Debug, Args)]
pub(super) struct Reproduce {
    /// Output folder
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Where the study's data files are, if not in the folder [default: there, then from here]
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    Text,
    /// For machines
    Json,
}

/// Largest file that is compared.
const MAX_FILE: u64 = 1 << 30;

impl Reproduce {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let kept = self.manifest()?;
        let mut found = Reproduced::new(&kept);
        let again = match self.inputs(&kept, &mut found)? {
            Some(opened) => Some(self.again(&kept, &opened, general, &mut found)?),
            None => None,
        };
        self.files(&kept, again.as_ref(), &mut found)?;
        let text = match self.format {
            Format::Text => found.text(),
            Format::Json => found.json().map_err(|e| unwritable(&e))?,
        };
        terminal.say(&text)?;
        match found.apart() {
            0 => Ok(()),
            n => Err(Failure::Data {
                message: format!("{n} of {} items do not agree", found.items.len()),
                hint: "the table says which and how".into(),
            }),
        }
    }

    fn manifest(&self) -> Result<KeptManifest, Failure> {
        let path = self.folder.join(MANIFEST);
        let bytes = match read(&path, MAX_BYTES) {
            Ok(Some(bytes)) => bytes,
            Ok(None) => {
                return Err(Failure::Data {
                    message: format!(
                        "there is no {} to make the folder from",
                        clean(&path.to_string_lossy())
                    ),
                    hint: "give a folder that `run` or `report` has written".into(),
                });
            }
            Err(failure) => return Err(failure),
        };
        KeptManifest::parse(&bytes)
            .map_err(|e| Failure::Data { message: clean(&e.message), hint: clean(&e.hint) })
    }

    /// The study and its data, if they are what they were.
    fn inputs(&self, kept: &KeptManifest, found: &mut Reproduced) -> Result<Option<Opened>, Failure> {
        let path = self.folder.join(&kept.study.file);
        let Some(bytes) = read(&path, study::MAX_BYTES)? else {
            found.add("study", &kept.study.file, Verdict::Missing, "there is no copy of the study");
            return Ok(None);
        };
        if sha256(&bytes) != kept.study.sha256 {
            found.add(
                "study",
                &kept.study.file,
                Verdict::Changed,
                "changed since; nothing can be made again",
            );
            return Ok(None);
        }
        found.add("study", &kept.study.file, Verdict::Same, "");
        let Ok(text) = String::from_utf8(bytes) else {
            found.add("study", &kept.study.file, Verdict::Differs, "it is no text");
            return Ok(None);
        };
        let source = study::Source { name: path.to_string_lossy().into_owned(), text };
        let files = Searched::new(self.data.as_deref(), &self.folder, &kept.data);
        let data_is_there = self.data_files(kept, &files, found);
        if !data_is_there {
            return Ok(None);
        }
        let (made, wrong) = model::read_beside(&source.text, &files);
        match made {
            Some((_, model)) => Ok(Some(Opened { source, model })),
            None => Err(Failure::Study(study::render(&wrong, &source, true))),
        }
    }

    fn data_files(&self, kept: &KeptManifest, files: &Searched, found: &mut Reproduced) -> bool {
        use crate::study::data::DataFiles as _;
        let mut all = true;
        for data in &kept.data {
            let (verdict, why) = match files.read(&data.file) {
                Ok(bytes) if sha256(&bytes) == data.sha256 => (Verdict::Same, ""),
                Ok(_) => (Verdict::Changed, "changed since; nothing can be made again"),
                Err(_) => (Verdict::Missing, "say where it is with --data DIR"),
            };
            all &= verdict == Verdict::Same;
            found.add("data", &data.file, verdict, why);
        }
        all
    }

    /// Every file made again, by name.
    fn again(
        &self,
        kept: &KeptManifest,
        opened: &Opened,
        general: &General,
        found: &mut Reproduced,
    ) -> Result<BTreeMap<String, Vec<u8>>, Failure> {
        let control = progress::interruptible();
        let pool = pool(general.threads)?;
        let wish = &opened.model.sampling;
        let (seed, runs) = (kept.made.seed.unwrap_or(wish.seed), kept.made.runs.unwrap_or(wish.runs));
        let design = Design::new(seed, wish.method, wish.replicates, runs);
        let until = wish.until.filter(|_| kept.made.runs.is_none());
        let options = Options { design, until, all: kept.made.all, ..Options::of(&opened.model) };
        let answers = progress::watched(&control, design.runs, general.quiet, || {
            pool.install(|| appraise(&opened.model, options, &control))
        });
        let answers = answers.map_err(|error| unanswered(error, opened))?;
        sampling(kept, &answers, found)?;
        let files = pool.install(|| made(kept, opened, &answers, &control))?;
        Ok(files.into_iter().collect())
    }

    /// What is in the folder against what was made then and what is made now.
    fn files(
        &self,
        kept: &KeptManifest,
        again: Option<&BTreeMap<String, Vec<u8>>>,
        found: &mut Reproduced,
    ) -> Result<(), Failure> {
        for listed in &kept.files {
            let there = read(&self.folder.join(&listed.file), MAX_FILE)?;
            let again = again.map(|again| again.get(made_as(listed)).map(Vec::as_slice));
            found.items.push(of_file(listed, there.as_deref(), again));
        }
        let listed = |name: &str| kept.files.iter().any(|file| file.file == name);
        let is_made = |name: &str| kept.files.iter().any(|file| made_as(file) == name);
        for name in again.into_iter().flatten().map(|(name, _)| name).filter(|name| !is_made(name)) {
            found.add("file", name, Verdict::Differs, "made now, but the manifest does not list it");
        }
        for name in self.names() {
            let known = listed(&name) || name == MANIFEST || name == kept.study.file;
            if !known && !kept.data.iter().any(|data| data.file == name) {
                found.add("file", &name, Verdict::NotOurs, "not made by this; not looked at");
            }
        }
        Ok(())
    }

    /// Files in the folder itself, by name.
    fn names(&self) -> Vec<String> {
        let Ok(entries) = fs::read_dir(&self.folder) else { return Vec::new() };
        let files = entries.take(10_000).filter_map(Result::ok).filter(|e| e.path().is_file());
        let mut names: Vec<String> = files.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

fn made(
    kept: &KeptManifest,
    opened: &Opened,
    answers: &Answers,
    control: &Control,
) -> Result<Vec<crate::report::material::File>, Failure> {
    delivered::made(&kept.kinds().0, &kept.study.file, opened, answers, control)
}

/// Whether it is drawn as it was: method, runs, seed, dimensions.
fn sampling(kept: &KeptManifest, answers: &Answers, found: &mut Reproduced) -> Result<(), Failure> {
    let drawn = serde_json::to_value(&answers.sampling).map_err(|e| unwritable(&e))?;
    let (verdict, why) = match (drawn == kept.sampling, kept.engine == crate::ENGINE_VERSION) {
        (true, _) => (Verdict::Same, ""),
        (false, true) => (Verdict::Differs, "drawn otherwise than the manifest says"),
        (false, false) => (Verdict::Agrees, "drawn by another version of the engine"),
    };
    found.add("sampling", "method, runs, seed, dimensions", verdict, why);
    Ok(())
}

/// The name under which a listed file is made.
fn made_as(listed: &Hashed) -> &str {
    listed.made_as.as_deref().unwrap_or(&listed.file)
}

/// A listed file: is it there, is it as it was, is the same made again?
fn of_file(listed: &Hashed, there: Option<&[u8]>, again: Option<Option<&[u8]>>) -> Item {
    let item = |verdict, why: &str| Item::new("file", &listed.file, verdict, why);
    let Some(there) = there else { return item(Verdict::Missing, "not in the folder") };
    if sha256(there) != listed.sha256 {
        return item(Verdict::Changed, "changed since it was made");
    }
    match again {
        None => item(Verdict::NotMade, "as it was; not made again"),
        Some(None) => item(Verdict::NotMade, "as it was; files of this kind are not made again here"),
        Some(Some(again)) => match agreement(made_as(listed), there, again) {
            Agreement::SameBytes => item(Verdict::Same, ""),
            Agreement::Agrees(how) => item(Verdict::Agrees, &how),
            Agreement::Differs(how) => item(Verdict::Differs, &how),
        },
    }
}
