//! Paths: units, how they move, base courses, tables of values.

use crate::diagnostic::{Diagnostic, Spanned};
use crate::formula::types::Kind;
use crate::model::changes::{self, Owner, check_changes, never_or_always};
use crate::model::data::Data;
use crate::model::inputs::base_caution;
use crate::model::tables;
use crate::model::workings::{about, unit_of};
use crate::model::{Change, Input, Path, PathTable};
use crate::sampling::{ChangeSpec, PathSpec, Process, Quantity};
use crate::study::{self, ChangeValue, Effect, NumberOrDistribution};
use crate::units::UnitTable;

/// The paths of a study, those that are sound, and their parts that are inputs.
pub(super) fn check_paths(
    study: &study::Study,
    units: &UnitTable,
    data: &Data<'_>,
    found: &mut Vec<Diagnostic>,
) -> (Vec<Path>, Vec<Input>) {
    let mut parts = Vec::new();
    let mut paths = Vec::with_capacity(study.paths.len());
    for path in &study.paths {
        if let Some((path, own)) = check_path(path, study, units, data, found) {
            paths.push(path);
            parts.extend(own);
        }
    }
    (paths, parts)
}

fn check_path(
    path: &study::Path,
    study: &study::Study,
    units: &UnitTable,
    data: &Data<'_>,
    found: &mut Vec<Diagnostic>,
) -> Option<(Path, Vec<Input>)> {
    let unit = unit_of(path.unit.as_ref(), units, found)?;
    let multiplies = path.table.is_none() && path.process.value != study::Process::Steps;
    if unit.point && multiplies {
        let place = path.unit.as_ref().map_or_else(|| path.name.span.clone(), |unit| unit.span.clone());
        found.push(
            Diagnostic::error(
                "temperature-point",
                "a path multiplies its start by growth, which a temperature in degC has not",
            )
            .at(place, "")
            .hint("make it an input, or a path of a difference in K"),
        );
    }
    let about = about(&path.name, &path.about);
    let (table, mut parts) = match &path.table {
        Some(text) => {
            let (table, scenario) = tables::check(text, path, &about, study, data, found)?;
            (Some(table), Vec::from_iter(scenario))
        }
        None => (None, Vec::new()),
    };
    let start = match (&path.start, &table) {
        (Some(start), _) => changes::quantity(start, (study, data), found),
        (None, table) => Some(Quantity::Known(first_value(table.as_ref(), &parts))),
    };
    let growth = match &path.growth {
        Some(growth) => changes::quantity(growth, (study, data), found),
        None => Some(Quantity::Known(0.0)),
    };
    let kind = Kind::Number { dimension: unit.dimension, point: unit.point };
    let owner = Owner { about: &about, unit: &unit, kind: &kind, between_homes: false };
    let (scalings, laid) = changes_of(path, &owner, (study, data), units, found)?;
    let (laid, own) = laid;
    parts.extend(own);
    let spec = PathSpec {
        name: path.name.value.clone(),
        years: study.years.value,
        first_year: study.first_year.value,
        start: start?,
        level: None,
        growth: growth?,
        drift: path.drift,
        process: process(path),
        changes: scalings,
    };
    if let (Some(base), Quantity::Uncertain(drawn), Some(NumberOrDistribution::Distribution(text))) =
        (&path.base, &spec.start, &path.start)
    {
        base_caution(base, drawn, &text.span, found);
    }
    let start = path.base.as_ref().map_or_else(|| spec.start.base(), |base| base.value);
    let course = spec.base_course(start, spec.growth.base());
    let path = Path {
        about,
        unit,
        spec,
        start,
        course,
        table,
        changes: laid,
        conversion: None,
        floor: path.floor.as_ref().map(|x| x.value),
        ceiling: path.ceiling.as_ref().map(|x| x.value),
    };
    Some((path, parts))
}

/// Value of the first year: of a table of scenarios that of the base scenario.
fn first_value(table: Option<&PathTable>, parts: &[Input]) -> f64 {
    let values = match table {
        Some(PathTable::Years(values)) => Some(values),
        Some(PathTable::Scenarios(columns)) => {
            let base = parts.first().and_then(|scenario| scenario.base.first()).copied().unwrap_or(0.0);
            columns.get(base as usize)
        }
        None => None,
    };
    values.and_then(|values| values.first()).copied().unwrap_or(0.0)
}

/// Changes of a path: those that the plan draws, and those that the graph lays with their drawn parts.
type Changes = (Vec<ChangeSpec>, (Vec<Change>, Vec<Input>));

/// Where all changes only scale, the course that the plan draws has them in it; else all of them are laid by year.
fn changes_of(
    path: &study::Path,
    owner: &Owner<'_>,
    around: (&study::Study, &Data<'_>),
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Option<Changes> {
    let has_course = path.table.is_none() && path.process.value != study::Process::Steps;
    if has_course && path.changes.iter().all(|change| change.effect.value == Effect::Scale) {
        let made: Option<Vec<ChangeSpec>> =
            path.changes.iter().map(|change| scaling(change, around, found)).collect();
        return Some((made?, (Vec::new(), Vec::new())));
    }
    let (mut laid, mut parts) = check_changes(&path.steps, "step", owner, around, units, found)?;
    let (changes, own) = check_changes(&path.changes, "change", owner, around, units, found)?;
    laid.extend(changes);
    parts.extend(own);
    Some((Vec::new(), (laid, parts)))
}

fn scaling(
    change: &study::Change,
    around: (&study::Study, &Data<'_>),
    found: &mut Vec<Diagnostic>,
) -> Option<ChangeSpec> {
    let year = changes::quantity(&change.year, around, found);
    let scale = match &change.by {
        ChangeValue::Number(by) => changes::quantity(by, around, found),
        ChangeValue::Label(_) => None,
    };
    let chance = change.chance.as_ref().map_or(1.0, |c| c.value);
    let year = year?;
    found.extend(never_or_always(change, &year, around.0));
    Some(ChangeSpec { chance, year, scale: scale? })
}

fn process(path: &study::Path) -> Process {
    // The reader has seen to it that each process has the figures it needs.
    let number = |x: &Option<Spanned<f64>>| x.as_ref().map_or(0.0, |x| x.value);
    let volatility = number(&path.volatility);
    match path.process.value {
        study::Process::RandomWalk => Process::RandomWalk { volatility },
        study::Process::MeanReverting => {
            Process::MeanReverting { half_life: number(&path.half_life), volatility }
        }
        study::Process::Independent => Process::Independent { volatility },
        // Steps and tables stand still but for what the graph lays over them.
        study::Process::SteadyGrowth
        | study::Process::Steps
        | study::Process::Years
        | study::Process::Scenarios => Process::SteadyGrowth,
    }
}
