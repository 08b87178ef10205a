//! `update`: what is changed in a workbook goes into the study, and nothing else does; what no study can hold is told by
//! its row, and the study is left as it was.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::collections::BTreeMap;
use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use rust_xlsxwriter::{Formula, Workbook, Worksheet};

const STUDY: &str = r#"# A study with remarks.
title      = "Remarks stay"
currency   = "EUR"
first_year = 2027
years      = 10

[inputs.people]   # who lives here
label    = "People living here"
unit     = "person"
discrete = { values = [2, 3, 4], weights = [20, 60, 20] }   # a guess
base     = 3
source   = "Household, autumn 2026"
as_of    = 2026-10-01

[inputs.litres]
unit      = "L/person/day"
lognormal = { mean = 36, sd = 12 }
truncate  = { min = 15, max = 80 }   # nobody lives on less

[inputs.kit]
unit  = "EUR"
value = 1_450      # the quote

[inputs.share]
monthly = [1.10, 1.06, 1.02, 0.98, 0.94, 0.90, 0.90, 0.94, 0.98, 1.02, 1.06, 1.10]

[inputs.rate]
unit   = "1/yr"
choice = [0.02, 0.04, 0.07]
base   = 0.04

[inputs.fuel]
labels  = ["gas", "oil"]
weights = [3, 1]

[paths.price]
unit    = "EUR/kWh"
process = "steady growth"
start   = { pert = { min = 0.09, mode = 0.112, max = 0.14 } }
growth  = 0.01

[results.cost]
unit     = "EUR"
formula  = 'kit * people / 1 [person] + litres * 1 [EUR*person*day/L] * sum_months(share) / growth(rate) + sum_years(price * 1 [kWh]) + if(fuel == "gas", 0 [EUR], 1 [EUR])'
at_most  = 9000
"#;

/// A cell of the sheet.
#[derive(Clone)]
enum Cell {
    Number(f64),
    Text(&'static str),
    Formula(&'static str, &'static str),
    True,
}

type Cells = BTreeMap<u16, Cell>;

fn set(rows: &mut [Cells], [row, column]: [u16; 2], cell: Cell) {
    rows[usize::from(row)].insert(column, cell);
}

fn take(rows: &mut [Cells], [row, column]: [u16; 2]) {
    rows[usize::from(row)].remove(&column);
}

/// The sheet of the study as it is made: A name, B label, C unit, D base, E kind, F parameters, G truncate, I source,
/// J date, O to Z months.
fn sheet() -> Vec<Cells> {
    use Cell::{Number, Text};
    let months = [1.10, 1.06, 1.02, 0.98, 0.94, 0.90, 0.90, 0.94, 0.98, 1.02, 1.06, 1.10];
    let row = |cells: &[(u16, Cell)]| cells.iter().cloned().collect::<Cells>();
    let mut share = row(&[(0, Text("share")), (1, Text("share")), (4, Text("monthly"))]);
    share.extend(months.iter().enumerate().map(|(k, x)| (14 + k as u16, Number(*x))));
    vec![
        row(&[
            (0, Text("people")),
            (1, Text("People living here")),
            (2, Text("person")),
            (3, Number(3.0)),
            (4, Text("discrete")),
            (5, Text("values = [2, 3, 4], weights = [20, 60, 20]")),
            (8, Text("Household, autumn 2026")),
            (9, Text("2026-10-01")),
        ]),
        row(&[
            (0, Text("litres")),
            (1, Text("litres")),
            (2, Text("L/person/day")),
            (3, Number(litres_base())),
            (4, Text("lognormal")),
            (5, Text("mean = 36.0, sd=12")),
            (6, Text("min = 15, max = 80")),
        ]),
        row(&[(0, Text("kit")), (1, Text("kit")), (2, Text("EUR")), (3, Number(1450.0)), (4, Text("value"))]),
        share,
        row(&[
            (0, Text("rate")),
            (1, Text("rate")),
            (2, Text("1/yr")),
            (3, Number(0.04)),
            (4, Text("choice")),
            (5, Text("0.02, 0.04, 0.07")),
        ]),
        row(&[
            (0, Text("fuel")),
            (1, Text("fuel")),
            (3, Text("gas")),
            (4, Text("labels")),
            (5, Text("\"gas\", \"oil\"")),
        ]),
        row(&[
            (0, Text("price.start")),
            (2, Text("EUR/kWh")),
            (3, Number(price_base())),
            (4, Text("pert")),
            (5, Text("min = 0.09, mode = 0.112, max = 0.14")),
        ]),
        row(&[(0, Text("price.growth")), (2, Text("1/yr")), (3, Number(0.01))]),
    ]
}

fn model() -> payspread::model::Model {
    let (made, found) = payspread::model::read(STUDY);
    made.unwrap_or_else(|| panic!("{found:?}")).1
}

fn litres_base() -> f64 {
    model().inputs.iter().find(|i| i.about.name == "litres").unwrap().base[0]
}

fn price_base() -> f64 {
    model().paths[0].start
}

fn put(sheet: &mut Worksheet, row: u32, column: u16, cell: &Cell) {
    match cell {
        Cell::Number(x) => sheet.write_number(row, column, *x).unwrap(),
        Cell::Text(text) => sheet.write_string(row, column, *text).unwrap(),
        Cell::Formula(formula, value) => {
            sheet.write_formula(row, column, Formula::new(*formula).set_result(*value)).unwrap()
        }
        Cell::True => sheet.write_boolean(row, column, true).unwrap(),
    };
}

struct Case {
    study: PathBuf,
    made: Output,
    out: String,
    told: String,
}

/// Writes study and workbook, runs `update`.
fn update(name: &str, study: &str, rows: &[Cells], more: &[&str]) -> Case {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("update").join(name);
    fs::create_dir_all(&folder).unwrap();
    let (path, book) = (folder.join("study.toml"), folder.join("workbook.xlsx"));
    fs::write(&path, study).unwrap();
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet().set_name("Inputs").unwrap();
    sheet.write_string(0, 0, "Inputs of a study").unwrap();
    for (column, name) in ["Name", "Label", "Unit", "Base"].iter().enumerate() {
        sheet.write_string(2, column as u16, *name).unwrap();
    }
    for (k, row) in rows.iter().enumerate() {
        row.iter().for_each(|(column, cell)| put(sheet, 3 + k as u32, *column, cell));
    }
    workbook.save(&book).unwrap();
    if rows.iter().flatten().any(|(_, cell)| matches!(cell, Cell::Formula(_, ""))) {
        forget_values(&book);
    }
    run(path, &book, more)
}

/// Takes the saved values of formulas out of a workbook, as programs write it that do not calculate.
fn forget_values(book: &Path) {
    let mut archive = zip::ZipArchive::new(fs::File::open(book).unwrap()).unwrap();
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    for k in 0..archive.len() {
        let mut file = archive.by_index(k).unwrap();
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).unwrap();
        files.push((file.name().to_owned(), bytes));
    }
    let mut writer = zip::ZipWriter::new(fs::File::create(book).unwrap());
    for (name, bytes) in files {
        let text = String::from_utf8(bytes).unwrap().replace("</f><v>0</v>", "</f>");
        writer.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
        writer.write_all(text.as_bytes()).unwrap();
    }
    writer.finish().unwrap();
}

fn run(study: PathBuf, book: &Path, more: &[&str]) -> Case {
    let made = Command::new(env!("CARGO_BIN_EXE_payspread"))
        .arg("update")
        .arg(&study)
        .arg("--from")
        .arg(book)
        .args(more)
        .output()
        .unwrap();
    let out = String::from_utf8_lossy(&made.stdout).into_owned();
    let told = String::from_utf8_lossy(&made.stderr).into_owned();
    Case { study, made, out, told }
}

impl Case {
    fn text(&self) -> String {
        fs::read_to_string(&self.study).unwrap()
    }
}

#[test]
fn an_unedited_workbook_changes_nothing() {
    let case = update("unedited", STUDY, &sheet(), &[]);
    assert!(case.made.status.success(), "{}", case.told);
    assert!(case.out.starts_with("Nothing has changed"), "{}", case.out);
    assert_eq!(case.text(), STUDY);
}

/// Spreadsheet programs save fifteen significant digits of a number.
#[test]
fn digits_that_a_spreadsheet_drops_are_no_change() {
    let rounded = |x: f64| format!("{x:.14e}").parse::<f64>().unwrap();
    assert!(rounded(litres_base()) != litres_base(), "the case needs a number of more digits");
    let mut rows = sheet();
    rows[1].insert(3, Cell::Number(rounded(litres_base())));
    rows[6].insert(3, Cell::Number(rounded(price_base())));
    let case = update("rounded", STUDY, &rows, &[]);
    assert!(case.out.starts_with("Nothing has changed"), "{}", case.out);
    assert_eq!(case.text(), STUDY);
}

#[test]
fn changes_are_told_and_written_and_remarks_stay() {
    let mut rows = sheet();
    rows[0].insert(3, Cell::Number(4.0));
    rows[0].insert(8, Cell::Text("Counted, =cmd() \u{202E}\"x\""));
    rows[1].insert(5, Cell::Text("mean = 40, sd = 12"));
    rows[1].insert(6, Cell::Text("min = 15, max = 90"));
    rows[2].insert(3, Cell::Formula("=1450*0.9", "1305"));
    rows[2].insert(10, Cell::Text("ten per cent off"));
    rows[3].insert(15, Cell::Number(1.5));
    rows[4].insert(3, Cell::Number(0.07));
    rows[5].insert(3, Cell::Text("oil"));
    rows[6].insert(5, Cell::Text("min = 0.09, mode = 0.12, max = 0.14"));
    rows[7].insert(3, Cell::Number(0.02));
    let shown = update("show", STUDY, &rows, &["--show"]);
    assert!(
        shown.made.status.success() && shown.out.ends_with("Nothing is written: --show was given.\n"),
        "{}",
        shown.told
    );
    assert_eq!(shown.text(), STUDY);
    let case = update("edited", STUDY, &rows, &[]);
    assert!(case.made.status.success(), "{}", case.told);
    for line in [
        "row 4: people, base value: 3 -> 4",
        "row 6: kit, base value: 1450 -> 1305",
        "row 10: price.start, parameters: ",
        "row 11: price.growth, base value: 0.01 -> 0.02",
    ] {
        assert!(case.out.contains(line), "{line} in\n{}", case.out);
    }
    assert!(case.out.contains("11 changes"), "{}", case.out);
    let expected = STUDY
        .replace("base     = 3\n", "base     = 4\n")
        .replace("source   = \"Household, autumn 2026\"", "source   = 'Counted, =cmd() \u{202E}\"x\"'")
        .replace("mean = 36, sd", "mean = 40, sd")
        .replace("max = 80 }", "max = 90 }")
        .replace("value = 1_450 ", "value = 1305 ")
        .replace("# the quote\n", "# the quote\nnote = \"ten per cent off\"\n")
        .replace("[1.10, 1.06, 1.02, 0.98, 0.94, 0.90, 0.90,", "[1.1, 1.5, 1.02, 0.98, 0.94, 0.9, 0.9,")
        .replace("0.94, 0.98, 1.02, 1.06, 1.10]", "0.94, 0.98, 1.02, 1.06, 1.1]")
        .replace("base   = 0.04", "base   = 0.07")
        .replace("weights = [3, 1]\n", "weights = [3, 1]\nbase = \"oil\"\n")
        .replace("mode = 0.112", "mode = 0.12")
        .replace("growth  = 0.01", "growth  = 0.02");
    assert_eq!(case.text(), expected);
}

#[test]
fn another_kind_stands_where_the_old_one_stood() {
    let mut rows = sheet();
    rows[1].insert(4, Cell::Text("pert"));
    rows[1].insert(5, Cell::Text("min = 20, mode = 30, max = 60"));
    rows[0].insert(4, Cell::Text("known"));
    rows[0].remove(&5);
    let case = update("kinds", STUDY, &rows, &[]);
    assert!(case.made.status.success(), "{}{}", case.told, case.out);
    let text = case.text();
    let at = |word: &str| text.find(word).unwrap_or_else(|| panic!("{word} in\n{text}"));
    assert!(at("pert = { min = 20, mode = 30, max = 60 }") < at("truncate  = { min = 15"), "{text}");
    assert!(at("unit      = \"L/person/day\"") < at("pert = { min = 20"), "{text}");
    assert!(
        text.contains("value = 3\n") && !text.contains("base     = 3") && !text.contains("discrete"),
        "{text}"
    );
    assert!(text.contains("[inputs.people]   # who lives here\n"));
}

#[test]
fn line_ends_of_the_file_stay() {
    let mut rows = sheet();
    rows[2].insert(3, Cell::Number(1400.0));
    let case = update("windows", &STUDY.replace('\n', "\r\n"), &rows, &[]);
    assert!(case.made.status.success(), "{}", case.told);
    assert_eq!(case.text(), STUDY.replace("1_450", "1400").replace('\n', "\r\n"));
}

#[test]
fn what_no_study_can_hold_is_told_by_row_and_nothing_is_written() {
    type Change = fn(&mut Vec<Cells>);
    let cases: [(&str, Change, &str); 12] = [
        (
            "comma",
            |r| set(r, [2, 3], Cell::Text("1450,50")),
            "row 6: base value of `kit` is the text \"1450,50\", no number",
        ),
        ("word", |r| set(r, [2, 3], Cell::Text("about 1400")), "row 6: base value of `kit` is the text"),
        (
            "unsaved",
            |r| set(r, [2, 3], Cell::Formula("=1450*0.9", "")),
            "row 6: base value of `kit` is a formula whose value is not in the file",
        ),
        ("true", |r| set(r, [2, 3], Cell::True), "row 6: base value of `kit` is TRUE"),
        ("empty", |r| take(r, [2, 3]), "row 6: base value of `kit` is empty"),
        ("renamed", |r| set(r, [2, 0], Cell::Text("kitt")), "row 6: the study has no input `kitt`"),
        ("deleted", |r| drop(r.remove(2)), "the row of `kit` is missing"),
        ("twice", |r| r.push(r[2].clone()), "row 12: `kit` stands in row 6 already"),
        ("nameless", |r| take(r, [2, 0]), "row 6: has no name"),
        ("kind", |r| set(r, [1, 4], Cell::Text("gaussian")), "row 5: `gaussian` is no kind of distribution"),
        (
            "broken",
            |r| set(r, [1, 5], Cell::Text("mean = , sd")),
            "row 5: the parameters of `litres` cannot be read",
        ),
        ("month", |r| take(r, [3, 20]), "row 7: a month of `share` is empty"),
    ];
    for (name, change, wanted) in cases {
        let mut rows = sheet();
        rows[0].insert(3, Cell::Number(4.0));
        change(&mut rows);
        let case = update(name, STUDY, &rows, &[]);
        assert_eq!(case.made.status.code(), Some(1), "{name}: {}{}", case.out, case.told);
        assert!(case.told.contains(wanted) && case.told.contains("hint: "), "{name}: {}", case.told);
        assert_eq!(case.text(), STUDY, "{name}");
    }
}

#[test]
fn a_change_that_makes_no_study_is_refused_with_all_that_is_wrong() {
    let mut rows = sheet();
    rows[1].insert(5, Cell::Text("mean = -36, sd = 12"));
    rows[2].insert(2, Cell::Text("kWh"));
    let case = update("no-study", STUDY, &rows, &[]);
    assert_eq!(case.made.status.code(), Some(1), "{}", case.told);
    assert!(
        case.told.contains("lognormal") && case.told.contains("The study is left as it was"),
        "{}",
        case.told
    );
    assert_eq!(case.text(), STUDY);
}

#[test]
fn what_is_no_workbook_is_told() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("update/no-workbook");
    fs::create_dir_all(&folder).unwrap();
    let (study, book) = (folder.join("study.toml"), folder.join("book.xlsx"));
    fs::write(&study, STUDY).unwrap();
    for (bytes, wanted) in [
        (b"a,b\n1,2\n".as_slice(), "no workbook in the .xlsx format"),
        (
            b"PK\x03\x04mimetypeapplication/vnd.oasis.opendocument.spreadsheet, and so on".as_slice(),
            "OpenDocument",
        ),
        (b"PK\x03\x04 and nothing more".as_slice(), "cannot be read"),
        (b"".as_slice(), "no workbook"),
    ] {
        fs::write(&book, bytes).unwrap();
        let case = run(study.clone(), &book, &[]);
        assert_eq!(case.made.status.code(), Some(1));
        assert!(case.told.contains(wanted), "{}", case.told);
    }
    let mut workbook = Workbook::new();
    workbook.add_worksheet().set_name("Other").unwrap();
    workbook.save(&book).unwrap();
    assert!(run(study.clone(), &book, &[]).told.contains("has no sheet `Inputs`"));
    assert_eq!(run(study, &folder.join("none.xlsx"), &[]).made.status.code(), Some(1));
}
