//! Simulated homes in the base case: amounts by month, the course of a day, the year by day and hour.

use schemars::JsonSchema;
use serde::Serialize;

use crate::engine::block::BASE_RUN;
use crate::hotwater::chance::Chance;
use crate::hotwater::course::{DayCourse, YearMap};
use crate::hotwater::outputs::Output;
use crate::hotwater::settings::Settings;
use crate::hotwater::time::{FIRST_DAYS, month_of};
use crate::model::Model;
use crate::model::homes::{HomeItem, SettingItem, SettingValues};
use crate::model::lower::Sheet;
use crate::model::simulated::BASE_YEARS;
use crate::sampling::Vectors;

/// A simulated home in the base case.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SimulatedHome {
    /// Its name.
    pub name: String,
    /// Plain name.
    pub label: String,
    /// What heats the water when the sun does not: "boiler" or "electricity".
    pub backup: String,
    /// Where its surplus comes from: "readings" or "simulated sun".
    pub surplus: String,
    /// How many simulated years are behind `months`.
    pub years: usize,
    /// Settings that the study gives, at their base values.
    pub settings: Vec<HomeSetting>,
    /// Each output by month: the mean of those years.
    pub months: Vec<HomeMonths>,
    /// Share of what would be exported that the water takes; 0 where nothing would be.
    pub share_taken: f64,
    /// One day of the first of those years.
    pub day: DayCourse,
    /// Why that day: in words.
    pub day_is: String,
    /// What would be exported in that year without the controller.
    #[serde(skip)]
    pub surplus_map: YearMap,
    /// What the water takes of it.
    #[serde(skip)]
    pub taken_map: YearMap,
}

/// A setting at its base value.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HomeSetting {
    /// Its key.
    pub setting: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// One value, or twelve.
    pub base: Vec<f64>,
}

/// An output by month.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HomeMonths {
    /// Its key.
    pub output: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// What it is.
    pub summary: &'static str,
    /// January to December.
    pub values: Vec<f64>,
    /// Their sum.
    pub year: f64,
}

/// The simulated homes of a study at base values; `values` are those of all nodes.
pub(super) fn homes(model: &Model, sheet: &Sheet, values: &[f64], seed: u64) -> Vec<SimulatedHome> {
    model.homes.iter().map(|home| of_home(home, sheet, values, seed)).collect()
}

fn of_home(item: &HomeItem, sheet: &Sheet, values: &[f64], seed: u64) -> SimulatedHome {
    let chance =
        |lanes| Chance { seed, name: &item.stream, first: BASE_RUN, lanes, vectors: Vectors::Widest };
    let totals = item.home.year(&base_settings(item, sheet, values, BASE_YEARS), &chance(BASE_YEARS), true);
    let months = Output::ALL.iter().map(|&output| {
        let mean = |month| totals.at(output, month).iter().sum::<f64>() / BASE_YEARS as f64;
        let values: Vec<f64> = (0..12).map(mean).collect();
        let info = output.info();
        let (output, unit, summary) = (info.key, info.unit, info.summary);
        HomeMonths { output, unit, summary, year: values.iter().sum(), values }
    });
    let months: Vec<HomeMonths> = months.collect();
    let days = item.home.days(&base_settings(item, sheet, values, 1), &chance(1));
    let map = |of: fn(&DayCourse) -> &Vec<f64>| YearMap {
        steps: days.first().map_or(0, |d| d.steps),
        values: days.iter().flat_map(|d| of(d).iter().copied()).collect(),
        first: (None, 1, 1),
    };
    let (day, day_is) = match item.shown_day {
        Some(day) => (day, "the day that the study asks for".to_owned()),
        None => (usual_june_day(&days), "the day whose surplus is nearest to the mean of June".to_owned()),
    };
    SimulatedHome {
        name: item.about.name.clone(),
        label: item.about.label.clone(),
        backup: if item.home.make.electric_backup { "electricity" } else { "boiler" }.to_owned(),
        surplus: item.home.surplus_in_words().to_owned(),
        years: BASE_YEARS,
        settings: item.settings.iter().map(|s| given(s, sheet, values)).collect(),
        share_taken: share_taken(&months),
        months,
        day_is,
        surplus_map: map(|d| &d.export_before),
        taken_map: map(|d| &d.diverted),
        day: days.into_iter().nth(day).unwrap_or_default(),
    }
}

fn share_taken(months: &[HomeMonths]) -> f64 {
    let year = |output: Output| months.iter().find(|m| m.output == output.info().key).map_or(0.0, |m| m.year);
    let exported = year(Output::ExportedBefore);
    if exported > 0.0 { year(Output::Diverted) / exported } else { 0.0 }
}

/// Settings of the base case for `lanes` years.
fn base_settings(item: &HomeItem, sheet: &Sheet, values: &[f64], lanes: usize) -> Settings {
    let mut settings = Settings::new(lanes);
    for setting in &item.settings {
        let numbers = base_numbers(setting, sheet, values);
        settings.set(setting.setting, numbers.into_iter().map(|x| vec![x; lanes]).collect());
    }
    settings
}

fn base_numbers(setting: &SettingItem, sheet: &Sheet, values: &[f64]) -> Vec<f64> {
    match &setting.values {
        SettingValues::Held(numbers) => numbers.clone(),
        SettingValues::Working(name) => {
            let nodes = sheet.nodes(name);
            nodes.iter().map(|node| setting.unit.from_base(values[node.index()])).collect()
        }
    }
}

fn given(setting: &SettingItem, sheet: &Sheet, values: &[f64]) -> HomeSetting {
    let info = setting.setting.info();
    HomeSetting { setting: info.key, unit: info.unit, base: base_numbers(setting, sheet, values) }
}

/// The day of June whose surplus is nearest to the month's mean: neither the brightest nor the dullest.
fn usual_june_day(days: &[DayCourse]) -> usize {
    const JUNE: usize = 5;
    let surplus = |day: usize| days.get(day).map_or(0.0, |d| d.export_before.iter().sum::<f64>());
    let june: Vec<usize> =
        (FIRST_DAYS[JUNE]..FIRST_DAYS[JUNE + 1]).filter(|&d| month_of(d) == JUNE).collect();
    let mean = june.iter().map(|&d| surplus(d)).sum::<f64>() / june.len() as f64;
    let off = |d: &usize| (surplus(*d) - mean).abs();
    june.iter().copied().min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0)
}
