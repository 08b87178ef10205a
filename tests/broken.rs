//! Every broken study says what is wrong with it, in the words of the
//! snapshot beside it; every good one reads without a word.
//!
//! `PAYSPREAD_BLESS=1 cargo test --test broken` rewrites the snapshots: read
//! what changed before it is committed.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use payspread::diagnostic::{Diagnostic, Severity, has_errors};
use payspread::model;
use payspread::study::{Beside, LoadError, Source, load, render};

/// Longest time that a broken study may take here. The promise of 2 s is that of the release build, which takes about a third
/// of the time of this test build; and this runs on whatever machine there is, beside whatever else it does.
const PATIENCE: Duration = Duration::from_secs(5);

/// Held by the tests that work hard: one at a time, so that none is timed while another has the processor.
static ALONE: Mutex<()> = Mutex::new(());

fn alone() -> MutexGuard<'static, ()> {
    // That another test failed while it held this is told by that test.
    ALONE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Everything that is wrong with a study before it runs.
fn errors_of(text: &str) -> Vec<Diagnostic> {
    model::read_beside(text, &Beside::study(&folder("broken").join("study.toml"))).1
}

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(name)
}

/// The studies of a folder under tests/, sorted by name.
fn studies(name: &str) -> Vec<(String, String)> {
    let mut studies: Vec<(String, String)> = fs::read_dir(folder(name))
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "toml"))
        .map(|p| (p.file_stem().unwrap().to_str().unwrap().to_owned(), fs::read_to_string(&p).unwrap()))
        .collect();
    studies.sort();
    studies
}

fn blessing() -> bool {
    std::env::var_os("PAYSPREAD_BLESS").is_some()
}

/// Compares `message` with tests/broken/NAME.txt; what differs, if anything.
fn compare(name: &str, message: &str) -> Option<String> {
    compare_in("broken", name, message)
}

fn compare_in(place: &str, name: &str, message: &str) -> Option<String> {
    let path = folder(place).join(format!("{name}.txt"));
    if blessing() {
        fs::write(&path, message).unwrap();
        return None;
    }
    let expected = fs::read_to_string(&path).unwrap_or_default().replace("\r\n", "\n");
    (expected != message).then(|| format!("--- {name}: expected\n{expected}\n--- {name}: is\n{message}"))
}

/// The message about `text`; fails when there is none or when it takes too long.
fn message_of(name: &str, text: &str) -> String {
    let begun = Instant::now();
    let found = errors_of(text);
    let source = Source { name: format!("{name}.toml"), text: text.to_owned() };
    let message = render(&found, &source, false);
    let took = begun.elapsed();
    assert!(blessing() || has_errors(&found), "{name} reads without an error");
    assert!(took < PATIENCE, "{name} takes {took:?}");
    assert!(is_tame(&message), "{name}: its message would upset a terminal: {message:?}");
    message
}

/// Lines of bounded length without control characters.
fn is_tame(message: &str) -> bool {
    message.lines().all(|l| l.chars().count() < 600) && message.chars().all(|c| c == '\n' || !c.is_control())
}

#[test]
fn every_broken_study_says_so() {
    let studies = studies("broken");
    assert!(studies.len() >= 60, "only {} broken studies", studies.len());
    let mut differing = Vec::new();
    for (name, text) in &studies {
        differing.extend(compare(name, &message_of(name, text)));
    }
    assert!(differing.is_empty(), "{} differ\n{}", differing.len(), differing.join("\n"));
}

#[test]
fn every_snapshot_belongs_to_a_study() {
    for entry in fs::read_dir(folder("broken")).unwrap() {
        let path = entry.unwrap().path();
        let generated = ["file-", "long-line", "deep-", "zero-bytes", "many-errors"];
        let name = path.file_name().unwrap().to_str().unwrap();
        if generated.iter().any(|g| name.starts_with(g)) || name.ends_with(".csv") {
            continue;
        }
        assert!(path.with_extension("toml").exists(), "{name} belongs to no study");
    }
}

/// But for what the language has and this version does not answer.
#[test]
fn every_good_study_reads_without_a_word() {
    let studies = studies("good");
    assert!(!studies.is_empty());
    for (name, text) in studies {
        let (made, found) = model::read_beside(&text, &Beside::study(&folder("good").join("study.toml")));
        let found: Vec<Diagnostic> = found.into_iter().filter(|d| d.id != "not-yet").collect();
        let source = Source { name: format!("{name}.toml"), text };
        assert!(found.is_empty() && made.is_some(), "{}", render(&found, &source, false));
    }
}

/// Studies that run, but tell the reader to look again.
#[test]
fn every_doubtful_study_is_answered_with_a_caution() {
    let studies = studies("doubtful");
    assert!(!studies.is_empty());
    let mut differing = Vec::new();
    for (name, text) in studies {
        let (made, found) = model::read_beside(&text, &Beside::study(&folder("doubtful").join("study.toml")));
        let source = Source { name: format!("{name}.toml"), text };
        let message = render(&found, &source, false);
        assert!(made.is_some_and(|(_, model)| model.cautions == found), "{message}");
        assert!(!found.is_empty(), "{name} is not doubtful");
        differing.extend(compare_in("doubtful", &name, &message));
    }
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}

/// A small valid study, with one more line or table.
fn study_with(more: &str) -> String {
    format!(
        "title = \"Does it pay back?\"\ncurrency = \"EUR\"\nfirst_year = 2027\nyears = 20\n{more}\n\
         [results.cost]\nunit = \"EUR\"\nformula = \"3 [EUR]\"\n"
    )
}

#[test]
fn depth_is_an_error_and_no_crash() {
    let deep = |open: &str, close: &str| format!("{}1{}", open.repeat(10_000), close.repeat(10_000));
    let cases = [
        ("deep-lists", study_with(&format!("question = {}", deep("[", "]")))),
        ("deep-lists-not-closed", study_with(&format!("question = {}", "[".repeat(10_000)))),
        ("deep-tables", study_with(&format!("question = {}", deep("{ a = ", " }")))),
        ("deep-key", study_with(&format!("{}a = 1", "a.".repeat(10_000)))),
        ("deep-header", study_with(&format!("[{}a]\nvalue = 1\n", "a.".repeat(10_000)))),
        (
            "deep-keys-in-tables",
            study_with(&format!(
                "q = {}1{}",
                format!("{{ {}a = ", "a.".repeat(78)).repeat(78),
                " }".repeat(78)
            )),
        ),
    ];
    let differing: Vec<String> =
        cases.iter().filter_map(|(name, text)| compare(name, &message_of(name, text))).collect();
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}

/// Whatever stage finds it, ten thousand parentheses must not crash; the
/// reader takes them for text.
#[test]
fn depth_in_a_formula_is_no_crash() {
    for (open, close) in [("(", ")"), ("-", ""), ("not ", ""), ("abs(", ")"), ("2^", "")] {
        let formula = format!("{}1{}", open.repeat(10_000), close.repeat(10_000));
        let text = format!("{}[workings.deep]\nformula = \"{formula}\"\n", study_with(""));
        let begun = Instant::now();
        let source = Source { name: "deep.toml".to_owned(), text };
        let message = render(&errors_of(&source.text), &source, false);
        assert!(begun.elapsed() < PATIENCE && is_tame(&message), "{open}: {message}");
    }
}

#[test]
fn size_and_rubbish_are_errors_in_time() {
    let long = format!("question = {} 12", "x".repeat(100_000));
    let cases = [
        ("long-line", study_with(&long)),
        ("zero-bytes", "\u{1}\u{2}\0\0PK\u{3}\u{4}".repeat(100)),
        ("many-errors", study_with(&(0..70).map(|i| format!("key_{i} = {i}\n")).collect::<String>())),
    ];
    let differing: Vec<String> =
        cases.iter().filter_map(|(name, text)| compare(name, &message_of(name, text))).collect();
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}

/// Four megabytes of one thing: only time and tameness are asked for.
#[test]
fn the_largest_files_are_refused_in_time() {
    let _alone = alone();
    let fill = |unit: &str| unit.repeat(4 * 1024 * 1024 / unit.len());
    let numbered = |line: fn(usize) -> String, n: usize| (0..n).map(line).collect::<String>();
    let cases = [
        ("brackets", fill("[")),
        ("braces", fill("a={")),
        ("quotes", fill("\"")),
        ("dots", fill("a.")),
        ("lines", fill("x\n")),
        ("equals", fill("=")),
        ("one-word", fill("x")),
        ("keys", numbered(|i| format!("k{i} = 1\n"), 250_000)),
        ("inputs", numbered(|i| format!("[inputs.k{i}]\nvalu = 1\n"), 130_000)),
        ("same-input", fill("[inputs.people]\nvalue = 3\n")),
        ("numbers", study_with(&format!("[inputs.c]\nchoice = [{}]\n", fill("1, ")))),
        ("names", study_with(&format!("[[correlations]]\nbetween = [{}]\nrank = 1\n", fill("\"a\", ")))),
    ];
    for (name, text) in cases {
        if !is_asked(name) {
            continue;
        }
        let message = message_of(name, &text);
        assert!(message.len() < 200_000, "{name}: {} bytes of message", message.len());
        check_memory(name);
    }
}

/// One case alone, in a process of its own: `PAYSPREAD_CASE=keys cargo test --test broken largest`.
fn is_asked(name: &str) -> bool {
    std::env::var("PAYSPREAD_CASE").is_ok_and(|case| case == name)
        || std::env::var_os("PAYSPREAD_CASE").is_none()
}

/// The peak of a process that has done one case; the texts of the other cases, 50 MB, count against it too.
fn check_memory(name: &str) {
    if std::env::var_os("PAYSPREAD_CASE").is_none() {
        return;
    }
    let Ok(status) = fs::read_to_string("/proc/self/status") else { return };
    let peak = status
        .lines()
        .find_map(|l| l.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse::<u64>().ok());
    eprintln!("{name}: {peak:?} kB");
    assert!(peak.is_none_or(|kb| kb < 500_000), "{name} takes {peak:?} kB");
}

#[test]
fn memory_stays_bounded() {
    let _alone = alone();
    let cases = [
        ("largest", "keys"),
        ("largest", "inputs"),
        ("largest", "same-input"),
        ("largest", "numbers"),
        ("largest", "names"),
        ("largest", "brackets"),
        ("largest", "equals"),
        ("heaviest", "wide-workings"),
        ("heaviest", "nested-sums"),
        ("heaviest", "unknown-names"),
        ("heaviest", "slow-laws"),
    ];
    for (test, case) in cases {
        let child = std::process::Command::new(std::env::current_exe().unwrap())
            .args([test, "--nocapture"])
            .env("PAYSPREAD_CASE", case)
            .output()
            .unwrap();
        let told = String::from_utf8_lossy(&child.stderr);
        eprint!("{told}");
        assert!(child.status.success(), "{test} {case}: {told}");
    }
}

/// Sound TOML that would take too long or too much memory further on.
#[test]
fn the_heaviest_studies_are_refused_in_time() {
    let _alone = alone();
    for (name, text) in heavy() {
        if !is_asked(name) {
            continue;
        }
        let begun = Instant::now();
        let message = message_of(name, &text);
        assert!(message.len() < 200_000, "{name}: {} bytes of message", message.len());
        eprintln!(
            "{name}: {} bytes, {:?}; {}",
            text.len(),
            begun.elapsed(),
            message.lines().next().unwrap_or_default()
        );
        check_memory(name);
    }
}

/// Names of things, made up to look alike.
fn rows(n: usize, row: impl Fn(usize) -> String) -> String {
    (0..n).map(row).collect()
}

fn heavy() -> Vec<(&'static str, String)> {
    let unknown = |n: usize| (0..n).map(|i| format!("unknown_name_{i}")).collect::<Vec<_>>().join(" + ");
    let wide = |i: usize| {
        (0..90).map(|k| format!("(year * month * {}.5)", i * 100 + k)).collect::<Vec<_>>().join(" + ")
    };
    let nested = |i: usize| {
        let one = (0..400).map(|k| format!("year * {}", i * 400 + k)).collect::<Vec<_>>();
        one.chunks(20).map(|part| format!("sum_years({})", part.join(" + "))).collect::<Vec<_>>().join(" + ")
    };
    vec![
        (
            "unknown-names",
            study_with(&rows(4_900, |i| {
                format!("[workings.known_name_{i}]\nformula = \"{}\"\n", unknown(40))
            })),
        ),
        ("unknown-in-one", study_with(&format!("[workings.a]\nformula = \"{}\"\n", unknown(400)))),
        ("too-many-inputs", study_with(&rows(130_000, |i| format!("[inputs.k{i}]\nvalue = 1\n")))),
        ("too-many-workings", study_with(&rows(100_000, |i| format!("[workings.k{i}]\nformula = \"1\"\n")))),
        (
            "wide-workings",
            study_with(&rows(2_000, |i| format!("[workings.w{i}]\nformula = \"{}\"\n", wide(i)))),
        ),
        (
            "nested-sums",
            study_with(&rows(600, |i| format!("[workings.w{i}]\nformula = \"{}\"\n", nested(i)))),
        ),
        (
            "links",
            study_with(&format!(
                "{}[[correlations]]\nbetween = [{}]\nrank = -0.5\n",
                rows(900, |i| format!("[inputs.k{i}]\nuniform = {{ min = 1, max = 2 }}\n")),
                (0..900).map(|i| format!("\"k{i}\"")).collect::<Vec<_>>().join(", "),
            )),
        ),
        (
            "slow-laws",
            study_with(&format!(
                "{}[workings.bad]\nformula = \"nothing\"\n",
                rows(990, |i| format!(
                    "[inputs.k{i}]\nbeta = {{ alpha = 2.{i}, beta = 3.5, min = 1, max = 2 }}\ntruncate = {{ min = 1.2 }}\n"
                )),
            )),
        ),
        (
            "alternatives",
            study_with(&format!(
                "{}{}[workings.bad]\nformula = \"nothing\"\n",
                rows(4_000, |i| format!("[workings.k{i}]\nformula = \"{i} * 2\"\n")),
                rows(20_000, |i| format!("[alternatives.a{i}.workings]\nk1 = \"{i} * 3\"\n")),
            )),
        ),
        (
            "failing-alternatives",
            study_with(&format!(
                "{}{}",
                rows(4_000, |i| format!("[workings.k{i}]\nformula = \"{i} * 2 * year * month\"\n")),
                rows(20, |i| format!("[alternatives.a{i}.workings]\nk1 = \"{i} * 3 [EUR]\"\n")),
            )),
        ),
        ("break-even", study_with(&rows(50_000, |i| format!("[[break_even]]\nof = \"k{i}\"\n")))),
        (
            "poisson",
            study_with(
                "[inputs.p]\npoisson = { mean = 1e12 }\n[inputs.b]\nbinomial = { trials = 1e12, chance = 0.5 }\n",
            ),
        ),
        (
            "chain",
            study_with(&format!(
                "{}[workings.w4899]\nformula = \"w0\"\n",
                rows(4_899, |i| format!("[workings.w{i}]\nformula = \"w{} + 1\"\n", i + 1)),
            )),
        ),
    ]
}

/// Files that are none, in a folder of their own.
#[test]
fn files_that_are_no_studies() {
    let root = std::env::temp_dir().join(format!("payspread-broken-{}", std::process::id()));
    fs::create_dir_all(root.join("folder")).unwrap();
    fs::create_dir_all(root.join("bare")).unwrap();
    let good = fs::read(folder("good").join("first.toml")).unwrap();
    fs::write(root.join("harbour-row.toml"), &good).unwrap();
    fs::write(root.join("folder").join("first.toml"), &good).unwrap();
    fs::write(root.join("large.toml"), " ".repeat(4 * 1024 * 1024 + 1)).unwrap();
    fs::write(root.join("latin.toml"), b"title = \"x\"\nquestion = \"Lohnt es sich f\xfcr uns?\"\n").unwrap();
    fs::write(root.join("utf-16.toml"), b"\xff\xfet\0i\0t\0l\0e\0").unwrap();
    fs::write(root.join("pixels.toml"), (0..=255_u8).cycle().take(5000).collect::<Vec<u8>>()).unwrap();
    let mut differing = Vec::new();
    for (name, file) in [
        ("file-misspelt", "harbor-row.toml"),
        ("file-missing", "something-else.toml"),
        ("file-missing-folder", "nowhere/first.toml"),
        ("file-a-folder", "folder"),
        ("file-a-bare-folder", "bare"),
        ("file-too-large", "large.toml"),
        ("file-latin-1", "latin.toml"),
        ("file-utf-16", "utf-16.toml"),
        ("file-binary", "pixels.toml"),
        ("file-below-a-file", "large.toml/first.toml"),
    ] {
        let begun = Instant::now();
        let Err(error) = load(&root.join(file)) else { panic!("{file} loads") };
        assert!(begun.elapsed() < PATIENCE, "{file}");
        assert!(matches!(error, LoadError::File(_)), "{file}");
        if file == "large.toml/first.toml" {
            // The system's own words.
            continue;
        }
        let shown = error.render(false).replace(&format!("{}", root.display()), "HERE").replace('\\', "/");
        differing.extend(compare(name, &shown));
    }
    assert!(load(&root.join("harbour-row.toml")).is_ok());
    fs::remove_dir_all(&root).unwrap();
    assert!(differing.is_empty(), "{}", differing.join("\n"));
}

#[test]
fn what_is_shown_is_counted_and_ordered() {
    let text = study_with("k1 = 1\nk2 = 2");
    let source = Source { name: "study.toml".to_owned(), text };
    let mut found = errors_of(&source.text);
    found.insert(
        0,
        Diagnostic::caution("late", "a caution at the end").at(source.text.len()..source.text.len(), ""),
    );
    let message = render(&found, &source, false);
    assert!(message.ends_with("\n2 errors, 1 caution\n"), "{message}");
    let places: Vec<usize> = ["k1", "k2", "caution[late]"].iter().map(|w| message.find(w).unwrap()).collect();
    assert!(places.is_sorted(), "{message}");
    assert_eq!(found.iter().filter(|d| d.severity == Severity::Error).count(), 2);
    let coloured = render(&found, &source, true);
    assert!(coloured.contains("\u{1b}["));
}
