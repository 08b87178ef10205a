//! Years drawn from readings, against what is known of the days they are drawn from.

use std::fmt::Write;

use super::grid::SLOTS;
use super::{Kind, Library, Options, Readings, dates, read};
use crate::hotwater::chance::Chance;
use crate::hotwater::flows::{MeterDay, MeterYear};
use crate::hotwater::settings::{Setting, Settings};
use crate::hotwater::time::{DAYS, DAYS_IN_MONTH, month_of};
use crate::sampling::Vectors;

const SEASON: [f64; 12] = [3.0, 5.0, 8.1, 11.1, 13.3, 13.0, 12.7, 11.2, 9.2, 6.6, 4.2, 2.6];

/// Export of a day at noon (two half hours), with day-to-day memory: kWh.
fn daily(days: usize, memory: f64) -> Vec<f64> {
    let mut state = 12345u64;
    let mut last = 0.0;
    let mut noise = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 40) as f64 / (1u64 << 24) as f64 - 0.5
    };
    let one = |_| {
        last = memory * last + (1.0 - memory * memory).sqrt() * noise();
        5.0 + 4.0 * last
    };
    (0..days).map(one).collect()
}

/// Readings of days from 1 January 2023 on, those of the months in `months`.
fn readings(days: usize, months: &[usize], memory: f64) -> (Readings, Vec<f64>) {
    let kwh = daily(days, memory);
    let start = dates::civil_days(2023, 1, 1).unwrap();
    let mut text = String::from("time,export_kwh,import_kwh\n");
    for (day, kwh) in kwh.iter().enumerate() {
        let (y, m, d) = dates::civil_date(start + day as i64);
        if !months.contains(&usize::from(m - 1)) {
            continue;
        }
        for slot in 0..SLOTS {
            let export = if slot == 24 || slot == 25 { kwh / 2.0 } else { 0.0 };
            writeln!(text, "{y}-{m:02}-{d:02} {:02}:{:02},{export},0.1", slot / 2, slot % 2 * 30).unwrap();
        }
    }
    (read(text.as_bytes(), &Options::default()).unwrap(), kwh)
}

const ALL: [usize; 12] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11];

fn chance(first: u64, lanes: usize) -> Chance<'static> {
    Chance { seed: 42, name: "home", first, lanes, vectors: Vectors::Widest }
}

/// Export of each day and lane: `[day * lanes + lane]`.
fn drawn(library: &Library, first: u64, lanes: usize, settings: &Settings, steps: usize) -> Vec<f64> {
    let mut year = library.batch(&chance(first, lanes), settings);
    let mut out = MeterDay::new(steps, lanes);
    let mut sums = vec![0.0; DAYS * lanes];
    for day in 0..DAYS {
        year.fill(day, &mut out);
        assert!(out.generation.is_empty());
        for (at, kwh) in out.export.iter().enumerate() {
            sums[day * lanes + at % lanes] += kwh;
        }
    }
    sums
}

fn by_month(sums: &[f64], lanes: usize, lane: usize) -> [f64; 12] {
    let mut months = [0.0; 12];
    for day in 0..DAYS {
        months[month_of(day)] += sums[day * lanes + lane];
    }
    months
}

fn mean_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, (values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0)).sqrt())
}

#[test]
fn the_mean_of_many_runs_is_the_mean_of_the_readings() {
    let (readings, kwh) = readings(730, &ALL, 0.3);
    let library = Library::new(&readings, &SEASON).unwrap();
    let lanes = 3000;
    let sums = drawn(&library, 0, lanes, &Settings::new(lanes), 48);
    for (month, days_in_month) in DAYS_IN_MONTH.into_iter().enumerate() {
        let first = dates::civil_days(2023, 1, 1).unwrap();
        let of = |day: &usize| usize::from(dates::civil_date(first + *day as i64).1) == month + 1;
        let own: Vec<f64> = (0..730).filter(of).map(|day| kwh[day]).collect();
        let wanted = own.iter().sum::<f64>() / own.len() as f64 * days_in_month;
        assert!((library.export_by_month()[month] - wanted).abs() < 1e-9);
        let totals: Vec<f64> = (0..lanes).map(|lane| by_month(&sums, lanes, lane)[month]).collect();
        let (mean, sd) = mean_sd(&totals);
        assert!((mean - wanted).abs() < 4.0 * sd / (lanes as f64).sqrt(), "month {month}: {mean} {wanted}");
    }
}

#[test]
fn years_differ_as_years_do() {
    let (readings, _) = readings(730, &ALL, 0.3);
    let library = Library::new(&readings, &SEASON).unwrap();
    let lanes = 4000;
    let sums = drawn(&library, 0, lanes, &Settings::new(lanes), 48);
    let years: Vec<f64> = (0..lanes).map(|lane| by_month(&sums, lanes, lane).iter().sum()).collect();
    let (mean, sd) = mean_sd(&years);
    // A cv of 5 % for the year to come and 5 % / sqrt(2) for the mean of two years.
    let wanted = 0.05 * (1.0f64 + 0.5).sqrt();
    assert!((sd / mean / wanted - 1.0).abs() < 0.05, "{} {wanted}", sd / mean);
}

#[test]
fn blocks_keep_most_of_the_memory_from_day_to_day() {
    let (readings, kwh) = readings(730, &ALL, 0.6);
    let library = Library::new(&readings, &SEASON).unwrap();
    let lanes = 200;
    let sums = drawn(&library, 0, lanes, &Settings::new(lanes), 48);
    let lag = |at: &dyn Fn(usize) -> f64, days: usize| {
        let (mean, sd) = mean_sd(&(0..days).map(at).collect::<Vec<_>>());
        let products = (1..days).map(|day| (at(day) - mean) * (at(day - 1) - mean));
        products.sum::<f64>() / ((days - 1) as f64 * sd * sd)
    };
    let read = lag(&|day| kwh[day], 730);
    let drawn: f64 =
        (0..lanes).map(|lane| lag(&|day| sums[day * lanes + lane], DAYS)).sum::<f64>() / lanes as f64;
    // Three of four neighbours are neighbours in the readings too.
    assert!((drawn / read - 0.75).abs() < 0.08, "{drawn} of {read}");
}

#[test]
fn a_run_has_its_year_whatever_the_batch() {
    let (readings, _) = readings(365, &[3, 4, 5, 6], 0.3);
    let library = Library::new(&readings, &SEASON).unwrap();
    let all = drawn(&library, 10, 37, &Settings::new(37), 48);
    for lane in [0, 5, 36] {
        let one = drawn(&library, 10 + lane as u64, 1, &Settings::new(1), 48);
        for day in 0..DAYS {
            assert_eq!(one[day].to_bits(), all[day * 37 + lane].to_bits());
        }
    }
}

#[test]
fn steps_share_and_sum_half_hours() {
    let (readings, _) = readings(365, &ALL, 0.3);
    let library = Library::new(&readings, &SEASON).unwrap();
    let settings = Settings::new(3);
    let half_hours = drawn(&library, 0, 3, &settings, 48);
    for steps in [24, 96, 288, 36] {
        for (a, b) in drawn(&library, 0, 3, &settings, steps).iter().zip(&half_hours) {
            assert!((a - b).abs() < 1e-12);
        }
    }
    let mut out = MeterDay::new(24, 1);
    library.batch(&chance(0, 1), &Settings::new(1)).fill(0, &mut out);
    assert!(out.export[12] > 0.0 && out.export[11] == 0.0 && out.export[13] == 0.0);
    assert!((out.import[0] - 0.2).abs() < 1e-15);
}

#[test]
fn months_without_readings_follow_the_season_and_widen() {
    // May to August are read; December is made from August, four months off.
    let (readings, kwh) = readings(365, &[4, 5, 6, 7], 0.3);
    let library = Library::new(&readings, &SEASON).unwrap();
    let december = &library.sources()[11];
    assert_eq!((december.own_days, december.from_months.as_slice()), (0, &[8u8][..]));
    let august: f64 = kwh[212..243].iter().sum::<f64>();
    assert!((december.export_kwh - august * 2.6 / 11.2).abs() < 1e-9);
    assert_eq!(library.sources()[1].from_months, [5]);
    assert_eq!(library.sources()[10].from_months, [8]);
    assert!(library.notes().iter().any(|note| note.starts_with("December")));
    let lanes = 4000;
    let sums = drawn(&library, 0, lanes, &Settings::new(lanes), 48);
    let totals: Vec<f64> = (0..lanes).map(|lane| by_month(&sums, lanes, lane)[11]).collect();
    let (mean, sd) = mean_sd(&totals);
    assert!((mean - december.export_kwh).abs() < 4.0 * sd / (lanes as f64).sqrt());
    // Log variance: weather 0.10^2, season (0.08 * 4)^2, the year's 5 % twice over or more, the blocks' own.
    let season = (0.01f64 + 0.32 * 0.32).sqrt();
    assert!(sd / mean > libm::expm1(season * season).sqrt(), "{}", sd / mean);
    assert!(sd / mean < 0.45, "{}", sd / mean);
    assert!((december.uncertainty - libm::expm1(season * season).sqrt()).abs() < 1e-12);
}

#[test]
fn readings_scale_scales_each_lane_and_month() {
    let (readings, _) = readings(365, &ALL, 0.3);
    let library = Library::new(&readings, &SEASON).unwrap();
    let plain = drawn(&library, 0, 2, &Settings::new(2), 48);
    let mut settings = Settings::new(2);
    settings.set(Setting::ReadingsScale, (0..12).map(|month| vec![1.0, f64::from(month)]).collect());
    for (at, (scaled, plain)) in drawn(&library, 0, 2, &settings, 48).iter().zip(&plain).enumerate() {
        let factor = if at % 2 == 0 { 1.0 } else { month_of(at / 2) as f64 };
        assert!((scaled - factor * plain).abs() < 1e-12);
    }
}

#[test]
fn a_leap_day_is_one_of_february() {
    let (readings, _) = readings(365 + 366, &ALL, 0.3);
    let library = Library::new(&readings, &SEASON).unwrap();
    assert_eq!(library.sources()[1].own_days, 57);
}

#[test]
fn too_little_is_refused() {
    let (readings, _) = readings(9, &ALL, 0.3);
    assert!(Library::new(&readings, &SEASON).is_err());
    let (readings, _) = readings_of(40);
    assert!(Library::new(&readings, &[f64::NAN; 12]).is_err());
    assert!(Library::new(&readings, &[0.0; 12]).is_err());
    assert!(Library::new(&readings, &SEASON).is_ok());
}

fn readings_of(days: usize) -> (Readings, Vec<f64>) {
    readings(days, &ALL, 0.3)
}

#[test]
fn the_map_of_a_year_has_its_days() {
    let (readings, kwh) = readings(730, &ALL, 0.3);
    let map = readings.year_map(Kind::Export).unwrap();
    assert_eq!((map.values.len(), map.first), (365 * SLOTS, (Some(2024), 1, 1)));
    assert!((map.values[24] - kwh[365] / 2.0).abs() < 1e-12);
    assert!(readings.year_map(Kind::Gas).is_none());
}

#[test]
fn a_library_goes_to_other_threads() {
    fn sent<T: Send + Sync + Clone>() {}
    sent::<Library>();
}

#[test]
fn signs_of_a_controller_are_put_as_a_question() {
    // Bright days: the sun rises slowly; with something at work nothing is exported until eleven, then all at once.
    let course = |taken: bool| {
        let mut text = String::from("time,export_kwh\n");
        for day in 1..=28 {
            for slot in 0..SLOTS {
                let sun = (1.0 - ((slot as f64 - 24.0) / 14.0) * ((slot as f64 - 24.0) / 14.0)).max(0.0);
                let sun = if taken && slot < 22 { 0.0 } else { sun };
                writeln!(text, "2024-06-{day:02} {:02}:{:02},{sun:.4}", slot / 2, slot % 2 * 30).unwrap();
            }
        }
        read(text.as_bytes(), &Options::default()).unwrap().found
    };
    let asked = |found: &super::Found| found.questions.iter().any(|q| q.contains("all at once"));
    assert!(asked(&course(true)));
    assert!(!asked(&course(false)));
}

#[test]
fn days_are_counted_one_by_one() {
    // From 1 January 1990, a Monday and 7305 days after 1970, to the end of 2099 by the rule of months and leap years.
    let mut days = 7305;
    for year in 1990..=2099 {
        for month in 1..=12 {
            for day in 1..=dates::days_in_month(year, month) {
                assert_eq!(dates::civil_days(year, month, day), Some(days));
                assert_eq!(dates::civil_date(days), (year, month, day));
                assert_eq!(dates::weekday(days), ((days - 7305) % 7) as usize);
                days += 1;
            }
        }
    }
    assert_eq!(
        (dates::civil_days(2023, 2, 29), dates::civil_days(2024, 13, 1), dates::civil_days(2024, 4, 31)),
        (None, None, None)
    );
}

#[test]
fn stamps_as_people_write_them() {
    let noon = 19_888 * 86_400 + 13 * 3600 + 30 * 60;
    for text in [
        "2024-06-14 13:30",
        "2024-06-14T13:30:00.000",
        "2024/06/14 13:30",
        "14/06/2024 1:30 pm",
        "14.6.2024, 13.30",
        "14.06.24 13:30",
        "14. Juni 2024 13:30",
        "14-Jun-2024 13:30",
        "June 14, 2024 13:30",
        "Fri, 14/06/2024 13:30",
        "202406141330",
        "20240614133000",
        "20240614 1330",
        "2024-06-14 13:30 - 14:00",
        "1718371800",
        "1718371800000",
        "2024-06-14 13:30 UTC",
    ] {
        let seconds =
            dates::stamp(text.as_bytes()).and_then(|found| found.clock_seconds(super::DateOrder::DayMonth));
        assert_eq!(seconds, Some(noon), "{text}");
    }
    for (text, minutes) in
        [("2024-06-14T13:30Z", 0), ("2024-06-14 13:30+05:30", 330), ("2024-06-14 13:30-0300", -180)]
    {
        assert_eq!(
            dates::stamp(text.as_bytes()).and_then(dates::Stamp::offset_minutes),
            Some(minutes),
            "{text}"
        );
    }
    for text in [
        "",
        "14",
        "2024-06",
        "2024-06-31 10:00",
        "31/31/2024",
        "2024-06-14 25:00",
        "2024-06-14 10:00 apples",
        "0.5",
        "12:30",
        "1234.5",
    ] {
        assert_eq!(dates::stamp(text.as_bytes()), None, "{text}");
    }
}
