//! Present values, by yearly factors.

use super::Timing;

/// The factor before the first year, and the one by which each year
/// multiplies it: year t gets `first * v^t`, built up as a running product.
///
/// For the middle of the year `first` is sqrt(1 + r).
#[inline(always)]
pub(crate) fn first_factor(rate: f64, timing: Timing) -> (f64, f64) {
    // A rate of -100 % or less has no factors: NaN, not a sign that alternates.
    let growth = if rate > -1.0 { 1.0 + rate } else { f64::NAN };
    let first = match timing {
        Timing::YearEnd => 1.0,
        Timing::MidYear => growth.sqrt(),
    };
    (first, 1.0 / growth)
}

fn value(rate: f64, outlay: f64, saving: &[f64], timing: Timing) -> f64 {
    let (mut factor, v) = first_factor(rate, timing);
    let mut sum = -outlay;
    for &s in saving {
        factor *= v;
        sum += s * factor;
    }
    sum
}

/// Net present value of yearly savings that come at the end of each year, at
/// the yearly discount rate `rate`: -C + sum of S_t (1 + r)^-t.
///
/// The order of operations is part of the promise (same bytes everywhere):
/// `f = 1; v = 1/(1 + r); sum = -C;` then for each year `f = f*v; sum = sum +
/// S_t*f`. NaN when `rate` is not above -1.
///
/// # Example: 100 now for 60 after one and after two years, at 5 %
/// ```
/// let value = payspread::finance::npv(0.05, 100.0, &[60.0, 60.0]);
/// assert!((value - (60.0 / 1.05 + 60.0 / 1.1025 - 100.0)).abs() < 1e-12);
/// ```
pub fn npv(rate: f64, outlay: f64, saving: &[f64]) -> f64 {
    value(rate, outlay, saving, Timing::YearEnd)
}

/// Net present value with savings in the middle of each year: factors
/// (1 + r)^-(t - 1/2), as [`npv`] with `f = sqrt(1 + r)` at the start.
pub fn npv_mid_year(rate: f64, outlay: f64, saving: &[f64]) -> f64 {
    value(rate, outlay, saving, Timing::MidYear)
}

/// The yearly amount that repays 1 with interest over `years` equal payments
/// at each year's end (`years` need not be whole): r / (1 - (1 + r)^-n), and
/// 1/n at rate 0. NaN when `rate` is not above -1 or `years` is not above 0.
///
/// # Example: a loan of 1000 over 10 years at 5 %
/// ```
/// let yearly = 1000.0 * payspread::finance::annuity(0.05, 10.0);
/// assert!((yearly - 129.504574965).abs() < 1e-8);
/// ```
pub fn annuity(rate: f64, years: f64) -> f64 {
    if !(rate > -1.0 && years > 0.0) {
        return f64::NAN;
    }
    // 1 - (1+r)^-n without the loss of digits that small rates would bring.
    let log_growth = libm::log1p(rate);
    if log_growth == 0.0 {
        return 1.0 / years;
    }
    rate / -libm::expm1(-years * log_growth)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_annuity_is_worth_one() {
        for rate in [-0.02, 0.0, 1e-12, 0.04, 0.3] {
            let yearly = annuity(rate, 15.0);
            assert!(npv(rate, 1.0, &[yearly; 15]).abs() < 1e-12, "{rate}");
        }
        assert!(annuity(-1.0, 5.0).is_nan() && annuity(0.04, 0.0).is_nan());
    }

    #[test]
    fn the_order_of_operations_is_the_promised_one() {
        let (r, c, s) = (0.037, 812.3, [101.7, 99.1, 250.0, 77.7]);
        let v = 1.0 / (1.0 + r);
        let (f1, f2, f3, f4) = (1.0 * v, 1.0 * v * v, 1.0 * v * v * v, 1.0 * v * v * v * v);
        let by_hand = -c + s[0] * f1 + s[1] * f2 + s[2] * f3 + s[3] * f4;
        assert_eq!(npv(r, c, &s).to_bits(), by_hand.to_bits());
        assert!(npv(-1.5, c, &s).is_nan());
    }
}
