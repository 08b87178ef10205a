//! Steps of a day: totals kept, peaks, and runs that depend on nothing but themselves.

use super::*;
use crate::hotwater::sun::clouds::{Memory, bell, grown, spread_at_zenith, spread_growth};
use crate::hotwater::time::{DAYS, month_of};

/// Output of days: `[day][step * lanes + lane]`, and each day's clearness.
fn run(sun: &Sun, chance: &Chance<'_>, days: impl Iterator<Item = usize>) -> Vec<(Vec<f64>, Vec<f64>)> {
    let mut batch = sun.batch(chance);
    days.map(|day| {
        let mut out = vec![f64::NAN; sun.steps() * chance.lanes];
        batch.day(day, &mut out);
        (out, batch.clearness().to_vec())
    })
    .collect()
}

#[test]
fn a_run_is_the_same_in_any_batch_and_any_vectors() {
    let (place, roofs) = south(53.0, 35.0);
    for steps in [24, 48, 96] {
        let sun = Sun::new(&place, &roofs, &dublin_climate(), steps).unwrap();
        let days = || (0..DAYS).step_by(9);
        let many = run(&sun, &chance(100, 33), days());
        let one = run(&sun, &chance(117, 1), days());
        let plain = run(&sun, &Chance { vectors: Vectors::Baseline, ..chance(100, 33) }, days());
        for ((many, one), plain) in many.iter().zip(&one).zip(&plain) {
            for step in 0..steps {
                assert_eq!(one.0[step].to_bits(), many.0[step * 33 + 17].to_bits());
            }
            assert_eq!(one.1[0].to_bits(), many.1[17].to_bits());
            assert!(many.0.iter().zip(&plain.0).all(|(a, b)| a.to_bits() == b.to_bits()));
        }
    }
}

#[test]
fn a_day_does_not_depend_on_the_days_asked_for() {
    let (place, roofs) = south(53.0, 35.0);
    let sun = Sun::new(&place, &roofs, &dublin_climate(), 48).unwrap();
    let in_order = run(&sun, &chance(0, 5), 0..DAYS);
    for days in [vec![200], vec![3, 200], vec![364, 200], vec![200, 200]] {
        let last = run(&sun, &chance(0, 5), days.iter().copied()).pop().unwrap();
        assert_eq!(last, in_order[200], "{days:?}");
    }
    let other = run(&sun, &Chance { seed: 12, ..chance(0, 5) }, 0..1);
    assert_ne!(other[0], in_order[0]);
}

/// On the level the steps of a day add up to its clearness times what arrives outside the atmosphere.
#[test]
fn a_day_has_the_total_drawn() {
    let (place, roofs) = south(53.0, 0.0);
    for steps in [24, 48, 96] {
        let sun = Sun::new(&place, &roofs, &dublin_climate(), steps).unwrap();
        let outside = |day: usize| sun.tables.days[day].outside;
        for (day, (out, clearness)) in run(&sun, &chance(0, 40), 0..DAYS).into_iter().enumerate() {
            for (lane, k) in clearness.iter().enumerate() {
                let total: f64 = (0..steps).map(|s| out[s * 40 + lane]).sum();
                near(total, k * outside(day), 1e-12, &format!("day {day}, {steps} steps"));
            }
            assert!(out.iter().all(|o| *o >= 0.0));
        }
    }
}

/// What is expected without chance is what many runs come to, by month and in the year.
#[test]
fn expected_output_is_that_of_many_runs() {
    let (place, roofs) = south(DUBLIN_LATITUDE, 35.0);
    for steps in [24, 48, 96] {
        let sun = Sun::new(&place, &roofs, &dublin_climate(), steps).unwrap();
        let lanes = 2_000;
        let mut months = [0.0; 12];
        for (day, (out, _)) in run(&sun, &chance(0, lanes), 0..DAYS).into_iter().enumerate() {
            months[month_of(day)] += out.iter().sum::<f64>() / lanes as f64;
        }
        let expected = sun.monthly_kwh_per_kwp();
        for (month, mean) in months.into_iter().enumerate() {
            near(mean, expected[month], 0.012 * mean, &format!("month {}, {steps} steps", month + 1));
        }
        let year: f64 = months.iter().sum();
        near(year, sun.yearly_kwh_per_kwp(), 0.005 * year, "year");
        near(sun.season().iter().sum::<f64>(), 1.0, 1e-12, "season");
    }
}

/// Halving the steps hardly moves the year, and shows higher peaks.
#[test]
fn finer_steps_have_the_same_year_and_higher_peaks() {
    let (place, roofs) = south(53.0, 35.0);
    let of = |steps| {
        let sun = Sun::new(&place, &roofs, &dublin_climate(), steps).unwrap();
        let days = run(&sun, &chance(0, 50), 0..DAYS);
        let all: Vec<f64> = days.iter().flat_map(|d| d.0.iter().copied()).collect();
        let to_kw = steps as f64 / 24.0;
        let high = all.iter().filter(|o| **o * to_kw > 0.95).count() as f64 / to_kw / 50.0;
        (sun.yearly_kwh_per_kwp(), high)
    };
    let (hour, half, quarter) = (of(24), of(48), of(96));
    near(half.0, hour.0, 0.015 * hour.0, "half hours");
    near(quarter.0, half.0, 0.01 * half.0, "quarters");
    assert!(hour.1 < half.1 && half.1 < quarter.1, "{} {} {} hours above 0.95", hour.1, half.1, quarter.1);
}

/// Two steps an hour: r (1 + r) / 2 = 0.4, and the mean of two has variance (1 + r) / 2.
#[test]
fn memory_of_half_hours_gives_that_of_hours() {
    near(Memory::new(1).step, 0.4, 1e-12, "hour");
    near(Memory::new(1).spread, 1.0, 1e-12, "hour");
    let r = (4.2_f64.sqrt() - 1.0) / 2.0;
    near(Memory::new(2).step, r, 1e-12, "half hour");
    near(Memory::new(2).spread, (2.0 / (1.0 + r)).sqrt(), 1e-12, "half hour");
    // Quarters, by summing the whole matrix of correlations.
    let m = Memory::new(4);
    let block = |from: usize| {
        let cell = |i: usize, j: usize| {
            libm::pow(m.step, (j + from - i.min(j + from)).max(i.max(j + from) - (j + from)) as f64)
        };
        (0..4).flat_map(|i| (0..4).map(move |j| (i, j))).map(|(i, j)| cell(i, j)).sum::<f64>() / 16.0
    };
    near(block(0) * m.spread * m.spread, 1.0, 1e-9, "variance of an hour");
    near(block(4) / block(0), 0.4, 1e-9, "correlation of hours");
}

/// Whatever is accepted gives finite output within what the sun can give; what is not says so.
#[test]
fn any_settings_give_sane_output_or_words() {
    let mut u = vec![0.0; 16];
    let mut accepted = 0;
    for case in 0..60 {
        chance(0, 16).stream("settings").uniforms(case, &mut u);
        let place = Place { latitude: 180.0 * u[0] - 90.0, albedo: u[1] };
        let roofs = [
            Roof { tilt: 90.0 * u[2], azimuth: 360.0 * u[3], share: u[4] },
            Roof { tilt: 90.0 * u[5], azimuth: -360.0 * u[6], share: 1.0 - u[4] },
        ];
        let climate = Climate {
            mean: [0.6 * u[7]; 12],
            sd: [0.25 * u[8]; 12],
            persistence: [u[9] - 0.3; 12],
            slow: 0.2 * u[10],
        };
        let clock = Clock {
            noon_hour: 9.0 + 6.0 * u[11],
            equation_of_time: u[12] < 0.5,
            summer_time: (u[13] < 0.5).then_some((90, 300)),
        };
        let steps = [24, 48, 96][(3.0 * u[14]) as usize];
        let Ok(sun) = Sun::on_clock(&place, &roofs, &climate, steps, &clock) else { continue };
        accepted += 1;
        for (out, clearness) in run(&sun, &chance(0, 8), (0..DAYS).step_by(26)) {
            let most = 1.8 * 24.0 / steps as f64;
            assert!(out.iter().all(|o| *o >= 0.0 && *o < most), "{place:?} {roofs:?} {climate:?}");
            assert!(clearness.iter().all(|k| (0.0..0.9).contains(k)), "{place:?} {climate:?}");
        }
    }
    assert!(accepted > 15, "{accepted}");
}

#[test]
fn threads_may_share_it() {
    fn shared<T: Send + Sync>() {}
    shared::<Sun>();
    shared::<Climate>();
}

/// By hand from the paper's formulas: at 0.35 the first is at its largest; 3 x 0.15^2 + 16 x 0.6^5.
#[test]
fn spreads_are_those_of_the_paper() {
    near(spread_at_zenith(0.35), 0.14, 1e-15, "A");
    near(spread_at_zenith(0.6), 0.14 * 0.286504796860190, 1e-12, "A");
    near(spread_growth(0.6), 0.0675 + 1.24416, 1e-12, "B");
    for x in 0..=50 {
        let x = f64::from(x) / 10.0;
        near(grown(x) / libm::exp(x), 1.0, 0.01, "growth");
    }
}

/// About the day's course hours scatter as the paper says, though the day's total is kept: the mean over the hours with
/// the sun's weight, on short days and long, dull and bright, whatever the steps.
#[test]
fn hours_scatter_about_the_days_course() {
    let (place, roofs) = south(48.0, 0.0);
    let lanes = 2_000;
    for (mean, steps) in [(0.25, 24), (0.4, 24), (0.4, 48), (0.4, 96), (0.5, 24), (0.5, 48)] {
        let climate = Climate { mean: [mean; 12], sd: [0.01; 12], persistence: [0.0; 12], slow: 0.0 };
        let sun = Sun::new(&place, &roofs, &climate, steps).unwrap();
        for day in [20, 90, 171] {
            let (out, clearness) = run(&sun, &chance(0, lanes), day..=day).pop().unwrap();
            let lit = &sun.tables.days[day].lit;
            let (mut got, mut expected) = (0.0, 0.0);
            for hour in lit.chunk_by(|a, b| a.step * 24 / steps == b.step * 24 / steps) {
                let weight: f64 = hour.iter().map(|l| l.outside).sum();
                let course: f64 = hour.iter().map(|l| l.outside * l.shape).sum::<f64>() / weight;
                let low = hour.iter().map(|l| l.outside * l.lowness).sum::<f64>() / weight;
                let sd = spread_at_zenith(mean) * libm::exp(spread_growth(mean) * low);
                expected += weight * sd * sd;
                for lane in 0..lanes {
                    let k = hour.iter().map(|l| out[l.step * lanes + lane]).sum::<f64>() / weight;
                    let off = k - course * clearness[lane];
                    got += weight * off * off / lanes as f64;
                }
            }
            let what = format!("clearness {mean}, day {day}, {steps} steps");
            let ratio = (got / expected).sqrt();
            // In winter the low sun's steps meet their ceilings.
            near(ratio, 1.0, if day == 20 { 0.25 } else { 0.1 }, &what);
        }
    }
}

/// Sum of four uniforms of variance 1/12 each, scaled: moments 0, 1, 0 and 3 - 6/5/4 = 2.7.
#[test]
fn a_bell_has_its_moments() {
    let mut uniforms = vec![0.0; 200_000];
    chance(0, 200_000).stream("bell").uniforms(0, &mut uniforms);
    let moment =
        |n: i32| uniforms.iter().map(|u| (0..n).map(|_| bell(*u)).product::<f64>()).sum::<f64>() / 200_000.0;
    near(moment(1), 0.0, 0.01, "mean");
    near(moment(2), 1.0, 0.012, "variance");
    near(moment(3), 0.0, 0.03, "skewness");
    near(moment(4), 2.7, 0.06, "kurtosis");
    assert!(uniforms.iter().all(|u| bell(*u).abs() < 3.4642));
}
