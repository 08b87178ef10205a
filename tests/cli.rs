//! The binary from outside, through one builder: exact standard output,
//! standard error, exit status and files.

#![allow(clippy::unwrap_used, reason = "a test that cannot read its own files has failed")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use payspread::analysis::{Options, appraise};
use payspread::engine::run::Control;
use payspread::{model, report, study};

/// Three years, nothing uncertain but the price: figures by hand stand beside the tests.
const SMALL: &str = r#"title      = "A bicycle instead of the bus"
question   = "Is it paid for in three years?"
currency   = "EUR"
prices     = "real"
first_year = 2027
years      = 3

[sampling]
runs = 64
seed = 7

[inputs.price]
label   = "Price of the bicycle"
unit    = "EUR"
uniform = { min = 80, max = 120 }
source  = "Two offers"

[inputs.fares]
label = "Bus fares in a year"
unit  = "EUR"
value = 40

[workings.saved]
unit    = "EUR"
formula = "years(fares, fares, fares)"

[results.gain]
unit     = "EUR"
formula  = "sum_years(saved) - price"
at_least = 0

[results.payback]
unit    = "yr"
formula = "payback(price, saved)"
"#;

/// A folder of its own under the build's folder, gone at the end.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Folder {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let name = format!("cli-{}-{}", std::process::id(), NEXT.fetch_add(1, Ordering::Relaxed));
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        fs::create_dir_all(&path).unwrap();
        Folder(path)
    }

    fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        let path = self.0.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    /// Every file below `under` by name, with its bytes.
    fn files(&self, under: &str) -> BTreeMap<String, Vec<u8>> {
        let Ok(entries) = fs::read_dir(self.0.join(under)) else { return BTreeMap::new() };
        let read =
            |entry: fs::DirEntry| (entry.file_name().into_string().unwrap(), fs::read(entry.path()).unwrap());
        entries.map(|entry| read(entry.unwrap())).collect()
    }

    fn names(&self, under: &str) -> Vec<String> {
        self.files(under).into_keys().collect()
    }

    fn try_with<'f>(&'f self, args: &[&str]) -> Try<'f> {
        let mut command = Command::new(env!("CARGO_BIN_EXE_payspread"));
        command.args(args).current_dir(&self.0).stdin(Stdio::null());
        for variable in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE"] {
            command.env_remove(variable);
        }
        Try { command, stdout: None, stderr: Some(String::new()), status: 0, folder: self }
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// One call of the binary and what is expected of it: silence on standard
/// error and status 0 unless said otherwise.
#[must_use]
struct Try<'f> {
    command: Command,
    stdout: Option<String>,
    stderr: Option<String>,
    status: i32,
    folder: &'f Folder,
}

/// With the small study in its folder.
fn small() -> Folder {
    let folder = Folder::new();
    folder.write("small.toml", SMALL);
    folder
}

impl Try<'_> {
    fn stdout(mut self, text: &str) -> Self {
        self.stdout = Some(text.to_owned());
        self
    }

    fn stderr(mut self, text: &str) -> Self {
        self.stderr = Some(text.to_owned());
        self
    }

    fn any_stderr(mut self) -> Self {
        self.stderr = None;
        self
    }

    fn status(mut self, status: i32) -> Self {
        self.status = status;
        self
    }

    fn env(mut self, key: &str, value: &str) -> Self {
        self.command.env(key, value);
        self
    }

    fn run(mut self) -> (String, String) {
        let Output { status, stdout, stderr } = self.command.output().unwrap();
        let (stdout, stderr) = (String::from_utf8(stdout).unwrap(), String::from_utf8(stderr).unwrap());
        let told = format!("{:?}\n--- stdout\n{stdout}\n--- stderr\n{stderr}", self.command);
        if let Some(expected) = &self.stdout {
            assert_eq!(&stdout, expected, "{told}");
        }
        if let Some(expected) = &self.stderr {
            assert_eq!(&stderr, expected, "{told}");
        }
        assert_eq!(status.code(), Some(self.status), "{told}");
        (stdout, stderr)
    }

    fn spawn(mut self) -> Child {
        let _ = self.folder;
        self.command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    }
}

// What is printed.

#[test]
fn check_sums_up() {
    let text = "A bicycle instead of the bus
In order: 2 inputs (1 known, 1 drawn, 0 choices), 0 price paths, 1 working, 2 results.
Sampling: 64 runs, method sobol, seed 7.
Without a source: fares.
No cautions.
";
    let folder = small();
    folder.try_with(&["check", "small.toml"]).stdout(text).run();
    folder.try_with(&["--quiet", "check", "small.toml"]).stdout("").run();
    assert_eq!(folder.names(""), ["small.toml"], "nothing is written");
}

#[test]
fn inputs_in_rows() {
    // Uniform from 80 to 120: P10 84, P50 and mean 100, P90 116; all classes of the histogram alike.
    let text = "A bicycle instead of the bus

                                                          10 %    half    90 %
Input                            Unit             base   below   below   below    mean  spread
Price of the bicycle             EUR               100      84     100     116     100  ############
    price: uniform between 80 and 120. Source: Two offers
Bus fares in a year              EUR                40                                  known
    fares: known. No source.

Figures are those of the distributions themselves; 10 % of what is drawn lies below the first of the
three. 1 row has no source.
";
    let folder = small();
    let ascii = [("LC_ALL", "C")];
    let of = |args: &[&str]| ascii.iter().fold(folder.try_with(args), |t, (key, value)| t.env(key, value));
    of(&["inputs", "small.toml"]).stdout(text).run();
    let blocks = text.replace("############", "████████████");
    folder.try_with(&["inputs", "small.toml"]).env("LC_ALL", "de_DE.UTF-8").stdout(&blocks).run();
    let (narrow, _) = of(&["inputs", "small.toml", "--width", "72"]).run();
    assert!(narrow.lines().all(|line| line.len() <= 72) && narrow.contains("Bus fares in a"), "{narrow}");
    let (json, _) = of(&["inputs", "small.toml", "--format", "json"]).run();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["inputs"][0]["name"], "price");
    assert_eq!(json["inputs"][0]["sort"], "drawn");
    assert!((json["inputs"][0]["percentiles"][0].as_f64().unwrap() - 84.0).abs() < 1e-9);
    assert_eq!(json["inputs"][1]["base"][0], 40.0);
    assert_eq!(json["inputs"][1]["source"], serde_json::Value::Null);
    let (_, told) = of(&["inputs", "small.toml", "--width", "20"]).any_stderr().status(2).run();
    assert!(told.contains("it must lie from 72 to 400"), "{told}");
    assert_eq!(folder.names(""), ["small.toml"], "nothing is written");
}

/// `check` shows cautions as it shows errors; `run` and `trace` in a line each beside the answer.
#[test]
fn cautions_are_told() {
    let folder = small();
    let doubtful =
        SMALL.replace("uniform = { min = 80, max = 120 }", "uniform = { min = 80, max = 120 }\nbase = 70");
    fs::write(folder.0.join("doubtful.toml"), doubtful).unwrap();
    let (shown, _) = folder.try_with(&["check", "doubtful.toml"]).run();
    let head = "caution[base-outside]: the base 70 lies outside what can be drawn";
    assert!(shown.starts_with(head) && shown.contains("--> doubtful.toml:16:8"), "{shown}");
    assert!(shown.ends_with("1 caution, shown above.\n"), "{shown}");

    let line = "doubtful.toml:16:8: caution: the base 70 lies outside what can be drawn\n";
    folder.try_with(&["trace", "doubtful.toml", "saved"]).stderr(line).run();
    folder.try_with(&["run", "doubtful.toml"]).stderr(line).run();
    folder.try_with(&["--quiet", "run", "doubtful.toml"]).stdout("").stderr("").run();
}

/// 3 x 40 - 100 = 20; 100 / 40 = 2.5 years.
#[test]
fn trace_of_the_base_case() {
    let gain = "A bicycle instead of the bus
Base case

gain = 20 EUR
    sum_years(saved) - price
  saved, EUR, by year
      years(fares, fares, fares)
      every year: 40
    fares = 40 EUR  (Bus fares in a year)
        known
  price = 100 EUR  (Price of the bicycle)
      drawn: uniform
      source: Two offers
";
    let payback = "A bicycle instead of the bus
Base case

payback = 2.5 years
    payback(price, saved)
  price = 100 EUR  (Price of the bicycle)
      drawn: uniform
      source: Two offers
  saved, EUR, by year
      years(fares, fares, fares)
      every year: 40
    fares = 40 EUR  (Bus fares in a year)
        known
";
    let folder = small();
    folder.try_with(&["trace", "small.toml", "gain"]).stdout(gain).run();
    folder.try_with(&["trace", "small.toml", "payback"]).stdout(payback).run();
}

/// In any run the gain is 120 less the price of that run.
#[test]
fn trace_of_a_run() {
    let folder = small();
    for run in ["0", "63"] {
        let (text, _) = folder.try_with(&["trace", "small.toml", "gain", "--run", run]).run();
        let heading = format!("Run {run} of 0 to 63 (method sobol, seed 7)");
        assert_eq!(text.lines().nth(1), Some(heading.as_str()), "{text}");
        let figure = |name: &str| -> f64 {
            let line = text.lines().find_map(|line| line.trim_start().strip_prefix(name)).unwrap();
            line.split_whitespace().nth(1).unwrap().parse().unwrap()
        };
        assert!((80.0..=120.0).contains(&figure("price")), "{text}");
        // Both are shown to six digits.
        assert!((120.0 - figure("price") - figure("gain")).abs() < 1e-3, "{text}");
    }
    let other = folder.try_with(&["trace", "small.toml", "gain", "--run", "0", "--seed", "8"]).run().0;
    assert!(other.contains("(method sobol, seed 8)"));
    assert_ne!(other, folder.try_with(&["trace", "small.toml", "gain", "--run", "0"]).run().0);
}

#[test]
fn run_prints_the_answer_and_writes_the_files() {
    let folder = small();
    let (source, study) = study::load(&folder.0.join("small.toml")).unwrap();
    let model = model::check(&study).0.unwrap();
    let answers = appraise(&model, Options::of(&model), &Control::default()).unwrap();
    let text = format!("{}Charts and tables: output/small\n", report::terminal::text(&answers));
    folder.try_with(&["run", "small.toml"]).stdout(&text).run();

    let files = folder.files("output/small");
    let names: Vec<&str> = files.keys().map(String::as_str).collect();
    for name in ["answers.json", "manifest.json", "results.csv", "result.png", "result.svg", "tornado.png"] {
        assert!(names.contains(&name), "{name} is not among {names:?}");
    }
    assert!(names.iter().all(|name| !name.contains("partial")), "{names:?}");
    assert!(files["result.png"].starts_with(b"\x89PNG"));
    let svg = String::from_utf8(files["result.svg"].clone()).unwrap();
    assert!(svg.starts_with("<svg") && svg.contains("@font-face"), "the typeface is inside");

    let manifest: serde_json::Value = serde_json::from_slice(&files["manifest.json"]).unwrap();
    assert_eq!(manifest["study"]["file"], "small.toml");
    assert_eq!(manifest["study"]["sha256"], report::manifest::sha256(source.text.as_bytes()));
    let listed: BTreeMap<String, String> = manifest["files"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| (f["file"].as_str().unwrap().to_owned(), f["sha256"].as_str().unwrap().to_owned()))
        .collect();
    let expected: BTreeMap<String, String> = files
        .iter()
        .filter(|(name, _)| *name != "manifest.json" && *name != "small.toml")
        .map(|(name, bytes)| (name.clone(), report::manifest::sha256(bytes)))
        .collect();
    assert_eq!(listed, expected, "every file and its hash");
    assert_eq!(files["small.toml"], source.text.as_bytes(), "the study lies beside them");
    let made = serde_json::json!({"kinds": ["charts", "tables", "answers"], "all": false, "runs": null, "seed": null});
    assert_eq!(manifest["made"], made);
}

#[test]
fn json_is_the_answers_alone() {
    let folder = small();
    let (text, _) = folder.try_with(&["run", "small.toml", "--format", "json"]).run();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(json["format"], 2);
    assert_eq!(json["results"][0]["base"], 20.0);
    assert_eq!(json["results"][1]["base"], 2.5);
    assert_eq!(json["sampling"]["seed"], 7);
    assert_eq!(folder.names(""), ["small.toml"], "no files unless asked for");

    let args = ["run", "small.toml", "--format", "json", "--out", "here/and/there"];
    folder.try_with(&args).stdout(&text).run();
    assert_eq!(folder.files("here/and/there")["answers.json"], text.as_bytes());
}

#[test]
fn quiet_is_quiet() {
    let folder = small();
    folder.try_with(&["run", "small.toml", "-q", "--runs", "65"]).stdout("").run();
    assert!(folder.names("output/small").contains(&"manifest.json".to_owned()));
    let told = "error: with --quiet and --format json nothing would come of the run
hint: leave out --quiet, or give a folder for the files: --out DIR
";
    folder.try_with(&["run", "small.toml", "-q", "--format", "json"]).status(2).stdout("").stderr(told).run();
}

#[test]
fn rounded_runs_are_said() {
    let folder = small();
    let note = "note: 128 runs instead of the 65 asked for: Sobol points need a power of two in each replicate \
                (replicates: 8)\n";
    let (told, _) = folder.try_with(&["run", "small.toml", "--runs", "65"]).stderr(note).run();
    assert!(told.contains("128 runs (65 asked for; made in powers of two), method sobol, seed 7."), "{told}");
    let table = folder.files("output/small").remove("results.csv").unwrap();
    assert!(String::from_utf8(table).unwrap().contains("runs asked for,1,65,,"));
    let latin = SMALL.replace("seed = 7", "seed = 7\nmethod = \"latin hypercube\"");
    folder.write("latin.toml", latin);
    let note =
        "note: 1,008 runs instead of the 1,001 asked for: all replicates hold equally many (replicates: 8)\n";
    folder.try_with(&["run", "latin.toml", "--runs", "1_001"]).stderr(note).run();
    folder.write("random.toml", SMALL.replace("seed = 7", "seed = 7\nmethod = \"random\""));
    folder.try_with(&["run", "random.toml", "--runs", "1001"]).stderr("").run();
}

#[test]
fn timings_name_the_steps() {
    let folder = small();
    let (_, told) = folder.try_with(&["run", "small.toml", "--quiet", "--timings"]).any_stderr().run();
    let steps: Vec<&str> = told.lines().map(|line| line.get(..32).unwrap().trim_end()).collect();
    assert_eq!(steps, ["read", "check", "draw, evaluate, analyse", "draw charts", "write", "all"]);
    assert!(told.lines().all(|line| line.ends_with(" ms")), "{told}");
}

#[test]
fn seed_and_runs_take_the_place_of_the_study_s_own() {
    let folder = small();
    let json = |args: &[&str]| -> serde_json::Value {
        let mut all = vec!["run", "small.toml", "--format", "json"];
        all.extend(args);
        serde_json::from_str(&folder.try_with(&all).run().0).unwrap()
    };
    let (own, other) = (json(&[]), json(&["--seed", "8", "--runs", "256"]));
    assert_eq!((&own["sampling"]["seed"], &own["sampling"]["runs"]), (&7.into(), &64.into()));
    assert_eq!((&other["sampling"]["seed"], &other["sampling"]["runs"]), (&8.into(), &256.into()));
    assert_ne!(own["results"][0]["percentiles"], other["results"][0]["percentiles"]);
}

#[test]
fn reference_pages() {
    let folder = Folder::new();
    let (functions, _) = folder.try_with(&["reference", "functions"]).run();
    for family in &payspread::formula::functions::TABLE {
        for function in family.functions {
            assert!(functions.contains(function.signature), "{}", function.signature);
        }
    }
    let (units, _) = folder.try_with(&["reference", "units"]).run();
    assert!(units.lines().any(|line| line.starts_with("kWh ")), "{units}");
    let (distributions, _) = folder.try_with(&["reference", "distributions"]).run();
    for kind in payspread::sampling::distributions::catalogue::KINDS {
        assert!(distributions.contains(&format!("\n    example: {}\n", kind.example)), "{}", kind.name);
    }
    let (processes, _) = folder.try_with(&["reference", "processes"]).run();
    for kind in &study::processes::PROCESSES {
        let entry = format!("process = \"{}\"\n    {}\n", kind.word, kind.summary);
        assert!(processes.contains(&entry), "{}", kind.word);
        assert!(kind.needs.iter().all(|(_, example)| processes.contains(&format!("    needs: {example}\n"))));
    }
    for key in ["scale", "to", "add", "at_most", "at_least", "chance", "money", "inflation", "instantaneous"]
    {
        assert!(processes.contains(key), "{key}");
    }
}

#[test]
fn the_program_is_listed() {
    let folder = small();
    let (text, _) = folder.try_with(&["debug", "program", "small.toml"]).run();
    assert!(text.contains("\n  leaf 0    price\n"), "{text}");
    assert!(text.contains("runs in a block\n") && text.contains("stage 0:\n  r"), "{text}");
    assert!(text.contains("\n  gain in ") && text.contains("\n  payback in "), "{text}");
}

#[test]
fn help_without_a_command() {
    let folder = Folder::new();
    let (help, _) = folder.try_with(&[]).run();
    for words in ["Usage: payspread", "run", "check", "trace", "reference", "Exit status:"] {
        assert!(help.contains(words), "{words}");
    }
    assert!(!help.contains("debug"), "hidden");
    let version = concat!("payspread ", env!("CARGO_PKG_VERSION"), "\n");
    folder.try_with(&["--version"]).stdout(version).run();
}

// The same bytes.

#[test]
fn threads_change_no_byte() {
    let folder = Folder::new();
    let study = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/first-look.toml");
    let study = study.to_str().unwrap();
    for threads in ["1", "2", "7"] {
        folder
            .try_with(&["run", study, "-q", "--runs", "16384", "--threads", threads, "--out", threads])
            .run();
    }
    let one = folder.files("1");
    assert!(one.len() > 10);
    assert!(one == folder.files("2") && one == folder.files("7"));
}

// What is wrong.

#[test]
fn missing_file() {
    let told = "error[no-file]: there is no file smal.toml
 |
 = hint: did you mean small.toml?

1 error
";
    let folder = small();
    for command in ["run", "check"] {
        folder.try_with(&[command, "smal.toml"]).status(1).stdout("").stderr(told).run();
    }
    folder.try_with(&["trace", "smal.toml", "gain"]).status(1).stdout("").stderr(told).run();
    assert_eq!(folder.names(""), ["small.toml"], "no folder for what cannot run");
}

#[test]
fn folder_in_place_of_a_file() {
    let folder = Folder::new();
    folder.write("studies/small.toml", SMALL);
    let told = "error[no-file]: studies is a folder, not a study
 |
 = hint: in that folder: studies/small.toml

1 error
";
    folder.try_with(&["run", "studies"]).status(1).stdout("").stderr(told).run();
}

#[test]
fn wrong_study() {
    let folder = Folder::new();
    folder.write("wrong.toml", SMALL.replace("- price", "- prise").replace("payback(price", "payback(1"));
    let (_, told) = folder.try_with(&["run", "wrong.toml"]).status(1).stdout("").any_stderr().run();
    assert!(told.contains("`prise`") && told.contains("did you mean `price`?"), "{told}");
    assert!(told.contains("wrong.toml:29:32"), "{told}");
    assert!(told.ends_with("\n2 errors\n"), "both are told: {told}");
    let quiet = folder.try_with(&["check", "wrong.toml", "--quiet"]).status(1).any_stderr().run().1;
    assert_eq!(quiet, told, "errors are told even so");
    assert_eq!(folder.names("output"), [""; 0]);
}

#[test]
fn unknown_names_of_a_trace() {
    let folder = small();
    let near = "error: the study has no `gian`\nhint: did you mean `gain`?\n";
    folder.try_with(&["trace", "small.toml", "gian"]).status(2).stdout("").stderr(near).run();
    let far = "error: the study has no `helicopter`\nhint: its results are gain, payback\n";
    folder.try_with(&["trace", "small.toml", "helicopter"]).status(2).stdout("").stderr(far).run();
    let run = "error: there is no run 64\nhint: runs are counted from 0 to 63\n";
    folder.try_with(&["trace", "small.toml", "gain", "--run", "64"]).status(2).stdout("").stderr(run).run();
    folder.try_with(&["trace", "small.toml", "gain", "--run", "64", "--runs", "128"]).run();
}

#[test]
fn numbers_out_of_range() {
    let folder = small();
    let runs = "it must lie from 1 to 10,000,000,000";
    let whole = "a whole number from 1 to 10,000,000,000 is wanted, such as 20000";
    let threads = "it must lie from 1 to 1,024";
    let cases = [
        ("--runs", "0", runs),
        ("--runs", "1000000000000", runs),
        ("--runs", "99999999999999999999999999", runs),
        ("--runs", "-5", whole),
        ("--runs", "1e6", whole),
        ("--threads", "0", threads),
        ("--threads", "1025", threads),
        ("--threads", "1000000000000", threads),
        ("--seed", "-1", "a whole number from 0 to 18,446,744,073,709,551,615 is wanted, such as 4711"),
        ("--seed", "18446744073709551616", "it must lie from 0 to 18,446,744,073,709,551,615"),
    ];
    for (option, value, what) in cases {
        let told = format!(
            "error: invalid value '{value}' for '{option} <N>': {what}\n\nFor more information, try '--help'.\n"
        );
        folder.try_with(&["run", "small.toml", option, value]).status(2).stdout("").stderr(&told).run();
    }
    assert_eq!(folder.names(""), ["small.toml"]);
}

#[test]
fn wrong_usage() {
    let folder = small();
    let cases: [&[&str]; 6] = [
        &["rum", "small.toml"],
        &["run"],
        &["run", "small.toml", "--fast"],
        &["run", "small.toml", "--format", "xml"],
        &["reference", "colours"],
        &["check", "small.toml", "another.toml"],
    ];
    for args in cases {
        let (_, told) = folder.try_with(args).status(2).stdout("").any_stderr().run();
        assert!(told.starts_with("error: ") && told.contains("--help"), "{told}");
    }
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_is_told_before_the_work() {
    let folder = small();
    folder.write("taken", "a file");
    let begun = Instant::now();
    let reason = std::io::Error::from_raw_os_error(20); // not a directory
    let told = format!("error: cannot make the folder taken/out: {reason}\n");
    // So many runs would take hours.
    let args = ["run", "small.toml", "--runs", "8589934592", "--out", "taken/out"];
    folder.try_with(&args).status(3).stdout("").stderr(&told).run();
    assert!(begun.elapsed() < Duration::from_secs(10));
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told() {
    let folder = small();
    let full = || fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let mut trying = folder.try_with(&["check", "small.toml"]);
    let Output { status, stderr, .. } = trying.command.stdout(full()).output().unwrap();
    let reason = std::io::Error::from_raw_os_error(28); // no space left
    assert_eq!(String::from_utf8(stderr).unwrap(), format!("error: cannot write the answer: {reason}\n"));
    assert_eq!(status.code(), Some(3));
}

#[test]
fn a_closed_pipe_is_no_error() {
    let folder = small();
    for args in [&["reference", "functions"][..], &["run", "small.toml"], &["--help"], &[]] {
        let mut child = folder.try_with(args).spawn();
        drop(child.stdout.take());
        let Output { status, stderr, .. } = child.wait_with_output().unwrap();
        assert_eq!((status.code(), String::from_utf8(stderr).unwrap().as_str()), (Some(0), ""), "{args:?}");
    }
    assert!(
        folder.names("output/small").contains(&"manifest.json".to_owned()),
        "the files are written all the same"
    );
}

// Files of an earlier answer.

#[test]
fn an_earlier_answer_is_replaced() {
    let folder = Folder::new();
    let lever = "\n[[break_even]]\nof = \"price\"\nresult = \"gain\"\n";
    folder.write("small.toml", format!("{SMALL}{lever}"));
    folder.try_with(&["run", "small.toml", "-q"]).run();
    let before = folder.names("output/small");
    assert!(before.contains(&"break_even.csv".to_owned()), "{before:?}");
    folder.write("output/small/notes.txt", "mine");
    folder.write("output/small/break-even.svg", "redrawn by hand");

    // Without a threshold nothing can flip.
    folder.write("small.toml", SMALL.replace("at_least = 0\n", ""));
    folder.try_with(&["run", "small.toml", "-q"]).run();
    let after = folder.names("output/small");
    assert!(!after.contains(&"break_even.csv".to_owned()), "of another answer: {after:?}");
    assert!(after.contains(&"notes.txt".to_owned()), "not ours");
    assert!(after.contains(&"break-even.svg".to_owned()), "changed since");
    let manifest = String::from_utf8(folder.files("output/small")["manifest.json"].clone()).unwrap();
    assert!(!manifest.contains("break"), "{manifest}");
}

// What a terminal is shown.

#[test]
fn colours_only_where_they_are_wanted() {
    let folder = Folder::new();
    let plain = folder.try_with(&["run", "no.toml"]).status(1).any_stderr().run().1;
    assert!(!plain.contains('\u{1b}'));
    let forced =
        folder.try_with(&["run", "no.toml"]).env("CLICOLOR_FORCE", "1").status(1).any_stderr().run().1;
    assert!(forced.contains("\u{1b}["));
    let refused = folder.try_with(&["run", "no.toml"]).env("NO_COLOR", "1").status(1).any_stderr().run().1;
    assert_eq!(refused, plain);
}

#[test]
fn no_text_of_the_user_steers_the_terminal() {
    let folder = Folder::new();
    let steer = SMALL
        .replace("A bicycle", "A \\u001b[31mbicycle")
        .replace("Price of", "\\u009b2JPrice \\u202e of")
        .replace("Two offers", "Two \\u0007 offers");
    folder.write("steer.toml", &steer);
    let name = "no\u{1b}[2J.toml";
    let all: [&[&str]; 7] = [
        &["run", "steer.toml"],
        &["check", "steer.toml"],
        &["trace", "steer.toml", "gain"],
        &["run", name],
        &["trace", "steer.toml", name],
        &[name],
        &["run", "steer.toml", "--runs", name],
    ];
    for args in all {
        let mut trying = folder.try_with(args);
        let Output { stdout, stderr, .. } = trying.command.env("CLICOLOR_FORCE", "1").output().unwrap();
        let shown = String::from_utf8(stdout).unwrap() + &String::from_utf8(stderr).unwrap();
        // Colours of our own are all that may be there.
        let colours =
            |rest: &str| rest.split('m').next().unwrap().bytes().all(|b| b.is_ascii_digit() || b == b';');
        for rest in shown.split('\u{1b}').skip(1) {
            assert!(rest.starts_with('[') && colours(&rest[1..]) && !rest.starts_with("[31m"), "{shown:?}");
        }
        let bad = |c: char| c.is_control() && c != '\n' && c != '\u{1b}' || c == '\u{202e}';
        assert!(!shown.contains(bad), "{shown:?}");
    }
}

#[cfg(unix)]
#[test]
fn ctrl_c_stops_the_runs() {
    let folder = Folder::new();
    let study = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/harbour-row.toml");
    let args = ["run", study.to_str().unwrap(), "--threads", "1", "--runs", "1048576", "--out", "out"];
    let mut child = folder.try_with(&args).spawn();
    // The folder is there before the runs begin.
    let begun = Instant::now();
    while !folder.0.join("out").is_dir() && begun.elapsed() < Duration::from_secs(30) {
        std::thread::sleep(Duration::from_millis(10));
    }
    std::thread::sleep(Duration::from_millis(300));
    assert!(child.try_wait().unwrap().is_none(), "still running");
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let Output { status, stdout, stderr } = child.wait_with_output().unwrap();
    let said = (String::from_utf8(stdout).unwrap(), String::from_utf8(stderr).unwrap());
    assert_eq!((status.code(), said), (Some(130), (String::new(), "stopped\n".into())));
    assert_eq!(folder.names("out"), [""; 0], "no half of an answer");
}

// Pins.

/// Same answers before and after, whatever the file looks like; all else in it stays as it is.
#[test]
fn pins_are_written_and_change_no_answer() {
    let folder = Folder::new();
    let two = SMALL.replace("value = 40", "uniform = { min = 30, max = 50 }");
    let head = "[sampling]\nruns = 64\nseed = 7\n";
    let list = "dimensions = [\"price\", \"fares\"]";
    let cases = [
        ("plain", two.clone(), two.replace("seed = 7\n", &format!("seed = 7\n{list}\n"))),
        ("dotted", two.replace(head, "sampling.runs = 64 # few\nsampling.seed = 7\n"), String::new()),
        ("without", two.replace(head, "") + "# the end\n", String::new()),
        (
            "inline",
            two.replace(head, "sampling = { runs = 64, seed = 7 }\n"),
            two.replace(head, &format!("sampling = {{ runs = 64, seed = 7, {list} }}\n")),
        ),
        (
            "begun",
            two.replace("seed = 7\n", "seed = 7\ndimensions = [ # kept\n    \"price\", # first\n]\n"),
            two.replace(
                "seed = 7\n",
                "seed = 7\ndimensions = [ # kept\n    \"price\",\n    \"fares\", # first\n]\n",
            ),
        ),
        (
            "windows",
            two.replace('\n', "\r\n"),
            two.replace("seed = 7\n", &format!("seed = 7\n{list}\n")).replace('\n', "\r\n"),
        ),
        ("marked", format!("\u{feff}{two}"), String::new()),
    ];
    for (name, text, expected) in cases {
        let file = format!("{name}.toml");
        folder.write(&file, &text);
        let run = ["run", &file, "--format", "json"];
        let (before, _) = folder.try_with(&run).run();
        let (told, _) = folder.try_with(&["check", &file, "--pin"]).run();
        let new = if name == "begun" { 1 } else { 2 };
        assert!(
            told.ends_with(&format!("Pinned in {file}: 2 lines of `dimensions`, {new} of them new.\n")),
            "{told}"
        );
        let pinned = fs::read_to_string(folder.0.join(&file)).unwrap();
        println!("{name}\n{pinned}");
        let kept = text.lines().all(|line| pinned.contains(line) || line.contains("sampling = {"));
        assert!(name == "begun" || kept, "{name}: {pinned}");
        if !expected.is_empty() {
            assert_eq!(pinned, expected, "{name}");
        }
        assert_eq!(folder.try_with(&run).run().0, before, "{name}");
        let (again, _) = folder.try_with(&["check", &file, "--pin"]).run();
        assert!(
            again.ends_with("Nothing to pin: all that is drawn stands in the 2 lines of `dimensions`.\n")
        );
        assert_eq!(fs::read_to_string(folder.0.join(&file)).unwrap(), pinned, "{name}");
    }
    assert!(folder.names("").iter().all(|name| !name.contains("partial")));
}

#[test]
fn pins_that_cannot_be() {
    let folder = small();
    folder.write("latin.toml", SMALL.replace("seed = 7", "seed = 7\nmethod = \"latin hypercube\""));
    let (told, _) = folder.try_with(&["check", "latin.toml", "--pin"]).run();
    assert!(told.ends_with("Nothing to pin: only Sobol points have dimensions.\n"), "{told}");
    let path = folder.0.join("small.toml");
    let mut permissions = fs::metadata(&path).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(&path, permissions).unwrap();
    let error = "error: cannot write small.toml: it is read-only\n";
    folder.try_with(&["check", "small.toml", "--pin"]).status(3).stderr(error).run();
    assert_eq!(fs::read_to_string(&path).unwrap(), SMALL);
}
