//! How a stranger makes all of it again.

use super::book::{Book, cell, columns, section as part};
use crate::report::document::{Block, Cell, Inline, Row, Section, Table};
use crate::report::manifest::Hashed;
use crate::wording::clean;

pub(super) fn section(book: &Book<'_>) -> Section {
    let material = book.material;
    let facts = &material.answers.sampling;
    let file = clean(material.study_file);
    let row = |hashed: Hashed| Row {
        cells: vec![Cell::verbatim(clean(&hashed.file)), cell(Inline::Code(hashed.sha256))],
        ..Row::default()
    };
    let study = row(Hashed::of(material.study_file, material.study_text.as_bytes()));
    let data = material.model.data.iter().map(|data| row(Hashed::of(&data.file, &data.bytes)));
    let version = env!("CARGO_PKG_VERSION");
    let commands = [
        format!("payspread run {file} --runs {} --seed {}", facts.runs, facts.seed),
        format!("payspread report {file} --as html,docx"),
        format!("payspread trace {file} NUMBER"),
    ];
    let lines = commands.into_iter().map(|line| vec![Block::Paragraph(vec![Inline::Code(line)])]).collect();
    let blocks = vec![
        Block::Paragraph(vec![Inline::Verbatim(format!(
            "payspread {version}, engine {}, method {}, {} runs in {} replicates, seed {}. The same files give the same bytes, \
             whatever the number of threads.",
            facts.engine,
            clean(&facts.method),
            facts.runs,
            facts.replicates,
            facts.seed
        ))]),
        Block::List { numbered: true, items: lines },
        Block::Table(Table {
            id: "table-files".into(),
            caption: "What went in".into(),
            columns: columns(&[("File", 3, false), ("SHA-256", 8, false)]),
            rows: std::iter::once(study).chain(data).collect(),
            notes: Vec::new(),
        }),
    ];
    part("repeat", "How to make it again", blocks)
}
