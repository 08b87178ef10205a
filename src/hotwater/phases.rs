//! Three phases and the meter's rule. A meter that nets all phases counts at each moment what the whole home takes or
//! gives; one that counts each phase by itself can count export on one and import on another at the same moment.
//!
//! Export and import are handed on as sums over the phases. A controller that is given them takes all of the export for its
//! own: right where the sum counts or where its element is on all phases as the panels are, too favourable where each phase
//! counts and the element is on one of several that export.

use std::fmt;

/// How a meter treats its phases.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Netting {
    /// The sum over the phases counts: also what a home on one phase has.
    #[default]
    AllPhases,
    /// Each phase counts by itself.
    EachPhase,
}

/// Shares of a home's phases in its use and its generation, and the meter's rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Phases {
    demand: [f64; 3],
    generation: [f64; 3],
    netting: Netting,
}

/// Shares that are negative, not finite, or all zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PhasesError;

impl fmt::Display for PhasesError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "shares of the phases are three numbers, none below 0 and not all 0")
    }
}

impl std::error::Error for PhasesError {}

impl Default for Phases {
    fn default() -> Self {
        Phases::single()
    }
}

impl Phases {
    /// A home on one phase.
    pub const fn single() -> Phases {
        let first = [1.0, 0.0, 0.0];
        Phases { demand: first, generation: first, netting: Netting::AllPhases }
    }

    /// Use and generation in proportion to the given numbers.
    pub fn new(demand: [f64; 3], generation: [f64; 3], netting: Netting) -> Result<Phases, PhasesError> {
        Ok(Phases { demand: shares(demand)?, generation: shares(generation)?, netting })
    }

    /// Share of each phase in the home's use.
    pub fn demand(&self) -> [f64; 3] {
        self.demand
    }

    /// Share of each phase in its generation.
    pub fn generation(&self) -> [f64; 3] {
        self.generation
    }

    /// The meter's rule.
    pub fn netting(&self) -> Netting {
        self.netting
    }

    /// Export and import of the home at one moment (or in a time in which nothing changes), from what each phase makes
    /// and uses. Their difference does not depend on the rule.
    pub fn settle(&self, generation: [f64; 3], demand: [f64; 3]) -> (f64, f64) {
        let spare: [f64; 3] = std::array::from_fn(|phase| generation[phase] - demand[phase]);
        match self.netting {
            Netting::AllPhases => {
                let all = spare[0] + spare[1] + spare[2];
                (all.max(0.0), (-all).max(0.0))
            }
            Netting::EachPhase => {
                spare.iter().fold((0.0, 0.0), |(out, into), s| (out + s.max(0.0), into + (-s).max(0.0)))
            }
        }
    }
}

fn shares(values: [f64; 3]) -> Result<[f64; 3], PhasesError> {
    let sum: f64 = values.iter().sum();
    let fit = values.iter().all(|v| v.is_finite() && *v >= 0.0) && sum > 0.0 && sum.is_finite();
    if fit { Ok(values.map(|v| v / sum)) } else { Err(PhasesError) }
}

#[cfg(test)]
mod tests;
