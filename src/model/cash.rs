//! The cash-flow functions and renewals as block operations of the engine.

use std::sync::Arc;

use crate::engine::block::{BlockOp, Runs};
use crate::finance::{self, Period, Timing, columns};
use crate::model::given::Given;
use crate::sampling::{Plan, Scratch};

/// Which cash-flow question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CashQuestion {
    /// Lasting payback.
    Payback,
    /// First time that the cumulative cash is not negative.
    FirstPayback,
    /// Lasting payback of discounted cash; the discount rate stands before the outlay.
    DiscountedPayback,
    /// Whether the cumulative cash at the end is not negative.
    PaysBack,
    /// The single rate of return; no number where there is none or several.
    RateOfReturn,
}

/// A cash-flow question over one outlay and a saving for each period.
///
/// Operands: the discount rate (discounted payback only), the outlay, the
/// savings, then the share of each period in service (if `in_service`).
#[derive(Debug, Clone, Copy)]
pub struct Cash {
    /// What is asked.
    pub question: CashQuestion,
    /// Number of periods.
    pub periods: usize,
    /// Periods in a year: 1 or 12.
    pub per_year: usize,
    /// Shares in service follow the savings.
    pub in_service: bool,
}

impl BlockOp for Cash {
    fn key(&self) -> String {
        format!("{self:?}")
    }

    fn outputs(&self) -> usize {
        1
    }

    fn evaluate(&self, runs: Runs, args: &[&[f64]], out: &mut [Vec<f64>], scratch: &mut Vec<f64>) {
        let Some(out) = out.first_mut().map(|out| &mut out[..runs.n]) else { return };
        let discounted = usize::from(self.question == CashQuestion::DiscountedPayback);
        let Some((outlay, rest)) = args[discounted..].split_first() else { return };
        let (saving, service) = rest.split_at(self.periods.min(rest.len()));
        let service = self.in_service.then_some(service);
        let period = if self.per_year == 12 { Period::Month } else { Period::Year };
        scratch.resize(columns::SCRATCH_COLUMNS * runs.n, 0.0);
        match self.question {
            CashQuestion::Payback => columns::payback(outlay, saving, service, period, scratch, out),
            CashQuestion::FirstPayback => {
                columns::first_payback(outlay, saving, service, period, scratch, out);
            }
            CashQuestion::DiscountedPayback => {
                columns::discounted_payback(args[0], outlay, saving, service, Timing::YearEnd, scratch, out);
            }
            CashQuestion::PaysBack => columns::pays_back(outlay, saving, scratch, out),
            CashQuestion::RateOfReturn => {
                let mut of_run = vec![0.0; saving.len()];
                for (i, out) in out.iter_mut().enumerate() {
                    for (s, column) in of_run.iter_mut().zip(saving) {
                        *s = column[i];
                    }
                    *out = finance::single_rate(outlay[i], &of_run);
                }
            }
        }
    }
}

/// The equivalent yearly amount of an outlay. Operands: discount rate, outlay, years.
pub struct Annuity;

impl BlockOp for Annuity {
    fn key(&self) -> String {
        "annuity".to_owned()
    }

    fn outputs(&self) -> usize {
        1
    }

    fn evaluate(&self, runs: Runs, args: &[&[f64]], out: &mut [Vec<f64>], _scratch: &mut Vec<f64>) {
        for (i, out) in out[0][..runs.n].iter_mut().enumerate() {
            *out = args[1][i] * finance::annuity(args[0][i], args[2][i]);
        }
    }
}

/// Replacements of equipment in each year: the first life is the run's own, each later one a fresh draw.
pub struct Failures {
    /// Name of the life.
    pub name: String,
    /// The draws.
    pub plan: Arc<Plan>,
    /// The life's place among the plan's inputs.
    pub source: usize,
    /// Years in one unit of the life.
    pub scale: f64,
    /// Base life in that unit: every life of the base case.
    pub base: f64,
    /// If its parameters are inputs: they follow the first life among the operands, and each life is a fresh score at the run's own.
    pub given: Option<Arc<Given>>,
    /// If an alternative sets the life: every life, in that unit.
    pub held: Option<f64>,
    /// Years of the horizon.
    pub years: usize,
}

/// More replacements than this within the horizon mean that the life makes no sense.
const MOST_RENEWALS: u32 = 4096;

impl BlockOp for Failures {
    fn key(&self) -> String {
        let held = self.held.map_or_else(String::new, |life| format!(" = {life}"));
        format!("failures of {}{held} over {}", self.name, self.years)
    }

    fn outputs(&self) -> usize {
        self.years
    }

    fn draws(&self) -> bool {
        true
    }

    fn evaluate(&self, runs: Runs, args: &[&[f64]], out: &mut [Vec<f64>], scratch: &mut Vec<f64>) {
        for column in out.iter_mut() {
            column[..runs.n].fill(0.0);
        }
        let horizon = self.years as f64;
        let mut at: Vec<f64> = args[0].to_vec();
        let mut draws = Scratch::default();
        scratch.resize(runs.n, 0.0);
        let lives = &mut scratch[..runs.n];
        // All runs of the block go on to their next life together; those beyond the horizon only wait.
        let mut part = 0;
        while at.iter().any(|&t| t < horizon) && part < MOST_RENEWALS {
            if let Some(life) = self.held {
                lives.fill(life);
            } else if runs.are_base_case() {
                lives.fill(self.given.as_ref().map_or(self.base, |given| given.base_score));
            } else {
                self.plan.renewal(self.source, part, runs.first, lives, &mut draws);
            }
            if let Some(given) = self.given.as_ref().filter(|_| self.held.is_none()) {
                given.fill(&args[1..], lives);
            }
            for (i, t) in at.iter_mut().enumerate() {
                if *t < horizon {
                    // A life below 0 is no life: it counts in the first year.
                    let year = if *t > 0.0 { *t as usize } else { 0 };
                    out[year][i] += 1.0;
                    *t += lives[i] * self.scale;
                }
            }
            part += 1;
        }
        for (i, t) in at.iter().enumerate().filter(|(_, t)| t.is_nan() || **t < horizon) {
            debug_assert!(t.is_nan() || part == MOST_RENEWALS);
            for column in out.iter_mut() {
                column[i] = f64::NAN;
            }
        }
    }
}
