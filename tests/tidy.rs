//! Rules of the house that no compiler checks.

#![allow(clippy::unwrap_used, reason = "a test that cannot read its own files has failed")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Longest file, tests at its end left out.
const MOST_LINES: usize = 500;

/// Longer files, each with its reason.
const LONG: &[(&str, &str)] = &[];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Files of the repository, relative; all that lie here where git does not tell.
fn files() -> Vec<PathBuf> {
    let git = Command::new("git").args(["ls-files", "-z"]).current_dir(root()).output();
    let listed = git.ok().filter(|out| out.status.success() && !out.stdout.is_empty());
    let mut files: Vec<PathBuf> = match listed {
        Some(out) => {
            String::from_utf8(out.stdout).unwrap().split_terminator('\0').map(PathBuf::from).collect()
        }
        None => below(root()),
    };
    // Deleted, but not yet told to git.
    files.retain(|file| root().join(file).is_file());
    files.sort();
    files
}

fn below(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && !["target", "output", ".git"].contains(&name.as_str()) {
            found.extend(below(&path));
        } else if path.is_file() {
            found.push(path.strip_prefix(root()).unwrap().to_owned());
        }
    }
    found
}

/// Rust files of src, with their text before the tests at their end; files that are tests as a whole are left out.
fn sources() -> Vec<(String, String)> {
    let rust: Vec<(String, String)> = files()
        .iter()
        .filter(|file| file.starts_with("src") && file.extension().is_some_and(|e| e == "rs"))
        .map(|file| {
            (file.to_string_lossy().replace('\\', "/"), fs::read_to_string(root().join(file)).unwrap())
        })
        .collect();
    let tests: Vec<String> = rust.iter().flat_map(|(name, text)| test_modules(name, text)).collect();
    let of_the_program = |name: &String| {
        !tests.iter().any(|test| name == &format!("{test}.rs") || name.starts_with(&format!("{test}/")))
    };
    rust.into_iter()
        .filter(|(name, _)| of_the_program(name))
        .map(|(name, text)| {
            let own = text.split("#[cfg(test)]\nmod tests {").next().unwrap().to_owned();
            (name, own)
        })
        .collect()
}

/// Modules in files of their own that are there for tests alone, such as `src/chart/fixture`.
fn test_modules(name: &str, text: &str) -> Vec<String> {
    let folder =
        name.strip_suffix("/mod.rs").or(name.strip_suffix("/lib.rs")).or(name.strip_suffix(".rs")).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let declared = |pair: &[&str]| {
        let module = pair[1].strip_suffix(';')?.split("mod ").nth(1)?;
        (pair[0] == "#[cfg(test)]").then(|| format!("{folder}/{module}"))
    };
    lines.windows(2).filter_map(declared).collect()
}

#[test]
fn no_file_is_too_long() {
    for (name, text) in sources() {
        let lines = text.lines().count();
        let listed = LONG.iter().any(|(long, _)| *long == name);
        assert!(
            lines <= MOST_LINES || listed,
            "{name} has {lines} lines: divide it, or list it with a reason"
        );
        assert!(lines > MOST_LINES || !listed, "{name} is listed as long and is not");
    }
}

#[test]
fn every_module_says_what_it_is() {
    for (name, text) in sources() {
        assert!(text.starts_with("//! "), "{name} does not begin with what it is for");
    }
}

/// Nothing a user types may panic.
#[test]
fn nothing_is_unwrapped() {
    for (name, text) in sources() {
        for (i, line) in text.lines().enumerate() {
            let code = line.split("//").next().unwrap();
            for word in [".unwrap()", ".expect(", "panic!(", "todo!(", "unimplemented!(", "dbg!("] {
                assert!(!code.contains(word), "{name}:{} has {word}", i + 1);
            }
        }
    }
}

#[test]
fn the_papers_are_there() {
    for (name, words) in [
        ("README.md", "# payspread"),
        ("DEVELOPERS.md", "# "),
        ("CHANGELOG.md", "Sampled values"),
        ("LICENSE", "MIT License"),
    ] {
        let text = fs::read_to_string(root().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(text.contains(words), "{name} lacks \"{words}\"");
    }
}

/// Words that do not belong here: where the idea came from, hosts of package
/// registries, paths of one machine. Written in halves, so that this file passes.
#[test]
fn no_word_out_of_place() {
    let words = [concat!("ta", "lk"), concat!("ta", "lks"), concat!("pod", "cast"), concat!("web", "inar")];
    let parts = [
        concat!("crates", ".io"),
        concat!("static.", "rust-lang"),
        concat!("pypi", ".org"),
        concat!("python", "hosted.org"),
        concat!("npm", "js."),
        concat!("deb.", "debian"),
        concat!("/", "root/"),
        concat!("/work", "/main"),
        concat!("/work", "/shared"),
    ];
    for file in files() {
        // Cargo writes where it got things from.
        if file == Path::new("Cargo.lock") {
            continue;
        }
        let Ok(text) = fs::read_to_string(root().join(&file)) else { continue };
        let text = text.to_lowercase();
        let has_word = |word: &&str| text.split(|c: char| !c.is_alphanumeric()).any(|w| w == *word);
        if let Some(word) =
            words.iter().find(|word| has_word(word)).or(parts.iter().find(|part| text.contains(**part)))
        {
            panic!("{} has \"{word}\"", file.display());
        }
    }
}
