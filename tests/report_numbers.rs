//! What stands in a report: every figure has a number that leads to it, tables are whole, links lead somewhere, and
//! what a study lacks is said to be lacking.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot read its own files has failed")]

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::{Command, Output};

use payspread::analysis::{Options, appraise};
use payspread::engine::run::Control;
use payspread::model::trace::sheet;
use payspread::report::document::{Block, Document, FigureEntry, Inline, NoteKind, Picture, Row, Section};
use payspread::report::material::Material;
use payspread::report::pages;
use payspread::sampling::Design;
use payspread::{chart, model, study};

const STUDIES: [&str; 6] =
    ["first-look", "guest-house", "half-hours", "harbour-row", "reference-home", "ways-to-warm-water"];

/// The report of a study text beside `studies/`, from few runs.
fn report_of(text: &str, file: &str) -> (Document, model::Model) {
    report_with(text, file, false)
}

/// The same, with what takes many more evaluations if `all`.
fn report_with(text: &str, file: &str, all: bool) -> (Document, model::Model) {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies").join(file);
    let model = model::read_beside(text, &study::Beside::study(&beside)).0.unwrap().1;
    let wish = &model.sampling;
    let design = Design::new(wish.seed, wish.method, wish.replicates, 256);
    let options = Options { design, until: None, all, ..Options::of(&model) };
    let answers = appraise(&model, options, &Control::default()).unwrap();
    let charts = chart::charts(&answers).unwrap();
    let small = chart::small(&answers).unwrap();
    let rows = sheet(&model, model.design());
    let material = Material {
        answers: &answers,
        model: &model,
        sheet: &rows,
        charts: &charts,
        small: &small,
        study_file: file,
        study_text: text,
    };
    (pages::document(&material), model)
}

fn text_of(name: &str) -> String {
    std::fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("studies").join(format!("{name}.toml")),
    )
    .unwrap()
}

/// Everything of a document, flat.
#[derive(Default)]
struct Seen {
    ids: Vec<String>,
    links: Vec<String>,
    figures: Vec<(u32, char)>,
    rows: Vec<u32>,
    words: String,
    /// Whether sentences tell figures of the answer here.
    tells: bool,
    /// Sentences that tell one and lead nowhere.
    unnumbered: Vec<String>,
}

impl Seen {
    fn of(document: &Document) -> Seen {
        let mut seen = Seen::default();
        document.sections.iter().for_each(|section| seen.section(section));
        seen
    }

    fn section(&mut self, section: &Section) {
        assert!(!section.id.is_empty() && !section.heading.is_empty());
        assert!(section.id.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-'));
        self.ids.push(section.id.clone());
        let above = self.tells;
        self.tells = (above || ["answer", "results", "checks"].contains(&section.id.as_str()))
            && section.id != "cautions";
        section.blocks.iter().for_each(|block| self.block(block));
        section.sections.iter().for_each(|part| self.section(part));
        self.tells = above;
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Lead(line) | Block::Paragraph(line) => self.line(line),
            Block::List { items, .. } => items.iter().flatten().for_each(|block| self.block(block)),
            Block::Note { blocks, heading, kind } => {
                self.words.push_str(heading);
                self.words.push('\n');
                let above = self.tells;
                // Page one's note of cautions: its figures are no answers.
                self.tells = above && !(*kind == NoteKind::Caution && heading == "Mind");
                blocks.iter().for_each(|block| self.block(block));
                self.tells = above;
            }
            Block::Picture(picture) => self.picture(picture),
            Block::Pictures(pictures) => pictures.iter().for_each(|picture| self.picture(picture)),
            Block::Table(table) => {
                assert!(!table.caption.is_empty() && !table.rows.is_empty(), "{}", table.id);
                self.ids.push(table.id.clone());
                table.rows.iter().for_each(|row| self.row(row, table.columns.len(), &table.id));
                let above = std::mem::take(&mut self.tells);
                table.notes.iter().for_each(|note| self.line(note));
                self.tells = above;
            }
        }
    }

    fn picture(&mut self, picture: &Picture) {
        assert!(!picture.caption.is_empty() && !picture.alternative.is_empty(), "{}", picture.id);
        assert!(picture.number.is_some(), "{} has no number", picture.id);
        self.ids.push(picture.id.clone());
        self.rows.extend(picture.number);
    }

    fn row(&mut self, row: &Row, columns: usize, table: &str) {
        assert_eq!(row.cells.len(), if row.is_heading { 1 } else { columns }, "{table}");
        self.rows.extend(row.number);
        let above = std::mem::take(&mut self.tells);
        for cell in &row.cells {
            self.line(&cell.content);
            self.words.push('\n');
        }
        self.tells = above;
    }

    fn line(&mut self, line: &[Inline]) {
        let tells =
            |part: &Inline| matches!(part, Inline::Text(text) if text.contains(|c: char| c.is_ascii_digit()));
        let is_numbered = line.iter().any(|part| matches!(part, Inline::Figure { .. }));
        if self.tells && !is_numbered && line.iter().any(tells) {
            self.unnumbered.push(format!("{line:?}"));
        }
        for (k, part) in line.iter().enumerate() {
            match part {
                Inline::Text(text)
                | Inline::Verbatim(text)
                | Inline::Code(text)
                | Inline::Web { text, .. } => {
                    self.words.push_str(text);
                }
                Inline::Strong(line) | Inline::Emphasis(line) => self.line(line),
                Inline::Figure { number, text } => {
                    // The number of a whole sentence stands at its end.
                    assert!(!text.is_empty() || k > 0 && k + 1 == line.len(), "{number}");
                    self.figures.push((number.row, number.letter));
                    self.words.push_str(text);
                }
                Inline::Link { to, text } => {
                    assert!(!text.is_empty());
                    self.links.push(to.clone());
                }
                Inline::Break => self.words.push('\n'),
            }
        }
        self.words.push('\n');
    }
}

fn unique<T: Ord + std::fmt::Debug>(all: &[T]) -> BTreeSet<&T> {
    let set: BTreeSet<&T> = all.iter().collect();
    let twice: Vec<&T> =
        set.iter().copied().filter(|one| all.iter().filter(|other| other == one).count() > 1).collect();
    assert!(twice.is_empty(), "twice: {twice:?}");
    set
}

#[test]
fn every_study_gives_a_whole_report() {
    for study in STUDIES {
        let (document, model) = report_of(&text_of(study), &format!("{study}.toml"));
        let seen = Seen::of(&document);
        let ids = unique(&seen.ids);
        for link in &seen.links {
            assert!(ids.contains(link), "{study}: {link} leads nowhere");
        }
        let rows: Vec<u32> = document.figures.iter().map(|entry| entry.row).collect();
        unique(&rows);
        let known: BTreeSet<(u32, char)> = document
            .figures
            .iter()
            .flat_map(|e| e.figures.iter().map(|(letter, _, _)| (e.row, *letter)))
            .collect();
        for figure in &seen.figures {
            assert!(known.contains(figure), "{study}: {figure:?} has no entry");
        }
        assert!(seen.rows.iter().all(|row| rows.contains(row)), "{study}");
        assert!(seen.unnumbered.is_empty(), "{study}: {:?}", seen.unnumbered);
        for bad in ["NaN", "inf ", "-inf", "inf]"] {
            assert!(!seen.words.contains(bad), "{study} says {bad}");
        }
        let lines: BTreeSet<&str> = seen.words.lines().collect();
        let inputs = model.inputs.iter().map(|input| &input.about.name);
        for name in inputs.chain(model.workings.iter().map(|working| &working.about.name)) {
            assert!(lines.contains(name.as_str()), "{study}: {name} is not in the report");
        }
        for working in &model.workings {
            let formula = payspread::report::numbers::clean(&working.text);
            assert!(seen.words.contains(&formula), "{study}: {formula}");
        }
        // No study of the house has a [report] yet: decision and doubts are said to be lacking.
        if model.report.doubts.is_none() {
            assert!(seen.words.contains("not answered"), "{study}");
        }
        assert_eq!(document.sections[0].id, "answer");
        assert!(!format!("{:?}", document.sections[0].blocks[0]).contains("percentile"));
    }
}

/// What `--all` computes is in tables too, and of correlated inputs the effects sum to 1.
#[test]
fn global_indices_stand_in_tables() {
    let (document, _) = report_with(&text_of("harbour-row"), "harbour-row.toml", true);
    let sections = document.sections.iter().flat_map(|section| &section.sections);
    let tables: Vec<_> = sections
        .flat_map(|section| &section.blocks)
        .filter_map(|block| match block {
            Block::Table(table) if ["table-indices", "table-shapley"].contains(&table.id.as_str()) => {
                Some(table)
            }
            _ => None,
        })
        .collect();
    assert_eq!(tables.len(), 2);
    for table in &tables {
        assert!(table.rows.len() > 5, "{}", table.id);
        for row in &table.rows {
            let figures = row.cells.iter().filter(|cell| matches!(cell.content[..], [Inline::Figure { .. }]));
            assert_eq!(figures.count(), 3, "{}: {row:?}", table.id);
        }
    }
    let effect = |row: &Row| match &row.cells[1].content[..] {
        [Inline::Figure { text, .. }] => text.split(' ').next().unwrap().parse::<f64>().unwrap(),
        other => panic!("{other:?}"),
    };
    let sum: f64 = tables[1].rows.iter().map(effect).sum();
    // Each is printed with as many digits as its interval bears.
    assert!((sum - 1.0).abs() < 0.15, "{sum}");
}

/// Numbers by what they are about.
fn numbers(document: &Document) -> BTreeMap<(String, String), u32> {
    document.figures.iter().map(|e| ((e.what.clone(), e.name.clone().unwrap_or_default()), e.row)).collect()
}

#[test]
fn numbers_stay_when_the_study_grows() {
    let text = text_of("first-look");
    let before = numbers(&report_of(&text, "first-look.toml").0);
    let grown = text.replace(
        "[inputs.people]",
        "[inputs.cats]\nlabel = \"Cats\"\nunit = \"1\"\nuniform = { min = 1, max = 3 }\nsource = \"Seen\"\n\n[inputs.people]",
    );
    let after = numbers(&report_of(&grown, "first-look.toml").0);
    assert!(after.len() > before.len());
    let moved: Vec<_> =
        before.iter().filter(|(about, row)| after.get(about).is_some_and(|now| now != *row)).collect();
    assert!(moved.is_empty(), "{moved:?}");
}

#[test]
fn the_studys_own_words_and_its_numbers() {
    let report = "\n[report]\nclient = \"A <b>client</b>\"\nnumbers = \"1.234,5\"\ndecision = \"To buy for 1,234.5 or not\"\ndoubts = \"The *cylinder* may be another.\"\n\n[report.prose]\nconclusion = \"Kept: 1,234.5\"\n";
    let text = text_of("first-look") + report;
    let (document, _) = report_of(&text, "first-look.toml");
    let seen = Seen::of(&document);
    assert!(document.facts.contains(&("Client".into(), "A <b>client</b>".into())));
    for kept in ["To buy for 1,234.5 or not", "Kept: 1,234.5", "cylinder"] {
        assert!(seen.words.contains(kept), "{kept}");
    }
    // 0.112 EUR/kWh of gas is the base value of its path.
    assert!(seen.words.contains("0,112") && seen.words.contains("256 runs"));
}

fn payspread(args: &[&str]) -> Output {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies");
    Command::new(env!("CARGO_BIN_EXE_payspread")).args(args).current_dir(folder).output().unwrap()
}

#[test]
fn trace_finds_what_the_report_prints() {
    let (document, _) = report_of(&text_of("first-look"), "first-look.toml");
    let of =
        |what: &str| -> &FigureEntry { document.figures.iter().find(|entry| entry.what == what).unwrap() };
    for what in [
        "What you gain after all costs in today's money over the runs",
        "Saving, by year",
        "Input: Life of the controller",
    ] {
        let entry = of(what);
        let (letter, name, value) = &entry.figures[0];
        let number = format!("{}{letter}", entry.row);
        let got = payspread(&["trace", "first-look.toml", &number, "--runs", "256"]);
        let said = String::from_utf8(got.stdout).unwrap();
        assert_eq!(got.status.code(), Some(0), "{}", String::from_utf8_lossy(&got.stderr));
        assert!(said.contains(&format!("{letter}  {name}: {value}\n")), "{said}");
        assert!(said.contains(entry.formula.as_deref().unwrap()) && said.contains("Base case"), "{said}");
    }
    let got = payspread(&["trace", "first-look.toml", "10001z", "--runs", "256"]);
    assert_eq!(got.status.code(), Some(2));
    assert!(String::from_utf8(got.stderr).unwrap().contains("10001z"));
}
