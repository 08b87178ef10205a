//! Physics of hot water and of the electricity that may heat it: half hour by half hour, a year at a time, many runs
//! side by side. Knows no study, no units, no files; draws only through [`chance`].
//!
//! - [`time`]: the year of 365 days, its months and steps;
//! - [`chance`]: random numbers of a batch of runs;
//! - [`flows`]: what crosses the meter on one day;
//! - [`settings`], [`outputs`]: what a simulated home can be told, and what a year of it yields, as two tables;
//! - [`cylinder`]: the water, the controller, the back-up and the battery of a home, day by day;
//! - [`sun`]: simulated sun, for homes without meter readings;
//! - [`profile`]: how something spreads over the day; [`away`]: days on which nobody is there;
//! - [`draw_off`]: the hot water drawn; [`household`]: the electricity used; [`phases`]: the meter's rule;
//! - [`simulated`]: a home without readings; [`tariff`]: what a kWh is worth by the half hour;
//! - [`home`]: all of it together, a year for a batch of runs;
//! - [`readings`]: a home's own meter readings, and years drawn from them;
//! - [`course`]: one day step by step, and a year by day and hour, for charts.

pub mod away;
pub mod chance;
pub mod course;
pub mod cylinder;
pub mod draw_off;
pub mod flows;
pub mod home;
pub mod household;
pub mod outputs;
pub mod phases;
pub mod profile;
pub mod readings;
pub mod settings;
pub mod simulated;
pub mod sun;
pub mod tariff;
pub mod time;

/// Heat that warms 1 m3 of water by 1 K, in kWh: 4.186 kJ/L/K (water near 15 degC, counted cold).
pub const HEAT_PER_VOLUME_KELVIN: f64 = 4.186 * 1000.0 / 3600.0;

/// cos(2 pi (d - coldest) / 365) at the middle of a month: 1 when it is coldest. Mains water follows the soil, whose
/// temperature over the year is near a sinusoid (Burch and Christensen 2007).
pub fn seasonal_cosine(month: usize, coldest_day: f64) -> f64 {
    let turn = (time::middle_of_month(month) - coldest_day) / 365.0;
    libm::cos(2.0 * std::f64::consts::PI * turn)
}
