//! What is the same in all runs of a simulated home, made from what the study says of it.

use std::sync::Arc;

use crate::diagnostic::{Diagnostic, Span, Spanned, has_errors};
use crate::hotwater::away::Hemisphere;
use crate::hotwater::draw_off::DrawOff;
use crate::hotwater::home::{Home, Make, Surplus};
use crate::hotwater::household::Household;
use crate::hotwater::phases::{Netting, Phases};
use crate::hotwater::profile::Profile;
use crate::hotwater::readings::told::WORDS;
use crate::hotwater::readings::{self, BeforeEquipment, Library, Options, ReadingsError};
use crate::hotwater::sun::{Climate, Clock, Place, Roof, Sun, SunError};
use crate::hotwater::tariff::{Course, Days, Period, Scale, Tariff};
use crate::hotwater::time::{DAYS_IN_MONTH, HALF_HOURS, MONTHS};
use crate::model::data::{Data, data_error};
use crate::study::{HotwaterDef, ReadingsDef, SunDef, TariffDef, WhichDays};

/// A part, or what is wrong with what it is made from.
type Made<T> = Result<T, Box<Diagnostic>>;
/// Numbers of a list with its place.
type List = Option<(Vec<Spanned<f64>>, Span)>;

/// The home, with words that are equal only for homes made alike.
pub(super) fn parts(
    def: &HotwaterDef,
    data: &Data<'_>,
    found: &mut Vec<Diagnostic>,
) -> Option<(Arc<Home>, String)> {
    let content = content(def);
    if let Some(home) = data.home(&content) {
        return Some((home, content));
    }
    let before = found.len();
    let hemisphere = match &def.sun {
        Some(sun) if sun.latitude.value < 0.0 => Hemisphere::South,
        _ => Hemisphere::North,
    };
    let mut keep = |part: Made<()>| found.extend(part.err().map(|e| *e));
    let draw_off = draw_off(def, hemisphere);
    let tariff = tariff(def, data);
    let surplus = surplus(def, hemisphere, data);
    let doubts = surplus.as_ref().map_or_else(|_| Vec::new(), |surplus| doubts(def, surplus.as_ref()));
    keep(draw_off.as_ref().map(|_| ()).map_err(Clone::clone));
    keep(tariff.as_ref().map(|_| ()).map_err(Clone::clone));
    keep(surplus.as_ref().map(|_| ()).map_err(Clone::clone));
    if has_errors(&found[before..]) {
        return None;
    }
    found.extend(doubts);
    let make = Make {
        steps: def.steps,
        layers: def.layers,
        in_series: def.in_series,
        mixed_at_tap: def.mixed_at_tap,
        electric_backup: def.electric_backup,
    };
    let home =
        Arc::new(Home { make, surplus: surplus.ok()??, draw_off: draw_off.ok()?, tariff: tariff.ok()? });
    data.keep_home(&content, &home);
    Some((home, content))
}

/// All that a home is made from but its settings. Files are read once, so their names stand for them.
fn content(def: &HotwaterDef) -> String {
    let parts = (&def.readings, &def.sun, &def.draw_profile, &def.weekend_profile, def.lumpy, &def.phases);
    let more = (&def.export_tariff, &def.import_tariff, def.layers, def.steps, def.in_series);
    format!("{parts:?} {more:?} {:?}", (def.mixed_at_tap, def.electric_backup))
}

fn draw_off(def: &HotwaterDef, hemisphere: Hemisphere) -> Made<DrawOff> {
    let profile = |list: &List| list.as_ref().map(|(values, span)| profile(values, span)).transpose();
    let usual = profile(&def.draw_profile)?.unwrap_or_else(Profile::working_household);
    let draw_off = DrawOff::new(&usual, def.steps).lumpy(def.lumpy).hemisphere(hemisphere);
    Ok(match profile(&def.weekend_profile)? {
        Some(weekend) => draw_off.weekend(&weekend),
        None => draw_off,
    })
}

fn profile(values: &[Spanned<f64>], span: &Span) -> Made<Profile> {
    let values: Vec<f64> = values.iter().map(|x| x.value).collect();
    Profile::new(&values).map_err(|error| {
        Box::new(
            Diagnostic::error("out-of-range", "this is no profile of a day")
                .at(span.clone(), "")
                .hint(error.to_string()),
        )
    })
}

fn tariff(def: &HotwaterDef, data: &Data<'_>) -> Made<Tariff> {
    let export = course(def.export_tariff.as_ref(), data)?;
    let import = course(def.import_tariff.as_ref(), data)?;
    Tariff::new(&export, &import, def.steps).map_err(|error| {
        Box::new(
            Diagnostic::error("tariff", format!("a tariff of `hotwater.{}` cannot be used", def.name.value))
                .at(def.name.span.clone(), "")
                .hint(error.to_string()),
        )
    })
}

fn course(def: Option<&TariffDef>, data: &Data<'_>) -> Made<Course> {
    Ok(match def {
        None => Course::Plain,
        Some(TariffDef::Profile(values, _)) => {
            Course::Profile { values: values.clone(), scale: Scale::AsGiven }
        }
        Some(TariffDef::Periods(periods)) => {
            let period = |p: &crate::study::PeriodDef| Period {
                from: p.from,
                to: p.to,
                factor: p.factor,
                months: p.months.iter().map(|m| usize::from(*m) - 1).collect(),
                days: match p.days {
                    None => Days::All,
                    Some(WhichDays::Weekdays) => Days::Weekdays,
                    Some(WhichDays::Weekends) => Days::Weekends,
                },
            };
            let periods = periods.iter().map(period).collect();
            Course::Periods { periods, otherwise: 1.0, scale: Scale::AsGiven }
        }
        Some(TariffDef::Series { file, column }) => {
            let columns = data.columns(&file.value, &file.span)?;
            let values = columns.numbers(&column.value, false);
            Course::Series(values.map_err(|error| Box::new(data_error(&error, &column.span)))?)
        }
    })
}

fn surplus(def: &HotwaterDef, hemisphere: Hemisphere, data: &Data<'_>) -> Made<Option<Surplus>> {
    if let Some(readings) = &def.readings {
        let library = library(readings, def, data)?;
        return Ok(Some(Surplus::Readings(Box::new(library))));
    }
    let Some(sun) = &def.sun else { return Ok(None) };
    let household = Household::new(hemisphere, phases(def)?, def.steps);
    Ok(Some(Surplus::Sun(Box::new((simulated_sun(sun, def.steps)?, household)))))
}

/// What the reader should look at again: readings that may not be of the surplus, months made from others.
fn doubts(def: &HotwaterDef, surplus: Option<&Surplus>) -> Vec<Diagnostic> {
    let (Some(readings), Some(Surplus::Readings(library))) = (&def.readings, surplus) else {
        return Vec::new();
    };
    let file = &readings.file;
    let caution = |message: String| Diagnostic::caution("readings", message).at(file.span.clone(), "");
    let mut doubts = Vec::new();
    let told = match readings.before.as_ref().map(|b| b.value) {
        Some(true) => None,
        Some(false) => Some((
            "the readings were made with the equipment at work",
            "their export is what it left over, not the surplus: the answer credits it with too little",
        )),
        None => Some((
            "nobody has said whether the readings were made before the equipment was fitted",
            "before_equipment = true, or false: with it at work, export is only what it left over",
        )),
    };
    doubts.extend(told.map(|(message, hint)| caution(message.to_owned()).hint(hint)));
    let made: Vec<&str> = library
        .sources()
        .iter()
        .zip(MONTHS)
        .filter(|(source, _)| source.uncertainty > 0.0)
        .map(|(_, month)| month)
        .collect();
    if !made.is_empty() {
        let most = library.sources().iter().map(|s| s.uncertainty).fold(0.0, f64::max);
        let message = format!(
            "the readings have fewer than ten days of {}: made from the nearest months by season",
            made.join(", ")
        );
        let hint = format!(
            "each run takes such months up to about {:.0} % higher or lower; a whole year of readings needs no guess",
            most * 100.0
        );
        doubts.push(caution(message).hint(hint));
    }
    doubts
}

fn library(readings: &ReadingsDef, def: &HotwaterDef, data: &Data<'_>) -> Made<Library> {
    let file = &readings.file;
    let options = options(readings)?;
    let bytes = data.bytes(&file.value).map_err(|error| Box::new(data_error(&error, &file.span)))?;
    let wrong = |error: ReadingsError| {
        let line = error.line.map_or_else(String::new, |line| format!(", line {line}"));
        let message = format!("{}{line}: {}", file.value, error.what);
        let hint = format!("{}; `payspread meter` shows how the file was read", error.right);
        Box::new(Diagnostic::error("readings", message).at(file.span.clone(), "").hint(hint))
    };
    let read = readings::read(&bytes, &options).map_err(wrong)?;
    let season = match (twelve(&readings.season), &def.sun) {
        (Some(season), _) => season,
        (None, Some(sun)) => simulated_sun(sun, def.steps)?.season(),
        (None, None) => {
            let days = |month: u8| -> usize {
                read.found.months.iter().filter(|m| m.month == month).map(|m| m.days_used).sum()
            };
            if let Some(missing) = (1..=12).find(|&month| days(month) < 10) {
                return Err(Box::new(no_season(file, missing)));
            }
            [1.0; 12]
        }
    };
    if def.steps != HALF_HOURS {
        let error = Diagnostic::error("misplaced-key", "readings are used by the half hour");
        return Err(Box::new(
            error.at(def.name.span.clone(), "").hint("leave steps_a_day out, or set it to 48"),
        ));
    }
    Library::new(&read, &season).map_err(wrong)
}

fn no_season(file: &Spanned<String>, month: u8) -> Diagnostic {
    let name = MONTHS.get(usize::from(month) - 1).copied().unwrap_or_default();
    Diagnostic::error("readings", format!("{} has no {name} with ten days or more", file.value))
        .at(file.span.clone(), "")
        .hint("say how the year's export spreads over the months: season = [12 shares], or sun = { .. } of the place and roof")
}

fn options(readings: &ReadingsDef) -> Made<Options> {
    let before = match readings.before.as_ref().map(|b| b.value) {
        Some(true) => BeforeEquipment::Yes,
        Some(false) => BeforeEquipment::No,
        None => BeforeEquipment::Unknown,
    };
    let mut options = Options { before_equipment: before, ..Options::default() };
    for (word, value) in &readings.options {
        options.tell(&word.value, &value.value).map_err(|right| {
            let known = WORDS.iter().any(|(w, _)| *w == word.value);
            let (place, what) = if known { (value, "no such value") } else { (word, "no such option") };
            Box::new(Diagnostic::error("readings", what).at(place.span.clone(), "").hint(right))
        })?;
    }
    Ok(options)
}

fn phases(def: &HotwaterDef) -> Made<Phases> {
    let Some(phases) = &def.phases else { return Ok(Phases::single()) };
    let netting = if phases.each { Netting::EachPhase } else { Netting::AllPhases };
    Phases::new(phases.demand, phases.generation, netting).map_err(|error| {
        Box::new(
            Diagnostic::error("out-of-range", error.to_string()).at(def.name.span.clone(), "its `phases`"),
        )
    })
}

fn simulated_sun(def: &SunDef, steps: usize) -> Made<Sun> {
    let wrong = |error: SunError| {
        Box::new(Diagnostic::error("sun", error.message).at(def.span.clone(), "").hint(error.hint))
    };
    let latitude = def.latitude.value;
    let place = Place { latitude, albedo: def.albedo.as_ref().map_or(0.2, |a| a.value) };
    let all: f64 = def.roofs.iter().map(|[_, _, share]| share).sum();
    let roof = |&[tilt, azimuth, share]: &[f64; 3]| Roof { tilt, azimuth, share: share / all };
    let roofs: Vec<Roof> = def.roofs.iter().map(roof).collect();
    let mut climate = match (twelve(&def.clearness), twelve(&def.sunshine)) {
        (Some(mean), _) => Climate::from_means(latitude, mean),
        (None, Some(hours)) => {
            let month = |m: usize| hours[m] * DAYS_IN_MONTH[m];
            let ab = crate::hotwater::sun::climate::ANGSTROM_PRESCOTT;
            Climate::from_sunshine_hours(latitude, std::array::from_fn(month), ab)
        }
        (None, None) => return Err(Box::new(Diagnostic::error("missing-key", "no clearness"))),
    }
    .map_err(wrong)?;
    match &def.clearness_sd {
        Some((sd, _)) if sd.len() == 1 => climate.sd = [sd[0].value; 12],
        sd => climate.sd = twelve(sd).unwrap_or(climate.sd),
    }
    if let Some(persistence) = &def.persistence {
        climate.persistence = [persistence.value; 12];
    }
    let clock = match def.longitude {
        Some(longitude) => {
            Clock::at(longitude, def.hours_ahead, def.summer_time.then(|| summer_days(latitude)))
        }
        None => Clock::SOLAR,
    };
    Sun::on_clock(&place, &roofs, &climate, steps, &clock).map_err(wrong)
}

/// First day of summer time and the day after its last, about: the end of March to the end of October in the north, the
/// beginning of October to that of April in the south. A week more or less moves nothing.
fn summer_days(latitude: f64) -> (usize, usize) {
    if latitude < 0.0 { (276, 94) } else { (87, 300) }
}

fn twelve(list: &List) -> Option<[f64; 12]> {
    let values: Vec<f64> = list.as_ref()?.0.iter().map(|x| x.value).collect();
    values.try_into().ok()
}
