use super::*;
use crate::sampling::Vectors;
use proptest::prelude::*;

fn chance(first: u64, lanes: usize, vectors: Vectors) -> Chance<'static> {
    Chance { seed: 3, name: "home", first, lanes, vectors }
}

fn single(steps: usize) -> Household {
    Household::new(Hemisphere::North, Phases::single(), steps)
}

/// Yearly export and import of each lane, with the same generation on each day.
fn year(
    household: &Household,
    settings: &Settings,
    chance: &Chance<'_>,
    generation: &[f64],
) -> (Vec<f64>, Vec<f64>) {
    let lanes = chance.lanes;
    let mut batch = household.batch(settings, chance);
    let (mut export, mut import) = (vec![0.0; generation.len()], vec![0.0; generation.len()]);
    let (mut exports, mut imports) = (vec![0.0; lanes], vec![0.0; lanes]);
    for day in 0..time::DAYS {
        batch.day(day, generation, &mut export, &mut import);
        for step in 0..household.steps() {
            for lane in 0..lanes {
                exports[lane] += export[step * lanes + lane];
                imports[lane] += import[step * lanes + lane];
            }
        }
    }
    (exports, imports)
}

fn mean_and_variance(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n)
}

/// The year's mean use is the setting, with and without days away, for small homes and for large ones. Within 5 standard
/// errors of the runs' spread, six cases: false alarm 4e-6.
#[test]
fn the_mean_of_the_years_is_what_is_told() {
    let lanes = 2_000;
    for (kwh, share, away, steps) in [
        (3_900.0, 0.5, 0.0, 48),
        (3_900.0, 0.5, 30.0, 24),
        (1_500.0, 1.0, 14.0, 48),
        (40_000.0, 0.6, 0.0, 48),
        (9_000.0, 0.9, 60.0, 96),
    ] {
        let settings = Settings::new(lanes)
            .with(Setting::Electricity, kwh)
            .with(Setting::ApplianceShare, share)
            .with(Setting::DaysAway, away);
        let nothing = vec![0.0; steps * lanes];
        let (export, import) = year(&single(steps), &settings, &chance(0, lanes, Vectors::Widest), &nothing);
        assert!(export.iter().all(|&e| e == 0.0));
        let (mean, variance) = mean_and_variance(&import);
        let error = (variance / lanes as f64).sqrt();
        assert!((mean - kwh).abs() < 5.0 * error, "{kwh} {share} {away}: {mean} +- {error}");
        // So small a spread that a bias of a thousandth would be found without days away.
        assert!(error < kwh * if away > 0.0 { 2e-3 } else { 5e-4 }, "{error}");
    }
    let settings = Settings::new(2).with(Setting::Electricity, 3_000.0).with(Setting::ApplianceShare, 0.0);
    let (_, import) = year(&single(48), &settings, &chance(0, 2, Vectors::Widest), &[0.0; 96]);
    assert!((import[0] - 3_000.0).abs() < 1e-8 && (import[1] - 3_000.0).abs() < 1e-8);
}

/// The spread of the years is that of independent slots, each with at most one appliance: so slots that share their random
/// numbers do not depend on each other. The variance of a variance of nearly normal sums is 2 / n; 5 standard errors.
#[test]
fn the_spread_of_the_years_is_that_of_independent_slots() {
    let lanes = 8_000;
    let settings =
        Settings::new(lanes).with(Setting::Electricity, 3_000.0).with(Setting::ApplianceShare, 0.6);
    let nothing = vec![0.0; 24 * lanes];
    let (_, import) = year(&single(24), &settings, &chance(0, lanes, Vectors::Widest), &nothing);
    let table = bursts::tests::table(3_000.0 * 0.6 / 365.0);
    let of_slot = |slot: usize| {
        let (mut first, mut second) = (0.0, 0.0);
        for (_, chance, kw, slots) in table.iter().filter(|t| t.0 == slot) {
            let energy = kw * slots / 2.0;
            first += chance * energy;
            second += chance * energy * energy;
        }
        second - first * first
    };
    let expect: f64 = 365.0 * (0..SLOTS).map(of_slot).sum::<f64>();
    let (_, variance) = mean_and_variance(&import);
    let error = expect * (2.0 / lanes as f64).sqrt();
    assert!((variance - expect).abs() < 5.0 * error, "{variance} {expect} +- {error}");
}

#[test]
fn steady_use_sums_to_one_and_is_larger_in_winter() {
    for (hemisphere, winter, summer) in [(Hemisphere::North, 0, 6), (Hemisphere::South, 6, 0)] {
        let base = Base::new(hemisphere.coldest_day(), 48);
        let year: f64 = (0..12).map(|m| base.day_kwh[m] * time::DAYS_IN_MONTH[m]).sum();
        assert!((year - 1.0).abs() < 1e-12);
        assert!(base.day_kwh[winter] > 1.2 * base.day_kwh[summer]);
        let from_kw: f64 = base.month(3).iter().sum::<f64>() * 0.5;
        assert!((from_kw - base.day_kwh[3]).abs() < 1e-15);
    }
}

/// Nobody there: what is always on, evenly, but for an appliance that is still on at midnight.
#[test]
fn who_is_away_leaves_only_what_is_always_on() {
    let lanes = 400;
    let settings = Settings::new(lanes).with(Setting::Electricity, 4_000.0).with(Setting::DaysAway, 60.0);
    let household = single(48);
    let here = chance(0, lanes, Vectors::Widest);
    let mut batch = household.batch(&settings, &here);
    let mut away = AwayBatch::new(Hemisphere::North, &settings, &here);
    let (mut export, mut import) = (vec![0.0; 48 * lanes], vec![0.0; 48 * lanes]);
    let generation = vec![0.0; 48 * lanes];
    let (mut gone, mut level) = (0, 0.0);
    for day in 0..time::DAYS {
        batch.day(day, &generation, &mut export, &mut import);
        for (lane, &is_away) in away.day(day).iter().enumerate() {
            let later: Vec<f64> = (1..48).map(|step| import[step * lanes + lane]).collect();
            if is_away > 0.0 {
                gone += 1;
                level = later[0];
                assert!(later.iter().all(|l| (l - level).abs() < 1e-12));
            } else {
                assert!(later.iter().sum::<f64>() > 47.0 * level);
            }
        }
    }
    assert!(gone > 10_000, "{gone}");
    // At a level of 4,000 kWh a quarter is always on; the level is scaled up for the days away, by at most a sixth.
    let least = 4_000.0 * 0.25 / 365.0 / 48.0;
    assert!(level > least && level < 1.17 * least, "{level} {least}");
}

/// With steps of another length a run has the same appliances: where generation is even within the hour, hours are the sums
/// of their parts.
#[test]
fn other_steps_are_the_same_home() {
    let lanes = 5;
    let settings = Settings::new(lanes)
        .with(Setting::Electricity, 6_000.0)
        .with(Setting::ApplianceShare, 0.7)
        .with(Setting::DaysAway, 25.0);
    let sun = |hour: usize| 0.1 * (hour as f64 - 5.0).max(0.0) * (20.0 - hour as f64).max(0.0);
    let by_day = |steps: usize| -> Vec<Vec<f64>> {
        let household = single(steps);
        let mut batch = household.batch(&settings, &chance(40, lanes, Vectors::Widest));
        let per_hour = steps / 24;
        let generation: Vec<f64> =
            (0..steps * lanes).map(|i| sun(i / lanes / per_hour) / per_hour as f64).collect();
        let (mut export, mut import) = (vec![0.0; steps * lanes], vec![0.0; steps * lanes]);
        let hourly = |values: &[f64]| -> Vec<f64> {
            let hour_of = |i: usize| i / lanes / per_hour;
            let mut out = vec![0.0; 24 * lanes];
            for (i, v) in values.iter().enumerate() {
                out[hour_of(i) * lanes + i % lanes] += v;
            }
            out
        };
        (0..time::DAYS)
            .map(|day| {
                batch.day(day, &generation, &mut export, &mut import);
                [hourly(&export), hourly(&import)].concat()
            })
            .collect()
    };
    let hours = by_day(24);
    for steps in [48, 72, 96, 144, 288] {
        let other = by_day(steps);
        for (a, b) in hours.iter().flatten().zip(other.iter().flatten()) {
            assert!((a - b).abs() < 1e-9, "{steps}: {a} {b}");
        }
    }
}

/// Export and import of one window against a sum over 200,000 moments.
fn by_moments(window: (f64, f64), spare: f64, old: (f64, f64), new: (f64, f64, f64)) -> (f64, f64) {
    let n = 200_000;
    let width = (window.1 - window.0) / f64::from(n);
    let (mut out, mut into) = (0.0, 0.0);
    for k in 0..n {
        let t = window.0 + width * (f64::from(k) + 0.5);
        let mut net = spare;
        net -= if t < old.1 { old.0 } else { 0.0 };
        net -= if t >= new.1 && t < new.2 { new.0 } else { 0.0 };
        out += width * net.max(0.0);
        into += width * (-net).max(0.0);
    }
    (0.5 * out, 0.5 * into)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn states_within_a_window_are_all_there(
        part in 0_usize..3,
        parts in 1_usize..4,
        g in 0.0..5.0_f64,
        b in 0.0..2.0_f64,
        old_kw in 0.0..3.0_f64,
        old_to in 0.0..1.0_f64,
        kw in 0.0..3.0_f64,
        from in 0.0..1.0_f64,
        length in 0.0..1.0_f64,
    ) {
        let part = part % parts;
        let window = (part as f64 / parts as f64, (part + 1) as f64 / parts as f64);
        let bursts = Bursts {
            old_kw: &[old_kw], old_to: &[old_to], kw: &[kw], from: &[from], to: &[from + length],
        };
        let steady = Steady {
            always_on: &[b], people: &[0.0], people_kw: 1.0, extra: &[0.0], extra_kw: 1.0,
            demand_share: 1.0, generation: &[g / 2.0], generation_kw: 2.0,
        };
        let (mut out, mut into) = ([0.0], [0.0]);
        Vectors::Widest.settle_window(window, bursts, steady, &mut out, &mut into);
        let expect = by_moments(window, g - b, (old_kw, old_to), (kw, from, from + length));
        prop_assert!((out[0] - expect.0).abs() < 1e-4, "{} {}", out[0], expect.0);
        prop_assert!((into[0] - expect.1).abs() < 1e-4, "{} {}", into[0], expect.1);
        // Never less than what netting the whole window would leave.
        let net = expect.0 - expect.1;
        prop_assert!(out[0] >= net.max(0.0) - 1e-4 && into[0] >= (-net).max(0.0) - 1e-4);
        // In the dark the shorter way gives the same bits.
        let dark = Steady { generation: &[0.0], ..steady };
        let (mut none, mut long, mut short) = ([0.0], [0.0], [0.0]);
        Vectors::Widest.settle_window(window, bursts, dark, &mut none, &mut long);
        Vectors::Widest.settle_dark(window, bursts, dark, &mut short);
        prop_assert_eq!(none[0], 0.0);
        prop_assert_eq!(long[0].to_bits(), short[0].to_bits());
    }
}

/// One worked case: 2 kW of sun, 0.5 kW steady, a kettle of 2.2 kW for a tenth of the half hour. Netting the half hour would
/// show no import.
#[test]
fn a_half_hour_can_export_and_import() {
    let bursts = Bursts { old_kw: &[0.0], old_to: &[0.0], kw: &[2.2], from: &[0.4], to: &[0.5] };
    let steady = Steady {
        always_on: &[0.5],
        people: &[0.0],
        people_kw: 0.0,
        extra: &[0.0],
        extra_kw: 0.0,
        demand_share: 1.0,
        generation: &[1.0],
        generation_kw: 2.0,
    };
    let (mut out, mut into) = ([0.0], [0.0]);
    Vectors::Widest.settle_window((0.0, 1.0), bursts, steady, &mut out, &mut into);
    assert!((out[0] - 0.5 * 0.9 * 1.5).abs() < 1e-12, "{}", out[0]);
    assert!((into[0] - 0.5 * 0.1 * 0.7).abs() < 1e-12, "{}", into[0]);
}

/// Phases settled apart never export less than the sum, and by as much more as they import more: on every half hour.
#[test]
fn phases_apart_let_through_what_the_sum_would_net() {
    let lanes = 50;
    let settings = Settings::new(lanes).with(Setting::Electricity, 9_000.0).with(Setting::DaysAway, 20.0);
    let here = chance(9, lanes, Vectors::Widest);
    let shares = ([0.5, 0.3, 0.2], [1.0, 0.0, 1.0]);
    let home = |netting| {
        let phases = Phases::new(shares.0, shares.1, netting).unwrap();
        Household::new(Hemisphere::North, phases, 48)
    };
    let (each, all) = (home(Netting::EachPhase), home(Netting::AllPhases));
    let (mut of_each, mut of_all) = (each.batch(&settings, &here), all.batch(&settings, &here));
    let size = 48 * lanes;
    let generation: Vec<f64> =
        (0..size).map(|i| (1.5 - (i / lanes) as f64 * 0.05 + (i % lanes) as f64 * 0.01).max(0.0)).collect();
    let [mut a, mut b, mut c, mut d] = [(); 4].map(|()| vec![0.0; size]);
    let mut through = 0.0;
    for day in 0..60 {
        of_each.day(day, &generation, &mut a, &mut b);
        of_all.day(day, &generation, &mut c, &mut d);
        for i in 0..size {
            assert!((a[i] - b[i] - (c[i] - d[i])).abs() < 1e-12);
            assert!(a[i] >= c[i] - 1e-12 && b[i] >= d[i] - 1e-12);
            through += a[i] - c[i];
        }
    }
    assert!(through > 0.0);
}

/// With a flood of sun on the first phase only, what is imported is the use of the others: their share of the yearly use.
#[test]
fn appliances_are_on_the_phases_by_their_shares() {
    let lanes = 2_000;
    let settings =
        Settings::new(lanes).with(Setting::Electricity, 4_000.0).with(Setting::ApplianceShare, 0.8);
    let phases = Phases::new([5.0, 3.0, 2.0], [1.0, 0.0, 0.0], Netting::EachPhase).unwrap();
    let household = Household::new(Hemisphere::North, phases, 24);
    let flood = vec![1_000.0; 24 * lanes];
    let (_, import) = year(&household, &settings, &chance(0, lanes, Vectors::Widest), &flood);
    let (mean, variance) = mean_and_variance(&import);
    let error = (variance / lanes as f64).sqrt();
    assert!((mean - 2_000.0).abs() < 5.0 * error && error < 3.0, "{mean} {error}");
}

/// Runs alone and together, with the widest vectors and the plain ones: the same bits, each lane with its own settings.
#[test]
fn a_run_uses_the_same_in_any_batch() {
    let lanes = 35;
    let kwh: Vec<f64> = (0..lanes).map(|l| 1_000.0 + 900.0 * l as f64).collect();
    let mut all = Settings::new(lanes).with(Setting::DaysAway, 30.0);
    all.set(Setting::Electricity, vec![kwh.clone()]);
    // Dark in every second lane, so that batches differ in what they may leave out.
    let sun = |step: usize, run: usize| {
        if run.is_multiple_of(2) { 0.02 * (step as f64 - 12.0).max(0.0) } else { 0.0 }
    };
    let phases = Phases::new([2.0, 1.0, 1.0], [1.0, 1.0, 0.0], Netting::EachPhase).unwrap();
    for phases in [Phases::single(), phases] {
        let household = Household::new(Hemisphere::South, phases, 48);
        let together: Vec<f64> = (0..48 * lanes).map(|i| sun(i / lanes, i % lanes)).collect();
        let (export, import) = year(&household, &all, &chance(77, lanes, Vectors::Widest), &together);
        for vectors in [Vectors::Avx2, Vectors::Baseline] {
            let other = year(&household, &all, &chance(77, lanes, vectors), &together);
            assert_eq!((&export, &import), (&other.0, &other.1));
        }
        for lane in (0..lanes).step_by(4).chain([1, 33]) {
            let own = Settings::new(1).with(Setting::DaysAway, 30.0).with(Setting::Electricity, kwh[lane]);
            let alone: Vec<f64> = (0..48).map(|step| sun(step, lane)).collect();
            let here = chance(77 + lane as u64, 1, Vectors::Widest);
            let (e, i) = year(&household, &own, &here, &alone);
            assert_eq!(
                (e[0].to_bits(), i[0].to_bits()),
                (export[lane].to_bits(), import[lane].to_bits()),
                "{lane}"
            );
        }
    }
}
