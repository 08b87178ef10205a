//! Sections that ask more of the runs: `[comparison]`, `[indices]`, `[[measurements]]`, `[conditions]`, `[claim]` and
//! `[[groups]]`.

use toml::de::DeValue;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::study::further::{
    ClaimDef, ComparisonDef, ConditionsDef, GroupsDef, IndicesDef, MeasurementDef, Nothing,
};
use crate::study::read::has_rows;
use crate::study::values::{Entry, Reader, Table};

/// Fewest and most rows of a variance design.
const BASE_POINTS: (i64, i64) = (64, 1 << 22);

/// Most observations that can be made.
const MAX_OBSERVATIONS: i64 = 1_000_000;

impl Reader<'_> {
    /// `[comparison]`.
    pub(crate) fn comparison_of(&mut self, entry: &Entry<'_>) -> Option<ComparisonDef> {
        let mut table = self.table_of(entry, "[comparison] with the line result = \"npv\" below it")?;
        let result = table.take("result").and_then(|e| self.full_text_of(&e));
        let label = table.take("label").and_then(|e| self.text_of(&e));
        let nothing = table.take("nothing").and_then(|e| self.nothing_of(&e));
        let along = table.take("along").and_then(|e| self.texts_of(&e)).unwrap_or_default();
        let span = entry.key_span.clone();
        table.finish(self);
        Some(ComparisonDef { result, label, nothing, along, span })
    }

    fn nothing_of(&mut self, entry: &Entry<'_>) -> Option<Nothing> {
        match entry.value {
            DeValue::String(_) => self.full_text_of(entry).map(Nothing::Name),
            DeValue::Integer(_) | DeValue::Float(_) => self.number_of(entry).map(Nothing::Number),
            _ => {
                let found = self.wrong_type(entry, "a number, \"study\" or the name of an alternative");
                self.error(found.hint("such as nothing = 0: the result is 0 when nothing is done"));
                None
            }
        }
    }

    /// `[indices]`.
    pub(crate) fn indices_of(&mut self, entry: &Entry<'_>) -> Option<IndicesDef> {
        let mut table = self.table_of(entry, "[indices] with the line base_points = 4096 below it")?;
        let result = table.take("result").and_then(|e| self.full_text_of(&e));
        let points = table.take("base_points");
        let points = points.and_then(|e| self.whole_number_of(&e, BASE_POINTS.0, BASE_POINTS.1));
        let shapley = table.take("shapley").and_then(|e| self.flag_of(&e));
        table.finish(self);
        let base_points = points.map(|n| Spanned::new(n.value.unsigned_abs(), n.span));
        Some(IndicesDef { result, base_points, shapley })
    }

    /// `[[measurements]]`.
    pub(crate) fn measurements_of(&mut self, entry: &Entry<'_>) -> Vec<MeasurementDef> {
        self.tables_of(entry).into_iter().filter_map(|t| self.measurement_of(t)).collect()
    }

    fn measurement_of(&mut self, mut table: Table<'_>) -> Option<MeasurementDef> {
        let of = self.require(&mut table, "of", "of = \"litres_each\"").and_then(|e| self.full_text_of(&e));
        let observations = self.require(&mut table, "observations", "observations = 14");
        let observations = observations.and_then(|e| self.whole_number_of(&e, 1, MAX_OBSERVATIONS));
        let above = |x: f64| x > 0.0 && x.is_finite();
        let sd = self.require(&mut table, "sd", "sd = 12");
        let sd = sd.and_then(|e| self.number_that(&e, "a number above 0", above));
        let not_below = |x: f64| x >= 0.0 && x.is_finite();
        let cost = table.take("cost").and_then(|e| self.number_that(&e, "a number not below 0", not_below));
        let label = table.take("label").and_then(|e| self.text_of(&e));
        table.finish(self);
        let observations = observations.map(|n| Spanned::new(n.value.unsigned_abs(), n.span));
        Some(MeasurementDef { of: of?, observations: observations?, sd: sd?, cost, label })
    }

    /// `[conditions]`.
    pub(crate) fn conditions_of(&mut self, entry: &Entry<'_>) -> Option<ConditionsDef> {
        let mut table = self.table_of(entry, "[conditions] with the line result = \"npv\" below it")?;
        let result = table.take("result").and_then(|e| self.full_text_of(&e));
        let span = entry.key_span.clone();
        table.finish(self);
        Some(ConditionsDef { result, span })
    }

    /// `[claim]`.
    pub(crate) fn claim_of(&mut self, entry: &Entry<'_>) -> Option<ClaimDef> {
        let example = "[claim] with lines such as payback = 6 below it";
        let mut table = self.table_of(entry, example)?;
        if !has_rows(entry) {
            self.error(
                Diagnostic::error("empty", "`claim` promises nothing".to_owned())
                    .at(entry.key_span.clone(), "")
                    .hint(format!("such as {example}: names of results, workings or inputs")),
            );
        }
        let entries = table.take_all();
        let promise =
            |e: &Entry<'_>| Some((Spanned::new(e.key.to_owned(), e.key_span.clone()), self.number_of(e)?));
        let promises = entries.iter().filter_map(promise).collect();
        Some(ClaimDef { promises })
    }

    /// `[[groups]]`.
    pub(crate) fn groups_of(&mut self, entry: &Entry<'_>) -> Vec<GroupsDef> {
        self.tables_of(entry).into_iter().filter_map(|t| self.group_of(t)).collect()
    }

    fn group_of(&mut self, mut table: Table<'_>) -> Option<GroupsDef> {
        let result = table.take("result").and_then(|e| self.full_text_of(&e));
        let by = self.require(&mut table, "by", "by = \"people\"").and_then(|e| self.full_text_of(&e));
        table.finish(self);
        Some(GroupsDef { result, by: by? })
    }
}
