//! What all parts of the report share: the material, the numbers of figures, and which charts were shown already.

use std::collections::BTreeSet;

use crate::analysis::{Estimate, Figure, Share, Summary};
use crate::chart::Chart;
use crate::formula::types::Kind;
use crate::model::trace::TraceRow;
use crate::report::document::{
    Block, Cell, Column, FigureEntry, Figures, Inline, NoteKind, Picture, Row, Section, markdown,
};
use crate::report::material::Material;
use crate::wording::{
    clean, estimate_with_interval, exponent, figure, grouped, share_with_interval, shortened, with_unit,
};

/// Longest label of a row.
const MOST: usize = 160;

pub(super) struct Book<'a> {
    pub(super) material: &'a Material<'a>,
    pub(super) figures: Figures,
    shown: BTreeSet<&'a str>,
}

impl<'a> Book<'a> {
    pub(super) fn new(material: &'a Material<'a>) -> Self {
        Book { material, figures: Figures::default(), shown: BTreeSet::new() }
    }

    pub(super) fn currency(&self) -> &'a str {
        &self.material.answers.study.currency
    }

    /// The base case of a name.
    pub(super) fn traced(&self, name: &str) -> Option<&'a TraceRow> {
        let rows = self.material.sheet;
        rows.iter().find(|row| row.name == name)
    }

    /// An entry about `what`, with formula, reads and source of `name` if the study has it.
    pub(super) fn entry(&self, what: &str, name: &str, behind: &str) -> FigureEntry {
        let row = self.traced(name);
        let read = |read: &String| {
            let row = self.traced(read)?;
            Some((read.clone(), clean(&row.label), base_in_words(row)))
        };
        FigureEntry {
            what: shortened(&clean(what), MOST),
            name: row.map(|row| row.name.clone()),
            formula: row.map(|row| clean(&row.formula)),
            reads: row.map_or_else(Vec::new, |row| row.reads.iter().filter_map(read).collect()),
            source: row.and_then(|row| row.source.as_deref().map(clean)),
            behind: behind.to_owned(),
            ..FigureEntry::default()
        }
    }

    /// Number of the row about `subject`.
    pub(super) fn row(&mut self, subject: &str, what: &str, name: &str, behind: &str) -> u32 {
        let entry = self.entry(what, name, behind);
        self.figures.row(subject, || entry)
    }

    /// Number of the row of a result over the runs.
    pub(super) fn row_of(&mut self, result: &Summary) -> u32 {
        let behind = self.behind(result);
        let what = format!("{} over the runs", clean(&result.label));
        self.row(&format!("result {}", result.name), &what, &result.name, &behind)
    }

    /// How many runs, and which kinds of intervals.
    pub(super) fn behind(&self, result: &Summary) -> String {
        let shares = result.success.iter().map(|s| s.share.interval);
        let kinds = result.percentiles.iter().map(|q| q.estimate.interval);
        let kinds = kinds.chain(shares).chain(result.never.iter().map(|s| s.interval));
        let kinds: BTreeSet<&str> =
            kinds.map(crate::analysis::Interval::name).filter(|k| *k != "none").collect();
        let kinds = kinds.into_iter().collect::<Vec<_>>().join(", ");
        let by = if kinds.is_empty() { String::new() } else { format!("; 95 % intervals by {kinds}") };
        format!("{} runs, choices at their base values{by}", grouped(result.runs as f64, 0))
    }

    /// A figure that is estimated, printed with its interval.
    pub(super) fn estimate(
        &mut self,
        row: u32,
        letter: char,
        what: &str,
        e: &Estimate,
        unit: &str,
    ) -> Inline {
        let text = estimate_with_interval(e, unit, self.currency());
        let text = if e.low.is_none() && e.high.is_none() {
            figure(e.value, None, unit, self.currency())
        } else {
            text
        };
        self.figures.figure(row, letter, what, &full(&text, unit), &text)
    }

    /// A share with its interval.
    pub(super) fn share(&mut self, row: u32, letter: char, what: &str, s: &Share) -> Inline {
        if !s.value.is_finite() {
            return Inline::Text("no value".into());
        }
        let text = share_with_interval(s);
        self.figures.figure(row, letter, what, &format!("{text} of the runs"), &text)
    }

    /// A figure that no sampling error touches.
    pub(super) fn exact(&mut self, row: u32, letter: char, what: &str, f: Figure, unit: &str) -> Inline {
        let text = figure(f, None, unit, self.currency());
        self.figures.figure(row, letter, what, &full(&text, unit), &text)
    }

    /// A figure that is printed as it is given.
    pub(super) fn given(&mut self, row: u32, letter: char, what: &str, text: &str, unit: &str) -> Inline {
        self.figures.figure(row, letter, what, &full(text, unit), text)
    }

    /// The chart of this name, if there is one that was not shown yet.
    pub(super) fn picture(&mut self, name: &str) -> Option<Picture> {
        let charts = self.material.charts;
        let chart = charts.iter().find(|chart| chart.name == name)?;
        self.shown.insert(&chart.name).then(|| framed(chart))
    }

    /// The small picture of the chart of this name.
    pub(super) fn small_picture(&self, name: &str) -> Option<Picture> {
        let named = |chart: &&Chart| chart.name.strip_prefix("small-") == Some(name);
        self.material.small.iter().find(named).map(framed)
    }

    /// The large form of a picture on page one that has no more to say than the small one.
    pub(super) fn leave_out(&mut self, name: &str) {
        let charts = self.material.charts;
        self.shown.extend(charts.iter().filter(|chart| chart.name == name).map(|chart| chart.name.as_str()));
    }

    /// All charts whose names begin so: those not shown yet as pictures, the others as a line that leads to them.
    pub(super) fn charts(&mut self, stems: &[&str]) -> Vec<Block> {
        let charts = self.material.charts;
        let wanted = |name: &str| stems.iter().any(|stem| is_of(name, stem));
        let mut blocks = Vec::new();
        for chart in charts.iter().filter(|chart| wanted(&chart.name)) {
            match self.picture(&chart.name) {
                Some(picture) => blocks.push(Block::Picture(picture)),
                None => blocks.push(Block::Paragraph(vec![
                    Inline::Text("Its chart stands further up: ".into()),
                    Inline::Link { to: chart.name.clone(), text: chart.title.clone() },
                ])),
            }
        }
        blocks
    }

    /// Charts that no part has shown.
    pub(super) fn charts_left(&mut self) -> Vec<Block> {
        let charts = self.material.charts;
        charts.iter().filter_map(|chart| self.picture(&chart.name).map(Block::Picture)).collect()
    }

    /// The study's own words at the head of a part.
    pub(super) fn words(&self, part: &str) -> Vec<Block> {
        self.material.model.report.words_for(part).map_or_else(Vec::new, markdown::blocks)
    }
}

fn framed(chart: &Chart) -> Picture {
    Picture {
        id: chart.name.clone(),
        caption: chart.title.clone(),
        alternative: if chart.finding.is_empty() { chart.title.clone() } else { chart.finding.clone() },
        svg: chart.svg.clone(),
        number: None,
    }
}

/// Whether a chart belongs to a stem: "break-even" has "break-even-2" and "break-even-by-discount".
fn is_of(name: &str, stem: &str) -> bool {
    name == stem || name.strip_prefix(stem).is_some_and(|rest| stem.ends_with('-') || rest.starts_with('-'))
}

fn full(text: &str, unit: &str) -> String {
    match text {
        "never" | "no value" => text.to_owned(),
        _ => with_unit(text, unit),
    }
}

/// A base value as a reader sees it: five significant digits.
pub(super) fn value(row: &TraceRow, x: f64) -> String {
    match &row.kind {
        _ if x.is_nan() => "no value".into(),
        Kind::YesNo => (if x == 0.0 { "no" } else { "yes" }).into(),
        Kind::Label(labels) => labels.get(x as usize).map_or_else(|| "no value".into(), |l| clean(l)),
        Kind::Number { .. } | Kind::Years => number(x),
    }
}

/// Five significant digits, no noughts behind the point.
pub(super) fn number(x: f64) -> String {
    let text = grouped(x, (4 - exponent(x.abs())).max(0));
    if text.contains('.') && !text.contains('e') {
        return text.trim_end_matches('0').trim_end_matches('.').to_owned();
    }
    text
}

/// The base value or values of a name, with unit: both ends of what has many.
pub(super) fn base_in_words(row: &TraceRow) -> String {
    let unit = clean(&row.unit);
    let said = |x: f64| match row.kind {
        Kind::Number { .. } | Kind::Years => full(&value(row, x), &unit),
        _ => value(row, x),
    };
    match row.values.as_slice() {
        [] => "no value".into(),
        [one] => said(*one),
        [first, .., last]
            if row.values.iter().all(|x| x == first) || first == last && row.values.len() == 2 =>
        {
            format!("{} throughout", said(*first))
        }
        [first, .., last] => format!("{} (first) to {} (last)", value(row, *first), said(*last)),
    }
}

/// A section without parts.
pub(super) fn section(id: &str, heading: &str, blocks: Vec<Block>) -> Section {
    Section { id: id.into(), heading: heading.into(), blocks, ..Section::default() }
}

pub(super) fn columns(of: &[(&str, u32, bool)]) -> Vec<Column> {
    of.iter().map(|&(heading, width, numbers)| Column { heading: heading.into(), width, numbers }).collect()
}

pub(super) fn cell(inline: Inline) -> Cell {
    Cell { content: vec![inline], drawing: None }
}

pub(super) fn text(words: impl Into<String>) -> Inline {
    Inline::Text(words.into())
}

pub(super) fn verbatim(words: &str) -> Inline {
    Inline::Verbatim(clean(words))
}

/// What the author says: verbatim.
pub(super) fn said(label: &str) -> String {
    shortened(&clean(label), MOST)
}

/// A row that heads those below it.
pub(super) fn heading_row(words: &str) -> Row {
    Row { is_heading: true, number: None, cells: vec![Cell::verbatim(said(words))] }
}

pub(super) fn missing(heading: &str, words: &str) -> Block {
    Block::Note { kind: NoteKind::Missing, heading: heading.into(), blocks: vec![Block::text(words)] }
}

pub(super) fn bullets(items: Vec<Vec<Inline>>) -> Block {
    Block::List {
        numbered: false,
        items: items.into_iter().map(|line| vec![Block::Paragraph(line)]).collect(),
    }
}
