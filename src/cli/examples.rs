//! Examples at the end of each command's help; a test holds them to the command line as it is.

/// Lines for each command that has no examples of its own.
pub(super) const EXAMPLES: &[(&str, &[&str])] = &[
    (
        "new",
        &[
            "payspread new                                   # asks, then writes a study",
            "payspread new --for consultant --out study.toml",
        ],
    ),
    (
        "run",
        &[
            "payspread run studies/first-look.toml",
            "payspread run studies/harbour-row.toml --runs 65536 --all",
            "payspread run - --format json < study.toml      # from standard input",
        ],
    ),
    (
        "report",
        &[
            "payspread report studies/harbour-row.toml",
            "payspread report studies/harbour-row.toml --as html,docx,pdf",
        ],
    ),
    ("update", &["payspread update study.toml --from output/study/workbook.xlsx"]),
    (
        "compare",
        &["payspread compare before.toml after.toml", "payspread compare output/before output/after"],
    ),
    ("reproduce", &["payspread reproduce output/first-look"]),
    ("selftest", &["payspread selftest"]),
    ("survey", &["payspread survey", "payspread survey --for studies/first-look.toml"]),
    ("inputs", &["payspread inputs studies/first-look.toml"]),
    ("check", &["payspread check studies/first-look.toml"]),
    (
        "trace",
        &[
            "payspread trace studies/first-look.toml npv",
            "payspread trace studies/first-look.toml npv --run 17",
        ],
    ),
    ("reference", &["payspread reference functions", "payspread reference distributions"]),
    (
        "completions",
        &[
            "payspread completions bash > ~/.local/share/bash-completion/completions/payspread",
            "payspread completions fish > ~/.config/fish/completions/payspread.fish",
        ],
    ),
    ("manual", &["payspread manual --out ~/.local/share/man/man1", "payspread manual > payspread.1"]),
];

/// The command with its examples, below what its help ends with anyway.
pub(super) fn with_examples(command: clap::Command) -> clap::Command {
    EXAMPLES.iter().fold(command, |command, (name, lines)| {
        if command.find_subcommand(name).is_none() {
            return command;
        }
        command.mut_subcommand(*name, |own| {
            let mut text = format!("Examples:\n  {}", lines.join("\n  "));
            if let Some(before) = own.get_after_help() {
                text = format!("{before}\n\n{text}");
            }
            own.after_help(text)
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::command;

    /// Words of an example as a shell passes them on.
    fn words(line: &str) -> Vec<String> {
        let typed = line.split(['#', '<', '>']).next().unwrap_or_default();
        typed.split_whitespace().map(ToOwned::to_owned).collect()
    }

    #[test]
    fn every_example_is_one_that_the_command_line_takes() {
        for (name, lines) in EXAMPLES {
            for line in *lines {
                let words = words(line);
                assert_eq!(words[..2], ["payspread", *name], "{line}");
                assert!(command().try_get_matches_from(&words).is_ok(), "{line}");
            }
        }
    }

    #[test]
    fn every_command_has_examples() {
        for own in command().get_subcommands().filter(|own| !own.is_hide_set()) {
            let help = own.get_after_help().map(ToString::to_string).unwrap_or_default();
            assert!(help.contains("Examples:"), "{}", own.get_name());
        }
    }
}
