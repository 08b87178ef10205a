//! Bands, cash, spans and break-even values for each value of each choice, side by side: as tables, and in short for the
//! terminal.

use crate::analysis::{Answers, BreakEven, ChoiceAnswer, Lever, OF_FIRST_YEAR};

use super::cells::cell;
use super::numbers::{clean, decimals, grouped, in_sentence, shortened, spoken};
use super::tables::{self, TableFile};
use super::terminal::wrapped;

/// A table for each sort of answer that some choice changes, laid out as that of the base choices with the choice before
/// it.
pub(super) fn tables(answers: &Answers) -> Result<Vec<TableFile>, csv::Error> {
    let bands = |c: &ChoiceAnswer| c.bands.as_ref().is_some_and(|bands| !bands.paid_back.is_empty());
    let cash = |c: &ChoiceAnswer| c.bands.as_ref().is_some_and(|bands| !bands.cash.is_empty());
    let mut files = Vec::new();
    files.extend(table(answers, bands, tables::paid_back)?);
    files.extend(table(answers, cash, tables::cash)?);
    files.extend(table(answers, |c| c.tornado.is_some(), tables::tornado)?);
    files.extend(table(answers, |c| !c.break_even.is_empty(), tables::break_even)?);
    Ok(files)
}

fn table(
    answers: &Answers,
    has: impl Fn(&ChoiceAnswer) -> bool,
    make: impl Fn(&Answers) -> Result<TableFile, csv::Error>,
) -> Result<Option<TableFile>, csv::Error> {
    let mut name = None;
    let mut writer = csv::Writer::from_writer(Vec::new());
    for choice in answers.choices.iter().filter(|choice| has(choice)) {
        let (file, bytes) = make(&answers.under(choice))?;
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes.as_slice());
        let base = if choice.is_base { "yes" } else { "no" };
        for (k, record) in reader.records().enumerate() {
            let record = record?;
            let before = match (k, &name) {
                (0, None) => ["choice", "choice label", "choice value", "base value"].map(str::to_owned),
                // The heading stands once.
                (0, Some(_)) => continue,
                _ => [cell(&choice.choice), cell(&choice.label), cell(&choice.value), base.to_owned()],
            };
            writer.write_record(before.iter().map(String::as_str).chain(record.iter()))?;
        }
        name = Some(format!("choices_{file}"));
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(name.map(|name| (name, bytes)))
}

/// What `values` of one choice make different of spans and break-even values, in a few lines.
pub(super) fn in_short(answers: &Answers, values: &[&ChoiceAnswer]) -> String {
    let mut out = String::new();
    let most: Vec<(&ChoiceAnswer, String)> =
        values.iter().filter_map(|&c| Some((c, hangs_most(c)?))).collect();
    if let Some((_, first)) = most.first() {
        let text = match most.iter().all(|(_, label)| label == first) {
            true => format!("hangs most on {first}, at each value"),
            false => {
                let each = most.iter().map(|(c, label)| format!("{label} ({})", value(c)));
                format!("hangs most on {}", each.collect::<Vec<_>>().join("; on "))
            }
        };
        out.push_str(&wrapped(&text, "  "));
    }
    for question in values.first().map_or_else(Vec::new, |c| told_once(&c.break_even)) {
        let each = values.iter().filter_map(|c| {
            let same = |b: &&BreakEven| b.of == question.of && b.result == question.result;
            Some(format!("{} ({})", flip(answers, c.break_even.iter().find(same)?), value(c)))
        });
        let label = clean(&question.of_label);
        let label = in_sentence(&shortened(label.strip_suffix(OF_FIRST_YEAR).unwrap_or(&label), 120));
        let text = format!("{label} flips the base case at {}", each.collect::<Vec<_>>().join(", "));
        out.push_str(&wrapped(&text, "  "));
    }
    out
}

/// The input with the longest span that is known.
fn hangs_most(choice: &ChoiceAnswer) -> Option<String> {
    let rows = &choice.tornado.as_ref()?.rows;
    let row = rows.iter().find(|row| row.span > 0.0 || row.span_is_lower_bound)?;
    Some(in_sentence(&shortened(&clean(&row.label), 120)))
}

/// Questions of one lever and result (against other inputs) once.
fn told_once(all: &[BreakEven]) -> Vec<&BreakEven> {
    let mut told: Vec<&BreakEven> = Vec::new();
    for b in all {
        if !told.iter().any(|t| (&t.of, &t.result) == (&b.of, &b.result)) {
            told.push(b);
        }
    }
    told
}

fn flip(answers: &Answers, b: &BreakEven) -> String {
    match b.base {
        Lever::At(x) => {
            spoken(&grouped(x, decimals(x, None, &b.of_unit, &answers.study.currency)), &b.of_unit)
        }
        Lever::Always => "no value: it is always good".into(),
        Lever::Never => "no value: it is never good".into(),
    }
}

fn value(choice: &ChoiceAnswer) -> String {
    let mark = if choice.is_base { ", base" } else { "" };
    format!("{}{mark}", shortened(&clean(&choice.value), 40))
}
