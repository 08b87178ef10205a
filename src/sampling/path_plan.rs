//! Layout of yearly paths in a plan: which parts are drawn, which columns tell
//! of them, and what is known beforehand.

use super::bridge::Bridge;
use super::design::Method;
use super::distributions::{Distribution, Value};
use super::maths;
use super::paths::{ChangeSpec, Deviations, PathSpec, Process, Quantity};
use super::philox::Purpose;
use super::plan::{Plan, PlanError};
use super::streams::Component;

/// A number of a path: known, or a scalar of the plan.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Part {
    Known(f64),
    Drawn(usize),
}

/// A change: its parts and the columns that tell of it.
#[derive(Debug, Clone)]
pub(crate) struct ChangePlan {
    pub(crate) comes: Part,
    pub(crate) year: Part,
    pub(crate) scale: Part,
    /// Of the year; that of the scale follows.
    pub(crate) column: usize,
}

/// A path laid out.
#[derive(Debug, Clone)]
pub(crate) struct PathPlan {
    pub(crate) name: String,
    pub(crate) first_year: f64,
    pub(crate) start: Part,
    pub(crate) growth: Part,
    pub(crate) start_column: Option<usize>,
    pub(crate) growth_column: Option<usize>,
    pub(crate) changes: Vec<ChangePlan>,
    /// First of the course's columns.
    pub(crate) course: usize,
    pub(crate) deviations: Deviations,
    /// -b v_t/2 of each year.
    pub(crate) shifts: Vec<f64>,
    /// What is known of each year's m_t: powers of a known growth, pull from a known start.
    pub(crate) scales: Vec<f64>,
    /// 1 - phi^t of each year and the level's logarithm, when the start is drawn.
    pub(crate) pull: Option<(Vec<f64>, f64)>,
    pub(crate) shock: Option<Component>,
    pub(crate) bridge: Option<Bridge>,
}

impl PathPlan {
    /// Checks a path and adds its scalars and columns to the plan.
    pub(crate) fn new(plan: &mut Plan, path: &PathSpec, source: usize) -> Result<PathPlan, PlanError> {
        check(path)?;
        let name = &path.name;
        let deviations = path.process.deviations();
        let (start, start_column) = scalar(plan, format!("{name}.start"), &path.start, source);
        let (growth, growth_column) = scalar(plan, format!("{name}.growth"), &path.growth, source);
        let has_shocks = deviations.s > 0.0 && deviations.shocks(path.years) > 0;
        let varies = has_shocks || growth_column.is_some() || !path.changes.is_empty();
        let varies = varies || (path.level.is_some() && start_column.is_some());
        let first_constant = !deviations.from_start && path.changes.is_empty();
        let scales = known_scales(path);
        let course = plan.columns().len();
        for (t, scale) in scales.iter().enumerate() {
            let constant = (!varies || (t == 0 && first_constant)).then_some(*scale);
            plan.add_column(format!("{name}.course"), Some(t), source, constant);
        }
        let mut changes = Vec::with_capacity(path.changes.len());
        for (k, change) in path.changes.iter().enumerate() {
            changes.push(ChangePlan::new(plan, &format!("{name}.change{}", k + 1), change, source)?);
        }
        let count = deviations.shocks(path.years);
        let shock =
            has_shocks.then(|| Component::new(format!("{name}.shock"), Purpose::Shock, count, &plan.design));
        let bridge = (has_shocks && plan.design.method == Method::Sobol).then(|| Bridge::new(count));
        let pull = match (path.level, start) {
            (Some(level), Part::Drawn(_)) => Some((path.pull_shares(), maths::ln(level))),
            _ => None,
        };
        Ok(PathPlan {
            name: name.clone(),
            first_year: path.first_year as f64,
            start,
            growth,
            start_column,
            growth_column,
            changes,
            course,
            deviations,
            shifts: path.shifts(),
            scales,
            pull,
            shock,
            bridge,
        })
    }

    pub(crate) fn years(&self) -> usize {
        self.scales.len()
    }
}

impl ChangePlan {
    fn new(plan: &mut Plan, name: &str, change: &ChangeSpec, source: usize) -> Result<ChangePlan, PlanError> {
        let comes = if change.chance >= 1.0 {
            Part::Known(1.0)
        } else {
            let chance = [("chance".to_owned(), Value::Number(change.chance))];
            let coin = Distribution::build("bernoulli", &chance, None)
                .map_err(|e| PlanError::new(&[name], e.message, e.hint))?;
            Part::Drawn(plan.add_scalar(format!("{name}.chance"), &coin))
        };
        let mut part = |suffix: &str, quantity: &Quantity| match quantity {
            Quantity::Known(x) => Part::Known(*x),
            Quantity::Uncertain(d) => Part::Drawn(plan.add_scalar(format!("{name}.{suffix}"), d)),
        };
        let (year, scale) = (part("year", &change.year), part("scale", &change.scale));
        let constant_year = match (comes, year) {
            (Part::Known(_), Part::Known(y)) => Some(y.floor()),
            _ => None,
        };
        let constant_scale = if let Part::Known(x) = scale { Some(x) } else { None };
        let column = plan.add_column(format!("{name}.year"), None, source, constant_year);
        plan.add_column(format!("{name}.scale"), None, source, constant_scale);
        Ok(ChangePlan { comes, year, scale, column })
    }
}

fn scalar(plan: &mut Plan, name: String, quantity: &Quantity, source: usize) -> (Part, Option<usize>) {
    match (quantity, quantity.distribution()) {
        (_, Some(d)) => {
            let idx = plan.add_scalar(name.clone(), d);
            (Part::Drawn(idx), Some(plan.add_column(name, None, source, None)))
        }
        (known, None) => (Part::Known(known.base()), None),
    }
}

/// Each year's known factor.
fn known_scales(path: &PathSpec) -> Vec<f64> {
    let rate = if let Quantity::Known(g) = path.growth { g } else { 0.0 };
    let pulls = match path.start {
        Quantity::Known(start) => path.pulls(start),
        Quantity::Uncertain(_) => vec![1.0; path.years],
    };
    let mut power = 1.0;
    pulls
        .iter()
        .map(|p| {
            let scale = power * p;
            power *= 1.0 + rate;
            scale
        })
        .collect()
}

fn check(path: &PathSpec) -> Result<(), PlanError> {
    let wrong = |message: String, hint: &str| Err(PlanError::new(&[&path.name], message, hint));
    let (volatility, half_life) = match path.process {
        Process::SteadyGrowth => (0.0, 1.0),
        Process::RandomWalk { volatility } | Process::Independent { volatility } => (volatility, 1.0),
        Process::MeanReverting { half_life, volatility } => (volatility, half_life),
    };
    let name = &path.name;
    if path.years == 0 {
        return wrong(format!("{name} has no years"), "give at least 1");
    }
    if !(0.0..=5.0).contains(&volatility) {
        return wrong(
            format!("the volatility of {name} is {volatility}"),
            "it is a share a year, from 0 to 5, mostly 0.02 to 0.5",
        );
    }
    if !(half_life > 1e-3 && half_life <= 1e6) {
        return wrong(format!("the half life of {name} is {half_life}"), "it must be above 0, in years");
    }
    let rate = path.growth.base();
    if !(rate > -1.0 && rate.abs() < 100.0) {
        return wrong(format!("the growth of {name} is {rate}"), "a growth lies above -1, such as 0.02");
    }
    if !path.start.base().is_finite() {
        return wrong(format!("the start of {name} is {}", path.start.base()), "give a plain number");
    }
    for change in &path.changes {
        let (year, scale) = (change.year.base(), change.scale.base());
        if !year.is_finite() {
            return wrong(format!("a change of {name} comes in year {year}"), "give a calendar year");
        }
        if !(0.0..=1e6).contains(&scale) {
            return wrong(
                format!("a change of {name} has scale {scale}"),
                "it is a factor, not below 0, such as 0.6",
            );
        }
        if !(0.0..=1.0).contains(&change.chance) {
            return wrong(
                format!("a change of {name} has chance {}", change.chance),
                "a probability lies from 0 to 1",
            );
        }
    }
    if let Some(level) = path.level {
        let lowest = path.start.distribution().map_or(path.start.base(), |d| d.support().0);
        if !(level > 0.0 && level.is_finite() && lowest >= 0.0 && path.start.base() > 0.0) {
            return wrong(format!("{name} returns to {level}"), "level and start must be above 0");
        }
    }
    Ok(())
}
