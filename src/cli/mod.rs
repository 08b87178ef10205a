//! The command line: a file for each command. Thin: the library does the work.
//!
//! Besides study loading, this is the only code that touches files, clock and terminal.

mod appraised;
mod browser;
mod check;
mod compare;
mod completions;
mod debug;
mod delivered;
mod examples;
mod failure;
mod files;
mod inputs;
mod manual;
mod meter;
mod new;
mod numbers;
mod opened;
mod options;
mod pin;
mod progress;
mod reference;
mod report;
mod reproduce;
mod run;
mod searched;
mod selftest;
mod surplus;
mod survey;
mod terminal;
mod timings;
mod trace;
mod trace_figure;
mod update;

use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

use failure::Failure;
use options::General;
use terminal::Terminal;

/// Exit status, told at the end of the help.
const EXIT_STATUS: &str = "\
Exit status:
  0    fine
  1    the study or its data is wrong
  2    wrong usage
  3    the machine failed (disk, memory)
  130  stopped by Ctrl+C";

/// Does it pay back, how sure is that, what does it hang on, and at what price does the answer flip?
#[derive(Debug, Parser)]
#[command(name = "payspread", version, max_term_width = 100, after_help = EXIT_STATUS)]
struct CommandLine {
    #[command(flatten)]
    general: General,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    New(Box<new::New>),
    Run(run::Run),
    Check(check::Check),
    Trace(trace::Trace),
    Report(report::Report),
    Update(update::Update),
    Compare(compare::Compare),
    Reproduce(reproduce::Reproduce),
    Selftest(selftest::Selftest),
    Survey(survey::Survey),
    Inputs(inputs::Inputs),
    Meter(meter::Meter),
    Surplus(surplus::Surplus),
    Reference(reference::Reference),
    Completions(completions::Completions),
    Manual(manual::Manual),
    #[command(hide = true)]
    Debug(debug::Debug),
}

/// The whole command line, examples included.
fn command() -> clap::Command {
    examples::with_examples(CommandLine::command())
}

/// Runs the program.
pub fn main() -> ExitCode {
    let line = match command().try_get_matches().and_then(|found| CommandLine::from_arg_matches(&found)) {
        Ok(line) => line,
        Err(error) => return usage(&error),
    };
    let terminal = Terminal::new(line.general.quiet);
    match dispatch(line, &terminal) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            terminal.complain(&failure.to_string());
            failure.code()
        }
    }
}

fn dispatch(line: CommandLine, terminal: &Terminal) -> Result<(), Failure> {
    match line.command {
        None => terminal.say(&command().render_help().to_string()),
        Some(Command::Run(run)) => run.execute(&line.general, terminal),
        Some(Command::Report(asked)) => asked.execute(&line.general, terminal),
        Some(Command::Update(asked)) => asked.execute(&line.general, terminal),
        Some(Command::Reproduce(asked)) => asked.execute(&line.general, terminal),
        Some(Command::Compare(asked)) => asked.execute(&line.general, terminal),
        Some(Command::Selftest(asked)) => asked.execute(&line.general, terminal),
        Some(Command::New(asked)) => asked.execute(&line.general, terminal),
        Some(Command::Survey(asked)) => asked.execute(&line.general, terminal),
        Some(Command::Check(check)) => check.execute(terminal),
        Some(Command::Trace(trace)) => trace.execute(terminal),
        Some(Command::Surplus(surplus)) => surplus.execute(&line.general, terminal),
        Some(Command::Meter(meter)) => meter.execute(terminal),
        Some(Command::Inputs(inputs)) => inputs.execute(terminal),
        Some(Command::Reference(reference)) => reference.execute(terminal),
        Some(Command::Completions(asked)) => asked.execute(terminal),
        Some(Command::Manual(asked)) => asked.execute(terminal),
        Some(Command::Debug(debug)) => debug.execute(terminal),
    }
}

/// Help and version as asked; for wrong usage what clap says, in which a
/// mistyped word could hold anything.
fn usage(error: &clap::Error) -> ExitCode {
    if error.use_stderr() {
        Terminal::new(false).complain(&terminal::harmless(&error.render().to_string()));
        return ExitCode::from(2);
    }
    // Nothing is left to do when nobody reads the help.
    let _ = error.print();
    ExitCode::SUCCESS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_sound() {
        command().debug_assert();
    }
}
