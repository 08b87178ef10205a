//! `manual`: the pages that `man` shows.

use std::path::PathBuf;

use clap::Args;
use clap_mangen::Man;

use super::failure::Failure;
use super::files::OutputFolder;
use super::terminal::Terminal;

/// Print the manual page for `man`, or write a page for each command
#[derive(Debug, Args)]
pub(super) struct Manual {
    /// Folder for all pages; without it the main page is printed
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

impl Manual {
    pub(super) fn execute(&self, terminal: &Terminal) -> Result<(), Failure> {
        let pages = pages()?;
        let Some(path) = &self.out else {
            return pages.first().map_or(Ok(()), |(_, page)| terminal.say(&String::from_utf8_lossy(page)));
        };
        let folder = OutputFolder::open(path)?;
        pages.iter().try_for_each(|(name, page)| folder.write(name, page))?;
        let names: Vec<&str> = pages.iter().map(|(name, _)| name.as_str()).collect();
        terminal.say(&format!("{}\n", names.join("\n")))
    }
}

/// File name and text of each page, the main one first.
fn pages() -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let mut command = super::command();
    command.build();
    let commands = command.get_subcommands().filter(|own| !own.is_hide_set() && own.get_name() != "help");
    std::iter::once(&command).chain(commands).map(page).collect()
}

fn page(command: &clap::Command) -> Result<(String, Vec<u8>), Failure> {
    let name = command.get_bin_name().unwrap_or(command.get_name()).replace(' ', "-");
    let mut bytes = Vec::new();
    Man::new(command.clone())
        .title(name.clone())
        .render(&mut bytes)
        .map_err(|error| Failure::Machine(format!("cannot write a manual page: {error}")))?;
    Ok((format!("{name}.1"), bytes))
}
