//! What is written to the terminal, and by whom it may be left unread.
//!
//! anstream drops colours where the reader is no terminal or wants none
//! (NO_COLOR).

use std::io::{self, Write};

use super::failure::Failure;

/// Standard output and standard error.
#[derive(Debug)]
pub(super) struct Terminal {
    quiet: bool,
}

impl Terminal {
    /// `quiet`: errors alone are written.
    pub(super) fn new(quiet: bool) -> Self {
        Terminal { quiet }
    }

    /// The answer, to standard output. That nobody reads on (`| head`) is no error.
    ///
    /// # Errors
    /// When standard output cannot take it, such as a full disk.
    pub(super) fn say(&self, text: &str) -> Result<(), Failure> {
        if self.quiet {
            return Ok(());
        }
        let mut out = anstream::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
                Err(Failure::Machine(format!("cannot write the answer: {error}")))
            }
            _ => Ok(()),
        }
    }

    /// A remark beside the answer, to standard error.
    pub(super) fn note(&self, text: &str) {
        if !self.quiet {
            self.complain(text);
        }
    }

    /// An error, to standard error, whatever was asked.
    pub(super) fn complain(&self, text: &str) {
        // Nothing is left to do when nobody can read it.
        let _ = anstream::stderr().lock().write_all(text.as_bytes());
    }
}

/// Whether the terminal takes UTF-8, as far as its language settings (POSIX: the first of the three that is set) tell.
pub(super) fn speaks_utf8() -> bool {
    let set = |name: &&str| std::env::var(name).ok().filter(|value| !value.is_empty());
    match ["LC_ALL", "LC_CTYPE", "LANG"].iter().find_map(set) {
        Some(value) => {
            let value = value.to_lowercase();
            value.contains("utf-8") || value.contains("utf8")
        }
        None => cfg!(windows) || cfg!(target_os = "macos"),
    }
}

/// `text` without control characters other than line feeds.
pub(super) fn harmless(text: &str) -> String {
    text.chars().map(|c| if c.is_control() && c != '\n' { '\u{fffd}' } else { c }).collect()
}
