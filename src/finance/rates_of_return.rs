//! Rates of return: every rate at which the net present value is zero.

use super::bracket::root;

/// Rates are sought above this one ...
pub const LOWEST_RATE: f64 = -0.99;
/// ... and below this one.
pub const HIGHEST_RATE: f64 = 10.0;

/// Cells of the scan, even steps of ln(1 + rate); used only when the signs of
/// the cash leave more than one rate possible.
const CELLS: usize = 256;

/// A net present value this small, relative to the sizes of its terms, is zero.
const TOUCHES: f64 = 1e-13;

/// All rates of return of a course of cash.
#[derive(Debug, Clone, PartialEq)]
pub struct Rates {
    /// In rising order, each between [`LOWEST_RATE`] and [`HIGHEST_RATE`]. None
    /// or several is an answer: there is no single rate of return.
    pub rates: Vec<f64>,
    /// Cumulative cash changes sign once and ends positive, so that there is
    /// one positive rate and no other positive one (Norstrom, 1972).
    pub one_positive: bool,
}

/// Every real rate in (-0.99, 10) at which `npv(rate, outlay, saving)` is zero.
///
/// With one change of sign in the cash there is at most one (Descartes' rule),
/// found to 1e-14. Otherwise 256 cells of ln(1 + rate) are scanned for changes
/// of sign and, where the value turns round inside a cell, for a pair of rates
/// or a touch of zero. None when every rate fits (no cash at all), and none
/// when a figure is NaN or infinite.
pub fn rates_of_return(outlay: f64, saving: &[f64]) -> Rates {
    let none = Rates { rates: Vec::new(), one_positive: false };
    if !outlay.is_finite() || saving.iter().any(|s| !s.is_finite()) {
        return none;
    }
    let rates = match changes_of_sign(outlay, saving) {
        0 => Vec::new(),
        1 => {
            let (low, high) = (ln_growth(LOWEST_RATE), ln_growth(HIGHEST_RATE));
            let f = |y| Value::at(outlay, saving, y).npv;
            cell_root(&f, low, f(low), high, f(high)).into_iter().collect()
        }
        _ => scan(outlay, saving),
    };
    let rates = rates.into_iter().map(libm::expm1).filter(|&r| LOWEST_RATE < r && r < HIGHEST_RATE).collect();
    Rates { rates, one_positive: one_positive(outlay, saving) }
}

/// The one rate of return; NaN when there is none or more than one.
pub fn single_rate(outlay: f64, saving: &[f64]) -> f64 {
    match rates_of_return(outlay, saving).rates[..] {
        [rate] => rate,
        _ => f64::NAN,
    }
}

fn ln_growth(rate: f64) -> f64 {
    libm::log1p(rate)
}

fn changes_of_sign(outlay: f64, saving: &[f64]) -> usize {
    let mut last = 0.0;
    let mut changes = 0;
    for x in std::iter::once(-outlay).chain(saving.iter().copied()).filter(|&x| x != 0.0) {
        if last != 0.0 && (x < 0.0) != (last < 0.0) {
            changes += 1;
        }
        last = x;
    }
    changes
}

fn one_positive(outlay: f64, saving: &[f64]) -> bool {
    let cash = super::cumulative_cash(outlay, saving);
    let (Some(&first), rest) = (cash.first(), cash.get(1..).unwrap_or_default()) else { return false };
    changes_of_sign(-first, rest) == 1 && cash.last().is_some_and(|&end| end > 0.0)
}

/// Net present value as a function of y = ln(1 + rate), with what the search needs.
struct Value {
    npv: f64,
    /// Its derivative by y.
    slope: f64,
    /// Sum of the sizes of its terms.
    size: f64,
}

impl Value {
    /// Divided by the largest factor, so that rates near -0.99 over a hundred
    /// years stay within range: a positive factor moves no root.
    fn at(outlay: f64, saving: &[f64], y: f64) -> Value {
        let (v, start) = (libm::exp(-y), if y < 0.0 { libm::exp(y * saving.len() as f64) } else { 1.0 });
        let mut factor = start;
        let mut all = Value { npv: -outlay * factor, slope: 0.0, size: outlay.abs() * factor };
        for (t, &s) in saving.iter().enumerate() {
            factor *= v;
            all.npv += s * factor;
            all.slope -= (t + 1) as f64 * s * factor;
            all.size += (s * factor).abs();
        }
        if y < 0.0 {
            all.slope += saving.len() as f64 * all.npv;
        }
        all
    }

    fn touches(&self) -> bool {
        self.npv.abs() <= TOUCHES * self.size
    }
}

fn cell_root(f: &impl Fn(f64) -> f64, a: f64, fa: f64, b: f64, fb: f64) -> Option<f64> {
    if (fa < 0.0) == (fb < 0.0) { None } else { root(f, (a, fa), (b, fb), 1e-15) }
}

/// Roots in y, rising.
fn scan(outlay: f64, saving: &[f64]) -> Vec<f64> {
    let at = |y: f64| Value::at(outlay, saving, y);
    let f = |y: f64| at(y).npv;
    let (low, high) = (ln_growth(LOWEST_RATE), ln_growth(HIGHEST_RATE));
    // 0 is a grid point, so the slope's scaling does not jump inside a cell.
    let below = (CELLS as f64 * -low / (high - low)).round() as usize;
    let grid = |i: usize| {
        if i <= below {
            low * (below - i) as f64 / below as f64
        } else {
            high * (i - below) as f64 / (CELLS - below) as f64
        }
    };
    let mut roots: Vec<f64> = Vec::new();
    let (mut a, mut left) = (low, at(low));
    for i in 1..=CELLS {
        let b = grid(i);
        let right = at(b);
        match turning_point(&at, a, &left, b, &right) {
            Some((m, middle)) if middle.touches() => roots.push(m),
            Some((m, middle)) => {
                roots.extend(cell_root(&f, a, left.npv, m, middle.npv));
                roots.extend(cell_root(&f, m, middle.npv, b, right.npv));
            }
            None => roots.extend(cell_root(&f, a, left.npv, b, right.npv)),
        }
        (a, left) = (b, right);
    }
    roots.dedup_by(|later, earlier| (*later - *earlier).abs() < 1e-9);
    roots
}

/// Where the value turns round inside a cell while heading for zero.
fn turning_point(
    at: &impl Fn(f64) -> Value,
    a: f64,
    left: &Value,
    b: f64,
    right: &Value,
) -> Option<(f64, Value)> {
    let right_slope = if b == 0.0 { at(-f64::MIN_POSITIVE).slope } else { right.slope };
    if (left.npv < 0.0) != (right.npv < 0.0) || (left.slope < 0.0) == (right_slope < 0.0) {
        return None;
    }
    let m = root(|y| at(y).slope, (a, left.slope), (b, right_slope), 1e-15)?;
    Some((m, at(m)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cash (outlay, savings) whose net present value has exactly these rates:
    /// the polynomial in 1 + r with these roots, multiplied out.
    fn with_rates(rates: &[f64]) -> (f64, Vec<f64>) {
        let mut cash = vec![-1.0];
        for r in rates {
            let mut next = vec![0.0; cash.len() + 1];
            for (i, c) in cash.iter().enumerate() {
                next[i] += c;
                next[i + 1] -= c * (1.0 + r);
            }
            cash = next;
        }
        (-cash[0], cash[1..].to_vec())
    }

    #[test]
    fn finds_every_rate() {
        for rates in [vec![-0.5, 0.1, 0.4], vec![0.05, 0.05001], vec![-0.9, -0.2, 0.3, 4.0], vec![9.5]] {
            let (outlay, saving) = with_rates(&rates);
            let got = rates_of_return(outlay, &saving).rates;
            assert_eq!(got.len(), rates.len(), "{got:?} for {rates:?}");
            for (g, e) in got.iter().zip(&rates) {
                assert!((g - e).abs() < 1e-8, "{got:?} for {rates:?}");
            }
        }
    }

    #[test]
    fn a_touch_of_zero_is_one_rate() {
        for i in -30..60 {
            let rate = 0.0137 * f64::from(i);
            let (outlay, saving) = with_rates(&[rate, rate]);
            let got = rates_of_return(outlay, &saving).rates;
            assert!(got.len() == 1 && (got[0] - rate).abs() < 1e-6, "{got:?} for {rate}");
        }
    }

    #[test]
    fn rates_outside_the_range_are_none() {
        let (outlay, saving) = with_rates(&[12.0]);
        assert!(rates_of_return(outlay, &saving).rates.is_empty());
        assert!(single_rate(0.0, &[0.0, 0.0]).is_nan());
        assert!(single_rate(f64::NAN, &[1.0]).is_nan());
    }

    #[test]
    fn a_hundred_years_stay_in_range() {
        // 1 paid each year for 50 years, 2 returned each year for the next 50:
        // both halves are equal at 2 v^50 = 1.
        let mut saving = vec![-1.0; 49];
        saving.extend([2.0; 50]);
        let expect = libm::pow(2.0, 1.0 / 50.0) - 1.0;
        let all = rates_of_return(1.0, &saving);
        assert!((all.rates[0] - expect).abs() < 1e-12 && all.rates.len() == 1);
        assert!(all.one_positive);
    }
}
