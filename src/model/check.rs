//! From a study as written to a model: all that is wrong in one go.

use std::collections::{BTreeMap, BTreeSet};

use crate::diagnostic::{Diagnostic, Spanned, has_errors};
use crate::formula::types::{Kind, Shape, Type, Typed, TypedNode};
use crate::formula::{self, Names};
use crate::model::data::Data;
use crate::model::names::KnownNames;
use crate::model::workings::HomeReads;
use crate::model::{
    Input, Model, Path, Questions, ResultItem, SamplingWish, Working, alternatives, homes, inputs, levers,
    links, money, own_units, paths, questions, until, workings,
};
use crate::sampling::{LinkRules, Method};
use crate::study::data::{DataFiles, NoFiles};
use crate::study::{self, Study};
use crate::units::UnitTable;

/// Runs, seed and replicates where the study gives none.
const DEFAULTS: (u64, u64, u32) = (16_384, 1, 8);

/// Most runs towards a wanted precision where the study gives no number.
const MOST_RUNS: u64 = 1 << 20;

/// Most inputs, paths, workings and results together: far beyond any study, and enough to keep time and memory bounded.
const MAX_NAMES: usize = 5_000;

/// Most inputs and paths together: a distribution whose quantiles need a table takes most of a millisecond.
const MAX_DRAWN: usize = 1_000;

/// The model of a study that names no data files; none when something is wrong. What is doubtful is in the model's
/// cautions.
pub fn check(study: &Study) -> (Option<Model>, Vec<Diagnostic>) {
    check_beside(study, &NoFiles, Vec::new())
}

/// As [`check`], with the data files it names, for a study that has been read with the errors `found`, which come first in the list.
pub(super) fn check_beside(
    study: &Study,
    files: &dyn DataFiles,
    mut found: Vec<Diagnostic>,
) -> (Option<Model>, Vec<Diagnostic>) {
    let drawn = study.inputs.len() + study.paths.len();
    let names = drawn + study.workings.len() + study.results.len();
    let too_many = [
        (drawn > MAX_DRAWN, format!("the study has {drawn} inputs and paths; at most {MAX_DRAWN} are read")),
        (names > MAX_NAMES, format!("the study names {names} things; at most {MAX_NAMES} are read")),
    ];
    if let Some((_, message)) = too_many.into_iter().find(|(over, _)| *over) {
        found.push(Diagnostic::error("too-many", message).hint("split it into several studies"));
        return (None, found);
    }
    let data = Data::new(files);
    let Some(mut model) = check_once(study, &data, &mut found) else { return (None, found) };
    model.alternatives = alternatives::check(study, &data, &model, &mut found);
    if !has_errors(&found) {
        model.questions = questions::check(study, &model, &mut found);
    }
    if has_errors(&found) {
        return (None, found);
    }
    model.data = data.into_files();
    model.cautions.clone_from(&found);
    (Some(model), found)
}

/// The model of a study as it stands, without its alternatives; none when there are errors in `found`.
pub(super) fn check_once(study: &Study, data: &Data<'_>, found: &mut Vec<Diagnostic>) -> Option<Model> {
    let model = check_parts(study, data, found)?;
    found.extend(crate::model::lower::try_out(&model).err().map(|d| *d));
    (!has_errors(found)).then_some(model)
}

fn check_parts(study: &Study, data: &Data<'_>, found: &mut Vec<Diagnostic>) -> Option<Model> {
    let units = own_units::table(study, found);
    let (mut inputs, parts) = inputs::check_inputs(study, &units, data, found);
    let (mut paths, parts_of_paths) = paths::check_paths(study, &units, data, found);
    inputs.extend(parts.into_iter().chain(parts_of_paths));
    let inflation = money::check(study, &mut inputs, &mut paths, found);
    let mut names = known_names(study, &inputs, &paths);
    let mut defs: Vec<&study::Working> =
        study.workings.iter().chain(study.results.iter().map(|result| &result.working)).collect();
    let home_reads = settings_of_homes(study, &mut defs);
    for home in &study.hotwater {
        names.types.extend(homes::output_types(&home.name.value, &units));
    }
    // Formulas over names that are broken would only repeat the errors; those over sound names still speak.
    let broken = assume_broken_names(study, &inputs, &paths, &units, &mut names);
    let links = links::check(study, &inputs, &paths, found);
    let checked = workings::check(&defs, &home_reads, &mut names, broken, &units, found);
    let known = checked.as_ref().map_or(&[][..], |(workings, _)| workings);
    let results = results(study, known, &names, found);
    let break_even = levers::check(study, &inputs, &paths, known, found);
    let until = until::check(study, known, &units, found);
    let read: BTreeSet<String> = defs.iter().flat_map(|def| names_read(def)).collect();
    let homes = homes::check(study, &units, data, &read, found);
    let (workings, groups) = checked?;
    for working in &workings[study.workings.len() + study.results.len()..] {
        found.extend(homes::check_setting(&working.about.name, &working.formula.ty, &working.span));
    }
    money::check_rates(study, &inputs, &workings, found);
    money::check_timing(study, &workings, found);
    let model = Model {
        title: study.title.value.clone(),
        question: study.question.as_ref().map(|q| q.value.clone()),
        currency: study.currency.value.clone(),
        prices: study.prices.value,
        inflation,
        first_year: study.first_year.value,
        years: study.years.value,
        sampling: SamplingWish { until, ..sampling(study) },
        units,
        inputs,
        paths,
        workings,
        homes,
        groups,
        results,
        headline: levers::headline(study),
        links,
        break_even,
        alternatives: Vec::new(),
        questions: Questions::default(),
        report: study.report.clone(),
        data: Vec::new(),
        cautions: Vec::new(),
    };
    if has_errors(found) {
        return None;
    }
    links::check_plan(study, &model, found);
    (!has_errors(found)).then_some(model)
}

/// Adds the settings of homes that are formulas to the workings; which of them each home reads.
fn settings_of_homes<'s>(study: &'s Study, defs: &mut Vec<&'s study::Working>) -> Vec<HomeReads> {
    let mut homes = Vec::new();
    for home in &study.hotwater {
        let first = defs.len();
        defs.extend(home.settings.iter().filter_map(|s| match &s.value {
            study::SettingValue::Formula(working) => Some(&**working),
            _ => None,
        }));
        homes.push(HomeReads { name: home.name.clone(), settings: (first..defs.len()).collect() });
    }
    homes
}

/// All names that a formula reads.
fn names_read(def: &study::Working) -> Vec<String> {
    let (tree, _) = formula::parse(&def.formula.value, def.formula.span.start);
    tree.iter().flat_map(formula::references).map(|r| r.name).collect()
}

/// Why an amount or rate that is converted differs by year.
const MONEY_BY_YEAR: &str = "it has a value for each year because its `money` is not that of the study; what is paid at \
                             the start is the same in both: give it the study's own";

fn known_names(study: &Study, inputs: &[Input], paths: &[Path]) -> KnownNames {
    let has_inflation = study.inflation.is_some();
    let mut names = KnownNames { years: study.years.value, has_inflation, ..KnownNames::default() };
    // Parts of changes are read through what changes; which scenario a run follows can be asked.
    let named = |input: &&Input| input.part_of.is_none() || matches!(input.ty.kind, Kind::Label(_));
    for input in inputs.iter().filter(named) {
        names.types.insert(input.about.name.clone(), input.ty.clone());
        if input.is_drawn() && !matches!(input.ty.kind, Kind::Label(_)) {
            names.drawn.push(input.about.name.clone());
        }
        let why = match input.ty.shape.has_years() {
            _ if !input.changes.is_empty() => "it has a value for each year because of its `changes`",
            true => MONEY_BY_YEAR,
            false => continue,
        };
        names.by_year.insert(input.about.name.clone(), why);
    }
    for path in paths {
        let kind = Kind::Number { dimension: path.unit.dimension, point: path.unit.point };
        let name = &path.about.name;
        names.types.insert(format!("{name}.start"), Type { kind: kind.clone(), shape: Shape::Single });
        names.types.insert(name.clone(), Type { kind, shape: Shape::Yearly });
    }
    names
}

/// Types of inputs and paths that have an error of their own, as far as their unit tells. Those of which nothing is
/// known are given back: what reads them cannot be checked.
fn assume_broken_names(
    study: &Study,
    inputs: &[Input],
    paths: &[Path],
    units: &UnitTable,
    names: &mut KnownNames,
) -> BTreeSet<String> {
    let mut ignored = Vec::new();
    let mut unknown = BTreeSet::new();
    for input in study.inputs.iter().filter(|i| !inputs.iter().any(|sound| sound.about.name == i.name.value))
    {
        let shape = if matches!(input.value, study::InputValue::Monthly(..)) {
            Shape::Monthly
        } else {
            Shape::Single
        };
        let shape = if input.changes.is_empty() { shape } else { shape.join(Shape::Yearly) };
        if let Some(unit) = workings::unit_of(input.unit.as_ref(), units, &mut ignored) {
            let kind = match &input.value {
                study::InputValue::Labels { values, .. } | study::InputValue::ChoiceOfLabels(values, _) => {
                    Kind::Label(values.iter().map(|v| v.value.clone()).collect())
                }
                _ => Kind::Number { dimension: unit.dimension, point: unit.point },
            };
            names.types.insert(input.name.value.clone(), Type { kind, shape });
            names.drawn.push(input.name.value.clone());
        } else {
            unknown.insert(input.name.value.clone());
        }
    }
    for path in study.paths.iter().filter(|p| !paths.iter().any(|sound| sound.about.name == p.name.value)) {
        if let Some(unit) = workings::unit_of(path.unit.as_ref(), units, &mut ignored) {
            let kind = Kind::Number { dimension: unit.dimension, point: unit.point };
            let start = format!("{}.start", path.name.value);
            names.types.insert(start, Type { kind: kind.clone(), shape: Shape::Single });
            names.types.insert(path.name.value.clone(), Type { kind, shape: Shape::Yearly });
            if path.process.value == study::Process::Scenarios {
                unknown.insert(format!("{}.scenario", path.name.value));
            }
        } else {
            unknown.insert(path.name.value.clone());
            unknown.insert(format!("{}.start", path.name.value));
        }
    }
    unknown
}

fn sampling(study: &Study) -> SamplingWish {
    let wish = &study.sampling;
    let value = |x: &Option<Spanned<u64>>, default| x.as_ref().map_or(default, |x| x.value);
    SamplingWish {
        runs: value(&wish.runs, if wish.until.is_some() { MOST_RUNS } else { DEFAULTS.0 }),
        seed: value(&wish.seed, DEFAULTS.1),
        method: wish.method.as_ref().map_or(Method::Sobol, |m| m.value),
        replicates: wish.replicates.as_ref().map_or(DEFAULTS.2, |r| r.value),
        dimensions: wish.dimensions.iter().flatten().map(|d| d.value.clone()).collect(),
        links: LinkRules {
            repair: wish.repair.as_ref().is_some_and(|r| r.value),
            linking: wish.linking.as_ref().map(|l| l.value).unwrap_or_default(),
        },
        until: None,
    }
}

/// Inputs that make a formula differ by year though they were written as one value, with the reason.
fn by_year<'a>(formula: &'a Typed, names: &KnownNames) -> BTreeMap<&'a str, &'static str> {
    let mut found = BTreeMap::new();
    let mut open = vec![formula];
    while let Some(tree) = open.pop().filter(|tree| tree.ty.shape.has_years()) {
        match &tree.node {
            TypedNode::Constant(_) => {}
            TypedNode::Name(name) => found.extend(names.why_by_year(name).map(|why| (name.as_str(), why))),
            TypedNode::Unary(_, a) => open.push(a),
            TypedNode::Binary(_, a, b) => {
                open.extend([&**a, &**b].into_iter().filter(|t| t.ty.shape.has_years()));
            }
            TypedNode::Call { args, .. } => open.extend(args.iter().filter(|t| t.ty.shape.has_years())),
        }
    }
    found
}

fn results(
    study: &Study,
    workings: &[Working],
    names: &KnownNames,
    found: &mut Vec<Diagnostic>,
) -> Vec<ResultItem> {
    let first = study.workings.len();
    let mut items = Vec::with_capacity(study.results.len());
    for (k, def) in study.results.iter().enumerate() {
        let Some(working) = workings.get(first + k) else { continue };
        if working.shape() != Shape::Single {
            let message = format!("the result `{}` has several values", working.about.name);
            let mut error = Diagnostic::error("result-shape", message)
                .at(def.working.formula.span.clone(), "a result is one value a run")
                .hint("reduce it with sum_years, mean_years or at_year, or make it a working");
            for (name, why) in by_year(&working.formula, names) {
                error = error.hint(format!("`{name}`: {why}"));
            }
            found.push(error);
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
                    .at(threshold.span.clone(), "its share of yes is reported as it is")
                    .hint("leave the line out"),
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
