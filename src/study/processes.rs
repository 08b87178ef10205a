//! How paths move: which keys each process needs, which it may have, and what it means.

use crate::diagnostic::{Diagnostic, Spanned};
use crate::study::schema::{Process, TableText};
use crate::study::values::{Entry, Reader, Table};

/// A process of the study language.
pub struct ProcessKind {
    /// Its word.
    pub word: &'static str,
    /// What it is.
    pub process: Process,
    /// Keys without which it cannot be, with an example of each.
    pub needs: &'static [(&'static str, &'static str)],
    /// Keys that it may have besides.
    pub may: &'static [&'static str],
    /// What it means.
    pub summary: &'static str,
}

const START: (&str, &str) = ("start", "start = 0.10");
const VOLATILITY: (&str, &str) = ("volatility", "volatility = 0.10 (of the logarithm, in a year)");
const MOVING: &[&str] = &["base", "growth", "drift"];

/// All processes.
pub const PROCESSES: [ProcessKind; 7] = [
    ProcessKind {
        word: "steady growth",
        process: Process::SteadyGrowth,
        needs: &[START],
        may: MOVING,
        summary: "Start times (1 + growth) to the power of the year, without shocks.",
    },
    ProcessKind {
        word: "random walk",
        process: Process::RandomWalk,
        needs: &[START, VOLATILITY],
        may: MOVING,
        summary: "Shocks that stay: volatility is the sd of a year's change of the logarithm.",
    },
    ProcessKind {
        word: "mean reverting",
        process: Process::MeanReverting,
        needs: &[START, ("half_life", "half_life = 5 (years)"), VOLATILITY],
        may: MOVING,
        summary: "Shocks that fade by half in half_life years: volatility is the instantaneous one of the logarithm \
                  per square-root year, so the sd of a year's change is a little less (Schwartz 1997).",
    },
    ProcessKind {
        word: "independent",
        process: Process::Independent,
        needs: &[START, VOLATILITY],
        may: MOVING,
        summary: "A fresh factor of mean 1 in each year, the first too: weather.",
    },
    ProcessKind {
        word: "steps",
        process: Process::Steps,
        needs: &[START, ("steps", "steps = [ { year = 2030, to = 0.12 } ]")],
        may: &["base"],
        summary: "The start, and from the year of each step on the value to, or the value before times scale; both may be distributions.",
    },
    ProcessKind {
        word: "years",
        process: Process::Years,
        needs: &[],
        may: &["values", "file", "column"],
        summary: "A known value for each year: values = [..], or file and column of a CSV with a row for each year.",
    },
    ProcessKind {
        word: "scenarios",
        process: Process::Scenarios,
        needs: &[("file", "file = \"prices.csv\"")],
        may: &["columns", "weights", "base"],
        summary: "Columns of a CSV with a row for each year: with weights one of them in each run, without each answered by itself; \
                  NAME.scenario in formulas is which.",
    },
];

/// Keys of paths that not every process has.
pub(super) const KEYS: [&str; 12] = [
    "start",
    "base",
    "growth",
    "drift",
    "half_life",
    "volatility",
    "steps",
    "values",
    "file",
    "column",
    "columns",
    "weights",
];

/// The entries of a path that not every process has.
pub(crate) struct ProcessKeys<'v>(Vec<Entry<'v>>);

impl<'v> ProcessKeys<'v> {
    pub(crate) fn take(table: &mut Table<'v>) -> Self {
        ProcessKeys(KEYS.iter().filter_map(|key| table.take(key)).collect())
    }

    pub(crate) fn get(&self, key: &str) -> Option<&Entry<'v>> {
        self.0.iter().find(|entry| entry.key == key)
    }
}

impl Reader<'_> {
    pub(crate) fn process_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<Process>> {
        let words: Vec<(&str, Process)> = PROCESSES.iter().map(|kind| (kind.word, kind.process)).collect();
        self.word_of(entry, &words)
    }

    /// What a process needs, and what would have no effect with it.
    pub(crate) fn check_companions(
        &mut self,
        table: &Table<'_>,
        process: &Spanned<Process>,
        keys: &ProcessKeys<'_>,
    ) {
        let Some(kind) = PROCESSES.iter().find(|kind| kind.process == process.value) else { return };
        for (key, example) in kind.needs {
            if keys.get(key).is_some() || self.slip_of(table, &[key]) {
                continue;
            }
            let missing = Diagnostic::error("missing-key", format!("`{}` has no `{key}`", table.path));
            let missing = match *key {
                "start" => missing.at(table.span.clone(), ""),
                _ => missing.at(process.span.clone(), "this process needs one"),
            };
            self.error(missing.hint(format!("add a line such as: {example}")));
        }
        for entry in &keys.0 {
            if kind.needs.iter().any(|(key, _)| *key == entry.key) || kind.may.contains(&entry.key) {
                continue;
            }
            let message = format!("`{}` has no effect with the process \"{}\"", entry.key, kind.word);
            let misplaced = Diagnostic::error("misplaced-key", message)
                .at(entry.key_span.clone(), "")
                .also(process.span.clone(), "the process")
                .hint("leave it out, or choose another process");
            self.error(misplaced);
        }
    }

    /// The table of the processes `years` and `scenarios`; none for the others, or where it is not whole.
    pub(crate) fn path_table_of(
        &mut self,
        process: &Spanned<Process>,
        table: &Table<'_>,
        keys: &ProcessKeys<'_>,
    ) -> Option<TableText> {
        let by_years = process.value == Process::Years;
        if !by_years && process.value != Process::Scenarios {
            return None;
        }
        let mut text = |key| keys.get(key).and_then(|e| self.full_text_of(e));
        let (file, column) = (text("file"), text("column"));
        let numbers = |reader: &mut Self, key| {
            keys.get(key).and_then(|e| Some((reader.numbers_of(e)?, e.span.clone())))
        };
        let (values, weights) = (numbers(self, "values"), numbers(self, "weights"));
        let columns = keys.get("columns").and_then(|e| self.texts_of(e));
        let base = keys.get("base").filter(|_| !by_years).and_then(|e| self.full_text_of(e));
        let given = |key| keys.get(key).is_some();
        if by_years && !self.one_source(process, table, keys) {
            return None;
        }
        // What is there and could not be read has been told.
        let sound = given("values") == values.is_some()
            && given("file") == file.is_some()
            && given("column") == column.is_some()
            && given("weights") == weights.is_some()
            && given("columns") == columns.is_some();
        (sound && (file.is_some() || values.is_some())).then_some(TableText {
            values,
            file,
            column,
            columns,
            weights,
            base,
        })
    }

    /// Whether `years` has a list, or a file and its column, and not both.
    fn one_source(&mut self, process: &Spanned<Process>, table: &Table<'_>, keys: &ProcessKeys<'_>) -> bool {
        let path = &table.path;
        let error = match (keys.get("values"), keys.get("file"), keys.get("column")) {
            (Some(_), None, None) | (None, Some(_), Some(_)) => return true,
            (Some(values), Some(other), _) | (Some(values), None, Some(other)) => Diagnostic::error(
                "several-values",
                format!("`{path}` says `values` and `{}` at once", other.key),
            )
            .at(other.key_span.clone(), "another")
            .also(values.key_span.clone(), "one")
            .hint("keep the one that you mean"),
            _ if self.slip_of(table, &["values", "file", "column"]) => return false,
            (None, Some(file), None) => Diagnostic::error("missing-key", format!("`{path}` has no `column`"))
                .at(file.span.clone(), "which column of this file?")
                .hint("add a line such as: column = \"mid\""),
            (None, None, Some(column)) => Diagnostic::error("missing-key", format!("`{path}` has no `file`"))
                .at(column.span.clone(), "a column of which file?")
                .hint("add a line such as: file = \"prices.csv\""),
            (None, None, None) => Diagnostic::error("missing-key", format!("`{path}` has no values"))
                .at(process.span.clone(), "this process needs one for each year")
                .hint("add values = [0.10, 0.11, ..], or file and column of a CSV file"),
        };
        self.error(error);
        false
    }
}
