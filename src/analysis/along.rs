//! How the courses stand along one input: the mean of each at points of the input, the rest as drawn, and where the best
//! course changes.

use schemars::JsonSchema;
use serde::Serialize;

use crate::analysis::courses::Courses;
use crate::analysis::flips::{Moved, moved};
use crate::analysis::held::values;
use crate::analysis::laid::Laid;
use crate::analysis::statistics::mean_and_percentiles_of;
use crate::analysis::{Estimate, Figure};
use crate::engine::graph::NodeId;
use crate::engine::program::Program;
use crate::engine::run::{Control, Job, Stopped, by_block};
use crate::sampling::{Design, Method, Vectors};

/// Runs behind each point: the first of the sample.
const RUNS: u64 = 2048;

/// Points of an input that is continuous.
const POINTS: usize = 11;

/// Steps by which the place of a change is refined, at most: between two points the means are all but straight.
const STEPS: usize = 4;

/// The courses along one input: it is held at each point (intervention: links to others are cut), the rest as drawn.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Along {
    /// Name of the input or path.
    pub of: String,
    /// Plain name.
    pub label: String,
    /// Its unit.
    pub unit: String,
    /// Its base value.
    pub base: f64,
    /// Runs behind each mean.
    pub runs: u64,
    /// Its points.
    pub points: Vec<AlongPoint>,
    /// Where the course that is best in the mean changes, rising.
    pub flips: Vec<CourseFlip>,
    /// The courses that are best somewhere along it never lie further apart than their intervals reach, or than a
    /// hundredth of their means: the changes are next to nothing.
    pub level: bool,
}

/// One value of the input.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct AlongPoint {
    /// The value.
    pub at: f64,
    /// Mean of each course, in their order, in the unit of the result.
    pub means: Vec<Estimate>,
    /// Place of the one that is best in the mean; none where a mean has no value.
    pub best: Option<usize>,
}

/// A change of the best course.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CourseFlip {
    /// Value of the input.
    pub at: f64,
    /// Course that is best below.
    pub from: usize,
    /// Course that is best above.
    pub to: usize,
}

/// The courses along `name`; none where it cannot be moved.
pub(super) fn along(
    laid: &Laid<'_>,
    courses: &Courses<'_>,
    name: &str,
    (design, vectors, epoch): (Design, Vectors, u64),
    control: &Control,
) -> Result<Option<Along>, Stopped> {
    let Some(lever) = moved(laid, name) else { return Ok(None) };
    let nodes: Vec<NodeId> = courses.nodes().collect();
    let program = Program::cone(&laid.low.graph, |leaf| leaf == lever.leaf, &nodes);
    let n_runs = design.runs.min(RUNS);
    let line = Line {
        program: &program,
        lever: lever.leaf,
        courses,
        job: Job {
            program: &program,
            plan: &laid.plan,
            leaves: &laid.low.leaves,
            n_runs,
            block: None,
            epoch,
            vectors,
        },
        replicates: (design.method != Method::Random).then_some(design.replicates),
        control,
    };
    let at = points_of(&lever);
    let found = line.means(&at)?;
    let points: Vec<AlongPoint> =
        at.iter().zip(found).map(|(&at, means)| AlongPoint { at, best: line.best(&means), means }).collect();
    let discrete = lever.distribution.is_some_and(|d| d.points().is_some());
    let mut flips = Vec::new();
    for pair in points.windows(2) {
        if let (Some(from), Some(to)) = (pair[0].best, pair[1].best)
            && from != to
        {
            // Between two values of a discrete input there is nothing to refine.
            let at = if discrete { 0.5 * (pair[0].at + pair[1].at) } else { line.refine(pair, from, to)? };
            flips.push(CourseFlip { at, from, to });
        }
    }
    Ok(Some(Along {
        of: name.to_owned(),
        label: lever.label,
        unit: lever.unit.text,
        base: lever.base,
        runs: n_runs,
        level: is_level(&points),
        points,
        flips,
    }))
}

fn is_level(points: &[AlongPoint]) -> bool {
    let best: Vec<usize> = points.iter().filter_map(|p| p.best).collect();
    let number = |f: Option<Figure>| f.and_then(Figure::number);
    points.iter().all(|p| {
        let means = || best.iter().filter_map(|&k| p.means.get(k));
        let values = || means().filter_map(|m| m.value.number());
        let (low, high) = values().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
        let half = |m: &Estimate| Some((number(m.high)? - number(m.low)?) / 2.0);
        let reach = means().filter_map(half).fold(0.0, f64::max);
        high - low <= reach.max(0.01 * high.abs())
    })
}

/// Points of an uncertain input as for break-even curves; of a known one from nothing to twice its value.
fn points_of(lever: &Moved<'_>) -> Vec<f64> {
    let at = values(lever, POINTS);
    if at.len() > 1 {
        return at;
    }
    let most = if lever.base == 0.0 { 1.0 } else { 2.0 * lever.base };
    let mut at: Vec<f64> = (0..POINTS).map(|k| most * (k as f64 / (POINTS - 1) as f64)).collect();
    at.sort_by(f64::total_cmp);
    at
}

/// The courses along a lever.
struct Line<'a, 'm> {
    program: &'a Program,
    lever: u32,
    courses: &'a Courses<'m>,
    job: Job<'a>,
    replicates: Option<u32>,
    control: &'a Control,
}

impl Line<'_, '_> {
    /// Mean of each course at each value of the lever.
    fn means(&self, at: &[f64]) -> Result<Vec<Vec<Estimate>>, Stopped> {
        let n_nodes = self.program.wanted().len();
        let blocks = by_block(self.job, self.control, |frame, leaves, runs| {
            self.program.execute(0, frame, leaves, runs);
            let mut held = vec![0.0; runs.n];
            let mut out = Vec::with_capacity(at.len() * n_nodes);
            for &x in at {
                held.fill(x);
                let mut leaves = leaves.to_vec();
                leaves[self.lever as usize] = &held;
                self.program.execute(1, frame, &leaves, runs);
                for k in 0..n_nodes {
                    let mut column = vec![0.0; runs.n];
                    self.program.copy_wanted(k, frame, &leaves, &mut column);
                    out.push(column);
                }
            }
            out
        })?;
        let column = |k: usize| -> Vec<f64> {
            let unit = &self.courses.unit;
            blocks.iter().flat_map(|block| &block[k]).map(|&x| unit.from_base(x)).collect()
        };
        let mean = |k: usize| mean_and_percentiles_of(&column(k), self.replicates, &[]).0;
        let point = |p: usize| {
            let mut k = 0;
            let all = self.courses.all.iter().map(|course| match course.node {
                None => Estimate::alone(Figure::of(course.value)),
                Some(_) => {
                    k += 1;
                    mean(p * n_nodes + k - 1)
                }
            });
            all.collect()
        };
        Ok((0..at.len()).map(point).collect())
    }

    fn best(&self, means: &[Estimate]) -> Option<usize> {
        let sign = self.courses.sign();
        let values: Option<Vec<f64>> = means.iter().map(|m| m.value.number().map(|x| sign * x)).collect();
        let values = values?;
        // The first of equal ones.
        (0..values.len()).rev().max_by(|&a, &b| values[a].total_cmp(&values[b]))
    }

    /// Where the mean of `to` overtakes that of `from`: by secants kept within a bracket.
    fn refine(&self, pair: &[AlongPoint], from: usize, to: usize) -> Result<f64, Stopped> {
        let lead = |means: &[Estimate]| {
            let value = |k: usize| means[k].value.number().unwrap_or(f64::NAN);
            self.courses.sign() * (value(to) - value(from))
        };
        let (mut a, mut fa) = (pair[0].at, lead(&pair[0].means));
        let (mut b, mut fb) = (pair[1].at, lead(&pair[1].means));
        for step in 0..STEPS {
            let secant = a - fa * (b - a) / (fb - fa);
            // Every third step halves, so that a bent curve is closed in from both sides.
            let x = if step % 3 == 2 || !(a < secant && secant < b) { 0.5 * (a + b) } else { secant };
            let Some(means) = self.means(&[x])?.pop() else { break };
            let fx = lead(&means);
            if fx == 0.0 {
                return Ok(x);
            }
            if fx < 0.0 {
                (a, fa) = (x, fx);
            } else {
                (b, fb) = (x, fx);
            }
            if (b - a).abs() <= 1e-6 * (pair[1].at - pair[0].at).abs() {
                break;
            }
        }
        let secant = a - fa * (b - a) / (fb - fa);
        Ok(if a < secant && secant < b { secant } else { 0.5 * (a + b) })
    }
}
