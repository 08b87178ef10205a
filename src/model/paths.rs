//! Paths: units, how they move, base courses.

use crate::diagnostic::{Diagnostic, Spanned};
use crate::model::Path;
use crate::model::data::Data;
use crate::model::inputs::{base_caution, distribution};
use crate::model::workings::{about, unit_of};
use crate::sampling::{ChangeSpec, PathSpec, Process, Quantity};
use crate::study::{self, NumberOrDistribution};
use crate::units::UnitTable;

/// The paths of a study, those that are sound.
pub(super) fn check_paths(
    study: &study::Study,
    units: &UnitTable,
    _data: &Data<'_>,
    found: &mut Vec<Diagnostic>,
) -> Vec<Path> {
    study.paths.iter().filter_map(|path| check_path(path, study, units, found)).collect()
}

fn check_path(
    path: &study::Path,
    study: &study::Study,
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Option<Path> {
    let unit = unit_of(path.unit.as_ref(), units, found)?;
    if unit.point {
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
    let start = quantity(&path.start, study, found);
    let growth = match &path.growth {
        Some(growth) => quantity(growth, study, found),
        None => Some(Quantity::Known(0.0)),
    };
    let changes: Option<Vec<ChangeSpec>> =
        path.changes.iter().map(|change| check_change(change, study, found)).collect();
    let spec = PathSpec {
        name: path.name.value.clone(),
        years: study.years.value,
        first_year: study.first_year.value,
        start: start?,
        level: None,
        growth: growth?,
        drift: path.drift,
        process: process(path),
        changes: changes?,
    };
    if let (Some(base), Quantity::Uncertain(drawn), NumberOrDistribution::Distribution(text)) =
        (&path.base, &spec.start, &path.start)
    {
        base_caution(base, drawn, &text.span, found);
    }
    let start = path.base.as_ref().map_or_else(|| spec.start.base(), |base| base.value);
    let course = spec.base_course(start, spec.growth.base());
    Some(Path {
        about: about(&path.name, &path.about),
        unit,
        spec,
        start,
        course,
        floor: path.floor.as_ref().map(|x| x.value),
        ceiling: path.ceiling.as_ref().map(|x| x.value),
    })
}

fn process(path: &study::Path) -> Process {
    // The reader has seen to it that each process has the figures it needs.
    let number = |x: &Option<Spanned<f64>>| x.as_ref().map_or(0.0, |x| x.value);
    let volatility = number(&path.volatility);
    match path.process.value {
        study::Process::SteadyGrowth => Process::SteadyGrowth,
        study::Process::RandomWalk => Process::RandomWalk { volatility },
        study::Process::MeanReverting => {
            Process::MeanReverting { half_life: number(&path.half_life), volatility }
        }
        study::Process::Independent => Process::Independent { volatility },
    }
}

fn quantity(
    value: &NumberOrDistribution,
    study: &study::Study,
    found: &mut Vec<Diagnostic>,
) -> Option<Quantity> {
    match value {
        NumberOrDistribution::Number(x) => Some(Quantity::Known(x.value)),
        NumberOrDistribution::Distribution(text) => {
            distribution(text, None, study, found).map(Quantity::Uncertain)
        }
    }
}

fn check_change(
    change: &study::Change,
    study: &study::Study,
    found: &mut Vec<Diagnostic>,
) -> Option<ChangeSpec> {
    let year = quantity(&change.year, study, found);
    let scale = quantity(&change.scale, study, found);
    let chance = change.chance.as_ref().map_or(1.0, |c| c.value);
    let year = year?;
    found.extend(never_or_always(change, &year, study));
    Some(ChangeSpec { chance, year, scale: scale? })
}

/// A change that no year of the study can see coming.
fn never_or_always(change: &study::Change, year: &Quantity, study: &study::Study) -> Option<Diagnostic> {
    let (earliest, latest) = match year {
        Quantity::Known(year) => (*year, *year),
        Quantity::Uncertain(drawn) => drawn.support(),
    };
    let first = study.first_year.value;
    let last = first + i64::try_from(study.years.value).unwrap_or(i64::MAX - first) - 1;
    let place = match &change.year {
        NumberOrDistribution::Number(x) => x.span.clone(),
        NumberOrDistribution::Distribution(text) => text.span.clone(),
    };
    // OK because calendar years are small.
    let what = if earliest.floor() > last as f64 {
        "this change comes after the last year: it never takes effect"
    } else if latest.floor() <= first as f64 {
        "this change comes no later than the first year: it holds from the start"
    } else {
        return None;
    };
    let caution = Diagnostic::caution("change-outside", what).at(place, "");
    Some(caution.hint(format!("the study goes from {first} to {last}")))
}
