use super::*;
use crate::sampling::Vectors;

fn chance(first: u64, lanes: usize) -> Chance<'static> {
    Chance { seed: 11, name: "home", first, lanes, vectors: Vectors::Widest }
}

/// P(L > j) by the definition of L: a rounding of x, x uniform, by the midpoint rule.
fn longer_than(blocks: &Blocks, j: usize) -> f64 {
    let n = 20_000;
    let width = blocks.most - blocks.least;
    let sum: f64 = (0..n)
        .map(|k| {
            let x = blocks.least + width * (f64::from(k) + 0.5) / f64::from(n);
            (x - j as f64).clamp(0.0, 1.0)
        })
        .sum();
    sum / f64::from(n)
}

/// The chance of being away, by summing over the days on which the block may have begun; and its sum over the year.
#[test]
fn chances_are_the_sums_over_beginnings() {
    for hemisphere in [Hemisphere::North, Hemisphere::South] {
        for (days, mean) in [(14.0, 5.0), (30.0, 2.3), (60.0, 1.0), (200.0, 20.0), (360.0, 60.0), (5.0, 60.0)]
        {
            let blocks = Blocks::new(hemisphere, days, mean);
            let longer: Vec<f64> = (0..92).map(|j| longer_than(&blocks, j)).collect();
            let mut sum = 0.0;
            for day in 0..time::DAYS {
                let expect: f64 = (0..92)
                    .map(|j| {
                        let begun = (day + time::DAYS - j) % time::DAYS;
                        blocks.season(begun).0 * longer[j]
                    })
                    .sum();
                let got = blocks.chance_of(day);
                assert!((got - expect).abs() < 1e-5, "{days} {mean} {day}: {got} {expect}");
                assert!((0.0..=1.0).contains(&got));
                sum += got;
            }
            assert!((sum - days).abs() < 1e-9, "{sum} {days}");
        }
    }
}

/// Days away over runs: mean of each day's chance in four seasons, mean and share of summer, and that they come in
/// blocks. Limits are 5 standard errors, from the spread of the runs themselves: false alarm below 1e-5 in all.
#[test]
fn days_away_have_their_mean_season_and_blocks() {
    for (hemisphere, days, mean) in [
        (Hemisphere::North, 14.0, 5.0),
        (Hemisphere::South, 20.0, 8.0),
        (Hemisphere::North, 200.0, 20.0),
        (Hemisphere::South, 120.0, 60.0),
    ] {
        let lanes = 20_000;
        let settings = Settings::new(lanes).with(Setting::DaysAway, days).with(Setting::AwayBlock, mean);
        let mut batch = AwayBatch::new(hemisphere, &settings, &chance(0, lanes));
        let mut totals = vec![0.0; lanes];
        let mut summer = vec![0.0; lanes];
        let mut begun = vec![0.0; lanes];
        let mut before = vec![1.0; lanes];
        let (first, long) = hemisphere.summer();
        let mut quarters = [0.0; 5];
        for day in 0..time::DAYS {
            let away = batch.day(day).to_vec();
            let in_summer = (day + time::DAYS - first) % time::DAYS < long;
            for lane in 0..lanes {
                totals[lane] += away[lane];
                summer[lane] += if in_summer { away[lane] } else { 0.0 };
                begun[lane] += if away[lane] > before[lane] { 1.0 } else { 0.0 };
            }
            quarters[day / 73] += away.iter().sum::<f64>() / lanes as f64;
            before = away;
        }
        let blocks = Blocks::new(hemisphere, days, mean);
        let expect_summer: f64 = (0..long).map(|k| blocks.chance_of((first + k) % time::DAYS)).sum();
        let check = |values: &[f64], expect: f64, what: &str| {
            let m = values.iter().sum::<f64>() / lanes as f64;
            let variance = values.iter().map(|v| (v - m) * (v - m)).sum::<f64>() / lanes as f64;
            let error = (variance / lanes as f64).sqrt();
            assert!((m - expect).abs() < 5.0 * error, "{what} {days} {mean}: {m} not {expect} +- {error}");
        };
        check(&totals, days, "days");
        check(&summer, expect_summer, "summer");
        if days < 100.0 {
            assert!((expect_summer / days - 0.5).abs() < 0.03, "{expect_summer}");
            // Neighbouring blocks are seen as one, so there are a little fewer than days / mean.
            let seen = begun.iter().sum::<f64>() / lanes as f64;
            assert!(seen < days / mean && seen > 0.85 * days / mean, "{seen}");
        }
        for (quarter, got) in quarters.iter().enumerate() {
            let expect: f64 = (73 * quarter..73 * (quarter + 1)).map(|day| blocks.chance_of(day)).sum();
            let error = (expect * mean * 1.3 / lanes as f64).sqrt();
            assert!((got - expect).abs() < 5.0 * error, "{quarter}: {got} {expect} {error}");
        }
    }
}

#[test]
fn nobody_leaves_who_never_goes_away_and_lengths_are_as_told() {
    let settings = Settings::new(10);
    let mut batch = AwayBatch::new(Hemisphere::North, &settings, &chance(0, 10));
    for day in 0..time::DAYS {
        assert_eq!(batch.day(day), [0.0; 10]);
    }
    let blocks = Blocks::new(Hemisphere::North, 20.0, 5.0);
    let mut sum = 0.0;
    let n = 1000;
    for a in 0..n {
        for b in 0..n {
            let length =
                blocks.length((f64::from(a) + 0.5) / f64::from(n), (f64::from(b) + 0.5) / f64::from(n));
            assert!((3.0..=7.0).contains(&length));
            sum += length;
        }
    }
    assert!((sum / f64::from(n * n) - 5.0).abs() < 1e-3);
}

#[test]
fn a_run_is_away_on_the_same_days_in_any_batch() {
    let settings = |lanes| Settings::new(lanes).with(Setting::DaysAway, 40.0);
    let (all, one) = (settings(30), settings(1));
    for hemisphere in [Hemisphere::North, Hemisphere::South] {
        let mut together = AwayBatch::new(hemisphere, &all, &chance(5, 30));
        let mut alone: Vec<AwayBatch> =
            (0..30).map(|l| AwayBatch::new(hemisphere, &one, &chance(5 + l, 1))).collect();
        let mut any = 0.0;
        for day in 0..time::DAYS {
            let away = together.day(day).to_vec();
            for (lane, home) in alone.iter_mut().enumerate() {
                assert_eq!(home.day(day)[0], away[lane]);
            }
            any += away.iter().sum::<f64>();
        }
        assert!(any > 0.0);
    }
}
