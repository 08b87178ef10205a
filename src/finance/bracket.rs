//! A root between two points of opposite sign.

/// The most evaluations after which [`root`] gives up narrowing; halving alone
/// brings any range of doubles below its smallest difference in fewer.
const MOST_STEPS: usize = 200;

/// A point where `f` changes sign between `a` and `b`, to within `width`, by
/// Chandrupatla's method (1997, *A new hybrid quadratic/bisection algorithm
/// for finding the zero of a nonlinear function without using derivatives*).
///
/// `fa` and `fb` are `f(a)` and `f(b)`; one must be negative and the other
/// not, else, or when `f` gives NaN, there is no answer. At a jump the answer
/// is a point within `width` of it.
pub fn root(
    mut f: impl FnMut(f64) -> f64,
    (a, fa): (f64, f64),
    (b, fb): (f64, f64),
    width: f64,
) -> Option<f64> {
    if fa.is_nan() || fb.is_nan() || (fa < 0.0) == (fb < 0.0) {
        return None;
    }
    // 1 is the newest point, 2 lies on the other side, 3 is the one before.
    let (mut x1, mut f1, mut x2, mut f2) = (b, fb, a, fa);
    let mut t = 0.5;
    for _ in 0..MOST_STEPS {
        let x = x1 + t * (x2 - x1);
        let fx = f(x);
        if fx.is_nan() {
            return None;
        }
        let (x3, f3);
        if (fx < 0.0) == (f1 < 0.0) {
            (x3, f3) = (x1, f1);
        } else {
            (x3, f3) = (x2, f2);
            (x2, f2) = (x1, f1);
        }
        (x1, f1) = (x, fx);
        let (best, f_best) = if f1.abs() < f2.abs() { (x1, f1) } else { (x2, f2) };
        let gap = (x2 - x1).abs();
        let limit = 0.5 * width + 4.0 * f64::EPSILON * best.abs();
        if f_best == 0.0 || gap <= limit {
            return Some(best);
        }
        t = step_share((x1, f1), (x2, f2), (x3, f3)).clamp(limit / gap * 0.5, 1.0 - limit / gap * 0.5);
    }
    Some(0.5 * (x1 + x2))
}

/// Where between points 1 and 2 to look next: inverse quadratic interpolation
/// where it can be trusted, else the middle.
fn step_share((x1, f1): (f64, f64), (x2, f2): (f64, f64), (x3, f3): (f64, f64)) -> f64 {
    let xi = (x1 - x2) / (x3 - x2);
    let phi = (f1 - f2) / (f3 - f2);
    if phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi {
        let t =
            f1 / (f2 - f1) * (f3 / (f2 - f3)) + (x3 - x1) / (x2 - x1) * (f1 / (f3 - f1)) * (f2 / (f3 - f2));
        if t.is_finite() { t } else { 0.5 }
    } else {
        0.5
    }
}

#[cfg(test)]
mod tests {
    use super::root;

    fn solve(f: impl Fn(f64) -> f64, a: f64, b: f64) -> Option<f64> {
        root(&f, (a, f(a)), (b, f(b)), 1e-12)
    }

    #[test]
    fn finds_known_roots() {
        let sqrt2 = solve(|x| x * x - 2.0, 0.0, 2.0).unwrap();
        assert!((sqrt2 - 2f64.sqrt()).abs() < 1e-12);
        // Flat to the fifth order, where interpolation alone crawls.
        let flat = solve(|x| (x - 0.3) * (x - 0.3) * (x - 0.3) * (x - 0.3) * (x - 0.3), -1.0, 4.0).unwrap();
        assert!((flat - 0.3).abs() < 1e-12, "{flat}");
        let end = solve(|x| x, -1.0, 0.0).unwrap();
        assert!(end.abs() < 1e-12);
    }

    #[test]
    fn a_jump_is_bracketed() {
        let at = solve(|x| if x < 0.7 { -3.0 } else { 5.0 }, 0.0, 1.0).unwrap();
        assert!((at - 0.7).abs() < 1e-11);
        let far = solve(|x| if x < 0.7 { -3.0 } else { f64::INFINITY }, 0.0, 1.0).unwrap();
        assert!((far - 0.7).abs() < 1e-11);
    }

    #[test]
    fn no_change_of_sign_no_root() {
        assert_eq!(solve(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(solve(|x| if x < 0.5 { -1.0 } else { f64::NAN }, 0.0, 1.0), None);
    }
}
