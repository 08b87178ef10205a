//! A home, all of it together: surplus day by day, hot water drawn, cylinder and controller, a year for a batch of runs.

use super::chance::Chance;
use super::course::DayCourse;
use super::cylinder::{Cylinder, TariffDay};
use super::draw_off::DrawOff;
use super::flows::{MeterDay, MeterYear};
use super::household::Household;
use super::outputs::{Output, Totals};
use super::readings::Library;
use super::settings::Settings;
use super::simulated::{PanelOutput, SimulatedHome};
use super::sun::{Sun, SunBatch};
use super::tariff::Tariff;
use super::time::DAYS;

pub use super::cylinder::Make;

/// What is the same in all runs of a home: prepared once, shared by all batches.
#[derive(Debug)]
pub struct Home {
    /// Cylinder and back-up.
    pub make: Make,
    /// Where the surplus comes from.
    pub surplus: Surplus,
    /// When hot water is drawn.
    pub draw_off: DrawOff,
    /// What a kWh is worth by the half hour.
    pub tariff: Tariff,
}

/// Where a home's surplus comes from.
#[derive(Debug)]
pub enum Surplus {
    /// Meter readings: every run another year.
    Readings(Box<Library>),
    /// Simulated sun less a simulated household's use.
    Sun(Box<(Sun, Household)>),
}

impl PanelOutput for SunBatch<'_> {
    fn day(&mut self, day: usize, kwh_per_kwp: &mut [f64]) {
        SunBatch::day(self, day, kwh_per_kwp);
    }
}

/// Outputs with the controller, and the one without it that each is set beside.
const BESIDE: [(Output, Output); 8] = [
    (Output::ExportedBefore, Output::Exported),
    (Output::ImportedBefore, Output::Imported),
    (Output::ExportedBeforeByTariff, Output::ExportedByTariff),
    (Output::ImportedBeforeByTariff, Output::ImportedByTariff),
    (Output::BackupBefore, Output::HeatFromBackup),
    (Output::BackupBeforeByTariff, Output::BackupByTariff),
    (Output::BackupFreeDaysBefore, Output::BackupFreeDays),
    (Output::HoursBelowComfortBefore, Output::HoursBelowComfort),
];

impl Home {
    /// Where its surplus comes from, in words.
    pub fn surplus_in_words(&self) -> &'static str {
        match &self.surplus {
            Surplus::Readings(_) => "meter readings",
            Surplus::Sun(_) => "simulated sun",
        }
    }

    /// A year of the runs of `chance`. Without `beside`, outputs that speak of the home without the controller stay 0.
    pub fn year(&self, settings: &Settings, chance: &Chance<'_>, beside: bool) -> Totals {
        let with = Cylinder::new(settings, self.make, true, chance.vectors);
        let mut homes = vec![with];
        if beside {
            homes.push(Cylinder::new(settings, self.make, false, chance.vectors));
        }
        self.live(settings, chance, |day, meter, litres| {
            let (export, import) = self.tariff.day(day);
            for home in &mut homes {
                home.day(day, meter, litres, &TariffDay { export, import }, None);
            }
        });
        let mut totals = homes[0].totals().clone();
        if let Some(without) = homes.get(1) {
            set_beside(&mut totals, without.totals());
        }
        totals
    }

    /// The course of every day of the first run of `chance`.
    pub fn days(&self, settings: &Settings, chance: &Chance<'_>) -> Vec<DayCourse> {
        let mut home = Cylinder::new(settings, self.make, true, chance.vectors);
        let mut days = Vec::with_capacity(DAYS);
        self.live(settings, chance, |day, meter, litres| {
            let (export, import) = self.tariff.day(day);
            let mut course = DayCourse::default();
            home.day(day, meter, litres, &TariffDay { export, import }, Some((0, &mut course)));
            days.push(course);
        });
        days
    }

    /// Calls `each` with what crosses the meter and the litres drawn on each day of the year, in order.
    fn live(&self, settings: &Settings, chance: &Chance<'_>, each: impl FnMut(usize, &MeterDay, &[f64])) {
        match &self.surplus {
            Surplus::Readings(library) => {
                self.with_year(settings, chance, library.batch(chance, settings), each);
            }
            Surplus::Sun(parts) => {
                let (sun, household) = &**parts;
                let year = SimulatedHome::new(household, settings, chance, sun.batch(chance));
                self.with_year(settings, chance, year, each);
            }
        }
    }

    fn with_year(
        &self,
        settings: &Settings,
        chance: &Chance<'_>,
        mut year: impl MeterYear,
        mut each: impl FnMut(usize, &MeterDay, &[f64]),
    ) {
        let mut meter = MeterDay::new(self.make.steps, chance.lanes);
        let mut litres = vec![0.0; self.make.steps * chance.lanes];
        let mut draw_off = self.draw_off.batch(settings, chance);
        for day in 0..DAYS {
            year.fill(day, &mut meter);
            draw_off.day(day, &mut litres);
            each(day, &meter, &litres);
        }
    }
}

/// Fills what is said of the home without the controller from its own totals.
fn set_beside(totals: &mut Totals, without: &Totals) {
    for month in 0..12 {
        for (before, output) in BESIDE {
            totals.at_mut(before, month).copy_from_slice(without.at(output, month));
        }
        let saved: Vec<f64> = without
            .at(Output::HeatFromBackup, month)
            .iter()
            .zip(totals.at(Output::HeatFromBackup, month))
            .map(|(without, with)| without - with)
            .collect();
        totals.at_mut(Output::Displaced, month).copy_from_slice(&saved);
    }
}
