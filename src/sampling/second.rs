//! A second, independent set of draws beside a plan's own, and draws of some
//! sources given the others: what variance-based indices are made from.
//!
//! The second matrix (Saltelli et al. 2010, *Variance based sensitivity
//! analysis of model output*) has keys of its own; under Sobol it takes the
//! dimensions after those of the first, of the same sequence, never a later
//! stretch of the points.

use super::dimensions;
use super::path_plan::{Part, PathPlan};
use super::plan::{Plan, PlanError, Scalar};
use super::streams::Component;
use super::ties::SecondTies;

impl Plan {
    /// The second matrix: the same columns from independent draws. What has no row in it (renewals) stays as it is.
    #[must_use]
    pub fn second(&self) -> Plan {
        let mut plan = self.clone();
        let mut ties = SecondTies::default();
        for scalar in &mut plan.scalars {
            scalar.component = self.anew(&scalar.component, &mut ties);
        }
        for path in &mut plan.paths {
            path.shock = path.shock.as_ref().map(|shock| self.anew(shock, &mut ties));
        }
        plan
    }

    /// The plan in which the sources marked in `fresh` are drawn anew, from the streams of the second matrix, given the
    /// others: under the Gaussian copula exactly, linked shocks year by year. The others keep every bit. `fresh` may be
    /// shorter than the sources; the rest is kept.
    ///
    /// # Errors
    /// Where strata are rearranged (Iman, Conover), which knows no draws given others.
    pub fn redrawn(&self, fresh: &[bool]) -> Result<Plan, PlanError> {
        self.redrawn_from(&self.second(), fresh)
    }

    /// As [`Plan::redrawn`], with the second matrix at hand.
    ///
    /// # Errors
    /// As [`Plan::redrawn`].
    pub fn redrawn_from(&self, second: &Plan, fresh: &[bool]) -> Result<Plan, PlanError> {
        if self.tied > 0 {
            let message = "draws of some inputs given the others cannot be had from rearranged strata";
            let hint = "this needs linking = \"gaussian copula\", which is the default";
            return Err(PlanError::new(&[], message, hint));
        }
        let is_fresh = |source: usize| fresh.get(source).copied().unwrap_or(false);
        let mut plan = self.clone();
        self.redraw_scalars(&mut plan, second, &is_fresh)?;
        self.redraw_shocks(&mut plan, second, &is_fresh)?;
        Ok(plan)
    }

    /// Whether anything of a source is drawn: a path of known start, growth and changes without shocks has no draws.
    pub fn is_drawn(&self, source: usize) -> bool {
        match source.checked_sub(self.inputs()) {
            None => true,
            Some(k) => self.paths.get(k).is_some_and(|p| p.shock.is_some() || p.scalars().next().is_some()),
        }
    }

    /// A component of the second matrix.
    fn anew(&self, first: &Component, ties: &mut SecondTies) -> Component {
        let mut second = first.second(&self.design, ties);
        dimensions::assign_second(&mut second, self.dimensions(), self.design.method);
        second
    }

    /// Scalars of their own take the second's draws; those of a group get them as further members of it.
    fn redraw_scalars(
        &self,
        plan: &mut Plan,
        second: &Plan,
        is_fresh: &dyn Fn(usize) -> bool,
    ) -> Result<(), PlanError> {
        let fresh: Vec<bool> = self.sources_of_scalars().into_iter().map(is_fresh).collect();
        for (idx, (scalar, new)) in plan.scalars.iter_mut().zip(&second.scalars).enumerate() {
            if fresh[idx] && scalar.group.is_none() {
                scalar.component = new.component.clone();
            }
        }
        for (group, old) in plan.scalar_groups.iter_mut().zip(&self.scalar_groups) {
            let here: Vec<bool> = old.members.iter().map(|&m| fresh[m]).collect();
            let mut extra = Vec::new();
            for spare in old.members.iter().filter(|m| fresh[**m]).filter_map(|&m| second.scalars.get(m)) {
                extra.push(plan.scalars.len());
                plan.scalars.push(Scalar { group: None, ..spare.clone() });
            }
            if !extra.is_empty() && !group.redraw(&here, &extra) {
                return Err(no_factor());
            }
        }
        Ok(())
    }

    /// The same for the yearly shocks of paths.
    fn redraw_shocks(
        &self,
        plan: &mut Plan,
        second: &Plan,
        is_fresh: &dyn Fn(usize) -> bool,
    ) -> Result<(), PlanError> {
        let inputs = self.inputs();
        let linked = |k: usize| self.shock_groups.iter().any(|group| group.members.contains(&k));
        for (k, (path, new)) in plan.paths.iter_mut().zip(&second.paths).enumerate() {
            if is_fresh(inputs + k) && !linked(k) {
                path.shock.clone_from(&new.shock);
            }
        }
        for (group, old) in plan.shock_groups.iter_mut().zip(&self.shock_groups) {
            let here: Vec<bool> = old.members.iter().map(|&k| is_fresh(inputs + k)).collect();
            let mut extra = Vec::new();
            let anew = old.members.iter().filter(|k| is_fresh(inputs + **k));
            for spare in anew.filter_map(|&k| second.paths.get(k)) {
                extra.push(self.paths.len() + plan.spare.len());
                plan.spare.push(spare.clone());
            }
            if !extra.is_empty() && !group.redraw(&here, &extra) {
                return Err(no_factor());
            }
        }
        Ok(())
    }

    /// The source of each scalar.
    fn sources_of_scalars(&self) -> Vec<usize> {
        let mut sources: Vec<usize> = (0..self.scalars.len()).collect();
        for (k, path) in self.paths.iter().enumerate() {
            path.scalars().for_each(|scalar| sources[scalar] = self.inputs() + k);
        }
        sources
    }
}

impl PathPlan {
    /// Scalars that are parts of this path.
    pub(crate) fn scalars(&self) -> impl Iterator<Item = usize> {
        let of_changes = self.changes.iter().flat_map(|change| [change.comes, change.year, change.scale]);
        [self.start, self.growth].into_iter().chain(of_changes).filter_map(|part| match part {
            Part::Drawn(scalar) => Some(scalar),
            Part::Known(_) => None,
        })
    }
}

fn no_factor() -> PlanError {
    let message = "the correlations are so near to contradicting each other that no input can be drawn given the others";
    PlanError::new(&[], message, "weaken the strongest of them a little")
}
