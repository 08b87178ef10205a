//! What a study says of simulated homes: `[hotwater.NAME]`, every value with its place in the file.

use crate::diagnostic::{Span, Spanned};
use crate::hotwater::settings::Setting;
use crate::study::schema::{ForReader, Working};

/// `[hotwater.NAME]`: a home with its cylinder, simulated half hour by half hour.
#[derive(Debug, Clone)]
pub struct HotwaterDef {
    /// Its name: outputs are `NAME.heat_from_sun` and so on.
    pub name: Spanned<String>,
    /// For the reader.
    pub about: ForReader,
    /// Settings that are given, in the order of the table of settings.
    pub settings: Vec<SettingDef>,
    /// Meter readings from which years are drawn.
    pub readings: Option<ReadingsDef>,
    /// Sun, simulated.
    pub sun: Option<SunDef>,
    /// Shape of the draw-off over the day.
    pub draw_profile: Option<(Vec<Spanned<f64>>, Span)>,
    /// The same at weekends.
    pub weekend_profile: Option<(Vec<Spanned<f64>>, Span)>,
    /// Whether a day's draw comes in lumps (baths, showers) or as the profile says.
    pub lumpy: bool,
    /// Three phases and how the meter nets them.
    pub phases: Option<PhasesDef>,
    /// Factors on the export price by time of day.
    pub export_tariff: Option<TariffDef>,
    /// Factors on the import price by time of day.
    pub import_tariff: Option<TariffDef>,
    /// Layers of water.
    pub layers: usize,
    /// Steps of a day.
    pub steps: usize,
    /// Whether several cylinders stand one behind the other.
    pub in_series: bool,
    /// Whether water that is hotter than wanted is mixed down.
    pub mixed_at_tap: bool,
    /// Whether back-up heat is electric.
    pub electric_backup: bool,
    /// The simulated home whose weather and draw-off it shares.
    pub same_days_as: Option<Spanned<String>>,
    /// Day of the year (0 to 364) whose course is shown, if one is named.
    pub shown_day: Option<usize>,
    /// Whether something in it could not be read, which has been told.
    pub broken: bool,
    /// Of the whole table.
    pub span: Span,
}

/// A setting as written.
#[derive(Debug, Clone)]
pub struct SettingDef {
    /// Which.
    pub setting: Setting,
    /// Its value.
    pub value: SettingValue,
}

/// What a setting is set to.
#[derive(Debug, Clone)]
pub enum SettingValue {
    /// A number in the setting's own unit.
    Number(Spanned<f64>),
    /// Twelve numbers in that unit.
    Months(Vec<f64>, Span),
    /// A formula, as a working of the name `NAME.setting`.
    Formula(Box<Working>),
}

/// `readings` of a simulated home.
#[derive(Debug, Clone)]
pub struct ReadingsDef {
    /// File, relative to the study.
    pub file: Spanned<String>,
    /// How it is to be read, where the file does not say: names of options and their values.
    pub options: Vec<(Spanned<String>, Spanned<String>)>,
    /// Whether the readings were made before the equipment was fitted.
    pub before: Option<Spanned<bool>>,
    /// Share of the year's export by month, for months without readings.
    pub season: Option<(Vec<Spanned<f64>>, Span)>,
}

/// `sun` of a simulated home.
#[derive(Debug, Clone)]
pub struct SunDef {
    /// Degrees, north positive.
    pub latitude: Spanned<f64>,
    /// Degrees, east positive: then hours are those of a clock, else of the sun.
    pub longitude: Option<f64>,
    /// Hours by which that clock is ahead of universal time in winter.
    pub hours_ahead: f64,
    /// Whether it is an hour further ahead in summer.
    pub summer_time: bool,
    /// Roofs: tilt, azimuth, share.
    pub roofs: Vec<[f64; 3]>,
    /// Mean clearness index of each month.
    pub clearness: Option<(Vec<Spanned<f64>>, Span)>,
    /// Standard deviation of the daily index, one or twelve.
    pub clearness_sd: Option<(Vec<Spanned<f64>>, Span)>,
    /// Correlation of one day's index with that of the day before.
    pub persistence: Option<Spanned<f64>>,
    /// Hours of bright sunshine a day of each month, in place of clearness.
    pub sunshine: Option<(Vec<Spanned<f64>>, Span)>,
    /// Share of light that the ground sends back.
    pub albedo: Option<Spanned<f64>>,
    /// Of the whole table.
    pub span: Span,
}

/// `phases` of a simulated home.
#[derive(Debug, Clone)]
pub struct PhasesDef {
    /// Share of the demand on each phase.
    pub demand: [f64; 3],
    /// Share of the generation on each phase.
    pub generation: [f64; 3],
    /// Whether each phase is billed by itself.
    pub each: bool,
}

/// `export_tariff` or `import_tariff`.
#[derive(Debug, Clone)]
pub enum TariffDef {
    /// 24 or 48 factors over the day.
    Profile(Vec<f64>, Span),
    /// Periods; where several hold, the last one counts; 1 where none does.
    Periods(Vec<PeriodDef>),
    /// A price for every hour or half hour of a year, taken relative to its mean.
    Series {
        /// File, relative to the study.
        file: Spanned<String>,
        /// Its column.
        column: Spanned<String>,
    },
}

/// A period of a tariff.
#[derive(Debug, Clone)]
pub struct PeriodDef {
    /// Hour of the day from which it holds.
    pub from: f64,
    /// Hour until which it holds; not after the first, it is past midnight.
    pub to: f64,
    /// Factor on the price.
    pub factor: f64,
    /// Months, 1 to 12; all if none is given.
    pub months: Vec<u8>,
    /// Only on weekdays, only at weekends, or always.
    pub days: Option<WhichDays>,
}

/// Days of the week on which a period holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhichDays {
    /// Monday to Friday.
    Weekdays,
    /// Saturday and Sunday.
    Weekends,
}
