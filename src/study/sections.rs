//! Everything besides inputs and paths: sampling, units, correlations,
//! workings, results, alternatives, break-even.

use toml::de::DeValue;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::study::read::has_rows;
use crate::study::schema::{
    Alternative, Base, Better, BreakEvenDef, Correlation, Linking, Method, OwnUnit, ResultDef, Sampling,
    Strength, Working,
};
use crate::study::values::{Entry, Reader, Table};
use crate::study::words;

/// Most runs of a study.
const MAX_RUNS: i64 = 10_000_000_000;
/// Most replicates of a study.
const MAX_REPLICATES: i64 = 64;

/// Most chances of a break-even question.
const MAX_CHANCES: usize = 20;

/// Most lines of pinned dimensions.
const MAX_DIMENSIONS: usize = 5_000;

pub(super) const METHODS: [(&str, Method); 3] =
    [("sobol", Method::Sobol), ("latin hypercube", Method::LatinHypercube), ("random", Method::Random)];

pub(super) const LINKINGS: [(&str, Linking); 2] =
    [("gaussian copula", Linking::GaussianCopula), ("iman-conover", Linking::ImanConover)];

impl Reader<'_> {
    /// `[sampling]`.
    pub(crate) fn sampling_of(&mut self, entry: &Entry<'_>) -> Sampling {
        let Some(mut table) = self.table_of(entry, "[sampling] with the line runs = 16_384 below it") else {
            return Sampling::default();
        };
        let runs = table.take("runs").and_then(|e| self.whole_number_of(&e, 1, MAX_RUNS));
        let seed = table.take("seed").and_then(|e| self.whole_number_of(&e, 0, i64::MAX));
        let method = table.take("method").and_then(|e| self.word_of(&e, &METHODS));
        let replicates = table.take("replicates").and_then(|e| self.whole_number_of(&e, 1, MAX_REPLICATES));
        let dimensions = table.take("dimensions").and_then(|e| {
            let names = self.texts_of(&e)?;
            if names.len() <= MAX_DIMENSIONS {
                return Some(names);
            }
            self.error(
                Diagnostic::error(
                    "wrong-length",
                    format!("`{}` has more than {MAX_DIMENSIONS} lines", e.path),
                )
                .at(e.span.clone(), format!("these are {}", names.len())),
            );
            None
        });
        let repair = table.take("repair").and_then(|e| self.flag_of(&e));
        let linking = table.take("linking").and_then(|e| self.word_of(&e, &LINKINGS));
        self.check_linking(linking.as_ref(), method.as_ref());
        let until = table.take("until").and_then(|e| self.until_of(&e));
        table.finish(self);
        self.check_replicates(runs.as_ref(), method.as_ref(), replicates.as_ref());
        Sampling {
            runs: runs.map(|r| Spanned::new(r.value.unsigned_abs(), r.span)),
            seed: seed.map(|s| Spanned::new(s.value.unsigned_abs(), s.span)),
            method,
            replicates: replicates.and_then(|r| Some(Spanned::new(u32::try_from(r.value).ok()?, r.span))),
            dimensions,
            repair,
            linking,
            until,
        }
    }

    pub(crate) fn flag_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<bool>> {
        if let DeValue::Boolean(flag) = entry.value {
            return Some(Spanned::new(*flag, entry.span.clone()));
        }
        let found = self.wrong_type(entry, "true or false").hint("write it without quotes");
        self.error(found);
        None
    }

    /// Exact strata are there to be rearranged only in a Latin hypercube.
    fn check_linking(&mut self, linking: Option<&Spanned<Linking>>, method: Option<&Spanned<Method>>) {
        let Some(linking) = linking.filter(|l| l.value == Linking::ImanConover) else { return };
        if method.is_some_and(|m| m.value == Method::LatinHypercube) {
            return;
        }
        let mut found = Diagnostic::error(
            "misplaced-key",
            "`linking` rearranges the strata of a Latin hypercube, and this method has none".to_owned(),
        )
        .at(linking.span.clone(), "");
        if let Some(method) = method {
            found = found.also(method.span.clone(), "the method");
        }
        self.error(found.hint("add method = \"latin hypercube\"; or leave `linking` out"));
    }

    fn check_replicates(
        &mut self,
        runs: Option<&Spanned<i64>>,
        method: Option<&Spanned<Method>>,
        replicates: Option<&Spanned<i64>>,
    ) {
        let Some(replicates) = replicates else { return };
        if let Some(method) = method
            && method.value == Method::Random
            && replicates.value != 1
        {
            self.error(
                Diagnostic::error("misplaced-key", "random sampling has no replicates".to_owned())
                    .at(replicates.span.clone(), "")
                    .also(method.span.clone(), "the method")
                    .hint("leave `replicates` out: random runs are independent of each other anyway"),
            );
            return;
        }
        if let Some(runs) = runs
            && runs.value % replicates.value != 0
        {
            let whole = (runs.value / replicates.value).max(1) * replicates.value;
            self.error(
                Diagnostic::error("not-divisible", "runs must be a multiple of the replicates".to_owned())
                    .at(runs.span.clone(), "")
                    .also(replicates.span.clone(), "replicates")
                    .hint(format!("runs = {whole} would do")),
            );
        }
    }

    /// `[units]`, in file order.
    pub(crate) fn units_of(&mut self, entry: &Entry<'_>) -> Vec<OwnUnit> {
        let Some(mut table) = self.table_of(entry, "[units] with the line ct = \"0.01 EUR\" below it") else {
            self.whole = false;
            return Vec::new();
        };
        let mut units = Vec::new();
        for entry in table.take_all() {
            let definition = self.full_text_of(&entry);
            self.whole &= definition.is_some();
            let name = Spanned::new(entry.key.to_owned(), entry.key_span.clone());
            units.extend(definition.map(|definition| OwnUnit { name, definition }));
        }
        units
    }

    /// `[[correlations]]`.
    pub(crate) fn correlations_of(&mut self, entry: &Entry<'_>) -> Vec<Correlation> {
        self.tables_of(entry).into_iter().filter_map(|t| self.correlation_of(t)).collect()
    }

    fn correlation_of(&mut self, mut table: Table<'_>) -> Option<Correlation> {
        let between = self.require(&mut table, "between", "between = [\"gas_price\", \"export_price\"]");
        let between = between.and_then(|e| {
            let names = self.texts_of(&e)?;
            if names.len() >= 2 {
                return Some(names);
            }
            self.error(
                Diagnostic::error("wrong-length", "a correlation needs two names or more".to_owned())
                    .at(e.span.clone(), "this is one"),
            );
            None
        });
        let (rank, normal) = (table.take("rank"), table.take("normal"));
        if let Some(repair) = table.stray("repair") {
            self.error(
                Diagnostic::error("misplaced-key", "`repair` is said once for all correlations".to_owned())
                    .at(repair.key_span, "")
                    .hint("put the line under [sampling]"),
            );
        }
        let slip = self.slip_of(&table, &["rank", "normal"]);
        let span = table.span.clone();
        table.finish(self);
        let mut share =
            |e: Entry<'_>| self.number_that(&e, "a correlation from -1 to 1", |v| (-1.0..=1.0).contains(&v));
        let strength = match (rank, normal) {
            (Some(rank), None) => share(rank).map(Strength::Rank),
            (None, Some(normal)) => share(normal).map(Strength::Normal),
            (Some(rank), Some(normal)) => {
                self.error(
                    Diagnostic::error(
                        "several-values",
                        "a correlation has either `rank` or `normal`".to_owned(),
                    )
                    .at(normal.key_span, "another")
                    .also(rank.key_span, "one")
                    .hint("keep the one that you mean"),
                );
                None
            }
            (None, None) => {
                if !slip {
                    self.error(
                        Diagnostic::error("missing-key", "a correlation needs `rank` or `normal`".to_owned())
                            .at(span.clone(), "")
                            .hint("add a line such as: rank = 0.5"),
                    );
                }
                None
            }
        };
        Some(Correlation { between: between?, strength: strength?, span })
    }

    /// `[workings]`, in file order.
    pub(crate) fn workings_of(&mut self, entry: &Entry<'_>) -> Vec<Working> {
        let tables =
            self.named_tables(entry, "workings", "[workings.saving] with the line formula = \"..\" below it");
        let mut workings = Vec::new();
        for (name, mut table) in tables {
            let working = self.working_of(name, &mut table);
            table.finish(self);
            self.whole &= working.is_some();
            workings.extend(working);
        }
        workings
    }

    fn working_of(&mut self, name: Spanned<String>, table: &mut Table<'_>) -> Option<Working> {
        let about = self.about_of(table);
        let unit = self.unit_of(table);
        let formula = self.require(table, "formula", "formula = \"people * litres_each\"");
        let formula = formula.and_then(|e| self.formula_of(&e))?;
        Some(Working { name, about, unit, formula })
    }

    /// A formula, whose span is that of the text between the quotes. What
    /// stands in the file must be the formula byte by byte, or places within
    /// it could not be shown: so no backslash escapes.
    pub(crate) fn formula_of(&mut self, entry: &Entry<'_>) -> Option<Spanned<String>> {
        if matches!(entry.value, DeValue::Integer(_) | DeValue::Float(_)) {
            let written = self.text.get(entry.span.clone()).unwrap_or_default().to_owned();
            let found = self
                .wrong_type(entry, "a formula between quotes")
                .hint(format!("{} = \"{written}\"", entry.key));
            self.error(found);
            return None;
        }
        let text = self.full_text_of(entry)?;
        let written = self.text.get(text.span.clone()).unwrap_or_default();
        let marks = if written.starts_with("\"\"\"") || written.starts_with("'''") { 3 } else { 1 };
        let inner = written.get(marks..written.len().saturating_sub(marks)).unwrap_or_default();
        let start = text.span.start + written.len().min(marks);
        // A line break right after three quotes is not part of the text.
        let skipped = if marks == 1 {
            0
        } else if inner.starts_with("\r\n") {
            2
        } else {
            usize::from(inner.starts_with('\n'))
        };
        if inner.get(skipped..) == Some(text.value.as_str()) {
            let start = start + skipped;
            let span = start..start + text.value.len();
            return Some(Spanned::new(text.value, span));
        }
        self.error(
            Diagnostic::error("formula-escape", format!("`{}` holds a backslash", entry.path))
                .at(text.span, "")
                .hint("formulas need none: put the whole between single quotes where it holds double ones"),
        );
        None
    }

    /// `[results]`, in file order.
    pub(crate) fn results_of(&mut self, entry: &Entry<'_>) -> Vec<ResultDef> {
        let tables =
            self.named_tables(entry, "results", "[results.npv] with the line formula = \"..\" below it");
        let mut results = Vec::new();
        for (name, mut table) in tables {
            let working = self.working_of(name, &mut table);
            let at_least = table.take("at_least").and_then(|e| self.number_of(&e));
            let at_most = table.take("at_most").and_then(|e| self.number_of(&e));
            if let (Some(least), Some(most)) = (&at_least, &at_most) {
                self.error(
                    Diagnostic::error("several-values", "a result has one threshold".to_owned())
                        .at(most.span.clone(), "another")
                        .also(least.span.clone(), "one")
                        .hint("keep the one that you mean; for a range make a yes-or-no result: `x >= low and x <= high`"),
                );
            }
            let better = table
                .take("better")
                .and_then(|e| self.word_of(&e, &[("lower", Better::Lower), ("higher", Better::Higher)]));
            table.finish(self);
            self.whole &= working.is_some();
            results.extend(working.map(|working| ResultDef { working, at_least, at_most, better }));
        }
        results
    }

    /// `[alternatives]`, in file order.
    pub(crate) fn alternatives_of(&mut self, entry: &Entry<'_>) -> Vec<Alternative> {
        let example = "[alternatives.timer_only.inputs] with lines such as outlay_kit = 0 below it";
        let Some(mut table) = self.table_of(entry, example) else { return Vec::new() };
        let mut read = Vec::new();
        for entry in table.take_all() {
            if let Some(found) = words::check_name(entry.key, entry.key_span.clone()) {
                self.error(found);
                continue;
            }
            let Some(mut table) = self.table_of(&entry, example) else { continue };
            let label = table.take("label").and_then(|e| self.text_of(&e));
            let (inputs, workings) = (table.take("inputs"), table.take("workings"));
            let sets = |e: &Option<Entry<'_>>| e.as_ref().is_some_and(has_rows);
            let none = !sets(&inputs) && !sets(&workings) && !self.slip_of(&table, &["inputs", "workings"]);
            let inputs = inputs.map_or_else(Vec::new, |e| self.settings_of(&e, Self::setting_of));
            let workings = workings.map_or_else(Vec::new, |e| self.settings_of(&e, Self::formula_of));
            if none {
                self.error(
                    Diagnostic::error("empty", format!("`{}` sets nothing otherwise", table.path))
                        .at(table.span.clone(), "")
                        .hint(format!("such as {example}")),
                );
            }
            table.finish(self);
            let name = Spanned::new(entry.key.to_owned(), entry.key_span.clone());
            read.push(Alternative { name, label, inputs, workings });
        }
        read
    }

    /// Names set otherwise.
    fn settings_of<'v, T>(
        &mut self,
        entry: &Entry<'v>,
        read: impl Fn(&mut Self, &Entry<'v>) -> Option<T>,
    ) -> Vec<(Spanned<String>, T)> {
        let Some(mut table) = self.table_of(entry, "{ outlay_kit = 0 }") else { return Vec::new() };
        let entries = table.take_all();
        entries
            .iter()
            .filter_map(|e| Some((Spanned::new(e.key.to_owned(), e.key_span.clone()), read(self, e)?)))
            .collect()
    }

    fn setting_of(&mut self, entry: &Entry<'_>) -> Option<Base> {
        match entry.value {
            DeValue::String(_) => self.full_text_of(entry).map(Base::Label),
            DeValue::Integer(_) | DeValue::Float(_) => self.number_of(entry).map(Base::Number),
            _ => {
                let found = self.wrong_type(entry, "a number or a label");
                self.error(found);
                None
            }
        }
    }

    /// `[[break_even]]`.
    pub(crate) fn break_evens_of(&mut self, entry: &Entry<'_>) -> Vec<BreakEvenDef> {
        self.tables_of(entry).into_iter().filter_map(|t| self.break_even_of(t)).collect()
    }

    fn break_even_of(&mut self, mut table: Table<'_>) -> Option<BreakEvenDef> {
        let of = self.require(&mut table, "of", "of = \"export_price\"").and_then(|e| self.full_text_of(&e));
        let result = table.take("result").and_then(|e| self.full_text_of(&e));
        let against = table.take("against");
        let asks_map = against.as_ref().is_some_and(|e| matches!(e.value, DeValue::Array(_)));
        let against = against.map_or_else(Vec::new, |e| self.against_of(&e));
        let refined = table.take("refined").and_then(|e| self.flag_of(&e));
        let chances = table.take("chances").and_then(|e| self.chances_of(&e));
        let from = table.take("from").and_then(|e| self.number_of(&e));
        let to = table.take("to").and_then(|e| self.number_of(&e));
        self.check_order(from.as_ref(), to.as_ref(), "from", "to");
        let span = table.span.clone();
        table.finish(self);
        if let Some(refined) = refined.as_ref().filter(|_| !asks_map) {
            self.error(
                Diagnostic::error("misplaced-key", "`refined` is for a map against two inputs".to_owned())
                    .at(refined.span.clone(), "")
                    .hint("name both: against = [\"gas_price\", \"people\"]; or leave `refined` out"),
            );
        }
        let chances = chances.unwrap_or_default();
        let refined = refined.is_some_and(|flag| flag.value);
        Some(BreakEvenDef { of: of?, result, against, chances, refined, from, to, span })
    }

    /// One name, or a list of two.
    fn against_of(&mut self, entry: &Entry<'_>) -> Vec<Spanned<String>> {
        match entry.value {
            DeValue::String(_) => return self.full_text_of(entry).into_iter().collect(),
            DeValue::Array(_) => {}
            _ => {
                let found = self.wrong_type(entry, "a name, or a list of two names");
                self.error(found.hint("such as against = \"gas_price\""));
                return Vec::new();
            }
        }
        let Some(names) = self.texts_of(entry) else { return Vec::new() };
        if names.len() == 2 {
            return names;
        }
        let (message, here) = match names.len() {
            1 => ("a map needs two names".to_owned(), "this is one".to_owned()),
            n => ("a lever can be laid against two inputs at most".to_owned(), format!("these are {n}")),
        };
        let hint = match names.first() {
            Some(name) if names.len() == 1 => format!("for a curve write against = \"{}\"", name.value),
            _ => "ask again in another [[break_even]] for the others".to_owned(),
        };
        self.error(Diagnostic::error("wrong-length", message).at(entry.span.clone(), here).hint(hint));
        Vec::new()
    }

    /// Wanted shares of success.
    fn chances_of(&mut self, entry: &Entry<'_>) -> Option<Vec<Spanned<f64>>> {
        let items = self.items_of(entry, "a list of chances, such as [0.5, 0.8, 0.95]")?;
        if items.len() > MAX_CHANCES {
            self.error(
                Diagnostic::error(
                    "wrong-length",
                    format!("`{}` has more than {MAX_CHANCES} items", entry.path),
                )
                .at(entry.span.clone(), format!("these are {}", items.len())),
            );
            return None;
        }
        let between = |x: f64| x > 0.0 && x < 1.0;
        let read: Vec<Option<Spanned<f64>>> = items
            .iter()
            .map(|i| self.number_that(i, "a chance between 0 and 1, such as 0.8", between))
            .collect();
        let chances: Vec<Spanned<f64>> = read.into_iter().collect::<Option<_>>()?;
        for (k, chance) in chances.iter().enumerate() {
            if let Some(first) = chances[..k].iter().find(|first| first.value == chance.value) {
                self.error(
                    Diagnostic::error("listed-twice", format!("{} is listed twice", chance.value))
                        .at(chance.span.clone(), "")
                        .also(first.span.clone(), "first here"),
                );
                return None;
            }
        }
        Some(chances)
    }
}
