//! How many digits a figure may show.

/// A standard uncertainty written as c x 10^l, and what that leaves open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Whole number of as many digits as asked.
    pub c: i64,
    /// Power of ten of its last digit.
    pub l: i32,
    /// Half a unit of the last digit: 10^l / 2.
    pub tolerance: f64,
}

fn power_of_ten(l: i32) -> f64 {
    // Read as a decimal, it is the nearest double; a product of tens is not.
    format!("1e{l}").parse().unwrap_or(f64::NAN)
}

/// The numerical tolerance of a standard uncertainty with `digits` significant
/// digits (JCGM 101:2008, 7.9.2). None unless `u` is positive and finite and
/// `digits` is 1 to 15.
///
/// # Example
/// ```
/// let t = payspread::analysis::statistics::digits::tolerance(0.00035, 2).unwrap();
/// assert_eq!((t.c, t.l, t.tolerance), (35, -5, 0.000005));
/// ```
pub fn tolerance(u: f64, digits: usize) -> Option<Tolerance> {
    if !(u > 0.0 && u < f64::INFINITY && (1..=15).contains(&digits)) {
        return None;
    }
    // Decimal rounding, carry included, is what the formatter does exactly.
    let text = format!("{u:.*e}", digits - 1);
    let (mantissa, exponent) = text.split_once('e')?;
    let c: i64 = mantissa.replace('.', "").parse().ok()?;
    let l = exponent.parse::<i32>().ok()? - (digits as i32 - 1);
    Some(Tolerance { c, l, tolerance: 0.5 * power_of_ten(l) })
}

/// How many decimals a figure with this standard error may show (negative:
/// round to tens, hundreds, ...): the most for which twice the error is not
/// above half a unit of the last digit, the rule that JCGM 101:2008, 7.9.4
/// puts on a result that has become stable. None when the error is 0 or not
/// known: then it sets no limit.
///
/// # Example: 120.6 with an error of 0.43 is known to tens
/// ```
/// use payspread::analysis::statistics::digits::decimals;
/// assert_eq!(decimals(0.43), Some(-1));
/// assert_eq!(decimals(0.002), Some(2));
/// ```
pub fn decimals(standard_error: f64) -> Option<i32> {
    if !(standard_error > 0.0 && standard_error < f64::INFINITY) {
        return None;
    }
    let least_unit = 4.0 * standard_error;
    let text = format!("{least_unit:e}");
    let (_, exponent) = text.split_once('e')?;
    let l: i32 = exponent.parse().ok()?;
    let l = if power_of_ten(l) >= least_unit { l } else { l + 1 };
    Some(-l)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn one_more_decimal_would_be_too_many(se in 1e-12..1e12f64) {
            let d = decimals(se).unwrap();
            prop_assert!(2.0 * se <= 0.5 * power_of_ten(-d));
            prop_assert!(2.0 * se > 0.5 * power_of_ten(-d - 1));
        }
    }

    #[test]
    fn no_error_no_limit() {
        assert_eq!((decimals(0.0), decimals(f64::NAN)), (None, None));
        assert_eq!((tolerance(0.0, 2), tolerance(1.0, 0)), (None, None));
    }
}
