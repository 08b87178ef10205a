//! What a reader of meter readings can be told, where the file does not say it plainly.

use serde::Serialize;

/// What a column of readings counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Electricity sent to the grid.
    Export,
    /// Electricity taken from the grid.
    Import,
    /// Electricity made by the panels.
    Generation,
    /// Gas burnt.
    Gas,
}

impl Kind {
    /// All of them, in the order in which they are reported.
    pub const ALL: [Kind; 4] = [Kind::Export, Kind::Import, Kind::Generation, Kind::Gas];

    /// Its name in reports.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Export => "export",
            Kind::Import => "import",
            Kind::Generation => "generation",
            Kind::Gas => "gas",
        }
    }
}

/// Order of day and month in dates such as 03/04/2024.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DateOrder {
    /// 3 April.
    DayMonth,
    /// 4 March.
    MonthDay,
}

/// What a time stamp marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StampAt {
    /// The start of the interval.
    Start,
    /// Its end.
    End,
}

/// Unit of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Unit {
    /// Energy in watt-hours.
    Wh,
    /// Energy in kilowatt-hours.
    #[serde(rename = "kWh")]
    Kwh,
    /// Energy in megawatt-hours.
    #[serde(rename = "MWh")]
    Mwh,
    /// Mean power in watts.
    W,
    /// Mean power in kilowatts.
    #[serde(rename = "kW")]
    Kw,
    /// Cubic metres of gas.
    #[serde(rename = "m3")]
    CubicMetre,
}

impl Unit {
    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            Unit::Wh => "Wh",
            Unit::Kwh => "kWh",
            Unit::Mwh => "MWh",
            Unit::W => "W",
            Unit::Kw => "kW",
            Unit::CubicMetre => "m3",
        }
    }

    /// kWh of a value of 1 over an interval of `hours`.
    pub(super) fn kwh(self, hours: f64, gas_kwh_per_m3: f64) -> f64 {
        match self {
            Unit::Wh => 0.001,
            Unit::Kwh => 1.0,
            Unit::Mwh => 1000.0,
            Unit::W => 0.001 * hours,
            Unit::Kw => hours,
            Unit::CubicMetre => gas_kwh_per_m3,
        }
    }
}

/// Whether the readings were taken before the surplus controller was fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BeforeEquipment {
    /// They were: export is all the surplus there was.
    Yes,
    /// They were not: part of the surplus went into the water already.
    No,
    /// Nobody has said.
    #[default]
    Unknown,
}

/// What the reader is told. Whatever is left out it finds from the file, and reports how.
#[derive(Debug, Clone)]
pub struct Options {
    /// Columns by heading, or by number from 1 ("3"); those not named are recognised by their headings.
    pub columns: Vec<(Kind, String)>,
    /// Column of the net reading (import less export): heading or number.
    pub net_column: Option<String>,
    /// In a net column, export is above 0 (usually it is below).
    pub net_export_positive: bool,
    /// Column of the time stamp, or of the date.
    pub time_column: Option<String>,
    /// Column of the time of day, where date and time stand apart.
    pub clock_column: Option<String>,
    /// Order of day and month.
    pub date_order: Option<DateOrder>,
    /// What time stamps mark.
    pub stamp_at: Option<StampAt>,
    /// Zone of the clock, such as "Europe/Dublin".
    pub zone: Option<String>,
    /// Unit of all columns but gas.
    pub unit: Option<Unit>,
    /// Whether the columns are an ever-rising register (true) or amounts of each interval (false).
    pub register: Option<bool>,
    /// Sign between whole number and decimals: b'.' or b','.
    pub decimal: Option<u8>,
    /// Sign between cells.
    pub separator: Option<u8>,
    /// Power above which a reading is taken for an error, kW; else it is judged from the others.
    pub largest_kw: Option<f64>,
    /// Heat of burning a cubic metre of gas, kWh (gross).
    pub gas_kwh_per_m3: f64,
    /// Whether the readings precede the equipment.
    pub before_equipment: BeforeEquipment,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            columns: Vec::new(),
            net_column: None,
            net_export_positive: false,
            time_column: None,
            clock_column: None,
            date_order: None,
            stamp_at: None,
            zone: None,
            unit: None,
            register: None,
            decimal: None,
            separator: None,
            largest_kw: None,
            gas_kwh_per_m3: 11.0,
            before_equipment: BeforeEquipment::Unknown,
        }
    }
}
