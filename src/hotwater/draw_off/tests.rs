use super::*;
use crate::hotwater::profile::{PATTERN_M_KWH, WORKING_HOUSEHOLD};
use crate::sampling::Vectors;
use statrs::distribution::{ContinuousCDF, Gamma};

fn chance(first: u64, lanes: usize, vectors: Vectors) -> Chance<'static> {
    Chance { seed: 4711, name: "tank", first, lanes, vectors }
}

fn mean_and_variance(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n)
}

/// Factors of 40 days and 5,000 runs for one coefficient of variation.
fn factors(cv: f64) -> Vec<f64> {
    let lanes = 5_000;
    let mut factor = DayFactor::new(&chance(0, lanes, Vectors::Widest));
    let column = vec![cv; lanes];
    (0..40).flat_map(|day| factor.day(day, &column).to_vec()).collect()
}

/// Mean, variance and distribution (Kolmogorov-Smirnov against the gamma distribution of an independent library) at shapes
/// above and below 1. Limits: 5 standard errors (false alarm 6e-7 each; the variance's error from the gamma's fourth
/// moment, (2 + 6 / shape) sigma^4 / n), and 2.5 / sqrt(n) for the distance (false alarm 2 exp(-12.5) = 7e-6 each).
#[test]
fn day_factors_are_gamma() {
    for cv in [0.05, 0.3, 0.45, 0.6, 1.0, 1.5, 3.0] {
        let mut values = factors(cv);
        let n = values.len() as f64;
        let shape = 1.0 / (cv * cv);
        let (mean, variance) = mean_and_variance(&values);
        assert!((mean - 1.0).abs() < 5.0 * cv / n.sqrt(), "{cv}: {mean}");
        let error = cv * cv * ((2.0 + 6.0 / shape) / n).sqrt();
        assert!((variance - cv * cv).abs() < 5.0 * error, "{cv}: {variance}");
        values.sort_by(f64::total_cmp);
        let law = Gamma::new(shape, shape).unwrap();
        let distance = values.iter().enumerate().fold(0.0_f64, |worst, (k, &x)| {
            let p = law.cdf(x);
            worst.max((p - k as f64 / n).abs()).max((p - (k as f64 + 1.0) / n).abs())
        });
        assert!(distance < 2.5 / n.sqrt(), "{cv}: {distance}");
    }
}

#[test]
fn without_variation_every_day_is_usual() {
    assert!(factors(0.0).iter().all(|&f| f == 1.0));
    assert!(factors(f64::NAN).iter().all(|&f| f == 1.0));
}

/// Draws of neighbouring days and of the test in the rejection do not depend on each other: correlation within 5
/// standard errors of 0.
#[test]
fn days_are_independent() {
    let values = factors(0.45);
    let pairs = values.len() - 5_000;
    let sum: f64 = (0..pairs).map(|k| (values[k] - 1.0) * (values[k + 5_000] - 1.0)).sum();
    let correlation = sum / pairs as f64 / (0.45 * 0.45);
    assert!(correlation.abs() < 5.0 / (pairs as f64).sqrt(), "{correlation}");
}

fn year(draw_off: &DrawOff, settings: &Settings, chance: &Chance<'_>) -> Vec<Vec<f64>> {
    let mut batch = draw_off.batch(settings, chance);
    (0..time::DAYS)
        .map(|day| {
            let mut out = vec![f64::NAN; draw_off.steps() * chance.lanes];
            batch.day(day, &mut out);
            out
        })
        .collect()
}

fn of_lane(day: &[f64], lanes: usize, lane: usize) -> Vec<f64> {
    day.iter().skip(lane).step_by(lanes).copied().collect()
}

#[test]
fn smooth_days_without_chance_follow_the_profile() {
    let months = std::array::from_fn(|m| 100.0 + m as f64);
    let settings = Settings::new(2)
        .with_months(Setting::Litres, &months)
        .with(Setting::DayToDay, 0.0)
        .with(Setting::Weekend, 1.4);
    for steps in [24, 48, 96] {
        let weekend = Profile::pattern_m();
        let draw_off = DrawOff::new(&Profile::working_household(), steps).weekend(&weekend).lumpy(false);
        let days = year(&draw_off, &settings, &chance(0, 2, Vectors::Widest));
        for (day, out) in days.iter().enumerate() {
            let usual = months[time::month_of(day)] * 7.0 / (5.0 + 2.0 * 1.4);
            let (shares, total) = if day % 7 >= 5 {
                (weekend.shares(steps), usual * 1.4)
            } else {
                (Profile::new(&WORKING_HOUSEHOLD).unwrap().shares(steps), usual)
            };
            for (got, share) in of_lane(out, 2, 1).iter().zip(shares) {
                assert!((got - share * total).abs() < 1e-9);
            }
        }
        // The first week keeps its mean.
        let week: f64 = days[..7].iter().map(|d| of_lane(d, 2, 0).iter().sum::<f64>()).sum();
        assert!((week / 7.0 - 100.0).abs() < 1e-9);
    }
}

/// Lumps keep each day's total and, in the mean, the profile; and they are lumps. Standard error of a mean share from
/// the runs themselves; 48 shares within 5 of them: false alarm 3e-5.
#[test]
fn lumps_keep_the_total_and_the_expected_profile() {
    let lanes = 4_000;
    let settings = Settings::new(lanes).with(Setting::Litres, 108.0);
    let lumpy = DrawOff::new(&Profile::working_household(), 48);
    let smooth = lumpy.clone().lumpy(false);
    let here = chance(0, lanes, Vectors::Widest);
    let (mut a, mut b) = (lumpy.batch(&settings, &here), smooth.batch(&settings, &here));
    let (mut x, mut y) = (vec![0.0; 48 * lanes], vec![0.0; 48 * lanes]);
    let (mut sums, mut squares, mut days) = (vec![0.0; 48], vec![0.0; 48], 0.0);
    for day in 0..20 {
        a.day(day, &mut x);
        b.day(day, &mut y);
        for lane in 0..lanes {
            let (with, without) = (of_lane(&x, lanes, lane), of_lane(&y, lanes, lane));
            let total: f64 = without.iter().sum();
            assert!((with.iter().sum::<f64>() - total).abs() < 1e-9 * total);
            assert!(with.iter().all(|&l| l >= 0.0));
            for step in 0..48 {
                let share = with[step] / total;
                sums[step] += share;
                squares[step] += share * share;
            }
            days += 1.0;
        }
    }
    for (step, share) in Profile::working_household().shares(48).into_iter().enumerate() {
        let mean = sums[step] / days;
        let variance = squares[step] / days - mean * mean;
        assert!((mean - share).abs() < 5.0 * (variance / days).sqrt(), "{step}: {mean} {share}");
        // Two lumps a day of a third of the water each: far from smooth.
        assert!(variance > share * 0.05, "{step}: {variance}");
    }
}

/// The number of lumps is that of the litres over the size of a lump, rounded by chance without bias.
#[test]
fn lumps_are_as_many_as_the_litres_say() {
    let lanes = 10_000;
    for (litres, expect) in [(20.0, 20.0), (108.0, 108.0), (1_000.0, 1_000.0)] {
        let mut lumps = Lumps::new(&chance(0, lanes, Vectors::Widest));
        let profile = Profile::working_household();
        let (moments, shares) = (Moments::new(&profile), profile.shares(48));
        let mut out = vec![0.0; 48 * lanes];
        lumps.spread(3, &vec![litres; lanes], &moments, &shares, &mut out);
        let mean = f64::from(lumps.counts.iter().sum::<u32>()) / lanes as f64;
        let expect = expect * 2.0 / 3.0 / 34.0;
        // Rounding has at most a variance of 1/4.
        assert!((mean - expect).abs() < 5.0 * 0.5 / 100.0, "{litres}: {mean} {expect}");
    }
}

/// Finer steps change nothing but the steps: the half hours of a run are sums of its quarters.
#[test]
fn other_steps_are_the_same_draws() {
    let settings = Settings::new(7).with(Setting::Litres, 150.0).with(Setting::DaysAway, 20.0);
    let here = chance(3, 7, Vectors::Widest);
    let half = year(&DrawOff::new(&Profile::working_household(), 48), &settings, &here);
    let quarter = year(&DrawOff::new(&Profile::working_household(), 96), &settings, &here);
    for (half, quarter) in half.iter().zip(&quarter) {
        for step in 0..48 {
            for lane in 0..7 {
                let sum = quarter[2 * step * 7 + lane] + quarter[(2 * step + 1) * 7 + lane];
                assert!((half[step * 7 + lane] - sum).abs() < 1e-9);
            }
        }
    }
}

/// Yearly litres over runs: usual litres times the expected days at home. Within 5 standard errors of the runs' spread.
#[test]
fn days_away_are_not_made_up_for() {
    let lanes = 5_000;
    let settings = Settings::new(lanes)
        .with(Setting::Litres, 100.0)
        .with(Setting::Weekend, 1.16)
        .with(Setting::DaysAway, 30.0);
    let draw_off = DrawOff::new(&Profile::working_household(), 24);
    let mut batch = draw_off.batch(&settings, &chance(0, lanes, Vectors::Widest));
    let mut totals = vec![0.0; lanes];
    let mut out = vec![0.0; 24 * lanes];
    for day in 0..time::DAYS {
        batch.day(day, &mut out);
        for (lane, (total, &away)) in totals.iter_mut().zip(batch.away()).enumerate() {
            let litres: f64 = out.iter().skip(lane).step_by(lanes).sum();
            assert!((litres > 0.0) != (away > 0.0));
            *total += litres;
        }
    }
    let (mean, variance) = mean_and_variance(&totals);
    // Each day's expected litres, by its chance of being at home and its factor.
    let blocks = AwayBatch::new(Hemisphere::North, &settings, &chance(0, lanes, Vectors::Widest));
    let expect: f64 = (0..time::DAYS)
        .map(|day| {
            let factor = if day % 7 >= 5 { 1.16 } else { 1.0 } * 7.0 / 7.32;
            100.0 * factor * (1.0 - blocks.chance_of(0, day))
        })
        .sum();
    assert!((expect - 33_500.0).abs() < 20.0, "{expect}");
    assert!((mean - expect).abs() < 5.0 * (variance / lanes as f64).sqrt(), "{mean} {expect}");
}

/// Runs alone and together, with the widest vectors and the plain ones: the same bits, each lane with its own settings.
#[test]
fn a_run_draws_the_same_in_any_batch() {
    let lanes = 67;
    let column = |f: &dyn Fn(f64) -> f64| -> Vec<f64> { (0..lanes).map(|l| f(l as f64)).collect() };
    let litres = column(&|l| 5.0 + 40.0 * l);
    let cv = column(&|l| 0.05 * l);
    let away = column(&|l| 3.0 * l);
    let mut all = Settings::new(lanes);
    all.set(Setting::Litres, vec![litres.clone()]);
    all.set(Setting::DayToDay, vec![cv.clone()]);
    all.set(Setting::DaysAway, vec![away.clone()]);
    let draw_off = DrawOff::new(&Profile::working_household(), 48).hemisphere(Hemisphere::South);
    let widest = year(&draw_off, &all, &chance(1_000, lanes, Vectors::Widest));
    for vectors in [Vectors::Avx2, Vectors::Baseline] {
        let other = year(&draw_off, &all, &chance(1_000, lanes, vectors));
        assert!(widest.iter().flatten().zip(other.iter().flatten()).all(|(a, b)| a.to_bits() == b.to_bits()));
    }
    for lane in (0..lanes).step_by(6) {
        let own = Settings::new(1)
            .with(Setting::Litres, litres[lane])
            .with(Setting::DayToDay, cv[lane])
            .with(Setting::DaysAway, away[lane]);
        let alone = year(&draw_off, &own, &chance(1_000 + lane as u64, 1, Vectors::Widest));
        for (day, out) in alone.iter().enumerate() {
            let same =
                out.iter().zip(of_lane(&widest[day], lanes, lane)).all(|(a, b)| a.to_bits() == b.to_bits());
            assert!(same, "lane {lane}, day {day}");
        }
    }
}

/// The test pattern as a fixed case: each half hour's heat, by way of litres at 45 K.
#[test]
fn pattern_m_is_a_fixed_case() {
    let litres = PATTERN_M_KWH / (crate::hotwater::HEAT_PER_VOLUME_KELVIN * 45.0) * 1000.0;
    let settings = Settings::new(1).with(Setting::Litres, litres).with(Setting::DayToDay, 0.0);
    let draw_off = DrawOff::new(&Profile::pattern_m(), 48).lumpy(false);
    let mut out = vec![0.0; 48];
    draw_off.batch(&settings, &chance(0, 1, Vectors::Widest)).day(0, &mut out);
    let kwh = |l: f64| l / 1000.0 * crate::hotwater::HEAT_PER_VOLUME_KELVIN * 45.0;
    assert!((kwh(out[14]) - 1.505).abs() < 1e-9 && (kwh(out[41]) - 0.735).abs() < 1e-9);
}
