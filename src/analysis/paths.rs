//! What has a value for each year (price paths, inputs that change): its base course, the mean of its runs, its
//! percentiles. Made from the values as workings read them, so floors, ceilings and changes are in.

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

use crate::analysis::bands::PERCENTILES;
use crate::analysis::laid::Laid;
use crate::analysis::statistics::mean_and_percentiles_of;
use crate::analysis::{Estimate, Figure, Percentile};
use crate::engine::graph::NodeId;
use crate::engine::program::Program;
use crate::engine::run::{Control, Job, Stopped, keep};
use crate::formula::types::{Kind, Shape};
use crate::model::lower::Sheet;
use crate::model::{About, Model};
use crate::sampling::{Design, Method, Vectors};
use crate::units::Unit;

/// Runs behind the courses: percentiles by year need no more.
const RUNS: u64 = 4096;

/// How many single runs go along.
const SOME_RUNS: usize = 6;

/// The course of a path, or of an input that changes by year.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PathFan {
    /// Name in the study.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// Unit, "" if dimensionless.
    pub unit: String,
    /// Runs behind it: the first 4,096 at most.
    pub runs: u64,
    /// Each year of the horizon.
    pub years: Vec<PathYear>,
    /// A few single runs, to show that none follows an edge.
    pub some_runs: Vec<Vec<f64>>,
}

/// One year of a course.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PathYear {
    /// Calendar year.
    pub year: i64,
    /// Base course: a change is in it only if its chance is at least one half.
    pub base: Figure,
    /// Mean over the runs: every change weighs as much as its probability.
    pub mean: Estimate,
    /// P5, P10, P25, P50, P75, P90, P95 (type 7), by year: no run follows them.
    pub percentiles: Vec<Percentile>,
}

impl PathFan {
    /// Whether its value is the same in all runs of every year.
    pub fn is_known(&self) -> bool {
        self.years.iter().all(|year| {
            let value = |p: Option<&Percentile>| p.map(|p| p.estimate.value);
            value(year.percentiles.first()) == value(year.percentiles.last())
        })
    }
}

/// A quantity with a value for each year.
struct Subject<'m> {
    about: &'m About,
    unit: &'m Unit,
}

/// Paths in file order, then inputs by year.
fn subjects(model: &Model) -> Vec<Subject<'_>> {
    let paths = model.paths.iter().map(|p| Subject { about: &p.about, unit: &p.unit });
    let by_year = model.inputs.iter().filter(|i| {
        let number = matches!(i.ty.kind, Kind::Number { .. });
        number && i.ty.shape == Shape::Yearly
    });
    paths.chain(by_year.map(|i| Subject { about: &i.about, unit: &i.unit })).collect()
}

/// One subject under one setting: its nodes and, by year, what its runs say, in base units.
struct Drawn {
    subject: usize,
    nodes: Vec<NodeId>,
    years: Vec<(Estimate, Vec<Percentile>)>,
    some_runs: Vec<Vec<f64>>,
}

/// All courses of a study, drawn once: at the base choices, and at each other value that changes them.
pub(super) struct Courses<'m> {
    subjects: Vec<Subject<'m>>,
    first_year: i64,
    runs: u64,
    base: Vec<Drawn>,
    others: Vec<Vec<Drawn>>,
    /// Of paths on whose course the graph lays changes or another money: the course alone, which is what moves.
    moving: Vec<Drawn>,
}

/// What a course was drawn for.
#[derive(Clone, Copy)]
enum For {
    Base,
    Other(usize),
    Moving,
}

impl<'m> Courses<'m> {
    /// Draws the first runs of `design`.
    pub(super) fn draw(
        laid: &Laid<'m>,
        design: Design,
        vectors: Vectors,
        epoch: u64,
        control: &Control,
    ) -> Result<Self, Stopped> {
        let subjects = subjects(laid.model);
        let nodes = |sheet: &Sheet| subjects.iter().map(|s| sheet.nodes(&s.about.name)).collect::<Vec<_>>();
        let base = nodes(&laid.base);
        let mut asked: Vec<(For, usize, Vec<NodeId>)> =
            base.iter().enumerate().map(|(k, nodes)| (For::Base, k, nodes.clone())).collect();
        let laid_over = laid.model.paths.iter().enumerate().filter(|(_, path)| !path.is_plain());
        asked.extend(laid_over.map(|(k, path)| (For::Moving, k, laid.base.moving(&path.about.name))));
        for (other, choice) in laid.others.iter().enumerate() {
            let here = nodes(&choice.sheet).into_iter().enumerate();
            // Equal nodes are the same values: the choice does not touch them.
            asked.extend(
                here.filter(|(k, nodes)| *nodes != base[*k]).map(|(k, nodes)| (For::Other(other), k, nodes)),
            );
        }
        let wanted: Vec<NodeId> = asked.iter().flat_map(|(.., nodes)| nodes).copied().collect();
        let program = Program::of_runs(&laid.low.graph, &wanted);
        let runs = design.runs.min(RUNS);
        let (plan, leaves) = (&laid.plan, &laid.low.leaves);
        let job = Job { program: &program, plan, leaves, n_runs: runs, block: None, epoch, vectors };
        let columns = keep(job, control)?;
        let replicates = (design.method != Method::Random).then_some(design.replicates);
        let year = |c: &Vec<f64>| mean_and_percentiles_of(c, replicates, &PERCENTILES);
        let mut found = columns.par_iter().map(year).collect::<Vec<_>>().into_iter();
        let mut columns = columns.iter();
        let mut courses = Courses {
            subjects,
            first_year: laid.model.first_year,
            runs,
            base: Vec::new(),
            others: laid.others.iter().map(|_| Vec::new()).collect(),
            moving: Vec::new(),
        };
        for (other, subject, nodes) in asked {
            let columns: Vec<&Vec<f64>> = columns.by_ref().take(nodes.len()).collect();
            let some = columns.iter().map(|c| c.len()).min().unwrap_or(0).min(SOME_RUNS);
            let drawn = Drawn {
                subject,
                years: found.by_ref().take(nodes.len()).collect(),
                some_runs: (0..some).map(|run| columns.iter().map(|c| c[run]).collect()).collect(),
                nodes,
            };
            match other {
                For::Base => courses.base.push(drawn),
                For::Other(other) => courses.others[other].push(drawn),
                For::Moving => courses.moving.push(drawn),
            }
        }
        Ok(courses)
    }

    /// Percentiles `ps` of a path (of the study's paths, in order) by year, in base units.
    pub(super) fn percentiles<const N: usize>(&self, path: usize, ps: [f64; N]) -> Vec<[f64; N]> {
        let value = |all: &[Percentile], p: f64| {
            all.iter().find(|q| q.p == p).and_then(|q| q.estimate.value.number()).unwrap_or(f64::NAN)
        };
        let moving = self.moving.iter().find(|drawn| drawn.subject == path);
        let years = moving.or(self.base.get(path)).map_or(&[][..], |drawn| &drawn.years);
        years.iter().map(|(_, all)| ps.map(|p| value(all, p))).collect()
    }

    /// The fans at the base choices; `base` holds the base case of every node, in base units.
    pub(super) fn fans(&self, base: &[f64]) -> Vec<PathFan> {
        self.base.iter().map(|drawn| self.fan(drawn, base)).collect()
    }

    /// The fans that another value of a choice (in the order of `laid.others`) changes.
    pub(super) fn fans_of_other(&self, other: usize, base: &[f64]) -> Vec<PathFan> {
        self.others.get(other).map_or_else(Vec::new, |all| all.iter().map(|d| self.fan(d, base)).collect())
    }

    fn fan(&self, drawn: &Drawn, base: &[f64]) -> PathFan {
        let Subject { about, unit } = &self.subjects[drawn.subject];
        let year = |(k, (mean, percentiles)): (usize, &(Estimate, Vec<Percentile>))| PathYear {
            year: self.first_year.saturating_add(k as i64),
            base: Figure::of(unit.from_base(base[drawn.nodes[k].index()])),
            mean: in_unit(mean, unit),
            percentiles: percentiles
                .iter()
                .map(|q| Percentile { p: q.p, estimate: in_unit(&q.estimate, unit) })
                .collect(),
        };
        let run = |values: &Vec<f64>| values.iter().map(|&x| unit.from_base(x)).collect();
        PathFan {
            name: about.name.clone(),
            label: about.label.clone(),
            unit: unit.text.clone(),
            runs: self.runs,
            years: drawn.years.iter().enumerate().map(year).collect(),
            some_runs: drawn.some_runs.iter().map(run).collect(),
        }
    }
}

fn in_unit(estimate: &Estimate, unit: &Unit) -> Estimate {
    let figure = |f: Figure| match f {
        Figure::Number(x) => Figure::of(unit.from_base(x)),
        other => other,
    };
    let (low, high) = (estimate.low.map(figure), estimate.high.map(figure));
    Estimate { value: figure(estimate.value), low, high, interval: estimate.interval }
}
