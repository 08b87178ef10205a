//! The same figures for a block of runs: one slice for the outlay, one for
//! each period's saving, all of the block's length, runs in the inner loop.
//!
//! Plain loops with selects in place of branches, so that they vectorise; the
//! wider instructions of newer processors change the speed, never the bits.
//! Slices shorter than `out` leave the rest of `out` untouched.

use super::{Period, Timing, first_factor, payback::steps};
use multiversion::multiversion;

/// Columns of scratch that the kernels below need, each of the block's length.
pub const SCRATCH_COLUMNS: usize = 5;

struct Scratch<'a> {
    cash: &'a mut [f64],
    tolerance: &'a mut [f64],
    factor: &'a mut [f64],
    v: &'a mut [f64],
    discounted: &'a mut [f64],
}

impl<'a> Scratch<'a> {
    /// Cuts `scratch` into columns of `n`; what is missing is missing at the end.
    #[inline(always)]
    fn cut(scratch: &'a mut [f64], n: usize) -> Self {
        debug_assert!(scratch.len() >= SCRATCH_COLUMNS * n, "scratch of {} for {n} runs", scratch.len());
        let n = n.min(scratch.len() / SCRATCH_COLUMNS);
        let (cash, rest) = scratch.split_at_mut(n);
        let (tolerance, rest) = rest.split_at_mut(n);
        let (factor, rest) = rest.split_at_mut(n);
        let (v, rest) = rest.split_at_mut(n);
        let (discounted, _) = rest.split_at_mut(n);
        Scratch { cash, tolerance, factor, v, discounted }
    }
}

/// Sum of sizes into `sum`, which the caller then turns into the tolerance.
#[inline(always)]
fn add_sizes(sum: &mut [f64], saving: &[f64], service: Option<&[f64]>) {
    match service {
        Some(service) => {
            for ((sum, &s), &w) in sum.iter_mut().zip(saving).zip(service) {
                *sum = steps::add_size(*sum, s, w);
            }
        }
        None => {
            for (sum, &s) in sum.iter_mut().zip(saving) {
                *sum = steps::add_size(*sum, s, 1.0);
            }
        }
    }
}

#[inline(always)]
fn begin(outlay: &[f64], cash: &mut [f64], tolerance: &mut [f64], out: &mut [f64]) {
    for (((o, k), tol), &c) in out.iter_mut().zip(cash).zip(tolerance).zip(outlay) {
        *tol = steps::tolerance(c, *tol);
        *k = -c;
        *o = steps::start(*k, *tol);
    }
}

#[inline(always)]
fn finish(per_year: f64, tolerance: &[f64], out: &mut [f64]) {
    for (o, &tol) in out.iter_mut().zip(tolerance) {
        *o = steps::years(*o, per_year, tol);
    }
}

/// One period of payback for all runs of the block.
#[inline(always)]
fn advance(
    t: f64,
    saving: &[f64],
    service: Option<&[f64]>,
    cash: &mut [f64],
    tolerance: &[f64],
    out: &mut [f64],
    step: impl Fn(f64, f64, f64, f64, f64, f64) -> f64 + Copy,
) {
    match service {
        Some(service) => {
            for ((((o, k), &tol), &s), &w) in out.iter_mut().zip(cash).zip(tolerance).zip(saving).zip(service)
            {
                *o = step(*o, t, steps::part(w), *k, s, tol);
                *k += s;
            }
        }
        None => {
            for (((o, k), &tol), &s) in out.iter_mut().zip(cash).zip(tolerance).zip(saving) {
                *o = step(*o, t, 1.0, *k, s, tol);
                *k += s;
            }
        }
    }
}

#[inline(always)]
fn walk(
    outlay: &[f64],
    saving: &[&[f64]],
    in_service: Option<&[&[f64]]>,
    period: Period,
    scratch: &mut [f64],
    out: &mut [f64],
    step: impl Fn(f64, f64, f64, f64, f64, f64) -> f64 + Copy,
) {
    let Scratch { cash, tolerance, .. } = Scratch::cut(scratch, out.len());
    let service = |t: usize| in_service.and_then(|w| w.get(t).copied());
    tolerance.fill(0.0);
    for (t, s) in saving.iter().enumerate() {
        add_sizes(tolerance, s, service(t));
    }
    begin(outlay, cash, tolerance, out);
    for (t, s) in saving.iter().enumerate() {
        advance(t as f64, s, service(t), cash, tolerance, out, step);
    }
    finish(period.per_year(), tolerance, out);
}

/// [`payback`](super::payback()) of each run. `in_service` has one slice for
/// each period, as `saving`. `scratch` holds [`SCRATCH_COLUMNS`] columns.
#[multiversion(targets("x86_64+avx2"))]
pub fn payback(
    outlay: &[f64],
    saving: &[&[f64]],
    in_service: Option<&[&[f64]]>,
    period: Period,
    scratch: &mut [f64],
    out: &mut [f64],
) {
    walk(outlay, saving, in_service, period, scratch, out, steps::lasting);
}

/// [`first_payback`](super::first_payback) of each run, arguments as [`payback`].
#[multiversion(targets("x86_64+avx2"))]
pub fn first_payback(
    outlay: &[f64],
    saving: &[&[f64]],
    in_service: Option<&[&[f64]]>,
    period: Period,
    scratch: &mut [f64],
    out: &mut [f64],
) {
    walk(outlay, saving, in_service, period, scratch, out, steps::first);
}

/// [`discounted_payback`](super::discounted_payback) of each run at its own
/// `rate`, other arguments as [`payback`].
#[multiversion(targets("x86_64+avx2"))]
pub fn discounted_payback(
    rate: &[f64],
    outlay: &[f64],
    saving: &[&[f64]],
    in_service: Option<&[&[f64]]>,
    timing: Timing,
    scratch: &mut [f64],
    out: &mut [f64],
) {
    let Scratch { cash, tolerance, factor, v, discounted } = Scratch::cut(scratch, out.len());
    let service = |t: usize| in_service.and_then(|w| w.get(t).copied());
    tolerance.fill(0.0);
    first_factors(rate, timing, factor, v);
    for (t, s) in saving.iter().enumerate() {
        discount(s, v, factor, discounted);
        add_sizes(tolerance, discounted, service(t));
    }
    begin(outlay, cash, tolerance, out);
    first_factors(rate, timing, factor, v);
    for (t, s) in saving.iter().enumerate() {
        discount(s, v, factor, discounted);
        advance(t as f64, discounted, service(t), cash, tolerance, out, steps::lasting);
    }
    finish(1.0, tolerance, out);
}

#[inline(always)]
fn first_factors(rate: &[f64], timing: Timing, factor: &mut [f64], v: &mut [f64]) {
    for ((f, v), &r) in factor.iter_mut().zip(v).zip(rate) {
        (*f, *v) = first_factor(r, timing);
    }
}

#[inline(always)]
fn discount(saving: &[f64], v: &[f64], factor: &mut [f64], discounted: &mut [f64]) {
    for (((d, f), &v), &s) in discounted.iter_mut().zip(factor).zip(v).zip(saving) {
        *f *= v;
        *d = s * *f;
    }
}

/// [`pays_back`](super::pays_back) of each run.
#[multiversion(targets("x86_64+avx2"))]
pub fn pays_back(outlay: &[f64], saving: &[&[f64]], scratch: &mut [f64], out: &mut [f64]) {
    let Scratch { cash, tolerance, .. } = Scratch::cut(scratch, out.len());
    tolerance.fill(0.0);
    for (k, &c) in cash.iter_mut().zip(outlay) {
        *k = -c;
    }
    for s in saving {
        for ((k, sum), &s) in cash.iter_mut().zip(tolerance.iter_mut()).zip(*s) {
            *sum = steps::add_size(*sum, s, 1.0);
            *k += s;
        }
    }
    for (((o, &k), &sum), &c) in out.iter_mut().zip(cash.iter()).zip(tolerance.iter()).zip(outlay) {
        *o = steps::yes(k, steps::tolerance(c, sum));
    }
}

/// [`npv`](super::npv) (or its mid-year variant) of each run at its own `rate`.
#[multiversion(targets("x86_64+avx2"))]
pub fn npv(
    rate: &[f64],
    outlay: &[f64],
    saving: &[&[f64]],
    timing: Timing,
    scratch: &mut [f64],
    out: &mut [f64],
) {
    let Scratch { factor, v, .. } = Scratch::cut(scratch, out.len());
    first_factors(rate, timing, factor, v);
    for (o, &c) in out.iter_mut().zip(outlay) {
        *o = -c;
    }
    for s in saving {
        for (((o, &v), f), &s) in out.iter_mut().zip(v.iter()).zip(factor.iter_mut()).zip(*s) {
            *f *= v;
            *o += s * *f;
        }
    }
}

/// [`in_service`](super::in_service()) of period `t` for each run's life.
#[multiversion(targets("x86_64+avx2"))]
pub fn in_service(life_years: &[f64], t: usize, period: Period, out: &mut [f64]) {
    for (o, &life) in out.iter_mut().zip(life_years) {
        *o = super::in_service(life, t, period);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Cash that meets the corners: whole numbers (exact zeros), nothing, no number, no bound.
    fn cash() -> impl Strategy<Value = f64> {
        prop_oneof![
            6 => -400.0..400.0f64,
            4 => (-3..4i32).prop_map(|x| f64::from(x) * 100.0),
            2 => Just(0.0),
        ]
    }

    fn any_cash() -> impl Strategy<Value = f64> {
        prop_oneof![40 => cash(), 1 => Just(f64::NAN), 1 => Just(f64::INFINITY), 1 => Just(f64::NEG_INFINITY)]
    }

    fn share() -> impl Strategy<Value = f64> {
        prop_oneof![3 => Just(1.0), 1 => Just(0.0), 1 => 0.0..1.0f64, 1 => Just(f64::NAN)]
    }

    const RUNS: usize = 7;

    fn block<S: Strategy<Value = f64>>(of: impl Fn() -> S, t: usize) -> impl Strategy<Value = Vec<Vec<f64>>> {
        prop::collection::vec(prop::collection::vec(of(), RUNS), t)
    }

    fn slices(columns: &[Vec<f64>]) -> Vec<&[f64]> {
        columns.iter().map(Vec::as_slice).collect()
    }

    fn same(block: &[f64], run: usize, one: f64) -> Result<(), TestCaseError> {
        prop_assert!(
            block[run].to_bits() == one.to_bits() || block[run].is_nan() && one.is_nan(),
            "{} in a block, {one} alone",
            block[run]
        );
        Ok(())
    }

    proptest! {
        #[test]
        fn a_block_has_the_bits_of_its_runs(
            outlay in prop::collection::vec(any_cash(), RUNS),
            rate in prop::collection::vec(prop_oneof![9 => -0.5..0.5f64, 1 => Just(-1.0), 1 => Just(-3.0)], RUNS),
            (saving, service) in (0..12usize).prop_flat_map(|t| (block(any_cash, t), block(share, t))),
            month in any::<bool>(),
            mid in any::<bool>(),
            with_service in any::<bool>(),
        ) {
            let period = if month { Period::Month } else { Period::Year };
            let timing = if mid { Timing::MidYear } else { Timing::YearEnd };
            let columns = slices(&saving);
            let services = slices(&service);
            let services = with_service.then_some(services.as_slice());
            let mut scratch = vec![f64::NAN; SCRATCH_COLUMNS * RUNS];
            let mut out = [[f64::NAN; RUNS]; 5];
            payback(&outlay, &columns, services, period, &mut scratch, &mut out[0]);
            first_payback(&outlay, &columns, services, period, &mut scratch, &mut out[1]);
            discounted_payback(&rate, &outlay, &columns, services, timing, &mut scratch, &mut out[2]);
            pays_back(&outlay, &columns, &mut scratch, &mut out[3]);
            npv(&rate, &outlay, &columns, timing, &mut scratch, &mut out[4]);
            for r in 0..RUNS {
                let s: Vec<f64> = saving.iter().map(|c| c[r]).collect();
                let w: Vec<f64> = service.iter().map(|c| c[r]).collect();
                let w = with_service.then_some(w.as_slice());
                same(&out[0], r, crate::finance::payback(outlay[r], &s, w, period))?;
                same(&out[1], r, crate::finance::first_payback(outlay[r], &s, w, period))?;
                same(&out[2], r, crate::finance::discounted_payback(rate[r], outlay[r], &s, w, timing))?;
                same(&out[3], r, crate::finance::pays_back(outlay[r], &s))?;
                same(&out[4], r, if mid {
                    crate::finance::npv_mid_year(rate[r], outlay[r], &s)
                } else {
                    crate::finance::npv(rate[r], outlay[r], &s)
                })?;
            }
        }

        #[test]
        fn pays_back_says_what_payback_says(
            outlay in cash(),
            saving in prop::collection::vec(cash(), 0..15),
        ) {
            let years = crate::finance::payback(outlay, &saving, None, Period::Year);
            let yes = crate::finance::pays_back(outlay, &saving);
            prop_assert_eq!(years == f64::INFINITY, yes == 0.0);
            let first = crate::finance::first_payback(outlay, &saving, None, Period::Year);
            prop_assert!(first <= years);
        }

        #[test]
        fn discounted_payback_says_what_the_present_value_says(
            outlay in cash(),
            saving in prop::collection::vec(cash(), 0..15),
            rate in -0.2..0.5f64,
        ) {
            let years = crate::finance::discounted_payback(rate, outlay, &saving, None, Timing::YearEnd);
            let value = crate::finance::npv(rate, outlay, &saving);
            // Apart from values that are zero but for rounding.
            prop_assume!(value.abs() > 1e-3);
            prop_assert_eq!(years == f64::INFINITY, value < 0.0);
        }

        /// With savings that are never negative: the plain sign of the cash at
        /// the end, and a payback not after the end of life.
        #[test]
        fn without_losses_the_end_decides(
            outlay in 0.0..3000.0f64,
            yearly in prop::collection::vec(0.0..400.0f64, 20),
            life in 0.0..25.0f64,
        ) {
            let service: Vec<f64> = (0..20).map(|t| crate::finance::in_service(life, t, Period::Year)).collect();
            let saving: Vec<f64> = yearly.iter().zip(&service).map(|(s, w)| s * w).collect();
            let years = crate::finance::payback(outlay, &saving, Some(&service), Period::Year);
            let end = crate::finance::cumulative_cash(outlay, &saving)[20];
            prop_assert_eq!(years < f64::INFINITY, end >= 0.0);
            prop_assert!(years == f64::INFINITY || years <= life.min(20.0) + 1e-9);
            let first = crate::finance::first_payback(outlay, &saving, Some(&service), Period::Year);
            prop_assert_eq!(first.to_bits(), years.to_bits());
        }
    }

    #[test]
    fn sums_that_round_still_pay_at_the_years_end() {
        // 0.1 ten times is not 1 in binary: paid in year 10, not never.
        let years = crate::finance::payback(1.0, &[0.1; 10], None, Period::Year);
        assert_eq!(years, 10.0);
        assert_eq!(crate::finance::pays_back(1.0, &[0.1; 10]), 1.0);
    }

    #[test]
    fn money_in_a_year_without_service_comes_over_the_whole_year() {
        // 100 left to pay after one year of service; a sale of 200 in the third year.
        let years =
            crate::finance::payback(300.0, &[200.0, 0.0, 200.0], Some(&[1.0, 0.0, 0.0]), Period::Year);
        assert_eq!(years, 2.5);
    }

    #[test]
    fn what_is_no_number_gives_no_number() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(crate::finance::payback(bad, &[1.0], None, Period::Year).is_nan());
            assert!(crate::finance::payback(1.0, &[1.0, bad], None, Period::Year).is_nan());
            assert!(crate::finance::payback(1.0, &[1.0], Some(&[bad]), Period::Year).is_nan());
            assert!(crate::finance::pays_back(1.0, &[bad]).is_nan());
        }
    }
}
