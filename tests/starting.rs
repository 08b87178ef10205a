//! Studies made from answers: whatever was answered, they check without a word, run, and know what they do not know.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};

use payspread::analysis::{Answers as Found, Options, appraise};
use payspread::engine::run::Control;
use payspread::model::{InputValue, Model};
use payspread::starting::{Answers, CONSULTANT, QUESTIONS, RESEARCHER, Reply, study_of};
use payspread::study::Beside;
use payspread::{model, sampling::Design};

/// Answers by their flags; whatever is not named has `rest`.
fn answered(given: &[(&str, &str)], rest: &Reply) -> Answers {
    let mut answers = Answers::default();
    for question in &QUESTIONS {
        let typed = given.iter().find(|(flag, _)| *flag == question.flag);
        let reply = typed.map_or_else(|| rest.clone(), |(_, text)| Reply::Typed((*text).to_owned()));
        question.answer(&mut answers, reply).unwrap_or_else(|right| panic!("--{}: {right}", question.flag));
    }
    answers
}

fn checked(text: &str) -> Model {
    let (made, found) = model::read_beside(text, &Beside::study(Path::new("studies/study.toml")));
    assert!(found.is_empty(), "{found:?}\n{text}");
    let (_, model) = made.unwrap();
    assert!(model.cautions.is_empty(), "{:?}\n{text}", model.cautions);
    model
}

fn run(model: &Model, runs: u64) -> Found {
    let wish = &model.sampling;
    let design = Design::new(wish.seed, wish.method, wish.replicates, runs);
    appraise(
        model,
        Options { design, break_even: false, single_runs: false, ..Options::of(model) },
        &Control::default(),
    )
    .unwrap()
}

/// P90 - P10 of the headline, and its base value.
fn spread(text: &str) -> (f64, f64) {
    let model = checked(text);
    let found = run(&model, 512);
    let npv = found.results.iter().find(|r| r.name == "npv").unwrap();
    let at = |p: f64| npv.percentiles.iter().find(|x| x.p == p).unwrap().estimate.value.number().unwrap();
    (at(0.90) - at(0.10), npv.base.number().unwrap())
}

const ALL: [(&str, &str); 20] = [
    ("people", "3"),
    ("heats-shower", "cylinder"),
    ("showers", "0.7"),
    ("shower-length", "medium"),
    ("baths", "2"),
    ("heater", "gas"),
    ("heat-price", "0.112"),
    ("export", "1800 kWh"),
    ("export-price", "0.075"),
    ("seller", "A shop"),
    ("controller", "320"),
    ("electrician", "220"),
    ("element", "0"),
    ("other", "0"),
    ("vat", "21"),
    ("valid-until", "2027-03-31"),
    ("promised-payback", "6"),
    ("promised-saving", "90"),
    ("promised-life", "15"),
    ("warranty", "2"),
];

fn with(changes: &[(&str, &str)], rest: &Reply) -> String {
    let mut given: Vec<(&str, &str)> = ALL.to_vec();
    given.retain(|(flag, _)| !changes.iter().any(|(other, _)| other == flag));
    given.extend(changes.iter().filter(|(_, text)| !text.is_empty()));
    study_of(&answered(&given, rest))
}

#[test]
fn every_class_of_home_makes_a_sound_study() {
    let heaters = ["gas", "oil", "lpg", "off-peak", "day electricity", "heat pump"];
    let showers = ["cylinder", "electric", "both", ""];
    for rest in [Reply::Usual, Reply::Unknown] {
        checked(&study_of(&answered(&[], &rest)));
        for heater in heaters {
            for shower in showers {
                let given: Vec<_> = [("heater", heater), ("heats-shower", shower)]
                    .into_iter()
                    .filter(|g| !g.1.is_empty())
                    .collect();
                let found = run(&checked(&study_of(&answered(&given, &rest))), 256);
                assert!(
                    found.results.iter().all(|r| r.name != "npv" || r.mean.is_some()),
                    "{heater}, {shower}"
                );
            }
        }
    }
}

#[test]
fn odd_answers_are_sound_too() {
    for odd in [
        ("export-price", "0"),
        ("heat-price", "0"),
        ("showers", "0"),
        ("baths", "0"),
        ("people", "1"),
        ("people", "2.5"),
        ("export", "0.5 kWp"),
        ("export", "25 kWp"),
        ("export", "1 kWh"),
        ("controller", "0"),
        ("other", "35.50 without VAT"),
        ("warranty", "30"),
        ("vat", "0"),
        ("controller", "100000 net"),
    ] {
        for rest in [Reply::Usual, Reply::Unknown] {
            let found = run(&checked(&with(&[odd], &rest)), 64);
            assert!(found.results.iter().any(|r| r.name == "npv"), "{odd:?}");
        }
    }
}

#[test]
fn not_knowing_is_wider_than_knowing() {
    let known = spread(&with(&[], &Reply::Usual)).0;
    let usual = spread(&study_of(&answered(&[], &Reply::Usual))).0;
    let unknown = spread(&study_of(&answered(&[], &Reply::Unknown))).0;
    assert!(known < usual && usual < unknown, "{known} {usual} {unknown}");
    for flag in ["heat-price", "export", "export-price"] {
        let without: Vec<_> = ALL.iter().filter(|(name, _)| *name != flag).copied().collect();
        let open = spread(&study_of(&answered(&without, &Reply::Unknown))).0;
        assert!(open > known, "{flag}: {open} is no wider than {known}");
    }
}

/// Width of a drawn input, P90 - P10; nothing where it is known or not there.
fn width(model: &Model, name: &str) -> f64 {
    let input = model.inputs.iter().find(|i| i.about.name == name);
    match input.map(|i| &i.value) {
        Some(InputValue::Drawn(law)) => law.quantile_at(0.90) - law.quantile_at(0.10),
        _ => 0.0,
    }
}

#[test]
fn each_row_is_wider_the_less_is_known() {
    let (known, usual, unknown) = (
        checked(&with(&[], &Reply::Usual)),
        checked(&study_of(&answered(&[], &Reply::Usual))),
        checked(&study_of(&answered(&[], &Reply::Unknown))),
    );
    for name in [
        "people",
        "showers_each",
        "shower_water",
        "baths_a_week",
        "export_now",
        "controller_price",
        "fitting_price",
    ] {
        let widths = [width(&known, name), width(&usual, name), width(&unknown, name)];
        assert!(widths[0] < widths[1] && widths[1] < widths[2], "{name}: {widths:?}");
    }
    assert!(width(&unknown, "from_cylinder") > width(&usual, "from_cylinder"));
    assert!(width(&unknown, "efficiency") > width(&usual, "efficiency"));
    assert!(width(&unknown, "warranty") > 0.0 && width(&unknown, "other_price") > 0.0);
}

#[test]
fn the_base_case_is_that_of_a_sum_by_hand() {
    // 3 people: 3 x 0.7 showers of 29 L, 2 baths of 50.8 L a week, 9.8 x 3 + 14 L besides: 118.8 L a day, 43.37 m3 a year.
    let volume: f64 = 3.0 * 0.7 * 29.0 + 2.0 * 50.8 / 7.0 + 9.8 * 3.0 + 14.0;
    let yearly = volume * 365.0;
    let per = 4.186 / 3600.0;
    let wanted = yearly * per * 32.0 + 1.7 * 365.0 * 24.0 / 45.0;
    let room = 0.65 * (yearly * per * 49.0 + 1.7 * 365.0);
    let offered = 0.8 * 1800.0;
    let taken = offered * room / (offered * offered + room * room).sqrt();
    let covered = (taken * 0.82 / wanted).min(1.0);
    let fuel = covered * (wanted + covered.sqrt() * 0.77 * 365.0) / 0.73;
    let first = fuel * 0.112 - taken * 0.075 - 14.0;
    let text = with(&[], &Reply::Usual);
    let model = checked(&text);
    let rows = model::trace::sheet(&model, model.design());
    let value = |name: &str| rows.iter().find(|r| r.name == name).unwrap().values[0];
    assert!((value("litres") - volume).abs() < 1e-9, "{} {volume}", value("litres"));
    assert!((value("taken") - taken).abs() < 1e-6 && (value("fuel") - fuel).abs() < 1e-6);
    // Prices of the first year stand at its middle or end: within the half per cent that they grow.
    assert!(
        (value("first_year_saving") - first).abs() < 0.05 * first,
        "{} {first}",
        value("first_year_saving")
    );
    assert!((value("outlay") - 540.0 * 1.02).abs() < 1e-9);
}

#[test]
fn vat_is_added_to_the_lines_without_it_and_to_no_other() {
    let outlay = |changes: &[(&str, &str)]| {
        let model = checked(&with(changes, &Reply::Usual));
        let rows = model::trace::sheet(&model, model.design());
        rows.iter().find(|r| r.name == "outlay").unwrap().values[0] / 1.02
    };
    let net = outlay(&[("controller", "300 without VAT"), ("vat", "23")]);
    assert!((net - (300.0 * 1.23 + 220.0)).abs() < 1e-9, "{net}");
    let both =
        outlay(&[("controller", "300 net"), ("electrician", "100 + VAT"), ("other", "50"), ("vat", "10 %")]);
    assert!((both - (300.0 * 1.1 + 100.0 * 1.1 + 50.0)).abs() < 1e-9, "{both}");
    assert!(!with(&[], &Reply::Usual).contains("[inputs.vat]"));
}

#[test]
fn an_electric_shower_takes_nothing_from_the_cylinder() {
    let text = with(&[("heats-shower", "electric")], &Reply::Usual);
    assert!(!text.contains("showers_each") && text.contains("showers do not count"));
    let ((_, less), (_, more)) = (spread(&text), spread(&with(&[], &Reply::Usual)));
    assert!(less < more, "{less} {more}");
}

#[test]
fn what_was_typed_stands_in_the_study() {
    let text = with(
        &[("promised-payback", "5.5 years"), ("export-price", "0,081"), ("warranty", "4")],
        &Reply::Usual,
    );
    for part in [
        "payback           = 5.5",
        "first_year_saving = 90",
        "mode = 0.081",
        "value  = 4",
        "A shop",
        "valid until 2027-03-31",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
}

#[test]
fn hostile_names_are_text() {
    for name in [
        "\"\"\"\n[inputs.x]\nvalue = 1\n",
        "a\\\"b\\",
        "'''",
        "\u{202e}evil\u{0}\u{1b}[31m",
        "<script>=cmd()",
        "# no",
    ] {
        let mut answers = answered(&ALL, &Reply::Usual);
        let seller = QUESTIONS.iter().find(|q| q.flag == "seller").unwrap();
        seller.answer(&mut answers, Reply::Typed(name.to_owned())).unwrap();
        let text = study_of(&answers);
        let model = checked(&text);
        assert!(model.inputs.iter().all(|i| i.about.name != "x"));
        assert!(!text.contains('\u{202e}') && !text.contains('\u{1b}') && !text.contains('\u{0}'));
    }
    let seller = QUESTIONS.iter().find(|q| q.flag == "seller").unwrap();
    assert!(seller.answer(&mut Answers::default(), Reply::Typed("x".repeat(1_000_000))).is_err());
}

#[test]
fn wrong_answers_say_what_would_be_right() {
    for (flag, wrong, right) in [
        ("people", "three", "such as 3"),
        ("people", "0", "from 1 to 12"),
        ("export", "3.6", "unit"),
        ("heat-price", "11.2", "0.112"),
        ("heater", "wood", "gas, oil"),
        ("heats-shower", "", "cylinder"),
        ("controller", "-5", "320"),
        ("valid-until", "soon", "2027-03-31"),
        ("meter", "../meter.csv", "beside"),
        ("meter", "/etc/passwd", "beside"),
        ("vat", "NaN", "such as 21"),
        ("baths", "1e400", "from 0 to 50"),
    ] {
        let question = QUESTIONS.iter().find(|q| q.flag == flag).unwrap();
        let said = question.answer(&mut Answers::default(), Reply::Typed(wrong.to_owned())).unwrap_err();
        assert!(said.contains(right), "{flag} {wrong}: {said}");
    }
}

#[test]
fn there_are_ten_questions_in_order_and_each_knows_usual_and_unknown() {
    let numbers: Vec<u8> = QUESTIONS.iter().map(|q| q.number).collect();
    assert!(numbers.is_sorted() && numbers.first() == Some(&1) && numbers.last() == Some(&10));
    for question in &QUESTIONS {
        let mut answers = Answers::default();
        assert!(question.answer(&mut answers, Reply::Unknown).is_ok() && !question.explain.is_empty());
        assert!(!(question.usual)(&answers).is_empty());
    }
}

#[test]
fn templates_check_run_and_mark_what_is_to_be_filled_in() {
    for (name, text) in [("consultant", CONSULTANT), ("researcher", RESEARCHER)] {
        let model = checked(text);
        assert!(
            model.inputs.iter().filter(|i| i.part_of.is_none()).all(|i| i.about.source.is_some()),
            "{name}"
        );
        assert!(model.paths.iter().all(|p| p.about.source.is_some()), "{name}");
        assert!(text.matches("TO FILL IN").count() > 8, "{name}");
        let found = run(&model, 256);
        assert!(!found.results.is_empty(), "{name}");
    }
    assert!(RESEARCHER.matches("varies   = \"between homes\"").count() >= 4);
}

// ------------------------------------------------------------------------------------------------ the command

struct Folder(PathBuf);

impl Folder {
    fn new() -> Folder {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let name = format!("starting-{}-{}", std::process::id(), NEXT.fetch_add(1, Ordering::Relaxed));
        let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
        fs::create_dir_all(&path).unwrap();
        Folder(path)
    }

    fn new_study(&self, args: &[&str], typed: &str) -> Output {
        let mut child = Command::new(env!("CARGO_BIN_EXE_payspread"))
            .arg("new")
            .args(args)
            .current_dir(&self.0)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // The program may end before it has read all.
        let _ = child.stdin.take().unwrap().write_all(typed.as_bytes());
        child.wait_with_output().unwrap()
    }

    fn has(&self, name: &str) -> bool {
        self.0.join(name).exists()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn lines_on_standard_input_are_answers() {
    let folder = Folder::new();
    // A wrong answer, an explanation and a step back on the way; the electric shower leaves two questions out.
    let typed = "many\n4\n?\nb\n3\nelectric\n1\ngas\n0.12\n1500 kWh\n0.08\n\"Sun\\shine\"\n300 net\n200\n0\n0\n23\n2027-01-31\n6\n\n\n3\n\n";
    let output = folder.new_study(&[], typed);
    let errors = said(&output);
    assert!(output.status.success(), "{errors}");
    assert!(
        errors.contains("Not understood")
            && errors.contains("10 of 10")
            && errors.contains("box on the wall"),
        "{errors}"
    );
    assert!(!errors.contains("3 of 10"), "{errors}");
    let text = fs::read_to_string(folder.0.join("study.toml")).unwrap();
    let model = checked(&text);
    assert!(!model.sampling.dimensions.is_empty(), "pinned");
    for part in ["value  = 3", "controller_price * (1 + vat)", "payback           = 6", "Sun\\\\shine"] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let by_flags = folder.new_study(
        &[
            "--out",
            "-",
            "--people",
            "3",
            "--heats-shower",
            "electric",
            "--baths",
            "1",
            "--heater",
            "gas",
            "--heat-price",
            "0.12",
            "--export",
            "1500 kWh",
            "--export-price",
            "0.08",
            "--seller",
            "\"Sun\\shine\"",
            "--controller",
            "300 net",
            "--electrician",
            "200",
            "--element",
            "0",
            "--other",
            "0",
            "--vat",
            "23",
            "--valid-until",
            "2027-01-31",
            "--promised-payback",
            "6",
            "--warranty",
            "3",
            "--rest",
            "usual",
        ],
        "",
    );
    assert_eq!(String::from_utf8(by_flags.stdout.clone()).unwrap(), text, "{}", said(&by_flags));
}

#[test]
fn answers_that_end_early_write_nothing() {
    let folder = Folder::new();
    let output = folder.new_study(&["--out", "home.toml"], "3\n\n");
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("question 3") && said(&output).contains("--rest"), "{}", said(&output));
    assert!(!folder.has("home.toml"));
}

#[test]
fn an_existing_file_is_left_as_it_is() {
    let folder = Folder::new();
    fs::write(folder.0.join("study.toml"), "mine").unwrap();
    for args in [&["--rest", "usual"][..], &["--for", "consultant"], &[]] {
        let output = folder.new_study(args, "");
        assert_eq!(output.status.code(), Some(2));
        assert!(said(&output).contains("study-2.toml"), "{}", said(&output));
    }
    assert_eq!(fs::read_to_string(folder.0.join("study.toml")).unwrap(), "mine");
}

#[test]
fn templates_are_written_whole() {
    let folder = Folder::new();
    for user in ["consultant", "researcher"] {
        let output = folder.new_study(&["--for", user, "--out", user], "");
        assert!(output.status.success(), "{}", said(&output));
        checked(&fs::read_to_string(folder.0.join(user)).unwrap());
    }
    let output = folder.new_study(&["--for", "consultant", "--people", "3", "--out", "x.toml"], "");
    assert_eq!((output.status.code(), folder.has("x.toml")), (Some(2), false));
}

#[test]
fn meter_readings_take_the_place_of_the_panels_size() {
    let folder = Folder::new();
    fs::copy("studies/data/guest-house-meter.csv", folder.0.join("meter.csv")).unwrap();
    let output = folder.new_study(&["--meter", "meter.csv", "--rest", "usual", "--runs"], "");
    assert_eq!(output.status.code(), Some(2), "no such flag");
    let output = folder.new_study(&["--meter", "missing.csv", "--rest", "usual"], "");
    assert_eq!((output.status.code(), folder.has("study.toml")), (Some(2), false), "{}", said(&output));
    for (heater, file) in [("gas", "a.toml"), ("off-peak", "b.toml"), ("heat-pump", "c.toml")] {
        let output = folder
            .new_study(&["--meter", "meter.csv", "--heater", heater, "--rest", "unknown", "--out", file], "");
        assert!(output.status.success(), "{}", said(&output));
        let path = folder.0.join(file);
        let text = fs::read_to_string(&path).unwrap();
        assert!(!text.contains("export_now") && text.contains("readings"), "{text}");
        let (made, found) = model::read_beside(&text, &Beside::study(&path));
        assert!(found.is_empty(), "{found:?}");
        let model = made.unwrap().1;
        let found = run(&model, 64);
        assert_eq!(found.homes.len(), 1);
    }
}

#[test]
fn wrong_flags_say_what_would_be_right() {
    let folder = Folder::new();
    let output = folder.new_study(&["--people", "many", "--rest", "usual"], "");
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("--people many") && said(&output).contains("such as 3"),
        "{}",
        said(&output)
    );
    assert!(!folder.has("study.toml"));
}
