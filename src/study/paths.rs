//! `[paths]`: inputs with a value for each year.

use crate::diagnostic::{Diagnostic, Spanned};
use crate::study::schema::{Change, Drift, NumberOrDistribution, Path, Process};
use crate::study::values::{Entry, Reader, Table};

const EXAMPLE: &str = "[paths.gas_price] with its keys below it";

const PROCESSES: [(&str, Process); 4] = [
    ("steady growth", Process::SteadyGrowth),
    ("random walk", Process::RandomWalk),
    ("mean reverting", Process::MeanReverting),
    ("independent", Process::Independent),
];

/// Processes that a later version brings, with what does for now.
const LATER: [(&str, &str); 3] = [
    ("steps", "`changes` under a process of this version scale the price from a year on"),
    ("years", "`steady growth` with `changes` follows a known course"),
    ("scenarios", "make the growth an input with `choice` and use `growth = 0`, or write a study for each"),
];

impl Reader<'_> {
    /// All of `[paths]`, in file order.
    pub(crate) fn paths_of(&mut self, entry: &Entry<'_>) -> Vec<Path> {
        self.named_tables(entry, "paths", EXAMPLE)
            .into_iter()
            .filter_map(|(name, table)| {
                let path = self.path_of(name, table);
                self.whole &= path.is_some();
                path
            })
            .collect()
    }

    fn path_of(&mut self, name: Spanned<String>, mut table: Table<'_>) -> Option<Path> {
        let about = self.about_of(&mut table);
        let unit = self.unit_of(&mut table);
        let start = self.require(&mut table, "start", "start = 0.10");
        let start = start.and_then(|e| self.number_or_distribution_of(&e));
        let base = table.take("base");
        let growth = table.take("growth").map(|e| self.number_or_distribution_of(&e));
        let drift = table
            .take("drift")
            .and_then(|e| self.word_of(&e, &[("mean", Drift::Mean), ("median", Drift::Median)]));
        let process = self.require(&mut table, "process", "process = \"steady growth\"");
        let process = process.and_then(|e| self.process_of(&e));
        let half_life = table.take("half_life");
        let volatility = table.take("volatility");
        if let Some(process) = &process {
            self.check_companions(&table, process, half_life.as_ref(), volatility.as_ref());
        }
        let half_life = half_life.and_then(|e| self.number_that(&e, "above zero", |v| v > 0.0));
        let volatility = volatility.and_then(|e| self.number_that(&e, "zero or above", |v| v >= 0.0));
        let changes = table.take("changes").map_or_else(Vec::new, |e| self.changes_of(&e));
        let floor = table.take("floor").and_then(|e| self.number_of(&e));
        let ceiling = table.take("ceiling").and_then(|e| self.number_of(&e));
        self.check_order(floor.as_ref(), ceiling.as_ref(), "floor", "ceiling");
        table.finish(self);
        let start = start?;
        let base = base.and_then(|e| self.base_of_start(&e, &start));
        Some(Path {
            name,
            about,
            unit,
            start,
            base,
            growth: growth.flatten(),
            drift: drift.map(|d| d.value).unwrap_or_default(),
            process: process?,
            half_life,
            volatility,
            changes,
            floor,
            ceiling,
        })
    }

    fn process_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<Process>> {
        if let toml::de::DeValue::String(text) = entry.value
            && let Some((_, instead)) = LATER.iter().find(|(word, _)| word == text)
        {
            self.not_yet(&format!("the process \"{text}\""), entry.span.clone(), instead);
            return None;
        }
        self.word_of(entry, &PROCESSES)
    }

    fn base_of_start(&mut self, entry: &Entry<'_>, start: &NumberOrDistribution) -> Option<Spanned<f64>> {
        if let NumberOrDistribution::Number(number) = start {
            self.error(
                Diagnostic::error("misplaced-key", "a known start needs no `base`".to_owned())
                    .at(entry.key_span.clone(), "")
                    .also(number.span.clone(), "the start")
                    .hint("leave it out: the start itself is the base value"),
            );
            return None;
        }
        self.number_of(entry)
    }

    /// What a process needs, and what would have no effect with it.
    fn check_companions(
        &mut self,
        table: &Table<'_>,
        process: &Spanned<Process>,
        half_life: Option<&Entry<'_>>,
        volatility: Option<&Entry<'_>>,
    ) {
        let reverts = process.value == Process::MeanReverting;
        let shocks = process.value != Process::SteadyGrowth;
        let word = PROCESSES.iter().find(|(_, p)| *p == process.value).map_or("", |(w, _)| w);
        let companions = [
            ("half_life", reverts, half_life, "half_life = 5 (years)"),
            ("volatility", shocks, volatility, "volatility = 0.10 (of the logarithm, in a year)"),
        ];
        for (key, needed, given, example) in companions {
            let found = match (needed, given) {
                (true, None) if !self.slip_of(table, &[key]) => {
                    Diagnostic::error("missing-key", format!("`{}` has no `{key}`", table.path))
                        .at(process.span.clone(), "this process needs one")
                        .hint(format!("add a line such as: {example}"))
                }
                (false, Some(entry)) => Diagnostic::error(
                    "misplaced-key",
                    format!("`{key}` has no effect with the process \"{word}\""),
                )
                .at(entry.key_span.clone(), "")
                .also(process.span.clone(), "the process")
                .hint("leave it out, or choose another process"),
                _ => continue,
            };
            self.error(found);
        }
    }

    fn changes_of(&mut self, entry: &Entry<'_>) -> Vec<Change> {
        self.tables_of(entry).into_iter().filter_map(|table| self.change_of(table)).collect()
    }

    fn change_of(&mut self, mut table: Table<'_>) -> Option<Change> {
        let chance = table
            .take("chance")
            .and_then(|e| self.number_that(&e, "a share from 0 to 1", |v| (0.0..=1.0).contains(&v)));
        let year = self.require(&mut table, "year", "year = 2030");
        let year = year.and_then(|e| self.number_or_distribution_of(&e));
        let scale = self.require(&mut table, "scale", "scale = 0.5");
        let scale = scale.and_then(|e| self.number_or_distribution_of(&e));
        let span = table.span.clone();
        table.finish(self);
        Some(Change { chance, year: year?, scale: scale?, span })
    }
}
