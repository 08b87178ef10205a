use super::*;

fn period(from: f64, to: f64, factor: f64) -> Period {
    Period { from, to, factor, months: Vec::new(), days: Days::All }
}

fn periods(periods: Vec<Period>, otherwise: f64, scale: Scale) -> Course {
    Course::Periods { periods, otherwise, scale }
}

#[test]
fn plain_is_one() {
    let tariff = Tariff::new(&Course::Plain, &Course::Plain, 48).unwrap();
    assert_eq!(tariff, Tariff::plain(48));
    assert_eq!(tariff.day(364), (&[1.0; 48][..], &[1.0; 48][..]));
}

#[test]
fn periods_go_past_midnight_and_share_a_step() {
    // Night from 23:30 to 07:15 at 0.5; half hour 14 (07:00) is half night.
    let night = periods(vec![period(23.5, 7.25, 0.5)], 1.0, Scale::AsGiven);
    let tariff = Tariff::new(&Course::Plain, &night, 48).unwrap();
    let (export, import) = tariff.day(100);
    assert_eq!(export, [1.0; 48]);
    for (step, &factor) in import.iter().enumerate() {
        let expect = match step {
            0..=13 | 47 => 0.5,
            14 => 0.75,
            _ => 1.0,
        };
        assert!((factor - expect).abs() < 1e-12, "{step}: {factor}");
    }
    // Hourly steps: 23:00 to 24:00 is half night, 07:00 to 08:00 a quarter.
    let hourly = night.factors(24).unwrap();
    assert!((hourly[23] - 0.75).abs() < 1e-12 && (hourly[7] - 0.875).abs() < 1e-12);
}

#[test]
fn months_days_and_the_last_of_several() {
    let summer_noon =
        Period { from: 11.0, to: 15.0, factor: -0.2, months: vec![5, 6, 7], days: Days::Weekdays };
    let course = periods(vec![period(8.0, 20.0, 2.0), summer_noon], 1.0, Scale::AsGiven);
    let factors = course.factors(24).unwrap();
    let at = |day: usize, hour: usize| factors[day * 24 + hour];
    // Day 0 is a Monday, day 151 the first of June, a Friday, day 152 a Saturday.
    assert_eq!(151 % 7, 4);
    assert_eq!([at(0, 7), at(0, 12), at(0, 20)], [1.0, 2.0, 1.0]);
    assert_eq!([at(151, 10), at(151, 15)], [2.0, 2.0]);
    assert!((at(151, 11) + 0.2).abs() < 1e-12 && (at(151, 14) + 0.2).abs() < 1e-12);
    assert_eq!(at(152, 12), 2.0);
    let weekend = Period { days: Days::Weekends, ..period(0.0, 24.0, 0.0) };
    let factors = periods(vec![weekend, period(5.0, 5.0, 9.0)], 1.0, Scale::AsGiven).factors(24).unwrap();
    assert_eq!(factors.iter().sum::<f64>(), 24.0 * 261.0);
}

#[test]
fn over_the_mean_the_hours_of_the_year_come_to_one() {
    let night = periods(vec![period(0.0, 8.0, 0.4)], 1.0, Scale::OverMean);
    let factors = night.factors(48).unwrap();
    assert!((factors.iter().sum::<f64>() / factors.len() as f64 - 1.0).abs() < 1e-12);
    // A third of the day at 0.4: the mean is 0.8.
    assert!((factors[0] - 0.5).abs() < 1e-12 && (factors[47] - 1.25).abs() < 1e-12);
    let profile = Course::Profile { values: vec![0.1, 0.3], scale: Scale::OverMean };
    let factors = profile.factors(4).unwrap();
    assert!((factors[0] - 0.5).abs() < 1e-12 && (factors[3] - 1.5).abs() < 1e-12);
    let given = Course::Profile { values: vec![0.1, 0.3], scale: Scale::AsGiven }.factors(4).unwrap();
    assert_eq!(&given[..4], [0.1, 0.1, 0.3, 0.3]);
}

#[test]
fn series_may_be_negative_but_not_in_the_mean() {
    // 0.05 by the hour of the day, and 1 below nothing at noon of even days.
    let hourly: Vec<f64> = (0..8760)
        .map(|h| if h % 24 == 12 && (h / 24) % 2 == 0 { -1.0 } else { 0.01 * (h % 24) as f64 })
        .collect();
    let mean = hourly.iter().sum::<f64>() / 8760.0;
    let tariff = Tariff::new(&Course::Series(hourly.clone()), &Course::Plain, 48).unwrap();
    for day in [0, 1, 364] {
        for step in 0..48 {
            let expect = hourly[day * 24 + step / 2] / mean;
            assert!((tariff.day(day).0[step] - expect).abs() < 1e-12);
        }
    }
    // Half hours on hourly steps: the mean of two.
    let halves: Vec<f64> = (0..17_520).map(|s| if s % 2 == 0 { 1.0 } else { 3.0 }).collect();
    assert!(Course::Series(halves).factors(24).unwrap().iter().all(|f| (f - 1.0).abs() < 1e-12));
    let below: Vec<f64> = vec![-0.1; 8760];
    assert!(matches!(Course::Series(below).factors(48), Err(TariffError::Mean(_))));
}

#[test]
fn what_is_no_tariff_is_refused() {
    let bad = |p: Period| periods(vec![period(0.0, 1.0, 1.0), p], 1.0, Scale::AsGiven).factors(48);
    assert_eq!(bad(period(-1.0, 5.0, 1.0)), Err(TariffError::Period(1)));
    assert_eq!(bad(period(1.0, 24.5, 1.0)), Err(TariffError::Period(1)));
    assert_eq!(bad(period(f64::NAN, 5.0, 1.0)), Err(TariffError::Period(1)));
    assert_eq!(bad(Period { months: vec![12], ..period(0.0, 1.0, 1.0) }), Err(TariffError::Period(1)));
    assert_eq!(bad(period(0.0, 5.0, f64::NAN)), Err(TariffError::Value(1)));
    assert_eq!(Course::Series(vec![1.0; 8784]).factors(48), Err(TariffError::Series(8784)));
    assert_eq!(Course::Series(vec![1.0; 365]).factors(48), Err(TariffError::Series(365)));
    assert_eq!(Course::Series(vec![f64::INFINITY; 8760]).factors(48), Err(TariffError::Value(0)));
    let profile = |values| Course::Profile { values, scale: Scale::AsGiven }.factors(48);
    assert_eq!(profile(Vec::new()), Err(TariffError::Profile(0)));
    assert_eq!(profile(vec![1.0; 1441]), Err(TariffError::Profile(1441)));
}
