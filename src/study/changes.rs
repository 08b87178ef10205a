//! `changes` of inputs and paths, `steps` of a path: what holds from a year on.

use toml::de::DeValue;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::study::schema::{Change, ChangeValue, Effect};
use crate::study::values::{Entry, Reader, Table};
use crate::study::words;

impl Reader<'_> {
    /// `changes = [ { chance, year, scale | to | add | at_most | at_least }, .. ]`.
    pub(crate) fn changes_of(&mut self, entry: &Entry<'_>) -> Vec<Change> {
        self.tables_of(entry).into_iter().filter_map(|table| self.change_of(table)).collect()
    }

    fn change_of(&mut self, mut table: Table<'_>) -> Option<Change> {
        let chance = table
            .take("chance")
            .and_then(|e| self.number_that(&e, "a share from 0 to 1", |v| (0.0..=1.0).contains(&v)));
        let year = self.require(&mut table, "year", "year = 2030");
        let year = year.and_then(|e| self.number_or_distribution_of(&e));
        let effect = self.effect_of(&mut table, &Effect::ALL);
        let span = table.span.clone();
        table.finish(self);
        let (effect, by) = effect?;
        Some(Change { chance, year: year?, effect, by, span })
    }

    /// `steps = [ { year, to | scale }, .. ]`, in the order of their years.
    pub(crate) fn steps_of(&mut self, entry: &Entry<'_>) -> Vec<Change> {
        let tables = self.tables_of(entry);
        if tables.is_empty() && matches!(entry.value, DeValue::Array(_)) {
            self.error(
                Diagnostic::error("empty", format!("`{}` is an empty list", entry.path))
                    .at(entry.span.clone(), "")
                    .hint("such as steps = [ { year = 2030, to = 0.12 } ]"),
            );
        }
        let mut steps: Vec<(Spanned<f64>, Change)> = Vec::new();
        for table in tables {
            let Some((year, step)) = self.step_of(table) else { continue };
            if let Some((before, _)) = steps.last().filter(|(before, _)| year.value <= before.value) {
                let error = Diagnostic::error("out-of-order", "steps go from year to later year")
                    .at(year.span.clone(), format!("this is {}", year.value))
                    .also(before.span.clone(), format!("the step before it is {}", before.value))
                    .hint("put them in the order of their years, each year once");
                self.error(error);
            }
            steps.push((year, step));
        }
        steps.into_iter().map(|(_, step)| step).collect()
    }

    fn step_of(&mut self, mut table: Table<'_>) -> Option<(Spanned<f64>, Change)> {
        let year = self.require(&mut table, "year", "year = 2030");
        let year = year.and_then(|e| self.number_that(&e, "a calendar year", |v| v.fract() == 0.0));
        let effect = self.effect_of(&mut table, &Effect::ALL[..2]);
        let span = table.span.clone();
        table.finish(self);
        let (year, (effect, by)) = (year?, effect?);
        let known = crate::study::schema::NumberOrDistribution::Number(year.clone());
        Some((year, Change { chance: None, year: known, effect, by, span }))
    }

    /// The one effect of a change, with its value.
    fn effect_of(
        &mut self,
        table: &mut Table<'_>,
        effects: &[(&'static str, Effect)],
    ) -> Option<(Spanned<Effect>, ChangeValue)> {
        let given: Vec<(Entry<'_>, Effect)> =
            effects.iter().filter_map(|(key, effect)| Some((table.take(key)?, *effect))).collect();
        let keys: Vec<&str> = effects.iter().map(|(key, _)| *key).collect();
        match given.as_slice() {
            [(entry, effect)] => {
                let by = match (effect, entry.value) {
                    (Effect::To, DeValue::String(_)) => self.full_text_of(entry).map(ChangeValue::Label),
                    _ => self.number_or_distribution_of(entry).map(ChangeValue::Number),
                };
                Some((Spanned::new(*effect, entry.key_span.clone()), by?))
            }
            [] if self.slip_of(table, &keys) => None,
            [] => {
                self.error(
                    Diagnostic::error("missing-key", format!("`{}` does not say what changes", table.path))
                        .at(table.span.clone(), "")
                        .hint(format!("give one of {}, such as scale = 0.5", words::listed(&keys, "or"))),
                );
                None
            }
            [(first, _), (second, _), ..] => {
                self.error(
                    Diagnostic::error("several-values", format!("`{}` has more than one effect", table.path))
                        .at(second.key_span.clone(), "another")
                        .also(first.key_span.clone(), "one")
                        .hint("write a change for each: they act in the order of the list"),
                );
                None
            }
        }
    }
}
