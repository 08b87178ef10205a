//! The clearness of days: as measured, and by closed forms.

use super::*;
use crate::hotwater::sun::record::Record;
use crate::hotwater::time::{DAYS, DAYS_IN_MONTH};

/// Clearness of simulated years: `[year][day]`.
fn years(sun: &Sun, count: usize) -> Vec<Vec<f64>> {
    let mut batch = sun.batch(&chance(0, count));
    let mut out = vec![0.0; sun.steps() * count];
    let mut years = vec![Vec::with_capacity(DAYS); count];
    for day in 0..DAYS {
        batch.day(day, &mut out);
        for (year, k) in years.iter_mut().zip(batch.clearness()) {
            year.push(*k);
        }
    }
    years
}

fn dublin_sun() -> Sun {
    let (place, roofs) = south(DUBLIN_LATITUDE, 35.0);
    Sun::new(&place, &roofs, &dublin_climate(), 24).unwrap()
}

fn measured() -> Record {
    Record::of_irradiation(DUBLIN_LATITUDE, (1996, 1, 1), &dublin(1)).unwrap()
}

/// Seventeen years at Dublin against 3,000 simulated ones, month by month, both counted by the same rules.
#[test]
fn dublin_is_reproduced() {
    let (measured, simulated) = (measured(), Record::of_years(&years(&dublin_sun(), 3_000)));
    let mut scatter = 0.0;
    for month in 0..12 {
        let (m, s) = (measured.month(month), simulated.month(month));
        let what = format!("month {}", month + 1);
        near(s.mean, m.mean, 0.02 * m.mean, &format!("mean of {what}"));
        near(s.sd, m.sd, 0.05 * m.sd, &format!("sd of {what}"));
        near(s.persistence, m.persistence, 0.05, &format!("correlation of {what}"));
        scatter += measured.variance_of_mean(month).unwrap() / simulated.variance_of_mean(month).unwrap();
    }
    let spread = |r: &Record| r.variance_of_means().unwrap().sqrt();
    near(spread(&simulated), spread(&measured), 0.15 * spread(&measured), "spread of monthly means");
    // Seventeen years know a month's spread to a third only: 16 x the sum of ratios is chi-square with 192 degrees of
    // freedom if the simulation is right (99 % between 144 and 245).
    let chi_square = 16.0 * scatter;
    assert!((144.0..245.0).contains(&chi_square), "{chi_square}");
}

/// Why there is a lasting part: memory from day to day alone makes months too alike.
#[test]
fn memory_of_a_day_alone_makes_months_too_alike() {
    let (place, roofs) = south(DUBLIN_LATITUDE, 35.0);
    let climate = Climate { slow: 0.0, ..dublin_climate() };
    let sun = Sun::new(&place, &roofs, &climate, 24).unwrap();
    let variance: f64 = (0..12).map(|m| sun.spread_of_monthly_mean(m)).map(|s| s * s).sum();
    let ratio = (variance / 12.0).sqrt() / measured().variance_of_means().unwrap().sqrt();
    assert!((0.75..0.97).contains(&ratio), "{ratio}");
}

#[test]
fn the_spread_of_monthly_means_is_as_the_closed_form_says() {
    let sun = dublin_sun();
    let record = Record::of_years(&years(&sun, 4_000));
    for month in 0..12 {
        let simulated = record.variance_of_mean(month).unwrap().sqrt();
        // The standard error of a standard deviation of 4,000 is 1.1 %.
        near(
            sun.spread_of_monthly_mean(month),
            simulated,
            0.045 * simulated,
            &format!("month {}", month + 1),
        );
    }
}

/// Persistence, mean and spread asked for are those that come out, weak or strong.
#[test]
fn what_is_asked_for_comes_out() {
    let (place, roofs) = south(40.0, 30.0);
    for (mean, sd, persistence, slow) in
        [(0.35, 0.18, 0.5, 0.0), (0.55, 0.15, 0.3, 0.05), (0.65, 0.09, -0.1, 0.02), (0.45, 0.2, 0.7, 0.1)]
    {
        let climate = Climate { mean: [mean; 12], sd: [sd; 12], persistence: [persistence; 12], slow };
        let record = Record::of_years(&years(&Sun::new(&place, &roofs, &climate, 24).unwrap(), 1_500));
        for month in 0..12 {
            let m = record.month(month);
            near(m.mean, mean, 0.01, "mean");
            near(m.sd, sd, 0.03 * sd, "sd");
            near(m.persistence, persistence, 0.02, "persistence");
        }
    }
}

/// A year's irradiation on the level varies by 3.1 % over these seventeen years, 3.9 % over longer ones.
#[test]
fn years_differ_as_much_as_measured_ones() {
    let sun = dublin_sun();
    let simulated = years(&sun, 2_000);
    let outside = sun.outside_kwh_per_m2();
    let total = |year: &Vec<f64>| {
        let of = |day: usize| year[day] * outside[month(day)] / DAYS_IN_MONTH[month(day)];
        (0..DAYS).map(of).sum::<f64>()
    };
    let totals: Vec<f64> = simulated.iter().map(total).collect();
    let mean = totals.iter().sum::<f64>() / totals.len() as f64;
    let sd = (totals.iter().map(|t| (t - mean) * (t - mean)).sum::<f64>() / totals.len() as f64).sqrt();
    assert!((0.028..0.045).contains(&(sd / mean)), "{}", sd / mean);
    near(mean, 958.0, 15.0, "mean of the years");
}

fn month(day: usize) -> usize {
    crate::hotwater::time::month_of(day)
}

/// Sunshine recorders and pyranometers of the same place tell nearly the same.
#[test]
fn sunshine_hours_give_the_clearness() {
    let hours = dublin(2);
    let mut by_month = [0.0; 12];
    let mut date = (1996, 1_usize, 1);
    for h in hours {
        by_month[date.1 - 1] += h / 17.0;
        let length = if date.1 == 2 && date.0 % 4 == 0 { 29 } else { DAYS_IN_MONTH[date.1 - 1] as usize };
        date.2 += 1;
        if date.2 > length {
            date = if date.1 == 12 { (date.0 + 1, 1, 1) } else { (date.0, date.1 + 1, 1) };
        }
    }
    let climate =
        Climate::from_sunshine_hours(DUBLIN_LATITUDE, by_month, climate::ANGSTROM_PRESCOTT).unwrap();
    let measured = dublin_climate();
    for month in 0..12 {
        near(
            climate.mean[month],
            measured.mean[month],
            0.18 * measured.mean[month],
            &format!("month {month}"),
        );
        near(
            climate.sd[month],
            measured.sd[month],
            0.25 * measured.sd[month],
            &format!("sd of month {month}"),
        );
    }
}

#[test]
fn irradiation_gives_back_itself() {
    let kwh = [30.0, 48.0, 85.0, 118.0, 145.0, 158.0, 165.0, 140.0, 99.0, 59.0, 32.0, 24.0];
    let climate = Climate::from_irradiation(47.4, kwh).unwrap();
    let flat = [Roof { tilt: 0.0, azimuth: 0.0, share: 1.0 }];
    let sun = Sun::new(&Place { latitude: 47.4, albedo: 0.2 }, &flat, &climate, 48).unwrap();
    for (month, got) in sun.monthly_kwh_per_kwp().into_iter().enumerate() {
        near(got, kwh[month], 0.01 * kwh[month], &format!("month {month}"));
    }
}

#[test]
fn what_cannot_be_is_refused_in_words() {
    let (place, roofs) = south(50.0, 35.0);
    let fine = Climate { mean: [0.4; 12], sd: [0.15; 12], persistence: [0.2; 12], slow: 0.02 };
    let refused = |climate: &Climate, place: &Place, roofs: &[Roof], steps| {
        Sun::new(place, roofs, climate, steps).map(|_| ()).unwrap_err().to_string()
    };
    let mut bright = fine.clone();
    bright.mean[5] = 0.9;
    assert!(
        refused(&bright, &place, &roofs, 48)
            .starts_with("the mean clearness of June is 0.9; it must lie from")
    );
    let mut wide = fine.clone();
    wide.sd[0] = 0.35;
    assert!(
        refused(&wide, &place, &roofs, 48).contains("standard deviation of the clearness of January is 0.35")
    );
    let mut steady = fine.clone();
    steady.sd[0] = 0.01;
    assert!(Sun::new(&place, &roofs, &steady, 48).is_ok());
    steady.sd[0] = 0.0;
    assert!(refused(&steady, &place, &roofs, 48).contains("from 0.01 to"));
    let nan = Climate { slow: f64::NAN, ..fine.clone() };
    assert!(refused(&nan, &place, &roofs, 48).contains("NaN"));
    assert!(refused(&fine, &Place { latitude: 91.0, albedo: 0.2 }, &roofs, 48).contains("latitude is 91"));
    assert!(refused(&fine, &place, &[Roof { share: 0.5, ..roofs[0] }], 48).contains("add up to 0.5"));
    assert!(refused(&fine, &place, &[], 48).contains("no roof"));
    assert!(refused(&fine, &place, &roofs, 50).contains("50 steps"));
    assert!(refused(&fine, &place, &roofs, 0).contains("0 steps"));
    let measured = |first, days: &[f64]| Climate::from_measured(53.0, first, days).unwrap_err().to_string();
    assert!(measured((2001, 2, 29), &[]).contains("2001-02-29"));
    assert!(measured((2001, 1, 1), &[3.0, -1.0]).contains("2001-01-01 is 3"));
    assert!(
        measured((2001, 1, 1), &[0.5; 80]).contains("March has 21")
            || measured((2001, 1, 1), &[0.5; 80]).contains("April has 0")
    );
}

/// Seventeen years from New Year 1996 end with 2012, five leap days included; a short record keeps what it cannot know.
#[test]
fn records_know_the_calendar_and_their_own_limits() {
    let days = dublin(1);
    assert_eq!(days.len(), 17 * 365 + 5);
    let whole = measured();
    for (month, length) in DAYS_IN_MONTH.into_iter().enumerate() {
        let full = 17 * length as usize + if month == 1 { 5 } else { 0 };
        let missing = full - whole.month(month).days;
        assert!(missing <= 12, "month {month} lacks {missing}");
    }
    let known: usize = (0..12).map(|m| whole.month(m).days).sum();
    assert_eq!(known, days.iter().filter(|d| d.is_finite()).count());
    let two_years = Climate::from_measured(DUBLIN_LATITUDE, (1996, 1, 1), &days[..731]).unwrap();
    assert_eq!(two_years.persistence, [Climate::USUAL_PERSISTENCE; 12]);
    assert_eq!(two_years.slow, Climate::USUAL_SLOW);
    // Begun elsewhere in the year, the months keep their own: a second half of a year alone lacks January.
    let july = Climate::from_measured(DUBLIN_LATITUDE, (1996, 7, 1), &days[182..182 + 731]).unwrap();
    let june = |from: usize, year| mean(&days[from..from + 30], year, 6);
    near(july.mean[5], 0.5 * (june(366 + 151, 1997) + june(731 + 151, 1998)), 1e-9, "two Junes");
    assert!(Climate::from_measured(DUBLIN_LATITUDE, (1996, 7, 1), &days[182..366]).is_err());
}

/// Mean clearness of days from the first of a month.
fn mean(days: &[f64], year: i32, month: u8) -> f64 {
    let of = |(i, kwh): (usize, &f64)| {
        kwh / climate::outside_kwh_per_m2(DUBLIN_LATITUDE, year, month, i as u8 + 1)
    };
    days.iter().enumerate().map(of).sum::<f64>() / days.len() as f64
}

/// Far north the sun is away for weeks: those days make nothing, and their months ask for no clearness.
#[test]
fn polar_night_makes_nothing() {
    let (place, roofs) = south(75.0, 60.0);
    let mut climate = Climate { mean: [0.2; 12], sd: [0.05; 12], persistence: [0.2; 12], slow: 0.02 };
    (climate.mean[11], climate.sd[11]) = (0.0, 0.0);
    (climate.mean[0], climate.sd[0]) = (0.0, 0.0);
    let sun = Sun::new(&place, &roofs, &climate, 48).unwrap();
    let mut batch = sun.batch(&chance(0, 3));
    let mut out = vec![1.0; 48 * 3];
    batch.day(0, &mut out);
    assert!(out.iter().all(|o| *o == 0.0));
    batch.day(172, &mut out);
    assert_eq!(sun.tables.days[172].lit.len(), 48, "the midnight sun shines in every step");
    assert!(out.iter().sum::<f64>() > 1.0);
    assert_eq!(sun.season()[11], 0.0);
}
