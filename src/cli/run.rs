//! `run`: from the study to the answer.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use rayon::{ThreadPool, ThreadPoolBuilder};

use super::appraised;
use super::delivered::{self, Asked, unwritable};
use super::failure::Failure;
use super::numbers::thousands;
use super::opened::Opened;
use super::options::{General, Sampling, StudyFile};
use super::progress;
use super::terminal::Terminal;
use super::timings::Timings;
use crate::analysis::AppraisalError;
use crate::analysis::runs::too_many;
use crate::diagnostic::Diagnostic;
use crate::report::delivery::Kind;
use crate::report::{self, numbers::clean};
use crate::sampling::{Design, Method};
use crate::study::render;

/// Run a study: the answer in two sentences and a table; charts, tables and manifest as files
#[derive(Debug, Args)]
pub(super) struct Run {
    #[command(flatten)]
    study: StudyFile,
    #[command(flatten)]
    sampling: Sampling,
    /// Folder for the files [default: output/ and the study's name]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Also what takes many more evaluations: global indices, and Shapley effects of what is correlated
    #[arg(long)]
    all: bool,
    /// Copy the data that the study reads into the folder too; meter readings tell when nobody is at home
    #[arg(long)]
    with_data: bool,
    /// Also every run by itself, with all that was drawn in it: runs.parquet, for R, pandas and the like
    #[arg(long)]
    save_runs: bool,
    /// What is printed; with json no files are written unless --out is given
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Print where the time goes, to standard error
    #[arg(long)]
    timings: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    Text,
    /// The answers for machines
    Json,
}

impl Run {
    pub(super) fn execute(&self, general: &General, terminal: &Terminal) -> Result<(), Failure> {
        if general.quiet && self.format == Format::Json && self.out.is_none() {
            return Err(Failure::Usage {
                message: "with --quiet and --format json nothing would come of the run".into(),
                hint: "leave out --quiet, or give a folder for the files: --out DIR".into(),
            });
        }
        if self.save_runs && self.folder().is_none() {
            return Err(Failure::Usage {
                message: "with --format json there is no folder to save the runs in".into(),
                hint: "give one: --out DIR".into(),
            });
        }
        let mut timings = Timings::start();
        let opened = Opened::read_and_tell(&self.study.study, terminal, &mut timings)?;
        let asked = self.asked();
        let folder = self.folder().map(|path| delivered::folder(&path, &asked, &opened)).transpose()?;
        let pool = pool(general.threads)?;
        if self.save_runs
            && let Some(why) = too_many(&opened.model, self.sampling.design(&opened.model).runs)
        {
            let hint = "make fewer with --runs, or leave out --save-runs".into();
            return Err(Failure::Usage { message: why, hint });
        }
        let control = progress::interruptible();
        let how = (&self.sampling, self.all);
        let answers = appraised::answers(&opened, how, (general, terminal), &pool, &control)?;
        timings.lap("draw, evaluate, analyse");

        // The answer comes before the files: a full disk must not swallow it.
        let text = match self.format {
            Format::Text => report::terminal::text(&answers),
            Format::Json => report::json::answers(&answers).map_err(|e| unwritable(&e))?,
        };
        terminal.say(&text)?;
        if let Some(folder) = folder {
            let mut kinds = vec![Kind::Charts, Kind::Tables, Kind::Answers];
            kinds.extend(self.save_runs.then_some(Kind::Runs));
            let files = pool.install(|| delivered::files(&kinds, &asked, &opened, &answers, &control))?;
            timings.lap("draw charts");
            delivered::write(&folder, &files)?;
            timings.lap("write");
            if self.format == Format::Text {
                terminal.say(&format!("Charts and tables: {}\n", clean(&folder.path().to_string_lossy())))?;
            }
        }
        if self.timings {
            terminal.complain(&timings.text());
        }
        Ok(())
    }

    /// Where the files go, if any are wanted.
    fn folder(&self) -> Option<PathBuf> {
        let named = || self.study.stem().map(|stem| PathBuf::from("output").join(stem));
        match (&self.out, self.format) {
            (Some(out), _) => Some(out.clone()),
            (None, Format::Text) => named(),
            (None, Format::Json) => None,
        }
    }

    fn asked(&self) -> Asked<'_> {
        Asked { study: &self.study.study, sampling: &self.sampling, all: self.all, with_data: self.with_data }
    }
}

/// Threads to compute with.
pub(super) fn pool(threads: Option<usize>) -> Result<ThreadPool, Failure> {
    let pool = ThreadPoolBuilder::new().num_threads(threads.unwrap_or(0)).build();
    pool.map_err(|error| Failure::Machine(format!("cannot start the threads: {error}")))
}

/// That more runs are made than were asked for, if so.
pub(super) fn rounded(design: &Design) -> String {
    if design.runs == design.runs_asked {
        return String::new();
    }
    let reason = match design.method {
        Method::Sobol => "Sobol points need a power of two in each replicate",
        Method::LatinHypercube | Method::Random => "all replicates hold equally many",
    };
    let (made, asked) = (thousands(design.runs), thousands(design.runs_asked));
    format!(
        "note: {made} runs instead of the {asked} asked for: {reason} (replicates: {})\n",
        design.replicates
    )
}

pub(super) fn unanswered(error: AppraisalError, opened: &Opened) -> Failure {
    let found = match error {
        AppraisalError::Stopped(_) => return Failure::Interrupted,
        AppraisalError::Plan(error) if error.hint.is_empty() => Diagnostic::error("draws", error.message),
        AppraisalError::Plan(error) => Diagnostic::error("draws", error.message).hint(error.hint),
        AppraisalError::Workings(found) => *found,
    };
    Failure::Study(render(&[found], &opened.source, true))
}
