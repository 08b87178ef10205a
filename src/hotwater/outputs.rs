//! What a simulated year yields: amounts by month.

/// An output's entry in the table.
#[derive(Debug, Clone, Copy)]
pub struct OutputInfo {
    /// Its name behind that of the block: `NAME.heat_from_sun`.
    pub key: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// What it is, in one sentence without a full stop.
    pub summary: &'static str,
}

macro_rules! outputs {
    ($($name:ident $key:literal $unit:literal, $summary:literal;)*) => {
        /// An output: twelve amounts for each run.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Output {
            $(#[doc = $summary] $name,)*
        }
        impl Output {
            /// All of them, in the order of the reference page.
            pub const ALL: &'static [Output] = &[$(Output::$name,)*];
        }
        const TABLE: &[OutputInfo] = &[$(OutputInfo { key: $key, unit: $unit, summary: $summary },)*];
    };
}

outputs! {
    // Heat.
    HeatFromSun "heat_from_sun" "kWh", "Heat that surplus electricity gave to the water";
    HeatFromBackup "heat_from_backup" "kWh", "Heat that the back-up gave to the water";
    HeatFromGrid "heat_from_grid" "kWh", "Heat from electricity that the element drew from a battery by mistake";
    HeatDrawn "heat_drawn" "kWh", "Heat in the water drawn, above that of cold water";
    HeatShort "heat_short" "kWh", "Heat lacking where the water drawn was colder than `drawn_at`";
    StandingLoss "heat_lost_standing" "kWh", "Heat lost through the walls of the cylinders";
    CirculationLoss "heat_lost_circulating" "kWh", "Heat lost by pumped circulation";
    StoredChange "stored_change" "kWh", "Heat in the cylinders at the end of the month less that at its start";
    // Electricity.
    Diverted "diverted" "kWh", "Surplus electricity that the controller took, its own loss included";
    ControllerLoss "controller_loss" "kWh", "Electricity lost in the controller, of `diverted` and of `battery_into_water`";
    Exported "exported" "kWh", "Electricity still sent to the grid";
    Curtailed "curtailed" "kWh", "Electricity lost because no more may flow to the grid";
    Imported "imported" "kWh", "Electricity taken from the grid, for the controller and electric back-up too";
    FromGrid "from_grid" "kWh", "What of it makes up for what a battery, drained by mistake, put into the water";
    StandbyUse "standby_use" "kWh", "Standby use of the controller";
    BatteryIn "battery_in" "kWh", "Electricity put into the battery";
    BatteryOut "battery_out" "kWh", "Electricity taken out of it for the home";
    BatteryLoss "battery_loss" "kWh", "Electricity lost in it";
    BatteryDrainedInto "battery_into_water" "kWh", "Electricity that a battery drained by mistake put into the water";
    BatteryChange "battery_change" "kWh", "What the battery holds at the end of the month less that at its start";
    // Comfort.
    HoursBelowComfort "hours_below_comfort" "h", "Hours in which water was drawn below `comfort`; a step counts whole, however little is drawn in it";
    DaysBySun "days_by_sun" "day", "Days on which the sun sufficed: no back-up heat, and nothing drawn too cold";
    BackupFreeDays "backup_free_days" "day", "Days without back-up heat";
    // By tariff: kWh times the tariff's factor of the half hour.
    DivertedByTariff "diverted_by_tariff" "kWh", "`diverted`, each half hour times the factor of the export tariff: what is no longer paid";
    ExportedByTariff "exported_by_tariff" "kWh", "`exported`, each half hour times the factor of the export tariff";
    ImportedByTariff "imported_by_tariff" "kWh", "`imported`, each half hour times the factor of the import tariff";
    BackupByTariff "backup_by_tariff" "kWh", "`heat_from_backup`, each half hour times the factor of the import tariff: for electric back-up";
    // Beside the same home on the same days without the controller.
    Generated "generated" "kWh", "Electricity that the panels made";
    ExportedBefore "exported_before" "kWh", "Electricity sent to the grid without the controller";
    ImportedBefore "imported_before" "kWh", "Electricity taken from the grid without the controller";
    ExportedBeforeByTariff "exported_before_by_tariff" "kWh", "`exported_before`, each half hour times the factor of the export tariff";
    ImportedBeforeByTariff "imported_before_by_tariff" "kWh", "`imported_before`, each half hour times the factor of the import tariff";
    BackupBefore "backup_before" "kWh", "Heat that the back-up would give without the controller";
    BackupBeforeByTariff "backup_before_by_tariff" "kWh", "`backup_before`, each half hour times the factor of the import tariff";
    Displaced "displaced" "kWh", "Back-up heat that the controller saves: `backup_before` less `heat_from_backup`";
    BackupFreeDaysBefore "backup_free_days_before" "day", "Days without back-up heat if there were no controller";
    HoursBelowComfortBefore "hours_below_comfort_before" "h", "`hours_below_comfort` if there were no controller";
}

impl Output {
    /// Its entry in the table.
    pub fn info(self) -> &'static OutputInfo {
        &TABLE[self as usize]
    }

    /// Whether it takes the same home without the controller too.
    pub fn needs_both(self) -> bool {
        self >= Output::ExportedBefore
    }

    /// The output of this key.
    pub fn of_key(key: &str) -> Option<Output> {
        Output::ALL.iter().copied().find(|o| o.info().key == key)
    }
}

/// Amounts of a batch of runs, by output and month.
#[derive(Debug, Clone)]
pub struct Totals {
    lanes: usize,
    values: Vec<f64>,
}

impl Totals {
    /// All zero.
    pub fn new(lanes: usize) -> Self {
        Totals { lanes, values: vec![0.0; Output::ALL.len() * 12 * lanes] }
    }

    /// Runs side by side.
    pub fn lanes(&self) -> usize {
        self.lanes
    }

    fn start(&self, output: Output, month: usize) -> usize {
        (output as usize * 12 + month.min(11)) * self.lanes
    }

    /// Amounts of a month (0 to 11), one for each lane.
    pub fn at(&self, output: Output, month: usize) -> &[f64] {
        let start = self.start(output, month);
        &self.values[start..start + self.lanes]
    }

    /// The same, to be added to.
    pub fn at_mut(&mut self, output: Output, month: usize) -> &mut [f64] {
        let start = self.start(output, month);
        &mut self.values[start..start + self.lanes]
    }

    /// The year's amount of a lane.
    pub fn year(&self, output: Output, lane: usize) -> f64 {
        (0..12).map(|month| self.at(output, month)[lane]).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hotwater::settings::Setting;

    #[test]
    fn no_output_has_the_name_of_a_setting() {
        for output in Output::ALL {
            assert_eq!(Output::of_key(output.info().key), Some(*output));
            assert_eq!(Setting::of_key(output.info().key), None, "{}", output.info().key);
        }
    }
}
