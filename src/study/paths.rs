//! `[paths]`: inputs with a value for each year.

use crate::diagnostic::{Diagnostic, Spanned};
use crate::study::processes::ProcessKeys;
use crate::study::schema::{Drift, NumberOrDistribution, Path, Process};
use crate::study::values::{Entry, Reader, Table};

const EXAMPLE: &str = "[paths.gas_price] with its keys below it";

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
        let keys = ProcessKeys::take(&mut table);
        let process = self.require(&mut table, "process", "process = \"steady growth\"");
        let process = process.and_then(|e| self.process_of(&e));
        match &process {
            Some(process) => self.check_companions(&table, process, &keys),
            None if keys.get("start").is_none() => self.missing(&table, "start", "start = 0.10"),
            None => {}
        }
        let start = keys.get("start").and_then(|e| self.number_or_distribution_of(e));
        let growth = keys.get("growth").map(|e| self.number_or_distribution_of(e));
        let drift = keys
            .get("drift")
            .and_then(|e| self.word_of(e, &[("mean", Drift::Mean), ("median", Drift::Median)]));
        let half_life = keys.get("half_life").and_then(|e| self.number_that(e, "above zero", |v| v > 0.0));
        let volatility =
            keys.get("volatility").and_then(|e| self.number_that(e, "zero or above", |v| v >= 0.0));
        let steps = keys.get("steps").map_or_else(Vec::new, |e| self.steps_of(e));
        let of_table = process.as_ref().and_then(|p| self.path_table_of(p, &table, &keys));
        let changes = table.take("changes").map_or_else(Vec::new, |e| self.changes_of(&e));
        let money = self.prices_of(&mut table, "money");
        let floor = table.take("floor").and_then(|e| self.number_of(&e));
        let ceiling = table.take("ceiling").and_then(|e| self.number_of(&e));
        self.check_order(floor.as_ref(), ceiling.as_ref(), "floor", "ceiling");
        table.finish(self);
        let process = process?;
        let has_table = matches!(process.value, Process::Years | Process::Scenarios);
        if (has_table && of_table.is_none()) || (!has_table && start.is_none()) {
            return None;
        }
        let base = keys.get("base").zip(start.as_ref().filter(|_| !has_table));
        let base = base.and_then(|(e, start)| self.base_of_start(e, start));
        Some(Path {
            name,
            about,
            unit,
            start: start.filter(|_| !has_table),
            base,
            growth: growth.flatten(),
            drift: drift.map(|d| d.value).unwrap_or_default(),
            process,
            half_life,
            volatility,
            steps,
            table: of_table,
            changes,
            money,
            floor,
            ceiling,
        })
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
}
