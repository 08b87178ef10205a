//! A run is the same whatever runs beside it and whatever vectors compute it.

use super::made_up::{Numbers, any_day, any_make, any_settings, any_tariff};
use crate::hotwater::course::DayCourse;
use crate::hotwater::cylinder::{Cylinder, Make, TariffDay};
use crate::hotwater::flows::MeterDay;
use crate::hotwater::outputs::Output;
use crate::hotwater::settings::{Setting, Settings};
use crate::sampling::Vectors;

const LANES: usize = 37;
const DAYS: [usize; 9] = [0, 1, 7, 40, 49, 150, 151, 300, 364];

/// Settings of lanes `first` to `first + lanes` of a batch.
fn part(all: &Settings, first: usize, lanes: usize) -> Settings {
    let mut settings = Settings::new(lanes);
    for &setting in Setting::ALL {
        let months = if all.by_month(setting) { 12 } else { 1 };
        let columns = (0..months).map(|m| all.at(setting, m)[first..first + lanes].to_vec()).collect();
        settings.set(setting, columns);
    }
    settings
}

fn cut(values: &[f64], first: usize, lanes: usize) -> Vec<f64> {
    values.chunks(LANES).flat_map(|step| step[first..first + lanes].to_vec()).collect()
}

/// The bits of every total of lanes of a batch, and of the course of its first lane.
fn bits(seed: u64, first: usize, lanes: usize, vectors: Vectors) -> (Make, Vec<Vec<u64>>, DayCourse) {
    let mut n = Numbers::new(seed);
    let make = any_make(&mut n);
    let settings = part(&any_settings(&mut n, LANES), first, lanes);
    let mut c = Cylinder::new(&settings, make, true, vectors);
    let mut course = DayCourse::default();
    for day in DAYS {
        let (meter, litres) = any_day(&mut n, make.steps, LANES);
        let (export, import) = any_tariff(&mut n, make.steps);
        let mine = |values: &[f64]| cut(values, first, lanes);
        let meter = MeterDay {
            steps: make.steps,
            lanes,
            export: mine(&meter.export),
            import: mine(&meter.import),
            generation: mine(&meter.generation),
        };
        let tariff = TariffDay { export: &export, import: &import };
        c.day(day, &meter, &mine(&litres), &tariff, Some((lanes - 1, &mut course)));
    }
    let of_lane = |lane: usize| -> Vec<u64> {
        let all = Output::ALL.iter().flat_map(|&output| (0..12).map(move |month| (output, month)));
        all.map(|(output, month)| c.totals().at(output, month)[lane].to_bits()).collect()
    };
    (make, (0..lanes).map(of_lane).collect(), course)
}

#[test]
fn lanes_and_groups_do_not_matter() {
    for seed in 1000..1030 {
        let (make, all, _) = bits(seed, 0, LANES, Vectors::Widest);
        for (first, lanes) in [(0, 1), (5, 1), (16, 16), (3, 20), (36, 1), (31, 6)] {
            let (_, some, _) = bits(seed, first, lanes, Vectors::Widest);
            for (lane, got) in some.iter().enumerate() {
                assert_eq!(got, &all[first + lane], "seed {seed}, lane {lane} of {first}+{lanes}, {make:?}");
            }
        }
    }
}

/// A run whose settings are no numbers yields none, and disturbs no other.
#[test]
fn what_is_no_number_stays_in_its_lane() {
    let mut n = Numbers::new(9);
    let make = any_make(&mut n);
    let settings = any_settings(&mut n, 3);
    let mut broken = settings.clone();
    for &setting in Setting::ALL {
        let mut column = settings.at(setting, 0).to_vec();
        column[1] = f64::NAN;
        broken.set(setting, vec![column]);
    }
    let sound = part(&broken, 2, 1);
    let mut all = Cylinder::new(&broken, make, true, Vectors::Widest);
    let mut alone = Cylinder::new(&sound, make, true, Vectors::Widest);
    let of_third = |values: &[f64]| values.iter().skip(2).step_by(3).copied().collect::<Vec<_>>();
    for day in 0..20 {
        let (meter, litres) = any_day(&mut n, make.steps, 3);
        all.day(day, &meter, &litres, &super::made_up::FLAT, None);
        let (export, import) = (of_third(&meter.export), of_third(&meter.import));
        let meter =
            MeterDay { steps: make.steps, lanes: 1, export, import, generation: of_third(&meter.generation) };
        alone.day(day, &meter, &of_third(&litres), &super::made_up::FLAT, None);
    }
    for &output in Output::ALL {
        assert_eq!(
            all.totals().at(output, 0)[2].to_bits(),
            alone.totals().at(output, 0)[0].to_bits(),
            "{output:?}"
        );
    }
}

#[test]
fn vectors_do_not_matter() {
    for seed in 2000..2012 {
        let (_, widest, course) = bits(seed, 0, LANES, Vectors::Widest);
        for vectors in [Vectors::Avx2, Vectors::Baseline] {
            let (_, other, other_course) = bits(seed, 0, LANES, vectors);
            assert_eq!(widest, other, "seed {seed}, {vectors:?}");
            assert_eq!(course, other_course);
        }
    }
}

/// The course of a day says the same as the totals.
#[test]
fn the_course_adds_up_to_the_totals() {
    let mut n = Numbers::new(5);
    let make = any_make(&mut n);
    let settings = any_settings(&mut n, 20);
    let mut c = Cylinder::new(&settings, make, true, Vectors::Widest);
    let (meter, litres) = any_day(&mut n, make.steps, 20);
    let mut course = DayCourse::default();
    c.day(200, &meter, &litres, &super::made_up::FLAT, Some((18, &mut course)));
    let total = |output| c.totals().at(output, 6)[18];
    for (values, output) in [
        (&course.diverted, Output::Diverted),
        (&course.export, Output::Exported),
        (&course.import, Output::Imported),
        (&course.backup_heat, Output::HeatFromBackup),
        (&course.drawn_heat, Output::HeatDrawn),
        (&course.generation, Output::Generated),
    ] {
        assert_eq!(values.len(), make.steps);
        assert!((values.iter().sum::<f64>() - total(output)).abs() < 1e-9, "{output:?}");
    }
    let given: f64 = litres.iter().skip(18).step_by(20).sum();
    assert!((course.litres.iter().sum::<f64>() - given).abs() < 1e-9);
    assert!(
        course
            .bottom_degc
            .iter()
            .zip(&course.mean_degc)
            .all(|(bottom, mean)| bottom.is_finite() && mean.is_finite())
    );
    assert_eq!((course.day, course.steps), (200, make.steps));
}
