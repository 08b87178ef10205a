//! From a study as written to a model: all that is wrong in one go.

use crate::diagnostic::{Diagnostic, Spanned, has_errors};
use crate::formula::types::{Kind, Shape, Type};
use crate::model::names::KnownNames;
use crate::model::{
    BreakEvenItem, Input, LinkItem, Model, Path, ResultItem, SamplingWish, Working, inputs, workings,
};
use crate::sampling::dependence::{normal_from_rank, rank_from_normal};
use crate::sampling::{Design, Method};
use crate::study::{self, Strength, Study};
use crate::units::suggestion::nearest;
use crate::units::{DefineError, UnitTable};

/// Runs, seed and replicates where the study gives none.
const DEFAULTS: (u64, u64, u32) = (16_384, 1, 8);

/// The model of a study; none when something is wrong. What is doubtful is in the model's cautions.
pub fn check(study: &Study) -> (Option<Model>, Vec<Diagnostic>) {
    let mut found = Vec::new();
    let model = check_all(study, &mut found);
    match model {
        Some(mut model) if !has_errors(&found) => {
            found.extend(crate::model::lower::try_out(&model).err());
            if has_errors(&found) {
                return (None, found);
            }
            model.cautions.clone_from(&found);
            (Some(model), found)
        }
        _ => (None, found),
    }
}

fn check_all(study: &Study, found: &mut Vec<Diagnostic>) -> Option<Model> {
    let units = unit_table(study, found);
    let inputs = inputs::check_inputs(study, &units, found);
    let paths = inputs::check_paths(study, &units, found);
    let mut names = known_names(study, &inputs, &paths);
    let whole = inputs.len() == study.inputs.len() && paths.len() == study.paths.len();
    let defs: Vec<&study::Working> =
        study.workings.iter().chain(study.results.iter().map(|result| &result.working)).collect();
    if !whole {
        // Formulas over names that are broken would only repeat the errors; those over sound names still speak.
        assume_broken_names(study, &inputs, &paths, &units, &mut names);
    }
    let (workings, groups) = workings::check(&defs, &mut names, &units, found)?;
    let results = results(study, &workings, found);
    let links = links(study, &inputs, &paths, found);
    let break_even = break_even(study, &inputs, &paths, &workings, &results, found);
    let headline = headline(study, &workings, &results);
    let model = Model {
        title: study.title.value.clone(),
        question: study.question.as_ref().map(|q| q.value.clone()),
        currency: study.currency.value.clone(),
        prices: study.prices.value,
        first_year: study.first_year.value,
        years: study.years.value,
        sampling: sampling(study),
        units,
        inputs,
        paths,
        workings,
        groups,
        results,
        headline,
        links,
        break_even,
        cautions: Vec::new(),
    };
    if has_errors(found) {
        return None;
    }
    check_plan(study, &model, found);
    Some(model)
}

fn unit_table(study: &Study, found: &mut Vec<Diagnostic>) -> UnitTable {
    let mut units = UnitTable::new(&study.currency.value);
    for own in &study.units {
        if let Err(error) = units.define(&own.name.value, &own.definition.value) {
            found.push(match error {
                DefineError::Name(error) => error.diagnostic(own.name.span.start),
                DefineError::Definition(error) => error.diagnostic(workings::inside_quotes(&own.definition)),
            });
        }
    }
    units
}

fn known_names(study: &Study, inputs: &[Input], paths: &[Path]) -> KnownNames {
    let mut names = KnownNames { years: study.years.value, ..KnownNames::default() };
    for input in inputs {
        names.types.insert(input.about.name.clone(), input.ty.clone());
        if input.is_drawn() && !matches!(input.ty.kind, Kind::Label(_)) {
            names.drawn.push(input.about.name.clone());
        }
    }
    for path in paths {
        let kind = Kind::Number { dimension: path.unit.dimension, point: path.unit.point };
        let name = &path.about.name;
        names.types.insert(format!("{name}.start"), Type { kind: kind.clone(), shape: Shape::Single });
        names.types.insert(name.clone(), Type { kind, shape: Shape::Yearly });
    }
    names
}

/// Types of inputs and paths that have an error of their own, as far as their unit tells.
fn assume_broken_names(
    study: &Study,
    inputs: &[Input],
    paths: &[Path],
    units: &UnitTable,
    names: &mut KnownNames,
) {
    let mut ignored = Vec::new();
    for input in study.inputs.iter().filter(|i| !inputs.iter().any(|sound| sound.about.name == i.name.value))
    {
        let shape = if matches!(input.value, study::InputValue::Monthly(..)) {
            Shape::Monthly
        } else {
            Shape::Single
        };
        if let Some(unit) = workings::unit_of(input.unit.as_ref(), units, &mut ignored) {
            let kind = match &input.value {
                study::InputValue::Labels { values, .. } | study::InputValue::ChoiceOfLabels(values, _) => {
                    Kind::Label(values.iter().map(|v| v.value.clone()).collect())
                }
                _ => Kind::Number { dimension: unit.dimension, point: unit.point },
            };
            names.types.insert(input.name.value.clone(), Type { kind, shape });
            names.drawn.push(input.name.value.clone());
        }
    }
    for path in study.paths.iter().filter(|p| !paths.iter().any(|sound| sound.about.name == p.name.value)) {
        if let Some(unit) = workings::unit_of(path.unit.as_ref(), units, &mut ignored) {
            let kind = Kind::Number { dimension: unit.dimension, point: unit.point };
            names.types.insert(path.name.value.clone(), Type { kind, shape: Shape::Yearly });
        }
    }
}

fn sampling(study: &Study) -> SamplingWish {
    let wish = &study.sampling;
    let value = |x: &Option<Spanned<u64>>, default| x.as_ref().map_or(default, |x| x.value);
    SamplingWish {
        runs: value(&wish.runs, DEFAULTS.0),
        seed: value(&wish.seed, DEFAULTS.1),
        method: wish.method.as_ref().map_or(Method::Sobol, |m| method(m.value)),
        replicates: wish.replicates.as_ref().map_or(DEFAULTS.2, |r| r.value),
        dimensions: wish.dimensions.iter().flatten().map(|d| d.value.clone()).collect(),
    }
}

fn method(method: study::Method) -> Method {
    match method {
        study::Method::Sobol => Method::Sobol,
        study::Method::LatinHypercube => Method::LatinHypercube,
        study::Method::Random => Method::Random,
    }
}

fn results(study: &Study, workings: &[Working], found: &mut Vec<Diagnostic>) -> Vec<ResultItem> {
    let first = study.workings.len();
    let mut items = Vec::with_capacity(study.results.len());
    for (k, def) in study.results.iter().enumerate() {
        let Some(working) = workings.get(first + k) else { continue };
        if working.shape() != Shape::Single {
            found.push(
                Diagnostic::error(
                    "result-shape",
                    format!("the result `{}` has several values", working.about.name),
                )
                .at(def.working.formula.span.clone(), "a result is one value a run")
                .hint("reduce it with sum_years, mean_years or at_year, or make it a working"),
            );
        }
        if let Kind::Label(_) = working.formula.ty.kind {
            found.push(
                Diagnostic::error("result-kind", format!("the result `{}` is a label", working.about.name))
                    .at(def.working.formula.span.clone(), "")
                    .hint("a result is a number, a number of years, or yes or no"),
            );
        }
        let threshold = def.at_least.as_ref().or(def.at_most.as_ref());
        if let (Some(threshold), Kind::YesNo) = (threshold, &working.formula.ty.kind) {
            found.push(
                Diagnostic::error("threshold-kind", "a yes-or-no result needs no threshold")
                    .at(threshold.span.clone(), "its share of yes is reported as it is"),
            );
        }
        items.push(ResultItem {
            working: first + k,
            at_least: def.at_least.as_ref().map(|x| x.value),
            at_most: def.at_most.as_ref().map(|x| x.value),
            better: def.better.as_ref().map(|b| b.value),
        });
    }
    items
}

fn headline(study: &Study, workings: &[Working], results: &[ResultItem]) -> usize {
    let named = study.headline.as_ref().and_then(|name| {
        results.iter().position(|r| workings.get(r.working).is_some_and(|w| w.about.name == name.value))
    });
    named.unwrap_or(0)
}

fn links(study: &Study, inputs: &[Input], paths: &[Path], found: &mut Vec<Diagnostic>) -> Vec<LinkItem> {
    let mut links: Vec<LinkItem> = Vec::new();
    for correlation in &study.correlations {
        let names = &correlation.between;
        let mut sound = true;
        for name in names {
            if let Some(error) = not_linkable(name, inputs, paths) {
                found.push(error);
                sound = false;
            }
        }
        for (k, a) in names.iter().enumerate() {
            for b in &names[k + 1..] {
                let (rank, normal) = match &correlation.strength {
                    Strength::Rank(rank) => (rank.value, normal_from_rank(rank.value)),
                    Strength::Normal(normal) => (rank_from_normal(normal.value), normal.value),
                };
                let twice = links.iter().any(|l| {
                    (l.first == a.value && l.second == b.value) || (l.first == b.value && l.second == a.value)
                });
                if twice || a.value == b.value {
                    let what = format!("the link between `{}` and `{}` is given twice", a.value, b.value);
                    let what =
                        if a.value == b.value { format!("`{}` is linked to itself", a.value) } else { what };
                    found.push(Diagnostic::error("link-twice", what).at(b.span.clone(), ""));
                } else if sound {
                    links.push(LinkItem { first: a.value.clone(), second: b.value.clone(), rank, normal });
                }
            }
        }
    }
    links
}

fn not_linkable(name: &Spanned<String>, inputs: &[Input], paths: &[Path]) -> Option<Diagnostic> {
    let error = |what: String| Diagnostic::error("link-name", what).at(name.span.clone(), "");
    if let Some(input) = inputs.iter().find(|i| i.about.name == name.value) {
        return match &input.value {
            crate::model::InputValue::Drawn(d) if d.linkable() => None,
            crate::model::InputValue::Drawn(_) => {
                Some(error(format!("`{}` is a list of labels, which have no order", name.value)))
            }
            _ => Some(error(format!("`{}` is not drawn, so nothing can go along with it", name.value))),
        };
    }
    let path = name.value.split('.').next().unwrap_or_default();
    let part = name.value.get(path.len()..).unwrap_or_default();
    if let Some(path) = paths.iter().find(|p| p.about.name == path) {
        let shocks = path.spec.process.deviations().s > 0.0;
        return match part {
            "" if shocks => None,
            "" => Some(
                error(format!("`{}` grows steadily: it has no yearly shocks to link", name.value))
                    .hint(format!("`{}.start` names its start", name.value)),
            ),
            ".start" if matches!(path.spec.start, crate::sampling::Quantity::Uncertain(_)) => None,
            ".growth" if matches!(path.spec.growth, crate::sampling::Quantity::Uncertain(_)) => None,
            _ => Some(error(format!("`{}` is not drawn, so nothing can go along with it", name.value))),
        };
    }
    let known =
        inputs.iter().map(|i| i.about.name.as_str()).chain(paths.iter().map(|p| p.about.name.as_str()));
    let mut unknown = error(format!("no input or path is called `{}`", name.value));
    if let Some(nearest) = nearest(&name.value, known) {
        unknown = unknown.hint(format!("did you mean `{nearest}`?"));
    }
    Some(unknown)
}

fn break_even(
    study: &Study,
    inputs: &[Input],
    paths: &[Path],
    workings: &[Working],
    results: &[ResultItem],
    found: &mut Vec<Diagnostic>,
) -> Vec<BreakEvenItem> {
    let mut items = Vec::new();
    for def in &study.break_even {
        let of = movable(&def.of, inputs, paths, found);
        let against = def.against.as_ref().map(|name| movable(name, inputs, paths, found));
        let position = |name: &str| {
            results.iter().position(|r| workings.get(r.working).is_some_and(|w| w.about.name == name))
        };
        let result = match &def.result {
            None => Some(headline(study, workings, results)),
            Some(name) => position(&name.value).or_else(|| {
                let known =
                    results.iter().filter_map(|r| workings.get(r.working)).map(|w| w.about.name.as_str());
                let mut error =
                    Diagnostic::error("result-unknown", format!("no result is called `{}`", name.value))
                        .at(name.span.clone(), "");
                if let Some(nearest) = nearest(&name.value, known) {
                    error = error.hint(format!("did you mean `{nearest}`?"));
                }
                found.push(error);
                None
            }),
        };
        if let (Some(from), Some(to)) = (&def.from, &def.to) {
            if !(from.value < to.value) {
                found.push(
                    Diagnostic::error("range", "the range of the lever is empty")
                        .at(to.span.clone(), "not above")
                        .also(from.span.clone(), "this"),
                );
            }
        }
        if let Some(result) = result {
            needs_threshold(def, &results[result], workings, found);
            if let (Some(of), Some(against)) = (of, against.map_or(Some(None), |a| a.map(Some))) {
                let range = (def.from.as_ref().map(|x| x.value), def.to.as_ref().map(|x| x.value));
                items.push(BreakEvenItem { of, result, against, range });
            }
        }
    }
    items
}

fn needs_threshold(
    def: &study::BreakEvenDef,
    result: &ResultItem,
    workings: &[Working],
    found: &mut Vec<Diagnostic>,
) {
    let Some(working) = workings.get(result.working) else { return };
    let plain_number = matches!(working.formula.ty.kind, Kind::Number { .. });
    if plain_number && result.at_least.is_none() && result.at_most.is_none() {
        let place = def.result.as_ref().map_or(def.span.clone(), |name| name.span.clone());
        found.push(
            Diagnostic::error(
                "no-threshold",
                format!("the result `{}` has no threshold to cross", working.about.name),
            )
            .at(place, "")
            .hint("give the result `at_least = ..` or `at_most = ..`"),
        );
    }
}

/// Name of an input with one number, or of a path, that can be moved.
fn movable(
    name: &Spanned<String>,
    inputs: &[Input],
    paths: &[Path],
    found: &mut Vec<Diagnostic>,
) -> Option<String> {
    if paths.iter().any(|p| p.about.name == name.value) {
        return Some(name.value.clone());
    }
    if let Some(input) = inputs.iter().find(|i| i.about.name == name.value) {
        if input.ty.shape == Shape::Single && matches!(input.ty.kind, Kind::Number { .. }) {
            return Some(name.value.clone());
        }
        found.push(
            Diagnostic::error(
                "not-movable",
                format!("`{}` is not one number that could be moved", name.value),
            )
            .at(name.span.clone(), ""),
        );
        return None;
    }
    let known =
        inputs.iter().map(|i| i.about.name.as_str()).chain(paths.iter().map(|p| p.about.name.as_str()));
    let mut error = Diagnostic::error("name-unknown", format!("no input or path is called `{}`", name.value))
        .at(name.span.clone(), "");
    if let Some(nearest) = nearest(&name.value, known) {
        error = error.hint(format!("did you mean `{nearest}`?"));
    }
    found.push(error);
    None
}

/// Whether the draws can be made as the study asks: links that can all hold, dimensions that exist.
fn check_plan(study: &Study, model: &Model, found: &mut Vec<Diagnostic>) {
    let wish = &model.sampling;
    let design = Design::new(wish.seed, wish.method, wish.replicates, wish.runs);
    let Err(error) = model.plan(design) else { return };
    let mut places = study
        .correlations
        .iter()
        .filter(|c| c.between.iter().filter(|n| error.names.contains(&n.value)).count() >= 2)
        .map(|c| c.span.clone());
    let pinned = study.sampling.dimensions.iter().flatten().find(|d| error.names.contains(&d.value));
    let mut diagnostic = Diagnostic::error("draws", error.message.clone());
    if let Some(first) = places.next().or_else(|| pinned.map(|d| d.span.clone())) {
        diagnostic = diagnostic.at(first, "");
    }
    for place in places {
        diagnostic = diagnostic.also(place, "");
    }
    if !error.hint.is_empty() {
        diagnostic = diagnostic.hint(error.hint.clone());
    }
    found.push(diagnostic);
}
