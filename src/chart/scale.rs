//! Axes: ticks at 1, 2 or 5 times a power of ten, and how they are written.

use crate::report::numbers::{exponent, grouped, power_of_ten};

/// Ticks of an axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ticks {
    pub(super) values: Vec<f64>,
    /// Distance between two ticks.
    pub(super) step: f64,
    /// Decimals that the step needs.
    pub(super) decimals: i32,
}

/// About `wanted` ticks between `low` and `high`, whole numbers only if `whole`.
pub(super) fn ticks(low: f64, high: f64, wanted: usize, whole: bool) -> Ticks {
    let span = high - low;
    if !(span > 0.0 && span.is_finite()) {
        return Ticks { values: vec![low], step: 1.0, decimals: 0 };
    }
    let raw = span / wanted.max(1) as f64;
    let mut power = exponent(raw);
    let digit = raw / power_of_ten(power);
    let mut factor = match digit {
        d if d <= 1.0 + 1e-9 => 1,
        d if d <= 2.0 + 1e-9 => 2,
        d if d <= 5.0 + 1e-9 => 5,
        _ => {
            power += 1;
            1
        }
    };
    if whole && power < 0 {
        (power, factor) = (0, 1);
    }
    // Dividing by an exact power keeps 0.1 x 3 at 0.3.
    let value = |k: f64| {
        let k = k * f64::from(factor);
        if power < 0 { k / power_of_ten(-power) } else { k * power_of_ten(power) }
    };
    let step = value(1.0);
    let first = (low / step - 1e-9).ceil();
    let count = ((high / step + 1e-9).floor() - first).clamp(0.0, 1000.0) as usize;
    let values = (0..=count).map(|i| value(first + i as f64)).collect();
    Ticks { values, step, decimals: (-power).max(0) }
}

/// Least and greatest of the finite values, spread where they are all equal.
pub(super) fn extent(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for v in values.into_iter().filter(|v| v.is_finite()) {
        low = low.min(v);
        high = high.max(v);
    }
    if low > high {
        return (0.0, 1.0);
    }
    let size = low.abs().max(high.abs());
    if high - low <= size * 1e-9 {
        // All equal: a range about the value, so that it stands in the middle.
        let half = if size > 0.0 { size * 0.5 } else { 1.0 };
        return (low - half, high + half);
    }
    (low, high)
}

/// How an axis writes its numbers: millions and billions as such.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Writing {
    divisor: f64,
    word: &'static str,
}

impl Writing {
    /// For an axis with this range.
    pub(super) fn of(range: (f64, f64)) -> Self {
        let size = range.0.abs().max(range.1.abs());
        let (divisor, word) = match size {
            s if s >= 1e15 => (1.0, ""),
            s if s >= 1e9 => (1e9, "billion"),
            s if s >= 1e6 => (1e6, "million"),
            _ => (1.0, ""),
        };
        Writing { divisor, word }
    }
    /// The text of a tick.
    pub(super) fn tick(&self, value: f64, ticks: &Ticks) -> String {
        let step = ticks.step / self.divisor;
        let decimals = if self.divisor > 1.0 { (-exponent(step)).max(0) } else { ticks.decimals };
        grouped(value / self.divisor, decimals)
    }
    /// The unit with its multiplier: "million EUR".
    pub(super) fn unit(&self, unit: &str) -> String {
        match (self.word, unit) {
            ("", unit) => unit.to_string(),
            (word, "") => word.to_string(),
            (word, unit) => format!("{word} {unit}"),
        }
    }
}

/// Pushes places at least `gap` apart and within `low` to `high`, keeping
/// their order; for labels beside lines that end close together.
pub(super) fn spread(places: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|&a, &b| places[a].total_cmp(&places[b]));
    let mut out = places.to_vec();
    for _ in 0..60 {
        for pair in order.windows(2) {
            let short = gap - (out[pair[1]] - out[pair[0]]);
            if short > 0.0 {
                out[pair[0]] -= short / 2.0;
                out[pair[1]] += short / 2.0;
            }
        }
        for place in &mut out {
            *place = place.clamp(low, high.max(low));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_one_two_five() {
        for (low, high, wanted, step) in [
            (0.0, 20.0, 5, 5.0),
            (0.0, 1.0, 5, 0.2),
            (-412.0, 655.0, 6, 200.0),
            (0.0, 0.3, 3, 0.1),
            (0.0, 3e6, 6, 500_000.0),
        ] {
            let t = ticks(low, high, wanted, false);
            assert_eq!(t.step, step);
            assert!(t.values.iter().all(|v| *v >= low - 1e-9 && *v <= high + 1e-9));
        }
        assert_eq!(ticks(0.0, 0.3, 3, false).values, [0.0, 0.1, 0.2, 0.3]);
        assert_eq!(ticks(0.0, 1.0, 5, true).values, [0.0, 1.0]);
        assert_eq!(ticks(3.0, 3.0, 5, true).values, [3.0]);
    }

    #[test]
    fn ranges_hold_their_values_and_never_collapse() {
        assert_eq!(extent([-412.0, 655.0, f64::NAN, f64::INFINITY]), (-412.0, 655.0));
        assert_eq!(extent([]), (0.0, 1.0));
        assert_eq!(extent([0.0, 0.0]), (-1.0, 1.0));
        let (low, high) = extent([7.0, 7.0]);
        assert_eq!((low, high), (3.5, 10.5));
    }

    #[test]
    fn big_axes_say_million() {
        let writing = Writing::of((0.0, 3e6));
        assert_eq!(writing.tick(1.5e6, &ticks(0.0, 3e6, 6, false)), "1.5");
        assert_eq!(writing.unit("EUR"), "million EUR");
        assert_eq!(Writing::of((0.0, 900.0)).unit("EUR"), "EUR");
    }

    #[test]
    fn labels_are_spread_in_order() {
        let out = spread(&[10.0, 11.0, 12.0, 50.0], 12.0, 0.0, 100.0);
        assert!(out.windows(2).all(|w| w[1] - w[0] > 11.9));
    }
}
