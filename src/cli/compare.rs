//! `compare`: two studies, two output folders, or one of each.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::delivered::unwritable;
use super::failure::Failure;
use super::files::{MANIFEST, OutputFolder};
use super::opened::Opened;
use super::options::{General, Sampling};
use super::progress;
use super::run::{pool, unanswered};
use super::searched::Searched;
use super::terminal::Terminal;
use super::timings::Timings;
use crate::analysis::comparing::{CompareError, Comparison, MOST_RUNS, Side, compare};
use crate::report::comparing::{self, Sides};
use crate::report::manifest::Made;
use crate::report::manifest_read::{KeptManifest, MAX_BYTES};
use crate::report::numbers::clean;
use crate::sampling::Design;
use crate::study::data::DataFiles;
use crate::{model, study};

/// What differs between two studies, and what each difference does to the results
#[derive(Debug, Args)]
pub(super) struct Compare {
    /// First study, or an output folder
    #[arg(value_name = "A")]
    a: PathBuf,
    /// Second study, or an output folder
    #[arg(value_name = "B")]
    b: PathBuf,
    #[command(flatten)]
    sampling: Sampling,
    /// Where the data files of output folders are, if not in them [default: there, then from here]
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// Folder for the tables as CSV [default: none are written]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
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

/// A study or output folder that was opened.
struct Read {
    opened: Opened,
    files: Box<dyn DataFiles + Sync>,
    made: Made,
}

impl Compare {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        let (a, b) = (self.read(&self.a)?, self.read(&self.b)?);
        let folder = self.out.as_deref().map(OutputFolder::open).transpose()?;
        let found = self.compare(&a, &b, general, terminal)?;
        let names = [&self.a, &self.b].map(|path| path.to_string_lossy().into_owned());
        let sides = Sides { a: &names[0], b: &names[1], currency: &a.opened.model.currency };
        let text = match self.format {
            Format::Text => comparing::text(&found, &sides),
            Format::Json => comparing::json(&found, &sides).map_err(|e| unwritable(&e))?,
        };
        terminal.say(&text)?;
        let Some(folder) = folder else { return Ok(()) };
        let tables = comparing::tables(&found).map_err(|e| unwritable(&e))?;
        tables.iter().try_for_each(|(name, bytes)| folder.write(name, bytes))
    }

    fn compare(
        &self,
        a: &Read,
        b: &Read,
        general: &General,
        terminal: &Terminal,
    ) -> Result<Comparison, Failure> {
        let (design_a, design_b) = (self.design(a), self.design(b));
        if [(a, &design_a), (b, &design_b)]
            .iter()
            .any(|(read, design)| design.runs < wished(read, &self.sampling))
        {
            terminal.note(&format!("note: no more than {MOST_RUNS} runs of each study are compared\n"));
        }
        let side = |read, design| Side::of(read, design);
        let (side_a, side_b) = (side(a, design_a), side(b, design_b));
        let control = progress::interruptible();
        let pool = pool(general.threads)?;
        let found = progress::watched(&control, design_a.runs, general.quiet, || {
            pool.install(|| compare(&side_a, &side_b, &control))
        });
        found.map_err(|error| match error {
            CompareError::Appraisal(error) => unanswered(error, &a.opened),
            CompareError::Unsound(found) => {
                let why = found.first().map_or_else(String::new, |d| d.message.clone());
                Failure::Machine(format!("cannot put the studies together: {}", clean(&why)))
            }
        })
    }

    /// How a side is drawn: by the command line, by what its folder was made with, or as the study says.
    fn design(&self, read: &Read) -> Design {
        let wish = &read.opened.model.sampling;
        let (runs, seed) = self.sampling.given();
        let seed = seed.or(read.made.seed).unwrap_or(wish.seed);
        let runs = runs.or(read.made.runs).unwrap_or(wish.runs).min(MOST_RUNS);
        Design::new(seed, wish.method, wish.replicates, runs)
    }

    fn read(&self, path: &Path) -> Result<Read, Failure> {
        if !path.join(MANIFEST).is_file() {
            let opened = Opened::read(path, &mut Timings::start())?;
            let files = Box::new(study::Beside::study(path));
            return Ok(Read { opened, files, made: Made::default() });
        }
        let kept = manifest(path)?;
        let copy = path.join(&kept.study.file);
        let source = study::read_source(&copy)
            .map_err(|found| Failure::Study(study::LoadError::File(found).render(true)))?;
        let files = Searched::new(self.data.as_deref(), path, &kept.data);
        let (made, found) = model::read_beside(&source.text, &files);
        let Some((_, model)) = made else { return Err(Failure::Study(study::render(&found, &source, true))) };
        Ok(Read { opened: Opened { source, model }, files: Box::new(files), made: kept.made })
    }
}

impl<'a> Side<'a> {
    fn of(read: &'a Read, design: Design) -> Side<'a> {
        Side { text: &read.opened.source.text, files: &*read.files, model: &read.opened.model, design }
    }
}

fn wished(read: &Read, sampling: &Sampling) -> u64 {
    sampling.given().0.or(read.made.runs).unwrap_or(read.opened.model.sampling.runs)
}

fn manifest(folder: &Path) -> Result<KeptManifest, Failure> {
    let path = folder.join(MANIFEST);
    let bytes = super::files::read_at_most(&path, MAX_BYTES)?.unwrap_or_default();
    KeptManifest::parse(&bytes)
        .map_err(|e| Failure::Data { message: clean(&e.message), hint: clean(&e.hint) })
}
