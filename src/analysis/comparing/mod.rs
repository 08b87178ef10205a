//! Two studies on the same draws: what each difference between them does to each result, alone and in turn. Knows studies as
//! texts with their data; reads no files, prints nothing.
//!
//! A draw is a pure function of seed, name and run, so the same run of two studies differs by nothing but what was changed:
//! intervals are those of the difference run by run, and a change that does nothing has a difference of exactly 0.

mod draw;
mod effects;
mod steps;

use std::collections::BTreeSet;

use serde::Serialize;

use crate::analysis::{AppraisalError, ResultKind, SamplingFacts};
use crate::diagnostic::Diagnostic;
use crate::engine::run::Control;
use crate::model::Model;
use crate::sampling::Design;
use crate::study::data::{DataError, DataFiles};
use crate::study::differences::{Bearing, Difference, SideBySide, for_results};

pub use draw::{ResultRuns, draw};
pub use effects::{Change, Effect, Figures, STATISTICS, effect};

/// Most runs that are made of each study on the way.
pub const MOST_RUNS: u64 = 65_536;

/// One of the two.
pub struct Side<'a> {
    /// Its text, which is a sound study.
    pub text: &'a str,
    /// Its data.
    pub files: &'a (dyn DataFiles + Sync),
    /// The study, checked.
    pub model: &'a Model,
    /// How it is drawn.
    pub design: Design,
}

/// Why two studies cannot be compared.
#[derive(Debug)]
pub enum CompareError {
    /// The draws or the loop.
    Appraisal(AppraisalError),
    /// A study that is sound as it stands is not sound as it was put together: a fault of ours.
    Unsound(Vec<Diagnostic>),
}

impl From<AppraisalError> for CompareError {
    fn from(error: AppraisalError) -> Self {
        CompareError::Appraisal(error)
    }
}

/// A group of differences that are put in together, because none of them makes a sound study without the others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// Numbers of the differences.
    pub differences: Vec<usize>,
}

/// What happened to one result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ResultChange {
    /// Name in the studies.
    pub name: String,
    /// Plain name in the first.
    pub label: String,
    /// Unit, that of the first study.
    pub unit: String,
    /// Sort.
    pub kind: ResultKind,
    /// Figures of the first study.
    pub before: Figures,
    /// Figures of the second study, drawn as it says itself.
    pub after: Figures,
    /// The whole difference.
    pub whole: Effect,
    /// Each step alone, put into the first study.
    pub alone: Vec<Effect>,
    /// Each step after those before it: together with `drawn` these add up to the whole.
    pub in_turn: Vec<Effect>,
    /// That the second study is drawn otherwise; none where it is not.
    pub drawn: Option<Effect>,
    /// What the steps do together and not alone: the whole less all of `alone` and `drawn`, by statistic.
    pub together: [Option<f64>; STATISTICS.len()],
}

/// Everything that is found.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// What differs.
    pub differences: Vec<Difference>,
    /// Groups of differences that bear on results, in the order in which they are put in.
    pub steps: Vec<Step>,
    /// How the first study is drawn here.
    pub sampling_a: SamplingFacts,
    /// How the second study is drawn here.
    pub sampling_b: SamplingFacts,
    /// Results of both studies.
    pub results: Vec<ResultChange>,
    /// Results of the first study that the second does not have, or has in a unit of another kind.
    pub only_a: Vec<String>,
    /// Results that only the second study has.
    pub only_b: Vec<String>,
}

/// Compares two studies.
///
/// # Errors
/// When stopped, or when the draws cannot be made.
pub fn compare(a: &Side<'_>, b: &Side<'_>, control: &Control) -> Result<Comparison, CompareError> {
    let mut found = SideBySide::new(a.text, b.text).unwrap_or_else(SideBySide::nothing);
    found.differences.extend(changed_data(a.model, b.model));
    let bears = |d: &Difference| d.bearing == Bearing::Results;
    let bearing: Vec<usize> =
        (0..found.differences.len()).filter(|&k| bears(&found.differences[k])).collect();
    let mixed = Mixing { found: &found, a, b };
    let steps = steps::steps(&bearing, &found.differences, |put| mixed.model(put).is_ok());
    let runs = Runs { mixed: &mixed, control };
    let results = runs.results(&steps)?;
    let names = |model: &Model| -> Vec<String> {
        model.results.iter().map(|r| model.result_working(r).about.name.clone()).collect()
    };
    let compared = |name: &String| results.results.iter().any(|r| r.name == *name);
    let rest = |model: &Model| names(model).into_iter().filter(|name| !compared(name)).collect();
    let (only_a, only_b) = (rest(a.model), rest(b.model));
    Ok(Comparison {
        steps: steps.into_iter().map(|step| Step { differences: step.into_iter().collect() }).collect(),
        sampling_a: results.sampling_a,
        sampling_b: results.sampling_b,
        results: results.results,
        only_a,
        only_b,
        differences: found.differences,
    })
}

/// Data files of one name that hold something else.
fn changed_data(a: &Model, b: &Model) -> Vec<Difference> {
    let other = |file: &str| b.data.iter().find(|data| data.file == file);
    let changed = a.data.iter().filter(|data| other(&data.file).is_some_and(|o| o.bytes != data.bytes));
    changed.map(|data| Difference::of_data(&data.file)).collect()
}

/// Studies between the two.
struct Mixing<'a> {
    found: &'a SideBySide,
    a: &'a Side<'a>,
    b: &'a Side<'a>,
}

/// Data of a study between the two: files that both have are the first's until they are put in.
struct MixedFiles<'a> {
    a: &'a dyn DataFiles,
    b: &'a dyn DataFiles,
    of_a: BTreeSet<&'a str>,
}

impl DataFiles for MixedFiles<'_> {
    fn read(&self, file: &str) -> Result<Vec<u8>, DataError> {
        if self.of_a.contains(file) { self.a.read(file) } else { self.b.read(file) }
    }
}

impl Mixing<'_> {
    /// The first study with these differences put in.
    fn model(&self, put: &BTreeSet<usize>) -> Result<Model, CompareError> {
        let is_put = |file: &str| {
            let here = |k: &usize| {
                self.found.differences.get(*k).is_some_and(|d| d.section == "data" && d.name == file)
            };
            put.iter().any(here)
        };
        let of_a = self.a.model.data.iter().map(|data| data.file.as_str()).filter(|file| !is_put(file));
        let files = MixedFiles { a: self.a.files, b: self.b.files, of_a: of_a.collect() };
        sound(&self.found.between(put), &files)
    }
}

fn sound(text: &str, files: &dyn DataFiles) -> Result<Model, CompareError> {
    let (made, found) = crate::model::read_beside(text, files);
    made.map(|(_, model)| model).ok_or(CompareError::Unsound(found))
}

/// Results of all studies on the way.
struct Runs<'a> {
    mixed: &'a Mixing<'a>,
    control: &'a Control,
}

struct Found {
    sampling_a: SamplingFacts,
    sampling_b: SamplingFacts,
    results: Vec<ResultChange>,
}

impl Runs<'_> {
    fn results(&self, steps: &[BTreeSet<usize>]) -> Result<Found, CompareError> {
        let (a, b) = (self.mixed.a, self.mixed.b);
        let (before, sampling_a) =
            self.draw(&self.mixed.model(&BTreeSet::new())?, a.design, &a.model.sampling.dimensions)?;
        let pinned = &sampling_a.dimensions;
        let on_a = |put: &BTreeSet<usize>| -> Result<Vec<ResultRuns>, CompareError> {
            Ok(self.draw(&self.mixed.model(put)?, a.design, pinned)?.0)
        };
        let mut put = BTreeSet::new();
        let (mut in_turn, mut alone) = (vec![before], Vec::new());
        for step in steps {
            put.extend(step);
            in_turn.push(on_a(&put)?);
            // The first step in turn is that step alone.
            alone.push(if alone.is_empty() { in_turn[1].clone() } else { on_a(step)? });
        }
        let as_b = for_results(b.text).unwrap_or_default();
        let (own, sampling_b) = self.draw(&sound(&as_b, b.files)?, b.design, &b.model.sampling.dimensions)?;
        let course = Course { in_turn, alone, own };
        let parts = (draw::parts(a.design), draw::parts(b.design));
        Ok(Found { sampling_a, sampling_b, results: course.changes(parts) })
    }

    fn draw(
        &self,
        model: &Model,
        design: Design,
        dimensions: &[String],
    ) -> Result<(Vec<ResultRuns>, SamplingFacts), CompareError> {
        Ok(draw(model, design, dimensions, self.control)?)
    }
}

/// Results from the first study to the second.
struct Course {
    in_turn: Vec<Vec<ResultRuns>>,
    alone: Vec<Vec<ResultRuns>>,
    own: Vec<ResultRuns>,
}

impl Course {
    fn changes(&self, parts: (Option<u32>, Option<u32>)) -> Vec<ResultChange> {
        self.in_turn[0].iter().filter_map(|before| self.change(before, parts)).collect()
    }

    /// None if the result is not in all of them, in a unit of the same kind.
    fn change(&self, before: &ResultRuns, parts: (Option<u32>, Option<u32>)) -> Option<ResultChange> {
        let of = |runs: &[ResultRuns]| runs.iter().find_map(|r| r.in_unit_of(before));
        let in_turn: Vec<ResultRuns> = self.in_turn.iter().map(|runs| of(runs)).collect::<Option<_>>()?;
        let alone: Vec<ResultRuns> = self.alone.iter().map(|runs| of(runs)).collect::<Option<_>>()?;
        let own = of(&self.own)?;
        let last = in_turn.last()?;
        let drawn = (*last != own).then(|| effects::unpaired(last, &own, parts));
        let paired = |a: &ResultRuns, b: &ResultRuns| effect(a, b, parts.0);
        let through = paired(before, last);
        let whole = match &drawn {
            None => through,
            Some(drawn) => effects::after(&effect(before, &own, None), &through, drawn),
        };
        let alone: Vec<Effect> = alone.iter().map(|one| paired(before, one)).collect();
        let steps: Vec<Effect> = in_turn.windows(2).map(|pair| paired(&pair[0], &pair[1])).collect();
        let together = effects::together(&whole, alone.iter().chain(&drawn));
        Some(ResultChange {
            name: before.name.clone(),
            label: before.label.clone(),
            unit: before.unit.text.clone(),
            kind: before.kind,
            before: before.figures(),
            after: own.figures(),
            whole,
            alone,
            in_turn: steps,
            drawn,
            together,
        })
    }
}
