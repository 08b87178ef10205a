//! Study text in, study and everything that is wrong with it out.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use crate::diagnostic::{Diagnostic, Spanned, has_errors};
use crate::study::schema::{Prices, Sampling, Study};
use crate::study::syntax;
use crate::study::values::{Entry, Reader, Table};
use crate::study::words;

/// Years that can be year 0.
const FIRST_YEARS: (i64, i64) = (1900, 2200);
/// Most years of a horizon.
const MAX_YEARS: i64 = 100;

/// Ids that say that something is absent: after a syntax error it may be there and unread.
const ABSENCES: [&str; 6] =
    ["missing-key", "no-value", "empty", "unknown-name", "wrong-length", "base-not-listed"];

/// Reads a study.
///
/// The study is there when every named thing in it could be read, even beside
/// errors, so that later stages can add theirs; it must not be run when there
/// are errors. Diagnostics come in the order of their places.
pub fn parse(text: &str) -> (Option<Study>, Vec<Diagnostic>) {
    // A byte order mark is no part of the text, but spans count it.
    if text.trim_start_matches('\u{feff}').trim().is_empty() {
        let found = Diagnostic::error("empty-file", "the study is empty")
            .hint("`payspread new` writes a study to start from");
        return (None, vec![found]);
    }
    if let Some(found) = rubbish(text) {
        return (None, vec![found]);
    }
    let (root, errors) = DeTable::parse_recoverable(hopeful(text));
    let syntax_errors = syntax::describe(text, root.get_ref(), &errors);
    let mut reader = Reader { text, found: Vec::new(), whole: true, names: BTreeMap::new() };
    let study = reader.study_of(root.get_ref());
    let study = study.filter(|_| reader.whole && syntax_errors.is_empty());
    let mut found = reader.found;
    if !syntax_errors.is_empty() {
        found = beside_syntax_errors(text, syntax_errors, found);
    }
    found.sort_by_key(|d| d.place.as_ref().map_or((0, 0), |p| (p.span.start, p.span.end)));
    debug_assert!(study.is_some() || has_errors(&found));
    (study, found)
}

/// The part of a large text that is worth parsing: all of it, unless its
/// beginning is no TOML at all. The parser keeps every error, and four
/// megabytes of them take more memory than the machine may have.
fn hopeful(text: &str) -> &str {
    const BEGINNING: usize = 256 * 1024;
    const HOPELESS: usize = 1_000;
    if text.len() <= 2 * BEGINNING {
        return text;
    }
    let beginning = syntax::within(text, 0..BEGINNING);
    let beginning = text.get(beginning).unwrap_or(text);
    let (_, errors) = DeTable::parse_recoverable(beginning);
    if errors.len() < HOPELESS { text } else { beginning }
}

/// Text with control characters that no editor writes is no study.
fn rubbish(text: &str) -> Option<Diagnostic> {
    let at = text.find('\0')?;
    Some(
        Diagnostic::error("not-text", "this is no text file: it holds zero bytes")
            .at(at..at + 1, "")
            .hint("a study is plain text in UTF-8; a spreadsheet or an archive is not"),
    )
}

/// Of what was found in a file with syntax errors, what can be relied on.
fn beside_syntax_errors(text: &str, mut syntax: Vec<Diagnostic>, found: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let lines = syntax::line_starts(text);
    let places = || syntax.iter().filter(|d| d.id == "syntax").filter_map(|d| d.place.as_ref());
    let unsettled = places().find(|p| syntax::unsettles(text, &p.span)).map_or(usize::MAX, |p| p.span.start);
    let bad_lines: Vec<usize> = places().map(|p| syntax::line_of(&lines, p.span.start)).collect();
    let only_duplicates = bad_lines.is_empty();
    let kept: Vec<Diagnostic> = found
        .into_iter()
        .filter(|d| {
            let Some(place) = &d.place else { return only_duplicates };
            (only_duplicates || !ABSENCES.contains(&d.id))
                && place.span.start < unsettled
                && bad_lines.binary_search(&syntax::line_of(&lines, place.span.start)).is_err()
        })
        .collect();
    syntax.extend(kept);
    syntax
}

impl Reader<'_> {
    fn inflation_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<String>> {
        if matches!(entry.value, DeValue::String(_)) {
            return self.full_text_of(entry);
        }
        let error = self.wrong_type(entry, "the name of an input or path");
        self.error(error.hint(
            "such as inflation = \"inflation\", with value = 0.02 and unit = \"1/yr\" in [inputs.inflation]",
        ));
        None
    }

    fn study_of(&mut self, root: &DeTable<'_>) -> Option<Study> {
        let mut top = Table::new("", root, 0..0);
        let title = self.require(&mut top, "title", "title = \"Does it pay back?\"");
        let title = title.and_then(|e| self.full_text_of(&e));
        let question = top.take("question").and_then(|e| self.full_text_of(&e));
        let currency = self.require(&mut top, "currency", "currency = \"EUR\"");
        let currency = currency.and_then(|e| self.currency_of(&e));
        let prices = self.prices_of(&mut top, "prices");
        let inflation = top.take("inflation").and_then(|e| self.inflation_of(&e));
        let first_year = self.require(&mut top, "first_year", "first_year = 2027");
        let first_year = first_year.and_then(|e| self.whole_number_of(&e, FIRST_YEARS.0, FIRST_YEARS.1));
        let years = self.require(&mut top, "years", "years = 20");
        let years = years.and_then(|e| self.whole_number_of(&e, 1, MAX_YEARS));
        let headline = top.take("headline").and_then(|e| self.full_text_of(&e));
        let sampling = top.take("sampling").map_or_else(Sampling::default, |e| self.sampling_of(&e));
        let units = self.section(&mut top, "units", Self::units_of);
        let inputs = self.section(&mut top, "inputs", Self::inputs_of);
        let paths = self.section(&mut top, "paths", Self::paths_of);
        let hotwater = self.section(&mut top, "hotwater", Self::hotwater_of);
        let correlations = self.section(&mut top, "correlations", Self::correlations_of);
        let workings = self.section(&mut top, "workings", Self::workings_of);
        let results_entry = top.take("results");
        let any_results = results_entry.as_ref().is_some_and(has_rows);
        let results = results_entry.map_or_else(Vec::new, |e| self.results_of(&e));
        let alternatives = self.section(&mut top, "alternatives", Self::alternatives_of);
        let break_even = self.section(&mut top, "break_even", Self::break_evens_of);
        let comparison = top.take("comparison").and_then(|e| self.comparison_of(&e));
        let indices = top.take("indices").and_then(|e| self.indices_of(&e));
        let measurements = self.section(&mut top, "measurements", Self::measurements_of);
        let conditions = top.take("conditions").and_then(|e| self.conditions_of(&e));
        let claim = top.take("claim").and_then(|e| self.claim_of(&e));
        let groups = self.section(&mut top, "groups", Self::groups_of);
        let report = top.take("report").and_then(|e| self.report_of(&e)).unwrap_or_default();
        top.later(self, &LATER);
        if !any_results {
            self.missing(&top, "results", "[results.npv] with the line formula = \"..\" below it");
        }
        if let Some(headline) = &headline {
            self.check_headline(headline);
        }
        top.finish(self);
        let prices = prices.unwrap_or_else(|| Spanned::new(Prices::Real, 0..0));
        let years = years?;
        let n_years = usize::try_from(years.value).ok()?;
        Some(Study {
            title: title?,
            question,
            currency: currency?,
            prices,
            inflation,
            first_year: first_year?,
            years: Spanned::new(n_years, years.span),
            headline,
            sampling,
            units,
            inputs,
            paths,
            hotwater,
            correlations,
            workings,
            results,
            alternatives,
            break_even,
            comparison,
            indices,
            measurements,
            conditions,
            claim,
            groups,
            report,
        })
    }

    fn section<'v, T>(
        &mut self,
        top: &mut Table<'v>,
        key: &'static str,
        read: impl Fn(&mut Self, &Entry<'v>) -> Vec<T>,
    ) -> Vec<T> {
        top.take(key).map_or_else(Vec::new, |e| read(self, &e))
    }

    /// Which money: `prices` of a study, `money` of an input or path.
    pub(crate) fn prices_of(&mut self, table: &mut Table<'_>, key: &'static str) -> Option<Spanned<Prices>> {
        let entry = table.take(key)?;
        self.word_of(&entry, &[("real", Prices::Real), ("nominal", Prices::Nominal)])
    }

    fn currency_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<String>> {
        let text = self.full_text_of(entry)?;
        if text.value.len() == 3 && text.value.bytes().all(|b| b.is_ascii_uppercase()) {
            return Some(text);
        }
        let capitals = text.value.to_ascii_uppercase();
        let found = Diagnostic::error("currency", "a currency is a code of three capital letters".to_owned())
            .at(text.span, "");
        self.error(if capitals.len() == 3 && capitals.bytes().all(|b| b.is_ascii_uppercase()) {
            found.hint(format!("write \"{capitals}\""))
        } else {
            found.hint("such as \"EUR\"; the sign itself may stand in labels")
        });
        None
    }

    fn check_headline(&mut self, headline: &Spanned<String>) {
        let results: Vec<&str> = self
            .names
            .iter()
            .filter(|(_, (_, section))| *section == "results")
            .map(|(n, _)| n.as_str())
            .collect();
        if results.is_empty() || results.contains(&headline.value.as_str()) {
            return;
        }
        let found = Diagnostic::error("unknown-name", format!("there is no result `{}`", headline.value))
            .at(headline.span.clone(), "");
        let found = match (words::nearest(&headline.value, &results), self.names.get(&headline.value)) {
            (_, Some((place, section))) => found
                .also(place.clone(), format!("this is in {section}"))
                .hint("the headline is one of the results"),
            (Some(near), None) => found.hint(format!("did you mean `{near}`?")),
            (None, None) => found.hint(format!("the results are {}", words::listed(&results, "and"))),
        };
        self.error(found);
    }
}

/// Parts of a study that a later version brings.
const LATER: [(&str, &str); 1] =
    [("population", "describe one home; inputs that differ between homes say varies = \"between homes\"")];

/// Whether a table has anything in it; what is no table is told elsewhere.
pub(crate) fn has_rows(entry: &Entry<'_>) -> bool {
    !matches!(entry.value, DeValue::Table(table) if table.is_empty())
}
