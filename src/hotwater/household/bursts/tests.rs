use super::*;
use crate::sampling::Vectors;

/// Chance, power and time of each kind in each slot, at `kwh` a day: what a simulation should show.
pub(in crate::hotwater::household) fn table(kwh: f64) -> Vec<(usize, f64, f64, f64)> {
    let per_slot = |slot: usize| {
        KINDS.iter().map(move |kind| {
            let day: f64 = kind.hours.iter().sum();
            let energy = kwh * kind.share * kind.hours[slot / 2] / day / 2.0;
            (slot, energy / (kind.kw * kind.slots / 2.0), kind.kw, kind.slots)
        })
    };
    (0..SLOTS).flat_map(per_slot).collect()
}

#[test]
fn kinds_share_all_the_energy_and_fit_in_a_slot() {
    assert!((KINDS.iter().map(|k| k.share).sum::<f64>() - 1.0).abs() < 1e-12);
    assert!(KINDS.iter().all(|k| k.slots > 0.0 && k.slots <= 1.0 && k.kw > 0.0));
    let energy: f64 = table(1.0).iter().map(|(_, chance, kw, slots)| chance * kw * slots / 2.0).sum();
    assert!((energy - 1.0).abs() < 1e-12);
    let chances = Chances::new(SLOTS);
    let day: f64 = chances.spread_kw.iter().sum::<f64>() / 2.0;
    assert!((day - 1.0).abs() < 1e-12);
    for slot in 0..SLOTS {
        let of_slot: f64 = table(1.0).iter().filter(|t| t.0 == slot).map(|t| t.1).sum();
        assert!((of_slot - chances.limits(slot)[COUNT - 1]).abs() < 1e-12);
    }
}

/// Where chances would exceed what a slot can hold, mean and variance (where chances are small) are those of more homes.
#[test]
fn large_homes_keep_mean_and_variance() {
    let chances = Chances::new(SLOTS);
    for kwh in [0.1, 5.0, 20.0, 500.0] {
        let rate = chances.rate(kwh);
        let bursts = rate.power / rate.inverse;
        assert!((bursts + rate.steady_kwh - kwh).abs() < 1e-9 * kwh);
        assert!((rate.power * rate.power / rate.inverse - kwh).abs() < 1e-9 * kwh);
        assert!(chances.busiest / rate.inverse <= MOST_CHANCE + 1e-12);
    }
    assert_eq!(chances.rate(0.0).inverse, NONE);
}

/// What is switched on over a fine grid of uniforms, both halves: the share of each kind and an even moment. The grid has
/// every 2^-26 of a range; numbers of a kind may be off by the grid.
#[test]
fn starts_follow_the_chances() {
    let chances = Chances::new(SLOTS);
    let (slot, kwh) = (37, 6.0);
    let rate = chances.rate(kwh);
    let n = 1 << 20;
    let u: Vec<f64> = {
        let key = crate::sampling::philox::Key(99);
        let mut out = vec![0.0; n];
        Vectors::Widest.uniform_fill(key, 0, 0, &mut out);
        out
    };
    for second in [false, true] {
        let (mut kw, mut from, mut to) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
        let inverse = vec![rate.inverse; n];
        let power = vec![1.0; n];
        let habits = Habits { inverse: &inverse, power: &power, limits: chances.limits(slot) };
        Vectors::Widest.start_bursts(&u, second, habits, &mut kw, &mut from, &mut to);
        for (_, chance, power, slots) in table(kwh).into_iter().filter(|t| t.0 == slot) {
            let of_kind: Vec<f64> = (0..n)
                .filter(|&i| kw[i] == power && (to[i] - from[i] - slots).abs() < 1e-9)
                .map(|i| from[i])
                .collect();
            let share = of_kind.len() as f64 / n as f64;
            // Five standard errors, ten cases: false alarm 6e-6.
            assert!((share - chance).abs() < 5.0 * (chance / n as f64).sqrt(), "{power}: {share} {chance}");
            let mean = of_kind.iter().sum::<f64>() / of_kind.len() as f64;
            let error = (1.0 / 12.0 / of_kind.len() as f64).sqrt();
            assert!((mean - 0.5).abs() < 5.0 * error, "{mean}");
            assert!(of_kind.iter().all(|f| (0.0..=1.0).contains(f)));
        }
    }
}
