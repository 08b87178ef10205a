//! Options that several commands share, in one place.

use std::path::PathBuf;

use clap::Args;

use super::numbers::{any_whole, runs, threads};
use crate::model::Model;
use crate::sampling::{Design, Method};

/// Options of every command.
#[derive(Debug, Args)]
pub(super) struct General {
    /// Write nothing to the terminal but errors
    #[arg(long, short, global = true)]
    pub(super) quiet: bool,
    /// Threads to compute with [default: one for each processor core]; they change no figure
    #[arg(long, global = true, value_name = "N", value_parser = threads, allow_negative_numbers = true)]
    pub(super) threads: Option<usize>,
}

/// The study file.
#[derive(Debug, Args)]
pub(super) struct StudyFile {
    /// Study file
    #[arg(value_name = "STUDY")]
    pub(super) study: PathBuf,
}

/// How many runs, and which.
#[derive(Debug, Args)]
pub(super) struct Sampling {
    /// Number of runs in place of the study's own; rounded up where the method needs it
    #[arg(long, value_name = "N", value_parser = runs, allow_negative_numbers = true)]
    runs: Option<u64>,
    /// Seed in place of the study's own
    #[arg(long, value_name = "N", value_parser = any_whole, allow_negative_numbers = true)]
    seed: Option<u64>,
}

impl Sampling {
    /// The design that the study asks for, with what the command line asks otherwise.
    pub(super) fn design(&self, model: &Model) -> Design {
        let wish = &model.sampling;
        let (seed, runs) = (self.seed.unwrap_or(wish.seed), self.runs.unwrap_or(wish.runs));
        Design::new(seed, wish.method, wish.replicates, runs)
    }

    /// Runs and seed as given, for the manifest.
    pub(super) fn given(&self) -> (Option<u64>, Option<u64>) {
        (self.runs, self.seed)
    }

    /// Whether a number of runs is asked for, which goes before a precision that the study wants.
    pub(super) fn runs_are_given(&self) -> bool {
        self.runs.is_some()
    }
}

/// A method as a study writes it.
pub(super) fn method_in_words(method: Method) -> &'static str {
    match method {
        Method::Sobol => "sobol",
        Method::LatinHypercube => "latin hypercube",
        Method::Random => "random",
    }
}
