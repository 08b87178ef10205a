//! Simulated homes of a study: what is the same in all runs made ready, settings and outputs found.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::formula::types::{Kind, Shape, Type};
use crate::hotwater::home::Home;
use crate::hotwater::outputs::Output;
use crate::hotwater::settings::Setting;
use crate::model::About;
use crate::model::data::Data;
use crate::model::workings::about;
use crate::study::{self, HotwaterDef, SettingValue, Study};
use crate::units::{Unit, UnitTable};

/// A simulated home.
#[derive(Clone)]
pub struct HomeItem {
    /// For the reader.
    pub about: About,
    /// What is the same in all runs.
    pub home: Arc<Home>,
    /// The same in words that are equal only for equal homes.
    pub content: String,
    /// Name of its streams of random numbers: its own, or that of the home whose days it shares.
    pub stream: String,
    /// Settings that are given.
    pub settings: Vec<SettingItem>,
    /// Outputs that some formula reads.
    pub wanted: Vec<Output>,
    /// Day of the year whose course is shown, if the study names one.
    pub shown_day: Option<usize>,
}

/// A setting that is given.
#[derive(Debug, Clone)]
pub struct SettingItem {
    /// Which.
    pub setting: Setting,
    /// Its unit.
    pub unit: Unit,
    /// Its values.
    pub values: SettingValues,
}

/// Values of a setting.
#[derive(Debug, Clone, PartialEq)]
pub enum SettingValues {
    /// One, or twelve, the same in all runs, in its unit.
    Held(Vec<f64>),
    /// Those of the working of this name.
    Working(String),
}

/// Name of an output in formulas.
pub fn output_name(home: &str, output: Output) -> String {
    format!("{home}.{}", output.info().key)
}

/// Types of all outputs of a home, by their names.
pub(super) fn output_types(home: &str, units: &UnitTable) -> Vec<(String, Type)> {
    let of = |&output: &Output| {
        let unit = units.parse(output.info().unit).ok()?;
        Some((output_name(home, output), Type::number(unit.dimension, Shape::Monthly)))
    };
    Output::ALL.iter().filter_map(of).collect()
}

/// The homes of a study. `read` holds all names that formulas read.
pub(super) fn check(
    study: &Study,
    units: &UnitTable,
    data: &Data<'_>,
    read: &BTreeSet<String>,
    found: &mut Vec<Diagnostic>,
) -> Vec<HomeItem> {
    study.hotwater.iter().filter_map(|def| home(def, study, units, data, read, found)).collect()
}

fn home(
    def: &HotwaterDef,
    study: &Study,
    units: &UnitTable,
    data: &Data<'_>,
    read: &BTreeSet<String>,
    found: &mut Vec<Diagnostic>,
) -> Option<HomeItem> {
    if def.broken {
        return None;
    }
    let before = found.len();
    required(def, found);
    for setting in def.settings.iter().filter(|s| ALL_YEAR.contains(&s.setting)) {
        if let SettingValue::Months(_, span) = &setting.value {
            found.push(by_month(&format!("{}.{}", def.name.value, setting.setting.info().key), span));
        }
    }
    let stream = stream(def, study, found)?;
    let parts = super::home_parts::parts(def, data, found)?;
    if found.len() > before && crate::diagnostic::has_errors(&found[before..]) {
        return None;
    }
    let (home, content) = parts;
    let name = &def.name.value;
    let wanted = Output::ALL.iter().copied().filter(|&o| read.contains(&output_name(name, o))).collect();
    let settings = def.settings.iter().filter_map(|s| setting(s, units)).collect();
    let shown_day = def.shown_day;
    Some(HomeItem { about: about(&def.name, &def.about), home, content, stream, settings, wanted, shown_day })
}

fn setting(def: &study::SettingDef, units: &UnitTable) -> Option<SettingItem> {
    let unit = units.parse(def.setting.info().unit).ok()?;
    let values = match &def.value {
        SettingValue::Number(number) => SettingValues::Held(vec![number.value]),
        SettingValue::Months(months, _) => SettingValues::Held(months.clone()),
        SettingValue::Formula(working) => SettingValues::Working(working.name.value.clone()),
    };
    Some(SettingItem { setting: def.setting, unit, values })
}

/// Settings of which one value holds all year: else heat would come from nowhere.
const ALL_YEAR: [Setting; 3] = [Setting::Cylinders, Setting::Volume, Setting::Battery];

fn by_month(name: &str, span: &Span) -> Diagnostic {
    Diagnostic::error("setting-shape", format!("`{name}` has one value for the whole year"))
        .at(span.clone(), "this is by month")
        .hint("reduce it with mean_months or max_months")
}

/// Settings that have no default, and those that the simulated sun needs.
fn required(def: &HotwaterDef, found: &mut Vec<Diagnostic>) {
    let given = |setting: Setting| def.settings.iter().any(|s| s.setting == setting);
    let by_sun = [Setting::Panels, Setting::Electricity];
    let needed = Setting::ALL.iter().copied().filter(|&s| {
        s.info().default.is_none() || (def.sun.is_some() && def.readings.is_none() && by_sun.contains(&s))
    });
    for setting in needed.filter(|&s| !given(s)) {
        let info = setting.info();
        let unit = if info.unit == "1" { String::new() } else { format!(", in {}", info.unit) };
        found.push(
            Diagnostic::error("missing-key", format!("`hotwater.{}` needs `{}`", def.name.value, info.key))
                .at(def.name.span.clone(), "")
                .hint(format!("{} = ..: {}{unit}", info.key, info.summary)),
        );
    }
    if def.readings.is_none() && def.sun.is_none() {
        found.push(
            Diagnostic::error("missing-key", format!("`hotwater.{}` has no surplus", def.name.value))
                .at(def.name.span.clone(), "")
                .hint("name meter readings: readings = \"data/meter.csv\"; or simulate the sun: sun = { latitude = 53, .. }"),
        );
    }
}

fn stream(def: &HotwaterDef, study: &Study, found: &mut Vec<Diagnostic>) -> Option<String> {
    let Some(other) = &def.same_days_as else { return Some(def.name.value.clone()) };
    let mut seen = vec![def.name.value.as_str()];
    let mut at = other;
    loop {
        let next = study.hotwater.iter().find(|h| h.name.value == at.value);
        let Some(next) = next.filter(|_| !seen.contains(&at.value.as_str())) else {
            found.push(unknown_home(other, study));
            return None;
        };
        seen.push(&next.name.value);
        match &next.same_days_as {
            Some(further) => at = further,
            None => return Some(next.name.value.clone()),
        }
    }
}

fn unknown_home(name: &Spanned<String>, study: &Study) -> Diagnostic {
    let error = Diagnostic::error(
        "unknown-name",
        format!("`{}` is no other simulated home of this study", name.value),
    );
    let homes = study.hotwater.iter().map(|h| h.name.value.as_str()).collect();
    super::names::suggest(error.at(name.span.clone(), ""), &name.value, homes, "simulated homes")
}

/// Whether settings have a shape that a year can be simulated with.
pub(super) fn check_setting(name: &str, ty: &Type, span: &Span) -> Option<Diagnostic> {
    let all_year = ALL_YEAR.iter().any(|s| name.split_once('.').is_some_and(|(_, key)| key == s.info().key));
    if all_year && ty.shape == Shape::Monthly {
        return Some(by_month(name, span));
    }
    if !matches!(ty.kind, Kind::Number { .. }) {
        return Some(
            Diagnostic::error("setting-kind", format!("`{name}` is a number"))
                .at(span.clone(), "this is none")
                .hint("turn yes or no into a number with if(condition, 1, 0)"),
        );
    }
    ty.shape.has_years().then(|| {
        Diagnostic::error("setting-shape", format!("`{name}` has a value for each year"))
            .at(span.clone(), "")
            .hint("one simulated year stands for all years of a run: reduce it with at_year or mean_years, and let its outputs change by year in the workings")
    })
}
