//! Physics of hot water.

use crate::model::lower::DAYS_IN_MONTH;

/// Heat that warms 1 m3 of water by 1 K, in kWh: 4.186 kJ/L/K (water near 15 degC, counted cold).
pub const HEAT_PER_VOLUME_KELVIN: f64 = 4.186 * 1000.0 / 3600.0;

/// Day of the year in the middle of a month (0 to 11), from 0 at New Year's midnight.
pub fn middle_of_month(month: usize) -> f64 {
    let before: f64 = DAYS_IN_MONTH.iter().take(month).sum();
    before + DAYS_IN_MONTH.get(month).copied().unwrap_or(0.0) / 2.0
}

/// cos(2 pi (d - coldest) / 365) at the middle of a month: 1 when it is coldest. Mains water follows the soil, whose
/// temperature over the year is near a sinusoid (Burch and Christensen 2007).
pub fn seasonal_cosine(month: usize, coldest_day: f64) -> f64 {
    let turn = (middle_of_month(month) - coldest_day) / 365.0;
    libm::cos(2.0 * std::f64::consts::PI * turn)
}
