//! The workbook as other programs read it: live formulas for what the study computes, text that stays text, and every
//! base value where a reader looks for it.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};

use calamine::{Data, Reader, Xlsx};
use payspread::analysis::{Answers, Options, appraise};
use payspread::engine::run::Control;
use payspread::model::trace::sheet;
use payspread::report::material::Material;
use payspread::report::workbook::{layout, workbook};
use payspread::sampling::Design;
use payspread::{chart, model, study};

fn made(text: &str, beside: &Path) -> (Vec<u8>, Answers) {
    let model = model::read_beside(text, &study::Beside::study(beside)).0.unwrap().1;
    let wish = &model.sampling;
    let design = Design::new(wish.seed, wish.method, wish.replicates, 64);
    let options = Options { design, until: None, ..Options::of(&model) };
    let answers = appraise(&model, options, &Control::default()).unwrap();
    let charts = chart::charts(&answers).unwrap();
    let rows = sheet(&model, model.design());
    let material = Material {
        answers: &answers,
        model: &model,
        sheet: &rows,
        charts: &charts,
        small: &[],
        study_file: "study.toml",
        study_text: text,
    };
    (workbook(&material).unwrap(), answers)
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn of_file(file: &str) -> (Vec<u8>, Answers) {
    let path = root().join(file);
    made(&std::fs::read_to_string(&path).unwrap(), &path)
}

fn opened(bytes: &[u8]) -> Xlsx<Cursor<&[u8]>> {
    Xlsx::new(Cursor::new(bytes)).unwrap()
}

/// All parts of the archive that hold cells.
fn sheets_xml(bytes: &[u8]) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut all = String::new();
    for k in 0..archive.len() {
        let mut part = archive.by_index(k).unwrap();
        if part.name().starts_with("xl/worksheets/sheet") {
            part.read_to_string(&mut all).unwrap();
        }
    }
    all
}

#[test]
fn the_same_study_gives_the_same_bytes() {
    assert!(of_file("studies/first-look.toml").0 == of_file("studies/first-look.toml").0);
}

#[test]
fn every_working_and_result_is_a_live_formula() {
    for file in ["studies/first-look.toml", "tests/good/first.toml", "tests/good/money.toml"] {
        let (bytes, answers) = of_file(file);
        let mut book = opened(&bytes);
        let mut of =
            |page: &str| (book.worksheet_formula(page).unwrap(), book.worksheet_range(page).unwrap());
        let (formulas, values) = of("Results");
        let rows: Vec<u32> = (layout::FIRST_ROW..=values.end().unwrap().0)
            .filter(|&row| matches!(values.get_value((row, 0)), Some(Data::String(_))))
            .collect();
        assert_eq!(rows.len(), answers.results.len(), "{file}");
        for row in rows {
            let name = values.get_value((row, 0)).unwrap().to_string();
            let live = formulas.get_value((row, 3)).is_some_and(|formula| !formula.is_empty());
            assert!(live, "{file}: {name} is no formula");
            let result = answers.results.iter().find(|result| result.name == name).unwrap();
            match (result.base.number(), values.get_value((row, 3)).unwrap()) {
                (Some(x), Data::Float(cached)) => assert!((x - cached).abs() <= 1e-12 * x.abs(), "{name}"),
                (Some(x), Data::Bool(cached)) => assert!((x != 0.0) == *cached, "{name}"),
                (Some(x), cached) => panic!("{name}: {x} against {cached}"),
                (None, cached) => assert!(!matches!(cached, Data::Float(_)), "{name}: {cached}"),
            }
        }
        let model = model::read_beside(
            &std::fs::read_to_string(root().join(file)).unwrap(),
            &study::Beside::study(&root().join(file)),
        );
        let model = model.0.unwrap().1;
        for working in &model.workings {
            let name = &working.about.name;
            let live = ["Workings", "Years", "Months", "Months by year"].iter().any(|page| {
                let Ok(formulas) = book.worksheet_formula(page) else { return false };
                let values = book.worksheet_range(page).unwrap();
                let end = values.end().unwrap();
                (0..=end.0).any(|row| {
                    values.get_value((row, 0)).is_some_and(|cell| cell.to_string() == *name)
                        && (3..=end.1)
                            .any(|col| formulas.get_value((row, col)).is_some_and(|text| !text.is_empty()))
                })
            });
            assert!(live, "{file}: the working {name} has no formula");
        }
    }
}

/// Everything that a spreadsheet, or a page, could take for something else than text.
const HOSTILE: [&str; 8] = [
    "=cmd()|'/C calc'!A1",
    "+1+1",
    "@SUM(A1)",
    "-2",
    "<script>alert(1)</script> & \"quotes\"",
    "{=1+1}",
    "\u{202e}right to left",
    "_x0041_ ]]> \u{1b}[31m",
];

fn hostile_study() -> String {
    let mut text = String::from(
        "title = \"=1+1\"\ncurrency = \"EUR\"\nprices = \"real\"\nfirst_year = 2027\nyears = 3\n[sampling]\nruns = 64\n",
    );
    for (k, said) in HOSTILE.iter().enumerate() {
        let said = toml::Value::String((*said).to_owned()).to_string();
        text.push_str(&format!(
            "[inputs.i{k}]\nlabel = {said}\nsource = {said}\nnote = {said}\ngroup = {said}\nvalue = {k}\n"
        ));
    }
    let labels: Vec<String> =
        HOSTILE[..3].iter().map(|said| toml::Value::String((*said).to_owned()).to_string()).collect();
    text.push_str(&format!("[inputs.which]\nlabels = [{}]\n", labels.join(", ")));
    text.push_str(&format!(
        "[workings.w]\nlabel = {}\nformula = 'if(which == {}, i0, i1)'\n",
        labels[0], labels[1]
    ));
    text.push_str(&format!("[results.r]\nlabel = {}\nformula = 'w + i2'\nat_least = 1\n", labels[0]));
    text
}

#[test]
fn no_text_becomes_a_formula() {
    let (bytes, _) = made(&hostile_study(), &root().join("studies/none.toml"));
    let mut book = opened(&bytes);
    for page in book.sheet_names() {
        let formulas = book.worksheet_formula(&page).unwrap();
        for (row, col, formula) in formulas.used_cells() {
            let outside = ["cmd", "calc", "SUM(A1)", "script"].iter().any(|word| {
                // A label inside a formula stands between quotation marks.
                formula.split('"').step_by(2).any(|outside| outside.contains(word))
            });
            assert!(!outside, "{page} {row},{col}: {formula}");
        }
    }
    let inputs = book.worksheet_range(layout::INPUTS).unwrap();
    for (k, said) in HOSTILE.iter().enumerate() {
        let row = layout::FIRST_ROW + k as u32;
        let at =
            |col: u16| inputs.get_value((row, u32::from(col))).map(ToString::to_string).unwrap_or_default();
        assert_eq!(at(layout::NAME), format!("i{k}"));
        // What is read back is as it was typed; what is only shown has no control and no direction marks.
        assert_eq!(at(layout::SOURCE).replace('\u{1b}', ""), said.replace('\u{1b}', ""), "source {k}");
        assert!(!at(layout::LABEL).chars().any(|c| c.is_control() || c == '\u{202e}'), "label {k}");
    }
    let xml = sheets_xml(&bytes);
    assert!(!xml.contains("<script") && !xml.contains('\u{1b}'));
}

#[test]
fn a_text_longer_than_a_cell_takes_is_cut_and_the_workbook_made() {
    let long = "x".repeat(40_000);
    let text = format!(
        "title = \"Long\"\ncurrency = \"EUR\"\nprices = \"real\"\nfirst_year = 2027\nyears = 3\n[sampling]\nruns = 64\n\
         [inputs.a]\nlabel = \"{long}\"\nnote = \"{long}\"\nvalue = 2\n[inputs.b]\nlabels = [\"{long}\", \"short\"]\n\
         [results.r]\nformula = 'if(b == \"short\", a, 2 * a)'\nat_least = 1\n"
    );
    let (bytes, _) = made(&text, &root().join("studies/none.toml"));
    let inputs = opened(&bytes).worksheet_range(layout::INPUTS).unwrap();
    assert!(inputs.used_cells().all(|(_, _, cell)| cell.to_string().len() <= 32_767));
}
