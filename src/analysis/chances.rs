//! The share of runs that succeed with the lever held at a value. Each run's
//! crossings say where it is good, so no run is evaluated anew, and all values
//! share the same draws.

use crate::analysis::break_even::Crossing;
use crate::analysis::statistics::intervals::{CONFIDENCE, rank_interval, share_of_parts};
use crate::analysis::{ChanceLever, ChancePoint, Lever, LeversForChance};

/// Values of the lever on the curve.
pub const LEVELS: usize = 41;

/// Share of runs that are good at each of [`LEVELS`] even steps over `range`; run r belongs to replicate r mod
/// `replicates`.
pub fn chance_curve(crossings: &[Crossing], range: (f64, f64), replicates: usize) -> Vec<ChancePoint> {
    let (from, to) = range;
    let level =
        |k: usize| if k == LEVELS - 1 { to } else { from + (to - from) * (k as f64 / (LEVELS - 1) as f64) };
    let levels: Vec<f64> = (0..LEVELS).map(level).collect();
    let mut parts = vec![(0_u64, [0_i64; LEVELS]); replicates.max(1)];
    let n_parts = parts.len();
    for (run, crossing) in crossings.iter().enumerate() {
        let (runs, changes) = &mut parts[run % n_parts];
        *runs += 1;
        let mut good = crossing.starts_good();
        changes[0] += i64::from(good);
        for root in crossing.roots() {
            good = !good;
            // A run is good at its crossing itself, which is a rounded figure.
            let rounding = 1e-12 * root.abs();
            let first =
                levels.partition_point(|&x| if good { x < root - rounding } else { x <= root + rounding });
            if let Some(change) = changes.get_mut(first) {
                *change += if good { 1 } else { -1 };
            }
        }
    }
    let mut successes = vec![0_i64; n_parts];
    let point = |(k, lever): (usize, f64)| {
        successes.iter_mut().zip(&parts).for_each(|(good, part)| *good += part.1[k]);
        let counts: Vec<(u64, u64)> =
            successes.iter().zip(&parts).map(|(&good, part)| (good.unsigned_abs(), part.0)).collect();
        ChancePoint { lever, share: share_of_parts(&counts, CONFIDENCE) }
    };
    levels.into_iter().enumerate().map(point).collect()
}

/// The point with the largest share; of neighbours alike the middle one. None without runs.
pub fn best(curve: &[ChancePoint]) -> Option<ChancePoint> {
    let most = curve.iter().map(|point| point.share.value).max_by(f64::total_cmp).filter(|x| !x.is_nan())?;
    let first = curve.iter().position(|point| point.share.value == most)?;
    let alike = curve[first..].iter().take_while(|point| point.share.value == most).count();
    curve.get(first + (alike - 1) / 2).copied()
}

/// Number of good runs as the lever rises.
pub struct Steps {
    /// Below every crossing.
    before: i64,
    /// Each lever at which it changes, rising, and the number from there on.
    steps: Vec<(f64, i64)>,
    runs: u64,
}

impl Steps {
    /// Of the runs' crossings.
    pub fn of(crossings: &[Crossing]) -> Self {
        let before = crossings.iter().filter(|crossing| crossing.starts_good()).count() as i64;
        let mut changes: Vec<(f64, i64)> = Vec::new();
        for crossing in crossings {
            let mut good = crossing.starts_good();
            for root in crossing.roots() {
                good = !good;
                changes.push((root, if good { 1 } else { -1 }));
            }
        }
        changes.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut steps: Vec<(f64, i64)> = Vec::with_capacity(changes.len());
        let mut count = before;
        for (x, change) in changes {
            count += change;
            match steps.last_mut() {
                Some(last) if last.0 == x => last.1 = count,
                _ => steps.push((x, count)),
            }
        }
        Steps { before, steps, runs: crossings.len() as u64 }
    }

    fn before(&self, step: usize) -> i64 {
        if step == 0 { self.before } else { self.steps[step - 1].1 }
    }

    /// All levers at which the share passes `chance`: one for each two neighbours of the curve with the chance between
    /// them, and there the middle one of the steps that pass it.
    pub fn levers_for_chance(&self, curve: &[ChancePoint], chance: f64) -> LeversForChance {
        let enough = |count: i64| count as f64 >= chance * self.runs as f64;
        let reaches = |point: &ChancePoint| point.share.value >= chance;
        let passed = |pair: &[ChancePoint]| {
            let [a, b] = pair else { return None };
            if reaches(a) == reaches(b) {
                return None;
            }
            let within =
                self.steps.partition_point(|s| s.0 < a.lever)..self.steps.partition_point(|s| s.0 <= b.lever);
            let passing: Vec<usize> =
                within.filter(|&k| enough(self.before(k)) != enough(self.steps[k].1)).collect();
            let step = *passing.get(passing.len() / 2)?;
            let (low, high) = self.interval(step, chance);
            Some(ChanceLever { lever: self.steps[step].0, low, high, rises: reaches(b) })
        };
        LeversForChance {
            chance,
            reached: curve.iter().any(reaches),
            levers: curve.windows(2).filter_map(passed).collect(),
        }
    }

    /// The levers around a step at which as many runs are good as may well be where the chance is true: the number lies
    /// between the ranks of the order statistics. Where the number only rises, that is their interval itself.
    fn interval(&self, step: usize, chance: f64) -> (Option<Lever>, Option<Lever>) {
        let ranks = rank_interval(self.runs, chance, CONFIDENCE);
        let (least, most) =
            (ranks.lower.unwrap_or(0) as i64, ranks.upper.map_or(i64::MAX, |rank| rank as i64));
        let out = |count: i64| count < least || count >= most;
        let low = (0..=step).rev().find(|&k| out(self.before(k)));
        let high = (step..self.steps.len()).find(|&k| out(self.steps[k].1));
        let at = |k: Option<usize>| k.map(|k| Lever::At(self.steps[k].0));
        (at(low), at(high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::LeverWindow;
    use crate::analysis::statistics::roots::lever_for_chance;

    fn crossing(roots: &[f64], good_above: bool) -> Crossing {
        let (lowest, more) = roots.split_first().unwrap();
        let crossings = roots.len() as u32;
        Crossing { lever: Lever::At(*lowest), crossings, good_above, more: more.to_vec() }
    }

    fn without(lever: Lever) -> Crossing {
        Crossing { lever, crossings: 0, good_above: true, more: Vec::new() }
    }

    /// Good from 2 on; from 1 to 4; always; never: a quarter below 1, half below 2, three quarters up to 4.
    #[test]
    fn four_runs_by_hand() {
        let runs = [
            crossing(&[2.0], true),
            crossing(&[1.0, 4.0], true),
            without(Lever::Always),
            without(Lever::Never),
        ];
        let curve = chance_curve(&runs, (0.0, 4.0), 1);
        for point in &curve {
            let expect = if point.lever < 0.999 {
                0.25
            } else if point.lever < 1.999 {
                0.5
            } else {
                0.75
            };
            assert_eq!(point.share.value, expect, "{point:?}");
        }
        let best = best(&curve).unwrap();
        assert!((best.lever - 3.0).abs() < 1e-12 && best.share.value == 0.75, "{best:?}");
        let steps = Steps::of(&runs);
        for (chance, reached, lever) in
            [(0.2, true, None), (0.5, true, Some(1.0)), (0.75, true, Some(2.0)), (0.8, false, None)]
        {
            let found = steps.levers_for_chance(&curve, chance);
            assert_eq!(found.reached, reached, "{chance}");
            assert_eq!(found.levers.first().map(|l| l.lever), lever, "{chance}");
            assert!(found.levers.len() < 2 && found.levers.iter().all(|l| l.rises), "{chance}");
        }
        // Beyond 4 the second run is good no more: back to a half.
        let wide = chance_curve(&runs, (0.0, 8.0), 1);
        let found = steps.levers_for_chance(&wide, 0.75);
        assert_eq!(
            found.levers.iter().map(|l| (l.lever, l.rises)).collect::<Vec<_>>(),
            [(2.0, true), (4.0, false)]
        );
    }

    /// Where all runs are good on one side the interval is that of the order statistics.
    #[test]
    fn intervals_are_those_of_the_quantile_on_one_side() {
        for good_above in [true, false] {
            let runs: Vec<Crossing> = (1..=200).map(|k| crossing(&[f64::from(k)], good_above)).collect();
            let levers: Vec<Lever> = runs.iter().map(|run| run.lever).collect();
            let curve = chance_curve(&runs, (0.0, 201.0), 8);
            let steps = Steps::of(&runs);
            for chance in [0.5, 0.8, 0.95] {
                let quantile = lever_for_chance(&levers, good_above, chance).unwrap();
                let found = steps.levers_for_chance(&curve, chance);
                let [lever] = found.levers.as_slice() else { panic!("{found:?}") };
                assert_eq!((lever.low, lever.high), (quantile.low, quantile.high), "{good_above} {chance}");
                assert_eq!(lever.rises, good_above);
                let Lever::At(x) = quantile.lever else { panic!("{quantile:?}") };
                assert!((lever.lever - x).abs() <= 1.0, "{lever:?} for {x}");
            }
        }
    }

    #[test]
    fn windows_lie_between_crossings() {
        let window = |from, to| LeverWindow { from, to };
        assert_eq!(
            crossing(&[1.0, 2.0, 3.0], false).windows(),
            [window(None, Some(1.0)), window(Some(2.0), Some(3.0))]
        );
        assert_eq!(
            crossing(&[1.0, 2.0, 3.0], true).windows(),
            [window(Some(1.0), Some(2.0)), window(Some(3.0), None)]
        );
        assert_eq!(without(Lever::Always).windows(), [window(None, None)]);
        assert!(without(Lever::Never).windows().is_empty());
        assert_eq!(best(&[]), None);
    }
}
