//! The home of the tables, and the ways in which it can be computed.

use std::sync::{Arc, Mutex};

use payspread::hotwater::away::Hemisphere;
use payspread::hotwater::chance::Chance;
use payspread::hotwater::cylinder::{Cylinder, TariffDay};
use payspread::hotwater::draw_off::DrawOff;
use payspread::hotwater::flows::{MeterDay, MeterYear};
use payspread::hotwater::home::{Home, Make, Surplus};
use payspread::hotwater::household::Household;
use payspread::hotwater::outputs::{Output, Totals};
use payspread::hotwater::phases::Phases;
use payspread::hotwater::profile::Profile;
use payspread::hotwater::seasonal_cosine;
use payspread::hotwater::settings::{Setting, Settings};
use payspread::hotwater::simulated::SimulatedHome;
use payspread::hotwater::sun::{Climate, Place, Roof, Sun};
use payspread::hotwater::tariff::Tariff;
use payspread::hotwater::time::DAYS;
use payspread::sampling::Vectors;

use super::measured::{LATITUDE, MEAN, MeasuredSun, SD};

/// Share of the year's mean draw in each month (UK SAP 2012, table 1c).
const LITRES_BY_MONTH: [f64; 12] = [1.10, 1.06, 1.02, 0.98, 0.94, 0.90, 0.90, 0.94, 0.98, 1.02, 1.06, 1.10];

/// When the boiler may heat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Boiler {
    Evening,
    MorningToo,
}

/// A home.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Case {
    pub(crate) kwp: f64,
    pub(crate) boiler: Boiler,
    pub(crate) litres: f64,
    pub(crate) volume: f64,
    pub(crate) threshold: f64,
    pub(crate) battery: f64,
}

impl Case {
    pub(crate) const USUAL: Case = Case {
        kwp: 3.6,
        boiler: Boiler::Evening,
        litres: 108.0,
        volume: 180.0,
        threshold: 60.0,
        battery: 0.0,
    };
}

/// How it is computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Way {
    /// Measured days without clouds on them, else simulated ones.
    pub(crate) measured: bool,
    pub(crate) steps: usize,
    pub(crate) layers: usize,
    pub(crate) mixed_at_tap: bool,
    /// Share of the home's use that comes in bursts.
    pub(crate) bursts: f64,
    /// Whether a meter nets what is made and used over a whole step, else at each moment.
    pub(crate) netted: bool,
    pub(crate) lumpy: bool,
    /// Standard deviation of a day's draw over its mean.
    pub(crate) day_to_day: f64,
    /// Share of the panels' rated output that is lost.
    pub(crate) sun_loss: f64,
    /// Hours for which the boiler may heat, from 17 and from 6.
    pub(crate) boiler_hours: f64,
    /// What comes out of a battery over what went in.
    pub(crate) battery_efficiency: f64,
}

impl Way {
    /// As a plain hourly model has it: a mixed cylinder, water drawn evenly and as it comes, a boiler that fires once, a
    /// meter that nets over the hour, a battery without losses (which the tables do not state: with 90 % export and diverted
    /// of the larger one are 19 and 16 % below them).
    pub(crate) const HOURLY: Way = Way {
        measured: true,
        steps: 24,
        layers: 1,
        mixed_at_tap: false,
        bursts: 0.5,
        netted: true,
        lumpy: false,
        day_to_day: 0.0,
        sun_loss: 0.20,
        boiler_hours: 1.0,
        battery_efficiency: 1.0,
    };

    /// As a study has it unless it says otherwise.
    pub(crate) const OURS: Way = Way {
        measured: false,
        steps: 48,
        layers: 10,
        mixed_at_tap: true,
        bursts: 0.5,
        netted: false,
        lumpy: true,
        day_to_day: 0.45,
        sun_loss: 0.20,
        boiler_hours: 4.0,
        battery_efficiency: 0.9,
    };

    /// The same with the performance ratio of real roofs, 0.73 to 0.74 (Schardt and te Heesen 2021, 32,744 roofs). It
    /// makes up for a sky that is brighter around the sun: the yield is that of the tables.
    pub(crate) const OURS_OF_REAL_ROOFS: Way = Way { sun_loss: 0.266, ..Way::OURS };

    pub(crate) fn make(&self) -> Make {
        Make { steps: self.steps, layers: self.layers, mixed_at_tap: self.mixed_at_tap, ..Make::default() }
    }

    fn sun(&self) -> Sun {
        let climate = Climate {
            mean: MEAN,
            sd: SD,
            persistence: [0.10, 0.10, 0.27, 0.27, 0.27, 0.24, 0.24, 0.24, 0.13, 0.13, 0.13, 0.10],
            slow: Climate::USUAL_SLOW,
        };
        let place = Place { latitude: LATITUDE, albedo: 0.2 };
        let roof = Roof { tilt: 35.0, azimuth: 180.0, share: 1.0 };
        Sun::new(&place, &[roof], &climate, self.steps).unwrap()
    }

    /// The home for simulated days.
    pub(crate) fn home(&self) -> Home {
        Home {
            make: self.make(),
            surplus: Surplus::Sun(Box::new((self.sun(), self.household()))),
            draw_off: DrawOff::new(&Profile::working_household(), self.steps).lumpy(self.lumpy),
            tariff: Tariff::plain(self.steps),
        }
    }

    fn household(&self) -> Household {
        Household::new(Hemisphere::North, Phases::single(), self.steps)
    }

    pub(crate) fn settings(&self, case: &Case, lanes: usize) -> Settings {
        let cold = std::array::from_fn(|month| 11.5 - 5.0 * seasonal_cosine(month, 41.0));
        let morning = if case.boiler == Boiler::MorningToo { self.boiler_hours.min(2.0) } else { 0.0 };
        let fixed = [
            (Setting::Panels, case.kwp),
            (Setting::Volume, case.volume),
            (Setting::Threshold, case.threshold),
            (Setting::Battery, case.battery),
            (Setting::BatteryEfficiency, self.battery_efficiency),
            (Setting::BackupFrom2, 6.0),
            (Setting::BackupTo2, 6.0 + morning),
            (Setting::BackupTo, 17.0 + self.boiler_hours),
            (Setting::ApplianceShare, self.bursts),
            (Setting::DayToDay, self.day_to_day),
            (Setting::SunLoss, self.sun_loss),
            (Setting::Electricity, 3900.0),
            (Setting::Element, 2.8),
            (Setting::SetPoint, 62.0),
            (Setting::StandingLoss, 1.7),
            (Setting::ConversionLoss, 0.0),
            (Setting::Standby, 0.0),
            (Setting::HygieneDays, 0.0),
        ];
        fixed
            .into_iter()
            .fold(Settings::new(lanes), |settings, (setting, value)| settings.with(setting, value))
            .with_months(Setting::Litres, &LITRES_BY_MONTH.map(|share| share * case.litres))
            .with_months(Setting::Cold, &cold)
    }

    /// Years of a case, with and without the controller. The same years for all cases; each case is computed once.
    pub(crate) fn years(&self, case: &Case, lanes: usize) -> Arc<Totals> {
        type Known = (Way, Case, usize, Arc<Totals>);
        static KNOWN: Mutex<Vec<Known>> = Mutex::new(Vec::new());
        let known = KNOWN.lock().unwrap().iter().find(|k| (k.0, k.1, k.2) == (*self, *case, lanes)).cloned();
        if let Some((.., totals)) = known {
            return totals;
        }
        let totals = Arc::new(self.years_of(&self.settings(case, lanes)));
        KNOWN.lock().unwrap().push((*self, *case, lanes, Arc::clone(&totals)));
        totals
    }

    pub(crate) fn years_of(&self, settings: &Settings) -> Totals {
        if self.measured || self.netted {
            self.by_hand(settings)
        } else {
            self.home().year(settings, &chance(settings.lanes()), true)
        }
    }

    /// From the parts of a home.
    pub(crate) fn by_hand(&self, settings: &Settings) -> Totals {
        let chance = chance(settings.lanes());
        let household = self.household();
        if self.measured {
            let sun = MeasuredSun::new(settings.lanes());
            self.live(settings, &chance, SimulatedHome::new(&household, settings, &chance, sun))
        } else {
            let sun = self.sun();
            self.live(
                settings,
                &chance,
                SimulatedHome::new(&household, settings, &chance, sun.batch(&chance)),
            )
        }
    }

    /// What a home does, for a sun that is none of the crate's.
    fn live(&self, settings: &Settings, chance: &Chance<'_>, mut year: impl MeterYear) -> Totals {
        let draw_off = DrawOff::new(&Profile::working_household(), self.steps).lumpy(self.lumpy);
        let mut draws = draw_off.batch(settings, chance);
        let [mut with, mut without] =
            [true, false].map(|there| Cylinder::new(settings, self.make(), there, chance.vectors));
        let mut meter = MeterDay::new(self.steps, chance.lanes);
        let mut litres = vec![0.0; self.steps * chance.lanes];
        for day in 0..DAYS {
            year.fill(day, &mut meter);
            if self.netted {
                net(&mut meter);
            }
            draws.day(day, &mut litres);
            for home in [&mut with, &mut without] {
                home.day(day, &meter, &litres, &TariffDay { export: &[], import: &[] }, None);
            }
        }
        let mut totals = with.totals().clone();
        for (before, output) in [
            (Output::ExportedBefore, Output::Exported),
            (Output::ImportedBefore, Output::Imported),
            (Output::BackupBefore, Output::HeatFromBackup),
            (Output::BackupFreeDaysBefore, Output::BackupFreeDays),
            (Output::HoursBelowComfortBefore, Output::HoursBelowComfort),
        ] {
            for month in 0..12 {
                totals.at_mut(before, month).copy_from_slice(without.totals().at(output, month));
            }
        }
        totals
    }
}

/// Takes the smaller of export and import of each step from both.
fn net(meter: &mut MeterDay) {
    for (export, import) in meter.export.iter_mut().zip(&mut meter.import) {
        let both = export.min(*import);
        *export -= both;
        *import -= both;
    }
}

pub(crate) fn chance(lanes: usize) -> Chance<'static> {
    Chance { seed: 2027, name: "tables", first: 0, lanes, vectors: Vectors::Widest }
}

/// A mean over years and its standard error.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Mean {
    pub(crate) value: f64,
    pub(crate) error: f64,
}

impl Mean {
    pub(crate) fn of(values: impl Iterator<Item = f64>) -> Mean {
        let values: Vec<f64> = values.collect();
        let n = values.len() as f64;
        let value = values.iter().sum::<f64>() / n;
        let squares: f64 = values.iter().map(|v| (v - value) * (v - value)).sum();
        Mean { value, error: (squares / (n * (n - 1.0))).sqrt() }
    }
}

/// Mean over the years of a year's amount.
pub(crate) fn yearly(totals: &Totals, output: Output) -> Mean {
    Mean::of((0..totals.lanes()).map(|lane| totals.year(output, lane)))
}

/// Mean over the years of each month's amount.
pub(crate) fn monthly(totals: &Totals, output: Output) -> [f64; 12] {
    std::array::from_fn(|month| Mean::of(totals.at(output, month).iter().copied()).value)
}
