//! What a day of a group of runs sums up to.

use super::super::outputs::{Output, Totals};
use super::lanes::{Lanes, W, ZERO, add};

/// The outputs that one year of one home yields; the others need the same home without the controller beside it.
pub(super) const SUMMED: [Output; 28] = [
    Output::HeatFromSun,
    Output::HeatFromBackup,
    Output::HeatFromGrid,
    Output::HeatDrawn,
    Output::HeatShort,
    Output::StandingLoss,
    Output::CirculationLoss,
    Output::StoredChange,
    Output::Diverted,
    Output::ControllerLoss,
    Output::Exported,
    Output::Curtailed,
    Output::Imported,
    Output::FromGrid,
    Output::StandbyUse,
    Output::BatteryIn,
    Output::BatteryOut,
    Output::BatteryLoss,
    Output::BatteryDrainedInto,
    Output::BatteryChange,
    Output::HoursBelowComfort,
    Output::DaysBySun,
    Output::BackupFreeDays,
    Output::DivertedByTariff,
    Output::ExportedByTariff,
    Output::ImportedByTariff,
    Output::BackupByTariff,
    Output::Generated,
];

/// Amounts of a day by output, a value for each lane.
#[derive(Debug, Clone)]
pub(super) struct Sums([Lanes; Output::ALL.len()]);

impl Sums {
    pub(super) fn new() -> Sums {
        Sums([ZERO; Output::ALL.len()])
    }

    #[inline(always)]
    pub(super) fn add(&mut self, output: Output, value: &Lanes) {
        add(&mut self.0[output as usize], value);
    }

    /// Adds each lane's value times a factor of the step.
    #[inline(always)]
    pub(super) fn add_times(&mut self, output: Output, value: &Lanes, factor: f64) {
        let to = &mut self.0[output as usize];
        for l in 0..W {
            to[l] += factor * value[l];
        }
    }

    #[inline(always)]
    pub(super) fn of(&self, output: Output) -> &Lanes {
        &self.0[output as usize]
    }

    /// Adds the day to the month's totals, from lane `first` on, and starts anew.
    pub(super) fn flush(&mut self, totals: &mut Totals, month: usize, first: usize, lanes: usize) {
        for output in SUMMED {
            let day = &mut self.0[output as usize];
            for (to, value) in totals.at_mut(output, month).iter_mut().skip(first).take(lanes).zip(day.iter())
            {
                *to += value;
            }
            *day = ZERO;
        }
    }
}
