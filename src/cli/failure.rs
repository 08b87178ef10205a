//! Why a command ends without its answer, and the exit status that says so.

use std::fmt;
use std::io;
use std::path::Path;
use std::process::ExitCode;

use crate::report::numbers::clean;

/// The word, bold and bright red as in the study's own errors; what is written loses colours where they are not wanted.
const ERROR: &str = "\u{1b}[1m\u{1b}[91merror\u{1b}[0m";

/// Why a command failed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Failure {
    /// The study or its data is wrong; the text is complete, excerpts and colours included.
    Study(String),
    /// A data file is wrong.
    Data {
        /// What is wrong, and where.
        message: String,
        /// What would be right.
        hint: String,
    },
    /// The command line asks for what cannot be.
    Usage {
        /// What is wrong.
        message: String,
        /// What would be right.
        hint: String,
    },
    /// Disk, memory, threads.
    Machine(String),
    /// The user stopped it.
    Interrupted,
}

impl Failure {
    /// What the system says about a file.
    pub(super) fn at_file(what: &str, path: &Path, error: &io::Error) -> Self {
        Failure::Machine(format!("{what} {}: {error}", clean(&path.to_string_lossy())))
    }

    /// Exit status.
    pub(super) fn code(&self) -> ExitCode {
        ExitCode::from(match self {
            Failure::Study(_) | Failure::Data { .. } => 1,
            Failure::Usage { .. } => 2,
            Failure::Machine(_) => 3,
            // What shells expect of a program that SIGINT ended (128 + 2).
            Failure::Interrupted => 130,
        })
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failure::Study(text) => f.write_str(text),
            Failure::Usage { message, hint } | Failure::Data { message, hint } => {
                writeln!(f, "{ERROR}: {message}\nhint: {hint}")
            }
            Failure::Machine(message) => writeln!(f, "{ERROR}: {message}"),
            Failure::Interrupted => f.write_str("stopped\n"),
        }
    }
}
