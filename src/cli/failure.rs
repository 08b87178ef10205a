//! Why a command ends without its answer, and the exit status that says so.

use std::fmt;
use std::io;
use std::path::Path;
use std::process::ExitCode;

use crate::report::numbers::clean;

/// Why a command failed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Failure {
    /// The study or its data is wrong; the text is complete, excerpts and colours included.
    Study(String),
    /// The command line asks for what cannot be.
    Usage {
        /// What is wrong.
        message: String,
        /// What would be right.
        hint: Option<String>,
    },
    /// Disk, memory, threads.
    Machine(String),
    /// The user stopped it.
    Interrupted,
}

impl Failure {
    /// Wrong usage without a hint.
    pub(super) fn usage(message: impl Into<String>) -> Self {
        Failure::Usage { message: message.into(), hint: None }
    }

    /// What the system says about a file.
    pub(super) fn at_file(what: &str, path: &Path, error: &io::Error) -> Self {
        Failure::Machine(format!("{what} {}: {error}", clean(&path.to_string_lossy())))
    }

    /// Exit status.
    pub(super) fn code(&self) -> ExitCode {
        ExitCode::from(match self {
            Failure::Study(_) => 1,
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
            Failure::Usage { message, hint: Some(hint) } => write!(f, "error: {message}\nhint: {hint}\n"),
            Failure::Usage { message, hint: None } | Failure::Machine(message) => writeln!(f, "error: {message}"),
            Failure::Interrupted => f.write_str("stopped\n"),
        }
    }
}
