//! Tests of the charts of hot water, over days and years made by formula.

use resvg::{tiny_skia, usvg};

use super::checks::{is_sound, lies_on_its_sheet, texts_lie_apart, words};
use super::*;
use crate::hotwater::course::{DayCourse, YearMap};
use crate::report::hotwater_words::{day_finding, day_name};

/// A home on one day: what the panels make at most, between which hours, how cloudy; where the water starts.
struct Home {
    peak_kw: f64,
    sun: (f64, f64),
    cloud: f64,
    house_kw: f64,
    start_degc: f64,
    battery_kwh: f64,
    boiler: &'static [(f64, f64)],
}

const SUMMER: Home = Home {
    peak_kw: 3.6,
    sun: (4.8, 21.2),
    cloud: 0.12,
    house_kw: 0.25,
    start_degc: 46.0,
    battery_kwh: 0.0,
    boiler: &[(6.0, 7.0)],
};
const WINTER: Home =
    Home { peak_kw: 0.7, sun: (8.6, 15.8), cloud: 0.5, boiler: &[(6.0, 7.5), (17.0, 18.5)], ..SUMMER };

/// Between 0 and 1, without a pattern that the eye sees.
fn scatter(k: usize) -> f64 {
    let x = libm::sin(k as f64 * 12.9898) * 43758.5453;
    x - x.floor()
}

/// The sun's course between two hours: 0 outside.
fn bell(hour: f64, (rise, set): (f64, f64)) -> f64 {
    let t = (hour - rise) / (set - rise);
    if (0.0..=1.0).contains(&t) { libm::pow(libm::sin(std::f64::consts::PI * t), 1.5) } else { 0.0 }
}

/// A cylinder of 200 litres that is mixed but for 6 K up and 9 K down, and a home around it.
fn course(home: &Home, steps: usize, day: usize) -> DayCourse {
    let hours = 24.0 / steps as f64;
    let (mut degc, mut held) = (home.start_degc, home.battery_kwh * 0.2);
    let mut out = DayCourse { day, steps, ..DayCourse::default() };
    for s in 0..steps {
        let hour = (s as f64 + 0.5) * hours;
        let sun = home.peak_kw * bell(hour, home.sun) * (1.0 - home.cloud * 2.0 * scatter(s * 48 / steps));
        let meals = [(7.5, 1.1), (12.5, 0.9), (18.75, 2.2), (21.0, 0.8)];
        let cooking: f64 =
            meals.iter().map(|(at, kw)| kw * libm::exp(-(hour - at) * (hour - at) / 0.18)).sum();
        let house = home.house_kw * (0.7 + 0.6 * scatter(s + 99)) + cooking;
        let (made, used) = (sun.max(0.0) * hours, house * hours);
        let (spare, short) = ((made - used).max(0.0), (used - made).max(0.0));
        let room = ((63.0 - degc) * 0.2326).max(0.0);
        let diverted = if spare > 0.1 * hours { spare.min(3.0 * hours).min(room) } else { 0.0 };
        let charge = (spare - diverted).min(home.battery_kwh - held).min(2.0 * hours).max(0.0);
        let taken = short.min(held).min(2.0 * hours);
        held += charge - taken;
        let litres = [(7.25, 45.0), (8.25, 30.0), (13.25, 12.0), (19.25, 20.0), (22.25, 38.0)]
            .iter()
            .filter(|(at, _)| (at - hour).abs() <= hours / 2.0)
            .map(|(_, litres)| litres)
            .sum::<f64>();
        let heats = home.boiler.iter().any(|(from, to)| hour > *from && hour < *to) && degc < 55.0;
        let backup = if heats { 6.0 * hours } else { 0.0 };
        degc += (diverted + backup) / 0.2326 - litres * 0.13 - 0.12 * hours;
        out.generation.push(made);
        out.export_before.push(spare);
        out.import_before.push(short);
        out.diverted.push(diverted);
        out.battery.push(charge - taken);
        out.export.push(spare - diverted - charge);
        out.import.push(short - taken);
        out.backup_heat.push(backup);
        out.drawn_heat.push(litres * 0.03);
        out.litres.push(litres);
        out.top_degc.push(degc + 6.0 * (1.0 - (degc - 40.0) / 30.0).clamp(0.0, 1.0));
        out.mean_degc.push(degc);
        out.bottom_degc.push(degc - 9.0 * (1.0 - (degc - 40.0) / 30.0).clamp(0.0, 1.0));
    }
    out
}

fn words_for(course: &DayCourse) -> DayWords {
    DayWords {
        name: "day".into(),
        day: day_name(course.day),
        finding: day_finding(course, "boiler"),
        backup: "boiler".into(),
        note: "One simulated home, run 1, seed 4711.".into(),
    }
}

fn days() -> Vec<(&'static str, DayCourse, DayWords)> {
    let summer = course(&SUMMER, 48, 171);
    let battery = course(&Home { battery_kwh: 6.0, ..SUMMER }, 48, 171);
    let mut drained = battery.clone();
    for s in 38..44 {
        (drained.diverted[s], drained.battery[s]) = (0.7, -0.7 + drained.battery[s]);
    }
    let mut metered = summer.clone();
    metered.generation.clear();
    (metered.top_degc, metered.mean_degc, metered.bottom_degc) = (Vec::new(), Vec::new(), Vec::new());
    (metered.litres, metered.backup_heat) = (Vec::new(), Vec::new());
    let mut gaps = summer.clone();
    for s in 20..24 {
        gaps.export[s] = f64::NAN;
        gaps.top_degc[s] = f64::NAN;
    }
    let mut nothing = course(&Home { house_kw: 0.0, peak_kw: 0.0, ..WINTER }, 48, 10);
    (nothing.import, nothing.import_before) = (vec![0.0; 48], vec![0.0; 48]);
    nothing.backup_heat = vec![0.0; 48];
    nothing.litres = vec![0.0; 48];
    let dark = course(&Home { peak_kw: 0.0, ..WINTER }, 48, 354);
    let mut large = course(&SUMMER, 48, 171);
    for list in [&mut large.generation, &mut large.diverted, &mut large.export, &mut large.import] {
        list.iter_mut().for_each(|x| *x *= 400.0);
    }
    let cases = vec![
        ("summer", summer),
        ("winter", course(&WINTER, 48, 354)),
        ("battery", battery),
        ("drained", drained),
        ("metered", metered),
        ("gaps", gaps),
        ("nothing", nothing),
        ("dark", dark),
        ("large", large),
        ("hours", course(&SUMMER, 24, 171)),
        ("quarters", course(&Home { battery_kwh: 4.0, cloud: 0.45, ..SUMMER }, 96, 130)),
        ("empty", DayCourse::default()),
        (
            "uneven",
            DayCourse { steps: 48, export: vec![1.0; 5], top_degc: vec![40.0; 3], ..DayCourse::default() },
        ),
    ];
    let told = |(name, course): (&'static str, DayCourse)| {
        let words = words_for(&course);
        (name, course, words)
    };
    let mut cases: Vec<(&str, DayCourse, DayWords)> = cases.into_iter().map(told).collect();
    let long = "<script>\u{1b}[31m \"Warmwasserzirkulationspumpe\" & co".repeat(4);
    let words = DayWords {
        name: "day".into(),
        day: long.clone(),
        finding: long.clone(),
        backup: long.clone(),
        note: long,
    };
    cases.push(("tiresome", course(&SUMMER, 48, 171), words));
    cases
}

/// Spare sun of a year of `days` days from a date on.
fn year(first: (Option<i32>, u8, u8), before: usize, days: usize, steps: usize) -> YearMap {
    let hours = 24.0 / steps as f64;
    let mut values = Vec::new();
    for d in 0..days {
        let season = -libm::cos(std::f64::consts::TAU * ((d + before) as f64 + 10.0) / 365.25);
        let half = 6.2 + 2.3 * season;
        let (clear, peak) = (0.25 + 0.75 * scatter(d * 7 + 3), 2.3 + 1.3 * season);
        for s in 0..steps {
            let hour = (s as f64 + 0.5) * hours;
            let kw = peak * clear * bell(hour, (12.6 - half, 12.6 + half))
                - 0.25
                - 0.8 * clear * scatter(d * 48 + s * 48 / steps);
            values.push(kw.max(0.0) * hours);
        }
    }
    YearMap { steps, values, first }
}

fn map_words() -> MapWords {
    MapWords {
        name: "year".into(),
        title: "Electricity sent to the grid, by day and hour".into(),
        finding: "Half of what is exported in a year leaves between 11:00 and 14:00 from April to August"
            .into(),
        quantity: "Sent to the grid".into(),
        note: "Readings of one meter, local time.".into(),
    }
}

fn years() -> Vec<(&'static str, YearMap)> {
    let mut gaps = year((Some(2023), 1, 1), 0, 365, 48);
    for k in 48 * 100..48 * 114 {
        gaps.values[k] = f64::NAN;
    }
    for k in (0..365 * 48).filter(|k| scatter(k / 6) < 0.01 || (48 * 300 + 11..48 * 304 + 20).contains(k)) {
        gaps.values[k] = f64::NAN;
    }
    let mut peaks = year((None, 1, 1), 0, 365, 48);
    (0..20).for_each(|k| peaks.values[48 * (12 * k + 3) + 24] = 4.5);
    let noise = |days: usize, steps: usize| YearMap {
        steps,
        values: (0..days * steps).map(scatter).collect(),
        first: (Some(2022), 1, 1),
    };
    let constant = |value: f64| YearMap { steps: 48, values: vec![value; 365 * 48], first: (None, 1, 1) };
    vec![
        ("simulated", year((None, 1, 1), 0, 365, 48)),
        ("gaps", gaps),
        ("peaks", peaks),
        ("three-years", year((Some(2022), 3, 14), 72, 1100, 48)),
        ("quarters", year((Some(2024), 1, 1), 0, 366, 96)),
        ("five-minutes", year((Some(2023), 5, 20), 139, 500, 288)),
        ("hours", year((Some(2023), 1, 1), 0, 365, 24)),
        ("spring", year((Some(2025), 3, 3), 61, 75, 48)),
        ("one-day", year((Some(2025), 6, 21), 171, 1, 48)),
        ("noise", noise(1100, 48)),
        ("long", noise(9000, 48)),
        ("zero", constant(0.0)),
        ("equal", constant(0.7)),
        ("unknown", constant(f64::NAN)),
        ("huge", constant(1e300)),
        ("negative", constant(-1.0)),
        ("empty", YearMap { steps: 0, values: Vec::new(), first: (None, 0, 0) }),
    ]
}

fn all() -> Vec<(String, Chart)> {
    let of_day = |(name, course, words): &(&str, DayCourse, DayWords)| {
        (format!("day-{name}"), day_course(course, words).unwrap())
    };
    let of_year =
        |(name, map): &(&str, YearMap)| (format!("year-{name}"), year_map(map, &map_words()).unwrap());
    days().iter().map(of_day).chain(years().iter().map(of_year)).collect()
}

/// With PAYSPREAD_LOOK=FOLDER, writes every chart there, for human eyes.
#[test]
fn pictures_of_hot_water_for_the_eye() {
    let Some(folder) = std::env::var_os("PAYSPREAD_LOOK") else { return };
    let folder = std::path::PathBuf::from(folder);
    for (name, chart) in all() {
        std::fs::write(folder.join(format!("{name}.png")), png(&chart).unwrap()).unwrap();
        std::fs::write(folder.join(format!("{name}.svg")), standalone(&chart)).unwrap();
    }
}

#[test]
fn charts_of_hot_water_are_sound_and_clear() {
    for (name, chart) in all() {
        is_sound(&chart, &name);
        lies_on_its_sheet(&chart, &name);
        texts_lie_apart(&chart, &name);
        assert!(chart.svg.len() < 400_000, "{name}: {} bytes", chart.svg.len());
        assert!(!chart.svg.contains("<script"), "{name}");
    }
}

fn texts(chart: &Chart) -> Vec<String> {
    let document = usvg::roxmltree::Document::parse(&chart.svg).unwrap();
    words(&document).into_iter().map(|w| w.text).collect()
}

#[test]
fn a_day_names_every_layer_with_its_sum() {
    for (name, course, words) in days() {
        let texts = texts(&day_course(&course, &words).unwrap());
        type OfStep<'a> = &'a dyn Fn(usize) -> f64;
        let lists: [(&str, OfStep<'_>); 4] = [
            ("water", &|s| course.diverted[s]),
            ("to the grid", &|s| course.export[s]),
            ("from the grid", &|s| course.import[s]),
            ("from the battery", &|s| (-course.battery[s]).max(0.0)),
        ];
        if course.diverted.is_empty() || course.export.iter().any(|x| x.is_nan()) {
            continue;
        }
        for (layer, of) in lists {
            let sum: f64 = (0..course.steps).map(of).sum();
            let wanted = format!("{layer}, {sum:.1} kWh");
            // Thousands have commas.
            let found = texts.iter().any(|text| text.replace(',', "") == wanted.replace(',', ""));
            assert_eq!(found, sum >= 0.1, "{name}: {wanted} in {texts:?}");
        }
    }
}

#[test]
fn a_day_says_in_words_what_is_not_there() {
    let named = |wanted: &str| {
        let (_, course, words) = days().into_iter().find(|(name, ..)| *name == wanted).unwrap();
        texts(&day_course(&course, &words).unwrap()).join("\n")
    };
    assert!(named("nothing").contains("No heat from the boiler"));
    assert!(named("nothing").contains("Hot water drawn: none"));
    assert!(named("nothing").contains("Nothing crossed the meter on this day"));
    assert!(named("gaps").contains("not known, counted as nothing"));
    assert!(
        !named("metered").contains("Water in the store")
            && named("metered").contains("would have been exported")
    );
}

/// The picture of a chart at two pixels a point.
fn pixels(chart: &Chart) -> tiny_skia::Pixmap {
    tiny_skia::Pixmap::decode_png(&png(chart).unwrap()).unwrap()
}

/// Every cell is found in the picture with the shade that its power has on a scale of ten equal parts.
#[test]
fn cells_of_a_year_stand_where_they_belong() {
    let mut map = year((Some(2023), 1, 1), 0, 365, 48);
    map.values[48 * 40 + 20] = f64::NAN;
    let chart = year_map(&map, &map_words()).unwrap();
    let picture = pixels(&chart);
    // Days are 1.5 points wide and half hours 5.5 high; midnight of the first day is found by the ground of the cells.
    let place = chart.svg.split("translate(").nth(1).unwrap();
    let numbers: Vec<f64> =
        place.split([' ', ')']).take(2).map(|x| x.parse::<f64>().unwrap() / 10.0).collect();
    let top = 4.0;
    let mut seen = std::collections::BTreeSet::new();
    for (d, s) in (0..365).flat_map(|d| (0..48).map(move |s| (d, s))) {
        // No month begins on a day that is looked at.
        if d % 7 != 4
            || [31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334].iter().any(|m| d == *m || d + 1 == *m)
        {
            continue;
        }
        let (x, y) = (numbers[0] + 1.5 * (d as f64 + 0.5), numbers[1] - 5.5 * (s as f64 + 0.5));
        let found = picture.pixel((x * 2.0) as u32, (y * 2.0) as u32).unwrap();
        let kw: f64 = map.values[48 * d + s] * 2.0;
        let shade = if kw < 0.005 * top { 0 } else { ((kw / top * 10.0).ceil() as usize).clamp(1, 10) };
        let colour = format!("#{:02x}{:02x}{:02x}", found.red(), found.green(), found.blue());
        assert_eq!(colour, year_cells::SHADES[shade], "day {d}, step {s}, {kw} kW");
        seen.insert(shade);
    }
    assert!(seen.len() > 8, "{seen:?}");
}

#[test]
fn a_map_says_what_it_leaves_out() {
    let named = |wanted: &str| {
        let (_, map) = years().into_iter().find(|(name, _)| *name == wanted).unwrap();
        texts(&year_map(&map, &map_words()).unwrap()).join("\n")
    };
    assert!(named("peaks").contains("up to 9.0 kW") && named("peaks").contains("kW and more"));
    assert!(named("gaps").contains("Hatched: not known") && named("gaps").contains("not known"));
    assert!(!named("simulated").contains("not known") && !named("simulated").contains("and more"));
    assert!(named("long").contains("Only the first 10 of 24.6 years"));
    assert!(named("five-minutes").contains("half hour"));
    assert_eq!(named("three-years").matches("Mar 20").count(), 4);
}

#[test]
fn hot_water_gives_the_same_bytes_every_time() {
    for ((name, a), (_, b)) in all().into_iter().zip(all()) {
        assert!(a == b, "{name}");
    }
}
