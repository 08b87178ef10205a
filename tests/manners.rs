//! What any well-mannered program of the command line does: completions, manual pages, standard input and output, a
//! reader who stops reading.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn payspread() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_payspread"));
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

fn told(output: &Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// Commands as the help lists them.
fn commands() -> Vec<String> {
    let help = told(&payspread().arg("--help").output().unwrap());
    let listed = help.split("Commands:").nth(1).unwrap().split("\n\n").next().unwrap();
    let names = listed.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let names = names.map(|line| line.split_whitespace().next().unwrap().to_owned());
    names.filter(|name| name != "help").collect()
}

#[test]
fn completions_know_every_command() {
    let commands = commands();
    assert!(commands.len() > 10, "{commands:?}");
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = told(&payspread().args(["completions", shell]).output().unwrap());
        for command in &commands {
            assert!(script.contains(command.as_str()), "{shell} does not know {command}");
        }
    }
}

#[test]
fn completions_of_bash_are_a_script_that_bash_reads() {
    let script = told(&payspread().args(["completions", "bash"]).output().unwrap());
    let Ok(mut bash) = Command::new("bash").args(["-n"]).stdin(Stdio::piped()).spawn() else { return };
    bash.stdin.take().unwrap().write_all(script.as_bytes()).unwrap();
    assert!(bash.wait().unwrap().success());
}

#[test]
fn every_command_has_a_manual_page() {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("manual");
    let _ = fs::remove_dir_all(&out);
    told(&payspread().args(["manual", "--out"]).arg(&out).output().unwrap());
    for command in commands() {
        let page = fs::read_to_string(out.join(format!("payspread-{command}.1"))).unwrap();
        assert!(page.contains(".SH SYNOPSIS") && page.contains("Examples"), "{command}: {page}");
        assert!(page.contains(&format!("payspread {command}").replace('-', "\\-")), "{command}: {page}");
    }
    let main = told(&payspread().arg("manual").output().unwrap());
    assert_eq!(main, fs::read_to_string(out.join("payspread.1")).unwrap());
}

#[test]
fn a_study_can_come_from_standard_input() {
    let study = fs::read("studies/first-look.toml").unwrap();
    let ask = |path: &str| {
        let mut command = payspread();
        command.args(["run", path, "--runs", "512", "--format", "json"]);
        let piped = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = piped.spawn().unwrap();
        let mut input = child.stdin.take().unwrap();
        let study = study.clone();
        // A reader who does not read it all closes the pipe.
        let writer = std::thread::spawn(move || drop(input.write_all(&study)));
        let output = child.wait_with_output().unwrap();
        writer.join().unwrap();
        told(&output)
    };
    let from_input = ask("-");
    assert!(from_input.contains("\"results\""));
    assert_eq!(from_input, ask("studies/first-look.toml"));
}

#[test]
fn what_is_no_study_on_standard_input_is_told_by_that_name() {
    let mut command = payspread();
    command.args(["check", "-"]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    child.stdin.take().unwrap().write_all(b"title = 3\n").unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let message = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(message.contains("standard input:1:9"), "{message}");
}

/// What is long enough to fill a pipe whose reader has gone.
#[test]
fn a_reader_who_goes_away_is_no_error() {
    for args in [&["completions", "bash"][..], &["reference", "functions"], &["manual"]] {
        let mut child = payspread().args(args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
        assert!(output.stderr.is_empty(), "{args:?}");
    }
}

#[test]
fn no_colours_where_no_terminal_reads_or_none_are_wanted() {
    let name = "nothing-here.toml";
    let output = payspread().args(["run", name]).output().unwrap();
    assert!(!output.stderr.contains(&0x1b));
    let wanted = payspread().args(["run", name]).env("CLICOLOR_FORCE", "1").output().unwrap();
    assert!(wanted.stderr.contains(&0x1b), "colours are there where they are asked for");
    let unwanted =
        payspread().args(["run", name]).env("CLICOLOR_FORCE", "1").env("NO_COLOR", "1").output().unwrap();
    let both = String::from_utf8_lossy(&unwanted.stderr).into_owned();
    assert!(!both.contains('\u{1b}'), "NO_COLOR goes before all: {both}");
}
