//! A home's steady use of electricity over the day and the year, at a yearly total of 1.
//!
//! Half of it is always on (refrigerator, standby, circulation pumps); the other half follows people: low at night, a
//! small hump in the morning, a large one in the evening, which lighting and heating pumps make larger in winter. The
//! hourly weights are our own, from general knowledge of the trade, and an assumption: no published profile stands behind
//! them. They matter little for the surplus at noon, more for the import in the evening.

use crate::hotwater::profile::means;
use crate::hotwater::{seasonal_cosine, time};

/// Share of the steady use that is always on, whether somebody is there or not.
pub(crate) const ALWAYS_ON: f64 = 0.5;

/// Weights of the hours at midwinter of what follows people.
const WINTER: [f64; 24] = [
    0.25, 0.15, 0.12, 0.10, 0.12, 0.25, 0.75, 1.10, 1.00, 0.75, 0.65, 0.65, 0.75, 0.75, 0.70, 0.80, 1.10,
    1.70, 2.10, 2.20, 2.10, 1.90, 1.40, 0.70,
];

/// The same at midsummer.
const SUMMER: [f64; 24] = [
    0.25, 0.15, 0.10, 0.10, 0.10, 0.20, 0.60, 0.90, 0.85, 0.70, 0.65, 0.65, 0.75, 0.70, 0.65, 0.65, 0.75,
    1.05, 1.25, 1.20, 1.15, 1.25, 1.20, 0.70,
];

/// What follows people, by month and window of the day.
#[derive(Debug, Clone)]
pub(crate) struct Base {
    windows: usize,
    /// kW for each kWh of the year, of month `m` and window `w` at `[m * windows + w]`.
    kw: Vec<f64>,
    /// kWh of a day of each month for each kWh of the year.
    pub(crate) day_kwh: [f64; 12],
}

impl Base {
    pub(crate) fn new(coldest_day: f64, windows: usize) -> Base {
        let month_weights = |month: usize| {
            let winter = 0.5 + 0.5 * seasonal_cosine(month, coldest_day);
            let hours: Vec<f64> =
                WINTER.iter().zip(SUMMER).map(|(w, s)| winter * w + (1.0 - winter) * s).collect();
            means(&hours, windows)
        };
        let mut kw: Vec<f64> = (0..12).flat_map(month_weights).collect();
        let hours = 24.0 / windows as f64;
        let of_month =
            |kw: &[f64], month: usize| kw[month * windows..(month + 1) * windows].iter().sum::<f64>() * hours;
        let year: f64 = (0..12).map(|m| time::DAYS_IN_MONTH[m] * of_month(&kw, m)).sum();
        for value in &mut kw {
            *value /= year;
        }
        let day_kwh = std::array::from_fn(|month| of_month(&kw, month));
        Base { windows, kw, day_kwh }
    }

    /// kW for each kWh of the year, by window of a day of the month.
    pub(crate) fn month(&self, month: usize) -> &[f64] {
        &self.kw[month * self.windows..(month + 1) * self.windows]
    }
}
