//! Payback, present values, rates of return of plain cash: an outlay at time
//! 0 and a saving in each period. Knows no study, no units, no runs' meaning.
//!
//! Each figure exists twice: for one run ([`payback()`], [`npv`], ...), which
//! the naive evaluator and the tests use, and for a block of runs
//! ([`columns`]), which the engine uses. Both are made of the same steps in
//! the same order, so their bits agree.

pub mod bracket;
pub mod columns;
mod payback;
mod present_value;
mod rates_of_return;

pub use payback::{cumulative_cash, discounted_payback, first_payback, in_service, payback, pays_back};
pub use present_value::{annuity, npv, npv_mid_year};
pub use rates_of_return::{HIGHEST_RATE, LOWEST_RATE, Rates, rates_of_return, single_rate};

use present_value::first_factor;

/// Length of the periods that savings come in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Period {
    /// A year.
    Year,
    /// A twelfth of a year.
    Month,
}

impl Period {
    /// Periods in a year.
    pub fn per_year(self) -> f64 {
        match self {
            Period::Year => 1.0,
            Period::Month => 12.0,
        }
    }
}

/// When a year's saving is taken to arrive, for discounting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Timing {
    /// At the end of the year: factor (1 + r)^-t in year t = 1, 2, ...
    YearEnd,
    /// In the middle of the year: factor (1 + r)^-(t - 1/2).
    MidYear,
}
