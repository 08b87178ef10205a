//! `[report]`: what stands on the report's first page and the study's own words for its parts.

use crate::diagnostic::{Diagnostic, Span};
use crate::study::read::has_rows;
use crate::study::values::{Entry, Reader, Table};

/// `[report]`; what is not given is left out of the report.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReportDef {
    /// For whom.
    pub client: Option<String>,
    /// The client's or author's number for it.
    pub reference: Option<String>,
    /// Who wrote it.
    pub author: Option<String>,
    /// Who checked it.
    pub checker: Option<String>,
    /// Such as "B" or "2".
    pub revision: Option<String>,
    /// Its date, as the reader shall see it.
    pub date: Option<String>,
    /// How numbers are written.
    pub numbers: NumberStyle,
    /// The decision that it serves.
    pub decision: Option<String>,
    /// What it covers; Markdown.
    pub scope: Option<String>,
    /// What it leaves out; Markdown.
    pub exclusions: Option<String>,
    /// Doubts about the model itself that no distribution covers; Markdown.
    pub doubts: Option<String>,
    /// What was agreed, with whom and when.
    pub agreed: Vec<AgreedDef>,
    /// The study's own words at the head of a part, Markdown, in the order of [`PARTS`].
    pub prose: Vec<(&'static str, String)>,
}

/// An assumption that was agreed on.
#[derive(Debug, Clone, PartialEq)]
pub struct AgreedDef {
    /// The assumption.
    pub what: String,
    /// When.
    pub date: Option<String>,
    /// With whom.
    pub with: Option<String>,
}

/// How numbers are written, by the example of 1234.5.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum NumberStyle {
    /// `1,234.5`
    #[default]
    CommaPoint,
    /// `1 234.5`, with a narrow space that does not break.
    SpacePoint,
    /// `1 234,5`
    SpaceComma,
    /// `1.234,5`
    PointComma,
    /// `1'234.5`
    ApostrophePoint,
    /// `1234.5`
    PlainPoint,
    /// `1234,5`
    PlainComma,
}

/// Each with the example by which the study asks for it.
pub const NUMBER_STYLES: [(&str, NumberStyle); 7] = [
    ("1,234.5", NumberStyle::CommaPoint),
    ("1 234.5", NumberStyle::SpacePoint),
    ("1 234,5", NumberStyle::SpaceComma),
    ("1.234,5", NumberStyle::PointComma),
    ("1'234.5", NumberStyle::ApostrophePoint),
    ("1234.5", NumberStyle::PlainPoint),
    ("1234,5", NumberStyle::PlainComma),
];

/// Parts of the report that take words of the study's own.
pub const PARTS: [&str; 7] = ["answer", "method", "inputs", "formulas", "results", "checks", "conclusion"];

/// Most lines of what was agreed.
const MOST_AGREED: usize = 200;

impl Reader<'_> {
    /// `[report]`.
    pub(crate) fn report_of(&mut self, entry: &Entry<'_>) -> Option<ReportDef> {
        let example = "[report] with lines such as client = \"..\" below it";
        let mut table = self.table_of(entry, example)?;
        let mut text =
            |reader: &mut Self, key: &'static str| table.take(key).and_then(|e| reader.words_of(&e));
        let mut report = ReportDef {
            client: text(self, "client"),
            reference: text(self, "reference"),
            author: text(self, "author"),
            checker: text(self, "checker"),
            revision: text(self, "revision"),
            date: text(self, "date"),
            decision: text(self, "decision"),
            scope: text(self, "scope"),
            exclusions: text(self, "exclusions"),
            doubts: text(self, "doubts"),
            ..ReportDef::default()
        };
        let numbers = table.take("numbers").and_then(|e| self.word_of(&e, &NUMBER_STYLES));
        report.numbers = numbers.map_or_else(NumberStyle::default, |style| style.value);
        report.agreed = table.take("agreed").map_or_else(Vec::new, |e| self.agreed_of(&e));
        report.prose = table.take("prose").map_or_else(Vec::new, |e| self.prose_of(&e));
        table.finish(self);
        Some(report)
    }

    fn words_of(&mut self, entry: &Entry<'_>) -> Option<String> {
        self.full_text_of(entry).map(|text| text.value)
    }

    fn agreed_of(&mut self, entry: &Entry<'_>) -> Vec<AgreedDef> {
        let tables = self.tables_of(entry);
        if let Some(table) = tables.get(MOST_AGREED) {
            let place: Span = table.span.clone();
            self.error(
                Diagnostic::error(
                    "wrong-length",
                    format!("`report.agreed` has more than {MOST_AGREED} lines"),
                )
                .at(place, "the first too many"),
            );
        }
        tables.into_iter().take(MOST_AGREED).filter_map(|table| self.one_agreed(table)).collect()
    }

    fn one_agreed(&mut self, mut table: Table<'_>) -> Option<AgreedDef> {
        let what = self.require(&mut table, "what", "what = \"Discount rate 4 % a year\"");
        let what = what.and_then(|e| self.words_of(&e));
        let date = table.take("date").and_then(|e| self.words_of(&e));
        let with = table.take("with").and_then(|e| self.words_of(&e));
        table.finish(self);
        Some(AgreedDef { what: what?, date, with })
    }

    fn prose_of(&mut self, entry: &Entry<'_>) -> Vec<(&'static str, String)> {
        let example = "[report.prose] with lines such as conclusion = \"..\" below it";
        let Some(mut table) = self.table_of(entry, example) else { return Vec::new() };
        if !has_rows(entry) {
            self.error(
                Diagnostic::error("empty", "`report.prose` says nothing".to_owned())
                    .at(entry.key_span.clone(), "")
                    .hint(format!("such as {example}")),
            );
        }
        let mut prose = Vec::new();
        for part in PARTS {
            prose.extend(table.take(part).and_then(|e| Some((part, self.words_of(&e)?))));
        }
        table.finish(self);
        prose
    }
}

impl ReportDef {
    /// The study's own words for a part.
    pub fn words_for(&self, part: &str) -> Option<&str> {
        self.prose.iter().find(|(name, _)| *name == part).map(|(_, text)| text.as_str())
    }
}
