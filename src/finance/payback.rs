//! How long until the money is back.
//!
//! The outlay C falls at time 0; the saving S_t comes evenly during period t
//! (t = 1..T), or during the first part of it while the equipment still
//! works. Cumulative cash: K_0 = -C, K_t = K_(t-1) + S_t, straight between.
//! The payback is the *lasting* crossing, after which K is never negative
//! again within the horizon.

use super::{Period, Timing, first_factor};

/// The steps that one run and a block of runs share.
pub(crate) mod steps {
    /// Cash below this, relative to the largest sum in play, counts as zero: sums
    /// round, and "paid at the year's end" must not turn into a year later.
    const ZERO: f64 = 1e-9;

    /// The size of cash that counts as zero; NaN when any figure is none or
    /// unbounded, which then makes every answer NaN.
    #[inline(always)]
    pub(crate) fn tolerance(outlay: f64, sum_of_sizes: f64) -> f64 {
        let size = outlay.abs();
        let largest = if size > sum_of_sizes { size } else { sum_of_sizes };
        if size + sum_of_sizes < f64::INFINITY { ZERO * largest } else { f64::NAN }
    }

    /// The part of a period in which its saving comes. Money in a period
    /// without any service (a grant, a sale) comes over the whole period.
    #[inline(always)]
    pub(crate) fn part(in_service: f64) -> f64 {
        if in_service > 0.0 && in_service < 1.0 { in_service } else { 1.0 }
    }

    /// Adds a saving to the sum of sizes; a service that is no number spoils the sum.
    #[inline(always)]
    pub(crate) fn add_size(sum: f64, saving: f64, in_service: f64) -> f64 {
        sum + saving.abs() + in_service.abs() * 0.0
    }

    /// Before any saving: 0 when there is nothing to pay back, else never.
    #[inline(always)]
    pub(crate) fn start(cash: f64, tolerance: f64) -> f64 {
        if cash < -tolerance { f64::INFINITY } else { 0.0 }
    }

    /// Periods until cash is zero, when it was `before` at period `t`'s start.
    #[inline(always)]
    fn crossing(t: f64, part: f64, before: f64, saving: f64) -> f64 {
        let share = -before / saving;
        // Within the tolerance of zero at the end of the part counts as its end.
        let share = if share < 1.0 { share } else { 1.0 };
        t + part * share
    }

    /// Lasting crossing after one more period.
    #[inline(always)]
    pub(crate) fn lasting(so_far: f64, t: f64, part: f64, before: f64, saving: f64, tolerance: f64) -> f64 {
        let here = if before < -tolerance { crossing(t, part, before, saving) } else { so_far };
        if before + saving < -tolerance { f64::INFINITY } else { here }
    }

    /// First crossing after one more period.
    #[inline(always)]
    pub(crate) fn first(so_far: f64, t: f64, part: f64, before: f64, saving: f64, tolerance: f64) -> f64 {
        let unpaid = before + saving < -tolerance;
        let here = if unpaid { f64::INFINITY } else { crossing(t, part, before, saving) };
        if so_far == f64::INFINITY { here } else { so_far }
    }

    /// Years from periods; NaN when the tolerance is.
    #[inline(always)]
    pub(crate) fn years(periods: f64, per_year: f64, tolerance: f64) -> f64 {
        if tolerance.is_nan() { f64::NAN } else { periods / per_year }
    }

    /// 1 when the cash at the end is not negative, else 0; NaN when the tolerance is.
    #[inline(always)]
    pub(crate) fn yes(cash: f64, tolerance: f64) -> f64 {
        let yes = if cash < -tolerance { 0.0 } else { 1.0 };
        if tolerance.is_nan() { f64::NAN } else { yes }
    }
}

type Step = fn(f64, f64, f64, f64, f64, f64) -> f64;

fn walk(outlay: f64, saving: &[f64], in_service: Option<&[f64]>, period: Period, step: Step) -> f64 {
    let service = |t: usize| in_service.map_or(1.0, |w| w.get(t).copied().unwrap_or(0.0));
    let mut sum = 0.0;
    for (t, &s) in saving.iter().enumerate() {
        sum = steps::add_size(sum, s, service(t));
    }
    let tolerance = steps::tolerance(outlay, sum);
    let mut cash = -outlay;
    let mut periods = steps::start(cash, tolerance);
    for (t, &s) in saving.iter().enumerate() {
        periods = step(periods, t as f64, steps::part(service(t)), cash, s, tolerance);
        cash += s;
    }
    steps::years(periods, period.per_year(), tolerance)
}

/// Payback in years: the time after which cumulative cash is never negative
/// again within the horizon; +infinity (never) when it ends negative, 0 when
/// it is never negative. NaN when any figure is NaN or infinite.
///
/// `in_service` is the share of each period in which the equipment works
/// (see [`in_service()`]): the saving comes evenly in that first part, so the
/// payback of a run that pays back is not later than the life. Cash within
/// 1e-9 of the larger of outlay and sum of savings (by size) counts as zero.
///
/// # Example: 1000 paid, 150 a year
/// ```
/// use payspread::finance::{Period, payback};
/// assert!((payback(1000.0, &[150.0; 20], None, Period::Year) - 20.0 / 3.0).abs() < 1e-12);
/// assert_eq!(payback(1000.0, &[40.0; 20], None, Period::Year), f64::INFINITY);
/// ```
pub fn payback(outlay: f64, saving: &[f64], in_service: Option<&[f64]>, period: Period) -> f64 {
    walk(outlay, saving, in_service, period, steps::lasting)
}

/// Years until cumulative cash is not negative for the first time, even if it
/// falls back later. Otherwise as [`payback()`].
pub fn first_payback(outlay: f64, saving: &[f64], in_service: Option<&[f64]>, period: Period) -> f64 {
    walk(outlay, saving, in_service, period, steps::first)
}

/// Payback of yearly savings discounted at the yearly rate `rate` (0.04 for
/// 4 %), otherwise as [`payback()`]. NaN when `rate` is not above -1.
///
/// The factors are those of [`npv`](super::npv), so the discounted payback is
/// never exactly when the net present value is negative (by more than the
/// tolerance). Within a year discounted cash is straight, as plain cash is.
pub fn discounted_payback(
    rate: f64,
    outlay: f64,
    saving: &[f64],
    in_service: Option<&[f64]>,
    timing: Timing,
) -> f64 {
    let (mut factor, v) = first_factor(rate, timing);
    let discounted: Vec<f64> = saving
        .iter()
        .map(|&s| {
            factor *= v;
            s * factor
        })
        .collect();
    walk(outlay, &discounted, in_service, Period::Year, steps::lasting)
}

/// 1 when cumulative cash is not negative at the end, else 0, with the zero of
/// [`payback()`]: `pays_back` is 1 exactly when `payback` is not never. NaN
/// when any figure is NaN or infinite.
pub fn pays_back(outlay: f64, saving: &[f64]) -> f64 {
    let mut sum = 0.0;
    let mut cash = -outlay;
    for &s in saving {
        sum = steps::add_size(sum, s, 1.0);
        cash += s;
    }
    steps::yes(cash, steps::tolerance(outlay, sum))
}

/// Cumulative cash at the end of periods 0 (the outlay alone), 1, ..., T.
pub fn cumulative_cash(outlay: f64, saving: &[f64]) -> Vec<f64> {
    let mut cash = -outlay;
    let mut all = Vec::with_capacity(saving.len() + 1);
    all.push(cash);
    for &s in saving {
        cash += s;
        all.push(cash);
    }
    all
}

/// Share of period `t` (counted from 0) in which equipment that lasts
/// `life_years` works: 1 in full periods, the fraction in the period of
/// failure, 0 after it.
#[inline]
pub fn in_service(life_years: f64, t: usize, period: Period) -> f64 {
    (life_years * period.per_year() - t as f64).clamp(0.0, 1.0)
}
