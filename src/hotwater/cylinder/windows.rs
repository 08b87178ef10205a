//! Times of the day: which share of a step lies in them.

/// An interval of hours within a day; those past midnight are two of them.
type Intervals = [(f64, f64); 2];

const NEVER: (f64, f64) = (0.0, 0.0);

/// From one hour to another; past midnight if the second is before the first; never if they are the same.
fn intervals(from: f64, to: f64) -> Intervals {
    if from <= to { [(from, to), NEVER] } else { [(from, 24.0), (0.0, to)] }
}

fn overlap(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    let from = a.0.max(b.0);
    (from, a.1.min(b.1).max(from))
}

/// Hours of the step from `start` to `end` within a window.
pub(super) fn hours_within(start: f64, end: f64, from: f64, to: f64) -> f64 {
    intervals(from, to).iter().map(|&i| overlap((start, end), i)).map(|(a, b)| b - a).sum()
}

/// Hours of the step within either of two windows.
pub(super) fn hours_within_either(start: f64, end: f64, one: (f64, f64), other: (f64, f64)) -> f64 {
    let mut hours = hours_within(start, end, one.0, one.1) + hours_within(start, end, other.0, other.1);
    // What both have is counted once.
    for a in intervals(one.0, one.1) {
        for b in intervals(other.0, other.1) {
            let (from, to) = overlap(overlap(a, b), (start, end));
            hours -= to - from;
        }
    }
    hours.clamp(0.0, end - start)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_pass_midnight_and_split_steps() {
        assert_eq!(hours_within(16.5, 17.0, 16.75, 21.0), 0.25);
        assert_eq!(hours_within(23.5, 24.0, 22.0, 6.0), 0.5);
        assert_eq!(hours_within(0.0, 0.5, 22.0, 6.0), 0.5);
        assert_eq!(hours_within(6.0, 6.5, 22.0, 6.25), 0.25);
        assert_eq!(hours_within(6.5, 7.0, 22.0, 6.25), 0.0);
        assert_eq!(hours_within(12.0, 12.5, 7.0, 7.0), 0.0);
        assert_eq!(hours_within(12.0, 12.5, 0.0, 24.0), 0.5);
        assert_eq!(hours_within(0.0, 0.5, 24.0, 6.0), 0.5);
    }

    #[test]
    fn two_windows_are_counted_once_where_they_overlap() {
        assert_eq!(hours_within_either(5.0, 8.0, (6.0, 7.0), (6.5, 7.5)), 1.5);
        assert_eq!(hours_within_either(0.0, 24.0, (22.0, 6.0), (4.0, 8.0)), 10.0);
        assert_eq!(hours_within_either(0.0, 24.0, (22.0, 6.0), (23.0, 1.0)), 8.0);
        assert_eq!(hours_within_either(0.0, 24.0, (3.0, 3.0), (17.0, 21.0)), 4.0);
    }
}
