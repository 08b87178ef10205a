//! What a simulated home can be told: every setting with its unit, its default and its limits. Each has a value for each
//! run, single or by month. The one table serves the reader of studies, the reference page and the simulation.

/// A setting's entry in the table.
#[derive(Debug, Clone, Copy)]
pub struct SettingInfo {
    /// Its key.
    pub key: &'static str,
    /// Its unit as written in studies; values are held in this unit.
    pub unit: &'static str,
    /// Its value where none is given; none must be given.
    pub default: Option<f64>,
    /// Lowest value that makes sense.
    pub least: f64,
    /// Highest value that makes sense.
    pub most: f64,
    /// What it is, in one sentence without a full stop.
    pub summary: &'static str,
}

macro_rules! settings {
    ($($name:ident $key:literal $unit:literal [$least:expr, $most:expr] $default:expr, $summary:literal;)*) => {
        /// A setting.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Setting {
            $(#[doc = $summary] $name,)*
        }
        impl Setting {
            /// All of them, in the order of the reference page.
            pub const ALL: &'static [Setting] = &[$(Setting::$name,)*];
        }
        const TABLE: &[SettingInfo] = &[
            $(SettingInfo { key: $key, unit: $unit, default: $default, least: $least, most: $most, summary: $summary },)*
        ];
    };
}

settings! {
    // Cylinder.
    Cylinders "cylinders" "1" [1.0, 4.0] Some(1.0), "Cylinders of this kind, the same number all year";
    Volume "volume" "L" [5.0, 10_000.0] None, "Volume of each cylinder, the same all year";
    Element "element" "kW" [0.0, 100.0] None, "Rating of the heating element in each cylinder";
    ElementHeight "element_height" "1" [0.0, 1.0] Some(0.1), "Height of the element: 0 at the bottom, 1 at the top";
    SetPoint "set_point" "degC" [20.0, 95.0] Some(62.0), "Temperature at which the element's thermostat switches off";
    StandingLoss "standing_loss" "kWh/day" [0.0, 100.0] None, "Standing loss of each cylinder when all of it is 45 K above its surroundings";
    Ambient "ambient" "degC" [-30.0, 60.0] Some(20.0), "Temperature around the cylinder";
    Cold "cold" "degC" [0.0, 40.0] None, "Temperature of the cold water";
    CirculationLoss "circulation_loss" "W" [0.0, 100_000.0] Some(0.0), "Heat lost by pumped circulation while the pump runs and the water at the top is above 40 degC";
    CirculationFrom "circulation_from" "h" [0.0, 24.0] Some(0.0), "Hour of the day at which the pump starts";
    CirculationTo "circulation_to" "h" [0.0, 24.0] Some(24.0), "Hour of the day at which it stops";
    // Draw-off.
    Litres "litres" "L/day" [0.0, 1.0e6] None, "Hot water drawn on a usual day, counted at `drawn_at`";
    DrawnAt "drawn_at" "degC" [30.0, 90.0] Some(55.0), "Temperature at which the litres are counted: hotter water is mixed down to it";
    Comfort "comfort" "degC" [20.0, 60.0] Some(45.0), "Below this the water drawn is too cold";
    DayToDay "day_to_day" "1" [0.0, 3.0] Some(0.45), "Standard deviation of a day's draw over its mean";
    Weekend "weekend" "1" [0.0, 10.0] Some(1.0), "Draw at weekends over that on other days";
    DaysAway "days_away" "day/yr" [0.0, 360.0] Some(0.0), "Days of a year on which nobody is there";
    AwayBlock "away_block" "day" [1.0, 60.0] Some(5.0), "Days away come in blocks of about so many";
    // Controller.
    Threshold "threshold" "W" [0.0, 1.0e6] Some(60.0), "Power that the controller leaves flowing out";
    SmallestPower "smallest_power" "W" [0.0, 1.0e6] Some(0.0), "Below this it sends nothing to the element";
    LargestPower "largest_power" "W" [0.0, 1.0e7] Some(1.0e7), "Above this it sends no more to the elements, all together";
    ConversionLoss "conversion_loss" "1" [0.0, 1.0] Some(0.01), "Share of the electricity lost in the controller";
    Standby "standby" "W" [0.0, 1_000.0] Some(2.0), "Draw of the controller, day and night; the sun serves it where it can";
    // Back-up heat.
    BackupPower "backup_power" "kW" [0.0, 10_000.0] Some(15.0), "Heat that the back-up gives to the water";
    BackupHeight "backup_height" "1" [0.0, 1.0] Some(0.1), "Height of its coil or element: 0 at the bottom, 1 at the top";
    BackupSensor "backup_sensor" "1" [0.0, 1.0] Some(0.5), "Height of the sensor that starts it";
    BackupBelow "backup_below" "degC" [0.0, 95.0] Some(50.0), "It starts when the sensor is below this";
    BackupUpTo "backup_up_to" "degC" [0.0, 95.0] Some(60.0), "It heats the water above its coil up to this";
    BackupFrom "backup_from" "h" [0.0, 24.0] Some(17.0), "Hour of the day from which it may heat";
    BackupTo "backup_to" "h" [0.0, 24.0] Some(21.0), "Hour until which it may heat; before the first, it is past midnight; the same hour is never";
    BackupFrom2 "backup_from_2" "h" [0.0, 24.0] Some(0.0), "Hour from which it may heat a second time";
    BackupTo2 "backup_to_2" "h" [0.0, 24.0] Some(0.0), "Hour until which it may heat a second time; the same hour is never";
    HygieneDays "hygiene_days" "day" [0.0, 365.0] Some(7.0), "Days from one heat-up of the whole cylinder to the next; 0 is never";
    Hygiene "hygiene" "degC" [40.0, 95.0] Some(60.0), "Temperature that the whole cylinder then has for an hour in all";
    HygieneFrom "hygiene_from" "h" [0.0, 24.0] Some(17.0), "Hour from which back-up heat sees to it, until it is done";
    // Battery.
    Battery "battery" "kWh" [0.0, 1.0e5] Some(0.0), "What a battery can hold, the same all year";
    BatteryPower "battery_power" "kW" [0.0, 1.0e5] Some(2.5), "Most that goes into or out of it";
    BatteryEfficiency "battery_efficiency" "1" [0.1, 1.0] Some(0.9), "What comes out of it over what went in";
    BatteryFirst "battery_first" "1" [0.0, 1.0] Some(1.0), "1: the battery is filled before the water; 0: after it";
    BatteryDrained "battery_drained" "1" [0.0, 1.0] Some(0.0), "1: by mistake the controller takes what the battery gives for surplus, and empties it into the water";
    // Surplus.
    ReadingsScale "readings_scale" "1" [0.0, 100.0] Some(1.0), "Factor on what was metered";
    Panels "panels" "kWp" [0.0, 1.0e5] Some(0.0), "Size of the solar panels (simulated sun)";
    SunLoss "sun_loss" "1" [0.0, 1.0] Some(0.2), "Share of the panels' rated output lost to heat, wiring, dirt and inverter";
    InverterLimit "inverter_limit" "kW" [0.0, 1.0e6] Some(1.0e6), "Most that the inverter gives";
    ExportLimit "export_limit" "kW" [0.0, 1.0e6] Some(1.0e6), "Most that may flow to the grid; what is above is lost unless the water or a battery takes it";
    Electricity "electricity" "kWh/yr" [0.0, 1.0e7] Some(0.0), "Electricity that the home uses in a year (simulated home)";
    ApplianceShare "appliance_share" "1" [0.0, 1.0] Some(0.5), "Share of it that comes in bursts, from appliances switched on by chance";
}

impl Setting {
    /// Its entry in the table.
    pub fn info(self) -> &'static SettingInfo {
        &TABLE[self as usize]
    }

    /// The setting of this key.
    pub fn of_key(key: &str) -> Option<Setting> {
        Setting::ALL.iter().copied().find(|s| s.info().key == key)
    }
}

/// The settings of a batch of runs.
#[derive(Debug, Clone)]
pub struct Settings {
    lanes: usize,
    /// Of each setting one column or twelve, a value for each lane.
    columns: Vec<Vec<Vec<f64>>>,
}

impl Settings {
    /// All at their defaults; those without one are NaN.
    pub fn new(lanes: usize) -> Self {
        let default = |s: &Setting| vec![vec![s.info().default.unwrap_or(f64::NAN); lanes]];
        Settings { lanes, columns: Setting::ALL.iter().map(default).collect() }
    }

    /// Runs side by side.
    pub fn lanes(&self) -> usize {
        self.lanes
    }

    /// Gives a setting the same value in every lane and month.
    #[must_use]
    pub fn with(mut self, setting: Setting, value: f64) -> Self {
        self.columns[setting as usize] = vec![vec![value; self.lanes]];
        self
    }

    /// Gives a setting twelve values, the same in every lane.
    #[must_use]
    pub fn with_months(mut self, setting: Setting, values: &[f64; 12]) -> Self {
        self.columns[setting as usize] = values.iter().map(|&v| vec![v; self.lanes]).collect();
        self
    }

    /// Gives a setting its columns: one, or one for each month, each with a value for each lane.
    pub fn set(&mut self, setting: Setting, columns: Vec<Vec<f64>>) {
        debug_assert!(matches!(columns.len(), 1 | 12) && columns.iter().all(|c| c.len() == self.lanes));
        self.columns[setting as usize] = columns;
    }

    /// Its values in a month (0 to 11), one for each lane.
    pub fn at(&self, setting: Setting, month: usize) -> &[f64] {
        let columns = &self.columns[setting as usize];
        if columns.len() == 1 { &columns[0] } else { &columns[month.min(columns.len() - 1)] }
    }

    /// Whether it differs by month.
    pub fn by_month(&self, setting: Setting) -> bool {
        self.columns[setting as usize].len() > 1
    }
}
