//! The year that is simulated: 365 days from 1 January, a Monday, each of equal steps.

/// Days of the months.
pub const DAYS_IN_MONTH: [f64; 12] = [31.0, 28.0, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0];

/// Names of the months.
pub const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// Days of a year.
pub const DAYS: usize = 365;

/// Steps of a day unless something else is asked for: half hours.
pub const HALF_HOURS: usize = 48;

/// First day of each month, and the number of days behind the last.
pub const FIRST_DAYS: [usize; 13] = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365];

/// Month (0 to 11) of a day of the year (0 to 364).
pub fn month_of(day: usize) -> usize {
    FIRST_DAYS.iter().skip(1).position(|&next| day < next).unwrap_or(11)
}

/// Whether a day of the year (0 to 364) is a Saturday or a Sunday.
pub fn is_weekend(day: usize) -> bool {
    day % 7 >= 5
}

/// Day of the year in the middle of a month (0 to 11), from 0 at New Year's midnight.
pub fn middle_of_month(month: usize) -> f64 {
    let before: f64 = DAYS_IN_MONTH.iter().take(month).sum();
    before + DAYS_IN_MONTH.get(month).copied().unwrap_or(0.0) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_hold_their_days() {
        for (month, known) in DAYS_IN_MONTH.into_iter().enumerate() {
            let days = (0..DAYS).filter(|&day| month_of(day) == month).count();
            assert_eq!(days as f64, known);
        }
    }
}
